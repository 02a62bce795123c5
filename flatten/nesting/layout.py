"""Lay pieces into rooms so that they reach as little far along the table as can be found: fewest hides, largest
remainder.

A first layout lays the largest pieces first, each as far left as it fits. Where pieces are tied to each other, a few at
a time are then taken out and laid anew. Else the limit is drawn in, pieces that lie beyond it or on each other are
moved until all lie free, all are pushed up exactly, and so on with smaller steps.
"""

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely.geometry import Polygon

from flatten.nesting.fitted import FittedSearch
from flatten.nesting.outline import turned
from flatten.nesting.ruin import Ruin
from flatten.nesting.search import ApartSearch, OnGrid
from flatten.nesting.settle import FREE_MM, Exact, compacted, separated
from flatten.nesting.table import CuttingTable, Oriented
from flatten.nesting.task import CutLayout, Effort, PlacedCut, Room, Ties, ToPlace
from flatten.nesting.ties import TieCosts
from flatten.nesting.turning import compacted_turning, separated_turning
from meshes.base.arrays import FloatArray

# By how much the limit is drawn in at first and at least, as a share of the table's width.
FIRST_CUT, LEAST_CUT = 0.05, 0.002
# Rounds of moving pieces apart in one trial, and the fewest trials before a piece is left out.
TRIAL_ROUNDS, FEWEST_TRIES = 150, 1
# A room is not tried to be saved where the others would be fuller than this, and given up after so many trials.
FULLEST, ROOM_TRIALS = 0.9, 6
# Moves of pieces after which it is given up to lay tied pieces in a room less.
MOVES_FOR_FEWER = 3_000
# Maps laid over each other while pieces that are tied are taken out and laid anew, for a round.
WORK_A_ROUND = 7_000
# In how many directions a piece is tried for a first full answer.
HURRIED_WAYS = 2
# From what share of all room on pieces are put together by what touches, and how many moves of a piece on the grid take
# as long as laying one down so.
FULL_TO_FIT, MOVES_A_FIT = 0.85, 30
# How many layouts are begun in other orders where none of the usual ones finds room for all.
MORE_ORDERS = 20
# By what share of a step pieces may lie on each other on the grid, and by how many steps for exact moves to be tried
# at all.
SOFT_STEPS, NEARLY_APART = 0.3, 4.0


@dataclass
class _TrialClock:
    """When to stop: after so many trials, or after so many seconds."""

    effort: Effort
    begin: float
    trials: int = 0

    def more_ruins(self, done: int) -> bool:
        if self.effort.seconds is not None:
            return self.more()
        return done < WORK_A_ROUND * self.effort.rounds

    def more(self) -> bool:
        if self.effort.seconds is not None:
            return time.perf_counter() - self.begin < self.effort.seconds
        return self.trials < self.effort.rounds


def lay_out(
    wanted: Sequence[ToPlace],
    rooms: Sequence[Room],
    *,
    gap_mm: float,
    effort: Effort | None = None,
    ties: Ties | None = None,
) -> CutLayout:
    """The best layout that was found; pieces that found no room are named in it. gap_mm: between cut lines; ties:
    between pieces. Without seconds in the effort the same task gives the same layout. Raises ValueError without
    rooms."""
    effort = effort or Effort()
    begin = time.perf_counter()
    if not rooms:
        raise ValueError("a layout needs at least one room")
    clock = _TrialClock(effort, begin)
    quick = None
    if ties is not None:
        quick = _in_a_hurry(CuttingTable(wanted, rooms, gap_mm, effort, soft=0.0), ties, clock)
        if quick is not None and not clock.more():
            return quick
        for count in range(1, len(rooms)):
            fewer = _in_fewer(CuttingTable(wanted, rooms[:count], gap_mm, effort, soft=0.0), ties, clock)
            if fewer is not None:
                return fewer if quick is None else replace(fewer, first_s=quick.first_s)
    found = _in_all(wanted, rooms, gap_mm, ties, clock)
    return found if quick is None else replace(found, first_s=quick.first_s)


def _in_a_hurry(hard: CuttingTable, ties: Ties, clock: _TrialClock) -> CutLayout | None:
    """A first full answer: pieces laid down one after the other in all rooms, in few directions; None where that leaves
    one out."""
    ruin = _tied(hard, ties, clock.effort)
    if ruin is None:
        return None
    state = ruin.begun(_orders(hard)[0], ways=HURRIED_WAYS)
    if state is None:
        return None
    first_s = time.perf_counter() - clock.begin
    return _layout(hard, _exactly(hard, state), (), (clock.begin, first_s, 0))


def _in_all(
    wanted: Sequence[ToPlace], rooms: Sequence[Room], gap_mm: float, ties: Ties | None, clock: _TrialClock
) -> CutLayout:
    effort, begin = clock.effort, clock.begin
    fitting, left_out, moves = list(wanted), list[str](), effort.moves
    while fitting:
        hard = CuttingTable(fitting, rooms, gap_mm, effort, soft=0.0)
        ruin = _tied(hard, ties, effort)
        state, first_s = (None, 0.0) if ruin is None else _begun(ruin, begin)
        first = _at_once(ApartSearch(hard, effort.seed)) if state is None or ruin is None else _exactly(hard, state)
        if first is not None and not clock.more():
            return _layout(hard, first, tuple(left_out), (begin, time.perf_counter() - begin, 0))
        if state is not None and ruin is not None:
            return _well_tied(ruin, state, tuple(left_out), (clock, first_s))
        soft = CuttingTable(fitting, rooms, gap_mm, effort, soft=SOFT_STEPS)
        search = ApartSearch(soft, effort.seed)
        found = _carried(soft, first) if first is not None else _hopeless(soft) or _tightly(search, moves)
        if isinstance(found, Exact):
            first_s = time.perf_counter() - begin
            best = _drawn_in(search, soft, found, clock) if clock.more() else found
            return _layout(soft, best, tuple(left_out), (begin, first_s, clock.trials))
        left_out += found
        moves = max(moves - search.moves, 0)
        fitting = [one for one in fitting if one.name not in left_out]
    return CutLayout((), tuple(left_out), 0.0, time.perf_counter() - begin, None, clock.trials)


def _in_fewer(hard: CuttingTable, ties: Ties, clock: _TrialClock) -> CutLayout | None:
    """A layout in some of the rooms, None where not everything is found to fit there: for a room less ties give way."""
    effort, ruin = clock.effort, _tied(hard, ties, clock.effort)
    room = max(sum(area.area for area in hard.areas(grade)) for grade in {one.grade for one in hard.wanted})
    if ruin is None or sum(_sizes(hard)) > FULLEST * room or _hopeless(hard):
        return None
    state, first_s = _begun(ruin, clock.begin)
    if state is None:
        soft = CuttingTable(hard.wanted, hard.rooms, 2.0 * hard.half_mm, effort, soft=SOFT_STEPS)
        found = _moved_apart(ApartSearch(soft, effort.seed), min(effort.moves, MOVES_FOR_FEWER))
        if not isinstance(found, Exact):
            return None
        first_s = time.perf_counter() - clock.begin
        state = _on_grid_again(ruin, found)
        if state is None:
            return _layout(soft, found, (), (clock.begin, first_s, 0))
    return _well_tied(ruin, state, (), (clock, first_s))


def _on_grid_again(ruin: Ruin, found: Exact) -> OnGrid | None:
    """Exact places on the grid of outlines that may not touch, None where they do not come free there."""
    table = ruin.search.table
    near = _carried(table, found)
    state = OnGrid(list(near.lying), [(round(float(x) / table.step), round(float(y) / table.step)) for x, y in near.at])
    for k, one in enumerate(state.lying):
        columns, rows = table.places(one).depth.shape
        state.at[k] = (min(max(state.at[k][0], 0), columns - 1), min(max(state.at[k][1], 0), rows - 1))
    state = ruin.search.resolve(state, TRIAL_ROUNDS)
    return state if ruin.search.overlaps(state).sum() == 0.0 else None


def _tied(table: CuttingTable, ties: Ties | None, effort: Effort) -> Ruin | None:
    """The search for a table with ties, None without any."""
    if ties is None:
        return None
    costs = TieCosts(table, ties.ties, ties.fixed)
    return Ruin(ApartSearch(table, effort.seed), costs, np.array(_sizes(table))) if costs.ties else None


def _begun(ruin: Ruin, begin: float) -> tuple[OnGrid | None, float]:
    """The best of a few layouts from nothing, None where pieces find no free place, and when the first was there."""
    orders = _orders(ruin.search.table)
    found, first_s = list[OnGrid](), 0.0
    for k in range(2 * len(orders) + MORE_ORDERS):
        if k < 2 * len(orders):
            order = ruin.together(orders[k // 2]) if k % 2 == 0 else orders[k // 2]
        elif found:
            break
        else:
            order = ruin.shuffled()
        state = ruin.begun(order)
        if state is not None:
            first_s = first_s or time.perf_counter() - begin
            found.append(state)
    return min(found, key=ruin.cost, default=None), first_s


def _exactly(table: CuttingTable, state: OnGrid) -> Exact:
    return Exact(tuple(state.lying), np.array(state.at, dtype=float) * table.step, 0.0)


def _well_tied(ruin: Ruin, state: OnGrid, left_out: tuple[str, ...], told: tuple[_TrialClock, float]) -> CutLayout:
    """A layout that lies free made better with its ties. told: the clock, and when all lay first."""
    clock, first_s = told
    better = ruin.improved(state, WORK_A_ROUND * clock.effort.rounds, clock.more_ruins)
    # Pushed up they would lie closer by less than a step, but no longer where their ties want them.
    best = _exactly(ruin.search.table, better)
    return _layout(ruin.search.table, best, left_out, (clock.begin, first_s, clock.effort.rounds))


def _hopeless(table: CuttingTable) -> list[str]:
    """Names of pieces that fit into none of the rooms even by themselves."""
    found = []
    for one, options in zip(table.wanted, table.choices, strict=True):
        depths = [table.places(option).depth for option in options]
        if not any(depth.size and depth.min() == 0.0 for depth in depths):
            found.append(one.name)
    return found


def _sizes(table: CuttingTable) -> list[float]:
    return [float(Polygon(one.points).area) for one in table.wanted]


def _orders(table: CuttingTable) -> list[list[int]]:
    """Orders in which pieces are laid down: by area, and by the longer side of their box, largest first."""
    boxes = [float(options[0].outline.size.max()) for options in table.choices]
    return [[int(k) for k in np.argsort(-np.array(sizes), kind="stable")] for sizes in (_sizes(table), boxes)]


def _at_once(search: ApartSearch) -> Exact | None:
    """A layout in which each piece found a free place straight away."""
    for order in _orders(search.table):
        state = search.begin(order)
        if search.overlaps(state).sum() == 0.0:
            if search.table.half_mm == 0.0:
                return _apart(search, state)
            return Exact(tuple(state.lying), np.array(state.at, dtype=float) * search.table.step, 0.0)
    return None


def _tightly(search: ApartSearch, moves: int) -> Exact | list[str]:
    """A layout of pieces that found no free place one after the other: put together by what touches where they fill
    nearly all there is, else moved apart; or the name of a piece to leave out."""
    table = search.table
    room = sum(area.area for area in table.areas(max(one.grade for one in table.wanted)))
    if FULL_TO_FIT * room < sum(_sizes(table)) < room:
        fitted = FittedSearch(table, int(search.draw.integers(1 << 30)))
        for way in fitted.ways(moves // MOVES_A_FIT):
            lying = [table.turned(k, turn) for k, (turn, _) in enumerate(way)]
            at = np.array([shift - one.outline.shift for one, (_, shift) in zip(lying, way, strict=True)])
            found = separated_turning(table, Exact(tuple(lying), at, 0.0), search.limit_mm)
            if found.overlap_mm <= FREE_MM:
                return found
    return _moved_apart(search, moves)


def _moved_apart(search: ApartSearch, moves: int) -> Exact | list[str]:
    """A layout in which all pieces lie free after they were moved apart, or the name of the piece to leave out: the
    smallest of those that lie on others. moves: how many are tried at most."""
    table = search.table
    areas = _sizes(table)
    orders = _orders(table)
    room = sum(area.area for area in table.areas(max(one.grade for one in table.wanted)))
    tries = 0
    while sum(areas) < room and (search.moves < moves or tries < FEWEST_TRIES):
        order = orders[tries] if tries < len(orders) else [int(k) for k in search.draw.permutation(search.count)]
        found = _apart(search, search.resolve(search.begin(order), TRIAL_ROUNDS))
        if found is not None:
            return found
        tries += 1
    over = search.overlaps(search.begin(orders[0]))
    bad = [k for k in range(search.count) if over[k].sum() > 0.0] or list(range(search.count))
    return [table.wanted[min(bad, key=lambda k: (areas[k], k))].name]


def _apart(search: ApartSearch, state: OnGrid) -> Exact | None:
    """The state with its last overlaps taken out by small exact moves, None where they cannot."""
    if search.overlaps(state).max() > NEARLY_APART:
        return None
    at = np.array(state.at, dtype=float) * search.table.step
    found = separated(search.table, state.lying, at, search.limit_mm)
    return found if found.overlap_mm <= FREE_MM and found.reach_mm <= search.limit_mm + FREE_MM else None


def _carried(table: CuttingTable, found: Exact) -> Exact:
    """The same places for the outlines of another table, whose boxes differ by what is left out of their curves."""
    lying, at = [], []
    for options, one, place in zip(table.choices, found.lying, found.at, strict=True):
        same = next(option for option in options if option.turn_deg == one.turn_deg)
        lying.append(same)
        at.append(place + one.outline.shift - same.outline.shift)
    return Exact(tuple(lying), np.array(at), 0.0)


def _drawn_in(search: ApartSearch, table: CuttingTable, first: Exact, clock: _TrialClock) -> Exact:
    best = _fewer_rooms(search, table, compacted(table, list(first.lying), first.at))
    cut, misses = FIRST_CUT, 0
    while clock.more():
        clock.trials += 1
        search.limit_mm = _limit(table, best.reach_mm, cut)
        state = _started(search, table, best, misses)
        found = _apart(search, search.resolve(state, TRIAL_ROUNDS))
        if found is None:
            cut, misses = max(0.6 * cut, LEAST_CUT), misses + 1
            continue
        pushed = compacted(table, list(found.lying), found.at)
        if pushed.reach_mm < best.reach_mm - FREE_MM:
            best, misses = pushed, 0
    if any(one.ranges_deg for one in table.wanted):
        best = compacted_turning(table, best)
    return best


def _fewer_rooms(search: ApartSearch, table: CuttingTable, best: Exact) -> Exact:
    """The layout without its last room, and the one before, as long as what lies there finds room in the others."""
    areas = sum(_sizes(table))
    for last in reversed(range(1, len(table.boxes))):
        if best.reach_mm <= table.boxes[last][0]:
            continue
        room = [sum(area.area for area in table.areas(grade)[:last]) for grade in {one.grade for one in table.wanted}]
        if areas > FULLEST * max(room):
            break
        search.limit_mm = table.boxes[last - 1][1] + 2.0 * table.half_mm
        for trial in range(ROOM_TRIALS):
            found = _apart(search, search.resolve(_started(search, table, best, trial), TRIAL_ROUNDS))
            if found is not None:
                best = compacted(table, list(found.lying), found.at)
                break
        else:
            break
    return best


def _limit(table: CuttingTable, reach_mm: float, cut: float) -> float:
    """A limit nearer than the reach; where no room stands it goes back to the end of the room before."""
    limit = reach_mm - cut * table.width_mm
    for low, high in table.boxes:
        if low - 2.0 * table.half_mm <= reach_mm and limit < low:
            before = [end for _, end in table.boxes if end < low]
            return min(limit, max(before, default=limit) + 2.0 * table.half_mm)
        if high < limit < low:
            return high + 2.0 * table.half_mm
    return limit


def _started(search: ApartSearch, table: CuttingTable, best: Exact, misses: int) -> OnGrid:
    """The best layout on the grid, within the limit; after misses with two pieces of like size changed over."""
    lying, places = _in_directions(table, best)
    at = [(round(float(x) / table.step), round(float(y) / table.step)) for x, y in places]
    if misses % 3:
        sizes = np.array(_sizes(table))
        a = int(search.draw.integers(search.count))
        ranked = np.argsort(np.abs(np.log(sizes / sizes[a])), kind="stable")
        b = int(ranked[min(1 + int(search.draw.integers(6)), search.count - 1)])
        at[a], at[b] = at[b], at[a]
    for k, one in enumerate(lying):
        depth = table.places(one).depth
        columns = max(min(search.columns(one), depth.shape[0]), 1)
        at[k] = (min(max(at[k][0], 0), columns - 1), min(max(at[k][1], 0), max(depth.shape[1] - 1, 0)))
    return OnGrid(lying, at)


def _in_directions(table: CuttingTable, found: Exact) -> tuple[list[Oriented], FloatArray]:
    """Outlines in the nearest of the directions that are tried, their middles where they were."""
    lying, at = [], []
    for options, one, place in zip(table.choices, found.lying, found.at, strict=True):
        near = min(options, key=lambda option: abs((option.turn_deg - one.turn_deg + 180.0) % 360.0 - 180.0))
        lying.append(near)
        at.append(place + 0.5 * (one.outline.size - near.outline.size))
    return lying, np.array(at)


def _layout(table: CuttingTable, best: Exact, unplaced: tuple[str, ...], told: tuple[float, float, int]) -> CutLayout:
    begin, first_s, rounds = told
    placed = []
    for one, lying, at in zip(table.wanted, best.lying, best.at, strict=True):
        middle = float(at[0] + 0.5 * lying.outline.size[0])
        inside = [k for k, (low, high) in enumerate(table.boxes) if low - 1.0 <= middle <= high + 1.0]
        shift = at + lying.outline.shift - table.moves[inside[0]]
        points = turned(one.points, lying.turn_deg) + shift
        placed.append(PlacedCut(one, table.rooms[inside[0]].name, lying.turn_deg, shift, points))
    reach = best.reach_mm - table.half_mm
    return CutLayout(tuple(placed), unplaced, reach, time.perf_counter() - begin, first_s, rounds)
