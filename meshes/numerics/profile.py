"""Measured points along a profile become a fair curve, with the residual and the sensitivity stated.

A contour gauge reads to about half a millimetre, so the points are first moved by at most that much to take their
jitter out. Then a cubic spline runs through them, so that a crown read every 100 mm is as round between the readings as
at them. Its slopes are kept where the readings say more than it does: between the slopes of the chords on both sides,
so that a hollow or a crown never turns round between readings, and small beside a stretch that is flat, so that a board
which is flat up to a roll stays flat (the limits for monotone data of de Boor and Swartz 1977, "Piecewise monotone
interpolation"). Last a variation-diminishing cubic spline (Marsden and Schoenberg 1966) makes the curvature continuous;
it can add no ripple. What the three steps leave between curve and points is the residual.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import BSpline, CubicHermiteSpline, CubicSpline
from scipy.optimize import lsq_linear

from meshes.base.arrays import FloatArray, locked_floats

# What a contour gauge can be read to; points may move by this much to become fair.
GAUGE_READING_MM = 0.5
# Waves shorter than this are jitter of the readings, not the shape of a seat.
WAVE_MM = 40.0
# A chord is flat when it rises by less than an arc of this radius does over its width, and less than half a reading.
FLAT_RADIUS_MM = 20_000.0
# A curve ends no steeper than a parabola through its last three points, turned by so many times as much.
MOST_END_TURN = 2.0
# Knots of the smooth curve stand about this far apart: wide enough to fair, narrow enough to follow a seat.
FAIRING_REACH_MM = 8.0


@dataclass(frozen=True, eq=False)
class FairCurve:
    """Height over place along a profile. points (k, 2): place and height as measured, mm; residual: largest distance in
    height between curve and points, mm."""

    points: FloatArray
    spline: BSpline
    residual_mm: float

    def height(self, place: FloatArray) -> FloatArray:
        """Height at `place`, mm; beyond the measured ends the curve runs on straight."""
        low, high = self.points[0, 0], self.points[-1, 0]
        inner = np.clip(place, low, high)
        slope = self.spline.derivative()(inner)
        return np.asarray(self.spline(inner) + slope * (np.asarray(place) - inner), dtype=np.float64)


def fair_curve(points: Sequence[tuple[float, float]]) -> FairCurve:
    """Fair curve through measured (place, height) points, mm, with rising places, at least two of them."""
    measured = np.asarray(points, dtype=np.float64)
    places, heights = measured.T
    spline = _faired(places, heights)
    residual = float(np.abs(spline(places) - heights).max())
    return FairCurve(locked_floats(measured), spline, residual)


def _faired(places: FloatArray, heights: FloatArray) -> BSpline:
    return _variation_diminishing(places, _smoothed(places, heights))


def sensitivity(points: Sequence[tuple[float, float]]) -> float:
    """The largest movement of the curve in mm for one mm in one reading, from a change as small as a gauge reads."""
    places, heights = np.asarray(points, dtype=np.float64).T
    at = np.linspace(places[0], places[-1], 4 * len(places) + 1)
    here, moved = _faired(places, heights)(at), []
    for k in range(len(places)):
        other = heights.copy()
        other[k] += GAUGE_READING_MM
        moved.append(float(np.abs(_faired(places, other)(at) - here).max()) / GAUGE_READING_MM)
    return max(moved)


def left_out_mm(points: Sequence[tuple[float, float]]) -> float:
    """The largest distance in mm from an inner reading to the curve through all others; 0 with fewer than four.

    Far more than the reading of a gauge says that readings stand too far apart to know the shape between them.
    """
    places, heights = np.asarray(points, dtype=np.float64).T
    if len(places) < 4:
        return 0.0
    missed = []
    for k in range(1, len(places) - 1):
        rest = np.arange(len(places)) != k
        missed.append(abs(float(_faired(places[rest], heights[rest])(places[k]) - heights[k])))
    return max(missed)


def _smoothed(places: FloatArray, heights: FloatArray) -> FloatArray:
    """Heights moved by at most the reading error of a gauge: least squares plus the bending of the polygon.

    The weight of the bending halves a wave of WAVE_MM and leaves longer ones alone, so sparse points stay where they
    are and only the jitter of close readings goes (Whittaker 1923; Reinsch 1967 for the frequency response). The two
    end points stay where they were measured: they meet the edge of the frame.
    """
    if len(places) < 4:
        return heights
    step = np.diff(places)
    rows = np.zeros((len(places) - 2, len(places)))
    for k in range(len(places) - 2):
        a, b = step[k], step[k + 1]
        # Divided second difference, weighted by the root of the length it speaks for: the sum of squares is the
        # polygon's bending energy.
        rows[k, k : k + 3] = 2.0 / (a + b) * np.array([1 / a, -1 / a - 1 / b, 1 / b]) * np.sqrt(0.5 * (a + b))
    rows *= (WAVE_MM / (2 * np.pi)) ** 2 / np.sqrt(step.mean())
    system = np.concatenate([rows[:, 1:-1], np.eye(len(places) - 2)])
    wanted = np.concatenate([-rows @ heights, np.zeros(len(places) - 2)])
    moved = lsq_linear(system, wanted, bounds=(-GAUGE_READING_MM, GAUGE_READING_MM))
    return heights + np.concatenate([[0.0], moved.x, [0.0]])


def fair_slopes(places: FloatArray, values: FloatArray) -> FloatArray:
    """Slopes at rising `places` (k,), k at least 2, of a fair curve through each column of `values` (k, n): (k, n).

    Those of a cubic spline (ends not a knot), kept between the slopes of the chords on both sides, and at most three
    times the gentler one where both go one way; 0 beside a flat stretch. A chord over the crest of a crown, or the
    bottom of a hollow, limits nothing.
    """
    width = np.diff(places)[:, None]
    chord = np.diff(values, axis=0) / width
    if len(places) == 2:
        return np.repeat(chord, 2, axis=0)
    slope = CubicSpline(places, values, axis=0).derivative()(places)
    before, after = chord[:-1], chord[1:]
    level = np.abs(chord) * width < np.minimum(0.5 * GAUGE_READING_MM, width**2 / (2.0 * FLAT_RADIUS_MM))
    way = np.where(level, 0.0, np.sign(chord))
    # Between chords that go opposite ways lies a crest or the bottom of a hollow, however level the chord itself is.
    crest = np.zeros(chord.shape, dtype=bool)
    crest[1:-1] = way[:-2] * way[2:] < 0.0
    steepest = np.where(crest, np.inf, np.abs(chord))
    flat = level & ~crest
    inner = np.clip(slope[1:-1], np.minimum(before, after), np.maximum(before, after))
    most = np.where(before * after > 0.0, 3.0 * np.minimum(steepest[:-1], steepest[1:]), np.inf)
    slope[1:-1] = np.where(flat[:-1] | flat[1:], 0.0, np.clip(inner, -most, most))
    for end, last, inward in ((0, 0, 1), (-1, -1, -2)):
        turn = (chord[last] - chord[inward]) * width[last] / (width[last] + width[inward])
        reach = chord[last] + MOST_END_TURN * turn
        onward = np.clip(slope[end], np.minimum(chord[last], reach), np.maximum(chord[last], reach))
        # Where the last two chords go one way, so does the end.
        kept = np.clip(onward, np.minimum(0.0, 3.0 * chord[last]), np.maximum(0.0, 3.0 * chord[last]))
        slope[end] = np.where(chord[last] * chord[inward] > 0.0, kept, onward)
        slope[end] = np.where(flat[last], 0.0, slope[end])
    return np.asarray(slope, dtype=np.float64)


def _variation_diminishing(places: FloatArray, heights: FloatArray) -> BSpline:
    slopes = fair_slopes(places, heights[:, None])[:, 0]
    shape = CubicHermiteSpline(places, heights, slopes)
    length = places[-1] - places[0]
    count = max(int(np.ceil(length / FAIRING_REACH_MM)), 4)
    knots = np.concatenate(
        [np.full(3, places[0]), np.linspace(places[0], places[-1], count + 1), np.full(3, places[-1])]
    )
    greville = (knots[1:-3] + knots[2:-2] + knots[3:-1]) / 3.0
    return BSpline(knots, shape(greville), 3)


def blend_across(places: FloatArray, values: FloatArray, at: FloatArray) -> FloatArray:
    """Values known at rising `places` (k,), one row each of `values` (k, n), read off at `at` (n,).

    As round between the places as along a profile, straight beyond them: no ripple between measured profiles.
    """
    if len(places) == 1:
        return values[0].copy()
    inner = np.clip(at, places[0], places[-1])
    curve = CubicHermiteSpline(places, values, fair_slopes(places, values), axis=0)
    columns = np.arange(len(at))
    block = np.clip(np.searchsorted(places, inner, side="right") - 1, 0, len(places) - 2)
    t = inner - places[block]
    c = curve.c[:, block, columns]
    value = ((c[0] * t + c[1]) * t + c[2]) * t + c[3]
    slope = (3 * c[0] * t + 2 * c[1]) * t + c[2]
    return np.asarray(value + slope * (at - inner))
