"""Hides as the page draws them: as the sheet has them, and with the pieces laid on them. Hide coordinates, mm, y up."""

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from flatten.hides.laid_cut import LaidCut, LaidHides
from meshes.base.arrays import FloatArray
from meshes.hides.drawn import read_drawing
from meshes.hides.records import Hide
from meshes.hides.svg_lines import DrawingFault


def hides_drawn(hides: tuple[Hide, ...]) -> list[dict[str, Any]]:
    """Every hide of a sheet: number in the sheet, outline, backbone, zones, flaws, area in m2."""
    return [
        {
            "number": hide.place,
            "name": hide.name,
            "outline": _ring(hide.outline),
            "backbone": _ring(hide.backbone),
            "zones": [{"name": name, "points": _ring(part)} for name, parts in hide.zones.items() for part in parts],
            "flaws": [{"words": one.words, "grade": one.grade, "points": _ring(one.points)} for one in hide.flaws],
            "area_m2": round(_area_mm2(hide.outline) / 1e6, 4),
        }
        for hide in hides
        if not hide.roll
    ]


def pieces_laid(laid: LaidHides) -> list[dict[str, Any]]:
    """Every piece on a hide, rolls left out: name and which of several, the hide's number in the sheet, its outline
    there, the middle of its box as a pin has it, the turn of its arrow off the backbone, and what it asks: how it is
    seen, its zones and why, how far its arrow may lie off the backbone; degrees."""
    return list(_pieces(laid))


def _pieces(laid: LaidHides) -> Iterator[dict[str, Any]]:
    for cut in laid.cuts:
        hide = laid.plan.hides[cut.hide]
        if not hide.roll:
            yield {
                "hide": hide.place,
                "name": cut.cut.name,
                "number": cut.cut.number,
                "label": cut.cut.label,
                "points": _ring(hide.from_backbone(cut.points)),
                "at": [round(float(v), 2) for v in hide.from_backbone(_middle(cut)[None])[0]],
                "turn": round(float(cut.turn_deg), 2),
                "pinned": cut.pinned,
                "seen": cut.ask.seen,
                "zones": list(cut.ask.zones),
                "why": cut.ask.why,
                "off": round(float(cut.ask.turn_deg), 2),
            }


def _middle(cut: LaidCut) -> FloatArray:
    return 0.5 * (cut.points.min(axis=0) + cut.points.max(axis=0))


def _ring(points: FloatArray) -> list[list[float]]:
    return [[round(float(x), 1), round(float(y), 1)] for x, y in points]


def _area_mm2(ring: FloatArray) -> float:
    x, y = ring[:, 0], ring[:, 1]
    shifted_x, shifted_y = ring[[*range(1, len(ring)), 0]].T
    return abs(0.5 * float((x * shifted_y - shifted_x * y).sum()))


def drawing_faults(path: Path, scale: float) -> str:
    """What is wrong with a drawing of a hide, in words; empty where it has an outline that can be read."""
    try:
        lines: Mapping[str, list[FloatArray]] = read_drawing(path, scale)
    except DrawingFault as fault:
        return str(fault)
    return "" if lines.get("outline") else "has no line on a layer called outline"
