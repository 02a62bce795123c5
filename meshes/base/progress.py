"""How long work tells what it is doing, and how it hears that it is wanted no more."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Protocol


class Progress(Protocol):
    """Called with what is being done, how much of it is done, and of how much: 0 where nobody knows beforehand."""

    def __call__(self, doing: str, done: int, of: int, /) -> None: ...


def unheard(doing: str, done: int, of: int) -> None:
    """Progress that nobody asked for."""


class Cancelled(Exception):
    """What is being worked out is wanted no more."""


def _always() -> bool:
    return True


_asked: list[Callable[[], bool]] = [_always]


@contextmanager
def while_wanted(wanted: Callable[[], bool]) -> Iterator[None]:
    """Within the block `look_up` asks whether the work is still wanted; for the one thread of a process that works."""
    _asked.append(wanted)
    try:
        yield
    finally:
        _asked.pop()


def look_up() -> None:
    """Called between the steps of a search. Raises Cancelled when what it looks for is wanted no more."""
    if not _asked[-1]():
        raise Cancelled
