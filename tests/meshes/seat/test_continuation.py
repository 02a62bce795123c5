"""Pads that go on where their neighbours end: against sections known in closed form, and with every fault told."""

from dataclasses import dataclass, replace
from types import SimpleNamespace

import numpy as np
import pytest

from flatten.job.continuing import continued
from meshes.base.problems import Problem, ProblemError
from meshes.numerics.sizes import Sizes
from meshes.records.alignment import UNALIGNED
from meshes.records.built_up import BuiltUp, Continued, Continues, Meeting
from meshes.records.pad import Layer, Outline, Pad, Profile, SeatPose, Side, Wanted
from meshes.seat.build import build
from meshes.seat.continuation import MOST_BUILT_UP_MM, TOLD_MM, corrected, first, left_notes, meeting
from meshes.sheet.read import read_sheet

FLAT = Side(drop=12.0, edge_radius=4.0, turn_deg=25.0)
ROLLED = Side(drop=40.0, edge_radius=15.0)
FOAM = Layer("foam_firm", 20.0, "all", None, 0.0)


def make_problem(code, keys, text):
    return Problem(code, "pad", text)


def pad(name, *, width=240.0, x=0.0, y=0.0, facing=0.0, profiles=(), continues=None, layers=(FOAM,)):
    """An upright pad of 300 mm height, its joint sides hardly turned, at x to the right and y to the rear."""
    half = width / 2
    corners = ((-half, 0.0), (half, 0.0), (half, 300.0), (-half, 300.0))
    outline = Outline(corners, (10.0,) * 4, ("front", "right", "rear", "left"), True)
    sides = {"left": FLAT, "right": FLAT, "front": ROLLED, "rear": ROLLED}
    symmetric = continues is None
    return Pad(
        name, "side", SeatPose((x, y, 0.0), 0.0, facing), outline, profiles, sides, layers, None, (),
        symmetric=symmetric, wanted=Wanted(continues=continues),
    )  # fmt: skip


@dataclass(frozen=True)
class Two:
    """As much of a sheet as is asked."""

    pads: tuple[Pad, ...]

    def problem(self, code, keys, text):
        return make_problem(code, keys, text)


def go_on(first, second, *, tension=None):
    """Both pads built, the second gone on from the first."""

    def made(k, alignment=UNALIGNED):
        return build((first, second)[k], edge_mm=Sizes(8.0), tension_n_per_mm=tension, alignment=alignment)

    return continued(Two((first, second)), (made(0), made(1)), made, lambda *_: None)


def beside(**more):
    """A pad right of another, 2 mm away, that goes on from it."""
    return pad("wing", x=242.0, continues=Continues("back", "left", 150.0), **more)


def test_a_pad_set_back_is_built_up_by_as_much():
    # Plane and plane: what is missing is what the frame is set back.
    _, wing = go_on(pad("back"), beside(y=10.0))
    done = wing.continued
    assert done.before.step_mm == pytest.approx(10.0, abs=0.02)
    assert np.abs(done.after.step_mm).max() < 0.2
    assert done.built_up.range_mm() == pytest.approx((10.0, 10.0), abs=0.3)
    assert np.abs(done.after.kink_deg).max() < 0.5
    # Its own profile is met again beyond the width asked for.
    far = np.array([[60.0, 150.0]])
    assert done.built_up.height(far) == pytest.approx(0.0, abs=1e-9)


def test_a_taut_cover_is_built_up_until_it_meets():
    _, wing = go_on(pad("back"), beside(y=8.0), tension=0.06)
    done = wing.continued
    assert done.before.most_step_mm == pytest.approx(8.0, abs=0.5)
    assert abs(done.after.most_step_mm) < 0.5
    assert wing.settled is not None


def test_the_kink_is_the_angle_between_both_faces():
    turn = 9.0
    t = np.deg2rad(turn)
    # Turned about the joint, towards the sitter: a hollow of as many degrees.
    x, y = 121.0 + 121.0 * np.cos(t), -121.0 * np.sin(t)
    wing = pad("wing", x=x, y=y, facing=-turn, continues=Continues("back", "left", 150.0))
    found = meeting(build(wing, edge_mm=Sizes(8.0)), build(pad("back"), edge_mm=Sizes(8.0)), make_problem)
    assert found.kink_deg == pytest.approx(turn, abs=0.3)


def test_a_round_back_is_followed_by_its_tangent():
    # A circle of 400 mm across the back: at its edge, 120 mm out, it slopes by tan(asin(120 / 400)); the padding
    # lies on it along its normals, so that the surface is a circle of 420 mm about the same middle.
    r = 400.0
    places = np.linspace(-120.0, 120.0, 13)
    profile = Profile("across", 150.0, tuple((float(p), float(np.sqrt(r * r - p * p) - r)) for p in places))
    back = build(pad("back", profiles=(profile,)), edge_mm=Sizes(6.0))
    wing = build(beside(), edge_mm=Sizes(6.0))
    found = meeting(wing, back, make_problem)
    outer = r + 20.0
    # At the joint, 1 mm beyond the edge.
    height, slope = np.sqrt(outer**2 - 121.0**2) - r, -121.0 / np.sqrt(outer**2 - 121.0**2)
    assert found.step_mm == pytest.approx(height - 20.0, abs=0.05)
    assert found.kink_deg == pytest.approx(np.rad2deg(-np.arctan(slope)), abs=0.5)


def test_left_and_right_are_the_same():
    _, right = go_on(pad("back"), beside(y=6.0))
    _, left = go_on(pad("back"), pad("wing", x=-242.0, y=6.0, continues=Continues("back", "right", 150.0)))
    assert right.continued.before.most_step_mm == pytest.approx(left.continued.before.most_step_mm, abs=0.02)
    assert right.continued.built_up.range_mm() == pytest.approx(left.continued.built_up.range_mm(), abs=0.1)
    # The edges stand 2 mm apart, on whichever side.
    assert right.continued.before.gap_mm == pytest.approx(2.0, abs=1e-6)
    assert left.continued.before.gap_mm == pytest.approx(2.0, abs=1e-6)
    plan = np.array([[-100.0, 150.0], [-40.0, 80.0]])
    one = BuiltUp(
        "left", ((-120.0, 0.0), (-120.0, 300.0)), (20.0, 150.0, 280.0), (4.0, 6.0, 4.0), (0.1, 0.0, 0.1), 90.0
    )
    other = replace(one, side="right", edge=((120.0, 0.0), (120.0, 300.0)))
    assert one.height(plan) == pytest.approx(other.height(plan * [-1.0, 1.0]), abs=1e-12)


def test_a_frame_that_stands_too_far_out_is_never_cut_down():
    _, wing = go_on(pad("back"), beside(y=-6.0))
    done = wing.continued
    assert done.built_up is None
    assert done.after.most_step_mm == pytest.approx(-6.0, abs=0.05)
    (note,) = left_notes(wing, make_problem)
    assert (note.code, note.warning) == ("G162", True)
    assert abs(done.after.most_step_mm) > TOLD_MM
    assert "this pad stands higher" in note.text


def test_what_is_built_up_is_never_negative():
    up = corrected(
        BuiltUp("left", ((-120.0, 0.0), (-120.0, 300.0)), (), (), (), 150.0),
        meeting(build(beside(y=-3.0), edge_mm=Sizes(10.0)), build(pad("back"), edge_mm=Sizes(10.0)), make_problem),
    )
    assert max(up.rise) == 0.0
    steep = replace(up, rise=(5.0,) * len(up.places), slope=(-0.5,) * len(up.places))
    plan = np.column_stack([np.linspace(-120.0, 60.0, 181), np.full(181, 150.0)])
    height = steep.height(plan)
    assert height[0] == pytest.approx(5.0)
    assert height.min() >= 0.0


def test_pads_that_do_not_meet_are_told():
    far = pad("wing", x=400.0, continues=Continues("back", "left"))
    with pytest.raises(ProblemError, match="160 mm apart") as told:
        meeting(build(far, edge_mm=Sizes(10.0)), build(pad("back"), edge_mm=Sizes(10.0)), make_problem)
    assert told.value.problems[0].code == "G161"


def test_pads_in_a_corner_and_too_wide_a_run_out_are_told():
    back = build(pad("back"), edge_mm=Sizes(10.0))
    t = np.deg2rad(80.0)
    corner = pad(
        "wing", x=121.0 + 121.0 * np.cos(t), y=-121.0 * np.sin(t), facing=-80.0, continues=Continues("back", "left")
    )  # fmt: skip
    with pytest.raises(ProblemError, match="turned to each other by 80 degrees"):
        meeting(build(corner, edge_mm=Sizes(10.0)), back, make_problem)
    wide = build(pad("wing", x=242.0, continues=Continues("back", "left", 500.0)), edge_mm=Sizes(10.0))
    with pytest.raises(ProblemError, match="240 mm wide"):
        first(wide, make_problem)


def test_no_more_is_built_up_than_padding_can_be():
    wing = build(beside(y=90.0), edge_mm=Sizes(10.0))
    up = corrected(first(wing, make_problem), meeting(wing, build(pad("back"), edge_mm=Sizes(10.0)), make_problem))
    assert up.range_mm() == (MOST_BUILT_UP_MM, MOST_BUILT_UP_MM)


SHEET = """
name = "two"
[cover]
tension = 0
[[pad]]
name = "back"
kind = "backrest"
[pad.outline]
bottom_width = 240
top_width = 240
depth = 300
{back}
[[pad]]
name = "wing"
kind = "side"
origin = [242, 0, 0]
[pad.outline]
bottom_width = 240
top_width = 240
depth = 300
[pad.continues]
{wing}
"""


@pytest.mark.parametrize(
    ("wing", "back", "code", "line", "words"),
    [
        ('pad = "wing"\nside = "left"', "", "G160", 22, "itself"),
        ('pad = "bcak"\nside = "left"', "", "G160", 22, 'did you mean "back"'),
        ('pad = "back"\nside = "top"', "", "S013", 23, "left"),
        ('pad = "back"\nside = "left"\nover = 5', "", "S017", 24, "found 5"),
        ('pad = "back"\nside = "left"', '[pad.continues]\npad = "wing"\nside = "right"', "G160", 13, "comes back"),
    ],
)
def test_faults_of_the_sheet_are_told_with_their_line(tmp_path, wing, back, code, line, words):
    file = tmp_path / "two.toml"
    file.write_text(SHEET.format(wing=wing, back=back))
    with pytest.raises(ProblemError) as told:
        read_sheet(file)
    found = told.value.problems[0]
    assert (found.code, found.line) == (code, line)
    assert words in str(found)


def met_at(places, step, kink=(0.0, 0.0, 0.0), slope=(0.0, 0.0, 0.0)):
    return Meeting(*(np.array(row, dtype=float) for row in (places, step, kink, slope)), 0.5)


EMPTY = BuiltUp("left", ((0.0, 0.0), (0.0, 300.0)), (), (), (), 150.0)


def test_what_is_missing_is_added_to_what_is_there_place_by_place():
    """Places of the second round lie elsewhere than those of the first, on which rise and slope are straight lines."""
    once = corrected(EMPTY, met_at((0.0, 100.0, 200.0), (4.0, 6.0, 8.0), slope=(0.0, 0.1, 0.2)))
    assert (once.places, once.rise) == ((0.0, 100.0, 200.0), (4.0, 6.0, 8.0))
    assert once.slope == pytest.approx((0.0, 0.1, 0.2))
    twice = corrected(once, met_at((50.0, 150.0, 190.0), (1.0, -2.0, 0.0), slope=(0.1, 0.1, -0.1)))
    assert twice.rise == pytest.approx((6.0, 5.0, 7.8))
    assert twice.slope == pytest.approx((0.15, 0.25, 0.09))
    half = corrected(once, met_at((50.0, 150.0, 190.0), (1.0, -2.0, 0.0), slope=(0.1, 0.1, -0.1)), 0.5)
    assert half.rise == pytest.approx((5.5, 6.0, 7.8))
    assert half.slope == pytest.approx((0.1, 0.2, 0.14))


def test_nothing_is_cut_down_piled_up_or_steeper_than_can_be():
    far = met_at((0.0, 100.0, 200.0), (-5.0, 5.0, 500.0), slope=(0.1, 0.9, -0.9))
    found = corrected(EMPTY, far)
    assert found.rise == (0.0, 5.0, MOST_BUILT_UP_MM)
    # Where nothing is built up nothing slopes; elsewhere by half at most, 27 degrees.
    assert found.slope == (0.0, 0.5, -0.5)


@pytest.mark.parametrize(
    ("step", "kink", "codes", "words"),
    [
        ((0.2, -0.9, 0.5), (1.0, -2.9, 0.0), [], ()),
        ((0.2, -1.1, 0.5), (0.0, 0.0, 0.0), ["G162"], ("this pad stands higher", "1.1 mm", "y = 100")),
        ((2.5, -1.1, 0.5), (0.0, 0.0, 0.0), ["G162"], ('"back" stands higher', "2.5 mm", "y = 0;")),
        ((0.0, 0.0, 0.0), (1.0, 2.0, 3.1), ["G163"], ("a hollow", "3 degrees", "y = 200")),
        ((0.0, 0.0, 0.0), (-7.0, 2.0, 3.1), ["G163"], ("a ridge", "7 degrees", "y = 0;")),
    ],
)
def test_a_step_from_a_millimetre_and_a_kink_from_three_degrees_are_told(step, kink, codes, words):
    after = met_at((0.0, 100.0, 200.0), step, kink)
    own = SimpleNamespace(continued=Continued(Continues("back", "left"), after, after, None, 1))
    notes = left_notes(own, make_problem)
    assert [note.code for note in notes] == codes
    assert all(note.warning for note in notes)
    text = " ".join(note.text for note in notes)
    assert all(word in text for word in words)
    assert left_notes(SimpleNamespace(continued=None), make_problem) == ()


@pytest.mark.parametrize("over", [None, 60.0])
def test_what_is_built_up_runs_out_over_three_quarters_of_the_pad_or_as_asked(over):
    own = SimpleNamespace(pad=pad("wing", width=200.0, continues=Continues("back", "left", over)))
    found = first(own, make_problem)
    assert found.over == (150.0 if over is None else 60.0)
    assert (found.side, found.rise) == ("left", ())
    assert {x for x, _ in found.edge} == {-100.0}
