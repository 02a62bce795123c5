"""Rounded outlines: places, normals, nearest points, mirror images."""

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from meshes.numerics.smooth import smooth_step
from meshes.outlines.rounded import CornersTooRoundError, rounded_outline

SIDES = ("front", "right", "rear", "left")


def trapezoid(front=1120.0, rear=1080.0, depth=480.0, radius=60.0):
    corners = [(-front / 2, 0.0), (front / 2, 0.0), (rear / 2, depth), (-rear / 2, depth)]
    return rounded_outline(corners, [radius] * 4, SIDES)


@given(st.floats(300, 1500), st.floats(300, 1500), st.floats(200, 700), st.floats(0, 90), st.floats(-40, 80))
@example(300.0, 1310.0, 200.0, 4.333e-274, -1.4986455935863505e-05)
def test_offset_points_know_their_place_and_depth(front, rear, depth, radius, away):
    outline = trapezoid(front, rear, depth, radius)
    u = outline.samples(20.0)
    # A point nearer to a sharp corner than about 1e-7 mm may be told to lie on its other side.
    inside = min(radius, 40.0) * 0.9 if away > 0 else away if away < -1e-6 else 0.0
    at = outline.point(u) - inside * outline.normal(u)
    place, deep = outline.nearest(at)
    assert np.abs(deep - inside).max() < 1e-7
    # Points inside a sharp corner belong to both runs; elsewhere the place is found again.
    if radius > 1 or inside < -1e-6:
        half = outline.period / 2
        off = np.abs(np.mod(place - u + half, outline.period) - half)
        # All places of a sharp corner are the same point.
        there = np.linalg.norm(outline.point(np.mod(place, outline.period)) - outline.point(u), axis=1)
        assert np.where(radius < 1e-6, there, off).max() < 1e-6


def test_perimeter_of_a_rounded_rectangle():
    # Steiner: rounding corners of radius r takes (8 - 2 pi) r off the perimeter (Steiner 1840).
    outline = trapezoid(1000.0, 1000.0, 400.0, 50.0)
    points = outline.point(np.append(outline.samples(0.5), 0.0))
    length = np.linalg.norm(np.diff(points, axis=0), axis=1).sum()
    assert length == pytest.approx(2800 - (8 - 2 * np.pi) * 50, rel=1e-4)


def test_total_turn_is_one_round_also_with_hollow_corners():
    corners = [(0, 0), (300, 0), (300, 200), (150, 120), (0, 200)]
    outline = rounded_outline(corners, [20, 20, 20, 30, 20], ("front", "right", "rear", "rear", "left"))
    assert outline.sweep_rad.sum() == pytest.approx(2 * np.pi)
    assert (outline.sweep_rad < 0).sum() == 1
    u = outline.samples(5.0)
    deep = outline.nearest(outline.point(u))[1]
    assert np.abs(deep).max() < 1e-7


def test_mirrored_place_is_the_mirror_image():
    outline = trapezoid()
    u = outline.samples(15.0)
    image = outline.point(outline.mirrored(u))
    assert np.abs(image - outline.point(u) * [-1, 1]).max() < 1e-9


def test_a_traced_bow_becomes_smooth():
    front = [(x, -20.0 * (1 - (x / 300.0) ** 2)) for x in (-300, -150, 0, 150)]
    outline = rounded_outline(
        [*front, (300, 0), (300, 400), (-300, 400)], [0] * 7, ("front",) * 4 + ("right", "rear", "left")
    )
    bow = outline.radii[1:4]
    assert (bow > 100).all()
    assert outline.radii[0] == 0


def test_radii_that_do_not_fit_are_refused():
    with pytest.raises(CornersTooRoundError, match="do not fit"):
        trapezoid(radius=260.0)


def test_blend_is_constant_on_sides_and_smooth_between():
    outline = trapezoid()
    value = outline.blend({"front": 10.0, "right": 20.0, "rear": 30.0, "left": 20.0})
    assert value(np.array([1.5, 3.5, 5.5, 7.5])) == pytest.approx([10, 20, 30, 20])
    assert value(np.array([outline.corner_between("front", "right")]))[0] == pytest.approx(15)
    fine = value(np.linspace(2, 3, 2001))
    assert np.abs(np.diff(fine, 2)).max() < 1e-4


def test_smooth_step_ends_flat():
    t = np.array([-1.0, 0.0, 1e-4, 0.5, 1 - 1e-4, 1.0, 2.0])
    assert smooth_step(t) == pytest.approx([0, 0, 0, 0.5, 1, 1, 1], abs=1e-9)


def test_a_square_rounded_to_a_circle_has_no_straight_runs_left():
    """Radii that use up every run leave a circle: every place is as deep as it is from the rim."""
    outline = rounded_outline([(-40, -40), (40, -40), (40, 40), (-40, 40)], [40.0] * 4, SIDES)
    rng = np.random.default_rng(6)
    at = rng.uniform(-60.0, 60.0, (200, 2))
    u, deep = outline.nearest(at)
    reach = np.linalg.norm(at, axis=1)
    assert deep == pytest.approx(40.0 - reach, abs=1e-6)
    assert outline.point(u) == pytest.approx(40.0 * at / reach[:, None], abs=1e-6)
    assert outline.normal(u) == pytest.approx(at / reach[:, None], abs=1e-6)
