"""A plate of a closed cover as triangles in the plane: its rim in given steps, even left and right where it may be."""

from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import FloatArray, IntArray, locked_floats, locked_ints
from meshes.base.surface import boundary_loops
from meshes.closed.rim import Stations
from meshes.numerics.triangulate import triangulate


@dataclass(frozen=True, eq=False)
class PlateMesh:
    """points (n, 2) mm, triangles (m, 3) counter-clockwise; rim (k,): vertices of the rim, counter-clockwise from the
    middle of the rear; stops: which of these the asked places are; mirror (n,): of every vertex, None where the plate
    is not even left and right; front: which of the rim's is the middle of the front."""

    points: FloatArray
    triangles: IntArray
    rim: IntArray
    stops: IntArray
    mirror: IntArray | None
    front: int


def plate_mesh(steps: Stations, front: int, edge_mm: float, *, symmetric: bool) -> PlateMesh:
    """The triangles of a plate with a rim in these steps; front: which of them is the middle of the front. Raises
    LinesTooCloseError."""
    if symmetric:
        points, triangles, mirror = _even_plate(steps.points, front, edge_mm)
    else:
        points, triangles = _filled(steps.points, edge_mm)
        mirror = None
    loop = boundary_loops(triangles)[0]
    places = np.array([int(np.argmin(np.linalg.norm(points[loop] - at, axis=1))) for at in steps.points])
    rim = np.roll(loop, -places[0])
    moved = (places - places[0]) % len(loop)
    return PlateMesh(
        locked_floats(points),
        locked_ints(triangles),
        locked_ints(rim),
        locked_ints(moved[steps.stops]),
        None if mirror is None else locked_ints(mirror),
        int(moved[front]),
    )


def _filled(loop: FloatArray, edge_mm: float) -> tuple[FloatArray, IntArray]:
    """Triangles inside a closed line (k, 2)."""
    count = np.arange(len(loop))
    segments = np.stack([count, np.roll(count, -1)], axis=1)
    found = triangulate(loop, segments, rim=np.ones(len(loop), dtype=bool), edge_mm=edge_mm)
    return found.points, found.triangles


def _even_plate(rim: FloatArray, front: int, edge_mm: float) -> tuple[FloatArray, IntArray, IntArray]:
    """Triangles inside a rim (k, 2) that is even about x = 0, from the rear middle to the front one at number `front`
    and back; the right half is filled and mirrored."""
    right = np.concatenate([rim[front:], rim[:1]])
    along = float(right[-1, 1] - right[0, 1])
    count = max(round(along / edge_mm), 2)
    middle = np.column_stack([np.zeros(count - 1), right[-1, 1] - along * np.arange(1, count) / count])
    points, triangles = _filled(np.concatenate([right, middle]), edge_mm)
    off = np.flatnonzero(points[:, 0] != 0.0)
    mirror = np.arange(len(points) + len(off))
    mirror[off] = len(points) + np.arange(len(off))
    mirror[len(points) :] = off
    whole = np.concatenate([points, points[off] * [-1.0, 1.0]])
    return whole, np.concatenate([triangles, mirror[triangles][:, [0, 2, 1]]]), mirror
