"""What only some shops know is said on the page too: a foam that was tried, a board in a cushion, how it is cut."""

import re
import tomllib

from tests.flatten.page.seen import Seen, needs_chromium

pytestmark = needs_chromium


def stage(page, title):
    page.evaluate(f"bench.measure.go(bench.sheet.stages.find((one) => one.title === '{title}').id)")


def test_a_foam_is_tried_a_board_laid_in_and_the_cutting_said(chrome, running, cushion):
    path = running.folder / cushion
    before = path.read_text()
    with Seen(chrome, running) as seen:
        page = seen.page

        def saved():
            return tomllib.loads(path.read_text())

        def done():
            seen.until("!bench.queue.length && !bench.saving")

        seen.open(f"{cushion}/measure")
        page.wait_for_selector(".ask h1")
        stage(page, "Foam test")
        assert page.locator(".tape svg").count() == 1
        page.locator("[data-at=add-foams]").click()
        assert "letters and figures" in page.locator(".ask .say").inner_text()
        page.fill("#name-foams", "Bow foam, 38")
        page.locator("[data-at=add-foams]").click()
        page.wait_for_selector(".rowhead h3")
        assert page.locator(".rowhead h3").inner_text() == "bow foam 38"
        # Until it was read it is told off: nothing is taken for what a foam does.
        seen.until("!bench.sheet.usable")
        assert "S075" in page.locator(".ask").inner_text()
        page.fill("#f-material-bow_foam_38-density", "38")
        for k, mm in enumerate((92, 84, 66, 48, 41, 37, 32)):
            cell = page.locator(f"[data-at='material-bow_foam_38-block-readings-{k}-1']")
            cell.fill(str(mm))
            cell.press("Tab")
            done()
        seen.until("bench.sheet.usable")
        assert not seen.axe()
        foam = saved()["material"]["bow_foam_38"]
        assert (foam["density"], foam["block"]["height"]) == (38, 100)
        assert [mm for _, mm in foam["block"]["readings"]] == [92, 84, 66, 48, 41, 37, 32]
        page.fill("#name-foams", "bow foam 38")
        page.locator("[data-at=add-foams]").click()
        assert "already" in page.locator(".ask .say").inner_text()
        # It is a material like any other.
        stage(page, "Padding")
        page.locator("#f-pad-0-layer-0-material").select_option("bow_foam_38")
        done()
        assert saved()["pad"][0]["layer"][0]["material"] == "bow_foam_38"
        stage(page, "The core")
        page.get_by_role("button", name=re.compile("rarely needed")).click()
        page.locator("input[name=f-pad-0-board][value=yes]").check(force=True)
        done()
        assert saved()["pad"][0]["board"] == {"thickness": 3}
        stage(page, "The board below it")
        page.fill("#f-pad-0-board-thickness", "6")
        page.keyboard.press("Tab")
        done()
        assert saved()["pad"][0]["board"] == {"thickness": 6}
        assert page.evaluate("bench.sheet.usable")
        stage(page, "The core")
        page.locator("input[name=f-pad-0-board][value=no]").check(force=True)
        done()
        assert "board" not in saved()["pad"][0]
        stage(page, "Cutting")
        page.locator("input[name=f-cutting-tool][value=shears]").check(force=True)
        done()
        page.fill("#f-cutting-rim", "20")
        page.keyboard.press("Tab")
        done()
        assert saved()["cutting"] == {"tool": "shears", "rim": 20}
        assert page.evaluate("bench.sheet.usable")
        # The foam goes again, with the table it stood in.
        while page.evaluate("bench.sheet.undo") and path.read_text() != before:
            page.get_by_role("button", name="Undo").click()
            done()
        assert path.read_text() == before
        assert not seen.faults
