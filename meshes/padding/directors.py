"""Directors that do not cross: over hollows they are taken from the support with its hollows bridged.

Normals of a hollow run together above it, just where a taut cover stands off and needs room. So the face is bridged
first, as a skin under it would be: raised towards its own mean and never below itself, by implicit steps of diffusion
(Desbrun, Meyer, Schroeder and Barr 1999, "Implicit fairing of irregular meshes"), until hollows wider than a hand are
closed. Where that raises the face, directors are normals of what it became; further away nothing changes.
"""

import numpy as np
from scipy import sparse

from meshes.base.arrays import BoolArray, FloatArray, IntArray
from meshes.base.surface import triangle_areas
from meshes.numerics.solver import Factor

# One step evens out over this distance, mm; so many of them reach over three times as far.
SMOOTHED_OVER_MM = 60.0
STEPS = 12
# Raised by less than this, a face is left as it is: profiles are read to half a millimetre.
RAISED_MM = 0.5


def bridged(
    points: FloatArray, directors: FloatArray, triangles: IntArray, *, face: BoolArray, mid: IntArray | None = None
) -> FloatArray:
    """Directors (n, 3) for a support that is a height field z over (x, y) on its face.

    points (n, 3) and directors (n, 3): of the support; face (n,): vertices that may be raised, the rest hold the face
    at its edge; mid: vertices of a half pad on its mirror plane x = 0, whose directors stay in that plane.
    """
    raised = points.copy()
    inner = np.flatnonzero(face)
    if not len(inner):
        return directors
    step = _Step(points[:, :2], triangles, inner)
    for _ in range(STEPS):
        raised[:, 2] = np.maximum(points[:, 2], step(raised[:, 2]))
    up = raised[:, 2] - points[:, 2]
    if up.max() < RAISED_MM:
        return directors
    # Once more without regard to the face: where the bridge meets it, it still has a bend.
    raised[:, 2] = step(raised[:, 2])
    normals = _normals(raised, triangles)
    if mid is not None:
        normals[mid, 0] = 0.0
    # The bridge's own shores belong to it, and from there its share runs out gently.
    share = np.clip(step(up) / (4.0 * RAISED_MM), 0.0, 1.0)[:, None]
    even = directors + share * (normals - directors)
    return np.where(share > 0, even / np.linalg.norm(even, axis=1, keepdims=True), directors)


class _Step:
    """One implicit step of diffusion of heights over the plan; heights off the face are held."""

    def __init__(self, plan: FloatArray, triangles: IntArray, inner: IntArray) -> None:
        a, b, c = (plan[triangles[:, k]] for k in range(3))
        opposite = np.stack([c - b, a - c, b - a], axis=1)
        # Below the edge triangles stand upright and have no area in plan; nothing there is moved.
        area = np.maximum(triangle_areas(plan, triangles), 1e-6)
        stiff = np.einsum("mij,mkj->mik", opposite, opposite) * (SMOOTHED_OVER_MM**2 / (4.0 * area))[:, None, None]
        rows, cols = np.repeat(triangles, 3, axis=1).ravel(), np.tile(triangles, (1, 3)).ravel()
        n = len(plan)
        flow = sparse.coo_matrix((stiff.ravel(), (rows, cols)), shape=(n, n)).tocsr()
        self.mass = np.asarray(np.bincount(triangles.ravel(), np.repeat(area / 3.0, 3), n), dtype=np.float64)
        self.inner, self.flow = inner, flow[inner]
        own = (self.flow[:, inner] + sparse.diags_array(self.mass[inner])).tocsc()
        self.solve = Factor(own).solve

    def __call__(self, heights: FloatArray) -> FloatArray:
        # Held heights go to the other side: the step is taken for the change, which is zero off the face.
        change = self.solve(-(self.flow @ heights))
        moved = heights.copy()
        moved[self.inner] += change
        return moved


def _normals(points: FloatArray, triangles: IntArray) -> FloatArray:
    a, b, c = (points[triangles[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    total = np.stack(
        [np.bincount(triangles.ravel(), np.repeat(normal[:, k], 3), len(points)) for k in range(3)], axis=1
    )
    return np.asarray(total / np.maximum(np.linalg.norm(total, axis=1, keepdims=True), 1e-300))
