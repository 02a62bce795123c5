"""The page's side of the bench: one task in hand and one waiting, the newest; what is not wanted any more is stopped.

A task that does not stop between two stages within a short patience is ended with its process; another takes its place.
"""

import asyncio
import pickle
import subprocess
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from flatten.machine.worker import read_frame, write_frame
from flatten.machine.workers import started_module
from meshes.base.problems import Problem, ProblemError

# How long a task may take to reach the end of its stage once it is to stop.
STOP_PATIENCE_S = 1.5
OnSay = Callable[[str, int, int], None]


class StoppedAskingError(Exception):
    """The task was stopped before its end."""


@dataclass
class _Asked:
    number: int
    answer: "asyncio.Future[Any]"
    on_say: OnSay


class BenchLink:
    """One process that computes, started anew when it is gone."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        self._asked: _Asked | None = None
        self._count = 0
        self._turn = asyncio.Lock()

    def warm(self) -> None:
        """Start the process, which loads what it needs meanwhile."""
        if self._process is None or self._process.poll() is not None:
            self._process = started_module("flatten.bench.process")
            loop = asyncio.get_running_loop()
            threading.Thread(target=self._read, args=(self._process, loop), daemon=True).start()

    async def ask(self, verb: str, *arguments: Any, on_say: OnSay) -> Any:
        """What a task comes to. Raises ProblemError for what is refused, StoppedAskingError, RuntimeError for a
        fault of the program."""
        async with self._turn:
            self.warm()
            process = self._process
            assert process is not None
            assert process.stdin is not None
            self._count += 1
            asked = _Asked(self._count, asyncio.get_running_loop().create_future(), on_say)
            self._asked = asked
            try:
                frame = pickle.dumps(("do", asked.number, verb, arguments), protocol=pickle.HIGHEST_PROTOCOL)
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
        with suppress(OSError):
            write_frame(process.stdin, pickle.dumps(("stop", asked.number)))
        done, _ = await asyncio.wait([asked.answer], timeout=STOP_PATIENCE_S)
        if not done:
            process.kill()
            if not asked.answer.done():
                asked.answer.set_exception(StoppedAskingError())
            self._process = None
            self.warm()

    def close(self) -> None:
        """End the process."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None

    def _read(self, process: subprocess.Popen[bytes], loop: asyncio.AbstractEventLoop) -> None:
        assert process.stdout is not None
        while (frame := read_frame(process.stdout)) is not None:
            message = pickle.loads(frame)
            with suppress(RuntimeError):
                loop.call_soon_threadsafe(self._heard, message)
        code = process.wait()
        with suppress(RuntimeError):
            loop.call_soon_threadsafe(self._gone, process, code)

    def _heard(self, message: tuple[Any, ...]) -> None:
        asked, (what, number, *rest) = self._asked, message
        if asked is None or asked.number != number or asked.answer.done():
            return
        if what == "say":
            asked.on_say(*rest)
        elif what == "done":
            asked.answer.set_result(rest[0])
        elif what == "refused":
            asked.answer.set_exception(ProblemError(rest[0]))
        elif what == "stopped":
            asked.answer.set_exception(StoppedAskingError())
        else:
            asked.answer.set_exception(RuntimeError(rest[0]))

    def _gone(self, process: subprocess.Popen[bytes], code: int) -> None:
        if process is not self._process:
            return
        self._process = None
        if self._asked is not None and not self._asked.answer.done():
            text = f"the process that computes ended with status {code}, as systems do when memory runs out; try again"
            self._asked.answer.set_exception(ProblemError([Problem("W318", "bench", text)]))
