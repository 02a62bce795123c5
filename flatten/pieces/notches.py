"""Where the notches of a seam stand: at equal shares of its length, the same on both pieces."""

import numpy as np

from flatten.pieces.piece import Edge, Mark, MarkKind
from meshes.base.arrays import FloatArray

# A counted notch nearer than this to a centre mark is left out: their slits would tear into one.
CLEAR_MM = 6.0


def stations(length_mm: float, spacing_mm: float) -> FloatArray:
    """Equal shares of a seam's length at which it is notched, between 0 and 1, ends left out.

    Both sides of a seam are notched at the same shares, so that ease is spread evenly. At least two notches, so that
    a doubled one is not in the middle; on seams under 60 mm one, under 30 mm none. Raises ValueError for a spacing of
    0 or less.
    """
    if spacing_mm <= 0.0:
        raise ValueError(f"notch spacing must be positive: found {spacing_mm:g} mm")
    if length_mm < 30.0:
        return np.zeros(0)
    parts = 2 if length_mm < 60.0 else max(3, round(length_mm / spacing_mm))
    return np.arange(1, parts) / parts


def counted(shares: FloatArray, centre: float | None) -> list[int]:
    """Number of every notch, by rising shares (k,) of a seam: from the centre mark outward to both ends, or from the
    end that the seam is counted from, where it does not cross the centre line."""
    if centre is None:
        return [k + 1 for k in range(len(shares))]
    left = int(np.count_nonzero(shares < centre))
    return [left - k if k < left else k - left + 1 for k in range(len(shares))]


def notch_marks(edge: Edge, shares: FloatArray, *, double: bool) -> tuple[Mark, ...]:
    """Notches at shares (k,) of an edge's length, counted from its first point."""
    kind = MarkKind.DOUBLE_NOTCH if double else MarkKind.NOTCH
    return tuple(
        Mark(kind, at, np.array([along[1], -along[0]]), edge.allowance_mm)
        for at, along in (_station(edge.points, float(share)) for share in shares)
    )


def _station(points: FloatArray, share: float) -> tuple[FloatArray, FloatArray]:
    """Point and unit direction at a share of a polyline's length."""
    steps = np.diff(points, axis=0)
    lengths = np.linalg.norm(steps, axis=1)
    ends = np.cumsum(lengths)
    place = share * ends[-1]
    k = min(int(np.searchsorted(ends, place)), len(steps) - 1)
    along = steps[k] / lengths[k]
    return points[k] + (place - ends[k] + lengths[k]) * along, along
