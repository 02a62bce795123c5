"""The rounded outline of a pad seen square on: straight runs joined by corner arcs, walked counter-clockwise.

A place on the outline is a single number u. Corner k of the polygon owns u in [2 k, 2 k + 1] (its arc), the straight
run from corner k to corner k + 1 owns [2 k + 1, 2 k + 2]. The outward normal turns evenly along an arc, also along an
arc of radius zero, so that directions fan round a sharp corner. Where two arcs meet, the straight run between them has
no length; it owns its u, but no point is ever said to lie there. Lengths are mm.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import BoolArray, FloatArray, IntArray, locked_floats
from meshes.numerics.smooth import smooth_step
from meshes.outlines.side_ramps import BOW_TURN_RAD, side_ramps

# A run between two arcs shorter than this has no length but for rounding.
NO_RUN_MM = 1e-6


@dataclass(frozen=True, eq=False)
class RoundedOutline:
    """A closed polygon with rounded corners.

    centres (k, 2), radii (k,) of the corner arcs; start_rad (k,) the angle of the outward normal where each arc
    begins and sweep_rad (k,) how far it turns (negative at a hollow corner); sides: side name of every straight run.
    """

    centres: FloatArray
    radii: FloatArray
    start_rad: FloatArray
    sweep_rad: FloatArray
    sides: tuple[str, ...]

    @property
    def period(self) -> float:
        """u runs from 0 to here and begins again."""
        return 2.0 * len(self.radii)

    def _split(self, u: FloatArray) -> tuple[IntArray, IntArray, FloatArray]:
        u = np.mod(np.asarray(u, dtype=np.float64), self.period)
        element = np.minimum(u.astype(np.int64), 2 * len(self.radii) - 1)
        return element // 2, element % 2, u - element

    def normal(self, u: FloatArray) -> FloatArray:
        """Outward unit normal, shape (n, 2)."""
        corner, straight, f = self._split(u)
        angle = self.start_rad[corner] + np.where(straight == 1, 1.0, f) * self.sweep_rad[corner]
        return np.stack([np.cos(angle), np.sin(angle)], axis=-1)

    def point(self, u: FloatArray) -> FloatArray:
        """Point of the outline, shape (n, 2) mm."""
        corner, straight, f = self._split(u)
        here = self.centres[corner] + self.signed_radii[corner, None] * self.normal(u)
        after = (corner + 1) % len(self.radii)
        begin = self.start_rad[after]
        there = self.centres[after] + self.signed_radii[after, None] * np.stack([np.cos(begin), np.sin(begin)], -1)
        return here + np.where(straight == 1, f, 0.0)[..., None] * (there - here)

    @property
    def signed_radii(self) -> FloatArray:
        """Radii, negative at hollow corners: point = centre + signed radius x outward normal."""
        return np.where(self.sweep_rad < 0, -self.radii, self.radii)

    def nearest(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Place u of the nearest point of the outline and how far inside it each point lies (negative: outside).

        points (n, 2); both results have shape (n,). Exact for straight runs and arcs.
        """
        best = np.full(len(points), np.inf)
        u, inside = np.zeros(len(points)), np.zeros(len(points))
        for element in np.flatnonzero(self.is_long):
            place, depth, distance = self._to_element(points, int(element))
            closer = distance < best - 1e-12
            best[closer], u[closer], inside[closer] = distance[closer], place[closer], depth[closer]
        return u, inside

    def _to_element(self, points: FloatArray, element: int) -> tuple[FloatArray, FloatArray, FloatArray]:
        if element % 2 == 0:
            return self._to_arc(points, element // 2)
        ends = self.point(np.array([element + 1e-15, element + 1.0 - 1e-12]))
        along = ends[1] - ends[0]
        length2 = max(float(along @ along), 1e-300)
        free = (points - ends[0]) @ along / length2
        f = np.clip(free, 0.0, 1.0 - 1e-12)
        away = points - (ends[0] + f[:, None] * along)
        normal = self.normal(np.array([element + 0.5]))[0]
        depth, reach = -(away @ normal), np.linalg.norm(away, axis=1)
        # Outside, past an end, a point is as far out as that end is away.
        return element + f, np.where((f != free) & (depth < 0.0), -reach, depth), reach

    def _to_arc(self, points: FloatArray, corner: int) -> tuple[FloatArray, FloatArray, FloatArray]:
        sweep, radius = self.sweep_rad[corner], self.signed_radii[corner]
        away = points - self.centres[corner]
        angle = np.arctan2(away[:, 1], away[:, 0]) + (0.0 if radius >= 0 else np.pi)
        offset = np.mod(angle - self.start_rad[corner] - 0.5 * sweep + np.pi, 2 * np.pi) - np.pi
        f = offset / sweep + 0.5 if abs(sweep) > 1e-12 else np.full(len(points), 0.5)
        reach = np.linalg.norm(away, axis=1)
        depth = radius - reach if radius >= 0 else reach - self.radii[corner]
        f = np.where(reach < 1e-9, 0.5, f)
        # Rounding must not hand a point at the very end of an arc to the far run.
        within = (f >= -1e-9) & (f <= 1 + 1e-9)
        return 2.0 * corner + np.clip(f, 0.0, 1.0 - 1e-12), depth, np.where(within, np.abs(depth), np.inf)

    @property
    def lengths(self) -> FloatArray:
        """Length of every arc and run, (2 k,) mm, in the order of u."""
        ends = self.point(np.arange(self.period))
        after = np.roll(ends, -1, axis=0)
        lengths = np.linalg.norm(after - ends, axis=1)
        lengths[0::2] = np.abs(self.sweep_rad) * self.radii
        return lengths

    @property
    def is_long(self) -> BoolArray:
        """Which arcs and runs points can lie on, (2 k,): all but runs of no length between two arcs."""
        return self._long(self.lengths)

    def _long(self, lengths: FloatArray) -> BoolArray:
        long = lengths > NO_RUN_MM
        long[0::2] = True
        return long

    def corner_between(self, before: str, after: str) -> float:
        """Place u in the middle of the corner where side `before` ends and `after` begins."""
        for k, side in enumerate(self.sides):
            if self.sides[k - 1] == before and side == after:
                return 2.0 * k + 0.5
        raise KeyError(f"no corner between {before} and {after}")

    def side_line(self, side: str) -> FloatArray:
        """Points (n, 2) mm along a side: its runs and the bows between and beside them, without the arcs of the corners
        at its ends. Dense enough for distances to a hundredth of a millimetre."""
        own = [k for k, name in enumerate(self.sides) if name == side and self.sides[k - 1] != side]
        count = len(self.radii)
        first = own[0]
        last = next(k for k in range(first, first + count) if self.sides[(k + 1) % count] != side) + 1
        bow = np.abs(self.sweep_rad) < BOW_TURN_RAD
        begin = 2.0 * first + (0.5 if bow[first] else 1.0)
        end = 2.0 * last + (0.5 if bow[last % count] else 0.0)
        u = self.samples(1.0, arcs_only=True)
        every = np.concatenate([u, u + self.period])
        inner = every[(every > begin) & (every < end)]
        return self.point(np.concatenate([[begin], inner, [end - 1e-12]]))

    def blend(self, values: Mapping[str, float]) -> Callable[[FloatArray], FloatArray]:
        """A quantity given per side as a smooth function of u: constant along a side and blended over the arc of the
        corner where two sides part; where they part in a bow, evenly with the turn of that bow, up to their middles."""
        ramps = side_ramps(self.sides, self.sweep_rad, self.lengths)
        here = np.array([values[ramp.before] for ramp in ramps])
        more = np.array([values[ramp.after] for ramp in ramps]) - here
        # Ramps follow each other round the outline: how many are passed, and the share of the way on the one that is
        # not, are read from one line.
        places = np.concatenate([*(ramp.u[:-1] for ramp in ramps), ramps[-1].u[-1:]])
        passed = np.concatenate([*(k + ramp.share[:-1] for k, ramp in enumerate(ramps)), [float(len(ramps))]])

        def at(u: FloatArray) -> FloatArray:
            u = np.asarray(u, dtype=np.float64)
            if not more.any():
                return np.full(u.shape, here[0])
            way = np.interp(places[0] + np.mod(u - places[0], self.period), places, passed)
            ramp = np.minimum(way.astype(np.int64), len(ramps) - 1)
            return np.asarray(here[ramp] + smooth_step(way - ramp) * more[ramp])

        return at

    def mirrored(self, u: FloatArray) -> FloatArray:
        """Place that mirrors u in the line x = 0, for an outline that is the same left and right."""
        middle = self.point(np.arange(0.5, self.period, 2.0))
        partner = np.argmin(np.linalg.norm(middle[:, None] * np.array([-1.0, 1.0]) - middle[None], axis=2), axis=1)
        corner, straight, f = self._split(u)
        begin = np.where(straight == 1, partner[(corner + 1) % len(self.radii)], partner[corner])
        return np.asarray(2.0 * begin + straight + 1.0 - f)

    def samples(self, step_mm: float, *, arcs_only: bool = False) -> FloatArray:
        """Increasing u, dense enough that neighbours are at most about `step_mm` apart and corners are resolved; with
        arcs_only nothing of runs but the begin."""
        lengths, arc = self.lengths, np.zeros(int(self.period))
        arc[0::2] = np.abs(self.sweep_rad)
        # What is a whole number of steps long but for rounding gets no step more.
        fine = np.ceil((1.0 - 1e-12) * lengths / step_mm)
        counts = np.maximum(np.maximum(fine, np.ceil(arc / np.deg2rad(3.0))), 1.0).astype(np.int64)
        if arcs_only:
            counts[1::2] = 1
        return np.concatenate([k + np.arange(counts[k]) / counts[k] for k in np.flatnonzero(self._long(lengths))])


class CornersTooRoundError(Exception):
    """Corner radii for which the runs between the corners are too short."""


def rounded_outline(
    corners: Sequence[tuple[float, float]], radii: Sequence[float], sides: Sequence[str]
) -> RoundedOutline:
    """Round a counter-clockwise polygon. corners (k, 2) mm, radii (k,) mm, sides: name of each run k -> k + 1.

    A corner without radius that turns less than 30 degrees is a point of a traced bow: it is rounded with the
    largest arc its neighbours leave room for. Raises CornersTooRoundError when the arcs do not fit their runs.
    """
    points = np.asarray(corners, dtype=np.float64)
    forward = np.roll(points, -1, axis=0) - points
    length = np.linalg.norm(forward, axis=1)
    heading = np.arctan2(forward[:, 1], forward[:, 0])
    before = np.roll(heading, 1)
    sweep = np.mod(heading - before + np.pi, 2 * np.pi) - np.pi
    radius = _fitting_radii(np.asarray(radii, dtype=np.float64), sweep, length)
    cut = radius * np.tan(0.5 * np.abs(sweep))
    normal = before - 0.5 * np.pi
    start = points - cut[:, None] * np.stack([np.cos(before), np.sin(before)], axis=-1)
    signed = np.where(sweep < 0, -radius, radius)
    centres = start - signed[:, None] * np.stack([np.cos(normal), np.sin(normal)], axis=-1)
    return RoundedOutline(
        locked_floats(centres),
        locked_floats(radius),
        locked_floats(normal),
        locked_floats(sweep),
        tuple(sides),
    )


def _fitting_radii(radii: FloatArray, sweep: FloatArray, length: FloatArray) -> FloatArray:
    """The radii (k,) of the corners, with those of bow points chosen; sweep (k,): turn at each corner, length (k,): of
    the run after it. Raises CornersTooRoundError."""
    radius, half_tangent = radii.copy(), np.tan(0.5 * np.abs(sweep))
    bow = (radius == 0) & (np.abs(sweep) < BOW_TURN_RAD) & (half_tangent > 1e-9)
    # Two bow points share the run between them; a given corner takes what it needs and leaves the rest.
    given = np.where(bow, 0.0, radius * half_tangent)
    ahead = np.where(np.roll(bow, -1), 0.5 * length, length - np.roll(given, -1))
    behind = np.where(np.roll(bow, 1), 0.5 * np.roll(length, 1), np.roll(length, 1) - np.roll(given, 1))
    room = np.maximum(np.minimum(ahead, behind), 0.0)
    radius[bow] = 0.98 * room[bow] / half_tangent[bow]
    cut = radius * half_tangent
    short = cut + np.roll(cut, -1) > length * (1 + 1e-9)
    if short.any():
        k = int(np.argmax(short))
        raise CornersTooRoundError(
            f"corner radii {radius[k]:.1f} and {radius[(k + 1) % len(radius)]:.1f} mm "
            f"do not fit a run of {length[k]:.1f} mm"
        )
    return radius
