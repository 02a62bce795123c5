"""A closed cover: a loose cushion or a roll, sewn shut all round its core, with a zip; no frame and no tack line. Or a
flat panel that closes a seat: its bottom, its outside back.

Lengths are mm. The core is what the pad's outline and the thickness say; layers of the pad are wrapped over it. A cover
is made smaller than its core so that the foam fills it: by how much in all, not on each side, follows from how firm the
core is (inches in the trade: soft 1, medium 1/2 to 3/4, firm 0 to 1/4 on length and width).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from meshes.records.materials import Material

FORMS = ("box", "roll", "panel", "knife_edge")
# Between soft, medium and firm foam, by its pressure in kPa at 40 % compression: half-way, as a ratio, between those
# that are built in (P).
MEDIUM_FROM_KPA, FIRM_FROM_KPA = 2.75, 4.75
# The finished corner of a plate is at least so round, or it cannot be turned out; with welt it needs more (P).
LEAST_CORNER_MM, LEAST_WELTED_CORNER_MM = 15.0, 25.0
# A part of a band is no longer than this; joins lie at the rear or front corners, never in the middle of the front (P).
LONGEST_BAND_MM = 1400.0
# Sides in the order in which the rim of a plate runs round, and the one along which a zip runs where a sheet is silent.
ROUND_THE_RIM = ("rear", "left", "front", "right")
USUAL_ZIP = ("rear",)
# What an edge of a band is called that goes on over the end of a zip.
FLAP = "flap"
# Past the corners of its side the zip goes on so far: 5 to 6 in (B: trade page), here 125 to 150.
USUAL_PAST_CORNER_MM = 140.0
# A knife edge: two faces on one seam. Its corners are taken in by so much, over a quarter of each side, or they stand
# out empty (P); its cover is cut at the core's size (B: 1/2 in seams, so 1 in less in all); its zip ends so far short
# of both rear corners (B: 1 1/2 in).
CORNERS_IN_MM, CORNERS_IN_OVER, KNIFE_EDGE_LESS_MM, USUAL_ZIP_SHORT_MM = 15.0, 0.25, 25.4, 38.0
# A zip opens a knife edge far enough for a core that is folded in two (P).
LEAST_OPENING_MM = 100.0
# A board in a cushion is drawn in from the finished cover by so much all round, or its edge wears the seam (P).
BOARD_CLEAR_MM = 5.0
# Stands in for a core whose thickness a sheet does not say, so that the rest of it can be checked.
USUAL_THICKNESS_MM = 100.0


@dataclass(frozen=True)
class Undersize:
    """By how much a cover is smaller than its core, mm in all, in both directions; row: of the firmness table that says
    so, with its code."""

    mm: float
    row: str


# Rows of the firmness table (P: drawn from four published rules; no published table was found).
_ROWS = {
    "soft": Undersize(25.4, "P: soft foam, 1 in on length and width in all"),
    "medium": Undersize(15.875, "P: medium foam, 1/2 to 3/4 in on length and width in all"),
    "firm": Undersize(3.175, "P: firm foam, 0 to 1/4 in on length and width in all"),
}


@dataclass(frozen=True)
class Closed:
    """What a sheet says of a closed cover. thickness: of a box from face to face of the core, of a roll its length;
    undersize: in all, None for what the core's firmness says; band: finished height, None for the thickness;
    past_corner: how far a zip goes on past the corners of its side; edges: of a panel, the kind of each by side (front,
    right, rear, left); flap: the band goes on over both ends of the zip and is folded back there; corners_in: how far
    the corners of a knife edge are taken in, zip_short: how far short of the corners its zip ends; rear: thickness of a
    wedge at its rear, thickness being that in front, None for a core that is as thick all over; zip_along: the sides
    that the zip runs along, one after the other as the rim runs round; board: thickness of a board below the core, on
    which the lower face lies flat, 0 for none."""

    form: Literal["box", "roll", "panel", "knife_edge"]
    thickness: float
    core: str
    undersize: float | None = None
    band: float | None = None
    welt: bool = False
    past_corner: float = USUAL_PAST_CORNER_MM
    edges: tuple[str, str, str, str] = ("pulled", "closed", "blind", "closed")
    flap: bool = False
    corners_in: float = CORNERS_IN_MM
    zip_short: float = USUAL_ZIP_SHORT_MM
    rear: float | None = None
    zip_along: tuple[str, ...] = USUAL_ZIP
    board: float = 0.0

    @property
    def mean_thickness(self) -> float:
        """Of the core, half-way from front to rear."""
        return 0.5 * (self.thickness + (self.thickness if self.rear is None else self.rear))

    @property
    def zip_even(self) -> bool:
        """Whether its zip is the same left and right."""
        return self.form == "roll" or ("left" in self.zip_along) == ("right" in self.zip_along)

    @property
    def words(self) -> str:
        """What the form is called."""
        return self.form.replace("_", " ")

    @property
    def banded(self) -> bool:
        """Whether there is a band, or a tube, between its plates."""
        return self.form in ("box", "roll")

    @property
    def filled(self) -> bool:
        """Whether there is a core in it; a flat panel has none."""
        return self.form != "panel"

    @property
    def height(self) -> float:
        """Finished height of the band, of a roll the length of its tube; a knife edge has none."""
        if self.form == "knife_edge":
            return 0.0
        return self.thickness + self.board if self.band is None else self.band

    @property
    def wrapped_faces(self) -> int:
        """How many of its faces are wrapped: not the one that lies on a board."""
        return 1 if self.board else 2

    @property
    def least_corner(self) -> float:
        """The least radius of a finished corner of its plates."""
        if not self.filled:
            return 0.0
        return LEAST_WELTED_CORNER_MM if self.welt else LEAST_CORNER_MM

    def smaller(self, core: Material) -> Undersize:
        """By how much the cover is made smaller than its core. A roll that is wrapped gets its tension from that."""
        if self.undersize is not None:
            return Undersize(self.undersize, "the sheet")
        if not self.filled:
            return Undersize(0.0, "a flat panel")
        if self.form == "roll":
            return Undersize(0.0, "B: a roll is cut to its own size")
        if self.form == "knife_edge":
            return Undersize(KNIFE_EDGE_LESS_MM, "B: a knife edge is cut at the core's size, seams 1/2 in")
        return _ROWS[firmness(core)]


def zip_run(sides: Sequence[str]) -> tuple[str, ...] | None:
    """Sides next to each other in the order in which the rim runs round; None where no one zip runs along them all."""
    many, count = len(sides), len(ROUND_THE_RIM)
    if not 0 < many < count or len(set(sides)) < many:
        return None
    runs = (tuple(ROUND_THE_RIM[(first + k) % count] for k in range(many)) for first in range(count))
    return next((run for run in runs if set(run) == set(sides)), None)


def firmness(material: Material) -> str:
    """Whether foam is soft, medium or firm."""
    kpa = material.compression_kpa[1]
    return "soft" if kpa < MEDIUM_FROM_KPA else "medium" if kpa < FIRM_FROM_KPA else "firm"
