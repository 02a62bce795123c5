"""How fair the readings of a profile are: how far each lies off a cubic through its neighbours on both sides.

A slip in one reading shows in its own place most and in those beside it less. Lengths mm.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from meshes.base.arrays import FloatArray
from meshes.base.problems import KeyPath
from meshes.base.units import Unit, parse_length

# Readings of a form of wood, springs and padding lie off such a cubic by about so much (P).
FAIR_MM = 4.0
# So many neighbours on each side tell where a reading should lie.
_BESIDE = 2
# Where a height stands in the tables of a sheet.
_READING = ("pad", 0, "profile", 0, "points", 0, 1)


def unfairness(places: Sequence[float] | FloatArray, heights: Sequence[float] | FloatArray) -> float:
    """The sum of squares of how far heights lie off their neighbours' cubics, in shares of what is usual; 0 for fewer
    than five readings."""
    at, up = np.asarray(places, dtype=np.float64), np.asarray(heights, dtype=np.float64)
    if len(at) < 2 * _BESIDE + 1:
        return 0.0
    off = []
    # The first and the last reading have neighbours on one side only, and say little.
    for k in range(1, len(at) - 1):
        low = min(max(k - _BESIDE, 0), len(at) - 2 * _BESIDE - 1)
        near = [n for n in range(low, low + 2 * _BESIDE + 1) if n != k]
        share = [np.prod([(at[k] - at[m]) / (at[n] - at[m]) for m in near if m != n]) for n in near]
        # Of a reading by itself, not of the cubic, which carries on the errors of its neighbours.
        off.append((up[k] - float(np.dot(share, up[near]))) / np.sqrt(1.0 + float(np.dot(share, share))))
    return float(np.square(np.array(off) / FAIR_MM).sum())


def less_fair(tables: Mapping[str, Any], keys: KeyPath, by_mm: FloatArray) -> FloatArray:
    """By how much less fair the profile that a reading at keys belongs to becomes when it is changed by so much (k,),
    below 0 where it becomes fairer; 0 for any other number."""
    if len(keys) < len(_READING) or keys[2] != "profile":
        return np.zeros(len(by_mm))
    unit: Unit = "in" if tables.get("unit") == "in" else "mm"
    points = tables["pad"][keys[1]]["profile"][keys[3]]["points"]
    try:
        read = np.array([[parse_length(value, unit=unit) for value in point[:2]] for point in points])
    except ValueError:
        return np.zeros(len(by_mm))
    row = np.arange(len(read)) == keys[5]
    here = unfairness(read[:, 0], read[:, 1])
    return np.array([unfairness(read[:, 0], read[:, 1] + by * row) - here for by in by_mm])
