"""A soft solid in plane strain whose energy is separable in the principal stretches: energy, forces, stiffness.

Linear triangles. The energy of a triangle is area x (w(s1) + w(s2)), s1 and s2 being the principal stretches, so that a
bar pressed one way answers exactly as the law w has it and does not grow wider (Poisson's ratio 0: nothing locks). Its
second derivatives have closed-form eigenpairs (Smith, de Goes and Kim 2019, "Analytic eigensystems for isotropic
distortion energies"); the negative ones are left out, so every step of a search goes downhill. Lengths mm, w in N/mm2,
energies N per mm of width.
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from scipy import sparse

from meshes.base.arrays import FloatArray, IntArray

# A triangle pressed flatter than this share is no state of a solid.
LEAST_STRETCH = 1e-3
# Two principal stretches nearer than this count as equal.
_EQUAL = 1e-7


class StretchLaw(Protocol):
    """Energy density w of a principal stretch (any shape), its first and its second derivative."""

    def __call__(self, stretch: FloatArray, /) -> tuple[FloatArray, FloatArray, FloatArray]: ...


@dataclass(frozen=True, eq=False)
class SolidState:
    """energy; slope (2 n,) and stiffness (2 n, 2 n) by x and y of every point."""

    energy: float
    slope: FloatArray
    stiffness: sparse.csr_matrix


class PlaneSolid:
    """points (n, 2) at rest, triangles (m, 3) counter-clockwise; law: the material's."""

    def __init__(self, points: FloatArray, triangles: IntArray, law: StretchLaw) -> None:
        self.triangles, self.law, self.count = triangles, law, len(points)
        a, b, c = (points[triangles[:, k]] for k in range(3))
        twice = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
        self.area = 0.5 * twice
        opposite = np.stack([b - c, c - a, a - b], axis=1)
        self.gradient = np.stack([opposite[..., 1], -opposite[..., 0]], axis=2) / twice[:, None, None]
        numbers = (2 * triangles[:, :, None] + np.arange(2)).reshape(-1, 6)
        self._rows, self._cols = np.repeat(numbers, 6, axis=1).ravel(), np.tile(numbers, (1, 6)).ravel()

    def energy(self, at: FloatArray) -> float:
        """Energy with the points at (n, 2); infinite where a triangle is turned over or pressed flat."""
        _, stretch, _ = self._stretches(at)
        if stretch.min() <= LEAST_STRETCH:
            return float(np.inf)
        return float((self.area * self.law(stretch)[0].sum(axis=1)).sum())

    def state(self, at: FloatArray) -> SolidState:
        """Energy, slope and stiffness with the points at (n, 2), no triangle of which is turned over."""
        left, stretch, right = self._stretches(at)
        energy, first, second = self.law(stretch)
        stress = np.einsum("mai,mi,mbi->mab", left, first, right)
        force = np.einsum("mab,mkb->mka", stress, self.gradient) * self.area[:, None, None]
        size = 2 * self.count
        numbers = (2 * self.triangles[:, :, None] + np.arange(2)).ravel()
        slope = np.asarray(np.bincount(numbers, force.ravel(), size), dtype=np.float64)
        values = self._stiff(left, right, stretch, first, second).ravel()
        stiffness = sparse.coo_matrix((values, (self._rows, self._cols)), shape=(size, size)).tocsr()
        return SolidState(float((self.area * energy.sum(axis=1)).sum()), slope, stiffness)

    def _stretches(self, at: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Rotations left and right (m, 2, 2), by columns, and signed principal stretches (m, 2) of every triangle."""
        deformation = np.einsum("mka,mkb->mab", at[self.triangles], self.gradient)
        left, stretch, right_t = np.linalg.svd(deformation)
        right = np.swapaxes(right_t, 1, 2)
        turned = np.linalg.det(left), np.linalg.det(right)
        stretch[:, 1] *= turned[0] * turned[1]
        left[:, :, 1] *= turned[0][:, None]
        right[:, :, 1] *= turned[1][:, None]
        return left, stretch, right

    def _stiff(
        self, left: FloatArray, right: FloatArray, stretch: FloatArray, first: FloatArray, second: FloatArray
    ) -> FloatArray:
        """Element stiffness (m, 6, 6): both stretches, twist and flip, without what is negative."""
        apart = stretch[:, 0] - stretch[:, 1]
        even = np.abs(apart) < _EQUAL
        flip = np.where(even, second.mean(axis=1), (first[:, 0] - first[:, 1]) / np.where(even, 1.0, apart))
        twist = first.sum(axis=1) / stretch.sum(axis=1)
        both = np.einsum("mai,mbj->mijab", left, right)
        modes = (
            (both[:, 0, 0], second[:, 0]),
            (both[:, 1, 1], second[:, 1]),
            ((both[:, 0, 1] - both[:, 1, 0]) / np.sqrt(2.0), twist),
            ((both[:, 0, 1] + both[:, 1, 0]) / np.sqrt(2.0), flip),
        )
        total = np.zeros((len(stretch), 6, 6))
        for mode, value in modes:
            row = np.einsum("mab,mkb->mka", mode, self.gradient).reshape(-1, 6)
            total += (np.maximum(value, 0.0) * self.area)[:, None, None] * row[:, :, None] * row[:, None, :]
        return total
