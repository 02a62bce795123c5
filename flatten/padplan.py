"""What padding a pad takes: sheets of stock for every layer, and warnings where an edge crushes its foam too far.

A layer thicker than the sheet it is sold in is laid up of several. Areas are those the layers cover on the padded
surface, without waste. Lengths mm.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from meshes.materials import CRUSH_LIMIT, Material
from meshes.pad_build import BuiltPad
from meshes.problems import Problem


@dataclass(frozen=True)
class Stock:
    """One layer as it is bought. layer: counted from the support; sheet_mm: thickness it is sold in, None where the
    material has none; sheets: how many lie on each other; area_mm2: of all of them together."""

    layer: int
    material: str
    thickness_mm: float
    sheet_mm: float | None
    sheets: int
    area_mm2: float


def stock_of(pad: BuiltPad, materials: Mapping[str, Material]) -> tuple[Stock, ...]:
    """Stock for all layers of a pad, from the support outward."""
    rows = []
    for k, (material, _, thickness, area) in enumerate(pad.facts.layers, start=1):
        sheet = materials[material].thickness_mm
        sheets = max(math.ceil(thickness / sheet - 1e-9), 1) if sheet else 1
        rows.append(Stock(k, material, thickness, sheet, sheets, sheets * area))
    return tuple(rows)


def crushed_notes(pad: BuiltPad) -> tuple[Problem, ...]:
    """Warnings for foam layers that the settled cover crushes by more than half; none for stuffing, which is meant to
    give, and none where the cover has no tension."""
    if pad.rest is None:
        return ()
    return tuple(
        Problem(
            "G150",
            f"pad {pad.pad.name}, layer {k}",
            f"{layer.thickness:g} mm {layer.material} is crushed by up to {100 * share:.0f} %, more than "
            f"{100 * CRUSH_LIMIT:.0f} %; use firmer foam there, or round the edge beneath it",
            warning=True,
        )
        for k, (layer, share, foam) in enumerate(
            zip(pad.pad.layers, pad.rest.layer_compression_max, pad.rest.foam_layers, strict=True), start=1
        )
        if foam and share > CRUSH_LIMIT
    )
