"""Cases shared out to worker processes, a limit of time on each from outside, and what they come to added up."""

import json
import os
import select
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from tests.fuzz.worker import CPU_SECONDS

# A worker shares its processor with others, and starts in a few seconds.
WALL_TO_CPU, START_SECONDS = 6.0, 60.0
# How the time of a run is shared out; the share goes to the kinds that were asked for.
SHARES = {"sheets": 0.3, "jobs": 0.45, "meshes": 0.13, "kill": 0.08, "disk": 0.04}
Told = Callable[[dict[str, Any]], None]


@dataclass
class Hand:
    """One worker process, started when it is needed and started anew when it was lost."""

    process: subprocess.Popen[str] | None = None

    def do(self, kind: str, seed: int) -> dict[str, Any]:
        """What a case comes to. A worker that dies or does not answer is a finding."""
        fresh = self.process is None
        if self.process is None:
            environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "PYTHONUNBUFFERED": "1"}
            command = [sys.executable, "-m", "tests.fuzz.worker"]
            self.process = subprocess.Popen(
                command,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                text=True,
                env=environment,
            )
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        wait = WALL_TO_CPU * CPU_SECONDS[kind] + (START_SECONDS if fresh else 0.0)
        try:
            self.process.stdin.write(f"{kind} {seed}\n")
            self.process.stdin.flush()
            ready, _, _ = select.select([self.process.stdout], [], [], wait)
            line = self.process.stdout.readline() if ready else None
        except BrokenPipeError:
            line = ""
        if line:
            return dict(json.loads(line))
        what = "the worker died" if line == "" else f"no answer within {wait:.0f} s"
        code = self.leave()
        return {"kind": kind, "seed": seed, "result": "fault", "findings": [f"{what} (exit {code})"]}

    def leave(self) -> int | None:
        """End the process; its exit code."""
        if self.process is None:
            return None
        process, self.process = self.process, None
        before = process.poll()
        process.kill()
        process.communicate()
        return before


@dataclass
class Plan:
    """Which seeds are done: the first of every kind, the counts that are enough, and the second when the run ends."""

    first: Mapping[str, int]
    counts: Mapping[str, int]
    seconds: float


def run(plan: Plan, *, workers: int, tell: Told) -> dict[str, int]:
    """Do cases until the time is up or the counts are reached; `tell` hears every outcome. Returns the first seed of
    every kind that was not done."""
    pace = _Pace(plan)
    lock = threading.Lock()

    def work() -> None:
        hand = Hand()
        try:
            for kind, seed in pace.cases():
                begin = time.monotonic()
                found = hand.do(kind, seed)
                with lock:
                    pace.spent[kind] += time.monotonic() - begin
                    tell(found)
        finally:
            hand.leave()

    threads = [threading.Thread(target=work) for _ in range(workers)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return dict(pace.next)


class _Pace:
    """Hands out the next case of the kind that is farthest behind its share of the time."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.next = dict(plan.first)
        self.spent = dict.fromkeys(plan.first, 0.0)
        self.end = time.monotonic() + plan.seconds
        self.lock = threading.Lock()

    def cases(self) -> Iterator[tuple[str, int]]:
        while time.monotonic() < self.end:
            with self.lock:
                kind = self._kind()
                if kind is None:
                    return
                seed = self.next[kind]
                self.next[kind] += 1
            yield kind, seed

    def _kind(self) -> str | None:
        left = [k for k in self.next if self.next[k] - self.plan.first[k] < self.plan.counts.get(k, 1 << 60)]
        return min(left, key=lambda k: self.spent[k] / SHARES[k], default=None)
