"""Plausible seats: sheets as a trimmer would write them after measuring, in many kinds of variation.

All of them ought to make pieces; one that does not has to be told what to change. A seat is one to three pads
(tests/fuzz/bodies.py), varied (tests/fuzz/variations.py), and written as TOML here. All measurements invented.
"""

import random
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from tests.fuzz.bodies import BODIES
from tests.fuzz.sheet_variations import OF_SHEETS
from tests.fuzz.variations import OF_PADS
from tests.fuzz.whole_bodies import WHOLE_BODIES

_TABLES = (
    *("outline", "frame", "bands", "folds", "closed", "board", "fixing", "support", "inset", "pleats"),
    "continues",
)
_ROWS = {"profiles": "profile", "layers": "layer", "lines": "line", "posts": "post"}
# Numbers that are no lengths, so that they stay as they are on a sheet in inches.
_NO_LENGTHS = {
    *(
        "rake",
        "facing",
        "turn",
        "fan",
        "count",
        "density",
        "compression_kpa",
        "rate_kpa_per_mm",
        "coil_rate",
        "tension",
    ),
    *("grain_window", "stretch_along", "stretch_across", "pull", "stiffness_along", "stiffness_across", "largest_area"),
    *("joins", "compression", "by", "apply", "area"),
}


@dataclass
class Draft:
    """A seat being written: its tables and pads as plain values in mm, and the kinds of variation used."""

    sheet: dict[str, Any]
    pads: list[dict[str, Any]]
    used: list[str] = field(default_factory=list)
    inches: bool = False


@dataclass(frozen=True)
class Seat:
    """A finished sheet as text, and the kinds of variation in it."""

    text: str
    variations: tuple[str, ...]


def seat(dice: random.Random, *, mesh: float = 16.0) -> Seat:
    """The seat that the dice throw, computed with triangles of `mesh` mm unless it is a long one."""
    name, body = dice.choice(tuple((BODIES | WHOLE_BODIES).items()))
    draft = Draft({"name": f"Launch {name}", "output": {}}, body(dice), [name])
    for vary, (share, word) in OF_PADS.items():
        for pad in draft.pads if name in BODIES else []:
            if dice.random() < share and vary(pad, dice) and word not in draft.used:
                draft.used.append(word)
    for change, (share, word) in OF_SHEETS.items():
        if dice.random() < share and change(draft, dice):
            draft.used.append(word)
    longest = max(_width(pad) for pad in draft.pads)
    draft.sheet["output"]["mesh"] = mesh if longest < 900 else max(mesh, 20.0)
    return Seat(written(draft), tuple(draft.used))


def _width(pad: dict[str, Any]) -> float:
    outline = pad["outline"]
    if "points" in outline:
        return 2.0 * max(abs(point[0]) for point in outline["points"])
    if "width" in outline:
        return float(outline["width"])
    return max(sum(v for k, v in outline.items() if k.startswith(end) and "_" in k) for end in ("front", "bottom"))


def written(draft: Draft) -> str:
    """The sheet as TOML."""
    unit = draft.inches
    lines = [f'name = "{draft.sheet["name"]}"', f'unit = "{"in" if unit else "mm"}"']
    for key, table in draft.sheet.items():
        if isinstance(table, dict) and table:
            lines += ["", f"[{key}]", *_keys(table, unit)]
        elif isinstance(table, list):
            for row in table:
                lines += ["", f"[[{key}]]", *_keys(row, unit)]
    for pad in draft.pads:
        lines += [
            "",
            "[[pad]]",
            *_keys({k: v for k, v in pad.items() if not isinstance(v, dict) and k not in _ROWS}, unit),
        ]
        for key in _TABLES:
            if pad.get(key):
                lines += ["", f"[pad.{key}]", *_keys(pad[key], unit)]
        for name, side in pad.get("sides", {}).items():
            lines += ["", f"[pad.sides.{name}]", *_keys(side, unit)]
        for rows, key in _ROWS.items():
            for row in pad.get(rows, []):
                lines += ["", f"[[pad.{key}]]", *_keys(row, unit)]
    return "\n".join(lines) + "\n"


def _keys(table: dict[str, Any], inches: bool) -> list[str]:
    return [f"{key} = {_value(value, inches and key not in _NO_LENGTHS)}" for key, value in table.items()]


def _value(value: Any, inches: bool) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{k} = {_value(v, inches)}" for k, v in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_value(v, inches) for v in value) + "]"
    if inches:
        return _in_inches(float(value))
    return f"{value:.6g}"


def _in_inches(mm: float) -> str:
    """A length as it is read off a tape: in sixteenths, some as text; small ones as decimals, so that none is lost."""
    sixteenths = Fraction(round(mm / 25.4 * 16), 16)
    if abs(mm) < 20.0 or sixteenths.denominator == 1:
        return f"{mm / 25.4:.4f}"
    whole, rest = divmod(abs(sixteenths), 1)
    sign = "-" if mm < 0 else ""
    return f'"{sign}{whole} {rest.numerator}/{rest.denominator} in"' if whole else f'"{sign}{rest} in"'
