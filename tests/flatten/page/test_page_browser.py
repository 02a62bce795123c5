"""The page in a browser, used as a person would: fingers at 1024 x 768, keys alone, a phone, no WebGL, hostile names.

Debian's Chromium draws with its own software rasterizer. The page's policy forbids evaluated code, so the tests look at
the page with expressions only.
"""

import io
import time
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.flatten.page.seen import CHROMIUM, FLAGS, Seen, needs_chromium

HOSTILE = (
    "<script>window.hit=1</script>",
    '"><img src=x onerror=window.hit=1>',
    "\u202egnp.exe",
    "👻 launch 🛥",
    "A" * 5000,
)

pytestmark = needs_chromium


def test_first_seat_from_nothing_to_papers_by_touch(chrome, running):
    with Seen(chrome, running, has_touch=True) as seen:
        page = seen.page
        seen.open()
        page.get_by_role("button", name="Loose cushion").tap()
        page.fill("#title", "Bow cabin, port")
        page.get_by_role("button", name="Measure it").tap()
        page.wait_for_selector(".ask h1")
        assert not seen.axe()
        running.coarse("bow-cabin-port.toml")
        seen.until("bench.sheet.undo")
        page.locator("[data-at=next]").tap()
        # Tapes over an old cover come before its cushion is measured.
        assert page.locator(".ask h1").inner_text() == "Before stripping"
        page.locator("[data-at=next]").tap()
        # The way on is in sight, and it is said whose numbers these are.
        assert page.locator("[data-at=next]").bounding_box()["y"] < 768 - 64
        assert "numbers of an example" in page.locator(".ask .begun").inner_text()
        page.locator("#f-pad-0-outline-front_width").tap()
        page.keyboard.type("3")
        page.locator("#f-pad-0-outline-rear_width").tap()
        page.wait_for_selector(".field.wrong")
        assert "S017" in page.locator(".field.wrong").inner_text()
        page.locator("#f-pad-0-outline-front_width").tap()
        page.keyboard.type("13 1/2 in")
        page.locator("#f-pad-0-outline-rear_width").tap()
        page.keyboard.type("320")
        page.locator("#f-pad-0-outline-depth").tap()
        page.keyboard.type("300")
        page.locator("[data-at=next]").tap()
        seen.until("bench.sheet.usable && !bench.queue.length")
        text = (running.folder / "bow-cabin-port.toml").read_text()
        assert 'front_width = "13 1/2 in"' in text
        assert "# The foam core as it is cut" in text
        page.get_by_role("link", name="See").tap()
        seen.final()
        assert "fit the leather" in page.locator("footer").inner_text()
        assert not seen.axe()
        page.get_by_role("link", name="Make").tap()
        # Nothing of the core was measured.
        assert "The core" in page.locator(".side .begun").inner_text()
        assert "The plan" not in page.locator(".side .begun").inner_text()
        assert page.get_by_role("button", name="After the dry fit").count() == 0
        page.locator("input[type=checkbox]").first.tap()
        page.get_by_role("button", name="Make the papers").tap()
        page.wait_for_selector(".papers li", timeout=90_000)
        assert not seen.axe()
        with page.expect_download() as download:
            page.get_by_role("button", name="save patterns.pdf").tap()
        data = Path(download.value.path()).read_bytes()
        assert data.startswith(b"%PDF")
        assert data == (running.folder / "bow-cabin-port patterns" / "patterns.pdf").read_bytes()
        assert page.get_by_role("button", name="After the dry fit").count() == 1
        # After another change they are told to be of an older sheet, and not once it is taken back.
        running.coarse("bow-cabin-port.toml", pad__0__outline__depth=310)
        page.wait_for_selector(".older")
        page.get_by_role("button", name="Undo").tap()
        page.wait_for_selector(".older", state="detached")
        page.get_by_role("link", name="Measure").tap()
        page.locator(".rail").get_by_role("button", name="The core").tap()
        page.locator("[data-at=as-it-is]").tap()
        page.wait_for_selector(".ask .begun", state="detached")
        assert not seen.faults


def test_the_same_by_keys_alone(chrome, running, cushion):
    with Seen(chrome, running) as seen:
        page = seen.page
        seen.open()

        told = "one.textContent + one.id + (one.closest('label') || one).textContent"
        focused = f"(one => one === document.body ? '' : {told})(document.activeElement)"

        def to(name, most=150):
            for _ in range(most):
                page.keyboard.press("Tab")
                if name in page.evaluate(focused):
                    return
            raise AssertionError(f"no key leads to {name}")

        to("Stern seat")
        page.keyboard.press("Enter")
        page.wait_for_selector(".ask h1")
        to("Then: Before stripping")
        page.keyboard.press("Enter")
        to("Then: The plan")
        page.keyboard.press("Enter")
        to("f-pad-0-outline-front_width")
        page.keyboard.type("322")
        page.keyboard.press("Enter")
        seen.until("document.activeElement.id === 'f-pad-0-outline-rear_width'")
        seen.until("bench.sheet.undo >= 2 && !bench.queue.length")
        assert "front_width = 322" in (running.folder / cushion).read_text()
        # A change by another window comes in while a number is being typed: the number is typed on.
        page.keyboard.type("3")
        running.coarse(cushion, pad__0__outline__depth=282)
        seen.until("bench.sheet.undo >= 3")
        page.keyboard.type("05")
        page.keyboard.press("Tab")
        seen.until("bench.sheet.undo >= 4 && !bench.queue.length")
        assert "rear_width = 305" in (running.folder / cushion).read_text()
        page.keyboard.press("Shift+Tab")
        to("Make")
        page.keyboard.press("Enter")
        seen.final()
        to("Pictures of the seat")
        page.keyboard.press("Space")
        to("Make the papers")
        page.keyboard.press("Enter")
        page.wait_for_selector(".papers li", timeout=90_000)
        assert (running.folder / "stern-seat patterns" / "patterns.pdf").exists()
        assert not seen.faults


def drawn(page):
    return np.asarray(Image.open(io.BytesIO(page.locator(".stand canvas").screenshot())).convert("RGB"), dtype=int)


def test_the_seat_is_drawn_and_turns(chrome, running, cushion):
    with Seen(chrome, running) as seen:
        page = seen.page
        seen.open(f"{cushion}/see")
        seen.final()
        time.sleep(0.5)
        before = drawn(page)
        assert before.std() > 10.0
        box = page.locator(".stand canvas").bounding_box()
        page.mouse.move(box["x"] + 300, box["y"] + 300)
        page.mouse.down()
        page.mouse.move(box["x"] + 420, box["y"] + 330, steps=4)
        page.mouse.up()
        time.sleep(0.5)
        turned = drawn(page)
        assert np.abs(turned - before).mean() > 1.0
        page.locator(".stand canvas").focus()
        page.keyboard.press("ArrowLeft")
        time.sleep(0.5)
        assert np.abs(drawn(page) - turned).mean() > 0.3
        # A tap on a panel shows its piece, a seam of it lights up on both.
        page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        page.wait_for_selector(".side svg.piece")
        page.locator(".edges button").first.click()
        assert page.locator(".p-edge.lit").count() >= 1
        place = page.locator(".cutline output").inner_text()
        page.locator(".cutline input[type=range]").fill("800")
        assert page.locator(".cutline output").inner_text() != place
        assert page.locator("svg.cut .c-now").count() >= 1
        for shop in ("dark", "light"):
            page.evaluate(f"bench.shop('{shop}')")
            assert not seen.axe(), shop
        assert not seen.faults


@pytest.mark.parametrize("kind", ["slip", "stool", "bench"])
def test_seats_on_a_frame_open_at_every_stage_and_are_drawn(chrome, running, kind):
    sheet = running.begin(kind, f"Opened {kind}")["sheet"]
    with Seen(chrome, running) as seen:
        page = seen.page
        seen.open(f"{sheet}/measure")
        seen.until("window.bench.sheet && bench.sheet.usable && document.querySelector('.ask h1')")
        stages = page.evaluate("bench.sheet.stages.map((one) => [one.title, one.seldom])")
        titles, seldom = ([title for title, word in stages if word == wanted] for wanted in (False, True))
        for stage in titles:
            assert page.locator(".ask h1").inner_text() == stage
            assert page.locator(".tape svg, .tape .stand").count() == 1, stage
            page.locator("[data-at=next]").click()
        # What most seats do without is not on the way.
        seen.until("bench.part === 'see'")
        page.evaluate("bench.to('measure')")
        page.get_by_role("button", name=seldom[0]).click()
        for stage in seldom:
            assert page.locator(".ask h1").inner_text() == stage
            assert page.locator(".tape svg").count() == 1, stage
            page.locator("[data-at=next]").click()
        # A draft shows it; the exact seat is waited for elsewhere.
        seen.until("bench.part === 'see' && bench.seat")
        running.ask("POST", "/api/stop")
        time.sleep(0.3)
        assert drawn(page).std() > 10.0
        assert page.locator("svg.cut .c-now").count() >= 1
        page.locator(".stand canvas").press("0")
        box = page.locator(".stand canvas").bounding_box()
        page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        page.wait_for_selector(".side svg.piece")
        assert not seen.faults


def test_a_turned_number_is_followed_and_told(chrome, running, cushion):
    with Seen(chrome, running) as seen:
        page = seen.page
        seen.open(f"{cushion}/decide")
        seen.final()
        # The piece of a tapped panel is moved into sight beside the numbers.
        page.evaluate("bench.see.pick(bench.answer.pieces[0].panels[0])")
        assert page.locator("svg.piece").bounding_box()["y"] < 400
        page.evaluate("bench.see.pick(null)")
        page.locator("[data-at=k-pad-0-closed-thickness]").fill("110")
        seen.until("bench.sheet.mark !== bench.answer.mark")
        seen.final()
        assert "higher" in page.locator(".changes").inner_text()
        assert not seen.axe()
        page.get_by_role("button", name="Undo").click()
        seen.until("!bench.queue.length")
        assert "thickness = 90" in (running.folder / cushion).read_text()
        assert not seen.faults


def test_a_phone_shows_it(chrome, running, cushion):
    with Seen(chrome, running, viewport={"width": 390, "height": 844}, has_touch=True) as seen:
        seen.open(f"{cushion}/see")
        seen.final()
        for part in ("measure", "see", "decide", "make"):
            seen.page.evaluate(f"bench.to('{part}')")
            time.sleep(0.4)
            wide = seen.page.evaluate("document.documentElement.scrollWidth")
            assert wide <= 391, part
        assert not seen.faults


def test_without_webgl_a_still_picture_takes_its_place(player, running, cushion):
    browser = player.chromium.launch(executable_path=str(CHROMIUM), args=[*FLAGS, "--disable-gpu", "--disable-3d-apis"])
    try:
        with Seen(browser, running) as seen:
            seen.open(f"{cushion}/see")
            seen.final()
            seen.until("document.querySelector('img.still') && document.querySelector('img.still').naturalWidth > 200")
            assert seen.page.locator("canvas").count() == 0
            assert seen.page.locator("svg.cut .c-now").count() >= 1
    finally:
        browser.close()


def test_hostile_names_are_shown_as_text(chrome, running):
    path = running.folder / "hostile.toml"
    base = running.ask("GET", "/api/folder").json()
    assert base["sheets"]
    text = running.begin("box", "Plain name")
    plain = (running.folder / text["sheet"]).read_text()
    with Seen(chrome, running) as seen:
        for name in HOSTILE:
            quoted = name.replace("\\", "\\\\").replace('"', '\\"')
            path.write_text(
                plain.replace('name = "Plain name"', f'name = "{quoted}"').replace('"cushion"', f'"{quoted}"', 1)
            )
            seen.open()
            seen.page.evaluate("location.hash = '#/hostile.toml/measure'")
            seen.until("window.bench.sheet && bench.sheet.sheet === 'hostile.toml'")
            for part in ("measure", "see", "decide", "make"):
                seen.page.evaluate(f"bench.to('{part}')")
                seen.until(f"bench.part === '{part}'")
            assert seen.page.evaluate("window.hit") is None
            assert name[:20] in seen.page.evaluate("document.body.textContent")
            assert seen.page.locator("img[src=x]").count() == 0
        assert not [fault for fault in seen.faults if "hit" in fault]


def test_the_page_handed_over_opens_from_a_stick(chrome, running, cushion, tmp_path):
    answer = running.ask("GET", f"/api/sheets/{cushion}/handover")
    assert answer.status_code == 200
    assert len(answer.content) < 4_000_000
    file = tmp_path / "seat.html"
    file.write_bytes(answer.content)
    with Seen(chrome, running) as seen:
        asked = []
        seen.page.on("request", lambda request: asked.append(request.url))
        seen.page.goto(file.as_uri())
        seen.until("document.querySelector('.stand canvas')", 20)
        time.sleep(0.5)
        assert drawn(seen.page).std() > 10.0
        assert not [url for url in asked if not url.startswith(("file:", "blob:", "data:"))]
        assert not seen.faults
