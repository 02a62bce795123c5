"""A flat region with given curves, filled with well-shaped triangles whose edges follow the curves.

Points are set evenly along the curves and on a hexagonal lattice between them. A curve segment with no point inside
the circle on it as diameter is an edge of every Delaunay triangulation (Gabriel and Sokal 1969), so lattice points
keep out of those circles and segments that are still missed are halved. The points between the curves are then moved
towards the middle of their neighbours (Field 1988, Laplacian smoothing with Delaunay re-triangulation).
"""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import Delaunay, cKDTree

from meshes.base.arrays import BoolArray, FloatArray, IntArray
from meshes.numerics.sizes import Sizes, longest

# Points keep this share of an edge away from curves, and from points of a coarser lattice beside theirs; how much finer
# one lattice is than the next.
LATTICE_OFF, LATTICES_APART, LATTICE_FINER = 0.6, 0.75, 1.3
SMOOTHING_ROUNDS = 24
RETRIANGULATE_EVERY = 4
HALVING_ROUNDS = 20


class LinesTooCloseError(Exception):
    """Curves that run too close together, or at too sharp an angle, to be followed by triangles; at (2,): where."""

    def __init__(self, at: FloatArray) -> None:
        self.at = at
        super().__init__(f"no triangles fit between the curves at ({at[0]:.1f}, {at[1]:.1f})")


@dataclass(frozen=True, eq=False)
class FlatMesh2D:
    """points (n, 2): those given come first, then halving points, then inner ones; triangles (m, 3) counter-clockwise;
    segments (k, 2) point numbers and source (k,): the given segment each came from."""

    points: FloatArray
    triangles: IntArray
    segments: IntArray
    source: IntArray


def triangulate(points: FloatArray, segments: IntArray, *, rim: BoolArray, edge_mm: float | Sizes) -> FlatMesh2D:
    """Triangles of edge length about `edge_mm`, one for all or by place, inside the closed rim.

    points (n, 2) and segments (k, 2) are the curves, already cut at their crossings; rim (k,) marks the segments that
    bound the region, in either direction. Raises LinesTooCloseError when the segments cannot be met.
    """
    source = np.arange(len(segments))
    sizes = edge_mm if isinstance(edge_mm, Sizes) else Sizes(edge_mm)
    for _ in range(HALVING_ROUNDS):
        inner = _lattice(points, segments, rim[source], sizes)
        everything = np.concatenate([points, inner])
        triangles = _inside(everything, Delaunay(everything).simplices.astype(np.int64), segments[rim[source]])
        missed = _missing(triangles, segments)
        if not missed.any():
            break
        points, segments, source = _halved(points, segments, source, missed)
    else:
        raise LinesTooCloseError(points[segments[-1]].mean(axis=0))
    everything, triangles = _smoothed(everything, triangles, segments, rim[source], len(points))
    return FlatMesh2D(everything, triangles, segments, source)


def inside_rim(at: FloatArray, points: FloatArray, rim: IntArray) -> BoolArray:
    """Which of `at` (n, 2) lie inside the region that the segments `rim` (k, 2) of `points` bound (even-odd rule)."""
    order = np.argsort(at[:, 1], kind="stable")
    ys = at[order, 1]
    start, end = points[rim[:, 0]], points[rim[:, 1]]
    first = np.searchsorted(ys, np.minimum(start[:, 1], end[:, 1]), side="left")
    last = np.searchsorted(ys, np.maximum(start[:, 1], end[:, 1]), side="left")
    crossings = np.zeros(len(at), dtype=np.int64)
    for (x0, y0), (x1, y1), i, j in zip(start, end, first, last, strict=True):
        rows = order[i:j]
        if len(rows):
            crossings[rows] += at[rows, 0] < x0 + (at[rows, 1] - y0) * (x1 - x0) / (y1 - y0)
    return crossings % 2 == 1


def _lattice(points: FloatArray, segments: IntArray, rim: BoolArray, sizes: Sizes) -> FloatArray:
    """Points between the curves, on lattices of the sizes there."""
    low, high = points.min(axis=0), points.max(axis=0)
    inner = _hexagonal(low, high, sizes.least) if sizes.grid is None else _graded(low, high, sizes)
    middle = 0.5 * (points[segments[:, 0]] + points[segments[:, 1]])
    half = 0.5 * np.linalg.norm(points[segments[:, 1]] - points[segments[:, 0]], axis=1)
    inner = inner[inside_rim(inner, points, segments[rim])]
    near, _ = cKDTree(points).query(inner)
    inner = inner[near > LATTICE_OFF * sizes.at(inner)]
    return _outside_circles(inner, middle, half)


def _hexagonal(low: FloatArray, high: FloatArray, edge_mm: float) -> FloatArray:
    row = edge_mm * np.sqrt(0.75)
    ys = np.arange(low[1] + 0.5 * row, high[1], row)
    xs = np.arange(low[0] + 0.25 * edge_mm, high[0] + edge_mm, edge_mm)
    x, y = np.meshgrid(xs, ys)
    x = x + np.where(np.arange(len(ys)) % 2 == 1, 0.5 * edge_mm, 0.0)[:, None]
    return np.stack([x.ravel(), y.ravel()], axis=1)


def _graded(low: FloatArray, high: FloatArray, sizes: Sizes) -> FloatArray:
    """Lattices one beside the other, each where edges are to be about as long as its own."""
    found, edge = np.zeros((0, 2)), longest(sizes.least)
    ceiling = np.inf
    # From the coarsest on, so that finer ones begin where these end.
    while ceiling > sizes.least:
        floor = edge if edge > sizes.least * LATTICE_FINER else 0.0
        own = _hexagonal(low, high, max(edge, sizes.least))
        wanted = sizes.at(own)
        own = own[(wanted >= floor) & (wanted < ceiling)]
        if len(found) and len(own):
            near, _ = cKDTree(found).query(own)
            own = own[near > LATTICES_APART * sizes.at(own)]
        found = np.concatenate([found, own])
        if floor == 0.0:
            break
        ceiling, edge = edge, edge / LATTICE_FINER
    return found


def _outside_circles(inner: FloatArray, middle: FloatArray, half: FloatArray) -> FloatArray:
    if len(inner) == 0:
        return inner
    tree = cKDTree(inner)
    hits = tree.query_ball_point(middle, half * 1.05)
    drop = np.unique(np.concatenate([np.asarray(hit, dtype=np.int64) for hit in hits]))
    return np.delete(inner, drop, axis=0)


def _inside(points: FloatArray, triangles: IntArray, rim: IntArray) -> IntArray:
    # Triangles come counter-clockwise; those without area are those of points in a row.
    a, b, c = (points[triangles[:, k]] for k in range(3))
    doubled = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    longest = np.max(
        [np.linalg.norm(b - a, axis=1), np.linalg.norm(c - b, axis=1), np.linalg.norm(a - c, axis=1)], axis=0
    )
    solid = doubled > 1e-9 * longest**2
    triangles, middle = triangles[solid], ((a + b + c) / 3.0)[solid]
    return triangles[inside_rim(middle, points, rim)]


def _missing(triangles: IntArray, segments: IntArray) -> BoolArray:
    edges = np.sort(np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]]), axis=1)
    top = int(max(edges.max(initial=0), segments.max(initial=0))) + 1
    wanted = np.sort(segments, axis=1)
    return ~np.isin(wanted[:, 0] * top + wanted[:, 1], edges[:, 0] * top + edges[:, 1])


def _halved(
    points: FloatArray, segments: IntArray, source: IntArray, missed: BoolArray
) -> tuple[FloatArray, IntArray, IntArray]:
    split = segments[missed]
    number = len(points) + np.arange(len(split))
    points = np.concatenate([points, 0.5 * (points[split[:, 0]] + points[split[:, 1]])])
    first, second = np.stack([split[:, 0], number], 1), np.stack([number, split[:, 1]], 1)
    segments = np.concatenate([segments[~missed], first, second])
    return points, segments, np.concatenate([source[~missed], source[missed], source[missed]])


def _smoothed(
    points: FloatArray, triangles: IntArray, segments: IntArray, rim: BoolArray, fixed: int
) -> tuple[FloatArray, IntArray]:
    """Move the points after the first `fixed` to the middle of their neighbours; keep the last state that meets all
    segments."""
    points = points.copy()
    good = points.copy(), triangles
    for turn in range(1, SMOOTHING_ROUNDS + 1):
        total, count = np.zeros_like(points), np.zeros(len(points))
        for i, j in ((0, 1), (1, 2), (2, 0), (1, 0), (2, 1), (0, 2)):
            total += np.stack(
                [np.bincount(triangles[:, i], points[triangles[:, j], k], len(points)) for k in (0, 1)], 1
            )
            count += np.bincount(triangles[:, i], minlength=len(points))
        points[fixed:] = total[fixed:] / np.maximum(count[fixed:], 1)[:, None]
        if turn % RETRIANGULATE_EVERY == 0:
            triangles = _inside(points, Delaunay(points).simplices.astype(np.int64), segments[rim])
            if _missing(triangles, segments).any():
                return good
            good = points.copy(), triangles
    return good
