"""The live engine: levels in their order, the final one equal to `make`, newer changes in the place of older ones."""

import os
import signal
import threading
from pathlib import Path

import numpy as np
import pytest

from flatten.figures.report import report, without_seconds
from flatten.job.make import make
from flatten.kept.digest import digest
from flatten.live import levels
from flatten.live.answers import AskedCut, Level, ProgressAnswer, RefusedAnswer
from flatten.live.engine import Engine
from flatten.live.levels import sheet_of_text
from flatten.machine.worker import Inbox
from meshes.base.progress import Cancelled, look_up, while_wanted
from meshes.settle.section_line import Cut
from tests.running import LIMIT_S, SHEET

# A small seat of one pad on coarse triangles, its cover laid on without a tension that would have to be tried.
TEXT = SHEET.replace("mesh = 20", "mesh = 30") + "[cover]\ntension = 0\n"


class Heard:
    """Answers of an engine as they come."""

    def __init__(self):
        self.answers, self.progress, self.turn = [], [], threading.Condition()

    def __call__(self, answer):
        with self.turn:
            (self.progress if isinstance(answer, ProgressAnswer) else self.answers).append(answer)
            self.turn.notify_all()

    def until(self, wanted):
        with self.turn:
            assert self.turn.wait_for(lambda: any(map(wanted, self.answers)), LIMIT_S)

    @property
    def told(self):
        return [(answer.ticket, answer.level) for answer in self.answers]


@pytest.fixture(scope="module")
def live():
    heard = Heard()
    with Engine(TEXT, heard, file="stool.toml", workers=1) as engine:
        assert engine.wait(LIMIT_S)
        yield engine, heard


def test_answers_come_level_by_level_and_the_last_is_what_make_finds(live):
    _, heard = live
    assert heard.told[:3] == [(1, level) for level in Level]
    section, draft, final = heard.answers[:3]
    assert [cut.name for cut in section.cuts["cushion"]] == ["along 0", "across 150"]
    assert {piece.name for piece in draft.pieces} == {piece.name for piece in final.job.pieces}
    cold = make(sheet_of_text(TEXT, Path("stool.toml")), workers=1)
    assert without_seconds(report(final.job)) == without_seconds(report(cold))
    assert any(one.doing == "matching the seams" for one in heard.progress)


def test_a_draft_is_near_to_the_pieces(live):
    draft, final = (next(a for a in live[1].answers if a.level is level) for level in (Level.DRAFT, Level.FINAL))
    for one, two in zip(draft.seams, final.job.seams, strict=True):
        assert one.name == two.name
        assert one.seat_mm == pytest.approx(two.seat_mm, abs=0.5)


def test_only_the_newest_of_many_changes_is_worked_out_to_the_end(live):
    engine, heard = live
    before = len(heard.answers)
    tickets = [engine.change(TEXT.replace("thickness = 20", f"thickness = {mm}")) for mm in range(21, 33)]
    assert engine.wait(LIMIT_S)
    told = heard.told[before:]
    assert tickets == list(range(tickets[0], tickets[0] + 12))
    assert [ticket for ticket, level in told if level is Level.FINAL] == [tickets[-1]]
    assert told[-3:] == [(tickets[-1], level) for level in Level]
    last = heard.answers[-1].job
    assert last.sheet.pads[0].layers[0].thickness == 32.0


def test_cuts_that_are_asked_for_come_beside_the_usual_ones(live):
    engine, heard = live
    ticket = engine.change(
        TEXT, cuts=[AskedCut("cushion", Cut("along", 60.0)), AskedCut("no such pad", Cut("along", 0))]
    )
    heard.until(lambda answer: answer.ticket == ticket)
    answer = next(answer for answer in heard.answers if answer.ticket == ticket)
    assert [cut.name for cut in answer.cuts["cushion"]] == ["along 0", "across 150", "along 60"]
    engine.change(cuts=())
    assert engine.wait(LIMIT_S)


def test_a_sheet_that_is_refused_says_why_and_the_next_one_is_answered(live):
    engine, heard = live
    ticket = engine.change(TEXT.replace("drop = 80", "drop = -80"))
    assert engine.wait(LIMIT_S)
    refused = heard.answers[-1]
    assert isinstance(refused, RefusedAnswer)
    assert refused.ticket == ticket
    assert refused.problems[0].file == "stool.toml"
    assert refused.problems[0].line == 1 + TEXT[: TEXT.index("drop = 80")].count("\n")
    ticket = engine.change(TEXT)
    assert engine.wait(LIMIT_S)
    assert heard.told[-1] == (ticket, Level.FINAL)


def test_a_process_that_is_killed_is_told_and_the_next_change_starts_another(live):
    engine, heard = live
    process = engine._computer._process
    ticket = engine.change(TEXT.replace("mesh = 30", "mesh = 3"))
    heard.until(lambda answer: answer.ticket == ticket)
    os.kill(process.pid, signal.SIGKILL)
    assert engine.wait(LIMIT_S)
    assert [problem.code for problem in heard.answers[-1].problems] == ["W101"]
    engine.change(TEXT)
    assert engine.wait(LIMIT_S)
    assert heard.answers[-1].level is Level.FINAL
    assert engine._computer._process.pid != process.pid


def test_an_engine_that_is_closed_leaves_no_process():
    heard = Heard()
    engine = Engine(TEXT, heard)
    process = engine._computer._process
    engine.close()
    assert process.poll() is not None
    told = len(heard.answers)
    engine.change(TEXT)
    assert len(heard.answers) == told


def test_work_that_is_wanted_no_more_ends_at_its_next_step():
    inbox = Inbox()
    for frame in (b"one", b"two", b"", b"three"):
        inbox.take(frame)
    found = []
    for _ in range(3):
        inbox.next()
        with while_wanted(inbox.wanted):
            try:
                look_up()
                found.append(True)
            except Cancelled:
                found.append(False)
    assert found == [False, False, True]
    look_up()


def test_a_cut_that_goes_on_from_the_last_one_comes_to_the_same_rest(monkeypatch):
    """The equilibrium does not depend on where the search begins; it takes fewer steps from nearby."""
    monkeypatch.setattr(levels, "_LAST", levels.LastKnown())
    sheets = [
        sheet_of_text(
            TEXT.replace("thickness = 20", f"thickness = {mm}").replace("tension = 0", "tension = 80"), Path("s")
        )
        for mm in (20, 21)
    ]
    tasks = [
        levels.CutTask(one.pads[0], 0, Cut("along", 0.0), 0.08, one.materials, one.places.of_pad(0)) for one in sheets
    ]
    levels._cut(tasks[0])
    warm = levels._cut(tasks[1])
    monkeypatch.setattr(levels, "_LAST", levels.LastKnown())
    cold = levels._cut(tasks[1])
    assert np.abs(warm.cover - cold.cover).max() < 1e-4
    assert warm.settled.steps < cold.settled.steps


def test_a_layer_of_one_pad_leaves_the_cuts_of_another_that_only_lines_up_with_it(monkeypatch):
    """On the bench the backrest's valleys follow the cushion's; its cuts do not change with the cushion's padding, and
    the same cut made whole is the same without the pad it lines up with."""
    monkeypatch.setattr(levels, "_LAST", levels.LastKnown())
    text = (Path(__file__).parents[3] / "examples" / "helm_bench" / "bench.toml").read_text()
    sheets = [sheet_of_text(one, Path("s")) for one in (text, text.replace("thickness = 8", "thickness = 9", 1))]
    assert sheets[0].pads[0].layers != sheets[1].pads[0].layers
    assert sheets[0].pads[1].wanted.leader != sheets[1].pads[1].wanted.leader
    asked = []
    monkeypatch.setattr(
        levels, "_here", lambda work, tasks: asked.append(tasks) or [work(task) for task in tasks[:1]] * 4
    )
    cuts = [levels._cuts_of(one, 1, 0.15, ())[0] for one in sheets]
    assert [digest(task) for task in asked[0]] == [digest(task) for task in asked[1]]
    whole = sheets[0].pads[1]
    known = levels.CutTask(whole, 1, asked[0][0].cut, 0.15, sheets[0].materials, sheets[0].places.of_pad(1))
    assert np.abs(levels._cut(known).cover - cuts[0][0].padded.cover).max() < 1e-4
