"""The barrier of the window [pull, M] for ln stretch over the maps of one mesh: value, slope and clamped curvature.

With l the ln of a stretch, every l is kept at or above the leather's pull and at or below a bound, which may differ by
direction: exp(M ratio_x) along x of the piece, exp(M ratio_y) along y, an ellipse between (see flatten/usage.py). Drawn
larger by these two factors the piece must not be stretched anywhere, so the upper side of the window is the barrier of
the plain case on a piece drawn larger.

Curvature is assembled from every triangle's eigenmodes as for any isotropic energy (Smith, De Goes and Kim 2019); modes
of negative curvature are clamped.
"""

from dataclasses import dataclass

import numpy as np

from flatten.energy import Energy, rebuilt
from flatten.stretch import singular
from flatten.usage import least_bound
from meshes.arrays import FloatArray, IntArray

# Stiffness of the springs that hold wanted rim lengths: a length gives way by about 1 / STIFFNESS for one unit of
# demand.
STIFFNESS = 10000.0


@dataclass(frozen=True, eq=False)
class RimLengths:
    """Wanted lengths on the piece: edges (k, 2) vertex numbers, lengths (k,) mm, weights (k,) summing to about 1."""

    edges: IntArray
    lengths: FloatArray
    weights: FloatArray


@dataclass(frozen=True, eq=False)
class State:
    """points (n, 2) and the bound M."""

    points: FloatArray
    bound: float


@dataclass(frozen=True)
class Goal:
    """What is minimised: lead M + ease mean((l - pull)^2) / 2 + stiff mean(ln(length / wanted)^2) / 2 over the held rim
    - mu mean(ln of the distances to both bounds)."""

    mu: float
    lead: float = 1.0
    ease: float = 0.0
    stiff: float = 0.0


@dataclass(frozen=True, eq=False)
class Model:
    """Slope by the points (2 n,) and by the bound, mixed slope (2 n,), curvature by the bound, Hessian values."""

    slope: FloatArray
    slope_bound: float
    mixed: FloatArray
    bend_bound: float
    values: FloatArray


@dataclass(frozen=True, eq=False)
class _Side:
    """A piece's triangles against one side of the window: singular values and angles of their maps, l (m, 2)."""

    s: FloatArray
    left: FloatArray
    right: FloatArray

    @property
    def logs(self) -> FloatArray:
        return _logs(self.s)


class Window(Energy):
    """The window over the maps of one mesh. pull: least ln stretch; ratio: how the bound differs along x and y; rim:
    lengths held along the rim.

    tilt (2,): how much larger the piece is drawn along x and y for the upper side, beyond exp(M) in every direction. It
    belongs to one value of M (`tilted`), so that within a few steps the bound moves alike in all directions.
    """

    def __init__(
        self,
        vertices: FloatArray,
        triangles: IntArray,
        *,
        pull: float,
        ratio: tuple[float, float] = (1.0, 1.0),
        rim: RimLengths | None = None,
    ) -> None:
        super().__init__(vertices, triangles)
        self.pull, self.ratio, self.rim = pull, np.array(ratio), rim
        self.plain = ratio[0] == ratio[1] == 1.0
        self.tilt = np.ones(2)
        if rim is not None:
            i, j = rim.edges.T
            self.rim_spots = [self.block_spots(a, b) for a, b in ((i, i), (j, j), (i, j), (j, i))]

    def logs(self, points: FloatArray) -> FloatArray:
        """ln of the principal stretches, (m, 2), the smaller first; +inf where a triangle is folded."""
        return _logs(singular(self.maps(points))[0])

    def needed(self, points: FloatArray) -> float:
        """The least bound M that this map, which must be without folds, keeps to."""
        f = self.maps(points)
        gram = np.einsum("mij,mkj->mik", f, f)
        det = gram[:, 0, 0] * gram[:, 1, 1] - gram[:, 0, 1] ** 2
        c = np.stack([gram[:, 1, 1], -gram[:, 0, 1], gram[:, 0, 0]], axis=1) / det[:, None]
        return float(least_bound(c, (float(self.ratio[0]), float(self.ratio[1]))).max())

    def tilted(self, points: FloatArray, bound: float) -> float:
        """Let the tilt belong to this bound; the bound that leaves the map as far inside as it was."""
        if self.plain:
            return bound
        room = bound - float(self.logs(points * self.tilt).max())
        self.tilt = np.exp(bound * (self.ratio - 1.0))
        return room + float(self.logs(points * self.tilt).max())

    def sides(self, points: FloatArray) -> tuple[_Side, _Side]:
        """The map against the upper and the lower side."""
        lower = _Side(*singular(self.maps(points)))
        return (lower if self.plain else _Side(*singular(self.maps(points * self.tilt)))), lower

    def barrier(self, at: State, goal: Goal) -> float:
        """The function that is minimised; infinite outside the window."""
        upper, lower = self.sides(at.points)
        above, below = at.bound - upper.logs, lower.logs - self.pull
        if not (np.isfinite(lower.logs).all() and (above > 0).all() and (below > 0).all()):
            return float("inf")
        value = goal.lead * at.bound - goal.mu * float(self.weights @ (np.log(above) + np.log(below)).sum(axis=1))
        if goal.ease:
            value += 0.5 * goal.ease * float(self.weights @ (below**2).sum(axis=1))
        if self.rim is not None:
            value += 0.5 * goal.stiff * float(self.rim.weights @ self.off(at.points)[0] ** 2)
        return value

    def off(self, points: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """ln(length / wanted) of the held rim edges, their vectors and squared lengths."""
        assert self.rim is not None
        along = points[self.rim.edges[:, 1]] - points[self.rim.edges[:, 0]]
        square = np.einsum("ij,ij->i", along, along)
        return 0.5 * np.log(square) - np.log(self.rim.lengths), along, square

    def model(self, at: State, goal: Goal) -> Model:
        """Slope and clamped curvature of the barrier."""
        upper, lower = self.sides(at.points)
        above, below = at.bound - upper.logs, lower.logs - self.pull
        slope, bend = goal.ease * below - goal.mu / below, goal.ease + goal.mu / below**2
        press, stiff = goal.mu / above, goal.mu / above**2
        if self.plain:
            slope, bend = slope + press, bend + stiff
        pulled = self.pulled_back(-slope / lower.s, lower)
        values = self._bent(lower, slope, bend)
        mixed = self.pulled_back(stiff / upper.s, upper)
        if not self.plain:
            # Drawn larger by the tilt, a piece moves by so much more.
            mixed = self.tilt * mixed
            pulled = pulled + self.tilt * self.pulled_back(-press / upper.s, upper)
            more = self._bent(upper, press, stiff)
            for (r, c), spot in self._spot.items():
                values[spot] += self.tilt[r] * self.tilt[c] * more[spot]
        if self.rim is not None:
            self._add_rim(at.points, goal.stiff, pulled, values)
        return Model(
            pulled.ravel(),
            goal.lead - float(self.weights @ press.sum(axis=1)),
            mixed.ravel(),
            float(self.weights @ stiff.sum(axis=1)),
            values,
        )

    def _bent(self, side: _Side, slope: FloatArray, bend: FloatArray) -> FloatArray:
        """Clamped Hessian values of a function of l = -ln s with these first and second derivatives by l, (m, 2)."""
        s = side.s
        f1 = -slope / s
        f2 = np.maximum(bend + slope, 1e-3 * bend) / s**2
        apart = s[:, 0] - s[:, 1]
        close = np.abs(apart) < 1e-6
        flip = np.where(close, f2.mean(axis=1), (f1[:, 0] - f1[:, 1]) / np.where(close, 1.0, apart))
        twist = f1.sum(axis=1) / s.sum(axis=1)
        w = self.weights
        modes = (w * f2[:, 0], w * f2[:, 1], w * np.maximum(flip, 0.0), w * np.maximum(twist, 0.0))
        return self.modes_on_pattern(*modes, side.left, side.right)

    def pulled_back(self, slopes: FloatArray, side: _Side) -> FloatArray:
        """Derivative by the points (n, 2) of a function of the singular values with these slopes (m, 2)."""
        return self.spread_out(rebuilt(slopes * self.weights[:, None], side.left, side.right))

    def _add_rim(self, points: FloatArray, stiffness: float, pulled: FloatArray, values: FloatArray) -> None:
        """Springs of the rim: slope into `pulled`, curvature (without its negative part) into `values`."""
        assert self.rim is not None
        off, along, square = self.off(points)
        stiff = stiffness * self.rim.weights
        force = (stiff * off / square)[:, None] * along
        np.add.at(pulled, self.rim.edges[:, 1], force)
        np.add.at(pulled, self.rim.edges[:, 0], -force)
        block = (stiff / square**2)[:, None, None] * along[:, :, None] * along[:, None, :]
        for spots, sign in zip(self.rim_spots, (1.0, 1.0, -1.0, -1.0), strict=True):
            for r in (0, 1):
                for c in (0, 1):
                    np.add.at(values, spots[r, c], sign * block[:, r, c])


def _logs(s: FloatArray) -> FloatArray:
    return np.asarray(-np.log(s, out=np.full_like(s, -np.inf), where=s > 0))
