"""How a piece lies to the backbone of the hide: which way the seat's grain direction runs on it, and the best turn.

Leather gives more across the backbone than along it, so how a piece lies decides how much of the budget it uses. Where
a trimmer leaves the angle free within a window, it is chosen by trying every few degrees on the map that is there.
"""

import numpy as np

from flatten.leather.budget_use import use_of
from flatten.leather.stretch import Stretch
from meshes.base.arrays import FloatArray, IntArray
from meshes.base.surface import triangle_areas

STEP_DEG = 2.5


def carried(vertices: FloatArray, triangles: IntArray, points: FloatArray, grain: FloatArray) -> FloatArray:
    """Unit direction (2,) on the piece that a direction of the seat (3,) is carried to, in the mean over its area.

    vertices (n, 3), triangles (m, 3), points (n, 2).
    """
    t = triangles
    e = np.stack([vertices[t[:, 1]] - vertices[t[:, 0]], vertices[t[:, 2]] - vertices[t[:, 0]]], axis=1)
    f = np.stack([points[t[:, 1]] - points[t[:, 0]], points[t[:, 2]] - points[t[:, 0]]], axis=1)
    gram = np.einsum("mik,mjk->mij", e, e)
    parts = np.linalg.solve(gram, (e @ grain)[:, :, None])[:, :, 0]
    mean = np.average(np.einsum("mi,mik->mk", parts, f), axis=0, weights=triangle_areas(vertices, t))
    return np.asarray(mean / np.linalg.norm(mean))


def turned(direction: FloatArray, angle: float) -> FloatArray:
    """A direction (2,) turned counter-clockwise by an angle in rad."""
    c, s = np.cos(angle), np.sin(angle)
    return np.array([c * direction[0] - s * direction[1], s * direction[0] + c * direction[1]])


def upright(points: FloatArray, backbone: FloatArray) -> FloatArray:
    """The piece (n, 2) turned so that `backbone` (2,) runs up the paper, along +y."""
    x, y = backbone
    return np.asarray(points @ np.array([[y, x], [-x, y]]))


def chosen(
    field: Stretch, pull: float, middle: FloatArray, window_deg: float, limits: tuple[float, float]
) -> FloatArray:
    """The backbone's direction (2,) on the piece, within a window about `middle`, that uses the leather least.

    field: stretches of the map that is there; pull: ln of the least stretch, to which it is scaled first; window_deg:
    to either side; limits: ln of the most the leather may be stretched along and across the backbone. Of angles that
    use the same the one nearest the middle is taken.
    """
    if window_deg <= 0.0 or limits[0] == limits[1]:
        return middle
    count = int(np.ceil(window_deg / STEP_DEG))
    angles = np.deg2rad(window_deg) * np.arange(-count, count + 1) / count
    values = field.values * np.exp(pull) / field.values.min()
    uses = [use_of(values, field.along, turned(middle, angle), limits).values.max() for angle in angles]
    near = np.flatnonzero(np.array(uses) <= (1.0 + 1e-6) * min(uses))
    return turned(middle, float(angles[near[np.argmin(np.abs(angles[near]))]]))
