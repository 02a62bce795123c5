"""Takes a mesh apart along paths of its edges: corners of triangles that meet only across the cut get vertices of their
own, and nothing moves.
"""

from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.sparse import csgraph

from meshes.base.arrays import FloatArray, IntArray
from meshes.base.surface import directed_edges


@dataclass(frozen=True, eq=False)
class CutMesh:
    """vertices (n', 3) mm; triangles (m, 3) in their old order; origin (n',): the old number of every vertex."""

    vertices: FloatArray
    triangles: IntArray
    origin: IntArray


def cut_open(vertices: FloatArray, triangles: IntArray, *paths: IntArray) -> CutMesh:
    """Take a mesh apart along paths of mesh edges.

    vertices (n, 3), triangles (m, 3), each path (k,) vertex numbers. A path from an inner vertex to the rim is a
    dart: its inner vertices and its end on the rim are doubled, and a disc stays a disc. A path from rim to rim parts
    the mesh in two. Old vertices keep their number on one side. Raises ValueError when a path leaves the mesh edges.
    """
    top, m = len(vertices), len(triangles)
    edges = directed_edges(triangles)
    keys = np.sort(edges, axis=1) @ np.array([top, 1])
    walls = np.concatenate([np.sort(np.stack([p[:-1], p[1:]], 1), axis=1) @ np.array([top, 1]) for p in paths])
    if not np.isin(walls, keys).all():
        raise ValueError("the path leaves the edges of the mesh")
    # Corner c of triangle t is node t + c m; the edge in row t + c m runs from corner c to corner c + 1.
    row = np.arange(3 * m)
    after = (row + m) % (3 * m)
    order = np.argsort(keys, kind="stable")
    shared = (keys[order][1:] == keys[order][:-1]) & ~np.isin(keys[order][1:], walls)
    one, two = order[:-1][shared], order[1:][shared]
    # Neighbours run along a shared edge in opposite directions.
    left, right = np.concatenate([one, after[one]]), np.concatenate([after[two], two])
    links = sparse.coo_matrix((np.ones(len(left)), (left, right)), shape=(3 * m, 3 * m))
    group = csgraph.connected_components(links, directed=False)[1]
    first = np.unique(group, return_index=True)[1]
    old = triangles.T.ravel()[first]
    # The first group of a vertex keeps its number, the others are counted on from n.
    seen = np.argsort(old, kind="stable")
    extra = np.concatenate([[False], old[seen][1:] == old[seen][:-1]])
    number = np.empty(len(old), dtype=np.int64)
    number[seen] = np.where(extra, top + np.cumsum(extra) - 1, old[seen])
    origin = np.concatenate([np.arange(top), old[seen][extra]])
    return CutMesh(vertices[origin], number[group].reshape(3, m).T.copy(), origin)
