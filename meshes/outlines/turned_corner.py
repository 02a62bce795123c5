"""The corner where a side that turns past a quarter turn meets an upright one.

There turn and length follow from the tack line, not it from them: a turn passed on by itself sends the cover down
before it brings it back, and the tack line stands out in a horn. Seen square on, the tack lines of both sides are
joined by an arc that ends where the turned-over side begins, and begins on the run of the upright side. All come in
within the corner's own arc, the cover would turn off the upright side at once, and its band stand out in a shoulder.
Lengths mm, angles rad.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import BoolArray, FloatArray
from meshes.numerics.smooth import smooth_step
from meshes.outlines.rounded import RoundedOutline
from meshes.outlines.side_ramps import BOW_TURN_RAD

# A short drop cannot hold the whole turn; what is left of it below the turn is never less than this.
LEAST_STRAIGHT_MM = 1.0
# Round a corner the cover comes no nearer than this share of its distance elsewhere to the middle it is drawn round: a
# flatter curve would have to be followed within a few degrees.
FLATTEST = 1.0 / 3.0
# The cover begins to come in before the corner: by no more than this share of its radius, where the arc's beginning
# would show in it as a crease, and of the side's run, which two corners share.
AHEAD, RUN_SHARE = 0.1, 0.5
# Ends as far in as each other, by which no share of the way can be told.
TOLD_APART_MM = 1e-3


@dataclass(frozen=True, eq=False)
class SideSection:
    """Section of a bare frame square to its rim: radius of the edge, turn of the cover round it, and straight length
    below the turn, (n,) each."""

    radius: FloatArray
    turn: FloatArray
    straight: FloatArray

    @property
    def end(self) -> tuple[FloatArray, FloatArray]:
        """How far outside the rim and how far below it the section ends, (n,) each."""
        sine, cosine = np.sin(self.turn), np.cos(self.turn)
        aside = self.radius * (sine - 1.0) + self.straight * cosine
        return aside, self.radius * (1.0 - cosine) + self.straight * sine

    def ending(self, aside: FloatArray, below: FloatArray) -> "SideSection":
        """The same edge with the turn and the straight length that lead to such an end."""
        x, y = aside + self.radius, below - self.radius
        straight = np.sqrt(np.maximum(x * x + y * y - self.radius**2, LEAST_STRAIGHT_MM**2))
        # Seen from the middle of the turn, the straight run begins a quarter turn behind the way it leads.
        return SideSection(self.radius, np.arctan2(y, x) + np.arctan2(self.radius, straight), straight)

    def some(self, chosen: BoolArray) -> "SideSection":
        """The sections of some places."""
        return SideSection(self.radius[chosen], self.turn[chosen], self.straight[chosen])


def round_corners(
    outline: RoundedOutline,
    sides: Mapping[str, Callable[[FloatArray], SideSection]],
    blended: SideSection,
    u: FloatArray,
) -> SideSection:
    """Sections at places u (n,) with fair tack lines from sides that turn past a quarter turn to their neighbours.

    sides: the section each side by itself has at any places; blended: with every quantity blended by itself.
    """
    turn, straight = np.array(blended.turn), np.array(blended.straight)
    for k, after in enumerate(outline.sides):
        before = outline.sides[k - 1]
        if before == after or abs(outline.sweep_rad[k]) < BOW_TURN_RAD:
            continue
        # Each side's own section where it meets the arc.
        met = [sides[s](np.array([2.0 * k + f])) for s, f in ((before, 0.0), (after, 1.0))]
        if not _comes_back(met[0].turn, met[1].turn):
            continue
        turned_last = bool(met[1].turn[0] > met[0].turn[0])
        way = _way(outline, k, u, turned_last=turned_last)
        names = (before, after) if turned_last else (after, before)
        ends = [section.end[0][0] for section in (met if turned_last else met[::-1])]
        line = _joined(way, *ends) or _by_ellipse(way, *ends)
        upright, over = (sides[name](u[line.own]) for name in names)
        aside = line.aside + (1.0 - line.share) * (upright.end[0] - ends[0]) + line.share * (over.end[0] - ends[1])
        below = upright.end[1] + line.share * (over.end[1] - upright.end[1])
        found = blended.some(line.own).ending(aside, below)
        turn[line.own], straight[line.own] = found.turn, found.straight
    return SideSection(blended.radius, turn, straight)


def _comes_back(one: FloatArray, two: FloatArray) -> bool:
    """Whether one of two turns goes past a quarter turn, and the other one differs."""
    high, low = float(np.max([one, two])), float(np.min([one, two]))
    return high > 0.5 * np.pi + 1e-9 and high - low > 1e-9


@dataclass(frozen=True, eq=False)
class _CornerWay:
    """Places from an upright side's run round a corner to where the turned-over side begins. radius: negative at a
    hollow corner; sweep_rad: of the arc; room_mm: of the run that the corner may take; before_mm (n,): how far before
    the arc, infinite off that run; angle (n,): turned through along the arc, not a number off it."""

    radius: float
    sweep_rad: float
    room_mm: float
    before_mm: FloatArray
    angle: FloatArray


@dataclass(frozen=True, eq=False)
class _TackWay:
    """A tack line round a corner. own (n,): which places it is for; aside (k,): of those, how far outside the rim it
    lies; share (k,): how much of the way from one side to the other is done."""

    own: BoolArray
    aside: FloatArray
    share: FloatArray


def _way(outline: RoundedOutline, corner: int, u: FloatArray, *, turned_last: bool) -> _CornerWay:
    place, sweep = np.mod(u, outline.period), abs(float(outline.sweep_rad[corner]))
    run = (2 * corner - 1) % int(outline.period) if turned_last else 2 * corner + 1
    length = float(outline.lengths[run])
    done, left = place - 2.0 * corner, place - run
    if turned_last:
        left = 1.0 - left
    else:
        done = 1.0 - done
    angle = np.where(np.floor(place) == 2 * corner, np.clip(done, 0.0, 1.0) * sweep, np.nan)
    before = np.where(np.floor(place) == run, left * length, np.inf)
    room = min(RUN_SHARE * length, AHEAD * float(outline.radii[corner]))
    return _CornerWay(float(outline.signed_radii[corner]), sweep, room, before, angle)


def _joined(way: _CornerWay, upright: float, over: float) -> _TackWay | None:
    """Both tack lines joined by an arc; None at a hollow corner, and where an ellipse about its middle is rounder.
    upright, over: how far outside the rim the sides end where they meet the corner.

    Seen square on, (x, y) about the middle of the corner's arc, x outward from the upright side and y on along it, the
    tack lines are x = far and x cos(sweep) + y sin(sweep) = near; the arc touches both.
    """
    if way.radius <= 0.0:
        return None
    far, near, shift = _distances(way.radius + upright, way.radius + over)
    cosine, sine = np.cos(way.sweep_rad), np.sin(way.sweep_rad)
    # It ends on the corner's arc, and begins within the room there is on the run.
    most = far - cosine * near, near - cosine * far + way.room_mm * sine
    radius = min(most) / (1.0 - cosine)
    if radius < near**2 / far:
        return None
    x, y = far - radius, (near - radius - cosine * (far - radius)) / sine
    own = np.isfinite(way.angle) | (-way.before_mm > y)
    on_arc = np.isfinite(way.angle[own])
    ray = np.where(on_arc, way.angle[own], 0.0)
    to_middle = x * np.cos(ray) + y * np.sin(ray)
    out = to_middle + np.sqrt(np.maximum(to_middle**2 - x * x - y * y + radius**2, 0.0))
    turned = np.arctan2(out * np.sin(ray) - y, out * np.cos(ray) - x)
    # Counted about the arc's own middle: what lies far past its end must not pass for what lies before it.
    half = 0.5 * way.sweep_rad
    turned = half + np.mod(turned - half + np.pi, 2.0 * np.pi) - np.pi
    # Before and past the arc that joins them the tack lines run straight.
    out = np.where(turned < 0.0, far / np.cos(ray), out)
    out = np.where(turned > way.sweep_rad, near / np.cos(way.sweep_rad - ray), out)
    on_run = np.clip(-np.where(on_arc, 0.0, way.before_mm[own]) - y, 0.0, radius) / radius
    out = np.where(on_arc, out, x + radius * np.sqrt(1.0 - on_run**2))
    # The depth changes with the arc, which turns the padding, and all along the corner, where more padding may begin:
    # with the one alone the line dips towards the turned-over side, with the other it stands out before it.
    turned = np.where(on_arc, np.clip(turned, 0.0, way.sweep_rad), np.arcsin(on_run)) / way.sweep_rad
    begins = max(-y, 0.0)
    along = begins + np.where(on_arc, way.radius * ray, -np.where(on_arc, 0.0, way.before_mm[own]))
    along /= begins + way.radius * way.sweep_rad
    share = 0.5 * (np.sin(0.5 * np.pi * turned) ** 2 + np.sin(0.5 * np.pi * along) ** 2)
    return _TackWay(own, out - shift - way.radius, share)


def _by_ellipse(way: _CornerWay, upright: float, over: float) -> _TackWay:
    """Both tack lines joined within the corner's arc by an ellipse about its middle. The depth changes in step with how
    far the line has come in: padding square to a cover that comes in sooner would stand out below both sides."""
    out = -1.0 if way.radius < 0.0 else 1.0
    radius = abs(way.radius)
    far, near, shift = _distances(radius + out * upright, radius + out * over)
    own = np.isfinite(way.angle)
    share = smooth_step(way.angle[own] / way.sweep_rad)
    # An ellipse in polar form; over a right angle the smooth step is the square of the sine to a hundredth.
    drawn = ((1.0 - share) / far**2 + share / near**2) ** -0.5
    done = (drawn - far) / (near - far) if abs(near - far) > TOLD_APART_MM else share
    return _TackWay(own, out * (drawn - shift - radius), done)


def _distances(upright: float, over: float) -> tuple[float, float, float]:
    """How far from the middle of the arc both ends are taken to lie, and by how much that is more than they do."""
    high, low = max(upright, over), min(upright, over)
    shift = max(FLATTEST * high - low, 0.0) / (1.0 - FLATTEST)
    return upright + shift, over + shift, shift
