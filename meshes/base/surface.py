"""A triangulated surface with named curves, its arrays locked against change, and facts about its validity.

Lengths are millimetres. Triangles are wound counter-clockwise seen from the outer side (the side one sees on the
finished seat). Named curves run along mesh edges as sequences of vertex numbers.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from scipy import sparse
from scipy.sparse import csgraph

from meshes.base.arrays import FloatArray, IntArray, locked_floats, locked_ints
from meshes.base.frozen_map import FrozenMap


@dataclass(frozen=True, eq=False)
class Surface:
    """Triangles in space.

    vertices (n, 3) in mm; triangles (m, 3) vertex numbers, counter-clockwise from the outer side; curves: name ->
    vertex numbers along mesh edges (a closed curve repeats its first vertex at the end).
    """

    vertices: FloatArray
    triangles: IntArray
    curves: Mapping[str, IntArray] = field(default_factory=dict)

    def __post_init__(self) -> None:
        object.__setattr__(self, "vertices", locked_floats(self.vertices).reshape(-1, 3))
        object.__setattr__(self, "triangles", locked_ints(self.triangles).reshape(-1, 3))
        curves = {name: locked_ints(path) for name, path in self.curves.items()}
        object.__setattr__(self, "curves", FrozenMap(curves))

    def __reduce__(self) -> tuple[object, ...]:
        # Arrays arrive in another process unlocked: made anew, they are locked there too.
        return (Surface, (self.vertices, self.triangles, self.curves))

    def moved(self, vertices: FloatArray) -> "Surface":
        """The same triangles and curves with other vertex positions, shape (n, 3)."""
        return Surface(vertices, self.triangles, self.curves)


def triangle_areas(vertices: FloatArray, triangles: IntArray) -> FloatArray:
    """Area of every triangle, shape (m,), mm2; vertices may have two or three columns."""
    place = [np.ascontiguousarray(column)[triangles.T] for column in vertices.T]
    u, v = [x[1] - x[0] for x in place], [x[2] - x[0] for x in place]
    pairs = ((0, 1),) if len(place) == 2 else ((1, 2), (2, 0), (0, 1))
    square = sum((u[i] * v[j] - u[j] * v[i]) ** 2 for i, j in pairs)
    return np.asarray(0.5 * np.sqrt(square))


def directed_edges(triangles: IntArray) -> IntArray:
    """All 3 m directed edges, shape (3 m, 2); rows k, k + m, k + 2 m belong to triangle k."""
    return np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])


def repeated(keys: IntArray) -> int:
    """How many of the sorted numbers (k,) equal the one before."""
    return int(np.count_nonzero(keys[1:] == keys[:-1]))


class BoundaryError(Exception):
    """Triangles whose boundary is no set of simple loops."""


def triangles_among(asked: IntArray, triangles: IntArray) -> IntArray:
    """Place (k,) among triangles (m, 3) of each of those asked for (k, 3), whichever way they are wound; all must be
    there."""
    top = int(triangles.max()) + 1
    digits = np.array([top * top, top, 1])
    keys = np.sort(triangles, axis=1) @ digits
    order = np.argsort(keys, kind="stable")
    return np.asarray(order[np.searchsorted(keys[order], np.sort(asked, axis=1) @ digits)])


def boundary_loops(triangles: IntArray) -> list[IntArray]:
    """Closed boundary loops as vertex numbers, each with the surface on its left, first vertex not repeated.

    Raises BoundaryError when the triangles are not consistently wound or the boundary touches itself in a vertex.
    """
    if not triangles.size:
        return []
    edges = directed_edges(triangles)
    top = int(triangles.max()) + 1
    forward = edges[:, 0] < edges[:, 1]
    # Both directions of an edge stand side by side once sorted.
    keys = np.sort(2 * (edges.min(axis=1) * top + edges.max(axis=1)) + forward)
    if repeated(keys):
        raise BoundaryError("two triangles run along one edge in the same direction")
    paired = np.concatenate([[False], keys[1:] >> 1 == keys[:-1] >> 1, [False]])
    lonely = keys[~(paired[1:] | paired[:-1])]
    low, high = np.divmod(lonely >> 1, top)
    rim = np.where((lonely & 1 == 1)[:, None], np.stack([low, high], axis=1), np.stack([high, low], axis=1))
    if repeated(np.sort(rim[:, 0])):
        raise BoundaryError("the boundary touches itself in a vertex")
    after = dict(zip(rim[:, 0].tolist(), rim[:, 1].tolist(), strict=True))
    loops: list[IntArray] = []
    while after:
        first, here = after.popitem()
        loop = [first]
        while here != first:
            loop.append(here)
            here = after.pop(here)
        start = int(np.argmin(loop))
        loops.append(np.array(loop[start:] + loop[:start], dtype=np.int64))
    return sorted(loops, key=lambda loop: int(loop[0]))


def components(triangles: IntArray, walls: IntArray | None = None) -> IntArray:
    """Number of the connected part each triangle belongs to, shape (m,); parts meet across shared edges.

    walls (k, 2): edges (either direction) that separate the triangles on their two sides.
    """
    m = len(triangles)
    edges = np.sort(directed_edges(triangles), axis=1)
    top = int(triangles.max()) + 1 if m else 1
    keys = edges[:, 0] * top + edges[:, 1]
    owner = np.tile(np.arange(m), 3)
    if walls is not None and len(walls):
        closed = np.sort(walls, axis=1)
        keep = ~np.isin(keys, closed[:, 0] * top + closed[:, 1])
        keys, owner = keys[keep], owner[keep]
    order = np.argsort(keys, kind="stable")
    keys, owner = keys[order], owner[order]
    same = keys[1:] == keys[:-1]
    links = sparse.coo_matrix((np.ones(int(same.sum())), (owner[:-1][same], owner[1:][same])), shape=(m, m))
    return csgraph.connected_components(links, directed=False)[1].astype(np.int64)


def is_disc(triangles: IntArray) -> bool:
    """True when the triangles form one connected, consistently wound disc (one boundary loop, no handle)."""
    try:
        loops = boundary_loops(triangles)
    except BoundaryError:
        return False
    if len(loops) != 1 or components(triangles).max(initial=0) != 0:
        return False
    return euler(triangles, loops) == 1


def euler(triangles: IntArray, loops: list[IntArray]) -> int:
    """Vertices in use less edges plus triangles, for a surface with these boundary loops and no edge of three."""
    # Every edge has two sides, save those of the rims.
    edges = (3 * len(triangles) + sum(len(loop) for loop in loops)) // 2
    return int(np.count_nonzero(np.bincount(triangles.ravel()))) - edges + len(triangles)


def side_lengths(vertices: FloatArray, triangles: IntArray) -> FloatArray:
    """Lengths of the sides of every triangle, corner k to corner k + 1 in row k, shape (3, m)."""
    square = np.zeros((3, len(triangles)))
    for column in vertices.T:
        place = np.ascontiguousarray(column)[triangles.T]
        for k in range(3):
            square[k] += (place[(k + 1) % 3] - place[k]) ** 2
    return np.sqrt(square)


def smallest_angles(vertices: FloatArray, triangles: IntArray) -> FloatArray:
    """Smallest inner angle of every triangle, shape (m,), radians."""
    a, b, c = side_lengths(vertices, triangles)
    short, long = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
    middle = np.maximum(np.minimum(a, b), np.minimum(np.maximum(a, b), c))
    cosine = (middle**2 + long**2 - short**2) / np.maximum(2 * middle * long, 1e-300)
    return np.arccos(np.clip(cosine, -1.0, 1.0))


def vertex_normals(vertices: FloatArray, triangles: IntArray) -> FloatArray:
    """Area-weighted unit normals, shape (n, 3), on the outer side."""
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    faces = np.cross(b - a, c - a)
    normals = np.zeros_like(vertices)
    for k in range(3):
        np.add.at(normals, triangles[:, k], faces)
    return normals / np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-300)


def curve_length(points: FloatArray) -> float:
    """Length of a polyline, mm; points (k, 2) or (k, 3)."""
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
