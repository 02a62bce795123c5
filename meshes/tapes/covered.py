"""A tape over the cover of a built pad: where its plane meets the settled surface, pulled taut. Lengths mm."""

import numpy as np

from meshes.base.arrays import FloatArray
from meshes.base.surface import curve_length
from meshes.numerics.contours import contours
from meshes.seat.build import BuiltPad
from meshes.sheet.whole import Control
from meshes.tapes.course import taped_mm

# A tape is marked so finely.
_MARKED_MM = 1.0


def covered_length(pad: BuiltPad, control: Control, free: FloatArray) -> float | None:
    """Length of a tape over a pad's cover as one sees it, with the crests of its pleats; free (n, 3): the same tape
    over its padding with nothing on it, which says where it begins and ends. None where the plane misses the cover."""
    points, triangles = pad.shown.vertices, pad.shown.triangles
    lines = contours(points, triangles, points @ _normal(control, free), float(_normal(control, free) @ _middle(free)))
    if not lines:
        return None
    if control.way == "round":
        return taped_mm(max(lines, key=len), control)
    line = _fine(max(lines, key=curve_length))
    if np.linalg.norm(line[0] - free[0]) + np.linalg.norm(line[-1] - free[-1]) > np.linalg.norm(
        line[0] - free[-1]
    ) + np.linalg.norm(line[-1] - free[0]):
        line = line[::-1]
    first, last = (int(np.argmin(np.linalg.norm(line - at, axis=1))) for at in (free[0], free[-1]))
    line = line[first : last + 1]
    return taped_mm(line, control) if len(line) > 1 else None


def _fine(line: FloatArray) -> FloatArray:
    """The same line (k, 3) with places no further apart than a tape is marked, all its own kept."""
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    at = np.union1d(along, np.arange(0.0, along[-1], _MARKED_MM))
    return np.stack([np.interp(at, along, line[:, k]) for k in range(3)], axis=1)


def _middle(free: FloatArray) -> FloatArray:
    return np.asarray(free.mean(axis=0))


def _normal(control: Control, free: FloatArray) -> FloatArray:
    """Square to the plane that a tape lies in, (3,): an upright plane, or that of the loop of one that goes round."""
    if control.way == "along":
        return np.array([1.0, 0.0, 0.0])
    if control.way == "across":
        return np.array([0.0, 1.0, 0.0])
    if control.way == "between":
        x, y = free[-1, :2] - free[0, :2]
        return np.array([-y, x, 0.0]) / float(np.hypot(x, y))
    return np.asarray(np.linalg.svd(free - _middle(free), full_matrices=False)[2][2])
