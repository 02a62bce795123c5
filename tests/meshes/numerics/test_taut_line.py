"""Taut lines against their definition: of all lines that pass no point on its outer side, the shortest."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from meshes.numerics.taut_line import taut_lines

PLACE = st.tuples(st.floats(-40.0, 40.0), st.floats(1.0, 60.0))


@given(st.lists(PLACE, min_size=1, max_size=6), st.floats(0.0, 15.0))
def test_a_taut_line_is_the_rim_of_the_hull_of_circle_and_points(places, radius):
    """The tack point lies below all others, so the line is that part of their hull which faces outward."""
    points = np.array([*sorted(places, key=lambda p: p[1]), (float(np.mean([p[0] for p in places])), 90.0)])
    points[:, 1] += radius
    lines = taut_lines(np.array([radius]), points[None])
    angle = np.linspace(0.0, 2.0 * np.pi, 1441)[:-1]
    circle = radius * np.column_stack([np.cos(angle), np.sin(angle)]) if radius > 0.0 else np.zeros((1, 2))
    hull = shapely.MultiPoint(np.concatenate([circle, points])).convex_hull
    rim = hull.exterior if hull.geom_type == "Polygon" else hull
    drawn = np.concatenate([lines.start, lines.points[0]])
    # A chord of the circle's polygon lies a hair inside of its arc.
    assert max(rim.distance(shapely.Point(p)) for p in drawn) < 1e-3
    assert lines.length[0, -1] == pytest.approx(np.linalg.norm(np.diff(drawn, axis=0), axis=1).sum())
    assert (np.diff(lines.heading[0]) > -1e-9).all()
    assert lines.heading[0, 0] == pytest.approx(lines.turn[0])


def test_what_is_passed_by_lies_on_the_line_square_to_it():
    """A foot on an upright side stays at its own height."""
    lines = taut_lines(np.array([5.0]), np.array([[[5.0, 40.0], [3.0, 55.0], [5.0, 100.0]]]))
    assert lines.turn == pytest.approx([0.5 * np.pi])
    assert lines.points[0] == pytest.approx(np.array([[5.0, 40.0], [5.0, 55.0], [5.0, 100.0]]))
    assert lines.length[0] == pytest.approx([40.0, 55.0, 100.0])


def test_a_line_is_led_back_under_what_turns_past_upright():
    ring = np.deg2rad(np.arange(10.0, 181.0, 10.0))
    edge = 8.0 * np.column_stack([np.sin(ring), 1.0 - np.cos(ring)]) + [-8.0, 30.0]
    lines = taut_lines(np.zeros(1), np.concatenate([edge, [[-40.0, 46.0]]])[None])
    assert lines.turn == pytest.approx([0.5 * np.pi])
    assert lines.heading[0, -1] == pytest.approx(np.pi)
    assert lines.length[0, -1] == pytest.approx(38.0 + 8.0 * 0.5 * np.pi + 32.0, rel=2e-3)
