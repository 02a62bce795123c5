"""Sections of pleats against handbook values, and the laws they have to keep."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes.pleats.shape import PleatSection, arc_length, arc_radius, pleat_section, run_out, take_up
from meshes.records.pleats import Filling


def over_foam(width: float = 50.0, thickness: float = 20.0, decay: float = 16.0) -> PleatSection:
    return PleatSection("foam", width, 0.0, thickness, decay, 0.0)


def in_wadding(width: float = 50.0, rise: float = 8.0, take: float = 0.0) -> PleatSection:
    return PleatSection("wadding", width, rise, rise, 1.0, take)


def test_segment_with_radius_60_and_height_8():
    # Machinery's Handbook 31, pp. 50, 79: r 60, h 8 has a chord of 59.8665.
    assert arc_radius(59.8665, 8.0) == pytest.approx(60.0, abs=2e-4)


def test_segment_with_chord_16_and_rise_6():
    # Machinery's Handbook 31, pp. 50, 79: r 8.3333, arc 21.450.
    assert arc_radius(16.0, 6.0) == pytest.approx(8.3333, abs=5e-5)
    assert arc_length(np.array(16.0), np.array(6.0)) == pytest.approx(21.450, abs=5e-4)


def test_segment_of_radius_12_and_depth_2():
    # Machinery's Handbook 31, pp. 50, 79: chord 13.2665, arc 14.0565.
    assert arc_radius(13.2665, 2.0) == pytest.approx(12.0, abs=1e-4)
    assert arc_length(np.array(13.2665), np.array(2.0)) == pytest.approx(14.0565, abs=1e-4)


def test_pleat_of_chord_50():
    # Derived from the same formulas: rise 8: R 43.0625, arc 53.346; rise 10: arc 55.2.
    assert arc_radius(50.0, 8.0) == pytest.approx(43.0625, abs=1e-12)
    assert in_wadding().arc(np.array(50.0)) == pytest.approx(53.346, abs=5e-4)
    assert in_wadding(rise=10.0).arc(np.array(50.0)) == pytest.approx(55.2, abs=0.05)


def test_pleat_over_foam():
    # Derived: b 50, t 20, l 16: crown 11.968, arc 57.236.
    assert over_foam().crown(np.array(50.0)) == pytest.approx(11.968, abs=5e-4)
    assert over_foam().arc(np.array(50.0)) == pytest.approx(57.236, abs=5e-4)


@pytest.mark.parametrize("drawn", [over_foam(), in_wadding(), in_wadding(rise=25.0)])
@pytest.mark.parametrize("width", [30.0, 50.0, 65.0])
@pytest.mark.parametrize("scale", [0.3, 1.0])
def test_length_over_the_crest_is_that_of_the_line_drawn(drawn, width, scale):
    # Second route: the height itself, followed in 20 000 steps set closer at the valleys.
    share = 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, 20001))
    line = np.stack([share * width, drawn.height(share, np.full(20001, width), np.full(20001, scale))], axis=1)
    walked = np.linalg.norm(np.diff(line, axis=0), axis=1).sum()
    assert float(drawn.arc(np.array(width), scale)) == pytest.approx(walked, rel=1e-5)


def test_foam_balances_the_cover_everywhere():
    # The law it comes from: T y'' + k (t - y) = 0 with l^2 = T / k.
    drawn = over_foam()
    share = np.linspace(0.01, 0.99, 2001)
    y = drawn.height(share, np.full(2001, 50.0), np.ones(2001))
    step = 50.0 * (share[1] - share[0])
    bend = (y[2:] - 2 * y[1:-1] + y[:-2]) / step**2
    assert np.abs(16.0**2 * bend + (20.0 - y[1:-1])).max() < 1e-3


@given(st.floats(1.0, 200.0), st.floats(0.0, 0.5))
def test_arc_lies_between_chord_and_half_circle(chord, share):
    length = float(arc_length(np.array(chord), np.array(share * chord)))
    assert chord * (1 - 1e-12) <= length <= 0.5 * np.pi * chord * (1 + 1e-12)


@given(st.floats(5.0, 200.0), st.floats(1.0, 40.0), st.floats(2.0, 60.0))
def test_foam_never_rises_above_its_thickness_and_lies_down_in_the_valleys(width, thickness, decay):
    drawn = over_foam(width, thickness, decay)
    height = drawn.height(np.linspace(0, 1, 21), np.full(21, width), np.ones(21))
    assert height[[0, -1]] == pytest.approx(0.0, abs=1e-9)
    assert height.max() == pytest.approx(float(drawn.crown(np.array(width))), rel=1e-9)
    assert height.max() <= thickness


def test_narrow_pleats_stand_lower_by_the_same_share():
    drawn = in_wadding()
    ratio = drawn.arc(np.array([50.0, 25.0, 10.0])) / np.array([50.0, 25.0, 10.0])
    assert np.ptp(ratio) < 1e-12


def test_the_usual_take_up_is_an_eighth_of_an_inch_in_half_an_inch_of_foam():
    # Two trade pages: 1/8 in per pleat in 1/2 in sew foam.
    assert take_up(Filling(thickness=12.7), 50.0) == pytest.approx(3.175, abs=1e-12)


def test_a_test_strip_that_came_out_short_raises_the_take_up():
    pleats = Filling(thickness=12.0, take_up_measured=245.0)
    assert take_up(pleats, 50.0) == pytest.approx(3.0 + 1.0)
    right = Filling(thickness=12.0, take_up_measured=250.0)
    assert take_up(right, 50.0) == pytest.approx(3.0)


def test_decay_of_the_worked_foam():
    # Derived: T 340 N/m, E 40 kPa, h 30 mm: l = sqrt(T h / E) = 15.969 mm.
    drawn = pleat_section(Filling(thickness=30.0, foam_kpa=10.0), 50.0)
    assert drawn.decay == pytest.approx(15.969, abs=5e-4)


def test_rise_runs_out_towards_the_seam_without_a_kink():
    at = np.array([0.0, 12.5, 25.0, 40.0])
    assert run_out(at, 25.0) == pytest.approx([0.0, 0.5, 1.0, 1.0])
    step = 1e-4
    assert run_out(np.array([step]), 25.0)[0] / step < 1e-6
    assert (run_out(at, 0.0) == 1.0).all()
