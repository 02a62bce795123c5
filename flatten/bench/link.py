"""The page's side of the process that computes: one task at a time; what is not wanted any more is stopped.

A task that does not end between two steps within a short patience is ended with its process; another takes its place.
"""

import asyncio
import pickle
import subprocess
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from flatten.bench.process import PRELOAD, BenchTask, done
from flatten.machine.worker import read_frame, write_frame
from flatten.machine.workers import gone, killed, started
from meshes.base.problems import ProblemError
from meshes.base.progress import Cancelled

# How long a task may take to come to its next step once it is to stop.
STOP_PATIENCE_S = 1.5
OnSay = Callable[[str, int, int], None]


class StoppedAskingError(Exception):
    """The task was stopped before its end."""


@dataclass
class _Asked:
    answer: "asyncio.Future[Any]"
    on_say: OnSay


class BenchLink:
    """One process that computes, started anew when it is gone."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        self._asked: _Asked | None = None
        self._turn = asyncio.Lock()

    def warm(self) -> None:
        """Start the process, which loads what it needs meanwhile."""
        if self._process is None:
            self._process = started(PRELOAD)
            loop = asyncio.get_running_loop()
            threading.Thread(target=self._read, args=(self._process, loop), daemon=True).start()

    async def ask(self, verb: str, task: BenchTask, *more: Any, on_say: OnSay) -> Any:
        """What a task comes to. Raises what it raises there, StoppedAskingError when it was stopped, WorkerGone when
        its process ended."""
        async with self._turn:
            self.warm()
            process = self._process
            assert process is not None
            assert process.stdin is not None
            asked = _Asked(asyncio.get_running_loop().create_future(), on_say)
            self._asked = asked
            frame = pickle.dumps((done, (verb, task, more)), protocol=pickle.HIGHEST_PROTOCOL)
            try:
                with suppress(OSError):
                    await asyncio.to_thread(write_frame, process.stdin, frame)
                return await asked.answer
            finally:
                self._asked = None

    async def stop(self) -> None:
        """Stop the task in hand, if there is one; returns when it is stopped."""
        asked, process = self._asked, self._process
        if asked is None or process is None or process.stdin is None:
            return
        with suppress(OSError, ValueError):
            # A message of no length: what was asked is wanted no more.
            write_frame(process.stdin, b"")
        finished, _ = await asyncio.wait([asked.answer], timeout=STOP_PATIENCE_S)
        if not finished:
            process.kill()
            self._process = None
            if not asked.answer.done():
                asked.answer.set_exception(StoppedAskingError())
            self.warm()

    def close(self) -> None:
        """End the process."""
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            gone(process)

    def _read(self, process: subprocess.Popen[bytes], loop: asyncio.AbstractEventLoop) -> None:
        with suppress(OSError, ValueError, EOFError):
            while (frame := read_frame(process.stdout)) is not None:
                sound, value = pickle.loads(frame)
                with suppress(RuntimeError):
                    loop.call_soon_threadsafe(self._heard, process, sound, value)
        with suppress(RuntimeError):
            loop.call_soon_threadsafe(self._ended, process)

    def _heard(self, process: subprocess.Popen[bytes], sound: bool | None, value: Any) -> None:
        asked = self._asked
        if process is not self._process or asked is None or asked.answer.done():
            return
        if sound is None:
            asked.on_say(*value)
        elif sound:
            asked.answer.set_result(value)
        else:
            asked.answer.set_exception(StoppedAskingError() if isinstance(value, Cancelled) else value)

    def _ended(self, process: subprocess.Popen[bytes]) -> None:
        if process is not self._process:
            return
        self._process = None
        if self._asked is not None and not self._asked.answer.done():
            self._asked.answer.set_exception(ProblemError([killed(gone(process))]))
