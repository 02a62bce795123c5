"""The certificate: it holds for what is one-to-one and for nothing else; first maps that cannot fold."""

import numpy as np
import pytest

from flatten.leather.stretch import stretch
from flatten.maps.certify import certify
from flatten.maps.start import best_scale, circle_map, conformal, even_circle, flipped, starts
from meshes.base.surface import boundary_loops
from tests import shapes


def test_a_disc_on_itself_is_certified():
    points, triangles = shapes.disc(8)
    assert certify(points, triangles).holds


def test_turned_over_as_a_whole():
    points, triangles = shapes.disc(4)
    found = certify(points * [-1, 1], triangles)
    assert found.flipped == len(triangles)
    assert not found.holds


def test_one_vertex_pulled_out_of_its_place():
    points, triangles = shapes.disc(4)
    points[0] = points[30] * 0.9
    found = certify(points, triangles)
    assert found.flipped > 0
    assert not found.holds


def test_a_triangle_without_area_is_no_map():
    points = np.array([[0.0, 0], [1, 0], [2, 0], [1, 1]])
    assert certify(points, np.array([[0, 1, 3], [1, 2, 3]])).holds
    assert certify(points, np.array([[0, 1, 2], [0, 2, 3]])).flipped == 1


def test_a_strip_that_laps_over_itself_has_no_flipped_triangle_and_no_certificate():
    # A flat ring sector of more than a full turn: every triangle is sound, the whole is not.
    uv, triangles = shapes.grid(120, 3)
    angle, radius = 2 * np.pi * 1.2 * uv[:, 0], 3 - uv[:, 1]
    found = certify(np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1), triangles)
    assert found.flipped == 0
    assert found.rim_crossings > 0
    assert not found.holds


def test_a_ring_is_no_disc():
    points, triangles = shapes.disc(4)
    assert not certify(points[1:], triangles[6:] - 1).holds


@pytest.mark.parametrize(
    "made", [shapes.saddle, shapes.cushion, shapes.free_form, shapes.torus_quarter, lambda: shapes.cap(2.8, rings=20)]
)
def test_the_circle_never_folds(made):
    seat, triangles = made()
    for points in (circle_map(seat, triangles), even_circle(seat, triangles)):
        assert certify(points, triangles).holds
        rim = points[boundary_loops(triangles)[0]]
        assert np.allclose(np.linalg.norm(rim, axis=1), 1.0)


def test_a_crumpled_sheet_gets_the_circle():
    # The conformal map of a sheet this rough folds; the first map offered does not.
    rng = np.random.default_rng(4)
    points, triangles = shapes.scattered(200, 200, 10)
    seat = np.column_stack([points, rng.uniform(-25, 25, len(points))])
    assert flipped(conformal(seat, triangles), triangles) > 0
    first = next(starts(seat, triangles))
    assert first.kind == "circle"
    assert flipped(first.points, triangles) == 0


def test_the_conformal_map_of_a_cap_is_the_stereographic_one():
    # Chebyshev 1856, Milnor 1969: with a rim of constant scale, ln(max/min stretch) = -2 ln cos(a/2). Middle against
    # rim, by the stretch of area; second order in the edge length, so extrapolated.
    def spread(rings):
        seat, triangles = shapes.cap(1.0, rings=rings)
        field = stretch(seat, conformal(seat, triangles), triangles)
        scale = np.sqrt(field.values.prod(axis=1))
        height = seat[triangles].mean(axis=1)[:, 2] / 100.0
        order = np.argsort(height)
        fit = np.polyfit(np.arccos(np.clip(height[order], -1, 1)) ** 2, np.log(scale[order]), 4)
        return np.polyval(fit, 0.0) - np.polyval(fit, 1.0)

    assert abs(spread(40)) == pytest.approx(0.261168, rel=2e-3)


def test_best_scale_is_best():
    seat, triangles = shapes.saddle(rings=8)
    points = circle_map(seat, triangles)
    best = best_scale(seat, points, triangles)
    energy = [stretch(seat, k * best * points, triangles).energy for k in (0.99, 1.0, 1.01)]
    assert energy[1] < min(energy[0], energy[2])
