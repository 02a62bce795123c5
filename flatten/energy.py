"""How much a flat map stretches its piece, as one number, with its slope and its curvature: symmetric Dirichlet.

The energy is the mean over the seat's area of s1^2 + s2^2 + s1^-2 + s2^-2 with s the principal stretches; it is 4
without stretch and grows without bound as a triangle collapses (Smith & Schaefer, Bijective parameterization with free
boundaries, 2015). Its Hessian has closed-form eigenpairs, of which only the twist mode can be negative (Smith, de
Goes, Kim, Analytic eigensystems for isotropic distortion energies, 2019).
"""

import numpy as np

from flatten.stretch import frames, singular
from meshes.arrays import FloatArray, IntArray


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
        self._keys = blocks
        self._blocks = len(blocks)
        self.indptr = np.concatenate([[0], np.cumsum(np.repeat(2 * counts, 2))])
        self.indices = np.empty(4 * len(blocks), dtype=np.int64)
        for (r, _), spot in self._spot.items():
            self.indices[spot] = 2 * row + r

    def block_spots(self, rows: IntArray, columns: IntArray) -> dict[tuple[int, int], IntArray]:
        """Where the 2 x 2 blocks of vertex pairs (k,) that share a triangle stand among the Hessian values."""
        block = np.searchsorted(self._keys, columns * self.n + rows)
        return {entry: spot[block] for entry, spot in self._spot.items()}

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
        return self.spread_out(rebuilt(slope, left, right))

    def spread_out(self, stress: FloatArray) -> FloatArray:
        """Forces (n, 2) on the vertices from a derivative (m, 2, 2) by the triangles' maps."""
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
        return self.modes_on_pattern(first, second, flip, twist, left, right)

    def modes_on_pattern(
        self,
        first: FloatArray,
        second: FloatArray,
        flip: FloatArray,
        twist: FloatArray,
        left: FloatArray,
        right: FloatArray,
    ) -> FloatArray:
        """Hessian values on the pattern from every triangle's eigenvalues (m,): of the larger and smaller stretch, of
        the flip and of the twist; left, right (m,): angles of the principal directions on piece and seat."""
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


def rebuilt(s: FloatArray, left: FloatArray, right: FloatArray) -> FloatArray:
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
