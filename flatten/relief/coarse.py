"""A coarse copy of a panel for trials: few even triangles over its flat map, their corners lifted to the seat.

The copy keeps the rim's corners and only takes rim vertices of the panel, so that a line found on the copy ends at a
vertex of the panel.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.spatial import cKDTree

from meshes.base.arrays import FloatArray, IntArray
from meshes.base.surface import boundary_loops, triangle_areas
from meshes.numerics.triangulate import LinesTooCloseError, triangulate

# A rim vertex where the plan turns by more than this is a corner.
RIM_CORNER_RAD = np.deg2rad(25.0)
# Triangles of the panel tried for the place of a point, by the distance of their middles.
NEAREST = 16


@dataclass(frozen=True, eq=False)
class Coarse:
    """vertices (k, 3) mm, triangles (j, 3), plan (k, 2) mm."""

    vertices: FloatArray
    triangles: IntArray
    plan: FloatArray


def rim_turns(plan: FloatArray, rim: IntArray) -> FloatArray:
    """Turn of the rim polygon at each of its vertices, shape (k,), radians, to the left positive."""
    step = np.roll(plan[rim], -1, axis=0) - plan[rim]
    heading = np.arctan2(step[:, 1], step[:, 0])
    return np.angle(np.exp(1j * (heading - np.roll(heading, 1))))


def coarse_copy(vertices: FloatArray, triangles: IntArray, plan: FloatArray, *, count: int = 700) -> Coarse:
    """About `count` triangles in place of a panel's (m, 3); the panel itself when it has at most half as many again,
    or when its rim is too intricate for so few."""
    if 2 * len(triangles) <= 3 * count:
        return Coarse(vertices, triangles, plan)
    area = float(triangle_areas(plan, triangles).sum())
    edge_mm = float(np.sqrt(area / count * 4.0 / np.sqrt(3.0)))
    rim = boundary_loops(triangles)[0]
    kept = _thinned(plan, rim, edge_mm)
    k = np.arange(len(kept))
    try:
        flat = triangulate(
            plan[kept], np.stack([k, np.roll(k, -1)], axis=1), rim=np.ones(len(kept), dtype=bool), edge_mm=edge_mm
        )
    except LinesTooCloseError:
        return Coarse(vertices, triangles, plan)
    lifted = lift(flat.points, vertices, triangles, plan)
    lifted[: len(kept)] = vertices[kept]
    return Coarse(lifted, flat.triangles, flat.points)


def _thinned(plan: FloatArray, rim: IntArray, edge_mm: float) -> IntArray:
    """Rim vertices about `edge_mm` apart, all corners among them."""
    corner = np.abs(rim_turns(plan, rim)) > RIM_CORNER_RAD
    start = int(np.argmax(corner))
    rim, corner = np.roll(rim, -start), np.roll(corner, -start)
    steps = np.linalg.norm(np.roll(plan[rim], -1, axis=0) - plan[rim], axis=1)
    place = np.concatenate([[0.0], np.cumsum(steps)])
    bounds = np.append(np.flatnonzero(corner), len(rim))
    if bounds[0] != 0:
        bounds = np.concatenate([[0], bounds])
    kept: list[int] = []
    for first, last in pairwise(bounds.tolist()):
        pieces = max(1, round((place[last] - place[first]) / edge_mm))
        wanted = place[first] + (place[last] - place[first]) * np.arange(pieces) / pieces
        kept += np.searchsorted(place[:last], wanted - 1e-9 * edge_mm).tolist()
    return rim[np.unique(kept)]


def lift(points: FloatArray, vertices: FloatArray, triangles: IntArray, plan: FloatArray) -> FloatArray:
    """Places on the seat, (k, 3), of points (k, 2) of the plan; a point beyond the rim goes to the nearest triangle."""
    corners = plan[triangles]
    near = cKDTree(corners.mean(axis=1)).query(points, k=min(NEAREST, len(triangles)))[1].reshape(len(points), -1)
    a, b, c = (corners[near][:, :, k] for k in range(3))
    u, v, w = b - a, c - a, points[:, None, :] - a
    det = u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]
    s = (w[..., 0] * v[..., 1] - w[..., 1] * v[..., 0]) / det
    t = (u[..., 0] * w[..., 1] - u[..., 1] * w[..., 0]) / det
    shares = np.stack([1.0 - s - t, s, t], axis=2)
    best = np.argmax(shares.min(axis=2), axis=1)
    row = np.arange(len(points))
    share = np.clip(shares[row, best], 0.0, None)
    share /= share.sum(axis=1, keepdims=True)
    return np.einsum("kc,kcx->kx", share, vertices[triangles[near[row, best]]])
