"""How a cover is finished at corners where it runs over the edge without a band, as a sheet says it."""

import math
from dataclasses import dataclass, replace
from enum import StrEnum

# In the order in which an outline passes them; corner k lies between sides k and k + 1 of front, right, rear, left.
CORNERS_AFTER = ("front_right", "rear_right", "rear_left", "front_left")
MIRROR_CORNER = {
    "front_right": "front_left",
    "front_left": "front_right",
    "rear_right": "rear_left",
    "rear_left": "rear_right",
}


# A corner that turns less is none to fold: the cover goes round it like round a bow.
LEAST_CORNER_RAD = math.radians(30.0)
# Leather is drawn clean round corners of a pad so thick at most, and folded on a thicker one (B: up to about 2 in).
MOST_DRAWN_MM = 50.0


class CornerFinish(StrEnum):
    """What becomes of the leather that a corner leaves over."""

    DRAWN = "drawn"  # pulled clean on the diagonal, small pleats under the board
    SINGLE = "single"  # one fold, open to the side or the rear
    DOUBLE = "double"  # two folds that meet on the corner
    SEWN = "sewn"  # cut away and sewn down the corner
    CUT = "cut"  # cut in for a post that stands in the corner, both flaps turned under along it


def usual_finish(thick_mm: float) -> CornerFinish:
    """How corners are finished that are to be, on padding so thick, where nothing else is said."""
    return CornerFinish.DRAWN if thick_mm <= MOST_DRAWN_MM else CornerFinish.SINGLE


@dataclass(frozen=True)
class Folds:
    """finishes: of each corner that has one, in the order of CORNERS_AFTER; clearance: between the board and the rail
    round it on each side, mm, None where there is no rail, or where a rail leaves what is usual."""

    finishes: tuple[tuple[str, CornerFinish], ...] = ()
    clearance: float | None = None
    rail: bool = False

    def of(self, corner: str) -> CornerFinish | None:
        """The finish of one corner; None where the cover goes round it in one."""
        return dict(self.finishes).get(corner)

    def folded(self, corner: str) -> bool:
        """Whether leather is laid in folds at a corner."""
        return self.of(corner) not in (None, CornerFinish.SEWN)

    def mirrored(self) -> "Folds":
        """The same left for right."""
        turned = {MIRROR_CORNER[corner]: finish for corner, finish in self.finishes}
        return replace(self, finishes=tuple((c, turned[c]) for c in CORNERS_AFTER if c in turned))


# What a sheet may say of a corner; one is cut where a post stands in it.
SAID_FINISHES = tuple(finish for finish in CornerFinish if finish is not CornerFinish.CUT)
NO_FOLDS = Folds()
