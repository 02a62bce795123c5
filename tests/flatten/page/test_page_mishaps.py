"""Mishaps of a shop: two tabs, a tablet that slept, a sheet that is gone, a full disk, a killed server."""

import os
import resource
import socket
import tomllib

import httpx
import pytest

from tests.flatten.page.conftest import started
from tests.flatten.page.seen import Seen, needs_chromium

pytestmark = needs_chromium


@pytest.fixture
def shop(running):
    """A sheet of its own; nothing of it has to be computed."""
    sheet = running.begin("box", "Mishaps", pad__0__outline__front_width=320)["sheet"]
    yield sheet
    running.ask("POST", "/api/stop")


def outline(path):
    return tomllib.loads(path.read_text())["pad"][0]["outline"]


def plan(seen, sheet):
    """Open the plan of a sheet in Measure."""
    seen.open(f"{sheet}/measure")
    seen.page.wait_for_selector(".ask h1")
    seen.page.evaluate("bench.measure.go(bench.sheet.stages.find((one) => one.title.startsWith('The plan')).id)")


def write(page, key, value):
    page.fill(f"#f-pad-0-outline-{key}", str(value))
    page.keyboard.press("Tab")


def test_two_tabs_and_one_that_slept(chrome, running, shop):
    path = running.folder / shop
    with Seen(chrome, running) as one, Seen(chrome, running) as two:
        plan(one, shop)
        plan(two, shop)
        write(one.page, "front_width", 331)
        two.until("document.querySelector('#f-pad-0-outline-front_width').value === '331'")
        # The second one sleeps, and something is typed on it before it is back.
        two.context.set_offline(True)
        write(two.page, "depth", 299)
        two.until("!bench.linked")
        write(one.page, "rear_width", 322)
        one.until("!bench.queue.length")
        assert outline(path) == {**outline(path), "rear_width": 322}
        assert two.page.evaluate("bench.queue.length") == 1
        assert "does not answer" in two.page.locator("footer").inner_text()
        two.context.set_offline(False)
        two.page.wait_for_selector("dialog")
        assert "changed elsewhere" in two.page.locator("dialog").inner_text()
        assert "rear_width = 322" in two.page.locator("dialog").inner_text()
        two.page.get_by_role("button", name="The file, with my change").click()
        two.until("!bench.queue.length && bench.linked")
        assert (outline(path)["rear_width"], outline(path)["depth"]) == (322, 299)
        assert not [fault for fault in one.faults + two.faults if "Failed to load" not in fault]


def test_a_sheet_that_is_gone_is_told_and_comes_back(chrome, running, shop):
    path = running.folder / shop
    with Seen(chrome, running) as seen:
        plan(seen, shop)
        kept = path.read_text()
        path.unlink()
        seen.page.wait_for_selector(".notice.top")
        assert "moved or deleted" in seen.page.locator(".notice.top").inner_text()
        write(seen.page, "depth", 305)
        seen.until("document.querySelector('.notice.bad') && !bench.queue.length")
        assert "W306" in seen.page.locator(".notice.bad").inner_text()
        assert not path.exists()
        path.write_text(kept)
        write(seen.page, "depth", 306)
        seen.until("!bench.queue.length")
        assert outline(path)["depth"] == 306


def test_a_full_disk_leaves_the_sheet_as_it_was_and_is_told(chrome, tmp_path):
    with started(tmp_path) as (server, process):
        sheet = server.begin("box", "Full disk")["sheet"]
        path = tmp_path / sheet
        with Seen(chrome, server) as seen:
            plan(seen, sheet)
            before = path.read_text()
            # No file can grow any more, as on a disk that is full.
            _, hard = resource.prlimit(process.pid, resource.RLIMIT_FSIZE)
            resource.prlimit(process.pid, resource.RLIMIT_FSIZE, (0, hard))
            write(seen.page, "depth", 305)
            seen.page.wait_for_selector(".notice.bad")
            told = seen.page.locator(".notice.bad").inner_text()
            assert "P005" in told or "written" in told
            assert path.read_text() == before
            resource.prlimit(process.pid, resource.RLIMIT_FSIZE, (hard, hard))
            write(seen.page, "depth", 306)
            seen.until("!bench.queue.length && bench.sheet.undo >= 2")
            assert outline(path)["depth"] == 306


def test_a_server_that_is_killed_while_one_types_loses_nothing(chrome, tmp_path):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    with started(tmp_path, "--port", str(port)) as (server, process):
        sheet = server.begin("box", "Killed")["sheet"]
        path = tmp_path / sheet
        with Seen(chrome, server) as seen:
            plan(seen, sheet)
            process.kill()
            process.wait()
            write(seen.page, "depth", 307)
            seen.until("!bench.linked && bench.queue.length === 1")
            assert "is kept here" in seen.page.locator("footer").inner_text()
            assert outline(path)["depth"] != 307
            with started(tmp_path, "--port", str(port)) as (again, _):
                # The key of the new start is another one: the old one is refused, and what waits is said.
                seen.page.wait_for_selector(".begin .notice.bad")
                assert "depth: 307" in seen.page.locator(".begin .notice.bad").inner_text()
                seen.page.evaluate(f"location.hash = '#key={again.key}&sheet={sheet}'")
                seen.until("bench.linked && !bench.queue.length && bench.sheet")
                assert outline(path)["depth"] == 307
                assert os.path.exists(path)


def test_a_stop_ends_streams_of_news_without_a_fault(tmp_path, capfd):
    with started(tmp_path) as (server, process):
        with httpx.stream("GET", server.base + "/api/news", headers=server.headers, timeout=20) as answer:
            lines = answer.iter_lines()
            assert "hello" in next(lines)
            process.terminate()
            assert [line for line in lines if "beat" not in line] == []
        process.wait(10)
    said = capfd.readouterr().err
    assert "nothing is left half written" in said
    assert "Traceback" not in said
    assert len(said.splitlines()) == 1
