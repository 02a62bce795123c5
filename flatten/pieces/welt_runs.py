"""Welt in the runs in which it is sewn: seams that follow each other carry one length of welt.

Two welted seams that end at one place are one run; where more meet, the two that go on straightest do. Lengths mm.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from meshes.base.arrays import FloatArray
from meshes.seat.panels import Seam

# Where a run turns by more than this from one seam to the next it goes round a corner.
JUNCTION_CORNER_RAD = np.deg2rad(45.0)


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
