"""What commands print when their work is done."""

import sys
from collections.abc import Sequence
from pathlib import Path

from flatten.app.streams import json_for
from flatten.app.summary import summary
from flatten.figures.report import report_bytes
from flatten.job.pipeline import Job
from meshes.base.files import shown_name
from meshes.base.problems import Problem, ProblemError, told
from meshes.base.units import Unit, in_shop_unit
from meshes.schema.toml_text import parsed, text_of


def in_the_sheets_unit(lines: Sequence[str], problems: Sequence[Problem]) -> list[str]:
    """Lines that tell of problems of a sheet, with its lengths as the shop's tape has them.

    A sheet that is refused is no record that could say its unit: it is read from the file the problems stand in, and
    taken for mm where that cannot be read.
    """
    unit: Unit = "in" if any(_in_inches(Path(name)) for name in {p.file for p in problems if p.file}) else "mm"
    return [in_shop_unit(line, unit=unit) for line in lines]


def _in_inches(path: Path) -> bool:
    try:
        return path.suffix == ".toml" and parsed(text_of(path), str(path)).get("unit") == "in"
    except ProblemError:
        return False


def tell_written(notes: tuple[Problem, ...], place: Path, *, quiet: bool) -> None:
    """Say where the files are, and always what was found there."""
    for note in notes:
        print(note, file=sys.stderr)
    if not quiet:
        print(f"written: {shown_name(place)}")


def tell_job(job: Job, *, quiet: bool, json: bool, written: Path | None = None) -> None:
    """Print a job's problems, and its summary or, as JSON, its report: as it was written, which holds the order list as
    well, where it was."""
    if not json:
        lines = [in_shop_unit(line, unit=job.sheet.unit) for line in told(job.problems)]
        print(*lines, sep="\n", end="\n" if lines else "", file=sys.stderr)
    if json:
        print_json((report_bytes(job) if written is None else written.read_bytes()).decode())
    elif not quiet:
        print(in_shop_unit(summary(job), unit=job.sheet.unit))


def tell_rows(job: Job) -> None:
    """Print what is to be minded of the rows of fitting."""
    rows = [problem for problem in job.problems if problem.keys[:1] == ("fit",)]
    for line in told(rows):
        print(in_shop_unit(line, unit=job.sheet.unit), file=sys.stderr)


def print_json(text: str) -> None:
    """Print JSON in the characters that the stream can take."""
    sys.stdout.write(json_for(sys.stdout, text))
