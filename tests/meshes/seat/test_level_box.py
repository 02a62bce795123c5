"""Rims and tack lines as measured: level where they are level, tilted with the plane they stand in, told where not."""

import numpy as np
import pytest

from meshes.base.problems import ProblemError
from meshes.padding.layers import edge_thickness
from meshes.support.chart import make_problem_for, pad_chart
from meshes.support.rim import face_of
from tests.pads import built, sheet_of

ALONG = """[[pad.profile]]
direction = "along"
at = 0
points = [[0, 0], [60, 5.2], [125, 9], [250, 12], [375, 9], [440, 5.2], [500, 0]]
"""
ACROSS = """[[pad.profile]]
direction = "across"
at = 250
points = [[0, 12], [125, 9], [190, 5.2], [250, 0]]
"""
SIDES = """[pad.sides.front]
drop = 80
band = true
[pad.sides.right]
drop = 80
band = true
[pad.sides.rear]
drop = 80
band = true
"""
SQUARE = "front_width = 500\nrear_width = 500\ndepth = 500\ncorner_radius = %g\n"
ROUND = 'shape = "round"\nwidth = 500\n'


def sheet(outline=SQUARE % 60, profiles=ALONG + ACROSS, sides=SIDES, more=""):
    head = 'name = "box"\n[[pad]]\nname = "box"\nkind = "cushion"\n[pad.outline]\n'
    return head + outline + profiles + sides + more


def rim_heights(pad):
    chart = pad_chart(pad, edge_thickness(pad), make_problem_for(pad))
    return face_of(pad).height(chart.outline.point(chart.outline.samples(4.0)))


def tack_points(pad):
    runs = [panel.vertices[edge.vertices] for panel in pad.panels for edge in panel.rim if edge.seam is None]
    return pad.support.vertices[np.unique(np.concatenate(runs))]


@pytest.mark.parametrize("outline", [SQUARE % 0, SQUARE % 60, SQUARE % 250, ROUND], ids=["sharp", "60", "250", "round"])
def test_two_crowns_that_end_level_give_a_level_rim_and_tack_line(outline):
    pad = built(sheet(outline), edge_mm=20.0)
    assert np.abs(rim_heights(pad.pad)).max() < 0.1
    assert tack_points(pad)[:, 2] == pytest.approx(-80.0, abs=0.1)
    # The profiles stay what they were.
    assert max(fact.residual_mm for fact in pad.facts.profiles) < 0.1


def test_the_face_between_two_crowns_stays_below_their_height_and_does_not_ripple():
    """A crown seen along any line parallel to a profile rises once and falls once."""
    pad = sheet_of(sheet()).pads[0]
    face, outline = face_of(pad), pad_chart(pad, edge_thickness(pad), make_problem_for(pad)).outline
    for y in np.linspace(20.0, 480.0, 12):
        x = np.linspace(0.0, 245.0, 120)
        at = np.column_stack([x, np.full(len(x), y)])
        heights = face.height(at[outline.nearest(at)[1] > 0.0])
        assert heights.max() < 12.1
        assert np.diff(heights).max() < 0.02
        assert heights.min() > -0.1


def test_one_crown_on_a_round_plan_gives_a_level_rim():
    pad = built(sheet(ROUND, ALONG), edge_mm=20.0)
    assert not pad.problems
    assert np.abs(rim_heights(pad.pad)).max() < 0.1


def test_a_tilted_rim_is_a_plane():
    """Front at 0, rear at -30, both sides half-way: the rim is the plane through them, also at the corners."""
    along = ALONG.replace("[440, 5.2], [500, 0]", "[440, -16], [500, -30]")
    across = ACROSS.replace("[250, 0]", "[250, -15]").replace("[190, 5.2]", "[190, -1]")
    for outline in (SQUARE % 60, ROUND):
        pad = sheet_of(sheet(outline, along + across)).pads[0]
        chart = pad_chart(pad, edge_thickness(pad), make_problem_for(pad))
        path = chart.outline.point(chart.outline.samples(4.0))
        assert face_of(pad).height(path) == pytest.approx(-30.0 * path[:, 1] / 500.0, abs=0.1)


def test_carried_on_the_corners_sink_by_the_crown():
    pad = built(sheet(more='[pad.frame]\nrim = "carried"\n'), edge_mm=20.0)
    heights = rim_heights(pad.pad)
    # A point of a corner of 60 mm radius lies 17.6 mm inside it: both parabolas have sunk by most of 12 mm.
    assert heights.min() == pytest.approx(-12.0 + 2 * 12.0 * (1 - (232.4 / 250.0) ** 2), abs=0.5)
    assert tack_points(pad)[:, 2] == pytest.approx(-80.0, abs=9.5)
    assert np.ptp(tack_points(pad)[:, 2]) > 8.0


def test_a_change_that_no_key_asks_for_is_told_once_with_its_figure_and_a_way_to_say_it():
    plain = built(sheet(), edge_mm=20.0).problems
    assert [p.code for p in plain] == ["G113"]
    assert "up to 8.6 mm higher" in plain[0].text
    assert plain[0].warning
    for word in ("fair", "carried"):
        assert not built(sheet(more=f'[pad.frame]\nrim = "{word}"\n'), edge_mm=20.0).problems


def test_profiles_one_way_alone_are_carried_on_and_nothing_is_told():
    pad = built(sheet(profiles=ALONG), edge_mm=20.0)
    assert not pad.problems
    assert rim_heights(pad.pad).max() == pytest.approx(12.0, abs=0.1)


BENT = '[[pad.profile]]\ndirection = "across"\nat = 250\npoints = [[0, 12], [125, 14], [190, 17], [250, 20]]\n'


def test_a_drop_is_read_in_the_middle_of_its_side_and_the_tack_line_is_straight():
    """The rim rises to 20 mm half-way down both sides; the frame's bottom does not."""
    pad = built(sheet(profiles=ALONG + BENT, more='[pad.frame]\ntack = "straight"\nrim = "fair"\n'), edge_mm=20.0)
    right = [panel for panel in pad.panels if panel.part == "right band"]
    (edge,) = [edge for panel in right for edge in panel.rim if edge.seam is None]
    points = pad.support.vertices[right[0].vertices[edge.vertices]]
    straight = points[(points[:, 1] > 60.0) & (points[:, 1] < 440.0)]
    assert straight[:, 2] == pytest.approx(20.0 - 80.0, abs=0.2)
    # Front and rear, where the rim is at 0, have theirs 20 mm lower: what contradicts a level bottom is told.
    told = [p.text for p in pad.problems if p.code == "G115"]
    assert len(told) == 4
    follows = built(sheet(profiles=ALONG + BENT, more='[pad.frame]\ntack = "parallel"\nrim = "fair"\n'), edge_mm=20.0)
    assert np.ptp(tack_points(follows)[:, 2]) > 18.0
    assert not follows.problems


def test_a_straight_tack_line_that_no_key_asks_for_is_told_once():
    codes = [p.code for p in built(sheet(profiles=ALONG + BENT), edge_mm=20.0).problems]
    assert codes.count("G114") == 1


NO_DROPS = SIDES.replace("drop = 80\n", "")


@pytest.mark.parametrize("outline", [SQUARE % 60, ROUND], ids=["box", "round"])
@pytest.mark.parametrize(
    ("frame", "height", "along", "across"),
    [
        ("level = 90", -90.0, 0.0, 0.0),
        ("front = 100\nrear = 70", -100.0, 0.06, 0.0),
        ("front = 90\nrear = 90\nleft = 100\nright = 80", -90.0, 0.0, 0.04),
    ],
)
def test_a_cover_goes_down_to_the_plane_its_frame_stands_in(outline, frame, height, along, across):
    pad = built(sheet(outline, sides=NO_DROPS, more=f'[pad.frame]\nrim = "fair"\n{frame}\n'), edge_mm=20.0)
    at = tack_points(pad)
    assert at[:, 2] == pytest.approx(height + along * at[:, 1] + across * at[:, 0], abs=0.02)
    assert pad.pad.symmetric == (across == 0.0)


def test_a_side_that_does_not_go_straight_down_meets_the_plane_too():
    sides = NO_DROPS.replace("band = true\n[pad.sides.right]", "turn = 70\nedge_radius = 30\n[pad.sides.right]")
    pad = built(sheet(sides=sides, more='[pad.frame]\nrim = "fair"\nfront = 100\nrear = 70\n'), edge_mm=20.0)
    at = tack_points(pad)
    front = at[at[:, 1] < -5.0]
    assert len(front) > 5
    # Beyond the rim the face's own slope is carried on; here it falls by 0.09 a mm.
    assert front[:, 2] == pytest.approx(-100.0 + 0.06 * front[:, 1], abs=4.0)


def test_drops_at_three_places_make_the_tack_line():
    drops = "drops = [[-240, 70], [0, 82], [240, 76]]"
    sides = SIDES.replace("[pad.sides.rear]\ndrop = 80", f"[pad.sides.rear]\n{drops}")
    pad = built(sheet(profiles="", sides=sides), edge_mm=10.0)
    at = tack_points(pad)
    rear = at[at[:, 1] > 499.9]
    rear = rear[np.argsort(rear[:, 0])]
    assert np.interp(0.0, rear[:, 0], rear[:, 2]) == pytest.approx(-82.0, abs=0.1)
    assert not pad.pad.symmetric
    straight = built(sheet(profiles="", sides=sides.replace("82", "73")), edge_mm=10.0)
    at = tack_points(straight)
    rear = at[(at[:, 1] > 499.9) & (np.abs(at[:, 0]) < 185.0)]
    # 70 and 76 with 73 half-way are a straight line.
    assert rear[:, 2] == pytest.approx(-73.0 - 3.0 * rear[:, 0] / 240.0, abs=0.05)


def test_drops_on_the_right_half_are_mirrored_on_a_pad_that_is_the_same_left_and_right():
    sides = SIDES.replace("[pad.sides.rear]\ndrop = 80", "[pad.sides.rear]\ndrops = [[0, 82], [200, 76]]")
    pad = built(sheet(profiles="", sides=sides), edge_mm=15.0)
    assert pad.pad.symmetric
    at = tack_points(pad)
    image = at * [-1.0, 1.0, 1.0]
    assert np.linalg.norm(at[:, None] - image[None], axis=2).min(axis=1).max() < 1e-9


def test_drops_that_miss_each_other_at_a_corner_are_told():
    rear = SIDES.replace("[pad.sides.rear]\ndrop = 80", "[pad.sides.rear]\ndrops = [[0, 80], [250, 90]]")
    told = [p for p in built(sheet(profiles="", sides=rear), edge_mm=20.0).problems if p.code == "G115"]
    assert len(told) == 2
    assert "right and the rear side miss each other by" in told[0].text


def test_profiles_that_end_at_one_place_of_the_rim_at_two_heights_are_told():
    other = ACROSS.replace("at = 250", "at = 8").replace(
        "[[0, 12], [125, 9], [190, 5.2], [250, 0]]", "[[0, 1], [250, 9]]"
    )
    edge = '[[pad.profile]]\ndirection = "along"\nat = 245\npoints = [[0, 0], [500, 0]]\n'
    problems = built(sheet(SQUARE % 0, ALONG + other + edge), edge_mm=20.0).problems
    assert any(p.code == "G112" and "apart in height" in p.text for p in problems), [str(p) for p in problems]


@pytest.mark.parametrize(
    ("frame", "code", "phrase"),
    [
        ("front = 90", "S011", "front needs rear"),
        ("level = 90\nfront = 90\nrear = 80", "S020", "keep level"),
        ('rim = "round"', "S013", "fair"),
    ],
)
def test_a_frame_that_cannot_be_used_is_told(frame, code, phrase):
    with pytest.raises(ProblemError) as refused:
        sheet_of(sheet(sides=NO_DROPS, more=f"[pad.frame]\n{frame}\n"))
    assert any(p.code == code and phrase in p.text for p in refused.value.problems)


def test_readings_that_lie_in_no_plane_and_a_base_without_effect_are_told():
    read = sheet_of(sheet(sides=NO_DROPS, more="[pad.frame]\nfront = 90\nrear = 90\nleft = 99\nright = 99\n"))
    assert any(p.code == "G059" and "by 4.5 mm" in p.text for p in read.warnings)
    full = sheet_of(sheet(more="[pad.frame]\nlevel = 90\n"))
    assert any(p.code == "G059" and "no effect" in p.text for p in full.warnings)


@pytest.mark.parametrize(
    ("drops", "phrase"),
    [
        ("[[0, 80], [-100, 80]]", "out of order"),
        ("[[0, 80], [100, -2]]", "more than 0"),
        ("[[0, 80], [400, 80]]", "not on this side"),
    ],
)
def test_drops_that_cannot_be_are_told(drops, phrase):
    with pytest.raises(ProblemError) as refused:
        sheet_of(sheet(sides=SIDES.replace("[pad.sides.rear]\ndrop = 80", f"[pad.sides.rear]\ndrops = {drops}")))
    assert any(p.code == "G025" and phrase in p.text for p in refused.value.problems)


def test_a_drop_beside_drops_is_refused():
    with pytest.raises(ProblemError, match="given together with drop"):
        sheet_of(sheet(sides=SIDES.replace("[pad.sides.rear]", "[pad.sides.rear]\ndrops = [[0, 80], [90, 81]]")))


def test_drops_say_little_of_places_far_beyond_them():
    """Three readings within 100 mm of a front 500 mm wide: the tack line runs on as it came for a quarter of the way
    between the last two, and is level from three quarters on, at most half of that way's change further."""
    sides = SIDES.replace("drop = 80", "drops = [[-50, 90], [0, 90], [50, 80]]", 1)
    pad = built(sheet(SQUARE % 20, "", sides), edge_mm=10.0)
    front = tack_points(pad)
    front = front[front[:, 1] < 0.01]
    near = front[np.abs(front[:, 0] - 50.0) < 5.0]
    assert np.abs(near[:, 2] + 80.0).max() < 2.0
    far = front[(front[:, 0] > 90.0) & (front[:, 0] < 220.0), 2]
    assert len(far) > 8
    assert np.ptp(far) < 1e-6
    # The slope at the last reading is at most twice the mean one: 2 x 10 mm x half the way.
    assert -80.0 < far[0] <= -70.0
    other = front[(front[:, 0] < -90.0) & (front[:, 0] > -220.0), 2]
    assert other == pytest.approx(-90.0, abs=1.0)
