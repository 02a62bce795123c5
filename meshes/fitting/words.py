"""The words for what is seen at a dry fit, and what each of them asks a trimmer to do (common practice, no source)."""

from collections.abc import Mapping

from meshes.schema.cover_tables import CORNER_EMPTY, DIMPLE, DRAG_LINE, LOOSE, OFF_RIDGE

# By word: what helps where the row carries no amount of its own.
ADVICE: Mapping[str, str] = {
    LOOSE: "pinch the fullness along the nearest seam and pin it, measure from the fold to the pins, and write that as "
    "take_in between the marks where the pins begin and end; the fold lies in both layers, so half of a fold measured "
    "flat over both",
    DIMPLE: "the padding is hollow there: fill it, and write padding = what a straight edge laid across shows; a cover "
    "taken in over a hollow only bridges it",
    DRAG_LINE: "the cover is short along that line: let out the seam it runs to, between the two marks nearest to its "
    "end, a few mm at a time, or set the tacks there anew with less pull",
    CORNER_EMPTY: "the padding does not fill the corner: write padding = what is missing there; only where it is full "
    "already take the seams in towards the corner, with their run-out before it",
    OFF_RIDGE: "measure from the ridge to the seam, and write that as take_in on the piece that reaches over the ridge "
    "with the two marks: the piece beyond is let out by as much, and the seam goes back",
}
