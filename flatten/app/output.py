"""Everything the main job writes, as one folder that appears whole or not at all."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from flatten.job.pipeline import Job, Progress
from flatten.paper.dxf import patterns_dxf
from flatten.paper.pages import PAGE_MM
from flatten.paper.pdf import patterns_pdf, roll_pdf
from flatten.paper.svg import patterns_svg
from flatten.paper.wording import PADDING
from flatten.pieces.turned_over import flesh_side_up
from flatten.report.cut_list import cutlist_csv
from flatten.report.data import report_bytes
from flatten.report.page import report_html
from flatten.seatview.glb import seat_glb
from flatten.seatview.pictures import seat_pictures
from meshes.base.files import write_file, write_folder
from meshes.base.problems import Problem, ProblemError


def paper_named(name: str) -> str:
    """The paper's name as the pages know it. Raises ProblemError for one they do not."""
    if name.lower() not in PAGE_MM:
        raise ProblemError(
            [Problem("P201", "--page", f"no such paper: found {name!r}; use one of {', '.join(PAGE_MM)}")]
        )
    return name.lower()


def write_job(
    job: Job,
    out: Path,
    *,
    page: str | None = None,
    pictures: bool = True,
    flesh_up: bool = False,
    say: Progress | None = None,
) -> Job:
    """Write all files of a job into the folder `out`, replacing an earlier one only on success.

    page overrides the sheet's paper for patterns.pdf; flesh_up: all pieces are drawn as seen from the flesh side.
    Returns the job with what the writing added to its problems (a picture that could not be drawn). Raises ProblemError
    when the folder cannot be written or the paper is unknown.
    """
    choices = job.sheet.output
    paper = paper_named(page or choices.page)
    if flesh_up:
        over, others = (tuple(flesh_side_up(piece) for piece in some) for some in (job.pieces, job.others))
        job = replace(job, pieces=over, others=others)
    drawn_pieces = (*job.pieces, *job.others)
    makers: dict[str, Callable[[], bytes]] = {
        "patterns.pdf": lambda: patterns_pdf(drawn_pieces, page=paper, overlap_mm=choices.overlap),
        "patterns-roll.pdf": lambda: roll_pdf(drawn_pieces, roll_width_mm=choices.roll_width),
        "patterns.svg": lambda: patterns_svg(drawn_pieces, roll_width_mm=choices.roll_width),
        "patterns.dxf": lambda: patterns_dxf(drawn_pieces, roll_width_mm=choices.roll_width, version=choices.dxf),
        "cutlist.csv": lambda: cutlist_csv(job),
        "seat.glb": lambda: seat_glb(job),
    }
    shapes = [shape for plan in job.plans for shape in plan.shapes]
    if shapes:
        makers |= {
            "padding.pdf": lambda: patterns_pdf(shapes, page=paper, overlap_mm=choices.overlap, wording=PADDING),
            "padding.svg": lambda: patterns_svg(shapes, roll_width_mm=choices.roll_width, wording=PADDING),
            "padding.dxf": lambda: patterns_dxf(shapes, roll_width_mm=choices.roll_width, version=choices.dxf),
        }
    tell = say or (lambda what, done, total: None)
    steps = len(makers) + 2
    with write_folder(out) as folder:
        drawn: dict[str, Path] = {}
        if pictures:
            tell("drawing the seat", 0, steps)
            drawn, faults = seat_pictures(job, folder)
            job = replace(job, problems=(*job.problems, *faults))
        for k, (name, make) in enumerate(makers.items()):
            tell(name, k + 1, steps)
            write_file(folder / name, make())
        tell("report", steps - 1, steps)
        write_file(folder / "report.html", report_html(job, drawn))
        write_file(folder / "report.json", report_bytes(job))
    return job
