"""Pleated pieces that fit on no hide, parted at valleys: on the hides as on paper."""

import csv
import io
import json
from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from shapely.geometry import LineString, Polygon

from flatten.hides.asks import leather_cuts
from flatten.hides.laid import lay_hides
from flatten.hides.parted import made_for_other_hides, make_for_hides, part_outlines, partings
from flatten.kept.memory import MemoryStore
from flatten.kept.pool import Kept, kept_pool
from flatten.nesting.outline import ring
from flatten.pieces.piece import MarkKind
from flatten.report.cut_list import cutlist_csv
from flatten.work.job_steps import job_sheet
from flatten.work.told import step_rows
from meshes.base.problems import ProblemError
from meshes.records.coverings import RollGoods
from meshes.sheet.read import read_sheet
from tests.pads import FLAT

SHEET = FLAT.replace('name = "test"', 'name = "test"\n[output]\nmesh = 30\n')
PLEATS = "[pad.pleats]\ncount = 6\n"


@pytest.fixture(scope="module")
def made():
    """Does the main job; what another sheet has in common with an earlier one is taken from there."""
    with kept_pool(Kept(MemoryStore()), 1) as pool:
        yield partial(make_for_hides, workers=pool)


def hide(across):
    """A long hide, so wide across its backbone, all of it butt."""
    return f"""
[[hide]]
name = "narrow"
outline = [[0, 0], [4900, 0], [4900, {across:.0f}], [0, {across:.0f}]]
backbone = [[0, {across / 2:.0f}], [4900, {across / 2:.0f}]]
[[hide.zone]]
name = "butt"
points = [[0, 0], [4900, 0], [4900, {across:.0f}], [0, {across:.0f}]]
"""


def sheet_with(folder, text):
    path = folder / "sheet.toml"
    path.write_text(SHEET + PLEATS + text)
    return path


@pytest.fixture(scope="module")
def whole(tmp_path_factory, made):
    return made(sheet_with(tmp_path_factory.mktemp("whole"), hide(1600)))


@pytest.fixture(scope="module")
def width(whole):
    """How wide the face is across the backbone, allowances too."""
    (face,) = (cut for cut in leather_cuts(whole) if cut.name == "cushion face")
    return float(np.ptp(face.points[:, 0]))


@pytest.fixture(scope="module")
def parted(tmp_path_factory, width, made):
    """Made for a hide on which there is room for two thirds of the face."""
    return made(sheet_with(tmp_path_factory.mktemp("parted"), hide(0.66 * width + 60.0)))


def test_parts_reach_beyond_their_valleys_by_the_allowance_and_make_the_whole():
    points = ring(Polygon([(0, 0), (600, 0), (600, 400), (0, 400)]))
    lines = [np.array([[x, 20.0], [x + 8.0, 380.0]]) for x in (150.0, 400.0)]
    parts = [Polygon(part) for part in part_outlines(points, lines, 12.0)]
    assert len(parts) == 3
    whole = Polygon(points)
    assert parts[0].union(parts[1]).union(parts[2]).symmetric_difference(whole).area < 1e-3 * whole.area
    for k, line in enumerate(lines):
        shared = parts[k].intersection(parts[k + 1])
        way = (line[1] - line[0]) / 18.0
        assert LineString([line[0] - way, line[1] + way]).buffer(13.0).covers(shared)
        assert shared.area == pytest.approx(24.0 * 400.0, rel=0.01)


def test_a_face_that_has_room_stays_whole(whole):
    assert not partings(whole)
    assert not [problem for problem in whole.problems if problem.code == "H018"]
    assert "cushion face" in {cut.name for cut in leather_cuts(whole)}


def test_a_face_wider_than_its_roll_is_parted_too(whole):
    def ways(usable_mm):
        goods = RollGoods(width_mm=1400.0, usable_mm=usable_mm)
        return partings(replace(whole, sheet=replace(whole.sheet, roll=goods)))

    assert not ways(500.0)
    (way,) = ways(300.0)
    assert (way.piece, way.joins, way.words) == ("cushion face", (3,), ("centre valley",))
    (narrow,) = ways(200.0)
    assert narrow.joins == (2, 4)
    assert dict(narrow.renamed) == {"cushion face": ("cushion left face", "cushion centre face", "cushion right face")}


def test_a_face_wider_than_any_hide_is_parted_on_the_hide_and_on_every_paper(parted):
    (told,) = [problem for problem in parted.problems if problem.code == "H018"]
    assert told.where == "cushion face"
    assert "12 mm" in told.text
    assert "joins = [3]" in told.text
    laid = lay_hides(parted, rounds=0)
    # Bands are as wide as the face, and have no valleys.
    assert {name for name in laid.unplaced if "band" not in name} == set()
    on_hide = {one.cut.name: one.points for one in laid.cuts}
    assert {"cushion right face", "cushion left face"} < set(on_hide)
    assert "cushion face" not in on_hide
    drawn = {f"{piece.pad} {piece.name}": piece for piece in parted.pieces}
    right = next(piece for name, piece in drawn.items() if name.startswith("cushion right face"))
    assert Polygon(on_hide["cushion right face"]).area == pytest.approx(Polygon(right.cut).area, rel=1e-9)
    # Their common edge lies at the valley.
    valley = [row for row in parted.seams if {row.a, row.b} == {"cushion right face", "cushion left face"}]
    assert valley
    assert all(row.sews for row in valley)
    assert [mark.text for mark in right.marks if mark.kind is MarkKind.VALLEY]
    rows = [row for row in csv.DictReader(io.StringIO(cutlist_csv(parted).decode())) if row["kind"] == "piece"]
    assert [row["name"] for row in rows if "face" in row["name"]] == ["right face (left face mirrored)"]
    steps = json.dumps(step_rows(job_sheet(parted)))
    assert "right face to left face" in steps or "left face to right face" in steps


def test_parts_that_have_no_room_are_parted_again(tmp_path, width, made):
    # Half the face, as the sheet has it parted, has no room either.
    job = made(sheet_with(tmp_path, "joins = [3]\n" + hide(0.38 * width + 60.0)))
    (told,) = [problem for problem in job.problems if problem.code == "H018"]
    assert told.where.startswith("cushion")
    (pad,) = job.sheet.pads
    joins = pad.pleats.joining.joins
    assert 3 in joins
    assert len(joins) == 3
    assert {6 - number for number in joins} == {*joins}
    laid = lay_hides(job, rounds=0)
    assert sum("face" in one.cut.name for one in laid.cuts) == 4
    assert not partings(job)


def test_rows_about_parts_and_the_whole_are_followed(tmp_path, width, parted, made):
    valley = next(row.name for row in parted.seams if {row.a, row.b} == {"cushion right face", "cushion left face"})
    rows = '[[placing]]\npieces = ["cushion face"]\nzones = ["butt", "neck"]\n'
    rows += f'[[seam]]\nseam = "{valley}"\nkind = "double topstitched"\n'
    job = made(sheet_with(tmp_path, hide(0.66 * width + 60.0) + rows))
    (placed,) = job.sheet.hides.placings
    assert {*placed.pieces} == {"cushion right face", "cushion left face"}
    # Without need to part it there is no such seam, which is told.
    with pytest.raises(ProblemError, match="right face"):
        made(sheet_with(tmp_path, hide(1600) + rows))


def test_other_hides_make_a_job_anew_only_where_they_part_it_otherwise(tmp_path, whole, width):
    again = []
    other = made_for_other_hides(whole, read_sheet(sheet_with(tmp_path, hide(1500))), again.append)
    assert not again
    assert other.pieces is whole.pieces
    made_for_other_hides(whole, read_sheet(sheet_with(tmp_path, hide(0.66 * width + 60.0))), again.append)
    assert len(again) == 1
