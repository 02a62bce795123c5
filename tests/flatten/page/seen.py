"""A page in a browser with what went wrong on it. Debian's Chromium draws with its own software rasterizer."""

import time
from pathlib import Path

import pytest

CHROMIUM = Path("/usr/bin/chromium")
AXE = (Path(__file__).parent / "axe" / "axe.min.js").read_text()
FLAGS = ["--no-sandbox", "--disable-quic", "--no-first-run", "--disable-background-networking"]
FLAGS += ["--disable-component-update", "--disable-sync"]
# The seat is drawn by the software rasterizer; the page around it by plain painting, which costs a fraction of that.
GL = ["--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
GL += ["--disable-gpu-compositing", "--disable-gpu-rasterization"]

needs_chromium = pytest.mark.skipif(not CHROMIUM.exists(), reason="needs Debian's package chromium")


class Seen:
    """A page with what went wrong on it."""

    def __init__(self, browser, running, **more):
        self.context = browser.new_context(**{"viewport": {"width": 1024, "height": 768}, **more})
        # A slow machine is no fault of the page.
        self.context.set_default_timeout(90_000)
        self.page = self.context.new_page()
        self.faults = []
        self.page.on("pageerror", lambda fault: self.faults.append(str(fault)))
        self.page.on("console", lambda said: said.type == "error" and self.faults.append(said.text))
        self.running = running

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.context.close()

    def open(self, part=""):
        self.page.goto(f"{self.running.base}/#key={self.running.key}")
        self.page.wait_for_selector(".kinds button")
        if part:
            self.page.evaluate(f"location.hash = '#/{part}'")

    def until(self, what, seconds=90.0):
        end = time.monotonic() + seconds
        while not self.page.evaluate(f"Boolean({what})"):
            assert time.monotonic() < end, what
            time.sleep(0.1)

    def final(self):
        same = "bench.answer.mark === bench.sheet.mark && !bench.queue.length"
        self.until(f"bench.answer && bench.answer.level === 'final' && {same}")

    def axe(self):
        """Serious findings on the page as it stands."""
        self.page.evaluate(f"(() => {{ {AXE} }})()" if "axe" not in self.page.evaluate("Object.keys(window)") else "0")
        found = self.page.evaluate("axe.run(document, {resultTypes: ['violations']})")
        return [
            (one["id"], [node["html"][:120] for node in one["nodes"]][:3])
            for one in found["violations"]
            if one["impact"] in ("serious", "critical")
        ]
