"""Pleated pieces that fit on no hide, parted at a valley."""

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import LineString, Polygon

import flatten
from flatten.hides.asks import leather_cuts
from flatten.hides.laid import lay_hides
from flatten.hides.parted import partings
from flatten.written.hide_files import hide_files
from meshes.sheet.read import read_sheet
from tests.pads import FLAT

SHEET = FLAT.replace('name = "test"', 'name = "test"\n[output]\nmesh = 30\n')
PLEATS = "[pad.pleats]\ncount = 6\n"


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    sheet = tmp_path_factory.mktemp("parted") / "sheet.toml"
    sheet.write_text(SHEET + PLEATS)
    return flatten.make(sheet)


def test_both_parts_reach_beyond_the_valley_by_the_allowance_and_make_the_whole(job):
    face = next(cut for cut in leather_cuts(job) if cut.name == "cushion face")
    ways = list(partings(face, 12.0))
    assert len(ways) == 5
    whole = Polygon(face.points)
    assert "centre" in ways[0].valley
    for way in ways:
        one, other = (Polygon(part.points) for part in way.parts)
        assert one.union(other).symmetric_difference(whole).area < 1e-3 * whole.area
        # They lie over each other by the allowance on both sides of the valley, carried on to the cut line.
        begin, end = way.line[0], way.line[-1]
        on = 300.0 * (end - begin) / np.hypot(*(end - begin))
        line = LineString([begin - on, *way.line, end + on])
        shared = one.intersection(other)
        assert shared.area == pytest.approx(24.0 * line.intersection(whole).length, rel=0.03)
        assert line.buffer(12.5).covers(shared)
        assert all(part.part_of is face and part.leather == face.leather for part in way.parts)


def test_a_face_wider_than_any_hide_is_laid_in_two_parts_which_is_told(job, tmp_path):
    face = next(cut for cut in leather_cuts(job) if cut.name == "cushion face")
    wide, high = np.ptp(face.points, axis=0)
    # Along the backbone there is room for the face, across it for two thirds.
    across = 0.66 * wide + 60.0
    hide = f"""
[[hide]]
name = "narrow"
outline = [[0, 0], [4900, 0], [4900, {across:.0f}], [0, {across:.0f}]]
backbone = [[0, {across / 2:.0f}], [4900, {across / 2:.0f}]]
[[hide.zone]]
name = "butt"
points = [[0, 0], [4900, 0], [4900, {across:.0f}], [0, {across:.0f}]]
"""
    assert high < 4800.0
    sheet = tmp_path / "sheet.toml"
    sheet.write_text(SHEET + PLEATS + hide)
    laid = lay_hides(replace(job, sheet=read_sheet(sheet)), rounds=0)
    (told,) = [problem for problem in laid.problems if problem.code == "H018"]
    assert told.where == "cushion face"
    assert "12 mm" in told.text
    names = [one.cut.name for one in laid.cuts]
    parts = [one for one in laid.cuts if one.cut.part_of is not None]
    assert len(parts) == 2
    assert "cushion face" not in names
    assert not {"H003"} & {problem.code for problem in laid.problems if "face" in problem.text}
    shapes = [Polygon(one.points) for one in laid.cuts]
    assert min(a.distance(b) for k, a in enumerate(shapes) for b in shapes[:k]) >= 3.0 - 1e-6
    drawn = hide_files(replace(job, sheet=read_sheet(sheet)), laid, flesh_up=False).files
    assert drawn["hide narrow.dxf"]
