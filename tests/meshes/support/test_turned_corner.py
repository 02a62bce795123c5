"""Where a turned-over side meets an upright one the tack line goes round the corner without a horn."""

from collections.abc import Mapping

import numpy as np
import pytest

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


def tack_line(chart: Chart, count: int, *, padded: bool) -> tuple[np.ndarray, np.ndarray]:
    """The tack line round the top right corner: plan (n, 2) about the middle of its arc, and how far below the rim."""
    corner = int(np.floor(chart.outline.corner_between("right", "rear")))
    u = np.linspace(corner, corner + 1.0 - 1e-12, count)
    radius, turn, straight = chart.radius(u), chart.turn(u), chart.straight(u)
    out = chart.padded_radius(u) if padded else radius
    aside = out * np.sin(turn) + straight * np.cos(turn) - radius
    below = radius - out * np.cos(turn) + straight * np.sin(turn)
    plan = chart.outline.point(u) + chart.outline.normal(u) * aside[:, None]
    return plan - chart.outline.centres[corner // 2], below


@pytest.mark.parametrize("case", CASES)
def test_the_tack_line_goes_evenly_from_the_depth_of_one_side_to_that_of_the_other(case):
    _, bare = tack_line(chart_of(case), 200, padded=False)
    way = np.sign(bare[-1] - bare[0])
    assert np.diff(bare * way).min() > -1e-9
    _, padded = tack_line(chart_of(case), 200, padded=True)
    assert padded.max() < max(padded[0], padded[-1]) + PADDED_MM
    assert padded.min() > min(padded[0], padded[-1]) - PADDED_MM


@pytest.mark.parametrize("case", CASES[:4])
def test_seen_square_on_it_stands_out_past_neither_side_and_turns_one_way(case):
    plan, _ = tack_line(chart_of(case), 60, padded=False)
    assert plan[:, 0].max() <= plan[0, 0] + 1e-9
    assert plan[:, 1].max() <= plan[-1, 1] * (1.0 + 0.02)
    step = np.diff(plan, axis=0)
    turned = np.diff(np.unwrap(np.arctan2(step[:, 1], step[:, 0])))
    # From the run of one side to that of the other it turns by a right angle, and nowhere by much of it at once.
    assert turned.sum() == pytest.approx(0.5 * np.pi, abs=0.15)
    assert np.abs(turned).sum() < 0.5 * np.pi + 0.3
    assert np.rad2deg(np.abs(turned).max()) < 15.0


def test_sides_keep_their_own_turn_and_length_up_to_the_corner():
    chart = chart_of(ROLLED)
    corner = np.floor(chart.outline.corner_between("right", "rear"))
    u = np.array([corner - 1e-9, corner, corner + 1e-6, corner + 1 - 1e-6, corner + 1, corner + 1.3])
    assert np.rad2deg(chart.turn(u)) == pytest.approx([90.0] * 3 + [150.0] * 3, abs=1e-3)
    straight = chart.straight(u)
    assert straight[:3] == pytest.approx(62.0, abs=1e-3)
    assert np.ptp(straight[3:]) < 1e-3


def test_the_way_round_a_corner_does_not_hang_on_the_padding():
    pad = sheet_of(SHEET.format(**ROLLED)).pads[0]
    u = np.linspace(0.0, 8.0, 400, endpoint=False)
    thin, thick = (pad_chart(pad, dict.fromkeys(SIDES, mm), make_problem_for(pad)) for mm in (0.0, 40.0))
    assert np.array_equal(thin.turn(u), thick.turn(u))
    assert np.array_equal(thin.straight(u), thick.straight(u))


def test_upright_sides_blend_as_their_drops_do():
    chart = chart_of({**ROLLED, "turn": 90})
    corner = np.floor(chart.outline.corner_between("right", "rear"))
    u = corner + np.linspace(0.0, 1.0, 50)
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
