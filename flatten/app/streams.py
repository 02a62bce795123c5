"""Standard output and error as a command needs them: every text can be written, and a fault in writing is told.

A stream that cannot show a sign gets it in plain letters, or as its number; JSON keeps its meaning. A reader that has
gone away ends the command quietly; a full disk is a numbered problem.
"""

import codecs
import contextlib
import io
import os
import re
import sys
from typing import Any, TextIO

from meshes.base.problems import Problem

_PLAIN = {"°": " deg", "²": "2", "³": "3", "×": "x", "±": "+-", "–": "-", "—": "-", "…": "...", "’": "'", "→": "->"}
# What a shell expects of a program whose reader has gone away: 128 + SIGPIPE.
NO_READER = 141


class StreamFault(Exception):
    """Standard output cannot be written; `reason` is what the system says, None when only its reader has gone away."""

    def __init__(self, reason: str | None) -> None:
        super().__init__(reason)
        self.reason = reason

    @property
    def problem(self) -> Problem:
        """The fault as a numbered problem."""
        text = f"cannot be written ({self.reason}); make room, or send it elsewhere"
        return Problem("P005", "standard output", text)


class _Out(io.TextIOWrapper):
    """Standard output; a fault in writing is a StreamFault."""

    def write(self, text: str) -> int:
        with _faults_told():
            return super().write(text)

    def flush(self) -> None:
        with _faults_told():
            super().flush()


class _Err(io.TextIOWrapper):
    """Standard error; when it cannot be written there is nobody to tell, and the exit code has to do."""

    def write(self, text: str) -> int:
        with contextlib.suppress(OSError):
            return super().write(text)
        return len(text)

    def flush(self) -> None:
        with contextlib.suppress(OSError):
            super().flush()


def prepare() -> None:
    """Make both streams able to take any text, and to tell of faults."""
    _fill_gaps()
    codecs.register_error("plain", _plainly)
    sys.stdout = _renewed(sys.stdout, 1, _Out)
    sys.stderr = _renewed(sys.stderr, 2, _Err)


def json_for(stream: TextIO, text: str) -> str:
    """JSON text as `stream` can take it: signs it cannot show as escapes, which mean the same."""
    with contextlib.suppress(UnicodeEncodeError):
        text.encode(stream.encoding or "ascii", "strict")
        return text
    return re.sub(r"[^\x00-\x7f]", lambda sign: _escape(sign.group()), text)


def give_up() -> None:
    """Let nothing more be written on standard output, so that the end of the program does not try again."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)


@contextlib.contextmanager
def _faults_told() -> Any:
    try:
        yield
    except BrokenPipeError as fault:
        raise StreamFault(None) from fault
    except OSError as fault:
        raise StreamFault(fault.strerror or str(fault)) from fault


def _fill_gaps() -> None:
    """Open what the caller has closed, else the first file that is opened would get the number of a stream."""
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)


def _renewed(stream: TextIO | None, number: int, kind: type[io.TextIOWrapper]) -> TextIO:
    if stream is None:
        return kind(open(number, "wb", closefd=False), encoding="utf-8", errors="plain")
    if not isinstance(stream, io.TextIOWrapper):
        return stream
    encoding, lines = stream.encoding, stream.line_buffering
    return kind(stream.detach(), encoding=encoding, errors="plain", line_buffering=lines)


def _plainly(fault: UnicodeError) -> tuple[str, int]:
    assert isinstance(fault, UnicodeEncodeError)
    signs = fault.object[fault.start : fault.end]
    return "".join(_PLAIN.get(sign) or _escape(sign) for sign in signs), fault.end


def _escape(sign: str) -> str:
    units = sign.encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{int.from_bytes(units[k : k + 2]):04x}" for k in range(0, len(units), 2))
