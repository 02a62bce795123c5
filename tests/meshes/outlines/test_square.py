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


@pytest.mark.parametrize("off", [-1.2, 0.0, 1.5])
@pytest.mark.parametrize("skew", [9.0, -6.0])
def test_a_tape_that_reads_a_little_off_does_not_twist_the_frame(skew, off):
    """A frame shifted sideways at its rear, both diagonals read `off` mm too long: at 372 mm behind 470 a millimetre
    on both would move a corner by tens."""
    at = ((-235.0, 0.0), (235.0, 0.0), (186.0 + skew, 405.0), (-186.0 + skew, 405.0))
    left, right = math.dist(at[0], at[2]) + off, math.dist(at[1], at[3]) + off
    sheet = sheet_of(readings(at, diagonal_left=left, diagonal_right=right))
    found = np.array(sheet.pads[0].outline.corners)
    assert np.linalg.norm(found - np.array(at), axis=1).max() < 8.0
    if off:
        assert "a tape does not read so well" in warnings_of(sheet)["G057"]


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


@pytest.mark.parametrize("given", ["both", "halves", "mixed"])
def test_an_uneven_frame_comes_back_whichever_way_it_was_measured(given):
    """Front ends 260 and 230 from the centre line: the front edge keeps its parts, the rest follows the diagonals."""
    fl, fr, rr, rl = (-260.0, 0.0), (230.0, 0.0), (245.0, 431.0), (-213.0, 419.0)
    said = {"front_width": None, "front_left": 260.0, "front_right": 230.0}
    if given != "both":
        said |= {"rear_width": None, "rear_left": 213.0, "rear_right": 245.0}
    if given == "halves":
        said |= {"depth": None, "depth_left": 419.0, "depth_right": 431.0}
    found = np.array(sheet_of(readings((fl, fr, rr, rl), **said)).pads[0].outline.corners)
    assert found == pytest.approx(np.array([fl, fr, rr, rl]), abs=1e-4)


def test_diagonals_of_an_uneven_frame_are_held_against_its_own():
    """Halves that differ make unlike diagonals by themselves: read just so they change nothing and tell nothing."""
    crooked = ((-280.0, 0.0), (220.0, 0.0), (230.0, 420.0), (-250.0, 420.0))
    said = {"front_width": None, "front_left": 280.0, "front_right": 220.0}
    said |= {"rear_width": None, "rear_left": 250.0, "rear_right": 230.0}
    sheet = sheet_of(readings(crooked, **said))
    assert abs(math.dist(crooked[0], crooked[2]) - math.dist(crooked[1], crooked[3])) > 5.0
    assert sheet.pads[0].outline.corners == crooked
    assert warnings_of(sheet) == {}


@pytest.mark.parametrize(
    ("left", "right", "told"),
    [(9.0, 7.0, 9.0), (7.0, 9.0, 9.0), (-9.0, -7.0, 9.0), (-7.0, -9.0, 9.0), (4.9, 4.9, None)],
)
def test_the_worse_of_two_diagonals_is_told(left, right, told):
    square = ((-250.0, 0.0), (250.0, 0.0), (250.0, 420.0), (-250.0, 420.0))
    own = math.dist((-250, 0), (250, 420))
    found = warnings_of(sheet_of(readings(square, diagonal_left=own + left, diagonal_right=own + right)))
    assert set(found) == (set() if told is None else {"G058"})
    assert told is None or f"by {told:.1f} mm" in found["G058"]


def test_the_angle_out_of_square_is_that_of_the_frame_s_lean():
    """A rhomboid that leans by 4 degrees either way, on a backrest in its own words."""
    for lean in (4.0, -4.0):
        shift = 420.0 * math.tan(math.radians(lean))
        leaning = ((-250.0, 0.0), (250.0, 0.0), (250.0 + shift, 420.0), (-250.0 + shift, 420.0))
        text = (
            readings(leaning).replace('"cushion"', '"backrest"').replace("front_", "bottom_").replace("rear_", "top_")
        )
        told = warnings_of(sheet_of(text))["G057"]
        assert "by 4.0 degrees" in told
        assert f"top left at [{-250.0 + shift:.1f}, 420.0], top right at [{250.0 + shift:.1f}, 420.0]" in told
        assert "by 0.0 mm at most" in told


@pytest.mark.parametrize(
    ("middle", "corners"), [(470.0 + 1.9, 4), (470.0 - 1.9, 4), (470.0 + 2.1, 6), (470.0 - 2.1, 6)]
)
def test_a_middle_width_within_the_reading_of_a_tape_is_straight(middle, corners):
    text = HEAD + f"front_width = 500\nrear_width = 440\ndepth = 420\nmiddle_width = {middle}\n"
    outline = sheet_of(text).pads[0].outline
    if corners == 4:
        assert len(outline.corners) == 4
        return
    curve = rounded_outline(outline.corners, outline.radii, outline.side_of_edge)
    path = curve.point(curve.samples(0.2))
    half = path[np.abs(path[:, 1] - 210.0) < 0.3]
    assert np.abs(half[:, 0]) == pytest.approx(0.5 * middle, abs=0.1)


def test_a_bowed_side_is_fair_in_its_middle():
    """The measured width is a point of the bow, no corner: it turns there by no more than beside it."""
    text = HEAD + "front_width = 500\nrear_width = 440\ndepth = 420\nmiddle_width = 492\ncorner_radius = 50\n"
    outline = sheet_of(text).pads[0].outline
    assert min(radius for radius in outline.radii) > 20.0


@pytest.mark.parametrize("off", [8.0, -8.0])
def test_readings_that_all_miss_one_way_are_told_by_their_amount(off):
    """Both depths and both diagonals of a skew frame, these too long or too short: nothing meets them all, and that is
    told as far off either way."""
    fl, fr, rr, rl = PLANTED
    diagonals = {"diagonal_left": math.dist(fl, rr) + off, "diagonal_right": math.dist(fr, rl) + off}
    text = readings(PLANTED, depth=None, depth_left=rl[1], depth_right=rr[1], **diagonals)
    told = warnings_of(sheet_of(text))["G057"]
    missed = float(told.partition("misses the readings by ")[2].partition(" mm")[0])
    assert 1.0 < missed < 8.0


def test_an_uneven_frame_bows_alike_on_both_sides():
    sides = (
        "front_left = 260\nfront_right = 240\nrear_left = 230\nrear_right = 210\ndepth_left = 400\ndepth_right = 440\n"
    )
    outline = sheet_of(HEAD + sides + "middle_width = 500\n").pads[0].outline
    curve = rounded_outline(outline.corners, outline.radii, outline.side_of_edge)
    path = curve.point(curve.samples(0.2))
    # Half-way along each side: 225 and -245 when straight, 15 further out on either side.
    for at in ((240.0, 220.0), (-260.0, 200.0)):
        assert np.linalg.norm(path - at, axis=1).min() < 0.3
