"""Where the notches of a seam stand: at equal shares of its length, the same on both pieces."""

import numpy as np

from flatten.pieces.piece import SLITS_APART_MM, Edge, Mark, MarkKind
from meshes.base.arrays import FloatArray

# A counted notch nearer than this to a centre mark is left out: their slits would tear into one.
CLEAR_MM = SLITS_APART_MM


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
    """Notches at shares (k,) of an edge's length, counted from its first point.

    Square to the sew line over the width of a doubled notch, not to one of its segments: where the line bends, both
    slits of a doubled one stand on it, side by side.
    """
    return tuple(_notch(edge, float(share), double=double) for share in shares)


def _notch(edge: Edge, share: float, *, double: bool) -> Mark:
    lengths = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(edge.points, axis=0), axis=1))])
    places = share * lengths[-1] + 0.5 * SLITS_APART_MM * np.array([-1.0, 0.0, 1.0])
    before, at, after = np.column_stack([np.interp(places, lengths, edge.points[:, k]) for k in (0, 1)])
    along = (after - before) / np.linalg.norm(after - before)
    kind, spots = (MarkKind.DOUBLE_NOTCH, (before, after)) if double else (MarkKind.NOTCH, (at,))
    return Mark(kind, at, np.array([along[1], -along[0]]), edge.allowance_mm, spots=np.array(spots))
