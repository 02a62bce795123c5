"""The page's HTTP interface: what may be asked, and its description after OpenAPI 3.1 (openapis.org), made from the one
table that also leads the requests.
"""

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from flatten.page import asked, computed, deciding, leather
from flatten.page.office import Office
from flatten.sheets.refusals import RefusedError, told_as_json
from meshes.base.problems import Problem, ProblemError

_TYPES = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".svg": "image/svg+xml",
    ".txt": "text/plain; charset=utf-8",
}
Handler = Callable[[Office, Request], Awaitable[Response]]


@dataclass(frozen=True)
class Address:
    """One thing that may be asked. body: JSON Schema of what is sent; gives: media type of the answer; more: schemas of
    what may stand behind the question mark; may: statuses of refusals."""

    method: str
    path: str
    summary: str
    handler: Handler
    body: dict[str, Any] | None = None
    gives: str = "application/json"
    more: tuple[tuple[str, dict[str, Any]], ...] = ()
    may: tuple[int, ...] = (400, 401, 403, 404)


_TEXT: dict[str, Any] = {"type": "string"}
_KEYS = {"type": "array", "items": {"anyOf": [_TEXT, {"type": "integer"}]}, "minItems": 1, "maxItems": 8}
_BASED = (400, 401, 403, 404, 409, 413, 422)


def _body(needed: dict[str, Any], **may: Any) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": needed | may,
        "required": list(needed),
        "additionalProperties": False,
    }


_CHANGES = {"type": "array", "maxItems": 50, "items": _body({"keys": _KEYS, "value": {}})}
_SHEET = "/api/sheets/{sheet}"
ADDRESSES = (
    Address("GET", "/api/folder", "The folder: its sheets, and kinds of seat to begin with", asked.folder),
    Address("GET", "/api/news", "What happens, one JSON object a line, as long as the stream is read", asked.news,
            gives="application/x-ndjson"),
    Address("POST", "/api/sheets", "Begin a sheet from a kind of seat", asked.begin,
            _body({"kind": _TEXT, "title": _TEXT}), may=_BASED),
    Address("GET", _SHEET, "A sheet: questions with answers, problems, undo", asked.sheet, may=_BASED),
    Address("GET", _SHEET + "/text", "The text of a sheet, or an earlier one by its mark", asked.text,
            gives="text/plain", more=(("mark", _TEXT),), may=_BASED),
    Address("POST", _SHEET + "/change", "Change values; null takes one out", asked.change,
            _body({"base": _TEXT, "changes": _CHANGES}), may=_BASED),
    Address("POST", _SHEET + "/row", "Add a row to a list, such as a layer", asked.row,
            _body({"base": _TEXT, "keys": _KEYS, "row": {"type": "object"}}), may=_BASED),
    Address("POST", _SHEET + "/reading", "Keep both readings of a number, mm", asked.reading,
            _body({"keys": _KEYS, "mm": {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2}}),
            may=_BASED),
    Address("POST", _SHEET + "/undo", "Undo one change", asked.undo, _body({"base": _TEXT}), may=_BASED),
    Address("POST", _SHEET + "/redo", "Redo one change", asked.redo, _body({"base": _TEXT}), may=_BASED),
    Address("POST", _SHEET + "/keep", "Of two texts of a sheet, keep one", asked.keep,
            _body({"base": _TEXT, "mark": _TEXT, "changes": _CHANGES}), may=_BASED),
    Address("POST", _SHEET + "/look", "Compute a sheet; news tell when", computed.look, may=_BASED),
    Address("GET", _SHEET + "/answer", "The newest answer about a sheet", computed.answer, may=_BASED),
    Address("POST", "/api/stop", "Stop what is being computed", computed.stop),
    Address("GET", "/api/answers/{answer}/seat", "The seat of an answer, as one block", computed.seat,
            gives="application/octet-stream"),
    Address("GET", _SHEET + "/still", "A still picture of the seat", computed.still, gives="image/png",
            more=(("show", {"type": "string", "enum": list(computed.STILLS)}),
                  ("side", {"type": "string", "enum": list(computed.SIDES_SEEN)})), may=_BASED),
    Address("POST", _SHEET + "/section", "A pad cut open at a place: drawing and gauges", computed.section,
            _body({"pad": _TEXT, "direction": {"type": "string", "enum": ["along", "across"]},
                   "place_mm": {"type": "number"}}), may=_BASED),
    Address("POST", _SHEET + "/try-fit", "What a row of fitting would move, before it is written", computed.try_fit,
            _body({"row": {"type": "object"}}), may=_BASED),
    Address("POST", _SHEET + "/tapes", "Tapes over the seat, and one that is tried before it is written",
            computed.tapes, _body({}, row={"type": "object"}), may=_BASED),
    Address("GET", _SHEET + "/hides", "The hides as they are drawn", leather.drawn, may=_BASED),
    Address("POST", _SHEET + "/hides", "The pieces laid on the hides, with changes that are tried, and the order list",
            leather.hides, _body({}, changes=_CHANGES, rows={"type": "array", "maxItems": 50, "items":
            _body({"keys": _KEYS, "row": {"type": "object"}})}), may=_BASED),
    Address("POST", _SHEET + "/drawing", "A drawing of a hide, kept beside the sheet", leather.drawing,
            _body({"base": _TEXT, "name": _TEXT, "file": _TEXT, "scale": {"type": "number"}, "data": _TEXT}),
            may=_BASED),
    Address("GET", _SHEET + "/variants", "Variants that are kept beside the sheet", deciding.variants, may=_BASED),
    Address("POST", _SHEET + "/variants", "Keep the sheet as it is now as a variant, or let one go",
            deciding.keep_variant, _body({"name": _TEXT, "keep": {"type": "boolean"}}), may=_BASED),
    Address("POST", _SHEET + "/compare", "The sheet beside its variants", deciding.compare, _body({}), may=_BASED),
    Address("POST", _SHEET + "/relief", "Darts and seams that would help a panel", deciding.relief,
            _body({"panel": _TEXT}), may=_BASED),
    Address("POST", _SHEET + "/papers", "Make all papers of a sheet, as trimloft make does", computed.make_papers,
            _body({}, page={"type": ["string", "null"]}, pictures={"type": "boolean"}, both={"type": "boolean"},
                  flesh_up={"type": "boolean"}), may=_BASED),
    Address("GET", _SHEET + "/papers", "The papers that are there", computed.papers, may=_BASED),
    Address("GET", _SHEET + "/papers/{paper}", "One paper", computed.paper, gives="application/octet-stream",
            may=_BASED),
    Address("GET", _SHEET + "/handover", "The seat as one page that needs nothing else", computed.hand_over,
            gives="text/html", may=_BASED),
)  # fmt: skip


def description() -> dict[str, Any]:
    """The interface after OpenAPI 3.1."""
    problems = {"description": "Refused, with numbered problems", "content": {"application/json": {"schema":
                {"$ref": "#/components/schemas/Problems"}}}}  # fmt: skip
    paths: dict[str, Any] = {}
    for one in ADDRESSES:
        names = [part[1:-1] for part in one.path.split("/") if part.startswith("{")]
        inside: list[dict[str, Any]] = [
            {"name": name, "in": "path", "required": True, "schema": {"type": "string"}} for name in names
        ]
        inside += [{"name": name, "in": "query", "required": False, "schema": schema} for name, schema in one.more]
        operation: dict[str, Any] = {
            "summary": one.summary,
            "operationId": one.handler.__name__,
            "parameters": inside,
            "security": [{"key": []}],
            "responses": {"200": {"description": "Done", "content": {one.gives: {}}}}
            | {str(status): problems for status in one.may},
        }
        if one.body is not None:
            operation["requestBody"] = {"required": True, "content": {"application/json": {"schema": one.body}}}
        paths.setdefault(one.path, {})[one.method.lower()] = operation
    problem = {"type": "object", "required": ["code", "where", "text"], "properties": {"code": {"type": "string"},
               "where": {"type": "string"}, "text": {"type": "string"}}}  # fmt: skip
    return {
        "openapi": "3.1.0",
        "info": {"title": "Trimloft bench page", "version": "1"},
        "paths": paths,
        "components": {
            "securitySchemes": {"key": {"type": "apiKey", "in": "header", "name": "X-Trimloft-Key"}},
            "schemas": {"Problems": {"type": "object", "required": ["problems"], "properties": {"problems":
                        {"type": "array", "items": problem}}}},
        },
    }  # fmt: skip


def application(office: Office) -> Starlette:
    """The page as an application; only `Guard` may stand between it and the world."""

    def led(handler: Handler) -> Callable[[Request], Awaitable[Response]]:
        async def answer(request: Request) -> Response:
            return await handler(office, request)

        return answer

    async def described(request: Request) -> Response:
        return JSONResponse(description())

    routes = [Route("/api/openapi.json", described)]
    routes += [Route(one.path, led(one.handler), methods=[one.method]) for one in ADDRESSES]
    routes += [Route(path, _static(data, kind)) for path, data, kind in shell()]
    faults: Any = {RefusedError: _refused, ProblemError: _problems, HTTPException: _no_such, Exception: _failed}
    return Starlette(routes=routes, exception_handlers=faults, lifespan=_lifespan(office))


def _lifespan(office: Office) -> Any:
    @asynccontextmanager
    async def life(app: Starlette) -> AsyncIterator[None]:
        office.link.warm()
        watching = asyncio.get_running_loop().create_task(office.watch())
        try:
            yield
        finally:
            watching.cancel()
            with suppress(asyncio.CancelledError):
                await watching
            office.link.close()

    return life


def shell() -> list[tuple[str, bytes, str]]:
    """The files of the page: address, bytes, media type. Read once, so that no name of a request reaches a disk."""
    found = []
    root = files("flatten.page").joinpath("static")
    waiting = [("", root)]
    while waiting:
        path, node = waiting.pop()
        for one in node.iterdir():
            if one.is_dir():
                waiting.append((f"{path}/{one.name}", one))
            elif Path(one.name).suffix in _TYPES:
                found.append((f"{path}/{one.name}", one.read_bytes(), _TYPES[Path(one.name).suffix]))
    index = next(data for path, data, _ in found if path == "/index.html")
    return [("/", index, _TYPES[".html"]), *sorted(found)]


def _static(data: bytes, kind: str) -> Callable[[Request], Awaitable[Response]]:
    async def answer(request: Request) -> Response:
        return Response(data, media_type=kind)

    return answer


async def _refused(request: Request, fault: Exception) -> Response:
    assert isinstance(fault, RefusedError)
    return JSONResponse({"problems": told_as_json([fault.problem])}, fault.status)


async def _problems(request: Request, fault: Exception) -> Response:
    assert isinstance(fault, ProblemError)
    return JSONResponse({"problems": told_as_json(fault.problems)}, 422)


async def _no_such(request: Request, fault: Exception) -> Response:
    assert isinstance(fault, HTTPException)
    text = "there is nothing at this address" if fault.status_code == 404 else "this address is not asked in that way"
    headers = dict(fault.headers or {})
    told = told_as_json([Problem("W311", "address", text)])
    return JSONResponse({"problems": told}, fault.status_code, headers=headers)


async def _failed(request: Request, fault: Exception) -> Response:
    told = told_as_json([Problem("W322", "page", f"the program failed ({type(fault).__name__}); nothing is lost")])
    return JSONResponse({"problems": told}, 500)
