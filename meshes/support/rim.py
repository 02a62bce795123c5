"""The rim of a pad's face: fixed where profiles reach it, fair along itself between them.

Profiles both ways say nothing of the corners between them: what their forms add up to there may lie far from any frame.
So the heights at which profiles reach the rim are joined along it, round the whole outline: a plane through them as
near as may be, and what is left of them as a fair closed curve over the length of the rim. Level ends give a level rim.
The face is brought to it by the surface of least bending that leaves the profiles alone (thin plate splines: Duchon
1977, "Splines minimizing rotation-invariant semi-norms in Sobolev spaces"). Lengths mm.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from scipy.interpolate import CubicHermiteSpline, RBFInterpolator, RectBivariateSpline

from meshes.base.arrays import FloatArray
from meshes.outlines.rounded import CornersTooRoundError, RoundedOutline, rounded_outline
from meshes.outlines.side_ramps import BOW_TURN_RAD
from meshes.records.built_up import BuiltUp
from meshes.records.frame import RimWord
from meshes.records.pad import Outline, Pad, Profile, mirrored_outline, mirrored_profile
from meshes.support.face import Face, RimField, fit_face, is_even
from meshes.support.profile import fair_slopes

# A profile reaches the rim when its last reading lies no further from it than this.
ENDS_WITHIN_MM = 20.0
# Two ends nearer to each other than this along the rim are one place, and contradict each other when their heights
# differ by more than a gauge reads.
ONE_PLACE_MM, SAME_HEIGHT_MM = 25.0, 2.0
# A rim that moves by less than this is left as it is.
MOVED_MM = 0.05
# The rim and the profiles are held at places about this far apart; the surface between is kept on a grid.
HELD_MM, FIELD_GRID_MM = 16.0, 8.0
# The grid reaches so far past the outline.
PAST_MM = 60.0


@dataclass(frozen=True, eq=False)
class Rimmed:
    """A face with its rim. fair: whether it runs fair between the ends of the profiles, not as their form carries it;
    moved_mm: by how much the rim lies from where the profiles' form carries it, at most, with
    its sign, and at (2,): where; contradicted: places (x, y) of the rim and how much two ends differ there."""

    face: Face
    fair: bool = False
    moved_mm: float = 0.0
    at: tuple[float, float] = (0.0, 0.0)
    contradicted: tuple[tuple[float, float, float], ...] = ()


def face_of(pad: Pad, built_up: BuiltUp | None = None) -> Face:
    """The face of a pad: what was measured, brought to its rim, and what is built up on it."""
    return replace(rimmed(pad).face, built_up=built_up)


def rimmed(pad: Pad) -> Rimmed:
    """The face of a pad with its rim, as measured: without what is built up on it."""
    return _rimmed(pad.outline, pad.profiles, is_even(pad), pad.frame.rim)


@lru_cache(maxsize=128)
def _rimmed(outline: Outline, profiles: tuple[Profile, ...], even: bool, rim: RimWord | None) -> Rimmed:
    """A face with its rim; of a pad and its mirror image one is computed: both have one rim to the last digit."""
    image = mirrored_outline(outline), tuple(mirrored_profile(p) for p in profiles)
    if even or _measures(*image) >= _measures(outline, profiles):
        return _found(outline, profiles, even, rim)
    other = _found(*image, even, rim)
    face = fit_face(profiles, symmetric=even)
    if other.face.rim is not None:
        face = replace(face, rim=replace(other.face.rim, flipped=True))
    x, y = other.at
    told = tuple((0.0 - x, y, apart) for x, y, apart in other.contradicted)
    return replace(other, face=face, at=(0.0 - x, y), contradicted=told)


def _measures(outline: Outline, profiles: Sequence[Profile]) -> str:
    return repr((outline, sorted(map(repr, profiles))))


def _found(outline: Outline, profiles: tuple[Profile, ...], even: bool, rim: RimWord | None) -> Rimmed:
    face = fit_face(profiles, symmetric=even)
    curve = _curve(outline)
    if not profiles or rim == "carried" or curve is None or (rim is None and not _crossing(profiles, curve)):
        return Rimmed(face)
    u = curve.samples(1.0)
    path = curve.point(np.append(u, u[0]))
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    ends = _ends(face, path, along)
    if not len(ends):
        return Rimmed(face)
    heights, contradicted = _joined(ends, path, along)
    moved = heights - face.height(path)
    worst = int(np.argmax(np.abs(moved)))
    if abs(moved[worst]) <= MOVED_MM:
        return Rimmed(face, True, contradicted=contradicted)
    field = _field(face, path, along, moved, even=even)
    at = (float(path[worst, 0]), float(path[worst, 1]))
    return Rimmed(replace(face, rim=field), True, float(moved[worst]), at, contradicted)


def _curve(outline: Outline) -> RoundedOutline | None:
    try:
        return rounded_outline(outline.corners, outline.radii, outline.side_of_edge)
    except CornersTooRoundError:
        # The chart tells it.
        return None


def _crossing(profiles: Sequence[Profile], curve: RoundedOutline) -> bool:
    """Whether profiles run both ways, or the plan has no straight side along which one could be carried on."""
    sides = curve.sides
    bows = all(abs(curve.sweep_rad[k]) < BOW_TURN_RAD for k in range(len(sides)) if sides[k - 1] != sides[k])
    return bows or len({profile.direction for profile in profiles}) > 1


def _ends(face: Face, path: FloatArray, along: FloatArray) -> FloatArray:
    """Where profiles reach the rim: (k, 2), length along the rim and height there."""
    found = []
    for axis, rows in ((0, face.along), (1, face.across)):
        for place, curve in rows:
            for at, length in _cut(path, along, axis, place):
                over = at[1 - axis]
                if curve.points[0, 0] - ENDS_WITHIN_MM <= over <= curve.points[-1, 0] + ENDS_WITHIN_MM:
                    found.append((length, float(curve.height(np.array(over)))))
    return np.array(sorted(found)).reshape(-1, 2)


def _cut(path: FloatArray, along: FloatArray, axis: int, place: float) -> list[tuple[FloatArray, float]]:
    """Where a closed path crosses a line at a place of one axis: point (2,) and length along the path."""
    off = path[:, axis] - place
    crossed = np.flatnonzero((off[:-1] < 0.0) != (off[1:] < 0.0))
    found = []
    for k in crossed:
        share = off[k] / (off[k] - off[k + 1])
        found.append((path[k] + share * (path[k + 1] - path[k]), float(along[k] + share * (along[k + 1] - along[k]))))
    return found


def _joined(
    ends: FloatArray, path: FloatArray, along: FloatArray
) -> tuple[FloatArray, tuple[tuple[float, float, float], ...]]:
    """Height of the rim at every point of its path, and where ends contradict each other."""
    whole = along[-1]
    groups: list[list[FloatArray]] = []
    for end in ends:
        if groups and end[0] - groups[-1][-1][0] < ONE_PLACE_MM:
            groups[-1].append(end)
        else:
            groups.append([end])
    if len(groups) > 1 and groups[0][0][0] + whole - groups[-1][-1][0] < ONE_PLACE_MM:
        groups[0] = [end - [whole, 0.0] for end in groups.pop()] + groups[0]
    places, heights, told = [], [], []
    for group in groups:
        rows = np.array(group)
        places.append(rows[:, 0].mean())
        heights.append(rows[:, 1].mean())
        if np.ptp(rows[:, 1]) > SAME_HEIGHT_MM:
            x, y = (float(np.interp(np.mod(places[-1], whole), along, path[:, axis])) for axis in (0, 1))
            told.append((x, y, float(np.ptp(rows[:, 1]))))
    s, h = np.array(places), np.array(heights)
    at = np.stack([np.interp(np.mod(s, whole), along, path[:, axis]) for axis in (0, 1)], axis=1)
    middle, mean = at.mean(axis=0), float(h.mean())
    # Of all planes that fit alike the one with the least slope.
    slope = np.linalg.lstsq(at - middle, h - mean, rcond=1e-3)[0]
    left = h - mean - (at - middle) @ slope
    return mean + (path - middle) @ slope + _closed(s, left, along), tuple(told)


def _closed(places: FloatArray, values: FloatArray, along: FloatArray) -> FloatArray:
    """A fair closed curve through values at places along a rim, at all lengths along it."""
    if len(places) == 1:
        return np.full(len(along), values[0])
    whole = along[-1]
    turns = np.arange(-2, 3)
    x = (places[None] + whole * turns[:, None]).ravel()
    y = np.tile(values, len(turns))
    return np.asarray(CubicHermiteSpline(x, y, fair_slopes(x, y[:, None])[:, 0])(along))


def _field(face: Face, path: FloatArray, along: FloatArray, moved: FloatArray, *, even: bool) -> RimField:
    """The surface of least bending that moves the rim as asked and leaves every profile where it is."""
    count = max(int(np.ceil(along[-1] / HELD_MM)), 24)
    lengths = np.arange(count) * along[-1] / count
    rim = np.stack([np.interp(lengths, along, path[:, axis]) for axis in (0, 1)], axis=1)
    held, values = [rim], [np.interp(lengths, along, moved)]
    for axis, rows in ((0, face.along), (1, face.across)):
        for place, _ in rows:
            cuts = sorted(float(at[1 - axis]) for at, _ in _cut(path, along, axis, place))
            if len(cuts) < 2:
                continue
            over = np.linspace(cuts[0], cuts[-1], max(int(np.ceil((cuts[-1] - cuts[0]) / HELD_MM)), 2) + 1)[1:-1]
            row = np.stack([np.full(len(over), place), over], axis=1)
            held.append(row if axis == 0 else row[:, ::-1])
            values.append(np.zeros(len(over)))
    at, wanted = _apart(np.concatenate(held), np.concatenate(values))
    plate = RBFInterpolator(at, wanted, kernel="thin_plate_spline", degree=1)
    low, high = path.min(axis=0) - PAST_MM, path.max(axis=0) + PAST_MM
    axes = [
        np.linspace(a, b, max(int(np.ceil((b - a) / FIELD_GRID_MM)), 8) + 1) for a, b in zip(low, high, strict=True)
    ]
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 2)
    heights = plate(grid).reshape(len(axes[0]), len(axes[1]))
    bounds = [(float(a[0]), float(a[-1])) for a in axes]
    spline = RectBivariateSpline(axes[0], axes[1], heights)
    return RimField(spline, (bounds[0][0], bounds[1][0]), (bounds[0][1], bounds[1][1]), even)


def _apart(points: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Points and their values without those that lie closer to an earlier one than a quarter of the usual distance."""
    kept: list[int] = []
    for k, point in enumerate(points):
        if not kept or np.linalg.norm(points[kept] - point, axis=1).min() > 0.25 * HELD_MM:
            kept.append(k)
    return points[kept], values[kept]
