"""Regions, rulers and valleys that follow another pad's, against plane geometry; figures, rises and finer meshes."""

from dataclasses import replace

import numpy as np
import pytest

from meshes.base.problems import Problem, ProblemError
from meshes.numerics.smooth import smooth_step
from meshes.padding.layers import edge_thickness
from meshes.pleats.layout import OUTER_SHARE
from meshes.pleats.region import Ruler, carried_on, laid_on, region_of, ruler
from meshes.pleats.shape import pleat_section
from meshes.pleats.valleys import _parted, meeting_place, meets_behind, pleat_plan
from meshes.records.alignment import UNALIGNED, Alignment
from meshes.records.pad import SeatPose, Wanted
from meshes.records.pleats import Joining, Pleats, Spacing
from meshes.support.chart import pad_chart
from tests.pads import sheet_of
from tests.pleats import SQUARE, bent_across, square


def make_problem(code, keys, text):
    return Problem(code, "", text)


def planned(pad, alignment=UNALIGNED):
    chart = pad_chart(pad, edge_thickness(pad), make_problem)
    return pleat_plan(pad, chart, make_problem, alignment=alignment)


def pad_of(pleats, *, rear=400, profiles="", extra=""):
    text = SQUARE.format(pleats=pleats, profiles=profiles).replace("rear_width = 400", f"rear_width = {rear}")
    return sheet_of(text + extra).pads[0]


def region(pad):
    chart = pad_chart(pad, edge_thickness(pad), make_problem)
    return region_of(pad, pad.pleats, chart, make_problem), laid_on(pad, chart)


def test_a_trapezium_has_its_own_edges_and_ends():
    """From 400 wide in front to 300 in the rear, 300 deep."""
    found, _ = region(pad_of("count = 4", rear=300))
    assert found.span == pytest.approx((0.0, 300.0))
    for y, half in ((30.0, 195.0), (150.0, 175.0), (270.0, 155.0)):
        assert found.across(y) == pytest.approx((-half, half), abs=1e-6)
    edges = found.between_edges(np.array([-60.0, 0.0, 150.0, 300.0, 360.0]))
    assert edges[:, 1] == pytest.approx([210.0, 200.0, 175.0, 150.0, 140.0], abs=1e-5)
    assert edges[:, 0] == pytest.approx(-edges[:, 1])
    assert found.along(0.0) == pytest.approx((0.0, 300.0))
    assert found.along(180.0) == pytest.approx((0.0, 120.0), abs=1e-5)
    assert found.sewn == (True, True)


def test_across_is_along_with_the_axes_exchanged():
    found, _ = region(pad_of('count = 4\ndirection = "across"', rear=300))
    assert found.turned
    assert found.span == pytest.approx((-200.0, 200.0))
    assert found.across(180.0) == pytest.approx((0.0, 120.0), abs=1e-5)
    assert found.along(150.0) == pytest.approx((-175.0, 175.0), abs=1e-6)
    at = np.array([[3.0, 5.0]])
    assert found.place(at) == pytest.approx(np.array([[5.0, 3.0]]))
    assert np.array_equal(found.place(found.place(at)), at)


@pytest.mark.parametrize("even", [True, False])
def test_lengths_over_a_cylinder_are_its_arcs(even):
    radius = 400.0
    found, laid = region(pad_of("count = 4", profiles=bent_across(radius)))
    over = ruler(found, laid, 150.0, even=even)
    x = np.array([-150.0, -30.0, 0.0, 80.0, 190.0])
    arcs = radius * np.arcsin(x / radius)
    assert over.length_at(x) == pytest.approx(arcs, abs=0.02)
    assert over.across_at(arcs) == pytest.approx(x, abs=0.02)
    assert over.high == pytest.approx(radius * np.arcsin(0.5), abs=0.02)
    assert over.low == pytest.approx(-over.high, abs=1e-9 if even else 0.02)


def test_what_is_carried_on_runs_straight_at_both_ends():
    stations, place = np.array([0.0, 10.0, 30.0]), np.array([5.0, 7.0, 1.0])
    at = np.array([-10.0, 0.0, 5.0, 20.0, 30.0, 40.0])
    assert carried_on(place, stations, at) == pytest.approx([3.0, 5.0, 6.0, 4.0, 1.0, -2.0])
    flat = Ruler(np.array([-50.0, 50.0]), np.array([-60.0, 60.0]))
    assert flat.length_at(np.array([-100.0, 100.0])) == pytest.approx((-120.0, 120.0))


LEADER = "count = 8"


def follower(*, fan=1.0, **changes):
    """A backrest of the same outline whose pleats follow those of another pad."""
    pad = pad_of("count = 8\nfiller_thickness = 8")
    pleats = replace(pad.pleats, spacing=Spacing(fan=fan), lines_up_with="cushion")
    return replace(pad, kind="backrest", pleats=pleats, **changes)


def following(*, x=0.0, leader=LEADER, fan=1.0, nudges=()):
    """Plan of a backrest moved to the right by x, and of the cushion that it follows."""
    ahead = pad_of(leader)
    # A pad that is the same left and right stays so; beside the other's centre it cannot follow.
    own = follower(fan=fan, pose=SeatPose((x, 300.0, 0.0)), wanted=Wanted(leader=ahead), symmetric=x == 0.0)
    return planned(own, Alignment(nudges)), planned(ahead)


@pytest.mark.parametrize("x", [0.0, 12.0, -40.0])
def test_valleys_that_follow_arrive_where_the_other_ones_do(x):
    """On one level both meet in one line: places differ by what the pads are apart. Those that would leave a sliver
    beside the edge, 200 mm from the centre, are left out and told."""
    plan, ahead = following(x=x)
    theirs = np.array([meeting_place(pad_of(LEADER), ahead, valley) for valley in ahead.valleys])
    assert theirs == pytest.approx(50.0 * np.arange(-3, 4), abs=1e-6)
    ours = np.array([meeting_place(follower(), plan, valley) for valley in plan.valleys])
    stay = 200.0 - np.abs(theirs - x) >= OUTER_SHARE * 50.0
    assert ours == pytest.approx((theirs - x)[stay], abs=1e-6)
    assert [note.split()[0] for note in plan.layout.notes] == ([str((~stay).sum())] if not stay.all() else [])


def test_a_fanned_leader_is_met_at_its_rear_edge_by_the_front_of_the_other():
    assert meets_behind(pad_of(LEADER))
    assert not meets_behind(follower())
    fan = 1.2
    plan, ahead = following(leader=f"count = 8\nfan = {fan}", fan=0.9)
    # Widths in the middle are 50: at the rear they are wider by 2 fan / (1 + fan).
    pitch = 50.0 * 2.0 * fan / (1.0 + fan)
    theirs = [meeting_place(pad_of(LEADER), ahead, valley) for valley in ahead.valleys]
    assert theirs == pytest.approx(pitch * np.arange(-3, 4), abs=1e-6)
    ours = [meeting_place(follower(), plan, valley) for valley in plan.valleys]
    assert ours == pytest.approx([place for place in theirs if abs(place) < 190.0], abs=1e-4)
    rear = [valley.place[-1] for valley in plan.valleys]
    assert np.array(rear) == pytest.approx(0.9 * np.array(ours), abs=1e-4)


def test_edges_of_fanned_pleats_are_straight_from_end_to_end_and_end_there():
    plan = planned(pad_of("count = 4\nfan = 1.5"))
    front, rear = 100.0 * 2.0 / 2.5, 100.0 * 3.0 / 2.5
    edges = plan.edges_at(np.array([-50.0, 0.0, 90.0, 210.0, 300.0, 350.0]))
    share = np.array([0.0, 0.0, 0.3, 0.7, 1.0, 1.0])
    assert edges[:, 3] == pytest.approx(front + share * (rear - front), abs=1e-6)
    assert edges[:, 1] == pytest.approx(-edges[:, 3])
    assert edges[:, [0, 4]] == pytest.approx(np.tile([-200.0, 200.0], (6, 1)), abs=1e-5)


def test_nudges_move_every_valley_by_its_own():
    plain, _ = following()
    nudges = (1.0, -2.0, 0.5, 0.0, -0.5, 2.0, -1.0)
    moved, _ = following(nudges=nudges)
    off = [b.place[0] - a.place[0] for a, b in zip(plain.valleys, moved.valleys, strict=True)]
    assert off == pytest.approx(nudges, abs=1e-6)


def test_valleys_are_named_from_the_centre_outward_or_from_the_front():
    even = [v.name for v in planned(pad_of("count = 6")).valleys]
    assert even == ["left valley 2", "left valley 1", "centre valley", "right valley 1", "right valley 2"]
    odd = [v.name for v in planned(pad_of("count = 5")).valleys]
    assert odd == ["left valley 2", "left valley 1", "right valley 1", "right valley 2"]
    across = [v.name for v in planned(pad_of('count = 4\ndirection = "across"')).valleys]
    assert across == ["valley 1", "valley 2", "valley 3"]


@pytest.mark.parametrize(("ends", "longest"), [("", 150.0), ("front", 300.0)])
def test_a_taper_may_take_all_of_the_length_and_no_more(ends, longest):
    """300 mm long: with seams at both ends half of it at each, with one seam the whole."""
    pad = pad_of("count = 4")
    sides = {**pad.sides, "rear": replace(pad.sides["rear"], band=not ends)}
    pad = replace(pad, sides=sides)

    def tapered(taper):
        return replace(pad, pleats=replace(pad.pleats, filling=replace(pad.pleats.filling, taper=taper)))

    assert planned(tapered(longest - 0.1)).count == 4
    with pytest.raises(ProblemError) as refused:
        planned(tapered(longest + 0.1))
    assert [p.code for p in refused.value.problems] == ["G129"]


def test_figures_of_fanned_pleats_are_their_widths_at_both_ends():
    made = square("count = 8\nfan = 1.15")
    for figure in made.pleats.figures[1:-1]:
        assert figure.finished_mm == pytest.approx(50.0, abs=1e-6)
        assert figure.finished_high_mm / figure.finished_low_mm == pytest.approx(1.15, rel=0.02)
        assert figure.finished_low_mm + figure.finished_high_mm == pytest.approx(100.0, abs=1.0)
    widths = made.pleats.widths_at(np.array([0.0, 150.0, 300.0]))
    assert widths.sum(axis=1) == pytest.approx([400.0] * 3, abs=1e-3)


def test_the_rise_runs_out_evenly_towards_both_seams():
    """Down the crest of the fourth pleat: nought on the seam, half at half the taper, all from there on."""
    made = square("count = 8\ntaper = 40", edge_mm=5.0)
    pleats = made.pleats
    crest = np.abs(pleats.place - np.round(pleats.place - 0.5) - 0.5) < 0.02
    from_end = np.minimum(pleats.station, 300.0 - pleats.station)[crest]
    share = pleats.scale[crest]
    assert len(np.unique(from_end[from_end < 40.0])) > 4
    assert share == pytest.approx(smooth_step(from_end / 40.0), abs=1e-6)
    # Heights scale with it: at full rise the crest is as high as its figure says.
    assert pleats.height_mm[crest][from_end >= 40.0] == pytest.approx(pleats.figures[0].rise_mm, rel=0.01)


def test_on_a_finer_mesh_new_vertices_have_their_share_of_both_ends():
    pleats = square("count = 4", edge_mm=14.0).pleats
    ends, share = np.array([[3, 40], [7, 90]]), np.array([0.25, 0.5])
    grown = pleats.grown(ends, share, pleats.raised.triangles)
    n = len(pleats.place)
    for name in ("place", "station", "scale", "height_mm"):
        old, new = getattr(pleats, name), getattr(grown, name)
        assert np.array_equal(new[:n], old)
        assert new[n:] == pytest.approx([0.75 * old[3] + 0.25 * old[40], 0.5 * (old[7] + old[90])])
    old = pleats.raised.vertices
    assert grown.raised.vertices[n] == pytest.approx(0.75 * old[3] + 0.25 * old[40])


def test_valleys_that_spread_as_the_sides_do_lose_nothing_at_either_end():
    """From 400 in front to 300 in the rear: pleats three quarters as wide there keep their share all along; straight
    ones lose at the outside, 25 mm from the middle to the rear, those that spread the other way more."""
    even = planned(pad_of("count = 8\nfan = 0.75", rear=300))
    assert even.layout.widths == pytest.approx([350.0 / 8.0] * 8)
    assert even.layout.notes == ()
    straight = planned(pad_of("count = 8", rear=300)).layout
    assert straight.widths[0] == pytest.approx(25.0 + OUTER_SHARE * straight.widths[1])
    assert any("two thirds of a pleat" in note for note in straight.notes)
    # Twice the spread the other way: at the rear the room is 300 in widths of 4/3.5 of those in the middle.
    against = planned(pad_of("count = 4\nfan = 1.3333333333", rear=300)).layout
    lost = 175.0 - 150.0 / (2.0 * 1.3333333333 / 2.3333333333)
    assert against.widths[0] == pytest.approx(lost + OUTER_SHARE * against.widths[1], abs=0.01)


@pytest.mark.parametrize("widest", [300.0, 360.0])
def test_parts_of_pleats_that_spread_fit_the_roll_where_they_are_widest(widest):
    """Six pleats, 50 mm wide in front and 100 mm behind: what counts is the wide end."""
    edges = np.stack([np.linspace(0.0, 300.0, 7), np.linspace(0.0, 600.0, 7)])
    asked = Pleats(joining=Joining(joins="auto", largest_width=widest))
    drawn = pleat_section(asked.filling, 75.0)
    own = float(drawn.cut(np.array([100.0]))[0])
    parts = _parted(asked, drawn, edges, 400.0, even=False)
    most = max(last - first for first, last in parts.runs(6))
    assert most * own <= widest < (most + 1) * own
