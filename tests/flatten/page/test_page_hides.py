"""Hides on the page: traced, by area, from a drawing; flaws by a tap; a piece pinned where it is dragged to."""

import base64
import tomllib

import pytest

from tests.flatten.page.seen import Seen, needs_chromium

DRAWING = """<svg xmlns="http://www.w3.org/2000/svg"><g id="outline"><path d="M0 0H1200V900H0Z"/></g>
<g id="backbone"><path d="M0 450H1200"/></g><g id="hole"><circle cx="1100" cy="800" r="20"/></g></svg>"""

# Names of zones that lie on a piece, a flaw or its words, each with what that is.
CROSSED = """(() => {
  const box = (one) => one.getBoundingClientRect(), found = [];
  for (const name of document.querySelectorAll(".h-zone-name"))
    for (const other of document.querySelectorAll(".h-piece path, .h-flaw, .hide > .p-sub")) {
      if (other === name) continue;
      const a = box(name), b = box(other);
      if (a.right > b.left && a.left < b.right && a.bottom > b.top && a.top < b.bottom) found.push(name.textContent);
    }
  return found;
})()"""


@pytest.fixture(scope="module")
def leather(running):
    """A small slip seat that is to be laid on hides."""
    sizes = {"pad__0__outline__front_width": 300, "pad__0__outline__rear_width": 280, "pad__0__outline__depth": 260}
    return running.begin("slip", "Laid slip", **sizes)["sheet"]


def sent(running, sheet, **more):
    state = running.ask("GET", f"/api/sheets/{sheet}").json()
    body = {"base": state["mark"], "name": "second", "file": "../Second hide.svg", "scale": 1,
            "data": base64.b64encode(DRAWING.encode()).decode(), **more}  # fmt: skip
    return running.ask("POST", f"/api/sheets/{sheet}/drawing", json=body)


def test_a_drawing_is_kept_beside_the_sheet_and_bounded(running, leather):
    before = (running.folder / leather).read_text()
    refused = {
        "scale": (sent(running, leather, scale=0), 422, "W324"),
        "kind": (sent(running, leather, file="x.exe"), 422, "W324"),
        "no base64": (sent(running, leather, data="<svg>"), 400, "W305"),
        "nothing in it": (sent(running, leather, data=base64.b64encode(b"<svg/>").decode()), 422, "W324"),
        "too large": (sent(running, leather, data=base64.b64encode(b" " * 800_001).decode()), 413, "W304"),
    }
    for name, (answer, status, code) in refused.items():
        assert (answer.status_code, answer.json()["problems"][0]["code"]) == (status, code), name
    assert not [*running.folder.glob("*.svg")]
    assert (running.folder / leather).read_text() == before
    told = sent(running, leather)
    assert told.status_code == 200, told.text
    (row,) = told.json()["hides"]
    assert (row["name"], row["file"], row["scale"]) == ("second", "second-hide.svg", 1)
    assert (running.folder / "second-hide.svg").read_text() == DRAWING
    found = running.ask("GET", f"/api/sheets/{leather}/hides").json()
    (drawn,) = found["drawn"]
    assert drawn["area_m2"] == pytest.approx(1.08)
    assert [flaw["grade"] for flaw in drawn["flaws"]] == ["hole"]
    running.ask("POST", f"/api/sheets/{leather}/undo", json={"base": told.json()["mark"]})
    assert (running.folder / leather).read_text() == before


@needs_chromium
def test_a_hide_is_traced_a_flaw_set_and_a_piece_pinned(chrome, running, leather):
    path = running.folder / leather
    kept = [line for line in path.read_text().splitlines() if "#" in line]
    with Seen(chrome, running) as seen:
        page = seen.page
        seen.open(f"{leather}/see")
        seen.final()
        page.evaluate("bench.to('hides')")
        page.locator("[data-at=hide-add]").click()
        page.locator("input[value=trace]").click()
        page.locator("[data-at=hide-go]").click()
        page.fill("#grid-long", "1000")
        page.keyboard.press("Tab")

        def spot(x, y):
            return page.evaluate(
                f"(() => {{ const v = bench.hides, q = new DOMPoint({x} - v.box[0], v.box[3] - {y})"
                ".matrixTransform(v.svg.getScreenCTM()); return [q.x, q.y]; })()"
            )

        ring = [[0, 0], [1000, 0], [1000, 800], [0, 800]]
        for at in ring:
            page.mouse.click(*spot(*at))
        page.locator("input[value=spine]").click()
        for at in ([0, 400], [1000, 400]):
            page.mouse.click(*spot(*at))
        assert not seen.axe()
        page.locator("[data-at=trace-save]").click()
        seen.until("!bench.queue.length && bench.hides.drawn.length === 1")
        page.locator("input[value=flaw]").click()
        page.mouse.click(*spot(900, 100))
        page.fill("#flaw-radius", "40")
        page.keyboard.press("Tab")
        page.locator("#flaw-grade").select_option("hole")
        page.locator("[data-at=flaw-write]").click()
        seen.until("!bench.queue.length && bench.hides.one.flaw && bench.hides.drawn[0].flaws.length === 1")
        seen.final()
        page.locator("input[value=pin]").click()
        seen.until("bench.hides.laid && !bench.hides.busy")
        # Zones are named where they are, on no piece and no flaw.
        named = page.evaluate("[...document.querySelectorAll('.h-zone-name')].map((one) => one.textContent)")
        assert {"butt", "neck"} <= {*named} <= {"butt", "shoulder", "neck", "belly", "flank"}
        crossed = page.evaluate(CROSSED)
        assert crossed == []
        first = "bench.hides.laid.pieces.find((one) => one.label.includes('face'))"
        at, label = page.evaluate(f"[{first}.at, {first}.label]")
        assert not seen.axe()
        # Over the hole it cannot stay: that is told, and the sheet is as it was.
        before = path.read_text()
        page.mouse.move(*spot(*at))
        page.mouse.down()
        page.mouse.move(*spot(840, 160), steps=3)
        page.mouse.up()
        seen.until("bench.hides.told.length && !bench.hides.busy")
        assert page.evaluate("bench.hides.told[0].code") in ("H001", "H002")
        assert path.read_text() == before
        # The keys do the same.
        page.evaluate("bench.hides.moved = {}; bench.hides.refresh()")
        page.evaluate(
            f"[...document.querySelectorAll('g[tabindex]')].find((g) => g.dataset.at.endsWith('{label}')).focus()"
        )
        page.keyboard.press("ArrowRight")
        page.keyboard.press("Enter")
        seen.until("!bench.queue.length && bench.hides.one.pin && !bench.hides.busy")
        (hide,) = tomllib.loads(path.read_text())["hide"]
        assert hide["outline"] == ring
        assert hide["flaw"] == [{"kind": "brand", "grade": "hole", "at": [900, 100], "radius": 40}]
        (pin,) = hide["pin"]
        assert pin["at"] == pytest.approx([at[0] + 10, at[1]], abs=0.51)
        assert page.evaluate(f"{first}.pinned")
        # A zone drawn by hand takes the place of those that follow from the backbone.
        page.locator("input[value=zone]").click()
        for spot_at in ([0, 0], [500, 0], [500, 800], [0, 800]):
            page.mouse.click(*spot(*spot_at))
        page.locator("#zone-name").select_option("shoulder")
        assert not seen.axe()
        page.locator("[data-at=zone-write]").click()
        seen.until("!bench.queue.length && bench.hides.one.zone && !bench.hides.busy")
        (zone,) = tomllib.loads(path.read_text())["hide"][0]["zone"]
        assert zone == {"name": "shoulder", "points": [[0, 0], [500, 0], [500, 800], [0, 800]]}
        assert page.evaluate("bench.hides.drawn[0].zones.map((one) => one.name)") == ["shoulder"]
        page.get_by_role("button", name="take out zone 1, shoulder").click()
        seen.until("!bench.queue.length && !bench.hides.one.zone && bench.hides.drawn[0].zones.length > 1")
        page.get_by_role("button", name="Undo").click()
        seen.until("!bench.queue.length && bench.hides.one.zone")
        page.get_by_role("button", name="Undo").click()
        seen.until("!bench.queue.length && !bench.hides.one.zone")
        page.locator("input[value=pin]").click()
        seen.final()
        page.locator("[data-at=hide-lay]").click()
        seen.until("bench.hides.laid && !bench.hides.busy")
        page.locator("#pin-piece").select_option(label)
        # What it asks of a hide is changed beside it, twice into one table.
        seen.final()
        page.locator("[data-at='zone neck']").check()
        page.locator("[data-at=ask-write]").click()
        seen.until("!bench.queue.length && bench.sheet.placings.length === 1 && !bench.hides.busy")
        seen.final()
        page.fill("#ask-off", "90")
        page.keyboard.press("Tab")
        assert not seen.axe()
        page.locator("[data-at=ask-write]").click()
        seen.until("!bench.queue.length && bench.sheet.placings[0].turn === 90 && !bench.hides.busy")
        (placing,) = tomllib.loads(path.read_text())["placing"]
        assert placing == {"pieces": ["seat face"], "zones": ["butt", "shoulder", "neck"], "turn": 90}
        assert page.evaluate(f"{first}.zones.length === 3 && {first}.off === 90")
        assert [line for line in path.read_text().splitlines() if "#" in line] == kept
        for _ in range(5):
            page.get_by_role("button", name="Undo").click()
            seen.until("!bench.queue.length")
        assert not {"hide", "placing"} & {*tomllib.loads(path.read_text())}
        assert not seen.faults
