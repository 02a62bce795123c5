"""What may be changed in a sheet to be rid of a problem, and a change that was tried and found to do it."""

from dataclasses import dataclass
from enum import Enum

Path = tuple[str | int, ...]


class Way(Enum):
    """Which way a value is to go: a smaller number, a larger one, nearer to 1, or another value altogether."""

    LESS = "less"
    MORE = "more"
    EVEN = "nearer to 1"
    SET = "another value"


@dataclass(frozen=True)
class Vary:
    """A value that may be varied. keys: its path in the sheet, "*" stands for every key or number there, and a table or
    list for all numbers in it; values: for SET, what to write instead, None to leave the key out."""

    keys: Path
    way: Way
    values: tuple[object, ...] = ()


@dataclass(frozen=True)
class Change:
    """One value of a sheet changed: its path as written in the file, the value that stood there (None: the default) and
    the new one (None: leave the key out)."""

    keys: Path
    was: object
    value: object


@dataclass(frozen=True)
class Advice:
    """Changes, made together, that were tried: with them the sheet reads and its pads build, on a coarse mesh, without
    that problem and without another."""

    changes: tuple[Change, ...]
    words: str
