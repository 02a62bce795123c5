"""Numbered problems: code, place, what is wrong, what was found, what to do.

A problem is collected, not raised at once, so that a trimmer sees every fault of a sheet in one go. Codes are
grouped by what they speak of: S the sheet as text, G geometry of a pad, M a mesh file, L leather, F
flattening, P paper and files.
"""

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Problem:
    """One fault or warning. `where` names the place in words; `line` counts from 1 when the place is in a
    file.
    """

    code: str
    where: str
    text: str
    file: str | None = None
    line: int | None = None
    warning: bool = False

    def __str__(self) -> str:
        place = f"{self.file}:{self.line or 1}: " if self.file else ""
        where = f"{self.where}: " if self.where else ""
        return f"{place}{self.code} {where}{self.text}"


class ProblemError(Exception):
    """Input that cannot be used. Carries every problem found, in the order of the file."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


def in_file_order(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """The problems by line; those of one line, and those without a line, keep the order they came in."""
    return tuple(sorted(problems, key=lambda problem: problem.line or 0))


def one_of(words: Iterable[str]) -> str:
    """`a`, `a or b`, `a, b or c`: the words that may be written."""
    choice = list(words)
    return " or ".join([", ".join(choice[:-1]), choice[-1]] if len(choice) > 1 else choice)


def near_name(word: str, names: Iterable[str]) -> str | None:
    """The name that was probably meant by `word`, None when none is close."""
    known = list(names)
    lowered = {name.lower(): name for name in known}
    close = difflib.get_close_matches(word.lower().replace("-", "_").replace(" ", "_"), lowered, n=1, cutoff=0.6)
    return lowered[close[0]] if close else None


def shown(value: object) -> str:
    """A value as it stands in a sheet: text in quotes, true and false in lower case, long values cut
    short.
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, str):
        return f'"{_cut(value)}"'
    if isinstance(value, float):
        return f"{value:.10g}"
    if isinstance(value, list | tuple):
        return _cut("[" + ", ".join(shown(item) for item in value[:8]) + "]")
    return _cut(str(value))


def _cut(text: str, most: int = 60) -> str:
    plain = "".join(c if c.isprintable() else "?" for c in text)
    return plain if len(plain) <= most else plain[: most - 3] + "..."
