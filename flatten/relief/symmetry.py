"""Whether a panel is the mirror image of itself, and the line on its flat map about which it is."""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from meshes.base.arrays import FloatArray, IntArray
from meshes.base.surface import boundary_loops, directed_edges

# Mirrored vertices may miss the nearest vertex by this share of the mean edge: meshes need not be mirrored exactly.
MISS_SHARE = 0.75
# A plane with less of the panel than this share of its size to either side only grazes it.
LEAST_REACH = 0.1


@dataclass(frozen=True, eq=False)
class Axis:
    """The symmetry line on the plan: its two ends on the rim, start and end (2,) mm, and a unit normal (2,)."""

    start: FloatArray
    end: FloatArray
    normal: FloatArray

    def mirrored(self, points: FloatArray) -> FloatArray:
        """Points (k, 2) of the plan on the other side of the line."""
        return points - 2.0 * ((points - self.start) @ self.normal)[:, None] * self.normal

    def distance(self, points: FloatArray) -> FloatArray:
        """How far points (k, 2) are from the line, (k,)."""
        return np.abs((points - self.start) @ self.normal)


def symmetry_axis(
    vertices: FloatArray, triangles: IntArray, plan: FloatArray, *, across: FloatArray | None = None
) -> Axis | None:
    """The line that a panel's mirror plane cuts out of it, on the plan; None when the panel has no such plane.

    vertices (n, 3), plan (n, 2); across (3,): a normal to try before the principal axes of the panel.
    """
    middle = vertices.mean(axis=0)
    principal = np.linalg.svd(vertices - middle, full_matrices=False)[2]
    edges = np.unique(np.sort(directed_edges(triangles), axis=1), axis=0)
    miss = MISS_SHARE * float(np.linalg.norm(vertices[edges[:, 1]] - vertices[edges[:, 0]], axis=1).mean())
    least = LEAST_REACH * float(np.linalg.norm(np.ptp(vertices, axis=0)))
    rim = boundary_loops(triangles)[0]
    for normal in principal if across is None else [across, *principal]:
        unit = normal / np.linalg.norm(normal)
        off = (vertices - middle) @ unit
        ends = _ends(off[rim], plan[rim])
        if ends is None or min(float(off.max()), -float(off.min())) < least:
            continue
        flipped = vertices - 2.0 * off[:, None] * unit
        gaps = np.asarray(cKDTree(vertices).query(flipped)[0])
        if gaps.max() > miss:
            continue
        way = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
        return Axis(ends[0], ends[1], np.array([-way[1], way[0]]))
    return None


def _ends(off: FloatArray, rim: FloatArray) -> tuple[FloatArray, FloatArray] | None:
    """Where a plane meets the rim, as points of the plan, when it meets it exactly twice."""
    after, there = np.roll(off, -1), np.roll(rim, -1, axis=0)
    change = np.flatnonzero((off < 0) != (after < 0))
    if len(change) != 2:
        return None
    share = off[change] / (off[change] - after[change])
    points = (1.0 - share[:, None]) * rim[change] + share[:, None] * there[change]
    return points[0], points[1]
