"""What the page answers about hides: as they are drawn, with pieces tried on them, and drawings that are sent.

Handlers as in `asked`.
"""

import asyncio
import base64
import binascii
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from flatten.page.asked import are_keys, changed_text, saved
from flatten.page.office import Office
from flatten.page.sent import finite, sent, sheet_name
from flatten.sheets.edits import with_row
from flatten.sheets.folder import DRAWINGS, drawing_name
from flatten.sheets.refusals import RefusedError, told_as_json
from meshes.base.problems import ProblemError

# What fits into a request beside the rest, once it is written as text (base64, RFC 4648).
MOST_DRAWING_BYTES = 800_000
# The most rows that are tried at once.
_MOST_ROWS = 50


async def drawn(office: Office, request: Request) -> Response:
    """The hides as they are."""
    state = await asyncio.to_thread(office.folder.state, sheet_name(request))
    try:
        await asyncio.to_thread(office.folder.sheet, state.name, state.text)
        found = await office.other("drawn", state.name, state.text)
    except ProblemError as fault:
        return JSONResponse({"drawn": [], "refused": told_as_json(fault.problems)})
    return JSONResponse({**found, "refused": []})


async def hides(office: Office, request: Request) -> Response:
    """The pieces on the hides, and what to order; changes and rows are tried and not written."""
    data = await sent(request)
    changes, rows = data.get("changes", []), data.get("rows", [])
    if not isinstance(changes, list) or not isinstance(rows, list):
        raise RefusedError(400, "W305", "body", '"changes" and "rows" are lists')
    state = await asyncio.to_thread(office.folder.state, sheet_name(request))

    def tried() -> str:
        text = changed_text(state.text, changes)
        for row in rows[:_MOST_ROWS]:
            fine = isinstance(row, dict) and are_keys(row.get("keys")) and isinstance(row.get("row"), dict)
            if not fine or not row["row"] or not finite(row["row"]):
                raise RefusedError(400, "W305", "body", "a row is {keys: [...], row: {...}}")
            text = with_row(text, row["keys"], row["row"])
        office.folder.sheet(state.name, text)
        return text

    try:
        text = await asyncio.to_thread(tried)
        found = await office.other("hides", state.name, state.text, text)
    except ProblemError as fault:
        if not (changes or rows):
            raise
        return JSONResponse({"refused": told_as_json(fault.problems)})
    return JSONResponse({**found, "refused": []})


async def drawing(office: Office, request: Request) -> Response:
    """A drawing of a hide: kept beside the sheet, and a hide of the sheet made of it."""
    data = await sent(request, base=str, name=str, file=str, scale=(int, float), data=str)
    suffix = next((one for one in DRAWINGS if data["file"].lower().endswith(one)), None)
    if suffix is None or not finite(data["name"]) or not data["name"].strip():
        text = f"a hide needs a name, and its drawing ends in {' or '.join(DRAWINGS)}"
        raise RefusedError(422, "W324", "drawing", text)
    if not finite(data["scale"]) or not 0 < data["scale"] <= 1e4:
        raise RefusedError(422, "W324", "scale", "say how many mm one unit of the drawing is, such as 1 or 25.4")
    raw = _decoded(data["data"])
    name = sheet_name(request)
    state = await asyncio.to_thread(office.folder.state, name)
    fault = await office.other("drawing", state.name, state.text, suffix, raw, float(data["scale"]))
    if fault:
        raise RefusedError(422, "W324", "drawing", f"the drawing {fault}")
    kept = await asyncio.to_thread(office.folder.keep_drawing, drawing_name(data["file"], suffix), raw)
    row: dict[str, Any] = {"name": " ".join(data["name"].split()), "file": kept, "scale": data["scale"]}
    return await saved(office, request, data["base"], lambda old: with_row(old, ["hide"], row))


def _decoded(text: str) -> bytes:
    try:
        raw = base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError):
        raise RefusedError(400, "W305", "data", "what was sent is no drawing in base64") from None
    if not raw or len(raw) > MOST_DRAWING_BYTES:
        text = f"drawings of hides have up to {MOST_DRAWING_BYTES // 1000} kB, found {len(raw) // 1000} kB; trace it "
        text += "with fewer points"
        raise RefusedError(413, "W304", "data", text)
    return raw
