"""Where padding is to be higher, and by how much at every place of a pad: the whole amount along a stretch of a seam or
in the middle of a piece, run out smoothly around it over the surface of the seat.

Distances over the surface by the heat method (Crane, Weischedel and Wardetzky, Geodesics in heat, 2013).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.spatial import cKDTree

from meshes.base.arrays import FloatArray, IntArray
from meshes.base.surface import Surface, triangle_areas
from meshes.numerics.laplace import corner_angles, laplacian
from meshes.numerics.smooth import smooth_step
from meshes.numerics.solver import Factor
from meshes.seat.build import BuiltPad

# Over how much padding that is to be higher runs out where the row does not say (common practice, no source), and over
# how many times its amount at least.
RUNS_OUT_MM, RUNS_OUT_TIMES = 80.0, 8.0
# So near to a line where the cover is fixed it cannot be raised.
FIXED_NEAR_MM = 10.0
# Distances are taken on a part of the pad that is so many times as large as they are asked for.
FARTHER = 1.5


@dataclass(frozen=True, eq=False)
class RaisedPlace:
    """One place. vertices: of the pad's surface; amount_mm: by how much, below 0 lower; taper_mm: over which it runs
    out."""

    vertices: IntArray
    amount_mm: float
    taper_mm: float


def raised_mm(pad: BuiltPad, rounds: Sequence[Sequence[RaisedPlace]]) -> FloatArray:
    """By how much a pad is raised at every vertex (n,), mm: all rounds together. Places of one round that run into each
    other share what lies between them."""
    total = np.zeros(len(pad.surface.vertices))
    fixed = fixed_vertices(pad)
    for places in rounds:
        weights = np.array([_weight(pad.surface, place, fixed) for place in places])
        amounts = np.array([place.amount_mm for place in places])
        total += amounts @ weights / np.maximum(weights.sum(axis=0), 1.0)
    return total


def fixed_vertices(pad: BuiltPad) -> IntArray:
    """Vertices where the cover is fixed on the frame; none of a closed cover."""
    if not pad.pad.on_frame:
        return np.zeros(0, dtype=np.int64)
    runs = [panel.vertices[edge.vertices] for panel in pad.panels for edge in panel.rim if edge.seam is None]
    return np.unique(np.concatenate([np.zeros(0, dtype=np.int64), *runs]))


def off_fixed(pad: BuiltPad, vertices: IntArray) -> IntArray:
    """Those of some vertices that lie clear of lines where the cover is fixed."""
    fixed = fixed_vertices(pad)
    if not len(fixed):
        return vertices
    away = np.asarray(cKDTree(pad.surface.vertices[fixed]).query(pad.surface.vertices[vertices])[0])
    return vertices[away > FIXED_NEAR_MM]


def _weight(surface: Surface, place: RaisedPlace, fixed: IntArray) -> FloatArray:
    """1 at a place, 0 from its run-out on and along fixed lines, (n,)."""
    away = distances(surface, place.vertices, place.taper_mm)
    weight = smooth_step(1.0 - away / place.taper_mm)
    near = fixed[away[fixed] < FARTHER * place.taper_mm]
    if len(near):
        from_fixed = distances(surface, near, 2.0 * place.taper_mm)
        room = float(np.clip(from_fixed[place.vertices].min(), FIXED_NEAR_MM, place.taper_mm))
        weight = weight * smooth_step(from_fixed / room)
        weight[fixed] = 0.0
    return weight


def distances(surface: Surface, sources: IntArray, most_mm: float) -> FloatArray:
    """Distance over a surface from the nearest of some vertices, (n,) mm; infinite well beyond the most that is
    asked."""
    found = np.full(len(surface.vertices), np.inf)
    straight = np.asarray(cKDTree(surface.vertices[sources]).query(surface.vertices)[0])
    rows = surface.triangles[(straight[surface.triangles] <= FARTHER * most_mm).all(axis=1)]
    kept, numbered = np.unique(rows, return_inverse=True)
    triangles = numbered.reshape(-1, 3)
    parts = sparse.csgraph.connected_components(_links(triangles, len(kept)), directed=False)[1]
    begin = np.flatnonzero(np.isin(kept, sources))
    for part in np.unique(parts[begin]):
        own = np.flatnonzero(parts == part)
        back = np.full(len(kept), -1)
        back[own] = np.arange(len(own))
        inside = back[triangles[parts[triangles[:, 0]] == part]]
        starts = back[begin[parts[begin] == part]]
        found[kept[own]] = _heat(surface.vertices[kept[own]], inside, starts)
    # Numbers of triangles' corners are not exact distances: none is shorter than the straight line.
    return np.maximum(found, straight)


def _links(triangles: IntArray, count: int) -> sparse.csr_matrix:
    ends = triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    return sparse.csr_matrix((np.ones(len(ends)), ends.T), shape=(count, count))


def _heat(vertices: FloatArray, triangles: IntArray, sources: IntArray) -> FloatArray:
    n, areas = len(vertices), triangle_areas(vertices, triangles)
    cotangents = corner_angles(vertices, triangles)[1]
    stiff = laplacian(triangles, cotangents, n)
    mass = np.bincount(triangles.ravel(), np.repeat(areas / 3.0, 3), minlength=n)
    edges = [vertices[triangles[:, (k + 2) % 3]] - vertices[triangles[:, (k + 1) % 3]] for k in range(3)]
    spread = float(np.mean([np.linalg.norm(edge, axis=1).mean() for edge in edges])) ** 2
    start = np.zeros(n)
    start[sources] = 1.0
    heat = Factor(sparse.diags_array(mass) + spread * stiff).solve(start)
    normal = np.cross(edges[1], edges[2])
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    slope = sum(heat[triangles[:, k], None] * np.cross(normal, edges[k]) for k in range(3))
    way = -slope / np.maximum(np.linalg.norm(slope, axis=1), 1e-300)[:, None]
    out = np.zeros(n)
    for k in range(3):
        one, two = edges[(k + 2) % 3], -edges[(k + 1) % 3]
        part = cotangents[:, (k + 2) % 3] * (one * way).sum(axis=1) + cotangents[:, (k + 1) % 3] * (two * way).sum(
            axis=1
        )
        np.add.at(out, triangles[:, k], 0.5 * part)
    held = sparse.diags_array(mass * 1e-9 / spread)
    away = Factor(stiff + held).solve(-(out - out.sum() * mass / mass.sum()))
    return np.asarray(away - away[sources].mean())
