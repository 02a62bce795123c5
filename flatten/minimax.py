"""The piece of least demand: no place slack, and the largest stretch as small as the mesh allows.

With l = ln of a principal stretch, every l is kept at or above the leather's pull, and the bound M on the largest l,
which may differ along and across the backbone, is an unknown of its own and made least. It is found from inside both
bounds: M - mu mean(ln(M - l) + ln(l - pull)) is minimised by Newton steps while mu falls (logarithmic barrier; Fiacco
and McCormick 1968; Boyd and Vandenberghe 2004, section 11.2). On the path of minima M exceeds the least bound by no
more than about 4 mu, so the search knows how far it may still be from the best.

What freedom the reached bound leaves is then used: within it the mean of (l - pull)^2 is made small, so the leather is
nowhere pulled more than its shape asks, and outlines come out fair.

Lengths along the rim may be asked for: each such edge adds a stiff spring between its length on the piece and the
length wanted, so that both sides of a seam come out equal.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from flatten.energy import first_fold
from flatten.relax import renumbered, rigid_pins
from flatten.solver import SingularError, Solver, fill_order
from flatten.window import Goal, RimLengths, State, Window
from meshes.arrays import FloatArray, IntArray
from meshes.surface import triangle_areas

# The search ends when the demand is within this share of the best one the mesh allows.
GAP = 1e-3
# Barrier weight at the start, as a share of the window, and by how much it falls from round to round.
FIRST_WEIGHT, FALL = 0.1, 0.2
# A round ends when the next Newton step would gain less than this share of the barrier's weight.
ROUND_DONE = 0.5
MOST_STEPS, STEPS_A_ROUND = 120, 15
# Below this spread of ln stretch there is nothing to win: the piece is flat to the last digits that matter.
FLAT = 1e-7
# Weights of the barrier, as shares of the window, while the rest of the freedom is used.
EASING, EASING_STEPS = (0.1, 0.02), 6
# Stiffness of the springs that hold wanted rim lengths: in the end, when a length gives way by about 1 / STIFFNESS for
# one unit of demand, and on the way there, times (window / mu)^2.
STIFFNESS, SOFTNESS = 10000.0, 0.05
# Room that the start has to the bounds, as a share of its spread: usually, and when rim lengths are held.
ROOM, ROOM_HELD = 1.0, 0.3
ARMIJO, SAFE_SHARE, LEAST_SHARE = 1e-4, 0.95, 1e-9


@dataclass(frozen=True, eq=False)
class LeastDemand:
    """points (n, 2) mm, smallest stretch at the pull or just above; log_spread: ln(largest / smallest stretch); gap:
    how far the bound may be above the least possible for this mesh, as a share of the window; steps: Newton steps;
    reason: why it ended."""

    points: FloatArray
    log_spread: float
    gap: float
    steps: int
    reason: str


def least_demand(
    vertices: FloatArray,
    triangles: IntArray,
    start: FloatArray,
    *,
    pull: float = 0.0,
    ratio: tuple[float, float] = (1.0, 1.0),
    rim: RimLengths | None = None,
    held: IntArray | None = None,
    gap: float = GAP,
    ease: bool = True,
    progress: Callable[[int, float], None] | None = None,
) -> LeastDemand:
    """Piece of least demand from a map without folds.

    vertices (n, 3) mm, triangles (m, 3), start (n, 2) mm, counter-clockwise everywhere, as the result is. pull: least
    ln stretch wanted; ratio: how the bound on ln stretch differs along x and along y of the piece; rim: lengths that
    edges of the rim should have on the piece; held: unknowns (2 x vertex + 0 for x, + 1 for y) that stay as they are,
    a centre line on x = 0 for one; without it a rigid motion is held; gap: how close to the best, as a share of
    ln(largest / smallest stretch); ease: whether the freedom left is used. progress hears the steps and the spread
    reached. Raises ValueError when the start has a fold.
    """
    order = fill_order(triangles, len(vertices))
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    # One size for all meshes, so that a seat drawn larger takes the same steps and systems stay well scaled.
    size = float(np.sqrt(triangle_areas(vertices, triangles).sum()))
    own = None if rim is None else RimLengths(rank[rim.edges], rim.lengths / size, rim.weights)
    unit = (vertices[order] - vertices.mean(axis=0)) / size
    window = Window(unit, rank[triangles], pull=pull, ratio=ratio, rim=own)
    begin = start[order] / size
    logs = window.logs(begin)
    if not np.isfinite(logs).all():
        raise ValueError("the start is folded")
    spread = float(logs.max() - logs.min())
    room = (ROOM if own is None else ROOM_HELD) * spread + 1e-9
    # A smaller piece is stretched more everywhere: shrunk or grown until its least stretch is just above the pull.
    fitted = begin * np.exp(logs.min() - pull - room)
    pins = rigid_pins(fitted) if held is None else renumbered(held, rank)
    search = _Search(window, fitted, window.needed(fitted) + room, pins)
    search.run(gap, progress or (lambda step, value: None), ease=ease)
    return LeastDemand(size * search.at.points[rank], search.spread(), search.gap, search.steps, search.reason)


class _Search:
    """One walk along the path of minima."""

    def __init__(self, window: Window, points: FloatArray, bound: float, pins: IntArray) -> None:
        self.window, self.pins = window, pins
        self.at = State(points, bound)
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

    def run(self, gap: float, say: Callable[[int, float], None], *, ease: bool) -> None:
        """Follow the path until the demand is within `gap` of the best, then use the freedom left."""
        held = self.window.rim is not None
        if self.spread() < FLAT and not held:
            self.gap, self.reason = 0.0, "flat already"
            return
        mu, wide = FIRST_WEIGHT * (self.at.bound - self.window.pull), 0.0
        while self.steps < MOST_STEPS:
            self.at = replace(self.at, bound=self.window.tilted(self.at.points, self.at.bound))
            wide = self.at.bound - self.window.pull
            stiff = min(STIFFNESS, SOFTNESS * (wide / mu) ** 2) if held else 0.0
            if not self._round(Goal(mu, stiff=stiff), say):
                return
            self.gap = 4.0 * mu / (self.at.bound - self.window.pull)
            if self.gap <= gap and (not held or stiff == STIFFNESS):
                self.reason = "converged"
                break
            mu *= FALL
        else:
            self.reason = f"{MOST_STEPS} steps were not enough"
            return
        if ease:
            self._ease(say)

    def _ease(self, say: Callable[[int, float], None]) -> None:
        """Least energy within the reached bound, which stays."""
        wide = self.at.bound - self.window.pull
        stiff = STIFFNESS if self.window.rim is not None else 0.0
        for share in EASING:
            self._round(Goal(share * wide, lead=0.0, ease=1.0 / wide, stiff=stiff), say)

    def _round(self, goal: Goal, say: Callable[[int, float], None]) -> bool:
        """Newton steps at one weight of the barrier; False when the search has to end."""
        for _ in range(STEPS_A_ROUND if goal.lead else EASING_STEPS):
            say(self.steps, self.spread())
            try:
                step, step_bound, gain = self._step(goal)
            except SingularError as fault:
                self.reason = f"the linear system could not be solved: {fault}"
                return False
            moved = self._moved(step, step_bound, gain, goal)
            self.steps += 1
            if moved is None:
                self.reason = "rounding allows no further step"
                return False
            self.at = moved
            if gain < ROUND_DONE * goal.mu:
                return True
        return True

    def _step(self, goal: Goal) -> tuple[FloatArray, float, float]:
        """Newton step of points (n, 2) and bound, and what the model says it gains twice over."""
        model = self.window.model(self.at, goal)
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
        if not goal.lead:
            # The bound is reached and stays.
            return plain.reshape(-1, 2), 0.0, -float(slope @ plain)
        along = scale * self.solver.solve(scale * mixed)
        # Elimination of the one unknown that every triangle shares; its curvature is kept positive like the others'.
        bend = max(model.bend_bound - float(mixed @ along), 1e-6 * abs(model.bend_bound))
        step_bound = -(model.slope_bound + float(mixed @ plain)) / bend
        step = plain - step_bound * along
        return step.reshape(-1, 2), step_bound, -float(slope @ step) - model.slope_bound * step_bound

    def _moved(self, step: FloatArray, step_bound: float, gain: float, goal: Goal) -> State | None:
        """As far along the step as the bounds and the promised decrease allow; None when that is nowhere."""
        now = self.window.barrier(self.at, goal)
        share = min(1.0, SAFE_SHARE * first_fold(self.at.points, step, self.window.triangles))
        while share > LEAST_SHARE:
            there = State(self.at.points + share * step, self.at.bound + share * step_bound)
            if self.window.barrier(there, goal) <= now - ARMIJO * share * gain:
                return there
            share *= 0.6
        return None
