"""The real command and real scripts as processes of their own, and what they leave running (Linux: /proc)."""

import contextlib
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
# A machine with much else to do is given this long for anything.
LIMIT_S = 120
SHEET = """
name = "small seat"
[output]
mesh = 20
[[pad]]
name = "cushion"
kind = "cushion"
[pad.outline]
front_width = 400
rear_width = 380
depth = 300
corner_radius = 80
[pad.sides.front]
drop = 80
edge_radius = 10
band = true
[pad.sides.rear]
drop = 60
[[pad.layer]]
material = "foam_medium"
thickness = 20
where = "face"
taper = 50
"""
# A second pad for it, so that there is work for two.
OTHER = SHEET[SHEET.index("[[pad]]") :].replace('"cushion"', '"rear"\norigin = [0, 900, 0]', 1)

needs_proc = pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="reads /proc")


def started(*words, **more):
    """`python WORDS` in the background. Ctrl-C reaches it even where the tests themselves run without."""
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.Popen(
        [sys.executable, *map(str, words)],
        env=env,
        text=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
        **more,
    )


@contextlib.contextmanager
def ended_with_the_test(process):
    """A process that is killed with all below it when the block is left, however that happens."""
    try:
        yield process
    finally:
        for number in () if process.poll() is not None else (*children(process.pid), process.pid):
            with contextlib.suppress(ProcessLookupError):
                os.kill(number, signal.SIGKILL)
        process.wait(LIMIT_S)
        for pipe in (process.stdin, process.stdout, process.stderr):
            if pipe is not None:
                pipe.close()


def children(process):
    """Process numbers below one, at any depth."""
    parents = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            with contextlib.suppress(OSError):
                parents[int(entry.name)] = int((entry / "stat").read_text().rpartition(")")[2].split()[1])
    below = [number for number, parent in parents.items() if parent == process]
    return [*below, *(deeper for number in below for deeper in children(number))]


def alive(number):
    """Whether a process runs, not counting one that has ended and was not asked after yet."""
    try:
        return (Path("/proc") / str(number) / "stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def until(true, what):
    """Wait until true() is; what it is good for says what was waited for."""
    end = time.monotonic() + LIMIT_S
    while not (found := true()):
        assert time.monotonic() < end, f"waited in vain for {what}"
        time.sleep(0.02)
    return found


def listens(process):
    """Whether a process hears SIGTERM in a way of its own, as the command does from early on."""
    with contextlib.suppress(OSError, StopIteration):
        lines = (Path("/proc") / str(process.pid) / "status").read_text().splitlines()
        caught = int(next(line for line in lines if line.startswith("SigCgt")).split()[1], 16)
        return bool(caught >> (signal.SIGTERM - 1) & 1)
    return False
