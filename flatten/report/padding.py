"""The padding plan of a job as plain data and as a part of the report page: shapes to cut, stock, what is too much.

Keys of the plain data are only ever added. Lengths mm, areas mm2.
"""

from collections.abc import Iterable
from typing import Any

from markupsafe import Markup

from flatten.foam.plan import SHEET_MM, PadPlan, stock_of, totals
from flatten.foam.rounding import Rounding, texts_of
from flatten.foam.too_much import Figures, Thinner
from flatten.job.pipeline import Job
from flatten.pieces.piece import EdgeKind, LineKind, Piece
from flatten.report.markup import figure, fixed, item_list, report_section, table
from flatten.report.sketch import piece_svg
from meshes.base.files import number
from meshes.records.materials import Material
from meshes.records.pad import Pad
from meshes.seat.build import BuiltPad

# Drawings of shapes carry no map, so the reach of its colours says nothing.
NO_MAP = 1.0


def plan_for(job: Job, pad: BuiltPad) -> PadPlan | None:
    """The plan of one pad of a job."""
    return next((plan for plan in job.plans if plan.pad == pad.pad.name), None)


def padding_keys(pad: BuiltPad, job: Job) -> dict[str, Any]:
    """What the report says of a pad's padding plan."""
    plan = plan_for(job, pad)
    rows = [
        {
            "layer": row.layer,
            "material": row.material,
            "thickness_mm": _length(row.thickness_mm),
            "sheet_mm": None if row.sheet_mm is None else _length(row.sheet_mm),
            "sheets": row.sheets,
            "sheets_mm": [_length(mm) for mm in row.sheets_mm],
            "area_mm2": _length(row.area_mm2),
            "shapes": [] if plan is None else [_shape(shape) for shape in plan.shapes_of(row.layer)],
        }
        for row in (stock_of(pad, job.sheet.materials) if plan is None else plan.stock)
    ]
    if plan is None:
        return {"padding_plan": rows}
    height = plan.height
    return {
        "padding_plan": rows,
        "finished_height": {
            "found_mm": _length(height.found_mm),
            "at": [_length(place) for place in height.at],
            "wanted_mm": None if height.wanted_mm is None else _length(height.wanted_mm),
            "over_mm": _length(height.over_mm),
        },
        "thinner_tried": [_thinner(one) for one in plan.thinner],
        "roundings": [_rounding(pad.pad, one) for one in plan.roundings],
    }


def _rounding(pad: Pad, one: Rounding) -> dict[str, Any]:
    return {
        "side": pad.side_word(one.side),
        "layers": list(one.layers),
        "before_layer": one.before,
        "radius_mm": _length(one.radius_mm),
        "circle": one.even,
        "turn_deg": _length(one.turn_deg),
        "take_off_mm2": _length(one.take_off_mm2),
    }


def stock_rows(job: Job) -> list[dict[str, Any]]:
    """What all shapes of a job take of every material."""
    return [
        {
            "material": total.material,
            "sheet_mm": None if total.sheet_mm is None else _length(total.sheet_mm),
            "shapes": total.shapes,
            "cut_mm2": _length(total.cut_mm2),
            "boxes_mm2": _length(total.boxes_mm2),
            "stock_sheet_mm": [_length(side) for side in SHEET_MM],
            "stock_sheets": total.stock_sheets,
        }
        for total in totals(job.plans)
    ]


def _shape(shape: Piece) -> dict[str, Any]:
    x0, y0, x1, y1 = shape.box()
    return {
        "name": shape.name,
        "count": shape.cut_count,
        "mirrored": shape.mirrored_count,
        "width_mm": _length(x1 - x0),
        "height_mm": _length(y1 - y0),
        "area_mm2": _length(shape.cut_mm2),
        "edges": [
            {"name": edge.name, "oversize_mm": _length(edge.allowance_mm), "note": edge.note} for edge in shape.edges
        ],
        "bevels": [line.name for line in shape.inner if line.kind is LineKind.BEVEL],
        "rounding_lines": [line.name for line in shape.inner if line.kind is LineKind.ROUNDING],
        "notes": list(shape.notes),
    }


def _thinner(one: Thinner) -> dict[str, Any]:
    return {
        "layers": list(one.layers),
        "material": one.material,
        "thickness_mm": _length(one.thickness_mm),
        "tried_mm": _length(one.tried_mm),
        "holds": one.holds,
        "before": [_figures(row) for row in one.before],
        "after": [_figures(row) for row in one.after],
    }


def _figures(row: Figures) -> dict[str, Any]:
    return {
        "cut": row.cut,
        "side": row.side,
        "radius_mm": _length(row.radius_mm),
        "hard_line_deg": _length(row.hard_line_deg),
        "crushed": round(row.crushed, 4),
        "lift_mm": _length(row.lift_mm),
    }


def _length(value: float) -> float:
    return round(value, 4) + 0.0


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
            "" if total.sheet_mm is None else number(total.sheet_mm, 1),
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
        f"{x1 - x0:.0f} × {y1 - y0:.0f}",
        fixed(shape.cut_mm2 / 1e6, 3),
        "; ".join((*shape.notes, *_oversizes(shape), *_bevels(shape))),
    ]


def _oversizes(shape: Piece) -> Iterable[str]:
    over = sorted({edge.allowance_mm for edge in shape.edges if edge.kind is EdgeKind.OVERSIZE})
    return [f"cut {number(mm, 1)} mm larger where it ends square" for mm in over]


def _bevels(shape: Piece) -> Iterable[str]:
    return dict.fromkeys(line.name for line in shape.inner if line.kind is LineKind.BEVEL)


def _drawing(shape: Piece) -> Markup:
    words = f"{shape.pad} {shape.name}"
    return figure(piece_svg(shape, reach=NO_MAP, words=words), words)


def materials_used(job: Job) -> list[Material]:
    """The padding materials of a job's pads, each once, in the order they are first laid."""
    cores = (pad.pad.closed.core for pad in job.pads if pad.pad.closed is not None)
    names = dict.fromkeys((*cores, *(layer.material for pad in job.pads for layer in pad.pad.layers)))
    return [job.sheet.materials[name] for name in names]
