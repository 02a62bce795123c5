"""A frame measured across its diagonals: what is planted comes back, what contradicts itself is told."""

import math

import numpy as np
import pytest

from meshes.base.problems import ProblemError
from meshes.outlines.rounded import rounded_outline
from tests.pads import sheet_of

HEAD = 'name = "frame"\n[[pad]]\nname = "seat"\nkind = "cushion"\n[pad.outline]\n'
# Out of square: the rear stands to the right, its left end lower. Front left first.
PLANTED = ((-250.0, 0.0), (250.0, 0.0), (242.0, 431.0), (-226.0, 419.0))


def readings(corners, **more):
    """A sheet with what a tape reads of a frame."""
    fl, fr, rr, rl = corners
    said = {
        "front_width": math.dist(fl, fr),
        "rear_width": math.dist(rl, rr),
        "depth": 0.5 * (rr[1] + rl[1]),
        "diagonal_left": math.dist(fl, rr),
        "diagonal_right": math.dist(fr, rl),
        **more,
    }
    return HEAD + "".join(f"{key} = {value}\n" for key, value in said.items() if value is not None)


def warnings_of(sheet):
    return {p.code: p.text for p in sheet.warnings}


def test_a_planted_skew_comes_back_exactly_and_is_told():
    sheet = sheet_of(readings(PLANTED))
    assert np.array(sheet.pads[0].outline.corners) == pytest.approx(np.array(PLANTED), abs=1e-5)
    assert not sheet.pads[0].outline.symmetric
    told = warnings_of(sheet)["G057"]
    assert "differ by 19.9 mm" in told
    assert "left at [-226.0, 419.0]" in told
    assert "G058" not in warnings_of(sheet)


def test_the_mirrored_frame_gives_the_mirrored_outline():
    fl, fr, rr, rl = [(-x, y) for x, y in PLANTED]
    own = sheet_of(readings(PLANTED)).pads[0].outline.corners
    other = sheet_of(readings((fr, fl, rl, rr))).pads[0].outline.corners
    assert {(round(-x, 5), round(y, 5)) for x, y in own} == {(round(x, 5), round(y, 5)) for x, y in other}


def test_readings_that_go_together_in_a_square_frame_change_nothing():
    square = ((-250.0, 0.0), (250.0, 0.0), (230.0, 420.0), (-230.0, 420.0))
    sheet = sheet_of(readings(square))
    assert sheet.pads[0].outline.corners == square
    assert sheet.pads[0].outline.symmetric
    assert warnings_of(sheet) == {}


def test_diagonals_within_five_millimetres_are_square():
    own = math.dist((-250, 0), (230, 420))
    square = ((-250.0, 0.0), (250.0, 0.0), (230.0, 420.0), (-230.0, 420.0))
    near = sheet_of(readings(square, diagonal_left=own + 2.4, diagonal_right=own - 2.4))
    assert near.pads[0].outline.symmetric
    assert warnings_of(near) == {}
    far = sheet_of(readings(square, diagonal_left=own + 2.6, diagonal_right=own - 2.6))
    assert not far.pads[0].outline.symmetric
    assert "G057" in warnings_of(far)


def test_too_many_readings_are_met_in_least_squares():
    """With both depths given beside everything else one reading is left over: no outline near it misses less."""
    fl, fr, rr, rl = PLANTED
    text = readings(PLANTED, depth=None, depth_left=rl[1] + 3.0, depth_right=rr[1] - 1.0)
    found = np.array(sheet_of(text).pads[0].outline.corners)

    def missed(at):
        a, b, c, d = at
        said = [np.linalg.norm(b - a) - 500.0, np.linalg.norm(c - d) - math.dist(rr, rl)]
        said += [np.linalg.norm(c - a) - math.dist(fl, rr), np.linalg.norm(d - b) - math.dist(fr, rl)]
        return np.sum(np.square([*said, d[1] - rl[1] - 3.0, c[1] - rr[1] + 1.0]))

    least = missed(found)
    assert 0.1 < least < 10.0
    for k in range(2, 4):
        for axis in range(2):
            for step in (-0.01, 0.01):
                moved = found.copy()
                moved[k, axis] += step
                assert missed(moved) >= least - 1e-9


def test_diagonals_that_fit_no_frame_of_that_size_are_told_with_their_figure():
    square = ((-250.0, 0.0), (250.0, 0.0), (250.0, 420.0), (-250.0, 420.0))
    own = math.dist((-250, 0), (250, 420))
    sheet = sheet_of(readings(square, diagonal_left=own + 9.0, diagonal_right=own + 9.0))
    assert "by 9.0 mm" in warnings_of(sheet)["G058"]


def test_a_middle_width_bows_both_sides():
    text = HEAD + "front_width = 500\nrear_width = 440\ndepth = 420\nmiddle_width = 492\ncorner_radius = 50\n"
    outline = sheet_of(text).pads[0].outline
    assert outline.symmetric
    curve = rounded_outline(outline.corners, outline.radii, outline.side_of_edge)
    path = curve.point(curve.samples(0.2))
    half = path[np.abs(path[:, 1] - 210.0) < 0.3]
    assert np.abs(half[:, 0]) == pytest.approx(246.0, abs=0.1)
    assert outline.side_of_edge.count("front") == 1
    straight = sheet_of(text.replace("492", "470.5")).pads[0].outline
    assert len(straight.corners) == 4


@pytest.mark.parametrize(
    ("more", "code", "phrase"),
    [
        ({"diagonal_right": None}, "S011", "needs diagonal_right"),
        ({"symmetric": "true"}, "G007", "diagonals differ by 19.9 mm"),
        ({"shape": '"round"', "width": 400}, "S020", "no place beside"),
    ],
)
def test_what_does_not_go_together_is_refused(more, code, phrase):
    with pytest.raises(ProblemError) as refused:
        sheet_of(readings(PLANTED, **more))
    assert any(p.code == code and phrase in p.text for p in refused.value.problems)
