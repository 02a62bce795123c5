"""Numbered problems: code, place, what is wrong, what was found, what to do.

A problem is collected, not raised at once, so that a trimmer sees every fault of a sheet in one go. Codes are
grouped by what they speak of: S the sheet as text, G geometry of a pad, M a mesh file, L leather, F
flattening, P paper and files.
"""

import difflib
import math
import unicodedata
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum

# So many problems are told in full; nobody reads more at once, and most of the rest go with the first ones.
MOST_TOLD = 50
_MOST_WHERE, _MOST_TEXT = 300, 2000
# Marks that turn the direction of what is written after them (Unicode Standard Annex 9).
_DIRECTIONS = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
# Control codes, halves of characters, ends of lines and paragraphs.
_CONTROLS = ("Cc", "Cs", "Zl", "Zp")
# Numbers of more digits are shown by their beginning; writing a number out takes longer the longer it is.
_MOST_DIGITS = 40
# Lists within lists are shown so deep.
_MOST_DEPTH = 4


def commands(text: str) -> str:
    """The characters of a text that a terminal, a page or a drawing would obey instead of showing, each once."""
    return "".join(sorted({c for c in text if unicodedata.category(c) in _CONTROLS or c in _DIRECTIONS}))


def plain(text: str) -> str:
    """A text from outside as it may be shown anywhere: ends of lines and tabs as blanks, other commands as "?"."""
    swaps = {ord(c): " " if c in "\t\n\r" else "?" for c in commands(text)}
    return text.translate(swaps) if swaps else text


Key = str | int
KeyPath = tuple[Key, ...]


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

    keys: KeyPath
    way: Way
    values: tuple[object, ...] = ()


@dataclass(frozen=True)
class SheetChange:
    """One value of a sheet changed: its path as written in the file, the value that stood there (None: the default) and
    the new one (None: leave the key out)."""

    keys: KeyPath
    was: object
    value: object


@dataclass(frozen=True)
class Remedy:
    """Changes, made together, that were tried: with them the sheet reads and its pads build, on a coarse mesh, without
    that problem and without another."""

    changes: tuple[SheetChange, ...]
    words: str


@dataclass(frozen=True)
class Problem:
    """One fault or warning. `where` names the place in words; `line` counts from 1 when the place is in a
    file. keys: that place as a path of a sheet; vary: which values of the sheet may be changed to be rid of it;
    advice: a change that was tried and does it.
    """

    code: str
    where: str
    text: str
    file: str | None = None
    line: int | None = None
    warning: bool = False
    keys: KeyPath = ()
    vary: tuple[Vary, ...] = ()
    advice: Remedy | None = None

    def __post_init__(self) -> None:
        # What stands in a file or a name may hold anything; no problem passes it on as it is.
        object.__setattr__(self, "where", _short(plain(self.where), _MOST_WHERE))
        object.__setattr__(self, "text", _short(plain(self.text), _MOST_TEXT))
        if self.file is not None:
            object.__setattr__(self, "file", plain(self.file))

    def __str__(self) -> str:
        place = f"{self.file}:{self.line or 1}: " if self.file else ""
        where = f"{self.where}: " if self.where else ""
        return f"{place}{self.code} {where}{self.text}"


class ProblemError(Exception):
    """Input that cannot be used. Carries every problem found, in the order of the file."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(told(self.problems)))

    def __reduce__(self) -> tuple[object, ...]:
        # Between processes problems go over as they are; what an exception carries by itself is their text alone.
        return type(self), (self.problems,), {"__notes__": list(getattr(self, "__notes__", ()))}


def told(problems: Sequence[Problem], most: int = MOST_TOLD) -> list[str]:
    """The problems as lines of text: the first `most` in full, the rest counted by their codes."""
    lines = [str(problem) for problem in problems[:most]]
    rest = Counter(problem.code for problem in problems[most:])
    if rest:
        counts = ", ".join(f"{count} of {code}" for code, count in sorted(rest.items()))
        lines.append(f"and {rest.total()} more: {counts}")
    return lines


def in_file_order(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """The problems by line; those of one line, and those without a line, keep the order they came in."""
    return tuple(sorted(problems, key=lambda problem: problem.line or 0))


def one_of(words: Iterable[str]) -> str:
    """`a`, `a or b`, `a, b or c`: the words that may be written."""
    choice = list(words)
    return " or ".join([", ".join(choice[:-1]), choice[-1]] if len(choice) > 1 else choice)


def and_words(names: Sequence[str]) -> str:
    """Names in one line: "a, b and c"."""
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def near_name(word: str, names: Iterable[str]) -> str | None:
    """The name that was probably meant by `word`, None when none is close."""
    known = list(names)
    lowered = {name.lower(): name for name in known}
    close = difflib.get_close_matches(word.lower().replace("-", "_").replace(" ", "_"), lowered, n=1, cutoff=0.6)
    return lowered[close[0]] if close else None


def shown(value: object, *, depth: int = 0) -> str:
    """A value as it stands in a sheet: text in quotes, true and false in lower case, long and deep values cut
    short.
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, str):
        return f'"{_cut(value)}"'
    if isinstance(value, int):
        return _digits(value)
    if isinstance(value, float):
        return f"{value:.10g}"
    if isinstance(value, list | tuple):
        inside = ["..."] if depth >= _MOST_DEPTH else [shown(item, depth=depth + 1) for item in value[:8]]
        return _cut("[" + ", ".join(inside) + "]")
    return _cut(str(value))


def _digits(value: int) -> str:
    if abs(value) < 10**_MOST_DIGITS:
        return str(value)
    return f"a number of about {round(abs(value).bit_length() * math.log10(2.0))} digits"


def _cut(text: str, most: int = 60) -> str:
    return _short("".join(c if c.isprintable() else "?" for c in text[: most + 1]), most)


def _short(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 3] + "..."
