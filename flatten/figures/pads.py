"""Figures of every pad: measured profiles, layers, mesh, tack lines, and how it rests under the cover."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from flatten.figures.closed import board_row, closed_row
from flatten.figures.rounded import fraction, length
from flatten.job.continuing import continues_rows
from flatten.pieces.piece import Piece
from flatten.sections.section import section_dict
from meshes.base.surface import curve_length, triangle_areas
from meshes.seat.build import BuiltPad
from meshes.seat.panels import RimEdge
from meshes.support.line_roles import LineRole


def pad_row(pad: BuiltPad, pieces: Sequence[Piece] = ()) -> dict[str, Any]:
    """What the report says of one pad, its padding plan left out; pieces: of its cover."""
    facts, leather = pad.facts, _fold_leather(pad, pieces)
    areas = triangle_areas(pad.surface.vertices, pad.surface.triangles)
    return {
        "name": pad.pad.name,
        "kind": pad.pad.kind,
        "origin_mm": [length(value) for value in pad.pad.origin],
        "rake_deg": length(pad.pad.rake_deg),
        "facing_deg": length(pad.pad.facing_deg),
        "profiles": [
            {
                "name": fact.name,
                "points": fact.points,
                "residual_mm": length(fact.residual_mm),
                "sensitivity": length(fact.sensitivity),
                "left_out_mm": length(fact.left_out_mm),
            }
            for fact in facts.profiles
        ],
        "left_right": [{"what": what, "right_minus_left_mm": length(mm)} for what, mm in facts.left_right],
        "area_mm2": length(facts.area_mm2),
        "thickness_mm": {"min": length(facts.thickness_mm[0]), "max": length(facts.thickness_mm[1])},
        "layers": [
            {"material": material, "where": where, "thickness_mm": length(thick), "area_mm2": length(area)}
            for material, where, thick, area in facts.layers
        ],
        "triangles": facts.triangles,
        "smallest_angle_deg": length(facts.smallest_angle_deg),
        "tack_lines": _tack_lines(pad),
        "closed": closed_row(pad),
        "board": board_row(pad),
        "folds": [
            {
                "corner": fold.corner.replace("_", " "),
                "finish": str(fold.finish),
                "panel": fold.panel,
                "depth_mm": length(fold.depth_mm),
                "arc_mm": length(fold.arc_mm),
                "leather_mm2": length(leather.get(fold.name, 0.0)),
                "covers_mm2": length(float(areas[fold.triangles].sum())),
            }
            for fold in pad.division.folds
        ],
        "fixings": [
            {"side": pad.pad.side_word(side), "fixing": word, "crease_mm": length(pad.pad.fixings.crease(side))}
            for side, word in pad.pad.fixings.sides
        ],
        "sewn_corners": [
            {"seam": seam.name, "length_mm": length(curve_length(pad.surface.vertices[seam.vertices]))}
            for seam in pad.seams
            if seam.a == seam.b and any(e.seam == seam.name and e.role is LineRole.CORNER_SEAM for e in _rims(pad))
        ],
        "continues": continues_rows(pad),
        **_rest(pad),
    }


def _rims(pad: BuiltPad) -> list[RimEdge]:
    return [edge for panel in pad.panels for edge in panel.rim]


def _fold_leather(pad: BuiltPad, pieces: Sequence[Piece]) -> dict[str, float]:
    """Area of the leather of every folded corner, mm2, by its name: from its mouth up to the edge."""
    panels = {panel.name: panel for panel in pad.panels}
    found = {}
    for piece in pieces:
        panel = panels.get(piece.panels[0])
        runs = {} if panel is None else {edge.name: edge.vertices for edge in panel.rim if edge.kind == "folded"}
        for edge in piece.edges:
            if edge.name in runs:
                ring = np.concatenate([edge.points, piece.mesh.points[runs[edge.name]][::-1][1:-1]])
                x, y = ring.T
                found[edge.name] = 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))
    return found


def _rest(pad: BuiltPad) -> dict[str, Any]:
    """What the cover does to the padding at rest; nothing of it where the cover has no tension."""
    rest = pad.rest
    return {
        "sections": [section_dict(cut) for cut in pad.sections],
        "tension_n_per_mm": 0.0 if rest is None else length(rest.tension_n_per_mm),
        "spring_deflection_mm": 0.0 if rest is None else length(rest.spring_deflection_mm),
        "foam_compression_max": 0.0 if rest is None else fraction(rest.foam_compression_max),
        "padding_compression_max": 0.0 if rest is None else fraction(rest.padding_compression_max),
        "height_change_mm": [0.0, 0.0] if rest is None else [length(value) for value in rest.height_change_mm],
    }


def _tack_lines(pad: BuiltPad) -> list[dict[str, Any]]:
    """Tack lines, as they run on the padded pad: name and length."""
    return [
        {
            "name": f"{panel.part} {edge.name}",
            "length_mm": length(curve_length(panel.surface.vertices[edge.vertices])),
        }
        for panel in pad.panels
        for edge in panel.rim
        if edge.seam is None and edge.role is LineRole.TACK
    ]
