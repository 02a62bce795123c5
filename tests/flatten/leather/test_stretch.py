"""Stretch of known maps: the azimuthal projections of the sphere, and linear maps."""

import numpy as np
import pyproj
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flatten.leather.stretch import singular, stretch
from tests.shapes import cap, disc


@given(st.lists(st.floats(-10, 10), min_size=4, max_size=4))
def test_closed_form_agrees_with_lapack(numbers):
    f = np.reshape(numbers, (1, 2, 2))
    s, left, right = singular(f)
    assert np.allclose(np.abs(s[0]), np.linalg.svd(f[0])[1], atol=1e-12)

    def rotation(a):
        return np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])

    assert np.allclose(rotation(left[0]) @ np.diag(s[0]) @ rotation(right[0]), f[0], atol=1e-12)


def against_proj(kind, rings, *, radius=100.0, reach=0.8):
    """Our stretches on a meshed azimuthal map beside PROJ's at the triangles' middles.

    The largest difference, and the mean difference of the stretch of area.
    """
    seat, triangles = cap(reach, rings=rings, radius=radius)
    proj = pyproj.Proj(proj=kind, lat_0=90, R=radius)

    def place(where):
        way = np.arctan2(where[:, 1], where[:, 0])
        return np.degrees(way), 90.0 - np.degrees(np.arctan2(np.hypot(where[:, 0], where[:, 1]), where[:, 2]))

    points = np.stack(proj(*place(seat)), axis=1)
    factors = proj.get_factors(*place(seat[triangles].mean(axis=1)))
    # PROJ states scale on the map / on the globe: stretch is its inverse.
    theirs = np.stack([1.0 / factors.tissot_semiminor, 1.0 / factors.tissot_semimajor], axis=1)
    field = stretch(seat, points, triangles)
    off = field.values.prod(axis=1) - theirs.prod(axis=1)
    return np.abs(field.values - theirs).max(), abs(np.average(off, weights=field.areas_seat))


@pytest.mark.parametrize("kind", ["aeqd", "stere", "laea"])
def test_azimuthal_maps_against_proj(kind):
    # PROJ, Proj.get_factors (Tissot), an implementation of its own. The slope of a map that is linear on triangles is
    # right to first order in each and, as the triangles' errors cancel, to second order on the whole.
    coarse, fine = against_proj(kind, 30), against_proj(kind, 60)
    assert fine[0] < 3e-3
    assert fine[1] < 1e-4
    assert np.log2(coarse[0] / fine[0]) == pytest.approx(1.0, abs=0.15)
    assert np.log2(coarse[1] / fine[1]) == pytest.approx(2.0, abs=0.15)


def test_directions_of_a_pulled_square():
    seat, triangles = disc(6)
    seat = np.column_stack([seat, np.zeros(len(seat))])
    points = seat[:, :2] @ np.diag([0.5, 1.0])
    turn = np.array([[0.8, 0.6], [-0.6, 0.8]])
    field = stretch(seat, points @ turn, triangles)
    assert np.allclose(field.values, [2.0, 1.0])
    assert np.allclose(np.abs(field.along @ turn[0]), 1.0)
    assert np.allclose(np.abs(field.along_seat[:, 0]), 1.0)
    assert field.demand == pytest.approx(1.0)
    assert field.energy == pytest.approx(2**2 + 2**-2 + 1 + 1)


def test_slivers_keep_their_figures():
    # A triangle a million times longer than high, pulled by 3 % along and squeezed by 2 % across.
    seat = np.array([[0.0, 0, 0], [1e3, 0, 0], [400.0, 1e-3, 0]])
    turn = np.linalg.qr(np.random.default_rng(5).normal(size=(3, 3)))[0]
    turn *= np.sign(np.linalg.det(turn))
    points = seat[:, :2] @ np.diag([1 / 1.03, 1 / 0.98])
    field = stretch(seat @ turn, points, np.array([[0, 1, 2]]))
    assert np.allclose(field.values, [[1.03, 0.98]], atol=1e-7)


def test_p995_leaves_half_a_percent_of_the_area():
    seat, triangles = cap(1.0, rings=40)
    field = stretch(seat, disc(40)[0] * 96.0, triangles)
    above = field.areas_seat[field.values[:, 0] > field.p995].sum() / field.areas_seat.sum()
    assert above <= 0.005
    assert above > 0.003
