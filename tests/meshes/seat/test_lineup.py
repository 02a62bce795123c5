"""Valleys of a backrest against those of the cushion in front of it."""

from dataclasses import replace

import numpy as np
import pytest

from flatten.job.pads import built_pads
from meshes.base.problems import Problem
from meshes.base.progress import unheard
from meshes.padding.layers import edge_thickness
from meshes.pleats.layout import OUTER_SHARE
from meshes.pleats.valleys import pleat_plan
from meshes.seat.build import build
from meshes.seat.lineup import NUDGED_MM, Offset, line_up, line_up_notes
from meshes.support.chart import pad_chart
from tests.pads import FLAT, sheet_of

REST = """
[[pad]]
name = "rest"
kind = "backrest"
origin = [{x}, 310, 20]
rake = 12
[pad.outline]
bottom_width = 430
top_width = 380
depth = 300
corner_radius = 50
[pad.sides.bottom]
edge_radius = 15
[pad.sides.top]
drop = 90
edge_radius = 30
turn = 150
[pad.sides.right]
band = true
[[pad.layer]]
material = "foam_medium"
thickness = 15
where = "all"
[pad.pleats]
"""


def seat(cushion: str, rest: str, x: float = 0.0):
    text = FLAT + f"[pad.pleats]\n{cushion}\n" + REST.format(x=x) + rest
    return [build(pad, edge_mm=12.0) for pad in sheet_of(text).pads]


def test_pleats_of_their_own_miss_each_other_by_what_their_pitch_differs():
    pads = seat("count = 8", "count = 8")
    rows = line_up(pads)
    assert [row.index for row in rows] == list(range(-3, 4))
    own = [pad.pleats.plan.layout.widths[3] for pad in pads]
    for row in rows:
        assert (row.a, row.b) == ("cushion", "rest")
        assert row.offset_mm == pytest.approx(row.index * (own[1] - own[0]), abs=0.4)
    assert rows[3].valley == "centre valley"


@pytest.mark.parametrize("fan", [1.0, 1.15])
def test_a_backrest_that_follows_the_cushion_meets_every_valley(fan):
    pads = seat(f"count = 8\nfan = {fan}", f'lines_up_with = "cushion"\nfan = {2.0 - fan}')
    rows = line_up(pads)
    assert len(rows) == 7
    assert np.abs([row.offset_mm for row in rows]).max() < 0.05


def test_valleys_that_would_leave_a_rounder_backrest_are_left_out_and_the_rest_meet():
    text = (
        FLAT + "[pad.pleats]\ncount = 12\n" + REST.format(x=0.0) + 'lines_up_with = "cushion"\nfiller_thickness = 6\n'
    )
    for wide, narrow in (
        ("width = 430", "width = 390"),
        ("width = 380", "width = 330"),
        ("radius = 50", "radius = 130"),
    ):
        text = text.replace(wide, narrow)
    text = text.replace('name = "test"\n', 'name = "test"\n[output]\nmesh = 14\n')
    pads = built_pads(sheet_of(text), (0.1, 0.1), lambda work, tasks, *_: [work(task) for task in tasks], unheard)
    rows = line_up(pads)
    assert 5 <= len(rows) == len(pads[1].pleats.valleys) < 11
    assert [row.index for row in rows] == sorted(-row.index for row in rows)
    assert np.abs([row.offset_mm for row in rows]).max() < NUDGED_MM
    assert any(problem.code == "G131" and "find no room" in problem.text for problem in pads[1].problems)


def test_a_cushion_may_follow_the_backrest():
    rows = line_up(seat('lines_up_with = "rest"', "count = 9\nhalf_at_sides = true"))
    assert len(rows) >= 8
    assert np.abs([row.offset_mm for row in rows]).max() < 0.05


def test_a_backrest_beside_the_centre_keeps_its_offset_out_of_the_pairing():
    rows = line_up(seat("count = 8", "count = 8", x=30.0))
    assert rows[3].index == 0
    assert rows[3].offset_mm == pytest.approx(30.0, abs=1e-9)


def test_pads_far_apart_or_without_pleats_do_not_line_up():
    assert line_up(seat("count = 8", "count = 8", x=900.0)) == ()
    assert line_up(seat("count = 8", 'count = 6\ndirection = "across"')) == ()


def test_what_helps_pads_that_miss_each_other_is_something_not_written_yet():
    own, following = seat("count = 8", "count = 8"), seat("count = 8", 'lines_up_with = "cushion"')
    wide = [Offset("cushion", "rest", 1, "right valley 1", 4.0)]
    (note,) = line_up_notes(line_up(own), own)
    assert 'write lines_up_with = "cushion" under the pleats of rest' in note.text
    assert not line_up_notes(line_up(following), following), "followed, it helps"
    (note,) = line_up_notes(wide, following)
    assert "lines_up_with" not in note.text, "what the sheet says already is no advice"
    assert "more alike" in note.text
    fewer = [following[0], seat("count = 6", "count = 6")[1]]
    fewer[1] = replace(fewer[1], pleats=replace(fewer[1].pleats, plan=following[1].pleats.plan))
    (note,) = line_up_notes(wide, fewer)
    assert "8 pleats against 6: give both the same number" in note.text


def layout_of(pad):
    def make_problem(code, keys, text):
        return Problem(code, "pad", text)

    return pleat_plan(pad, pad_chart(pad, edge_thickness(pad), make_problem), make_problem).layout


@pytest.mark.parametrize("width", range(330, 450, 9))
def test_no_width_of_a_backrest_leaves_it_a_sliver_for_an_outer_pleat(width):
    text = FLAT + "[pad.pleats]\ncount = 8\n" + REST.format(x=0.0) + 'lines_up_with = "cushion"\nfiller_thickness = 3\n'
    for was, number in (("bottom_width", 430), ("top_width", 380)):
        text = text.replace(f"{was} = {number}", f"{was} = {width}")
    layout = layout_of(sheet_of(text).pads[1])
    assert layout.widths == pytest.approx(layout.widths[::-1])
    assert layout.widths[0] >= OUTER_SHARE * layout.widths[1] - 0.01
