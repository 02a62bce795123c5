"""The piece with least energy, by Newton steps that can never fold a triangle.

Far from the minimum the Hessian's twist modes, the only ones that can be negative, are clamped at zero; close to it the
true Hessian is used, so that the last steps converge quadratically. A step goes at most 0.9 of the way to the first
fold (Smith & Schaefer, Bijective parameterization with free boundaries, 2015) and must bring its share of the promised
decrease (Armijo). The matrix is factored once and serves later steps as the preconditioner of conjugate gradients,
until it has become a poor one.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import sparse

from flatten.energy import Energy, first_fold
from flatten.solver import SingularError, Solver, fill_order
from meshes.arrays import FloatArray, IntArray

# Converged: the next step would lower the energy by less than this share of it. Stretch is then known to about the
# square root, 1e-10.
CONVERGED = 1e-20
# Below this share the energy's own rounding hides the decrease: full steps are taken on the model's word.
_POLISH = 1e-11
# Below this share the true Hessian is tried.
_NEAR = 1e-4
# Share of the predicted decrease that a step must bring (Armijo).
ARMIJO = 1e-4
_MOST_STEPS = 200
_MOST_INNER = 40


@dataclass(frozen=True, eq=False)
class Relaxed:
    """points (n, 2); energy: mean, 4 without stretch; steps: Newton steps; converged; residual: predicted further
    decrease over the energy; reason: why it stopped, in words; fallbacks: solves that needed another solver.
    """

    points: FloatArray
    energy: float
    steps: int
    converged: bool
    residual: float
    reason: str
    fallbacks: int


class _Newton:
    """State of one minimisation: the energy, the pinned unknowns and the factor kept for preconditioning."""

    def __init__(self, energy: Energy, held: IntArray) -> None:
        self.energy = energy
        self.solver = Solver(energy.indptr, energy.indices)
        self.factored = False
        self.pins = held
        columns = np.repeat(np.arange(2 * energy.n), np.diff(energy.indptr))
        fixed = np.isin(energy.indices, self.pins) | np.isin(columns, self.pins)
        self._held = np.flatnonzero(fixed)
        self._ones = np.flatnonzero(fixed & (energy.indices == columns))

    def matrix(self, points: FloatArray, *, clamp: bool) -> FloatArray:
        values = self.energy.hessian(points, clamp=clamp)
        values[self._held] = 0.0
        values[self._ones] = self.energy.weights.mean()
        return values

    def slope(self, points: FloatArray) -> FloatArray:
        g = self.energy.gradient(points).ravel()
        g[self.pins] = 0.0
        return g

    def step(self, points: FloatArray, g: FloatArray, *, clamp: bool, accuracy: float) -> FloatArray | None:
        """The Newton step, (2 n,); None when the true Hessian turns out not to be positive definite."""
        values = self.matrix(points, clamp=clamp)
        if self.factored:
            found = self._gradients(values, g, accuracy)
            if found is not None:
                return found
            if not clamp:
                return None
        self.solver.refactor(values)
        self.factored = True
        return -self.solver.solve(g)

    def _gradients(self, values: FloatArray, g: FloatArray, accuracy: float) -> FloatArray | None:
        """Conjugate gradients with the kept factor; None when they meet a negative curvature or take too long."""
        size = (2 * self.energy.n, 2 * self.energy.n)
        a = sparse.csr_matrix((values, self.energy.indices, self.energy.indptr), shape=size)
        x, r = np.zeros_like(g), -g
        z = self.solver.precondition(r)
        p, rz = z, float(r @ z)
        goal = accuracy**2 * rz
        for _ in range(_MOST_INNER):
            q = a @ p
            bend = float(p @ q)
            if not bend > 0:
                return None
            x = x + (rz / bend) * p
            r = r - (rz / bend) * q
            z = self.solver.precondition(r)
            new = float(r @ z)
            if new <= goal:
                return x
            p, rz = z + (new / rz) * p, new
        return None


def rigid_pins(points: FloatArray) -> IntArray:
    """Three unknowns that hold a rigid motion: both of the middle vertex, and y of the one farthest along x from it."""
    middle = int(np.argmin(((points - points.mean(axis=0)) ** 2).sum(axis=1)))
    far = int(np.argmax(np.abs(points[:, 0] - points[middle, 0])))
    return np.array([2 * middle, 2 * middle + 1, 2 * far + 1])


def renumbered(unknowns: IntArray, rank: IntArray) -> IntArray:
    """Unknowns 2 v + c after vertex v has become rank[v]."""
    return 2 * rank[unknowns // 2] + unknowns % 2


def relax(
    vertices: FloatArray,
    start: FloatArray,
    triangles: IntArray,
    *,
    held: IntArray | None = None,
    progress: Callable[[int, float], None] | None = None,
) -> Relaxed:
    """Minimise the energy from a fold-free start.

    held: unknowns (2 x vertex + 0 for x, + 1 for y) that stay as they are; without it a rigid motion is held.

    vertices (n, 3) mm, start (n, 2) mm, triangles (m, 3). Every triangle must have area on the seat and be
    counter-clockwise at the start; that holds for the result too. progress is called with the step and the energy.
    Raises ValueError when the start is folded.
    """
    order = fill_order(triangles, len(vertices))
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    energy = Energy(vertices[order], rank[triangles])
    x = start[order].copy()
    if not np.isfinite(energy.value(x)):
        raise ValueError("the start is folded")
    pins = rigid_pins(x) if held is None else renumbered(held, rank)
    x, found = _descend(energy, x, pins, progress or (lambda step, value: None))
    return Relaxed(x[rank], *found)


def _descend(
    energy: Energy, x: FloatArray, pins: IntArray, say: Callable[[int, float], None]
) -> tuple[FloatArray, tuple[float, int, bool, float, str, int]]:
    newton = _Newton(energy, pins)
    value, residual, steps, clamp = energy.value(x), float("inf"), 0, True
    converged, reason = False, f"{_MOST_STEPS} steps were not enough"
    while steps < _MOST_STEPS:
        say(steps, value)
        g = newton.slope(x)
        accuracy = max(1e-7, min(0.05, residual**0.25))
        try:
            d = newton.step(x, g, clamp=clamp, accuracy=accuracy)
        except SingularError as fault:
            reason = f"the linear system could not be solved: {fault}"
            break
        if d is None:
            clamp = True
            continue
        before, residual = residual, float(-(g @ d)) / (2.0 * value)
        step = d.reshape(-1, 2)
        if residual < _POLISH and residual > 0.25 * before:
            converged, reason = residual < 1e3 * CONVERGED, "rounding allows no further decrease"
            break
        moved = _moved(energy, x, step, value, residual)
        if moved is None:
            reason = "no step lowers the energy"
            break
        x, value = moved
        steps += 1
        clamp = residual > _NEAR
        if residual <= CONVERGED:
            converged, reason = True, "converged"
            break
    return x, (value, steps, converged, residual, reason, newton.solver.fallbacks)


def _moved(
    energy: Energy, x: FloatArray, step: FloatArray, value: float, residual: float
) -> tuple[FloatArray, float] | None:
    """The point along the step that is fold-free and low enough (Armijo), and its energy; None when there is none."""
    t = min(1.0, 0.9 * first_fold(x, step, energy.triangles))
    if residual < _POLISH and t == 1.0:
        there = x + step
        return there, energy.value(there)
    for _ in range(40):
        there = x + t * step
        found = energy.value(there)
        if found <= value - ARMIJO * t * 2.0 * residual * value:
            return there, found
        t *= 0.5
    return None
