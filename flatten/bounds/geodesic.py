"""Distances on the seat, each bounded from its safe side: above by a path, below by a function's slope or exactly.

- `MappedMesh.traced`: a straight line of the piece, traced on the seat, is a path; its length is an upper bound.
- `Slope`: a function u, linear in every triangle, rises along a path by no more than |grad u| times its length, so a
  path from one level to another is at least as long as their difference / the largest |grad u| between them.
- `around`, `from_first`: exact polyhedral distances (Mitchell, Mount, Papadimitriou, The discrete geodesic problem,
  1987), by the library pygeodesic, which drops windows narrower than a millionth of an edge: lengths are taken 1e-5
  shorter. `around` searches triangles near the source only: a path of length d never leaves the ball of radius d.
"""

from dataclasses import dataclass

import numpy as np
from pygeodesic.geodesic import PyGeodesicAlgorithmExact

from flatten.bounds.subdivision import cells_of, graded
from meshes.base.arrays import BoolArray, FloatArray, IntArray

CUT_SHORT = 1e-5
_SHORTER = 1.0 - CUT_SHORT
LONGER = 1.0 + 1e-9
# Levels between which slopes are bounded, and steps of the table that the function of a `Slope` is read from.
_BANDS = 240
_RAYS, _RINGS = 256, 160


@dataclass(frozen=True, eq=False)
class Crossings:
    """Where rays cross edges, by ray and then outwards, up to the rim: ray (k,), reach (k,) distance from the start on
    the piece, place (k, 3) on the seat, length (k,) mm of the way there on the seat.
    """

    ray: IntArray
    reach: FloatArray
    place: FloatArray
    length: FloatArray

    def ratios(self, count: int, radii: FloatArray) -> FloatArray:
        """Length on the seat / on the piece at distances `radii` on the piece along `count` rays, (count, r)."""
        out = np.ones((count, len(radii)))
        heads = np.searchsorted(self.ray, np.arange(count + 1))
        for k in range(count):
            x, y = self.reach[heads[k] : heads[k + 1]], self.length[heads[k] : heads[k + 1]]
            if len(x):
                inside = np.interp(radii, np.append(0.0, x), np.append(0.0, y)) / radii
                out[k] = np.where(radii < x[-1], inside, y[-1] / x[-1])
        return out


@dataclass(frozen=True, eq=False)
class Spots:
    """Points inside triangles: triangle (k,), shares (k, 3) of its corners, flat (k, 2) and place (k, 3)."""

    triangle: IntArray
    shares: FloatArray
    flat: FloatArray
    place: FloatArray

    def only(self, chosen: IntArray) -> "Spots":
        """Some of them, in the order of their numbers `chosen`."""
        return Spots(self.triangle[chosen], self.shares[chosen], self.flat[chosen], self.place[chosen])


class MappedMesh:
    """A mesh with a flat map of it, ready for tracing. vertices (n, 3), triangles (m, 3), points (n, 2)."""

    def __init__(self, vertices: FloatArray, triangles: IntArray, points: FloatArray) -> None:
        self.vertices, self.triangles, self.points = vertices, triangles, points
        sides = np.sort(np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]]), axis=1)
        keys, count = np.unique(sides[:, 0] * len(vertices) + sides[:, 1], return_counts=True)
        self.edges = np.stack([keys // len(vertices), keys % len(vertices)], axis=1)
        self.on_rim = count == 1
        self.rim = np.unique(self.edges[self.on_rim])
        lengths = np.linalg.norm(vertices[self.edges[:, 1]] - vertices[self.edges[:, 0]], axis=1)
        self.longest, self.usual = float(lengths.max()), float(np.median(lengths))

    def traced(self, start: int, angles: FloatArray) -> Crossings:
        """Rays from the vertex `start` in directions `angles` (k,), rising within one turn."""
        away = self.points - self.points[start]
        other = (self.edges != start).all(axis=1)
        edges, on_rim = self.edges[other], self.on_rim[other]
        bearing = np.arctan2(away[:, 1], away[:, 0])
        first = bearing[edges[:, 0]]
        turn = np.remainder(bearing[edges[:, 1]] - first + np.pi, 2 * np.pi) - np.pi
        low, high = np.minimum(first, first + turn), np.maximum(first, first + turn)
        whole = np.concatenate([angles - 2 * np.pi, angles, angles + 2 * np.pi])
        begin, end = np.searchsorted(whole, low, side="left"), np.searchsorted(whole, high, side="right")
        edge = np.repeat(np.arange(len(edges)), end - begin)
        nth = np.arange(len(edge)) - np.repeat(np.cumsum(end - begin) - (end - begin), end - begin)
        ray = (begin[edge] + nth) % len(angles)
        way = np.stack([np.cos(angles), np.sin(angles)], axis=1)[ray]
        p, q = away[edges[edge, 0]], away[edges[edge, 1]]
        side_p, side_q = (way[:, 0] * x[:, 1] - way[:, 1] * x[:, 0] for x in (p, q))
        gap = side_p - side_q
        share = np.clip(np.where(gap != 0, side_p / np.where(gap != 0, gap, 1.0), 0.0), 0.0, 1.0)[:, None]
        reach = (((1 - share) * p + share * q) * way).sum(axis=1)
        place = (1 - share) * self.vertices[edges[edge, 0]] + share * self.vertices[edges[edge, 1]]
        order = np.lexsort((reach, ray))
        return _walked(self.vertices[start], ray[order], reach[order], place[order], on_rim[edge][order])

    def spots(self, flat: FloatArray) -> Spots:
        """The spots at or next to points `flat` (k, 2) of the piece, kept off the sides of their triangles."""
        triangle, shares = located(self.points, self.triangles, flat)
        shares = np.clip(shares, 0.01, 1.0)
        shares /= shares.sum(axis=1, keepdims=True)
        corners = self.triangles[triangle]
        return Spots(
            triangle,
            shares,
            np.einsum("kc,kcx->kx", shares, self.points[corners]),
            np.einsum("kc,kcx->kx", shares, self.vertices[corners]),
        )

    def farthest(self, start: int, spots: Spots) -> FloatArray:
        """Lengths of the traced ways from a vertex to each spot, (k,), infinite where the line leaves the piece."""
        away = spots.flat - self.points[start]
        bearing, reach = np.arctan2(away[:, 1], away[:, 0]), np.linalg.norm(away, axis=1)
        order = np.argsort(bearing)
        found = self.traced(start, bearing[order])
        out = np.full(len(order), np.inf)
        for k, spot in enumerate(order):
            low, high = np.searchsorted(found.ray, [k, k + 1])
            near = low + int(np.searchsorted(found.reach[low:high], reach[spot] * (1 - 1e-12)))
            last, length = (
                (found.place[near - 1], found.length[near - 1]) if near > low else (self.vertices[start], 0.0)
            )
            if near < high:
                out[spot] = (length + float(np.linalg.norm(spots.place[spot] - last))) * LONGER
        return out


def _walked(start: FloatArray, ray: IntArray, reach: FloatArray, place: FloatArray, rim: BoolArray) -> Crossings:
    """Lengths along sorted crossings; those behind the first on the rim are left out."""
    if len(ray) == 0:
        return Crossings(ray, reach, place, reach)
    fresh = np.append(True, ray[1:] != ray[:-1])
    before = np.where(fresh[:, None], start, np.roll(place, 1, axis=0))
    run, passed = np.cumsum(np.linalg.norm(place - before, axis=1)), np.cumsum(rim)
    head = np.flatnonzero(fresh)
    counts = np.diff(np.append(head, len(ray)))
    length = run - np.repeat(np.where(head > 0, run[head - 1], 0.0), counts)
    outside = passed - rim - np.repeat(np.where(head > 0, passed[head - 1], 0), counts)
    inside = (outside == 0) & (reach > 0)
    return Crossings(ray[inside], reach[inside], place[inside], length[inside])


def located(points: FloatArray, triangles: IntArray, places: FloatArray) -> tuple[IntArray, FloatArray]:
    """The triangle (k,) that holds each of `places` (k, 2) or is nearest to it, and the shares (k, 3) of its corners;
    points (n, 2), triangles (m, 3)."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    u, v = b - a, c - a
    det = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    triangle, shares = np.empty(len(places), dtype=np.int64), np.empty((len(places), 3))
    for k, place in enumerate(places):
        d = place - a
        s = (d[:, 0] * v[:, 1] - d[:, 1] * v[:, 0]) / det
        t = (u[:, 0] * d[:, 1] - u[:, 1] * d[:, 0]) / det
        i = triangle[k] = np.argmax(np.minimum(np.minimum(s, t), 1 - s - t))
        shares[k] = 1 - s[i] - t[i], s[i], t[i]
    return triangle, shares


class Slope:
    """Lower bounds of distances from one vertex, from a function close to that distance.

    The function is linear in cells, which near the vertex are parts of the mesh's triangles; bound: at most the
    distance from the vertex to the rim.
    """

    def __init__(self, piece: MappedMesh, start: int) -> None:
        fine = graded(cells_of(piece.vertices, piece.triangles), piece.points, piece.points[start], partings=4)
        self._fine, self._values = fine, fine.joined(self._like_distance(piece, start, fine.points))
        corners = self._values[fine.cells.triangles]
        low, high = corners.min(axis=1), corners.max(axis=1)
        self.levels = np.linspace(0.0, float(self._values[piece.rim].min()), _BANDS + 1)
        unit = max(self.levels[1], 1e-300)
        begin = np.clip((low / unit).astype(np.int64), 0, _BANDS)
        end = np.clip(np.ceil(high / unit).astype(np.int64), 0, _BANDS)
        spans = np.maximum(end - begin, 0)
        band = np.arange(spans.sum()) - np.repeat(np.cumsum(spans) - spans - begin, spans)
        steepest = np.full(_BANDS, 1e-300)
        np.maximum.at(steepest, band, np.repeat(fine.cells.steepness(self._values), spans))
        self.least = np.concatenate([[0.0], np.cumsum(unit / steepest)]) / LONGER
        self.bound = float(self.least[-1])

    def at(self, places: FloatArray) -> FloatArray:
        """The function at places (k, 2) of the piece, (k,), read in the cells that hold them."""
        corners = self._fine.cells.triangles
        cell, shares = located(self._fine.points, corners, places)
        return np.einsum("kc,kc->k", shares, self._values[corners[cell]])

    def nearest(self, values: FloatArray) -> FloatArray:
        """Lower bounds of the distances of places where the function has these values."""
        return np.interp(values, self.levels, self.least)

    def _like_distance(self, piece: MappedMesh, start: int, points: FloatArray) -> FloatArray:
        """Lengths of the ways along rays, interpolated between them."""
        away = points - piece.points[start]
        reach = np.linalg.norm(away, axis=1)
        angles = 2 * np.pi * np.arange(_RAYS) / _RAYS - np.pi
        radii = reach.max() * (np.arange(_RINGS) + 1.0) / _RINGS
        table = piece.traced(start, angles).ratios(_RAYS, radii)
        x = (np.arctan2(away[:, 1], away[:, 0]) + np.pi) / (2 * np.pi) * _RAYS
        y = np.clip(reach / radii[0] - 1.0, 0.0, _RINGS - 1.000001)
        i, j = np.floor(x).astype(np.int64), np.floor(y).astype(np.int64)
        s, t = x - i, y - j
        i, k = i % _RAYS, (i + 1) % _RAYS
        low = (1 - s) * table[i, j] + s * table[k, j]
        high = (1 - s) * table[i, j + 1] + s * table[k, j + 1]
        return reach * ((1 - t) * low + t * high)


def around(piece: MappedMesh, spots: Spots, radius: float) -> FloatArray:
    """Lower bounds of the distances between spots, (k, k), each exact (but for the library's rounding) or `radius`.

    The spots lie in different triangles, whose parts about the spot are searched in their stead.
    """
    k, n = len(spots.place), len(piece.vertices)
    vertices, triangles = _parted(piece, spots)
    out = np.full((k, k), radius)
    for i in range(k):
        near = ((vertices - spots.place[i]) ** 2).sum(axis=1) < (1.01 * radius) ** 2
        # A triangle without a corner in the ball can still reach into it: take all within an edge's length more.
        near |= ((vertices - spots.place[i]) ** 2).sum(axis=1) < (radius + piece.longest) ** 2
        used = triangles[near[triangles].any(axis=1)]
        kept, local = np.unique(used, return_inverse=True)
        here = np.flatnonzero(kept >= n)
        exact = PyGeodesicAlgorithmExact(vertices[kept], local.reshape(-1, 3))
        source = np.searchsorted(kept, n + i)
        found, _ = exact.geodesicDistances(np.array([source]), here, 1.05 * radius)
        out[i, kept[here] - n] = np.minimum(found * _SHORTER, radius)
    return np.minimum(out, out.T)


def from_first(piece: MappedMesh, spots: Spots) -> FloatArray:
    """Distances (k,) from the first spot to each within the panel, never above the true ones and at most a share
    `CUT_SHORT` below them; infinite where there is no way. The spots lie in different triangles.
    """
    k, n = len(spots.place), len(piece.vertices)
    if len(np.unique(spots.triangle)) < k:
        raise ValueError("two spots share a triangle")
    exact = PyGeodesicAlgorithmExact(*_parted(piece, spots))
    found, _ = exact.geodesicDistances(np.array([n]), n + np.arange(k), 1e100)
    out: FloatArray = np.asarray(found, dtype=np.float64) * _SHORTER
    out[0] = 0.0
    return out


def _parted(piece: MappedMesh, spots: Spots) -> tuple[FloatArray, IntArray]:
    """The mesh with the spots as vertices, numbered from the mesh's own on."""
    whole = np.ones(len(piece.triangles), dtype=bool)
    whole[spots.triangle] = False
    hosts = piece.triangles[spots.triangle]
    own = len(piece.vertices) + np.arange(len(hosts))
    parts = [np.stack([hosts[:, i], hosts[:, (i + 1) % 3], own], axis=1) for i in range(3)]
    return np.concatenate([piece.vertices, spots.place]), np.concatenate([piece.triangles[whole], *parts])
