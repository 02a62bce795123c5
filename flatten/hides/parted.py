"""A piece of a pleated face parted at a valley, where no hide has room for it whole: both parts get a seam allowance
beyond the valley's line, so that they are sewn to each other there.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.ops import split

from flatten.hides.asks import LeatherCut
from flatten.nesting.outline import ring
from flatten.pieces.piece import InnerLine, LineKind, MarkKind
from meshes.base.arrays import FloatArray

# A valley's line is carried on by so much past the cut line, to part the allowances too.
CARRIED_ON_MM = 200.0
# A part narrower than this is no part, mm2 of it.
LEAST_PART_MM2 = 2_000.0


@dataclass(frozen=True, eq=False)
class ValleyParting:
    """A piece in two parts at a valley. line (k, 2): along which they are sewn, in the coordinates of the piece."""

    valley: str
    parts: tuple[LeatherCut, LeatherCut]
    line: FloatArray


def partings(cut: LeatherCut, allowance_mm: float) -> Iterator[ValleyParting]:
    """The ways to part a piece at its valleys, the most even first; none for a piece without valleys."""
    if cut.piece is None:
        return
    valleys = {mark.text for mark in cut.piece.marks if mark.kind is MarkKind.VALLEY}
    lines = [one for one in cut.piece.inner if one.kind is LineKind.STITCH and one.name in valleys]
    found = [(one, halves) for one in lines if (halves := _halves(cut.points, one)) is not None]
    for one, (left, right) in sorted(found, key=lambda row: abs(row[1][0].area - row[1][1].area)):
        beyond = _carried_on(one.points).buffer(allowance_mm, cap_style="flat")
        whole = Polygon(cut.points)
        shapes = [_largest(half.union(whole.intersection(beyond))) for half in (left, right)]
        parts = [
            LeatherCut(f"{cut.label}, part {k} at {one.name}", 1, None, ring(shape), cut.leather, cut)
            for k, shape in enumerate(shapes, start=1)
        ]
        yield ValleyParting(one.name, (parts[0], parts[1]), one.points)


def _carried_on(points: FloatArray) -> LineString:
    """A line carried on straight at both ends."""
    ends = []
    for end, before in ((points[0], points[1]), (points[-1], points[-2])):
        way = end - before
        ends.append(end + CARRIED_ON_MM * way / max(float(np.hypot(*way)), 1e-9))
    return LineString([ends[0], *points, ends[1]])


def _halves(points: FloatArray, valley: InnerLine) -> tuple[Polygon, Polygon] | None:
    """The piece on both sides of a valley, None where that does not part it in two."""
    found = [one for one in split(Polygon(points), _carried_on(valley.points)).geoms if one.area > LEAST_PART_MM2]
    return (found[0], found[1]) if len(found) == 2 else None


def _largest(shape: shapely.Geometry) -> Polygon:
    return max((one for one in getattr(shape, "geoms", [shape]) if isinstance(one, Polygon)), key=lambda one: one.area)
