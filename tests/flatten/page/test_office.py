"""What the server does when the program fails: told at every level, in the page and where the server was started."""

import asyncio
import logging
import os

import pytest

from flatten.bench import process
from flatten.bench.process import BenchTask
from flatten.page.office import LEVELS, Office
from flatten.sheets.folder import SheetFolder


class FaultyLink:
    """A bench that fails by a fault of ours at one level and has nothing to say at the others."""

    def __init__(self, level):
        self.level = level

    async def ask(self, verb, task, *more, on_say):
        if self.level in more:
            raise ZeroDivisionError("division by \x1b[31mzero")
        return {"sections": []}


@pytest.mark.parametrize("level", LEVELS)
def test_a_fault_of_ours_is_told_at_every_level_and_what_follows_is_done_all_the_same(tmp_path, caplog, level):
    office, heard = Office(SheetFolder(tmp_path), link=FaultyLink(level)), []
    office.tell = lambda **row: heard.append(row)
    with caplog.at_level(logging.ERROR):
        asyncio.run(office._looks("seat.toml", "text"))
    assert [row["level"] for row in heard if row["state"] in ("done", "failed")] == list(LEVELS)
    (failed,) = [row for row in heard if row["state"] == "failed"]
    assert failed["level"] == level
    (problem,) = failed["problems"]
    assert problem["code"] == ("W322" if level == LEVELS[-1] else "W340")
    assert problem["warning"] == (level != LEVELS[-1])
    assert "\x1b" not in problem["text"]
    (record,) = caplog.records
    assert record.exc_info[0] is ZeroDivisionError


def test_a_job_is_done_anew_when_a_file_that_the_sheet_names_is_another(tmp_path, monkeypatch):
    """Papers made after the shop changed its leather card are cut by the new numbers."""
    text = '[cover]\nleather = "cards.toml:cow"\n'
    done = []
    monkeypatch.setattr(process, "_sheet", lambda task: task)
    monkeypatch.setattr(process, "make_for_hides", lambda sheet, progress, workers: done.append(sheet))
    monkeypatch.setattr(process, "replace", lambda job: job)
    process._kept.clear()
    task = BenchTask(tmp_path, "seat.toml", text)
    cards = tmp_path / "cards.toml"
    for content, times in (("a", 1), ("a", 1), ("bc", 2), (None, 3)):
        if content is None:
            os.remove(cards)
        elif not cards.exists() or cards.read_text() != content:
            cards.write_text(content)
        process._job(task)
        assert len(done) == times
