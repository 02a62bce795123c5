"""The search for the least bounds of a window: one walk along the path of minima.

Primal-dual steps with slacks (flatten/demand/slack.py) as the weight of the barrier falls, once more and slower should
they be broken off. Then the freedom left within the reached bounds is used. That the result is the least one is claimed
only when the pressures found prove it of the result itself (flatten/demand/optimality.py).
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from flatten.demand.fairness import Lines
from flatten.demand.newton import NewtonSystem
from flatten.demand.optimality import Duals, lower_limit
from flatten.demand.slack import Slack
from flatten.demand.straightening import Bought, Tried, hopeless, straightened
from flatten.demand.window import Goal, State, Window
from flatten.maps.energy import first_fold
from flatten.maps.relax import ARMIJO
from meshes.base.arrays import BoolArray, FloatArray, IntArray
from meshes.base.progress import look_up
from meshes.numerics.solver import SingularError
from meshes.numerics.status import Ending, Status, Trace

# Barrier weight at the start, as a share of the window; to which share of the mean product it falls after a step of
# which at least so much could be gone.
FIRST_WEIGHT, FALLS = 0.1, ((0.9, 0.1), (0.5, 0.3), (0.0, 0.6))
# Share of the way to the first side that a step goes.
SIDE_SHARE = 0.95
WALK_STEPS_MOST = 120
# A walk has stalled after more than so many steps on end of which less than this share could be gone.
SHORT, SHORT_STEPS = 0.15, 5
# A walk that was broken off is done again: how often, room at its start as a share of the window, and slower falls.
WALKS_AGAIN, ROOM_AGAIN, SLOW_FALLS = 2, 0.1, ((0.9, 0.3), (0.0, 0.6))
# What first-order duality may leave open beyond the gap asked for, as a share of the window, when a search has
# converged: its limit counts every move that the window has room for, and is a few times wider than the gap.
CONFIRMED = 0.1
# Steps at most at one weight, for pressures that prove too little.
CENTRING_STEPS = 6
# Below this spread of ln stretch there is nothing to win: the piece is flat to the last digits that matter.
FLAT = 1e-7
# While the freedom left is used: weight of the barrier at the start and at the end, what is made small then, all as
# shares of the window; steps at most; room left in the end, and by how much the map may come to lie beyond the bounds,
# as shares of the window.
EASING, EASY, EASED, EASING_STEPS, LEFT, BEYOND = 0.05, 5e-4, 0.1, 20, 1e-3, 0.01
# Weight of the barrier where it is gone on from a map that has been eased, and what bounds may differ by for that.
EASING_AGAIN, ALIKE_BOUND = 0.01, 1e-3
# Shares of the way to a map beyond the bounds that are tried.
BACK = (1.0, 0.9, 0.75, 0.5, 0.25)
# Stiffness of the springs that hold lengths: a length gives way by about 1 / STIFFNESS for one unit of demand.
STIFFNESS = 10000.0
# While lengths are first brought near: stiffness, steps at most, and the gain of energy that ends it.
RESTING, RESTING_STEPS, RESTED = 1000.0, 12, 1e-5
SAFE_SHARE, LEAST_SHARE = 0.95, 1e-9
# Room left to both sides in the end, as a share of the gap.
ROOM_LEFT = 0.05


class Search:
    """One walk along the path of minima."""

    def __init__(self, window: Window, points: FloatArray, pins: IntArray, free: BoolArray) -> None:
        self.window = window
        self.at = State(points, np.full(window.parts, np.inf))
        self.system = NewtonSystem(window, pins, free)
        self.steps, self.gap = 0, float("inf")
        self.status = Status(Ending.STEPS, self.gap)
        self.duals: Duals | None = None
        self.limit = -float("inf")
        # Lines that should come out fair or straight, how far bounds may be raised for them, and were, whether it is
        # tried what those that bow would ask, and what came of it.
        self.lines: Lines | None = None
        self.prices = False
        self.most = np.full(window.parts, np.inf)
        self.raised: FloatArray = np.zeros(window.parts)
        self.bought: Bought | None = None

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
            step = self.system.energy_step(slope, values)
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

    def run(self, gap: float, say: Trace, *, ease: bool) -> None:
        """Follow the path until the mean bound is within `gap` of the least, then use the freedom left; how it ended is
        `status`, a claim that the result itself has been checked for."""
        if self.spread() < FLAT and self.window.springs.meets(self.at.points, FLAT):
            self.status = Status(Ending.FLAT, 0.0)
            return
        begin = self.at
        ending, detail = self._walk(gap, say, FALLS)
        for _ in range(WALKS_AGAIN):
            if ending is Ending.CONVERGED:
                break
            # Once more from the better of both maps, with time for the products to even out.
            self._inside(ROOM_AGAIN * self.wide())
            if self.at.bound.max() > begin.bound.max():
                self.at = State(begin.points, self.window.begun(begin.bound))
            ending, detail = self._walk(gap, say, SLOW_FALLS)
        if ending is Ending.CONVERGED and ease:
            self._ease(say)
        self.status = self._confirmed(ending, detail, gap)

    def _confirmed(self, ending: Ending, detail: str, gap: float) -> Status:
        """The status of the present map, whose claim to be the least has to hold for the map itself."""
        if ending is not Ending.CONVERGED:
            return Status(ending, self.gap, self.system.solver.fallbacks, detail)
        proven = self._proven(self.at.points)
        if not proven <= gap + CONFIRMED:
            ending, detail = Ending.UNCONFIRMED, f"{100 * proven:.0f} % of the window may be left"
        return Status(ending, proven, self.system.solver.fallbacks, detail)

    def _proven(self, points: FloatArray) -> float:
        """How far a map may be above the least, as a share of its window, by the highest limit proven so far."""
        needed = self.window.needed(points)
        reached = float(self.window.share @ (needed - self.raised)) + self.window.springs.value(points, STIFFNESS)
        return (reached - self.limit) / (float(needed.max()) - self.window.pull)

    def _prove(self) -> float:
        """Let the pressures of the last step prove what they can; what then is proven of the present map."""
        assert self.duals is not None
        self.limit = max(self.limit, lower_limit(self.window, self.duals, self.elastic))
        return self._proven(self._fitted(0.0))

    def elastic(self, values: FloatArray, rhs: FloatArray) -> FloatArray:
        """Displacements (2 n,) of the present map as an elastic piece (`NewtonSystem.elastic`)."""
        return self.system.elastic(self.at.points, values, rhs)

    def _walk(self, gap: float, say: Trace, falls: Sequence[tuple[float, float]]) -> tuple[Ending, str]:
        """Primal-dual steps until the mean bound is within `gap` of the least; why they ended."""
        kept = self.window.slack(self.at, FIRST_WEIGHT * self.wide())
        mu = kept.complementarity(self.window.weights)
        ending, detail, last = Ending.STEPS, f"{WALK_STEPS_MOST} were allowed", self.steps + WALK_STEPS_MOST
        self.gap, centring, short = float("inf"), 0, 0
        while self.steps < last:
            look_up()
            say(self.steps, self.spread())
            self.at = replace(self.at, bound=self.window.tilted(self.at.points, self.at.bound))
            try:
                kept, share = self._advance(kept, Goal(mu, stiff=min(1.0 / mu, STIFFNESS)))
            except SingularError as fault:
                ending, detail = Ending.SINGULAR, str(fault)
                break
            if share < LEAST_SHARE:
                ending, detail = Ending.ROUNDING, ""
                break
            short = short + 1 if share < SHORT else 0
            if short > SHORT_STEPS:
                ending, detail = Ending.STALLED, ""
                break
            mu = kept.complementarity(self.window.weights)
            if self.gap > gap and not centring:
                mu *= next(fall for least, fall in falls if share >= least)
                continue
            # Pressures that prove too little are brought nearer to rest by steps at one weight.
            centring += 1
            if self._prove() <= gap + CONFIRMED or centring > CENTRING_STEPS:
                ending, detail = Ending.CONVERGED, ""
                break
        self._inside(ROOM_LEFT * gap * self.wide())
        return ending, detail

    def _advance(self, kept: Slack, goal: Goal) -> tuple[Slack, float]:
        """One step; what is kept after it, and the share of it that could be gone."""
        window, weights = self.window, self.window.weights
        step, step_bound, gain = self.system.step(self.at, goal, kept)
        step = self.system.unturned(self.at.points, step)
        change = window.change(self.at, goal.mu, kept, step, step_bound)
        pressed = replace(
            kept, dual_above=kept.dual_above + change.dual_above, dual_below=kept.dual_below + change.dual_below
        )
        self.duals = Duals(self.at, pressed.feasible(), step, goal.stiff)
        side, dual = (min(1.0, SIDE_SHARE * share) for share in kept.shares(change))
        share = min(side, SAFE_SHARE * first_fold(self.at.points, step, window.triangles))
        self.at = State(self.at.points + share * step, self.at.bound + share * step_bound)
        self.steps += 1
        true = window.distances(self.at)
        kept = kept.moved(change, share, dual, true).safeguarded(weights)
        outside = sum(max(0.0, -float(distance.min())) for distance in true)
        self.gap = (4.0 * kept.complementarity(weights) + outside + abs(gain)) / self.wide()
        return kept, min(share, dual)

    def _inside(self, room: float) -> None:
        """The same map, of a size and with bounds that leave this much room to both sides."""
        points = self._fitted(room)
        self.at = State(points, self.window.begun(self.window.needed(points) + room))

    def _fitted(self, room: float) -> FloatArray:
        """The present map of a size whose least stretch is this much above the pull."""
        smaller = float(self.window.logs(self.at.points).min()) - self.window.pull - room
        if self.window.springs.rim is not None:
            # Lengths asked for as numbers stay what they are.
            smaller = min(smaller, 0.0)
        return self.at.points * np.exp(smaller)

    def _ease(self, say: Trace) -> None:
        """Use the freedom left; bounds are raised a little for lines that should be straight."""
        self._eased(say, whole=True)
        if self.lines is None:
            return
        window, every, plain = self.window, self.lines, self._tried(self.lines)
        part = window.part[[line.vertices[0] for line in every.lines]]
        left = np.maximum(self.most - plain.bound, 0.0) * window.ratio.max(axis=1)

        def attempt(raised: FloatArray, lines: Lines, *, whole: bool = False) -> Tried:
            bound, self.lines = plain.bound + raised / window.ratio.max(axis=1), lines
            # On from the last map, which is nearer, where that keeps to these bounds.
            near = bool((self.at.bound <= bound + ALIKE_BOUND).all())
            self.at = State(self.at.points if near else plain.points, bound)
            ended = self._eased(say, EASING_AGAIN if near else EASING, whole=whole)
            return replace(self._tried(every), whole=ended)

        self.bought = straightened(plain, every, part, left, attempt, prices=self.prices)
        kept = self.bought.kept
        self.at = State(kept.points, window.begun(kept.bound))
        self.raised = np.maximum(kept.bound - plain.bound, 0.0)

    def _tried(self, lines: Lines) -> Tried:
        """The present map, and how these lines lie on it."""
        return Tried(self.at.points, self.at.bound, self.spreads(), lines.bows(self.at.points))

    def _eased(self, say: Trace, weight: float = EASING, *, whole: bool) -> bool:
        """Least energy, and fair lines, within the bounds; a walk that ends outside them leaves the map as it was.
        weight: of the barrier at the start, as a share of the window; whole: whether it is gone on with even when no
        line comes straight any more. Whether it was not broken off for that."""
        window, begin, first = self.window, self.at, self.steps
        proof = self.gap, self.duals
        bound, bows, ended = begin.bound, list[FloatArray](), True
        self.at = replace(begin, bound=window.tilted(begin.points, bound))
        if self.lines is not None:
            window.hold_lines(self.lines.bent(begin.points))
        wide = self.wide()
        goal = Goal(weight * wide, lead=0.0, ease=EASED * wide / window.eased(begin.points), stiff=STIFFNESS)
        try:
            # A map that just keeps to its bounds has room to begin with.
            above, below = (np.maximum(distance, LEFT * wide) for distance in window.distances(self.at))
            kept = Slack(above, below, goal.mu / above, goal.mu / below)
            while goal.mu > EASY * wide and self.steps < first + EASING_STEPS:
                look_up()
                say(self.steps, self.spread())
                kept, share = self._advance(kept, goal)
                fall = next(fall for least, fall in FALLS if share >= least)
                goal = replace(goal, mu=fall * kept.complementarity(window.weights))
                self.at = replace(self.at, bound=window.tilted(self.at.points, self.at.bound))
                if self.lines is None:
                    continue
                window.hold_lines(self.lines.bent(self.at.points))
                if not whole:
                    bows.append(self.lines.bows(self.at.points))
                    if hopeless(bows, self.lines.wanted, first + EASING_STEPS - self.steps):
                        ended = False
                        break
        except SingularError:
            pass
        self.gap, self.duals = proof
        self._back_inside(begin, LEFT * wide, BEYOND * wide)
        return ended

    def _back_inside(self, begin: State, room: float, beyond: float) -> None:
        """The present map, or as much of the way to it from the map at the beginning as keeps to the bounds there."""
        way = self.at.points - begin.points
        for share in BACK:
            self.at = State(begin.points + share * way, begin.bound)
            if np.isfinite(self.window.logs(self.at.points)).all():
                points = self._fitted(room)
                bound = np.maximum(self.window.needed(points), begin.bound)
                if (bound <= begin.bound + beyond).all():
                    self.at = State(points, self.window.begun(bound))
                    return
        self.at = State(begin.points, self.window.begun(begin.bound))
