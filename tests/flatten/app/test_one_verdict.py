"""Demand, budget and verdict of a piece come from one record: nowhere do they contradict each other."""

from dataclasses import replace

import numpy as np
import pytest

from flatten.app.sheet_commands import _fits
from flatten.app.summary import summary
from flatten.demand.develop import flatten
from flatten.demand.options import Options, PrecomputedMap
from flatten.figures.report import report
from flatten.job.relieve import relieve_job
from flatten.leather.verdict import EASE, EASE_AREA, EASE_REACH_MM, Verdict, with_ease
from flatten.maps.certify import Certificate
from flatten.pieces.over_notes import over_words
from flatten.report.page import report_html
from tests.samples import sample_job

CERTAIN = Certificate(disc=True, flipped=0, rim_crossings=0)


@pytest.mark.parametrize("panel", report(sample_job())["panels"], ids=lambda panel: panel["name"])
def test_figures_and_verdict_say_the_same(panel):
    demand, budget, over = panel["demand"], panel["budget"], panel["over"]
    if panel["verdict"] == Verdict.FITS:
        assert demand <= budget
        assert over is None
        return
    assert demand > budget
    assert over["excess"] == pytest.approx((1 + demand) / (1 + budget) - 1, abs=3e-6)
    if panel["verdict"] == Verdict.EASE:
        assert over["excess"] <= EASE
        assert over["area_share"] <= EASE_AREA
        assert over["from_seam_mm"] <= EASE_REACH_MM
    if panel["verdict"] == Verdict.PROVEN:
        assert panel["floor"] > with_ease(budget)


def test_page_summary_and_papers_say_by_how_much():
    job = sample_job()
    page, lines = report_html(job, {}).decode(), summary(job)
    over = [piece for piece in job.pieces if job.flats[piece.panels[0]].over is not None]
    assert over
    for piece in over:
        words = over_words(piece, job.flats[piece.panels[0]])
        assert words in page
        assert words in lines
        assert any(note.startswith(words) for note in piece.notes)


def test_relief_takes_up_the_same_record():
    job = sample_job()
    for one in relieve_job(job, most=1, workers=1).advice:
        assert one.flat is job.flats[one.name]


def test_a_piece_by_itself_is_judged_as_in_the_job():
    job = sample_job()
    for name, panel in job.panels.items():
        flat = job.flats[name]
        options = Options(
            grain=panel.grain,
            precomputed=PrecomputedMap(flat.points, flat.backbone, flat.made.steps, flat.made.status),
            runs=tuple(edge.vertices for edge in panel.rim if edge.seam is not None),
        )
        again = flatten(panel.surface.vertices, panel.surface.triangles, leather=job.leather, options=options)
        assert again.verdict == flat.verdict
        assert again.budget == pytest.approx(flat.budget, abs=1e-9)
        assert np.allclose(again.use, flat.use, atol=1e-9)


@pytest.mark.parametrize("verdict", [None, *Verdict])
@pytest.mark.parametrize("certified", [True, False])
def test_strict_the_report_and_the_page_agree(verdict, certified):
    """One piece of a job that fits otherwise is judged in every way there is."""
    job = sample_job()
    fitting = {
        name: replace(flat, judgement=replace(flat.judgement, verdict=Verdict.FITS), certificate=CERTAIN)
        for name, flat in job.flats.items()
    }
    name = job.pieces[0].panels[0]
    odd = replace(
        fitting[name],
        judgement=replace(fitting[name].judgement, verdict=verdict),
        certificate=CERTAIN if certified else replace(CERTAIN, flipped=1),
    )
    one = replace(job, flats={**fitting, name: odd})
    wrong = verdict in (Verdict.TIGHT, Verdict.PROVEN) or not certified
    assert _fits(one, strict=True) == (3 if wrong else 0)
    assert _fits(one, strict=False) == 0
    assert report(one)["fits"] == (not wrong)
    page = report_html(one, {}).decode()
    said = "more than the leather gives" in page.split("<table")[0] or "may fold as drawn" in page
    assert said == wrong
