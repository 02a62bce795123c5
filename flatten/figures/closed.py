"""Figures of a closed cover: how it is smaller than its core, how full it is, how long its zip."""

from typing import Any

from flatten.figures.rounded import length
from meshes.seat.build import BuiltPad


def closed_row(pad: BuiltPad) -> dict[str, Any] | None:
    """What follows of a closed cover; None for a pad on a frame."""
    closed, facts = pad.pad.closed, pad.closed
    if closed is None or facts is None:
        return None
    return {
        "form": closed.form,
        "core": closed.core,
        "thickness_mm": length(closed.thickness),
        "band_mm": length(closed.height),
        "undersize_mm": length(facts.smaller.mm),
        "undersize_row": facts.smaller.row,
        "tension_n_per_mm": length(facts.tension_n_per_mm),
        "rise_mm": length(facts.rise_mm),
        "zip_mm": length(facts.zip_mm),
    }
