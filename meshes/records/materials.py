"""Padding materials: density and how hard they push back when pressed to 25, 40 and 65 % less thickness.

Every number carries where it comes from. A: standard, law, handbook or paper. B: trade page or old manual. C:
derived from A or B. M: from memory. P: common practice without a source. Numbers marked M or P are defaults
that a shop should replace by its own in the sheet ([material.NAME]); they are never facts. Pressures are kPa
(1 kPa = 1000 N/m2).
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from meshes.base.frozen_map import FrozenMap
from meshes.base.units import MM_PER_INCH, SNAP_MM, Unit
from meshes.records.compression import curve

# Strains at which compression is stated, the usual three of foam data sheets (ISO 3386, ASTM D3574: 25, 40,
# 65 %).
STRAINS = (0.25, 0.40, 0.65)
# A generic foam: strain and kPa. Its start serves foams of which no small strain was measured, scaled through the first
# that was.
GENERIC_SOURCE = (
    "start A and C: two-term fit of Silber and Then, Preventive Biomechanics, table 4.3, scaled to the pressure at "
)
_GENERIC = ((0.05, 0.403), (0.10, 0.562), (0.25, 0.744), (0.40, 0.934), (0.65, 1.613))
# Two strains that differ by less are one.
_SAME_STRAIN = 1e-9
# Foam pressed down by more than this share of its thickness is too thin or too soft there (common practice, no source).
CRUSH_LIMIT = 0.5
# Thicknesses that differ by less are one: rounding of the arithmetic.
_SAME_SHEET_MM = 1e-6


@dataclass(frozen=True)
class Material:
    """One padding material.

    compression_kpa: pressure at 25, 40 and 65 % compression, rising; thickness_mm: the thickness it is
    usually sold in, None where there is none; source: where the numbers come from, with their codes;
    editable: some number is a default only (M or P); compression: a full table of (strain, kPa) instead of the three;
    foam: it must not be crushed too far, where stuffing is meant to give; stock_mm: thicknesses of the sheets the shop
    has of it, rising; none where the shop names none.
    """

    name: str
    density_kg_m3: float
    compression_kpa: tuple[float, float, float]
    thickness_mm: float | None = None
    source: str = ""
    editable: bool = False
    compression: tuple[tuple[float, float], ...] = ()
    foam: bool = False
    stock_mm: tuple[float, ...] = ()

    @property
    def sheets_mm(self) -> tuple[float, ...]:
        """Thicknesses it comes in, rising: the shop's own sheets, else the usual one; none where there is none."""
        return self.stock_mm or ((self.thickness_mm,) if self.thickness_mm else ())

    @property
    def table(self) -> tuple[tuple[float, float], ...]:
        """Rising (strain, kPa) points of the compression curve, without the one at rest.

        Foam stated at the usual three strains only, or by a table that begins no sooner, starts as foam does: at the
        first touch it resists far more than a straight line to its first point has it, so the generic curve's start
        goes before that point, scaled through it.
        """
        return (*self._start, *self._stated)

    @property
    def curve_source(self) -> str:
        """Where the curve between and before the stated points comes from; empty for one stated in full."""
        if self._start:
            return f"{GENERIC_SOURCE}{100.0 * self._stated[0][0]:g} %"
        return "" if self.compression else "P: a fair curve from rest through the stated points"

    @property
    def _stated(self) -> tuple[tuple[float, float], ...]:
        return self.compression or tuple(zip(STRAINS, self.compression_kpa, strict=True))

    @property
    def _start(self) -> tuple[tuple[float, float], ...]:
        """Points of the generic curve before the first one stated; none for what is no foam, or begins as soon."""
        return _first_touch(self._stated[0]) if self.foam else ()

    def laid_up(self, thickness_mm: float) -> tuple[float, ...]:
        """The sheets that lie on each other for a thickness, thickest first; none where it comes in no thickness.

        As few as will do, and of those the ones of which the least has to be split off.
        """
        if not self.sheets_mm:
            return ()
        thickest = self.sheets_mm[-1]
        count = max(math.ceil(thickness_mm / thickest - 1e-9), 1)
        # By what they add up to, told apart as finely as a tool can mark; only what can still become thick enough.
        ways: dict[int, tuple[float, ...]] = {0: ()}
        for left in reversed(range(count)):
            longer = [(*way, mm) for way in ways.values() for mm in self.sheets_mm[::-1]]
            enough = [way for way in longer if sum(way) + left * thickest >= thickness_mm - _SAME_SHEET_MM]
            ways = {round(sum(way) / SNAP_MM): way for way in reversed(enough)}
        return tuple(sorted(min(ways.values(), key=sum), reverse=True))

    def next_thinner(self, thickness_mm: float) -> float:
        """The next thinner layer of whole sheets, no more of them than now: one sheet changed for a thinner one or left
        out, and laid up of the fewest that will do for that; 0 where nothing is left."""
        now = self.laid_up(thickness_mm)
        less = [sum(now) - one + other for one in now for other in (0.0, *self.sheets_mm) if other < one]
        whole = {sum(self.laid_up(mm)) for mm in (*less, *self.sheets_mm) if mm > 0.0}
        return max((mm for mm in whole if mm < thickness_mm - _SAME_SHEET_MM), default=0.0)


@lru_cache(maxsize=256)
def _first_touch(first: tuple[float, float]) -> tuple[tuple[float, float], ...]:
    """Points (strain, kPa) of the generic curve before a point (strain, kPa), scaled through it."""
    strain, kpa = first
    before = [(e, p) for e, p in _GENERIC if e < strain - _SAME_STRAIN]
    if not before:
        return ()
    scale = kpa / float(curve(_GENERIC).pressure(np.array([strain]))[0])
    return tuple((e, scale * p) for e, p in before)


# Ratio of the pressures at 25 and 65 % to that at 40 % in ordinary polyurethane foam (M).
_RATIO_25, _RATIO_65 = 0.75, 2.4


def _foam(name: str, kpa_at_40: float, density_kg_m3: float, density_source: str) -> Material:
    curve = (_RATIO_25 * kpa_at_40, kpa_at_40, _RATIO_65 * kpa_at_40)
    source = f"density {density_source}; compression M: {kpa_at_40:g} kPa at 40 %, generic ratio 0.75 : 1 : 2.4"
    return Material(name, density_kg_m3, curve, 25.0, source, editable=True, foam=True)


def _stuffing(
    name: str, density_kg_m3: float, curve_kpa: tuple[float, float, float], thickness_mm: float | None
) -> Material:
    return Material(name, density_kg_m3, curve_kpa, thickness_mm, "all numbers P: measure your own", editable=True)


_TABLE = (
    _foam("foam_soft", 2.0, 29.0, "B: seat foam from 29 kg/m3"),
    _foam("foam_medium", 3.75, 35.0, "P"),
    _foam("foam_firm", 6.0, 40.0, "P"),
    Material(
        "foam_very_soft",
        29.0,
        (0.744, 0.934, 1.613),
        25.0,
        "density P; compression A and C: two-term fit of Silber and Then, Preventive Biomechanics, table 4.3",
        editable=True,
        compression=_GENERIC,
        foam=True,
    ),
    _stuffing("cotton_batting", 45.0, (1.0, 3.0, 15.0), 25.0),
    _stuffing("wadding", 12.0, (0.1, 0.3, 1.5), 15.0),
    _stuffing("hair", 50.0, (1.5, 3.5, 14.0), 25.0),
    _stuffing("rubberised_hair", 60.0, (3.0, 6.0, 20.0), 25.0),
    _stuffing("felt", 120.0, (10.0, 30.0, 150.0), 10.0),
    _stuffing("hessian", 350.0, (60.0, 150.0, 500.0), 1.0),
)

BUILT_IN: Mapping[str, Material] = FrozenMap({material.name: material for material in _TABLE})
# Where a shop works in inches sheets come in whole eighths of one (common practice, no source); cloth stays as thin.
_EIGHTH_MM = float(MM_PER_INCH / 8)


def built_in(unit: Unit) -> Mapping[str, Material]:
    """The built-in materials, in sheets as they are sold where a shop works in this unit."""
    if unit == "mm":
        return BUILT_IN
    return FrozenMap({name: replace(one, thickness_mm=_in_eighths(one.thickness_mm)) for name, one in BUILT_IN.items()})


def _in_eighths(thickness_mm: float | None) -> float | None:
    if thickness_mm is None or thickness_mm < _EIGHTH_MM:
        return thickness_mm
    return round(thickness_mm / _EIGHTH_MM) * _EIGHTH_MM
