"""Springs, gaps, tension and compression tables in a sheet: what they become, and what can be wrong with them."""

import pickle

import pytest

from meshes.base.problems import ProblemError
from meshes.records.springs import Springs
from tests.pads import sheet_of

SHEET = """
name = "test"
[cover]
tension = 150
[material.own]
density = 35
compression = [[0.1, 1.9], [0.25, 3.0], [0.4, 4.0], [0.65, 9.8]]
[[pad]]
name = "back"
kind = "backrest"
wanted_radius = "1 1/2 in"
outline = {bottom_width = 600, top_width = 600, depth = 400}
layer = [{material = "own", thickness = 20}]
[pad.support]
kind = "springs"
coil_rate = 0.95
pitch = 100
free_height = 150
held_height = 120
[pad.sides.top]
edge_radius = 12
gap = 60
cloth = true
cloth_fixed = "springs"
[pad.sides.bottom]
closed_by_hand = true
gap = 30
gap_depth = 12
[pad.sides.right]
drop = 90
"""


def test_springs_gaps_and_tension_become_records():
    sheet = sheet_of(SHEET)
    (pad,) = sheet.pads
    assert sheet.cover.tension == 150.0
    assert pad.springs == Springs(pytest.approx(0.095), 150.0, 120.0)
    assert pad.springs.preload_kpa == pytest.approx(2.85)
    assert pad.wanted_radius == pytest.approx(38.1)
    top, bottom = pad.sides["rear"], pad.sides["front"]
    assert (top.gap, top.gap_depth, top.cloth, top.cloth_fixed) == (60.0, 60.0, True, "springs")
    assert (bottom.gap, bottom.gap_depth, bottom.cloth, bottom.cloth_fixed) == (30.0, 12.0, False, "frame")
    assert pickle.loads(pickle.dumps(pad)) == pad


def test_a_full_table_stands_for_the_three_pressures():
    own = sheet_of(SHEET).materials["own"]
    assert own.compression == ((0.1, 1.9), (0.25, 3.0), (0.4, 4.0), (0.65, 9.8))
    assert own.compression_kpa == pytest.approx((3.0, 4.0, 9.8))


def test_a_material_of_the_shop_is_foam_unless_it_is_said_to_be_stuffing():
    assert sheet_of(SHEET).materials["own"].foam
    assert not sheet_of(SHEET.replace("density = 35", 'density = 35\nkind = "stuffing"')).materials["own"].foam


def test_a_sheet_that_says_nothing_stands_on_board():
    text = "\n".join(line for line in SHEET.split("[pad.support]")[0].splitlines() if "wanted" not in line)
    (pad,) = sheet_of(text).pads
    assert (pad.springs, pad.wanted_radius) == (None, None)
    assert all(side.gap == 0.0 for side in pad.sides.values())
    assert sheet_of(text.replace("tension = 150", "")).cover.tension is None


FAULTS = [
    ("a falling curve", "[0.4, 4.0]", "[0.4, 2.0]", "S026", "found 2 kPa after 3 kPa"),
    ("strain that does not rise", "[0.4, 4.0]", "[0.2, 4.0]", "S027", "found 0.2 after 0.25"),
    ("strain in per cent", "[0.1, 1.9]", "[10, 1.9]", "S027", "write 25 % as 0.25"),
    ("no pressure at a strain", "[0.1, 1.9]", "[0.1, 0.0]", "S026", "found 0 kPa"),
    ("no curve", "compression = [[0.1, 1.9], [0.25, 3.0], [0.4, 4.0], [0.65, 9.8]]\n", "", "S011", "full table"),
    ("two curves", "density = 35", "density = 35\ncompression_kpa = [1, 2, 3]", "S020", "keep the full table"),
    ("negative pressure", "[0.1, 1.9]", "[0.1, -1.9]", "S016", "-1.9"),
    ("half a point", "[0.1, 1.9]", "[0.1]", "S019", "strain and pressure"),
    ("negative stiffness", "coil_rate = 0.95", "coil_rate = -0.95", "S016", "-0.95"),
    ("no stiffness", "pitch = 100\n", "", "G070", "coil_rate in N/mm and the pitch"),
    ("two stiffnesses", "pitch = 100", "pitch = 100\nrate_kpa_per_mm = 0.1", "S020", "keep rate_kpa_per_mm"),
    ("held above free", "held_height = 120", "held_height = 160", "G071", "cannot be held at 160 mm"),
    ("held until they bind", "held_height = 120", "held_height = 30", "G071", "bind before they are held"),
    ("held from nowhere", "free_height = 150\n", "", "G070", "add free_height"),
    ("gap wider than the pad", "gap = 60", "gap = 380", "G072", "leaves no support"),
    ("negative gap", "gap = 60", "gap = -60", "S016", "negative"),
    ("no tension over an open gap", "tension = 150", "tension = 0", "G073", "cannot span a gap"),
    ("negative tension", "tension = 150", "tension = -1", "S016", "-1"),
    ("unknown support", '"springs"\ncoil', '"spring"\ncoil', "S013", 'mean "springs"'),
    ("unknown fixing", 'fixed = "springs"', 'fixed = "rail"', "S013", '"frame"'),
    ("far too small a radius", '"1 1/2 in"', "2", "S017", "too small"),
]


@pytest.mark.parametrize(("name", "old", "new", "code", "phrase"), FAULTS, ids=[f[0] for f in FAULTS])
def test_faults_are_found_where_they_stand(name, old, new, code, phrase):
    assert old in SHEET
    with pytest.raises(ProblemError) as caught:
        sheet_of(SHEET.replace(old, new, 1))
    found = caught.value.problems
    assert [p.code for p in found] == [code], [str(p) for p in found]
    assert phrase in found[0].text
    assert found[0].line > 1


@pytest.mark.parametrize(
    ("old", "new"),
    [('kind = "springs"\n', ""), ("gap = 30\n", ""), ("gap = 60\n", "")],
)
def test_keys_without_effect_are_told(old, new):
    sheet = sheet_of(SHEET.replace(old, new, 1))
    assert "G079" in {p.code for p in sheet.warnings}
