"""Figures after a fitting: of the pieces as they are cut, on the seat as computed or as it was found to be."""

import numpy as np
import pytest
from shapely.geometry import MultiPoint, Polygon

from flatten.figures.report import report
from flatten.fit.words import FIGURES_ARE
from flatten.leather.stretch import stretch
from flatten.orders.thread import thread_use
from flatten.report.edge_lengths import edge_lengths
from flatten.report.page import report_html
from meshes.base.surface import curve_length
from meshes.fitting.notes import FitNote, FitSpan
from meshes.schema.cover_tables import LOOSE, OFF_RIDGE
from tests.flatten.fit.test_fit_notes import noted, piece_of
from tests.samples import sample_job

MOVED = ("back face", "back top band")


@pytest.fixture(scope="module")
def taken():
    return noted((1, -6.0))


def row(out, found=None):
    return FitNote(1, 0, "back face", FitSpan("top band", "1", "2", out), found=found)


@pytest.mark.parametrize("out", [-6.0, 6.0])
def test_the_map_is_that_of_the_piece_as_it_is_cut(out):
    job, before = noted((1, out)), sample_job()
    for name in MOVED:
        drawn = {j: Polygon(piece_of(j, name).sew).area for j in (job, before)}
        maps = {j: j.flats[name].figures.area_piece_mm2 for j in (job, before)}
        assert maps[job] - maps[before] == pytest.approx(drawn[job] - drawn[before], rel=0.02)
        # the map drawn on the piece ends at its stitch line
        sew = Polygon(piece_of(job, name).sew).buffer(0.6)
        assert sew.covers(MultiPoint(piece_of(job, name).mesh.points))


def test_what_is_taken_in_is_stretched_more_and_what_is_let_out_lies_loose(taken):
    before, loose = sample_job(), noted((1, 6.0))
    for name in MOVED:
        old = before.flats[name]
        panel = before.panels[name]
        for job in (taken, loose):
            flat = job.flats[name]
            field = stretch(panel.surface.vertices, flat.points, panel.surface.triangles)
            assert np.array_equal(field.values, flat.stretch)
            assert flat.demand == field.demand
            assert flat.certified
            assert (flat.verdict == "fits") == (flat.over is None)
            assert (flat.demand <= flat.budget) == (flat.over is None)
        assert taken.flats[name].stretch.max() > old.stretch.max() + 0.02
        assert loose.flats[name].stretch.min() < old.stretch.min() - 0.02
        # what lies loose is not pulled smooth at the cost of the rest
        assert loose.flats[name].over.excess < taken.flats[name].over.excess
    for name, flat in before.flats.items():
        if name not in MOVED:
            assert taken.flats[name] is flat


def test_a_piece_that_is_made_too_tight_without_a_word_is_told(taken):
    (told,) = (p for p in taken.problems if p.code == "F342")
    assert "back face and back top band" in told.text
    assert f'found = "{LOOSE}"' in told.text
    assert not [p for p in noted(row(-6.0, LOOSE)).problems if p.code in ("F341", "F342")]


@pytest.mark.parametrize("found", [LOOSE, OFF_RIDGE])
def test_where_the_seat_was_seen_to_be_other_the_piece_asks_what_it_did(found):
    job, before = noted(row(-6.0, found)), sample_job()
    for name in MOVED:
        assert job.flats[name].demand == pytest.approx(before.flats[name].demand, abs=1e-12)
        assert job.flats[name].verdict == before.flats[name].verdict
        assert Polygon(piece_of(job, name).sew).area != pytest.approx(Polygon(piece_of(before, name).sew).area)


def test_rounds_that_take_each_other_back_leave_the_figures():
    job, before = noted((1, -4.0), (2, 4.0)), sample_job()
    for name in MOVED:
        assert job.flats[name].points == pytest.approx(before.flats[name].points, abs=1e-6)


def test_report_thread_and_lengths_are_those_of_the_pieces_as_cut(taken):
    before = sample_job()
    rows = {panel["name"]: panel for panel in report(taken)["panels"]}
    assert rows["back face"]["verdict"] == taken.flats["back face"].verdict != before.flats["back face"].verdict
    assert rows["back face"]["use"] != {p["name"]: p for p in report(before)["panels"]}["back face"]["use"]
    assert report_html(taken, {}).decode().count(FIGURES_ARE) == 1
    assert FIGURES_ARE not in report_html(before, {}).decode()
    longer = sum(max(s.length_a_mm, s.length_b_mm) for s in taken.seams) - sum(
        max(s.length_a_mm, s.length_b_mm) for s in before.seams
    )
    assert thread_use(taken).seams_mm - thread_use(before).seams_mm == pytest.approx(longer)
    assert abs(longer) > 0.1


def test_a_tack_line_that_is_cut_short_is_told_as_long_as_it_is():
    ends = ("corner towards face", "corner towards left tack line")
    job = noted((1, -2.0), piece="back left band", edge="top band", start=ends[0], end=ends[1])
    piece = piece_of(job, "back left band")
    long = {edge.name: curve_length(edge.points) for edge in piece.edges}["left tack line"]
    told = {edge.name: edge.paper_mm for edge in edge_lengths(job)}
    assert told["back left band left tack line"] == pytest.approx(long, abs=0.01)
    assert long == pytest.approx(
        {e.name: curve_length(e.points) for e in piece_of(sample_job(), "back left band").edges}["left tack line"] - 2,
        abs=0.1,
    )
