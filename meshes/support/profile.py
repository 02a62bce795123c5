"""Measured points along a profile become a fair curve, with the residual stated.

A contour gauge reads to about half a millimetre, so the points are first moved by at most that much to take their
jitter out; then a shape-preserving curve (Fritsch and Butland 1984, monotone piecewise cubic) runs through them,
and a variation-diminishing cubic spline (Marsden and Schoenberg 1966) makes its curvature continuous. Neither step can
add a ripple that the points do not show. What the three steps leave between curve and points is the residual.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import BSpline, PchipInterpolator
from scipy.optimize import lsq_linear

from meshes.base.arrays import FloatArray, locked_floats

# What a contour gauge can be read to; points may move by this much to become fair.
GAUGE_READING_MM = 0.5
# Waves shorter than this are jitter of the readings, not the shape of a seat.
WAVE_MM = 40.0
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
    places = measured[:, 0]
    heights = _smoothed(places, measured[:, 1])
    spline = _variation_diminishing(places, heights)
    residual = float(np.abs(spline(places) - measured[:, 1]).max())
    return FairCurve(locked_floats(measured), spline, residual)


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


def _variation_diminishing(places: FloatArray, heights: FloatArray) -> BSpline:
    shape = PchipInterpolator(places, heights)
    length = places[-1] - places[0]
    count = max(int(np.ceil(length / FAIRING_REACH_MM)), 4)
    knots = np.concatenate(
        [np.full(3, places[0]), np.linspace(places[0], places[-1], count + 1), np.full(3, places[-1])]
    )
    greville = (knots[1:-3] + knots[2:-2] + knots[3:-1]) / 3.0
    return BSpline(knots, shape(greville), 3)


def blend_across(places: FloatArray, values: FloatArray, at: FloatArray) -> FloatArray:
    """Values known at rising `places` (k,), one row each of `values` (k, n), read off at `at` (n,).

    Shape-preserving between the places, straight beyond them: no ripple between measured profiles.
    """
    if len(places) == 1:
        return values[0].copy()
    inner = np.clip(at, places[0], places[-1])
    if len(places) == 2:
        share = (at - places[0]) / (places[1] - places[0])
        return np.asarray(values[0] + share * (values[1] - values[0]))
    curve = PchipInterpolator(places, values, axis=0)
    columns = np.arange(len(at))
    block = np.minimum(np.searchsorted(places, inner, side="right") - 1, len(places) - 2)
    t = inner - places[block]
    c = curve.c[:, block, columns]
    value = ((c[0] * t + c[1]) * t + c[2]) * t + c[3]
    slope = (3 * c[0] * t + 2 * c[1]) * t + c[2]
    return np.asarray(value + slope * (at - inner))
