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
from scipy import sparse
from scipy.sparse.linalg import splu

from flatten.predicates import orientation
from flatten.stretch import stretch
from meshes.arrays import FloatArray, IntArray
from meshes.surface import boundary_loops


@dataclass(frozen=True, eq=False)
class Start:
    """points (n, 2), every triangle counter-clockwise; kind: `conformal`, `circle` or `even circle`."""

    points: FloatArray
    kind: str


def flipped(points: FloatArray, triangles: IntArray) -> int:
    """Number of triangles that are not strictly counter-clockwise, by the exact predicate."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    return int((orientation(a, b, c) <= 0).sum())


def conformal(vertices: FloatArray, triangles: IntArray) -> FloatArray | None:
    """The conformal map whose rim keeps its length, (n, 2); None when a system is singular. It may be folded."""
    n = len(vertices)
    rim = boundary_loops(triangles)[0]
    inside = np.setdiff1d(np.arange(n), rim)
    angles, cotangents = corner_angles(vertices, triangles)
    total = np.bincount(triangles.ravel(), weights=angles.ravel(), minlength=n)
    laplace = laplacian(triangles, cotangents, n)
    turn: FloatArray = np.asarray(np.pi - total[rim], dtype=np.float64)
    solve = None
    if len(inside):
        try:
            solve = splu(
                laplace[inside][:, inside].tocsc(),
                permc_spec="MMD_AT_PLUS_A",
                diag_pivot_thresh=0.0,
                options={"SymmetricMode": True},
            ).solve
        except RuntimeError:
            return None
        scale = -solve(2.0 * np.pi - total[inside])
        turn = np.asarray(turn + laplace[rim][:, inside] @ scale, dtype=np.float64)
    points = np.zeros((n, 2))
    points[rim] = _closed_rim(vertices[rim], turn)
    if solve is not None:
        points[inside] = solve(-(laplace[inside][:, rim] @ points[rim]))
    return points if np.all(np.isfinite(points)) else None


def corner_angles(vertices: FloatArray, triangles: IntArray) -> tuple[FloatArray, FloatArray]:
    """Inner angle and its cotangent at every corner, (m, 3) each."""
    corners = vertices[triangles]
    u, v = np.roll(corners, -1, axis=1) - corners, np.roll(corners, 1, axis=1) - corners
    dot = np.einsum("mik,mik->mi", u, v)
    cross = np.linalg.norm(np.cross(u, v), axis=2)
    return np.arctan2(cross, dot), dot / cross


def laplacian(triangles: IntArray, cotangents: FloatArray, n: int) -> sparse.csr_matrix:
    """The cotangent matrix, positive semidefinite."""
    i = np.concatenate([triangles[:, (k + 1) % 3] for k in range(3)])
    j = np.concatenate([triangles[:, (k + 2) % 3] for k in range(3)])
    half = 0.5 * np.concatenate([cotangents[:, k] for k in range(3)])
    values = np.concatenate([-half, -half, half, half])
    rows, cols = np.concatenate([i, j, i, j]), np.concatenate([j, i, i, j])
    return sparse.coo_matrix((values, (rows, cols)), shape=(n, n)).tocsr()


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


def circle(vertices: FloatArray, triangles: IntArray, *, even: bool = False) -> FloatArray:
    """The harmonic map onto the unit circle, (n, 2), with weights 1 / length, or all equal when `even`."""
    n = len(vertices)
    rim = boundary_loops(triangles)[0]
    inside = np.setdiff1d(np.arange(n), rim)
    lengths = np.linalg.norm(np.roll(vertices[rim], -1, axis=0) - vertices[rim], axis=1)
    if even:
        lengths = np.ones_like(lengths)
    place = 2.0 * np.pi * np.concatenate([[0.0], np.cumsum(lengths)[:-1]]) / lengths.sum()
    points = np.zeros((n, 2))
    points[rim] = np.stack([np.cos(place), np.sin(place)], axis=1)
    if len(inside):
        i = np.concatenate([triangles[:, k] for k in (0, 1, 2, 1, 2, 0)])
        j = np.concatenate([triangles[:, k] for k in (1, 2, 0, 0, 1, 2)])
        pull = np.ones(len(i)) if even else 1.0 / np.linalg.norm(vertices[i] - vertices[j], axis=1)
        links = sparse.coo_matrix((pull, (i, j)), shape=(n, n)).tocsr()
        matrix = sparse.diags_array(np.asarray(links.sum(axis=1)).ravel()) - links
        solve = splu(sparse.csc_matrix(matrix.tocsr()[inside][:, inside])).solve
        points[inside] = solve(links[inside][:, rim] @ points[rim])
    return points


def best_scale(vertices: FloatArray, points: FloatArray, triangles: IntArray) -> float:
    """The factor on the points that gives the least symmetric Dirichlet energy: the fourth root of a ratio of means."""
    values = stretch(vertices, points, triangles)
    squares = values.values**2
    shrunk = np.average((1.0 / squares).sum(axis=1), weights=values.areas_seat)
    grown = np.average(squares.sum(axis=1), weights=values.areas_seat)
    return float((grown / shrunk) ** 0.25)


def starts(vertices: FloatArray, triangles: IntArray) -> Iterator[Start]:
    """First maps in the order in which they should be tried, each free of folds and of the best size.

    vertices (n, 3) mm, triangles (m, 3) a disc. Nothing comes only when rounding defeats even the circle.
    """
    for kind, made in (("conformal", conformal), ("circle", circle), ("even circle", even_circle)):
        points = made(vertices, triangles)
        if points is not None and flipped(points, triangles) == 0:
            yield Start(best_scale(vertices, points, triangles) * points, kind)


def even_circle(vertices: FloatArray, triangles: IntArray) -> FloatArray:
    """`circle` with equal weights and equal rim steps: the sturdiest of all, and the most distorted."""
    return circle(vertices, triangles, even=True)
