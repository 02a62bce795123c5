"""The piece of least demand: no place slack, and the largest stretch as small as the mesh allows.

With l = ln of a principal stretch, every l is kept at or above the leather's pull, and the bound M on the largest l,
which may differ along and across the backbone, is an unknown of its own and made least, by a primal-dual interior-point
method (flatten/slack.py): Newton steps for the conditions pressure x distance = mu at both bounds, while mu falls. At
rest M exceeds the least bound by no more than 4 mu, so the search knows how far it may still be from the best.

What freedom the reached bound leaves is then used: within it the mean of (l - pull)^2 is made small, so the leather is
nowhere pulled more than its shape asks, and outlines come out fair.

Lengths along the rim may be asked for: each such edge adds a stiff spring between its length on the piece and the
length wanted, so that both sides of a seam come out equal.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatten.dissection import dissected
from flatten.energy import first_fold
from flatten.relax import renumbered, rigid_pins
from flatten.slack import Slack
from flatten.solver import SingularError, Solver
from flatten.window import Goal, Joins, RimLengths, State, Window
from meshes.arrays import BoolArray, FloatArray, IntArray
from meshes.surface import triangle_areas

# The search ends when the demand is within this share of the best one the mesh allows.
GAP = 1e-3
# Barrier weight at the start, as a share of the window; to which share of the mean product it falls after a step of
# which at least so much could be gone.
FIRST_WEIGHT, FALLS = 0.1, ((0.9, 0.1), (0.5, 0.3), (0.0, 0.6))
# Share of the way to the first side that a step goes.
SIDE_SHARE = 0.95
# With lengths held the weight falls from round to round; a round ends when the next step would gain less than so many
# times the weight.
FALL, ROUND_DONE, STEPS_A_ROUND = 0.5, 5.0, 10
MOST_STEPS = 120
# Below this spread of ln stretch there is nothing to win: the piece is flat to the last digits that matter.
FLAT = 1e-7
# Weights of the barrier, as shares of the window, while the rest of the freedom is used.
EASING, EASING_STEPS = (0.1, 0.02), 6
# Stiffness of the springs that hold lengths: a length gives way by about 1 / STIFFNESS for one unit of demand.
STIFFNESS = 10000.0
# While lengths are first brought near: stiffness, steps at most, and the gain of energy that ends it.
RESTING, RESTING_STEPS, RESTED = 1000.0, 12, 1e-5
# Room that the start has to the bounds, as a share of its spread: usually, and when rim lengths are held.
ROOM, ROOM_HELD = 1.0, 0.3
ARMIJO, SAFE_SHARE, LEAST_SHARE = 1e-4, 0.95, 1e-9
# Room left to both sides in the end, as a share of the gap.
ROOM_LEFT = 0.05
# Residual of the linear systems, as a share of the right-hand side, that a step can do with.
EXACT = 1e-8


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
    member = Member(vertices, triangles, start, ratio=ratio, held=held)
    return least_demands([member], pull=pull, rim=rim, gap=gap, ease=ease, progress=progress)[0]


@dataclass(frozen=True, eq=False)
class Member:
    """One of several pieces sought together. vertices (n, 3) mm, triangles (m, 3), start (n, 2) mm; ratio, held: as
    for `least_demand`."""

    vertices: FloatArray
    triangles: IntArray
    start: FloatArray
    ratio: tuple[float, float] = (1.0, 1.0)
    held: IntArray | None = None


def least_demands(
    members: Sequence[Member],
    *,
    pull: float = 0.0,
    rim: RimLengths | None = None,
    joins: Joins | None = None,
    gap: float = GAP,
    ease: bool = True,
    progress: Callable[[int, float], None] | None = None,
) -> list[LeastDemand]:
    """Several pieces of least demand, sewn edges of equal length.

    What is made least is the mean of the pieces' bounds. rim, joins: lengths held to numbers and to each
    other, vertices numbered through all members in their order; seats of members that are joined lie side by side.
    The rest as for `least_demand`; gap: as a share of the largest window. Raises ValueError when a start has a fold.
    """
    counts = [len(member.vertices) for member in members]
    base = np.concatenate([[0], np.cumsum(counts)])
    vertices = np.concatenate([member.vertices for member in members])
    triangles = np.concatenate([member.triangles + b for member, b in zip(members, base, strict=False)])
    order = dissected(vertices, triangles if joins is None else np.concatenate([triangles, _links(joins)]))
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    # One size for all meshes, so that a seat drawn larger takes the same steps and systems stay well scaled.
    size = float(np.sqrt(triangle_areas(vertices, triangles).sum()))
    ranked = rank[triangles]
    window = Window(
        (vertices[order] - vertices.mean(axis=0)) / size,
        ranked[np.argsort(ranked.min(axis=1), kind="stable")],
        pull=pull,
        ratio=np.array([member.ratio for member in members]),
        rim=None if rim is None else RimLengths(rank[rim.edges], rim.lengths / size, rim.weights),
        joins=None if joins is None else Joins(rank[joins.edges], rank[joins.others], joins.weights, joins.eased),
        part=np.repeat(np.arange(len(members)), counts)[order],
    )
    begin = np.concatenate([member.start for member in members])[order] / size
    if not np.isfinite(window.logs(begin)).all():
        raise ValueError("the start is folded")
    straight = window.plain and not window.held
    pins = []
    for k, member in enumerate(members):
        own = member.held
        if own is None:
            # Turning a piece costs nothing, but in the model it may: a pin against it would bend the step.
            own = rigid_pins(member.start)[: 2 if straight else None]
        pins.append(renumbered(own + 2 * base[k], rank))
    free = np.array([member.held is None and straight for member in members])
    search = _Search(window, begin, np.concatenate(pins), free)
    if window.held:
        search.rest()
        begin = search.at.points
    logs = window.logs(begin)
    spread = window.most(logs[:, 1]) + window.most(-logs[:, 0])
    # A part that is nearly flat needs room to follow its neighbours.
    room = (ROOM_HELD if window.held else ROOM) * np.maximum(spread, 0.3 * spread.max()) + 1e-9
    # A smaller piece is stretched more everywhere: shrunk or grown until its least stretch is just above the pull.
    # All alike, so that sewn edges stay of one length.
    fitted = begin * np.exp(float(logs.min()) - pull - float(room.max()))
    search.at = State(fitted, window.begun(window.needed(fitted) + room))
    search.run(gap, progress or (lambda step, value: None), ease=ease)
    points, reached = size * search.at.points[rank], search.spreads()
    return [
        LeastDemand(points[base[k] : base[k + 1]], float(reached[k]), search.gap, search.steps, search.reason)
        for k in range(len(members))
    ]


def _links(joins: Joins) -> IntArray:
    """Triangles that connect joined edges, for the order of elimination."""
    (a, b), (c, d) = joins.edges.T, joins.others.T
    return np.concatenate([np.stack([a, b, c], axis=1), np.stack([b, c, d], axis=1), np.stack([a, b, d], axis=1)])


class _Search:
    """One walk along the path of minima."""

    def __init__(self, window: Window, points: FloatArray, pins: IntArray, free: BoolArray) -> None:
        self.window, self.pins, self.free = window, pins, free
        # Whether the sides of the window are the same for a piece however it is turned, and nothing else holds it.
        self.straight = window.plain and not window.held
        self.at = State(points, np.full(window.parts, np.inf))
        self.solver = Solver(window.indptr, window.indices)
        self.columns = np.repeat(np.arange(2 * window.n), np.diff(window.indptr))
        self.diagonal = np.flatnonzero(window.indices == self.columns)
        pinned = np.zeros(2 * window.n, dtype=bool)
        pinned[self.pins] = True
        fixed = pinned[window.indices] | pinned[self.columns]
        self.fixed, self.ones = np.flatnonzero(fixed), np.flatnonzero(fixed & (window.indices == self.columns))
        self.steps, self.gap, self.gain, self.reason = 0, float("inf"), float("inf"), "at rest"

    def spreads(self) -> FloatArray:
        """ln(largest / smallest stretch) of every part of the present map."""
        logs = self.window.logs(self.at.points)
        return np.asarray(self.window.most(logs[:, 1]) + self.window.most(-logs[:, 0]))

    def spread(self) -> float:
        """The largest of them."""
        return float(self.spreads().max())

    def wide(self) -> float:
        """The widest window."""
        return float(self.at.bound.max()) - self.window.pull

    def rest(self) -> None:
        """Least energy with held lengths nearly met: a start from which they have not far to go."""
        value = self.window.rested(self.at.points, RESTING)
        for _ in range(RESTING_STEPS):
            slope, values = self.window.resting(self.at.points, RESTING)
            typical = float(values[self.diagonal].mean())
            values[self.fixed] = 0.0
            values[self.ones] = typical
            slope[self.pins] = 0.0
            self.solver.refactor(values)
            step = self.solver.solve(-slope).reshape(-1, 2)
            gain = -float(slope @ step.ravel())
            share = min(1.0, SAFE_SHARE * first_fold(self.at.points, step, self.window.triangles))
            while share > LEAST_SHARE:
                there = self.at.points + share * step
                reached = self.window.rested(there, RESTING)
                if reached <= value - ARMIJO * share * gain:
                    self.at, value = replace(self.at, points=there), reached
                    break
                share *= 0.6
            self.steps += 1
            if gain < RESTED or share <= LEAST_SHARE:
                return

    def run(self, gap: float, say: Callable[[int, float], None], *, ease: bool) -> None:
        """Follow the path until the demand is within `gap` of the best, then use the freedom left."""
        if self.spread() < FLAT and not self.window.held:
            self.gap, self.reason = 0.0, "flat already"
            return
        begin = self.at
        found = self._walk(gap, say)
        if not found:
            self.at, self.steps = begin, 0
            found = self._rounds(gap, say)
        if found and ease:
            self._ease(say)

    def _walk(self, gap: float, say: Callable[[int, float], None]) -> bool:
        """Primal-dual steps until the demand is within `gap` of the best; whether they get there."""
        kept = self.window.slack(self.at, FIRST_WEIGHT * self.wide())
        mu = kept.product(self.window.weights)
        self.reason = f"{MOST_STEPS} steps were not enough"
        while self.gap > gap and self.steps < MOST_STEPS:
            say(self.steps, self.spread())
            self.at = replace(self.at, bound=self.window.tilted(self.at.points, self.at.bound))
            try:
                kept, share = self._advance(kept, Goal(mu, stiff=min(1.0 / mu, STIFFNESS)))
            except SingularError as fault:
                self.reason = f"the linear system could not be solved: {fault}"
                break
            if share < LEAST_SHARE:
                self.reason = "rounding allows no further step"
                break
            mu = next(fall for least, fall in FALLS if share >= least) * kept.product(self.window.weights)
        if self.gap <= gap:
            self.reason = "converged"
        self._inside(ROOM_LEFT * gap * self.wide())
        return self.gap <= gap

    def _rounds(self, gap: float, say: Callable[[int, float], None]) -> bool:
        """The same by steps that never leave the window, in rounds of one weight of the barrier: for held lengths and
        for bounds by direction, which bend sharply as a piece turns."""
        mu = FIRST_WEIGHT * self.wide()
        while self.steps < MOST_STEPS:
            self.at = replace(self.at, bound=self.window.tilted(self.at.points, self.at.bound))
            if not self._round(Goal(mu, stiff=STIFFNESS), say):
                return False
            self.gap = (4.0 * mu + self.gain) / self.wide()
            if self.gap <= gap:
                self.reason = "converged"
                return True
            mu *= FALL
        self.reason = f"{MOST_STEPS} steps were not enough"
        return False

    def _advance(self, kept: Slack, goal: Goal) -> tuple[Slack, float]:
        """One step; what is kept after it, and the share of it that could be gone."""
        window, weights = self.window, self.window.weights
        step, step_bound, gain = self._step(goal, kept)
        step = self._unturned(step)
        change = window.change(self.at, goal.mu, kept, step, step_bound)
        side, dual = (min(1.0, SIDE_SHARE * share) for share in kept.shares(change))
        share = min(side, SAFE_SHARE * first_fold(self.at.points, step, window.triangles))
        self.at = State(self.at.points + share * step, self.at.bound + share * step_bound)
        self.steps += 1
        true = window.distances(self.at)
        kept = kept.moved(change, share, dual, true).evened(weights)
        outside = sum(max(0.0, -float(distance.min())) for distance in true)
        self.gap = (4.0 * kept.product(weights) + outside + abs(gain)) / self.wide()
        return kept, min(share, dual)

    def _unturned(self, step: FloatArray) -> FloatArray:
        """A step without the turn of whole parts that only the pins asked for: turned straight on, a piece grows."""
        out = step.copy()
        for k in np.flatnonzero(self.free):
            own = self.window.part == k
            arm, move = self.at.points[own] - self.at.points[own].mean(axis=0), step[own] - step[own].mean(axis=0)
            turn = float((arm[:, 0] @ move[:, 1] - arm[:, 1] @ move[:, 0]) / (arm**2).sum())
            out[own] -= turn * np.stack([-arm[:, 1], arm[:, 0]], axis=1)
        return out

    def _inside(self, room: float) -> None:
        """The same map, of a size and with bounds that leave this much room to both sides."""
        smaller = float(self.window.logs(self.at.points).min()) - self.window.pull - room
        if self.window.rim is not None:
            # Lengths asked for as numbers stay what they are.
            smaller = min(smaller, 0.0)
        points = self.at.points * np.exp(smaller)
        self.at = State(points, self.window.begun(self.window.needed(points) + room))

    def _ease(self, say: Callable[[int, float], None]) -> None:
        """Least energy within the reached bound, which stays."""
        wide = self.wide()
        self.at = replace(self.at, bound=self.window.tilted(self.at.points, self.at.bound))
        for share in EASING:
            self._round(Goal(share * wide, lead=0.0, ease=1.0 / wide, stiff=STIFFNESS), say)

    def _round(self, goal: Goal, say: Callable[[int, float], None]) -> bool:
        """Newton steps at one weight of the barrier; False when the search has to end."""
        for _ in range(STEPS_A_ROUND if goal.lead else EASING_STEPS):
            say(self.steps, self.spread())
            try:
                step, step_bound, gain = self._step(goal, self.window.slack(self.at, goal.mu))
                step = self._unturned(step)
            except SingularError as fault:
                self.reason = f"the linear system could not be solved: {fault}"
                return False
            moved = self._moved(step, step_bound, gain, goal)
            self.steps += 1
            if moved is None:
                self.reason = "rounding allows no further step"
                return False
            self.at, self.gain = moved, gain
            if gain < ROUND_DONE * goal.mu:
                return True
        return True

    def _step(self, goal: Goal, kept: Slack) -> tuple[FloatArray, FloatArray, float]:
        """Newton step of points (n, 2) and bounds (p,), and what the model says it gains twice over."""
        model = self.window.model(self.at, goal, kept)
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
        if not goal.lead:
            # The bounds are reached and stay.
            plain = scale * self.solver.solve(-scale * slope, good=EXACT)
            return plain.reshape(-1, 2), np.zeros_like(self.at.bound), -float(slope @ plain)
        right = scale[:, None] * np.column_stack([-slope, mixed])
        # All are solved at once, each of size 1, so that the check of the residual holds for each.
        size = np.maximum(np.abs(right).max(axis=0), 1e-300)
        solved = scale[:, None] * self.solver.solve(right / size, good=EXACT) * size
        plain, along = np.ascontiguousarray(solved[:, 0]), solved[:, 1:]
        # Elimination of the unknowns that all triangles of a part share; their curvature is kept positive.
        bend = np.diag(model.bend_bound) - mixed.T @ along
        sizes, axes = np.linalg.eigh(0.5 * (bend + bend.T))
        sizes = np.maximum(sizes, 1e-6 * np.abs(model.bend_bound).max())
        step_bound = -axes @ ((axes.T @ (model.slope_bound + mixed.T @ plain)) / sizes)
        step = plain - along @ step_bound
        gain = -float(slope @ step) - float(model.slope_bound @ step_bound)
        return step.reshape(-1, 2), step_bound, gain

    def _moved(self, step: FloatArray, step_bound: FloatArray, gain: float, goal: Goal) -> State | None:
        """As far along the step as the bounds and the promised decrease allow; None when that is nowhere."""
        now = self.window.barrier(self.at, goal)
        if not np.isfinite(now):
            return None
        share = min(1.0, SAFE_SHARE * self.window.reach(self.at, step, step_bound))
        share = min(share, SAFE_SHARE * first_fold(self.at.points, step, self.window.triangles))
        while share > LEAST_SHARE:
            there = State(self.at.points + share * step, self.at.bound + share * step_bound)
            if self.window.barrier(there, goal) <= now - ARMIJO * share * gain:
                return there
            share *= 0.6
        return None
