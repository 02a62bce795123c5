"""What each address of the page answers. Every handler takes the office and a request, and raises RefusedError or
ProblemError for what it does not do.
"""

import asyncio
import json
import math
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse

from flatten.page.handover import handed_over
from flatten.page.office import Office, papers_place
from flatten.seatview.scenes import SHOWS
from flatten.sheets.edits import with_row, with_value
from flatten.sheets.folder import SheetState, file_name
from flatten.sheets.form import form_of
from flatten.sheets.refusals import RefusedError, told_as_json
from flatten.written.writers import MAKE
from meshes.base.files import shown_name
from meshes.base.problems import Problem, ProblemError
from meshes.base.units import Unit, in_shop_unit
from meshes.folder.manifest import DamagedError, is_whole, read_manifest, unchanged
from meshes.sheet.starter import KINDS

STILLS = SHOWS
SIDES_SEEN = ("front", "side", "rear")
# What the kinds of seat are called, in the order they are offered.
KIND_WORDS = {
    "box": "Loose cushion",
    "slip": "Slip seat",
    "stool": "Round stool",
    "bench": "Pleated bench",
    "back": "Backrest",
    "bucket": "Bucket seat",
    "roll": "Neck roll",
    "card": "Door card",
}
_MEDIA = {
    ".pdf": "application/pdf",
    ".svg": "image/svg+xml",
    ".html": "text/html; charset=utf-8",
    ".json": "application/json",
    ".csv": "text/csv; charset=utf-8",
    ".png": "image/png",
    ".dxf": "image/vnd.dxf",
    ".glb": "model/gltf-binary",
}


async def _sent(request: Request, **wanted: type | tuple[type, ...]) -> dict[str, Any]:
    """The JSON that was sent, with these keys of these types. Raises RefusedError."""
    try:
        data = json.loads(await request.body())
    except (ValueError, RecursionError):
        raise RefusedError(400, "W305", "body", "what was sent is no JSON") from None
    if not isinstance(data, dict):
        raise RefusedError(400, "W305", "body", "what was sent is no JSON object")
    for key, kinds in wanted.items():
        value = data.get(key)
        number_meant = kinds in (float, (int, float))
        if not isinstance(value, kinds) or (isinstance(value, bool) and number_meant):
            raise RefusedError(400, "W305", "body", f'"{key}" is missing or is of another kind than is asked for')
    return data


def _finite(value: Any, depth: int = 0) -> bool:
    """Whether a value can stand in a sheet: no text half of a character, no number without end, not nested deeply."""
    if depth > 6:
        return False
    if isinstance(value, dict):
        return all(isinstance(k, str) and _finite(v, depth + 1) for k, v in value.items())
    if isinstance(value, list):
        return len(value) <= 1000 and all(_finite(one, depth + 1) for one in value)
    if isinstance(value, str):
        return len(value) <= 20_000 and not any("\ud800" <= c <= "\udfff" for c in value)
    if isinstance(value, float):
        return math.isfinite(value)
    return value is None or isinstance(value, bool) or (isinstance(value, int) and abs(value) < 2**63)


def _name(request: Request) -> str:
    return str(request.path_params["sheet"])


async def folder(office: Office, request: Request) -> Response:
    """The folder and what can be begun in it."""
    names = await asyncio.to_thread(office.folder.names)
    rows = [await asyncio.to_thread(_row, office, name) for name in names]
    kinds = [{"word": word, "words": words} for word, words in KIND_WORDS.items() if word in KINDS]
    return JSONResponse({"folder": shown_name(office.folder.place.name), "sheets": rows, "kinds": kinds})


def _row(office: Office, name: str) -> dict[str, Any]:
    try:
        raw = office.folder.tables(name, office.folder.state(name).text)
        title = raw.get("name")
        sheet = isinstance(raw.get("pad"), list)
        return {"sheet": name, "title": title if isinstance(title, str) else name, "is_sheet": sheet}
    except (ProblemError, RefusedError):
        return {"sheet": name, "title": name, "is_sheet": False}


async def news(office: Office, request: Request) -> Response:
    """A stream of what happens."""

    async def lines() -> Any:
        async for row in office.news():
            yield json.dumps(row).encode() + b"\n"

    return StreamingResponse(lines(), media_type="application/x-ndjson")


async def begin(office: Office, request: Request) -> Response:
    """A new sheet."""
    data = await _sent(request, kind=str, title=str)
    kind, title = data["kind"], " ".join(data["title"].split())
    if kind not in KINDS:
        raise RefusedError(422, "W309", "kind", f"no such kind of seat; use one of {', '.join(KINDS)}")
    if not title or not _finite(title):
        raise RefusedError(422, "W309", "title", "the job has no name; give one")
    name = file_name(title)
    taken = {one.lower() for one in await asyncio.to_thread(office.folder.names)}
    stem, k = name.removesuffix(".toml"), 1
    while name.lower() in taken:
        k += 1
        name = f"{stem}-{k}.toml"
    state = await asyncio.to_thread(office.folder.begin, name, kind, title)
    office.noted(name, state.mark)
    return JSONResponse(await asyncio.to_thread(_told, office, state))


async def sheet(office: Office, request: Request) -> Response:
    """A sheet with its questions."""
    state = await asyncio.to_thread(office.folder.state, _name(request))
    return JSONResponse(await asyncio.to_thread(_told, office, state))


def _told(office: Office, state: SheetState) -> dict[str, Any]:
    """A sheet as the page shows it. A text that is no TOML has no form, but problems with lines."""
    raw: dict[str, Any] = {}
    problems: tuple[Problem, ...] = ()
    usable = False
    try:
        raw = office.folder.tables(state.name, state.text)
        problems = office.folder.sheet(state.name, state.text).warnings
        usable = True
    except ProblemError as fault:
        problems = fault.problems
    except RefusedError as fault:
        problems = (fault.problem,)
    title = raw.get("name")
    unit: Unit = "in" if raw.get("unit") == "in" else "mm"
    told = told_as_json(list(problems))
    for row in told:
        row["text"] = in_shop_unit(row["text"], unit=unit)
    return {
        "sheet": state.name,
        "title": title if isinstance(title, str) else state.name,
        "unit": unit,
        "mark": state.mark,
        "undo": state.undo,
        "redo": state.redo,
        "usable": usable,
        "problems": told,
        "stages": form_of(raw, problems) if raw else [],
    }


async def text(office: Office, request: Request) -> Response:
    """The text of a sheet, now or earlier."""
    mark = request.query_params.get("mark")
    if mark is None:
        found: str | None = (await asyncio.to_thread(office.folder.state, _name(request))).text
    else:
        found = await asyncio.to_thread(office.folder.earlier, _name(request), mark)
    if found is None:
        raise RefusedError(404, "W306", shown_name(_name(request)), "the sheet had no text with this mark")
    return Response(found, media_type="text/plain; charset=utf-8")


async def change(office: Office, request: Request) -> Response:
    """Values changed."""
    data = await _sent(request, base=str, changes=list)
    return await _saved(office, request, data["base"], lambda old: _changed(old, data["changes"]))


def _changed(old: str, rows: list[Any]) -> str:
    for row in rows[:50]:
        if not isinstance(row, dict) or not _are_keys(row.get("keys")) or not _finite(row.get("value")):
            raise RefusedError(400, "W305", "body", "a change is {keys: [...], value: ...}")
        old = with_value(old, row["keys"], row.get("value"))
    return old


def _are_keys(keys: Any) -> bool:
    return isinstance(keys, list) and bool(keys) and all(type(k) in (str, int) for k in keys)


async def row(office: Office, request: Request) -> Response:
    """A row added to a list."""
    data = await _sent(request, base=str, keys=list, row=dict)
    if not _are_keys(data["keys"]) or not _finite(data["row"]) or not data["row"]:
        raise RefusedError(400, "W305", "body", "a row is {keys: [...], row: {...}}")
    return await _saved(office, request, data["base"], lambda old: with_row(old, data["keys"], data["row"]))


async def _saved(office: Office, request: Request, base: str, edit: Any) -> Response:
    name = _name(request)

    def save() -> SheetState:
        old = office.folder.earlier(name, base)
        if old is None:
            text = "the sheet was changed elsewhere meanwhile; look at it before it is changed further"
            raise RefusedError(409, "W308", shown_name(name), text)
        return office.folder.save(name, edit(old), base=base)

    state = await asyncio.to_thread(save)
    office.noted(name, state.mark)
    return JSONResponse(await asyncio.to_thread(_told, office, state))


async def undo(office: Office, request: Request) -> Response:
    """One step back."""
    return await _stepped(office, request, -1)


async def redo(office: Office, request: Request) -> Response:
    """One step on."""
    return await _stepped(office, request, +1)


async def _stepped(office: Office, request: Request, by: int) -> Response:
    data = await _sent(request, base=str)
    state = await asyncio.to_thread(office.folder.step, _name(request), by, base=data["base"])
    office.noted(_name(request), state.mark)
    return JSONResponse(await asyncio.to_thread(_told, office, state))


async def keep(office: Office, request: Request) -> Response:
    """Of two texts the one with a mark, with changes made in it; base: mark of the text in the file now."""
    data = await _sent(request, base=str, mark=str, changes=list)
    name = _name(request)

    def save() -> SheetState:
        chosen = office.folder.earlier(name, data["mark"])
        if chosen is None:
            raise RefusedError(404, "W306", shown_name(name), "the sheet had no text with this mark")
        return office.folder.save(name, _changed(chosen, data["changes"]), base=data["base"])

    state = await asyncio.to_thread(save)
    office.noted(name, state.mark)
    return JSONResponse(await asyncio.to_thread(_told, office, state))


async def look(office: Office, request: Request) -> Response:
    """Begin to compute."""
    state = await asyncio.to_thread(office.folder.state, _name(request))
    await asyncio.to_thread(office.folder.sheet, state.name, state.text)
    await office.look(state.name, state.text)
    return JSONResponse({"mark": state.mark})


async def answer(office: Office, request: Request) -> Response:
    """The newest answer."""
    state = await asyncio.to_thread(office.folder.state, _name(request))
    found = office.latest(state.name, state.mark) or office.latest(state.name)
    if found is None:
        raise RefusedError(404, "W311", "answer", "nothing was computed of this sheet yet")
    return JSONResponse({**found.answer, "mark": found.mark})


async def stop(office: Office, request: Request) -> Response:
    """Stop."""
    await office.stop()
    return JSONResponse({})


async def seat(office: Office, request: Request) -> Response:
    """The seat of an answer."""
    found = office.answers.get(str(request.path_params["answer"]))
    if found is None:
        raise RefusedError(404, "W311", "answer", "this answer is not kept any more; ask for the newest")
    return Response(found.seat, media_type="application/octet-stream")


async def still(office: Office, request: Request) -> Response:
    """A picture."""
    show, side = request.query_params.get("show", "panels"), request.query_params.get("side", "front")
    if show not in STILLS or side not in SIDES_SEEN:
        raise RefusedError(400, "W305", "show", f"use one of {', '.join(STILLS)}, from {', '.join(SIDES_SEEN)}")
    state = await asyncio.to_thread(office.folder.state, _name(request))
    return Response(await office.other("still", state.name, state.text, show, side), media_type="image/png")


async def section(office: Office, request: Request) -> Response:
    """A pad cut open."""
    data = await _sent(request, pad=str, direction=str, place_mm=(int, float))
    if data["direction"] not in ("along", "across") or not _finite(data["place_mm"]) or abs(data["place_mm"]) > 1e4:
        raise RefusedError(400, "W305", "body", "a cut goes along or across, at a place in mm")
    state = await asyncio.to_thread(office.folder.state, _name(request))
    place = float(data["place_mm"])
    found = await office.other("section", state.name, state.text, data["pad"], data["direction"], place)
    return JSONResponse(found)


async def make_papers(office: Office, request: Request) -> Response:
    """Make the papers."""
    choices = await _sent(request)
    page = choices.get("page")
    if not (page is None or isinstance(page, str)):
        raise RefusedError(400, "W305", "body", '"page" is a word, or null for the sheet\'s own')
    state = await asyncio.to_thread(office.folder.state, _name(request))
    await asyncio.to_thread(_no_link, office, state.name)
    kept = {key: choices.get(key) for key in ("page", "pictures", "both", "flesh_up") if choices.get(key) is not None}
    found = await office.papers(state.name, state.text, kept)
    return JSONResponse({**found, **await asyncio.to_thread(_papers, office, state.name)})


def _no_link(office: Office, name: str) -> None:
    place = papers_place(office.folder.place, name)
    if place.is_symlink():
        text = "the folder for the papers is a link that leads elsewhere; take it away"
        raise RefusedError(403, "W307", shown_name(place.name), text)


def _papers(office: Office, name: str) -> dict[str, Any]:
    """Papers that are whole, as their manifest lists them."""
    place = papers_place(office.folder.place, name)
    _no_link(office, name)
    rows: list[dict[str, Any]] = []
    try:
        listed = read_manifest(place, MAKE.key) if place.is_dir() and is_whole(place, MAKE.key) else None
    except DamagedError:
        listed = None
    for file in sorted(listed or {}):
        rows.append({"paper": file, "bytes": (place / file).stat().st_size})
    return {"folder": place.name, "papers": rows}


async def papers(office: Office, request: Request) -> Response:
    """Which papers there are."""
    state = await asyncio.to_thread(office.folder.state, _name(request))
    return JSONResponse(await asyncio.to_thread(_papers, office, state.name))


async def paper(office: Office, request: Request) -> Response:
    """One paper, when it is as it was written."""
    state = await asyncio.to_thread(office.folder.state, _name(request))
    name = str(request.path_params["paper"])

    def read() -> bytes:
        place = papers_place(office.folder.place, state.name)
        _no_link(office, state.name)
        try:
            listed = (read_manifest(place, MAKE.key) or {}) if place.is_dir() else {}
        except DamagedError:
            listed = {}
        path = place / name
        if name not in listed or path.is_symlink() or not unchanged(path, listed[name]):
            raise RefusedError(404, "W316", shown_name(name), "there is no such paper; make the papers first")
        return path.read_bytes()

    data = await asyncio.to_thread(read)
    kind = next((media for ending, media in _MEDIA.items() if name.endswith(ending)), "application/octet-stream")
    return Response(data, media_type=kind)


async def hand_over(office: Office, request: Request) -> Response:
    """The seat as one page."""
    state = await asyncio.to_thread(office.folder.state, _name(request))
    kept = await office.final(state.name, state.text)
    page = await asyncio.to_thread(handed_over, kept.answer, kept.seat)
    return Response(page, media_type="text/html; charset=utf-8")
