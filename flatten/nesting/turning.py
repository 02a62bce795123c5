"""Exact moves that turn pieces as well, within what each may be turned: until none lies on another, or all reach less
far.

As `settle`, with the turn of every piece as one more unknown. A corner that is turned moves across its arm, so for
small turns distances of corners from edges stay linear; what that leaves out is of second order, and gone after a few
steps.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, cast

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import csr_array

from flatten.nesting.contacts import spun, turn_left
from flatten.nesting.outline import ConvexPart
from flatten.nesting.settle import FREE_MM, PUSH_WORTH, Exact, apart, near_boxes
from flatten.nesting.table import CuttingTable, Oriented
from meshes.base.arrays import FloatArray

# How far a piece moves at first in one step, mm, how far its farthest corner by turning, and the steps that are made.
FIRST_MOVE_MM, TURN_MOVE_MM, TURN_STEPS = 4.0, 3.0, 24
# Steps get shorter by this factor, and stay so far apart as second-order terms could take away, mm.
SHORTER, KEPT_APART_MM = 0.75, 0.01
# What a mm of moving costs beside one of overlap.
MOVE_COST = 1e-3


@dataclass(frozen=True, eq=False)
class _Apart:
    """One corner of a convex part and one edge of another. a, b: their pieces, b -1 for what stays; normal (2,): from
    b to a; arms: what a turn of a or b, in radians, adds to their distance; room: mm."""

    a: int
    b: int
    pair: int
    normal: FloatArray
    arms: tuple[float, float]
    room: float


def separated_turning(table: CuttingTable, found: Exact, limit_mm: float) -> Exact:
    """Move and turn outlines apart until nothing overlaps within the limit, as far as small steps can."""
    now, best, left = found, found, np.inf
    for k in range(TURN_STEPS):
        rows = list(_conditions(table, now, 3.0 * FIRST_MOVE_MM))
        over = _overlap(rows) + max(now.reach_mm - limit_mm, 0.0)
        if over < left:
            best, left = now, over
        if over <= FREE_MM:
            break
        moved = _step(table, now, rows, (SHORTER**k, limit_mm))
        if moved is None:
            break
        now = moved
    return Exact(best.lying, best.at, left)


def compacted_turning(table: CuttingTable, found: Exact) -> Exact:
    """Move and turn outlines that lie free so that they reach less far along the table; at the least what was given."""
    best = now = found
    for _ in range(TURN_STEPS):
        rows = list(_conditions(table, now, 3.0 * FIRST_MOVE_MM))
        moved = _step(table, now, rows, (1.0, None))
        if moved is None:
            break
        free = separated_turning(table, moved, max(moved.reach_mm + FREE_MM, 0.0))
        if free.overlap_mm > FREE_MM or free.reach_mm > best.reach_mm - PUSH_WORTH * table.step:
            break
        best = now = Exact(free.lying, free.at, 0.0)
    return best


def _overlap(rows: list[_Apart]) -> float:
    """All that lies on each other, mm."""
    deep = dict[int, float]()
    for row in rows:
        deep[row.pair] = max(deep.get(row.pair, 0.0), -row.room)
    return sum(deep.values())


def _step(table: CuttingTable, now: Exact, rows: list[_Apart], told: tuple[float, float | None]) -> Exact | None:
    """One linear programme: least overlap within a limit, or least length without overlap, and small moves. told: the
    share of the first step, and the limit."""
    share, limit_mm = told
    count, pairs = len(now.lying), 1 + max((row.pair for row in rows), default=-1)
    # Unknown: moves and turns forward, the same back, slack of every pair, the length reached.
    slack, length = 6 * count, 6 * count + pairs
    entries, right = list[tuple[int, int, float]](), list[float]()

    def condition(terms: list[tuple[int, float]], most: float, extra: list[tuple[int, float]]) -> None:
        for column, value in terms:
            entries.append((len(right), column, value))
            entries.append((len(right), 3 * count + column, -value))
        entries.extend((len(right), column, value) for column, value in extra)
        right.append(most)

    for row in rows:
        terms = [(3 * row.a, -row.normal[0]), (3 * row.a + 1, -row.normal[1]), (3 * row.a + 2, -row.arms[0])]
        if row.b >= 0:
            terms += [(3 * row.b, row.normal[0]), (3 * row.b + 1, row.normal[1]), (3 * row.b + 2, -row.arms[1])]
        condition(terms, row.room - KEPT_APART_MM, [(slack + row.pair, -1.0)] if limit_mm is not None else [])
    for k, (one, at) in enumerate(zip(now.lying, now.at, strict=True)):
        points = one.outline.points
        for x, y in points[points[:, 0] > one.outline.size[0] - 2.0 * TURN_MOVE_MM]:
            terms = [(3 * k, 1.0), (3 * k + 2, float(0.5 * one.outline.size[1] - y))]
            if limit_mm is None:
                condition(terms, -float(at[0] + x), [(length, -1.0)])
            else:
                condition(terms, max(limit_mm - float(at[0] + x), 0.0), [])
    matrix_rows, columns, values = zip(*entries, strict=True)
    matrix = csr_array((values, (matrix_rows, columns)), shape=(len(right), length + 1))
    high = np.full(length + 1, np.inf)
    high[: 6 * count] = np.concatenate([_most(table, now, way, share) for way in (1.0, -1.0)])
    cost = np.full(length + 1, 1.0)
    cost[: 6 * count] = MOVE_COST
    cost[2 : 6 * count : 3] = MOVE_COST * np.tile(_arm_lengths(now), 2)
    cost[length] = 0.0 if limit_mm is not None else 1.0
    bounds: Any = np.column_stack([np.zeros(length + 1), high])
    found = linprog(cost, A_ub=cast(Any, matrix), b_ub=right, bounds=bounds, method="highs")
    if found.status != 0 or found.x is None:
        return None
    moves = (found.x[: 3 * count] - found.x[3 * count : 6 * count]).reshape(-1, 3)
    return _moved(table, now, moves)


def _arm_lengths(now: Exact) -> FloatArray:
    return np.array([0.5 * float(np.hypot(*one.outline.size)) for one in now.lying])


def _most(table: CuttingTable, now: Exact, way: float, share: float) -> FloatArray:
    """How far every piece may move and turn at most, (3 n,), forward or back."""
    found = np.full((len(now.lying), 3), FIRST_MOVE_MM * share)
    for k, (one, arm) in enumerate(zip(now.lying, _arm_lengths(now), strict=True)):
        room = turn_left(np.radians(one.turn_deg), table.wanted[k].allowed_deg)[int(way > 0.0)]
        found[k, 2] = min(TURN_MOVE_MM * share / arm, room)
    return found.ravel()


def _moved(table: CuttingTable, now: Exact, moves: FloatArray) -> Exact:
    """The pieces moved (n, 2) and turned round the middles of their boxes by radians (n,), one row for each piece."""
    lying, at = list[Oriented](), []
    for k, (one, place, move) in enumerate(zip(now.lying, now.at, moves, strict=True)):
        turn = float(move[2])
        if turn == 0.0:
            lying.append(one)
            at.append(place + move[:2])
            continue
        middle = place + 0.5 * one.outline.size
        other = table.turned(k, one.turn_deg + float(np.degrees(turn)))
        shift = spun((place + one.outline.shift - middle)[None], turn)[0] + middle + move[:2]
        lying.append(other)
        at.append(shift - other.outline.shift)
    return Exact(tuple(lying), np.array(at), 0.0)


def _conditions(table: CuttingTable, now: Exact, near: float) -> Iterator[_Apart]:
    """Corners and edges that keep convex parts apart, for all that lie near each other."""
    lying, at, pair = now.lying, now.at, 0
    boxes = np.array([[*place, *(place + one.outline.size)] for one, place in zip(lying, at, strict=True)])
    middles = [place + 0.5 * one.outline.size for one, place in zip(lying, at, strict=True)]
    still = np.zeros(2)
    for a in range(len(lying)):
        beside = [
            (b, part, at[b])
            for b in range(a)
            if near_boxes(boxes[a], boxes[b], near)
            for part in lying[b].outline.parts
        ]
        walls = [(-1, q, still) for q in table.walls(lying[a].grade) if near_boxes(boxes[a], q.box, near)]
        for b, q, there in [*beside, *walls]:
            for p in lying[a].outline.parts:
                if not near_boxes(p.box, q.box, near, there - at[a]):
                    continue
                middle = middles[b] if b >= 0 else still
                rows = _kept(p, q, (at[a], there), (middles[a], middle), near)
                if rows:
                    yield from (
                        _Apart(a, b, pair, normal, (arms[0], arms[1] if b >= 0 else 0.0), room)
                        for normal, arms, room in rows
                    )
                    pair += 1


def _kept(
    p: ConvexPart, q: ConvexPart, at: tuple[FloatArray, FloatArray], middles: tuple[FloatArray, FloatArray], near: float
) -> list[tuple[FloatArray, tuple[float, float], float]]:
    """Corners of one convex part before the edge of the other that parts them most: normal from q to p, arms, room."""
    normal, room = apart(p, q, at[0] - at[1])
    if room > near:
        return []
    mine, other = p.points + at[0], q.points + at[1]
    ahead, behind = mine @ normal, other @ normal
    # The edge is that of the part whose normal this is: its corners lie on one line.
    of_q = any(np.array_equal(normal, n) for n in q.normals)
    corners, line = (mine, float(behind.max())) if of_q else (other, float(ahead.min()))
    rooms = (ahead - line) if of_q else (line - behind)
    found = []
    for corner, left in zip(corners, rooms, strict=True):
        if left > room + 4.0 * TURN_MOVE_MM:
            continue
        arms = [float(normal @ np.array([-(corner - m)[1], (corner - m)[0]])) for m in middles]
        found.append((normal, (arms[0], -arms[1]), float(left)))
    return found
