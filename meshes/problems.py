"""Numbered problems: code, place, what is wrong, what was found, what to do.

A problem is collected, not raised at once, so that a trimmer sees every fault of a sheet in one go. Codes are
grouped by what they speak of: S the sheet as text, G geometry of a pad, M a mesh file, L leather, F flattening,
P paper and files.
"""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Problem:
    """One fault or warning. `where` names the place in words; `line` counts from 1 when the place is in a file."""

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
