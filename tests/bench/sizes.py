"""The five shapes of the benchmark at any size."""

import numpy as np

from meshes.base.arrays import FloatArray, IntArray
from tests import shapes

SHAPES = ("cap", "torus quarter", "saddle", "cushion", "free form")
SIZES = {"5k": 5_000, "20k": 20_000, "80k": 80_000, "320k": 320_000, "1000k": 1_000_000}


def mesh(shape: str, count: int) -> tuple[FloatArray, IntArray]:
    """Vertices (n, 3) mm and about `count` triangles (m, 3) of one of `SHAPES`."""
    rings = round(float(np.sqrt(count / 6)))
    # An even lattice of this edge has as many triangles on a square millimetre.
    edge = float(np.sqrt(4.0 / np.sqrt(3.0) / count))
    if shape == "cap":
        return shapes.cap(1.0, rings=rings)
    if shape == "saddle":
        return shapes.saddle(rings=rings)
    if shape == "torus quarter":
        along = round(float(np.sqrt(count / 2 / 0.6)))
        return shapes.torus_quarter(cells=(along, round(0.6 * along)))
    if shape == "cushion":
        return shapes.cushion(edge=edge * float(np.sqrt(440 * 400)))
    return shapes.free_form(edge=edge * float(np.sqrt(400 * 360)))
