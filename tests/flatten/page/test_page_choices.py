"""What is kept beside a sheet and decided by: second readings, variants, darts and seams."""

import json
import re
import tomllib

import pytest

from tests.flatten.page.seen import Seen, needs_chromium


@needs_chromium
def test_a_length_is_read_again_until_two_readings_agree(chrome, running, slip):
    path = running.folder / slip
    with Seen(chrome, running) as seen:
        page = seen.page
        seen.open(f"{slip}/measure")
        page.wait_for_selector(".ask h1")
        titles = page.evaluate("bench.sheet.stages.map((one) => one.title)")
        assert titles[:2] == ["What it is", "Before stripping"]
        page.evaluate("bench.measure.go(bench.sheet.stages.find((one) => one.title.startsWith('The plan')).id)")
        page.get_by_role("button", name="Take each twice").click()
        before = path.read_text()
        again = page.locator("[data-at='again-pad.0.outline.depth']")
        again.fill("269")
        again.press("Tab")
        page.wait_for_selector(".twice .say")
        assert "9.0 mm apart: measure again" in page.locator(".twice .say").inner_text()
        assert path.read_text() == before
        # The page forgets nothing: the two readings are there when it is opened anew.
        page.reload()
        page.wait_for_selector(".ask h1")
        page.evaluate("bench.measure.go(bench.sheet.stages.find((one) => one.title.startsWith('The plan')).id)")
        assert "measure again" in page.locator(".twice .say").inner_text()
        assert not seen.axe()
        again.fill("268")
        again.press("Tab")
        seen.until("!bench.queue.length && !document.querySelector('.twice .say')")
        assert tomllib.loads(path.read_text())["pad"][0]["outline"]["depth"] == 268.5
        # Drops in three places take the place of one.
        page.evaluate("bench.measure.go(bench.sheet.stages.find((one) => one.title === 'Down the front').id)")
        page.get_by_role("button", name=re.compile("rarely needed")).click()
        page.locator("[data-at=three-front]").click()
        seen.until("!bench.queue.length && bench.sheet.undo >= 2")
        side = tomllib.loads(path.read_text())["pad"][0]["sides"]["front"]
        assert "drop" not in side
        assert [place for place, _ in side["drops"]] == [-105, 0, 105]
        assert page.evaluate("bench.sheet.usable")
        for _ in range(2):
            page.get_by_role("button", name="Undo").click()
            seen.until("!bench.queue.length")
        assert path.read_text() == before
        assert not seen.faults


@needs_chromium
def test_variants_are_kept_beside_each_other_and_compared(chrome, running, cushion):
    path = running.folder / cushion
    before = path.read_text()
    with Seen(chrome, running) as seen:
        page = seen.page
        seen.open(f"{cushion}/decide")
        seen.final()
        page.locator("[data-at=variant-keep]").click()
        page.wait_for_selector("[data-at=variant-compare]")
        page.locator("[data-at=k-pad-0-closed-thickness]").fill("110")
        seen.until("bench.sheet.mark !== bench.answer.mark")
        seen.final()
        page.locator("[data-at=variant-compare]").click()
        page.wait_for_selector(".variants table")
        head = page.locator(".variants thead th").all_inner_texts()
        assert head == ["as it is now", "variant 1"]
        assert page.locator(".variants tbody tr").count() >= 1
        assert page.locator(".variants tbody td b").count() >= 1
        assert not seen.axe()
        page.get_by_role("button", name="Go on with it: variant 1").click()
        seen.until("!bench.queue.length")
        assert path.read_text() == before
        assert not seen.faults


@needs_chromium
@pytest.mark.slow
def test_a_proposed_cut_is_drawn_and_made_with_a_tap(chrome, running):
    round_top = [[0, 0], [65, 45], [130, 60], [195, 45], [260, 0]]
    sizes = {"pad__0__outline__front_width": 300, "pad__0__outline__rear_width": 280, "pad__0__outline__depth": 260}
    sheet = running.begin("slip", "Round slip", **sizes)["sheet"]
    state = running.ask("GET", f"/api/sheets/{sheet}").json()
    row = {"direction": "along", "at": 0, "points": round_top}
    body = {"base": state["mark"], "keys": ["pad", 0, "profile"], "row": row}
    assert running.ask("POST", f"/api/sheets/{sheet}/row", json=body).status_code == 200
    with Seen(chrome, running) as seen:
        page = seen.page
        seen.open(f"{sheet}/see")
        seen.final()
        page.evaluate("bench.see.pick(bench.answer.pieces.find((one) => one.tight).panels[0])")
        page.locator("[data-at=relief-look]").click()
        page.wait_for_selector(".reliefs li", timeout=240_000)
        assert page.evaluate("bench.see.seat3.marked.length") >= 1
        assert not seen.axe()
        page.locator("[data-at=relief-1]").click()
        seen.until("!bench.queue.length")
        seen.final()
        assert tomllib.loads((running.folder / sheet).read_text())["relief"][0]["apply"] == 1
        assert page.evaluate("bench.answer.fits")
        assert not seen.faults


def test_a_pleated_seat_has_its_stitch_lines(running):
    sheet = running.begin("bench", "Pleated one")["sheet"]
    running.ask("POST", f"/api/sheets/{sheet}/look")
    for _ in range(900):
        answer = running.ask("GET", f"/api/sheets/{sheet}/answer")
        if answer.status_code == 200:
            break
    seat = running.ask("GET", f"/api/answers/{answer.json()['id']}/seat").content
    running.ask("POST", "/api/stop")
    pad = json.loads(seat[4 : 4 + int.from_bytes(seat[:4], "little")])["pads"][0]
    count = tomllib.loads((running.folder / sheet).read_text())["pad"][0]["pleats"]["count"]
    assert len(pad["valleys"]) == count - 1
