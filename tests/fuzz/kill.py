"""`kill -9` (and TERM, HUP, INT) in a loop of the command, at any moment or when it begins to write."""

import random
import signal
import subprocess
import time
from pathlib import Path

from tests.fuzz.case import Outcome, chance
from tests.fuzz.command import Bench

SIGNALS = (signal.SIGKILL, signal.SIGKILL, signal.SIGKILL, signal.SIGTERM, signal.SIGINT, signal.SIGHUP)
KILLS = 4
LONGEST_RUN_SECONDS = 6.0
_POLL_SECONDS = 0.002


def work(seed: int, folder: Path) -> Outcome:
    """Kill a few runs, each of the other of two versions of a sheet, then let one end by itself."""
    dice, bench = chance("kill", seed), Bench(folder)
    names = bench.learn(0)
    bench.learn(1)
    if dice.random() < 0.7:
        bench.finished(bench.sheet(0), bench.out)
    found, killed = [], 0
    for k in range(KILLS):
        sent = dice.choice(SIGNALS)
        process = bench.start(bench.sheet((k + 1) % 2), bench.out)
        _wait(process, bench.out, dice)
        ended = process.poll() is not None
        process.send_signal(sent)
        _, said = process.communicate(timeout=60.0)
        killed += not ended
        found += [f"{words} after {sent.name}" for words in (*bench.harm(), *bench.workers_left())]
        if not ended and sent in (signal.SIGINT, signal.SIGTERM) and "Traceback" in said:
            found.append(f"{sent.name} shows a traceback")
    code, said = bench.finished(bench.sheet(1), bench.out)
    if code:
        found.append(f"a run after kills ends with {code}: {' '.join(said.split())[-300:]}")
    else:
        found += bench.harm() + bench.leftovers(names)
    return Outcome(f"{killed} killed", [], sorted(set(found)), text=said)


def _wait(process: "subprocess.Popen[str]", out: Path, dice: random.Random) -> None:
    """Until some moment of the run, or until a little after it begins to write."""
    begin = time.monotonic()
    if dice.random() < 0.3:
        time.sleep(dice.uniform(0.0, LONGEST_RUN_SECONDS))
        return
    before, delay = _state(out), dice.choice((0.0, dice.uniform(0.0, 0.05), dice.uniform(0.0, 0.6)))
    while process.poll() is None and time.monotonic() - begin < 10 * LONGEST_RUN_SECONDS:
        if _state(out) != before:
            time.sleep(delay)
            return
        time.sleep(_POLL_SECONDS)


def _state(out: Path) -> tuple[int, int]:
    """What changes when something appears in the folder or beside it."""
    return out.stat().st_mtime_ns if out.exists() else 0, out.parent.stat().st_mtime_ns
