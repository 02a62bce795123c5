"""How long the bench page takes to follow a number that is turned, and whether its memory stays: by the real server.

Run: python -m tests.bench.page [--changes 500] [SHEET]. One layer's thickness is turned over its range; what is
measured is the time from the request until the section and the draft are told, which a page then has to draw, and the
resident memory of the server and its worker (from /proc). Wanted at the median on two idle cores: section 100 ms,
draft 500 ms.
"""

import argparse
import contextlib
import json
import shutil
import statistics
import tempfile
import threading
import time
from pathlib import Path

import httpx

from tests.flatten.page.conftest import started

EXAMPLES = Path(__file__).parents[2] / "examples"
USUAL = EXAMPLES / "jump_back" / "jump_back.toml"
# How far the outermost layer is turned, mm, and after how many changes memory is looked at.
RANGE_MM, LOOK_EVERY = 20, 50


def memory_mb(pid):
    """Resident memory of a server and of its worker, MB."""
    own = below = 0.0
    for one in Path("/proc").glob("[0-9]*"):
        try:
            parts = (one / "status").read_text()
        except OSError:
            continue
        fields = dict(line.split(":", 1) for line in parts.splitlines() if ":" in line)
        mb = int(fields.get("VmRSS", "0 kB").split()[0]) / 1024
        if int(one.name) == pid:
            own = mb
        elif int(fields["PPid"]) == pid:
            below += mb
    return own, below


class News:
    """When which level of which text was told."""

    def __init__(self, server):
        self.told, self.new = {}, threading.Condition()
        threading.Thread(target=self._listen, args=(server,), daemon=True).start()

    def _listen(self, server):
        # The stream ends with the server.
        with (
            contextlib.suppress(httpx.TransportError),
            httpx.stream("GET", server.base + "/api/news", headers=server.headers, timeout=None) as answer,
        ):
            for line in answer.iter_lines():
                row = json.loads(line) if line else {}
                if row.get("kind") == "work" and row.get("state") == "done":
                    with self.new:
                        self.told[row["mark"], row["level"]] = time.perf_counter()
                        self.new.notify_all()

    def when(self, mark, level, seconds=60.0):
        with self.new:
            assert self.new.wait_for(lambda: (mark, level) in self.told, seconds), (mark, level)
            return self.told[mark, level]


def turned(path, changes):
    """Seconds to section and draft of every change, and memory in MB along the way."""
    folder = Path(tempfile.mkdtemp())
    for one in path.parent.glob("*.toml"):
        shutil.copy(one, folder)
    rows, memory = {"section": [], "draft": []}, []
    # One connection for all, as a browser has it.
    with started(folder) as (server, process), httpx.Client(headers=server.headers, timeout=180) as client:
        news = News(server)

        def ask(method, place, **more):
            return client.request(method, server.base + place, **more)

        sheet = ask("GET", f"/api/sheets/{path.name}").json()
        layers = next(stage for stage in sheet["stages"] if stage["rows"] and stage["rows"]["called"] == "layer")
        field = next(f for f in layers["rows"]["rows"][-1] if f["keys"][-1] == "thickness")
        ask("POST", f"/api/sheets/{path.name}/look")
        news.when(sheet["mark"], "draft")
        for k in range(changes):
            # One sweep, no value twice: what was told of a text before would count as told at once.
            value = round(field["mm"] + RANGE_MM * (k + 1) / changes, 3)
            begin = time.perf_counter()
            body = {"base": sheet["mark"], "changes": [{"keys": field["keys"], "value": value}]}
            sheet = ask("POST", f"/api/sheets/{path.name}/change", json=body).json()
            ask("POST", f"/api/sheets/{path.name}/look")
            for level, found in rows.items():
                found.append(news.when(sheet["mark"], level) - begin)
            if k % LOOK_EVERY == 0 or k == changes - 1:
                memory.append((k + 1, memory_mb(process.pid)))
        ask("POST", "/api/stop")
    shutil.rmtree(folder)
    return rows, memory


def main():
    """Print medians, the slowest tenth, and memory."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--changes", type=int, default=500)
    parser.add_argument("sheet", nargs="?", type=Path, default=USUAL)
    given = parser.parse_args()
    rows, memory = turned(given.sheet, given.changes)
    print(f"{given.sheet.name}: {given.changes} changes")
    for level, found in rows.items():
        tenth = statistics.quantiles(found, n=10)[-1] if len(found) > 1 else found[0]
        print(
            f"  {level:<8} median {1000 * statistics.median(found):6.0f} ms, nine of ten within {1000 * tenth:6.0f} ms"
        )
    told = ", ".join(f"{own:.0f} + {below:.0f} MB after {k}" for k, (own, below) in memory)
    print("  memory   server + worker " + told)


if __name__ == "__main__":
    main()
