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
    """What is minimised: lead M + ease mean((l - pull)^2) / 2 - mu mean(ln of the distances to both bounds)."""

    mu: float
    lead: float = 1.0
    ease: float = 0.0


@dataclass(frozen=True, eq=False)
class Model:
    """Slope by the points (2 n,) and by the bound, mixed slope (2 n,), curvature by the bound, Hessian values."""

    slope: FloatArray
    slope_bound: float
    mixed: FloatArray
    bend_bound: float
    values: FloatArray


class Window(Energy):
    """The barrier over the maps of one mesh. pull: least ln stretch; ratio: how the bound differs along x and y."""

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

    def grown(self, at: State) -> FloatArray:
        """How much larger the piece is drawn along x and y for its upper bound, (2,)."""
        return np.asarray(np.exp(at.bound * self.ratio))

    def barrier(self, at: State, goal: Goal) -> float:
        """The function that is minimised; infinite outside the window."""
        logs = self.logs(at.points)
        above = at.bound - logs if self.plain else -self.logs(at.points * self.grown(at))
        below = logs - self.pull
        if not (np.isfinite(logs).all() and (above > 0).all() and (below > 0).all()):
            return float("inf")
        value = goal.lead * at.bound - goal.mu * float(self.weights @ (np.log(above) + np.log(below)).sum(axis=1))
        if goal.ease:
            value += 0.5 * goal.ease * float(self.weights @ (below**2).sum(axis=1))
        if self.rim is not None:
            value += 0.5 * STIFFNESS * float(self.rim.weights @ self.off(at.points)[0] ** 2)
        return value

    def off(self, points: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """ln(length / wanted) of the held rim edges, their vectors and squared lengths."""
        assert self.rim is not None
        along = points[self.rim.edges[:, 1]] - points[self.rim.edges[:, 0]]
        square = np.einsum("ij,ij->i", along, along)
        return 0.5 * np.log(square) - np.log(self.rim.lengths), along, square

    def model(self, at: State, goal: Goal) -> Model:
        """Slope and clamped curvature of the barrier."""
        s, left, right = singular(self.maps(at.points))
        logs = -np.log(s)
        below = logs - self.pull
        slope, bend = goal.ease * below - goal.mu / below, goal.ease + goal.mu / below**2
        if self.plain:
            above = at.bound - logs
            slope, bend = slope + goal.mu / above, bend + goal.mu / above**2
        pulled, values = self._assembled(s, left, right, slope, bend)
        share = np.ones_like(s)
        if self.plain:
            mixed = self.pulled_back(goal.mu / above**2 / s, left, right)
        else:
            grown = self.grown(at)
            s, left, right = singular(self.maps(at.points * grown))
            above = np.log(s)
            upper, stiff = self._assembled(s, left, right, goal.mu / above, goal.mu / above**2)
            pulled = pulled + grown * upper
            for (r, c), spot in self._spot.items():
                values[spot] += grown[r] * grown[c] * stiff[spot]
            # Share of the bound that each principal direction of the enlarged piece hears.
            x, y = np.cos(left) ** 2, np.sin(left) ** 2
            share = np.stack([self.ratio[0] * x + self.ratio[1] * y, self.ratio[0] * y + self.ratio[1] * x], axis=1)
            mixed = grown * self.pulled_back(goal.mu * share / above**2 / s, left, right)
        if self.rim is not None:
            self._add_rim(at.points, pulled, values)
        return Model(
            pulled.ravel(),
            goal.lead - goal.mu * float(self.weights @ (share / above).sum(axis=1)),
            mixed.ravel(),
            goal.mu * float(self.weights @ (share**2 / above**2).sum(axis=1)),
            values,
        )

    def _assembled(
        self, s: FloatArray, left: FloatArray, right: FloatArray, slope: FloatArray, bend: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Derivative by the points (n, 2) and clamped Hessian values of a function of l = -ln s, given its first and
        second derivatives by l, (m, 2) each."""
        f1 = -slope / s
        f2 = np.maximum(bend + slope, 1e-3 * bend) / s**2
        apart = s[:, 0] - s[:, 1]
        close = np.abs(apart) < 1e-6
        flip = np.where(close, f2.mean(axis=1), (f1[:, 0] - f1[:, 1]) / np.where(close, 1.0, apart))
        twist = f1.sum(axis=1) / s.sum(axis=1)
        w = self.weights
        modes = (w * f2[:, 0], w * f2[:, 1], w * np.maximum(flip, 0.0), w * np.maximum(twist, 0.0))
        return self.pulled_back(f1, left, right), self.modes_on_pattern(*modes, left, right)

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


def _logs(s: FloatArray) -> FloatArray:
    return np.asarray(-np.log(s, out=np.full_like(s, -np.inf), where=s > 0))
