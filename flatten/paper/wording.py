"""What papers say of themselves: their title, which side lies up, and how to print, join and cut what is on them."""

from collections.abc import Sequence
from dataclasses import dataclass

from flatten.pieces.piece import Piece

_PRINT = "Print at 100 %, not fit to page. Measure the 50 mm square and both 100 mm rulers before cutting."
_JOIN = (
    "Trim each page along the grey dashed line on its left and at its top, lay it on its neighbours so that lines and "
    "crosses meet, as on the map below, and tape."
)


@dataclass(frozen=True)
class Wording:
    """title: what is on the paper; how: lines of the first page of a set of tiles."""

    title: str
    how: tuple[str, ...]


COVER = Wording(
    "Cover patterns",
    (
        _PRINT,
        _JOIN,
        "Full lines are cut, dashed lines are sewn. Slits go no deeper than they are drawn; what is inside is marked.",
        "One slit: a notch, counted from the centre mark. Two: the last one towards the right or the rear. Triangle: "
        "one more seam meets there. Long line: the centre. Short line inside the sew line: a valley.",
        "The arrow follows the length of the hide. For a mirrored piece turn the pattern over.",
        "Cut one cover in cheap cloth and try it before cutting leather.",
    ),
)
PADDING = Wording(
    "Padding shapes",
    (
        _PRINT,
        _JOIN,
        "Full lines are cut. A dashed line inside is where the layer ends on the pad; what lies between is oversize, "
        "which the cover presses in. At lines of dashes and dots the full thickness ends: bevel from there outward.",
        "Mitred edges stay square until they are glued. Straight above the heavy lines of long and short dashes their "
        "rounding begins: round off with the knife until the rounding gauge fits, its marks on those lines.",
        "Shapes are drawn as they lie on what they are glued to, seen from outside; the arrow shows which way round.",
        "Adhesive: open the doors, keep flames and sparks away, let it dry before covering.",
    ),
)


def side_words(pieces: Sequence[Piece]) -> str:
    """Which side of the leather lies up in these pieces, of the cloth where there is no leather; empty for padding."""
    leather = [piece for piece in pieces if not piece.material]
    return ", ".join(dict.fromkeys(piece.side_text for piece in leather or pieces if piece.side_text))


def title_of(wording: Wording, pieces: Sequence[Piece]) -> str:
    """The title of a paper with these pieces on it."""
    return ", ".join(text for text in (wording.title, side_words(pieces)) if text)
