"""A sheet that is checked again whenever its file is saved, and what changed since the last time."""

import time
from collections.abc import Callable, Mapping
from pathlib import Path

from flatten.figures.report import report
from flatten.hides.parted import make_for_hides
from flatten.job.pipeline import Job
from flatten.kept.disk import DiskStore
from flatten.kept.memory import MemoryStore
from flatten.kept.pool import Kept, kept_pool
from flatten.variants.measures import Measure, changes, measures_of
from meshes.base.problems import ProblemError
from meshes.base.progress import Progress, unheard
from meshes.schema.toml_text import text_of

# How often the file is looked at, s; and how long it has to stay as it is, so that one being written is not read.
LOOK_S, SETTLED_S = 0.25, 0.1
# Results of single stages that are kept between two saves, bytes; some may be of whole pads, exact.
WATCHED_BYTES = 256 << 20

Stamp = tuple[int, int, int] | None


def stamp_of(path: Path) -> Stamp:
    """What tells one state of a file from another; None where there is none."""
    try:
        told = path.stat()
    except OSError:
        return None
    return (told.st_mtime_ns, told.st_size, told.st_ino)


def saved_again(path: Path, last: Stamp, rest: Callable[[float], None] = time.sleep) -> Stamp:
    """Wait until a file is there, is not what it was, and stays so for a moment. An editor that writes another file and
    renames it is seen too."""
    while True:
        now = stamp_of(path)
        if now is not None and now != last:
            rest(SETTLED_S)
            if stamp_of(path) == now:
                return now
        else:
            rest(LOOK_S)


def _is_there(path: Path) -> None:
    """Raises ProblemError where there is no file that could be saved again: its name may be mistyped, or it is a pipe.
    What is wrong in the file is told when it is read."""
    try:
        text_of(path)
    except ProblemError as fault:
        if any(problem.code == "S001" for problem in fault.problems):
            raise


def watched(
    path: Path,
    tell: Callable[[Job, list[tuple[str, Measure, Measure]] | None], None],
    refuse: Callable[[ProblemError], None],
    *,
    cache: bool = True,
    say: Progress = unheard,
    turns: int | None = None,
) -> None:
    """Check a sheet, and again whenever it is saved, `turns` times or until it is stopped.

    tell: a job, and what changed since the last one that was sound, None for the first; refuse: why a sheet is refused.
    What did not change is not computed again. Raises ProblemError where there is no such file at the beginning.
    """
    _is_there(path)
    kept = Kept(MemoryStore(WATCHED_BYTES), DiskStore() if cache else None)
    before: Mapping[str, Measure] | None = None
    last: Stamp = None
    done = 0
    with kept_pool(kept) as pool:
        while turns is None or done < turns:
            last = saved_again(path, last)
            done += 1
            try:
                job = make_for_hides(path, progress=say, workers=pool)
            except ProblemError as fault:
                refuse(fault)
                continue
            now = measures_of(report(job), seams=True)
            tell(job, None if before is None else changes(before, now))
            before = now


def changed_text(rows: list[tuple[str, Measure, Measure]]) -> str:
    """What changed, as lines of text: before -> now."""
    if not rows:
        return "  nothing changed that a trimmer would notice"
    wide = max(len(name) for name, _, _ in rows)
    return "\n".join(f"  {name:<{wide}}  {before} -> {now}" for name, before, now in rows)
