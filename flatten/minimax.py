"""The piece with least demand: the largest stretch over the smallest one made as small as the mesh allows.

With l = ln of a principal stretch, the piece is sought whose largest |l| is least; its scale is free, so at the
optimum largest and smallest stretch are balanced about 1 and demand = exp(2 max |l|) - 1. It is found from inside: a
bound M on |l| is an unknown of its own, and M - mu mean ln((M^2 - l^2) / M^2) is minimised by Newton steps while mu
falls (logarithmic barrier; Fiacco and McCormick 1968; Boyd and Vandenberghe 2004, section 11.2). On the path of
minima M exceeds the least bound by no more than about 4 mu, so the search knows how far it may still be from the
best.

The curvature of a triangle's share is assembled from its eigenmodes as for any isotropic energy (Smith, De Goes and
Kim 2019); modes of negative curvature are clamped. No step goes past the first fold or past the bound. What freedom
the bound leaves the barrier settles smoothly, so outlines are fair.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from flatten.energy import Energy, first_fold, rebuilt
from flatten.relax import rigid_pins
from flatten.solver import SingularError, Solver, fill_order
from flatten.stretch import singular
from meshes.arrays import FloatArray, IntArray

# The search ends when the bound is proven within this share of the best one the mesh allows.
GAP = 1e-3
# Barrier weight at the start, as a share of the bound, and by how much it falls from round to round.
FIRST_WEIGHT, FALL = 0.1, 0.2
# A round ends when the next Newton step would gain less than this share of the barrier's weight.
ROUND_DONE = 0.3
MOST_STEPS, STEPS_A_ROUND = 120, 8
# Below this largest |ln stretch| there is nothing to win: the piece is flat to the last digits that matter.
FLAT = 1e-7
ARMIJO, SAFE_SHARE, LEAST_SHARE = 1e-4, 0.95, 1e-9


@dataclass(frozen=True, eq=False)
class LeastDemand:
    """points (n, 2) mm; log_spread: ln(largest / smallest stretch); gap: how far it may be above the least possible
    for this mesh, as a share of it; steps: Newton steps; reason: why the search ended."""

    points: FloatArray
    log_spread: float
    gap: float
    steps: int
    reason: str


@dataclass(frozen=True, eq=False)
class _State:
    points: FloatArray
    bound: float


@dataclass(frozen=True, eq=False)
class _Model:
    """Slope by the points (2 n,) and by the bound, mixed slope (2 n,), curvature by the bound, Hessian values."""

    slope: FloatArray
    slope_bound: float
    mixed: FloatArray
    bend_bound: float
    values: FloatArray


class Spread(Energy):
    """The barrier of the bound M on |ln stretch|, over the maps of one mesh."""

    def logs(self, points: FloatArray) -> FloatArray:
        """ln of the singular values of the map from seat to piece, (m, 2); -inf where a triangle is folded."""
        s, _, _ = singular(self.maps(points))
        return np.log(np.where(s > 0, s, 0.0), out=np.full_like(s, -np.inf), where=s > 0)

    def barrier(self, at: _State, mu: float) -> float:
        """M - mu mean ln((M^2 - l^2) / M^2); infinite outside the bound."""
        logs = self.logs(at.points)
        room = at.bound**2 - logs**2
        if not (at.bound > 0 and np.isfinite(logs).all() and (room > 0).all()):
            return float("inf")
        return at.bound - mu * float(self.weights @ np.log(room / at.bound**2).sum(axis=1))

    def model(self, at: _State, mu: float) -> _Model:
        """Slope and clamped curvature of the barrier."""
        s, left, right = singular(self.maps(at.points))
        logs, m = np.log(s), at.bound
        room = m * m - logs * logs
        slope, bend = 2.0 * logs / room, 2.0 * (m * m + logs * logs) / room**2
        f1 = mu * slope / s
        f2 = mu * np.maximum(bend - slope, 1e-3 * bend) / s**2
        apart = s[:, 0] - s[:, 1]
        close = np.abs(apart) < 1e-6
        flip = np.where(close, f2.mean(axis=1), (f1[:, 0] - f1[:, 1]) / np.where(close, 1.0, apart))
        twist = (f1[:, 0] + f1[:, 1]) / s.sum(axis=1)
        w = self.weights
        values = self.modes_on_pattern(
            w * f2[:, 0], w * f2[:, 1], w * np.maximum(flip, 0.0), w * np.maximum(twist, 0.0), left, right
        )
        mixed = -4.0 * mu * m * logs / room**2 / s
        return _Model(
            self.pulled_back(f1, left, right).ravel(),
            1.0 - mu * float(w @ (2.0 * m / room - 2.0 / m).sum(axis=1)),
            self.pulled_back(mixed, left, right).ravel(),
            mu * float(w @ (4.0 * m * m / room**2 - 2.0 / room - 2.0 / m**2).sum(axis=1)),
            values,
        )

    def pulled_back(self, slopes: FloatArray, left: FloatArray, right: FloatArray) -> FloatArray:
        """Derivative by the points (n, 2) of a function of the singular values with these slopes (m, 2)."""
        return self.spread_out(rebuilt(slopes * self.weights[:, None], left, right))


def least_demand(
    vertices: FloatArray,
    triangles: IntArray,
    start: FloatArray,
    *,
    gap: float = GAP,
    progress: Callable[[int, float], None] | None = None,
) -> LeastDemand:
    """Piece of least demand from a map without folds.

    vertices (n, 3) mm, triangles (m, 3), start (n, 2) mm, counter-clockwise everywhere, as the result is. gap: how
    close to the best, as a share of ln(largest / smallest stretch). progress hears the steps and the spread reached.
    Raises ValueError when the start has a fold.
    """
    order = fill_order(triangles, len(vertices))
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    spread = Spread(vertices[order], rank[triangles])
    logs = spread.logs(start[order])
    if not np.isfinite(logs).all():
        raise ValueError("the start is folded")
    balanced = start[order] * np.exp(-0.5 * (logs.max() + logs.min()))
    search = _Search(spread, balanced)
    search.run(gap, progress or (lambda step, value: None))
    return LeastDemand(search.at.points[rank], search.spread(), search.gap, search.steps, search.reason)


class _Search:
    """One walk along the path of minima."""

    def __init__(self, energy: Spread, points: FloatArray) -> None:
        self.energy = energy
        widest = float(np.abs(energy.logs(points)).max())
        self.at = _State(points, 1.05 * widest + 1e-12)
        self.solver = Solver(energy.indptr, energy.indices)
        self.pins = rigid_pins(points)
        columns = np.repeat(np.arange(2 * energy.n), np.diff(energy.indptr))
        self.diagonal = np.flatnonzero(energy.indices == columns)
        held = np.isin(energy.indices, self.pins) | np.isin(columns, self.pins)
        self.held, self.ones = np.flatnonzero(held), np.flatnonzero(held & (energy.indices == columns))
        self.steps, self.gap, self.reason = 0, float("inf"), "at rest"

    def spread(self) -> float:
        """ln(largest / smallest stretch) of the present map."""
        logs = self.energy.logs(self.at.points)
        return float(logs.max() - logs.min())

    def run(self, gap: float, say: Callable[[int, float], None]) -> None:
        """Follow the path until the bound is within `gap` of the best."""
        if self.spread() < FLAT:
            self.gap, self.reason = 0.0, "flat already"
            return
        mu = FIRST_WEIGHT * self.at.bound
        while self.steps < MOST_STEPS:
            if not self._round(mu, say):
                return
            self.gap = 4.0 * mu / self.at.bound
            if self.gap <= gap:
                self.reason = "converged"
                return
            mu *= FALL
        self.reason = f"{MOST_STEPS} steps were not enough"

    def _round(self, mu: float, say: Callable[[int, float], None]) -> bool:
        """Newton steps at one weight of the barrier; False when the search has to end."""
        for _ in range(STEPS_A_ROUND):
            say(self.steps, self.spread())
            try:
                step, step_bound, gain = self._step(mu)
            except SingularError as fault:
                self.reason = f"the linear system could not be solved: {fault}"
                return False
            moved = self._moved(step, step_bound, gain, mu)
            self.steps += 1
            if moved is None:
                self.reason = "rounding allows no further step"
                return False
            self.at = moved
            if gain < ROUND_DONE * mu:
                return True
        return True

    def _step(self, mu: float) -> tuple[FloatArray, float, float]:
        """Newton step of points (n, 2) and bound, and what the model says it gains twice over."""
        model = self.energy.model(self.at, mu)
        values, slope, mixed = model.values, model.slope, model.mixed
        typical = float(values[self.diagonal].mean())
        values[self.diagonal] += 1e-9 * typical
        values[self.held] = 0.0
        values[self.ones] = typical
        slope[self.pins] = 0.0
        mixed[self.pins] = 0.0
        self.solver.refactor(values)
        plain, along = self.solver.solve(-slope), self.solver.solve(mixed)
        # Elimination of the one unknown that every triangle shares; its curvature is kept positive like the others'.
        bend = max(model.bend_bound - float(mixed @ along), 1e-6 * abs(model.bend_bound))
        step_bound = -(model.slope_bound + float(mixed @ plain)) / bend
        step = plain - step_bound * along
        return step.reshape(-1, 2), step_bound, -float(slope @ step) - model.slope_bound * step_bound

    def _moved(self, step: FloatArray, step_bound: float, gain: float, mu: float) -> _State | None:
        now = self.energy.barrier(self.at, mu)
        share = min(1.0, SAFE_SHARE * first_fold(self.at.points, step, self.energy.triangles))
        while share > LEAST_SHARE:
            there = _State(self.at.points + share * step, self.at.bound + share * step_bound)
            if self.energy.barrier(there, mu) <= now - ARMIJO * share * gain:
                return there
            share *= 0.6
        return None
