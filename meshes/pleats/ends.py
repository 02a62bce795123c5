"""Where a pleat ends that a rounded corner or a side running in cuts to a point. Lengths mm."""

import numpy as np

from meshes.base.arrays import FloatArray
from meshes.pleats.layout import OUTER_SHARE

# A filler strip narrower than this cannot be cut, sewn in or kept from curling: it ends square there (common practice,
# no source).
LEAST_END_MM = 20.0


def whole_run(at: FloatArray, width: FloatArray, middle: float) -> tuple[float, float]:
    """Between which places a pleat is wide enough to be filled, in one go around its middle.

    at (m,): rising places along it; width (m,): its finished width there; middle: a place between its ends. Wide enough
    are 20 mm, for pleats that are narrower all over two thirds of what they are in the middle.
    """
    least = min(LEAST_END_MM, OUTER_SHARE * float(np.interp(middle, at, width)))
    centre = int(np.argmin(np.abs(at - middle)))
    narrow = np.flatnonzero(width < least)
    before, after = narrow[narrow < centre], narrow[narrow > centre]
    low = _crossing(at, width, int(before[-1]), int(before[-1]) + 1, least) if len(before) else float(at[0])
    high = _crossing(at, width, int(after[0]) - 1, int(after[0]), least) if len(after) else float(at[-1])
    return low, high


def _crossing(at: FloatArray, width: FloatArray, i: int, j: int, least: float) -> float:
    """Between two neighbouring places the one at which the width is `least`."""
    share = (least - width[i]) / (width[j] - width[i])
    return float(at[i] + np.clip(share, 0.0, 1.0) * (at[j] - at[i]))
