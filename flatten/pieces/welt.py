"""Welt and trim: how wide a strip covers a cord, how many strips make a length, and which seams are one run.

A strip lies round the cord and leaves an allowance on both sides: its width is 2 a + pi (d + t) with the allowance a,
the cord's diameter d and the covering's thickness t (the middle of the covering runs round at d + t). Strips are cut
along the hide or roll and joined on the bias, which takes one width of the strip at every join. Seams that follow each
other carry one run of welt: two welted seams that end at one place are one run; where more meet, the two that go on
straightest do. Lengths mm.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from meshes.base.arrays import FloatArray
from meshes.base.frozen_map import FrozenMap
from meshes.seat.panels import Seam

# Cord usual in furniture: 5/32 in (upholsteryresource, a trade page).
USUAL_CORD_MM = 5.0 / 32.0 * 25.4
# Round a corner welt is clipped and eased: so much more for every corner (common practice, no source).
CORNER_MM = 10.0
# What is left at both ends to join or tuck them in (common practice, no source).
ENDS_MM = 50.0
# Where a run turns by more than this from one seam to the next it goes round a corner.
JUNCTION_CORNER_RAD = np.deg2rad(45.0)


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

    def strips_of(self, run: WeltLength) -> tuple[float, ...]:
        """Lengths of the strips of one run: whole ones, and what is left of it with what its joins take."""
        whole = run.cut_mm + run.joins * self.width_mm
        return tuple(min(self.strip_mm, whole - k * self.strip_mm) for k in range(run.strips))

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


@dataclass(frozen=True)
class WeltRun:
    """One length of welt. seams: names in the order it follows them; closed: it comes back to where it began; turns:
    corners between one seam and the next."""

    seams: tuple[str, ...]
    closed: bool
    turns: int


@dataclass(frozen=True, eq=False)
class _SeamEnd:
    """One end of a seam: its number, whether it is the last vertex, the vertex, and the way (3,) out of it."""

    seam: int
    last: bool
    vertex: int
    way: FloatArray


def welt_runs(seams: Sequence[Seam], points: FloatArray) -> tuple[WeltRun, ...]:
    """Runs of the welted seams of one pad. points (n, 3): the vertices that seams are numbered by."""
    welted = [seam for seam in seams if seam.welt]
    ends = [end for k, seam in enumerate(welted) for end in _ends(k, seam, points)]
    follows = _paired(ends)
    left = set(range(len(welted)))
    runs = []
    while left:
        run, closed, turns = _run(min(left), follows)
        left -= set(run)
        runs.append(WeltRun(tuple(welted[k].name for k in run), closed, turns))
    return tuple(runs)


def _ends(number: int, seam: Seam, points: FloatArray) -> tuple[_SeamEnd, _SeamEnd]:
    line = points[seam.vertices]
    first, last = int(seam.vertices[0]), int(seam.vertices[-1])
    return _SeamEnd(number, False, first, _way(line[0], line[1])), _SeamEnd(
        number, True, last, _way(line[-1], line[-2])
    )


def _way(start: FloatArray, end: FloatArray) -> FloatArray:
    return np.asarray((end - start) / max(float(np.linalg.norm(end - start)), 1e-12))


# The end at which a run goes on, and by how much it turns there (rad), by seam and whether it is left at its last end.
_Follows = Mapping[tuple[int, bool], tuple[_SeamEnd, float]]


def _paired(ends: Sequence[_SeamEnd]) -> _Follows:
    follows: dict[tuple[int, bool], tuple[_SeamEnd, float]] = {}
    for vertex in sorted({end.vertex for end in ends}):
        here = [end for end in ends if end.vertex == vertex]
        pairs = sorted(combinations(here, 2), key=lambda pair: float(pair[0].way @ pair[1].way))
        for one, two in pairs:
            if (one.seam, one.last) not in follows and (two.seam, two.last) not in follows:
                turn = float(np.pi - np.arccos(np.clip(one.way @ two.way, -1.0, 1.0)))
                follows[one.seam, one.last] = two, turn
                follows[two.seam, two.last] = one, turn
    return follows


def _run(start: int, follows: _Follows) -> tuple[list[int], bool, int]:
    """Seams of the run through one of them, whether it closes, and its corners between seams."""
    ahead, turns, closed = _walk(start, True, follows)
    if closed:
        return [start, *ahead], True, turns
    behind, more, _ = _walk(start, False, follows)
    return [*reversed(behind), start, *ahead], False, turns + more


def _walk(start: int, last: bool, follows: _Follows) -> tuple[list[int], int, bool]:
    """Seams beyond one end of a seam, corners on the way, and whether it comes back to the seam."""
    found: list[int] = []
    turns, at = 0, (start, last)
    while at in follows:
        end, turn = follows[at]
        turns += int(turn > JUNCTION_CORNER_RAD)
        if end.seam == start:
            return found, turns, True
        found.append(end.seam)
        at = end.seam, not end.last
    return found, turns, False
