"""Figures of the padding: what is cut for every layer, what it takes of the stock, and the materials.

Keys are only ever added. Lengths mm, areas mm2.
"""

from typing import Any

from flatten.figures.rounded import rounded
from flatten.foam.plan import SHEET_MM, PadPlan, stock_of, totals
from flatten.foam.rounding import Rounding
from flatten.foam.too_much import Figures, Thinner
from flatten.job.pipeline import Job
from flatten.pieces.piece import LineKind, Piece
from meshes.records.materials import Material
from meshes.records.pad import Pad
from meshes.seat.build import BuiltPad


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
    return rounded(value, 4)


def material_rows(job: Job) -> list[dict[str, Any]]:
    """The padding materials of a job's pads, each once, in the order they are first laid."""
    cores = (pad.pad.closed.core for pad in job.pads if pad.pad.closed is not None and pad.pad.closed.filled)
    names = dict.fromkeys((*cores, *(layer.material for pad in job.pads for layer in pad.pad.layers)))
    return [_material(job.sheet.materials[name]) for name in names]


def _material(material: Material) -> dict[str, Any]:
    """A padding material: the curve it is pressed by as (share of thickness lost, kPa), and where that comes from."""
    return {
        "name": material.name,
        "density_kg_m3": material.density_kg_m3,
        "compression": [[strain, round(kpa, 4)] for strain, kpa in material.table],
        "source": material.source,
        "curve_source": material.curve_source,
        "editable": material.editable,
    }
