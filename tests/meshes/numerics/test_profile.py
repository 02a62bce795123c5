"""Measured points to fair curves: met within the reading of a gauge, without ripples."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from meshes.numerics.profile import GAUGE_READING_MM, blend_across, fair_curve, left_out_mm, sensitivity


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


def arc(places, radius):
    return np.sqrt(radius**2 - places**2) - radius


@pytest.mark.parametrize("first", [-300.0, -250.0, -230.0])
def test_a_crown_read_every_100_mm_is_as_round_between_the_readings(first):
    # A circle of 600 mm radius: an exact body. Whether a reading stands on the crest or beside it must not matter.
    places = first + 100.0 * np.arange(6)
    curve = fair_curve(list(zip(places, arc(places, 600.0), strict=True)))
    at = np.linspace(places[0], places[-1], 997)
    assert np.abs(curve.height(at) - arc(at, 600.0)).max() < 0.2


def test_the_error_between_readings_falls_with_the_fourth_power_of_their_distance_until_the_fairing_shows():
    worst = []
    for count in (5, 9):
        places = np.linspace(-320.0, 320.0, count)
        curve = fair_curve(list(zip(places, arc(places, 900.0), strict=True)))
        inner = np.linspace(-160.0, 160.0, 801)
        # Fairing over 8 mm sinks a circle by 8 * 8 / 6 / radius everywhere; what is left is the error of interpolation.
        worst.append(np.abs(curve.height(inner) - arc(inner, 900.0) + 64.0 / 6.0 / 900.0).max())
    assert worst[0] > 8.0 * worst[1]


def test_a_flat_board_stays_flat_up_to_its_roll():
    curve = fair_curve([(0, 0), (100, 0), (200, 0), (300, -5), (400, -25)])
    # Taking out jitter may move readings by some thousandths of a millimetre.
    assert np.abs(curve.height(np.linspace(0, 192, 193))).max() < 0.01
    assert np.diff(curve.height(np.linspace(0, 400, 401))).max() < 1e-3


def test_a_plateau_between_two_slopes_stays_level():
    curve = fair_curve([(0, 0), (100, 10), (200, 10), (300, 10), (400, 0)])
    assert curve.height(np.linspace(108, 292, 185)) == pytest.approx(10.0, abs=0.01)
    assert curve.height(np.linspace(0, 400, 401)).max() < 10.01


def test_crowns_across_are_as_round_between_profiles():
    places = np.array([-200.0, -100.0, 0.0, 100.0, 200.0])
    at = np.linspace(-200, 200, 401)
    blended = blend_across(places, np.repeat(arc(places, 600.0)[:, None], len(at), axis=1), at)
    assert np.abs(blended - arc(at, 600.0)).max() < 0.2


def test_sensitivity_and_a_reading_left_out():
    places = np.linspace(-250.0, 250.0, 6)
    crown = [list(zip(p, arc(p, 600.0), strict=True)) for p in (np.linspace(-250.0, 250.0, 11), places)]
    # One reading moves the curve about as far as it moves itself; a line through two points exactly so.
    assert 1.0 <= sensitivity(crown[1]) < 1.3
    assert sensitivity([(0, 0), (100, 3)]) == pytest.approx(1.0)
    assert left_out_mm(crown[0]) < left_out_mm(crown[1])
    # A reading that is off by 5 mm is missed by about as much.
    wrong = [(x, z + (5.0 if k == 2 else 0.0)) for k, (x, z) in enumerate(crown[1])]
    assert left_out_mm(wrong) > 4.0
    assert left_out_mm([(0, 0), (50, 1), (100, 0)]) == 0.0
