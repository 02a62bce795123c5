"""What the server does when the program fails: told at every level, in the page and where the server was started."""

import asyncio
import logging
import os
import socket

import pytest

from flatten.bench import process
from flatten.bench.process import BenchTask
from flatten.page.office import LEVELS, Office
from flatten.page.serve import opened
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


class SlowLink(FaultyLink):
    """A bench that never fails; what was asked of it and how often it had to stop something."""

    def __init__(self):
        super().__init__(None)
        self.asked, self.stops = [], 0

    async def ask(self, verb, task, *more, on_say):
        self.asked.append((task.text, *more))
        return {"sections": []} if more[0] == "section" else {"answer": {}, "seat": b""}

    async def stop(self):
        self.stops += 1


async def _turned(office, texts, wait_for="draft"):
    """A number turned: each text is looked at as soon as the draft of the one before was told."""
    told = asyncio.Queue()
    office.tell = lambda **row: told.put_nowait(row)
    for text in texts:
        await office.look("seat.toml", text)
        while (row := await told.get())["level"] != wait_for or row["state"] != "done":
            pass
    return told


def test_while_a_number_is_turned_no_exact_answer_is_begun(tmp_path, monkeypatch):
    """What would have to be stopped for the next value is not begun; after the last one it is."""
    monkeypatch.setattr("flatten.page.office.changes", lambda before, now: [])
    office = Office(SheetFolder(tmp_path), link=SlowLink())

    async def turned():
        await _turned(office, ["a", "b", "c"])
        await office._work

    asyncio.run(turned())
    levels = [(text, level) for text, level in office.link.asked]
    assert levels == [(t, level) for t in "abc" for level in LEVELS[: 3 if t == "c" else 2]]


def test_work_that_is_stopped_before_the_exact_answer_stays_stopped(tmp_path, monkeypatch):
    monkeypatch.setattr("flatten.page.office.changes", lambda before, now: [])
    office = Office(SheetFolder(tmp_path), link=SlowLink())

    async def stopped():
        told = await _turned(office, ["a"])
        await asyncio.sleep(0.0)
        await office.stop()
        await office._work
        return [told.get_nowait() for _ in range(told.qsize())]

    told = asyncio.run(stopped())
    assert [level for _, level in office.link.asked] == ["section", "draft"]
    assert told[-1]["level"] == "final"
    assert told[-1]["state"] == "stopped"


def test_small_answers_leave_at_once(tmp_path):
    """A socket that is not said to be TCP gets no TCP_NODELAY from asyncio: every answer would wait for the one before
    to be acknowledged, up to 40 ms on Linux (RFC 1122, 4.2.3.2 and 4.2.3.4)."""
    (tmp_path / "seat.toml").write_text("")
    found = []

    class Seen(asyncio.Protocol):
        def connection_made(self, transport):
            one = transport.get_extra_info("socket")
            found.append(one.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY))
            transport.close()

    async def answered():
        (one,) = opened(tmp_path).sockets
        server = await asyncio.get_running_loop().create_server(Seen, sock=one)
        reader, writer = await asyncio.open_connection(*one.getsockname())
        await reader.read()
        writer.close()
        server.close()

    asyncio.run(answered())
    assert found[0] != 0
