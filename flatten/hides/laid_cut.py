"""Where pieces lie on hides and rolls, as frozen records."""

from dataclasses import dataclass

import numpy as np

from flatten.hides.asks import CutAsk, LeatherCut
from flatten.nesting.outline import turned
from meshes.base.arrays import FloatArray, locked_floats
from meshes.base.problems import Problem
from meshes.hides.records import HidePlan

# With an arrow along y, this turn brings it along the backbone.
ALONG_DEG = -90.0


@dataclass(frozen=True, eq=False)
class LaidCut:
    """Where a cut lies. hide: its number; turn_deg: of its arrow off the backbone towards the neck; shift (2,):
    after the turn; points (k, 2): its cut line; both along and off the backbone, mm."""

    cut: LeatherCut
    ask: CutAsk
    hide: int
    turn_deg: float
    shift: FloatArray
    points: FloatArray
    pinned: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "shift", locked_floats(self.shift))
        object.__setattr__(self, "points", locked_floats(self.points))

    def placed(self, points: FloatArray) -> FloatArray:
        """Points (k, 2) of the piece where they lie on the hide."""
        return np.asarray(turned(points, self.turn_deg + ALONG_DEG) + self.shift)

    @property
    def off_deg(self) -> float:
        """How far its arrow lies off the backbone, whichever way it points."""
        return abs((self.turn_deg + 90.0) % 180.0 - 90.0)


@dataclass(frozen=True, eq=False)
class LaidHides:
    """The layout. plan: with the rolls that pieces lie on, after the hides; cuts: all that lie; unplaced: labels of
    those that do not; seconds: asked for beyond the fixed rounds, None where the layout is the same on any machine;
    first_s: after how long all lay for the first time."""

    plan: HidePlan
    cuts: tuple[LaidCut, ...]
    unplaced: tuple[str, ...]
    problems: tuple[Problem, ...]
    rounds: int
    seconds: float | None
    first_s: float | None

    def on(self, hide: int) -> list[LaidCut]:
        """The cuts on one hide."""
        return [cut for cut in self.cuts if cut.hide == hide]

    @property
    def used(self) -> list[int]:
        """Numbers of the hides that are cut."""
        return sorted({cut.hide for cut in self.cuts})

    @property
    def rolled_mm(self) -> dict[str, float]:
        """How much of each roll is taken, by the name of its card."""
        return {hide.leather or "": float(hide.backbone[1, 0]) for hide in self.plan.hides if hide.roll}
