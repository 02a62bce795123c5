"""Measured numbers of a sheet, where they stand, and the sheet with one of them changed."""

from collections.abc import Iterator, Mapping
from typing import Any

from meshes.base.problems import KeyPath, SheetChange
from meshes.base.units import MM_PER_INCH, Unit, parse_length
from meshes.sheet.changes import changed


def measured_numbers(tables: Mapping[str, Any]) -> Iterator[tuple[KeyPath, float, bool]]:
    """Where measured numbers stand, their values in mm, and whether a tape takes them, or a gauge: outlines, heights of
    profiles, and drops and edge radii of sides. Where along a profile a height was taken is no reading of the seat."""
    unit: Unit = "in" if tables.get("unit") == "in" else "mm"
    for k, pad in enumerate(tables.get("pad", ())):
        for keys, value in lengths_below(pad.get("outline", {}), ("pad", k, "outline"), unit):
            yield keys, value, "radius" not in str(keys[3])
        for n, profile in enumerate(pad.get("profile", ())):
            for row, point in enumerate(profile.get("points", ())):
                keys = ("pad", k, "profile", n, "points", row, 1)
                yield from ((at, mm, False) for at, mm in lengths_below(point[1], keys, unit))
        for side, given in pad.get("sides", {}).items():
            for key in ("drop", "edge_radius"):
                if isinstance(given, dict) and key in given:
                    found = lengths_below(given[key], ("pad", k, "sides", side, key), unit)
                    yield from ((keys, mm, key == "drop") for keys, mm in found)


def lengths_below(value: Any, keys: KeyPath, unit: Unit) -> Iterator[tuple[KeyPath, float]]:
    """Every length above 0 at or below a place; zeros are where one measures from."""
    if isinstance(value, dict | list):
        for key in value if isinstance(value, dict) else range(len(value)):
            yield from lengths_below(value[key], (*keys, key), unit)
        return
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        return
    try:
        mm = parse_length(value, unit=unit)
    except ValueError:
        return
    if mm != 0.0:
        yield keys, mm


def with_number(tables: Mapping[str, Any], keys: KeyPath, mm: float) -> dict[str, Any]:
    """The tables with one number at its place, given in mm, in the sheet's unit."""
    value = mm / float(MM_PER_INCH) if tables.get("unit") == "in" else mm
    return changed(tables, (SheetChange(keys, None, value),))
