"""Welt and trim: how wide a strip covers a cord, how many strips make a length, and lengths along any named edge.

A strip lies round the cord and leaves an allowance on both sides: its width is 2 a + pi (d + t) with the allowance a,
the cord's diameter d and the covering's thickness t (the middle of the covering runs round at d + t). Strips are cut
along the hide or roll and joined on the bias, which takes one width of the strip at every join. Lengths mm.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from meshes.base.frozen_map import FrozenMap

# Cord usual in furniture: 5/32 in (upholsteryresource, a trade page).
USUAL_CORD_MM = 5.0 / 32.0 * 25.4
# Round a corner welt is clipped and eased: so much more for every corner (common practice, no source).
CORNER_MM = 10.0
# What is left at both ends to join or tuck them in (common practice, no source).
ENDS_MM = 50.0


def strip_width(cord_mm: float, covering_mm: float, allowance_mm: float) -> float:
    """Width of a strip for a cord. Raises ValueError for a cord or covering of no thickness."""
    if cord_mm <= 0.0 or covering_mm <= 0.0 or allowance_mm < 0.0:
        raise ValueError(f"a cord and its covering have a thickness, found {cord_mm:g} and {covering_mm:g} mm")
    return 2.0 * allowance_mm + math.pi * (cord_mm + covering_mm)


def strips_needed(length_mm: float, strip_mm: float, *, join_mm: float = 0.0) -> int:
    """How many strips of one length make a length of welt; join_mm: what each join takes.

    Raises ValueError when a strip is no longer than its join.
    """
    if strip_mm <= join_mm:
        raise ValueError(f"strips of {strip_mm:g} mm are too short to be joined")
    # One strip without joins, every further one loses a join.
    return max(math.ceil((length_mm - join_mm) / (strip_mm - join_mm) - 1e-9), 1)


@dataclass(frozen=True)
class WeltLength:
    """One run of welt: length as sewn and as cut with corners and ends, made of so many strips."""

    sewn_mm: float
    cut_mm: float
    strips: int

    @property
    def joins(self) -> int:
        """Bias joins within the run."""
        return self.strips - 1


@dataclass(frozen=True)
class WeltPlan:
    """Welt of one kind: its runs by name, in strips of width_mm and strip_mm length. What is left of a strip at the end
    of a run is not counted on for the next one."""

    runs: Mapping[str, WeltLength]
    width_mm: float
    strip_mm: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "runs", FrozenMap(self.runs))

    @property
    def sewn_mm(self) -> float:
        """Length of all runs as sewn."""
        return sum(run.sewn_mm for run in self.runs.values())

    @property
    def cut_mm(self) -> float:
        """Length of all runs with corners and ends."""
        return sum(run.cut_mm for run in self.runs.values())

    @property
    def strips(self) -> int:
        """Strips for all runs."""
        return sum(run.strips for run in self.runs.values())

    @property
    def joins(self) -> int:
        """Bias joins in all runs."""
        return sum(run.joins for run in self.runs.values())


def welt_plan(
    lengths_mm: Mapping[str, float],
    corners: Mapping[str, int],
    *,
    cord_mm: float = USUAL_CORD_MM,
    covering_mm: float,
    allowance_mm: float,
    strip_mm: float,
) -> WeltPlan:
    """Strips for all runs of welt: lengths as sewn by run, and how many corners each goes round."""
    width = strip_width(cord_mm, covering_mm, allowance_mm)
    runs = {}
    for name, sewn in lengths_mm.items():
        cut = sewn + CORNER_MM * corners.get(name, 0) + ENDS_MM
        # A bias join runs at 45 degrees across the strip: it takes one width.
        runs[name] = WeltLength(sewn, cut, strips_needed(cut, strip_mm, join_mm=width))
    return WeltPlan(runs, width, strip_mm)
