"""The linear systems of the search for least bounds: one Newton step, and the elastic problem of its proof.

The bounds, which all triangles of a part share, are eliminated, so that the matrix keeps the mesh's pattern; unknowns
that are held leave it by rows and columns of the unit matrix; sums over the unknowns that are held, by the forces along
them.
"""

import numpy as np

from flatten.demand.slack import Slack
from flatten.demand.window import Goal, State, Window
from flatten.maps.relax import rigid_pins
from meshes.base.arrays import BoolArray, FloatArray, IntArray
from meshes.numerics.solver import Solver

# Residual of the linear systems, as a share of the right-hand side, that a step can do with.
EXACT = 1e-8


class NewtonSystem:
    """The linear systems of one window. free (p,): whether a part's pins hold no more than its place and its turn.

    pins: unknowns (2 x vertex + 0 for x, + 1 for y) that stay as they are; kept (2 n, q): sums over the unknowns that
    do, one a column.
    """

    def __init__(self, window: Window, pins: IntArray, free: BoolArray) -> None:
        self.window, self.free = window, free
        self.solver = Solver(window.indptr, window.indices)
        self.columns = np.repeat(np.arange(2 * window.n), np.diff(window.indptr))
        self.diagonal = np.flatnonzero(window.indices == self.columns)
        self.hold(pins, np.zeros((2 * window.n, 0)))

    def hold(self, pins: IntArray, kept: FloatArray) -> None:
        """Unknowns that stay as they are, and sums over the unknowns (2 n, q) that do, one a column."""
        pinned = np.zeros(2 * self.window.n, dtype=bool)
        pinned[pins] = True
        fixed = pinned[self.window.indices] | pinned[self.columns]
        self.pins, self.fixed = pins, np.flatnonzero(fixed)
        self.ones = np.flatnonzero(fixed & (self.window.indices == self.columns))
        self.kept = np.where(pinned[:, None], 0.0, kept)

    def energy_step(self, slope: FloatArray, values: FloatArray) -> FloatArray:
        """Newton step (n, 2) by a slope (2 n,) and matrix values on the pattern, both of which are changed."""
        typical = float(values[self.diagonal].mean())
        values[self.fixed] = 0.0
        values[self.ones] = typical
        slope[self.pins] = 0.0
        self.solver.refactor(values)
        return np.asarray(self.solver.solve(-slope).reshape(-1, 2))

    def step(self, at: State, goal: Goal, kept: Slack) -> tuple[FloatArray, FloatArray, float]:
        """Newton step of points (n, 2) and bounds (p,), and what the model says it gains twice over."""
        model = self.window.model(at, goal, kept)
        values, slope, mixed = model.values, model.slope, model.mixed
        slope[self.pins] = 0.0
        mixed[self.pins] = 0.0
        scale = self._factored(values)
        if not goal.lead:
            # The bounds are reached and stay.
            plain = self._solved(-slope[:, None], scale)[:, 0]
            return plain.reshape(-1, 2), np.zeros_like(at.bound), -float(slope @ plain)
        solved = self._solved(np.column_stack([-slope, mixed]), scale)
        plain, along = np.ascontiguousarray(solved[:, 0]), solved[:, 1:]
        # Elimination of the unknowns that all triangles of a part share; their curvature is kept positive.
        bend = np.diag(model.bend_bound) - mixed.T @ along
        sizes, axes = np.linalg.eigh(0.5 * (bend + bend.T))
        sizes = np.maximum(sizes, 1e-6 * np.abs(model.bend_bound).max())
        step_bound = -axes @ ((axes.T @ (model.slope_bound + mixed.T @ plain)) / sizes)
        step = plain - along @ step_bound
        gain = -float(slope @ step) - float(model.slope_bound @ step_bound)
        return step.reshape(-1, 2), step_bound, gain

    def _factored(self, values: FloatArray) -> FloatArray:
        """Factor the matrix with these values, which are changed, without the held unknowns; the scale (2 n,) of its
        unknowns."""
        typical = float(values[self.diagonal].mean())
        values[self.diagonal] += 1e-9 * typical
        values[self.fixed] = 0.0
        values[self.ones] = typical
        # Triangles near a bound are stiffer than the rest by many powers of ten: equal diagonals keep digits.
        scale = 1.0 / np.sqrt(values[self.diagonal])
        self.solver.refactor(values * scale[self.window.indices] * scale[self.columns])
        return scale

    def _solved(self, right: FloatArray, scale: FloatArray) -> FloatArray:
        """Solutions (2 n, k) that leave the kept sums as they are, of the factored system with right-hand sides (2 n,
        k); scale (2 n,): of its unknowns."""
        count = right.shape[1]
        right = scale[:, None] * np.column_stack([right, self.kept])
        # All are solved at once, each of size 1, so that the check of the residual holds for each.
        size = np.maximum(np.abs(right).max(axis=0), 1e-300)
        solved = scale[:, None] * self.solver.solve(right / size, good=EXACT) * size
        found, reply = solved[:, :count], solved[:, count:]
        if not reply.shape[1]:
            return np.asarray(found)
        # The forces along the kept sums that hold them.
        return np.asarray(found - reply @ np.linalg.solve(self.kept.T @ reply, self.kept.T @ found))

    def unturned(self, points: FloatArray, step: FloatArray) -> FloatArray:
        """A step (n, 2) from points (n, 2) without the turn of whole parts that only the pins asked for: turned
        straight on, a piece grows."""
        out = step.copy()
        for k in np.flatnonzero(self.free):
            own = self.window.part == k
            arm, move = points[own] - points[own].mean(axis=0), step[own] - step[own].mean(axis=0)
            turn = float((arm[:, 0] @ move[:, 1] - arm[:, 1] @ move[:, 0]) / (arm**2).sum())
            out[own] -= turn * np.stack([-arm[:, 1], arm[:, 0]], axis=1)
        return out

    def elastic(self, points: FloatArray, values: FloatArray, rhs: FloatArray) -> FloatArray:
        """Displacements (2 n,) of an elastic piece that lies at points (n, 2), by the values of its matrix, under
        forces (2 n,). Turning a part as a whole does not tell: what a kept sum holds against turning is taken off, and
        turning is pinned."""
        window, rhs, loose = self.window, rhs.copy(), list(np.flatnonzero(self.free))
        for sum_ in self.kept.T:
            k = window.part[int(np.argmax(np.abs(sum_))) // 2]
            arm = np.where((window.part == k)[:, None], points, 0.0)
            turn = np.stack([-arm[:, 1], arm[:, 0]], axis=1).ravel()
            rhs -= sum_ * (turn @ rhs) / (turn @ sum_)
            loose.append(k)
        turning = []
        for k in loose:
            own = np.flatnonzero(window.part == k)
            turning.append(2 * own[rigid_pins(points[own])[2] // 2] + 1)
        rhs[self.pins], rhs[turning] = 0.0, 0.0
        values[np.isin(window.indices, turning) | np.isin(self.columns, turning)] = 0.0
        scale = self._factored(values)
        size = max(float(np.abs(scale * rhs).max()), 1e-300)
        return size * scale * self.solver.solve(scale * rhs / size, good=EXACT)
