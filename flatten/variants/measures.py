"""The figures of a job that decide: what is compared between variants, and what is told of a change.

They are taken from the report, so that they are those a trimmer reads there.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

# By how much a figure has to change to be told, by its unit.
TOLD_FROM = {"mm": 0.05, "%": 0.05, "m²": 0.0005, "N/m": 0.5, "sheets": 0.5}
_PLACES_BY_UNIT = {"mm": 1, "%": 1, "m²": 3, "N/m": 0, "sheets": 0}


@dataclass(frozen=True)
class Measure:
    """One figure: a number of a unit, or a word; None where it is not known, as the radius of what runs straight."""

    value: float | str | None
    unit: str = ""

    def __str__(self) -> str:
        if self.value is None:
            return "–"
        if isinstance(self.value, str):
            return self.value
        return f"{self.value:.{_PLACES_BY_UNIT[self.unit]}f} {self.unit}"

    def differs(self, other: "Measure") -> bool:
        """Whether a reader would be told of the change from one to the other."""
        if isinstance(self.value, float) and isinstance(other.value, float) and self.unit == other.unit:
            return abs(self.value - other.value) >= TOLD_FROM[self.unit]
        return self.value != other.value


def measures_of(report: Mapping[str, Any], *, seams: bool = False) -> dict[str, Measure]:
    """The figures of a report by what they measure, in its order; seams: with the length of every seam."""
    found: dict[str, Measure] = {}
    for pad in report["pads"]:
        found |= dict(_of_pad(pad))
    for panel in report["panels"]:
        if panel["mirror_of"] is None:
            found[f"{panel['name']}: demand"] = _percent(panel["demand"])
            found[f"{panel['name']}: verdict"] = Measure(panel["verdict"] or "–")
    if seams:
        found |= {f"seam {row['name']}": Measure(float(row["length_a_mm"]), "mm") for row in report["seams"]}
    found["all pieces fit"] = Measure("yes" if report["fits"] else "no")
    area = sum(float(piece["cut_area_mm2"]) * piece["count"] for piece in report["pieces"])
    found["leather, pieces alone"] = Measure(area / 1e6, "m²")
    for row in report["padding_stock"]:
        name = f"{row['material']} {row['sheet_mm']:g} mm"
        found[f"{name}: cut"] = Measure(float(row["cut_mm2"]) / 1e6, "m²")
        if row["stock_sheets"] is not None:
            found[f"{name}: stock"] = Measure(float(row["stock_sheets"]), "sheets")
    return found


def _of_pad(pad: Mapping[str, Any]) -> Iterator[tuple[str, Measure]]:
    for cut in pad["sections"]:
        radius = cut["ridge_radius_mm"]
        # A cut across is told by the sharper of its two edges, and on an even pad either may be that by a hair.
        side = "left or right" if cut["side"] in ("left", "right") else cut["side"]
        yield f"{pad['name']}: radius over {side}", Measure(None if radius is None else float(radius), "mm")
    if pad["sections"]:
        yield f"{pad['name']}: foam crushed", _percent(pad["foam_compression_max"])
        yield f"{pad['name']}: springs down", Measure(float(pad["spring_deflection_mm"]), "mm")
    for line in pad["tack_lines"]:
        yield f"tack line {pad['name']} {line['name']}", Measure(float(line["length_mm"]), "mm")


def _percent(fraction: float) -> Measure:
    return Measure(100.0 * float(fraction), "%")


def changes(before: Mapping[str, Measure], now: Mapping[str, Measure]) -> list[tuple[str, Measure, Measure]]:
    """What differs between two runs: name, before, now; what is there in one of them alone is unknown in the other."""
    unknown = Measure(None)
    names = dict.fromkeys((*before, *now))
    rows = [(name, before.get(name, unknown), now.get(name, unknown)) for name in names]
    return [row for row in rows if row[1].differs(row[2])]
