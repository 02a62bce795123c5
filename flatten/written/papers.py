"""The papers, the cut list and the seat of a job, each by its file's name."""

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any

from flatten.draw.imprint import imprint_of
from flatten.job.pipeline import Job
from flatten.paper.dxf import patterns_dxf
from flatten.paper.pdf import patterns_pdf, roll_pdf
from flatten.paper.svg import patterns_svg
from flatten.paper.wording import PADDING
from flatten.pieces.turned_over import with_mirrored
from flatten.report.cut_list import cutlist_csv
from flatten.seatview.glb import seat_glb

Makers = dict[str, Callable[[], bytes]]


def lists_of(job: Job) -> Makers:
    """How the cut list and the seat are made, by file."""
    return {"cutlist.csv": partial(cutlist_csv, job), "seat.glb": partial(seat_glb, job)}


def papers_of(job: Job, paper: str, both: bool) -> tuple[Makers, ...]:
    """How the papers are made, by file: those of the pieces, then those of the padding. Each group draws what it has
    once, and needs nothing of the job besides. both: mirrored pieces are drawn too."""
    drawn_pieces = (*job.pieces, *job.others)
    shapes = tuple(shape for plan in job.plans for shape in plan.drawn)
    groups = [_drawn(with_mirrored(drawn_pieces) if both else drawn_pieces, "patterns", job, paper, {})]
    if shapes:
        groups.append(_drawn(with_mirrored(shapes) if both else shapes, "padding", job, paper, {"wording": PADDING}))
    return tuple(groups)


def _drawn(pieces: Sequence[Any], name: str, job: Job, paper: str, wording: Mapping[str, Any]) -> Makers:
    choices, imprint = job.sheet.output, imprint_of(job.sheet)
    wide: dict[str, Any] = {"roll_width_mm": choices.roll_width, "imprint": imprint}
    paged: dict[str, Any] = {"page": paper, "overlap_mm": choices.overlap, "imprint": imprint}
    return {
        f"{name}.pdf": partial(patterns_pdf, pieces, **paged, **wording),
        f"{name}-roll.pdf": partial(roll_pdf, pieces, **wide, **wording),
        f"{name}.svg": partial(patterns_svg, pieces, **wide, **wording),
        f"{name}.dxf": partial(patterns_dxf, pieces, version=choices.dxf, **wide),
    }


def made(group: Makers) -> dict[str, bytes]:
    """The files of a group."""
    return {name: make() for name, make in group.items()}
