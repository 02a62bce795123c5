"""A tape pulled taut: over a line of points it keeps to what stands out and bridges what is hollow, as a string would.

Laid over the top a tape turns one way only, so what turns back is left out point by point (the scan of Graham 1972, An
efficient algorithm for determining the convex hull, on a chain that is in order). Lengths mm.
"""

import numpy as np
from scipy.spatial import ConvexHull

from meshes.base.arrays import FloatArray
from meshes.base.surface import curve_length


def taut_over(points: FloatArray) -> FloatArray:
    """The points (m, 2) of a chain (k, 2), from left to right over the top, that a taut tape touches, and both ends."""
    kept: list[tuple[float, float]] = []
    for x, y in points.tolist():
        while len(kept) > 1 and _turns_back(kept[-2], kept[-1], (x, y)):
            kept.pop()
        kept.append((x, y))
    return np.array(kept)


def _turns_back(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> bool:
    return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0]) >= 0.0


def length_over(points: FloatArray) -> float:
    """Length of a taut tape over a chain (k, 2), mm."""
    return curve_length(taut_over(points))


def length_round(points: FloatArray) -> float:
    """Length of a tape pulled taut round a loop (k, 2 or 3), as seen from above: straight over its hollows."""
    corners = ConvexHull(points[:, :2]).vertices
    return curve_length(points[np.append(corners, corners[0])])
