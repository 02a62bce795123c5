"""What is built up on a pad's support along one side, so that the pad goes on where its neighbour ends.

Given at places along the side: how far up at the edge, and how that changes inward; it runs out smoothly over a width.
Lengths mm.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.interpolate import PchipInterpolator

from meshes.base.arrays import FloatArray
from meshes.numerics.smooth import smooth_step

# Over this share of the width what is built up keeps its own slope, before it runs out.
KEPT = 1.0 / 3.0
# How softly it ends where its own slope brings it down to the frame before that, as a share of its rise.
SOFT = 0.5

Flank = Literal["left", "right"]


@dataclass(frozen=True)
class Continues:
    """What the sheet asks: the neighbour's name; side: of this pad, along which it takes over the neighbour's section;
    over: the width in which it comes back to its own, None for the usual one."""

    pad: str
    side: Flank
    over: float | None = None


@dataclass(frozen=True)
class BuiltUp:
    """side: along which; edge: points (x, y) of that side from its lower to its upper end; places: y along it; rise:
    height at the edge there, mm, never negative; slope: its change per mm inward; over: width in which it runs out."""

    side: Flank
    edge: tuple[tuple[float, float], ...]
    places: tuple[float, ...]
    rise: tuple[float, ...]
    slope: tuple[float, ...]
    over: float

    def inward(self, plan: FloatArray) -> FloatArray:
        """Distance (n,) across the pad from the side, positive on the pad, for plan positions (n, 2)."""
        x, y = np.array(self.edge).T
        away = plan[:, 0] - np.interp(plan[:, 1], y, x)
        return np.asarray(away if self.side == "left" else -away)

    def height(self, plan: FloatArray) -> FloatArray:
        """How far the support is built up, (n,) mm, at plan positions (n, 2)."""
        place = np.clip(plan[:, 1], self.places[0], self.places[-1])
        rise, slope = (PchipInterpolator(self.places, row)(place) for row in (self.rise, self.slope))
        inward = np.maximum(self.inward(plan), 0.0)
        # A frame is never cut down.
        line, soft = rise + slope * inward, SOFT * rise
        rounded = (line + np.hypot(line, soft)) / (1.0 + np.hypot(1.0, SOFT))
        return np.asarray(rounded * smooth_step((1.0 - inward / self.over) / (1.0 - KEPT)))

    def range_mm(self) -> tuple[float, float]:
        """Least and most that is built up at the edge."""
        return min(self.rise), max(self.rise)


@dataclass(frozen=True, eq=False)
class Meeting:
    """Where a pad meets its neighbour. places (k,): along the side, the pad's y; step (k,): neighbour less pad; kink
    (k,): the angle by which the pad's section turns away from the neighbour's, positive for a hollow; slope (k,): what
    has to be added to the pad's slope, inward; gap_mm: between the edges at most."""

    places: FloatArray
    step_mm: FloatArray
    kink_deg: FloatArray
    slope: FloatArray
    gap_mm: float

    @property
    def worst(self) -> int:
        """The place with the largest step."""
        return int(np.argmax(np.abs(self.step_mm)))

    @property
    def most_step_mm(self) -> float:
        """The largest step, with its sign: positive where the neighbour stands higher."""
        return float(self.step_mm[self.worst])

    @property
    def most_kink_deg(self) -> float:
        """The largest kink, with its sign."""
        return float(self.kink_deg[int(np.argmax(np.abs(self.kink_deg)))])


@dataclass(frozen=True, eq=False)
class Continued:
    """What came of a pad's wish to continue its neighbour. before, after: how they meet without and with what was built
    up; rounds: how often the pad was built again."""

    asked: Continues
    before: Meeting
    after: Meeting
    built_up: BuiltUp | None
    rounds: int
