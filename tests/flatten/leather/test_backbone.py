"""How a piece lies to the backbone, as laws: closed forms on evenly stretched pieces, what a turn must not change."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from flatten.leather.budget_use import beyond, use_of
from flatten.leather.grain import (
    ON_AXIS_DEG,
    STEP_DEG,
    MeansOnMap,
    as_it_lay,
    both_means,
    carried,
    carrying,
    chosen,
    even_backbone,
    turned_direction,
    upright,
)
from flatten.leather.stretch import Stretch
from tests import shapes

LIMITS = (0.05, 0.10)


def direction(degrees):
    return np.array([np.cos(np.deg2rad(degrees)), np.sin(np.deg2rad(degrees))])


def evenly(degrees, large=1.06, small=1.01, count=3):
    """A piece stretched alike everywhere, most in one direction."""
    along = np.tile(direction(degrees), (count, 1))
    return Stretch(np.tile([large, small], (count, 1)), along, np.zeros((count, 3)), np.ones(count))


def off_deg(one, other):
    """Signed angle from one direction to another."""
    return np.rad2deg(np.arctan2(one[0] * other[1] - one[1] * other[0], one @ other))


@pytest.mark.parametrize("window", [1.0, 6.0, 10.0, 20.0])
@pytest.mark.parametrize("away", [-70.0, -12.0, -4.0, 4.0, 12.0, 70.0])
def test_the_window_is_used_to_its_end_and_no_further(window, away):
    """Leather gives more across the backbone: an even pull is taken best square to it. With that best place `away` from
    the middle of the window the backbone goes there, or as far towards it as the window lets it."""
    middle = direction(33.0)
    field = evenly(33.0 + 90.0 + away)
    found = off_deg(middle, chosen(field, np.log(1.01), middle, window, LIMITS))
    wanted = np.clip(away, -window, window)
    assert abs(found) <= window + 1e-9
    if abs(away) >= window:
        assert found == pytest.approx(wanted, abs=1e-9)
    else:
        # A trial every few degrees comes within half a step.
        assert found == pytest.approx(wanted, abs=0.5 * STEP_DEG + 1e-9)


def test_leather_softer_along_its_backbone_is_laid_the_other_way():
    middle = direction(0.0)
    found = chosen(evenly(15.0), np.log(1.01), middle, 10.0, LIMITS[::-1])
    assert off_deg(middle, found) == pytest.approx(10.0)


@pytest.mark.parametrize(("window", "limits"), [(0.0, LIMITS), (20.0, (0.05, 0.05))])
def test_without_a_window_or_a_difference_nothing_is_turned(window, limits):
    middle = direction(20.0)
    assert np.array_equal(chosen(evenly(70.0), 0.01, middle, window, limits), middle)


def test_of_angles_that_serve_alike_the_nearest_is_taken():
    # Stretched alike in all directions nothing is won by a turn.
    middle = direction(-40.0)
    assert np.allclose(chosen(evenly(0.0, 1.03, 1.03), np.log(1.01), middle, 15.0, LIMITS), middle, atol=1e-15)


def test_the_worst_place_decides_how_a_piece_lies():
    """Two places pulled to either side of the best turn: the one that is pulled more draws the backbone to itself."""
    field = Stretch(
        np.array([[1.05, 1.01], [1.08, 1.01]]),
        np.stack([direction(90.0 - 20.0), direction(90.0 + 20.0)]),
        np.zeros((2, 3)),
        np.ones(2),
    )
    found = off_deg(direction(0.0), chosen(field, np.log(1.01), direction(0.0), 20.0, LIMITS))
    assert 0.0 < found <= 20.0


def test_use_counts_from_the_pull_however_large_the_piece_was_drawn():
    """What is chosen does not depend on the size of the map, as it is scaled to the leather's pull first."""
    rng = np.random.default_rng(3)
    values = 1.0 + 0.08 * np.sort(rng.random((40, 2)), axis=1)[:, ::-1]
    turns = rng.uniform(0, np.pi, 40)
    along = np.stack([np.cos(turns), np.sin(turns)], axis=1)
    found = [
        chosen(Stretch(k * values, along, np.zeros((40, 3)), np.ones(40)), 0.01, direction(0.0), 30.0, LIMITS)
        for k in (0.5, 1.0, 3.0)
    ]
    assert np.allclose(found, found[0], atol=1e-12)


@given(st.floats(-180.0, 180.0), st.floats(0.2, 44.9))
def test_an_even_piece_lies_along_its_line_or_across_it_within_the_window(degrees, window):
    middle = direction(degrees)
    found = even_backbone(middle, window)
    # Angle to the nearer of both axes.
    off = abs((degrees + 45.0) % 90.0 - 45.0)
    if abs(off - window) > 1e-9:
        assert (found is None) == (off > window)
    if found is not None:
        assert abs(found @ middle) == pytest.approx(np.cos(np.deg2rad(off)), abs=1e-12)
        assert sorted(found) == [0.0, 1.0]


@pytest.mark.parametrize("off", [0.5 * ON_AXIS_DEG, -0.5 * ON_AXIS_DEG])
def test_what_runs_along_a_line_of_symmetry_but_for_rounding_needs_no_window(off):
    assert np.array_equal(even_backbone(direction(90.0 + off)), [0.0, 1.0])
    assert np.array_equal(even_backbone(direction(180.0 + off)), [1.0, 0.0])
    assert even_backbone(direction(90.0 + 4.0 * off)) is None


@given(st.floats(-180.0, 180.0), st.floats(-180.0, 180.0), st.floats(-89.0, 89.0))
def test_a_backbone_keeps_its_angle_to_the_grain(start, now, off):
    found = as_it_lay(direction(start), direction(start + off), direction(now))
    assert np.allclose(found, direction(now + off), atol=1e-12)


@given(st.floats(-180.0, 180.0), st.floats(-180.0, 180.0))
def test_turns_add_up_and_turn_counter_clockwise(degrees, more):
    assert np.allclose(turned_direction(direction(degrees), np.deg2rad(more)), direction(degrees + more), atol=1e-12)


@given(st.floats(-180.0, 180.0))
def test_an_upright_piece_has_its_backbone_up_and_is_only_turned(degrees):
    backbone = direction(degrees)
    assert np.allclose(upright(backbone[None], backbone), [[0.0, 1.0]], atol=1e-12)
    # To the right of the backbone is the right of the paper: turned, not mirrored.
    right = np.array([backbone[1], -backbone[0]])
    assert np.allclose(upright(right[None], backbone), [[1.0, 0.0]], atol=1e-12)


def test_an_even_map_carries_every_direction_as_it_is_written():
    """On a plane a linear map is known in closed form: it carries a direction by its matrix, wherever the map lies. Of
    one that stands off the plane what lies in it is carried, at its length there and at length 1."""
    points, triangles = shapes.scattered(300.0, 200.0, 40.0)
    seat = np.column_stack([points, np.full(len(points), 5.0)])
    matrix = np.array([[0.9, 0.3], [-0.2, 1.1]])
    there = points @ matrix.T + [40.0, -3.0]
    for grain in (np.array([1.0, 0, 0]), np.array([0.6, 0.8, 0]), np.array([0.0, 0.6, 0.8])):
        size = np.linalg.norm(grain[:2])
        wanted = matrix @ grain[:2] / size
        assert np.allclose(both_means(seat, triangles, grain).T @ there, [size * wanted, wanted], atol=1e-12)
        assert np.allclose(carrying(seat, triangles, grain) @ there, wanted, atol=1e-12)
        assert np.allclose(carried(seat, triangles, there, grain), wanted / np.linalg.norm(wanted), atol=1e-12)


def folded(steep):
    """A flat strip of 3 parts of the area and one of 1 part that stands up by an angle, two triangles each, along y."""
    up = np.array([0.0, np.cos(steep), np.sin(steep)])
    corners = np.array([[0.0, 0, 0], [30, 0, 0], [30, -30, 0], [0, -30, 0]])
    seat = np.vstack([corners, [30, 0, 0] + 10 * up, [0, 0, 0] + 10 * up])
    return seat, np.array([[3, 2, 1], [3, 1, 0], [0, 1, 4], [0, 4, 5]])


@given(st.lists(st.floats(-1.0, 1.0), min_size=3, max_size=3).filter(lambda g: np.linalg.norm(g) > 0.1))
def test_means_reckoned_ahead_are_the_same_means(grain):
    """On one map, whatever the direction: the weights of a map's points, and what is reckoned of the map beforehand."""
    seat, triangles = folded(1.2)
    points = seat[:, :2] * [1.1, 0.9] + [3.0, -7.0]
    points[4:] += [6.0, 20.0]
    here = np.array(grain)
    # Where all of a fold stands square to the direction nothing but rounding is left of it.
    assume(np.abs(np.linalg.norm(np.cross(np.cross([1.0, 0, 0], [0, np.cos(1.2), np.sin(1.2)]), here))) > 1e-3)
    assume(np.hypot(*here[:2]) > 1e-3)
    means = MeansOnMap(seat, triangles, points).of(here)
    assert np.allclose(means, both_means(seat, triangles, here).T @ points, atol=1e-9)


@pytest.mark.parametrize("steep", [0.0, 0.7, 1.2])
def test_means_are_weighed_by_area_on_the_seat(steep):
    """Two strips carried to two directions, 3 parts of the area to one of the other, whatever the number of triangles;
    the one that stands up shows less of the direction, and counts by that in one mean, in full in the other."""
    seat, triangles = folded(steep)
    points = seat[:, :2].copy()
    # The strip that stands up is laid out twice as long, slanting to the right.
    points[4:] = points[[1, 0]] + [6.0, 20.0]
    low, high = np.array([0.0, 1.0]), np.array([0.6, 2.0])
    shown = np.cos(steep)
    plain, whole = both_means(seat, triangles, np.array([0.0, 1.0, 0.0])).T @ points
    assert np.allclose(plain, 0.75 * low + 0.25 * shown * high, atol=1e-12)
    assert np.allclose(whole, 0.75 * low + 0.25 * high, atol=1e-12)
    # Between both, each counted by its size on the seat.
    flat = both_means(seat, triangles, np.array([0.0, 1.0, 0.0])).T @ seat
    sizes = np.linalg.norm(flat, axis=1)
    between = 0.5 * (plain / sizes[0] + whole / sizes[1])
    assert np.allclose(carried(seat, triangles, points, np.array([0.0, 1.0, 0.0])), between / np.linalg.norm(between))


def test_what_stands_square_to_a_direction_counts_for_nothing():
    seat, triangles = folded(0.5 * np.pi)
    points = seat[:, :2].copy()
    points[4:] = points[[1, 0]] + [6.0, 20.0]
    plain, whole = both_means(seat, triangles, np.array([0.0, 1.0, 0.0])).T @ points
    assert np.allclose([plain, whole], [[0.0, 0.75], [0.0, 0.75]], atol=1e-12)


@given(st.floats(1.0, 1.2), st.floats(0.85, 1.0), st.floats(0.0, 180.0), st.floats(0.0, 180.0), st.floats(0.0, 180.0))
def test_budget_figures_turn_with_the_piece(large, small, pull, lies, more):
    """Piece and backbone turned together: the same use, and what decides it is turned alike."""
    values = np.array([[large, small]])
    one = use_of(values, direction(pull)[None], direction(lies), LIMITS)
    other = use_of(values, direction(pull + more)[None], direction(lies + more), LIMITS)
    assert other.values[0] == pytest.approx(one.values[0], abs=1e-9)
    if large - small > 1e-2:
        assert abs(turned_direction(one.toward[0], np.deg2rad(more)) @ other.toward[0]) == pytest.approx(1.0, abs=1e-6)
        assert other.most[0] == pytest.approx(one.most[0], abs=1e-6)
    shares = [
        beyond(values, direction(a)[None], direction(b), LIMITS)[0]
        for a, b in ((pull, lies), (pull + more, lies + more))
    ]
    assert shares[0] == pytest.approx(shares[1], abs=1e-12)


@pytest.mark.parametrize(("lies", "limit"), [(0.0, LIMITS[0]), (90.0, LIMITS[1])])
def test_a_pull_along_or_across_is_held_to_its_own_limit(lies, limit):
    """The backbone at 0 degrees and a pull at 0 or 90: along it the limit along counts, across it the one across."""
    values, along = np.array([[1.07, 1.0]]), direction(lies)[None]
    found = use_of(values, along, direction(0.0), LIMITS)
    assert found.values[0] == pytest.approx(np.log(1.07) / limit, abs=1e-9)
    assert found.most[0] == pytest.approx(np.exp(limit), rel=1e-12)
    assert abs(found.toward[0] @ along[0]) == pytest.approx(1.0, abs=1e-9)
    assert beyond(values, along, direction(0.0), LIMITS)[0] == pytest.approx(1.07 / np.exp(limit) - 1.0, abs=1e-12)


@given(st.floats(1.005, 1.15), st.floats(0.9, 1.0), st.floats(0.0, 180.0))
def test_use_of_one_is_where_something_is_beyond(large, small, pull):
    """Two computations that must agree on what is over: bisection for the use, an eigenvalue for the excess."""
    values, along = np.array([[large, small]]), direction(pull)[None]
    use = use_of(values, along, direction(25.0), LIMITS).values[0]
    excess = beyond(values, along, direction(25.0), LIMITS)[0]
    if abs(excess) > 1e-9:
        assert (use > 1.0) == (excess > 0.0)
