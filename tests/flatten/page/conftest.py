"""One server for all tests of the page, with a folder of its own."""

import contextlib
import re
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import httpx
import pytest

from tests.flatten.page.seen import CHROMIUM, FLAGS, GL

ROOT = Path(__file__).parents[3]
# Triangles of this size, mm, are enough for what the page does with a seat.
COARSE_MM = 30


@dataclass(frozen=True)
class Running:
    """A server that runs: its folder, address and key."""

    folder: Path
    base: str
    key: str

    @property
    def headers(self) -> dict[str, str]:
        return {"X-Trimloft-Key": self.key}

    def ask(self, method: str, path: str, **more: object) -> httpx.Response:
        return httpx.request(method, self.base + path, headers=self.headers, timeout=180, **more)

    def begin(self, kind: str, title: str, **values: object) -> dict:
        """A new sheet on a coarse mesh, with values changed: keys joined by two underlines."""
        made = self.ask("POST", "/api/sheets", json={"kind": kind, "title": title}).json()
        return self.coarse(made["sheet"], **values)

    def coarse(self, sheet: str, **values: object) -> dict:
        """A sheet set to a coarse mesh, with values changed as by another window."""
        keys = {name: [int(k) if k.isdigit() else k for k in name.split("__")] for name in values}
        changes = [{"keys": ["output", "mesh"], "value": COARSE_MM}]
        changes += [{"keys": keys[name], "value": value} for name, value in values.items()]
        body = {"base": self.ask("GET", f"/api/sheets/{sheet}").json()["mark"], "changes": changes}
        return self.ask("POST", f"/api/sheets/{sheet}/change", json=body).json()


@contextlib.contextmanager
def started(folder: Path, *more: str):
    """A server on a folder, ended when the block is left."""
    command = [sys.executable, "-m", "flatten", "page", str(folder), "--no-browser", *more]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT)
    try:
        first = process.stdout.readline()
        base, key = re.search(r"(http://[\d.:]+)/#key=([\w-]+)", first).groups()
        for _ in range(100):
            with contextlib.suppress(httpx.TransportError):
                httpx.get(base + "/", timeout=5)
                break
        yield Running(folder, base, key), process
    finally:
        process.terminate()
        process.wait(10)


@pytest.fixture(scope="session")
def running(tmp_path_factory):
    with started(tmp_path_factory.mktemp("shop")) as (server, _):
        yield server


# A browser lives as long as one file of tests: beside its loop no other test of this process may run one of its own.
@pytest.fixture(scope="module")
def player():
    playwright = pytest.importorskip("playwright.sync_api")
    with playwright.sync_playwright() as p:
        yield p


@pytest.fixture(scope="module")
def chrome(player):
    browser = player.chromium.launch(executable_path=str(CHROMIUM), args=[*FLAGS, *GL])
    yield browser
    browser.close()


@pytest.fixture(scope="session")
def cushion(running):
    """A small loose cushion on a coarse mesh."""
    sizes = {"pad__0__outline__front_width": 320, "pad__0__outline__rear_width": 300, "pad__0__outline__depth": 280}
    return running.begin("box", "Stern seat", **sizes)["sheet"]


@pytest.fixture(scope="session")
def slip(running):
    """A small slip seat on a coarse mesh."""
    sizes = {"pad__0__outline__front_width": 300, "pad__0__outline__rear_width": 280, "pad__0__outline__depth": 260}
    return running.begin("slip", "Small slip", **sizes)["sheet"]
