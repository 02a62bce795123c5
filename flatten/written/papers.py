"""The papers, the cut list and the seat of a job, each by its file's name."""

from collections.abc import Callable
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


def makers_of(job: Job, paper: str, both: bool) -> dict[str, Callable[[], bytes]]:
    """How the papers, the list and the seat are made, by file. both: mirrored pieces are drawn too."""
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
