"""What a cut through a pad says, as plain data and as lines of text: radii, hard line, lifts, layers, the proposal.

Lengths mm; a radius is null where the cover runs straight. One set of figures for the report and the command.
"""

import math
from typing import Any

import numpy as np

from meshes.arrays import FloatArray
from meshes.pad import Layer
from meshes.pad_build import BuiltPad
from meshes.proposal import Comparison, Proposal
from meshes.section import Section, SectionLift

PLACES, FRACTION_PLACES = 3, 6


def cut_facts(cut: Comparison) -> dict[str, Any]:
    """The figures of one cut, bare and as padded, ready for JSON."""
    return {
        "name": cut.name,
        "ridge_radius_bare_mm": finite(cut.ridge_radius_bare_mm),
        "ridge_radius_mm": finite(cut.ridge_radius_mm),
        "ridge_side": cut.padded.ridge.side,
        "hard_line_deg": _mm(cut.padded.hard_line_deg),
        "hard_line_bare_deg": _mm(_same_side(cut.bare, cut.padded.ridge.side)),
        "lifts": [_lift(lift) for lift in cut.lifts],
        "proposal": None if cut.proposal is None else _proposal(cut.proposal),
    }


def pad_facts(pad: BuiltPad) -> dict[str, Any]:
    """What settling adds to a pad's report: its cuts, the springs, the foam; zeros where nothing presses."""
    rest = pad.rest
    low, high = (0.0, 0.0) if rest is None else rest.height_change_mm
    return {
        "sections": [cut_facts(cut) for cut in pad.sections],
        "cover_tension_n_per_mm": _mm(0.0 if rest is None else rest.tension_n_per_mm),
        "spring_deflection_mm": _mm(0.0 if rest is None else rest.spring_deflection_mm),
        "foam_compression_max": round(0.0 if rest is None else rest.foam_compression_max, FRACTION_PLACES),
        "height_change_mm": {"min": _mm(low), "max": _mm(high)},
    }


def cut_json(cut: Comparison, layers: tuple[Layer, ...]) -> dict[str, Any]:
    """The figures of one cut with its lines, points (place, height): what section.json holds."""
    return {
        "units": "mm",
        **cut_facts(cut),
        "before": _lines(cut.bare, layers[:1]),
        "padded": _lines(cut.padded, layers),
        "proposed": None if cut.proposal is None else _lines(cut.proposal.after, cut.proposal.pad.layers),
    }


def cut_text(cut: Comparison, pad_name: str, layers: tuple[Layer, ...]) -> str:
    """One cut in words, a line for every thing that can be measured."""
    shown = cut.padded
    low, high = shown.support[:, 1].min(), shown.support[:, 1].max()
    lines = [
        f"{pad_name}, cut {cut.name}",
        f"  measured support: {np.ptp(shown.support[:, 0]):.0f} mm long, {low:.0f} to {high:.0f} mm high",
        *(f"  {line}" for line in _layer_lines(shown, layers)),
        f"  over the {shown.ridge.side}: radius {_radius(cut.ridge_radius_bare_mm)} as measured, first layer only,"
        f" {_radius(cut.ridge_radius_mm)} as padded",
        f"  hard line there: {_same_side(cut.bare, shown.ridge.side):.1f} degrees as measured,"
        f" {shown.hard_line_deg:.1f} degrees as padded",
    ]
    if not cut.lifts:
        lines.append("  the cover lifts nowhere")
    lines += [
        f"  the cover lifts {lift.gap_mm:.1f} mm at {lift.at[0]:.0f} mm, over {lift.long_mm:.0f} mm;"
        " a tie-down or a seam belongs there"
        for lift in cut.lifts
    ]
    if cut.proposal is not None:
        lines.append(f"  proposed for {cut.proposal.wanted_mm:g} mm: {cut.proposal.text}")
    return "\n".join(lines)


def finite(radius: float) -> float | None:
    """A radius for JSON: None where it is infinite."""
    return _mm(radius) if math.isfinite(radius) else None


def _mm(value: float) -> float:
    return round(float(value), PLACES) + 0.0


def _radius(radius: float) -> str:
    return f"{radius:.1f} mm" if math.isfinite(radius) else "straight"


def _same_side(cut: Section, side: str) -> float:
    return next(ridge.hard_line_deg for ridge in cut.ridges if ridge.side == side)


def _lift(lift: SectionLift) -> dict[str, Any]:
    return {"at": [_mm(x) for x in lift.at], "gap_mm": _mm(lift.gap_mm), "long_mm": _mm(lift.long_mm)}


def _proposal(proposal: Proposal) -> dict[str, Any]:
    return {
        "wanted_mm": _mm(proposal.wanted_mm),
        "reached": proposal.reached,
        "cloth": proposal.cloth,
        "ridge_radius_mm": finite(proposal.after.ridge_radius_mm),
        "layers": [
            {
                "material": layer.material,
                "thickness_mm": _mm(layer.thickness),
                "where": layer.where,
                "within_mm": None if layer.within is None else _mm(layer.within),
                "below_mm": _mm(layer.below),
                "taper_mm": _mm(layer.taper),
            }
            for layer in proposal.layers
        ],
        "text": proposal.text,
    }


def layer_mm(cut: Section) -> tuple[FloatArray, FloatArray]:
    """Thickness of every layer free and at rest along a cut, both (layers, k) mm."""
    below = np.concatenate([cut.ground[None], cut.after[:-1]])
    rest = np.linalg.norm(cut.after - below, axis=2)
    return rest if cut.settled is None else rest / (1.0 - cut.settled.compression.T), rest


def _layer_lines(cut: Section, layers: tuple[Layer, ...]) -> list[str]:
    if not layers:
        return ["no padding"]
    rows = []
    for layer, was, now in zip(layers, *layer_mm(cut), strict=True):
        worst = int(np.argmax(was - now))
        rows.append(
            f"{layer.material}: up to {was.max():.1f} mm free; crushed most at {cut.cover[worst, 0]:.0f} mm,"
            f" from {was[worst]:.1f} to {now[worst]:.1f} mm"
        )
    return rows


def _lines(cut: Section, layers: tuple[Layer, ...]) -> dict[str, Any]:
    def points(line: FloatArray) -> list[list[float]]:
        return [[_mm(x), _mm(z)] for x, z in line]

    return {
        "support": points(cut.support),
        "cover": points(cut.cover),
        "layers": [
            {"material": layer.material, "top_before": points(before), "top_after": points(after)}
            for layer, before, after in zip(layers, cut.before, cut.after, strict=True)
        ],
    }
