"""Pads that go on from neighbours: in what order they are built, how long, and what is told of it."""

from dataclasses import dataclass, replace
from types import SimpleNamespace

import numpy as np
import pytest

from flatten.job import continuing
from flatten.job.continuing import KINK_MM, WORTH, continued, continues_rows, continues_words
from meshes.base.problems import Problem, ProblemError
from meshes.records.alignment import UNALIGNED, Alignment
from meshes.records.built_up import BuiltUp, Continued, Continues, Meeting
from meshes.seat.continuation import LEVEL_MM, ROUNDS


@dataclass(frozen=True)
class FakePad:
    """What a pad says of itself; step: how far it is from its neighbour."""

    pad: SimpleNamespace
    step: float = 8.0
    continued: Continued | None = None
    alignment: Alignment = UNALIGNED


@dataclass(frozen=True)
class FakeSheet:
    pads: tuple

    def problem(self, code, keys, text):
        return Problem(code, "/".join(map(str, keys)), text)


@dataclass(frozen=True)
class Words:
    """The pad of a sheet."""

    name: str
    continues: Continues | None = None


def up(rise):
    return BuiltUp("left", ((0.0, 0.0), (0.0, 300.0)), (0.0, 300.0), rise, (0.0,) * len(rise), 80.0)


def met(step, kink=0.0, gap=0.0):
    return Meeting(np.array([10.0, 90.0]), np.array([0.0, step]), np.array([kink, 0.0]), np.zeros(2), gap)


def pads_of(asked):
    words = tuple(Words(name, None if of is None else Continues(of, "left")) for name, of in asked.items())
    return FakeSheet(words), tuple(FakePad(word) for word in words)


@pytest.fixture
def steps(monkeypatch):
    """What every pad meets its neighbour with, by how much is built up on it: step less rise."""
    seen = []

    def meeting(pad, other, make_problem):
        seen.append((pad.pad.name, other.pad.name))
        rise = pad.alignment.built_up.rise[0] if pad.alignment.built_up else 0.0
        return met(pad.step - rise)

    monkeypatch.setattr(continuing, "meeting", meeting)
    monkeypatch.setattr(continuing, "first", lambda pad, make_problem: up(()))
    monkeypatch.setattr(
        continuing,
        "corrected",
        lambda was, after, share: up(((was.rise[0] if was.rise else 0.0) + share * after.most_step_mm,)),
    )
    return seen


def builder(sheet, step=8.0, gives=1.0):
    """Builds a pad on which a share of what is built up arrives."""
    made = []

    def build(k, alignment):
        made.append(sheet.pads[k].name)
        rise = alignment.built_up.rise[0]
        return FakePad(sheet.pads[k], step + (1.0 - gives) * rise, alignment=alignment)

    return build, made


def test_neighbours_are_built_first_whatever_stands_first_in_the_sheet(steps):
    sheet, pads = pads_of({"end": "wing", "wing": "middle", "middle": None, "other": "middle"})
    build, made = builder(sheet)
    told = []
    done = continued(sheet, pads, build, lambda *news: told.append(news))
    assert [name for k, name in enumerate(made) if name not in made[:k]] == ["wing", "other", "end"]
    assert all(of == sheet.pads[[w.name for w in sheet.pads].index(name)].continues.pad for name, of in steps)
    assert [pad.pad.name for pad in done] == ["end", "wing", "middle", "other"]
    assert done[2].continued is None
    assert told == [("going on from the neighbour", k, 4) for k in (1, 2, 3)]


def test_a_pad_that_arrives_at_once_is_built_once_and_keeps_what_is_built_up(steps):
    sheet, pads = pads_of({"wing": "middle", "middle": None})
    build, made = builder(sheet)
    wing, middle = continued(sheet, pads, build, lambda *_: None)
    assert made == ["wing"]
    assert wing.continued.rounds == 1
    assert wing.continued.built_up.rise == (8.0,)
    assert (wing.continued.before.most_step_mm, wing.continued.after.most_step_mm) == (8.0, 0.0)
    assert wing.alignment.built_up.rise == (8.0,)
    assert middle is pads[1]


def test_rounds_go_on_while_each_takes_a_tenth_away_and_no_longer(steps):
    """Half of what is built up arrives: 8, 4, 2, 1 ... mm are left, until the last round allowed."""
    sheet, pads = pads_of({"wing": "middle", "middle": None})
    build, made = builder(sheet, gives=0.5)
    wing, _ = continued(sheet, pads, build, lambda *_: None)
    left = [8.0 * 0.5**k for k in range(ROUNDS + 1)]
    enough = next((k for k, step in enumerate(left) if step <= LEVEL_MM), ROUNDS)
    assert len(made) == wing.continued.rounds == enough
    assert wing.continued.after.most_step_mm == pytest.approx(left[enough])
    # A twentieth arrives: the second round is not worth it.
    assert WORTH == 0.1
    build, made = builder(sheet, gives=0.05)
    wing, _ = continued(sheet, pads, build, lambda *_: None)
    assert len(made) == 1
    assert wing.continued.after.most_step_mm == pytest.approx(0.95 * 8.0)


def test_a_round_that_makes_it_worse_or_cannot_be_built_is_tried_with_half(steps):
    sheet, pads = pads_of({"wing": "middle", "middle": None})
    tried = []

    def build(k, alignment):
        tried.append(alignment.built_up.rise[0])
        if alignment.built_up.rise[0] > 3.0:
            raise ProblemError([Problem("G102", "here", "no room")])
        return FakePad(sheet.pads[k], alignment=alignment)

    wing, _ = continued(sheet, pads, build, lambda *_: None)
    assert tried[:3] == [8.0, 4.0, 2.0]
    assert wing.continued.rounds == len(tried) == ROUNDS
    assert wing.continued.built_up.rise[0] <= 3.0
    worse, _ = builder(sheet, gives=-1.0)
    wing, _ = continued(sheet, pads, worse, lambda *_: None)
    assert wing.continued.built_up is None
    assert wing.continued.after is wing.continued.before
    assert wing.alignment is UNALIGNED
    assert wing.pad is sheet.pads[0]


def test_what_was_built_up_elsewhere_is_tried_first_and_improved(steps):
    sheet, pads = pads_of({"wing": "middle", "middle": None})
    build, made = builder(sheet)
    wing, _ = continued(sheet, pads, build, lambda *_: None, {0: up((7.0,))})
    assert wing.continued.built_up.rise == (8.0,)
    assert len(made) == wing.continued.rounds == 2
    # One that is no use costs a round and nothing else.
    build, made = builder(sheet)
    wing, _ = continued(sheet, pads, build, lambda *_: None, {0: up((20.0,))})
    assert wing.continued.built_up.rise == (8.0,)
    assert len(made) == 2


def test_a_mirror_image_is_built_up_as_the_one_it_mirrors(steps):
    sheet, pads = pads_of({"right": "middle", "left": "middle", "middle": None})
    build, made = builder(sheet, gives=0.5)
    right, left, _ = continued(sheet, pads, build, lambda *_: None, {}, {1: 0})
    assert made.count("right") == right.continued.rounds > 1
    assert made.count("left") == left.continued.rounds == 1
    assert left.continued.built_up.rise == right.continued.built_up.rise
    assert left.continued.before.most_step_mm == 8.0
    # One that meets its neighbour less well so is built up by itself.
    pads = (pads[0], replace(pads[1], step=6.0), pads[2])

    def unlike(k, alignment):
        return replace(build(k, alignment), step=8.0 if k == 0 else 6.0)

    made.clear()
    right, left, _ = continued(sheet, pads, unlike, lambda *_: None, {}, {1: 0})
    assert left.continued.built_up.rise == (6.0,)


def test_level_pads_are_left_as_they_are_and_kinks_count_as_steps(steps, monkeypatch):
    sheet, pads = pads_of({"wing": "middle", "middle": None})
    for step, kink, count in (
        (LEVEL_MM, 0.0, 0),
        (0.0, LEVEL_MM / KINK_MM, 0),
        (0.6 * LEVEL_MM, 0.6 * LEVEL_MM / KINK_MM, 1),
    ):
        monkeypatch.setattr(
            continuing,
            "meeting",
            lambda pad, other, make_problem, step=step, kink=kink: (
                met(0.0) if pad.alignment.built_up else met(step, -kink)
            ),
        )
        build, made = builder(sheet)
        continued(sheet, pads, build, lambda *_: None)
        assert len(made) == count


def test_what_is_told_of_a_pad_that_goes_on():
    done = Continued(Continues("seat", "left"), met(-7.25, -12.4, 3.0), met(0.64, 4.6, 1.234), up((1.004, 6.567)), 3)
    pad = FakePad(Words("wing"), continued=done)
    assert continues_rows(pad) == [
        {
            "pad": "seat",
            "side": "left",
            "gap_mm": 1.23,
            "step_before_mm": -7.25,
            "step_before_at_mm": 90.0,
            "kink_before_deg": -12.4,
            "step_mm": 0.64,
            "step_at_mm": 90.0,
            "kink_deg": 4.6,
            "built_up_mm": [1.0, 6.57],
            "rounds": 3,
        }
    ]
    assert continues_words(pad) == (
        "goes on from seat, built up by 1.0 to 6.6 mm along its left side: step 0.6 mm left of 7.2, kink 5° left of 12°"
    )
    little = replace(pad, continued=replace(done, built_up=up((0.0, 0.4))))
    assert "built up by 0.0 to 0.4 mm" in continues_words(little)
    bare = replace(pad, continued=replace(done, built_up=None))
    assert continues_rows(bare)[0]["built_up_mm"] == [0.0, 0.0]
    assert "nothing built up" in continues_words(bare)
    assert continues_rows(FakePad(Words("wing"))) == []
    assert continues_words(FakePad(Words("wing"))) == ""


def test_what_is_left_between_pads_is_told_at_their_place_in_the_sheet(monkeypatch):
    sheet, pads = pads_of({"middle": None, "wing": "middle"})
    monkeypatch.setattr(
        continuing, "left_notes", lambda pad, make_problem: [make_problem("G999", ("continues",), pad.pad.name)]
    )
    told = continuing.continuing_notes(sheet, pads)
    assert [(p.code, p.where, p.text) for p in told] == [
        ("G999", "pad/0/continues", "middle"),
        ("G999", "pad/1/continues", "wing"),
    ]
