"""Smooth steps between two values."""

import numpy as np

from meshes.base.arrays import FloatArray


def smooth_step(t: FloatArray) -> FloatArray:
    """Rises from 0 at t <= 0 to 1 at t >= 1 with continuous curvature (t^3 (10 - 15 t + 6 t^2))."""
    t = np.clip(t, 0.0, 1.0)
    return t * t * t * (10.0 - 15.0 * t + 6.0 * t * t)
