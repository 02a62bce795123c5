"""The colour scale of the leather's use: what each end means, no jumps, ends that colour-blind people tell apart."""

import numpy as np
import pytest

from meshes.view.colours import OVER, OVER_FROM, use_colours


def lightness(colours: np.ndarray) -> np.ndarray:
    """CIE L* of sRGB colours (k, 3); coefficients of IEC 61966-2-1."""
    share = colours / 255.0
    linear = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    y = linear @ np.array([0.2126, 0.7152, 0.0722])
    return np.where(y > 0.008856, 116.0 * np.cbrt(y) - 16.0, 903.3 * y)


def test_no_use_is_near_white_and_the_ends_are_blue_and_orange():
    blue, white, orange = use_colours([-1.0, 0.0, 1.0]).astype(int)
    assert white.min() > 235
    assert blue[2] > 2 * blue[0]
    assert orange[0] > 2 * orange[2]


def test_over_the_budget_is_a_colour_of_its_own_and_darkest():
    colours = use_colours([-9.0, -1.0, 1.0, OVER_FROM, 1.0 + 2 * (OVER_FROM - 1.0), 9.0])
    assert (colours[0] == colours[1]).all()
    assert (colours[2] == colours[3]).all()
    assert (colours[4:] == OVER).all()
    light = lightness(colours)
    assert light[5] < light[2] - 20.0
    assert light[5] < light[0] - 10.0


def test_lightness_falls_evenly_to_both_ends():
    for sign in (-1.0, 1.0):
        light = lightness(use_colours(sign * np.linspace(0.0, 1.0, 101)))
        steps = np.diff(light)
        assert (steps < 0.5).all()
        assert light[0] - light[-1] > 50.0
        assert np.abs(steps).max() < 2.0


def test_ends_differ_without_red_or_green_cones():
    # Machado, Oliveira and Fernandes (2009): matrices for severity 1.0, on linear RGB (from memory).
    red_blind = np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    )
    green_blind = np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    )
    ends = use_colours([-0.5, 0.5]) / 255.0
    linear = np.where(ends <= 0.04045, ends / 12.92, ((ends + 0.055) / 1.055) ** 2.4)
    for matrix in (red_blind, green_blind):
        seen = linear @ matrix.T
        assert np.abs(seen[0] - seen[1]).max() > 0.2


def test_any_shape_comes_back_as_a_list_of_colours():
    colours = use_colours(0.2)
    assert colours.shape == (1, 3)
    assert colours.dtype == np.uint8
    assert use_colours(np.ones(7)).shape == (7, 3)


def test_no_number_has_no_colour():
    with pytest.raises(ValueError, match="numbers"):
        use_colours([0.5, float("nan")])
