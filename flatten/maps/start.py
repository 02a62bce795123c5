"""A first flat map that cannot be folded.

First the conformal map whose rim keeps its length (Sawhney & Crane, Boundary first flattening, 2017, with zero scale
on the rim): a few solves with one matrix, exact for developable surfaces, and near the best map for gentle ones. It
may fold on rough meshes, so it is accepted only when the exact predicate finds every triangle counter-clockwise. Then
the harmonic map onto a circle with positive weights, which cannot fold (Tutte, How to draw a graph, 1963; Floater,
One-to-one piecewise linear mappings over triangulations, 2003).
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from flatten.maps.jacobians import Maps
from meshes.base.arrays import FloatArray, IntArray
from meshes.base.surface import boundary_loops
from meshes.numerics.dissection import dissected
from meshes.numerics.laplace import corner_angles, laplacian
from meshes.numerics.predicates import orientation
from meshes.numerics.solver import SingularError, Solver


@dataclass(frozen=True, eq=False)
class Start:
    """points (n, 2), every triangle counter-clockwise; kind: `conformal`, `circle` or `even circle`; order (n,): a good
    order of elimination."""

    points: FloatArray
    kind: str
    order: IntArray


def flipped(points: FloatArray, triangles: IntArray) -> int:
    """Number of triangles that are not strictly counter-clockwise, by the exact predicate."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    return int((orientation(a, b, c) <= 0).sum())


def conformal(vertices: FloatArray, triangles: IntArray, *, order: IntArray | None = None) -> FloatArray | None:
    """The conformal map whose rim keeps its length, (n, 2); None when a system is singular. It may be folded.

    order (n,): a good order of elimination, made when it is not given.
    """
    n = len(vertices)
    rim = boundary_loops(triangles)[0]
    angles, cotangents = corner_angles(vertices, triangles)
    total = np.bincount(triangles.ravel(), weights=angles.ravel(), minlength=n)
    turn: FloatArray = np.asarray(np.pi - total[rim], dtype=np.float64)
    points = np.zeros((n, 2))
    if len(rim) == n:
        points[rim] = _closed_rim(vertices[rim], turn)
        return points if np.all(np.isfinite(points)) else None
    try:
        inner = _Inner(vertices, triangles, rim, 0.5 * cotangents, order)
        scale = -inner.solved(np.asarray(2.0 * np.pi - total[inner.inside], dtype=np.float64))
        turn = np.asarray(turn + inner.across.T @ scale, dtype=np.float64)
        points[rim] = _closed_rim(vertices[rim], turn)
        points[inner.inside] = inner.solved(-(inner.across @ points[rim]))
    except SingularError:
        return None
    return points if np.all(np.isfinite(points)) else None


class _Inner:
    """The Laplace matrix of a disc with the rim's values given.

    inside: the inner vertices in an order of elimination; across: rows of the inner, columns of the rim's vertices.
    pulls (m, 3): weight of the edge across from every corner of a triangle.
    """

    def __init__(
        self, vertices: FloatArray, triangles: IntArray, rim: IntArray, pulls: FloatArray, order: IntArray | None
    ) -> None:
        n = len(vertices)
        order = dissected(vertices, triangles) if order is None else order
        outer = np.zeros(n, dtype=bool)
        outer[rim] = True
        self.inside = order[~outer[order]]
        rank = np.empty(n, dtype=np.int64)
        rank[np.concatenate([self.inside, rim])] = np.arange(n)
        laplace = laplacian(rank[triangles], 2.0 * pulls, n).tocsc()
        k = len(self.inside)
        whole = laplace[:, :k]
        own = whole[:k].tocsc()
        own.sort_indices()
        self.across = whole[k:].T.tocsr()
        self._solver = Solver(own.indptr.astype(np.int64), own.indices.astype(np.int64))
        self._solver.refactor(own.data)

    def solved(self, rhs: FloatArray) -> FloatArray:
        return self._solver.solve(rhs)


def _closed_rim(corners: FloatArray, turn: FloatArray) -> FloatArray:
    """A closed polygon with the given turns and lengths as near as possible to those of `corners` (k, 3)."""
    lengths = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    turn = turn + (2.0 * np.pi - turn.sum()) / len(turn)
    heading = np.concatenate([[0.0], np.cumsum(turn[1:])])
    way = np.stack([np.cos(heading), np.sin(heading)], axis=1)
    weighted = way * lengths[:, None]
    gap = np.linalg.lstsq(way.T @ weighted, weighted.sum(axis=0), rcond=None)[0]
    steps = (lengths - weighted @ gap)[:, None] * way
    return np.concatenate([np.zeros((1, 2)), np.cumsum(steps, axis=0)[:-1]])


def circle_map(
    vertices: FloatArray, triangles: IntArray, *, even: bool = False, order: IntArray | None = None
) -> FloatArray:
    """The harmonic map onto the unit circle, (n, 2), with weights 1 / length, or all equal when `even`."""
    n = len(vertices)
    rim = boundary_loops(triangles)[0]
    lengths = np.linalg.norm(np.roll(vertices[rim], -1, axis=0) - vertices[rim], axis=1)
    if even:
        lengths = np.ones_like(lengths)
    place = 2.0 * np.pi * np.concatenate([[0.0], np.cumsum(lengths)[:-1]]) / lengths.sum()
    points = np.zeros((n, 2))
    points[rim] = np.stack([np.cos(place), np.sin(place)], axis=1)
    if len(rim) < n:
        pulls = np.ones((len(triangles), 3))
        if not even:
            # An edge between two triangles gets half its weight from each.
            for k in range(3):
                along = vertices[triangles[:, (k + 1) % 3]] - vertices[triangles[:, (k + 2) % 3]]
                pulls[:, k] = 1.0 / np.linalg.norm(along, axis=1)
        inner = _Inner(vertices, triangles, rim, pulls, order)
        points[inner.inside] = inner.solved(-(inner.across @ points[rim]))
    return points


def best_scale(vertices: FloatArray, points: FloatArray, triangles: IntArray) -> float:
    """The factor on the points that gives the least symmetric Dirichlet energy."""
    return Maps(vertices, triangles).best_scale(points)


def starts(vertices: FloatArray, triangles: IntArray) -> Iterator[Start]:
    """First maps in the order in which they should be tried, each free of folds and of the best size.

    vertices (n, 3) mm, triangles (m, 3) a disc. Nothing comes only when rounding defeats even the circle.
    """
    order = dissected(vertices, triangles)
    for kind, made in (("conformal", conformal), ("circle", circle_map), ("even circle", even_circle)):
        points = made(vertices, triangles, order=order)
        if points is not None and flipped(points, triangles) == 0:
            yield Start(best_scale(vertices, points, triangles) * points, kind, order)


def even_circle(vertices: FloatArray, triangles: IntArray, *, order: IntArray | None = None) -> FloatArray:
    """`circle_map` with equal weights and equal rim steps: the sturdiest of all, and the most distorted."""
    return circle_map(vertices, triangles, even=True, order=order)
