"""What the command `relief` does with a sheet besides looking: the folder it holds, and the cuts made."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from flatten.app.output import APPLY, write_job
from flatten.app.progress import progress
from flatten.app.relief_folder import RELIEF
from flatten.app.telling import tell_job
from flatten.job.applied import applied_text, apply_until_it_fits
from flatten.job.relieve import SheetRelief
from meshes.base.problems import Problem
from meshes.folder.output import OutputFolder, output_folder


@contextmanager
def held(out: Path | None, apply: bool) -> Iterator[OutputFolder | None]:
    """The folder for proposals, or for the job with the cuts made; None when none is asked for."""
    if out is None:
        yield None
        return
    with output_folder(out, APPLY if apply else RELIEF) as folder:
        yield folder


def cut_and_write(found: SheetRelief, folder: OutputFolder | None, *, quiet: bool, json: bool) -> tuple[Problem, ...]:
    """Make the cuts proposed and, where a folder is given, write the job that comes of it."""
    notes: tuple[Problem, ...] = ()
    with progress(quiet=quiet or json) as say:
        applied = apply_until_it_fits(found, progress=say)
        job = applied.job
        if folder is not None:
            job, notes = write_job(job, folder, say=say)
    if not quiet and not json:
        print(applied_text(found, applied))
        tell_job(job, quiet=False, json=False)
    return notes
