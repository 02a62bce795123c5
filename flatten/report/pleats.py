"""Pleats on the report page: every pleat's widths, both ends against their seams, and how pads line up."""

from collections.abc import Sequence

from markupsafe import Markup

from flatten.job.pipeline import Job
from flatten.pieces.pleat_ends import PleatEnd, cut_by_pleat, pleat_ends
from flatten.report.markup import fixed, joined_up, part, table
from meshes.base.units import Unit
from meshes.seat.build import BuiltPad
from meshes.seat.lineup import Offset, line_up


def pleats_section(job: Job) -> Markup:
    """The section, empty for a job without pleats."""
    pleated = [pad for pad in job.pads if pad.pleats is not None]
    if not pleated:
        return Markup("")
    pads = [_pad(job, pad) for pad in pleated]
    ends = [end for pad in pleated for end in pleat_ends(pad, job.flats)]
    unit = job.sheet.unit
    return joined_up([part("paragraph", _first(pleated)), *pads, _ends(ends, unit), _lines(line_up(job.pads), unit)])


def _first(pads: Sequence[BuiltPad]) -> str:
    measured = all(pad.pad.pleats is not None and pad.pad.pleats.filling.take_up_measured is not None for pad in pads)
    if measured:
        return "Take-up is put right by the test strip that was sewn and measured."
    return (
        "What a stitch line takes up is a start only: sources disagree between a quarter of the filler's thickness a "
        "pleat, which is taken here, and half of it. The test strip decides: sew the five pleats first and measure "
        "them between their outer lines. What they come to, written as take_up_measured under the pleats of the sheet, "
        "puts every cut width right."
    )


def _pad(job: Job, pad: BuiltPad) -> Markup:
    assert pad.pleats is not None
    cut = cut_by_pleat(pad, job.flats)
    rows = [
        [
            one.name,
            fixed(one.finished_low_mm),
            fixed(one.finished_mm),
            fixed(one.finished_high_mm),
            fixed(one.rise_mm),
            fixed(cut[one.index]),
            fixed(one.take_up_mm),
            fixed(cut[one.index] - one.take_up_mm),
        ]
        for one in pad.pleats.figures
    ]
    sides = ("left", "right") if pad.pleats.plan.region.turned else ("front", "rear")
    low, high = (pad.pad.side_word(side) for side in sides)
    head = ["pleat", f"{low}|", "middle|", f"{high}|", "rise|", "cut|", "take-up|", "stitched, slack|"]
    caption = (
        f"{pad.pad.name}: widths drawn over the seat at {low}, middle and {high} (where a corner cuts a pleat to a "
    )
    caption += (
        "point, at the end of its filler); on the bench, half way along: cut, less what the stitch line takes up, "
    )
    caption += "is the width stitched and slack, which is what a rule shows before the cover is drawn; mm"
    return table(head, rows, caption=caption, unit=job.sheet.unit)


def _ends(ends: Sequence[PleatEnd], unit: Unit) -> Markup:
    rows = [
        [
            f"{end.pad} {end.part}, {end.edge}",
            fixed(end.cut_mm),
            fixed(end.take_up_mm),
            fixed(end.ease_mm),
            fixed(end.finished_mm),
            "–" if end.seam_mm is None else fixed(end.seam_mm),
            "not sewn" if end.seam_mm is None else "meets" if end.meets else f"off by {fixed(end.off_mm)} mm",
        ]
        for end in ends
    ]
    head = ["end of", "as cut|", "take-up|", "to ease in|", "comes to|", "its seam|", ""]
    caption = "Ends of the pleats, along the sew line; mm"
    return table(head, rows, caption=caption, unit=unit) if rows else Markup("")


def _lines(offsets: Sequence[Offset], unit: Unit) -> Markup:
    if not offsets:
        return Markup("")
    rows = [[row.valley, row.a, row.b, fixed(row.offset_mm, 2)] for row in offsets]
    caption = "Valleys where pads meet: how far the second lies to the right of the first; mm"
    return table(["valley", "pad", "meets", "offset|"], rows, caption=caption, unit=unit)
