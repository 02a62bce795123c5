"""Oblong domes drawn at random, to hold the floor to panels that nothing was tuned on: caps of ellipsoids and of
superquadrics 1.5 to 4 times as long as wide, smooth or with the noise of a scan, finely and coarsely meshed, mirrored
and turned. A seed always gives the same panel.
"""

import numpy as np

from meshes.base.arrays import FloatArray, IntArray
from tests.shapes import Mesh, disc, scattered

KINDS = ("ellipsoid", "superquadric", "noisy", "square ended")


def oblong_dome(seed: int) -> tuple[str, Mesh]:
    """Its kind, and its mesh in mm."""
    rng = np.random.default_rng(seed)
    kind = KINDS[seed % len(KINDS)]
    ratio = float(rng.uniform(1.5, 4.0))
    if kind == "square ended":
        flat, triangles = scattered(2.0 * ratio, 2.0, 0.28, seed=int(rng.integers(99)))
        plan = (flat - [ratio, 1.0]) / [ratio, 1.0] * rng.uniform(0.45, 0.65)
    else:
        plan, triangles = disc(int(rng.integers(7, 10)))
        plan = plan * (rng.uniform(0.8, 0.9) if kind == "superquadric" else rng.uniform(0.55, 0.8))
    power = rng.uniform(2.2, 3.5) if kind == "superquadric" else 2.0
    x, y = plan.T
    height = (1.0 - np.abs(x) ** power - np.abs(y) ** power) ** (1.0 / power)
    wide = float(rng.uniform(60.0, 160.0))
    points = np.column_stack([ratio * wide * x, wide * y, rng.uniform(0.4, 1.1) * wide * height])
    if kind == "noisy":
        points[:, 2] += rng.normal(0.0, 0.004 * wide, len(points))
    return f"{kind} {ratio:.1f}:1", (points, triangles)


def mirrored(mesh: Mesh) -> Mesh:
    """The same panel seen in a mirror, facing outward."""
    points, triangles = mesh
    return points * [-1.0, 1.0, 1.0], np.asarray(triangles)[:, ::-1].copy()


def turned(mesh: Mesh, rng: np.random.Generator) -> Mesh:
    """The same panel turned in space, with its vertices and triangles numbered otherwise."""
    points, triangles = mesh
    axes, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    axes[:, 0] *= np.sign(np.linalg.det(axes))
    order = rng.permutation(len(points))
    number: IntArray = np.empty(len(points), dtype=np.int64)
    number[order] = np.arange(len(points))
    rows = np.asarray(triangles)[rng.permutation(len(triangles))]
    moved: FloatArray = points[order] @ axes.T + rng.normal(0.0, 500.0, 3)
    return moved, number[rows]
