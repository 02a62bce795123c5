"""Places pointed at on piece and seat: a row of a dry fit and a tape are tried before they are written."""

import re
import tomllib

import pytest

from flatten.sheets.form import form_of
from tests.flatten.page.seen import Seen, needs_chromium

pytestmark = needs_chromium


def test_a_stretch_is_pointed_at_on_the_piece_and_tried_before_it_is_written(chrome, running, cushion):
    path = running.folder / cushion
    with Seen(chrome, running, has_touch=True) as seen:
        page = seen.page
        seen.open(f"{cushion}/see")
        seen.final()
        page.evaluate("bench.toFit(bench.answer.pieces.find((one) => one.name === 'band'))")
        page.wait_for_selector("svg.whole")
        page.locator("[data-at=fit-try]").tap()
        assert "Write by how much." in page.locator(".side .say").inner_text()
        # The longest edge with marks: a tap between two of them, and one beside it.
        edge = page.evaluate(
            "bench.fit.now.marks.map((m, k) => [m.places.length, k]).sort((a, b) => b[0] - a[0])[0][1]"
        )
        for k in (1, 2):
            half = f"(bench.fit.now.marks[{edge}].at[{k}] + bench.fit.now.marks[{edge}].at[{k + 1}]) / 2"
            point = page.evaluate(
                f"(() => {{ const p = bench.fit.now, f = p.edges[{edge}].points, t = {half}, k = Math.floor(t),"
                " u = t - k, at = [0, 1].map((c) => f[2 * k + c] + u * (f[2 * k + 2 + c] - f[2 * k + c]));"
                " const q = new DOMPoint(at[0] - p.box[0], p.box[3] - at[1])"
                ".matrixTransform(document.querySelector('svg.whole').getScreenCTM()); return [q.x, q.y]; })()"
            )
            page.touchscreen.tap(*point)
        assert page.evaluate("[bench.fit.edge, bench.fit.from, bench.fit.to]") == [edge, 1, 3]
        page.fill("[data-at=fit-amount]", "2")
        before = path.read_text()
        page.locator("[data-at=fit-try]").tap()
        page.wait_for_selector(".tried")
        # Round a bend both layers share what was asked of each, and together move by twice as much.
        told = re.search(
            r"taken in .* to (\d\.\d) mm here and (\d\.\d) to .*, shared", page.locator(".tried").inner_text()
        )
        assert float(told[1]) + float(told[2]) == pytest.approx(4.0, abs=0.11)
        assert page.locator("svg.whole .p-before").count() == 1
        assert path.read_text() == before
        assert not seen.axe()
        page.locator("[data-at=fit-write]").tap()
        seen.until("bench.sheet.fits.length === 1 && !bench.queue.length")
        (row,) = tomllib.loads(path.read_text())["fit"]
        assert (row["take_in"], row["edge"]) == (2, page.evaluate(f"bench.fit.now.marks[{edge}].edge"))
        seen.final()
        said = page.evaluate("bench.answer.pieces.flatMap((one) => one.fitted)")
        assert any(note.startswith("round 1: taken in") and "shared" in note for note in said)
        # A row that contradicts the first is told at once, and nothing is written.
        page.locator("[data-at=fit-what]").select_option("let_out")
        page.fill("[data-at=fit-amount]", "3")
        page.locator("[data-at=fit-try]").tap()
        page.wait_for_selector(".side .say")
        assert re.search(r"F33\d", page.locator(".side .say").inner_text())
        page.get_by_role("button", name="Undo").click()
        seen.until("bench.sheet.fits.length === 0 && !bench.queue.length")
        assert path.read_text() == before
        assert not seen.faults


def test_a_row_is_about_one_side_alone_and_leather_and_padding_give_another_size(chrome, running, cushion):
    """Of a cushion's plates the lower one is drawn as the upper one's mirror image."""
    path = running.folder / cushion
    with Seen(chrome, running) as seen:
        page = seen.page
        seen.open(f"{cushion}/see")
        seen.final()
        before = path.read_text()
        page.evaluate("bench.toFit(bench.answer.pieces.find((one) => one.name.startsWith('top plate')))")
        page.wait_for_selector("svg.whole")
        sides = page.locator("input[name=fit-alone]")
        assert [sides.nth(k).get_attribute("value") for k in range(sides.count())] == [
            "",
            "cushion top plate",
            "cushion bottom plate",
        ]
        edge = page.evaluate("bench.fit.now.marks.findIndex((one) => one.edge === 'band')")
        page.locator("[data-at=fit-edge]").select_option(str(edge))
        page.locator("label:has(input[value='cushion bottom plate'])").click()
        page.fill("[data-at=fit-amount]", "2")
        page.locator("[data-at=fit-try]").click()
        page.wait_for_selector(".tried")
        row = page.evaluate("bench.fit.tried.row")
        over = page.evaluate(f"bench.fit.now.marks[{edge}].over")
        assert (row["piece"], row["alone"], row["edge"]) == ("cushion bottom plate", True, over["edge"])
        assert (row["from"], row["to"]) == (over["places"][0], over["places"][1])
        assert "on this side alone" in page.locator(".tried").inner_text()
        names = page.evaluate("bench.fit.tried.pieces.map((one) => one.name)")
        assert "bottom plate" in names
        assert not seen.axe()
        # Leather that was found stretched, of both plates.
        page.locator("[data-at=fit-what]").select_option("stretched")
        page.locator("label:has(input[name=fit-alone][value=''])").click()
        page.fill("[data-at=fit-amount]", "1.5")
        page.locator("[data-at=fit-try]").click()
        page.wait_for_selector(".tried")
        row = page.evaluate("bench.fit.tried.row")
        assert row == {"round": 1, "piece": "cushion top plate", "stretched": 0.015, "way": "along"}
        assert "shorter that way" in page.locator(".tried").inner_text()
        assert page.locator("svg.whole .p-before").count() > 0
        # Padding between two marks.
        page.locator("[data-at=fit-what]").select_option("padding")
        page.locator("[data-at=fit-edge]").select_option(str(edge))
        page.fill("[data-at=fit-amount]", "4")
        page.locator("[data-at=fit-try]").click()
        page.wait_for_selector(".tried")
        assert re.search(r"padding 4.0 mm higher along band.*let out", page.locator(".tried").inner_text())
        assert path.read_text() == before
        assert not seen.faults


def test_a_tape_is_pointed_at_on_the_seat_and_held_against_it(chrome, running, slip):
    path = running.folder / slip
    with Seen(chrome, running) as seen:
        page = seen.page
        seen.open(f"{slip}/see")
        seen.final()
        page.evaluate("bench.measure.stage = 'tapes'; bench.to('measure')")
        page.wait_for_selector(".tape canvas")
        names = page.evaluate("bench.measure.tapes.places.map((one) => one.name)")
        ends = [names.index(f"{side} edge, centre line") for side in ("front", "rear")]
        for k in ends:
            at = page.evaluate(
                f"(() => {{ const three = bench.see.seat3, box = three.canvas.getBoundingClientRect(),"
                f" p = three.camera.position.clone().set(...bench.measure.tapes.places[{k}].point)"
                ".project(three.camera);"
                " return [box.left + (p.x + 1) / 2 * box.width, box.top + (1 - p.y) / 2 * box.height]; })()"
            )
            page.mouse.click(*at)
        assert page.evaluate("[bench.measure.tapes.from, bench.measure.tapes.to]") == ends
        seen.until("bench.measure.tapes.line.length > 100")
        # Nothing is told of what is computed before the tape was read.
        assert page.evaluate("bench.measure.tapes.result") is None
        before = path.read_text()
        page.fill("[data-at=tape-length]", "100")
        page.keyboard.press("Tab")
        page.wait_for_selector(".pointing .doubt")
        told = float(re.search(r"([\d.]+) mm are computed", page.locator(".pointing .doubt").inner_text())[1])
        assert told > 260
        page.fill("[data-at=tape-length]", f"{told:.0f}")
        page.keyboard.press("Tab")
        page.wait_for_selector(".agrees")
        assert path.read_text() == before
        assert not seen.axe()
        page.locator("[data-at=tape-keep]").click()
        seen.until("!bench.queue.length && bench.sheet.mark && bench.measure.tapes.from === null")
        (row,) = tomllib.loads(path.read_text())["control"]
        assert {key: row[key] for key in ("way", "at", "ends", "length")} == {
            "way": "along",
            "at": 0,
            "ends": "edges",
            "length": round(told),
        }
        page.get_by_role("button", name="Undo").click()
        seen.until("!bench.queue.length")
        assert path.read_text() == before
        assert not seen.faults


def test_strips_of_the_hide_are_read_in_and_reckoned_with(chrome, running):
    """Readings made from a stiffness of 17 N/mm along: typed in, they take the place of the card's own."""
    sizes = {"pad__0__outline__front_width": 300, "pad__0__outline__rear_width": 300, "pad__0__outline__depth": 260}
    name = running.begin("box", "Strip tried", **sizes)["sheet"]
    weights, stiffness = (0.5, 1, 2, 4, 8), 17.0
    with Seen(chrome, running, has_touch=True) as seen:
        page = seen.page
        seen.open(f"{name}/measure")
        seen.until("bench.answer && bench.measure.stages && bench.measure.stages.length")
        page.evaluate("bench.measure.go('strips')")
        page.get_by_role("button", name="Add a strip").tap()
        page.wait_for_selector("table.weighed")
        # Nothing that was not read stands for a reading: until it is typed the sheet is refused, at the field.
        seen.until("document.querySelector('.row .say')")
        for n, kg in enumerate(weights):
            page.fill(f"[data-at=strip-0-readings-{n}-1]", f"{200 * (1 + kg * 9.80665 / 50 / stiffness):.2f}")
            page.keyboard.press("Tab")
            seen.until("!bench.queue.length")
        seen.final()
        assert "measured on strips along" in page.locator("[data-at=gives]").inner_text()
        percent = 100 * 0.5 * 9.80665 / 50 / stiffness
        told = re.search(r"hang ([\d.]+) kg .*? by ([\d.]+) % along", page.locator("[data-at=gives]").inner_text())
        assert float(told[2]) == pytest.approx(2 * float(told[1]) * percent, abs=0.06)
        assert not seen.axe()
        assert not seen.faults
    (row,) = tomllib.loads((running.folder / name).read_text())["strip"]
    assert [reading[0] for reading in row["readings"]] == list(weights)


def test_what_a_new_row_holds_is_in_the_unit_of_the_sheet():
    shown = {"name": "x", "unit": "in", "pad": [{"name": "a", "kind": "cushion"}]}
    rows = {stage["rows"]["called"]: stage["rows"]["new"] for stage in form_of(shown, []) if stage["rows"]}
    assert rows["tape"]["length"] == "600 mm"
    assert rows["layer"]["thickness"] == "20 mm"
    assert rows["profile"]["points"][1] == ["200 mm", "8 mm"]
    assert rows["strip"]["readings"][0] == [0.5, "200 mm", "200 mm"]
    usual = {
        stage["rows"]["called"]: stage["rows"]["new"] for stage in form_of({**shown, "unit": "mm"}, []) if stage["rows"]
    }
    assert usual["tape"]["length"] == 600
