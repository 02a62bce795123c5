"""Places where a piece lies snugly: a corner in a corner, an edge along an edge, whatever turn that takes.

How well a place suits is told by how much of a piece's outline touches something (the touching perimeter of Lodi,
Martello, Vigo, INFORMS J. Computing 11, 1999), here of outlines of any shape and turn. Distances to what is there are
kept on a grid: along a straight edge they are linear, so that between places of the grid they are exact there.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from flatten.nesting.outline import ring
from meshes.base.arrays import FloatArray, IntArray

# Distances are known every so many mm, up to so far from what is there.
FIELD_STEP_MM, FIELD_FAR_MM = 8.0, 60.0
# Points along an outline stand about so far apart, mm, and are no more than so many.
POINT_EVERY_MM, MOST_RIM_POINTS = 12.0, 160
# Points within an outline's box.
MOST_INNER = 40
# Outlines are followed this closely when corners and edges are looked for; edges shorter than that have none, mm.
FEATURE_MM, LEAST_FEATURE_MM = 1.5, 14.0
# What touches, within mm, at a first look and in the end; and how deep a piece may lie in something then.
TOUCH_NEAR_MM, DEEPEST_MM = (6.0, 3.0), (9.0, 6.0)
# How far off what is there a piece lies best, of what touches, mm.
EASE_MM = 0.5
# What a mm of depth costs beside a share of the outline that touches.
DEPTH_COST = 0.15
# How far a turn may be off what is allowed to be brought there, degrees.
SNAP_DEG = 2.5


@dataclass(frozen=True, eq=False)
class FeatureCorners:
    """Corners of a closed line. at (k, 2) mm; into, out (k,): directions of the edges before and after, radians."""

    at: FloatArray
    into: FloatArray
    out: FloatArray

    def moved(self, turn: float, shift: FloatArray) -> "FeatureCorners":
        """The corners turned, by radians, and moved."""
        return FeatureCorners(spun(self.at, turn) + shift, self.into + turn, self.out + turn)

    def seen_from_outside(self) -> "FeatureCorners":
        """The same as what lies round the line has them."""
        return FeatureCorners(self.at, self.out + np.pi, self.into + np.pi)


def spun(points: FloatArray, turn: float) -> FloatArray:
    """Points turned counter-clockwise round the origin by radians."""
    cos, sin = np.cos(turn), np.sin(turn)
    return np.asarray(points @ np.array([[cos, sin], [-sin, cos]]))


def corners_of(points: FloatArray) -> FeatureCorners:
    """Corners of a closed line (k, 2) with an edge of some length on one side at least."""
    line = ring(Polygon(points).simplify(FEATURE_MM))
    along = np.roll(line, -1, axis=0) - line
    long = np.hypot(*along.T)
    angle = np.arctan2(along[:, 1], along[:, 0])
    kept = (long >= LEAST_FEATURE_MM) | (np.roll(long, 1) >= LEAST_FEATURE_MM)
    return FeatureCorners(line[kept], np.roll(angle, 1)[kept], angle[kept])


@dataclass(frozen=True, eq=False)
class OutlinePoints:
    """Points that stand for an outline: evenly along it, (m, 2), and within it, (k, 2), mm."""

    rim: FloatArray
    inner: FloatArray


def points_of(points: FloatArray) -> OutlinePoints:
    """Points along and within a closed line."""
    line, area = shapely.LinearRing(points), Polygon(points)
    count = int(np.clip(line.length / POINT_EVERY_MM, 24, MOST_RIM_POINTS))
    at = shapely.line_interpolate_point(line, (np.arange(count) + 0.5) * line.length / count)
    low, high = points.min(axis=0), points.max(axis=0)
    step = float(np.sqrt((high - low).prod() / MOST_INNER))
    x, y = (np.arange(a + 0.5 * step, b, step) for a, b in zip(low, high, strict=True))
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    inner = grid[shapely.contains_xy(area, grid[:, 0], grid[:, 1])]
    middle = np.asarray(area.representative_point().coords)
    return OutlinePoints(np.asarray(shapely.get_coordinates(at)), np.concatenate([inner, middle]))


def distances(points: FloatArray, rings: Sequence[FloatArray]) -> FloatArray:
    """Distances (n,) of points (n, 2) to closed lines, mm."""
    least = np.full(len(points), np.inf)
    for line in rings:
        for a, b in zip(line, np.roll(line, -1, axis=0), strict=True):
            way = b - a
            size = float(way @ way)
            if size == 0.0:
                continue
            share = np.clip((points - a) @ way / size, 0.0, 1.0)
            away = points - a - share[:, None] * way
            np.minimum(least, (away**2).sum(axis=1), out=least)
    return np.sqrt(least)


class RoomField:
    """Signed distances to what bounds a room, positive where there is room, on a grid; cut off at `FIELD_FAR_MM`."""

    def __init__(self, low: FloatArray, values: FloatArray) -> None:
        self.low, self.values = low, values

    @classmethod
    def of(cls, area: BaseGeometry) -> "RoomField":
        """The field of an area."""
        x0, y0, x1, y1 = area.bounds
        low = np.array([x0, y0]) - FIELD_FAR_MM
        shape = np.ceil((np.array([x1, y1]) + FIELD_FAR_MM - low) / FIELD_STEP_MM).astype(int) + 1
        field = cls(low, np.full((int(shape[0]), int(shape[1])), -FIELD_FAR_MM, dtype=np.float64))
        places = field._places((0, 0), field.values.shape)
        inside = shapely.contains_xy(area, places[:, 0], places[:, 1])
        rings = [np.asarray(one.coords)[:-1] for one in _rings(area)]
        away = np.minimum(distances(places, rings), FIELD_FAR_MM)
        field.values[:] = np.where(inside, away, -away).reshape(field.values.shape)
        return field

    def _places(self, begin: tuple[int, int], shape: tuple[int, ...]) -> FloatArray:
        i, j = np.meshgrid(*(np.arange(n) + b for n, b in zip(shape, begin, strict=True)), indexing="ij")
        return np.asarray(self.low + FIELD_STEP_MM * np.column_stack([i.ravel(), j.ravel()]))

    def without(self, points: FloatArray) -> "RoomField":
        """The field once an outline (k, 2) lies there."""
        low = np.floor((points.min(axis=0) - FIELD_FAR_MM - self.low) / FIELD_STEP_MM).astype(int)
        high = np.ceil((points.max(axis=0) + FIELD_FAR_MM - self.low) / FIELD_STEP_MM).astype(int) + 1
        i0, j0 = (int(v) for v in np.maximum(low, 0))
        i1, j1 = (int(v) for v in np.minimum(high, self.values.shape))
        if i0 >= i1 or j0 >= j1:
            return self
        places = self._places((i0, j0), (i1 - i0, j1 - j0))
        away = distances(places, [points])
        inside = shapely.contains_xy(Polygon(points), places[:, 0], places[:, 1])
        mine = np.where(inside, -away, away).reshape(i1 - i0, j1 - j0)
        values = self.values.copy()
        values[i0:i1, j0:j1] = np.minimum(values[i0:i1, j0:j1], mine)
        return RoomField(self.low, values)

    def at(self, points: FloatArray) -> FloatArray:
        """Distances at points (..., 2); far outside beyond the grid."""
        return self._looked_up(points)[0]

    def with_slopes(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Distances at points (..., 2), and their slopes (..., 2)."""
        value, (f00, f10, f01, f11), (u, v) = self._looked_up(points)
        dx = (f10 - f00) * (1.0 - v) + (f11 - f01) * v
        dy = (f01 - f00) * (1.0 - u) + (f11 - f10) * u
        return value, np.stack([dx, dy], axis=-1) / FIELD_STEP_MM

    def _looked_up(
        self, points: FloatArray
    ) -> tuple[FloatArray, tuple[FloatArray, ...], tuple[FloatArray, FloatArray]]:
        place = (points - self.low) / FIELD_STEP_MM
        size = np.array(self.values.shape) - 2
        beyond = ((place < 0.0) | (place > size + 1)).any(axis=-1)
        cell = np.clip(np.floor(place).astype(int), 0, size)
        u, v = np.moveaxis(np.clip(place - cell, 0.0, 1.0), -1, 0)
        columns = self.values.shape[1]
        flat, k = self.values.ravel(), cell[..., 0] * columns + cell[..., 1]
        four = (flat[k], flat[k + columns], flat[k + 1], flat[k + columns + 1])
        low = four[0] * (1.0 - u) + four[1] * u
        high = four[2] * (1.0 - u) + four[3] * u
        return np.where(beyond, -FIELD_FAR_MM, low * (1.0 - v) + high * v), four, (u, v)


def _rings(area: BaseGeometry) -> list[shapely.LinearRing]:
    return [line for one in shapely.get_parts(area) for line in (one.exterior, *one.interiors)]


@dataclass(frozen=True, eq=False)
class SnugPlaces:
    """Places of one piece. turn (n,) radians; shift (n, 2) mm, after the turn; worth (n,): the share of its outline
    that touches, less what lies too deep."""

    turn: FloatArray
    shift: FloatArray
    worth: FloatArray

    def only(self, which: IntArray) -> "SnugPlaces":
        """Some of the places."""
        return SnugPlaces(self.turn[which], self.shift[which], self.worth[which])

    def best(self, count: int) -> "SnugPlaces":
        """So many of the best, one of those that are nearly the same."""
        order = np.argsort(-self.worth, kind="stable")
        seen, kept = set[tuple[int, ...]](), []
        for k in order[: 20 * count]:
            key = (round(float(self.turn[k]) / 0.02), *(round(float(v) / 6.0) for v in self.shift[k]))
            if key not in seen and self.worth[k] > -1.0:
                seen.add(key)
                kept.append(int(k))
            if len(kept) == count:
                break
        return self.only(np.array(kept, dtype=int))


def snug_places(
    own: FeatureCorners, there: FeatureCorners, ranges_deg: Sequence[tuple[float, float]]
) -> tuple[FloatArray, FloatArray]:
    """Turns (n,) and shifts (n, 2) that bring a corner of a piece to a corner there and one of its edges along an edge
    there. ranges_deg: the turns a piece may have; those a little outside are brought to their ends."""
    turns = np.concatenate(
        [
            (there.into[None, :] - own.into[:, None]).ravel(),
            (there.out[None, :] - own.out[:, None]).ravel(),
        ]
    )
    mine = np.tile(np.repeat(np.arange(len(own.at)), len(there.at)), 2)
    other = np.tile(np.tile(np.arange(len(there.at)), len(own.at)), 2)
    turns, allowed = brought_within(turns, ranges_deg)
    turns, mine, other = turns[allowed], mine[allowed], other[allowed]
    cos, sin = np.cos(turns), np.sin(turns)
    x, y = own.at[mine].T
    return turns, there.at[other] - np.column_stack([cos * x - sin * y, sin * x + cos * y])


def brought_within(turns: FloatArray, ranges_deg: Sequence[tuple[float, float]]) -> tuple[FloatArray, FloatArray]:
    """Turns (n,), radians, brought within the nearest range that is allowed, and whether they were near enough."""
    found, least = turns.copy(), np.full(len(turns), np.inf)
    for low, high in ranges_deg:
        middle, half = np.radians(0.5 * (low + high)), np.radians(0.5 * (high - low))
        off = (turns - middle + np.pi) % (2.0 * np.pi) - np.pi
        held = np.clip(off, -half, half)
        nearer = np.abs(off - held) < least
        found = np.where(nearer, middle + held, found)
        least = np.where(nearer, np.abs(off - held), least)
    return found, least <= np.radians(SNAP_DEG)


def turn_left(turn: float, ranges_deg: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """How far a turn may be taken back and on within the range it lies in, radians."""
    rows = []
    for low, high in ranges_deg:
        middle, half = np.radians(0.5 * (low + high)), np.radians(0.5 * (high - low))
        off = float((turn - middle + np.pi) % (2.0 * np.pi) - np.pi)
        if half >= np.pi:
            return np.pi, np.pi
        rows.append((max(abs(off) - half, 0.0), max(half + off, 0.0), max(half - off, 0.0)))
    return min(rows)[1:]


def _there(points: FloatArray, turn: FloatArray, shift: FloatArray) -> FloatArray:
    """Points (m, 2) at every place, (n, m, 2)."""
    cos, sin = np.cos(turn)[:, None], np.sin(turn)[:, None]
    x, y = points.T
    return np.stack([cos * x - sin * y, sin * x + cos * y], axis=-1) + shift[:, None, :]


def worths(field: RoomField, points: OutlinePoints, turn: FloatArray, shift: FloatArray, *, last: bool) -> FloatArray:
    """How well places suit an outline: -1 and less where it cannot lie."""
    near, deep = TOUCH_NEAR_MM[last], DEEPEST_MM[last]
    away = field.at(_there(points.rim if last else points.rim[::3], turn, shift))
    worth = np.maximum(1.0 - np.abs(away - EASE_MM) / near, 0.0).mean(axis=1) - DEPTH_COST * np.maximum(
        -away - 1.0, 0.0
    ).mean(axis=1)
    # An outline may touch all along and yet have others inside it.
    within = field.at(_there(points.inner, turn, shift)).min(axis=1)
    return np.asarray(np.where(np.minimum(away.min(axis=1), within) < -deep, -1.0, worth))


def settled_places(
    field: RoomField, points: OutlinePoints, places: SnugPlaces, ranges_deg: Sequence[tuple[float, float]]
) -> SnugPlaces:
    """Places moved and turned a little until what touches lies as evenly as it can (iterated closest points: Besl,
    McKay, IEEE Trans. Pattern Analysis 14, 1992)."""
    turn, shift = places.turn.copy(), places.shift.copy()
    for _ in range(4):
        there = _there(points.rim, turn, shift)
        away, slope = field.with_slopes(there)
        weight = np.where(away < 0.0, 3.0, 1.0) * (np.abs(away) <= TOUCH_NEAR_MM[0])
        middle = there.mean(axis=1)
        arm = there - middle[:, None, :]
        long = np.sqrt((arm**2).sum(axis=-1).mean(axis=1))[:, None]
        spin = (slope[..., 1] * arm[..., 0] - slope[..., 0] * arm[..., 1]) / long
        rows = np.stack([slope[..., 0], slope[..., 1], spin], axis=-1)
        normal = np.einsum("nmi,nmj,nm->nij", rows, rows, weight) + 0.5 * np.eye(3)
        right = -np.einsum("nmi,nm,nm->ni", rows, away - EASE_MM, weight)
        step = np.clip(np.linalg.solve(normal, right[..., None])[..., 0], -5.0, 5.0)
        wanted = turn + step[:, 2] / long[:, 0]
        held, _ = brought_within(wanted, ranges_deg)
        off = held - turn
        off = (off + np.pi) % (2.0 * np.pi) - np.pi
        cos, sin = np.cos(off), np.sin(off)
        x, y = (shift - middle).T
        shift = np.column_stack([cos * x - sin * y, sin * x + cos * y]) + middle + step[:, :2]
        turn = turn + off
    return SnugPlaces(turn, shift, worths(field, points, turn, shift, last=True))
