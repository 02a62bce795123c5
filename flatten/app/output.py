"""Everything the main job writes, as one folder that appears whole or not at all."""

from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from typing import Any

from flatten.draw.imprint import imprint_of
from flatten.figures.report import report_bytes
from flatten.job.pipeline import Job
from flatten.paper.dxf import patterns_dxf
from flatten.paper.pages import PAGE_MM
from flatten.paper.pdf import patterns_pdf, roll_pdf
from flatten.paper.svg import patterns_svg
from flatten.paper.wording import PADDING
from flatten.pieces.turned_over import flesh_side_up, with_mirrored
from flatten.report.cut_list import cutlist_csv
from flatten.report.page import report_html
from flatten.seatview.glb import seat_glb
from flatten.seatview.pictures import SEAT, seat_pictures
from meshes.base.problems import Problem, ProblemError
from meshes.base.progress import Progress, unheard
from meshes.folder.output import OutputFolder, Writer
from meshes.folder.temporary import temporary_folder

NAMES = (
    *("report.json", "report.html", "patterns.pdf", "patterns-roll.pdf", "patterns.svg", "patterns.dxf"),
    *("padding.pdf", "padding-roll.pdf", "padding.svg", "padding.dxf", "cutlist.csv", "seat.glb"),
    *(file for _, file, _, _ in SEAT),
)
MAKE = Writer("make", "trimloft make", NAMES)
# The same job once more with cuts that the sheet does not ask for yet, never in place of the sheet's own.
APPLY = Writer("relief-apply", "trimloft relief --apply", NAMES)


def paper_named(name: str) -> str:
    """The paper's name as the pages know it. Raises ProblemError for one they do not."""
    if name.lower() not in PAGE_MM:
        raise ProblemError(
            [Problem("P201", "--page", f"no such paper: found {name!r}; use one of {', '.join(PAGE_MM)}")]
        )
    return name.lower()


def seen_from_flesh(job: Job) -> Job:
    """The job with all its pieces drawn as seen from the flesh side, for marking out on it."""
    over, others = (tuple(flesh_side_up(piece) for piece in some) for some in (job.pieces, job.others))
    return replace(job, pieces=over, others=others)


def write_job(
    job: Job,
    folder: OutputFolder,
    *,
    page: str | None = None,
    pictures: bool = True,
    both: bool = False,
    say: Progress | None = None,
) -> tuple[Job, tuple[Problem, ...]]:
    """Write all files of a job, all of them or none.

    page overrides the sheet's paper for patterns.pdf; both: mirrored pieces are drawn too. Returns the job with what
    the writing added to its problems (a picture that could not be drawn), and warnings about the folder, which are not
    the job's. Raises ProblemError when the folder cannot be written or the paper is unknown.
    """
    tell = say or unheard
    makers = _makers(job, paper_named(page or job.sheet.output.page), both)
    steps = len(makers) + 2
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
        tell("report", steps - 1, steps)
        files["report.html"] = report_html(job, drawn)
    files["report.json"] = report_bytes(job)
    return job, folder.write(files)


def _take_pictures(job: Job, held: ExitStack) -> tuple[dict[str, Path], tuple[Problem, ...]]:
    """Pictures in a temporary folder that lasts as long as `held`. Without room for them the job goes on."""
    try:
        return seat_pictures(job, held.enter_context(temporary_folder()))
    except (OSError, ProblemError) as fault:
        reason = fault.problems[0].text if isinstance(fault, ProblemError) else fault.strerror or str(fault)
        text = f"none were drawn, as there is no place to draw them in ({reason}); the patterns are not touched by it"
        return {}, (Problem("V105", "pictures", text, warning=True),)


def _makers(job: Job, paper: str, both: bool) -> dict[str, Callable[[], bytes]]:
    """How the papers, the list and the seat are made, by file."""
    choices, imprint = job.sheet.output, imprint_of(job.sheet)
    wide: dict[str, Any] = {"roll_width_mm": choices.roll_width, "imprint": imprint}
    paged: dict[str, Any] = {"page": paper, "overlap_mm": choices.overlap, "imprint": imprint}
    drawn_pieces = (*job.pieces, *job.others)
    drawn_pieces = with_mirrored(drawn_pieces) if both else drawn_pieces
    makers: dict[str, Callable[[], bytes]] = {
        "patterns.pdf": lambda: patterns_pdf(drawn_pieces, **paged),
        "patterns-roll.pdf": lambda: roll_pdf(drawn_pieces, **wide),
        "patterns.svg": lambda: patterns_svg(drawn_pieces, **wide),
        "patterns.dxf": lambda: patterns_dxf(drawn_pieces, version=choices.dxf, **wide),
        "cutlist.csv": lambda: cutlist_csv(job),
        "seat.glb": lambda: seat_glb(job),
    }
    shapes = [shape for plan in job.plans for shape in plan.drawn]
    shapes = list(with_mirrored(shapes)) if both else shapes
    if shapes:
        makers |= {
            "padding.pdf": lambda: patterns_pdf(shapes, wording=PADDING, **paged),
            "padding-roll.pdf": lambda: roll_pdf(shapes, wording=PADDING, **wide),
            "padding.svg": lambda: patterns_svg(shapes, wording=PADDING, **wide),
            "padding.dxf": lambda: patterns_dxf(shapes, version=choices.dxf, **wide),
        }
    return makers
