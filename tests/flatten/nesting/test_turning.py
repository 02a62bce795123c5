"""Exact moves that turn pieces, and what touches."""

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from flatten.nesting.contacts import RoomField, brought_within, points_of, worths
from flatten.nesting.settle import FREE_MM, Exact
from flatten.nesting.table import CuttingTable
from flatten.nesting.task import Effort, Room, ToPlace
from flatten.nesting.turning import compacted_turning, separated_turning

BAR = np.array([[0.0, 0.0], [200.0, 0.0], [200.0, 100.0], [0.0, 100.0]])


def table(ranges: tuple[tuple[float, float], ...], room: Polygon) -> CuttingTable:
    wanted = [ToPlace("one", BAR, (0.0,), "", ranges), ToPlace("other", BAR, (0.0,), "", ranges)]
    return CuttingTable(wanted, [Room("table", {"": room})], 0.0, Effort(step_mm=5.0), soft=0.0)


def lying(on: CuttingTable, turns: tuple[float, float], at: list[list[float]]) -> Exact:
    return Exact(tuple(on.turned(k, turn) for k, turn in enumerate(turns)), np.array(at), 0.0)


def test_pieces_are_turned_to_where_they_have_room_and_no_further_than_they_may():
    # Two bars fill the table but for half a millimetre: askew, none of them fits beside the other.
    room = box(0.0, 0.0, 200.5, 200.5)
    free = table(((-5.0, 5.0),), room)
    found = separated_turning(free, lying(free, (2.0, -1.5), [[-3.0, -2.0], [-1.0, 97.0]]), 200.5)
    assert found.overlap_mm <= FREE_MM
    assert max(abs(one.turn_deg) for one in found.lying) < 0.3
    held = table(((1.5, 5.0), (-5.0, -1.5)), room)
    kept = separated_turning(held, lying(held, (2.0, -1.5), [[-3.0, -2.0], [-1.0, 97.0]]), 200.5)
    assert kept.overlap_mm > 0.1
    assert min(abs(one.turn_deg) for one in kept.lying) >= 1.5 - 1e-9


def test_turned_pieces_reach_less_far():
    on = table(((-20.0, 20.0),), box(0.0, 0.0, 600.0, 230.0))
    askew = lying(on, (12.0, 0.0), [[0.0, 0.0], [250.0, 0.0]])
    found = compacted_turning(on, askew)
    # One above the other they reach as far as one is long.
    assert found.reach_mm < askew.reach_mm - 40.0
    shapes = [Polygon(one.outline.points + at) for one, at in zip(found.lying, found.at, strict=True)]
    assert shapes[0].intersection(shapes[1]).area < 1e-2


def test_turns_are_brought_within_what_is_allowed():
    turns, near = brought_within(np.radians([1.0, 181.0, 90.0, 357.9]), ((0.0, 0.0), (180.0, 180.0)))
    assert near.tolist() == [True, True, False, True]
    assert np.degrees(turns[[0, 1]]) == pytest.approx([0.0, 180.0])
    assert brought_within(np.radians([77.0]), ((-180.0, 180.0),))[0] == pytest.approx(np.radians([77.0]))


def test_what_touches_is_worth_more_and_what_lies_in_something_nothing():
    field = RoomField.of(box(0.0, 0.0, 500.0, 300.0))
    points = points_of(BAR)
    turns = np.zeros(4)
    shifts = np.array([[0.5, 0.5], [0.5, 100.0], [150.0, 100.0], [-20.0, 0.0]])
    worth = worths(field, points, turns, shifts, last=True)
    # in a corner, along an edge, in the middle, outside
    assert worth[0] == pytest.approx(0.5, abs=0.03)
    assert worth[1] == pytest.approx(1.0 / 6.0, abs=0.03)
    assert worth[2] == pytest.approx(0.0, abs=1e-9)
    assert worth[3] == -1.0
    beside = field.without(BAR)
    assert worths(beside, points, np.zeros(2), np.array([[0.0, 0.0], [200.5, 0.5]]), last=True) == pytest.approx(
        [-1.0, 0.5], abs=0.03
    )
