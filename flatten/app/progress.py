"""What long work will take and how far it has come, shown on a terminal only."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from meshes.base.progress import Progress
    from meshes.sheet.whole import Sheet

# Work shorter than this is not worth a line beforehand.
FORETOLD_S = 10.0


@contextmanager
def progress(*, quiet: bool = False) -> Iterator["Progress"]:
    """A function say(what, done, of) that moves a bar on stderr when that is a terminal, and does nothing elsewhere.

    of: 0 where nobody knows how many there will be.
    """
    if quiet or not sys.stderr.isatty():
        yield lambda what, done, total: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("starting", total=None)
        yield lambda what, done, total: bar.update(task, description=what, completed=done, total=total or None)


def foretold(path: Path, *, quiet: bool = False) -> "Sheet":
    """The sheet at a path; on a terminal with a line beforehand about what a long job on it will take.

    Raises ProblemError with every problem of the sheet.
    """
    from flatten.machine.estimate import estimate_of
    from meshes.base.files import shown_name
    from meshes.sheet.read import read_sheet

    sheet = read_sheet(path)
    found = estimate_of(sheet)
    if not quiet and sys.stderr.isatty() and found.seconds > FORETOLD_S:
        print(f"{shown_name(path)}: {found}", file=sys.stderr)
    return sheet
