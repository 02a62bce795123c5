"""What each address of the page answers about what is computed of a sheet: looks, pictures, cuts and papers. Handlers
as in `asked`.
"""

import asyncio
from contextlib import suppress
from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from flatten.page.handover import handed_over
from flatten.page.office import Office, papers_place
from flatten.page.sent import finite, sent, sheet_name
from flatten.seatview.scenes import SHOWS
from flatten.sheets.edits import with_row
from flatten.sheets.fit_rows import fit_row, with_fit_row
from flatten.sheets.refusals import RefusedError, told_as_json
from flatten.written.writers import MAKE
from meshes.base.files import shown_name
from meshes.base.problems import ProblemError
from meshes.folder.manifest import DamagedError, is_whole, manifest_name, read_manifest, unchanged

STILLS = SHOWS
SIDES_SEEN = ("front", "side", "rear")
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


async def look(office: Office, request: Request) -> Response:
    """Begin to compute."""
    state = await asyncio.to_thread(office.folder.state, sheet_name(request))
    await asyncio.to_thread(office.folder.sheet, state.name, state.text)
    await office.look(state.name, state.text)
    return JSONResponse({"mark": state.mark})


async def answer(office: Office, request: Request) -> Response:
    """The newest answer."""
    state = await asyncio.to_thread(office.folder.state, sheet_name(request))
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
    state = await asyncio.to_thread(office.folder.state, sheet_name(request))
    return Response(await office.other("still", state.name, state.text, show, side), media_type="image/png")


async def section(office: Office, request: Request) -> Response:
    """A pad cut open."""
    data = await sent(request, pad=str, direction=str, place_mm=(int, float))
    if data["direction"] not in ("along", "across") or not finite(data["place_mm"]) or abs(data["place_mm"]) > 1e4:
        raise RefusedError(400, "W305", "body", "a cut goes along or across, at a place in mm")
    state = await asyncio.to_thread(office.folder.state, sheet_name(request))
    place = float(data["place_mm"])
    found = await office.other("section", state.name, state.text, data["pad"], data["direction"], place)
    return JSONResponse(found)


async def try_fit(office: Office, request: Request) -> Response:
    """What a row of fitting would move, or why it cannot be followed; nothing is written."""
    data = await sent(request, row=dict)
    if not finite(data["row"]):
        raise RefusedError(400, "W305", "body", "a row is {row: {...}}")
    state = await asyncio.to_thread(office.folder.state, sheet_name(request))

    def tried() -> tuple[dict[str, Any], str]:
        row = fit_row(office.folder.tables(state.name, state.text), data["row"])
        text = with_fit_row(state.text, row)
        office.folder.sheet(state.name, text)
        return row, text

    try:
        row, text = await asyncio.to_thread(tried)
        found = await office.other("fit", state.name, state.text, text)
    except ProblemError as fault:
        return JSONResponse({"refused": told_as_json(fault.problems)})
    return JSONResponse({**found, "row": row, "refused": []})


async def tapes(office: Office, request: Request) -> Response:
    """The tapes of a sheet over its seat, and one more that is tried where one is sent; nothing is written."""
    data = await sent(request)
    row = data.get("row")
    if not (row is None or (isinstance(row, dict) and finite(row) and row)):
        raise RefusedError(400, "W305", "body", '"row" is the tape that is tried, {pad, way, length, ...}')
    state = await asyncio.to_thread(office.folder.state, sheet_name(request))

    def tried() -> str:
        text = state.text if row is None else with_row(state.text, ("control",), row)
        office.folder.sheet(state.name, text)
        return text

    try:
        text = await asyncio.to_thread(tried)
        found = await office.other("tapes", state.name, state.text, text)
    except ProblemError as fault:
        return JSONResponse({"refused": told_as_json(fault.problems), "tapes": []})
    return JSONResponse({**found, "refused": []})


async def make_papers(office: Office, request: Request) -> Response:
    """Make the papers."""
    choices = await sent(request)
    page = choices.get("page")
    if not (page is None or isinstance(page, str)):
        raise RefusedError(400, "W305", "body", '"page" is a word, or null for the sheet\'s own')
    state = await asyncio.to_thread(office.folder.state, sheet_name(request))
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
    return {"folder": place.name, "papers": rows, "older": bool(rows) and _older(office, name, place)}


def _older(office: Office, name: str, place: Path) -> bool:
    """Whether the papers are of another text than the sheet has now: told by what they were made from, or, where this
    server did not make them, by when both were written."""
    made_from = office.papers_of.get(name)
    with suppress(OSError):
        if made_from is not None:
            return made_from != office.folder.state(name).mark
        written = (place / manifest_name(MAKE.key)).stat().st_mtime_ns
        return office.folder.path(name).stat().st_mtime_ns > written
    return False


async def papers(office: Office, request: Request) -> Response:
    """Which papers there are."""
    state = await asyncio.to_thread(office.folder.state, sheet_name(request))
    return JSONResponse(await asyncio.to_thread(_papers, office, state.name))


async def paper(office: Office, request: Request) -> Response:
    """One paper, when it is as it was written."""
    state = await asyncio.to_thread(office.folder.state, sheet_name(request))
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
    state = await asyncio.to_thread(office.folder.state, sheet_name(request))
    kept = await office.final(state.name, state.text)
    page = await asyncio.to_thread(handed_over, kept.answer, kept.seat)
    return Response(page, media_type="text/html; charset=utf-8")
