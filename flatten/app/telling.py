"""What commands print when their work is done."""

import sys
from pathlib import Path

from flatten.app.streams import json_for
from flatten.app.summary import summary
from flatten.figures.report import report_bytes
from flatten.job.pipeline import Job
from meshes.base.files import shown_name
from meshes.base.problems import Problem, told
from meshes.base.units import in_shop_unit


def tell_written(notes: tuple[Problem, ...], place: Path, *, quiet: bool) -> None:
    """Say where the files are, and always what was found there."""
    for note in notes:
        print(note, file=sys.stderr)
    if not quiet:
        print(f"written: {shown_name(place)}")


def tell_job(job: Job, *, quiet: bool, json: bool) -> None:
    """Print a job's problems, and its summary or, as JSON, its report."""
    if not json:
        lines = [in_shop_unit(line, unit=job.sheet.unit) for line in told(job.problems)]
        print(*lines, sep="\n", end="\n" if lines else "", file=sys.stderr)
    if json:
        print_json(report_bytes(job).decode())
    elif not quiet:
        print(in_shop_unit(summary(job), unit=job.sheet.unit))


def print_json(text: str) -> None:
    """Print JSON in the characters that the stream can take."""
    sys.stdout.write(json_for(sys.stdout, text))
