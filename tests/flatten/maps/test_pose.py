"""How a found map is laid down: its size against the leather's pull, its middle and its turn, however it came."""

import numpy as np
import pytest

from flatten.leather.stretch import stretch
from flatten.maps.pose import laid_out, longest_along_x, scaled_map
from meshes.base.surface import triangle_areas
from tests import shapes

SEAT, TRIANGLES = shapes.free_form(edge=40.0)
PLAN = SEAT[:, :2]


def turned(points, degrees, by=(0.0, 0.0)):
    a = np.deg2rad(degrees)
    return points @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]]) + np.array(by)


@pytest.mark.parametrize("size", [0.5, 1.0, 2.0])
@pytest.mark.parametrize("pull", [0.0, 0.02])
def test_no_place_of_a_leather_is_slack_and_what_is_pulled_enough_stays(size, pull):
    points = size * PLAN
    least = stretch(SEAT, points, TRIANGLES).values.min()
    found = scaled_map(SEAT, points, TRIANGLES, pull)
    reached = stretch(SEAT, found, TRIANGLES).values.min()
    if least < 1.0 + pull:
        assert reached == pytest.approx(1.0 + pull, rel=1e-12)
    else:
        assert np.array_equal(found, points)


def test_without_a_leather_the_largest_stretch_is_the_inverse_of_the_least():
    values = stretch(SEAT, scaled_map(SEAT, 3.0 * PLAN, TRIANGLES, None), TRIANGLES).values
    assert values.max() * values.min() == pytest.approx(1.0, rel=1e-12)


def moments(points):
    """First, second and third moments of a piece's area, by four points a triangle more than are needed: Dunavant's
    rule of degree 3 for each triangle."""
    areas = triangle_areas(points, TRIANGLES)
    corners = points[TRIANGLES]
    shares = np.array([[1 / 3, 1 / 3, 1 / 3], [0.6, 0.2, 0.2], [0.2, 0.6, 0.2], [0.2, 0.2, 0.6]])
    weights = np.array([-27 / 48, 25 / 48, 25 / 48, 25 / 48])
    places = np.einsum("qc,mcx->mqx", shares, corners)
    each = weights[None] * areas[:, None] / areas.sum()
    middle = np.einsum("mq,mqx->x", each, places)
    second = np.einsum("mq,mqx,mqy->xy", each, places - middle, places - middle)
    return middle, second


def test_a_piece_is_laid_with_its_middle_at_zero_and_its_longest_way_along_x():
    found = laid_out(turned(PLAN, 37.0, (300.0, -80.0)), TRIANGLES)
    middle, second = moments(found)
    assert np.abs(middle).max() < 1e-9
    assert abs(second[0, 1]) < 1e-9 * second[0, 0]
    assert second[0, 0] > second[1, 1]


@pytest.mark.parametrize("degrees", [0.0, 37.0, 91.0, 180.0, 250.0])
def test_a_turned_and_moved_piece_is_laid_alike(degrees):
    wanted = laid_out(PLAN, TRIANGLES)
    found = laid_out(turned(PLAN, degrees, (120.0, 55.0)), TRIANGLES)
    assert np.allclose(found, wanted, atol=1e-8)
    turn = longest_along_x(turned(PLAN, degrees), TRIANGLES)
    assert turn.T @ turn == pytest.approx(np.eye(2), abs=1e-12)
    assert np.linalg.det(turn) == pytest.approx(1.0)


def test_renumbered_triangles_give_the_same_pose():
    rng = np.random.default_rng(1)
    order = rng.permutation(len(PLAN))
    rank = np.argsort(order)
    mixed = np.roll(rank[TRIANGLES][rng.permutation(len(TRIANGLES))], 1, axis=1)
    assert np.allclose(laid_out(PLAN[order], mixed), laid_out(PLAN, TRIANGLES)[order], atol=1e-8)
