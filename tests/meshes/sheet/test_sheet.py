"""Reading a measurement sheet: records, words of upright pads, halves completed, many faults at once, file troubles."""

import dataclasses
import pickle
from dataclasses import fields, replace

import pytest

from meshes.records.pad import Outline, Side
from meshes.sheet.whole import ALLOWANCE_BY_UNIT, Allowance, LeatherChoice, Output
from tests.pads import sheet_of
from tests.sheets import GOOD

PAD = """
name = "test"
[[pad]]
name = "cushion"
kind = "cushion"
[pad.outline]
front_width = 400
rear_width = 380
depth = 300
"""
TRACED = """
name = "test"
[[pad]]
name = "cushion"
kind = "cushion"
[pad.outline]
"""


def pad_of(text: str):
    return sheet_of(text).pads[0]


def test_records_of_the_good_sheet():
    sheet = sheet_of(GOOD)
    assert (sheet.name, sheet.unit, sheet.cover) == ("Launch", "mm", LeatherChoice("furniture"))
    assert sheet.allowance == Allowance(sewn=12.0, corner="square", notch_spacing=120.0)
    assert sheet.output == Output(page="a4", overlap=10.0, roll_width=914.0, mesh=6.0)
    bench = sheet.pads[0]
    assert (bench.name, bench.kind, bench.origin, bench.rake_deg) == ("bench", "cushion", (0.0, 0.0, 350.0), 5.0)
    assert bench.outline == Outline(
        ((-560.0, 0.0), (560.0, 0.0), (540.0, 480.0), (-540.0, 480.0)),
        (60.0,) * 4,
        ("front", "right", "rear", "left"),
        True,
    )
    assert bench.profiles[0].points == ((0.0, 0.0), (120.0, 6.0), (470.0, -10.0))
    assert bench.sides["front"] == Side(120.0, 20.0, 90.0, True, 8.0, True, False)
    assert [(p.material, p.where, p.within, p.taper) for p in bench.layers] == [
        ("my_foam", "all", None, 0.0),
        ("wadding", "front", 70.0, 30.0),
    ]
    assert (bench.inset.rear, bench.inset.left, bench.inset.corner_radius) == (100.0, 110.0, 50.0)
    assert bench.lines[0].points == ((0.0, 200.0), (560.0, 210.0))


def test_what_is_left_out_has_the_documented_values():
    pad = pad_of(PAD)
    assert pad.sides == dict.fromkeys(("front", "right", "rear", "left"), Side())
    assert Side() == Side(100.0, 10.0, 90.0, False, 0.0, False, False)
    assert (pad.origin, pad.rake_deg, pad.facing_deg) == ((0.0, 0.0, 0.0), 0.0, 0.0)
    assert (pad.profiles, pad.layers, pad.inset, pad.lines) == ((), (), None, ())
    assert pad.outline.radii == (0.0, 0.0, 0.0, 0.0)
    sheet = sheet_of(PAD)
    assert (sheet.cover, sheet.allowance, sheet.output) == (LeatherChoice("furniture"), Allowance(), Output())


def test_every_length_comes_out_in_mm():
    inches = sheet_of(
        PAD.replace('name = "test"', 'name = "test"\nunit = "in"', 1)
        .replace("front_width = 400", "front_width = 40")
        .replace("rear_width = 380", 'rear_width = "98 cm"')
        .replace("depth = 300", 'depth = "20 1/2"')
    )
    corners = inches.pads[0].outline.corners
    assert corners[1] == (pytest.approx(20 * 25.4), 0.0)
    assert corners[2] == (490.0, pytest.approx(20.5 * 25.4))
    # What is left out is not scaled by the unit: it is the usual width, in whole fractions of an inch.
    assert inches.allowance.sewn == pytest.approx(25.4 / 2)
    assert inches.pads[0].sides["front"].drop == 100.0


def test_upright_pads_speak_of_bottom_and_top():
    lying = PAD + '[pad.sides.rear]\ndrop = 80\n[pad.inset]\nrear = 90\n[[pad.layer]]\nmaterial = "felt"\n'
    lying += 'thickness = 5\nwhere = "rear"\n'
    standing = lying.replace('"cushion"\n[', '"backrest"\n[').replace("rear", "top").replace("front", "bottom")
    cushion, backrest = pad_of(lying), pad_of(standing)
    assert dataclasses.replace(backrest, kind="cushion") == cushion
    assert [backrest.side_word(s) for s in ("front", "rear", "left")] == ["bottom", "top", "left"]
    assert [cushion.side_word(s) for s in ("front", "rear", "left")] == ["front", "rear", "left"]


def test_problems_of_upright_pads_use_their_words_and_lines():
    sheet = sheet_of(GOOD)
    problem = sheet.problem("G999", ("pad", 1, "sides", "rear", "turn"), "looks odd", warning=True)
    assert problem.where == 'pad "rest", top side, turn'
    assert problem.line == next(k for k, line in enumerate(GOOD.splitlines(), 1) if "turn = 170" in line)
    assert problem.warning


def test_lines_of_keys():
    sheet = sheet_of(GOOD)
    lines = GOOD.splitlines()
    assert lines[sheet.line_of("pad", 0, "profile", 1, "points") - 1] == "points = [[0, 1], [470, 2]]"
    assert lines[sheet.line_of("pad", 0, "profile", 0, "points", 2) - 1] == "  [470, -10],"
    assert lines[sheet.line_of("pad", 1, "sides", "rear") - 1] == "[pad.sides.top]"
    # A key that is not there is shown where its table begins.
    assert lines[sheet.line_of("pad", 1, "rake") - 1] == "[[pad]]"
    assert sheet.line_of("nothing") is None


def test_left_and_right_copy_each_other_on_a_symmetric_outline():
    pad = pad_of(PAD + "[pad.sides.right]\ndrop = 77\n")
    assert pad.sides["left"] == pad.sides["right"] == Side(drop=77.0)
    pad = pad_of(PAD + "[pad.sides.left]\ndrop = 77\n")
    assert pad.sides["right"].drop == 77.0
    assert pad.symmetric


def test_a_crooked_frame_keeps_its_sides():
    crooked = PAD.replace("depth = 300", "depth_left = 300\ndepth_right = 310")
    sheet = sheet_of(crooked + "[pad.sides.right]\ndrop = 77\n")
    pad = sheet.pads[0]
    assert pad.outline.corners == ((-200.0, 0.0), (200.0, 0.0), (190.0, 310.0), (-190.0, 300.0))
    assert not pad.symmetric
    assert not pad.outline.symmetric
    assert (pad.sides["left"].drop, pad.sides["right"].drop) == (77.0, 77.0), "no side is 23 mm deeper unasked"
    assert [w.code for w in sheet.warnings] == ["G055"]
    given = sheet_of(crooked + "[pad.sides.right]\ndrop = 77\n[pad.sides.left]\ndrop = 90\n")
    assert (given.pads[0].sides["left"].drop, given.warnings) == (90.0, ())


def test_separate_halves_that_agree_are_symmetric():
    halves = PAD.replace("front_width = 400", "front_left = 200\nfront_right = 200")
    assert pad_of(halves) == pad_of(PAD)


def test_radii_by_corner():
    table = "corner_radius = {front_left = 1, front_right = 2, rear_right = 3}\n"
    assert pad_of(PAD + table).outline.radii == (1.0, 2.0, 3.0, 0.0)


def test_a_traced_half_is_completed():
    outline = pad_of(TRACED + "points = [[0, 0], [200, 0, 30], [190, 280, 20], [0, 300]]").outline
    assert outline.corners == ((-200.0, 0.0), (200.0, 0.0), (190.0, 280.0), (0.0, 300.0), (-190.0, 280.0))
    assert outline.radii == (30.0, 30.0, 20.0, 0.0, 20.0)
    assert outline.side_of_edge == ("front", "right", "rear", "rear", "left")
    assert outline.symmetric


def test_a_traced_whole_may_begin_anywhere():
    whole = [(-200, 0), (200, 0), (210, 150), (190, 300), (-190, 300), (-205, 150)]
    for start in range(len(whole)):
        turned = whole[start:] + whole[:start]
        points = ", ".join(f"[{x}, {y}]" for x, y in turned)
        outline = pad_of(TRACED + f"points = [{points}]\nsymmetric = false").outline
        assert outline.corners == tuple(whole)
        assert outline.side_of_edge == ("front", "right", "right", "rear", "left", "left")


def test_cut_off_corners_are_given_to_left_and_right_alike():
    # Both ends of these cuts lie equally far out in the box of the pad: 40 of 400 mm across, 30 of 300 mm along.
    half = "points = [[0, 0], [160, 0], [200, 30], [200, 300], [0, 300]]"
    outline = pad_of(TRACED + half).outline
    assert outline.corners == ((-200, 30), (-160, 0), (160, 0), (200, 30), (200, 300), (-200, 300))
    assert outline.side_of_edge == ("front", "front", "front", "right", "rear", "left")


UNEVEN = PAD + "[pad.sides.left]\ndrop = 90\n[pad.sides.right]\ndrop = 95\n"
HALF_PROFILES = """
[[pad.profile]]
direction = "along"
at = 100
points = [[0, 0], [300, 5]]
[[pad.profile]]
direction = "across"
at = 150
points = [[0, 9], [190, 3]]
[[pad.line]]
name = "seam"
points = [[0, 100], [195, 120]]
[[pad.line]]
name = "centre"
points = [[0, 0], [0, 300]]
"""


def test_halves_stay_halves_on_a_pad_that_is_the_same_left_and_right():
    pad = pad_of(PAD + HALF_PROFILES)
    assert pad.symmetric
    assert [p.at for p in pad.profiles] == [100.0, 150.0]
    assert [line.name for line in pad.lines] == ["seam", "centre"]


def test_halves_are_completed_where_left_and_right_differ():
    pad = pad_of(UNEVEN + HALF_PROFILES)
    assert not pad.symmetric
    assert pad.outline.symmetric
    assert [(p.direction, p.at) for p in pad.profiles] == [("along", 100.0), ("across", 150.0), ("along", -100.0)]
    assert pad.profiles[1].points == ((-190.0, 3.0), (0.0, 9.0), (190.0, 3.0))
    assert [line.name for line in pad.lines] == ["seam", "seam left", "centre"]
    assert pad.lines[1].points == ((0.0, 100.0), (-195.0, 120.0))


@pytest.mark.parametrize(
    "more",
    [
        "[pad.inset]\nmargin = 50\nleft = 60\n",
        '[[pad.layer]]\nmaterial = "felt"\nthickness = 5\nwhere = "left"\n',
        '[[pad.profile]]\ndirection = "across"\nat = 150\npoints = [[-190, 3], [0, 9], [190, 4]]\n',
        '[[pad.profile]]\ndirection = "along"\nat = 99\npoints = [[0, 0], [300, 5]]\n'
        '[[pad.profile]]\ndirection = "along"\nat = -99\npoints = [[0, 0], [300, 6]]\n',
    ],
)
def test_anything_that_differs_makes_a_pad_uneven(more):
    assert not pad_of(PAD + more).symmetric


def test_the_mirror_image_of_a_layer_makes_a_pad_even():
    layer = '[[pad.layer]]\nmaterial = "felt"\nthickness = 5\nwhere = "{}"\n'
    assert pad_of(PAD + layer.format("left") + layer.format("right")).symmetric


def test_records_cannot_be_changed():
    sheet = sheet_of(GOOD)
    for record in (sheet, sheet.cover, sheet.output, sheet.pads[0], sheet.pads[0].outline, sheet.pads[0].inset):
        with pytest.raises(dataclasses.FrozenInstanceError):
            record.name = "other"
    with pytest.raises(TypeError):
        sheet.pads[0].sides["front"] = Side()
    with pytest.raises(TypeError):
        sheet.materials["felt"] = None


def test_records_travel_to_other_processes():
    sheet = sheet_of(GOOD)
    assert pickle.loads(pickle.dumps(sheet)) == sheet


def test_usual_widths_are_whole_fractions_in_an_inch_shop():
    """Nobody can set off 12 mm with a ruler in sixteenths; each width is the nearest one that has its mark."""
    usual, inches = Allowance(), ALLOWANCE_BY_UNIT["in"]
    for key in (f.name for f in fields(Allowance) if isinstance(getattr(usual, f.name), float)):
        mm, of_ruler = getattr(usual, key), getattr(inches, key)
        assert of_ruler / 25.4 * 8 == pytest.approx(round(of_ruler / 25.4 * 8), abs=1e-9), key
        assert of_ruler == pytest.approx(mm, rel=0.06), key
    text = PAD.replace('name = "test"', 'name = "test"\nunit = "in"', 1)
    text = text.replace("400", "20").replace("380", "20").replace("300", "20")
    sheet = sheet_of(text + "[allowance]\npulled = 3\n[output]\noverlap = 0.5\n")
    assert (sheet.allowance, sheet.output.page) == (replace(inches, pulled=76.2), "letter")
    assert sheet.output.overlap == 12.7
