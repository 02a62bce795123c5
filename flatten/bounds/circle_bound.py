"""How much rim a panel has too much: the proven lower limit of demand of saddles.

Claim. Let p be a point of the panel, R at most its distance to the rim, x_1 ... x_n points with l_i <= d(p, x_i) <= h_i
and d_ij <= d(x_i, x_j), distances within the panel. Let f be a one-to-one map to the plane, linear in every triangle,
with singular values in [1, Q] (any other is scaled to this). Then
- r_i = |f(x_i) - f(p)| <= Q h_i, and r_i >= l_i as long as the line from f(p) to f(x_i) lies in f(panel);
- f(panel) holds the disc of radius R about f(p). If Q h <= R, h the largest h_i, all f(x_i) lie in that disc, and so
  do the lines between them and to f(p); each is the image of a way of at least d_ij (l_i): |f(x_i) - f(x_j)| >= d_ij;
- so f(x_i) and f(x_j) are seen from f(p) under at least a_ij(Q), the least angle of a triangle with sides r_i in
  [l_i, Q h_i], r_j in [l_j, Q h_j] and a third of d_ij or more. Its cosine has no largest value inside the ranges, only
  at their ends;
- going once round f(p) meets all n points and turns by 2 pi, passing at each point from one neighbour to another, so
  2 pi >= sum over i of half the sum of the two least a_ij.
The right side falls as Q rises: where it exceeds 2 pi, Q is proven impossible. On hyperbolic discs of curvature K this
tends to sinh(x) / x, x = sqrt(-K) R / Q, as n grows.
"""

from dataclasses import dataclass

import numpy as np

from flatten.bounds.geodesic import MappedMesh, Slope, around
from meshes.base.arrays import FloatArray, IntArray

_MOST_ON_CIRCLE, _FEWEST_POINTS = 32, 6


@dataclass(frozen=True, eq=False)
class Excess:
    """log: lower limit S of ln(largest / smallest stretch); radius_mm: of the circle the points lie on."""

    log: float
    radius_mm: float


def least_ratio(lower: FloatArray, upper: FloatArray, apart: FloatArray, *, most: float) -> float:
    """The largest Q up to `most` that is proven impossible, 1 when none is.

    lower, upper (n,): bounds of the distances from p; apart (n, n): lower bounds of the distances between the points.
    """
    low, high = 1.0, most
    if _turn(lower, upper, apart, low) <= 2.0 * np.pi:
        return 1.0
    if _turn(lower, upper, apart, high) > 2.0 * np.pi:
        return high
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _turn(lower, upper, apart, middle) > 2.0 * np.pi else (low, middle)
    return low


def _turn(lower: FloatArray, upper: FloatArray, apart: FloatArray, q: float) -> float:
    """Least turn round f(p) when the ratio is q, taken a little too small."""
    cosine = np.full(apart.shape, -1.0)
    for r in (lower[:, None], q * upper[:, None]):
        for s in (lower[None, :], q * upper[None, :]):
            cosine = np.maximum(cosine, (r**2 + s**2 - apart**2) / (2.0 * r * s))
    angles = np.arccos(np.clip(cosine, -1.0, 1.0))
    np.fill_diagonal(angles, np.inf)
    return float(0.5 * np.sort(angles, axis=1)[:, :2].sum()) * (1.0 - 1e-9)


def excess(piece: MappedMesh, start: int, *, guess: float) -> Excess:
    """The limit proven by a circle of points about the vertex `start`. guess: about what log will be."""
    slope = Slope(piece, start)
    radius = slope.bound * float(np.exp(-guess))
    count = int(np.clip(0.72 * 2 * np.pi / np.sqrt(max(guess, 1e-9)), _FEWEST_POINTS, _MOST_ON_CIRCLE))
    count = min(count, int(2 * np.pi * radius / (3.0 * piece.usual)))
    if count < _FEWEST_POINTS:
        return Excess(0.0, 0.0)
    flat, spacing = _circle(piece, start, radius, count)
    spots = piece.spots(flat)
    if len(np.unique(spots.triangle)) < count:
        return Excess(0.0, 0.0)
    upper = piece.farthest(start, spots)
    lower = slope.nearest(slope.at(spots.flat))
    most = slope.bound / float(upper.max())
    if most <= 1.0 or lower.min() <= 0.0:
        return Excess(0.0, 0.0)
    apart = around(piece, spots, 1.3 * spacing)
    return Excess(float(np.log(least_ratio(lower, upper, apart, most=most))), radius)


def _circle(piece: MappedMesh, start: int, radius: float, count: int) -> tuple[FloatArray, float]:
    """Points (count, 2) of the piece at one length of way from the start, spread evenly on the seat; their spacing."""
    fine = 8 * count
    angles = 2 * np.pi * np.arange(fine) / fine - np.pi
    found = piece.traced(start, angles)
    flat, place = np.empty((fine, 2)), np.empty((fine, 3))
    heads = np.searchsorted(found.ray, np.arange(fine + 1))
    for k, angle in enumerate(angles):
        part = slice(heads[k], heads[k + 1])
        reach = np.interp(radius, found.length[part], found.reach[part])
        flat[k] = piece.points[start] + reach * np.array([np.cos(angle), np.sin(angle)])
        place[k] = [np.interp(radius, found.length[part], found.place[part, x]) for x in range(3)]
    steps = np.linalg.norm(np.roll(place, -1, axis=0) - place, axis=1)
    run = np.concatenate([[0.0], np.cumsum(steps)])
    wanted = run[-1] * np.arange(count) / count
    closed = np.concatenate([flat, flat[:1]])
    even = np.stack([np.interp(wanted, run, closed[:, x]) for x in range(2)], axis=1)
    return even, float(run[-1] / count)


def likely(defects: FloatArray, points: FloatArray, rim: IntArray, places: FloatArray) -> FloatArray:
    """About what log the circles about `places` (k, 2) prove: what curvature adds to the length of the circle.

    defects (n,): 2 pi less the angles at each vertex, 0 on the rim; a share 1 - s / r of a defect at distance s from
    the centre is missing in the circle of radius r.
    """
    out = np.empty(len(places))
    for k, place in enumerate(places):
        away = np.linalg.norm(points - place, axis=1)
        radius = away[rim].min()
        out[k] = -(defects * np.maximum(1.0 - away / max(radius, 1e-300), 0.0)).sum() / (2.0 * np.pi)
    return out
