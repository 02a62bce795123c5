"""What `check --watch` prints: the whole summary first, then what changed."""

import sys
from pathlib import Path

from flatten.app.options import Running
from flatten.app.progress import progress
from flatten.app.telling import in_the_sheets_unit, print_json, tell_job
from flatten.figures.report import report_bytes
from flatten.job.pipeline import Job
from flatten.variants.measures import Measure
from flatten.variants.watch import changed_text, watched
from meshes.base.files import shown_name
from meshes.base.problems import ProblemError, told
from meshes.base.units import in_shop_unit


def watch_sheet(sheet: Path, running: Running) -> None:
    """Check a sheet whenever it is saved, until the command is stopped. With JSON, one report after the other."""

    def tell(job: Job, rows: list[tuple[str, Measure, Measure]] | None) -> None:
        if running.json:
            print_json(report_bytes(job).decode())
        elif rows is None:
            tell_job(job, quiet=running.quiet, json=False)
        else:
            print(f"{shown_name(sheet)} saved, {job.seconds:.1f} s")
            print(in_shop_unit(changed_text(rows), unit=job.sheet.unit))
        sys.stdout.flush()

    def refuse(fault: ProblemError) -> None:
        print(*in_the_sheets_unit(told(fault.problems), fault.problems), sep="\n", file=sys.stderr, flush=True)

    with progress(quiet=running.no_words) as say:
        watched(sheet, tell, refuse, cache=running.cache, say=say)
