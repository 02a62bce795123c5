"""A board that is covered flat: a door card or a side panel, its leather wrapped round the edge and glued to its back.

Lengths are mm, places those of the pad's outline. The leather goes round the foam, the board and its own thickness
before it lies on the back; from there on it is glued.
"""

from dataclasses import dataclass
from typing import Literal

from meshes.base.plane import Point

# Usual board: 1/8 in hardboard or sheet (B: restorers' notes). Leather is turned in and glued by 20 to 25 (M), at
# openings by 12 to 15 (P).
USUAL_BOARD_MM, USUAL_WRAP_MM, USUAL_OPENING_WRAP_MM = 3.0, 22.0, 13.0
# Foam on a board that is covered flat: 1/8 and 1/4 in (B: trade page), at most a thin slab (P).
MOST_FOAM_MM = 15.0
HANDS = ("right", "left")


@dataclass(frozen=True)
class Opening:
    """A hole in the board that the leather follows. corners, radii: of its outline, counter-clockwise; wrap: how far
    leather is glued to the back through it, 0 where it is cut off along the board's edge."""

    name: str
    corners: tuple[Point, ...]
    radii: tuple[float, ...]
    wrap: float

    @property
    def wrapped(self) -> bool:
        """Whether leather is turned in through it."""
        return self.wrap > 0.0


@dataclass(frozen=True)
class Hole:
    """A small hole that is pierced through the leather once the board is covered."""

    name: str
    at: Point
    diameter: float


@dataclass(frozen=True)
class Board:
    """What a sheet says of a covered board. wrap: how far leather is glued to the back; pair: the hand of the outline
    where its mirror image is covered too, None for one board."""

    thickness: float = USUAL_BOARD_MM
    wrap: float = USUAL_WRAP_MM
    openings: tuple[Opening, ...] = ()
    holes: tuple[Hole, ...] = ()
    pair: Literal["right", "left"] | None = None

    @property
    def other_hand(self) -> str:
        """The hand of the mirror image."""
        return "left" if self.pair == "right" else "right"
