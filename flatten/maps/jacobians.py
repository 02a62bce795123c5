"""The linear maps of a mesh's triangles from seat to piece, and the energy that needs no more than them.

The symmetric Dirichlet energy is the mean over the seat's area of s1^2 + s2^2 + s1^-2 + s2^-2 with s the principal
stretches (Smith & Schaefer, Bijective parameterization with free boundaries, 2015). With I = |F|^2 and J = det F it is
I (1 + J^-2), so the stretches themselves are not needed.
"""

import numpy as np

from flatten.leather.stretch import frames
from meshes.base.arrays import FloatArray, IntArray


class Maps:
    """Maps of one mesh: vertices (n, 3) and triangles (m, 3) of the seat, none degenerate. Points are (n, 2)."""

    def __init__(self, vertices: FloatArray, triangles: IntArray) -> None:
        self.triangles = triangles
        self._corners = tuple(np.ascontiguousarray(triangles[:, k]) for k in range(3))
        flat, _, _ = frames(vertices, triangles)
        det = flat[:, 0, 0] * flat[:, 1, 1] - flat[:, 0, 1] * flat[:, 1, 0]
        self.weights = det / det.sum()
        # Gradients of the two hat functions of the second and third corner, (m,) each component.
        self._b = (flat[:, 1, 1] / det, -flat[:, 1, 0] / det)
        self._c = (-flat[:, 0, 1] / det, flat[:, 0, 0] / det)
        self.hats = ((-self._b[0] - self._c[0], -self._b[1] - self._c[1]), self._b, self._c)

    def maps(self, points: FloatArray) -> FloatArray:
        """The linear map of every triangle from seat to piece, (m, 2, 2)."""
        out = np.empty((2, 2, len(self.triangles)))
        for r in (0, 1):
            place = np.ascontiguousarray(points[:, r])
            first = place[self._corners[0]]
            u, v = place[self._corners[1]] - first, place[self._corners[2]] - first
            for s in (0, 1):
                out[r, s] = u * self._b[s] + v * self._c[s]
        return out.transpose(2, 0, 1)

    def invariants(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """I = |F|^2 and J = det F of every triangle's map, (m,) each."""
        f = self.maps(points)
        a, b, c, d = f[:, 0, 0], f[:, 0, 1], f[:, 1, 0], f[:, 1, 1]
        return a * a + b * b + c * c + d * d, a * d - b * c

    def value(self, points: FloatArray) -> float:
        """Mean energy; infinite when a triangle is folded or flat."""
        squares, det = self.invariants(points)
        if not np.all(det > 0):
            return float("inf")
        return float(np.dot(self.weights, squares * (1.0 + 1.0 / (det * det))))

    def best_scale(self, points: FloatArray) -> float:
        """The factor on the points that gives the least energy: the fourth root of a ratio of means."""
        squares, det = self.invariants(points)
        return float((np.dot(self.weights, squares / (det * det)) / np.dot(self.weights, squares)) ** 0.25)
