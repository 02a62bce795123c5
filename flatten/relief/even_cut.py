"""A cut of a panel that lies evenly across the centre line, made the same on both sides to the last digit.

Lines are drawn on the mesh one after another, so that triangles beside mirrored lines are parted in different ways.
Here the right half is kept and mirrored: the parts of the cut are then mirror images of themselves or of each other,
and are drawn once, cut twice.
"""

from dataclasses import dataclass, replace

import numpy as np

from flatten.relief.cutting import Mapped, interpolated
from flatten.relief.search import Relief
from meshes.base.arrays import BoolArray, FloatArray, IntArray
from meshes.base.cut_open import cut_open


@dataclass(frozen=True, eq=False)
class EvenCut:
    """relief: the proposal, even; vertex (n',): the vertex of the cut panel that mirrors each one; triangle (m,): the
    same for triangles."""

    relief: Relief
    vertex: IntArray
    triangle: IntArray


def even_cut(relief: Relief, mirror: IntArray) -> EvenCut | None:
    """A proposal made even; mirror (n,): the vertex of the uncut panel that mirrors each one, about x = 0.

    None when its lines are not the same left and right.
    """
    halves = _mirrored_mesh(relief.drawn, mirror)
    kept = _kept_paths(relief.paths, relief.drawn.vertices[:, 0])
    if halves is None or kept is None:
        return None
    mesh, number, twin = halves
    paths = []
    for path, crosses in kept:
        right = number[path]
        if crosses:
            other = twin[right[::-1]]
            # A line across runs from one side to the other, through one vertex on the centre line.
            paths.append(np.concatenate([other[:-1], right]) if other[-1] == right[0] else None)
        else:
            paths.append(right)
            if (twin[right] != right).any():
                paths.append(twin[right])
    if any(path is None for path in paths):
        return None
    lines = tuple(np.asarray(path) for path in paths)
    cut = cut_open(mesh.vertices, mesh.triangles, *lines)
    count = len(mesh.triangles) // 2
    triangle = np.concatenate([np.arange(count, 2 * count), np.arange(count)])
    vertex = np.empty(len(cut.vertices), dtype=np.int64)
    # Mirrored triangles are wound the other way: corners 0, 1, 2 stand for 0, 2, 1.
    vertex[cut.triangles] = cut.triangles[triangle][:, [0, 2, 1]]
    return EvenCut(replace(relief, drawn=mesh, paths=lines, cut=cut), vertex, triangle)


def _mirrored_mesh(drawn: Mapped, mirror: IntArray) -> tuple[Mapped, IntArray, IntArray] | None:
    """The right half of a mesh and its mirror image: the mesh, the new number of every vertex of the right half in
    `drawn` (-1 for those on the left), and the vertex that mirrors each one. None where a triangle lies across."""
    old = len(mirror)
    side = np.sign(drawn.vertices[:, 0])
    corner = side[drawn.triangles]
    right: BoolArray = np.asarray((corner >= 0).all(axis=1) & (corner > 0).any(axis=1))
    if ((corner > 0).any(axis=1) & ~right).any():
        return None
    made = np.flatnonzero((side >= 0) & (np.arange(len(side)) >= old))
    beside = made[side[made] > 0]
    number = np.full(len(side), -1, dtype=np.int64)
    number[:old] = np.arange(old)
    number[made] = old + np.arange(len(made))
    top = old + len(made)
    twin = np.concatenate([mirror, number[made], number[beside]])
    twin[number[beside]] = top + np.arange(len(beside))
    ends = number[drawn.ends[made]]
    ends = np.concatenate([drawn.ends[:old], ends, twin[number[drawn.ends[beside]]]])
    share = np.concatenate([drawn.share[:old], drawn.share[made], drawn.share[beside]])
    rows = number[drawn.triangles[right]]
    if (rows < 0).any():
        return None
    triangles = np.concatenate([rows, twin[rows][:, [0, 2, 1]]])
    parent = _parents(drawn, right, mirror)
    if parent is None:
        return None
    vertices, plan = (interpolated(values[:old], ends, share) for values in (drawn.vertices, drawn.plan))
    return Mapped(vertices, triangles, plan, ends, share, parent), number, twin


def _parents(drawn: Mapped, right: BoolArray, mirror: IntArray) -> IntArray | None:
    """The uncut triangle of every triangle of both halves; None where the uncut mesh is not even."""
    old = len(mirror)
    whole: dict[int, set[int]] = {}
    for row, parent in zip(drawn.triangles.tolist(), drawn.parent.tolist(), strict=True):
        for vertex in row:
            whole.setdefault(parent, set()).update(_uncut(vertex, drawn, old))
    at = {tuple(sorted(corners)): parent for parent, corners in whole.items()}
    own = drawn.parent[right]
    other = [at.get(tuple(sorted(int(mirror[v]) for v in whole[int(parent)]))) for parent in own]
    return None if any(parent is None for parent in other) else np.concatenate([own, np.array(other, dtype=np.int64)])


def _uncut(vertex: int, drawn: Mapped, old: int) -> set[int]:
    """The vertices of the uncut mesh between which a vertex stands."""
    if vertex < old:
        return {vertex}
    return {v for end in drawn.ends[vertex].tolist() for v in _uncut(end, drawn, old)}


def _kept_paths(paths: tuple[IntArray, ...], x: FloatArray) -> list[tuple[IntArray, bool]] | None:
    """What of each line lies on the right half or on the centre line, and whether it goes on across; None when the
    lines do not come in even pairs."""
    kept, left = [], 0
    for path in paths:
        here = x[path]
        if (here >= 0).all():
            kept.append((path, False))
            left -= int((here > 0).any())
        elif (here <= 0).all():
            left += 1
        else:
            on = np.flatnonzero(here == 0)
            if len(on) != 1:
                return None
            run = path[on[0] :] if x[path[-1]] > 0 else path[: on[0] + 1][::-1]
            if (x[run] < 0).any():
                return None
            kept.append((run, True))
    return kept if left == 0 else None
