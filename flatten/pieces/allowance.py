"""The cut line: every edge of the sew line moved outwards by its own allowance.

One rectangle stands on every segment of the sew line, small fillers close the gaps at outward bends, one filler a
corner follows the shop's corner rule, and the union of all with the piece gives the outline. Unlike offset curves that
are intersected with each other, a union cannot leave loops, has no start point, and turns inward corners rightly.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from flatten.pieces.piece import CutLine, Edge
from meshes.base.arrays import FloatArray
from meshes.records.pad import CORNERS

MITRE_LIMIT = 2.5
"""Farthest point of a mitred corner from the sewn corner, in widths of the wider allowance."""
SQUARE_LIMIT = 1.6
"""How far an allowance may run on to meet its neighbour's, in the neighbour's width: corners up to some 115 degrees."""
ARC_STEP_RAD = np.radians(2.0)
FLAT_TURN_RAD = 1e-5
TAPE_MM = 1e-3
GRIDS_MM = (1e-7, 1e-6, 1e-5, 1e-4)
# Less than this beside the body is a crumb of rounding.
CRUMB_MM2 = 1e-3
"""Points are snapped to this grid while parts are joined; without it GEOS's overlay has been seen to lose a strip."""
SMOOTH_TURN_RAD = np.radians(30.0)
HOLE_WARN_MM2 = 1.0
CUT_THERE_MM = 1.0
"""An edge is cut at its allowance where the cut line passes so near to that."""


def add_allowances(edges: Sequence[Edge], *, corner: str) -> CutLine:
    """The cut line of a piece: its sew line with all allowances added.

    edges: all edges of one piece, counter-clockwise. corner: how the cut line turns at an outward corner between two
    edges. "mitre" prolongs both cut edges until they meet, cut off at MITRE_LIMIT times the wider allowance;
    "square" prolongs each allowance straight to meet its neighbour's and, at sharp corners, cuts each off square at
    the neighbour's width; "round" swings round the corner. Raises ValueError for another word. It is
    a fault when the sew line crosses itself, and when the allowance closes over an opening larger than 1 mm2, which is
    then cut through as leather.
    """
    if corner not in CORNERS:
        raise ValueError(f"no such corner: found {corner!r}; use one of {', '.join(CORNERS)}")
    faults = []
    sew = Polygon(np.concatenate([edge.points[:-1] for edge in edges]))
    if not sew.is_valid:
        faults.append("the sew line crosses itself; the cut line goes round all of it")
        sew = shapely.make_valid(sew)
    parts = [sew]
    for k, edge in enumerate(edges):
        parts += _strips(edge, round_bends=corner == "round")
        parts += _corner(edge, edges[(k + 1) % len(edges)], corner)
    parts = [part for part in parts if part.area > 0.0]
    body = _joined(parts)
    holes = sum(Polygon(ring).area for ring in body.interiors)
    if holes > HOLE_WARN_MM2:
        faults.append(f"the allowance closes over an opening of {holes:.0f} mm2")
    ring = shapely.get_coordinates(shapely.geometry.polygon.orient(body).exterior)[:-1]
    return CutLine(_tidied(ring, edges[0].points[0]), tuple(faults))


def as_cut(edges: Sequence[Edge], outline: CutLine) -> tuple[Edge, ...]:
    """The edges with the allowance that the cut line gives them: none for an edge along more than half of which the
    leather goes through uncut, as between the legs of a narrow dart."""
    line = LineString(np.vstack([outline.points, outline.points[:1]]))
    return tuple(edge if _is_cut(edge, line) else replace(edge, allowance_mm=0.0) for edge in edges)


def _is_cut(edge: Edge, line: LineString) -> bool:
    points, along, out = _segments(edge)
    if not len(along) or edge.allowance_mm <= 0.0:
        return True
    lengths = np.linalg.norm(np.diff(points, axis=0), axis=1)
    middles = 0.5 * (points[:-1] + points[1:]) + edge.allowance_mm * out
    there = shapely.distance(shapely.points(middles), line) < CUT_THERE_MM
    return bool(lengths[there].sum() >= 0.5 * lengths.sum())


def _joined(parts: Sequence[Polygon]) -> Polygon:
    """All parts as one polygon. They share edges, so they are one; a grid on which rounding leaves a hair between two
    of them is given up for the next coarser one."""
    for grid in GRIDS_MM:
        whole = shapely.union_all(parts, grid_size=grid)
        body = max(shapely.get_parts(whole), key=lambda part: part.area if part.geom_type == "Polygon" else 0.0)
        if body.area > whole.area - CRUMB_MM2:
            break
    return body


def _segments(edge: Edge) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Points without repeats, unit directions and outward normals of an edge's segments."""
    steps = np.linalg.norm(np.diff(edge.points, axis=0), axis=1)
    points = edge.points[np.concatenate([[True], steps > 1e-9])]
    if len(points) < 2:
        return points, np.zeros((0, 2)), np.zeros((0, 2))
    along = np.diff(points, axis=0)
    along = along / np.linalg.norm(along, axis=1)[:, None]
    return points, along, np.column_stack([along[:, 1], -along[:, 0]])


def _strips(edge: Edge, *, round_bends: bool) -> Iterator[Polygon]:
    points, along, out = _segments(edge)
    width = edge.allowance_mm
    if width <= 0.0:
        return
    for p, q, n in zip(points[:-1], points[1:], out, strict=True):
        yield Polygon([p, q, q + width * n, p + width * n])
    for k in range(1, len(along)):
        turn = _turn(along[k - 1], along[k])
        if turn < -FLAT_TURN_RAD:
            continue
        if turn < FLAT_TURN_RAD:
            yield _tape(points[k], along[k], out[k], width)
        elif round_bends or turn > SMOOTH_TURN_RAD:
            yield _fan(points[k], out[k - 1], width, out[k], width, turn)
        else:
            yield _kite(points[k], out[k - 1], width, out[k], width)


def _corner(edge: Edge, following: Edge, rule: str) -> Iterator[Polygon]:
    points, along, out = _segments(edge)
    _, along_2, out_2 = _segments(following)
    a, b = edge.allowance_mm, following.allowance_mm
    if not len(along) or not len(along_2) or max(a, b) <= 0.0:
        return
    p, d, n, d_2, n_2 = points[-1], along[-1], out[-1], along_2[0], out_2[0]
    turn = _turn(d, d_2)
    if turn < -FLAT_TURN_RAD:
        return
    if turn < FLAT_TURN_RAD:
        yield _tape(p, d, n, min(a, b))
    elif rule == "round":
        yield _fan(p, n, a, n_2, b, turn)
    else:
        yield _corner_filler(p, (d, n, a), (d_2, n_2, b), rule)


def _corner_filler(
    p: FloatArray,
    first: tuple[FloatArray, FloatArray, float],
    second: tuple[FloatArray, FloatArray, float],
    rule: str,
) -> Polygon:
    (d, n, a), (d_2, n_2, b) = first, second
    sine, cosine = float(d @ n_2), float(n @ n_2)
    # How far past the corner each offset line runs until it meets the other; both are endless on the way back.
    ahead = (b - a * cosine) / sine if sine > FLAT_TURN_RAD else np.inf
    behind = (a - b * cosine) / sine if sine > FLAT_TURN_RAD else np.inf
    if ahead < 0.0 or behind < 0.0:
        # A wide allowance meets a narrow one at a flat angle: the wide one ends square, the gap is bridged.
        return Polygon([p, p + a * n, p + b * n_2])
    reach = MITRE_LIMIT * max(a, b)
    if rule == "square":
        meets = ahead <= SQUARE_LIMIT * b and behind <= SQUARE_LIMIT * a
        end, start = min(ahead, b), min(behind, a)
    else:
        meets = np.hypot(a, ahead) <= reach
        end, start = np.sqrt(reach**2 - a**2), np.sqrt(reach**2 - b**2)
    if meets:
        return _kite(p, n, a, n_2, b)
    return Polygon([p, p + a * n, p + a * n + end * d, p + b * n_2 - start * d_2, p + b * n_2]).convex_hull


def _kite(p: FloatArray, n: FloatArray, a: float, n_2: FloatArray, b: float) -> Polygon:
    tip = np.linalg.solve(np.array([n, n_2]), np.array([a, b]))
    return Polygon([p, p + a * n, p + tip, p + b * n_2])


def _fan(p: FloatArray, n: FloatArray, a: float, n_2: FloatArray, b: float, turn: float) -> Polygon:
    steps = max(int(np.ceil(turn / ARC_STEP_RAD)), 1)
    start = np.arctan2(n[1], n[0])
    share = np.linspace(0.0, 1.0, steps + 1)
    angles, radii = start + turn * share, a + (b - a) * share
    arc = p + radii[:, None] * np.column_stack([np.cos(angles), np.sin(angles)])
    arc[0], arc[-1] = p + a * n, p + b * n_2
    return Polygon([p, *arc])


def _turn(d: FloatArray, d_2: FloatArray) -> float:
    """Angle in rad by which the outline turns left (outward bend) from one direction to the next."""
    return float(np.arctan2(d[0] * d_2[1] - d[1] * d_2[0], d @ d_2))


def _tape(p: FloatArray, d: FloatArray, n: FloatArray, width: float) -> Polygon:
    """Laid over the joint of two strips that run on straight, so that rounding leaves no slit between them."""
    back, ahead = p - TAPE_MM * d, p + TAPE_MM * d
    return Polygon([back, ahead, ahead + width * n, back + width * n])


def _tidied(ring: FloatArray, start: FloatArray) -> FloatArray:
    """Drop points that lie on a straight line; begin nearest to the piece's first corner."""
    # Thinning keeps the first and last point, so it begins at one that is a corner for certain.
    ring = np.roll(ring, -int(np.lexsort((ring[:, 1], ring[:, 0]))[0]), axis=0)
    thinned = shapely.simplify(shapely.LinearRing(ring), 10.0 * GRIDS_MM[0], preserve_topology=True)
    ring = shapely.get_coordinates(thinned)[:-1]
    return np.roll(ring, -int(np.argmin(np.linalg.norm(ring - start, axis=1))), axis=0)
