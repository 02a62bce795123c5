"""Meshes that many tests share: developable ones, caps, saddles, cushions, each at a chosen edge length.

All are discs, wound counter-clockwise seen from the outer side, in millimetres. Each function returns vertices (n, 3)
and triangles (m, 3).
"""

from collections.abc import Callable

import numpy as np
from scipy.spatial import Delaunay

from meshes.base.arrays import FloatArray, IntArray

Mesh = tuple[FloatArray, IntArray]


def grid(columns: int, rows: int) -> tuple[FloatArray, IntArray]:
    """The unit square as columns x rows cells, diagonals alternating: parameters (n, 2) and triangles."""
    u, v = np.meshgrid(np.linspace(0, 1, columns + 1), np.linspace(0, 1, rows + 1))
    i, j = (k.ravel() for k in np.meshgrid(np.arange(columns), np.arange(rows)))
    a = j * (columns + 1) + i
    b, c, d = a + 1, a + columns + 2, a + columns + 1
    even = ((i + j) % 2 == 0)[:, None]
    one = np.where(even, np.stack([a, b, c], 1), np.stack([a, b, d], 1))
    two = np.where(even, np.stack([a, c, d], 1), np.stack([b, c, d], 1))
    return np.stack([u.ravel(), v.ravel()], axis=1), np.concatenate([one, two])


def scattered(width: float, height: float, edge: float, *, seed: int = 1) -> tuple[FloatArray, IntArray]:
    """A rectangle with unstructured triangles: points on a shaken hexagonal lattice, even spacing on the rim."""
    rng = np.random.default_rng(seed)
    nx, ny = max(2, round(width / edge)), max(2, round(height / (edge * 0.866)))
    x, y = np.linspace(0, width, nx + 1), np.linspace(0, height, ny + 1)
    inner = []
    for j in range(1, ny):
        row = (np.arange(nx) + (0.25 if j % 2 else 0.75)) * width / nx
        inner.append(np.stack([row, np.full(nx, y[j])], axis=1))
    points = np.concatenate(inner)
    points = points + rng.uniform(-0.12, 0.12, points.shape) * edge
    points = np.clip(points, [0.2 * edge, 0.4 * edge], [width - 0.2 * edge, height - 0.4 * edge])
    rim = [np.stack([x, np.zeros_like(x)], 1), np.stack([x, np.full_like(x, height)], 1)]
    rim += [np.stack([np.zeros(ny - 1), y[1:-1]], 1), np.stack([np.full(ny - 1, width), y[1:-1]], 1)]
    return _delaunay(np.concatenate([points, *rim]))


def disc(rings: int) -> tuple[FloatArray, IntArray]:
    """The unit disc with 6 k points on ring k, near-equilateral triangles: points (n, 2) and triangles."""
    points = [np.zeros((1, 2))]
    for k in range(1, rings + 1):
        angle = 2 * np.pi * (np.arange(6 * k) + 0.5 * (k % 2)) / (6 * k)
        points.append(k / rings * np.stack([np.cos(angle), np.sin(angle)], axis=1))
    triangles = [np.array([[0, 1 + i, 1 + (i + 1) % 6] for i in range(6)])]
    for k in range(1, rings):
        inner, outer = 1 + 3 * k * (k - 1), 1 + 3 * k * (k + 1)
        triangles.append(_between(inner, 6 * k, 0.5 * (k % 2), outer, 6 * (k + 1), 0.5 * ((k + 1) % 2)))
    return np.concatenate(points), np.concatenate(triangles)


def _between(inner: int, few: int, early: float, outer: int, many: int, late: float) -> IntArray:
    """The strip between two rings, stitched by angle."""
    made, i, o = [], 0, 0
    while i < few or o < many:
        step_inner, step_outer = (i + 1 + early) / few, (o + 1 + late) / many
        a, b = inner + i % few, outer + o % many
        if o < many and (i == few or step_outer <= step_inner):
            made.append([a, b, outer + (o + 1) % many])
            o += 1
        else:
            made.append([a, b, inner + (i + 1) % few])
            i += 1
    return np.array(made)


def _delaunay(points: FloatArray) -> tuple[FloatArray, IntArray]:
    triangles = Delaunay(points).simplices.astype(np.int64)
    a, b, c = (points[triangles[:, k]] for k in range(3))
    area = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    triangles = np.where((area < 0)[:, None], triangles[:, [0, 2, 1]], triangles)
    return points, triangles[np.abs(area) > 1e-9 * np.abs(area).max()]


def cap(angle: float, *, rings: int, radius: float = 100.0) -> Mesh:
    """A spherical cap of angular radius `angle`, outer side up."""
    flat, triangles = disc(rings)
    r = np.linalg.norm(flat, axis=1)
    bend = angle * r
    across = flat / np.maximum(r, 1e-300)[:, None] * np.sin(bend)[:, None]
    return radius * np.column_stack([across, np.cos(bend)]), triangles


def cone(*, lower: float = 75.0, upper: float = 60.0, height: float = 120.0, cells: tuple[int, int] = (60, 12)) -> Mesh:
    """A frustum slit along one ruling, so that it is a disc; meshed along its rulings, outer side out."""
    uv, triangles = grid(*cells)
    angle, v = 2 * np.pi * uv[:, 0], uv[:, 1]
    radius = lower + (upper - lower) * v
    return np.column_stack([radius * np.cos(angle), radius * np.sin(angle), height * v]), triangles


def cylinder(
    *, radius: float = 80.0, turn: float = 2.0, height: float = 200.0, cells: tuple[int, int] = (30, 20)
) -> Mesh:
    """Part of a cylinder, `turn` radians of it, meshed along its rulings."""
    uv, triangles = grid(*cells)
    angle = turn * uv[:, 0]
    return np.column_stack([radius * np.cos(angle), radius * np.sin(angle), height * uv[:, 1]]), triangles


def loose_cylinder(
    edge: float, *, radius: float = 80.0, turn: float = 2.0, height: float = 160.0, seed: int = 1
) -> Mesh:
    """Part of a cylinder with unstructured triangles."""
    points, triangles = scattered(radius * turn, height, edge, seed=seed)
    angle = points[:, 0] / radius
    return np.column_stack([radius * np.cos(angle), radius * np.sin(angle), points[:, 1]]), triangles


def loose_cone(edge: float, *, inner: float = 200.0, outer: float = 320.0, sector: float = 1.4, seed: int = 1) -> Mesh:
    """Part of a cone with unstructured triangles: a flat sector wrapped to half its angle of turn about the axis."""
    points, triangles = scattered(sector * 0.5 * (inner + outer), outer - inner, edge, seed=seed)
    s, share = inner + points[:, 1], 0.5
    angle = points[:, 0] / (0.5 * (inner + outer)) / share
    # Seen from outside the parameters run clockwise as s grows inward-out, so the height falls with s.
    return np.column_stack(
        [share * s * np.cos(angle), share * s * np.sin(angle), -np.sqrt(1 - share**2) * s]
    ), triangles[:, ::-1].copy()


def graph(height: Callable[[FloatArray, FloatArray], FloatArray], *, width: float, depth: float, edge: float) -> Mesh:
    """The surface z = height(x, y) over a rectangle about the origin, unstructured, outer side up."""
    points, triangles = scattered(width, depth, edge)
    points = points - [0.5 * width, 0.5 * depth]
    return np.column_stack([points, height(points[:, 0], points[:, 1])]), triangles


def round_graph(height: Callable[[FloatArray, FloatArray], FloatArray], *, radius: float, rings: int) -> Mesh:
    """The surface z = height(x, y) over a disc about the origin, outer side up."""
    flat, triangles = disc(rings)
    points = radius * flat
    return np.column_stack([points, height(points[:, 0], points[:, 1])]), triangles


def saddle(*, rings: int = 20, radius: float = 150.0) -> Mesh:
    """z = (x^2 - y^2) / 400 over a disc."""
    return round_graph(lambda x, y: (x**2 - y**2) / 400.0, radius=radius, rings=rings)


def cushion(*, edge: float = 12.0) -> Mesh:
    """A domed cushion face that turns down towards its rim, 440 x 400, rise 50."""
    return graph(lambda x, y: 50.0 * (1 - (x / 260) ** 4) * (1 - (y / 240) ** 4), width=440, depth=400, edge=edge)


def free_form(*, edge: float = 12.0) -> Mesh:
    """A wavy surface with domes and hollows."""
    return graph(
        lambda x, y: 30 * np.sin(x / 55) * np.cos(y / 70) + 12 * np.sin((x + y) / 40), width=400, depth=360, edge=edge
    )


def torus_quarter(*, cells: tuple[int, int] = (40, 24), large: float = 200.0, small: float = 60.0) -> Mesh:
    """A quarter of a torus' outer half: a bolster bent round a corner."""
    uv, triangles = grid(*cells)
    round_, over = 0.5 * np.pi * uv[:, 0], np.pi * (uv[:, 1] - 0.5)
    reach = large + small * np.cos(over)
    return np.column_stack([reach * np.cos(round_), reach * np.sin(round_), small * np.sin(over)]), triangles


def curved_rectangle(width: float, depth: float, curvature: float, *, edge: float) -> Mesh:
    """A rectangle with small constant Gauss curvature (a shallow paraboloid, or saddle when negative)."""
    k = np.sqrt(abs(curvature))
    sign = np.sign(curvature)
    return graph(lambda x, y: -0.5 * k * (x**2 + sign * y**2), width=width, depth=depth, edge=edge)


def ramp(*, turns: float = 1.6, cells: tuple[int, int] = (160, 6)) -> Mesh:
    """A ramp winding round an axis more than once: its best flat shape laps over itself."""
    uv, triangles = grid(*cells)
    angle, radius = 2 * np.pi * turns * uv[:, 0], 100 + 60 * uv[:, 1]
    return np.column_stack([radius * np.cos(angle), radius * np.sin(angle), 15 * angle]), triangles[:, ::-1].copy()
