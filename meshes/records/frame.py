"""What a sheet says of the frame under a pad: how its rim runs, and where the cover is tacked to it.

Lengths mm, heights above the pad's own zero.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from meshes.base.arrays import FloatArray
from meshes.base.plane import Point

RimWord = Literal["fair", "carried"]
TackWord = Literal["straight", "parallel"]


@dataclass(frozen=True)
class BasePlane:
    """The plane in which a frame stands and a cover is tacked: height + along y + across x."""

    height: float
    along: float = 0.0
    across: float = 0.0

    def at(self, plan: FloatArray) -> FloatArray:
        """Its height (n,) at plan positions (n, 2)."""
        return np.asarray(self.height + plan[:, 1] * self.along + plan[:, 0] * self.across)


@dataclass(frozen=True)
class Frame:
    """rim: "fair" through the ends of the profiles and fair between them, "carried" as the profiles' form goes on,
    None as usual; tack: "straight" where the frame is, "parallel" to the rim, None as usual; base: the plane of the
    tack lines, for the sides `based` on it; drops: of a side, (place, drop) by rising place: x of front and rear, y of
    left and right."""

    rim: RimWord | None = None
    tack: TackWord | None = None
    base: BasePlane | None = None
    based: tuple[str, ...] = ()
    drops: tuple[tuple[str, tuple[Point, ...]], ...] = ()

    def drops_of(self, side: str) -> tuple[Point, ...]:
        """The drops measured along one side; none where it has one for all."""
        return dict(self.drops).get(side, ())

    def mirrored(self) -> "Frame":
        """The same left for right."""
        other = {"left": "right", "right": "left"}
        base = self.base
        drops = []
        for side, points in self.drops:
            turned = points if side in other else tuple((0.0 - x, drop) for x, drop in points[::-1])
            drops.append((other.get(side, side), turned))
        return Frame(
            self.rim,
            self.tack,
            None if base is None else BasePlane(base.height, base.along, 0.0 - base.across),
            tuple(sorted(other.get(side, side) for side in self.based)),
            tuple(sorted(drops)),
        )


PLAIN_FRAME = Frame()
