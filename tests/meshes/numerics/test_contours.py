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
