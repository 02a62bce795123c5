"""What the page answers where one decides: variants kept beside the sheet, and proposed darts and seams. Handlers as in
`asked`.
"""

import asyncio

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from flatten.page.office import Office
from flatten.page.sent import finite, sent, sheet_name
from flatten.sheets.refusals import RefusedError

# What the sheet as it stands is called beside its variants, and how long a name may be.
NOW, LONGEST_VARIANT_NAME = "as it is now", 60


async def variants(office: Office, request: Request) -> Response:
    """Names and marks of the variants that are kept."""
    state = await asyncio.to_thread(office.folder.state, sheet_name(request))
    return JSONResponse({"variants": _told(office, state.name), "mark": state.mark})


def _told(office: Office, name: str) -> list[dict[str, str]]:
    return [{"name": one, "mark": mark} for one, mark, _ in office.folder.variants.of(name)]


async def keep_variant(office: Office, request: Request) -> Response:
    """The sheet as it is now kept as a variant, or a variant let go."""
    data = await sent(request, name=str, keep=bool)
    name = " ".join(data["name"].split())
    if not name or len(name) > LONGEST_VARIANT_NAME or not finite(name) or name == NOW:
        raise RefusedError(422, "W309", "name", f"a variant has a name of up to {LONGEST_VARIANT_NAME} letters")
    state = await asyncio.to_thread(office.folder.state, sheet_name(request))
    if data["keep"]:
        await asyncio.to_thread(office.folder.variants.keep, state.name, name, state.text)
    else:
        await asyncio.to_thread(office.folder.variants.let_go, state.name, name)
    return JSONResponse({"variants": _told(office, state.name), "mark": state.mark})


async def compare(office: Office, request: Request) -> Response:
    """The sheet as it is now beside its variants: what is not the same in all."""
    await sent(request)
    state = await asyncio.to_thread(office.folder.state, sheet_name(request))
    kept = await asyncio.to_thread(office.folder.variants.of, state.name)
    if not kept:
        raise RefusedError(422, "W325", "variants", "there is no variant to compare with; keep one first")
    texts = ((NOW, state.text), *((name, text) for name, _, text in kept))
    return JSONResponse(await office.other("compare", state.name, state.text, texts))


async def relief(office: Office, request: Request) -> Response:
    """Darts and seams that would help a panel."""
    data = await sent(request, panel=str)
    state = await asyncio.to_thread(office.folder.state, sheet_name(request))
    await asyncio.to_thread(office.folder.sheet, state.name, state.text)
    return JSONResponse(await office.other("relief", state.name, state.text, data["panel"]))
