"""The tack line: how far down every side the cover goes, from one drop, from drops at several places, or from a plane.

Frames have straight bottoms, so where the rim is known one drop of a side is read at its middle, and from there the
tack line runs straight while the rim above it may not; where the rim only follows the profiles, so does the tack line.
Several drops are joined by a fair curve; a side that stands on the base plane goes down to it. A cover that turns far
round its edge, past PLUMB_DEG, comes back under or behind the pad: there the tack line runs parallel to the rim.
How it goes on round the corner to an upright side: `turned_corner`. Lengths mm, angles rad.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicHermiteSpline

from meshes.base.arrays import BoolArray, FloatArray
from meshes.base.plane import Point
from meshes.numerics.profile import fair_slopes
from meshes.outlines.rounded import RoundedOutline
from meshes.outlines.turned_corner import LEAST_STRAIGHT_MM
from meshes.records.frame import BasePlane
from meshes.records.pad import SIDES, Pad, Side
from meshes.support.face import Face
from meshes.support.rim import rimmed

# The tack line is known at places of the outline this close.
TACK_STEP_MM = 2.0
# Turns within which a side goes down steeply enough for its tack line to be straight.
PLUMB_DEG = (60.0, 120.0)
# A rim that departs from straight by less than this has a straight tack line anyway.
STRAIGHT_RIM_MM = 0.05

PerPlace = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True, eq=False)
class TackLine:
    """u (n,): places of the outline; straight (n,): how far the side goes straight down below its turn there; by_side:
    the same as each side by itself has it, (n,); own (n,): name of the side each place belongs to."""

    u: FloatArray
    straight: FloatArray
    by_side: dict[str, FloatArray]
    own: tuple[str, ...]

    def at(self, period: float, side: str | None = None) -> PerPlace:
        """How far straight down at any place of an outline of that period; side: as that side by itself has it."""
        straight = self.straight if side is None else np.maximum(self.by_side[side], LEAST_STRAIGHT_MM)
        return lambda u: np.interp(np.mod(u, period), self.u, straight, period=period)


@dataclass(frozen=True, eq=False)
class _RimPath:
    """The rim along the outline: u (n,), plan (n, 2), height (n,), its best plane's (n,) and its length up to there."""

    u: FloatArray
    plan: FloatArray
    normal: FloatArray
    height: FloatArray
    plane: FloatArray
    length: FloatArray


def tack_line(pad: Pad, outline: RoundedOutline) -> TackLine | None:
    """The tack line of a pad; None where every side simply has its drop all along."""
    frame = pad.frame
    known = rimmed(pad)
    straight = frame.tack == "straight" or (frame.tack is None and known.fair)
    if frame.base is None and not frame.drops and not straight:
        return None
    rim = _rim(known.face, outline)
    if frame.base is None and not frame.drops and np.ptp(rim.height - rim.plane) < STRAIGHT_RIM_MM:
        return None
    own = _owners(outline, rim.u)
    by_side = {s: _of_side(pad, s, rim, np.array(own) == s, straight=straight) for s in SIDES}
    total = np.zeros(len(rim.u))
    for s in SIDES:
        total += outline.blend({t: float(t == s) for t in SIDES})(rim.u) * by_side[s]
    return TackLine(rim.u, np.maximum(total, LEAST_STRAIGHT_MM), by_side, own)


def below_turn(side: Side) -> float:
    """What is left of a side's drop below its turn."""
    return max(side.drop - side.lead, LEAST_STRAIGHT_MM)


def _rim(face: Face, outline: RoundedOutline) -> _RimPath:
    u = outline.samples(TACK_STEP_MM)
    plan = outline.point(u)
    height = face.height(plan)
    middle = plan.mean(axis=0)
    slope = np.linalg.lstsq(plan - middle, height - height.mean(), rcond=None)[0]
    steps = np.linalg.norm(np.diff(plan, axis=0), axis=1)
    length = np.concatenate([[0.0], np.cumsum(steps)])
    return _RimPath(u, plan, outline.normal(u), height, height.mean() + (plan - middle) @ slope, length)


def _owners(outline: RoundedOutline, u: FloatArray) -> tuple[str, ...]:
    """The side every place belongs to, parted in the middle of corners."""
    count = len(outline.sides)
    return tuple(outline.sides[(int(place // 2) - (place % 2.0 < 0.5)) % count] for place in u)


def _of_side(pad: Pad, name: str, rim: _RimPath, own: BoolArray, *, straight: bool) -> FloatArray:
    """How far straight down one side goes, at every place of the rim (n,), carried on beyond its own ones."""
    side, frame = pad.sides[name], pad.frame
    plumb = PLUMB_DEG[0] <= side.turn_deg <= PLUMB_DEG[1]
    if frame.base is not None and name in frame.based and plumb:
        return _to_plane(side, frame.base, rim)
    drops = frame.drops_of(name)
    if drops:
        return _through(side, name, drops, rim, own)
    down = below_turn(side)
    if not (plumb and straight):
        return np.full(len(rim.u), down)
    left = rim.height - rim.plane
    lengths = _centred(rim.length, own)
    order = np.argsort(lengths[own])
    at_middle = float(np.interp(0.0, lengths[own][order], left[own][order]))
    slope = float(lengths[own] @ (left[own] - at_middle) / max(float(lengths[own] @ lengths[own]), 1e-300))
    # Beyond its own end a side's straight line is carried on no further than its corner reaches.
    reach = np.clip(lengths, lengths[own].min(), lengths[own].max())
    line = at_middle + slope * reach
    return np.asarray(down + (left - line) / np.sin(np.deg2rad(side.turn_deg)))


def _centred(length: FloatArray, own: BoolArray) -> FloatArray:
    """Lengths along the rim counted from the middle of one side's places, nearest way round."""
    whole = length[-1] + TACK_STEP_MM
    first = int(np.flatnonzero(own & ~np.roll(own, 1))[0])
    ahead = np.mod(length - length[first], whole)
    middle = 0.5 * float(ahead[own].max())
    return np.asarray(np.mod(ahead - middle + 0.5 * whole, whole) - 0.5 * whole)


def _to_plane(side: Side, base: BasePlane, rim: _RimPath) -> FloatArray:
    """Straight down to a plane, which the side meets where it has come to by then."""
    turn, radius = np.deg2rad(side.turn_deg), side.edge_radius
    begun = rim.plan + rim.normal * (radius * (np.sin(turn) - 1.0))
    onward = base.at(begun + rim.normal) - base.at(begun)
    height = rim.height - radius * (1.0 - np.cos(turn)) - base.at(begun)
    return np.asarray(height / (np.sin(turn) + onward * np.cos(turn)))


def _run_out(past: FloatArray, most: float) -> FloatArray:
    """How far lengths past a last reading (n,), 0 or more, count: whole up to half of `most`, then less and less, and
    from one and a half of it on no more than that. What was read of a stretch says nothing of places far from it."""
    eased = most - 0.5 * (1.5 * most - np.minimum(past, 1.5 * most)) ** 2 / most
    return np.asarray(np.where(past <= 0.5 * most, past, eased))


def _through(side: Side, name: str, drops: tuple[Point, ...], rim: _RimPath, own: BoolArray) -> FloatArray:
    """Down by drops measured at places along the side; the tack line itself, not the drop, is fair between them, and
    beyond the last ones runs on as it came, but not far."""
    axis = 0 if name in ("front", "rear") else 1
    sine = float(np.sin(np.deg2rad(side.turn_deg)))
    order = np.argsort(rim.plan[own, axis], kind="stable")
    place, height = rim.plan[own, axis][order], rim.height[own][order]
    x = np.array([p for p, _ in drops])
    down = np.array([max(d - side.lead, LEAST_STRAIGHT_MM) for _, d in drops])
    tack = np.interp(x, place, height) - down * sine
    if len(x) == 1:
        return np.asarray((rim.height - tack[0]) / sine)
    slopes = fair_slopes(x, tack[:, None])[:, 0]
    at = np.clip(rim.plan[:, axis], place[0], place[-1])
    inner = np.clip(at, x[0], x[-1])
    curve = CubicHermiteSpline(x, tack, slopes)
    steps = np.diff(x)
    past = np.where(at < x[0], -_run_out(inner - at, 0.5 * steps[0]), _run_out(at - inner, 0.5 * steps[-1]))
    line = curve(inner) + curve.derivative()(inner) * past
    return np.asarray((rim.height - line) / sine)
