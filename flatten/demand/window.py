"""The barrier of the window [pull, M] for ln stretch over the maps of one mesh or several: value, slope, curvature.

With l the ln of a stretch, every l is kept at or above the leather's pull and at or below a bound, which may differ by
direction: exp(M ratio_x) along x of the piece, exp(M ratio_y) along y, an ellipse between (see
flatten/leather/budget_use.py). Drawn larger by these two factors the piece must not be stretched anywhere, so the upper
side of the window is the barrier of the plain case on a piece drawn larger.

Several pieces may be held in one window, each with a bound of its own; edges that are sewn together are held to equal
lengths by stiff springs between ln of the two, so that the seam finds its length where both pieces want it most.

Curvature is assembled from every triangle's eigenmodes as for any isotropic energy (Smith, De Goes and Kim 2019); modes
of negative curvature count by their size, which keeps steps short where a clamp would leave them nothing to hold them
(Chen, Liu, Levin, Zheng, Jacobson and others, Stabler neo-Hookean simulation, 2024).
"""

from dataclasses import dataclass

import numpy as np

from flatten.demand.fairness import Bent
from flatten.demand.length_penalty import Joins, LengthPenalty, RimLengths
from flatten.demand.slack import Slack
from flatten.leather.budget_use import least_bound
from flatten.maps.energy import Energy, rebuilt
from flatten.maps.principal import PrincipalStretches
from meshes.base.arrays import FloatArray, IntArray

# Curvature of every triangle against turning and shearing its principal directions, which the barrier leaves next to
# none where pressures cancel: a step would turn such triangles about, one way and back. It slows steps, no more.
STEADY = 1e-3


@dataclass(frozen=True, eq=False)
class State:
    """points (n, 2) and the bound M of every part (p,)."""

    points: FloatArray
    bound: FloatArray


@dataclass(frozen=True, eq=False)
class Terms:
    """What is asked of pieces that are sought together. pull: least ln stretch; rest: the ln stretch that they come to
    where they are free to, the pull when not given; rim: lengths held along the rim; joins: edges held to each other's
    length."""

    pull: float = 0.0
    rest: float | None = None
    rim: RimLengths | None = None
    joins: Joins | None = None


@dataclass(frozen=True)
class Goal:
    """What is minimised: lead M + ease mean((l - rest)^2) / 2 + stiff mean(ln(length / wanted)^2) / 2 over the held
    edges - mu mean(ln of the distances to both bounds)."""

    mu: float
    lead: float = 1.0
    ease: float = 0.0
    stiff: float = 0.0


@dataclass(frozen=True, eq=False)
class Model:
    """Slope by the points (2 n,) and by the bounds (p,), mixed slope (2 n, p), curvature by the bounds (p,), Hessian
    values."""

    slope: FloatArray
    slope_bound: FloatArray
    mixed: FloatArray
    bend_bound: FloatArray
    values: FloatArray


class Window(Energy):
    """The window over the maps of one mesh, which may have several parts.

    terms: what is asked of it; ratio (p, 2): how the bound of a part differs along x and y; part (n,): the part of
    every vertex, all 0 when not given; linked (k, 4): vertices of lines that may be held fair
    (flatten/demand/fairness.py).

    tilt (p, 2): how much larger a part is drawn along x and y for the upper side, beyond exp(M) in every direction. It
    belongs to one value of M (`tilted`), so that within a few steps the bound moves alike in all directions.
    """

    def __init__(
        self,
        vertices: FloatArray,
        triangles: IntArray,
        terms: Terms,
        *,
        ratio: FloatArray,
        part: IntArray | None = None,
        linked: IntArray | None = None,
    ) -> None:
        super().__init__(vertices, triangles)
        self.pull, self.ratio = terms.pull, ratio
        # How far above the lower side the stretch is that the freedom left is used to come to.
        self.rest = 0.0 if terms.rest is None else max(terms.rest - terms.pull, 0.0)
        self.part = np.zeros(self.n, dtype=np.int64) if part is None else part
        self.parts = len(ratio)
        self.of = self.part[triangles[:, 0]]
        # A small piece counts as much as a large one: how close its bound comes to the least depends on it.
        self.share = np.full(self.parts, 1.0 / self.parts)
        self.plain = bool((ratio == 1.0).all())
        self.tilt = np.ones((self.parts, 2))
        self._seen: tuple[FloatArray, tuple[PrincipalStretches, PrincipalStretches]] | None = None
        self.springs = LengthPenalty(terms.rim, terms.joins, self, linked)
        # How far lines are from fair and straight; counted with the freedom left, as much as `Goal.ease` says.
        self.lines: Bent | None = None
        # Where the curvature of lines stands among the values, and which of these places each entry of it belongs to.
        self._line_spots: IntArray = np.zeros(0, dtype=np.int64)
        self._line_place: IntArray = np.zeros(0, dtype=np.int64)
        self.indptr, self.indices = self.springs.indptr, self.springs.indices

    @property
    def held(self) -> bool:
        """Whether lengths are held, to numbers or to each other."""
        return self.springs.rim is not None or self.springs.joins is not None

    def logs(self, points: FloatArray) -> FloatArray:
        """ln of the principal stretches, (m, 2), the smaller first; +inf where a triangle is folded."""
        return self.sides(points)[1].logs

    def most(self, values: FloatArray) -> FloatArray:
        """The largest value (p,) of every part, of values (m,)."""
        if self.parts == 1:
            return np.array([values.max()])
        out = np.full(self.parts, -np.inf)
        np.maximum.at(out, self.of, values)
        return out

    def summed(self, values: FloatArray) -> FloatArray:
        """Sums (p,) over every part of values (m, 2), by area."""
        return np.asarray(np.bincount(self.of, self.weights * values.sum(axis=1), self.parts), dtype=np.float64)

    def needed(self, points: FloatArray) -> FloatArray:
        """The least bound M (p,) that this map, which must be without folds, keeps to."""
        f = self.maps(points)
        gram = np.einsum("mij,mkj->mik", f, f)
        det = gram[:, 0, 0] * gram[:, 1, 1] - gram[:, 0, 1] ** 2
        c = np.stack([gram[:, 1, 1], -gram[:, 0, 1], gram[:, 0, 0]], axis=1) / det[:, None]
        out = np.empty(self.parts)
        for k, (x, y) in enumerate(self.ratio):
            out[k] = least_bound(c[self.of == k], (float(x), float(y))).max()
        return out

    def begun(self, bound: FloatArray) -> FloatArray:
        """Let the tilt belong to this bound, which a map keeps to that needs less."""
        self.tilt, self._seen = np.exp(bound[:, None] * (self.ratio - 1.0)), None
        return bound

    def tilted(self, points: FloatArray, bound: FloatArray) -> FloatArray:
        """Let the tilt belong to this bound; the bound that leaves the map as far inside as it was."""
        if self.plain:
            return bound
        room = bound - self.most(self.sides(points)[0].logs[:, 1])
        self.tilt, self._seen = np.exp(bound[:, None] * (self.ratio - 1.0)), None
        return np.asarray(room + self.most(self.sides(points)[0].logs[:, 1]))

    def hold_lines(self, lines: Bent) -> None:
        """Count with these lines from now on."""
        if self.lines is None or not np.array_equal(self.lines.vertices, lines.vertices):
            size = 2 * self.n
            columns = np.repeat(np.arange(size), np.diff(self.indptr))
            row, column = lines.entries()
            spots = np.searchsorted(columns * size + self.indices, (column * size + row).ravel())
            self._line_spots, self._line_place = np.unique(spots, return_inverse=True)
        self.lines = lines

    def sides(self, points: FloatArray) -> tuple[PrincipalStretches, PrincipalStretches]:
        """The map against the upper and the lower side; those of the points last asked for are kept."""
        if self._seen is None or not np.array_equal(self._seen[0], points):
            lower = PrincipalStretches(self.maps(points))
            upper = lower if self.plain else PrincipalStretches(self.maps(points * self.tilt[self.part]))
            self._seen = points.copy(), (upper, lower)
        return self._seen[1]

    def barrier(self, at: State, goal: Goal) -> float:
        """The function that is minimised; infinite outside the window."""
        upper, lower = self.sides(at.points)
        if not (lower.s[:, 1].min() > 0 and upper.s[:, 1].min() > 0):
            return float("inf")
        above, below = at.bound[self.of, None] - upper.logs, lower.logs - self.pull
        if not (above[:, 1].min() > 0 and below[:, 0].min() > 0):
            return float("inf")
        value = goal.lead * float(self.share @ at.bound)
        value -= goal.mu * float(self.weights @ np.log((above * below).prod(axis=1)))
        if goal.ease:
            value += 0.5 * goal.ease * float(self.weights @ ((below - self.rest) ** 2).sum(axis=1))
            value += goal.ease * (0.0 if self.lines is None else self.lines.value(at.points))
        return value + self.springs.value(at.points, goal.stiff)

    def eased(self, points: FloatArray) -> float:
        """What the freedom left is used to make small."""
        below = self.logs(points) - self.pull - self.rest
        value = 0.5 * float(self.weights @ (below**2).sum(axis=1))
        return value + (0.0 if self.lines is None else self.lines.value(points))

    def distances(self, at: State) -> tuple[FloatArray, FloatArray]:
        """How far the map is inside the upper and the lower side, (m, 2) each."""
        upper, lower = self.sides(at.points)
        return at.bound[self.of, None] - upper.logs, lower.logs - self.pull

    def slack(self, at: State, mu: float) -> Slack:
        """What a search at rest inside the window would keep: the map's distances and the barrier's pressures."""
        above, below = self.distances(at)
        return Slack(above, below, mu / above, mu / below)

    def change(self, at: State, mu: float, kept: Slack, step: FloatArray, step_bound: FloatArray) -> Slack:
        """How a step (n, 2) of the points and (p,) of the bounds changes what is kept, by first order."""
        upper, lower = self.sides(at.points)
        above, below = self.distances(at)
        lows = lower.change(self.maps(step))
        ups = lows if self.plain else upper.change(self.maps(step * self.tilt[self.part]))
        up, down = above - kept.above + step_bound[self.of, None] - ups, below - kept.below + lows
        return Slack(
            up,
            down,
            (mu - kept.dual_above * up) / kept.above - kept.dual_above,
            (mu - kept.dual_below * down) / kept.below - kept.dual_below,
        )

    def model(self, at: State, goal: Goal, kept: Slack) -> Model:
        """Slope and clamped curvature of what is minimised, once the changes of what is kept are eliminated."""
        upper, lower = self.sides(at.points)
        above, below = self.distances(at)
        stiff, hold = kept.dual_above / kept.above, kept.dual_below / kept.below
        press = goal.mu / kept.above - stiff * (above - kept.above)
        slope = goal.ease * (below - self.rest) - goal.mu / kept.below + hold * (below - kept.below)
        lean, bend = goal.ease * (below - self.rest) - kept.dual_below, goal.ease + hold
        if self.plain:
            slope, lean, bend = slope + press, lean + kept.dual_above, bend + stiff
        pulled = self.pulled_back(-slope / lower.s, lower)
        blocks = self._bent(lower, lean, bend)
        mixed = self.pulled_back(stiff / upper.s, upper)
        if not self.plain:
            # Drawn larger by the tilt, a piece moves by so much more.
            tilt = self.tilt[self.part]
            mixed = tilt * mixed
            pulled = pulled + tilt * self.pulled_back(-press / upper.s, upper)
            grown = (self.tilt[:, :, None] * self.tilt[:, None, :]).reshape(-1, 4)[self.of]
            more = self._bent(upper, kept.dual_above, stiff)
            blocks[:-1].reshape(3, -1, 4)[:] += more[:-1].reshape(3, -1, 4) * grown
        values = self.filled(blocks)
        values = self.springs.added(at.points, goal.stiff, pulled, values)
        if goal.ease and self.lines is not None:
            pulled += goal.ease * self.lines.slope(at.points)
            values[self._line_spots] += goal.ease * np.bincount(self._line_place, self.lines.curvature().ravel())
        each = np.zeros((self.n, 2, self.parts))
        each[np.arange(self.n), :, self.part] = mixed
        return Model(
            pulled.ravel(),
            goal.lead * self.share - self.summed(press),
            each.reshape(2 * self.n, self.parts),
            self.summed(stiff),
            values,
        )

    def rested(self, points: FloatArray, stiff: float) -> float:
        """The mean energy (flatten/maps/energy.py) with the springs."""
        value = self.value(points)
        return value + self.springs.value(points, stiff) if np.isfinite(value) else value

    def resting(self, points: FloatArray, stiff: float) -> tuple[FloatArray, FloatArray]:
        """Slope (2 n,) and clamped Hessian values of `rested`."""
        pulled, values = self.gradient(points), self.hessian(points, clamp=True)
        values = self.springs.added(points, stiff, pulled, values)
        return pulled.ravel(), values

    def forces(self, points: FloatArray, high: FloatArray, low: FloatArray) -> FloatArray:
        """Slope (n, 2) by the points of minus the sum of pressure times distance; pressures (m, 2)."""
        upper, lower = self.sides(points)
        pulled = self.pulled_back(low / lower.s, lower)
        return np.asarray(pulled - self.tilt[self.part] * self.pulled_back(high / upper.s, upper))

    def _bent(self, side: PrincipalStretches, slope: FloatArray, bend: FloatArray) -> FloatArray:
        """Blocks of the Hessian, made positive, of a function of l = -ln s with these first and second derivatives by
        l, (m, 2)."""
        s = side.s
        f1 = -slope / s
        f2 = np.maximum(bend + slope, 1e-3 * bend) / s**2
        apart = s[:, 0] - s[:, 1]
        close = np.abs(apart) < 1e-6
        flip = np.where(close, f2.mean(axis=1), (f1[:, 0] - f1[:, 1]) / np.where(close, 1.0, apart))
        twist = f1.sum(axis=1) / s.sum(axis=1)
        w = self.weights
        modes = (w * f2[:, 0], w * f2[:, 1], w * (np.abs(flip) + STEADY), w * (np.abs(twist) + STEADY))
        return self.blocks_of_modes(*modes, side.axes)

    def pulled_back(self, slopes: FloatArray, side: PrincipalStretches) -> FloatArray:
        """Derivative by the points (n, 2) of a function of the singular values with these slopes (m, 2)."""
        return self.spread_out(rebuilt(slopes * self.weights[:, None], side.axes))
