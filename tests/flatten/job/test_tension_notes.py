"""What a trial is built with, and what is told where a piece pulls otherwise than its seat was settled at."""

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from flatten.job import tension
from flatten.job.pads import tension_of
from flatten.job.tension import LEAST_N_PER_MM, SAME_SHARE, agreed_tensions, pull_of_panel, tension_notes
from flatten.leather.card_file import find_card
from meshes.base.problems import Problem, ProblemError
from meshes.base.progress import unheard
from meshes.sheet.read import read_sheet
from meshes.sheet.starter import starter_text
from tests.samples import sample_job


@pytest.fixture
def sheet(tmp_path):
    (tmp_path / "seat.toml").write_text(starter_text())
    return read_sheet(tmp_path / "seat.toml")


@pytest.mark.parametrize(("mesh", "trial"), [(2.0, 14.0), (6.0, 18.0), (7.0, 21.0), (10.0, 24.0), (30.0, 30.0)])
def test_a_trial_has_triangles_three_times_as_large_but_of_14_to_24_mm(monkeypatch, sheet, mesh, trial):
    seen = []

    def refused(asked, *given, **options):
        seen.append(asked.output.mesh)
        raise ProblemError([Problem("G102", "here", "no room")])

    monkeypatch.setattr(tension, "built_pads", refused)
    monkeypatch.setattr(tension, "tension_of", lambda *given: 0.1)
    asked = replace(sheet, output=replace(sheet.output, mesh=mesh))
    # A trial that cannot be built leaves the wish as it is.
    assert agreed_tensions(asked, find_card("furniture"), lambda *given: [], unheard) == [0.1] * len(sheet.pads)
    assert seen == [trial]


def test_one_pad_of_many_that_pulls_otherwise_is_enough_for_another_trial(monkeypatch, sheet):
    two = replace(sheet, pads=(sheet.pads[0], sheet.pads[0]))
    told, heard = [], []
    monkeypatch.setattr(tension, "tension_of", lambda *given: 0.1)
    monkeypatch.setattr(tension, "built_pads", lambda trial, tensions, *given, **o: told.append(tensions) or (0, 1))
    monkeypatch.setattr(tension, "panels_told_apart", lambda pads: pads)
    monkeypatch.setattr(tension, "matched_flats", lambda *given, **options: {})
    monkeypatch.setattr(tension, "_reached", lambda pad, flats, leather: {"face": 0.1 if pad == 0 else 0.05})
    agreed_tensions(two, find_card("furniture"), lambda *given: [], lambda *news: heard.append(news))
    assert len(told) == 2
    assert [(done, of) for _, done, of in heard] == [(0, 2), (1, 2)]


def test_a_slack_first_trial_counts_as_the_least_pull(monkeypatch):
    """ln of nothing is no number: both trials are floored alike, whatever lies below."""
    least, none = ({"face": 0.04}, {"face": LEAST_N_PER_MM}), ({"face": 0.04}, {"face": 0.0})
    now = ({"face": 0.02}, {"face": 0.01})
    assert tension._next([none, now]) == tension._next([least, now])
    assert tension._next([now, none]) == tension._next([now, least])


def test_the_sheets_tension_comes_before_the_leathers(sheet):
    leather = find_card("furniture")
    free = replace(sheet, cover=replace(sheet.cover, tension=None))
    assert tension_of(free, leather) == leather.tension_n_per_mm > 0.0
    assert tension_of(replace(sheet, cover=replace(sheet.cover, tension=85.0)), leather) == pytest.approx(0.085)
    assert tension_of(replace(sheet, cover=replace(sheet.cover, tension=0.0)), leather) == 0.0


@pytest.fixture
def pulls(monkeypatch):
    """What the panels' pieces pull with, by name."""
    told = {}
    monkeypatch.setattr(
        tension, "pull_of_panel", lambda panel, flat, leather: SimpleNamespace(tension_n_per_mm=told[panel.name])
    )
    return told


def pad_of(*parts):
    panels = tuple(SimpleNamespace(name=f"seat {part}", part=part) for part in parts)
    return SimpleNamespace(pad=SimpleNamespace(name="seat"), panels=panels)


@pytest.mark.parametrize(
    ("settled", "face", "band", "words"),
    [
        (0.1, 0.1, 0.1 + 0.099 * SAME_SHARE, None),
        (0.1, 0.1, 0.1 + 0.101 * SAME_SHARE, ("band pulls with 115 N/m", "settled at 100 N/m", "a little more")),
        (0.1, 0.05, 0.12, ("face pulls with 50 N/m", "settled at 100 N/m", "a little less")),
        ({"face": 0.05, "band": 0.2}, 0.05, 0.14, ("band pulls with 140 N/m", "settled at 200 N/m", "a little less")),
        ({"face": 0.0, "band": 0.2}, 0.9, 0.2, None),
        (0.0, 0.9, 0.9, None),
    ],
)
def test_the_panel_that_pulls_most_otherwise_is_told(pulls, settled, face, band, words):
    pulls |= {"seat face": face, "seat band": band}
    flats = {"seat face": None, "seat band": None}
    notes = tension_notes([pad_of("face", "band")], flats, None, [settled])
    assert [note.code for note in notes] == ([] if words is None else ["F321"])
    for note in notes:
        assert note.warning
        assert note.where == "pad seat"
        assert all(re.search(word, note.text) for word in words)


def test_the_pull_of_a_panel_is_that_of_its_stretch_from_piece_to_seat():
    """A piece drawn smaller is pulled more, one drawn larger less."""
    job = sample_job()
    name = max(job.panels, key=lambda n: len(job.panels[n].triangles))
    panel, flat = job.panels[name], job.flats[name]
    found = [
        pull_of_panel(panel, replace(flat, points=size * flat.points), job.leather).tension_n_per_mm
        for size in (0.99, 1.0, 1.01)
    ]
    assert found[0] > found[1] > found[2]
    assert np.isfinite(found).all()
