"""A full disk, as `ulimit -f` makes one: no file may grow beyond so many bytes. The run is refused, nothing changes."""

import re
import resource
from collections.abc import Callable
from pathlib import Path

from tests.fuzz.case import Outcome, chance
from tests.fuzz.command import Bench

LARGEST_BYTES = 120_000
_NUMBERED = re.compile(r"\b[A-Z]\d{3}\b")


def work(seed: int, folder: Path) -> Outcome:
    """A run on a disk that is full, over an earlier one or beside user's files alone, and one that is not."""
    dice, bench = chance("disk", seed), Bench(folder)
    names = bench.learn(0)
    bench.learn(1)
    if dice.random() < 0.6:
        bench.finished(bench.sheet(0), bench.out)
    bytes_ = round(LARGEST_BYTES ** dice.random())
    code, said = bench.finished(bench.sheet(1), bench.out, _limit(bytes_))
    found = bench.harm() + bench.workers_left()
    if code not in (0, 2):
        found.append(f"a full disk ends with {code}: {' '.join(said.split())[-300:]}")
    if code == 2 and not _NUMBERED.search(said):
        found.append(f"a full disk is not told by a numbered problem: {' '.join(said.split())[:300]}")
    if "Traceback" in said:
        found.append("a full disk shows a traceback")
    result = "written" if code == 0 else "refused"
    code, said = bench.finished(bench.sheet(1), bench.out)
    if code:
        found.append(f"the run after it ends with {code}: {' '.join(said.split())[-300:]}")
    else:
        found += bench.harm() + bench.leftovers(names)
    return Outcome(result, [], sorted(set(found)), text=said)


def _limit(size: int) -> Callable[[], None]:
    return lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))
