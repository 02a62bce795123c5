"""Lines of equal value and strokes of mean direction on the triangles of a flat piece.

Contours are interpolated linearly along the edges, from area-weighted means at the vertices; a stroke stands for the
area-weighted mean of the stretch tensor ln V around its place, never for a single triangle. Lengths mm.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import FloatArray, IntArray

# Shares of the budget at which a piece has a line: half used, near the limit, the limit itself.
USE_BANDS = (0.5, 0.8, 1.0)
# Lines shorter than this are specks that say nothing to a trimmer.
SHORT_MM = 60.0
# Points of a line nearer to each other than this are one.
SAME_POINT_MM = 1e-6


@dataclass(frozen=True, eq=False)
class Strokes:
    """at (k, 2) mm; along (k, 2): unit direction of the larger mean stretch; size (k,): ln of that stretch."""

    at: FloatArray
    along: FloatArray
    size: FloatArray


def areas_of(points: FloatArray, triangles: IntArray) -> FloatArray:
    """Areas (m,) mm2 of triangles in the plane, whichever way round."""
    a, b, c = points[triangles].swapaxes(0, 1)
    return np.asarray(0.5 * np.abs((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]))


def at_vertices(points: FloatArray, triangles: IntArray, values: FloatArray) -> FloatArray:
    """Values of triangles (m,) as area-weighted means at the vertices (n,)."""
    areas, corners = areas_of(points, triangles), triangles.ravel()
    weight = np.bincount(corners, np.repeat(areas, 3), len(points))
    total = np.bincount(corners, np.repeat(areas * values, 3), len(points))
    return np.asarray(total / np.where(weight > 0.0, weight, 1.0))


def contours(places: FloatArray, triangles: IntArray, values: FloatArray, level: float) -> tuple[FloatArray, ...]:
    """Lines (k, d) on which vertex values (n,) equal the level; places (n, d) in the plane or in space.

    A closed line ends on its first point; the others end on the rim.
    """
    links: dict[tuple[int, int], list[tuple[int, int]]] = {}
    over = values >= level
    for corners in triangles[(over[triangles].sum(axis=1) % 3) != 0].tolist():
        pairs = [(corners[k], corners[(k + 1) % 3]) for k in range(3)]
        a, b = [(min(pair), max(pair)) for pair in pairs if over[pair[0]] != over[pair[1]]]
        links.setdefault(a, []).append(b)
        links.setdefault(b, []).append(a)
    # Open lines first, from their ends, so that none is begun in its middle.
    starts = sorted(links, key=lambda edge: (len(links[edge]), edge))
    seen: set[tuple[int, int]] = set()
    return tuple(_crossings(places, values, level, _walk(links, s, seen)) for s in starts if s not in seen)


def longer_than(length_mm: float, lines: Sequence[FloatArray]) -> list[FloatArray]:
    """The lines (k, d) that are at least so long."""
    return [line for line in lines if float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum()) >= length_mm]


def _walk(
    links: dict[tuple[int, int], list[tuple[int, int]]], start: tuple[int, int], seen: set[tuple[int, int]]
) -> list[tuple[int, int]]:
    chain = [start]
    seen.add(start)
    while onward := [edge for edge in links[chain[-1]] if edge not in seen]:
        chain.append(onward[0])
        seen.add(onward[0])
    if len(chain) > 2 and start in links[chain[-1]]:
        chain.append(start)
    return chain


def _crossings(places: FloatArray, values: FloatArray, level: float, chain: Sequence[tuple[int, int]]) -> FloatArray:
    a, b = np.array(chain).T
    share = ((level - values[a]) / (values[b] - values[a]))[:, None]
    line = (1.0 - share) * places[a] + share * places[b]
    # Where the level is that of a vertex, all edges that meet there are crossed in it.
    again = np.linalg.norm(np.diff(line, axis=0), axis=1) <= SAME_POINT_MM
    return np.asarray(line[np.concatenate([[True], ~again])])


def strokes(
    points: FloatArray, triangles: IntArray, stretch: FloatArray, along: FloatArray, *, apart_mm: float
) -> Strokes:
    """One stroke to a square of side apart_mm, at the middle of the area the square holds.

    stretch (m, 2): principal stretches, larger first; along (m, 2): direction of the larger. Squares that hold less
    than a third of their area have none.
    """
    areas, middle = areas_of(points, triangles), points[triangles].mean(axis=1)
    _, group = np.unique(np.floor(middle / apart_mm).astype(int), axis=0, return_inverse=True)
    group = group.ravel()
    (x, y), (large, small) = along.T, np.log(stretch).T
    xx, xy, yy = large * x * x + small * y * y, (large - small) * x * y, large * y * y + small * x * x
    whole = np.bincount(group, areas)
    rows = (middle[:, 0], middle[:, 1], xx, xy, yy)
    mean = np.stack([np.bincount(group, areas * row) for row in rows]) / whole
    kept = mean[:, whole >= apart_mm**2 / 3.0]
    turn = 0.5 * np.arctan2(2.0 * kept[3], kept[2] - kept[4])
    size = 0.5 * (kept[2] + kept[4]) + np.hypot(0.5 * (kept[2] - kept[4]), kept[3])
    return Strokes(kept[:2].T, np.column_stack([np.cos(turn), np.sin(turn)]), size)
