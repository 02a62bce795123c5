"""Least energy with the rim kept apart from itself: for pieces that would otherwise lie over themselves.

Beside the symmetric Dirichlet energy, rim vertices nearer than a set distance to a rim edge they do not belong to push
it away (barrier of Smith & Schaefer, Bijective parameterization with free boundaries, 2015). The search begins at a map
whose rim is simple and takes no step after which the rim touches itself, by the exact test.
"""

from typing import Any

import numpy as np
from scipy import sparse
from scipy.spatial import cKDTree

from flatten.maps.energy import Energy, first_fold
from flatten.maps.relax import ARMIJO, Relaxed
from meshes.base.arrays import FloatArray, IntArray
from meshes.base.surface import boundary_loops
from meshes.numerics.predicates import crossings
from meshes.numerics.solver import Factor, SingularError
from meshes.numerics.status import Ending, Status, Trace, untraced

_BARRIER_STEPS_MOST = 300
# A predicted decrease below this share of the energy: as good as it gets. The barrier's second derivative jumps where
# it begins, so the search does not end as finely as without it.
_AT_REST = 1e-10
# The rim is kept this share of the mean rim edge away from itself, by a push this strong beside the mean energy.
_RIM_NEAR_SHARE, _STRENGTH = 0.5, 1e-4
# Added to the diagonal, relative to its mean, against the three rigid motions.
_SHIFT = 1e-9


def relax_apart(
    vertices: FloatArray,
    start: FloatArray,
    triangles: IntArray,
    *,
    progress: Trace | None = None,
) -> Relaxed:
    """Low-energy map whose rim does not touch itself, from a start (n, 2) with that property.

    vertices (n, 3), triangles (m, 3). The map returned keeps that property and has no fold.
    """
    energy, rim = Energy(vertices, triangles), boundary_loops(triangles)[0]
    near = _RIM_NEAR_SHARE * float(np.linalg.norm(vertices[np.roll(rim, -1)] - vertices[rim], axis=1).mean())
    say = progress or untraced
    x = start.copy()
    value, residual = energy.value(x) + RimBarrier(x, rim, near).value(), np.inf
    for k in range(_BARRIER_STEPS_MOST):
        say(k, value)
        try:
            step, residual = _step(energy, RimBarrier(x, rim, near), x, value)
        except SingularError as fault:
            return Relaxed(x, energy.value(x), k, Status(Ending.SINGULAR, residual, detail=str(fault)))
        if residual < _AT_REST:
            return Relaxed(x, energy.value(x), k, Status(Ending.CONVERGED, residual))
        moved = _moved(energy, rim, near, x, step, value - ARMIJO * 2.0 * residual * value)
        if moved is None:
            return Relaxed(x, energy.value(x), k, Status(Ending.NO_DESCENT, residual))
        x, value = moved
    status = Status(Ending.STEPS, residual, detail=f"{_BARRIER_STEPS_MOST} were allowed")
    return Relaxed(x, energy.value(x), _BARRIER_STEPS_MOST, status)


def _step(energy: Energy, gaps: "RimBarrier", x: FloatArray, value: float) -> tuple[FloatArray, float]:
    """The projected Newton step (n, 2), and its predicted decrease over the energy. Raises SingularError."""
    n = len(x)
    push, stiffness = gaps.derivatives(n)
    slope = (energy.gradient(x) + push).ravel()
    values = energy.hessian(x, clamp=True)
    matrix = sparse.csc_matrix((values, energy.indices, energy.indptr), shape=(2 * n, 2 * n)) + stiffness.tocsc()
    matrix = matrix + _SHIFT * float(matrix.diagonal().mean()) * sparse.eye_array(2 * n, format="csc")
    step = Factor(matrix).solve(-slope)
    return step.reshape(-1, 2), float(-(slope @ step)) / (2.0 * value)


def _moved(
    energy: Energy, rim: IntArray, near: float, x: FloatArray, step: FloatArray, enough: float
) -> tuple[FloatArray, float] | None:
    """The first halved step that is low enough and keeps the rim simple; None when there is none."""
    t = min(1.0, 0.9 * first_fold(x, step, energy.triangles))
    while t > 1e-12:
        there = x + t * step
        value = energy.value(there)
        if value <= enough:
            value += RimBarrier(there, rim, near).value()
            if value <= enough and crossings(there[rim]).size == 0:
                return there, value
        t *= 0.5
    return None


class RimBarrier:
    """Pairs of a rim vertex and a rim edge, not sharing a vertex, nearer than `near` on the piece `points` (n, 2)."""

    def __init__(self, points: FloatArray, rim: IntArray, near: float) -> None:
        self.near = near
        after = np.roll(rim, -1)
        start, end = points[rim], points[after]
        reach = near + 0.5 * float(np.linalg.norm(end - start, axis=1).max())
        hits: Any = cKDTree(0.5 * (start + end)).query_ball_point(start, reach)
        vertex = np.repeat(np.arange(len(rim)), [len(h) for h in hits])
        edge = np.concatenate([np.sort(np.asarray(h, dtype=np.int64)) for h in hits])
        apart = (edge != vertex) & ((edge + 1) % len(rim) != vertex)
        vertex, edge = vertex[apart], edge[apart]
        along = end[edge] - start[edge]
        share = np.einsum("ij,ij->i", start[vertex] - start[edge], along) / np.einsum("ij,ij->i", along, along)
        share = np.clip(share, 0.0, 1.0)
        away = start[vertex] - start[edge] - share[:, None] * along
        distance = np.linalg.norm(away, axis=1)
        close = distance < near
        self.ids = np.stack([rim[vertex], rim[edge], after[edge]], axis=1)[close]
        self.share, self.distance, self.away = share[close], distance[close], away[close]

    def value(self) -> float:
        """Sum of (near / distance - 1)^2, weighed against the mean energy."""
        return _STRENGTH * float(((self.near / self.distance - 1.0) ** 2).sum())

    def derivatives(self, n: int) -> tuple[FloatArray, sparse.coo_matrix]:
        """Gradient (n, 2) and positive semidefinite stiffness (2 n, 2 n)."""
        ratio = self.near / self.distance
        slope = -2.0 * _STRENGTH * (ratio - 1.0) * ratio / self.distance
        bend = _STRENGTH * (6.0 * ratio**2 - 4.0 * ratio) / self.distance**2
        direction = self.away / self.distance[:, None]
        weights = np.stack([np.ones_like(self.share), self.share - 1.0, -self.share], axis=1)
        pull = (weights[:, :, None] * direction[:, None, :]).reshape(-1, 6)
        unknowns = (2 * self.ids[:, :, None] + np.arange(2)).reshape(-1, 6)
        gradient = (
            np.bincount(unknowns.ravel(), (slope[:, None] * pull).ravel(), 2 * n).astype(np.float64).reshape(-1, 2)
        )
        blocks = bend[:, None, None] * pull[:, :, None] * pull[:, None, :]
        rows, columns = np.repeat(unknowns, 6, axis=1).ravel(), np.tile(unknowns, (1, 6)).ravel()
        return gradient, sparse.coo_matrix((blocks.ravel(), (rows, columns)), shape=(2 * n, 2 * n))
