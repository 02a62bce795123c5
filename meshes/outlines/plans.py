"""Plans with curved edges as corners: round, D and kidney exactly, an ellipse and a traced curve to a tenth of a mm.

A chain of arcs that run into each other becomes the polygon of the tangents at their joins; every corner of it, rounded
with the radius it carries, gives its arc back exactly. Lengths mm; x runs from the centre line to the right, y from the
front to the rear, and plans run counter-clockwise.
"""

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from scipy.interpolate import CubicSpline

from meshes.base.arrays import FloatArray
from meshes.base.plane import Point, turn_at

# One corner of a plan turns its outline by no more than this.
STEP_RAD = math.radians(7.5)
# Corners of an ellipse: its perimeter comes out within a few hundredths of a millimetre.
ELLIPSE_CORNERS = 96
# A traced curve is followed in steps that turn no more than this, nor longer than this.
TRACED_STEP_RAD, TRACED_STEP_MM = math.radians(3.5), 40.0
# Traced points between which the outline turns more than this stand at a corner.
CORNER_TURN_RAD = math.radians(30.0)
# Corners of a traced curve are placed to the millionth of a millimetre, so that a mirrored trace gives their images.
PLACED_DIGITS = 6
# A kidney is at least so deep where it is drawn in.
LEAST_MIDDLE_MM = 80.0
# Two arcs of a traced curve share the run between them: this share for each.
SHARED = 0.49
# Points of a traced curve stand this many times further from a corner than its arc reaches.
CLEAR = 1.5
# A run shorter than this between two corner arcs is none: the arcs run into each other.
STUB_MM = 1.0


class Corner(NamedTuple):
    """A corner of a polygon and the radius it is rounded with. number: the traced point of the sheet it comes from,
    None for any other."""

    at: Point
    radius: float
    number: int | None = None


class Arc(NamedTuple):
    """Part of a plan: its outward normal turns from angle begin by sweep, rad; a hollow one has a negative sweep."""

    centre: Point
    radius: float
    begin: float
    sweep: float


class UnlikelyPlanError(Exception):
    """Measures that no plan of that shape has; key: the one to change."""

    def __init__(self, key: str, text: str) -> None:
        super().__init__(text)
        self.key = key


def arc_corners(arc: Arc) -> list[Corner]:
    """The corners that stand for an arc, an odd number of them, so that one stands in its middle."""
    count = 2 * math.ceil(0.5 * abs(arc.sweep) / STEP_RAD) + 1
    step = arc.sweep / count
    reach = math.copysign(arc.radius, arc.sweep) / math.cos(0.5 * step)
    angles = [arc.begin + (k + 0.5) * step for k in range(count)]
    at = [(arc.centre[0] + reach * math.cos(a), arc.centre[1] + reach * math.sin(a)) for a in angles]
    return [Corner(point, arc.radius) for point in at]


def round_plan(width: float, depth: float) -> list[Corner]:
    """A circle, or an ellipse where width and depth differ, with its front at y = 0."""
    step = 2.0 * math.pi / ELLIPSE_CORNERS
    return even(_ellipse(0.5 * width, 0.5 * depth, -0.5 * (math.pi + step), 2.0 * math.pi, ELLIPSE_CORNERS))


def _ellipse(a: float, b: float, begin: float, sweep: float, count: int) -> list[Corner]:
    """Part of an ellipse with half axes a and b, its middle at (0, b), from one angle on."""
    step = sweep / count
    joins = [(a * math.cos(begin + k * step), b + b * math.sin(begin + k * step)) for k in range(count + 1)]
    # Its tangents at two angles meet at the angle between, a little outside it.
    reach = 1.0 / math.cos(0.5 * step)
    middles = [begin + (k + 0.5) * step for k in range(count)]
    at = [(a * reach * math.cos(t), b + b * reach * math.sin(t)) for t in middles]
    corners = []
    for point, before, after in zip(at, joins[:-1], joins[1:], strict=True):
        room = min(math.dist(point, before), math.dist(point, after))
        corners.append(Corner(point, a if a == b else room / math.tan(0.5 * turn_at(before, point, after))))
    return corners


def d_plan(width: float, depth: float, radius: float, straight: str) -> list[Corner]:
    """A plan with one straight side, rounded at its two corners, and half a circle opposite, on straight sides where it
    is deeper than that; half an ellipse where it is shallower. Raises UnlikelyPlanError."""
    half, rise = 0.5 * width, min(depth, 0.5 * width)
    most = min(half, depth - rise)
    if radius > most:
        text = f"corners of {radius:g} mm radius do not fit: the sides run straight for {most:.0f} mm"
        raise UnlikelyPlanError("corner_radius", f"{text}; make it smaller, or the pad deeper")
    # An odd number, so that one stands at the centre.
    bow = _ellipse(half, rise, -math.pi, math.pi, ELLIPSE_CORNERS // 2 - 1)
    corners = even([*bow, Corner((half, depth), radius), Corner((-half, depth), radius)])
    return corners if straight == "rear" else turned(corners, depth)


def kidney_plan(width: float, depth: float, hollow: float, end_radius: float, drawn_in: str) -> list[Corner]:
    """Two round ends joined by a bow on the one side and a hollow, drawn in by `hollow` at its middle, on the other.

    Raises UnlikelyPlanError.
    """
    r, a = end_radius, 0.5 * width - end_radius
    if a <= 0.0 or depth <= 2.0 * r:
        text = f"ends of {r:g} mm radius do not fit a kidney of {width:g} x {depth:g} mm"
        raise UnlikelyPlanError("end_radius", f"{text}; make it less than {min(0.5 * width, 0.5 * depth):g} mm")
    if r < depth - 0.5 * width:
        text = f"between ends of {r:g} mm radius a kidney of {width:g} x {depth:g} mm bulges beyond its width"
        raise UnlikelyPlanError("end_radius", f"{text}; make it {math.ceil(depth - 0.5 * width):g} mm at least")
    if hollow >= depth - LEAST_MIDDLE_MM:
        text = f"drawn in by {hollow:g} mm a kidney of {depth:g} mm depth has no middle"
        raise UnlikelyPlanError("hollow", f"{text}; make the hollow smaller")
    inner = (a * a + hollow * hollow) / (2.0 * hollow) - r
    if inner <= 0.0 or a <= hollow:
        text = f"a hollow of {hollow:g} mm does not fit between ends of {r:g} mm radius, {2 * a:g} mm apart"
        raise UnlikelyPlanError("hollow", f"{text}; make it or end_radius smaller")
    outer = (a * a + (depth - 2.0 * r) ** 2) / (2.0 * (depth - 2.0 * r)) + r
    top, bow_y, hollow_y = depth - r, outer, depth - hollow + inner
    # Angles of the outward normal where the right end takes over from the bow, and hands over to the hollow.
    begin = math.atan2(top - bow_y, a)
    end = math.atan2(hollow_y - top, -a)
    arcs = [
        Arc((0.0, bow_y), outer, -math.pi - begin, math.pi + 2.0 * begin),
        Arc((a, top), r, begin, end - begin),
        Arc((0.0, hollow_y), inner, end, -2.0 * (end - 0.5 * math.pi)),
        Arc((-a, top), r, math.pi - end, end - begin),
    ]
    corners = even([corner for arc in arcs for corner in arc_corners(arc)])
    return corners if drawn_in == "rear" else turned(corners, depth)


def even(corners: Sequence[Corner]) -> list[Corner]:
    """A plan that is the same left and right but for rounding, its left half the exact image of its right one."""
    tiny = 1e-9 * max(abs(c.at[0]) for c in corners)
    first = next(k for k in range(len(corners)) if corners[k].at[0] > tiny and corners[k - 1].at[0] <= tiny)
    turn = [*corners[first - 1 :], *corners[: first - 1]] if first else [corners[-1], *corners[:-1]]
    front = [turn[0]._replace(at=(0.0, turn[0].at[1]))] if abs(turn[0].at[0]) <= tiny else []
    right = [c for c in turn if c.at[0] > tiny]
    rear = [c._replace(at=(0.0, c.at[1])) for c in turn[1:] if abs(c.at[0]) <= tiny]
    return [*front, *right, *rear, *(c._replace(at=(-c.at[0], c.at[1])) for c in reversed(right))]


def turned(corners: Sequence[Corner], depth: float) -> list[Corner]:
    """A plan of so much depth with front and rear exchanged."""
    return [corner._replace(at=(corner.at[0], depth - corner.at[1])) for corner in reversed(corners)]


def traced_plan(corners: Sequence[Corner]) -> list[Corner]:
    """A closed fair curve through traced points, run counter-clockwise: a cubic spline between those that stand at a
    corner, which are points with a radius or with a turn of more than 30 degrees."""
    count = len(corners)
    turns = [turn_at(corners[k - 1].at, corners[k].at, corners[(k + 1) % count].at) for k in range(count)]
    hard = [k for k in range(count) if corners[k].radius > 0.0 or abs(turns[k]) > CORNER_TURN_RAD]
    cuts = [c.radius * math.tan(0.5 * abs(turn)) for c, turn in zip(corners, turns, strict=True)]
    if not hard:
        return _rounded(_followed([c.at for c in corners], closed=True), {})
    plan: list[Corner] = []
    for n, first in enumerate(hard):
        last = hard[(n + 1) % len(hard)] + (count if n + 1 == len(hard) else 0)
        run = [corners[k % count].at for k in range(first, last + 1)]
        plan.append(corners[first])
        if len(run) > 2:
            # Within a corner's own arc the curve has no points.
            ends = [(corners[k % count].at, cuts[k % count]) for k in (first, last)]
            inner = _followed(run, closed=False)
            plan += [c for c in inner if all(math.dist(c.at, at) > CLEAR * cut for at, cut in ends)]
    return _rounded(plan, {corners[k].at: cuts[k] for k in hard})


def _followed(points: Sequence[Point], *, closed: bool) -> list[Corner]:
    """Corners along the cubic spline through points; its ends, when it is not closed, are left out."""
    through = np.array([*points, points[0]] if closed else points, dtype=np.float64)
    chord = np.concatenate([[0.0], np.cumsum(np.sqrt(np.linalg.norm(np.diff(through, axis=0), axis=1)))])
    spline = CubicSpline(chord, through, bc_type="periodic" if closed else "natural")
    at = [np.array([0.0])]
    for low, high in pairwise(chord):
        dense = np.linspace(low, high, 201)
        turn = np.concatenate([[0.0], np.cumsum(np.abs(_turns(spline(dense, 1))))])
        length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(spline(dense), axis=0), axis=1))])
        effort = turn / TRACED_STEP_RAD + length / TRACED_STEP_MM
        # Every traced point is a corner, so that where a trace begins and which way it runs make no difference.
        at.append(np.interp(np.linspace(0.0, effort[-1], math.ceil(effort[-1]) + 1)[1:], effort, dense))
    places = np.concatenate(at)
    path = np.round(spline(places[:-1] if closed else places), PLACED_DIGITS)
    return _circumscribed(path, closed=closed)


def _turns(way: FloatArray) -> FloatArray:
    angle = np.arctan2(way[:, 1], way[:, 0])
    return np.mod(np.diff(angle) + np.pi, 2.0 * np.pi) - np.pi


def _circumscribed(path: FloatArray, *, closed: bool) -> list[Corner]:
    """Points of a curve as corners that lie so far outside it that their rounded outline runs along it."""
    count = len(path)
    corners = []
    for k in range(count) if closed else range(1, count - 1):
        before, here, after = path[k - 1], path[k], path[(k + 1) % count]
        turn = turn_at(tuple(before), tuple(here), tuple(after))
        short = min(math.dist(before, here), math.dist(here, after))
        across = after - before
        outward = np.array([across[1], -across[0]]) / np.linalg.norm(across)
        moved = here + outward * (short * turn / 8.0)
        x, y = np.round(moved, PLACED_DIGITS)
        corners.append(Corner((float(x), float(y)), 0.0))
    return corners


def _rounded(plan: Sequence[Corner], cuts: Mapping[Point, float]) -> list[Corner]:
    """The corners of a bow with the radius their runs leave room for; cuts: what others take of these."""
    done = []
    for k, corner in enumerate(plan):
        if corner.at in cuts:
            done.append(corner)
            continue
        near = (plan[k - 1].at, plan[(k + 1) % len(plan)].at)
        turn = turn_at(near[0], corner.at, near[1])
        room = min(SHARED * (math.dist(corner.at, at) - cuts.get(at, 0.0)) for at in near)
        radius = round(room / math.tan(0.5 * abs(turn)), PLACED_DIGITS) if abs(turn) > 1e-6 else 0.0
        done.append(corner._replace(radius=radius))
    return done


def run_together(corners: Sequence[Corner], sides: Sequence[str]) -> tuple[list[Corner], list[str]]:
    """Corner arcs between which no run is left, as on a stool with corners as round as it is wide, as one bow.

    sides: name of the run after every corner. Both results have more entries than what was given where such arcs are.
    """
    count = len(corners)
    points = [c.at for c in corners]
    turns = [turn_at(points[k - 1], points[k], points[(k + 1) % count]) for k in range(count)]
    cuts = [c.radius * math.tan(0.5 * abs(turn)) for c, turn in zip(corners, turns, strict=True)]
    left = [math.dist(points[k], points[(k + 1) % count]) - cuts[k] - cuts[(k + 1) % count] for k in range(count)]
    plan: list[Corner] = []
    names: list[str] = []
    for k, corner in enumerate(corners):
        stub = min(left[k], left[k - 1]) < STUB_MM and abs(turns[k]) > CORNER_TURN_RAD and corner.radius > 0.0
        own = _parted(corner, points[k - 1], turns[k], cuts[k]) if stub else [corner]
        plan += own
        half = len(own) // 2
        names += [sides[k - 1]] * half + [sides[k]] * (len(own) - half)
    return plan, names


def _parted(corner: Corner, before: Point, turn: float, cut: float) -> list[Corner]:
    """One corner's arc as several."""
    away = math.dist(before, corner.at)
    way = ((corner.at[0] - before[0]) / away, (corner.at[1] - before[1]) / away)
    start = (corner.at[0] - cut * way[0], corner.at[1] - cut * way[1])
    normal = (way[1], -way[0])
    reach = math.copysign(corner.radius, turn)
    centre = (start[0] - reach * normal[0], start[1] - reach * normal[1])
    parts = arc_corners(Arc(centre, corner.radius, math.atan2(normal[1], normal[0]), turn))
    return [part._replace(number=corner.number) for part in parts]
