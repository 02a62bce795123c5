"""Compression curves, stacks in series and springs."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes.records.compression import (
    LEAST_GIVE_MM_PER_KPA,
    SKIN_MM,
    SKIN_MM_PER_KPA,
    Columns,
    CurveError,
    curve,
    linear,
)
from meshes.records.materials import BUILT_IN
from meshes.records.springs import Springs, bed_rate_kpa_per_mm, coil_rate_n_per_mm

# Silber and Then, Preventive Biomechanics, table 4.3, computed: kPa at 5, 10, 25, 40 and 65 %.
TWO_TERM = [(0.05, 0.403), (0.10, 0.562), (0.25, 0.744), (0.40, 0.934), (0.65, 1.613)]


@st.composite
def tables(draw):
    """Rising compression tables of two to six points."""
    count = draw(st.integers(2, 6))
    gaps = draw(st.lists(st.floats(0.05, 1.0), min_size=count, max_size=count))
    rises = draw(st.lists(st.floats(0.01, 20.0), min_size=count, max_size=count))
    strain = 0.9 * np.cumsum(gaps) / sum(gaps)
    return [(float(e), float(p)) for e, p in zip(strain, np.cumsum(rises), strict=True)]


def column(*layers, give=0.0, preload=0.0):
    """One column of (curve, thickness) layers."""
    curves = tuple(c for c, _ in layers)
    return Columns(curves, np.array([[t] for _, t in layers]), np.array([give]), np.array([preload]))


def test_the_curve_meets_every_point_of_the_table():
    strain, kpa = np.array(TWO_TERM).T
    assert curve(TWO_TERM).pressure(strain) == pytest.approx(kpa, rel=1e-9)


@given(tables())
def test_the_curve_rises_everywhere_and_never_leaves_the_points_of_its_stretch(table):
    c = curve(table)
    for (e0, p0), (e1, p1) in zip([(0.0, 0.0), *table[:-1]], table, strict=True):
        p = c.pressure(np.linspace(e0, e1, 41))
        assert (np.diff(p) > 0).all()
        assert p[0] == pytest.approx(p0, abs=1e-9)
        assert p[-1] == pytest.approx(p1)


@given(tables())
def test_beyond_the_table_it_stiffens(table):
    c = curve(table)
    p = c.pressure(np.linspace(table[-1][0], 0.5 * (table[-1][0] + 1.0), 30))
    assert (np.diff(p, 2) > 0).all()


@given(tables(), st.floats(0.01, 0.95))
def test_slope_and_integral_are_those_of_the_curve(table, share):
    c, step = curve(table), 1e-5
    p = np.array([share * 1.3 * table[-1][1]])
    strain, slope, own = c.at(p)
    near = [c.at(p + s * step * p) for s in (-1, 1)]
    assert slope[0] == pytest.approx((near[1][0] - near[0][0])[0] / (2 * step * p[0]), rel=1e-3)
    assert strain[0] == pytest.approx((near[1][2] - near[0][2])[0] / (2 * step * p[0]), rel=1e-4)
    assert own[0] > 0


def test_a_straight_curve_is_straight():
    strain = np.array([0.01, 0.1, 0.33, 0.5])
    assert linear(40.0).pressure(strain) == pytest.approx(40.0 * strain, rel=1e-9)


@pytest.mark.parametrize(
    ("table", "why"),
    [
        ([(0.25, 3.0), (0.4, 2.0)], "pressure must rise"),
        ([(0.25, -3.0), (0.4, 2.0)], "pressure must rise"),
        ([(0.4, 3.0), (0.25, 4.0)], "strain must rise"),
        ([(0.4, 3.0), (1.0, 4.0)], "stay below 1"),
        ([], "at least one point"),
    ],
)
def test_curves_that_cannot_be(table, why):
    with pytest.raises(CurveError, match=why):
        curve(table)


def test_layers_in_series_share_the_pressure_and_add_up():
    soft, firm = curve(TWO_TERM), curve([(0.25, 4.5), (0.4, 6.0), (0.65, 14.4)])
    stack = column((soft, 20.0), (firm, 30.0), give=2.0)
    pressed = np.array([9.0])
    pressure = stack.respond(pressed).pressure_kpa
    parts = 20.0 * soft.at(pressure)[0] + 30.0 * firm.at(pressure)[0] + (2.0 + LEAST_GIVE_MM_PER_KPA) * pressure
    parts += 1.0 / (1.0 / (SKIN_MM_PER_KPA * pressure) + 1.0 / SKIN_MM)
    assert parts == pytest.approx(pressed, rel=1e-9)


def test_two_equal_layers_are_one_twice_as_thick():
    foam = curve(TWO_TERM)
    pressed = np.array([7.0])
    one, two = column((foam, 30.0)), column((foam, 15.0), (foam, 15.0))
    assert one.respond(pressed).pressure_kpa == pytest.approx(two.respond(pressed).pressure_kpa, rel=1e-9)


@given(tables(), st.floats(0.05, 1.2), st.floats(0.0, 30.0), st.floats(0.0, 5.0))
def test_pressure_is_the_slope_of_energy(table, share, give, preload):
    stack = column((curve(table), 25.0), give=give, preload=preload)
    at, step = np.array([share * 20.0]), 1e-4
    here = stack.respond(at)
    up, down = stack.respond(at + step), stack.respond(at - step)
    assert here.pressure_kpa[0] == pytest.approx((up.energy - down.energy)[0] / (2 * step), rel=1e-3, abs=1e-7)
    assert here.stiffness[0] > 0


def test_no_pull_where_the_cover_stands_off():
    response = column((curve(TWO_TERM), 25.0)).respond(np.array([-3.0]))
    assert (response.pressure_kpa[0], response.stiffness[0], response.energy[0]) == (0.0, 0.0, 0.0)


def test_held_springs_stand_still_until_the_cover_presses_harder():
    springs = Springs(0.1, free_mm=152.0, held_mm=114.0)
    assert springs.preload_kpa == pytest.approx(3.8)
    bed = column((curve([(0.5, 1000.0)]), 10.0), give=springs.give_mm_per_kpa, preload=springs.preload_kpa)
    assert bed.spring_mm(np.array([3.7])) == 0.0
    assert bed.spring_mm(np.array([4.8])) == pytest.approx(10.0)


def test_rate_of_a_coil():
    # Shigley, example 10-1 (from memory): .037 in wire, outer diameter 7/16 in, 12.5 turns of which the two end ones
    # are squared and dead, 11.85 Mpsi, mean diameter rounded to .400 in: 4.13 lbf/in.
    inch, lbf = 25.4, 4.4482216
    rate = coil_rate_n_per_mm(0.037 * inch, 0.400 * inch, 10.5, shear_n_per_mm2=11.85e6 * lbf / inch**2)
    assert rate * inch / lbf == pytest.approx(4.13, abs=0.01)
    # Seat coil of 3.77 mm wire, mean diameter 75 mm, 5 turns: 0.95 N/mm (the same formula, worked by hand).
    assert coil_rate_n_per_mm(3.77, 75.0, 5.0) == pytest.approx(0.95, abs=0.005)
    assert bed_rate_kpa_per_mm(0.95, 100.0) == pytest.approx(0.095)


@pytest.mark.parametrize("material", BUILT_IN.values(), ids=BUILT_IN)
def test_every_built_in_material_has_a_curve(material):
    strain, kpa = np.array(material.table).T
    assert curve(material.table).pressure(strain) == pytest.approx(kpa, rel=1e-9)


@given(tables(), st.floats(0.0, 1.1), st.floats(0.0, 3.0), st.floats(0.0, 4.0))
def test_the_pressure_found_does_not_depend_on_the_first_guess(table, share, guess, give):
    """On curves that bend both ways too, from any guess: layers add up to the compression that was asked for."""
    stack = column((curve(table), 36.0), (curve(TWO_TERM), 10.0), give=give)
    pressed = np.array([share * 46.0])
    for start in (None, np.array([guess * table[-1][1]])):
        found = stack.respond(pressed, start).pressure_kpa
        assert stack.compression(found)[0] == pytest.approx(pressed, abs=1e-8)


@pytest.mark.parametrize("layers", [(), ((curve(TWO_TERM), 25.0),), ((curve(TWO_TERM), 12.0), (linear(30.0), 8.0))])
@pytest.mark.parametrize("kpa", [0.3, 2.0, 7.5, 40.0])
def test_what_a_column_gives_has_its_own_slope_and_integral(layers, kpa):
    """Bare board, too, which gives by its skin alone: both are differences of what is given at pressures beside."""
    stack = (
        column(*layers, give=1.5, preload=1.0) if layers else Columns((), np.zeros((0, 1)), *np.array([[1.5], [1.0]]))
    )
    step = 1e-4 * kpa
    (low, here, high) = (stack.compression(np.array([kpa + s * step])) for s in (-1, 0, 1))
    assert here[1] == pytest.approx((high[0] - low[0]) / (2 * step), rel=1e-5)
    assert here[0] == pytest.approx((high[2] - low[2]) / (2 * step), rel=1e-5)
    # Pressed by what it gives, it answers with that pressure, and with the inverse slope.
    answer = stack.respond(here[0])
    assert answer.pressure_kpa == pytest.approx([kpa], rel=1e-8)
    assert answer.stiffness == pytest.approx(1.0 / here[1], rel=1e-6)
    assert answer.energy == pytest.approx(kpa * here[0] - here[2], rel=1e-6)


def test_strains_and_deflections_are_told_layer_by_layer():
    soft, firm = curve(TWO_TERM), linear(30.0)
    stack = Columns((soft, firm), np.array([[20.0, 5.0], [10.0, 8.0]]), np.array([2.0, 0.0]), np.array([1.0, 0.0]))
    kpa = np.array([4.0, 2.0])
    assert stack.strains(kpa) == pytest.approx(np.stack([soft.at(kpa)[0], firm.at(kpa)[0]], axis=1))
    assert stack.strains(kpa)[:, 1] == pytest.approx(kpa / 30.0)
    assert stack.spring_mm(kpa) == pytest.approx([6.0, 0.0])
    assert stack.free_mm() == pytest.approx([30.0, 13.0])
