"""Welt in runs: what follows what, where it closes, and that every seam is in one run, however seams are listed."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flatten.pieces.welt import WeltRun, welt_runs
from meshes.seat.panels import Seam

# The corners of a box's top, and a point beyond one of them.
POINTS = np.array([[0.0, 0, 0], [500, 0, 0], [500, 400, 0], [0, 400, 0], [900, 0, 0], [500, 0, -100]])


def seam(name, *vertices, welt=True):
    return Seam(name, "face", "band", welt, np.array(vertices))


FRONT, RIGHT, REAR, LEFT = seam("front", 0, 1), seam("right", 1, 2), seam("rear", 2, 3), seam("left", 3, 0)


def test_three_sides_are_one_run_with_two_ends():
    (run,) = welt_runs([RIGHT, LEFT, FRONT], POINTS)
    assert run.seams in (("right", "front", "left"), ("left", "front", "right"))
    assert not run.closed
    assert run.turns == 2


def test_all_round_closes():
    (run,) = welt_runs([FRONT, RIGHT, REAR, LEFT], POINTS)
    assert (sorted(run.seams), run.closed, run.turns) == (["front", "left", "rear", "right"], True, 4)


def test_a_ring_of_one_seam_closes():
    assert welt_runs([seam("ring", 0, 1, 2, 3, 0)], POINTS) == (WeltRun(("ring",), True, 1),)


def test_seams_without_welt_part_runs():
    runs = welt_runs([FRONT, seam("right", 1, 2, welt=False), REAR], POINTS)
    assert [run.seams for run in runs] == [("front",), ("rear",)]


def test_where_three_meet_the_straightest_goes_on():
    runs = welt_runs([FRONT, seam("on", 1, 4), seam("down", 1, 5)], POINTS)
    assert {run.seams for run in runs} == {("front", "on"), ("down",)}
    assert {run.turns for run in runs} == {0}


@given(st.permutations([0, 1, 2, 3]), st.lists(st.booleans(), min_size=4, max_size=4))
def test_order_and_direction_of_seams_do_not_matter(order, turned):
    given_ = [FRONT, RIGHT, REAR, LEFT]
    seams = [
        Seam(given_[k].name, "face", "band", True, given_[k].vertices[::-1] if turned[k] else given_[k].vertices)
        for k in order
    ]
    (run,) = welt_runs(seams, POINTS)
    assert (sorted(run.seams), run.closed, run.turns) == (["front", "left", "rear", "right"], True, 4)


@given(st.lists(st.tuples(st.integers(0, 5), st.integers(0, 5)), max_size=9, unique=True))
def test_every_welted_seam_is_in_one_run(pairs):
    rng = np.random.default_rng(1)
    points = rng.uniform(0, 300, (6, 3))
    seams = [seam(f"s{k}", a, 5 - a if a == b else b) for k, (a, b) in enumerate(pairs)]
    seams = [one for one in seams if one.vertices[0] != one.vertices[-1]]
    named = [name for run in welt_runs(seams, points) for name in run.seams]
    assert sorted(named) == sorted(one.name for one in seams)


@pytest.mark.parametrize("turn", [0.0, 0.7])
def test_runs_do_not_depend_on_where_the_seat_stands(turn):
    spun = POINTS @ np.array([[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1]]) + 50.0
    assert welt_runs([FRONT, RIGHT, REAR], spun) == welt_runs([FRONT, RIGHT, REAR], POINTS)
