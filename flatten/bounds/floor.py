"""The floor: a proven lower limit of demand, so that a trimmer knows when no way of cutting a piece can do better.

Two kinds of trouble, each with proofs of its own in their modules. A dome has too little rim for what it holds: one
disc, `level_set_bound` (Milnor, A problem in cartography, 1969), or, where it is longer than wide, discs in a row,
`row_bound`. A saddle has too much: points on a circle, `circle_bound`. The floor is the largest of all that is proven.
Whatever flat map is used to choose centres and functions, the proof holds for every one-to-one map of the mesh that is
linear in its triangles; a poor map only proves less. The claim is about the mesh itself; what a finer mesh of the same
seat would demand differs by the second order in edge length.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from flatten.bounds.circle_bound import excess, likely
from flatten.bounds.geodesic import MappedMesh
from flatten.bounds.level_set_bound import MeshLengths
from flatten.bounds.own_axes import own_axes
from flatten.bounds.row_bound import RowLimit, row_limit
from flatten.bounds.row_search import RowSearch
from flatten.bounds.straight import Ways
from meshes.base.arrays import FloatArray, IntArray
from meshes.numerics.laplace import corner_angles

# Centres from which the search for the best disc sets out.
_PROVEN = 4
# A disc is proven on finer cells when on coarse ones it comes to this share of what a row of discs proves.
_REFINED_FROM = 0.5
# A row is proven when it is likely to prove this many times what another does.
_BETTER_BY = 1.1
# A circle of points proves about this share of what its likely limit says; below the second it is not tried.
_SHARE, _LEAST = 0.9, 1e-4


@dataclass(frozen=True, eq=False)
class Floor:
    """A proven lower limit of demand.

    value: the limit of demand, a fraction; log: the same as ln(largest / smallest stretch); kind: `disc` (a dome: one
    disc or several in a row), `circle` (a saddle) or `none` (nothing proven: value 0). centre (3,) on the seat, in the
    middle of the trouble, and radius_mm of the disc that proves it, of the largest when they are several.
    """

    value: float
    log: float
    kind: str
    centre: FloatArray
    radius_mm: float


def floor_of(
    vertices: FloatArray, triangles: IntArray, points: FloatArray, *, places: int = 64, widest: float = 1.0
) -> Floor:
    """The best limit found for a disc-shaped mesh.

    vertices (n, 3) mm; triangles (m, 3); points (n, 2): any good flat map of it, used to choose where to look; places:
    at how many centres the likely limits are estimated before the best are proven; widest: the largest ratio of
    stretches a leather allows in any two directions, so that a disc's limit can be held against such a leather.
    """
    piece = MappedMesh(vertices, triangles, points)
    angles, _ = corner_angles(vertices, triangles)
    total = np.bincount(triangles.ravel(), weights=angles.ravel(), minlength=len(vertices))
    defects: FloatArray = np.asarray(2 * np.pi - total, dtype=np.float64)
    defects[piece.rim] = 0.0
    tried = _spread(points, places)
    guesses = likely(defects, points, piece.rim, tried)
    domes = tried[np.argsort(guesses)[:_PROVEN]]
    panel = MeshLengths(vertices, triangles, widest=widest)
    centre = _climb(lambda c: panel.about(points, c).log, points, domes)
    best = _row(piece, defects, np.concatenate([points.mean(axis=0)[None], centre[None], domes]))
    if panel.about(points, centre).log > _REFINED_FROM * best.log:
        one = _dome(panel, points, centre, vertices)
        best = one if one.log > best.log else best
    found = _saddle(piece, defects, tried[np.argmax(guesses)], above=best.log)
    return found if found.log > best.log else best


def _dome(panel: MeshLengths, points: FloatArray, centre: FloatArray, vertices: FloatArray) -> Floor:
    """What discs about one centre (2,) prove."""
    bound = panel.about(points, centre, refined=True)
    if bound.log <= 0.0:
        return Floor(0.0, 0.0, "none", vertices[_nearest(points, centre)], 0.0)
    radius = float(np.sqrt(bound.area_mm2 / np.pi))
    return Floor(float(np.expm1(bound.log)), bound.log, "disc", vertices[_nearest(points, centre)], radius)


def _row(piece: MappedMesh, defects: FloatArray, starts: FloatArray) -> Floor:
    """What discs in a row prove, looked for from the middles `starts` (k, 2) on."""
    points, vertices, ways = piece.points, piece.vertices, Ways(piece)
    best = RowLimit(0.0, 0.0, starts[0])
    for row in RowSearch(points, points[piece.edges[piece.on_rim]], defects).best(starts):
        if row.log > max(_LEAST, _BETTER_BY * best.log):
            found = row_limit(ways, defects, row.knots, row.radius)
            best = found if found.log > best.log else best
    kind = "disc" if best.log > 0.0 else "none"
    return Floor(float(np.expm1(best.log)), best.log, kind, vertices[_nearest(points, best.flat)], best.radius_mm)


def _saddle(piece: MappedMesh, defects: FloatArray, place: FloatArray, *, above: float) -> Floor:
    """What a circle of points proves, when that is likely to be more than `above`."""
    points = piece.points

    def worth(centre: FloatArray) -> float:
        return float(likely(defects, points, piece.rim, centre[None])[0])

    centre = _climb(worth, points, place[None])
    start, guess = _nearest(points, centre), worth(centre)
    none = Floor(0.0, 0.0, "none", piece.vertices[start], 0.0)
    if guess <= max(above, _LEAST) or start in piece.rim:
        return none
    found = excess(piece, start, guess=_SHARE * guess)
    if abs(found.log / guess - _SHARE) > 0.1:
        again = excess(piece, start, guess=max(found.log, 0.5 * _SHARE * guess))
        found = again if again.log > found.log else found
    if found.log <= 0.0:
        return none
    return Floor(float(np.expm1(found.log)), found.log, "circle", piece.vertices[start], found.radius_mm)


def _nearest(points: FloatArray, place: FloatArray) -> int:
    return int(np.argmin(((points - place) ** 2).sum(axis=1)))


def _spread(points: FloatArray, count: int) -> FloatArray:
    """Places well apart from one another on the piece, the first in its middle, (count, 2)."""
    chosen = [_nearest(points, points.mean(axis=0))]
    away = ((points - points[chosen[0]]) ** 2).sum(axis=1)
    for _ in range(min(count, len(points)) - 1):
        chosen.append(int(np.argmax(away)))
        away = np.minimum(away, ((points - points[chosen[-1]]) ** 2).sum(axis=1))
    return points[chosen]


def _climb(worth: Callable[[FloatArray], float], points: FloatArray, tried: FloatArray) -> FloatArray:
    """The place near the best of those tried where `worth` is largest, by steps that are halved."""
    worths = [worth(place) for place in tried]
    best, place = max(worths), tried[int(np.argmax(worths))]
    own = own_axes(points)
    step = 0.25 * float(np.sqrt(np.prod(np.ptp(own.seen(points), axis=0)) / max(len(tried), 1)))
    for _ in range(4):
        for move in (own.axes[0], -own.axes[0], own.axes[1], -own.axes[1]):
            there = place + step * move
            found = worth(there)
            if found > best:
                best, place = found, there
        step *= 0.5
    return place
