"""Cuts a panel along lines: straight lines become mesh edges, and the mesh is taken apart along them.

A line is straight on a flat map of the panel without folds, hence close to a geodesic of the seat: leather lies smooth
along it and it can be sewn. The edges that it crosses are split where it crosses them, which leaves the surface as it
is.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from meshes.base.arrays import FloatArray, IntArray
from meshes.base.surface import boundary_loops, components, directed_edges

# A line that passes a vertex within this share of the length of the edges there goes through it instead: pieces of
# triangles thinner than that would help nobody.
SNAP_SHARE = 0.08


class CutLineError(Exception):
    """A line that a panel cannot be cut along."""


@dataclass(frozen=True, eq=False)
class Mapped:
    """A panel with its flat map: vertices (n, 3) mm, triangles (m, 3), plan (n, 2) mm without folds.

    ends (n, 2) and share (n,): vertex k stands at (1 - share) ends[0] + share ends[1], both with lower numbers; the
    vertices of the uncut mesh stand on themselves. parent (m,): the uncut triangle that each triangle is part of.
    """

    vertices: FloatArray
    triangles: IntArray
    plan: FloatArray
    ends: IntArray
    share: FloatArray
    parent: IntArray


def mapped(vertices: FloatArray, triangles: IntArray, plan: FloatArray) -> Mapped:
    """A panel as it is, with its flat map."""
    n = np.arange(len(vertices))
    return Mapped(vertices, triangles, plan, np.stack([n, n], 1), np.zeros(len(n)), np.arange(len(triangles)))


def interpolated(values: FloatArray, ends: IntArray, share: FloatArray) -> FloatArray:
    """Values (n, k) of the vertices of the uncut mesh carried on to those of lines drawn into it; ends (n', 2) and
    share (n',): as in `Mapped`."""
    whole = np.concatenate([values, np.zeros((len(ends) - len(values), values.shape[1]))])
    for k in range(len(values), len(ends)):
        i, j = ends[k]
        whole[k] = (1.0 - share[k]) * whole[i] + share[k] * whole[j]
    return whole


def parts(triangles: IntArray) -> list[tuple[IntArray, IntArray, IntArray]]:
    """The connected parts of a mesh: for each its vertices (n_k,), its triangles (m_k,), and its own triangles
    (m_k, 3) by its own vertex numbers. The part with the lowest triangle comes first."""
    label = components(triangles)
    found = []
    for k in sorted(range(int(label.max()) + 1), key=lambda k: int(np.argmax(label == k))):
        own = np.flatnonzero(label == k)
        vertices, local = np.unique(triangles[own], return_inverse=True)
        found.append((vertices, own, local.reshape(-1, 3)))
    return found


def draw_lines(panel: Mapped, *lines: tuple[int, ...]) -> tuple[Mapped, tuple[IntArray, ...]]:
    """Make straight lines of the plan mesh edges. Each line is given by the vertices it goes through, in order.

    Returns the panel and the path of every line. Raises CutLineError when a line leaves the panel, touches its rim
    between its ends, or crosses another one.
    """
    paths: list[IntArray] = []
    for line in lines:
        legs: list[IntArray] = []
        for start, end in pairwise(line):
            panel, leg = _draw_leg(panel, start, end)
            legs.append(leg if not legs else leg[1:])
        paths.append(np.concatenate(legs))
    _check_paths(panel, paths)
    return panel, tuple(paths)


def _check_paths(panel: Mapped, paths: Sequence[IntArray]) -> None:
    top = len(panel.vertices)
    edges = directed_edges(panel.triangles)
    keys = np.sort(edges, axis=1) @ np.array([top, 1])
    rim = boundary_loops(panel.triangles)[0]
    inner = np.concatenate([path[1:-1] for path in paths])
    for path in paths:
        if not np.isin(np.sort(np.stack([path[:-1], path[1:]], 1), axis=1) @ np.array([top, 1]), keys).all():
            raise CutLineError("two lines cross each other")
    if len(np.unique(inner)) != len(inner) or np.isin(inner, rim).any():
        raise CutLineError("a line touches another one or the rim")


def _draw_leg(panel: Mapped, start: int, end: int) -> tuple[Mapped, IntArray]:
    """One straight line between two vertices."""
    origin, way = panel.plan[start], panel.plan[end] - panel.plan[start]
    length = float(np.hypot(*way))
    if not length > 0:
        raise CutLineError("the line has no length")
    way = way / length
    off = panel.plan - origin
    along, side = off @ way, off[:, 1] * way[0] - off[:, 0] * way[1]
    edges = np.unique(np.sort(directed_edges(panel.triangles), axis=1), axis=0)
    reach = np.full(len(side), np.inf)
    spans = np.linalg.norm(panel.plan[edges[:, 1]] - panel.plan[edges[:, 0]], axis=1)
    np.minimum.at(reach, edges.ravel(), np.repeat(spans, 2))
    side = np.where(np.abs(side) < SNAP_SHARE * reach, 0.0, side)
    side[[start, end]] = 0.0
    a, b = edges[:, 0], edges[:, 1]
    crossed = side[a] * side[b] < 0
    share = np.zeros(len(edges))
    share[crossed] = (side[a] / np.where(crossed, side[a] - side[b], 1.0))[crossed]
    place = (1.0 - share) * along[a] + share * along[b]
    crossed &= (place > 0.0) & (place < length)
    grown = _split(panel, edges[crossed], share[crossed])
    through = np.flatnonzero((side == 0.0) & (along > 0.0) & (along < length))
    through = through[(through != start) & (through != end)]
    made = np.arange(len(panel.vertices), len(grown.vertices))
    numbers = np.concatenate([through, made])
    order = np.argsort(np.concatenate([along[through], place[crossed]]), kind="stable")
    path = np.concatenate([[start], numbers[order], [end]]).astype(np.int64)
    return grown, path


def _split(panel: Mapped, edges: IntArray, share: FloatArray) -> Mapped:
    """Set a vertex on each of the edges (k, 2) and share out the triangles there."""
    n, t = len(panel.vertices), panel.triangles
    top = n + len(edges)
    keys = edges @ np.array([top, 1])
    order = np.argsort(keys)
    rows = np.sort(np.stack([t, np.roll(t, -1, axis=1)], axis=2), axis=2) @ np.array([top, 1])
    spot = np.minimum(np.searchsorted(keys[order], rows), max(len(edges) - 1, 0))
    hit = keys[order][spot] == rows if len(edges) else np.zeros(rows.shape, dtype=bool)
    # On edge k of a triangle, from corner k to corner k + 1: the number of the new vertex, or -1.
    new = np.where(hit, n + order[spot], -1) if len(edges) else np.full(rows.shape, -1)
    count = hit.sum(axis=1)
    if (count > 2).any():
        raise CutLineError("a line crosses all three edges of a triangle")
    made, parent = [t[count == 0]], [np.flatnonzero(count == 0)]
    for k in range(3):
        a, b, c = (t[:, (k + j) % 3] for j in range(3))
        ab, bc = new[:, k], new[:, (k + 1) % 3]
        one = (count == 1) & hit[:, k]
        two = (count == 2) & hit[:, k] & hit[:, (k + 1) % 3]
        made += [np.stack(x, 1)[one] for x in ((a, ab, c), (ab, b, c))]
        made += [np.stack(x, 1)[two] for x in ((ab, b, bc), (a, ab, bc), (a, bc, c))]
        parent += [np.flatnonzero(one)] * 2 + [np.flatnonzero(two)] * 3
    i, j, s = edges[:, 0], edges[:, 1], share[:, None]
    return Mapped(
        np.concatenate([panel.vertices, (1 - s) * panel.vertices[i] + s * panel.vertices[j]]),
        np.concatenate(made),
        np.concatenate([panel.plan, (1 - s) * panel.plan[i] + s * panel.plan[j]]),
        np.concatenate([panel.ends, edges]),
        np.concatenate([panel.share, share]),
        panel.parent[np.concatenate(parent)],
    )
