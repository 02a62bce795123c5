"""Laws of sizes of triangles: one error of chords, growth that is limited, mirror images, steps as long as asked."""

import numpy as np
import pytest

from meshes.numerics.sizes import (
    EDGE_GROWTH,
    FINE_RADIUS_MM,
    Sizes,
    least_radii,
    longest,
    path_radii,
    sizes_of,
)

LEAST = 4.0


def graded():
    """Bent along x = 60 as if over a tube of 25 mm, flat elsewhere."""
    points = np.stack(np.meshgrid(np.linspace(-100.0, 100.0, 51), np.linspace(0.0, 80.0, 21)), axis=-1).reshape(-1, 2)
    radii = np.where(np.abs(points[:, 0] - 60.0) < 3.0, 25.0, np.inf)
    return Sizes.graded(points, radii, LEAST)


def test_chords_lie_off_arcs_alike_between_the_shortest_and_the_longest():
    # The height of an arc over its chord h is h^2 / 8 R, to second order.
    radii = np.array([40.0, 60.0, 100.0])
    height = sizes_of(radii, LEAST) ** 2 / (8.0 * radii)
    assert height == pytest.approx(LEAST**2 / (8.0 * FINE_RADIUS_MM), rel=0.01)
    assert sizes_of(np.array([1.0, np.inf]), LEAST).tolist() == [LEAST, longest(LEAST)]
    assert (longest(4.0), longest(10.0), longest(30.0)) == (12.0, 20.0, 30.0)


def test_sizes_grow_from_where_it_bends_no_faster_than_they_may():
    sizes = graded()
    along = np.stack([np.arange(-90.0, 60.0), np.full(150, 40.0)], axis=1)
    found = sizes.at(along)
    assert sizes.at(np.array([[60.0, 40.0]])) == pytest.approx(LEAST, abs=0.01)
    assert found[0] == pytest.approx(longest(LEAST))
    assert (np.diff(found) <= 1e-9).all()
    assert np.abs(np.diff(found)).max() <= EDGE_GROWTH + 1e-9
    assert np.abs(np.diff(found)).max() > 0.8 * EDGE_GROWTH


def test_mirrored_sizes_are_those_of_the_other_side():
    sizes, at = graded(), np.random.default_rng(5).uniform([-95.0, 5.0], [95.0, 75.0], (200, 2))
    assert sizes.mirrored().at(at * [-1.0, 1.0]) == pytest.approx(sizes.at(at), abs=1e-9)
    assert np.ptp(sizes.at(at) - sizes.mirrored().at(at)) > 4.0


def test_steps_along_a_path_are_no_longer_than_the_sizes_there_and_hardly_shorter():
    sizes, path = graded(), np.array([[-90.0, 40.0], [90.0, 40.0]])
    places = sizes.along(path)
    assert (places[0], places[-1]) == (0.0, pytest.approx(180.0))
    middles = np.stack([0.5 * (places[1:] + places[:-1]) - 90.0, np.full(len(places) - 1, 40.0)], axis=1)
    assert np.diff(places) / sizes.at(middles) == pytest.approx(1.0, abs=0.12)
    even = Sizes(LEAST).along(path)
    assert np.diff(even) == pytest.approx(180.0 / 45)


def test_rows_of_a_side_end_at_its_depth_and_are_short_where_it_bends():
    sizes = Sizes(LEAST).with_sides(np.array([0.0, 5.0, 80.0]), np.array([20.0, 20.0, np.inf]))
    shares = sizes.down_to(0.0, 80.0)
    rows = 80.0 * np.diff(np.concatenate([[0.0], shares]))
    assert shares[-1] == pytest.approx(1.0)
    assert rows[0] < 1.05 * LEAST
    assert rows[-1] > 2.0 * LEAST
    assert len(rows) < len(Sizes(LEAST).down_to(0.0, 80.0)) == 20


def test_the_radius_of_a_tube_and_of_a_circle_is_found():
    turn, z = np.meshgrid(np.linspace(0.0, 1.5, 31), np.linspace(0.0, 40.0, 9), indexing="ij")
    tube = np.stack([30.0 * np.cos(turn), 30.0 * np.sin(turn), z], axis=-1).reshape(-1, 3)
    corner = np.arange(31 * 9).reshape(31, 9)
    a, b, c, d = corner[:-1, :-1], corner[1:, :-1], corner[1:, 1:], corner[:-1, 1:]
    triangles = np.concatenate([np.stack([a, b, c], -1).reshape(-1, 3), np.stack([a, c, d], -1).reshape(-1, 3)])
    # Across an edge the way between two triangles may slant: the turn over it then seems slower.
    assert 0.9 * 30.0 < np.median(least_radii(tube, triangles)) < 1.6 * 30.0
    flat = np.column_stack([corner.ravel() // 9 * 2.0, corner.ravel() % 9 * 3.0, np.zeros(corner.size)])
    assert np.isinf(least_radii(flat, triangles)).all()
    angles = np.linspace(0.0, 3.0, 400)
    circle = 50.0 * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    assert path_radii(circle, 5.0)[60:-60] == pytest.approx(50.0, rel=0.01)
