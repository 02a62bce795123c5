"""Padding materials of a sheet: its own ones, and the thicknesses the shop has in stock."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from meshes.fitting.foam_block import block_curve, block_source
from meshes.records.compression import CurveError, curve
from meshes.records.materials import STRAINS, Material
from meshes.schema.tables import ALL_FOAM, MaterialInput
from meshes.sheet.part_reader import PartReader


def own_materials(raw: Mapping[str, Any], reader: PartReader) -> dict[str, Material]:
    """Materials that the sheet gives by density and pressures, by name; faulty ones are left out."""
    own = {}
    tables = raw.get("material")
    for name, table in tables.items() if isinstance(tables, dict) else ():
        given = reader.table(MaterialInput, table, ("material", name))
        if given is not None:
            source = given.source or ("the sheet" if given.block is None else block_source(given.block))
            points = tuple((row[0], row[1]) for row in given.compression or () if row[0] > 0)
            if given.block is not None:
                points = tuple((point.strain, point.kpa) for point in block_curve(given.block))
            kpa = given.compression_kpa or _usual_three(points)
            own[name] = Material(
                name, given.density, kpa, given.thickness, source, compression=points, foam=given.kind == "foam"
            )
    return own


def with_stock(
    materials: Mapping[str, Material], own: Mapping[str, Material], stock: Mapping[str, tuple[float, ...]]
) -> dict[str, Material]:
    """The materials with the sheets the shop has of them: those named for one, else its own thickness, else those named
    for all foam."""
    found = {}
    for name, one in materials.items():
        stated = name in own and one.thickness_mm is not None
        general = stock.get(ALL_FOAM, ()) if one.foam and not stated else ()
        found[name] = replace(one, stock_mm=stock.get(name, general))
    return found


def _usual_three(table: Sequence[tuple[float, float]]) -> tuple[float, float, float]:
    """Pressures at the three usual strains, read off a full table; its faults are told elsewhere."""
    try:
        low, middle, high = curve(table).pressure(np.array(STRAINS))
    except CurveError:
        return 0.0, 0.0, 0.0
    return float(low), float(middle), float(high)
