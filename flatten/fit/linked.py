"""Edges of pieces that follow each other: both sides of a seam, and those of its mirror image.

A piece that is cut mirrored too is one drawing, so what is done to its edge is done on both sides of the seat, and what
is sewn to either follows (`one_side` parts such a pair). Edges are matched by the edges of the seat they were made
from.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from flatten.pieces.piece import Piece
from meshes.base.arrays import BoolArray, FloatArray, IntArray
from meshes.seat.build import BuiltPad

# A drawn edge: the number of its piece, and its own in that piece.
EdgeNumber = tuple[int, int]


@dataclass(frozen=True, eq=False)
class Follower:
    """An edge that follows a first one. where: which; segment (k,): for each of its own segments that of the first;
    back (k,): whether it runs the other way there; across: whether it lies on the other side of the seam."""

    where: EdgeNumber
    segment: IntArray
    back: BoolArray
    across: bool

    def to_first(self, at: float) -> float:
        """A place on this edge, in vertices, as the same place on the first."""
        j = min(int(at), len(self.segment) - 1)
        share = at - j
        return float(self.segment[j] + (1.0 - share if self.back[j] else share))

    def from_first(self, at: float) -> float:
        """A place on the first edge, in vertices, as the same place on this one."""
        first = min(int(at), int(self.segment.max()))
        j = int(np.flatnonzero(self.segment == first)[0])
        share = at - first
        return float(j + (1.0 - share if self.back[j] else share))

    def own(self, at: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
        """What is known along the first edge, at places (m,) that rise and hold all its vertices, along this one."""
        places, found = [], []
        for j, (first, back) in enumerate(zip(self.segment, self.back, strict=True)):
            inside = (at > first + 1e-9) & (at < first + 1 - 1e-9)
            shares, here = at[inside] - first, values[inside]
            ends = np.interp([first, first + 1], at, values)
            if back:
                shares, here, ends = 1.0 - shares[::-1], here[::-1], ends[::-1]
            places += [np.array([float(j)]), j + shares]
            found += [ends[:1], here]
            last = float(ends[1])
        places.append(np.array([float(len(self.segment))]))
        found.append(np.array([last]))
        return np.concatenate(places), np.concatenate(found)


def followers(pad: BuiltPad, pieces: Sequence[Piece], first: EdgeNumber) -> tuple[Follower, ...]:
    """The first edge, and all that follow it. pieces: of the pad, as drawn at first."""
    runs = _runs(pad, pieces)
    known = _by_segment(runs)
    count = len(runs[first][0]) - 1
    found = {first: Follower(first, np.arange(count), np.zeros(count, dtype=bool), False)}
    queue = [first]
    while queue:
        here = found[queue.pop(0)]
        for where, segments in _beside(here, runs, known).items():
            if where not in found and len(segments) == len(runs[where][0]) - 1:
                rows = [segments[j] for j in range(len(segments))]
                pairs = np.array([row[0] for row in rows]), np.array([row[1] for row in rows], dtype=bool)
                found[where] = Follower(where, *pairs, not here.across)
                queue.append(where)
    return tuple(found.values())


def sewn_to_itself(pad: BuiltPad, pieces: Sequence[Piece], where: EdgeNumber) -> bool:
    """Whether both sides of an edge's seam are this one edge: a piece sewn to its own mirror image."""
    runs = _runs(pad, pieces)
    return len(runs[where]) > 1 and bool((np.sort(runs[where][0]) == np.sort(runs[where][1])).all())


def _runs(pad: BuiltPad, pieces: Sequence[Piece]) -> dict[EdgeNumber, list[IntArray]]:
    """For every drawn edge the pad's vertices along it, on its panel and on the one that mirrors it."""
    panels = {panel.name: panel for panel in pad.panels}
    return {
        (i, k): [panels[name].vertices[rim.vertices] for name in piece.panels]
        for i, piece in enumerate(pieces)
        for k, rim in enumerate(panels[piece.panels[0]].rim)
    }


_Segments = Mapping[frozenset[int], list[tuple[EdgeNumber, int, int]]]


def _by_segment(runs: Mapping[EdgeNumber, list[IntArray]]) -> _Segments:
    """By the two vertices of an edge of the seat: the drawn edges that run along it, which segment, and from where."""
    known: dict[frozenset[int], list[tuple[EdgeNumber, int, int]]] = {}
    for where, sides in runs.items():
        for run in sides:
            for j, (one, two) in enumerate(zip(run[:-1].tolist(), run[1:].tolist(), strict=True)):
                known.setdefault(frozenset((one, two)), []).append((where, j, one))
    return known


def _beside(
    here: Follower, runs: Mapping[EdgeNumber, list[IntArray]], known: _Segments
) -> dict[EdgeNumber, dict[int, tuple[int, bool]]]:
    """Other edges along the same edges of the seat: by their segments, that of the first edge and whether it runs the
    other way."""
    found: dict[EdgeNumber, dict[int, tuple[int, bool]]] = {}
    for run in runs[here.where]:
        for j, (one, two) in enumerate(zip(run[:-1].tolist(), run[1:].tolist(), strict=True)):
            for where, k, start in known[frozenset((one, two))]:
                if where != here.where:
                    back = bool(here.back[j]) ^ (start != one)
                    found.setdefault(where, {})[k] = (int(here.segment[j]), back)
    return found
