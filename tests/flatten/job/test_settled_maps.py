"""Pads settled again at what their pieces as cut pull with: what is made again, what is kept, and cuts carried over."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from flatten.demand.develop import flatten
from flatten.job import settled_maps as module
from flatten.job.pads import built_pads
from flatten.job.pipeline import finish
from flatten.job.pulls import SAME_SHARE, panel_pulls, settled_at
from flatten.job.settled_maps import SETTLED_AGAIN, MadeCut, SeatBeforeCuts, cut_and_sewn, settled_maps
from flatten.job.tension import most_off
from flatten.leather.card_file import card_from_sheet
from flatten.relief.candidates import Candidate
from flatten.relief.cutting import mapped
from flatten.relief.search import cut_as
from meshes.base.problems import Problem, ProblemError
from meshes.base.progress import unheard
from tests.pads import FLAT, sheet_of

DOMED = FLAT.replace('name = "test"', 'name = "test"\n[cover]\nleather = "soft"\ntension = 60\n[output]\nmesh = 20') + (
    """
[[pad.profile]]
direction = "along"
at = 0
points = [[0, 0], [80, 26], [160, 34], [240, 24], [300, 4]]
[[pad.layer]]
material = "foam_medium"
thickness = 30
where = "all"
[pad.inset]
front = 0
rear = 0
left = 90
right = 90
corner_radius = 30
"""
)


def one_by_one(work, tasks, *told):
    return [work(task) for task in tasks]


def seat_of_answers(monkeypatch, answers, *, tensions, led=()):
    """A seat of pads with one face each, which pulls as `answers` say of what it was settled at; what was asked for."""
    asked = []

    def pad(k, tension):
        leader = SimpleNamespace(name=f"pad {led[k]}") if k < len(led) and led[k] is not None else None
        return SimpleNamespace(
            pad=SimpleNamespace(name=f"pad {k}", leader=leader, continues=None),
            closed=None,
            panels=(SimpleNamespace(name=f"pad {k} face", part="face", mirror_of=None),),
            tension=tension,
        )

    def anew(sheet, pads, tensions, which, each):
        asked.append((tuple(tensions), tuple(which)))
        followers = {k for k in range(len(led)) if led[k] in which}
        return tuple(pad(k, tensions[k]) if k in {*which, *followers} else old for k, old in enumerate(pads))

    def pulls(pad, wholes, flats, coverings):
        return {"face": flats[f"{pad.pad.name} face"]}

    def flats(sheet, leather, pads, *given, **more):
        return {
            f"{one.pad.name} face": answers[int(one.pad.name.split()[1])](settled_at(one.tension, "face"))
            for one in pads
        }

    monkeypatch.setattr(module, "settled_anew", anew)
    monkeypatch.setattr(module, "matched_flats", flats)
    monkeypatch.setattr(module, "reached_by_wholes", pulls)
    monkeypatch.setattr(module, "wholes_of", lambda whole, pad: {"face": "face"})
    monkeypatch.setattr(module, "cut_and_sewn", lambda sheet, seat: (seat.pads, {}))
    monkeypatch.setattr(module, "coverings_of", lambda *given: None)
    monkeypatch.setattr(module, "tension_of", lambda *given: 9.0)
    monkeypatch.setattr(module, "mirrored_pads", lambda pads: {})
    sheet = SimpleNamespace(eases=(), pads=())
    seat = SeatBeforeCuts(tuple(pad(k, t) for k, t in enumerate(tensions)), tuple(tensions))
    return settled_maps(sheet, None, seat, one_by_one, unheard), seat, asked


def off(found, answers):
    return [abs(answers[k](settled_at(t, "face")) / settled_at(t, "face") - 1.0) for k, t in enumerate(found.tensions)]


@pytest.mark.parametrize(("share", "again"), [(0.99, False), (1.01, True)])
def test_a_pad_is_settled_again_only_where_its_pieces_pull_otherwise_than_is_left_untold(monkeypatch, share, again):
    found, seat, asked = seat_of_answers(
        monkeypatch, [lambda x: 0.1, lambda x: 0.1 + 0.1 * share * SAME_SHARE], tensions=(0.1, 0.1)
    )
    assert bool(asked) == again
    assert found.seat.pads[0] is seat.pads[0], "a pad that agrees stays as it is"
    assert (found.seat.pads[1] is seat.pads[1]) != again


@pytest.mark.parametrize("power", [-2.0, 0.0, 0.5, 1.0, 2.0, 5.0])
def test_no_pad_ends_farther_from_its_pieces_than_it_began_after_two_rounds_at_most(monkeypatch, power):
    answers = [lambda x: 0.1 * (x / 0.1) ** -power, lambda x: 0.1]
    found, _, asked = seat_of_answers(monkeypatch, answers, tensions=(0.13, 0.1))
    assert 1 <= len(asked) <= SETTLED_AGAIN
    before = abs(answers[0](0.13) / 0.13 - 1.0)
    assert off(found, answers)[0] <= before
    if 0.0 <= power <= 1.0:
        assert off(found, answers)[0] <= SAME_SHARE < before
    # What stands is one record: pads, what they were settled at, and their maps.
    for k, pad in enumerate(found.pads):
        assert pad.tension == found.tensions[k] == found.seat.tensions[k]
        assert found.flats[f"pad {k} face"] == answers[k](settled_at(pad.tension, "face"))


def test_pads_that_follow_each_other_are_kept_together(monkeypatch):
    """The leader would come nearer, but its follower, laid out anew with it, goes farther off: neither is taken."""
    told = []

    def follower(x):
        told.append(x)
        return 0.1 if len(told) == 1 else 0.9

    found, seat, asked = seat_of_answers(monkeypatch, [lambda x: 0.08, follower], tensions=(0.1, 0.1), led=(None, 0))
    assert asked
    assert len(told) > 1
    assert found.seat.pads == seat.pads


def test_a_surface_that_cannot_be_had_leaves_what_was_found(monkeypatch):
    def refused(*given):
        raise ProblemError([Problem("G141", "here", "no rest")])

    answers = [lambda x: 0.1]
    plain = seat_of_answers(monkeypatch, answers, tensions=(0.1,))[1]
    monkeypatch.setattr(module, "settled_anew", refused)
    far = replace(plain, tensions=(0.5,))
    found = settled_maps(SimpleNamespace(eases=(), pads=()), None, far, one_by_one, unheard)
    assert found.seat is far


@pytest.fixture(scope="module")
def seat():
    """A domed cushion, settled with tensions from which its bolsters' pieces pull otherwise by a third."""
    sheet = sheet_of(DOMED)
    tensions = {"inset": 0.09, "front band": 0.115}
    for side in ("left", "right"):
        tensions |= {f"{side} bolster": 0.14, f"{side} band": 0.15}
    return sheet, SeatBeforeCuts(built_pads(sheet, [tensions], one_by_one, unheard), (tensions,))


def worst(found, leather):
    rows = [
        r
        for pad, at in zip(found.pads, found.tensions, strict=True)
        for r in panel_pulls(pad, found.flats, leather, at)
    ]
    return max(abs(row.off) for row in rows)


def test_a_real_pad_ends_where_its_pieces_pull_as_it_was_settled(seat, monkeypatch):
    sheet, start = seat
    leather = card_from_sheet(sheet)
    found = settled_maps(sheet, leather, start, one_by_one, unheard)
    monkeypatch.setattr(module, "SETTLED_AGAIN", 0)
    plain = settled_maps(sheet, leather, start, one_by_one, unheard)
    assert worst(plain, leather) > SAME_SHARE
    assert worst(found, leather) <= SAME_SHARE


@pytest.fixture(scope="module")
def cut(seat):
    """The same cushion with a seam across its inset, off the centre line, and the cut."""
    sheet, start = seat
    pads, _ = cut_and_sewn(sheet, start)
    panel = next(p for p in pads[0].panels if p.part == "inset")
    plan = flatten(panel.surface.vertices, panel.surface.triangles).points
    low, size = plan.min(axis=0), np.ptp(plan, axis=0)
    line = tuple(low + size * np.array(place) for place in ((0.0, 0.62), (1.0, 0.55)))
    seen = np.ones(len(panel.vertices), dtype=bool)
    relief = cut_as(
        mapped(panel.surface.vertices, panel.surface.triangles, plan),
        Candidate("seam", "a seam", (line,), False),
        0.0,
        seen,
    )
    assert relief is not None
    return MadeCut(0, panel.name, relief)


def test_after_a_cut_the_uncut_pad_is_settled_again_and_cut_in_the_same_places(seat, cut, monkeypatch):
    sheet, start = seat
    leather = card_from_sheet(sheet)
    start = replace(start, cuts=((cut,),))
    found = settled_maps(sheet, leather, start, one_by_one, unheard)
    monkeypatch.setattr(module, "SETTLED_AGAIN", 0)
    plain = settled_maps(sheet, leather, start, one_by_one, unheard)
    (pad,), (was,) = found.pads, plain.pads
    off, left = (most_off(*module._trials(sheet, leather, one)[0]) for one in (plain, found))
    assert off > SAME_SHARE, "a pad that agrees shows nothing"
    assert left <= SAME_SHARE
    # The same mesh over the same ground, under a cover that lies elsewhere.
    assert np.array_equal(pad.surface.triangles, was.surface.triangles)
    assert np.array_equal(pad.support.vertices, was.support.vertices)
    assert np.abs(pad.surface.vertices - was.surface.vertices).max() > 0.1
    assert [panel.name for panel in pad.panels] == [panel.name for panel in was.panels]
    for panel in pad.panels:
        assert np.array_equal(panel.surface.vertices, pad.surface.vertices[panel.vertices])
    # Both parts were settled at one tension: that of the panel they were cut from.
    parts = [panel.part for panel in pad.panels if panel.part not in ("left bolster", "right bolster", "front band")]
    inset = [part for part in parts if "inset" in part]
    assert len(inset) == 2
    (tension,) = found.tensions
    assert len({settled_at(tension, part) for part in inset}) == 1


def test_what_is_told_is_that_of_the_last_surface(seat, cut):
    sheet, start = seat
    job = finish(sheet, card_from_sheet(sheet), replace(start, cuts=((cut,),)), workers=1)
    told = {problem.where for problem in job.problems if problem.code == "F321"}
    rows = [
        r
        for pad, at in zip(job.pads, job.tensions, strict=True)
        for r in panel_pulls(pad, job.flats, job.coverings, at)
    ]
    assert told == {row.name for row in rows if abs(row.off) > SAME_SHARE}
    (pad,), (whole,) = job.pads, job.before_cuts.pads
    assert pad.rest is whole.rest
    assert pad.rest.tension_n_per_mm == pytest.approx(np.mean(list(job.before_cuts.tensions[0].values())))
    assert job.before_cuts.tensions != start.tensions
