"""Pieces taken out and laid down again: what a layout costs in closed form, rooms too small, and what never happens on
the way: a piece on another, a costlier end, a piece that moved without being taken out."""

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from flatten.nesting.layout import lay_out
from flatten.nesting.outline import placed_outline, turned
from flatten.nesting.ruin import Ruin
from flatten.nesting.search import ApartSearch
from flatten.nesting.table import CuttingTable
from flatten.nesting.task import Effort, Room, Tie, Ties, ToPlace, area_mm2, strip_room
from flatten.nesting.ties import TieCosts


def oblong(name, wide, high, **more):
    return ToPlace(name, np.array([[0.0, 0.0], [wide, 0.0], [wide, high], [0.0, high]]), **more)


def ruin_of(wanted, rooms, ties=(), gap=0.0, step=5.0):
    effort = Effort(rounds=1, step_mm=step)
    table = CuttingTable(wanted, rooms, gap, effort, soft=0.0)
    areas = np.array([Polygon(one.points).area for one in wanted])
    return Ruin(ApartSearch(table, effort.seed), TieCosts(table, ties, ()), areas)


def boxes(ruin, state):
    """Where pieces lie on the grid, as boxes."""
    found = []
    for one, at in zip(state.lying, state.at, strict=True):
        x, y = np.array(at) * ruin.step
        found.append(box(x, y, x + one.outline.size[0], y + one.outline.size[1]))
    return found


WANTED = [oblong("long", 200.0, 60.0), oblong("square", 100.0, 100.0), oblong("small", 40.0, 30.0)]


def free(ruin, state):
    shapes = boxes(ruin, state)
    return all(a.intersection(b).area < 1e-6 for k, a in enumerate(shapes) for b in shapes[:k])


def test_a_layout_costs_its_reach_and_three_tenths_of_the_mean_of_all():
    ruin = ruin_of(WANTED, [strip_room(160.0, 900.0)])
    state = ruin.begun([0, 1, 2])
    assert free(ruin, state)
    ends = [shape.bounds[2] for shape in boxes(ruin, state)]
    areas = np.array([12_000.0, 10_000.0, 1_200.0])
    assert ruin.ends(state) == pytest.approx(ends, abs=1e-6)
    assert ruin.cost(state) == pytest.approx(max(ends) + 0.3 * (areas @ ends) / areas.sum(), abs=1e-6)
    # 60 and 100 lie one above the other in 160: nothing reaches farther than the long one, the small one beside it.
    assert max(ends) == pytest.approx(200.0, abs=2 * ruin.step)
    # All moved on by one step cost a step, and three tenths of one.
    moved = state.copy()
    moved.at = [(x + 1, y) for x, y in state.at]
    assert ruin.cost(moved) - ruin.cost(state) == pytest.approx(1.3 * ruin.step, abs=1e-6)


def test_a_room_more_costs_half_of_three_metres_and_half_by_the_share_that_lies_there():
    wanted = [oblong("one", 100.0, 100.0), oblong("two", 100.0, 90.0)]
    rooms = [Room(name, {"": box(0.0, 0.0, 120.0, 120.0)}) for name in ("first", "second")]
    ruin = ruin_of(wanted, rooms)
    state = ruin.begun([0, 1])
    assert state is not None
    first, second = (shape.bounds[2] for shape in boxes(ruin, state))
    assert first < second
    share = 9_000.0 / 19_000.0
    wanted_cost = second + 0.3 * (first * (1.0 - share) + second * share) + 1500.0 * (1.0 + share)
    assert ruin.cost(state) == pytest.approx(wanted_cost, abs=1e-6)


def test_what_finds_no_room_ends_the_laying():
    for wide, fits in ((210.0, True), (190.0, False)):
        ruin = ruin_of([oblong("one", 100.0, 100.0), oblong("two", 100.0, 100.0)], [strip_room(102.0, wide)])
        assert (ruin.begun([0, 1]) is not None) is fits
        assert (ruin.begun([1, 0]) is not None) is fits
    assert ruin_of([oblong("one", 100.0, 120.0)], [strip_room(110.0, 500.0)]).begun([0]) is None
    turned = ruin_of([oblong("one", 100.0, 120.0, turns_deg=(0.0, 90.0))], [strip_room(110.0, 500.0)])
    assert turned.begun([0]) is not None
    # Only its first direction, which does not fit.
    assert turned.begun([0], ways=1) is None or turned.search.table.choices[0][0].outline.size[1] < 110.0


def test_a_piece_gives_back_its_room_when_it_is_taken_out_and_nothing_else_moves():
    ruin = ruin_of(WANTED, [strip_room(160.0, 900.0)])
    state = ruin.begun([0, 1, 2])
    for index in range(3):
        again, left = state.copy(), [k for k in range(3) if k != index]
        kept = [again.at[k] for k in left]
        assert ruin.lay([index], again, list(left), reach=float(ruin.ends(state)[left].max()))
        assert [again.at[k] for k in left] == kept
        assert free(ruin, again)
        # Laid down by itself it lies no farther than before.
        assert ruin.ends(again)[index] <= ruin.ends(state)[index] + 1e-9


def test_a_layout_never_ends_costlier_than_it_began():
    draw = np.random.default_rng(3)
    wanted = [oblong(f"{k}", *draw.uniform(40.0, 160.0, 2), turns_deg=(0.0, 90.0)) for k in range(9)]
    ruin = ruin_of(wanted, [strip_room(260.0, 1500.0)], step=8.0)
    # From the smallest on, so that there is something to better.
    state = ruin.begun([int(k) for k in np.argsort(ruin.areas)])
    before = state.copy()
    found = ruin.improved(state, 400, lambda done: done < 400)
    assert state.at == before.at
    assert free(ruin, found)
    assert ruin.cost(found) < ruin.cost(state)
    stopped = ruin.improved(state, 400, lambda done: False)
    assert stopped.at == state.at


def test_orders_hold_every_piece_once_and_tied_ones_side_by_side():
    wanted = [oblong(f"{k}", 40.0 + 10.0 * k, 50.0) for k in range(6)]
    room = Room("hide", {"": box(0.0, -200.0, 900.0, 200.0)}, axis_mm=0.0)
    ruin = ruin_of(wanted, [room], (Tie("1", "4", True, 10.0), Tie("0", "5", False, 10.0)))
    for _ in range(5):
        assert sorted(ruin.shuffled()) == list(range(6))
    assert ruin.together([5, 4, 3, 2, 1, 0]) == [5, 4, 1, 3, 2, 0]
    assert ruin.together([0, 1, 2, 3, 4, 5]) == [0, 1, 4, 2, 3, 5]
    # Much larger pieces come first whatever is drawn.
    big = ruin_of([oblong("a", 5.0, 5.0), oblong("b", 400.0, 400.0)], [strip_room(500.0, 900.0)])
    assert all(big.shuffled() == [1, 0] for _ in range(5))


@pytest.mark.parametrize("gap", [0.0, 4.0])
def test_layouts_keep_their_gap_fill_no_more_than_their_room_and_know_no_unit(gap):
    room = Room("hide", {"": box(0.0, -150.0, 700.0, 150.0)}, axis_mm=0.0)
    wanted = [oblong(f"{k}", 90.0, 60.0 + 10.0 * (k % 3)) for k in range(8)]
    ties = Ties((Tie("0", "1", True, 20.0), Tie("2", "3", False, 20.0)))
    found = lay_out(wanted, [room], gap_mm=gap, effort=Effort(rounds=0, step_mm=6.0), ties=ties)
    assert not found.unplaced
    shapes = [Polygon(one.points) for one in found.placed]
    assert sorted(one.wanted.name for one in found.placed) == [str(k) for k in range(8)]
    assert min(a.distance(b) for k, a in enumerate(shapes) for b in shapes[:k]) >= gap - 1e-6
    assert all(a.intersection(b).area < 1e-6 for k, a in enumerate(shapes) for b in shapes[:k])
    assert all(room.areas[""].buffer(1e-6).covers(shape) for shape in shapes)
    assert area_mm2(found) == pytest.approx(sum(Polygon(one.points).area for one in wanted), rel=1e-9)
    assert found.reach_mm == pytest.approx(max(shape.bounds[2] for shape in shapes), abs=6.0 + gap)
    assert found.reach_mm >= area_mm2(found) / 300.0


@pytest.mark.parametrize("degrees", [0.0, 33.0, 90.0, 180.0, 270.0, -90.0, 450.0, -147.0, 359.0])
def test_a_turn_is_one_round_the_origin_counter_clockwise(degrees):
    """As numbers of the plane: times a number of length 1; quarter turns to the last digit."""
    points = np.array([[3.0, 1.0], [-2.0, 5.0], [0.5, -7.0]])
    there = turned(points, degrees)
    plane = (points[:, 0] + 1j * points[:, 1]) * np.exp(1j * np.radians(degrees))
    assert there == pytest.approx(np.stack([plane.real, plane.imag], axis=1), abs=1e-12)
    if degrees % 90.0 == 0.0:
        assert set(np.abs(there).ravel()) == set(np.abs(points).ravel())
    # Laid as an outline its box begins in the origin, and its shift brings the turned points there.
    shape = np.array([[10.0, 20.0], [60.0, 20.0], [60.0, 50.0], [40.0, 35.0], [10.0, 50.0]])
    outline = placed_outline(shape, degrees)
    moved = turned(shape, degrees) + outline.shift
    assert moved.min(axis=0) == pytest.approx([0.0, 0.0], abs=1e-9)
    assert moved.max(axis=0) == pytest.approx(outline.size)
    assert Polygon(outline.points).area == pytest.approx(Polygon(shape).area, rel=1e-4)
    assert Polygon(moved).buffer(1e-9).covers(Polygon(outline.points))
    # Every part lies within its own edges and touches each of them.
    for part in outline.parts:
        far = part.normals @ part.points.T
        assert far.max(axis=1) == pytest.approx(part.reach, abs=1e-9)
        assert np.hypot(*part.normals.T) == pytest.approx(1.0)
        assert part.box == pytest.approx([*part.points.min(axis=0), *part.points.max(axis=0)])
    assert sum(Polygon(part.points).area for part in outline.parts) == pytest.approx(Polygon(shape).area)
