"""What a trial is built with, and what is told where a piece pulls otherwise than its seat was settled at."""

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from flatten.job import pulls as pulls_module
from flatten.job import tension
from flatten.job.pads import tension_of
from flatten.job.pulls import (
    SAME_SHARE,
    pull_of_panel,
    reached_by_wholes,
    settled_words,
    tension_notes,
    tension_of_parts,
)
from flatten.job.tension import LEAST_N_PER_MM, agreed_tensions
from flatten.leather.card_file import find_card
from meshes.base.problems import Problem, ProblemError
from meshes.base.progress import unheard
from meshes.records.alignment import UNALIGNED
from meshes.seat.panels import PanelRole
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
    monkeypatch.setattr(tension, "mirrored_pads", lambda pads: {})
    monkeypatch.setattr(tension, "tension_of", lambda *given: 0.1)
    pads = [SimpleNamespace(alignment=UNALIGNED, pulls=pulls) for pulls in (0.1, 0.05)]
    monkeypatch.setattr(tension, "built_pads", lambda trial, tensions, *given, **o: told.append(tensions) or pads)
    monkeypatch.setattr(tension, "panels_told_apart", lambda pads: pads)
    monkeypatch.setattr(tension, "matched_flats", lambda *given, **options: {})
    monkeypatch.setattr(tension, "coverings_of", lambda *given: None)
    monkeypatch.setattr(tension, "_reached", lambda pad, flats, leather: {"face": pad.pulls})
    agreed_tensions(two, find_card("furniture"), lambda *given: [], lambda *news: heard.append(news))
    assert len(told) > 1
    assert [(done, of) for _, done, of in heard] == [(k, tension.TENSION_ROUNDS) for k in range(len(told))]
    # The pad that agrees stays as it is.
    assert {one[0] for one in told} == {0.1}


def test_a_slack_first_trial_counts_as_the_least_pull(monkeypatch):
    """ln of nothing is no number: both trials are floored alike, whatever lies below."""
    least, none = ({"face": 0.04}, {"face": LEAST_N_PER_MM}), ({"face": 0.04}, {"face": 0.0})
    now = ({"face": 0.02}, {"face": 0.01})
    assert tension.next_tension([none, now], 9.0) == tension.next_tension([least, now], 9.0)
    assert tension.next_tension([now, none], 9.0) == tension.next_tension([now, least], 9.0)


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
        pulls_module, "pull_of_panel", lambda panel, flat, leather: SimpleNamespace(tension_n_per_mm=told[panel.name])
    )
    return told


def pad_of(*parts, name="seat", mirrors=None):
    mirrors = mirrors or {}
    panels = tuple(
        SimpleNamespace(
            name=f"{name} {part}",
            part=part,
            role=PanelRole.FACE,
            mirror_of=f"{name} {mirrors[part]}" if part in mirrors else None,
        )
        for part in parts
    )
    return SimpleNamespace(pad=SimpleNamespace(name=name, on_frame=True), panels=panels, closed=None)


@pytest.mark.parametrize(
    ("settled", "face", "band", "told"),
    [
        (0.1, 0.1, 0.1 + 0.099 * SAME_SHARE, []),
        (0.1, 0.1, 0.1 + 0.101 * SAME_SHARE, [("seat band", "pulls with 115 N/m", "at 100 N/m", "a little more")]),
        (
            0.1,
            0.05,
            0.12,
            [
                ("seat face", "pulls with 50 N/m", "at 100 N/m", "a little less"),
                ("seat band", "pulls with 120 N/m", "at 100 N/m", "a little more"),
            ],
        ),
        (
            {"face": 0.05, "band": 0.2},
            0.05,
            0.14,
            [("seat band", "pulls with 140 N/m", "at 200 N/m", "a little less")],
        ),
        ({"face": 0.0, "band": 0.2}, 0.9, 0.2, []),
        (0.0, 0.9, 0.9, []),
    ],
)
def test_every_panel_that_pulls_otherwise_is_told_worst_first(pulls, settled, face, band, told):
    pulls |= {"seat face": face, "seat band": band}
    flats = {"seat face": None, "seat band": None}
    notes = tension_notes([pad_of("band", "face")], flats, None, [settled])
    assert [(note.code, note.where) for note in notes] == [("F321", where) for where, *_ in told]
    for note, (_, *words) in zip(notes, told, strict=True):
        assert note.warning
        assert all(re.search(word, note.text) for word in words)


def test_panels_of_all_pads_are_told_in_one_order_and_mirrored_ones_once(pulls):
    pulls |= {"seat face": 0.12, "seat left": 0.2, "seat right": 0.2, "back face": 0.15}
    pads = [pad_of("face", "left", "right", mirrors={"left": "right"}), pad_of("face", name="back")]
    notes = tension_notes(pads, dict.fromkeys(pulls), None, [0.1, {"face": 0.1}])
    assert [note.where for note in notes] == ["seat right", "back face", "seat face"]
    assert "seat left likewise" in notes[0].text


def test_a_pad_whose_panels_were_settled_apart_is_told_panel_by_panel():
    pad = pad_of("face", "left", "right")
    assert settled_words(pad, 0.2214) == "221 N/m"
    assert settled_words(pad, {"face": 0.2, "left": 0.2, "right": 0.2}) == "200 N/m"
    told = settled_words(pad, {"face": 0.246, "left": 0.19, "right": 0.19})
    assert told == "190 to 246 N/m (face 246, left and right 190)"


def test_parts_of_a_panel_that_is_cut_were_settled_at_what_it_was():
    wholes = {"face": "face", "front left": "left", "rear left": "left", "front right": "right", "rear right": "right"}
    at = {"face": 0.1, "left": 0.2, "right": 0.2}
    found = tension_of_parts(at, wholes)
    assert found == {"face": 0.1, "front left": 0.2, "rear left": 0.2, "front right": 0.2, "rear right": 0.2}
    assert tension_of_parts(0.3, wholes) == 0.3
    # A dart leaves the panel in one.
    assert tension_of_parts(at, {part: part for part in at}) == at


def test_a_cut_panel_pulls_with_the_mean_over_the_area_of_its_parts(monkeypatch):
    told = {"front": (0.1, 300.0), "rear": (0.2, 100.0), "band": (-0.1, 50.0)}
    monkeypatch.setattr(
        pulls_module,
        "pull_of_panel",
        lambda panel, flat, leather: SimpleNamespace(
            tension_n_per_mm=told[panel.part][0], area_mm2=told[panel.part][1]
        ),
    )
    pad = pad_of("front", "rear", "band")
    found = reached_by_wholes(
        pad, {"front": "face", "rear": "face", "band": "band"}, dict.fromkeys(p.name for p in pad.panels), None
    )
    assert found == {"face": pytest.approx(0.125), "band": 0.0}


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
