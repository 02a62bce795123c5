"""The rim of a closed cover's plates: the core's outline made smaller, cut into even steps, with every place at which
something parts.

Places along the rim are lengths t in mm, counter-clockwise from the middle of the rear side.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from meshes.base.arrays import FloatArray, IntArray, locked_floats, locked_ints
from meshes.closed.corners_in import with_corners_in
from meshes.outlines.rounded import NO_RUN_MM, RoundedOutline, rounded_outline
from meshes.outlines.side_ramps import BOW_TURN_RAD
from meshes.records.pad import SIDES, Outline

# A chord lies no further inside its arc than this, and turns by no more; so a disc keeps its area to 0.1 %.
SAG_MM, MOST_TURN_RAD = 0.05, np.deg2rad(9.0)
# Places nearer to each other than this are one.
_ONE_STOP_MM = 1e-6
# A bend nearer than this to a stop has no step of its own: triangles there would be slivers, and an arc leaves its
# tangent by next to nothing so near to its end.
BEND_OFF_MM = 1.5


@dataclass(frozen=True, eq=False)
class RimCurve:
    """The rim of a plate. outline: finished; length: all round; corners: t where rear and left, left and front, front
    and right, right and rear part; origin: length along the outline at which t begins."""

    outline: RoundedOutline
    length: float
    corners: tuple[float, float, float, float]
    origin: float

    @property
    def front(self) -> float:
        """t of the middle of the front."""
        return 0.5 * (self.corners[1] + self.corners[2])

    def point(self, t: FloatArray) -> FloatArray:
        """Points (n, 2) mm at places t (n,)."""
        ahead = np.mod(t + self.origin, self.length)
        u = np.interp(ahead, _lengths(self.outline), np.arange(self.outline.period + 1.0))
        return self.outline.point(np.minimum(u, self.outline.period - 1e-12))


@dataclass(frozen=True, eq=False)
class Stations:
    """The rim in steps: t (k,) rising from 0, points (k, 2) mm; stops: which of them the asked places are."""

    t: FloatArray
    points: FloatArray
    stops: IntArray


def smaller_outline(
    outline: Outline, by_mm: float, least_radius: float, *, taken_in: float = 0.0
) -> tuple[RoundedOutline, float]:
    """The outline drawn in by `by_mm` all round (out: below 0), its corners at least so round, and the least radius of
    a corner that was drawn too sharp; infinite where none was. taken_in: how far corners that stand out are taken in,
    mm (`corners_in`). Raises CornersTooRoundError."""
    corners = np.asarray(outline.corners)
    ahead = np.roll(corners, -1, axis=0) - corners
    ahead /= np.linalg.norm(ahead, axis=1)[:, None]
    behind = np.roll(ahead, 1, axis=0)
    inward = np.stack([-ahead[:, 1], ahead[:, 0]], axis=1) + np.stack([-behind[:, 1], behind[:, 0]], axis=1)
    moved = corners + by_mm * inward / (1.0 + np.einsum("ij,ij->i", ahead, behind))[:, None]
    turn = np.arctan2(behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0], np.einsum("ij,ij->i", ahead, behind))
    radii, small = [], np.inf
    for radius, angle in zip(outline.radii, turn, strict=True):
        drawn = max(radius - np.sign(angle) * by_mm, 0.0) if radius > 0.0 else 0.0
        if abs(angle) >= BOW_TURN_RAD and drawn < least_radius:
            small = min(small, radius if 0.0 < radius < least_radius else np.inf)
            drawn = least_radius
        radii.append(drawn)
    sides = list(outline.side_of_edge)
    if taken_in > 0.0:
        moved, radii, sides = with_corners_in(moved, radii, sides, taken_in)
    return rounded_outline([(float(x), float(y)) for x, y in moved], radii, tuple(sides)), small


def rim_curve(outline: RoundedOutline) -> RimCurve:
    """The rim of a plate with this outline."""
    lengths = _lengths(outline)
    total = float(lengths[-1])
    ends = [outline.corner_between(SIDES[k], SIDES[(k + 1) % 4]) for k in range(4)]
    front_right, rear_right, rear_left, front_left = np.interp(ends, np.arange(outline.period + 1.0), lengths)
    origin = rear_right + 0.5 * np.mod(rear_left - rear_right, total)
    there = [float(np.mod(s - origin, total)) for s in (rear_left, front_left, front_right, rear_right)]
    return RimCurve(outline, total, (there[0], there[1], there[2], there[3]), float(origin))


def _lengths(outline: RoundedOutline) -> FloatArray:
    """Length along the outline at every whole u, (2 k + 1,)."""
    return np.concatenate([[0.0], np.cumsum(outline.lengths)])


def stations(rim: RimCurve, stops: Sequence[float], edge_mm: float, *, symmetric: bool) -> Stations:
    """Steps of about `edge_mm` along the rim, shorter where it is round, with a step at every stop and at the middles
    of front and rear. symmetric: the left half is exactly the mirror image of the right one."""
    ends = np.mod(_lengths(rim.outline)[_bends(rim.outline)] - rim.origin, rim.length).tolist()
    if symmetric:
        half = _steps(rim, stops, ends, (rim.front, rim.length), edge_mm)
        right = rim.point(half[:-1])
        right[0, 0] = 0.0
        t = np.concatenate([rim.length - half[::-1], half[1:-1]])
        rear = np.array([[0.0, float(rim.point(np.zeros(1))[0, 1])]])
        points = np.concatenate([rear, right[:0:-1] * [-1.0, 1.0], right])
    else:
        t = _steps(rim, [*stops, rim.front], ends, (0.0, rim.length), edge_mm)[:-1]
        points = rim.point(t)
    asked = np.array([int(np.argmin(np.abs(t - stop))) for stop in stops], dtype=np.int64)
    return Stations(locked_floats(t), locked_floats(points), locked_ints(asked))


def _bends(outline: RoundedOutline) -> IntArray:
    """Arcs and runs at whose beginning the outline bends otherwise than before; a circle of many arcs has none."""
    long = np.flatnonzero(outline.lengths > NO_RUN_MM)
    sign = np.where(outline.sweep_rad[long // 2] < 0.0, -1.0, 1.0)
    bend = np.where(long % 2, 0.0, sign / np.maximum(outline.radii[long // 2], NO_RUN_MM))
    sharp = np.flatnonzero((outline.radii <= NO_RUN_MM) & (np.abs(outline.sweep_rad) > 1e-9)) * 2
    changed = long[np.abs(bend - np.roll(bend, 1)) > 1e-9 * np.abs(bend).max()]
    return np.union1d(changed, sharp)


def _steps(
    rim: RimCurve, stops: Sequence[float], bends: Sequence[float], ends: tuple[float, float], edge_mm: float
) -> FloatArray:
    """Rising t between two ends, both included: a step at every stop, and at bends that are not near one."""
    marks = [ends[0], ends[1]]
    for places, apart in ((stops, _ONE_STOP_MM), (bends, BEND_OFF_MM)):
        for place in sorted(places):
            if ends[0] < place < ends[1] and min(abs(place - mark) for mark in marks) > apart:
                marks.append(place)
    found = [np.array([ends[0]])]
    for low, high in pairwise(sorted(marks)):
        count = max(int(np.ceil((high - low) / min(edge_mm, _longest(rim, 0.5 * (low + high))) - 1e-9)), 1)
        found.append(low + (high - low) * np.arange(1, count + 1) / count)
    return np.concatenate(found)


def _longest(rim: RimCurve, t: float) -> float:
    """The longest step at a place of the rim, mm."""
    u = np.interp(np.mod(t + rim.origin, rim.length), _lengths(rim.outline), np.arange(rim.outline.period + 1.0))
    if int(u) % 2:
        return np.inf
    radius = float(rim.outline.radii[int(u) // 2 % len(rim.outline.radii)])
    return max(radius, 1e-3) * min(float(np.sqrt(8.0 * SAG_MM / max(radius, 1e-3))), float(MOST_TURN_RAD))
