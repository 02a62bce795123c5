"""Contours and strokes against a disc on which both are known."""

import numpy as np
import pytest

from meshes.numerics.contours import at_vertices, contours, strokes


def disc(rings=24, spokes=72, radius=120.0):
    turn = 2 * np.pi * np.arange(spokes) / spokes
    rim = [(radius * k / rings) * np.column_stack([np.cos(turn), np.sin(turn)]) for k in range(1, rings + 1)]
    points = np.concatenate([np.zeros((1, 2)), *rim])
    k, j = np.arange(spokes), (np.arange(spokes) + 1) % spokes
    triangles = [np.stack([np.zeros_like(k), 1 + k, 1 + j], axis=1)]
    for r in range(rings - 1):
        low, high = 1 + r * spokes, 1 + (r + 1) * spokes
        triangles += [np.stack([low + k, high + k, high + j], 1), np.stack([low + k, high + j, low + j], 1)]
    return points, np.concatenate(triangles)


def test_contours_of_a_cone_are_closed_circles_of_the_right_radius():
    points, triangles = disc()
    middle = np.linalg.norm(points[triangles].mean(axis=1), axis=1)
    values = at_vertices(points, triangles, 1.2 * middle / 120.0)
    for level in (0.5, 0.8, 1.0):
        (line,) = contours(points, triangles, values, level)
        assert np.array_equal(line[0], line[-1])
        assert np.linalg.norm(line, axis=1) == pytest.approx(100.0 * level, rel=0.02)
    assert contours(points, triangles, values, 1.3) == ()


def test_a_contour_that_meets_the_rim_ends_there_and_is_straight():
    points, triangles = disc()
    (line,) = contours(points, triangles, points[:, 0], 31.0)
    assert line[:, 0] == pytest.approx(31.0)
    assert np.abs(np.linalg.norm(line[[0, -1]], axis=1) - 120.0).max() < 0.2


def test_a_contour_through_vertices_has_every_point_once():
    points, triangles = disc()
    ring = np.concatenate([[0], np.repeat(np.arange(1, 25), 72)])
    (line,) = contours(points, triangles, ring, 12.0)
    assert np.array_equal(line[0], line[-1])
    assert len(line) == 72 + 1, "the ring of vertices, closed"
    assert np.linalg.norm(np.diff(line, axis=0), axis=1).min() > 1.0


def test_strokes_are_radial_where_the_larger_stretch_is_and_as_long_as_it():
    points, triangles = disc()
    middle = points[triangles].mean(axis=1)
    radius = np.linalg.norm(middle, axis=1)
    # The sign of a direction means nothing; alternate it.
    along = middle / radius[:, None] * np.where(np.arange(len(middle)) % 2, 1.0, -1.0)[:, None]
    stretch = np.tile([1.04, 0.99], (len(middle), 1))
    found = strokes(points, triangles, stretch, along, apart_mm=25.0)
    far = np.linalg.norm(found.at, axis=1) > 60.0
    outward = found.at[far] / np.linalg.norm(found.at[far], axis=1, keepdims=True)
    assert far.sum() > 20
    assert np.abs((outward * found.along[far]).sum(axis=1)).min() > 0.995
    assert found.size[far] == pytest.approx(np.log(1.04), rel=0.05)


def test_a_single_wild_triangle_does_not_turn_its_stroke():
    points, triangles = disc()
    along = np.tile([1.0, 0.0], (len(triangles), 1))
    along[500] = [0.0, 1.0]
    found = strokes(points, triangles, np.tile([1.03, 1.0], (len(triangles), 1)), along, apart_mm=40.0)
    assert np.abs(found.along[:, 0]).min() > 0.99


def test_means_at_vertices_are_weighed_by_area():
    """Two triangles of areas 1 and 3 share an edge: its ends take a quarter of the first and three of the second."""
    points = np.array([[0.0, 0.0], [2.0, 0.0], [0.0, 1.0], [3.0, 2.5]])
    triangles = np.array([[0, 1, 2], [1, 3, 2]])
    area = [1.0, 3.0]
    values = at_vertices(points, triangles, np.array([10.0, 20.0]))
    shared = (area[0] * 10.0 + area[1] * 20.0) / sum(area)
    assert values == pytest.approx([10.0, shared, shared, 20.0])


def test_a_stroke_stands_in_the_middle_of_what_its_square_holds_and_for_its_mean():
    """Half of a square of 40 mm stretched along x, half along y, by the same: no direction is left, and half of ln."""
    cells = 8
    x, y = (k.ravel() for k in np.meshgrid(np.linspace(0, 40, cells + 1), np.linspace(0, 40, cells + 1)))
    i, j = (k.ravel() for k in np.meshgrid(np.arange(cells), np.arange(cells)))
    a = j * (cells + 1) + i
    triangles = np.concatenate([np.stack([a, a + 1, a + cells + 2], 1), np.stack([a, a + cells + 2, a + cells + 1], 1)])
    points = np.column_stack([x, y])
    left = points[triangles].mean(axis=1)[:, 0] < 10.0
    along = np.where(left[:, None], [0.0, 1.0], [1.0, 0.0])
    stretch = np.tile([1.06, 1.01], (len(triangles), 1))
    found = strokes(points, triangles, stretch, along, apart_mm=40.0)
    assert found.at == pytest.approx(np.array([[20.0, 20.0]]))
    assert np.abs(found.along) == pytest.approx(np.array([[1.0, 0.0]]))
    assert found.size == pytest.approx([0.75 * np.log(1.06) + 0.25 * np.log(1.01)])
    # Along a slant the mean keeps its direction and size.
    slant = np.tile([np.cos(2.0), np.sin(2.0)], (len(triangles), 1))
    found = strokes(points, triangles, stretch, slant, apart_mm=40.0)
    assert np.abs(found.along @ slant[0]) == pytest.approx([1.0])
    assert found.size == pytest.approx([np.log(1.06)])
    # A square that holds too little has none: a third of it is the least.
    assert len(strokes(points, triangles, stretch, slant, apart_mm=66.0).size) == 1
    assert len(strokes(points, triangles, stretch, slant, apart_mm=75.0).size) == 0
