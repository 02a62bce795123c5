"""What Ctrl-C, SIGTERM and SIGHUP do to a command: one line, everything unfinished taken back, exit 128 + signal.

The signal is raised as `Stopped` where the program happens to be, so that every `finally` on the way out does its work.
A library that swallows it, or work that cannot be left, is given a few seconds; then the process ends all the same, and
with it its workers. Only the standard library is loaded here, so that the earliest moment is covered too.
"""

import os
import signal
import sys
from types import FrameType
from typing import Any

# How long the way out may take before the process is ended as it stands.
LIMIT_S = 10.0
AGAIN_S = 0.02
SIGNALS = tuple(getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))
_WORDS = {"SIGINT": "Ctrl-C", "SIGTERM": "the system (SIGTERM)", "SIGHUP": "its terminal closing (SIGHUP)"}


class Stopped(BaseException):
    """The command is to end; `number`: of the signal that said so."""

    def __init__(self, number: int) -> None:
        super().__init__(number)
        self.number = number

    @property
    def exit_code(self) -> int:
        """What a shell expects of a program that a signal ended."""
        return 128 + self.number

    def __str__(self) -> str:
        name = signal.Signals(self.number).name
        return f"trimloft: stopped by {_WORDS.get(name, name)}; nothing is left half written"


def listen() -> None:
    """Raise Stopped in the main thread at the first signal to stop; signals that the caller ignores stay ignored."""
    for number in SIGNALS:
        if signal.getsignal(number) is not signal.SIG_IGN:
            signal.signal(number, _stop)
    sys.unraisablehook = _swallowed


def listen_no_more() -> None:
    """Let no signal disturb the last moments, when everything is done or being taken back."""
    for number in SIGNALS:
        signal.signal(number, signal.SIG_IGN)


def _stop(number: int, frame: FrameType | None) -> None:
    listen_no_more()
    _in_time(number, LIMIT_S, _end)
    raise Stopped(number)


def _in_time(number: int, seconds: float, what: Any) -> None:
    if hasattr(signal, "setitimer"):
        signal.signal(signal.SIGALRM, lambda _number, _frame: what(number))
        signal.setitimer(signal.ITIMER_REAL, seconds)


def _end(number: int) -> None:
    """Leave as things stand; workers end with this process, and what is unfinished the next run takes back."""
    os._exit(128 + number)


def _swallowed(told: Any) -> None:
    """Raised in a place Python cannot leave by an exception (a callback, a finalizer): raised again right after."""
    if isinstance(told.exc_value, Stopped):
        _in_time(told.exc_value.number, AGAIN_S, _again)
    else:
        sys.__unraisablehook__(told)


def _again(number: int) -> None:
    _in_time(number, LIMIT_S, _end)
    raise Stopped(number)
