"""A worker process: reads tasks from its standard input, writes what they come to on its standard output, until the
input ends. Run as `python -m flatten.machine.worker MODULE`, the module being loaded before the first task comes.

Every message is the length of a pickle in eight bytes, then the pickle: (function, task) one way, (whether it went
well, result or exception) the other. A message of no length says that what was asked before it is wanted no more. A
task that tells how far it has come does so in messages of their own: (None, what is said).
"""

import importlib
import os
import pickle
import queue
import struct
import sys
import threading
import traceback
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, BinaryIO

from meshes.base.progress import while_wanted

PRELOAD = "flatten.job.pipeline"
_LENGTH = struct.Struct(">Q")


def write_frame(stream: Any, data: bytes) -> None:
    """Write one message. Raises OSError when nobody reads any more."""
    stream.write(_LENGTH.pack(len(data)))
    stream.write(data)
    stream.flush()


def read_frame(stream: Any) -> bytes | None:
    """One message, None when there is no whole one to come."""
    head = stream.read(_LENGTH.size)
    if len(head) < _LENGTH.size:
        return None
    (length,) = _LENGTH.unpack(head)
    data = stream.read(length)
    return data if len(data) == length else None


def answer(frame: bytes) -> bytes:
    """Do a task; the result, or the exception that it raised, as a pickle."""
    try:
        work, task = pickle.loads(frame)
        return pickle.dumps((True, work(task)), protocol=pickle.HIGHEST_PROTOCOL)
    except Exception as fault:
        return _told(fault)


def _told(fault: Exception) -> bytes:
    """A failure as a pickle that can be read back, with where it happened."""
    fault.add_note("in a worker process:\n" + "".join(traceback.format_exception(fault)))
    try:
        data = pickle.dumps((False, fault), protocol=pickle.HIGHEST_PROTOCOL)
        pickle.loads(data)
    except Exception:
        plain = RuntimeError("".join(traceback.format_exception(fault)))
        data = pickle.dumps((False, plain), protocol=pickle.HIGHEST_PROTOCOL)
    return data


@dataclass
class Inbox:
    """Tasks in the order they came. come, begun: how many; given_up: how many of the first are wanted no more."""

    tasks: "queue.SimpleQueue[bytes]" = field(default_factory=queue.SimpleQueue)
    come: int = 0
    begun: int = 0
    given_up: int = 0

    def take(self, frame: bytes) -> None:
        """One message that has come."""
        if frame:
            self.come += 1
            self.tasks.put(frame)
        else:
            self.given_up = self.come

    def next(self) -> bytes:
        """The next task, which counts as begun; waits for one."""
        frame = self.tasks.get()
        self.begun += 1
        return frame

    def wanted(self) -> bool:
        """Whether the task that was begun last is still wanted."""
        return self.begun > self.given_up


def _watch(source: BinaryIO, inbox: Inbox) -> None:
    """Pass messages on; the end of the input ends the process, in the middle of a task too."""
    while (frame := read_frame(source)) is not None:
        inbox.take(frame)
    os._exit(0)


def _unsaid(said: Any) -> None:
    """Outside a worker nobody hears what a task tells."""


_say: list[Callable[[Any], None]] = [_unsaid]


def tell(said: Any) -> None:
    """Send word from within a task to whoever asked for it."""
    _say[-1](said)


def main(preload: str) -> None:
    """Serve until the input ends."""
    # Whatever a library prints must not run into the messages.
    source, sink = os.fdopen(os.dup(0), "rb"), os.fdopen(os.dup(1), "wb")
    with open(os.devnull, "rb") as nothing:
        os.dup2(nothing.fileno(), 0)
    os.dup2(2, 1)
    inbox = Inbox()
    threading.Thread(target=_watch, args=(source, inbox), daemon=True).start()
    importlib.import_module(preload)
    _say.append(lambda said: write_frame(sink, pickle.dumps((None, said), protocol=pickle.HIGHEST_PROTOCOL)))
    while True:
        frame = inbox.next()
        try:
            with while_wanted(inbox.wanted):
                done = answer(frame)
            write_frame(sink, done)
        except OSError:
            # Nobody is left to read it.
            os._exit(0)


if __name__ == "__main__":
    # The module that tasks import, not this copy of it under another name: both have a way to tell of their own.
    importlib.import_module("flatten.machine.worker").main(sys.argv[1])
