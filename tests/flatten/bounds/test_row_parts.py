"""What the bound of a row is made of, on its own: distances from the rim and depths in the row, by other ways."""

import numpy as np
import pytest
import shapely

from flatten.bounds.geodesic import MappedMesh
from flatten.bounds.row_bound import Spine, _clearance, _deepest
from flatten.bounds.row_search import RowSearch
from tests.odd_panels import grown, squares


@pytest.mark.parametrize("seed", range(3))
def test_distance_from_the_rim_is_that_of_another_library_below_nought_outside(seed):
    rng = np.random.default_rng(seed)
    angles, reach = 2 * np.pi * np.arange(14) / 14, rng.uniform(30.0, 100.0, 14)
    corners = (reach * [np.cos(angles), 0.6 * np.sin(angles)]).T
    rim = np.stack([corners, np.roll(corners, -1, axis=0)], axis=1)
    # Sides may be told from either end.
    turned = rng.random(14) < 0.5
    rim[turned] = rim[turned, ::-1]
    search = RowSearch(corners, rim, np.zeros(14))
    shape = shapely.Polygon(search._own.seen(corners))
    places = rng.uniform(-110.0, 110.0, (300, 2))
    spots = shapely.points(places)
    away = shapely.distance(shape.exterior, spots) * np.where(shapely.contains(shape, spots), 1.0, -1.0)
    assert search._inside(places) == pytest.approx(away, abs=1e-9)


def straight_spine(first, last, length):
    knots = np.array([[0.0, 0.0], [length, 0.0]])
    place = np.column_stack([knots, np.zeros(2)])
    return Spine(knots, np.array([first, last]), knots, place, np.array([0.0, length]), np.array([0, 1]))


@pytest.mark.parametrize(("first", "last"), [(10.0, 10.0), (10.0, 34.0), (40.0, 5.0)])
def test_depth_in_a_row_is_the_most_that_any_of_its_discs_holds(first, last):
    spine, points = straight_spine(first, last, 60.0), np.random.default_rng(5).uniform(-80.0, 130.0, (100, 2))
    depth, foot = _deepest(points, spine.flat, spine.run, spine)
    run = np.linspace(0.0, 60.0, 6001)
    every = spine.radii(run) - np.hypot(points[:, :1] - run, points[:, 1:])
    assert depth == pytest.approx(every.max(axis=1), abs=1e-4)
    assert spine.radii(foot) - np.hypot(points[:, 0] - foot, points[:, 1]) == pytest.approx(depth, abs=1e-9)


@pytest.mark.parametrize("scale", [1.0, 25.4])
def test_chords_to_the_rim_of_a_flat_piece_are_its_distances(scale):
    points, triangles = squares(grown(np.random.default_rng(4), 12), fine=3)
    points = scale * points
    piece = MappedMesh(np.column_stack([points, np.zeros(len(points))]), triangles, points)
    middles = points[triangles].mean(axis=1)
    spine = straight_spine(1.0, 1.0, 1.0)
    place = np.column_stack([middles[:1], [[0.0]]]) + np.array([[0.0, 0.0, 0.0], [0.3 * scale, 0.1 * scale, 0.0]])
    run, away = _clearance(piece, Spine(spine.knots, spine.radius, place[:, :2], place, spine.run, spine.heads))
    rim = shapely.multilinestrings(shapely.linestrings(points[piece.edges[piece.on_rim]]))
    spots = place[0, :2] + run[:, None] * (place[1] - place[0])[:2]
    assert away == pytest.approx(shapely.distance(rim, shapely.points(spots)), abs=1e-9 * scale)
