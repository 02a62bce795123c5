"""Panels drawn at random to catch a floor that is not true: domes, saddles, bumps, noise, creases and cones over
outlines that are round, long, narrow in the middle, hooked or ragged, meshed evenly or badly. A seed always gives the
same panel.
"""

from collections.abc import Callable

import numpy as np

from meshes.base.arrays import FloatArray, IntArray
from tests.shapes import Mesh, disc, scattered

Cells = set[tuple[int, int]]


def squares(cells: Cells, *, fine: int = 3) -> tuple[FloatArray, IntArray]:
    """Unit squares at `cells`, each cut in 2 fine^2 triangles: points (n, 2) and triangles."""
    number: dict[tuple[int, int], int] = {}
    triangles: list[list[int]] = []

    def at(x: int, y: int) -> int:
        return number.setdefault((x, y), len(number))

    for cx, cy in sorted(cells):
        for i in range(fine):
            for j in range(fine):
                x, y = cx * fine + i, cy * fine + j
                a, b, c, d = at(x, y), at(x + 1, y), at(x + 1, y + 1), at(x, y + 1)
                triangles += [[a, b, c], [a, c, d]] if (x + y) % 2 else [[a, b, d], [b, c, d]]
    return np.array(list(number), dtype=float) / fine, np.array(triangles)


def grown(rng: np.random.Generator, count: int) -> Cells:
    """Cells of a shape without holes that grew at random, often by long arms."""
    cells, tip = {(0, 0)}, (0, 0)
    for _ in range(40 * count):
        if len(cells) == count:
            break
        x, y = tip if rng.random() < 0.7 else sorted(cells)[rng.integers(len(cells))]
        dx, dy = ((1, 0), (-1, 0), (0, 1), (0, -1))[rng.integers(4)]
        there = (x + dx, y + dy)
        around = {(there[0] + i, there[1] + j) for i in (-1, 0, 1) for j in (-1, 0, 1) if (i, j) != (0, 0)}
        # It may touch the cell it grows from and that one's neighbours beside, so no two arms ever meet.
        if there not in cells and around & cells <= {(x, y), (x + dy, y + dx), (x - dy, y - dx)}:
            cells.add(there)
            tip = there
    return cells


def outline(rng: np.random.Generator) -> tuple[FloatArray, IntArray]:
    """A flat panel about the origin, about 2 across: points (n, 2) and triangles."""
    kind = rng.integers(5)
    if kind == 0:
        points, triangles = scattered(2.0, 2.0 / rng.uniform(1, 5), rng.uniform(0.1, 0.2), seed=int(rng.integers(99)))
    elif kind == 1:
        points, triangles = disc(int(rng.integers(5, 9)))
        points = points * [1.0, rng.uniform(0.25, 1.0)]
    elif kind == 2:
        # Lobes and bays.
        points, triangles = disc(int(rng.integers(6, 9)))
        angle = np.arctan2(points[:, 1], points[:, 0])
        points = points * (1 + rng.uniform(0, 0.5) * np.cos(rng.integers(2, 5) * angle + rng.uniform(0, 6)))[:, None]
    elif kind == 3:
        # A waist.
        points, triangles = scattered(2.0, 1.0, rng.uniform(0.1, 0.18), seed=int(rng.integers(99)))
        points = points - [1.0, 0.5]
        points = points * np.column_stack(
            [np.ones(len(points)), 1 - rng.uniform(0.2, 0.85) * np.exp(-9 * points[:, 0] ** 2)]
        )
    else:
        points, triangles = squares(grown(rng, int(rng.integers(3, 12))))
        points = points / np.ptp(points, axis=0).max() * 2
    return points - points.mean(axis=0), triangles


def _dome(rng: np.random.Generator) -> Callable[[FloatArray, FloatArray], FloatArray]:
    a, b = rng.uniform(0.05, 0.6, 2)
    return lambda x, y: -a * x**2 - b * y**2


def _saddle(rng: np.random.Generator) -> Callable[[FloatArray, FloatArray], FloatArray]:
    a, b = rng.uniform(0.05, 0.4, 2)
    return lambda x, y: a * x**2 - b * y**2


def _bumps(rng: np.random.Generator) -> Callable[[FloatArray, FloatArray], FloatArray]:
    a, k, s = rng.uniform(0.02, 0.15), rng.uniform(1, 5, 2), rng.uniform(0, 6, 2)
    return lambda x, y: a * np.sin(k[0] * x + s[0]) * np.sin(k[1] * y + s[1])


def _cone(rng: np.random.Generator) -> Callable[[FloatArray, FloatArray], FloatArray]:
    a, c, waves = rng.uniform(0.05, 0.4), rng.uniform(-0.3, 0.3, 2), int(rng.integers(0, 4))

    def height(x: FloatArray, y: FloatArray) -> FloatArray:
        return np.asarray(-a * np.hypot(x - c[0], y - c[1]) * np.cos(waves * np.arctan2(y - c[1], x - c[0])))

    return height


def _crease(rng: np.random.Generator) -> Callable[[FloatArray, FloatArray], FloatArray]:
    a, t, c = rng.uniform(0.1, 0.6), rng.uniform(0, 6), rng.uniform(-0.2, 0.2)
    return lambda x, y: -a * np.abs(x * np.cos(t) + y * np.sin(t) - c)


def _turned_down(rng: np.random.Generator) -> Callable[[FloatArray, FloatArray], FloatArray]:
    a, b = rng.uniform(0.05, 0.35, 2)
    return lambda x, y: -a * x**4 - b * y**4


def odd_panel(seed: int) -> Mesh:
    """A panel about 200 mm across, outer side up."""
    rng = np.random.default_rng(seed)
    points, triangles = outline(rng)
    x, y = points.T
    height = np.zeros(len(x))
    forms = (_dome, _saddle, _bumps, _cone, _crease, _turned_down)
    for form in rng.choice(len(forms), size=rng.integers(1, 3), replace=False):
        height = height + forms[form](rng)(x, y)
    place = np.column_stack([x, y, height])
    if rng.random() < 0.3:
        place = place + rng.normal(0, rng.uniform(0.001, 0.01), place.shape)
    if rng.random() < 0.2:
        # Triangles drawn out, on a surface that keeps its kind.
        place = place * [1.0, rng.uniform(0.3, 1.0), 1.0]
    return 100.0 * place, triangles
