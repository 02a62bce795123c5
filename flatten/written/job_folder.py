"""Everything the main job writes, as one folder that appears whole or not at all."""

from contextlib import ExitStack
from dataclasses import replace
from functools import partial
from itertools import chain
from pathlib import Path

from flatten.figures.report import report_bytes
from flatten.hides.laid import has_something_to_lay_on, lay_hides
from flatten.job.pipeline import Job
from flatten.machine.workers import WorkerPool
from flatten.report.page import report_html
from flatten.seatview.pictures import seat_pictures
from flatten.work.job_pdf import job_pdf
from flatten.work.job_steps import job_sheet
from flatten.work.tapes import tapes_section
from flatten.work.told import job_section, step_rows
from flatten.written.choices import paper_named
from flatten.written.hide_files import hide_files, replaced_layout
from flatten.written.papers import lists_of, made, papers_of
from meshes.base.problems import Problem, ProblemError
from meshes.base.progress import Progress, unheard
from meshes.folder.output import OutputFolder
from meshes.folder.temporary import temporary_folder


def write_job(
    job: Job,
    folder: OutputFolder,
    *,
    page: str | None = None,
    pictures: bool = True,
    both: bool = False,
    say: Progress | None = None,
    workers: WorkerPool | None = None,
) -> tuple[Job, tuple[Problem, ...]]:
    """Write all files of a job, all of them or none.

    page overrides the sheet's paper for patterns.pdf; both: mirrored pieces are drawn too; workers: processes in which
    the papers are drawn while pieces are laid out here, the same bytes either way. Returns the job with what
    the writing added to its problems (a picture that could not be drawn), and warnings about the folder and
    the price table, which are not the job's. Raises ProblemError when the folder cannot be written or the paper is
    unknown.
    """
    tell = say or unheard
    paper, laid = paper_named(page or job.sheet.output.page), None
    papers = papers_of(job, paper, both)
    beside = None if workers is None else workers.beside(made, papers)
    if has_something_to_lay_on(job.sheet):
        tell("laying pieces out", 0, 1)
        laid = lay_hides(job)
        job = replace(job, problems=(*job.problems, *laid.problems), rolled_mm=laid.rolled_mm)
    work = job_sheet(job)
    makers = dict(chain.from_iterable(group.items() for group in papers)) if beside is None else {}
    makers |= lists_of(job) | {"job-sheet.pdf": partial(job_pdf, work, page=paper)}
    steps = len(makers) + 3
    files: dict[str, bytes] = {}
    with ExitStack() as held:
        drawn: dict[str, Path] = {}
        if pictures:
            tell("drawing the seat", 0, steps)
            drawn, faults = _take_pictures(job, held)
            job = replace(job, problems=(*job.problems, *faults))
            files |= {path.name: path.read_bytes() for path in drawn.values()}
        for k, (name, make) in enumerate(makers.items()):
            tell(name, k + 1, steps)
            files[name] = make()
        tell("order.csv", steps - 2, steps)
        more = hide_files(job, laid, flesh_up=any(piece.flesh_up for piece in job.pieces))
        files |= more.files
        tell("report", steps - 1, steps)
        own = (("tapes", "Tapes", tapes_section(job)), ("work", "Job sheet", job_section(work)))
        files["report.html"] = report_html(job, drawn, (*more.parts, *own))
    if beside is not None:
        for group in beside(tell, "the papers"):
            files |= group
    files["report.json"] = report_bytes(job, {**more.keys, "steps": step_rows(work)})
    replaced = () if laid is None else replaced_layout(folder)
    return job, (*folder.write(files), *replaced, *more.notes)


def _take_pictures(job: Job, held: ExitStack) -> tuple[dict[str, Path], tuple[Problem, ...]]:
    """Pictures in a temporary folder that lasts as long as `held`. Without room for them the job goes on."""
    try:
        return seat_pictures(job, held.enter_context(temporary_folder()))
    except (OSError, ProblemError) as fault:
        reason = fault.problems[0].text if isinstance(fault, ProblemError) else fault.strerror or str(fault)
        text = f"none were drawn, as there is no place to draw them in ({reason}); the patterns are not touched by it"
        return {}, (Problem("V105", "pictures", text, warning=True),)
