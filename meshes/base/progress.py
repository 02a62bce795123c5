"""How long work tells what it is doing."""

from typing import Protocol


class Progress(Protocol):
    """Called with what is being done, how much of it is done, and of how much: 0 where nobody knows beforehand."""

    def __call__(self, doing: str, done: int, of: int, /) -> None: ...


def unheard(doing: str, done: int, of: int) -> None:
    """Progress that nobody asked for."""
