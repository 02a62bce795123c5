"""Triangles of a seat, and parts of them, on which functions are linear: finer near a centre, the surface unchanged.

Circles about a centre are poorly followed by functions linear in the mesh's own triangles where those are large for
their distance from it. Cutting such triangles in four, several times over, makes the functions better and proofs that
rest on them sharper; the polyhedral surface they speak of stays what it was.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import BoolArray, FloatArray, IntArray

Seams = Sequence[tuple[IntArray, IntArray]]


@dataclass(frozen=True, eq=False)
class Cells:
    """Triangles on which a function is linear: corners (m, 3) and shapes (4, m): with p and q the sides from the first
    corner, p.p, p.q, q.q and |p x q|. They may be parts of the mesh's triangles.
    """

    triangles: IntArray
    shapes: FloatArray

    def subdivide(self, chosen: BoolArray, n: int) -> tuple["Cells", IntArray, BoolArray]:
        """The chosen ones cut in four at the middles of their sides, numbered from n on.

        Returns the cells, the two ends of every new point's side (k, 2), and which of the new points lie on a side
        that only one chosen triangle has: there a function must stay linear along the side.
        """
        t = self.triangles[chosen]
        sides = np.sort(np.concatenate([t[:, [1, 2]], t[:, [2, 0]], t[:, [0, 1]]]), axis=1)
        _, first, place, count = np.unique(
            sides[:, 0] * n + sides[:, 1], return_index=True, return_inverse=True, return_counts=True
        )
        x, y, z = n + place.reshape(3, -1)
        a, b, c = t.T
        # Each part is the whole at half size, the middle one turned half round.
        parts = [np.stack(p, axis=1) for p in ((a, z, y), (z, b, x), (y, x, c), (x, y, z))]
        small = np.tile(0.25 * self.shapes[:, chosen], 4)
        cells = Cells(
            np.concatenate([self.triangles[~chosen], *parts]), np.concatenate([self.shapes[:, ~chosen], small], axis=1)
        )
        return cells, sides[first], count == 1

    def steepness(self, u: FloatArray) -> FloatArray:
        """|grad u| in every cell, (m,), for u given at the corners' numbers."""
        i = u[self.triangles]
        p, q = i[:, 1] - i[:, 0], i[:, 2] - i[:, 0]
        pp, pq, qq, twice = self.shapes
        return np.sqrt(np.maximum(q * q * pp - 2 * p * q * pq + p * p * qq, 0.0)) / twice


@dataclass(frozen=True, eq=False)
class Graded:
    """Cells finer towards a centre: their points (n, 2) on the piece, the mesh's own first, and seams: hanging nodes,
    which must take the middle value of two others, as (points, their ends), coarse to fine.
    """

    cells: Cells
    points: FloatArray
    seams: Seams

    def joined(self, u: FloatArray) -> FloatArray:
        """u with the seams' points set to the middle of their ends, so that it is continuous."""
        out = u.copy()
        for middles, ends in self.seams:
            out[middles] = out[ends].mean(axis=1)
        return out


def cells_of(vertices: FloatArray, triangles: IntArray) -> Cells:
    """The triangles of a mesh, vertices (n, 3) mm."""
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    p, q = b - a, c - a
    products = [np.einsum("mk,mk->m", x, y) for x, y in ((p, p), (p, q), (q, q))]
    return Cells(triangles, np.stack([*products, np.linalg.norm(np.cross(p, q), axis=1)]))


def graded(cells: Cells, points: FloatArray, centre: FloatArray, *, near: float = 32.0, partings: int = 3) -> Graded:
    """Cells of a mesh with flat map `points` (n, 2), parted at most `partings` times over where their distance from
    `centre` is less than `near` times their size.
    """
    seams = []
    for _ in range(partings):
        corners = points[cells.triangles]
        size = np.abs(corners - np.roll(corners, 1, axis=1)).max(axis=(1, 2))
        large = np.linalg.norm(corners - centre, axis=2).min(axis=1) < near * size
        if not large.any():
            break
        cells, ends, loose = cells.subdivide(large, len(points))
        seams.append((len(points) + np.flatnonzero(loose), ends[loose]))
        points = np.concatenate([points, points[ends].mean(axis=1)])
    return Graded(cells, points, seams)
