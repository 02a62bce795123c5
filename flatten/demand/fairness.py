"""Lines of a piece that should come out fair or straight, as a quadratic term while the freedom left is used.

On a line that should be fair, what its curvature on the piece differs by from its geodesic curvature on the seat may
change but slowly: the term is the square of that change along the line, so a wave is resisted the more the shorter it
is, and bends that the surface has stay as they are. On a line that should be straight the term is also the square of
its bow over a chord of 300 mm. Curvature counts square to the line as it lies when the term is made, and as an angle,
so that a piece is asked neither to grow nor to shrink.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from meshes.base.arrays import BoolArray, FloatArray, IntArray

# A wave of this length along an edge is resisted as much by the term as by the leather, by the fifth power more when it
# is shorter; bending of a line that should be straight, as by a strip of leather wider than any pleated piece, mm.
FAIR_WAVE_MM, STRAIGHT_MM = 200.0, 1000.0
# Half the chord over which a line should be straight, how far apart its bow is looked at, and shares of that chord
# that count as well: a wave that meets one chord at its ends and in its middle alike is seen by another.
HALF_CHORD_MM, APART_MM, CHORDS = 150.0, 30.0, (1.0, 0.6, 0.36)
# A line that bows by no more than this over so many millimetres serves as straight. How far apart chords begin along
# which a bow is looked for, and in how many places of each.
STRAIGHT_BOW_MM, STRAIGHT_OVER_MM = 1.0, 300.0
BEGIN_MM, BOW_PLACES = 10.0, 41
# How much a line that has been given up still counts.
GIVEN_UP = 0.01


@dataclass(frozen=True, eq=False)
class Line:
    """A line of one piece. vertices (k,): along it, k at least 4; flipped (k,): whether the place of a vertex is the
    mirror image, x -> -x, of the one that is numbered; bend (k - 2,): curvature to be kept at the inner vertices, 1 /
    mm, to the left positive; chords (c, 3): places in `vertices` of the ends and the middle of chords over which it
    should be straight, none for a line that need only be fair; share: how much it counts."""

    vertices: IntArray
    flipped: BoolArray
    bend: FloatArray
    chords: IntArray
    share: float = 1.0

    @property
    def signs(self) -> FloatArray:
        """By what the numbered vertices' places are multiplied, (k, 2)."""
        return np.stack([np.where(self.flipped, -1.0, 1.0), np.ones(len(self.vertices))], axis=1)


@dataclass(frozen=True, eq=False)
class Bent:
    """Half the sum of the squares of rows, each a weighed sum of coordinates less its goal. vertices (r, 4): whose
    coordinates a row weighs; weights (r, 4, 2): of x and y; goal (r,)."""

    vertices: IntArray
    weights: FloatArray
    goal: FloatArray

    def off(self, points: FloatArray) -> FloatArray:
        """What every row (r,) comes to at points (n, 2), less its goal."""
        return np.asarray(np.einsum("rjc,rjc->r", self.weights, points[self.vertices]) - self.goal)

    def value(self, points: FloatArray) -> float:
        """Of the term at points (n, 2)."""
        off = self.off(points)
        return 0.5 * float(off @ off)

    def slope(self, points: FloatArray) -> FloatArray:
        """Derivative by the points, (n, 2)."""
        pulled = self.off(points)[:, None, None] * self.weights
        found = [np.bincount(self.vertices.ravel(), pulled[:, :, c].ravel(), minlength=len(points)) for c in (0, 1)]
        return np.stack(found, axis=1)

    def entries(self) -> tuple[IntArray, IntArray]:
        """Rows and columns (r, 8, 8) of the matrix in which the curvature of every row stands; unknown 2 v + c is
        coordinate c of vertex v."""
        unknown = (2 * self.vertices[:, :, None] + np.arange(2)).reshape(-1, 8)
        shape = (len(unknown), 8, 8)
        return np.broadcast_to(unknown[:, :, None], shape), np.broadcast_to(unknown[:, None, :], shape)

    def curvature(self) -> FloatArray:
        """The curvature of every row there, (r, 8, 8)."""
        weights = self.weights.reshape(-1, 8)
        return weights[:, :, None] * weights[:, None, :]


@dataclass(frozen=True, eq=False)
class Lines:
    """Lines of several pieces, vertices numbered through all, in units of `size` mm; given_up: numbers of those that
    are not wanted straight any more."""

    lines: tuple[Line, ...]
    size: float
    given_up: frozenset[int] = frozenset()

    @property
    def wanted(self) -> BoolArray:
        """Which lines (l,) are wanted."""
        return np.array([k not in self.given_up for k in range(len(self.lines))], dtype=bool)

    def stencils(self) -> IntArray:
        """Groups of four vertices (s, 4) that the term connects."""
        found = [np.zeros((0, 4), dtype=np.int64)]
        for line in self.lines:
            last = len(line.vertices) - 3
            found.append(np.stack([line.vertices[j : last + j] for j in range(4)], axis=1))
            found.append(line.vertices[line.chords[:, [0, 1, 1, 2]]])
        return np.concatenate(found)

    def bows(self, points: FloatArray) -> FloatArray:
        """By how much each line (l,) bows in 300 mm at points (n, 2), mm; 0 for those that need only be fair."""
        return np.array(
            [
                bow_in_300(self.size * points[line.vertices] * line.signs) if len(line.chords) else 0.0
                for line in self.lines
            ]
        )

    def wanting(self, wanted: BoolArray) -> "Lines":
        """The same lines, of which those that are not wanted (l,) count little."""
        rows = zip(self.lines, wanted, strict=True)
        lines = tuple(x if want else replace(x, share=GIVEN_UP * x.share) for x, want in rows)
        return replace(self, lines=lines, given_up=frozenset(np.flatnonzero(~np.asarray(wanted)).tolist()))

    @cached_property
    def _laid(self) -> "_LaidLines":
        return _in_one_row(self.lines)

    def bent(self, points: FloatArray) -> Bent:
        """The term for the lines as they lie at points (n, 2)."""
        laid = self._laid
        there = points[laid.vertices] * laid.signs
        parts = [_fair_rows(laid, there, self.size)]
        if len(laid.chords):
            spots, weights, goal = _straight_rows(laid, there, self.size)
            # Rows of three points weigh their first once more, by nothing.
            parts.append((spots[:, [0, 1, 2, 0]], np.pad(weights, ((0, 0), (0, 1), (0, 0))), goal))
        spots, weights, goal = (np.concatenate(each) for each in zip(*parts, strict=True))
        return Bent(laid.vertices[spots], weights * laid.signs[spots], goal)


@dataclass(frozen=True, eq=False)
class _LaidLines:
    """All points of several lines in one row, (k,) and (k, 2), so that no line is looked at by itself. runs (s,): place
    of the first of four points in a row of one line; share (s,) and change (s,): of its line, and of the curvature to
    be kept between the two in the middle; chords (c, 3), and their line's share (c,) and number (c,)."""

    vertices: IntArray
    signs: FloatArray
    runs: IntArray
    share: FloatArray
    change: FloatArray
    chords: IntArray
    chord_share: FloatArray
    chord_line: IntArray


def _in_one_row(lines: Sequence[Line]) -> _LaidLines:
    starts = np.cumsum([0, *(len(line.vertices) for line in lines)])
    inner = [len(line.vertices) - 3 for line in lines]
    straight = [len(line.chords) for line in lines]
    shares = np.array([line.share for line in lines])
    return _LaidLines(
        np.concatenate([line.vertices for line in lines]),
        np.concatenate([line.signs for line in lines]),
        np.concatenate([start + np.arange(count) for start, count in zip(starts, inner, strict=False)]),
        np.repeat(shares, inner),
        np.concatenate([np.diff(line.bend) for line in lines]),
        np.concatenate([start + line.chords for start, line in zip(starts, lines, strict=False)]),
        np.repeat(shares, straight),
        np.repeat(np.arange(len(lines)), straight),
    )


def chords_along(path: FloatArray) -> IntArray:
    """Chords (c, 3) along a path (k, 3), places of first end, middle and last end, of about 300 mm or half its length
    and shorter."""
    at = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    found = []
    for share in CHORDS:
        half = share * min(HALF_CHORD_MM, at[-1] / 4.0)
        spots = np.arange(half, at[-1] - half + 1e-6, min(APART_MM, half))
        found.append(np.stack([np.abs(at[:, None] - s).argmin(axis=0) for s in (spots - half, spots, spots + half)], 1))
    chords = np.concatenate(found)
    return np.unique(chords[(np.diff(chords, axis=1) > 0).all(axis=1)], axis=0)


def bow_in_300(path: FloatArray) -> float:
    """The largest height of a path (k, 2) over a chord of 300 mm, or over its own where it is shorter, mm."""
    at = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    span = min(STRAIGHT_OVER_MM, float(at[-1]))
    begins = np.append(np.arange(0.0, at[-1] - span, BEGIN_MM), at[-1] - span)
    spots = begins[:, None] + span * np.linspace(0.0, 1.0, BOW_PLACES)
    there = np.stack([np.interp(spots, at, path[:, j]) for j in (0, 1)], axis=2)
    there = there - there[:, :1]
    chord = there[:, -1:] / np.linalg.norm(there[:, -1:], axis=2, keepdims=True)
    return float(np.abs(there[:, :, 0] * chord[:, :, 1] - there[:, :, 1] * chord[:, :, 0]).max())


def _fair_rows(laid: _LaidLines, there: FloatArray, size: float) -> tuple[IntArray, FloatArray, FloatArray]:
    """Rows of fairness: places of the points they weigh (s, 4), weights of their coordinates (s, 4, 2), and what the
    rows should come to (s,); there (k, 2): where the points are, mirrored where they are numbered so."""
    spots = laid.runs[:, None] + np.arange(4)
    before, was = _curvature(there, spots[:, :3])
    after, now = _curvature(there, spots[:, 1:])
    weights = np.zeros((len(spots), 4, 2))
    weights[:, :3] -= before
    weights[:, 1:] += after
    long = np.linalg.norm(there[spots[:, 2]] - there[spots[:, 1]], axis=1)
    scale = np.sqrt(laid.share * (FAIR_WAVE_MM / (2.0 * np.pi * size)) ** 5 / long)
    return spots, scale[:, None, None] * weights, scale * (size * laid.change - (now - was))


def _straight_rows(laid: _LaidLines, there: FloatArray, size: float) -> tuple[IntArray, FloatArray, FloatArray]:
    """Rows of straightness, over chords: the same with three points each."""
    weights, now = _curvature(there, laid.chords)
    # Shorter chords count by the height of their bow.
    chord = np.linalg.norm(there[laid.chords[:, 2]] - there[laid.chords[:, 0]], axis=1)
    longest: FloatArray = np.zeros(int(laid.chord_line.max()) + 1)
    np.maximum.at(longest, laid.chord_line, chord)
    scale = np.sqrt(laid.chord_share * APART_MM / size * (STRAIGHT_MM / size) ** 3)
    scale *= (chord / longest[laid.chord_line]) ** 2
    return laid.chords, scale[:, None, None] * weights, -scale * now


def _curvature(there: FloatArray, chords: IntArray) -> tuple[FloatArray, FloatArray]:
    """Weights (c, 3, 2) of the points of chords (c, 3) in the change of the curvature over them, to first order and the
    same however the line is drawn larger, and the curvature now (c,); there (k, 2): all points."""
    first, middle, last = (there[chords[:, j]] for j in range(3))
    before, after = (np.linalg.norm(step, axis=1) for step in (middle - first, last - middle))
    chord = last - first
    long = np.linalg.norm(chord, axis=1)
    along = chord / long[:, None]
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1)
    parts = 2.0 / (before + after) * np.stack([1.0 / before, -1.0 / before - 1.0 / after, 1.0 / after])
    second = parts[0][:, None] * first + parts[1][:, None] * middle + parts[2][:, None] * last
    now = (second * normal).sum(axis=1)
    # A chord that grows takes the curvature with it, one that turns its normal.
    drawn = (now[:, None] * along + (second * along).sum(axis=1)[:, None] * normal) / long[:, None]
    weights = np.stack([parts[j][:, None] * normal + less for j, less in enumerate((drawn, 0.0, -drawn))], axis=1)
    return weights, np.asarray(now)


def geodesic_curvature(path: FloatArray, normals: FloatArray) -> FloatArray:
    """Curvature (k - 2,) 1/mm of a path (k, 3) in the surface with these normals (k, 3), at its inner points; to the
    left, as seen from the outer side, positive; infinite where it turns back on itself, as at the tip of a dart."""
    step = np.diff(path, axis=0)
    long = np.linalg.norm(step, axis=1)
    turn = np.diff(step / long[:, None], axis=0) / (0.5 * (long[1:] + long[:-1]))[:, None]
    left = np.cross(normals[1:-1], path[2:] - path[:-2])
    size = np.linalg.norm(left, axis=1)
    found = np.full(len(size), np.inf)
    return np.divide((turn * left).sum(axis=1), size, out=found, where=size > 0.0)
