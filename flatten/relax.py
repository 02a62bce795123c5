"""The piece with least energy: symmetric Dirichlet, by Newton steps that can never fold a triangle.

The energy is the mean over the seat's area of s1^2 + s2^2 + s1^-2 + s2^-2 with s the principal stretches; it is 4
without stretch and grows without bound as a triangle collapses (Smith & Schaefer, Bijective parameterization with free
boundaries, 2015). Its Hessian has closed-form eigenpairs, of which only the twist mode can be negative (Smith, de
Goes, Kim, Analytic eigensystems for isotropic distortion energies, 2019). That mode is clamped at zero far from the
minimum; close to it the true Hessian is used, so that the last steps converge quadratically. A step goes at most 0.9
of the way to the first fold (Smith & Schaefer 2015). The matrix is factored once and serves later steps as the
preconditioner of conjugate gradients, until it has become a poor one.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import sparse

from flatten.solver import SingularError, Solver, fill_order
from flatten.stretch import frames, singular
from meshes.arrays import FloatArray, IntArray

# Converged: the next step would lower the energy by less than this share of it. Stretch is then known to about the
# square root, 1e-10.
CONVERGED = 1e-20
# Below this share the energy's own rounding hides the decrease: full steps are taken on the model's word.
_POLISH = 1e-11
# Below this share the true Hessian is tried.
_NEAR = 1e-4
# Share of the predicted decrease that a step must bring (Armijo).
ARMIJO = 1e-4
_MOST_STEPS = 200
_MOST_INNER = 40


@dataclass(frozen=True, eq=False)
class Relaxed:
    """points (n, 2); energy: mean, 4 without stretch; steps: Newton steps; converged; residual: predicted further
    decrease over the energy; reason: why it stopped, in words; fallbacks: solves that needed another solver.
    """

    points: FloatArray
    energy: float
    steps: int
    converged: bool
    residual: float
    reason: str
    fallbacks: int


class Energy:
    """Symmetric Dirichlet energy of maps of one mesh: value, gradient, Hessian on a constant pattern.

    vertices (n, 3) and triangles (m, 3) of the seat, none degenerate. Points are (n, 2).
    """

    def __init__(self, vertices: FloatArray, triangles: IntArray) -> None:
        self.n, self.triangles = len(vertices), triangles
        flat, _, _ = frames(vertices, triangles)
        det = flat[:, 0, 0] * flat[:, 1, 1] - flat[:, 0, 1] * flat[:, 1, 0]
        self.weights = det / det.sum()
        # Gradients of the two hat functions of the second and third corner, (m,) each component.
        self._b = (flat[:, 1, 1] / det, -flat[:, 1, 0] / det)
        self._c = (-flat[:, 0, 1] / det, flat[:, 0, 0] / det)
        self.hats = (
            (-self._b[0] - self._c[0], -self._b[1] - self._c[1]),
            self._b,
            self._c,
        )
        self._pattern()

    def _pattern(self) -> None:
        """Column pattern of the Hessian and the place in it of every triangle's 2 x 2 blocks."""
        n, t = self.n, self.triangles
        pairs = [(i, j) for j in range(3) for i in range(3)]
        keys = np.concatenate([t[:, j] * n + t[:, i] for i, j in pairs])
        blocks, place = np.unique(keys, return_inverse=True)
        column, row = blocks // n, blocks % n
        counts = np.bincount(column, minlength=n)
        starts = np.concatenate([[0], np.cumsum(counts)])
        nth = np.arange(len(blocks)) - starts[column]
        # Block b, entry (r, c): column 2 column + c of the matrix, row 2 row + r.
        self._spot = {(r, c): 4 * starts[column] + c * 2 * counts[column] + 2 * nth + r for r in (0, 1) for c in (0, 1)}
        self._place = place
        self._blocks = len(blocks)
        self.indptr = np.concatenate([[0], np.cumsum(np.repeat(2 * counts, 2))])
        self.indices = np.empty(4 * len(blocks), dtype=np.int64)
        for (r, _), spot in self._spot.items():
            self.indices[spot] = 2 * row + r

    def maps(self, points: FloatArray) -> FloatArray:
        """The linear map of every triangle from seat to piece, (m, 2, 2)."""
        a, b, c = (points[self.triangles[:, k]] for k in range(3))
        u, v = b - a, c - a
        f = np.empty((len(u), 2, 2))
        for r in (0, 1):
            for s in (0, 1):
                f[:, r, s] = u[:, r] * self._b[s] + v[:, r] * self._c[s]
        return f

    def value(self, points: FloatArray) -> float:
        """Mean energy; infinite when a triangle is folded or flat."""
        f = self.maps(points)
        det = f[:, 0, 0] * f[:, 1, 1] - f[:, 0, 1] * f[:, 1, 0]
        if not np.all(det > 0):
            return float("inf")
        squares = np.einsum("mij,mij->m", f, f)
        return float(np.dot(self.weights, squares * (1.0 + 1.0 / det**2)))

    def gradient(self, points: FloatArray) -> FloatArray:
        """Derivative of `value` by the points, (n, 2)."""
        s, left, right = singular(self.maps(points))
        slope = (2.0 * s - 2.0 / s**3) * self.weights[:, None]
        stress = _rebuilt(slope, left, right)
        out = np.zeros((self.n, 2))
        corners = self.triangles.T.ravel()
        for r in (0, 1):
            parts = [stress[:, r, 0] * h[0] + stress[:, r, 1] * h[1] for h in self.hats]
            out[:, r] = np.bincount(corners, weights=np.concatenate(parts), minlength=self.n)
        return out

    def hessian(self, points: FloatArray, *, clamp: bool) -> FloatArray:
        """Values of the Hessian on the pattern (`indptr`, `indices`); clamp: twist modes held at zero or above."""
        s, left, right = singular(self.maps(points))
        s1, s2 = s[:, 0], s[:, 1]
        w, product = self.weights, s1 * s2
        first, second = w * (2.0 + 6.0 / s1**4), w * (2.0 + 6.0 / s2**4)
        flip = w * (2.0 + 2.0 * (s1 * s1 + product + s2 * s2) / product**3)
        twist = w * (2.0 - 2.0 * (s1 * s1 - product + s2 * s2) / product**3)
        if clamp:
            twist = np.maximum(twist, 0.0)
        same, cross = 0.5 * (flip + twist), 0.5 * (flip - twist)
        cr, sr, cl, sl = np.cos(right), np.sin(right), np.cos(left), np.sin(left)
        # Hat gradients in the frame of the principal directions on the seat.
        hats = [(cr * g[0] - sr * g[1], sr * g[0] + cr * g[1]) for g in self.hats]
        parts: dict[tuple[int, int], list[FloatArray]] = {(r, c): [] for r in (0, 1) for c in (0, 1)}
        for j in range(3):
            for i in range(3):
                (p, q), (u, v) = hats[i], hats[j]
                k11, k22 = first * p * u + same * q * v, second * q * v + same * p * u
                k12, k21 = cross * q * u, cross * p * v
                x, y = cl * k11 - sl * k21, cl * k12 - sl * k22
                z, t = sl * k11 + cl * k21, sl * k12 + cl * k22
                parts[0, 0].append(x * cl - y * sl)
                parts[0, 1].append(x * sl + y * cl)
                parts[1, 0].append(z * cl - t * sl)
                parts[1, 1].append(z * sl + t * cl)
        values = np.empty(4 * self._blocks)
        for entry, spot in self._spot.items():
            values[spot] = np.bincount(self._place, weights=np.concatenate(parts[entry]), minlength=self._blocks)
        return values


def _rebuilt(s: FloatArray, left: FloatArray, right: FloatArray) -> FloatArray:
    """rot(left) diag(s) rot(right) for each row, (m, 2, 2)."""
    cl, sl, cr, sr = np.cos(left), np.sin(left), np.cos(right), np.sin(right)
    out = np.empty((len(s), 2, 2))
    out[:, 0, 0] = cl * s[:, 0] * cr - sl * s[:, 1] * sr
    out[:, 0, 1] = -cl * s[:, 0] * sr - sl * s[:, 1] * cr
    out[:, 1, 0] = sl * s[:, 0] * cr + cl * s[:, 1] * sr
    out[:, 1, 1] = -sl * s[:, 0] * sr + cl * s[:, 1] * cr
    return out


def first_fold(points: FloatArray, step: FloatArray, triangles: IntArray) -> float:
    """The smallest t > 0 at which a triangle of points + t step has no area; infinite when there is none."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    da, db, dc = (step[triangles[:, k]] for k in range(3))
    u, v, du, dv = b - a, c - a, db - da, dc - da
    c0 = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    c1 = u[:, 0] * dv[:, 1] - u[:, 1] * dv[:, 0] + du[:, 0] * v[:, 1] - du[:, 1] * v[:, 0]
    c2 = du[:, 0] * dv[:, 1] - du[:, 1] * dv[:, 0]
    disc = c1 * c1 - 4.0 * c0 * c2
    # Smallest positive root, in the form without cancellation: 2 c0 / (-c1 + sqrt(disc)).
    below = -c1 + np.sqrt(np.maximum(disc, 0.0))
    real = (disc >= 0) & (below > 0)
    return float((2.0 * c0[real] / below[real]).min()) if real.any() else float("inf")


class _Newton:
    """State of one minimisation: the energy, the pinned unknowns and the factor kept for preconditioning."""

    def __init__(self, energy: Energy, points: FloatArray) -> None:
        self.energy = energy
        self.solver = Solver(energy.indptr, energy.indices)
        self.factored = False
        self.pins = _pins(points)
        columns = np.repeat(np.arange(2 * energy.n), np.diff(energy.indptr))
        held = np.isin(energy.indices, self.pins) | np.isin(columns, self.pins)
        self._held = np.flatnonzero(held)
        self._ones = np.flatnonzero(held & (energy.indices == columns))

    def matrix(self, points: FloatArray, *, clamp: bool) -> FloatArray:
        values = self.energy.hessian(points, clamp=clamp)
        values[self._held] = 0.0
        values[self._ones] = self.energy.weights.mean()
        return values

    def slope(self, points: FloatArray) -> FloatArray:
        g = self.energy.gradient(points).ravel()
        g[self.pins] = 0.0
        return g

    def step(self, points: FloatArray, g: FloatArray, *, clamp: bool, accuracy: float) -> FloatArray | None:
        """The Newton step, (2 n,); None when the true Hessian turns out not to be positive definite."""
        values = self.matrix(points, clamp=clamp)
        if self.factored:
            found = self._gradients(values, g, accuracy)
            if found is not None:
                return found
            if not clamp:
                return None
        self.solver.refactor(values)
        self.factored = True
        return -self.solver.solve(g)

    def _gradients(self, values: FloatArray, g: FloatArray, accuracy: float) -> FloatArray | None:
        """Conjugate gradients with the kept factor; None when they meet a negative curvature or take too long."""
        size = (2 * self.energy.n, 2 * self.energy.n)
        a = sparse.csr_matrix((values, self.energy.indices, self.energy.indptr), shape=size)
        x, r = np.zeros_like(g), -g
        z = self.solver.precondition(r)
        p, rz = z, float(r @ z)
        goal = accuracy**2 * rz
        for _ in range(_MOST_INNER):
            q = a @ p
            bend = float(p @ q)
            if not bend > 0:
                return None
            x = x + (rz / bend) * p
            r = r - (rz / bend) * q
            z = self.solver.precondition(r)
            new = float(r @ z)
            if new <= goal:
                return x
            p, rz = z + (new / rz) * p, new
        return None


def _pins(points: FloatArray) -> IntArray:
    """Three unknowns that hold a rigid motion: both of the middle vertex, and y of the one farthest along x from it."""
    middle = int(np.argmin(((points - points.mean(axis=0)) ** 2).sum(axis=1)))
    far = int(np.argmax(np.abs(points[:, 0] - points[middle, 0])))
    return np.array([2 * middle, 2 * middle + 1, 2 * far + 1])


def relax(
    vertices: FloatArray,
    start: FloatArray,
    triangles: IntArray,
    *,
    progress: Callable[[int, float], None] | None = None,
) -> Relaxed:
    """Minimise the energy from a fold-free start.

    vertices (n, 3) mm, start (n, 2) mm, triangles (m, 3). Every triangle must have area on the seat and be
    counter-clockwise at the start; that holds for the result too. progress is called with the step and the energy.
    Raises ValueError when the start is folded.
    """
    order = fill_order(triangles, len(vertices))
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    energy = Energy(vertices[order], rank[triangles])
    x = start[order].copy()
    if not np.isfinite(energy.value(x)):
        raise ValueError("the start is folded")
    x, found = _descend(energy, x, progress or (lambda step, value: None))
    return Relaxed(x[rank], *found)


def _descend(
    energy: Energy, x: FloatArray, say: Callable[[int, float], None]
) -> tuple[FloatArray, tuple[float, int, bool, float, str, int]]:
    newton = _Newton(energy, x)
    value, residual, steps, clamp = energy.value(x), float("inf"), 0, True
    converged, reason = False, f"{_MOST_STEPS} steps were not enough"
    while steps < _MOST_STEPS:
        say(steps, value)
        g = newton.slope(x)
        accuracy = max(1e-7, min(0.05, residual**0.25))
        try:
            d = newton.step(x, g, clamp=clamp, accuracy=accuracy)
        except SingularError as fault:
            reason = f"the linear system could not be solved: {fault}"
            break
        if d is None:
            clamp = True
            continue
        before, residual = residual, float(-(g @ d)) / (2.0 * value)
        step = d.reshape(-1, 2)
        if residual < _POLISH and residual > 0.25 * before:
            converged, reason = residual < 1e3 * CONVERGED, "rounding allows no further decrease"
            break
        moved = _moved(energy, x, step, value, residual)
        if moved is None:
            reason = "no step lowers the energy"
            break
        x, value = moved
        steps += 1
        clamp = residual > _NEAR
        if residual <= CONVERGED:
            converged, reason = True, "converged"
            break
    return x, (value, steps, converged, residual, reason, newton.solver.fallbacks)


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
