"""What a case of the fuzz harness is, what it comes to, and what a problem told to a trimmer has to look like.

A case is a kind and a seed. It ends in an outcome: how it came out, the codes of the problems told, and findings, which
are what nobody may ever see: a traceback, a case that does not end, memory without bound, a problem without code or
place, files that contradict each other.
"""

import random
import re
import traceback
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from meshes.base.problems import Problem, ProblemError

KINDS = ("sheets", "jobs", "meshes", "kill", "disk")
CODE = re.compile(r"[A-Z]\d{3}")
# Characters that a terminal, page or drawing obeys: control codes, halves of characters, ends of lines, and marks that
# turn the direction of writing (Unicode Standard Annex 9).
COMMANDS = ("Cc", "Cs", "Zl", "Zp")
DIRECTIONS = "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
# Longer than this is nothing that anybody reads; names are at most 60 characters, and a few of them may be listed.
LONGEST_PROBLEM = 2500
# Fifty in full, and one line that counts the rest.
MOST_LINES = 51
_LAST_CALLS = 3


@dataclass
class Outcome:
    """How a case came out in a word, the codes told, findings in words, the kinds of variation it was made of, and
    figures to be added up; text: of the input, to be kept with a finding."""

    result: str
    codes: list[str] = field(default_factory=list)
    findings: list[str] = field(default_factory=list)
    variations: list[str] = field(default_factory=list)
    text: str = ""
    said: list[str] = field(default_factory=list)

    def as_json(self) -> dict[str, Any]:
        """Plain values, for the line that a worker writes."""
        return dict(vars(self))


# A case's work: the seed and an empty folder of its own.
Work = Callable[[int, Path], Outcome]


def chance(kind: str, seed: int) -> random.Random:
    """The source of chance of one case: the same on every machine."""
    return random.Random(f"{kind} {seed}")


def complaints(problems: Sequence[Problem], *, file: str | None = None, lines: int | None = None) -> list[str]:
    """What is wrong with problems as a trimmer sees them: code, place, one printable line of bearable length.

    With `file` every problem must stand in that file, or one named in its words, on one of its `lines`.
    """
    if not problems:
        return ["refused without any problem told"]
    faults = []
    for problem in problems:
        line, short = str(problem), str(problem)[:300]
        if not CODE.fullmatch(problem.code):
            faults.append(f"problem without a code: {short!r}")
        if not problem.text.strip():
            faults.append(f"problem without words: {short!r}")
        if not (problem.file or problem.where):
            faults.append(f"problem without a place: {short!r}")
        if file is not None and lines is not None and problem.file == file and not 1 <= (problem.line or 0) <= lines:
            faults.append(f"problem on line {problem.line} of {lines}: {short!r}")
        if any(unicodedata.category(c) in COMMANDS or c in DIRECTIONS for c in line):
            faults.append(f"problem with control characters: {short!r}")
        if len(line) > LONGEST_PROBLEM:
            faults.append(f"problem of {len(line)} characters: {short!r}")
    return faults[:5]


def refused(fault: ProblemError, **place: Any) -> list[str]:
    """What is wrong with a refusal: its problems, and how many of them it shows at once. place: as for `complaints`."""
    lines = str(fault).count("\n") + 1
    many = [f"{lines} lines of problems shown at once"] if lines > MOST_LINES else []
    return many + complaints(fault.problems, **place)


def trace(fault: BaseException) -> str:
    """An exception as one line: its type, its words and the last calls within the project."""
    calls = [c for c in traceback.extract_tb(fault.__traceback__) if "tests/fuzz" not in c.filename]
    home = [c for c in calls if "/meshes/" in c.filename or "/flatten/" in c.filename] or calls
    where = " < ".join(f"{'/'.join(Path(c.filename).parts[-3:])}:{c.name}" for c in reversed(home[-_LAST_CALLS:]))
    words = " ".join(str(fault).split())[:200]
    return f"{type(fault).__name__}: {words} at {where}"


@contextmanager
def heard() -> Iterator[None]:
    """Warnings of the arithmetic (overflow, division by zero) as errors: they stand for figures nobody checked."""
    import warnings

    with warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        yield
