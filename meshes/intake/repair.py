"""Repairs of a triangle mesh from outside, only where asked, every one stated.

Vertex order and triangles are kept; a repair that changes either happens only when named.
"""

from collections.abc import Collection
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from meshes.base.arrays import FloatArray, IntArray, locked_floats, locked_ints
from meshes.base.problems import Problem, ProblemError
from meshes.base.surface import components, directed_edges
from meshes.intake.checks import check_mesh, coinciding, is_unusable, mesh_arrays
from meshes.intake.roughness import remarks

REPAIRS = ("merge", "orient", "drop-loose", "largest-part", "turn-over")


@dataclass(frozen=True, eq=False)
class Intake:
    """vertices (n, 3) mm, triangles (m, 3); notes: what was repaired or assumed, in words."""

    vertices: FloatArray
    triangles: IntArray
    notes: tuple[str, ...]


def repair_mesh(
    vertices: npt.ArrayLike, triangles: npt.ArrayLike, *, repair: Collection[str] = (), file: str | None = None
) -> Intake:
    """One disc of triangles from vertices (n, 3) mm and triangles (m, 3), repaired only as named, then checked.

    repair: "merge" vertices at one place, "orient" triangles alike, "drop-loose" vertices, keep the "largest-part",
    "turn-over" the whole mesh, when it is inside out. file: named in problems. Inputs are not changed. Raises
    ProblemError with every fault.
    """
    check_repairs(repair)
    points, corners = mesh_arrays(vertices, triangles, file)
    faults: list[Problem] = []
    if is_unusable(points, corners, lambda code, text: faults.append(Problem(code, "mesh", text, file=file))):
        raise ProblemError(faults)
    notes: list[str] = []
    if "merge" in repair:
        points, corners = _merged(points, corners, notes)
    if "largest-part" in repair:
        corners = _largest(corners, notes)
    if "drop-loose" in repair or "largest-part" in repair:
        points, corners = _without_loose(points, corners, notes)
    if "orient" in repair:
        corners = _oriented(corners, notes)
    if "turn-over" in repair:
        corners = corners[:, [0, 2, 1]]
        notes.append("the whole mesh turned over to face the other way")
    check_mesh(points, corners, file=file)
    notes += remarks(points, corners, file=file)
    cut = coinciding(points)
    if len(cut):
        notes.append(f"the rim lies on itself at {len(cut)} vertices: taken as a cut, both its sides stay apart")
    return Intake(locked_floats(points), locked_ints(corners), tuple(notes))


def check_repairs(repair: Collection[str]) -> None:
    """Repairs have to be known by their names. Raises ProblemError."""
    for name in repair:
        if name not in REPAIRS:
            text = f"no repair of this name, found {name!r}; known are {', '.join(REPAIRS)}"
            raise ProblemError([Problem("M101", "repair", text)])


def _merged(vertices: FloatArray, triangles: IntArray, notes: list[str]) -> tuple[FloatArray, IntArray]:
    """Vertices at exactly one place become one, numbered by first appearance."""
    first, number = np.unique(vertices, axis=0, return_index=True, return_inverse=True)[1:]
    order = np.argsort(first, kind="stable")
    rank = np.empty(len(order), dtype=np.int64)
    rank[order] = np.arange(len(order))
    if len(first) < len(vertices):
        notes.append(
            f"{len(vertices) - len(first)} repeated vertices merged; vertices are numbered by first appearance"
        )
    return vertices[first[order]], rank[number.ravel()][triangles]


def _largest(triangles: IntArray, notes: list[str]) -> IntArray:
    part = components(triangles)
    size = np.bincount(part)
    if len(size) > 1:
        notes.append(f"the largest of {len(size)} parts kept, {len(triangles) - int(size.max())} triangles dropped")
    return triangles[part == int(np.argmax(size))]


def _without_loose(vertices: FloatArray, triangles: IntArray, notes: list[str]) -> tuple[FloatArray, IntArray]:
    used, number = np.unique(triangles, return_inverse=True)
    if len(used) < len(vertices):
        notes.append(f"{len(vertices) - len(used)} loose vertices dropped; the others keep their order")
    return vertices[used], number.reshape(-1, 3).astype(np.int64)


def _oriented(triangles: IntArray, notes: list[str]) -> IntArray:
    """All triangles wound like the majority of their part, spreading from neighbour to neighbour."""
    edges = directed_edges(triangles)
    owner = np.tile(np.arange(len(triangles)), 3)
    low, high = edges.min(axis=1), edges.max(axis=1)
    order = np.lexsort((high, low))
    near: list[list[tuple[int, bool]]] = [[] for _ in triangles]
    for i, j in pairwise(order):
        if low[i] == low[j] and high[i] == high[j]:
            alike = bool(edges[i, 0] != edges[j, 0])
            near[owner[i]].append((int(owner[j]), alike))
            near[owner[j]].append((int(owner[i]), alike))
    turned = np.full(len(triangles), -1, dtype=np.int64)
    for seed in range(len(triangles)):
        if turned[seed] >= 0:
            continue
        turned[seed], stack, members = 0, [seed], [seed]
        while stack:
            here = stack.pop()
            for other, alike in near[here]:
                if turned[other] < 0:
                    turned[other] = turned[here] if alike else 1 - turned[here]
                    stack.append(other)
                    members.append(other)
        if 2 * turned[members].sum() > len(members):
            turned[members] = 1 - turned[members]
    if turned.any():
        notes.append(f"{int(turned.sum())} triangles turned over to face like the rest")
    return np.where((turned == 1)[:, None], triangles[:, [0, 2, 1]], triangles)
