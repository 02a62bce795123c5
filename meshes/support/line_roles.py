"""What a line of a pad is: its role, which of that role it is, and whether it is sewn, welted or tied down.

What follows from a line (panels, seams, centre marks, where the cover is held) follows from its role, never from what
it is called: names are for the reader, and two lines may bear the same one.
"""

from dataclasses import dataclass, replace
from enum import Enum, auto

from shapely.geometry import LineString

from meshes.records.pad import SIDES, Pad

# The side that mirrors each side, and the corner that mirrors the one after each side.
MIRRORED_SIDE = tuple(SIDES.index({"left": "right", "right": "left"}.get(side, side)) for side in SIDES)
MIRRORED_CORNER = tuple(reversed(range(len(SIDES))))
# Lines that end on another are drawn so far past it, so that both are sure to cross.
OVERSHOOT_MM = 2.0


class LineRole(Enum):
    """What a line is on the pad."""

    EDGE = auto()  # the edge seam, under which the sides hang
    CENTRE = auto()  # the centre line of the pad
    INSET = auto()  # round the inset
    CORNER = auto()  # from a corner of the inset to a corner of the pad, between two bolsters
    VALLEY = auto()  # between two pleats
    EXTRA = auto()  # drawn in the sheet
    SIDE_SEAM = auto()  # down a corner of the pad, beside a band
    JOIN = auto()  # down a side, between two parts of a band
    TACK = auto()  # where the cover is fixed
    CORNER_SEAM = auto()  # down a corner without bands, where the cover is cut and sewn
    FLY = auto()  # where leather ends and a fly is sewn on
    FLY_END = auto()  # down the end of a fly, which is not sewn there
    FOLD = auto()  # round what a folded corner takes in
    ZIP = auto()  # along a zip
    CLOSING = auto()  # round a flat panel that closes a seat
    RELIEF = auto()  # a dart or seam that makes a piece fit


@dataclass(frozen=True)
class LineIdentity:
    """What a chart line is.

    number: which of its role: of the side for EDGE, TACK and FLY, of the side before the corner for CORNER, SIDE_SEAM,
    CORNER_SEAM and FLY_END (all in the order of SIDES), of the valley, of the line or the join in the sheet; image: the
    number of its mirror image, None when that bears the same; rim: it bounds the face patch (the edge, and the centre
    line of a mirrored half); runs_on: it runs on over a side without band; tied: the cover is tied down along it.
    """

    role: LineRole
    number: int = 0
    image: int | None = None
    sewn: bool = False
    welt: bool = False
    rim: bool = False
    runs_on: bool = False
    tied: bool = False

    @property
    def mirrored(self) -> "LineIdentity":
        """The same line on the other half of the pad."""
        return self if self.image is None else replace(self, number=self.image, image=self.number)


@dataclass(frozen=True, eq=False)
class ChartLine:
    """One line in the plane of the chart, mm, with what it is."""

    rule: LineIdentity
    line: LineString


def line_words(pad: Pad, rule: LineIdentity) -> str:
    """What a line is called in a message."""
    side, after = (pad.side_word(SIDES[(rule.number + k) % len(SIDES)]) for k in (0, 1))
    match rule.role:
        case LineRole.EDGE:
            return f"{side} edge"
        case LineRole.TACK:
            return f"{side} tack line"
        case LineRole.FLY:
            return f"{side} fly"
        case LineRole.FLY_END:
            return f"{side} {after} end of the fly"
        case LineRole.CORNER:
            return f"{side} {after} corner"
        case LineRole.SIDE_SEAM:
            return f"{side} {after} side seam"
        case LineRole.EXTRA:
            return pad.lines[rule.number].name
        case LineRole.VALLEY:
            return f"valley {rule.number}"
        case LineRole.CENTRE:
            return "centre line"
        case LineRole.INSET:
            return "inset"
        case LineRole.JOIN:
            return f"join {rule.number + 1} of the bands"
        case LineRole.RELIEF:
            return "relief"
        case LineRole.CORNER_SEAM:
            return f"{side} {after} corner seam"
        case LineRole.FOLD:
            return f"{side} {after} fold"
        case LineRole.ZIP:
            return "zip"
        case LineRole.CLOSING:
            return f"{pad.side_word(SIDES[rule.number])} edge"
