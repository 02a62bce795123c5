"""Laws of charts, their bands and lines: closed forms on plain pads, bounds at their places, words with figures."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from shapely.geometry import LineString

from meshes.base.problems import Problem, ProblemError
from meshes.base.units import LINE_REACH_MM
from meshes.numerics.meeting_points import ChartSegment, met, place_of
from meshes.numerics.sizes import Sizes
from meshes.outlines.rounded import CornersTooRoundError, rounded_outline
from meshes.outlines.side_ramps import BOW_TURN_RAD, side_ramps
from meshes.outlines.turned_corner import LEAST_STRAIGHT_MM, SideSection, round_corners
from meshes.records.bands import Bands
from meshes.records.frame import BasePlane
from meshes.records.pad import SIDES, ExtraLine, Inset, Side, hollow_radius_mm
from meshes.support.blocks import bare_edge_mm
from meshes.support.chart import AT_OUTLINE_MM, LEAST_BAND_MM, make_problem_for, pad_chart, seams_down
from meshes.support.face_plan import KINK_RAD, centre_crossings, face_plan
from meshes.support.line_roles import (
    MIRRORED_CORNER,
    MIRRORED_SIDE,
    ChartLine,
    LineIdentity,
    LineRole,
    line_words,
)
from meshes.support.seam_lines import centre_places, face_lines, face_region, seam_corners, too_close
from meshes.support.tack import _RimPath, _to_plane, below_turn
from tests.pads import FLAT, sheet_of

NAMES = ("front", "right", "rear", "left")
NOTHING = dict.fromkeys(SIDES, 0.0)


def problem(code, keys, text):
    return Problem(code, str(keys), text)


def pad_of(*, band=True, radius=40.0, **changes):
    """A pad of 400 x 300 mm, banded alike all round, the edge 20 mm round."""
    (pad,) = sheet_of(FLAT.replace("corner_radius = 40", f"corner_radius = {radius}")).pads
    side = replace(pad.sides["rear"], drop=80.0, edge_radius=20.0, band=band)
    return replace(pad, sides=dict.fromkeys(SIDES, side), **changes)


def chart_of(pad, padding=NOTHING):
    return pad_chart(pad, padding, problem)


def faults_of(pad):
    with pytest.raises(ProblemError) as told:
        chart_of(pad)
    return told.value.problems


# Where bands part.


@pytest.mark.parametrize(
    ("word", "lean"),
    [
        ("middle", (0, 0, 0, 0)),
        ("sides", (-0.5, 0.5, -0.5, 0.5)),
        ("ends", (0.5, -0.5, 0.5, -0.5)),
        (None, (0, 0, 0, 0)),
        ("none", (0, 0, 0, 0)),
    ],
)
def test_a_corner_belongs_to_the_band_that_the_sheet_says(word, lean):
    """Sides keep the whole corner, or the ends do: the seam lies at the other end of its arc."""
    pad = pad_of(bands=Bands(corners=(word,) * 4))
    chart = chart_of(pad)
    assert np.array(chart.corners) - np.array([2.5, 4.5, 6.5, 0.5]) == pytest.approx(lean)
    down = seams_down(pad, chart)
    if word == "none":
        assert down == []
        return
    assert [(u, rule.role, rule.number, rule.image) for u, rule in down] == [
        (u, LineRole.SIDE_SEAM, k, MIRRORED_CORNER[k]) for k, u in enumerate(chart.corners)
    ]
    assert all(rule.sewn for _, rule in down)
    # Which side a place belongs to goes with it.
    for k, u in enumerate(chart.corners):
        assert chart.side_at(u - 0.01) == SIDES[k]
        assert chart.side_at(u + 0.01) == SIDES[(k + 1) % 4]


def test_a_side_without_a_band_gives_its_corners_away():
    pad = pad_of()
    for name in SIDES:
        sides = {**pad.sides, name: replace(pad.sides[name], band=False)}
        chart = chart_of(replace(pad, sides=sides))
        k = SIDES.index(name)
        moved = np.array(chart.corners) - np.array([2.5, 4.5, 6.5, 0.5])
        expected = np.zeros(4)
        # The corner before it belongs to the side before it, the one after it to the next.
        expected[k - 1], expected[k] = 0.5, -0.5
        assert moved == pytest.approx(expected)
        assert len(seams_down(replace(pad, sides=sides), chart)) == 4
    bare = replace(pad, sides={s: replace(one, band=False) for s, one in pad.sides.items()})
    assert seams_down(bare, chart_of(bare)) == []


def test_joins_lie_on_the_outline_of_a_banded_side():
    pad = pad_of(bands=Bands(joins=((100.0, 0.0), (-100.0, 0.0), (0.0, 300.0))))
    chart = chart_of(pad)
    assert chart.outline.point(np.array(chart.joins)) == pytest.approx(
        np.array([[100, 0], [-100, 0], [0, 300]]), abs=1e-6
    )
    joins = [rule for _, rule in seams_down(pad, chart) if rule.role is LineRole.JOIN]
    assert [(rule.number, rule.image) for rule in joins] == [(0, 1), (1, 0), (2, None)]
    for off, told in ((AT_OUTLINE_MM - 0.1, False), (AT_OUTLINE_MM + 0.1, True)):
        moved = replace(pad, bands=Bands(joins=((100.0, -off),)))
        if told:
            (fault,) = faults_of(moved)
            assert fault.code == "G116"
            assert "30 mm off the outline; the nearest place of it is [100, 0]" in fault.text
            assert "joins" in fault.where
        else:
            chart_of(moved)
    open_front = replace(moved, sides={**pad.sides, "front": replace(pad.sides["front"], band=False)})
    (fault,) = faults_of(replace(open_front, bands=Bands(joins=((100.0, 0.0),))))
    assert "on the front side, which has no band" in fault.text


@pytest.mark.parametrize("room", [LEAST_BAND_MM - 0.5, LEAST_BAND_MM + 0.5])
def test_bands_between_two_seams_have_a_least_length(room):
    pad = pad_of(bands=Bands(joins=((0.0, 0.0), (room, 0.0))))
    if room > LEAST_BAND_MM:
        chart_of(pad)
        return
    (fault,) = faults_of(pad)
    assert fault.code == "G117"
    assert f"leave {room:.0f} mm of a band at [0, 0]" in fault.text or "leave 40 mm of a band at [0, 0]" in fault.text
    # Over the place where the outline begins again, too; one seam alone leaves the whole way round.
    near = replace(pad, bands=Bands(corners=("none",) * 4, joins=((-150.0, 0.0), (-150.0 + room, 0.0))))
    assert [one.code for one in faults_of(near)] == ["G117"]
    assert chart_of(replace(pad, bands=Bands(corners=("none",) * 4, joins=((0.0, 0.0),)))).joins


# Room for edges in corners.


def test_a_hollow_corner_is_as_round_as_its_edge_padding_and_seam_take():
    """Half the turn of the padded edge, the seam below it, less the bare edge, and a millimetre."""
    side = Side(edge_radius=20.0, turn_deg=90.0, band=True, seam_below=6.0)
    quarter = 0.25 * np.pi
    assert hollow_radius_mm(side, 10.0) == pytest.approx(quarter * 30.0 + 6.0 - 20.0 + 1.0)
    assert hollow_radius_mm(replace(side, band=False), 10.0) == pytest.approx(quarter * 30.0 - 20.0 + 1.0)
    hollow = (
        "symmetric = false\npoints = [[-200, 0, 30], [200, 0, 30], [200, 300, 30], [0, 200, {}], [-200, 300, 30]]\n"
    )
    head, _, rest = FLAT.partition("front_width")
    text = head + hollow + rest[rest.index("[pad.sides.front]") :]

    def radius(given, padding):
        (pad,) = sheet_of(text.format(given)).pads
        chart = pad_chart(pad, dict.fromkeys(SIDES, padding), problem)
        return chart.outline.radii[3]

    assert radius(50, 10.0) == pytest.approx(50.0)
    # The rear side has no band in this sheet.
    assert radius(5, 20.0) == pytest.approx(hollow_radius_mm(Side(edge_radius=20.0), 20.0))
    with pytest.raises(ProblemError) as told:
        radius(5, 700.0)
    (fault,) = told.value.problems
    assert fault.code == "G111"
    need = hollow_radius_mm(Side(edge_radius=20.0), 700.0)
    assert "the hollow at x = 0 mm, y = 200 mm has a radius of 5 mm" in fault.text
    assert f"need {need:.0f} mm" in fault.text


def test_a_problem_without_a_sheet_names_the_pad():
    found = make_problem_for(pad_of())("G104", ("line", 1), "text")
    assert (found.code, found.where, found.text) == ("G104", "pad cushion", "text")


# The outline.


def boxed(wide=400.0, deep=300.0, radius=40.0, sides=NAMES):
    w = 0.5 * wide
    return rounded_outline([(-w, 0.0), (w, 0.0), (w, deep), (-w, deep)], [radius] * 4, sides)


def test_elements_of_an_outline_have_their_lengths():
    outline = boxed()
    arc = 0.5 * np.pi * 40.0
    assert outline.lengths == pytest.approx([arc, 320.0, arc, 220.0, arc, 320.0, arc, 220.0])
    assert outline.is_long.all()
    stool = boxed(300.0, 300.0, 150.0)
    assert stool.lengths == pytest.approx([75.0 * np.pi, 0.0] * 4, abs=1e-9)
    assert stool.is_long.tolist() == [True, False] * 4


def test_places_between_corners_are_found_by_the_sides_they_part():
    outline = boxed()
    ways = {("left", "front"): 0.5, ("front", "right"): 2.5, ("right", "rear"): 4.5, ("rear", "left"): 6.5}
    for (before, after), u in ways.items():
        assert outline.corner_between(before, after) == u
    with pytest.raises(KeyError, match="front and rear"):
        outline.corner_between("front", "rear")


@pytest.mark.parametrize("name", NAMES)
def test_the_line_of_a_side_is_its_run_without_its_corners(name):
    line = boxed().side_line(name)
    wide = {"front": [[-160, 0], [160, 0]], "right": [[200, 40], [200, 260]],
            "rear": [[160, 300], [-160, 300]], "left": [[-200, 260], [-200, 40]]}[name]  # fmt: skip
    assert line[[0, -1]] == pytest.approx(np.array(wide, dtype=float), abs=1e-6)
    assert LineString(line).length == pytest.approx(np.linalg.norm(np.subtract(*wide)))


def test_points_off_an_outline_know_how_far():
    outline = boxed()
    at = np.array([[0.0, 10.0], [0.0, -7.0], [190.0, 150.0], [200.0, 0.0], [160.0, 40.0], [-300.0, 150.0]])
    u, inside = outline.nearest(at)
    assert inside == pytest.approx([10.0, -7.0, 10.0, 40.0 - 40.0 * np.sqrt(2.0), 40.0, -100.0], abs=1e-9)
    assert u[[0, 1, 2, 5]] == pytest.approx([1.5, 1.5, 3.5, 7.5])
    assert u[3] == pytest.approx(2.5)
    # Beyond the end of an open hollow the end itself is nearest.
    hollow = rounded_outline([(0, 0), (300, 0), (300, 200), (150, 100), (0, 200)], [0.0] * 5, ("a", "b", "c", "d", "e"))
    _, deep = hollow.nearest(np.array([[150.0, 130.0]]))
    assert deep[0] < 0.0


def test_a_point_of_a_bow_has_the_largest_arc_its_neighbours_leave():
    """A bow point between two sharp corners takes its whole runs but for 2 %; beside another one half of the run."""
    one = rounded_outline(
        [(-200, 0), (0, -10), (200, 0), (200, 300), (-200, 300)], [0.0] * 5, ("f", "f", "r", "b", "l")
    )
    half = 0.5 * one.sweep_rad[1]
    assert one.radii[1] * np.tan(half) == pytest.approx(0.98 * np.hypot(200.0, 10.0))
    two = rounded_outline(
        [(-200, 0), (-60, -10), (60, -10), (200, 0), (200, 300), (-200, 300)], [0.0] * 6, ("f", "f", "f", "r", "b", "l")
    )
    assert two.radii[1] * np.tan(0.5 * two.sweep_rad[1]) == pytest.approx(0.98 * 60.0)
    assert two.radii[2] == pytest.approx(two.radii[1])
    beside = rounded_outline(
        [(-200, 0), (0, -10), (200, 0), (200, 300), (-200, 300)], [0, 0, 150.0, 0, 0], ("f", "f", "r", "b", "l")
    )
    turned = 150.0 * np.tan(0.5 * beside.sweep_rad[2])
    assert beside.radii[1] * np.tan(half) == pytest.approx(0.98 * (np.hypot(200.0, 10.0) - turned))


def test_what_does_not_fit_is_told_with_its_run():
    with pytest.raises(CornersTooRoundError, match=r"corner radii 160\.0 and 160\.0 mm do not fit a run of 300\.0 mm"):
        boxed(400.0, 300.0, 160.0)
    boxed(400.0, 300.0, 150.0)


def test_samples_are_close_and_rise():
    outline = boxed()
    for step in (5.0, 50.0):
        u = outline.samples(step)
        assert (np.diff(u) > 0.0).all()
        points = outline.point(np.append(u, outline.period))
        assert np.linalg.norm(np.diff(points, axis=0), axis=1).max() <= step + 1e-6
        # Arcs in steps of three degrees at least.
        assert np.count_nonzero((u >= 0.0) & (u < 1.0)) >= 30
    arcs = outline.samples(5.0, arcs_only=True)
    assert np.count_nonzero((arcs >= 1.0) & (arcs < 2.0)) == 1


# From side to side.


def test_what_differs_between_sides_passes_over_the_arc_of_their_corner():
    outline = boxed()
    at = outline.blend({"front": 1.0, "right": 2.0, "rear": 4.0, "left": 8.0})
    assert at(np.array([1.0, 1.5, 2.0, 3.0, 3.7, 4.0, 5.2, 6.0, 7.5, 0.0])) == pytest.approx(
        [1, 1, 1, 2, 2, 2, 4, 4, 8, 8], abs=1e-9
    )
    assert at(np.array([2.5, 4.5, 6.5, 0.5])) == pytest.approx([1.5, 3.0, 6.0, 4.5])
    assert at(np.array([2.25]))[0] < 1.5 < at(np.array([2.75]))[0]


def test_on_a_circle_it_passes_evenly_with_the_turn_from_middle_to_middle():
    count = 48
    angle = 2.0 * np.pi * (np.arange(count) + 0.5) / count - 0.75 * np.pi
    corners = 200.0 / np.cos(np.pi / count) * np.column_stack([np.cos(angle), np.sin(angle)])
    names = [NAMES[(k * 4) // count] for k in range(count)]
    outline = rounded_outline([tuple(p) for p in corners], [200.0] * count, names)
    ramps = side_ramps(names, outline.sweep_rad, outline.lengths)
    assert [(ramp.before, ramp.after) for ramp in ramps] == [
        ("front", "right"), ("right", "rear"), ("rear", "left"), ("left", "front")
    ]  # fmt: skip
    for ramp in ramps:
        assert ramp.share[0] == 0.0
        assert ramp.share[-1] == 1.0
        assert ramp.share == pytest.approx((ramp.u - ramp.u[0]) / (ramp.u[-1] - ramp.u[0]), abs=0.03)
    # Each begins where the one before ends: in the middle of a side.
    ends = [ramp.u[-1] for ramp in ramps]
    assert np.mod([ramp.u[0] for ramp in (*ramps[1:], ramps[0])], outline.period) == pytest.approx(
        np.mod(ends, outline.period)
    )
    assert np.rad2deg(BOW_TURN_RAD) == pytest.approx(30.0)


# Sections of a side.


@pytest.mark.parametrize("turn", [40.0, 90.0, 130.0])
def test_an_end_leads_back_to_the_section_that_has_it(turn):
    one = SideSection(np.array([20.0]), np.deg2rad([turn]), np.array([70.0]))
    aside, below = one.end
    angle = np.deg2rad(turn)
    assert aside[0] == pytest.approx(20.0 * (np.sin(angle) - 1.0) + 70.0 * np.cos(angle))
    assert below[0] == pytest.approx(20.0 * (1.0 - np.cos(angle)) + 70.0 * np.sin(angle))
    back = one.ending(aside, below)
    assert back.turn == pytest.approx(one.turn)
    assert back.straight == pytest.approx(one.straight)
    near = one.ending(np.array([0.0]), np.array([20.0]))
    assert near.straight == pytest.approx([LEAST_STRAIGHT_MM])


def test_what_is_left_of_a_drop_below_its_turn():
    side = Side(drop=80.0, edge_radius=20.0, turn_deg=90.0)
    assert below_turn(side) == pytest.approx(60.0)
    assert below_turn(replace(side, turn_deg=60.0)) == pytest.approx(80.0 - 20.0 * np.tan(np.pi / 6.0))
    assert below_turn(replace(side, turn_deg=150.0)) == pytest.approx(80.0 - 20.0 * (1.0 + np.pi / 3.0))
    assert below_turn(replace(side, drop=20.5)) == LEAST_STRAIGHT_MM


def test_round_a_corner_where_nothing_comes_back_sections_stay_as_they_were_blended():
    outline = boxed()
    upright = SideSection(np.array([20.0]), np.array([0.5 * np.pi]), np.array([60.0]))
    deep = replace(upright, straight=np.array([90.0]))
    blended = SideSection(np.full(3, 20.0), np.full(3, 0.5 * np.pi), np.full(3, 75.0))

    def sides(rear):
        found = dict.fromkeys(NAMES, upright) | {"rear": rear}
        return {
            name: lambda u, one=one: SideSection(
                np.full(len(u), one.radius[0]), np.full(len(u), one.turn[0]), np.full(len(u), one.straight[0])
            )
            for name, one in found.items()
        }

    u = np.array([2.5, 4.5, 5.5])
    same = round_corners(outline, sides(deep), blended, u)
    assert same.turn == pytest.approx(blended.turn)
    assert same.straight == pytest.approx(blended.straight)
    over = replace(upright, turn=np.deg2rad([140.0]))
    found = round_corners(outline, sides(over), blended, u)
    # Only the corner between the side that comes back and its neighbour changes.
    assert found.straight[[0, 2]] == pytest.approx([75.0, 75.0])
    assert found.turn[1] != pytest.approx(blended.turn[1])


# Lines.


def test_sides_and_corners_mirror_each_other():
    assert [SIDES[k] for k in MIRRORED_SIDE] == ["front", "left", "rear", "right"]
    assert MIRRORED_CORNER == (3, 2, 1, 0)
    rule = LineIdentity(LineRole.SIDE_SEAM, 0, 3)
    assert (rule.mirrored.number, rule.mirrored.image) == (3, 0)
    assert rule.mirrored.mirrored == rule
    lone = LineIdentity(LineRole.INSET)
    assert lone.mirrored is lone


def test_words_for_lines():
    pad = replace(pad_of(), lines=(ExtraLine("across", ((0.0, 0.0), (1.0, 1.0)), False),))
    said = {
        (LineRole.EDGE, 1): "right edge",
        (LineRole.TACK, 3): "left tack line",
        (LineRole.CORNER, 0): "front right corner",
        (LineRole.SIDE_SEAM, 3): "left front side seam",
        (LineRole.EXTRA, 0): "across",
        (LineRole.VALLEY, 2): "valley 2",
        (LineRole.CENTRE, 0): "centre line",
        (LineRole.INSET, 0): "inset",
        (LineRole.JOIN, 1): "join 2 of the bands",
        (LineRole.RELIEF, 0): "relief",
        (LineRole.FOLD, 1): "right rear fold",
        (LineRole.ZIP, 0): "zip",
        (LineRole.CLOSING, 2): "rear edge",
    }
    assert {key: line_words(pad, LineIdentity(*key)) for key in said} == said
    assert line_words(replace(pad, kind="backrest"), LineIdentity(LineRole.EDGE, 2)) == "top edge"


def test_the_middles_of_front_and_rear_are_found():
    chart = chart_of(pad_of())
    front, rear = centre_places(chart)
    assert chart.outline.point(np.array([front, rear])) == pytest.approx(np.array([[0.0, 0.0], [0.0, 300.0]]), abs=1e-6)
    assert front < rear < front + chart.outline.period


def test_the_edge_seam_encloses_the_face():
    pad = pad_of()
    chart = chart_of(pad)
    # The middle of the turn lies so far outside the outline in the chart.
    grown = 0.25 * np.pi * 20.0 - 20.0
    w, d, r = 400.0 + 2 * grown, 300.0 + 2 * grown, 40.0 + grown
    region = face_region(pad, chart)
    assert region.area == pytest.approx(w * d - (4.0 - np.pi) * r * r, rel=1e-4)
    assert seam_corners(chart)[0] == pytest.approx([160.0 + r * np.sqrt(0.5), 40.0 - r * np.sqrt(0.5)], abs=1e-6)


def lines_of(pad, *, half):
    chart = chart_of(pad)
    return chart, face_lines(pad, chart, problem, half=half)


def total(lines, role):
    return sum(d.line.length for d in lines if d.rule.role is role)


@pytest.mark.parametrize("half", [True, False])
def test_a_plain_face_has_its_edge_and_its_centre_line(half):
    pad = pad_of(symmetric=half)
    chart, lines = lines_of(pad, half=half)
    whole = face_region(pad, chart)
    assert total(lines, LineRole.EDGE) == pytest.approx(whole.length * (0.5 if half else 1.0), rel=1e-6)
    assert total(lines, LineRole.CENTRE) == pytest.approx(whole.bounds[3] - whole.bounds[1], rel=1e-6)
    assert all(d.rule.rim == (half or d.rule.role is LineRole.EDGE) for d in lines)
    sides = {d.rule.number for d in lines if d.rule.role is LineRole.EDGE}
    assert sides == ({0, 1, 2} if half else {0, 1, 2, 3})
    assert all(d.rule.sewn for d in lines if d.rule.role is LineRole.EDGE)


@pytest.mark.parametrize("short", [LINE_REACH_MM - 0.5, LINE_REACH_MM + 0.5])
def test_a_line_that_ends_near_an_edge_is_meant_to_reach_it(short):
    pad = replace(pad_of(symmetric=False), lines=(ExtraLine("a", ((-195.0, 150.0), (200.0 - short, 150.0)), True),))
    _, lines = lines_of(pad, half=False)
    if short > LINE_REACH_MM:
        # A dead end parts nothing: only what runs on to the centre line is kept.
        assert total(lines, LineRole.EXTRA) == pytest.approx(0.5 * (400.0 + 2 * (0.25 * np.pi * 20.0 - 20.0)), abs=0.1)
    else:
        assert total(lines, LineRole.EXTRA) == pytest.approx(400.0 + 2 * (0.25 * np.pi * 20.0 - 20.0), abs=0.1)
    assert all(d.rule.welt for d in lines if d.rule.role is LineRole.EXTRA)


def test_a_line_that_ends_near_another_line_is_carried_across_it():
    across = ExtraLine("across", ((-200.0, 150.0), (200.0, 150.0)), False)
    for gap, kept in ((LINE_REACH_MM - 1.0, True), (LINE_REACH_MM + 1.0, False)):
        upright = ExtraLine("up", ((80.0, 0.0), (80.0, 150.0 - gap)), False)
        _, lines = lines_of(replace(pad_of(symmetric=False), lines=(across, upright)), half=False)
        own = [d for d in lines if d.rule.role is LineRole.EXTRA and d.rule.number == 1]
        assert bool(own) == kept
        if kept:
            assert max(d.line.bounds[3] for d in own) == pytest.approx(150.0)


@pytest.mark.parametrize("margins", [(60.0, 50.0, 70.0, 70.0), (0.0, 50.0, 70.0, 70.0), (60.0, 0.0, 0.0, 0.0)])
def test_an_inset_has_its_margins_and_runs_out_where_there_is_none(margins):
    front, rear, left, right = margins
    pad = replace(pad_of(), inset=Inset(front, rear, left, right, 0.0, False))
    _, lines = lines_of(pad, half=False)
    ring = [d.line for d in lines if d.rule.role is LineRole.INSET]
    x = np.concatenate([np.array(line.coords)[:, 0] for line in ring])
    y = np.concatenate([np.array(line.coords)[:, 1] for line in ring])
    past = 20.0 - 0.25 * np.pi * 20.0
    assert x.max() == pytest.approx(200.0 - (right or past), abs=0.05)
    assert x.min() == pytest.approx(-200.0 + (left or past), abs=0.05)
    corners = {d.rule.number for d in lines if d.rule.role is LineRole.CORNER}
    given = dict(zip(("front", "rear", "left", "right"), margins, strict=True))
    assert corners == {k for k in range(4) if given[SIDES[k]] and given[SIDES[(k + 1) % 4]]}
    if front:
        assert y.min() == pytest.approx(front, abs=0.05)


def test_two_lines_without_room_between_them_are_told_by_their_names():
    pad = replace(pad_of(), lines=tuple(ExtraLine(name, ((0.0, 0.0), (1.0, 1.0)), False) for name in ("a", "b")))
    at = np.array([3.0, 5.0])

    def line(role, number, y):
        return ChartLine(LineIdentity(role, number), LineString([(0.0, y), (10.0, y)]))

    edge, one, two = line(LineRole.EDGE, 0, 4.0), line(LineRole.EXTRA, 1, 5.5), line(LineRole.EXTRA, 0, 9.0)
    found = too_close(pad, [two, one, edge], at, problem)
    assert found.code == "G104"
    assert found.text.startswith("b and front edge run so close together")
    assert "at x = 3 mm, y = 5 mm" in found.text
    assert found.where == "('line', 1)"
    # Where one line meets itself it is named twice; pleats are told where they stand.
    valley = line(LineRole.VALLEY, 2, 5.1)
    found = too_close(pad, [valley, valley], at, problem)
    assert found.text.startswith("valley 2 and valley 2")
    assert found.where == "('pleats',)"
    assert too_close(pad, [edge, line(LineRole.TACK, 0, 9.0)], at, problem).where == "()"


# Even steps and points that meet.


def segment(points, rim=None, sewn=True):
    return ChartSegment(LineString(points), rim, sewn)


def test_of_two_near_points_the_one_that_matters_less_moves():
    """Corners of the rim stay, then points of the rim, then ends of sewn lines, then any."""
    corner = [segment([(0, 0), (50, 0)], "a"), segment([(0, 0), (0, 50)], "b")]
    inner = segment([(0.2, 0.1), (30, 30)])
    assert next(iter(met([*corner, inner], 0.5)[2].coords)) == (0.0, 0.0)
    # A rim's own point does not leave its line for another's.
    far = [segment([(0, 0), (50, 0)], "a"), segment([(0.1, 0.1), (0.1, 60)], "b")]
    assert met(far, 0.5) == [one.line for one in far]
    thread, mark = segment([(10, 10), (40, 10)]), segment([(10.2, 10.0), (10.2, 60.0)], sewn=False)
    assert next(iter(met([thread, mark], 0.5)[1].coords)) == (10.0, 10.0)
    assert met([mark, thread], 0.5)[1] == thread.line
    # What lay between two points that become one is gone.
    short = segment([(10.0, 10.0), (10.3, 10.0)])
    assert met([thread, short], 0.5)[1] is None


def test_points_are_one_when_they_share_six_digits():
    assert place_of((1.0000004, -0.0000001)) == (1.0, 0.0)
    assert str(place_of((-0.0, 0.0))[0]) == "0.0"
    assert place_of((1.000001, 2.0)) != place_of((1.0, 2.0))


@pytest.mark.parametrize("edge_mm", [7.0, 10.0, 200.0])
def test_lines_are_set_out_in_even_steps_between_kinks(edge_mm):
    rule = LineIdentity(LineRole.EDGE, rim=True)
    square = [(0.0, 0.0), (100.0, 0.0), (100.0, 60.0), (0.0, 60.0), (0.0, 0.0)]
    plan = face_plan([ChartLine(rule, LineString(square))], sizes=Sizes(edge_mm), reach_mm=0.5)
    expected = 2 * (np.ceil(100.0 / edge_mm) + np.ceil(60.0 / edge_mm))
    assert len(plan.segments) == len(plan.points) == expected
    assert {tuple(p) for p in plan.points.tolist()} >= set(square)
    assert plan.rim().all()
    lengths = np.linalg.norm(np.diff(plan.points[plan.segments], axis=1)[:, 0], axis=1)
    assert lengths.max() <= edge_mm + 1e-9
    assert lengths.sum() == pytest.approx(320.0)
    # A bend that is no kink needs no vertex.
    for turn, kink in ((0.9 * KINK_RAD, False), (1.1 * KINK_RAD, True)):
        bent = [(0.0, 0.0), (50.0, 0.0), (50.0 + 50.0 * np.cos(turn), 50.0 * np.sin(turn))]
        plan = face_plan([ChartLine(rule, LineString(bent))], sizes=Sizes(200.0), reach_mm=0.5)
        assert (len(plan.points) == 3) == kink
    near = [(0.0, 0.0), (0.4, 0.0), (0.4, 90.0)]
    assert len(face_plan([ChartLine(rule, LineString(near))], sizes=Sizes(200.0), reach_mm=0.5).points) == 2


def test_where_lines_cross_the_middle():
    upright = ChartLine(LineIdentity(LineRole.VALLEY), LineString([(0.0, 5.0), (10.0, 5.0)]))
    across = ChartLine(LineIdentity(LineRole.EDGE), LineString([(-10.0, 0.0), (10.0, 20.0)]))
    beside = ChartLine(LineIdentity(LineRole.EXTRA), LineString([(1.0, 3.0), (10.0, 3.0)]))
    assert centre_crossings([upright, across, beside]).tolist() == [[0.0, 10.0]]


@pytest.mark.parametrize("turn_deg", [75.0, 90.0, 110.0])
def test_a_side_that_goes_down_to_a_plane_ends_in_it(turn_deg):
    base, side = BasePlane(-40.0, along=0.15, across=-0.08), SimpleNamespace(turn_deg=turn_deg, edge_radius=12.0)
    plan = np.array([[200.0, 10.0], [-180.0, 60.0], [30.0, 250.0]])
    normal = np.array([[1.0, 0.0], [-0.6, 0.8], [0.0, 1.0]])
    height, nothing = np.array([90.0, 70.0, 85.0]), np.zeros(3)
    down = _to_plane(side, base, _RimPath(nothing, plan, normal, height, nothing, nothing))
    sine, cosine = np.sin(np.deg2rad(turn_deg)), np.cos(np.deg2rad(turn_deg))
    foot = plan + normal * (12.0 * (sine - 1.0) + down * cosine)[:, None]
    assert height - 12.0 * (1.0 - cosine) - down * sine == pytest.approx(base.at(foot), abs=1e-9)


def test_layers_on_a_bare_frame_go_over_its_own_edges():
    pad = sheet_of(FLAT).pads[0]
    radii = dict(zip(SIDES, (3.0, 7.0, 11.0, 13.0), strict=True))
    pad = replace(pad, sides={name: replace(pad.sides[name], edge_radius=mm) for name, mm in radii.items()})
    assert {name: bare_edge_mm(pad, name) for name in SIDES} == radii
