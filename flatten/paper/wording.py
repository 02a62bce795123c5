"""What papers say of themselves: their title, which side lies up, and how to print, join and cut what is on them."""

from collections.abc import Sequence
from dataclasses import dataclass

from flatten.draw.imprint import Imprint
from flatten.pieces.piece import Piece

_JOIN = (
    "Lay the pages as on the map, row by row. Where a page says what it joins, trim it along the grey dashed line on "
    "its left and at its top, lay it on its neighbours so that lines and crosses meet, and tape. Pages without a line "
    "are not printed: where one is missing inside a piece, tape plain paper."
)


@dataclass(frozen=True)
class Wording:
    """title: what is on the paper; how: what its first page says besides how to print and join it; lines: what is said
    of its lines on a roll."""

    title: str
    how: tuple[str, ...]
    lines: str


_COVER_LINES = (
    "Full lines are cut, dashed lines are sewn. Lines of short dashes are cut only later: when the cover "
    "is pulled, or as it is sewn. Slits go no deeper than they are drawn; what is inside is marked."
)
_PADDING_LINES = (
    "Full lines are cut. A dashed line inside is where the layer ends on the pad; what lies between is oversize, "
    "which the cover presses in. At lines of dashes and dots the full thickness ends: bevel from there outward."
)
_GAUGE_LINES = "Full lines are cut, out of stiff card."

COVER = Wording(
    "Cover patterns",
    (
        _COVER_LINES,
        "One slit: a notch, counted from the centre mark. Two: the last one towards the right or the rear. Triangle: "
        "one more seam meets there. Long line: the centre. Short line inside the sew line: a valley.",
        "The arrow follows the length of the hide. For a mirrored piece turn the pattern over.",
        "Cut one cover in cheap cloth and try it before cutting leather.",
    ),
    _COVER_LINES,
)
PADDING = Wording(
    "Padding shapes",
    (
        _PADDING_LINES,
        "Mitred edges stay square until they are glued. Straight above the heavy lines of long and short dashes their "
        "rounding begins: round off with the knife until the rounding gauge fits, its marks on those lines.",
        "Shapes are drawn as they lie on what they are glued to, seen from outside; the arrow shows which way round.",
        "Adhesive: open the doors, keep flames and sparks away, let it dry before covering.",
    ),
    _PADDING_LINES,
)
GAUGES = Wording(
    "Section gauges",
    (
        _GAUGE_LINES,
        "Each gauge is named by the edge of the pad and the cut that it belongs to. Hold its hollow side square to the "
        "edge against the padding, before any cover is on it.",
        "Light shows where padding is missing; where the gauge rides, there is too much.",
    ),
    _GAUGE_LINES,
)


def how_to_print(imprint: Imprint) -> str:
    """How to print true to size and see that it was."""
    square, ruler = ("2 in", "4 in") if imprint.unit == "in" else ("50 mm", "100 mm")
    return f"Print at 100 %, not fit to page. Measure the {square} square and both {ruler} rulers before cutting."


def how_to(wording: Wording, imprint: Imprint) -> tuple[str, ...]:
    """Everything that the first page of a set of tiles says."""
    return how_to_print(imprint), _JOIN, *wording.how


def side_words(pieces: Sequence[Piece]) -> str:
    """Which side of the leather lies up in these pieces, of the cloth where there is no leather; empty for padding."""
    leather = [piece for piece in pieces if not piece.material]
    return ", ".join(dict.fromkeys(piece.side_text for piece in leather or pieces if piece.side_text))


def title_of(wording: Wording, pieces: Sequence[Piece]) -> str:
    """The title of a paper with these pieces on it."""
    return ", ".join(text for text in (wording.title, side_words(pieces)) if text)
