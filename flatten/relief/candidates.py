"""Lines along which a panel might be cut: darts and seams worth trying, as straight lines of its flat map.

Darts end at the extremes of the curvature potential and run to the rim: the nearest way, to corners, and all round;
several of them go half as deep. Seams run from rim to rim through one extreme or through two, and along the symmetry
line, and straight across the longest way. On a panel that is its own mirror image, lines beside the symmetry line come
in mirrored pairs too.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from flatten.relief.coarse import rim_turns
from flatten.relief.symmetry import Axis
from meshes.base.arrays import FloatArray

ReliefKind = Literal["dart", "seam"]
PlanLine = tuple[FloatArray, ...]

# Ways to the rim that are tried all round an extreme; a multiple of 12, so that 2, 3 and 4 darts can share them.
WAYS = 12
# Depth of one of several darts, as a share of the way from the rim to the extreme.
DEPTH = 0.5
# The plan turns at least this much at a corner.
PLAN_CORNER_RAD = np.deg2rad(35.0)
# Tips of different darts keep this share of the panel's size apart; nearer to the symmetry line than half of it, an
# extreme counts as lying on it.
TIPS_APART = 0.1


@dataclass(frozen=True, eq=False)
class Candidate:
    """lines: for each cut the places (2,) of the plan it goes through; a dart begins at its tip, all other ends are
    on the rim. even: mirrored onto itself by the symmetry line, or cut along it. words: what it is."""

    kind: ReliefKind
    words: str
    lines: tuple[PlanLine, ...]
    even: bool


@dataclass(frozen=True, eq=False)
class PlanFeatures:
    """What candidates are made from: the rim polygon (k, 2) of the plan, extremes (e, 2) the largest first, corners
    (c, 2) on the rim, and the symmetry line."""

    rim: FloatArray
    extremes: FloatArray
    corners: FloatArray
    axis: Axis | None

    @property
    def size(self) -> float:
        """Length of the diagonal of the plan's box, mm."""
        return float(np.linalg.norm(np.ptp(self.rim, axis=0)))


def ground(rim: FloatArray, extremes: FloatArray, ends: FloatArray, axis: Axis | None) -> PlanFeatures:
    """ends (c, 2): where seams end on the rim, corners beside those that the plan shows."""
    sharp = np.abs(rim_turns(rim, np.arange(len(rim)))) > PLAN_CORNER_RAD
    corners = np.concatenate([rim[sharp], ends.reshape(-1, 2)])
    return PlanFeatures(rim, extremes, np.unique(corners, axis=0), axis)


def candidates(on: PlanFeatures) -> list[Candidate]:
    """All candidates, no two the same, those on the symmetry line first."""
    found = [*_along_axis(on)]
    for extreme in on.extremes:
        found += [*_seams(on, extreme), *_single_darts(on, extreme), *_dart_sets(on, extreme)]
    found += [*_through_two(on), *_crosswise(on), *_mirrored(on, found)]
    kept: dict[tuple[object, ...], Candidate] = {}
    for one in found:
        kept.setdefault(_key(one, on.size), one)
    return list(kept.values())


def _key(one: Candidate, size: float) -> tuple[object, ...]:
    """The same for candidates whose ends are the same within a few thousandths of the panel's size."""
    step = 0.004 * size
    lines = []
    for line in one.lines:
        ends = [tuple(np.rint(np.asarray(p) / step).astype(int).tolist()) for p in (line[0], line[-1])]
        lines.append(tuple(ends if one.kind == "dart" else sorted(ends)))
    return (one.kind, *sorted(lines))


def to_rim(on: PlanFeatures, start: FloatArray, way: FloatArray) -> FloatArray | None:
    """The rim corner nearest to where a ray from inside first meets the rim, (2,); None when it runs along an edge."""
    a, b = on.rim, np.roll(on.rim, -1, axis=0)
    edge, off = b - a, a - start
    det = way[1] * edge[:, 0] - way[0] * edge[:, 1]
    safe = np.where(det == 0.0, 1.0, det)
    far = (off[:, 1] * edge[:, 0] - off[:, 0] * edge[:, 1]) / safe
    share = (way[0] * off[:, 1] - way[1] * off[:, 0]) / safe
    hit = (det != 0.0) & (far > 1e-9 * on.size) & (share >= 0.0) & (share <= 1.0)
    if not hit.any():
        return None
    k = int(np.argmin(np.where(hit, far, np.inf)))
    return np.asarray(a[k] if share[k] < 0.5 else b[k])


def _ways(on: PlanFeatures) -> FloatArray:
    """Unit vectors all round, (WAYS, 2), beginning with the symmetry line or the longest way of the panel."""
    if on.axis is not None:
        first = on.axis.end - on.axis.start
    else:
        first = np.linalg.svd(on.rim - on.rim.mean(axis=0), full_matrices=False)[2][0]
    angle = np.arctan2(first[1], first[0]) + 2.0 * np.pi * np.arange(WAYS) / WAYS
    return np.stack([np.cos(angle), np.sin(angle)], axis=1)


def _hits(on: PlanFeatures, extreme: FloatArray) -> list[FloatArray | None]:
    return [to_rim(on, extreme, way) for way in _ways(on)]


def _visible_corners(on: PlanFeatures, extreme: FloatArray) -> list[FloatArray]:
    """Corners that the straight line from an extreme reaches without leaving the panel."""
    seen = []
    for corner in on.corners:
        way = corner - extreme
        hit = to_rim(on, extreme, way / np.linalg.norm(way))
        if hit is not None and np.linalg.norm(hit - corner) < 0.02 * on.size:
            seen.append(corner)
    return seen


def _on_axis(on: PlanFeatures, *places: FloatArray) -> bool:
    """Whether places of the plan are on the symmetry line, as far as rim vertices allow."""
    return on.axis is not None and bool((on.axis.distance(np.array(places)) < 0.02 * on.size).all())


def _along_axis(on: PlanFeatures) -> Iterator[Candidate]:
    if on.axis is None:
        return
    start, end = (on.rim[np.argmin(np.linalg.norm(on.rim - p, axis=1))] for p in (on.axis.start, on.axis.end))
    yield Candidate("seam", "seam along the symmetry line", ((start, end),), True)


def _seams(on: PlanFeatures, extreme: FloatArray) -> Iterator[Candidate]:
    hits = _hits(on, extreme)
    for one, other in zip(hits[: WAYS // 2], hits[WAYS // 2 :], strict=True):
        if one is not None and other is not None:
            yield Candidate("seam", "seam", ((one, extreme, other),), _even_line(on, one, extreme, other))
    for corner in _visible_corners(on, extreme):
        way = extreme - corner
        far = to_rim(on, extreme, way / np.linalg.norm(way))
        if far is not None:
            yield Candidate("seam", "seam from a corner", ((corner, extreme, far),), False)


def _even_line(on: PlanFeatures, one: FloatArray, extreme: FloatArray, other: FloatArray) -> bool:
    """Along the symmetry line or square to it."""
    if on.axis is None:
        return False
    if _on_axis(on, one, other):
        return True
    near = on.axis.mirrored(one[None])[0]
    return bool(np.linalg.norm(near - other) < 0.03 * on.size) and _on_axis(on, extreme)


def _single_darts(on: PlanFeatures, extreme: FloatArray) -> Iterator[Candidate]:
    nearest = on.rim[np.argmin(np.linalg.norm(on.rim - extreme, axis=1))]
    for end in (nearest, *_visible_corners(on, extreme), *_hits(on, extreme)):
        if end is not None:
            yield Candidate("dart", "dart", ((extreme, end),), _on_axis(on, extreme, end))


def _half(extreme: FloatArray, end: FloatArray) -> PlanLine:
    """A dart that goes only part of the way to the extreme."""
    return (end + DEPTH * (extreme - end), end)


def _dart_sets(on: PlanFeatures, extreme: FloatArray) -> Iterator[Candidate]:
    """Two, three and four darts round an extreme, and one at every corner."""
    hits, centred = _hits(on, extreme), _on_axis(on, extreme)
    for count, words in ((2, "two darts"), (3, "three darts"), (4, "four darts")):
        step = WAYS // count
        for first in range(step):
            ends = [hits[first + k * step] for k in range(count)]
            kept = [end for end in ends if end is not None]
            if len(kept) == count:
                even = centred and _set_even(on, kept)
                yield Candidate("dart", words, tuple(_half(extreme, end) for end in kept), even)
    corners = _visible_corners(on, extreme)
    if 2 <= len(corners) <= 6:
        even = centred and _set_even(on, corners)
        yield Candidate("dart", "a dart at every corner", tuple(_half(extreme, end) for end in corners), even)


def _set_even(on: PlanFeatures, ends: Sequence[FloatArray]) -> bool:
    """Whether the symmetry line maps a set of ends onto itself."""
    if on.axis is None:
        return False
    places = np.array(ends)
    gaps = np.linalg.norm(on.axis.mirrored(places)[:, None] - places[None], axis=2).min(axis=1)
    return bool((gaps < 0.03 * on.size).all())


def _through_two(on: PlanFeatures) -> Iterator[Candidate]:
    """Seams through pairs of extremes, and a dart at each of two."""
    for i, one in enumerate(on.extremes):
        for other in on.extremes[i + 1 :]:
            way = (other - one) / np.linalg.norm(other - one)
            start, end = to_rim(on, one, -way), to_rim(on, other, way)
            if start is not None and end is not None:
                even = on.axis is not None and (_on_axis(on, start, end) or _set_even(on, [start, end]))
                yield Candidate("seam", "seam through two high places", ((start, one, other, end),), even)
            nearest = [on.rim[np.argmin(np.linalg.norm(on.rim - place, axis=1))] for place in (one, other)]
            yield Candidate("dart", "two darts", ((one, nearest[0]), (other, nearest[1])), _set_even(on, [one, other]))


def _crosswise(on: PlanFeatures) -> Iterator[Candidate]:
    """One, two and three seams straight across the panel's longest way, evenly spaced."""
    middle = on.rim.mean(axis=0)
    way = np.linalg.svd(on.rim - middle, full_matrices=False)[2][0]
    along, side = (on.rim - middle) @ way, (on.rim - middle) @ np.array([-way[1], way[0]])
    for count, words in ((1, "seam across"), (2, "two seams across"), (3, "three seams across")):
        lines = []
        for k in range(count):
            place = along.min() + (k + 1) / (count + 1) * float(np.ptp(along))
            change = np.flatnonzero((along < place) != (np.roll(along, -1) < place))
            if len(change) == 2:
                near = [
                    int(j)
                    if abs(along[j] - place) < abs(along[(j + 1) % len(along)] - place)
                    else int(j + 1) % len(along)
                    for j in change
                ]
                lines.append(tuple(on.rim[j] for j in sorted(near, key=lambda j: side[j])))
        if len(lines) == count:
            even = on.axis is not None and _set_even(on, [end for line in lines for end in line])
            yield Candidate("seam", words, tuple(lines), even)


def _mirrored(on: PlanFeatures, found: Sequence[Candidate]) -> Iterator[Candidate]:
    """Single lines beside the symmetry line together with their mirror images."""
    if on.axis is None:
        return
    for one in found:
        if len(one.lines) > 1 or one.even:
            continue
        line = one.lines[0]
        if one.kind == "dart" and on.axis.distance(line[0][None])[0] < 0.5 * TIPS_APART * on.size:
            line = _half(*line)
            if on.axis.distance(line[0][None])[0] < 0.5 * TIPS_APART * on.size:
                continue
        other = tuple(on.axis.mirrored(np.array(line)))
        words = "two darts, left and right" if one.kind == "dart" else "two seams, left and right"
        yield Candidate(one.kind, words, (line, other), True)
