"""How much a panel lacks in rim for what it holds: the proven lower limit of demand of domes.

Claim. Let the panel be a polyhedral surface, u a function on it that is linear in every triangle, D(s) = {u < s}, C(s)
its boundary, of length L(s), and A(s) its area. Let f be any one-to-one map of the panel to the plane, linear in every
triangle, with singular values in [a, b], Q = b / a, and let V(s), P(s) be area and perimeter of f(D(s)). Then
- V(s0) >= a^2 A(s0);
- P^2 >= 4 pi V (isoperimetric inequality; it holds for any region, so D(s) need not be a disc);
- V' = integral over f(C) of dl' / |grad(u o f^-1)| (coarea formula; Federer, Geometric measure theory, 1959/1969, 3.2)
  >= a * integral of dl' / g, g = |grad u|, and dl' lies in [a, b] dl. Parts of C(s) on the panel's rim lie still: their
  1 / g counts as 0. Hence V' >= a m P, m(s) = least mean of 1 / g along C(s) over all weights in [1, Q].
So rho = sqrt(V / pi) grows by rho' >= a m, and b L(s1) >= P(s1) >= 2 pi rho(s1) gives, for every s0 <= s1,
    Q >= F(Q) = 2 pi [sqrt(A(s0) / pi) + integral of m from s0 to s1] / L(s1).
F never rises with Q, so every q <= F(q) is a lower limit of Q: F(F(1)) is one. On spherical caps with u the distance
from the pole this is Milnor's limit (A problem in cartography, 1969).

Bounds by direction. Where f may stretch by b1 along a direction of the plane and by b2 across it, an ellipse between,
and by a at least, the plane drawn larger by b1 and b2 is reached by a map with singular values in [1, max b / a]. There
V(s1) >= pi rho(s1)^2 with a = 1 as above; in the plane itself it is less by b1 b2, and its perimeter is at most L / a:
sqrt(b1 b2) / a >= F(Q) for Q = max b / a. `widest` is that Q: no limit is then told that holds for smaller Q only.

The least mean. With mean e and variance v of 1 / g along C(s), the mean under any weights in [1, Q] is at least
e - (Q - 1) sqrt(v) / (2 sqrt(Q)) (Scarf's bound of the mean of (t - x)+ by e and v, 1958).

Levels. u is rounded to whole numbers before anything is measured, which leaves it a piecewise linear function. Between
two whole numbers every crossing's length is linear in s, so for fixed weights the mean is monotone and m is at least
the smaller of its two end values. The claim is about the polyhedral mesh itself, with no smooth surface behind it.
"""

from dataclasses import dataclass

import numpy as np

from flatten.bounds.subdivision import Cells, Seams, cells_of, graded
from meshes.base.arrays import FloatArray, IntArray
from meshes.base.surface import boundary_loops

# Whole levels that u is rounded to: for the limit that is kept, and while searching for the best centre.
LEVELS, SEARCH_LEVELS = 1 << 16, 1 << 13
# Share by which every length, area and sum is taken to the safe side; rounding stays a hundred times below it.
MARGIN = 1e-9


@dataclass(frozen=True, eq=False)
class LevelSetBound:
    """What one function proves. log: lower limit S of ln(largest / smallest stretch); level: the s1 it comes from, in
    the function's own unit; length_mm and area_mm2 of the disc {u < level}.
    """

    log: float
    level: float
    length_mm: float
    area_mm2: float


class MeshLengths:
    """Lengths of one mesh that every function's limit needs. vertices (n, 3) mm, triangles (m, 3); widest: the
    largest ratio of stretches for which the limits have to hold."""

    def __init__(self, vertices: FloatArray, triangles: IntArray, *, widest: float = 1.0) -> None:
        self.widest = widest
        loops = boundary_loops(triangles)
        self.rim = np.concatenate([np.stack([r, np.roll(r, -1)], 1) for r in loops])
        self.rim_lengths = np.linalg.norm(vertices[self.rim[:, 1]] - vertices[self.rim[:, 0]], axis=1)
        self.cells = cells_of(vertices, triangles)

    def about(self, points: FloatArray, centre: FloatArray, *, refined: bool = False) -> LevelSetBound:
        """The limit that the distance from `centre` (2,) in a flat map `points` (n, 2) proves.

        refined: triangles that lie near the centre for their size are parted first, so that the circles about it are
        round there too; the surface stays what it was.
        """
        u = np.linalg.norm(points - centre, axis=1)
        if not refined:
            return self.by_level_sets(u, levels=SEARCH_LEVELS)
        fine = graded(self.cells, points, centre)
        return self.by_level_sets(np.linalg.norm(fine.points - centre, axis=1), cells=fine.cells, seams=fine.seams)

    def by_level_sets(
        self, u: FloatArray, *, levels: int = LEVELS, cells: Cells | None = None, seams: Seams = ()
    ) -> LevelSetBound:
        """The best limit that the sublevel sets of u (n,) prove; log 0 when they prove nothing.

        cells: parts of the triangles on which u is given; seams: points that must lie midway between two others, as
        (points, their ends), coarse to fine.
        """
        low, high = float(u.min()), float(u.max())
        unit = (high - low) / levels
        if not unit > 0.0:
            return LevelSetBound(0.0, high, 0.0, 0.0)
        sums = _Sums(self, cells or self.cells, _whole((u - low) / unit, seams), levels)
        most, _ = sums.limit(1.0)
        proven, k = sums.limit(max(most, self.widest))
        if proven <= 1.0:
            return LevelSetBound(0.0, high, 0.0, 0.0)
        return LevelSetBound(float(np.log(proven)), low + unit * k, float(sums.length[k]), float(sums.area[k]))


def _whole(u: FloatArray, seams: Seams) -> IntArray:
    """u in whole numbers, those on seams so divisible that every middle is whole too."""
    out = np.rint(u).astype(np.int64)
    for k, (_, ends) in enumerate(seams):
        coarse = 1 << (len(seams) - k)
        out[ends] = coarse * np.rint(out[ends] / coarse).astype(np.int64)
    for middles, ends in seams:
        out[middles] = out[ends].sum(axis=1) // 2
    return out


class _Sums:
    """Sums along the level lines of a whole-numbered function, just above and just below every level."""

    def __init__(self, panel: MeshLengths, cells: Cells, u: IntArray, levels: int) -> None:
        size = levels + 1
        i = u[cells.triangles]
        pp, pq, qq, twice = cells.shapes
        p, q = (i[:, 1] - i[:, 0]).astype(float), (i[:, 2] - i[:, 0]).astype(float)
        # |grad u| times twice the area is the length of q P - p Q, P and Q the sides from the first corner.
        turned = np.sqrt(np.maximum(q * q * pp - 2 * p * q * pq + p * p * qq, 0.0))
        low, high = i.min(axis=1), i.max(axis=1)
        keep = (high > low) & (turned > 0.0)
        low, high, turned, twice = low[keep], high[keep], turned[keep], twice[keep]
        middle = (i.sum(axis=1)[keep] - low - high).astype(np.int64)
        slow = twice / turned
        tall = turned / (high - low)
        self.centre = float(np.average(slow, weights=twice))
        off = slow - self.centre
        low_rim, high_rim = u[panel.rim].min(axis=1), u[panel.rim].max(axis=1)
        tents = _Tents(low, middle, high, size)
        ramps = _Ramps(low_rim, high_rim, size)
        rim = ramps.sums(panel.rim_lengths)
        self.above, self.below = [], []
        for k in range(3):
            up, down = tents.sums(tall * off**k)
            share = (-self.centre) ** k
            self.above.append(up + share * rim[0])
            self.below.append(down + share * rim[1])
        # Area up to each level: crossings' length times slowness, integrated; trapezoids are exact between levels.
        up, down = (s[0] * self.centre + s[1] for s in (self.above, self.below))
        level = np.bincount(i.max(axis=1)[~keep], weights=0.5 * cells.shapes[3, ~keep], minlength=size)
        self.area = np.concatenate([[0.0], np.cumsum(0.5 * (up[:-1] + down[1:]))]) + np.cumsum(level) - level
        self.length = self.below[0]
        self.noise = abs(float(tents.sums(tall)[0][-1])) + 1e-300

    def least(self, sums: list[FloatArray], q: float) -> FloatArray:
        """Lower bound of the mean of 1 / g under weights in [1, q] at every level."""
        whole = np.maximum(sums[0], 1e-300)
        mean = sums[1] / whole
        spread = np.sqrt(np.maximum(sums[2] / whole - mean**2, 0.0) + MARGIN * self.centre**2)
        out = self.centre + mean - (q - 1.0) / (2.0 * np.sqrt(q)) * spread
        return np.where(sums[0] > 1e3 * self.noise, np.maximum(out, 0.0), 0.0)

    def limit(self, q: float) -> tuple[float, int]:
        """F(q) of the module's head, best over s0 <= s1, and the level s1."""
        step = np.minimum(self.least(self.above, q)[:-1], self.least(self.below, q)[1:])
        run = np.concatenate([[0.0], np.cumsum(step)])
        reach = run + np.maximum.accumulate(np.sqrt(self.area / np.pi) - run)
        usable = self.length > 1e6 * self.noise
        ratio = np.where(usable, 2.0 * np.pi * reach / np.where(usable, self.length, 1.0), 0.0)
        k = int(np.argmax(ratio))
        return float(ratio[k]) * (1.0 - 4.0 * MARGIN), k


class _Tents:
    """Sums of functions that rise from 0 at `low` to a height at `middle` and fall to 0 at `high`, whole numbers."""

    def __init__(self, low: IntArray, middle: IntArray, high: IntArray, size: int) -> None:
        self.size, self.places = size, np.concatenate([low, middle, high])
        rise, fall = middle - low, high - middle
        self.up = np.where(rise > 0, 1.0 / np.maximum(rise, 1), 0.0)
        self.down = np.where(fall > 0, 1.0 / np.maximum(fall, 1), 0.0)
        self.sudden, self.abrupt = rise == 0, fall == 0
        self.jumps = np.concatenate([low[self.sudden], high[self.abrupt]])

    def sums(self, heights: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Just above and just below every level, (size,) each."""
        up, down = heights * self.up, heights * self.down
        bends = _counted(self.places, np.concatenate([up, -up - down, down]), self.size)
        leaps = np.concatenate([heights[self.sudden], -heights[self.abrupt]])
        return _joined(bends, _counted(self.jumps, leaps, self.size))


class _Ramps:
    """Sums of functions that are 0 up to `low`, rise to a height at `high` and stay there."""

    def __init__(self, low: IntArray, high: IntArray, size: int) -> None:
        self.low, self.high, self.size, self.flat = low, high, size, low == high

    def sums(self, heights: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Just above and just below every level, (size,) each."""
        slope = np.where(self.flat, 0.0, heights / np.maximum(self.high - self.low, 1))
        places = np.concatenate([self.low, self.high])
        bends = _counted(places, np.concatenate([slope, -slope]), self.size)
        leaps = _counted(self.low[self.flat], heights[self.flat], self.size)
        return _joined(bends, leaps)


def _counted(places: IntArray, weights: FloatArray, size: int) -> FloatArray:
    return np.asarray(np.bincount(places, weights=weights, minlength=size), dtype=np.float64)


def _joined(bends: FloatArray, leaps: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Values just above and just below every level, from changes of slope and of value."""
    run = np.concatenate([[0.0], np.cumsum(np.cumsum(bends)[:-1])])
    above = run + np.cumsum(leaps)
    return above, above - leaps
