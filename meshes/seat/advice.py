"""A number that works, for a sheet that is refused: values are varied and tried on a coarse mesh before one is told.

What to vary, and which way, comes with the problem. A trial reads the whole sheet and builds all its pads; one that
works is built on the sheet's own mesh too where there is time for that. Nothing of this runs for a sheet that works.
"""

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from meshes.base.problems import Problem, ProblemError, Remedy, SheetChange, Vary, Way, shown
from meshes.schema.toml_text import parsed, text_of
from meshes.sheet.changes import changed, replaced, scale_values
from meshes.sheet.read import sheet_of_tables
from meshes.sheet.whole import Sheet

# At most so many trials for one problem, for so many problems of a sheet, within so many seconds for all.
MOST_TRIALS, MOST_PROBLEMS, MOST_SECONDS = 6, 3, 30.0
# Trials are built with triangles at least this large, or as large as the sheet has them.
COARSE_MM = 20.0
# What numbers are multiplied by, one after the other.
FACTORS = {Way.LESS: (0.7, 0.4, 0.15), Way.MORE: (1.4, 2.2, 4.0), Way.EVEN: (0.5, 0.2, 0.0)}

ProblemKind = tuple[str, tuple[str | int, ...]]
BuildSheet = Callable[[Sheet], object]


def advised(path: Path, fault: ProblemError, build: BuildSheet) -> ProblemError:
    """The same problems, the first of them with a change of the sheet at `path` that was tried and ends them.

    build: builds all pads of a sheet, or raises ProblemError.
    """
    if not any(problem.vary for problem in fault.problems):
        return fault
    try:
        trials = _Trials(parsed(text_of(path), str(path)), path, build, {_kind(p) for p in fault.problems})
    except ProblemError:
        return fault
    told, left = [], MOST_PROBLEMS
    for problem in fault.problems:
        # One that went with the change for another needs none of its own.
        if problem.vary and left and _kind(problem) in trials.wrong:
            left -= 1
            problem = _tried(problem, trials)
        told.append(problem)
    return ProblemError(told)


def _kind(problem: Problem) -> ProblemKind:
    return problem.code, problem.keys


@dataclass
class _Trials:
    """The tables of a sheet with the changes found so far, and what is still wrong with it. begun: when they
    were first tried; mesh_mm: the sheet's own mesh; seconds: how long the last trial took that built all pads."""

    tables: dict[str, Any]
    path: Path
    build: BuildSheet
    wrong: set[ProblemKind]
    begun: float = field(default_factory=time.monotonic)
    mesh_mm: float = COARSE_MM
    seconds: float = 0.0

    def left_by(
        self, changes: tuple[SheetChange, ...], ended: ProblemKind, *, mesh_mm: float = COARSE_MM
    ) -> set[ProblemKind] | None:
        """What is left of the problems when these changes end one and bring no other, on triangles of `mesh_mm` at
        least; None when they do not."""
        left = self._wrong_with(changed(self.tables, changes), mesh_mm)
        return left if ended not in left and left <= self.wrong else None

    def holds(self, changes: tuple[SheetChange, ...], ended: ProblemKind) -> bool | None:
        """Whether they do so on the sheet's own mesh too; None when that would take too long to find out."""
        share = (COARSE_MM / self.mesh_mm) ** 2
        if self.seconds * share > MOST_SECONDS - (time.monotonic() - self.begun):
            return None
        return share <= 1.0 or self.left_by(changes, ended, mesh_mm=self.mesh_mm) is not None

    def _wrong_with(self, tables: dict[str, Any], mesh_mm: float) -> set[ProblemKind]:
        begun = time.monotonic()
        try:
            sheet = sheet_of_tables(tables, self.path)
            self.mesh_mm = sheet.output.mesh
            self.build(replace(sheet, output=replace(sheet.output, mesh=max(self.mesh_mm, mesh_mm))))
        except ProblemError as fault:
            return {_kind(problem) for problem in fault.problems}
        self.seconds = time.monotonic() - begun
        return set()

    def keep(self, changes: tuple[SheetChange, ...], left: set[ProblemKind]) -> None:
        """Go on from the sheet with these changes and the problems that are left."""
        self.tables, self.wrong = changed(self.tables, changes), left

    @property
    def late(self) -> bool:
        """Whether no more trials fit into the time."""
        return time.monotonic() - self.begun > MOST_SECONDS


def _tried(problem: Problem, trials: _Trials) -> Problem:
    """The problem with the change that ended it, or with how many were tried in vain."""
    kind, count = _kind(problem), 0
    for changes, milder in _ways(problem.vary, trials.tables):
        if count == MOST_TRIALS or trials.late:
            break
        count += 1
        left = trials.left_by(changes, kind)
        if left is None:
            continue
        less = trials.left_by(milder, kind) if milder and milder != changes and count < MOST_TRIALS else None
        for found, rest in ((milder, less), (changes, left)):
            held = None if rest is None else trials.holds(found, kind)
            if rest is None or held is False:
                continue
            trials.keep(found, rest)
            words = ", ".join(dict.fromkeys(_words(change) for change in found))
            how = "tried, and works" if held else "tried on a coarse mesh, and works"
            return replace(problem, text=f"{problem.text}; {how}: {words}", advice=Remedy(found, words))
    if not count:
        return problem
    tried = f"{count} changes were" if count > 1 else "one change was"
    return replace(problem, text=f"{problem.text}; {tried} tried, and none works by itself")


def _ways(
    varied: tuple[Vary, ...], tables: dict[str, Any]
) -> Iterator[tuple[tuple[SheetChange, ...], tuple[SheetChange, ...]]]:
    """Changes to try, the smallest of every kind first; with each one that is smaller still, where there is one."""
    for turn in range(len(FACTORS[Way.LESS])):
        for vary in varied:
            if vary.way is Way.SET:
                changes = replaced(tables, vary, vary.values[turn]) if turn < len(vary.values) else ()
                milder: tuple[SheetChange, ...] = ()
            else:
                factors = (1.0, *FACTORS[vary.way])
                changes = scale_values(tables, vary, factors[turn + 1])
                milder = scale_values(tables, vary, 0.5 * (factors[turn] + factors[turn + 1]))
            if changes:
                yield changes, milder


def _words(change: SheetChange) -> str:
    name = ".".join(str(key) for key in change.keys[2:] if isinstance(key, str))
    return f"{name} left out" if change.value is None else f"{name} = {shown(change.value)}"
