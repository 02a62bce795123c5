"""How far long work has come, shown on a terminal only."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

Say = Callable[[str, int, int], None]


@contextmanager
def progress(*, quiet: bool = False) -> Iterator[Say]:
    """A function say(what, done, of) that moves a bar on stderr when that is a terminal, and does nothing elsewhere."""
    if quiet or not sys.stderr.isatty():
        yield lambda what, done, total: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("starting", total=None)
        yield lambda what, done, total: bar.update(task, description=what, completed=done, total=total)
