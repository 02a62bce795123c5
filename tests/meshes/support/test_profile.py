"""Measured points to fair curves: met within the reading of a gauge, without ripples."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from meshes.support.profile import GAUGE_READING_MM, blend_across, fair_curve


def changes_of_sign(values, least):
    signs = np.sign(values[np.abs(values) > least])
    return int((np.diff(signs) != 0).sum())


def test_a_straight_profile_stays_straight():
    curve = fair_curve([(0, 3), (100, 5), (180, 6.6), (400, 11)])
    at = np.linspace(-20, 420, 45)
    assert curve.height(at) == pytest.approx(3 + 0.02 * at, abs=1e-9)
    assert curve.residual_mm < 1e-9


def test_jitter_of_a_gauge_is_taken_out_and_stated():
    rng = np.random.default_rng(7)
    places = np.linspace(0, 480, 49)
    true = 20 * np.sin(np.pi * places / 480)
    read = true + rng.uniform(-0.4, 0.4, len(places))
    curve = fair_curve(list(zip(places, read, strict=True)))
    inner = np.linspace(30, 450, 400)
    error = curve.height(inner) - 20 * np.sin(np.pi * inner / 480)
    assert np.sqrt(np.mean(error**2)) < 0.2
    assert 0.1 < curve.residual_mm < 0.4 + GAUGE_READING_MM
    # The faired curve bends far less than a shape-preserving curve through the readings as they are.
    raw = PchipInterpolator(places, read)(inner)
    assert (np.diff(curve.height(inner), 2) ** 2).sum() < 0.1 * (np.diff(raw, 2) ** 2).sum()


@settings(max_examples=60)
@given(st.lists(st.floats(0.5, 20), min_size=4, max_size=10))
def test_a_rising_profile_rises_everywhere(rises):
    places = 40.0 * np.arange(len(rises))
    heights = np.cumsum(rises) * 3
    curve = fair_curve(list(zip(places, heights, strict=True)))
    assert np.diff(curve.height(np.linspace(places[0], places[-1], 300))).min() > -1e-6


def test_sparse_points_are_met_closely():
    curve = fair_curve([(0, 0), (60, 10), (120, 14), (240, 8), (360, 0), (480, -6)])
    assert curve.residual_mm < 0.15


def test_curvature_is_continuous():
    curve = fair_curve([(0, 0), (60, 10), (120, 14), (240, 8), (360, 0), (480, -6)])
    at = np.linspace(1, 479, 4000)
    bend = np.diff(curve.height(at), 2) / (at[1] - at[0]) ** 2
    assert np.abs(np.diff(bend)).max() < 0.02 * np.abs(bend).max()


def test_blending_between_profiles_adds_no_ripple():
    places = np.array([-400.0, -150.0, 0.0, 150.0, 400.0])
    heights = np.array([5.0, 14.0, 20.0, 14.0, 5.0])
    at = np.linspace(-400, 400, 801)
    blended = blend_across(places, np.repeat(heights[:, None], len(at), axis=1), at)
    assert blended.max() == pytest.approx(20.0)
    assert changes_of_sign(np.diff(blended), 1e-9) == 1
    assert blend_across(places, np.repeat(heights[:, None], 5, axis=1), places) == pytest.approx(heights)
