"""From places on the grid to exact ones: all pieces moved a little at once, until none lies on another, or all reach
less far.

Two convex parts are kept apart by the edge of one of them that separates them most; for small moves that is a linear
condition, so that the least length, or the least overlap, is a linear programme (Li, Milenkovic, Compaction and
separation algorithms for non-convex polygons and their applications, European J. Operational Research 84, 1995).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, cast

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import csr_array

from flatten.nesting.outline import ConvexPart
from flatten.nesting.table import CuttingTable, Oriented
from meshes.base.arrays import FloatArray

# How far a piece moves in one step, in steps of the grid, and how many steps are made at most.
REACH_STEPS = 1.5
MOST_STEPS = 12
# Overlap in all up to this counts as none.
FREE_MM = 1e-5
# What a step has to gain to go on, as a share of the grid's.
PUSH_WORTH = 0.02


@dataclass(frozen=True, eq=False)
class Exact:
    """Exact places (n, 2) mm of outlines on the table; overlap_mm: what is left in all."""

    lying: tuple[Oriented, ...]
    at: FloatArray
    overlap_mm: float

    @property
    def reach_mm(self) -> float:
        """How far the pieces reach along the table."""
        return max(float(at[0] + one.outline.size[0]) for one, at in zip(self.lying, self.at, strict=True))


def separated(table: CuttingTable, lying: list[Oriented], at: FloatArray, limit_mm: float) -> Exact:
    """Move outlines apart until nothing overlaps within the limit, as far as small moves can."""
    places, left = at.copy(), np.inf
    for _ in range(MOST_STEPS):
        moved, now = _step(table, lying, places, limit_mm=limit_mm)
        if moved is None:
            break
        places = moved
        if now <= FREE_MM or now > left * 0.98:
            left = min(left, now)
            break
        left = now
    return Exact(tuple(lying), places, left)


def compacted(table: CuttingTable, lying: list[Oriented], at: FloatArray) -> Exact:
    """Move outlines that lie free so that they reach less far along the table."""
    places = at.copy()
    best = Exact(tuple(lying), places, 0.0)
    for _ in range(MOST_STEPS):
        moved, left = _step(table, lying, places, limit_mm=None)
        if moved is None or left > FREE_MM:
            break
        found = Exact(tuple(lying), moved, 0.0)
        gained = best.reach_mm - found.reach_mm
        if gained > 0.0:
            best = found
        places = moved
        if gained < PUSH_WORTH * table.step:
            break
    return best


def _step(
    table: CuttingTable, lying: list[Oriented], at: FloatArray, *, limit_mm: float | None
) -> tuple[FloatArray | None, float]:
    """One linear programme: least overlap within a limit, or least length without overlap; new places and overlap
    left."""
    count, reach = len(lying), REACH_STEPS * table.step
    rows = list(_conditions(table, lying, at, 3.0 * reach))
    length = 2 * count
    extra = 1 if limit_mm is None else len(rows)
    matrix_rows, columns, values, right = [], [], [], []
    for k, (a, b, normal, room) in enumerate(rows):
        # room + normal . (move a - move b) >= 0, with slack where overlap may stay
        terms = [(2 * a, -normal[0]), (2 * a + 1, -normal[1])]
        if b >= 0:
            terms += [(2 * b, normal[0]), (2 * b + 1, normal[1])]
        if limit_mm is not None:
            terms.append((length + k, -1.0))
        for column, value in terms:
            matrix_rows.append(k)
            columns.append(column)
            values.append(value)
        right.append(room)
    low, high = np.full(length + extra, -reach), np.full(length + extra, reach)
    low[length:], high[length:] = 0.0, np.inf
    if limit_mm is None:
        for k, (one, place) in enumerate(zip(lying, at, strict=True)):
            matrix_rows += [len(right), len(right)]
            columns += [2 * k, length]
            values += [1.0, -1.0]
            right.append(-float(place[0] + one.outline.size[0]))
        cost = np.concatenate([np.zeros(length), [1.0]])
    else:
        for k, (one, place) in enumerate(zip(lying, at, strict=True)):
            room = limit_mm - float(place[0] + one.outline.size[0])
            low[2 * k], high[2 * k] = min(-reach, room), min(reach, room)
        cost = np.concatenate([np.zeros(length), np.ones(extra)])
    matrix = csr_array((values, (matrix_rows, columns)), shape=(len(right), length + extra))
    bounds: Any = np.column_stack([low, high])
    found = linprog(cost, A_ub=cast(Any, matrix), b_ub=right, bounds=bounds, method="highs")
    if found.status != 0 or found.x is None:
        return None, np.inf
    left = 0.0 if limit_mm is None else float(found.x[length:].sum())
    return at + found.x[:length].reshape(-1, 2), left


def _conditions(
    table: CuttingTable, lying: list[Oriented], at: FloatArray, near: float
) -> Iterator[tuple[int, int, FloatArray, float]]:
    """(a, b, normal, room): moving a against b along the normal may take away as much as the room; b is -1 for what
    stays in its place."""
    boxes = np.array([[*place, *(place + one.outline.size)] for one, place in zip(lying, at, strict=True)])
    still = np.zeros(2)
    for a in range(len(lying)):
        for b in range(a):
            if near_boxes(boxes[a], boxes[b], near):
                for p in lying[a].outline.parts:
                    for q in lying[b].outline.parts:
                        if near_boxes(p.box, q.box, near, at[b] - at[a]):
                            normal, room = apart(p, q, at[a] - at[b])
                            yield a, b, normal, room
        for q in table.walls(lying[a].grade):
            if near_boxes(boxes[a], q.box, near):
                for p in lying[a].outline.parts:
                    if near_boxes(p.box, q.box, near, still - at[a]):
                        normal, room = apart(p, q, at[a])
                        yield a, -1, normal, room


def near_boxes(one: FloatArray, other: FloatArray, mm: float, move: FloatArray | None = None) -> bool:
    """Whether two boxes, the other one moved, are less than `mm` apart."""
    x, y = (0.0, 0.0) if move is None else (float(move[0]), float(move[1]))
    return bool(
        one[0] - other[2] - x < mm
        and other[0] + x - one[2] < mm
        and one[1] - other[3] - y < mm
        and other[1] + y - one[3] < mm
    )


def apart(one: ConvexPart, other: ConvexPart, move: FloatArray) -> tuple[FloatArray, float]:
    """The direction, from `other` to `one` moved by `move`, in which two convex outlines lie furthest apart, and how
    far: less than nothing where they overlap."""
    over = (other.normals @ one.points.T).min(axis=1) + other.normals @ move - other.reach
    under = (one.normals @ other.points.T).min(axis=1) - one.normals @ move - one.reach
    k, m = int(np.argmax(over)), int(np.argmax(under))
    if over[k] >= under[m]:
        return other.normals[k], float(over[k])
    return -one.normals[m], float(under[m])
