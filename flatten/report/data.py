"""The report of a job as plain data and as JSON: every figure a program or a person may want to check again.

Lengths are mm, areas mm2, demand, floor, budget and pull fractions, stretch length on the seat / length on the piece.
What is not known is null. Later versions only add keys. The same job gives the same bytes; only keys named `seconds`
differ from run to run.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np

from flatten.job.continuing import continues_rows
from flatten.job.pads import tension_of
from flatten.job.pipeline import Job
from flatten.job.pulls import pull_of_panel, settled_at
from flatten.job.straight_notes import line_bows
from flatten.leather.card import Card
from flatten.maps.flat import Flat
from flatten.paper.cautions import CAUTIONS
from flatten.pieces.mark_counts import mark_counts
from flatten.pieces.piece import Edge, Piece
from flatten.pieces.pleat_ends import PleatEnd, cut_by_pleat, pleat_ends
from flatten.pieces.seams import SeamFigures
from flatten.report.padding import materials_used, padding_keys, stock_rows
from flatten.sections.section import section_dict
from meshes.base.arrays import FloatArray
from meshes.base.surface import curve_length
from meshes.folder.report_head import json_text, problem_rows, report_head
from meshes.records.materials import Material
from meshes.seat.assembly import placed
from meshes.seat.build import BuiltPad
from meshes.seat.lineup import Offset, line_up
from meshes.seat.panels import Panel
from meshes.support.line_roles import LineRole

FRACTION_PLACES, LENGTH_PLACES = 6, 3


def report(job: Job) -> dict[str, Any]:
    """The whole report: plain dicts, lists, texts, numbers and None, ready for JSON.

    Raises ValueError when a figure is no finite number.
    """
    counts = mark_counts([seam for pad in job.pads for seam in pad.seams], job.panels, job.pieces)
    return {
        **report_head(),
        "sheet": job.sheet.name,
        "leather": _leather(job.leather),
        "fits": not job.unfit,
        "panels": [
            _panel(panel, job.flats[panel.name], placed(pad.shown.vertices[panel.vertices], pad.placement))
            | _pull(job, k, panel)
            | _straight(pad, panel, job.flats[panel.name])
            for k, pad in enumerate(job.pads)
            for panel in pad.panels
        ],
        "seams": [_seam(seam) | _marks(counts[seam.name]) for seam in job.seams],
        "pieces": [_piece(piece) for piece in job.pieces],
        "pads": [{**_pad(pad), **padding_keys(pad, job)} for pad in job.pads],
        "padding_stock": stock_rows(job),
        "materials": [_material(material) for material in materials_used(job)],
        "other_pieces": [_piece(piece) for piece in job.others],
        "pleats": [row for pad in job.pads for row in _pleats(pad, cut_by_pleat(pad, job.flats))],
        "pleat_ends": [_pleat_end(end) for pad in job.pads for end in pleat_ends(pad, job.flats)],
        "lineup": [_offset(offset) for offset in line_up(job.pads)],
        "problems": problem_rows(job.problems),
        "cautions": list(CAUTIONS),
        "seconds": _length(job.seconds),
    }


def report_bytes(job: Job) -> bytes:
    """The report as JSON text, UTF-8, indented by one, with a newline at its end."""
    return json_text(report(job)).encode()


def without_seconds(data: Any) -> Any:
    """A copy of a report, or of any part of it, without the keys that tell how long something took."""
    if isinstance(data, Mapping):
        return {key: without_seconds(value) for key, value in data.items() if key != "seconds"}
    if isinstance(data, list):
        return [without_seconds(value) for value in data]
    return data


def _rounded(value: float, places: int) -> float:
    if not np.isfinite(value):
        raise ValueError(f"the report has no room for {value}")
    # Adding zero turns "-0.0" into "0.0".
    return round(float(value), places) + 0.0


def _length(value: float) -> float:
    return _rounded(value, LENGTH_PLACES)


def _fraction(value: float | None) -> float | None:
    return None if value is None else _rounded(value, FRACTION_PLACES)


def _leather(card: Card) -> dict[str, Any]:
    return {
        "name": card.name,
        "thickness_mm": _length(card.thickness_mm),
        "pull": _fraction(card.pull),
        "stretch_along": _fraction(card.stretch_along),
        "stretch_across": _fraction(card.stretch_across),
        "budget": _fraction(card.budget),
        "stiffness_along": _length(card.stiffness_along),
        "stiffness_across": _length(card.stiffness_across),
        "source": dict(card.source),
    }


def _panel(panel: Panel, flat: Flat, seat_points: FloatArray) -> dict[str, Any]:
    return {
        "name": panel.name,
        "triangles": len(flat.triangles),
        "area_seat_mm2": _length(flat.figures.area_seat_mm2),
        "area_piece_mm2": _length(flat.figures.area_piece_mm2),
        "stretch": {
            "max": _fraction(flat.stretch[:, 0].max()),
            "min": _fraction(flat.stretch[:, 1].min()),
            "p995": _fraction(flat.figures.p995),
        },
        "demand": _fraction(flat.demand),
        "floor": _fraction(flat.floor),
        "budget": _fraction(flat.budget),
        "verdict": flat.verdict,
        "over": _over(flat, seat_points),
        "flipped": int(flat.flipped),
        "certified": bool(flat.certified),
        "rung": flat.made.method,
        "seconds": _length(flat.made.seconds),
        "pad": panel.pad,
        "mirror_of": panel.mirror_of,
        "energy": _fraction(flat.figures.energy),
        "steps": int(flat.made.steps),
        "note": str(flat.made.status),
        "use": _use(flat, seat_points),
        "floor_at": _trouble(flat, seat_points),
    }


def _pull(job: Job, k: int, panel: Panel) -> dict[str, Any]:
    """Stretch - 1 of a piece as it is cut, and its tension in N/m: what is wished for, what the seat was settled at,
    and what the piece comes to."""
    pull = pull_of_panel(panel, job.flats[panel.name], job.leather)
    tension = {
        "wished": tension_of(job.sheet, job.leather),
        "settled": settled_at(job.tensions[k], panel.part),
        "reached": pull.tension_n_per_mm,
    }
    return {
        "pull": {"least": _fraction(pull.least), "mean": _fraction(pull.mean)},
        "tension_n_per_m": {word: round(1000.0 * value, 1) for word, value in tension.items()},
    }


def _straight(pad: BuiltPad, panel: Panel, flat: Flat) -> dict[str, Any]:
    """Lines that should be straight, what those that are cost, and what the others would ask; null for more than the
    leather gives."""
    cost = flat.straightening
    lines = [
        {"name": line.name, "valley": line.valley, "bow_mm_in_300": _length(line.bow_mm), "straight": line.straight}
        for line in line_bows(pad, panel, flat)
    ]
    paid, asks = (0.0, 0.0) if cost is None else (cost.paid, cost.asks)
    return {"straight_lines": {"lines": lines, "paid": _fraction(paid), "asks": _fraction(asks)}}


def _over(flat: Flat, seat_points: FloatArray) -> dict[str, Any] | None:
    """Where the piece is over its budget; `from_seam_mm` is null where other things decide already."""
    if flat.over is None:
        return None
    away = flat.over.away_mm
    return {
        "excess": _fraction(flat.over.excess),
        "area_share": _fraction(flat.over.share),
        "from_seam_mm": None if away is None else _length(away),
        "where_mm": [_length(x) for x in seat_points[flat.triangles[flat.over.triangle]].mean(axis=0)],
    }


def _trouble(flat: Flat, seat_points: FloatArray) -> dict[str, Any] | None:
    """Where the floor is proven: there the shape asks most, however the piece is cut."""
    if flat.trouble is None:
        return None
    return {
        "kind": flat.trouble.kind,
        "where_mm": [_length(x) for x in seat_points[flat.trouble.vertex]],
        "radius_mm": _length(flat.trouble.radius_mm),
    }


def _use(flat: Flat, seat_points: FloatArray) -> dict[str, Any] | None:
    """The largest share of the budget, what 0.5 % of the seat's area exceeds, and where on the seat the largest is."""
    if flat.use is None:
        return None
    order = np.argsort(flat.use)
    corners = seat_points[flat.triangles]
    areas = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    held = np.cumsum(areas[order])
    p995 = flat.use[order[int(np.searchsorted(held, 0.995 * held[-1]))]]
    return {
        "max": _fraction(flat.use.max()),
        "p995": _fraction(p995),
        "min": _fraction(flat.use.min()),
        "where_mm": [_length(x) for x in corners[order[-1]].mean(axis=0)],
    }


def _seam(seam: SeamFigures) -> dict[str, Any]:
    return {
        "name": seam.name,
        "a": seam.a,
        "b": seam.b,
        "length_a_mm": _length(seam.length_a_mm),
        "length_b_mm": _length(seam.length_b_mm),
        "seat_mm": _length(seam.seat_mm),
        "mismatch_mm": _length(seam.mismatch_mm),
        "local_mm": _length(seam.local_mm),
        "ease_mm": _length(seam.ease_mm),
        "welt": seam.welt,
        "sews": seam.sews,
    }


def _marks(count: tuple[int, int]) -> dict[str, Any]:
    """Marks along a seam that both sides have, and on each."""
    return {"marks": min(count), "marks_a": count[0], "marks_b": count[1]}


def _piece(piece: Piece) -> dict[str, Any]:
    x0, y0, x1, y1 = piece.box()
    return {
        "name": piece.name,
        "pad": piece.pad,
        "count": piece.cut_count + piece.mirrored_count,
        "mirrored": piece.mirrored_count,
        "panels": list(piece.panels),
        "width_mm": _length(x1 - x0),
        "height_mm": _length(y1 - y0),
        "cut_area_mm2": _length(cut_area(piece)),
        "edges": [_edge(edge) for edge in piece.edges],
        "notes": list(piece.notes),
        "material": piece.material or "leather",
    }


def _pleats(pad: BuiltPad, cut: Mapping[int, float]) -> list[dict[str, Any]]:
    if pad.pleats is None:
        return []
    return [
        {
            "pad": pad.pad.name,
            "index": pleat.index,
            "name": pleat.name,
            "finished_mm": _length(pleat.finished_mm),
            "finished_low_mm": _length(pleat.finished_low_mm),
            "finished_high_mm": _length(pleat.finished_high_mm),
            "rise_mm": _length(pleat.rise_mm),
            "cut_mm": _length(cut[pleat.index]),
            "arc_mm": _length(pleat.cut_mm - pleat.take_up_mm),
            "take_up_mm": _length(pleat.take_up_mm),
        }
        for pleat in pad.pleats.figures
    ]


def _pleat_end(end: PleatEnd) -> dict[str, Any]:
    return {
        "pad": end.pad,
        "part": end.part,
        "edge": end.edge,
        "pleats": end.pleats,
        "cut_mm": _length(end.cut_mm),
        "take_up_mm": _length(end.take_up_mm),
        "ease_mm": _length(end.ease_mm),
        "finished_mm": _length(end.finished_mm),
        "seam_mm": None if end.seam_mm is None else _length(end.seam_mm),
        "off_mm": _length(end.off_mm),
        "meets": end.meets,
    }


def _offset(offset: Offset) -> dict[str, Any]:
    return {
        "a": offset.a,
        "b": offset.b,
        "index": offset.index,
        "valley": offset.valley,
        "offset_mm": _length(offset.offset_mm),
    }


def cut_area(piece: Piece) -> float:
    """Area inside the cut line, mm2."""
    x, y = piece.cut.T
    return float(0.5 * (x * np.roll(y, -1) - y * np.roll(x, -1)).sum())


def _edge(edge: Edge) -> dict[str, Any]:
    return {
        "name": edge.name,
        "kind": edge.kind.value,
        "length_mm": _length(curve_length(edge.points)),
        "allowance_mm": _length(edge.allowance_mm),
        "seam": edge.seam,
    }


def _pad(pad: BuiltPad) -> dict[str, Any]:
    facts = pad.facts
    return {
        "name": pad.pad.name,
        "kind": pad.pad.kind,
        "origin_mm": [_length(value) for value in pad.pad.origin],
        "rake_deg": _length(pad.pad.rake_deg),
        "facing_deg": _length(pad.pad.facing_deg),
        "profiles": [
            {
                "name": fact.name,
                "points": fact.points,
                "residual_mm": _length(fact.residual_mm),
                "sensitivity": _length(fact.sensitivity),
                "left_out_mm": _length(fact.left_out_mm),
            }
            for fact in facts.profiles
        ],
        "left_right": [{"what": what, "right_minus_left_mm": _length(mm)} for what, mm in facts.left_right],
        "area_mm2": _length(facts.area_mm2),
        "thickness_mm": {"min": _length(facts.thickness_mm[0]), "max": _length(facts.thickness_mm[1])},
        "layers": [
            {"material": material, "where": where, "thickness_mm": _length(thick), "area_mm2": _length(area)}
            for material, where, thick, area in facts.layers
        ],
        "triangles": facts.triangles,
        "smallest_angle_deg": _length(facts.smallest_angle_deg),
        "tack_lines": _tack_lines(pad),
        "closed": _closed(pad),
        "continues": continues_rows(pad),
        **_rest(pad),
    }


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


def _closed(pad: BuiltPad) -> dict[str, Any] | None:
    """What follows of a closed cover; None for a pad on a frame."""
    closed, facts = pad.pad.closed, pad.closed
    if closed is None or facts is None:
        return None
    return {
        "form": closed.form,
        "core": closed.core,
        "thickness_mm": _length(closed.thickness),
        "band_mm": _length(closed.height),
        "undersize_mm": _length(facts.smaller.mm),
        "undersize_row": facts.smaller.row,
        "tension_n_per_mm": _length(facts.tension_n_per_mm),
        "rise_mm": _length(facts.rise_mm),
        "zip_mm": _length(facts.zip_mm),
    }


def _rest(pad: BuiltPad) -> dict[str, Any]:
    """What the cover does to the padding at rest; nothing of it where the cover has no tension."""
    rest = pad.rest
    return {
        "sections": [section_dict(cut) for cut in pad.sections],
        "tension_n_per_mm": 0.0 if rest is None else _length(rest.tension_n_per_mm),
        "spring_deflection_mm": 0.0 if rest is None else _length(rest.spring_deflection_mm),
        "foam_compression_max": 0.0 if rest is None else _fraction(rest.foam_compression_max),
        "padding_compression_max": 0.0 if rest is None else _fraction(rest.padding_compression_max),
        "height_change_mm": [0.0, 0.0] if rest is None else [_length(value) for value in rest.height_change_mm],
    }


def _tack_lines(pad: BuiltPad) -> list[dict[str, Any]]:
    """Tack lines, as they run on the padded pad: name and length."""
    return [
        {
            "name": f"{panel.part} {edge.name}",
            "length_mm": _length(curve_length(panel.surface.vertices[edge.vertices])),
        }
        for panel in pad.panels
        for edge in panel.rim
        if edge.seam is None and edge.role is LineRole.TACK
    ]
