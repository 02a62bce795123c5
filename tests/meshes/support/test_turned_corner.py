"""Where a turned-over side meets an upright one the tack line goes round the corner without a horn."""

from collections.abc import Mapping

import numpy as np
import pytest

from meshes.outlines.rounded import rounded_outline
from meshes.outlines.turned_corner import SideSection, round_corners
from meshes.padding.layers import edge_thickness
from meshes.records.pad import SIDES
from meshes.seat.build import build
from meshes.support.chart import Chart, make_problem_for, pad_chart
from tests.pads import sheet_of

SHEET = """
name = "test"
[[pad]]
name = "backrest"
kind = "backrest"
[pad.outline]
bottom_width = 500
top_width = 500
depth = 400
corner_radius = {radius}
[pad.sides.bottom]
drop = 60
edge_radius = 20
[pad.sides.right]
drop = {drop}
edge_radius = 20
band = true
[pad.sides.top]
drop = {over}
edge_radius = 10
turn = {turn}
[[pad.layer]]
material = "wadding"
thickness = 20
where = "all"
"""
ROLLED = {"radius": 120, "drop": 82, "over": 95, "turn": 150}
CASES: tuple[Mapping[str, float], ...] = (
    ROLLED,
    {**ROLLED, "turn": 120},
    {**ROLLED, "turn": 170, "over": 70},
    {**ROLLED, "drop": 50},
    {**ROLLED, "radius": 60, "over": 60},
)
# The cover may stand out past both sides by what the padding does, laid on square to a frame that does not.
PADDED_MM = 0.5


def chart_of(case: Mapping[str, float]) -> Chart:
    pad = sheet_of(SHEET.format(**case)).pads[0]
    return pad_chart(pad, edge_thickness(pad), make_problem_for(pad))


def corner_of(chart: Chart) -> int:
    return int(np.floor(chart.outline.corner_between("right", "rear")))


def round_the_corner(chart: Chart, step_mm: float) -> np.ndarray:
    """Places u from the middle of the right side's run to the end of the top right corner, so far apart on the rim."""
    reach = np.concatenate([[0.0], np.cumsum(chart.outline.lengths)])
    first, last = np.interp([corner_of(chart) - 0.5, corner_of(chart) + 1.0], np.arange(len(reach)), reach)
    along = np.linspace(first, last, int((last - first) / step_mm))
    return np.minimum(np.interp(along, reach, np.arange(len(reach))), corner_of(chart) + 1.0 - 1e-12)


def tack_line(chart: Chart, u: np.ndarray, *, padding_mm: float) -> tuple[np.ndarray, np.ndarray]:
    """The tack line at places u: plan (n, 2) about the middle of the corner's arc, and how far below the rim."""
    radius, turn, straight = chart.radius(u), chart.turn(u), chart.straight(u)
    out = radius + padding_mm
    aside = out * np.sin(turn) + straight * np.cos(turn) - radius
    below = radius - out * np.cos(turn) + straight * np.sin(turn)
    plan = chart.outline.point(u) + chart.outline.normal(u) * aside[:, None]
    return plan - chart.outline.centres[corner_of(chart) // 2], below


def turned_deg(line: np.ndarray) -> np.ndarray:
    """By how much a line (n, 2) turns at each inner point, positive to the left."""
    step = np.diff(line, axis=0)
    return np.rad2deg(np.diff(np.unwrap(np.arctan2(step[:, 1], step[:, 0]))))


@pytest.mark.parametrize("case", CASES)
def test_the_tack_line_goes_evenly_from_the_depth_of_one_side_to_that_of_the_other(case):
    chart = chart_of(case)
    u = round_the_corner(chart, 1.0)
    _, bare = tack_line(chart, u, padding_mm=0.0)
    way = np.sign(bare[-1] - bare[0])
    assert np.diff(bare * way).min() > -1e-9
    _, padded = tack_line(chart, u, padding_mm=20.0)
    assert padded.max() < max(padded[0], padded[-1]) + PADDED_MM
    assert padded.min() > min(padded[0], padded[-1]) - PADDED_MM


@pytest.mark.parametrize("case", CASES[:4])
def test_seen_square_on_it_stands_out_past_neither_side_and_turns_one_way(case):
    chart = chart_of(case)
    plan, _ = tack_line(chart, round_the_corner(chart, 2.0), padding_mm=0.0)
    assert plan[:, 0].max() <= plan[0, 0] + 1e-9
    assert plan[:, 1].max() <= plan[-1, 1] + 1e-6
    turned = turned_deg(plan)
    assert turned.min() > -1e-6
    assert turned.sum() == pytest.approx(90.0, abs=2.0)


@pytest.mark.parametrize("case", CASES[:4])
def test_it_is_at_least_half_as_round_as_the_corner_itself(case):
    """By an ellipse within the corner's arc a tack line has a radius of a fifth of the corner's where it leaves
    the upright side: there the band stands out in a shoulder."""
    chart = chart_of(case)
    plan, _ = tack_line(chart, round_the_corner(chart, 2.0), padding_mm=0.0)
    step = np.linalg.norm(np.diff(plan, axis=0), axis=1)
    radius = 0.5 * (step[1:] + step[:-1]) / np.maximum(np.deg2rad(np.abs(turned_deg(plan))), 1e-12)
    assert radius.min() > 0.5 * case["radius"]


@pytest.mark.parametrize("case", CASES[:4])
def test_over_the_padding_it_has_no_kink(case):
    chart = chart_of(case)
    plan, below = tack_line(chart, round_the_corner(chart, 2.0), padding_mm=20.0)
    step = np.diff(np.column_stack([plan, below]), axis=0)
    step /= np.linalg.norm(step, axis=1)[:, None]
    kink = np.rad2deg(np.arccos(np.clip(np.einsum("ij,ij->i", step[1:], step[:-1]), -1.0, 1.0)))
    assert kink.max() < 5.0


def test_the_turned_over_side_keeps_its_section_to_its_end_and_the_upright_one_until_it_comes_in():
    chart = chart_of(ROLLED)
    corner, run = corner_of(chart), chart.outline.lengths[corner_of(chart) - 1]
    ahead = 0.1 * ROLLED["radius"] / run
    u = np.array(
        [corner - 0.5, corner - 1.01 * ahead, corner - 0.8 * ahead, corner + 1 - 1e-6, corner + 1, corner + 1.3]
    )
    turn = np.rad2deg(chart.turn(u))
    assert turn[:2] == pytest.approx(90.0, abs=1e-6)
    assert 90.0 < turn[2] < 95.0
    assert turn[3:] == pytest.approx(150.0, abs=1e-3)
    straight = chart.straight(u)
    assert straight[:2] == pytest.approx(62.0, abs=1e-3)
    assert np.ptp(straight[3:]) < 1e-3


def test_both_ends_of_a_short_side_share_its_run():
    """Turned over above and below, the two corners of an upright side meet in the middle of its run and no further."""
    text = SHEET.format(**{**ROLLED, "radius": 150}).replace(
        "drop = 60\nedge_radius = 20", "drop = 95\nedge_radius = 10\nturn = 150"
    )
    pad = sheet_of(text).pads[0]
    chart = pad_chart(pad, edge_thickness(pad), make_problem_for(pad))
    corner = corner_of(chart)
    turn = np.rad2deg(chart.turn(corner - np.linspace(0.0, 1.0, 41)))
    assert turn == pytest.approx(turn[::-1], abs=1e-6)
    assert turn[20] == pytest.approx(90.0, abs=0.5)
    assert np.diff(turn[:21]).max() <= 1e-9


def test_a_hollow_corner_is_gone_round_within_its_arc():
    corners = [(0.0, 0.0), (300.0, 0.0), (300.0, 150.0), (150.0, 150.0), (150.0, 300.0), (0.0, 300.0)]
    names = ["front", "front", "over", "upright", "upright", "left"]
    outline = rounded_outline(corners, [40.0] * 6, names)

    def section(turn_deg, straight):
        return lambda u: SideSection(
            np.full(len(u), 10.0), np.full(len(u), np.deg2rad(turn_deg)), np.full(len(u), straight)
        )

    sides = {name: section(90.0, 60.0) for name in names} | {"over": section(120.0, 40.0)}
    hollow = int(np.flatnonzero(outline.sweep_rad < 0)[0])
    assert {names[hollow - 1], names[hollow]} == {"over", "upright"}
    u = 2 * hollow + np.array([-0.2, 0.0, 0.5, 1.0 - 1e-12, 1.2])
    found = round_corners(outline, sides, section(90.0, 60.0)(u), u)
    turn = np.rad2deg(found.turn)
    assert turn[1] == pytest.approx(120.0, abs=1e-6)
    assert 90.0 < turn[2] < 120.0
    assert turn[3:] == pytest.approx(90.0, abs=1e-6)


def test_the_way_round_a_corner_does_not_hang_on_the_padding():
    pad = sheet_of(SHEET.format(**ROLLED)).pads[0]
    u = np.linspace(0.0, 8.0, 400, endpoint=False)
    thin, thick = (pad_chart(pad, dict.fromkeys(SIDES, mm), make_problem_for(pad)) for mm in (0.0, 40.0))
    assert np.array_equal(thin.turn(u), thick.turn(u))
    assert np.array_equal(thin.straight(u), thick.straight(u))


def test_upright_sides_blend_as_their_drops_do():
    chart = chart_of({**ROLLED, "turn": 90})
    u = corner_of(chart) + np.linspace(0.0, 1.0, 50)
    assert chart.turn(u) == pytest.approx(0.5 * np.pi, abs=1e-12)
    assert np.diff(chart.straight(u)).min() >= -1e-12


def test_the_built_tack_line_has_no_horn():
    pad = build(sheet_of(SHEET.format(**ROLLED)).pads[0], edge_mm=10.0)
    at = pad.surface.vertices
    beyond = at[:, 0] > 130.0
    band = next(p for p in pad.panels if "band" in p.part and "right" in p.part)
    own = np.unique(np.concatenate([band.vertices[e.vertices] for e in band.rim if e.seam is None]))
    own = own[beyond[own] & (at[own, 1] > 200.0)]
    ends = at[own][np.argsort(at[own, 1])[:3]], at[own][np.argsort(at[own, 0])[:3]]
    lowest = min(float(end[:, 2].min()) for end in ends)
    assert at[own, 2].min() > lowest - PADDED_MM


@pytest.mark.parametrize("top", [500.0, 505.0, 511.0, 520.0])
@pytest.mark.parametrize("turn", [115.0, 123.2, 135.0])
def test_to_the_very_end_of_a_corner_the_section_changes_without_a_jump(turn, top):
    """Where the corner turns by a little more than a right angle, its last rays miss the arc that joins the tack lines:
    what lies past the arc's end is no place before it."""
    case = {**ROLLED, "radius": 40, "drop": 61, "over": 96, "turn": turn}
    text = (
        SHEET.format(**case)
        .replace("top_width = 500", f"top_width = {top}")
        .replace("edge_radius = 10", "edge_radius = 38")
    )
    pad = sheet_of(text).pads[0]
    chart = pad_chart(pad, edge_thickness(pad), make_problem_for(pad))
    u = corner_of(chart) + np.linspace(-0.05, 1.05, 2201)
    for length in (chart.turn(u) * chart.radius(u), chart.straight(u), chart.tack(u)):
        assert np.abs(np.diff(length)).max() < 1.0
