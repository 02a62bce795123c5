"""Figures of every pad: measured profiles, layers, mesh, tack lines, and how it rests under the cover."""

from typing import Any

from flatten.figures.closed import closed_row
from flatten.figures.rounded import fraction, length
from flatten.job.continuing import continues_rows
from flatten.sections.section import section_dict
from meshes.base.surface import curve_length
from meshes.seat.build import BuiltPad
from meshes.support.line_roles import LineRole


def pad_row(pad: BuiltPad) -> dict[str, Any]:
    """What the report says of one pad, its padding plan left out."""
    facts = pad.facts
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
        "folds": [
            {
                "corner": fold.corner.replace("_", " "),
                "finish": str(fold.finish),
                "panel": fold.panel,
                "depth_mm": length(fold.depth_mm),
                "arc_mm": length(fold.arc_mm),
            }
            for fold in pad.division.folds
        ],
        "fixings": [
            {"side": pad.pad.side_word(side), "fixing": word, "crease_mm": length(pad.pad.fixings.crease(side))}
            for side, word in pad.pad.fixings.sides
        ],
        "continues": continues_rows(pad),
        **_rest(pad),
    }


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
