"""The padding table: every number says where it comes from."""

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from meshes.records.compression import curve
from meshes.records.materials import BUILT_IN, STRAINS, built_in
from tests.pads import sheet_of

SHEET = """
name = "test"
[material.own_foam]
density = 35
compression_kpa = [3.0, 4.2, 9.8]
thickness = "1 in"
source = "pressed in the shop"
[[pad]]
name = "cushion"
kind = "cushion"
outline = {front_width = 400, rear_width = 400, depth = 400}
layer = [{material = "own_foam", thickness = 20}]
"""


@pytest.mark.parametrize("material", BUILT_IN.values(), ids=BUILT_IN)
def test_numbers_are_possible_and_have_their_codes(material):
    low, middle, high = material.compression_kpa
    assert 0 < low < middle < high
    assert material.density_kg_m3 > 0
    assert re.search(r"\b[ABCMP]\b", material.source), "a source code A, B, C, M or P"
    assert material.editable == bool(re.search(r"\b[MP]\b", material.source))


def test_two_term_foam_of_the_handbook():
    # Silber and Then, Preventive Biomechanics, table 4.3, computed: kPa at 25, 40 and 65 %.
    assert STRAINS == (0.25, 0.40, 0.65)
    assert BUILT_IN["foam_very_soft"].compression_kpa == (0.744, 0.934, 1.613)


@pytest.mark.parametrize(("name", "kpa"), [("foam_soft", 2.0), ("foam_medium", 3.75), ("foam_firm", 6.0)])
def test_generic_foams(name, kpa):
    # Generic ratio 0.75 : 1 : 2.4; CV40 soft 2, medium 3.5 to 4, firm 6 kPa: from memory, marked M in the table.
    assert BUILT_IN[name].compression_kpa == pytest.approx((0.75 * kpa, kpa, 2.4 * kpa))
    assert "M" in BUILT_IN[name].source


def test_materials_of_the_sheet_stand_beside_the_built_in_ones():
    sheet = sheet_of(SHEET)
    own = sheet.materials["own_foam"]
    assert (own.density_kg_m3, own.compression_kpa, own.thickness_mm) == (35.0, (3.0, 4.2, 9.8), 25.4)
    assert own.source == "pressed in the shop"
    assert not own.editable
    assert set(sheet.materials) == {*BUILT_IN, "own_foam"}


def with_stock(*lines):
    return SHEET.replace("[[pad]]", "\n".join(["[stock]", *lines, "[[pad]]"]), 1)


def test_the_shops_own_sheets_are_those_named_for_it_else_its_own_thickness_else_those_of_all_foam():
    found = sheet_of(
        with_stock('foam = ["1/2 in", "1 in", "2 in"]', 'felt = ["4 mm", 8]', "foam_soft = [30]")
    ).materials
    assert found["foam_firm"].sheets_mm == (12.7, 25.4, 50.8)
    assert found["felt"].sheets_mm == (4.0, 8.0)
    assert found["foam_soft"].sheets_mm == (30.0,)
    assert found["own_foam"].sheets_mm == (25.4,)
    assert found["wadding"].sheets_mm == (15.0,)
    assert sheet_of(with_stock("own_foam = [10]")).materials["own_foam"].sheets_mm == (10.0,)
    inches = with_stock("foam = [0.5, 1]").replace('name = "test"', 'name = "test"\nunit = "in"')
    inches = inches.replace("= 400", "= 20").replace("thickness = 20", "thickness = 1")
    assert sheet_of(inches).materials["foam_firm"].sheets_mm == (12.7, 25.4)


def test_an_inch_shop_buys_its_foam_by_the_inch():
    """An inch of foam is one sheet of an inch, not two of 25 mm with most of one split off."""
    inches = SHEET.replace('name = "test"', 'name = "test"\nunit = "in"', 1).replace("= 400", "= 20")
    inches = inches.replace("thickness = 20", "thickness = 1")
    foam = sheet_of(inches).materials["foam_medium"]
    assert foam.laid_up(25.4) == pytest.approx((25.4,))
    assert sheet_of(SHEET).materials["foam_medium"].laid_up(25.0) == (25.0,)
    assert built_in("in")["hessian"] == BUILT_IN["hessian"], "cloth is no thicker for it"
    assert replace(foam, thickness_mm=25.0) == BUILT_IN["foam_medium"]


def test_without_a_stock_list_all_comes_as_it_is_sold():
    assert {name: one.stock_mm for name, one in sheet_of(SHEET).materials.items() if one.stock_mm} == {}


LENGTHS = st.lists(st.integers(3, 60), min_size=1, max_size=5, unique=True)


@given(LENGTHS, st.floats(1.0, 110.0))
def test_a_layer_is_laid_up_of_the_fewest_sheets_and_of_those_the_least(stock, thick):
    """Against every way to lay so many sheets."""
    stock = tuple(map(float, sorted(stock)))
    sheets = replace(BUILT_IN["foam_firm"], stock_mm=stock).laid_up(thick)
    assert set(sheets) <= set(stock)
    assert sum(sheets) >= thick - 1e-6
    fewer = len(sheets) - 1
    assert fewer * stock[-1] < thick
    every = {0.0}
    for _ in sheets:
        every = {mm + one for mm in every for one in stock}
    assert sum(sheets) == min(mm for mm in every if mm >= thick - 1e-6)


@given(LENGTHS, st.floats(1.0, 110.0))
@example([16, 31], 63.0)
def test_the_next_thinner_layer_is_of_whole_sheets(stock, thick):
    stock = tuple(map(float, sorted(stock)))
    foam = replace(BUILT_IN["foam_firm"], stock_mm=stock)
    less = foam.next_thinner(thick)
    assert less < thick
    if less:
        assert sum(foam.laid_up(less)) == pytest.approx(less)
        assert len(foam.laid_up(less)) <= len(foam.laid_up(thick))
    # No single sheet lies between, and it is nothing only where no sheet is thinner.
    assert not any(less < mm < thick - 1e-6 for mm in stock)


def test_a_shop_may_put_its_own_numbers_in_place_of_built_in_ones():
    sheet = sheet_of(SHEET.replace("own_foam", "foam_soft"))
    assert sheet.materials["foam_soft"].compression_kpa == (3.0, 4.2, 9.8)
    assert BUILT_IN["foam_soft"].compression_kpa != (3.0, 4.2, 9.8)


def test_the_table_cannot_be_changed():
    with pytest.raises(TypeError):
        BUILT_IN["felt"] = BUILT_IN["hair"]


@pytest.mark.parametrize("name", ["foam_soft", "foam_medium", "foam_firm"])
def test_foam_resists_from_the_first_touch_as_the_measured_foam_does(name):
    # Silber and Then, Preventive Biomechanics, table 4.3: .403 and .562 kPa at 5 and 10 % of .744 kPa at 25 %.
    foam = BUILT_IN[name]
    pressed = curve(foam.table)
    at_25 = foam.compression_kpa[0]
    assert pressed.pressure([0.05, 0.10]) == pytest.approx([0.403 / 0.744 * at_25, 0.562 / 0.744 * at_25], rel=1e-6)
    assert pressed.pressure(STRAINS) == pytest.approx(foam.compression_kpa, rel=1e-6)
    # and the other way round: pressed as hard, the measured foam gives 5 %, within a tenth
    very_soft = BUILT_IN["foam_very_soft"]
    same = curve(very_soft.table).pressure([0.05])[0] / very_soft.compression_kpa[0] * at_25
    assert pressed.at(np.array([same]))[0][0] == pytest.approx(0.05, rel=0.1)


def test_only_foam_starts_as_foam_and_a_full_table_is_taken_as_it_is():
    assert BUILT_IN["cotton_batting"].table[0] == (0.25, 1.0)
    assert BUILT_IN["foam_very_soft"].table == BUILT_IN["foam_very_soft"].compression
    assert "Silber and Then" in BUILT_IN["foam_firm"].curve_source
    assert BUILT_IN["foam_very_soft"].curve_source == ""
    own = sheet_of(SHEET).materials["own_foam"]
    assert own.foam
    assert own.table[0] == pytest.approx((0.05, 3.0 * 0.403 / 0.744))
    assert "Silber and Then" in own.curve_source


@pytest.mark.parametrize("strain", [0.08, 0.10, 0.25, 0.40])
def test_a_foams_own_table_that_begins_late_starts_as_foam_does(strain):
    """Pressed as hard as the generic foam at 5 %, scaled through the table's first point, it gives 5 %."""
    generic = curve(BUILT_IN["foam_very_soft"].table)
    points = ((strain, 3.0), (0.65, 9.8))
    foam = replace(BUILT_IN["foam_firm"], compression=points)
    at_5, at_first = generic.pressure(np.array([0.05, strain]))
    assert curve(foam.table).at(np.array([3.0 * at_5 / at_first]))[0][0] == pytest.approx(0.05, abs=1e-6)
    assert foam.table[-2:] == points
    assert f"{100 * strain:g} %" in foam.curve_source


def test_a_table_that_begins_as_soon_or_is_of_stuffing_has_no_start_but_its_own():
    points = ((0.05, 1.0), (0.25, 3.0), (0.65, 9.8))
    assert replace(BUILT_IN["foam_firm"], compression=points).table == points
    late = replace(BUILT_IN["hair"], compression=points[1:])
    assert late.table == points[1:]
    assert late.curve_source == ""


@pytest.mark.parametrize("kpa", [(6.5, 8.5, 20.0), (2.0, 6.0, 30.0), (3.0, 3.3, 7.0)])
def test_to_a_tenth_foam_gives_what_the_generic_curve_gives(kpa):
    generic, foam = curve(BUILT_IN["foam_very_soft"].table), replace(BUILT_IN["foam_firm"], compression_kpa=kpa)
    strain = np.array([0.005, 0.01, 0.02, 0.05, 0.10])
    scaled = generic.pressure(strain) * kpa[0] / generic.pressure(np.array([0.25]))[0]
    assert curve(foam.table).at(scaled)[0] == pytest.approx(strain, rel=1e-3)
