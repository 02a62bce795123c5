"""A worker process: reads tasks from its standard input, writes what they come to on its standard output, until the
input ends. Run as `python -m flatten.machine.worker MODULE`, the module being loaded before the first task comes.

Every message is the length of a pickle in eight bytes, then the pickle: (function, task) one way, (whether it went
well, result or exception) the other.
"""

import importlib
import os
import pickle
import queue
import struct
import sys
import threading
import traceback
from typing import Any, BinaryIO

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


def _watch(source: BinaryIO, tasks: "queue.SimpleQueue[bytes]") -> None:
    """Pass messages on; the end of the input ends the process, in the middle of a task too."""
    while (frame := read_frame(source)) is not None:
        tasks.put(frame)
    os._exit(0)


def main(preload: str) -> None:
    """Serve until the input ends."""
    # Whatever a library prints must not run into the messages.
    source, sink = os.fdopen(os.dup(0), "rb"), os.fdopen(os.dup(1), "wb")
    with open(os.devnull, "rb") as nothing:
        os.dup2(nothing.fileno(), 0)
    os.dup2(2, 1)
    tasks: queue.SimpleQueue[bytes] = queue.SimpleQueue()
    threading.Thread(target=_watch, args=(source, tasks), daemon=True).start()
    importlib.import_module(preload)
    while True:
        try:
            write_frame(sink, answer(tasks.get()))
        except OSError:
            # Nobody is left to read it.
            os._exit(0)


if __name__ == "__main__":
    main(sys.argv[1])
