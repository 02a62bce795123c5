"""Pieces that are tied to each other: the places they come to, measured on the finished layout."""

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from flatten.nesting.check import faults
from flatten.nesting.layout import lay_out
from flatten.nesting.ruin import Ruin
from flatten.nesting.search import ApartSearch, OnGrid
from flatten.nesting.table import CuttingTable
from flatten.nesting.task import Effort, FixedCut, Room, Tie, Ties, ToPlace
from flatten.nesting.ties import OPPOSITE_MM, UNLIKE_MM, WITHIN, TieCosts

L = np.array([[0.0, 0.0], [300.0, 0.0], [300.0, 120.0], [120.0, 120.0], [120.0, 250.0], [0.0, 250.0]])
MIRRORED_L = (L * [1.0, -1.0])[::-1]
HALF = box(0.0, -500.0, 1000.0, 500.0)
ROOMS = [
    Room("one", {"": HALF}, 0.0, {"tail": box(0, -500, 500, 500), "neck": box(500, -500, 1000, 500)}),
    Room("two", {"": HALF}, 0.0, {"tail": box(0, -500, 500, 500), "neck": box(500, -500, 1000, 500)}),
]
FLAW = box(40.0, 200.0, 120.0, 300.0)


def square(name, side, turns=(0.0, 180.0)):
    return ToPlace(name, np.array([[0.0, 0.0], [side, 0.0], [side, side], [0.0, side]]), turns)


def pieces():
    """A pair of a kind, three parts of one face, and others that are in the way."""
    pair = [ToPlace("left", L, (0.0, 180.0)), ToPlace("right", MIRRORED_L, (0.0, 180.0))]
    parts = [square(f"part {k}", 200.0) for k in range(3)]
    return [*pair, *parts, *(square(f"other {k}", 90.0 + 17.0 * k) for k in range(7))]


TIES = (
    Tie("left", "right", True, 50.0),
    Tie("part 0", "part 1", False, 40.0),
    Tie("part 1", "part 2", False, 40.0),
)


def laid(ties, rooms, rounds=2):
    effort = Effort(rounds=rounds)
    layout = lay_out(pieces(), rooms, gap_mm=3.0, effort=effort, ties=Ties(ties))
    assert not layout.unplaced
    assert not faults(layout, pieces(), rooms, 3.0)
    return {one.wanted.name: one for one in layout.placed}


def middle(one):
    return 0.5 * (one.points.min(axis=0) + one.points.max(axis=0))


def off_mirrored(found):
    left, right = found["left"], found["right"]
    assert left.room == right.room
    return float(np.hypot(*(middle(left) - middle(right) * [1.0, -1.0])))


def between(found, a, b):
    return Polygon(found[a].points).distance(Polygon(found[b].points))


def test_pairs_come_from_mirrored_places_and_parts_of_a_face_lie_together():
    rooms = [Room("one", {"": HALF.difference(FLAW)}, 0.0, ROOMS[0].parts), ROOMS[1]]
    loose, tied = laid((), rooms), laid(TIES, rooms)
    assert off_mirrored(tied) < 50.0
    assert off_mirrored(tied) < off_mirrored(loose)
    assert tied["left"].turn_deg == tied["right"].turn_deg
    assert max(between(tied, "part 0", "part 1"), between(tied, "part 1", "part 2")) < 40.0
    # No room more is needed for it.
    assert {one.room for one in tied.values()} == {"one"} == {one.room for one in loose.values()}


def test_the_same_task_gives_the_same_layout():
    one, other = laid(TIES, ROOMS, 0), laid(TIES, ROOMS, 0)
    assert [piece.points.tolist() for piece in one.values()] == [piece.points.tolist() for piece in other.values()]


@pytest.fixture
def costs():
    table = CuttingTable(pieces(), ROOMS, 3.0, Effort(step_mm=10.0), soft=0.0)
    return table, TieCosts(table, TIES)


def state_of(table, at):
    """A layout on the grid: everything at the origin but what is named, each by its turn and middle, mm in room one."""
    numbers = {one.name: k for k, one in enumerate(table.wanted)}
    state = OnGrid([options[0] for options in table.choices], [(0, 0)] * len(table.wanted))
    for name, (turn, x, y) in at.items():
        k = numbers[name]
        state.lying[k] = next(one for one in table.choices[k] if one.turn_deg == turn)
        place = (np.array([x, y]) + table.moves[0] - 0.5 * state.lying[k].outline.size) / table.step
        state.at[k] = (round(float(place[0])), round(float(place[1])))
    return state


def test_a_tie_costs_what_it_is_off(costs):
    table, ties = costs
    here = {"left": (0.0, 300.0, 200.0), "right": (0.0, 300.0, -200.0)}
    here |= {f"part {k}": (0.0, 150.0 + 210.0 * k, 300.0) for k in range(2)} | {"part 2": (0.0, 840.0, 300.0)}
    mirrored, near, far = ties.each(state_of(table, here))
    # The grid is 10 mm wide, and a pair is rounded to it twice.
    assert mirrored == pytest.approx(0.0, abs=15.0 * WITHIN)
    assert near == pytest.approx(10.0 * WITHIN, abs=10.0 * WITHIN)
    # From 360 to 840 with 200 between middles: 280 apart, 240 too much, and in another part of the room.
    assert far == pytest.approx(280.0 * WITHIN + 240.0 + UNLIKE_MM, abs=10.0 * (1.0 + WITHIN))
    turned, *_ = ties.each(state_of(table, here | {"right": (180.0, 300.0, -200.0)}))
    assert turned == pytest.approx(OPPOSITE_MM, abs=15.0 * WITHIN)
    off, *_ = ties.each(state_of(table, here | {"right": (0.0, 420.0, -200.0)}))
    assert off == pytest.approx(120.0 * WITHIN + 70.0, abs=15.0 * (1.0 + WITHIN))


def test_the_map_of_costs_is_what_each_place_costs(costs):
    table, ties = costs
    state = state_of(table, {"left": (0.0, 300.0, 200.0), "part 0": (0.0, 200.0, -100.0), "part 2": (0.0, 700.0, 0.0)})
    for index, among in ((1, {0}), (3, {2, 4})):
        oriented = table.choices[index][1]
        shape = table.places(oriented).depth.shape
        found = ties.places(index, oriented, state, among, shape)
        state.lying[index] = oriented
        for at in ((5, 7), (40, 30), (70, 60)):
            state.at[index] = at
            assert found[at] == pytest.approx(ties.each(state)[[0] if index == 1 else [1, 2]].sum())
    assert ties.places(0, table.choices[0][0], state, {5, 6}, (3, 3)) is None
    assert ties.places(6, table.choices[6][0], state, set(range(12)), (3, 3)) is None


def test_a_layout_is_never_made_worse_and_always_lies_free():
    table = CuttingTable(pieces(), ROOMS, 3.0, Effort(), soft=0.0)
    search = ApartSearch(table, 5)
    ruin = Ruin(search, TieCosts(table, TIES), np.array([Polygon(one.points).area for one in table.wanted]))
    first = ruin.begun(list(range(12))[::-1])
    before = ruin.cost(first)
    better = ruin.improved(first, 3000, lambda work: work < 3000)
    assert ruin.cost(better) < before
    assert ruin.cost(first) == before
    assert search.overlaps(better).sum() == 0.0


def test_a_pair_of_one_that_stays_where_it_is_comes_to_its_mirrored_place():
    away = np.array([600.0, 150.0])
    fixed = FixedCut("left", "one", 0.0, L + away)
    free = HALF.difference(Polygon(fixed.points).buffer(3.1))
    room = Room("one", {"": free}, 0.0)
    effort, ties = Effort(rounds=1), Ties(TIES[:1], (fixed,))
    wanted = [one for one in pieces() if one.name != "left"]
    layout = lay_out(wanted, [room], gap_mm=3.0, effort=effort, ties=ties)
    right = next(one for one in layout.placed if one.wanted.name == "right")
    assert np.hypot(*(middle(right) - middle(fixed) * [1.0, -1.0])) < 50.0
    assert not layout.unplaced


def test_a_first_full_answer_is_there_before_anything_is_sought():
    wanted, rooms = pieces(), ROOMS
    found = lay_out(wanted, rooms, gap_mm=3.0, effort=Effort(seconds=0.0), ties=Ties(TIES))
    assert not found.unplaced
    assert not faults(found, wanted, rooms, 3.0)
    assert found.first_s is not None
    assert found.first_s <= found.seconds
    assert found.rounds == 0
