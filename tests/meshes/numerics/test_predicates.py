"""The exact predicates: signs that floating point alone gets wrong, and polygons that meet themselves."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from meshes.numerics.predicates import crossings, orientation, segments_meet


def exact(a, b, c):
    (ax, ay), (bx, by), (cx, cy) = ((Fraction(x), Fraction(y)) for x, y in (a, b, c))
    turn = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
    return (turn > 0) - (turn < 0)


def test_points_a_few_units_off_a_line():
    # The grid of Kettner, Mehlhorn, Pion, Schirra, Yap, Classroom examples of robustness problems, 2008, figure 1:
    # floating point alone gives wrong signs here.
    step = 2.0**-53
    i, j = (k.ravel() for k in np.meshgrid(np.arange(64), np.arange(64)))
    a = np.stack([0.5 + i * step, 0.5 + j * step], axis=1)
    b, c = np.broadcast_to([12.0, 12.0], a.shape), np.broadcast_to([24.0, 24.0], a.shape)
    signs = orientation(a, b, c)
    assert signs.tolist() == [exact(*rows) for rows in zip(a.tolist(), b.tolist(), c.tolist(), strict=True)]
    naive = np.sign((a[:, 0] - c[:, 0]) * (b[:, 1] - c[:, 1]) - (a[:, 1] - c[:, 1]) * (b[:, 0] - c[:, 0]))
    assert np.any(naive != signs)


@given(st.lists(st.floats(-1e6, 1e6), min_size=6, max_size=6))
def test_any_three_points(numbers):
    a, b, c = np.reshape(numbers, (3, 1, 2))
    assert orientation(a, b, c)[0] == exact(a[0], b[0], c[0])


def test_tiny_numbers_do_not_underflow_to_straight():
    a, b, c = (np.array([p]) * 1e-200 for p in ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0)))
    assert orientation(a, b, c)[0] == 1


@pytest.mark.parametrize(
    ("c", "d", "meet"),
    [
        ((0.5, -1), (0.5, 1), True),
        ((0.5, 0), (0.5, 1), True),
        ((1, 0), (2, 5), True),
        ((0.5, 1e-300), (0.5, 1), False),
        ((2, 0), (3, 0), False),
        ((0.5, 0), (3, 0), True),
        ((-1, 0), (2, 0), True),
        ((2, -1), (2, 1), False),
    ],
)
def test_segments(c, d, meet):
    a, b = np.array([[0.0, 0.0]]), np.array([[1.0, 0.0]])
    c, d = np.array([c], dtype=float), np.array([d], dtype=float)
    assert segments_meet(a, b, c, d)[0] == meet
    assert segments_meet(d, c, b, a)[0] == meet


def test_a_figure_of_eight_names_its_crossing():
    assert crossings(np.array([[0, 0], [1, 1], [1, 0], [0, 1.0]])).tolist() == [[0, 2]]


def test_an_edge_folded_back_onto_its_neighbour():
    assert crossings(np.array([[0, 0], [2, 0], [1, 0], [1, 1.0]])).size > 0


def test_a_vertex_that_touches_another_edge():
    assert crossings(np.array([[0, 0], [2, 0], [2, 2], [1, 0], [0, 2.0]])).size > 0


@given(st.lists(st.tuples(st.integers(0, 12), st.integers(0, 12)), min_size=4, max_size=12, unique=True))
def test_agrees_with_another_library(corners):
    # shapely's validity test (GEOS) on small integers, where both are exact.
    points = np.array(corners, dtype=float)
    assert (crossings(points).size == 0) == (Polygon(points).is_valid and Polygon(points).area > 0)


def test_thousands_of_edges_one_crossing():
    angle = np.linspace(0, 2 * np.pi, 6000, endpoint=False)
    ring = np.stack([np.cos(angle), np.sin(angle)], axis=1) * (1 + 0.3 * np.cos(40 * angle))[:, None]
    assert crossings(ring).size == 0
    # A spike from one side through the opposite wall: its two edges each cross one edge there.
    ring[100] = 2 * ring[3100]
    found = crossings(ring)
    assert len(found) == 2
    assert set(found[:, 0].tolist()) == {99, 100}
