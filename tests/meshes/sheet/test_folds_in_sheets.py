"""What a sheet says of folded corners, and what it may not."""

import pytest

from meshes.base.problems import ProblemError
from meshes.records.corners import CORNERS_AFTER, CornerFinish
from tests.pads import built, sheet_of

PAD = """name = "chair"
[[pad]]
name = "back"
kind = "{kind}"
[pad.outline]
{front}_width = 400
{rear}_width = 400
depth = 300
{more}
[pad.folds]
{folds}
"""
UPRIGHT = {"kind": "backrest", "front": "bottom", "rear": "top"}
LYING = {"kind": "cushion", "front": "front", "rear": "rear"}


def refusal(text):
    with pytest.raises(ProblemError) as refused:
        sheet_of(text)
    return refused.value.problems


def test_an_upright_pad_says_bottom_and_top():
    pad = sheet_of(PAD.format(**UPRIGHT, more="", folds='bottom_left = "drawn"\ntop_right = "double"')).pads[0]
    said = {corner: pad.folds.of(corner) for corner in CORNERS_AFTER}
    assert said == {
        "front_right": CornerFinish.DRAWN,
        "front_left": CornerFinish.DRAWN,
        "rear_right": CornerFinish.DOUBLE,
        "rear_left": CornerFinish.DOUBLE,
    }


def test_a_corner_beside_a_band_cannot_be_folded():
    [problem] = refusal(PAD.format(**LYING, more="[pad.sides.front]\nband = true", folds='all = "single"'))
    assert problem.code == "G118"
    assert "the front side has a band" in problem.text


def test_corners_away_from_the_band_can():
    pad = sheet_of(PAD.format(**LYING, more="[pad.sides.front]\nband = true", folds='rear_left = "single"')).pads[0]
    assert [corner for corner, _ in pad.folds.finishes] == ["rear_right", "rear_left"]


@pytest.mark.parametrize("word", ["gathered", "stitched", "", 3, True])
def test_an_unknown_finish_is_told(word):
    value = f'"{word}"' if isinstance(word, str) else str(word).lower()
    assert all(p.code.startswith("S") for p in refusal(PAD.format(**LYING, more="", folds=f"all = {value}")))


def test_a_corner_that_hardly_turns_is_none_to_fold():
    round_pad = (
        'name = "stool"\n[[pad]]\nname = "stool"\nkind = "cushion"\n[pad.outline]\nshape = "round"\nwidth = 360\n'
    )
    with pytest.raises(ProblemError) as refused:
        built(round_pad + '[pad.folds]\nall = "single"\n', edge_mm=30.0)
    assert [p.code for p in refused.value.problems] == ["G119"]


@pytest.mark.parametrize("edge_mm", [16.0, 28.0, 40.0])
def test_a_sharp_corner_is_sewn_however_wide_the_triangles(edge_mm):
    """Triangles wider than the corner's arc of 10 mm do not make it one that hardly turns."""
    pad = built(PAD.format(**LYING, more="corner_radius = 10\n", folds='all = "sewn"'), edge_mm=edge_mm)
    assert pad.panels


def test_a_seam_through_a_corner_leaves_nothing_to_fold():
    inset = "[pad.inset]\nmargin = 80\n"
    with pytest.raises(ProblemError) as refused:
        built(PAD.format(**LYING, more=f"corner_radius = 30\n{inset}", folds='all = "single"'), edge_mm=20.0)
    assert refused.value.problems[0].code == "G119"


def test_a_table_that_names_no_finish_draws_thin_pads_and_folds_thick_ones():
    layer = '[[pad.layer]]\nmaterial = "foam_firm"\nthickness = {}'
    for thick, finish in ((50, CornerFinish.DRAWN), (51, CornerFinish.SINGLE)):
        pad = sheet_of(PAD.format(**LYING, more=layer.format(thick), folds="rail = true")).pads[0]
        assert dict(pad.folds.finishes) == dict.fromkeys(CORNERS_AFTER, finish)
        assert pad.folds.rail


def test_what_is_usual_leaves_out_corners_beside_a_band_and_round_ones():
    pad = sheet_of(PAD.format(**LYING, more="[pad.sides.front]\nband = true", folds="")).pads[0]
    assert [corner for corner, _ in pad.folds.finishes] == ["rear_right", "rear_left"]
    outline = "front_width = 400\nrear_width = 400\ndepth = 300"
    text = PAD.format(**LYING, more="", folds="").replace(outline, 'shape = "round"\nwidth = 400')
    assert sheet_of(text).pads[0].folds.finishes == ()


def test_a_sheet_without_the_table_keeps_its_corners():
    text = PAD.format(**LYING, more="", folds="").replace("[pad.folds]\n", "")
    assert sheet_of(text).pads[0].folds.finishes == ()
