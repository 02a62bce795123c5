"""Pleats of a sheet: what is read, and every slip that is found with its line."""

import pytest

from meshes.base.problems import ProblemError
from tests.pads import FLAT, sheet_of
from tests.sheets import line_of

REST = """
[[pad]]
name = "rest"
kind = "backrest"
origin = [0, 300, 0]
[pad.outline]
bottom_width = 400
top_width = 380
depth = 300
[pad.sides.top]
closed_by_hand = true
"""
GOOD = FLAT + "[pad.pleats]\ncount = 8\n" + REST + '[pad.pleats]\nlines_up_with = "cushion"\n'


def test_everything_that_may_be_said_is_read():
    said = """[pad.pleats]
pitch = "2 in"
direction = "across"
where = "face"
shape = "edge"
over_edge = false
half_at_sides = true
construction = "one piece"
filler = "wadding"
filler_thickness = "1/2 in"
filler_foam = "foam_firm"
rise = 8
taper = 40
take_up_measured = "9 7/8 in"
joins = [2, 4]
"""
    pleats = sheet_of(FLAT + said).pads[0].pleats
    assert pleats.spacing.pitch == pytest.approx(50.8)
    assert (pleats.direction, pleats.shape, pleats.filling.filler) == ("across", "edge", "wadding")
    assert pleats.filling.thickness == pytest.approx(12.7)
    assert pleats.filling.take_up_measured == pytest.approx(250.825)
    assert pleats.joining.joins == (2, 4)
    assert not pleats.over_edge
    # 6 kPa at 40 %, of which three quarters at 25 % (generic ratio, from memory).
    assert pleats.filling.foam_kpa == pytest.approx(4.5)


def test_a_pad_knows_the_pad_it_follows():
    cushion, rest = sheet_of(GOOD).pads
    assert rest.leader == cushion
    assert cushion.leader is None


@pytest.mark.parametrize(
    ("old", "new", "code", "at", "words"),
    [
        ("count = 8\n", "", "G060", "[pad.pleats]", "neither count, pitch nor widths"),
        ("count = 8", "count = 8\npitch = 50", "S020", "pitch = 50", "given together with count"),
        ("count = 8", "count = 8.5", "S012", "count = 8.5", "not a whole number"),
        ("count = 8", "count = 0", "S017", "count = 0", "1 to 120"),
        ("count = 8", 'count = 8\nwhere = "inset"', "G061", "where", "no inset to be pleated"),
        ("count = 8", "count = 8\n[pad.inset]\nmargin = 60", "G061", "[pad.pleats]", "no face of its own"),
        ("count = 8", 'count = 8\ndirection = "across"\nfan = 1.2', "G062", "fan", "even left and right"),
        ("count = 8", 'count = 8\njoins = "auto"', "G063", "joins", "give largest_width or largest_area"),
        ("count = 8", 'count = 8\njoins = "often"', "S013", "joins", 'write "auto"'),
        ("count = 8", "count = 8\njoins = [0]", "S017", "joins", "the number of a valley is 1 to 120"),
        ("count = 8", "count = 8\njoins = 4", "S012", "joins", "square brackets"),
        ("count = 8", 'count = 8\nfiller = "down"', "S013", 'filler = "down"', "not a word known here"),
        ("count = 8", 'count = 8\nfiller_foam = "foam_sfot"', "S022", "filler_foam", 'did you mean "foam_soft"'),
        ("count = 8", "count = 8\nwidth = 50", "S010", "width = 50", 'did you mean "widths"'),
        ('"cushion"\n', '"cushoin"\n', "G064", "lines_up_with", 'did you mean "cushion"'),
        ("[pad.pleats]\ncount = 8\n", "", "G064", "lines_up_with", "has no pleats"),
        ("count = 8", 'lines_up_with = "rest"', "G064", "lines_up_with", "follows another pad itself"),
        ("count = 8", 'count = 8\ndirection = "across"', "G064", "lines_up_with", "run along both pads"),
        ("origin = [0, 300, 0]", "facing = 20", "G064", "lines_up_with", "face the same way"),
    ],
)
def test_slips_are_found(old, new, code, at, words):
    index = GOOD.rindex(old) if old.startswith('"cushion"') else GOOD.index(old)
    text = GOOD[:index] + new + GOOD[index + len(old) :]
    with pytest.raises(ProblemError) as found:
        sheet_of(text)
    problem = next(p for p in found.value.problems if p.code == code and words in p.text)
    assert problem.line == line_of(text, at)


@pytest.mark.parametrize(
    ("extra", "words"),
    [
        ("rise = 8", "follows from its thickness"),
        ('construction = "strips"\njoins = [2, 6]', "parted at every valley"),
        ("largest_width = 300", "no effect without joins"),
        ('shape = "edge"\nfan = 1.2', "no effect where the valleys follow"),
    ],
)
def test_keys_without_effect_are_told(extra, words):
    warnings = sheet_of(FLAT + f"[pad.pleats]\ncount = 8\n{extra}\n").warnings
    assert [words in p.text for p in warnings if p.code == "G069"] == [True]
