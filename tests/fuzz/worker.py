"""A process of its own that does cases: reads "KIND SEED" from stdin, answers with one line of JSON for each.

Bounds of the case are the process's: CPU seconds by a timer, memory by RLIMIT_AS above what is loaded anyway. What
blocks without using the CPU, or dies, is seen by the team (tests/fuzz/team.py) from outside.
"""

import json
import resource
import signal
import sys
from importlib import import_module
from pathlib import Path
from tempfile import TemporaryDirectory
from types import FrameType

from tests.fuzz.case import KINDS, Outcome, Work, heard, trace
from tests.fuzz.shrink import same_finding, shrunk

# Seconds in which a sheet that shows a finding is made shorter; other input is kept as it is.
SHRINK_SECONDS = {"sheets": 8.0, "jobs": 90.0}
# CPU seconds and megabytes that a case may take.
CPU_SECONDS = {"sheets": 4.0, "jobs": 240.0, "meshes": 60.0, "kill": 240.0, "disk": 240.0}
MEGABYTES = {"sheets": 400, "jobs": 3000, "meshes": 1200, "kill": 3000, "disk": 3000}


class OverTimeError(Exception):
    """The case used more CPU time than its kind may."""


def _ring(signum: int, frame: FrameType | None) -> None:
    raise OverTimeError("the case does not end")


def work_of(kind: str) -> Work:
    """The function that does the cases of a kind."""
    work: Work = import_module(f"tests.fuzz.{kind}").work
    return work


def text_of(kind: str, seed: int) -> str:
    """The sheet of a case, empty for kinds that have none."""
    module = import_module(f"tests.fuzz.{kind}")
    if kind == "sheets":
        return str(module.sheet_bytes(seed)[0].decode("utf-8", "surrogateescape"))
    return str(module.sheet_of(seed)[0].text) if kind == "jobs" else ""


def bound_memory(megabytes: int) -> None:
    """Let this process take so much more address space than it has now."""
    pages = int(Path("/proc/self/statm").read_text().split()[0])
    most = pages * resource.getpagesize() + (megabytes << 20)
    resource.setrlimit(resource.RLIMIT_AS, (most, resource.getrlimit(resource.RLIMIT_AS)[1]))


def done(kind: str, seed: int, work: Work | None = None) -> Outcome:
    """One case done within its CPU time, by another work than its kind's if one is given. Raises nothing that a case
    can raise."""
    work = work or work_of(kind)
    signal.signal(signal.SIGPROF, _ring)
    with TemporaryDirectory(prefix="fuzz") as folder:
        signal.setitimer(signal.ITIMER_PROF, CPU_SECONDS[kind])
        try:
            with heard():
                outcome = work(seed, Path(folder))
        except Exception as fault:
            outcome = Outcome("fault", findings=[trace(fault)], text=text_of(kind, seed))
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0.0)
        # The folder has another name on every run; the same finding shall read alike.
        outcome.findings = [words.replace(folder, "FOLDER") for words in outcome.findings]
        return outcome


def shortened(kind: str, seed: int, outcome: Outcome) -> str:
    """The input of a finding, shorter where that can be done in time."""
    if kind not in SHRINK_SECONDS or not outcome.text or not outcome.findings:
        return outcome.text
    module = import_module(f"tests.fuzz.{kind}")

    def shows(text: str) -> bool:
        found = done(kind, seed, lambda number, folder: module.again(number, text, folder))
        return same_finding(found.findings, outcome.findings)

    return shrunk(outcome.text, shows, seconds=SHRINK_SECONDS[kind])


def main() -> None:
    """Answer until stdin ends."""
    answers = sys.stdout
    # What the program prints by mistake must not be taken for an answer.
    sys.stdout = sys.stderr
    bounded = None
    for line in sys.stdin:
        kind, seed = line.split()
        assert kind in KINDS
        if kind != bounded:
            work_of(kind)
            bound_memory(MEGABYTES[kind])
            bounded = kind
        outcome = done(kind, int(seed))
        outcome.text = shortened(kind, int(seed), outcome)
        print(json.dumps({"kind": kind, "seed": int(seed), **outcome.as_json()}), file=answers, flush=True)


if __name__ == "__main__":
    main()
