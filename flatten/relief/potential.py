"""The curvature potential of a panel: what its curvature adds up to, and where a dart should end.

u solves Laplace(u) = K on the panel, with u = 0 on the rim and K the Gauss curvature (angle defects at the inner
vertices; cotangent weights, Pinkall and Polthier 1993). u is the logarithm of the scale of the conformal map with a
true rim (Bunin 2008, A continuum theory for unstructured mesh generation, and Springborn, Schroeder and Pinkall 2008
for meshes), so its extremes are the places that the rim can do least for.
"""

from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import FloatArray, IntArray
from meshes.base.surface import boundary_loops
from meshes.numerics.laplace import corner_angles, laplacian
from meshes.numerics.solver import Factor

# Extremes below this share of the largest one, or nearer to a larger one than this share of the panel's size, are
# left out.
LEAST_EXTREME_SHARE, APART = 0.25, 0.2


@dataclass(frozen=True, eq=False)
class Potential:
    """values (n,): u at the vertices, positive over domes; extremes: inner vertices where |u| is largest around, the
    largest first; total: the curvature of the whole panel in radians."""

    values: FloatArray
    extremes: IntArray
    total: float


def potential(vertices: FloatArray, triangles: IntArray, *, most: int = 3) -> Potential:
    """Solve for the potential of a disc, vertices (n, 3) mm, triangles (m, 3); at most `most` extremes.

    A panel without inner vertices has no extremes.
    """
    n = len(vertices)
    rim = boundary_loops(triangles)[0]
    inside = np.setdiff1d(np.arange(n), rim)
    values = np.zeros(n)
    if len(inside) == 0:
        return Potential(values, inside, 0.0)
    angles, cotangents = corner_angles(vertices, triangles)
    defect = 2.0 * np.pi - np.bincount(triangles.ravel(), weights=angles.ravel(), minlength=n)[inside]
    matrix = laplacian(triangles, cotangents, n)[inside][:, inside]
    values[inside] = Factor(matrix).solve(np.asarray(defect, dtype=np.float64))
    return Potential(values, _extremes(values, vertices, triangles, inside, most), float(defect.sum()))


def _extremes(values: FloatArray, vertices: FloatArray, triangles: IntArray, inside: IntArray, most: int) -> IntArray:
    """Vertices whose |u| no neighbour exceeds, the largest first, well apart from each other."""
    height = np.abs(values)
    around = np.zeros_like(height)
    np.maximum.at(around, triangles.ravel(), np.repeat(height[triangles].max(axis=1), 3))
    peaks = inside[(height[inside] >= around[inside]) & (height[inside] >= LEAST_EXTREME_SHARE * height.max())]
    apart = APART * float(np.linalg.norm(np.ptp(vertices, axis=0)))
    kept: list[int] = []
    for peak in peaks[np.argsort(-height[peaks], kind="stable")].tolist():
        far = all(float(np.linalg.norm(vertices[peak] - vertices[other])) > apart for other in kept)
        if far and len(kept) < most and height[peak] > 0:
            kept.append(peak)
    return np.array(kept, dtype=np.int64)
