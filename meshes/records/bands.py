"""What a measurement sheet says of where the bands of a pad part: which band each corner belongs to, more joins, and
over which sides the face runs on between them.

Corners are in the order of the sides that end in them: front right, rear right, rear left, front left. Lengths mm.
"""

from dataclasses import dataclass, replace
from typing import Literal

from meshes.base.plane import Point
from meshes.base.units import SAME_MM

CornerWord = Literal["middle", "sides", "ends", "none"]
CORNER_WORDS = ("middle", "sides", "ends", "none")
# Sides over which a face can run on.
OVER_SIDES = ("front", "rear")


@dataclass(frozen=True)
class Bands:
    """corners: where two bands part at each corner: in its "middle"; at an end of it, when it belongs to the "sides" or
    to the "ends", front and rear; "none": one band goes on round it; None as usual. joins: places of the outline at
    which a band has a join besides, of the whole pad. over: sides, front or rear, over which the face runs on down to
    the tack line, between gables: bands of the sides beside it that have the outline of the section."""

    corners: tuple[CornerWord | None, ...] = (None, None, None, None)
    joins: tuple[Point, ...] = ()
    over: tuple[str, ...] = ()

    def mirrored(self) -> "Bands":
        """The same left for right."""
        return replace(self, corners=self.corners[::-1], joins=tuple((0.0 - x, y) for x, y in self.joins))

    def image(self, join: int) -> int | None:
        """Number of the join that mirrors one, None where there is none or it is that itself."""
        x, y = self.joins[join]
        near = (k for k, (a, b) in enumerate(self.joins) if abs(a + x) <= SAME_MM and abs(b - y) <= SAME_MM)
        found = next(near, join)
        return None if found == join else found

    @property
    def even(self) -> bool:
        """Whether they are the same left and right."""
        lone = [abs(x) > SAME_MM and self.image(k) is None for k, (x, _) in enumerate(self.joins)]
        return self.corners == self.corners[::-1] and not any(lone)


USUAL_BANDS = Bands()
