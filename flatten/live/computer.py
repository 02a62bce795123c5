"""The one process that works for a live engine: one task at a time, given up when it is wanted no more."""

import pickle
import subprocess
import threading
from collections.abc import Callable
from contextlib import suppress
from typing import Any

from flatten.live.answers import Answer, LiveTask
from flatten.live.levels import worked_out
from flatten.machine.worker import read_frame, write_frame
from flatten.machine.workers import WorkerGone, gone, killed, started

_HOME = "flatten.live.levels"


class Computer:
    """A worker process that keeps what it knows from task to task; started when first needed, and again when it ended
    by itself."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        # Messages go in from the thread that asks and from the one that gives up.
        self._turn = threading.Lock()

    def warm(self) -> None:
        """Start the process now, so that the first task does not wait for it."""
        if self._process is None:
            self._process = started(_HOME)

    def ask(self, task: LiveTask, hear: Callable[[Any], None]) -> Answer:
        """What a task comes to; hear: is told how far it has come. Raises Cancelled when it was given up, and
        WorkerGone when the process ended; the next task starts another."""
        self.warm()
        process = self._process
        assert process is not None
        assert process.stdin is not None
        assert process.stdout is not None
        frame = pickle.dumps((worked_out, task), protocol=pickle.HIGHEST_PROTOCOL)
        answer: tuple[bool, Any] | None = None
        with suppress(OSError):
            with self._turn:
                write_frame(process.stdin, frame)
            answer = _heard(process.stdout, hear)
        if answer is None:
            self._process = None
            raise WorkerGone([killed(gone(process))])
        sound, value = answer
        if not sound:
            raise value
        found: Answer = value
        return found

    def give_up(self) -> None:
        """What was asked is wanted no more: it ends at its next step."""
        process = self._process
        if process is not None and process.stdin is not None:
            with self._turn, suppress(OSError, ValueError):
                write_frame(process.stdin, b"")

    def close(self) -> None:
        """End the process, in the middle of what it does."""
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            gone(process)


def _heard(source: Any, hear: Callable[[Any], None]) -> tuple[bool, Any] | None:
    """Whether a task went well, and what it came to; None when the process ended before."""
    while (said := read_frame(source)) is not None:
        sound, value = pickle.loads(said)
        if sound is not None:
            return sound, value
        hear(value)
    return None
