"""Directors over hollows: unit length, no crossing, and nothing changed where there is no hollow."""

import numpy as np
import pytest

from meshes.padding.directors import RAISED_MM, SMOOTHED_OVER_MM, _Step, bridged
from tests.shapes import grid


def field(height, *, cells=30, width=300.0):
    """Points of a height field about the origin, its triangles, its exact normals by differences, and its inside."""
    flat, triangles = grid(cells, cells)
    x, y = width * (flat - 0.5).T
    points = np.column_stack([x, y, height(x, y)])
    step = 1e-4
    slope = [
        (height(x + step, y) - height(x - step, y)) / (2 * step),
        (height(x, y + step) - height(x, y - step)) / (2 * step),
    ]
    normal = np.column_stack([-slope[0], -slope[1], np.ones(len(x))])
    inside = (np.abs(flat - 0.5) < 0.499).all(axis=1)
    return points, normal / np.linalg.norm(normal, axis=1, keepdims=True), triangles, inside


def bowl(x, y):
    return -30.0 * np.exp(-(x**2 + y**2) / 70.0**2)


def trough(x, y):
    return -25.0 * np.exp(-(x**2) / 40.0**2) + 0.0 * y


@pytest.mark.parametrize("height", [lambda x, y: -0.0008 * (x**2 + y**2), lambda x, y: 0.1 * x - 0.05 * y])
def test_crowns_and_slopes_keep_their_own_directors(height):
    points, normal, triangles, face = field(height)
    assert np.array_equal(bridged(points, normal, triangles, face=face), normal)


def test_a_hollow_too_shallow_to_read_is_left_alone():
    points, normal, triangles, face = field(lambda x, y: 0.02 * RAISED_MM * bowl(x, y))
    assert np.array_equal(bridged(points, normal, triangles, face=face), normal)


@pytest.mark.parametrize("height", [bowl, trough])
def test_over_a_hollow_directors_are_units_that_stand_more_upright_than_the_support(height):
    points, normal, triangles, face = field(height)
    found = bridged(points, normal, triangles, face=face)
    assert np.linalg.norm(found, axis=1) == pytest.approx(1.0)
    steep = face & (normal[:, 2] < 0.95)
    assert steep.sum() > 50
    # A bridge is flatter than what it spans, so its normals lean less.
    assert (found[steep, 2] > normal[steep, 2]).all()
    # They still lean the way the support does, or not at all.
    lean, own = found[:, :2], normal[:, :2]
    assert ((lean * own).sum(axis=1)[steep] > -1e-3).all()
    # Off the face nothing is bridged.
    assert np.array_equal(found[~face & (normal[:, 2] > 0.9999)], normal[~face & (normal[:, 2] > 0.9999)])


def test_moved_up_along_its_directors_a_hollow_does_not_turn_over():
    """This bowl is bent to a radius of 51 mm at its bottom, so its normals have crossed 60 mm above it; those of its
    bridge have not."""
    points, normal, triangles, face = field(lambda x, y: 1.6 * bowl(x, y), cells=60)
    found = bridged(points, normal, triangles, face=face)

    def least(directors):
        a, b, c = ((points + 60.0 * directors)[triangles[:, k], :2] for k in range(3))
        u, v = b - a, c - a
        return (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]).min()

    assert least(normal) < 0 < least(found)


def test_the_bridge_knows_neither_left_nor_right_nor_where_north_is():
    """Mirrored and turned, the hollow has its directors mirrored and turned."""
    points, normal, triangles, face = field(lambda x, y: bowl(x - 25.0, y + 10.0))
    found = bridged(points, normal, triangles, face=face)
    flip = np.array([-1.0, 1.0, 1.0])
    mirrored = bridged(points * flip, normal * flip, triangles[:, ::-1], face=face)
    assert mirrored == pytest.approx(found * flip, abs=1e-9)
    turn = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    turned = bridged(points @ turn.T, normal @ turn.T, triangles, face=face)
    assert turned == pytest.approx(found @ turn.T, abs=1e-9)


def test_on_the_middle_line_directors_stay_in_its_plane():
    points, normal, triangles, face = field(lambda x, y: bowl(x - 40.0, y))
    mid = np.flatnonzero(np.abs(points[:, 0]) < 1e-9)
    upright = normal.copy()
    upright[mid, 0] = 0.0
    upright /= np.linalg.norm(upright, axis=1, keepdims=True)
    found = bridged(points, upright, triangles, face=face, mid=mid)
    assert not found[mid, 0].any()
    assert np.abs(bridged(points, normal, triangles, face=face)[mid, 0]).max() > 1e-3


def test_without_a_face_to_raise_nothing_is_done():
    points, normal, triangles, face = field(bowl)
    assert bridged(points, normal, triangles, face=np.zeros_like(face)) is normal


def test_one_step_evens_a_wave_out_as_implicit_diffusion_does():
    """A wave of wave number k keeps 1 / (1 + reach^2 k^2) of its height; far from the rim, which is held."""
    points, _, triangles, face = field(lambda x, y: np.cos(2.0 * np.pi * x / 400.0) + 0.0 * y, cells=60, width=1200.0)
    evened = _Step(points[:, :2], triangles, np.flatnonzero(face))(points[:, 2])
    middle = (np.abs(points[:, :2]) < 200.0).all(axis=1)
    kept = 1.0 / (1.0 + (2.0 * np.pi * SMOOTHED_OVER_MM / 400.0) ** 2)
    assert evened[middle] == pytest.approx(kept * points[middle, 2], abs=0.02)
    assert np.array_equal(evened[~face], points[~face, 2])
