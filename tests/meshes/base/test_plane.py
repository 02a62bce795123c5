"""Plane geometry of a sheet against shapely (GEOS), an independent library."""

import math

import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from meshes.base.plane import (
    area,
    contains,
    crosses,
    crossing_of,
    distance_to_line,
    extent,
    first_crossing,
    outside_by,
    turn_at,
)

# Whole numbers: what touches, touches exactly, and both sides must agree on it.
points = st.tuples(st.integers(-6, 6), st.integers(-6, 6))
polylines = st.lists(points, min_size=3, max_size=7, unique=True)


@given(points, points, points, points)
def test_two_runs_meet(a, b, c, d):
    assume(a != b and c != d)
    assert crosses(a, b, c, d) == shapely.LineString([a, b]).intersects(shapely.LineString([c, d]))


@given(polylines)
def test_a_closed_outline_crosses_itself(polygon):
    assert (first_crossing(polygon, closed=True) is None) == shapely.LinearRing(polygon).is_simple


@given(polylines)
def test_a_line_crosses_itself(line):
    assert (first_crossing(line, closed=False) is None) == shapely.LineString(line).is_simple


@given(polylines, points)
def test_polygons(polygon, p):
    shape = shapely.Polygon(polygon)
    assume(shape.is_valid and shape.area > 0)
    assert area(polygon) == pytest.approx(shape.area if shapely.LinearRing(polygon).is_ccw else -shape.area)
    point = shapely.Point(p)
    assert outside_by(polygon, p) == pytest.approx(shape.distance(point))
    assert distance_to_line(polygon, p) == pytest.approx(shapely.LineString(polygon).distance(point))
    if not shape.boundary.covers(point):
        assert contains(polygon, p) == shape.contains(point)
    low_x, low_y, high_x, high_y = shape.bounds
    assert extent(polygon) == (high_x - low_x, high_y - low_y)


@given(polylines, st.sampled_from(["along", "across"]), st.integers(-13, 13))
def test_sections(polygon, direction, twice):
    at = twice / 2
    shape = shapely.Polygon(polygon)
    assume(shape.is_valid and shape.area > 0)
    ends = [(at, -9), (at, 9)] if direction == "along" else [(-9, at), (9, at)]
    cut = shape.intersection(shapely.LineString(ends))
    found = crossing_of(polygon, direction, at)
    if cut.is_empty:
        assert found is None
    else:
        low_x, low_y, high_x, high_y = cut.bounds
        assert found == pytest.approx((low_y, high_y) if direction == "along" else (low_x, high_x))


@given(st.integers(3, 12))
def test_the_turns_of_a_regular_polygon_add_up_to_a_full_one(count):
    ring = [(math.cos(2 * math.pi * k / count), math.sin(2 * math.pi * k / count)) for k in range(count)]
    for k in range(count):
        turn = turn_at(ring[k - 1], ring[k], ring[(k + 1) % count])
        assert turn == pytest.approx(2 * math.pi / count)
        assert turn_at(ring[(k + 1) % count], ring[k], ring[k - 1]) == pytest.approx(-turn)
