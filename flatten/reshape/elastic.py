"""A flat map drawn anew for another size: every triangle as near as can be to what it is wished to become, the edges
that are sewn as long as they have to be.

What a triangle becomes is told by its stretch alone; how it lies follows from its neighbours. The strain that is left
is least in the sum of its squares over the area (plane elasticity without coupling of the two directions), and found
by Gauss and Newton's method about the turn of every triangle as it lies. Lengths along sewn edges weigh so much more
that they are met up to thousandths of a mm.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse

from flatten.leather.stretch import singular
from meshes.base.arrays import FloatArray, IntArray
from meshes.base.surface import triangle_areas
from meshes.numerics.solver import Factor, SingularError

# Strain along a sewn edge weighs as a strip of the piece so wide, mm.
SEWN_WEIGHT_MM = 1e5
# Keeps a piece from drifting: a share of what holds its triangles together.
HELD_SHARE = 1e-6
# Steps at the most, and a step that moves nothing by more is the last one, mm.
DRAWING_STEPS, AT_REST_MM = 20, 1e-7
# From a step so small on, mm, a system that cannot be solved better is one of rounding.
NEARLY_MM = 1e-3


@dataclass(frozen=True, eq=False)
class SewnRun:
    """Vertices (k + 1,) along a sewn edge of a map, and how long each of its steps (k,) is to be, mm."""

    vertices: IntArray
    lengths_mm: FloatArray


def drawn_anew(
    points: FloatArray, triangles: IntArray, wished: FloatArray | None, runs: Sequence[SewnRun]
) -> FloatArray:
    """The points (n, 2) of a map whose triangles become what is wished, in the mean not turned against the old ones.

    wished (m, 2, 2): symmetric, by what the edges of every triangle on the piece grow; None where they are to stay;
    runs: lengths that have to be met.
    """
    count = len(triangles)
    goal = np.broadcast_to(np.eye(2), (count, 2, 2)) if wished is None else wished
    areas = triangle_areas(np.column_stack([points, np.zeros(len(points))]), triangles)
    inverse = inverted(_edges(points, triangles))
    now = np.asarray(points, dtype=np.float64).copy()
    moved = np.inf
    for _ in range(DRAWING_STEPS):
        try:
            step = _step(now, (triangles, inverse, areas, goal), runs)
        except SingularError:
            # What is left to be solved is rounding once everything is met.
            if moved > NEARLY_MM:
                raise
            break
        moved = float(abs(step).max())
        now = now + step
        if moved <= AT_REST_MM:
            break
    turned = np.arctan2(*turned_by(inverse @ _edges(now, triangles))[:, 1].T[[0, 1]])
    angle = float(np.average(turned, weights=areas))
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    middles = [np.average(one, axis=0) for one in (now, points)]
    return np.asarray((now - middles[0]) @ turn + middles[1])


def laid_on(new: FloatArray, old: FloatArray, weight: FloatArray | None = None) -> FloatArray:
    """Points (n, 2) moved and turned, at their size, to where others lie that they came from (least squares:
    Kabsch, A solution for the best rotation, 1976); weight (n,): of each."""
    share = np.full(len(old), 1.0) if weight is None else weight
    middles = [np.average(one, axis=0, weights=share) for one in (new, old)]
    left, _, right = np.linalg.svd(((new - middles[0]) * share[:, None]).T @ (old - middles[1]))
    turn = left @ np.diag([1.0, float(np.sign(np.linalg.det(left @ right)))]) @ right
    return np.asarray((new - middles[0]) @ turn + middles[1])


def _edges(points: FloatArray, triangles: IntArray) -> FloatArray:
    """Two edges of every triangle from its first corner, as rows (m, 2, 2)."""
    a = points[triangles[:, 0]]
    return np.stack([points[triangles[:, 1]] - a, points[triangles[:, 2]] - a], axis=1)


def inverted(maps: FloatArray) -> FloatArray:
    """The inverses (m, 2, 2) of maps (m, 2, 2), none of them flat."""
    a, b, c, d = maps[:, 0, 0], maps[:, 0, 1], maps[:, 1, 0], maps[:, 1, 1]
    return np.asarray(np.stack([d, -b, -c, a], axis=1).reshape(-1, 2, 2) / (a * d - b * c)[:, None, None])


def turned_by(growth: FloatArray) -> FloatArray:
    """The turns (m, 2, 2) in maps of rows (m, 2, 2): growth = stretch @ turn with a symmetric stretch."""
    _, left, right = singular(growth)
    angle = left + right
    return np.stack([np.cos(angle), -np.sin(angle), np.sin(angle), np.cos(angle)], axis=1).reshape(-1, 2, 2)


def _step(
    now: FloatArray, triangles: tuple[IntArray, FloatArray, FloatArray, FloatArray], runs: Sequence[SewnRun]
) -> FloatArray:
    """One step (n, 2) nearer to what is wished; triangles: corners, inverse of their old edges, areas, wishes."""
    corners, inverse, areas, goal = triangles
    count, n = len(corners), len(now)
    growth = inverse @ _edges(now, corners)
    turn = turned_by(growth)
    strain = growth @ turn.transpose(0, 2, 1)
    off = 0.5 * (strain + strain.transpose(0, 2, 1)) - goal
    # d strain = inverse @ d edges @ turn', its symmetric part: three numbers of every triangle by six.
    first = np.concatenate([-inverse.sum(axis=2, keepdims=True), inverse], axis=2)
    back = turn.transpose(0, 2, 1)
    rows, half = [], np.sqrt(0.5)
    for i, j, size in ((0, 0, 1.0), (1, 1, 1.0), (0, 1, half)):
        grows = size * first[:, i, :, None] * back[:, None, :, j]
        grows = grows if i == j else grows + size * first[:, j, :, None] * back[:, None, :, i]
        rows.append(np.sqrt(areas)[:, None, None] * grows)
    jacobian = np.stack(rows, axis=1).reshape(3 * count, 6)
    columns = (2 * corners[:, :, None] + np.arange(2)).reshape(count, 6)
    matrix = sparse.csr_matrix(
        (jacobian.ravel(), (np.repeat(np.arange(3 * count), 6), np.repeat(columns, 3, axis=0).ravel())),
        shape=(3 * count, 2 * n),
    )
    residual = np.sqrt(areas)[:, None] * np.stack([off[:, 0, 0], off[:, 1, 1], np.sqrt(2.0) * off[:, 0, 1]], axis=1)
    sewn, missing = _sewn(now, runs)
    whole, left = sparse.vstack([matrix, sewn]), np.concatenate([residual.ravel(), missing])
    normal = sparse.csc_matrix(whole.T @ whole)
    held = sparse.diags_array(np.full(2 * n, HELD_SHARE * float((matrix.multiply(matrix)).sum()) / (2 * n)))
    return np.asarray(Factor(normal + held).solve(-(whole.T @ left))).reshape(-1, 2)


def _sewn(now: FloatArray, runs: Sequence[SewnRun]) -> tuple[sparse.csr_matrix, FloatArray]:
    """By what the steps of sewn edges miss their lengths, weighed, and how that grows with the points."""
    n = len(now)
    if not runs:
        return sparse.csr_matrix((0, 2 * n)), np.zeros(0)
    tails = np.concatenate([run.vertices[:-1] for run in runs])
    heads = np.concatenate([run.vertices[1:] for run in runs])
    wanted = np.concatenate([run.lengths_mm for run in runs])
    ways = now[heads] - now[tails]
    long = np.linalg.norm(ways, axis=1)
    weight = np.sqrt(SEWN_WEIGHT_MM / wanted)
    values = weight[:, None] * ways / long[:, None]
    row = np.repeat(np.arange(len(tails)), 2)
    columns = [(2 * one[:, None] + np.arange(2)).ravel() for one in (heads, tails)]
    found = sparse.csr_matrix(
        (
            np.concatenate([values.ravel(), -values.ravel()]),
            (np.concatenate([row, row]), np.concatenate(columns)),
        ),
        shape=(len(tails), 2 * n),
    )
    return found, weight * (long - wanted)
