"""How padding gives way: compression curves from tables, and stacks of layers that are pressed in series.

A curve runs through the measured pressures without a ripple (piecewise cubic, monotone: Fritsch and Butland 1984, "A
method for constructing local monotone piecewise cubic interpolants"), starts at no pressure at no strain, and beyond
its last point stiffens towards full compression. No foam model is fitted: fitted models miss small strains by far.
Strain is the share of its thickness that a layer has lost, 0 to 1; pressures are kPa, lengths mm, energy per area
kPa mm (1 kPa mm = 0.001 N/mm).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from meshes.base.arrays import FloatArray, IntArray, locked_floats

# Cells of the finely drawn curve between two points of the table.
_CELLS = 48
# Leather, cloth and wood themselves give a little, most at the first touch: mm per kPa there, and how far in all, mm.
# It keeps bare places solvable, and moves a cover that presses with 5 kPa by less than 0.1 mm.
SKIN_MM_PER_KPA, SKIN_MM = 0.02, 0.5
# However hard they are pressed already, mm per kPa.
LEAST_GIVE_MM_PER_KPA = 1e-3
# A pressure is found when the layers add up to the compression within this, mm.
_FOUND_MM = 1e-11
_MOST_ROUNDS = 200


class CurveValues(NamedTuple):
    """A curve at some pressures, arrays of their shape: strain, its compliance (1/kPa: how strain grows with pressure)
    and its complementary energy per volume (kPa: the integral of strain over pressure)."""

    strain: FloatArray
    compliance: FloatArray
    complementary: FloatArray


@dataclass(frozen=True, eq=False)
class Curve:
    """Strain over pressure, finely tabulated with slopes. pressure_kpa, strain, compliance (k,): rising nodes and
    strain per kPa there; complementary (k,): complementary energy per volume up to each node, kPa."""

    pressure_kpa: FloatArray
    strain: FloatArray
    compliance: FloatArray
    complementary: FloatArray

    def at(self, pressure_kpa: FloatArray) -> CurveValues:
        """The curve at pressures of any shape, never negative."""
        nodes = self.pressure_kpa
        cell = np.clip(np.searchsorted(nodes, pressure_kpa, side="right") - 1, 0, len(nodes) - 2)
        width = nodes[cell + 1] - nodes[cell]
        t = np.minimum((pressure_kpa - nodes[cell]) / width, 1.0)
        e, m, n = self.strain[cell], self.compliance[cell] * width, self.compliance[cell + 1] * width
        rise = self.strain[cell + 1] - e
        two, three = 3.0 * rise - 2.0 * m - n, m + n - 2.0 * rise
        strain = e + t * (m + t * (two + t * three))
        compliance = (m + t * (2.0 * two + t * 3.0 * three)) / width
        complementary = self.complementary[cell] + width * t * (e + t * (m / 2 + t * (two / 3 + t * three / 4)))
        beyond = pressure_kpa > nodes[-1]
        if beyond.any():
            strain, compliance, complementary = strain.copy(), compliance.copy(), complementary.copy()
            strain[beyond], compliance[beyond], complementary[beyond] = self._beyond(pressure_kpa[beyond])
        return CurveValues(strain, compliance, complementary)

    def _beyond(self, pressure_kpa: FloatArray) -> CurveValues:
        """Past the table the pressure grows as x / (1 - x), x being the share of what was left to compress."""
        room = 1.0 - self.strain[-1]
        scale = room / self.compliance[-1]
        more = pressure_kpa - self.pressure_kpa[-1]
        q = more / scale
        strain = self.strain[-1] + room * q / (1.0 + q)
        complementary = self.complementary[-1] + self.strain[-1] * more + room * scale * (q - np.log1p(q))
        return CurveValues(strain, self.compliance[-1] / (1.0 + q) ** 2, complementary)

    def pressure(self, strain: FloatArray) -> FloatArray:
        """Pressure (kPa) at strains below 1: the curve read the other way round, by bisection."""
        wanted = np.asarray(strain, dtype=np.float64)
        low, high = np.zeros_like(wanted), np.full_like(wanted, self.pressure_kpa[-1])
        while (short := self.at(high)[0] < wanted).any():
            high = np.where(short, 2.0 * high, high)
        for _ in range(_MOST_ROUNDS):
            middle = 0.5 * (low + high)
            less = self.at(middle)[0] < wanted
            nearer = np.where(less, middle, low), np.where(less, high, middle)
            if np.array_equal(nearer[0], low) and np.array_equal(nearer[1], high):
                break
            low, high = nearer
        return 0.5 * (low + high)


class CurveError(Exception):
    """Points that no rising curve goes through."""


def curve(table: Sequence[tuple[float, float]]) -> Curve:
    """The curve through measured (strain, kPa) points, both rising.

    Raises CurveError when strain or pressure does not rise, or a strain is not between 0 and 1.
    """
    return _curve_through(tuple((float(e), float(p)) for e, p in table))


@lru_cache(maxsize=256)
def _curve_through(table: tuple[tuple[float, float], ...]) -> Curve:
    """The curve, drawn once: a search for padding cuts the same few materials open a thousand times."""
    rows = list(table)
    if not rows:
        raise CurveError("a curve needs at least one point")
    if rows[0] != (0.0, 0.0):
        rows = [(0.0, 0.0), *rows]
    for (e0, p0), (e1, p1) in pairwise(rows):
        if not e0 < e1 < 1.0:
            raise CurveError(f"strain must rise and stay below 1, found {e1:g} after {e0:g}")
        if not p0 < p1:
            raise CurveError(f"pressure must rise, found {p1:g} kPa after {p0:g} kPa")
    strain, pressure = np.array(rows).T
    return _tabulated(strain, pressure, _slopes(strain, pressure))


def linear(modulus_kpa: float) -> Curve:
    """A curve that is straight to half its thickness: pressure = modulus x strain."""
    return curve([(0.125 * k, 0.125 * k * modulus_kpa) for k in range(1, 5)])


def _slopes(strain: FloatArray, pressure: FloatArray) -> FloatArray:
    """Slopes (kPa) at the points: weighted harmonic means inside (Fritsch and Butland), one-sided at the ends.

    The slope at the start is kept positive, as a foam resists from the first touch; at the end it is at least that of
    the last stretch, so that the curve goes on stiffening.
    """
    h, d = np.diff(strain), np.diff(pressure) / np.diff(strain)
    slope = np.empty(len(strain))
    if len(d) == 1:
        slope[:] = d[0]
        return slope
    w0, w1 = 2.0 * h[1:] + h[:-1], h[1:] + 2.0 * h[:-1]
    slope[1:-1] = (w0 + w1) / (w0 / d[:-1] + w1 / d[1:])
    first = ((2.0 * h[0] + h[1]) * d[0] - h[0] * d[1]) / (h[0] + h[1])
    slope[0] = np.clip(first, 0.5 * d[0], 2.0 * d[0])
    last = ((2.0 * h[-1] + h[-2]) * d[-1] - h[-1] * d[-2]) / (h[-1] + h[-2])
    slope[-1] = np.clip(last, d[-1], 2.0 * d[-1])
    return slope


def _tabulated(strain: FloatArray, pressure: FloatArray, slope: FloatArray) -> Curve:
    """The curve turned to strain over pressure, on a fine grid with exact values and slopes."""
    t = np.arange(_CELLS) / _CELLS
    h, rise = np.diff(strain)[:, None], np.diff(pressure)[:, None]
    m, n = slope[:-1, None] * h, slope[1:, None] * h
    two, three = 3.0 * rise - 2.0 * m - n, m + n - 2.0 * rise
    p = pressure[:-1, None] + t * (m + t * (two + t * three))
    steep = (m + t * (2.0 * two + t * 3.0 * three)) / h
    e = strain[:-1, None] + t * h
    nodes = np.append(p.ravel(), pressure[-1])
    strains = np.append(e.ravel(), strain[-1])
    compliance = 1.0 / np.append(steep.ravel(), slope[-1])
    width = np.diff(nodes)
    # Integral of a cubic from its end values and slopes.
    part = width * (0.5 * (strains[1:] + strains[:-1]) + width * (compliance[:-1] - compliance[1:]) / 12.0)
    complementary = np.concatenate([[0.0], np.cumsum(part)])
    return Curve(*(locked_floats(row) for row in (nodes, strains, compliance, complementary)))


@dataclass(frozen=True, eq=False)
class Response:
    """What columns do when pressed: pressure (kPa), stiffness (kPa/mm: how the pressure grows with the compression),
    energy per area (kPa mm), each of shape (q,); zero where the cover does not touch."""

    pressure_kpa: FloatArray
    stiffness: FloatArray
    energy: FloatArray


class Compression(NamedTuple):
    """Columns at some pressures, each of shape (q,): compression (mm), compliance (mm/kPa: how it grows with pressure),
    complementary energy per area (kPa mm: the integral of compression over pressure)."""

    compressed_mm: FloatArray
    compliance: FloatArray
    complementary: FloatArray


@dataclass(frozen=True, eq=False)
class Columns:
    """Columns of padding, each a stack of layers over its springs, pressed in series.

    curves: one per layer; thickness_mm (layers, q); give_mm_per_kpa (q,): the springs under each column, 0 on board;
    preload_kpa (q,): pressure at which springs held down by twine begin to give; least_mm_per_kpa: what everything
    gives besides.
    """

    curves: tuple[Curve, ...]
    thickness_mm: FloatArray
    give_mm_per_kpa: FloatArray
    preload_kpa: FloatArray
    least_mm_per_kpa: float = LEAST_GIVE_MM_PER_KPA

    def free_mm(self) -> FloatArray:
        """Height of the columns before anything presses, shape (q,)."""
        return np.asarray(self.thickness_mm.sum(axis=0))

    def compression(self, pressure_kpa: FloatArray) -> Compression:
        """How far the columns are compressed at pressures (q,)."""
        over = np.maximum(pressure_kpa - self.preload_kpa, 0.0)
        total = self.least_mm_per_kpa * pressure_kpa + self.give_mm_per_kpa * over
        compliance = self.least_mm_per_kpa + np.where(over > 0, self.give_mm_per_kpa, 0.0)
        complementary = 0.5 * self.least_mm_per_kpa * pressure_kpa**2 + 0.5 * self.give_mm_per_kpa * over**2
        # The skin: x = a q / (1 + q), q being the pressure over a / (compliance at the touch).
        full = SKIN_MM / SKIN_MM_PER_KPA
        q = pressure_kpa / full
        total = total + SKIN_MM * q / (1.0 + q)
        compliance = compliance + SKIN_MM_PER_KPA / (1.0 + q) ** 2
        complementary = complementary + SKIN_MM * full * (q - np.log1p(q))
        for one, thickness in zip(self.curves, self.thickness_mm, strict=True):
            layer = one.at(pressure_kpa)
            total = total + thickness * layer.strain
            compliance = compliance + thickness * layer.compliance
            complementary = complementary + thickness * layer.complementary
        return Compression(total, compliance, complementary)

    def respond(self, pressed_mm: FloatArray, start_kpa: FloatArray | None = None) -> Response:
        """Response to a compression (q,); negative where the cover stands off. start_kpa: a first guess."""
        pressure = self._pressure(np.maximum(pressed_mm, 0.0), start_kpa)
        there = self.compression(pressure)
        # At the very touch the column resists from the side of contact.
        touching = pressed_mm >= -1e-9
        # As the Legendre transform, the most of p x less the complementary energy at p, the energy forgives what little
        # the pressure is still off.
        energy = pressure * np.maximum(pressed_mm, 0.0) - there.complementary
        return Response(pressure, np.where(touching, 1.0 / there.compliance, 0.0), np.where(touching, energy, 0.0))

    def _pressure(self, pressed_mm: FloatArray, start_kpa: FloatArray | None) -> FloatArray:
        """Pressure that gives this compression: Newton steps between bounds that close in, halved where they do not
        shorten (Brent's rule): on a curve that bends both ways they could go to and fro for ever."""
        low, high = np.zeros(len(pressed_mm)), np.maximum(pressed_mm, 0.0) / self.least_mm_per_kpa
        start = self._guess(pressed_mm) if start_kpa is None else start_kpa
        pressure = np.where(pressed_mm > 0, np.clip(start, 0.0, high), 0.0)
        moved = np.full((2, len(pressed_mm)), np.inf)
        open_ = np.flatnonzero(pressed_mm > 0)
        for _ in range(_MOST_ROUNDS):
            if not len(open_):
                break
            part, at = self._some(open_), pressure[open_]
            there = part.compression(at)
            gap = there.compressed_mm - pressed_mm[open_]
            low[open_] = np.where(gap < 0, at, low[open_])
            high[open_] = np.where(gap >= 0, at, high[open_])
            step = at - gap / there.compliance
            newton = (step > low[open_]) & (step < high[open_]) & (np.abs(step - at) <= 0.5 * moved[0, open_])
            halved = 0.5 * (low[open_] + high[open_])
            done = np.abs(gap) <= _FOUND_MM * np.maximum(pressed_mm[open_], 1.0)
            new = np.where(done, at, np.where(newton, step, halved))
            moved[:, open_] = np.stack([moved[1, open_], np.abs(new - at)])
            pressure[open_] = new
            open_ = open_[~done & (high[open_] - low[open_] > 1e-15 * high[open_])]
        return pressure

    def _guess(self, pressed_mm: FloatArray) -> FloatArray:
        """About the pressure that gives this compression: as if every layer lost the same share of its thickness, and
        gave further as it did so far."""
        strain = np.maximum(pressed_mm, 0.0) / np.maximum(self.free_mm(), _FOUND_MM)
        give = self.least_mm_per_kpa + SKIN_MM_PER_KPA + self.give_mm_per_kpa
        for one, thickness in zip(self.curves, self.thickness_mm, strict=True):
            alone = np.interp(strain, one.strain, one.pressure_kpa)
            give = give + thickness * np.divide(strain, alone, out=np.zeros(len(strain)), where=alone > 0.0)
        return np.asarray(pressed_mm / give)

    def _some(self, chosen: IntArray) -> "Columns":
        parts = (self.thickness_mm[:, chosen], self.give_mm_per_kpa[chosen], self.preload_kpa[chosen])
        return Columns(self.curves, *parts, self.least_mm_per_kpa)

    def strains(self, pressure_kpa: FloatArray) -> FloatArray:
        """Strain of every layer at a pressure, shape (q, layers)."""
        return np.array([one.at(pressure_kpa)[0] for one in self.curves]).T.reshape(len(pressure_kpa), -1)

    def spring_mm(self, pressure_kpa: FloatArray) -> FloatArray:
        """How far the springs go down below their held height at a pressure, shape (q,)."""
        return self.give_mm_per_kpa * np.maximum(pressure_kpa - self.preload_kpa, 0.0)
