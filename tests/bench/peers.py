"""The libraries that flatten too, each as one function: seconds spent inside the library, and the map it made.

Seconds of a peer cover its own set-up and its iterations, not the checks made here between them.
"""

import os
import time
from dataclasses import dataclass

import igl
import numpy as np

from flatten.leather.stretch import stretch
from flatten.maps.start import best_scale, circle_map, flipped
from meshes.base.arrays import FloatArray, IntArray

# A SLIM run ends when a round lowers the energy's excess over 4, which is that of a rigid map, by less than this share.
SLIM_DONE = 1e-4
MOST_ROUNDS = 300
# Seconds on the wall, or of the processor where others share it (all threads together).
clock = time.process_time if os.environ.get("BENCH_CLOCK") == "cpu" else time.perf_counter


@dataclass(frozen=True, eq=False)
class Made:
    """points (n, 2), or None when the peer gave no map; seconds; rounds of its iteration."""

    points: FloatArray | None
    seconds: float
    rounds: int


def lscm(seat: FloatArray, triangles: IntArray) -> Made:
    """Least squares conformal map (Levy et al. 2002) with two far rim vertices held, at its best size."""
    begin = clock()
    rim = igl.boundary_loop(triangles)
    pins = np.array([rim[0], rim[len(rim) // 2]], dtype=np.int64)
    away = float(np.linalg.norm(seat[pins[1]] - seat[pins[0]]))
    points = np.asarray(igl.lscm(seat, triangles, pins, np.array([[0.0, 0.0], [away, 0.0]]))[0])
    seconds = clock() - begin
    if not np.all(np.isfinite(points)) or flipped(points, triangles):
        return Made(points, seconds, 1)
    return Made(best_scale(seat, points, triangles) * points, seconds, 1)


def _slim(seat: FloatArray, triangles: IntArray, start: FloatArray) -> Made:
    """SLIM (Rabinovich et al., Scalable locally injective mappings, 2017) from a start without folds."""
    begin = clock()
    data = igl.slim_precompute(
        np.asfortranarray(seat),
        np.asfortranarray(triangles.astype(np.int32)),
        np.asfortranarray(start),
        igl.MappingEnergyType.SYMMETRIC_DIRICHLET,
        np.zeros(0, dtype=np.int32),
        np.asfortranarray(np.zeros((0, 2))),
        0.0,
    )
    seconds, energy, rounds = clock() - begin, stretch(seat, start, triangles).energy, 0
    points = start
    while rounds < MOST_ROUNDS:
        begin = clock()
        points = np.asarray(igl.slim_solve(data, 1))[:, :2]
        seconds += clock() - begin
        rounds += 1
        before, energy = energy, stretch(seat, points, triangles).energy
        if before - energy < SLIM_DONE * (energy - 4.0):
            break
    return Made(points, seconds, rounds)


def slim_from_lscm(seat: FloatArray, triangles: IntArray) -> Made:
    """SLIM from LSCM at its best size; no map where LSCM is folded. LSCM's own seconds count."""
    first = lscm(seat, triangles)
    if first.points is None or flipped(first.points, triangles):
        return Made(None, first.seconds, 0)
    made = _slim(seat, triangles, first.points)
    return Made(made.points, first.seconds + made.seconds, made.rounds)


def slim_from_circle(seat: FloatArray, triangles: IntArray) -> Made:
    """SLIM from our harmonic map on the circle, at its best size; the circle's seconds do not count."""
    round_ = circle_map(seat, triangles)
    return _slim(seat, triangles, best_scale(seat, round_, triangles) * round_)


def arap(seat: FloatArray, triangles: IntArray) -> Made:
    """As rigid as possible (Liu et al. 2008), libigl's usual ten rounds from LSCM, whose seconds count; one vertex is
    held, without which its factorisation fails on large meshes."""
    first = lscm(seat, triangles)
    assert first.points is not None
    begin = clock()
    data = igl.ARAPData()
    data.max_iter = 10
    igl.arap_precomputation(seat, triangles, 2, np.zeros(1, dtype=np.int32), data)
    points = np.asarray(igl.arap_solve(np.ascontiguousarray(first.points[:1]), data, first.points))[:, :2]
    return Made(points, first.seconds + clock() - begin, data.max_iter)


def meshlab(filter_name: str, seat: FloatArray, triangles: IntArray) -> Made:
    """A parametrization filter of PyMeshLab, for its map alone; no map where it is not installed or gives up."""
    try:
        import pymeshlab
    except ImportError:
        return Made(None, 0.0, 0)
    begin = clock()
    work = pymeshlab.MeshSet(verbose=False)
    work.add_mesh(pymeshlab.Mesh(vertex_matrix=seat, face_matrix=triangles.astype(np.int32)))
    try:
        work.apply_filter(filter_name)
    except pymeshlab.PyMeshLabException:
        return Made(None, clock() - begin, 0)
    points = np.asarray(work.current_mesh().vertex_tex_coord_matrix(), dtype=np.float64)
    return Made(points if len(points) == len(seat) else None, clock() - begin, 1)


def demand(seat: FloatArray, triangles: IntArray, points: FloatArray | None) -> float:
    """Largest / smallest stretch - 1, infinite for no map or a folded one, either way round."""
    if points is None or not np.all(np.isfinite(points)):
        return float("inf")
    here = min((points, points * [1.0, -1.0]), key=lambda p: flipped(p, triangles))
    return float("inf") if flipped(here, triangles) else stretch(seat, here, triangles).demand
