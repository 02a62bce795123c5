"""The piece with least energy, by Newton steps that can never fold a triangle.

For the first step the Hessian's twist modes, the only ones that can be negative, are clamped at zero; then the true
Hessian is used wherever it is positive definite, so that the steps converge quadratically. A step goes at most 0.9 of
the way to the first fold (Smith & Schaefer, Bijective parameterization with free boundaries, 2015) and must bring its
share of the promised decrease (Armijo). A factor serves later steps as the preconditioner of conjugate gradients, as
long as that costs less than a new one.
"""

from dataclasses import dataclass

import numpy as np

from flatten.maps.energy import Energy, first_fold
from meshes.base.arrays import FloatArray, IntArray
from meshes.base.progress import look_up
from meshes.numerics.dissection import dissected
from meshes.numerics.solver import IndefiniteError, SingularError, Solver
from meshes.numerics.status import Ending, Status, Trace, untraced

# Converged: the next step would lower the energy by less than this share of it. Stretch is then known to about the
# square root, 1e-10.
CONVERGED = 1e-20
# Close to the minimum a Newton step squares the share that is left, times a constant of the mesh, seldom less than
# this. Judged by that law, the search ends without looking when the next step would bring less than this share.
_SQUARING, _FORESEEN = 10.0, 1e-23
# Below this share the energy's own rounding hides the decrease: full steps are taken on the model's word.
_POLISH = 1e-11
# After a step that promised more than this share the true Hessian is not tried yet.
_FAR_DECREASE = 1e-2
# Share of the predicted decrease that a step must bring (Armijo).
ARMIJO = 1e-4
_RELAX_STEPS_MOST = 200
# After a step that promised more than this share a new factor pays, and so it does when conjugate gradients need more
# than this many steps: CHOLMOD's factors are cheap, SuperLU's dear.
_RENEW, _PATIENCE = {True: 2e-4, False: 1e-2}, {True: 8, False: 30}
# Error of a step from a new factor, as a share of the step.
_DIRECT = 1e-6


@dataclass(frozen=True, eq=False)
class Relaxed:
    """points (n, 2); energy: mean, 4 without stretch; steps: Newton steps; status: how it ended, its gap the predicted
    further decrease over the energy.
    """

    points: FloatArray
    energy: float
    steps: int
    status: Status


class _Newton:
    """State of one minimisation: the energy, the pinned unknowns and the factor kept for preconditioning."""

    def __init__(self, energy: Energy, held: IntArray) -> None:
        self.energy = energy
        self.solver = Solver(energy.indptr, energy.indices)
        self.factored = False
        self.pins = held
        pinned = np.zeros(2 * energy.n, dtype=bool)
        pinned[held] = True
        within = np.repeat(pinned, np.diff(energy.indptr))
        self._held = np.flatnonzero(within | pinned[energy.indices])
        column = np.searchsorted(energy.indptr, self._held, side="right") - 1
        self._ones = self._held[energy.indices[self._held] == column]

    def matrix(self, points: FloatArray, *, clamp: bool) -> FloatArray:
        values = self.energy.hessian(points, clamp=clamp)
        values[self._held] = 0.0
        values[self._ones] = self.energy.weights.mean()
        return values

    def slope(self, points: FloatArray) -> FloatArray:
        g = self.energy.gradient(points).ravel()
        g[self.pins] = 0.0
        return g

    def step(self, points: FloatArray, g: FloatArray, before: float, *, clamp: bool) -> FloatArray | None:
        """The Newton step, (2 n,); None when the true Hessian turns out not to be positive definite.

        before: share of the energy that the step before promised.
        """
        values = self.matrix(points, clamp=clamp)
        try:
            if self.factored and before <= _RENEW[self.solver.fast]:
                self.error = _accuracy(before)
                found = self._gradients(values, g)
                if found is not None:
                    return found
            self.factored, self.error = True, _DIRECT
            self.solver.refactor(values, definite=not clamp)
            d = -self.solver.solve(g, good=_DIRECT)
        except IndefiniteError:
            self.factored = False
            return None
        return d if clamp or float(g @ d) < 0 else None

    def _gradients(self, values: FloatArray, g: FloatArray) -> FloatArray | None:
        """Conjugate gradients with the kept factor; None when they take too long. Raises IndefiniteError."""
        a = self.solver.matrix_of(values)
        x, r = np.zeros_like(g), -g
        z = self.solver.precondition(r)
        p, rz = z, float(r @ z)
        goal = self.error**2 * rz
        for _ in range(_PATIENCE[self.solver.fast]):
            q = a @ p
            bend = float(p @ q)
            if not bend > 0:
                raise IndefiniteError("negative curvature")
            x += (rz / bend) * p
            r -= (rz / bend) * q
            z = self.solver.precondition(r)
            new = float(r @ z)
            if new <= goal:
                return x
            p, rz = z + (new / rz) * p, new
        return None


def _accuracy(before: float) -> float:
    """Error allowed in a step, as a share of it, so that the next one shrinks as after an exact step, or is not needed;
    before: share of the energy that the step before promised."""
    promised = min(1.0, _SQUARING * before**2) + 1e-300
    return min(0.1, max(10.0 * before, float(np.sqrt(0.1 * _FORESEEN / promised))))


def rigid_pins(points: FloatArray) -> IntArray:
    """Three unknowns that hold a rigid motion: both of the middle vertex, and y of the one farthest along x from it."""
    middle = int(np.argmin(((points - points.mean(axis=0)) ** 2).sum(axis=1)))
    far = int(np.argmax(np.abs(points[:, 0] - points[middle, 0])))
    return np.array([2 * middle, 2 * middle + 1, 2 * far + 1])


def renumbered(unknowns: IntArray, rank: IntArray) -> IntArray:
    """Unknowns 2 v + c after vertex v has become rank[v]."""
    return 2 * rank[unknowns // 2] + unknowns % 2


@dataclass(frozen=True, eq=False)
class RelaxOptions:
    """held: unknowns (2 x vertex + 0 for x, + 1 for y) that stay as they are; without it a rigid motion is held; order
    (n,): a good order of elimination, made when it is not given; done: share of the energy that is not worth another
    step."""

    held: IntArray | None = None
    order: IntArray | None = None
    done: float = CONVERGED


def relax(
    vertices: FloatArray,
    start: FloatArray,
    triangles: IntArray,
    options: RelaxOptions | None = None,
    *,
    progress: Trace | None = None,
) -> Relaxed:
    """Minimise the energy from a fold-free start.

    vertices (n, 3) mm, start (n, 2) mm, triangles (m, 3). Every triangle must have area on the seat and be
    counter-clockwise at the start; that holds for the result too. progress is called with the step and the energy.
    Raises ValueError when the start is folded.
    """
    options = options or RelaxOptions()
    order = dissected(vertices, triangles) if options.order is None else options.order
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    corners = rank[triangles]
    # Neighbours in the order are neighbours in memory.
    energy = Energy(vertices[order], corners[np.argsort(corners.min(axis=1))])
    x = start[order].copy()
    if not np.isfinite(energy.value(x)):
        raise ValueError("the start is folded")
    pins = rigid_pins(x) if options.held is None else renumbered(options.held, rank)
    x, found = _descend(energy, x, pins, options.done, progress or untraced)
    return Relaxed(x[rank], *found)


def _descend(
    energy: Energy, x: FloatArray, pins: IntArray, done: float, say: Trace
) -> tuple[FloatArray, tuple[float, int, Status]]:
    newton = _Newton(energy, pins)
    value, residual, steps, clamp = energy.value(x), float("inf"), 0, True
    ending, detail, near = Ending.STEPS, f"{_RELAX_STEPS_MOST} were allowed", _FAR_DECREASE
    while steps < _RELAX_STEPS_MOST:
        look_up()
        say(steps, value)
        g = newton.slope(x)
        try:
            d = newton.step(x, g, residual, clamp=clamp)
        except SingularError as fault:
            ending, detail = Ending.SINGULAR, str(fault)
            break
        if d is None:
            # Not yet: try again when much less is left.
            clamp, near = True, 0.03 * residual
            continue
        before, residual = residual, float(-(g @ d)) / (2.0 * value)
        step = d.reshape(-1, 2)
        if residual < _POLISH and residual > 0.25 * before:
            ending, detail = Ending.CONVERGED if residual < 1e3 * CONVERGED else Ending.ROUNDING, ""
            break
        moved = _moved(energy, x, step, value, residual)
        if moved is None:
            ending, detail = Ending.NO_DESCENT, ""
            break
        x, value = moved
        steps += 1
        # What the next step would promise: the law of Newton's method, and the error in this step.
        law = 4.0 * max(_SQUARING, residual / before**2) * residual**2
        left = residual if clamp else max(law, newton.error**2 * residual)
        if residual <= done or left <= _FORESEEN / CONVERGED * done:
            residual, ending, detail = min(left, residual), Ending.CONVERGED, ""
            break
        clamp = residual > near
    return x, (value, steps, Status(ending, residual, newton.solver.fallbacks, detail))


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
