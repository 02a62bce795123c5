"""An order of elimination in which factors of matrices on a mesh stay thin: nested dissection by place.

The mesh is halved across its longer way, the vertices between the halves come last, and so on in each half (George,
Nested dissection of a regular finite element mesh, 1973). All halves of one depth are handled together: vertices are
kept sorted along every axis within their part, so that a depth costs a few passes over the arrays.
"""

import numpy as np

from meshes.base.arrays import BoolArray, FloatArray, IntArray

# Parts of about this many vertices are not halved further.
LEAF = 48


def dissected(places: FloatArray, triangles: IntArray, *, leaf: int = LEAF) -> IntArray:
    """The n vertices in an order of elimination, (n,).

    places (n, d): where the vertices are, in space or on the plan; triangles (m, 3). Any places give a valid order;
    the nearer they are to a flat sheet that does not lie over itself, the thinner the factors.
    """
    n, axes = len(places), places.shape[1]
    along = [np.ascontiguousarray(places[:, k]) for k in range(axes)]
    sorted_along = [np.argsort(place, kind="stable") for place in along]
    pairs = _pairs(triangles)
    key, part = np.zeros(n, dtype=np.int64), np.zeros(n, dtype=np.int64)
    alive = np.ones(n, dtype=bool)
    starts = np.array([0, n])
    for _ in range(max(0, int(np.ceil(np.log2(max(n, 1) / leaf))))):
        right = _halves(sorted_along, along, starts)
        between = _between(pairs, right, n)
        key *= 3
        key += right
        key[between | ~alive] += 2 - right[between | ~alive]
        key[~alive] -= 2
        alive &= ~between
        part = 2 * part + right
        starts, sorted_along = _parted(sorted_along, part, alive, len(starts) - 1)
        a, b = pairs
        kept = alive[a] & alive[b] & (right[a] == right[b])
        pairs = (a[kept], b[kept])
    return np.argsort(key, kind="stable")


def _pairs(triangles: IntArray) -> tuple[IntArray, IntArray]:
    """Both ends of every edge; an edge inside the mesh may come twice."""
    a, b, c = triangles.T
    return np.concatenate([a, b, c]), np.concatenate([b, c, a])


def _halves(sorted_along: list[IntArray], along: list[FloatArray], starts: IntArray) -> IntArray:
    """1 for vertices in the farther half of their part along its longest way, 0 for the others, (n,)."""
    first, last = starts[:-1], starts[1:]
    filled = np.flatnonzero(last > first)
    reach = np.zeros((len(along), len(first)))
    for k, (order, place) in enumerate(zip(sorted_along, along, strict=True)):
        reach[k, filled] = place[order[last[filled] - 1]] - place[order[first[filled]]]
    axis = np.argmax(reach, axis=0)
    right = np.zeros(len(along[0]), dtype=np.int64)
    counts = last - first
    late = np.arange(starts[-1]) - np.repeat(first, counts) >= np.repeat(counts // 2, counts)
    chosen = np.repeat(axis, counts)
    for k, order in enumerate(sorted_along):
        right[order[late & (chosen == k)]] = 1
    return right


def _between(pairs: tuple[IntArray, IntArray], right: IntArray, n: int) -> BoolArray:
    """Which vertices of the near half touch the far half of their own part, (n,)."""
    a, b = pairs
    near, far = right[a] < right[b], right[a] > right[b]
    between = np.zeros(n, dtype=bool)
    between[a[near]] = True
    between[b[far]] = True
    return between


def _parted(
    sorted_along: list[IntArray], part: IntArray, alive: FloatArray, parts: int
) -> tuple[IntArray, list[IntArray]]:
    """The same sorted lists for the halves, without the vertices between them."""
    counts = np.bincount(part[alive], minlength=2 * parts)
    starts = np.concatenate([[0], np.cumsum(counts)])
    out = []
    for order in sorted_along:
        order = order[alive[order]]
        right = part[order] & 1
        # Within a part the near ones keep their order and come first, then the far ones.
        before = np.cumsum(right) - right
        whole = starts[:-1:2][part[order] >> 1]
        ahead = before - before[np.minimum(whole, len(order) - 1)]
        spot = np.where(right, starts[part[order]] + ahead, np.arange(len(order)) - ahead)
        moved = np.empty_like(order)
        moved[spot] = order
        out.append(moved)
    return starts, out
