"""Proposals told and chosen: which one is taken, what is said of each, and what cannot be asked for."""

import inspect
import json
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from flatten.job.applied import (
    Applied,
    _check_choice,
    applied_text,
    apply_cuts,
    apply_until_it_fits,
    usual_choice,
)
from flatten.job.relieve import (
    EYE,
    GRAZE,
    ReliefAdvice,
    SheetRelief,
    place_words,
    relief_dict,
    relief_json,
    relief_text,
    relieve_job,
    relieve_mesh,
    seen_from_front,
)
from flatten.job.settled_maps import MadeCut, SeatBeforeCuts
from flatten.leather.verdict import Verdict
from flatten.relief.search import Study, relieve
from meshes.base.problems import ProblemError
from meshes.numerics.status import Ending, Status
from meshes.seat.assembly import placed
from tests.samples import sample_job

FINE, SHORT = Status(Ending.CONVERGED, 1e-4), Status(Ending.STEPS, 0.2)


def relief(after, *, even=True, status=FINE, kind="dart", words="a dart", visible=0.25):
    lines = (np.array([[0.0, 0.0, 0.0], [0.0, 30.0, 0.0]]),)
    return SimpleNamespace(
        kind=kind,
        words=words,
        lines=lines,
        paths=(),
        length_mm=123.4,
        demand_before=0.09,
        demand_after=after,
        after=(after, 0.5 * after),
        visible=visible,
        even=even,
        status=status,
    )


def advice(*reliefs, budget=0.05, name="seat face", mirrored=None, judged=True, places=None, status=FINE):
    flat = SimpleNamespace(budget=budget, demand=0.1, floor=0.02, verdict=Verdict.TIGHT)
    study = SimpleNamespace(reliefs=tuple(reliefs), demand=0.09, tried=17, status=status)
    places = tuple(f"edge {k}" for k in range(len(reliefs))) if places is None else places
    return ReliefAdvice(name, mirrored, flat, study, tuple(r.lines for r in reliefs), places, judged)


@pytest.mark.parametrize(
    ("reliefs", "chosen"),
    [
        ((), None),
        (((0.08, True), (0.07, True)), 2),
        (((0.08, True), (0.04, False), (0.03, True)), 3),
        (((0.08, True), (0.04, False), (0.06, True)), 2),
        (((0.05, True), (0.01, True)), 1),
    ],
)
def test_the_shortest_even_cut_that_fits_is_usual_then_the_shortest_then_the_one_that_asks_least(reliefs, chosen):
    assert usual_choice(advice(*(relief(after, even=even) for after, even in reliefs))) == chosen


def test_without_a_budget_there_is_no_verdict():
    one = advice(relief(0.01), relief(0.02), budget=None)
    assert one.verdict(one.study.reliefs[0]) is None
    assert usual_choice(one) == 2


@pytest.mark.parametrize(
    ("chosen", "codes"),
    [
        ({}, []),
        ({"seat face": 0}, []),
        ({"seat face": 2}, []),
        ({"seat face": 3}, ["R102"]),
        ({"seat face": -1}, ["R102"]),
        ({"other": 1}, ["R101"]),
        ({"other": 1, "seat face": 9}, ["R101", "R102"]),
    ],
)
def test_only_proposals_that_there_are_can_be_chosen(chosen, codes):
    found = SheetRelief(None, (advice(relief(0.01), relief(0.02)),))
    if not codes:
        _check_choice(found, chosen)
        return
    with pytest.raises(ProblemError) as refused:
        _check_choice(found, chosen)
    assert [problem.code for problem in refused.value.problems] == codes


def test_cuts_are_told_with_proposal_length_and_place():
    one = advice(relief(0.01), relief(0.02, words="two darts"), mirrored="seat left", places=("front", "rear"))
    found = SheetRelief(None, (one, advice(relief(0.01), name="back")))
    lines = applied_text(found, Applied(None, (("seat face", 2), ("back", 1), ("seat face a", 1)))).split("\n")
    assert lines == [
        "cut: seat face and, mirrored, seat left: proposal 2, two darts, 123 mm, rear",
        "cut: back: proposal 1, a dart, 123 mm, edge 0",
        "cut in a later round: seat face a: proposal 1",
    ]
    assert applied_text(found, Applied(None, ())) == "nothing was cut"


def test_proposals_are_told_in_order_with_their_figures():
    one = advice(relief(0.04), relief(0.07, words="a long seam", visible=1.0), mirrored="seat left", status=SHORT)
    head, first, second, problem = relief_text((one,)).split("\n")
    assert head == (
        "seat face (and seat left, mirrored): demand 10.0 %, budget 5.0 %: too tight; "
        "by its shape alone 9.0 %; 17 cuts tried"
    )
    assert first == "  1  a dart          123 mm   25 % seen   9.0 ->  4.0 %  fits  edge 0"
    assert second == "  2  a long seam     123 mm  100 % seen   9.0 ->  7.0 %  too tight  edge 1"
    assert "seat face" in problem
    assert [p.where for p in one.problems] == ["seat face"]
    told = advice(relief(0.04, status=SHORT), relief(0.04), relief(0.04, status=SHORT)).problems
    assert [p.where for p in told] == ["seat face, proposal 1", "seat face, proposal 3"]


def test_a_mesh_is_told_without_what_is_seen_and_where():
    one = advice(relief(0.04), judged=False, places=("",), budget=None)
    head, line = relief_text((one,)).split("\n")
    assert "budget" not in head
    assert "mirrored" not in head
    assert line == "  1  a dart     123 mm   9.0 ->  4.0 %  -"
    (panel,) = relief_dict((one,))["panels"]
    assert panel["proposals"][0]["visible"] is None
    assert relief_text(()) == "Every piece fits its leather; no cut is needed."
    none = relief_text((advice(),)).split("\n")
    assert len(none) == 2
    assert "no dart or seam takes enough of it away" in none[1]


def test_the_report_says_the_same_as_numbers():
    one = advice(relief(0.04), relief(0.07, even=False), mirrored="seat left")
    told = json.loads(relief_json((one,)))
    (panel,) = told["panels"]
    assert {
        key: panel[key] for key in ("name", "mirrored", "demand", "floor", "budget", "verdict", "alone", "tried")
    } == {
        "name": "seat face",
        "mirrored": "seat left",
        "demand": 0.1,
        "floor": 0.02,
        "budget": 0.05,
        "verdict": "too tight",
        "alone": 0.09,
        "tried": 17,
    }
    first, second = panel["proposals"]
    assert (first["demand_before"], first["demand_after"], first["parts"]) == (0.09, 0.04, [0.04, 0.02])
    assert (first["visible"], first["even"], second["even"]) == (0.25, True, False)
    assert (first["verdict"], second["verdict"]) == ("fits", "too tight")
    assert (first["place"], second["place"]) == ("edge 0", "edge 1")
    assert first["lines"] == [[[0.0, 0.0, 0.0], [0.0, 30.0, 0.0]]]
    assert told["problems"] == []


def test_places_are_named_by_the_edges_that_a_line_ends_on():
    rim = [
        SimpleNamespace(name="front", vertices=np.array([0, 1, 2])),
        SimpleNamespace(name="right", vertices=np.array([2, 3, 4])),
        SimpleNamespace(name="rear", vertices=np.array([4, 5, 0])),
    ]
    panel = SimpleNamespace(rim=rim)

    def words(kind, *paths):
        return place_words(panel, SimpleNamespace(kind=kind, paths=tuple(np.array(p) for p in paths)))

    # A dart ends at the rim, a seam begins and ends there; a corner is on two edges.
    assert words("dart", [9, 8, 1]) == "front"
    assert words("dart", [9, 8, 2]) == "front and right"
    assert words("seam", [3, 8, 9, 5]) == "right to rear"
    assert words("dart", [9, 1], [9, 3]) == "front; right"


def test_a_place_is_seen_where_it_faces_the_eye_by_more_than_a_graze():
    assert np.linalg.norm(EYE) == pytest.approx(1.0)
    job = sample_job()
    for pad in job.pads:
        seen = seen_from_front(pad)
        vertices, triangles = placed(pad.surface.vertices, pad.placement), pad.surface.triangles
        a, b, c = (vertices[triangles[:, k]] for k in range(3))
        faces = np.cross(b - a, c - a)
        cosine = faces @ EYE / np.linalg.norm(faces, axis=1)
        # A vertex whose triangles all face the eye clearly is seen, one whose triangles all look away is not.
        low, high = np.full(len(vertices), np.inf), np.full(len(vertices), -np.inf)
        for k in range(3):
            np.minimum.at(low, triangles[:, k], cosine)
            np.maximum.at(high, triangles[:, k], cosine)
        assert seen[low > GRAZE + 0.05].all()
        assert not seen[high < GRAZE - 0.05].any()
        assert 0 < seen.sum() < len(seen)


def test_tight_panels_are_looked_at_or_every_one_or_those_named(monkeypatch):
    job = sample_job()
    looked = []
    study = Study.__new__(Study)
    for name, value in (("reliefs", ()), ("demand", 0.1), ("tried", 0), ("status", FINE)):
        object.__setattr__(study, name, value)

    def relieve(task, *, most):
        looked.append((task, most))
        return study

    monkeypatch.setattr("flatten.job.relieve.relieve", relieve)
    drawn = [panel.name for pad in job.pads for panel in pad.panels if panel.mirror_of is None]
    verdicts = {name: Verdict.TIGHT if k == 1 else Verdict.FITS for k, name in enumerate(drawn)}
    flats = {
        n: replace(f, judgement=replace(f.judgement, verdict=verdicts.get(n, Verdict.FITS)))
        for n, f in job.flats.items()
    }
    told = replace(job, flats=flats)
    names = lambda **asked: [one.name for one in relieve_job(told, workers=1, **asked).advice]  # noqa: E731
    assert names() == [drawn[1]]
    assert names(every=True) == drawn
    assert names(only=[drawn[0], "none"]) == [drawn[0]]
    partners = {p.mirror_of: p.name for pad in job.pads for p in pad.panels if p.mirror_of}
    for one in relieve_job(told, every=True, most=3, workers=1).advice:
        assert one.mirrored == partners.get(one.name)
        assert one.judged
    for name, (task, most) in zip(drawn, looked[-len(drawn) :], strict=True):
        panel = job.panels[name]
        pad = next(pad for pad in job.pads if panel in pad.panels)
        assert np.array_equal(task.vertices, panel.surface.vertices)
        assert np.array_equal(task.plan, job.flats[name].points)
        assert most == 3
        assert task.budget == job.flats[name].budget
        assert len(task.seen) == len(task.vertices)
        assert (task.across is None) == (not pad.pad.symmetric)
        assert list(task.corners) == ([e.vertices[0] for e in panel.rim] if len(panel.rim) > 1 else [])


def seat_of(*panels, verdict=Verdict.TIGHT, cuts=()):
    pads = tuple(SimpleNamespace(panels=(SimpleNamespace(name=name),)) for name in panels)
    flats = {name: SimpleNamespace(verdict=verdict) for name in panels}
    before = SeatBeforeCuts(("uncut",) * len(pads), (0.2,) * len(pads), cuts)
    return SimpleNamespace(pads=pads, flats=flats, sheet="sheet", leather="leather", before_cuts=before)


def test_cuts_are_made_as_chosen_in_their_own_pads_after_those_made_before(monkeypatch):
    finished = []
    monkeypatch.setattr("flatten.job.applied.finish", lambda *given, **more: finished.append((given, more)) or "done")
    one = advice(relief(0.08), relief(0.04), name="seat face")
    two = advice(relief(0.08), relief(0.07), name="back face")
    none = advice(name="side face")
    earlier = (MadeCut(1, "seat", relief(0.1)),)
    job = seat_of("back face", "seat face", "side face", cuts=(earlier,))
    found = SheetRelief(job, (one, two, none))
    applied = apply_cuts(found, choice={"back face": 1}, workers=1)
    assert applied.job == "done"
    assert applied.cuts == (("seat face", 2), ("back face", 1))
    ((sheet, leather, seat), more) = finished[0]
    assert (sheet, leather, more["workers"]) == ("sheet", "leather", 1)
    assert (seat.pads, seat.tensions) == (job.before_cuts.pads, job.before_cuts.tensions)
    first, now = seat.cuts
    assert first is earlier
    assert [(cut.pad, cut.panel, cut.relief) for cut in now] == [
        (1, "seat face", one.study.reliefs[1]),
        (0, "back face", two.study.reliefs[0]),
    ]
    assert apply_cuts(found, choice={"back face": 0, "seat face": 0}).cuts == ()
    assert finished[1][0][2] is job.before_cuts


@pytest.mark.parametrize(("fits_after", "rounds", "cuts"), [(1, 3, 1), (2, 3, 2), (9, 3, 3), (9, 2, 2)])
def test_cuts_go_on_until_all_fits_or_rounds_are_over(monkeypatch, fits_after, rounds, cuts):
    done = []

    def finish(*given, **more):
        done.append(given)
        return seat_of("seat face", verdict=Verdict.FITS if len(done) >= fits_after else Verdict.TIGHT)

    looked = []
    again = lambda job, **more: looked.append(job) or SheetRelief(job, (advice(relief(0.04)),))  # noqa: E731
    monkeypatch.setattr("flatten.job.applied.finish", finish)
    monkeypatch.setattr("flatten.job.applied.relieve_job", again)
    found = SheetRelief(seat_of("seat face"), (advice(relief(0.04)),))
    applied = apply_until_it_fits(found, rounds=rounds, workers=1)
    assert applied.cuts == (("seat face", 1),) * cuts
    # What was found at first is not looked for again.
    assert len(looked) == cuts - 1
    assert len(done) == cuts


def test_where_nothing_helps_no_more_is_looked_for(monkeypatch):
    looked = []
    monkeypatch.setattr("flatten.job.applied.finish", lambda *given, **more: seat_of("seat face"))
    monkeypatch.setattr("flatten.job.applied.relieve_job", lambda job, **more: looked.append(job))
    found = SheetRelief(seat_of("seat face"), (advice(),))
    applied = apply_until_it_fits(found, workers=1)
    assert applied.cuts == ()
    assert looked == []


def test_as_many_proposals_are_usual_for_a_sheet_as_for_a_mesh():
    usual = {inspect.signature(asked).parameters["most"].default for asked in (relieve, relieve_job, relieve_mesh)}
    assert len(usual) == 1
