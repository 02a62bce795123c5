"""The piece of least demand: no place slack, and the largest stretch as small as the mesh allows.

With l = ln of a principal stretch, every l is kept at or above the leather's pull, and the largest l, an unknown M of
its own, is made least; then demand = exp(M - pull) - 1. It is found from inside both bounds: M - mu mean(ln(M - l) +
ln(l - pull)) is minimised by Newton steps while mu falls (logarithmic barrier; Fiacco and McCormick 1968; Boyd and
Vandenberghe 2004, section 11.2). On the path of minima M exceeds the least bound by no more than about 4 mu, so the
search knows how far it may still be from the best. What freedom the bounds leave the barrier settles smoothly, so
outlines are fair.

Lengths along the rim may be asked for: each such edge adds a stiff spring between its length on the piece and the
length wanted, so that both sides of a seam come out equal.

Curvature is assembled from every triangle's eigenmodes as for any isotropic energy (Smith, De Goes and Kim 2019); modes
of negative curvature are clamped. No step goes past the first fold or past a bound.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from flatten.energy import Energy, first_fold, rebuilt
from flatten.relax import renumbered, rigid_pins
from flatten.solver import SingularError, Solver, fill_order
from flatten.stretch import singular
from meshes.arrays import FloatArray, IntArray
from meshes.surface import triangle_areas

# The search ends when the demand is within this share of the best one the mesh allows.
GAP = 1e-3
# Barrier weight at the start, as a share of the window, and by how much it falls from round to round.
FIRST_WEIGHT, FALL = 0.1, 0.2
# A round ends when the next Newton step would gain less than this share of the barrier's weight.
ROUND_DONE = 0.5
MOST_STEPS, STEPS_A_ROUND = 120, 6
# Below this spread of ln stretch there is nothing to win: the piece is flat to the last digits that matter.
FLAT = 1e-7
# Stiffness of the springs that hold wanted rim lengths: a length gives way by about 1 / STIFFNESS for one unit of
# demand.
STIFFNESS = 10000.0
ARMIJO, SAFE_SHARE, LEAST_SHARE = 1e-4, 0.95, 1e-9


@dataclass(frozen=True, eq=False)
class RimLengths:
    """Wanted lengths on the piece: edges (k, 2) vertex numbers, lengths (k,) mm, weights (k,) summing to about 1."""

    edges: IntArray
    lengths: FloatArray
    weights: FloatArray


@dataclass(frozen=True, eq=False)
class LeastDemand:
    """points (n, 2) mm, smallest stretch at the pull or just above; log_spread: ln(largest / smallest stretch); gap:
    how far it may be above the least possible for this mesh, as a share of it; steps: Newton steps; reason: why it
    ended."""

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


class Window(Energy):
    """The barrier of the window [pull, M] for ln stretch, over the maps of one mesh."""

    def __init__(self, vertices: FloatArray, triangles: IntArray, pull: float, rim: RimLengths | None) -> None:
        super().__init__(vertices, triangles)
        self.pull, self.rim = pull, rim
        if rim is not None:
            i, j = rim.edges.T
            self.rim_spots = [self.block_spots(a, b) for a, b in ((i, i), (j, j), (i, j), (j, i))]

    def logs(self, points: FloatArray) -> FloatArray:
        """ln of the principal stretches, (m, 2), the smaller first; +inf where a triangle is folded."""
        s, _, _ = singular(self.maps(points))
        return -np.log(s, out=np.full_like(s, -np.inf), where=s > 0)

    def barrier(self, at: _State, mu: float) -> float:
        """The function that is minimised; infinite outside the window."""
        logs = self.logs(at.points)
        above, below = at.bound - logs, logs - self.pull
        if not (np.isfinite(logs).all() and (above > 0).all() and (below > 0).all()):
            return float("inf")
        value = at.bound - mu * float(self.weights @ (np.log(above) + np.log(below)).sum(axis=1))
        if self.rim is not None:
            value += 0.5 * STIFFNESS * float(self.rim.weights @ self.off(at.points)[0] ** 2)
        return value

    def off(self, points: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """ln(length / wanted) of the held rim edges, their vectors and squared lengths."""
        assert self.rim is not None
        along = points[self.rim.edges[:, 1]] - points[self.rim.edges[:, 0]]
        square = np.einsum("ij,ij->i", along, along)
        return 0.5 * np.log(square) - np.log(self.rim.lengths), along, square

    def model(self, at: _State, mu: float) -> _Model:
        """Slope and clamped curvature of the barrier."""
        s, left, right = singular(self.maps(at.points))
        logs = -np.log(s)
        above, below = at.bound - logs, logs - self.pull
        slope = 1.0 / above - 1.0 / below
        bend = above**-2 + below**-2
        f1 = -mu * slope / s
        f2 = mu * np.maximum(bend + slope, 1e-3 * bend) / s**2
        apart = s[:, 0] - s[:, 1]
        close = np.abs(apart) < 1e-6
        flip = np.where(close, f2.mean(axis=1), (f1[:, 0] - f1[:, 1]) / np.where(close, 1.0, apart))
        twist = f1.sum(axis=1) / s.sum(axis=1)
        w = self.weights
        modes = (w * f2[:, 0], w * f2[:, 1], w * np.maximum(flip, 0.0), w * np.maximum(twist, 0.0))
        values = self.modes_on_pattern(*modes, left, right)
        pulled = self.pulled_back(f1, left, right)
        if self.rim is not None:
            self._add_rim(at.points, pulled, values)
        return _Model(
            pulled.ravel(),
            1.0 - mu * float(w @ (1.0 / above).sum(axis=1)),
            self.pulled_back(mu / above**2 / s, left, right).ravel(),
            mu * float(w @ (above**-2).sum(axis=1)),
            values,
        )

    def pulled_back(self, slopes: FloatArray, left: FloatArray, right: FloatArray) -> FloatArray:
        """Derivative by the points (n, 2) of a function of the singular values with these slopes (m, 2)."""
        return self.spread_out(rebuilt(slopes * self.weights[:, None], left, right))

    def _add_rim(self, points: FloatArray, pulled: FloatArray, values: FloatArray) -> None:
        """Springs of the rim: slope into `pulled`, curvature (without its negative part) into `values`."""
        assert self.rim is not None
        off, along, square = self.off(points)
        stiff = STIFFNESS * self.rim.weights
        force = (stiff * off / square)[:, None] * along
        np.add.at(pulled, self.rim.edges[:, 1], force)
        np.add.at(pulled, self.rim.edges[:, 0], -force)
        block = (stiff / square**2)[:, None, None] * along[:, :, None] * along[:, None, :]
        for spots, sign in zip(self.rim_spots, (1.0, 1.0, -1.0, -1.0), strict=True):
            for r in (0, 1):
                for c in (0, 1):
                    np.add.at(values, spots[r, c], sign * block[:, r, c])


def least_demand(
    vertices: FloatArray,
    triangles: IntArray,
    start: FloatArray,
    *,
    pull: float = 0.0,
    rim: RimLengths | None = None,
    held: IntArray | None = None,
    gap: float = GAP,
    progress: Callable[[int, float], None] | None = None,
) -> LeastDemand:
    """Piece of least demand from a map without folds.

    vertices (n, 3) mm, triangles (m, 3), start (n, 2) mm, counter-clockwise everywhere, as the result is. pull: least
    ln stretch wanted; rim: lengths that edges of the rim should have on the piece; held: unknowns (2 x vertex + 0 for
    x, + 1 for y) that stay as they are, a centre line on x = 0 for one; without it a rigid motion is held;
    gap: how close to the best, as a share of ln(largest / smallest stretch).
    progress hears the steps and the spread reached. Raises ValueError when the start has a fold.
    """
    order = fill_order(triangles, len(vertices))
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    # One size for all meshes, so that a seat drawn larger takes the same steps and systems stay well scaled.
    size = float(np.sqrt(triangle_areas(vertices, triangles).sum()))
    own = None if rim is None else RimLengths(rank[rim.edges], rim.lengths / size, rim.weights)
    window = Window((vertices[order] - vertices.mean(axis=0)) / size, rank[triangles], pull, own)
    begin = start[order] / size
    logs = window.logs(begin)
    if not np.isfinite(logs).all():
        raise ValueError("the start is folded")
    spread = float(logs.max() - logs.min())
    room = 1.0 * spread + 1e-9
    if own is not None:
        # Lengths that have to change need stretch to change with them.
        room += float(np.abs(window.off(begin)[0]).max())
    # A smaller piece is stretched more everywhere: shrunk or grown until its least stretch is just above the pull.
    fitted = begin * np.exp(logs.min() - pull - room)
    pins = rigid_pins(fitted) if held is None else renumbered(held, rank)
    search = _Search(window, _State(fitted, pull + spread + 2.0 * room), pins, lengths_held=rim is not None)
    search.run(gap, progress or (lambda step, value: None))
    return LeastDemand(size * search.at.points[rank], search.spread(), search.gap, search.steps, search.reason)


class _Search:
    """One walk along the path of minima."""

    def __init__(self, window: Window, at: _State, pins: IntArray, *, lengths_held: bool) -> None:
        self.window, self.at, self.pins, self.lengths_held = window, at, pins, lengths_held
        self.solver = Solver(window.indptr, window.indices)
        self.columns = np.repeat(np.arange(2 * window.n), np.diff(window.indptr))
        self.diagonal = np.flatnonzero(window.indices == self.columns)
        fixed = np.isin(window.indices, self.pins) | np.isin(self.columns, self.pins)
        self.fixed, self.ones = np.flatnonzero(fixed), np.flatnonzero(fixed & (window.indices == self.columns))
        self.steps, self.gap, self.reason = 0, float("inf"), "at rest"

    def spread(self) -> float:
        """ln(largest / smallest stretch) of the present map."""
        logs = self.window.logs(self.at.points)
        return float(logs.max() - logs.min())

    def run(self, gap: float, say: Callable[[int, float], None]) -> None:
        """Follow the path until the demand is within `gap` of the best."""
        if self.spread() < FLAT and not self.lengths_held:
            self.gap, self.reason = 0.0, "flat already"
            return
        mu = FIRST_WEIGHT * (self.at.bound - self.window.pull)
        while self.steps < MOST_STEPS:
            if not self._round(mu, say):
                return
            self.gap = 4.0 * mu / (self.at.bound - self.window.pull)
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
        model = self.window.model(self.at, mu)
        values, slope, mixed = model.values, model.slope, model.mixed
        typical = float(values[self.diagonal].mean())
        values[self.diagonal] += 1e-9 * typical
        values[self.fixed] = 0.0
        values[self.ones] = typical
        slope[self.pins] = 0.0
        mixed[self.pins] = 0.0
        # Triangles near a bound are stiffer than the rest by many powers of ten: equal diagonals keep digits.
        scale = 1.0 / np.sqrt(values[self.diagonal])
        self.solver.refactor(values * scale[self.window.indices] * scale[self.columns])
        plain = scale * self.solver.solve(-scale * slope)
        along = scale * self.solver.solve(scale * mixed)
        # Elimination of the one unknown that every triangle shares; its curvature is kept positive like the others'.
        bend = max(model.bend_bound - float(mixed @ along), 1e-6 * abs(model.bend_bound))
        step_bound = -(model.slope_bound + float(mixed @ plain)) / bend
        step = plain - step_bound * along
        return step.reshape(-1, 2), step_bound, -float(slope @ step) - model.slope_bound * step_bound

    def _moved(self, step: FloatArray, step_bound: float, gain: float, mu: float) -> _State | None:
        now = self.window.barrier(self.at, mu)
        share = min(1.0, SAFE_SHARE * first_fold(self.at.points, step, self.window.triangles))
        while share > LEAST_SHARE:
            there = _State(self.at.points + share * step, self.at.bound + share * step_bound)
            if self.window.barrier(there, mu) <= now - ARMIJO * share * gain:
                return there
            share *= 0.6
        return None
