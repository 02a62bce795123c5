"""Figures of what is cut and sewn: pieces with their edges, seams with their marks, pleats and their ends."""

from collections.abc import Mapping
from typing import Any

from flatten.edges.order import sewing_order
from flatten.figures.rounded import length
from flatten.held.flies import flies_of
from flatten.job.pipeline import Job
from flatten.pieces.mark_counts import mark_counts
from flatten.pieces.piece import Edge, Piece
from flatten.pieces.pleat_ends import PleatEnd, cut_by_pleat, pleat_ends
from flatten.pieces.seams import SeamFigures
from meshes.base.surface import curve_length
from meshes.seat.build import BuiltPad
from meshes.seat.lineup import Offset


def seam_rows(job: Job) -> list[dict[str, Any]]:
    """What the report says of every seam: its length on both sides and on the seat, and the marks along it."""
    counts = mark_counts([seam for pad in job.pads for seam in pad.seams], job.panels, job.pieces)
    kinds = {step.seam: step.kind for step in sewing_order(job.pads, job.makes)}
    return [_seam(seam) | _marks(counts[seam.name]) | {"kind": kinds[seam.name]} for seam in job.seams]


def sewing_rows(job: Job) -> list[dict[str, Any]]:
    """What the report says of every seam in the order of sewing: its kind, what is done, rows, leathers that meet."""
    return [
        {
            "pad": step.pad,
            "seam": step.seam,
            "kind": step.kind,
            "what": step.words,
            "rows": step.rows,
            "leathers": step.leathers,
        }
        for step in sewing_order(job.pads, job.makes)
    ]


def fit_rows(job: Job) -> list[dict[str, Any]]:
    """What the report says of every row of fitting that moved something: where, by how much each layer, over how much
    it runs out before and after, and what follows."""
    rows = [] if job.fitting is None else job.fitting.done
    others = [] if job.fitting is None else job.fitting.reshaped
    return [
        {
            "row": row.note.row + 1,
            "round": row.note.round,
            "piece": row.piece,
            "words": row.words,
            "follow": [name for name, _ in row.follow],
            **{name: round(value, 5) for name, value in row.figures},
        }
        for row in others
    ] + [
        {
            "row": row.found.note.row + 1,
            "round": row.found.note.round,
            "piece": row.found.drawn.edge(row.found.where)[0].name,
            "edge": row.found.note.span.edge if row.found.note.span is not None else None,
            "from": row.found.ends[0].name,
            "to": row.found.ends[1].name,
            "out_mm": length(row.each_mm),
            "own_mm": [length(one) for one in row.own_mm],
            "other_mm": [length(one) for one in row.other_mm],
            "run_out_mm": [length(one) for one in row.run_mm],
            "follow": list(row.follow),
        }
        for row in rows
    ]


def fly_rows(pad: BuiltPad, job: Job) -> list[dict[str, Any]]:
    """What the report says of the flies of a pad, mirrored pairs once: length, grip, and the leather that is saved."""
    return [
        {
            "panel": fly.panel,
            "side": pad.pad.side_word(fly.side),
            "count": fly.count,
            "length_mm": length(fly.length_mm),
            "strip_mm": length(pad.pad.fixings.strip),
            "width_as_cut_mm": length(fly.wide_mm),
            "grip_mm": length(fly.grip_mm),
            "leather_saved_mm2": length(fly.saved_mm2),
        }
        for fly in flies_of(pad, job.pieces, job.sheet.allowance)
    ]


def pleat_rows(job: Job) -> list[dict[str, Any]]:
    """What the report says of every pleat: widths finished and cut, rise and take-up."""
    return [row for pad in job.pads for row in _pleats(pad, cut_by_pleat(pad, job.flats))]


def pleat_end_rows(job: Job) -> list[dict[str, Any]]:
    """What the report says of every edge that pleats run out into."""
    return [_pleat_end(end) for pad in job.pads for end in pleat_ends(pad, job.flats)]


def piece_row(piece: Piece) -> dict[str, Any]:
    """What the report says of one piece, up to its cut line."""
    x0, y0, x1, y1 = piece.box()
    return {
        "name": piece.name,
        "pad": piece.pad,
        "count": piece.cut_count + piece.mirrored_count,
        "mirrored": piece.mirrored_count,
        "panels": list(piece.panels),
        "width_mm": length(x1 - x0),
        "height_mm": length(y1 - y0),
        "cut_area_mm2": length(piece.cut_mm2),
        "edges": [_edge(edge) for edge in piece.edges],
        "notes": list(piece.notes),
        "material": piece.material or piece.order.leather or "leather",
    }


def _edge(edge: Edge) -> dict[str, Any]:
    return {
        "name": edge.name,
        "kind": edge.kind.value,
        "length_mm": length(curve_length(edge.points)),
        "allowance_mm": length(edge.allowance_mm),
        "seam": edge.seam,
        "note": edge.note,
    }


def _seam(seam: SeamFigures) -> dict[str, Any]:
    return {
        "name": seam.name,
        "a": seam.a,
        "b": seam.b,
        "length_a_mm": length(seam.length_a_mm),
        "length_b_mm": length(seam.length_b_mm),
        "seat_mm": length(seam.seat_mm),
        "mismatch_mm": length(seam.mismatch_mm),
        "local_mm": length(seam.local_mm),
        "ease_mm": length(seam.ease_mm),
        "welt": seam.welt,
        "sews": seam.sews,
    }


def _marks(count: tuple[int, int]) -> dict[str, Any]:
    """Marks along a seam that both sides have, and on each."""
    return {"marks": min(count), "marks_a": count[0], "marks_b": count[1]}


def _pleats(pad: BuiltPad, cut: Mapping[int, float]) -> list[dict[str, Any]]:
    if pad.pleats is None:
        return []
    return [
        {
            "pad": pad.pad.name,
            "index": pleat.index,
            "name": pleat.name,
            "finished_mm": length(pleat.finished_mm),
            "finished_low_mm": length(pleat.finished_low_mm),
            "finished_high_mm": length(pleat.finished_high_mm),
            "rise_mm": length(pleat.rise_mm),
            "cut_mm": length(cut[pleat.index]),
            "arc_mm": length(pleat.cut_mm - pleat.take_up_mm),
            "take_up_mm": length(pleat.take_up_mm),
        }
        for pleat in pad.pleats.figures
    ]


def _pleat_end(end: PleatEnd) -> dict[str, Any]:
    return {
        "pad": end.pad,
        "part": end.part,
        "edge": end.edge,
        "pleats": end.pleats,
        "cut_mm": length(end.cut_mm),
        "take_up_mm": length(end.take_up_mm),
        "ease_mm": length(end.ease_mm),
        "finished_mm": length(end.finished_mm),
        "seam_mm": None if end.seam_mm is None else length(end.seam_mm),
        "off_mm": length(end.off_mm),
        "meets": end.meets,
    }


def offset_row(offset: Offset) -> dict[str, Any]:
    """How far two pads' valleys are off each other at their common edge."""
    return {
        "a": offset.a,
        "b": offset.b,
        "index": offset.index,
        "valley": offset.valley,
        "offset_mm": length(offset.offset_mm),
    }
