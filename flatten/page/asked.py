"""What each address of the page answers about the folder and its sheets. Every handler takes the office and a request,
and raises RefusedError or ProblemError for what it does not do.
"""

import asyncio
import json
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse

from flatten.page.office import Office
from flatten.page.sent import finite, plain_rows, sent, sheet_name
from flatten.sheets.edits import MOST_KEYS, with_row, with_value
from flatten.sheets.folder import SheetState, file_name
from flatten.sheets.form import form_of
from flatten.sheets.refusals import RefusedError, told_as_json
from meshes.base.files import shown_name
from meshes.base.problems import Problem, ProblemError
from meshes.base.units import Unit, in_shop_unit
from meshes.sheet.starter import KINDS

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
# What tells each from the others, for who does not call it so.
KIND_MORE = {
    "box": "a foam box in a cover with band and zip",
    "slip": "a padded board that drops into a chair",
    "stool": "a round seat, tacked below its edge",
    "bench": "a sprung seat and back with pleats",
    "back": "one that one leans against, by itself",
    "bucket": "a seat and a back that holds the sides",
    "roll": "a bolster with two round ends",
    "card": "a flat board, leather glued round it",
}

# What a tape can read, and how long a place of a sheet may be.
_LARGEST_READ_MM, _LONGEST_KEY = 1e5, 60


async def folder(office: Office, request: Request) -> Response:
    """The folder and what can be begun in it."""
    names = await asyncio.to_thread(office.folder.names)
    rows = [await asyncio.to_thread(_row, office, name) for name in names]
    kinds = [
        {"word": word, "words": words, "more": KIND_MORE[word]} for word, words in KIND_WORDS.items() if word in KINDS
    ]
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
    data = await sent(request, kind=str, title=str)
    kind, title = data["kind"], " ".join(data["title"].split())
    if kind not in KINDS:
        raise RefusedError(422, "W309", "kind", f"no such kind of seat; use one of {', '.join(KINDS)}")
    if not title or not finite(title):
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
    state = await asyncio.to_thread(office.folder.state, sheet_name(request))
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
        "stages": form_of(raw, problems, office.folder.begun(state.name)) if raw else [],
        "readings": office.folder.readings(state.name),
        "fits": plain_rows(raw, "fit"),
        "hides": plain_rows(raw, "hide"),
        "placings": plain_rows(raw, "placing"),
    }


async def text(office: Office, request: Request) -> Response:
    """The text of a sheet, now or earlier."""
    mark = request.query_params.get("mark")
    if mark is None:
        found: str | None = (await asyncio.to_thread(office.folder.state, sheet_name(request))).text
    else:
        found = await asyncio.to_thread(office.folder.earlier, sheet_name(request), mark)
    if found is None:
        raise RefusedError(404, "W306", shown_name(sheet_name(request)), "the sheet had no text with this mark")
    return Response(found, media_type="text/plain; charset=utf-8")


async def change(office: Office, request: Request) -> Response:
    """Values changed."""
    data = await sent(request, base=str, changes=list)
    return await saved(office, request, data["base"], lambda old: changed_text(old, data["changes"]))


def changed_text(old: str, rows: list[Any]) -> str:
    """A text with values changed, each a table {keys, value}. Raises RefusedError."""
    for row in rows[:50]:
        if not isinstance(row, dict) or not are_keys(row.get("keys")) or not finite(row.get("value")):
            raise RefusedError(400, "W305", "body", "a change is {keys: [...], value: ...}")
        old = with_value(old, row["keys"], row.get("value"))
    return old


def are_keys(keys: Any) -> bool:
    """Whether something names a place in a sheet."""
    return isinstance(keys, list) and bool(keys) and all(type(k) in (str, int) for k in keys)


async def row(office: Office, request: Request) -> Response:
    """A row added to a list."""
    data = await sent(request, base=str, keys=list, row=dict)
    if not are_keys(data["keys"]) or not finite(data["row"]) or not data["row"]:
        raise RefusedError(400, "W305", "body", "a row is {keys: [...], row: {...}}")
    return await saved(office, request, data["base"], lambda old: with_row(old, data["keys"], data["row"]))


async def saved(office: Office, request: Request, base: str, edit: Any) -> Response:
    """The sheet after an edit of its text was saved. base: mark of the text it is about. Raises RefusedError."""
    name = sheet_name(request)

    def save() -> SheetState:
        old = office.folder.earlier(name, base)
        if old is None:
            text = "the sheet was changed elsewhere meanwhile; look at it before it is changed further"
            raise RefusedError(409, "W308", shown_name(name), text)
        return office.folder.save(name, edit(old), base=base)

    state = await asyncio.to_thread(save)
    office.noted(name, state.mark)
    return JSONResponse(await asyncio.to_thread(_told, office, state))


async def reading(office: Office, request: Request) -> Response:
    """Both readings of a number, kept beside the sheet."""
    data = await sent(request, keys=list, mm=list)
    both = data["mm"]
    fine = len(both) == 2 and all(type(v) in (int, float) and finite(v) and abs(v) < _LARGEST_READ_MM for v in both)
    if not fine or not are_keys(data["keys"]) or len(data["keys"]) > MOST_KEYS or not finite(data["keys"]):
        raise RefusedError(400, "W305", "body", "readings are {keys: [...], mm: [one, two]}")
    name = sheet_name(request)
    if any(isinstance(key, str) and len(key) > _LONGEST_KEY for key in data["keys"]):
        raise RefusedError(400, "W305", "body", "no place of a sheet has such long keys")
    await asyncio.to_thread(office.folder.note_reading, name, data["keys"], (float(both[0]), float(both[1])))
    return JSONResponse(await asyncio.to_thread(_told, office, await asyncio.to_thread(office.folder.state, name)))


async def undo(office: Office, request: Request) -> Response:
    """One step back."""
    return await _stepped(office, request, -1)


async def redo(office: Office, request: Request) -> Response:
    """One step on."""
    return await _stepped(office, request, +1)


async def _stepped(office: Office, request: Request, by: int) -> Response:
    data = await sent(request, base=str)
    state = await asyncio.to_thread(office.folder.step, sheet_name(request), by, base=data["base"])
    office.noted(sheet_name(request), state.mark)
    return JSONResponse(await asyncio.to_thread(_told, office, state))


async def keep(office: Office, request: Request) -> Response:
    """Of two texts the one with a mark, with changes made in it; base: mark of the text in the file now."""
    data = await sent(request, base=str, mark=str, changes=list)
    name = sheet_name(request)

    def save() -> SheetState:
        chosen = office.folder.earlier(name, data["mark"])
        if chosen is None:
            raise RefusedError(404, "W306", shown_name(name), "the sheet had no text with this mark")
        return office.folder.save(name, changed_text(chosen, data["changes"]), base=data["base"])

    state = await asyncio.to_thread(save)
    office.noted(name, state.mark)
    return JSONResponse(await asyncio.to_thread(_told, office, state))
