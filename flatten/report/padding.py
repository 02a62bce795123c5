"""The padding plan of a job as a part of the report page: shapes to cut and stock. Lengths mm, areas mm2."""

from collections.abc import Iterable

from markupsafe import Markup

from flatten.figures.padding import plan_for
from flatten.foam.plan import SHEET_MM, PadPlan, totals
from flatten.foam.rounding import texts_of
from flatten.job.pipeline import Job
from flatten.pieces.piece import EdgeKind, LineKind, Piece
from flatten.report.markup import figure, fixed, item_list, report_section, table
from flatten.report.sketch import piece_svg
from meshes.base.files import number
from meshes.seat.build import BuiltPad

# Drawings of shapes carry no map, so the reach of its colours says nothing.
NO_MAP = 1.0


def padding_part(job: Job, pad: BuiltPad) -> Markup:
    """Shapes of one pad's padding: a table, and every shape as a drawing."""
    plan = plan_for(job, pad)
    if plan is None or not plan.shapes:
        return Markup("")
    rows = [_row(shape) for shape in plan.shapes]
    head = ["shape", "material", "how many", "size mm", "area m²|", "how"]
    caption = "Padding to cut, at full size in padding.pdf, padding.svg and padding.dxf"
    drawings = [_drawing(shape) for shape in plan.drawn]
    height = plan.height
    words = f"The settled cover stands {height.found_mm:.0f} mm above the pad's origin at its highest."
    if height.wanted_mm is not None:
        words += f" Asked for: {height.wanted_mm:.0f} mm at most."
    shapes = table(head, rows, caption=caption, kind="small", unit=job.sheet.unit)
    rounded = _to_round(job, pad, plan) if plan.roundings else None
    return report_section("padding", table=shapes, height=words, rounded=rounded, drawings=drawings)


def _to_round(job: Job, pad: BuiltPad, plan: PadPlan) -> tuple[str, Markup]:
    """By which gauge glued foam is rounded off with the knife, and where."""
    gauges = " and ".join(gauge.name for gauge in plan.gauges)
    words = f"Mitred foam stays square until it is glued. Then, with the knife and the {gauges}:"
    return words, item_list(texts_of(pad.pad, plan.roundings, job.sheet.unit))


def stock_table(job: Job) -> Markup:
    """What the shapes of all pads take of every material."""
    found = totals(job.plans)
    if not found:
        return Markup("")
    rows = [
        [
            total.material.replace("_", " "),
            "" if total.sheet_mm is None else number(total.sheet_mm, 2),
            str(total.shapes),
            fixed(total.cut_mm2 / 1e6, 2),
            str(total.stock_sheets),
        ]
        for total in found
    ]
    head = [
        "material",
        "sheet mm|",
        "shapes|",
        "cut m²|",
        f"sheets of {SHEET_MM[0] / 1000:g} × {SHEET_MM[1] / 1000:g} m|",
    ]
    caption = "Padding, as the boxes round the shapes fit on sheets"
    return table(head, rows, caption=caption, kind="small", unit=job.sheet.unit)


def _row(shape: Piece) -> list[str]:
    x0, y0, x1, y1 = shape.box()
    return [
        shape.name,
        (shape.material or "").replace("_", " "),
        shape.count_text,
        f"{number(x1 - x0, 1)} × {number(y1 - y0, 1)}",
        fixed(shape.cut_mm2 / 1e6, 3),
        "; ".join((*shape.notes, *_oversizes(shape), *_bevels(shape))),
    ]


def _oversizes(shape: Piece) -> Iterable[str]:
    over = sorted({edge.allowance_mm for edge in shape.edges if edge.kind is EdgeKind.OVERSIZE})
    return [f"cut {number(mm, 2)} mm larger where it ends square" for mm in over]


def _bevels(shape: Piece) -> Iterable[str]:
    return dict.fromkeys(line.name for line in shape.inner if line.kind is LineKind.BEVEL)


def _drawing(shape: Piece) -> Markup:
    words = f"{shape.pad} {shape.name}"
    return figure(piece_svg(shape, reach=NO_MAP, words=words), words)
