"""Outlines as the layout works with them: counter-clockwise, with half of the gap on every side, turned, in convex
parts.

An outline that is grown by half of the gap and then touches another grown one lies exactly the gap away from it.
Arcs that growing brings in are followed from outside, and what is left out of a curve is left out on the outside, so
that a layout of grown outlines is never nearer than the gap asks.
"""

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon

from meshes.base.arrays import FloatArray, locked_floats

# Points of a quarter of a circle where an outline is grown or taken in.
QUARTER = 8
# Chords of an arc of that many points lie inside it by this share of its radius; radii are made larger by it.
ARC_OUTSIDE = 1.0 / math.cos(0.25 * math.pi / QUARTER)
# How far a grown outline may stand off the exact one, for fewer points.
LEFT_OUT_MM = 0.12
# The same for a first layout, which is made in a hurry.
FIRST_LEFT_OUT_MM = 0.6
# So little is taken off before outlines are laid against each other, that touching counts as free.
TOUCH = 2e-6


@dataclass(frozen=True, eq=False)
class ConvexPart:
    """points (k, 2) mm, counter-clockwise; normals (k, 2): of its edges, outward; reach (k,): of the edges along
    them; box (4,): x0, y0, x1, y1."""

    points: FloatArray
    normals: FloatArray
    reach: FloatArray
    box: FloatArray


@dataclass(frozen=True, eq=False)
class GrownOutline:
    """One outline in one direction, its box beginning in the origin. points (k, 2) mm: a touch inside, so that
    touching counts as free; size (2,) of the box; shift (2,): what brings the points of the unplaced piece, turned,
    to these; parts: convex, together the outline, exactly."""

    points: FloatArray
    size: FloatArray
    shift: FloatArray
    parts: tuple[ConvexPart, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", locked_floats(self.points))
        object.__setattr__(self, "size", locked_floats(self.size))
        object.__setattr__(self, "shift", locked_floats(self.shift))


def ring(polygon: Polygon) -> FloatArray:
    """The outer ring of a polygon, counter-clockwise, first point not repeated, shape (k, 2)."""
    points = np.asarray(polygon.exterior.coords)[:-1, :2]
    return points if signed_area(points) > 0.0 else points[::-1]


def signed_area(points: FloatArray) -> float:
    """Area inside a closed line, mm2, positive when it runs counter-clockwise."""
    x, y = points.T
    return float(0.5 * (x * np.roll(y, -1) - y * np.roll(x, -1)).sum())


def grown(points: FloatArray, by_mm: float, *, left_out_mm: float = LEFT_OUT_MM) -> FloatArray:
    """An outline `by_mm` larger on every side, in few points that never lie inside the exact one."""
    if by_mm == 0.0 and left_out_mm == 0.0:
        return ring(Polygon(points))
    wide = Polygon(points).buffer(by_mm * ARC_OUTSIDE + left_out_mm, quad_segs=QUARTER)
    return ring(wide.simplify(left_out_mm))


def turned(points: FloatArray, degrees: float) -> FloatArray:
    """Points turned counter-clockwise round the origin; quarter turns are exact."""
    quarters = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}
    angle = degrees % 360.0
    cos, sin = quarters.get(angle, (math.cos(math.radians(angle)), math.sin(math.radians(angle))))
    return points @ np.array([[cos, sin], [-sin, cos]])


def placed_outline(points: FloatArray, degrees: float, *, soft_mm: float = 0.0) -> GrownOutline:
    """An outline (k, 2), counter-clockwise, in one of its directions. soft_mm: how far it may lie on others for the
    time being."""
    there = turned(points, degrees)
    low = there.min(axis=0)
    there = there - low
    size = there.max(axis=0)
    parts = parts_of(Polygon(there))
    taken_in = Polygon(there).buffer(-max(soft_mm, TOUCH * float(size.max())), join_style="mitre", mitre_limit=10.0)
    if isinstance(taken_in, Polygon) and not taken_in.is_empty:
        there = ring(taken_in)
    return GrownOutline(there, size, -low, tuple(parts))


def parts_of(area: Polygon) -> list[ConvexPart]:
    """Convex parts of a polygon, which may have holes: triangles, put together again as long as what comes of it is
    convex (Hertel, Mehlhorn, Fast triangulation of simple polygons, 1983: at most four times as many as there must
    be)."""
    pieces = [ring(triangle) for triangle in shapely.constrained_delaunay_triangles(area).geoms if triangle.area > 0.0]
    return [convex_part(points) for points in (_merged(pieces) if len(pieces) > 1 else pieces)]


def convex_part(points: FloatArray) -> ConvexPart:
    """A convex outline (k, 2), counter-clockwise, with what tells how far another one lies from it."""
    along = np.roll(points, -1, axis=0) - points
    normals = np.stack([along[:, 1], -along[:, 0]], axis=1) / np.maximum(np.hypot(*along.T), 1e-12)[:, None]
    box = np.concatenate([points.min(axis=0), points.max(axis=0)])
    return ConvexPart(points, normals, (normals * points).sum(axis=1), box)


def _merged(pieces: list[FloatArray]) -> list[FloatArray]:
    parts: dict[int, list[tuple[float, float]]] = {k: [tuple(p) for p in piece] for k, piece in enumerate(pieces)}
    owner: dict[tuple[tuple[float, float], tuple[float, float]], int] = {}
    for k, part in parts.items():
        for a, b in zip(part, part[1:] + part[:1], strict=True):
            owner[a, b] = k
    for a, b in sorted(owner, key=lambda edge: -math.dist(*edge)):
        one, other = owner.get((a, b)), owner.get((b, a))
        if one is None or other is None or one == other:
            continue
        joined = _joined(parts[one], parts[other], a, b)
        if joined is None:
            continue
        for p, q in zip(joined, joined[1:] + joined[:1], strict=True):
            owner[p, q] = one
        del owner[a, b], owner[b, a], parts[other]
        parts[one] = joined
    return [np.array(part) for part in parts.values()]


def _joined(
    one: list[tuple[float, float]], other: list[tuple[float, float]], a: tuple[float, float], b: tuple[float, float]
) -> list[tuple[float, float]] | None:
    """Two convex parts on both sides of the edge from a to b as one, None where that were not convex."""
    first, second = one.index(b), other.index(a)
    round_one = one[first:] + one[:first]
    round_other = other[second:] + other[:second]
    joined = round_one + round_other[1:-1]
    for corner in (a, b):
        k = joined.index(corner)
        before, after = joined[k - 1], joined[(k + 1) % len(joined)]
        turn = (corner[0] - before[0]) * (after[1] - corner[1]) - (corner[1] - before[1]) * (after[0] - corner[0])
        if turn < 0.0:
            return None
    return joined
