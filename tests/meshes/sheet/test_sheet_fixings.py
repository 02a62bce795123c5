"""What a sheet says of how edges are held: what copies what, and what is wrong with it. Invented data."""

import pytest

from meshes.base.problems import ProblemError
from meshes.records.frame import AS_EVER, FIXED, Fixings, Post
from meshes.records.pad import SIDES
from meshes.seat.build import build
from meshes.seat.panels import PanelRole
from tests.pads import FLAT, built, sheet_of


def fixings(*lines, text=FLAT):
    return sheet_of(text + "\n".join(lines) + "\n").pads[0].fixings


def test_a_sheet_that_says_nothing_holds_every_edge_as_ever():
    assert fixings() == AS_EVER
    assert all(AS_EVER.of(side) is None and AS_EVER.fly_below(side) is None for side in SIDES)


def test_left_copies_right_and_right_left():
    for side in ("left", "right"):
        assert dict(fixings("[pad.fixing]", f'{side} = "glued"').sides) == {"left": "glued", "right": "glued"}
    both = dict(fixings("[pad.fixing]", 'left = "glued"', 'right = "fly"').sides)
    assert both == {"left": "glued", "right": "fly"}


def test_pads_held_otherwise_left_and_right_are_not_the_same_on_both():
    one = sheet_of(FLAT + '[pad.fixing]\nleft = "glued"\nright = "edge clip"\n').pads[0]
    assert not one.symmetric
    assert sheet_of(FLAT + '[pad.fixing]\nleft = "glued"\n').pads[0].symmetric


def test_the_seam_of_a_fly_lies_past_the_crease():
    text = FLAT.replace("[pad.sides.rear]\n", "[pad.sides.rear]\ncrease = 15\n")
    found = fixings("[pad.fixing]", 'rear = "fly"', "past = 30", text=text)
    assert found.fly_below("rear") == 45.0
    assert found.fly_below("front") is None
    assert found.post_down(Post("rear", 0.0, 20.0)) == 15.0
    assert found.post_down(Post("rear", 0.0, 20.0, 33.0)) == 33.0


def test_posts_on_one_half_stand_on_both():
    post = '[[pad.post]]\nside = "rear"\nat = {}\nwidth = 30\n'
    assert sorted(p.at for p in fixings(post.format(80)).posts) == [-80.0, 80.0]
    assert [p.at for p in fixings(post.format(0)).posts] == [0.0]
    assert sorted(p.at for p in fixings(post.format(80) + post.format(-60)).posts) == [-60.0, 80.0]
    sides = [p.side for p in fixings('[[pad.post]]\nside = "left"\nat = 100\nwidth = 30\n').posts]
    assert sorted(sides) == ["left", "right"]


def test_mirrored_twice_it_is_itself():
    one = Fixings((("left", "fly"), ("front", "glued")), (("left", 12.0),), posts=(Post("left", 90.0, 20.0),))
    turned = one.mirrored()
    assert turned.of("right") == "fly"
    assert turned.crease("right") == 12.0
    assert turned.posts == (Post("right", 90.0, 20.0),)
    assert turned.mirrored() == one.ordered


def test_every_fixing_has_a_kind_of_edge_of_its_own():
    assert len(set(FIXED.values())) == len(FIXED)


@pytest.mark.parametrize(
    ("old", "new", "more", "code"),
    [
        ("[pad.sides.rear]\n", "[pad.sides.rear]\nclosed_by_hand = true\n", '[pad.fixing]\nrear = "glued"\n', "S020"),
        ("[pad.sides.rear]\n", "[pad.sides.rear]\n", '[pad.fixing]\nrear = "gleud"\n', "S013"),
        ("[pad.sides.rear]\n", "[pad.sides.rear]\n", "[pad.fixing]\nstrip = 3\n", "S017"),
        ("[pad.sides.rear]\n", "[pad.sides.rear]\n", '[[pad.post]]\nside = "rear"\nat = 3\n', "S011"),
    ],
)
def test_what_cannot_be_is_refused(old, new, more, code):
    with pytest.raises(ProblemError) as caught:
        sheet_of(FLAT.replace(old, new) + more)
    assert {problem.code for problem in caught.value.problems} == {code}


def test_no_corner_is_folded_beside_a_fly():
    text = FLAT.replace("band = true\n", "").replace("seam_below = 5\n", "")
    with pytest.raises(ProblemError) as caught:
        sheet_of(text + '[pad.folds]\nall = "single"\n[pad.fixing]\nrear = "fly"\n')
    assert {problem.code for problem in caught.value.problems} == {"G118"}
    sheet_of(text + '[pad.folds]\nfront_left = "single"\nfront_right = "single"\n[pad.fixing]\nrear = "fly"\n')


def test_a_crease_that_serves_nothing_is_told():
    text = FLAT.replace("[pad.sides.rear]\n", "[pad.sides.rear]\ncrease = 15\n")
    assert [warning.code for warning in sheet_of(text).warnings] == ["G194"]
    assert sheet_of(text + '[pad.fixing]\nrear = "fly"\n').warnings == ()
    assert sheet_of(text + '[[pad.post]]\nside = "rear"\nat = 0\nwidth = 30\n').warnings == ()


@pytest.mark.parametrize("past", [1, 75, 200])
def test_a_fly_needs_room_between_the_seam_above_it_and_the_tack_line(past):
    text = FLAT + f'[pad.fixing]\nfront = "fly"\npast = {past}\n'
    with pytest.raises(ProblemError) as caught:
        build(sheet_of(text).pads[0], edge_mm=20.0)
    (problem,) = caught.value.problems
    assert problem.code == "G190"
    # What it advises works.
    low, high = (float(word) for word in problem.text.split("needs ")[1].split(" mm")[0].split(" to "))
    for below in (low + 1.0, high - 1.0):
        pad = build(sheet_of(text.replace(f"past = {past}", f"past = {below}")).pads[0], edge_mm=20.0)
        assert any(panel.role is PanelRole.FLY for panel in pad.panels)


@pytest.mark.parametrize("edge_mm", [9.0, 24.0])
def test_a_pad_with_a_fly_covers_what_it_covers_without(edge_mm):
    plain = built(FLAT, edge_mm=edge_mm)
    flown = built(FLAT + '[pad.fixing]\nrear = "fly"\nright = "fly"\nfront = "fly"\n', edge_mm=edge_mm)
    assert flown.facts.area_mm2 == pytest.approx(plain.facts.area_mm2, rel=2e-3)
    parts = {panel.part for panel in flown.panels} - {panel.part for panel in plain.panels}
    assert parts == {"front fly", "rear fly", "left fly", "right fly"}
    assert flown.surface.triangles.max() == len(flown.surface.vertices) - 1


def test_no_fly_where_the_face_runs_on_over_a_side():
    text = FLAT.replace("seam_below = 5\n", "").replace("corner_radius = 40", "corner_radius = 20")
    with pytest.raises(ProblemError) as caught:
        sheet_of(text + '[pad.bands]\nover = ["front"]\n[pad.fixing]\nrear = "fly"\n')
    assert "G195" in {problem.code for problem in caught.value.problems}
