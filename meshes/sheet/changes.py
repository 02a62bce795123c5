"""Values of a sheet changed as a trimmer would: in its own words and unit, rounded to what a tape shows."""

import copy
import math
from collections.abc import Iterator, Mapping
from typing import Any

from meshes.base.problems import KeyPath, SheetChange, Vary, Way
from meshes.base.units import Unit, parse_length
from meshes.records.pad import UPRIGHT, upright_key
from meshes.schema.tables import SheetInput
from meshes.schema.words import default_at

# Inches are read to this share of one.
INCH_PARTS = 16


def changed(tables: Mapping[str, Any], changes: tuple[SheetChange, ...]) -> dict[str, Any]:
    """The tables of a sheet with some values changed; what was handed in stays as it is."""
    new = copy.deepcopy(dict(tables))
    for change in changes:
        here: Any = new
        for key in change.keys[:-1]:
            here = here[key] if isinstance(key, int) else here.setdefault(key, {})
        last = change.keys[-1]
        if change.value is None and isinstance(last, int):
            del here[last]
        elif change.value is None:
            here.pop(last, None)
        else:
            here[last] = change.value
    return new


def scale_values(tables: Mapping[str, Any], vary: Vary, factor: float) -> tuple[SheetChange, ...]:
    """Every number that `vary` speaks of times a factor; for the way EVEN its distance from 1. Nothing when none moves.

    tables: of the whole sheet as written; those words are kept.
    """
    unit: Unit = "in" if tables.get("unit") == "in" else "mm"
    found = []
    for keys, was in _numbers(tables, vary.keys):
        value = _number(was, unit)
        if value is None or (vary.way is Way.EVEN and value == 1.0):
            continue
        new = 1.0 + factor * (value - 1.0) if vary.way is Way.EVEN else factor * value
        up = vary.way is Way.MORE
        rounded = _rounded(new, unit, up=up, whole=isinstance(was, int) and keys[-1] == "count")
        if rounded != value:
            found.append(SheetChange(keys, was, rounded))
    return tuple(found)


def replaced(tables: Mapping[str, Any], vary: Vary, value: object) -> tuple[SheetChange, ...]:
    """The value that `vary` speaks of replaced; nothing when it stands there already."""
    keys = written(tables, vary.keys)
    was = _at(tables, keys)
    return () if was == value else (SheetChange(keys, was, value),)


def written(tables: Mapping[str, Any], keys: KeyPath) -> KeyPath:
    """A path in the words of the file: bottom and top for front and rear of an upright pad."""
    here: Any = tables
    said: KeyPath = ()
    upright = False
    for depth, key in enumerate(keys):
        twin = upright_key(key) if isinstance(key, str) and depth >= 2 and upright else key
        known = isinstance(here, dict) and key in here
        key = key if known else twin
        said = (*said, key)
        here = _at({"": here}, ("", key))
        upright = upright or (depth == 1 and isinstance(here, dict) and here.get("kind") in UPRIGHT)
    return said


def _at(tables: Any, keys: KeyPath) -> Any:
    here = tables
    for key in keys:
        there = isinstance(here, dict) and key in here
        there = there or (isinstance(here, list) and isinstance(key, int) and 0 <= key < len(here))
        if not there:
            return None
        here = here[key]
    return here


def _numbers(tables: Mapping[str, Any], keys: KeyPath) -> Iterator[tuple[KeyPath, Any]]:
    """Every value below a path with "*" in it, with its own path; the default of a key that is not written."""
    if "*" in keys:
        k = keys.index("*")
        above = written(tables, keys[:k])
        table = _at(tables, above)
        names = range(len(table)) if isinstance(table, list) else list(table) if isinstance(table, dict) else []
        for name in names:
            yield from _numbers(tables, (*above, name, *keys[k + 1 :]))
        return
    path = written(tables, keys)
    value = _at(tables, path)
    if isinstance(value, dict | list):
        for name in range(len(value)) if isinstance(value, list) else list(value):
            yield from _numbers(tables, (*path, name))
    elif value is not None:
        yield path, value
    elif _at(tables, path[:-1]) is not None and (usual := default_at(SheetInput, keys)) is not None:
        yield path, usual


def _number(value: Any, unit: Unit) -> float | None:
    """A number as it counts in the sheet's unit; None for what is none."""
    if isinstance(value, bool):
        return None
    if isinstance(value, int | float):
        return float(value)
    try:
        return parse_length(value, unit=unit) / (25.4 if unit == "in" else 1.0)
    except ValueError:
        return None


def _rounded(value: float, unit: Unit, *, up: bool, whole: bool) -> float | int:
    """Rounded on in the direction in which it was moved."""
    parts = 1 if whole or (unit == "mm" and abs(value) >= 10.0) else INCH_PARTS if unit == "in" else 20
    steps = (math.ceil if up else math.floor)(value * parts - 1e-9 if up else value * parts + 1e-9)
    number = round(steps / parts, 6)
    return int(number) if number == int(number) else number
