"""How much rim an oblong dome lacks: the proven lower limit of demand from discs in a row.

Let M be a panel, a polyhedral disc, f a one-to-one map of it to the plane, linear in every triangle, with singular
values in [1, Q] (any other is scaled to this). All distances are lengths of ways within the panel.

1. Image. Let Omega be the inside of a closed curve of length P in the plane, h(z) the distance of z from that curve,
phi a function on Omega that differs between two points by no more than any way within Omega between them is long. Then
    P >= W = 2 * integral over t in [0, pi] of max over z of (phi(z) cos t + h(z)),
the perimeter of the convex hull of discs about (phi(z), 0) with radii h(z). Proof for a polygon, others are limits of
such: let C be a component of {h > s}, l its perimeter, w = 2 * integral of max over C of (phi cos t + h - s). C has no
holes; segments, arcs round corners of the polygon and, where the nearest part of the rim changes, corners of angle
a < pi bound it. It turns by 2 pi, so as s falls l grows at the rate 2 pi + sum over corners of
[2 cot(a / 2) - (pi - a)]. Points that C takes in lie nearer the rim than one of C by their distance from that one, and
add nothing to the max but the fall of s, 2 pi ds in w; or they lie beyond a corner, which moves by ds / sin(a / 2), and
add at most 2 * integral of (cos t / sin(a / 2) - 1)+ dt ds = [2 cot(a / 2) - (pi - a)] ds. So w grows no faster than l.
Where two components meet in q, max(x, y) = x + y - min(x, y), and the min is at least the value at q, phi(q) cos t,
whose integral is 0. At a point a component begins with w = l = 0; a ridge of length e along which components begin or
join makes l longer by 2 e, w by 2 e at most. Hence w <= l down to s = 0.

2. Carried over. Let D in M be a disc with rim of length L, x_i points of D with every way from x_i to that rim at least
r_i long, and s_i numbers with |s_i - s_j| <= d(x_i, x_j). Ways in Omega = f(D) are no shorter than what they are images
of, so h(f(x_i)) >= r_i, and some phi has phi(f(x_i)) = s_i (McShane, Extension of range of functions, 1934). With
P <= Q L: **Q >= N / L, N the perimeter of the hull of discs about (s_i, 0) with radii r_i.** Nothing is asked of the
straight line between two images: it may leave Omega. D may be bent or have a waist; discs may overlap. Two discs of
one radius at distance d give (2 d + 2 pi r) / L, one gives 2 pi r / L (Milnor, 1969).

3. Rim. Let K be a chain of pieces of lengths l_j on M, r a function on it, linear along each piece with slopes below 1,
rising to a largest value r_0 and falling from there. D is all that is nearer to some p of K than r(p), holes filled,
and must not reach the panel's rim. With psi(c) = 2 [sqrt(1 - c^2) - c arccos c], c_j the slope of r towards r_0,
    L <= 2 pi r_0 + sum of l_j psi(c_j) - sum over vertices v of w_v e_v,
w_v = 2 pi less the angles at v, e_v = max over K of (r(p) - d(v, p)), or 0 where that is negative. Proof: let D_s be
the same for r - s, s from r_0 to 0. Its rim moves outward at unit speed; by Gauss and Bonnet it turns by at most
2 pi - sum of w_v over v in D_s, and grows by that much, less at corners that point inward, more at corners that point
outward. These lie at the two ends of what D_s covers of K and have angle 2 arcsin c_j, so they add, as in 1., psi(c_j)
for each length of K. What meets or closes up only gets shorter (Fiala, 1941; Hartman, Geodesic parallel coordinates in
the large, 1964). Integrated over s, vertex v counts for the length e_v.

From the safe side: l_j and, where w_v > 0, d(v, p) are lengths of ways that are straight on the piece; where w_v < 0,
d(v, p) is the chord. That D stays off the rim is held by chords too. Errors in e_v and r only make the limit poorer by
their own share; s_i against l_j counts in full, so s_i are exact distances (`geodesic.from_first`).
"""

from dataclasses import dataclass, replace

import numpy as np

from flatten.bounds.geodesic import CUT_SHORT, LONGER, MappedMesh, Spots, from_first
from flatten.bounds.straight import Goals, Ways
from meshes.base.arrays import FloatArray, IntArray

# Parts of a usual edge in which the chain's clearance from the rim is held.
_PARTS = 16


@dataclass(frozen=True, eq=False)
class Spine:
    """A chain K on the seat with radii: knots' flat (k, 2) and radius (k,); points along it with flat (c, 2), place
    (c, 3) and run (c,) mm from its beginning; heads (k,): the knots' numbers among those points."""

    knots: FloatArray
    radius: FloatArray
    flat: FloatArray
    place: FloatArray
    run: FloatArray
    heads: IntArray

    def radii(self, run: FloatArray) -> FloatArray:
        """r at lengths `run` from the beginning."""
        return np.interp(run, self.run[self.heads], self.radius)


@dataclass(frozen=True, eq=False)
class RowLimit:
    """log: lower limit S of ln(largest / smallest stretch), 0 when nothing is proven; radius_mm of the largest disc and
    flat (2,), its centre on the piece."""

    log: float
    radius_mm: float
    flat: FloatArray


def row_limit(ways: Ways, defects: FloatArray, knots: FloatArray, radius: FloatArray) -> RowLimit:
    """The limit that discs about knots (k, 2) on the piece prove.

    defects (n,): 2 pi less the angles at each vertex, 0 on the rim; radius (k,): about the radii wished for, as long as
    on the piece; they are made concave and all changed by one length so that the discs just clear the rim.
    """
    none = RowLimit(0.0, 0.0, knots[0])
    spots = ways.piece.spots(knots)
    # Discs whose centres share a triangle count as one.
    apart = np.sort(np.unique(spots.triangle, return_index=True)[1])
    spots, radius = spots.only(apart), radius[apart]
    spine = _spine(ways, spots, radius)
    while spine is not None and spine.radius.min() <= 0.0:
        # No room for the discs at an end: the rest may have some.
        left = np.flatnonzero(spine.radius > 0.0)
        spots, radius = spots.only(left), radius[left]
        spine = _spine(ways, spots, radius) if len(left) else None
    if spine is None:
        return none
    along = from_first(ways.piece, spots)
    if not np.isfinite(along).all():
        return none
    along = np.minimum(along, spine.run[spine.heads])
    least = hull_perimeter(along, spine.radius) * (1.0 - 1e-9) - 4.0 * CUT_SHORT * float(along.max())
    most = unbent(spine.run[spine.heads], spine.radius) * LONGER - _missing_rim(ways, defects, spine)
    if not least > most > 0.0:
        return none
    top = int(np.argmax(spine.radius))
    return RowLimit(float(np.log(least / most)), float(spine.radius[top]), spots.flat[top])


def hull_perimeter(along: FloatArray, radius: FloatArray) -> float:
    """Perimeter of the convex hull of discs about (along, 0) (k,), never more than it is."""
    one, two = np.triu_indices(len(along), 1)
    gap, rise = along[two] - along[one], radius[one] - radius[two]
    cuts = np.arccos(np.clip(rise[gap != 0] / gap[gap != 0], -1.0, 1.0))
    t = np.unique(np.concatenate([[0.0, np.pi], cuts]))
    middle = 0.5 * (t[1:] + t[:-1])
    i = np.argmax(np.cos(middle)[:, None] * along + radius, axis=1)
    return float(2.0 * (along[i] * np.diff(np.sin(t)) + radius[i] * np.diff(t)).sum())


def concave(run: FloatArray, radius: FloatArray) -> FloatArray:
    """Radii (k,) no larger than those given, falling ever faster, by slopes below 1, to both sides from the largest."""
    out, top = radius.copy(), int(np.argmax(radius))
    for side in (range(top + 1, len(out)), range(top - 1, -1, -1)):
        slope, before = 0.0, top
        for k in side:
            length = abs(run[k] - run[before])
            slope = max(min(slope, (radius[k] - out[before]) / length), -0.99)
            out[k], before = out[before] + slope * length, k
    return out - float(np.maximum(out - radius, 0.0).max())


def unbent(run: FloatArray, radius: FloatArray) -> float:
    """Perimeter of the hull of discs at lengths `run` (k,) of a chain that lies straight in a plane, radii concave."""
    top, rise, lengths = int(np.argmax(radius)), np.diff(radius), np.diff(run)
    towards = np.where(np.arange(len(lengths)) < top, rise, -rise) / lengths
    psi = 2.0 * (np.sqrt(1.0 - towards**2) - towards * np.arccos(towards))
    return float(2.0 * np.pi * radius[top] + (lengths * psi).sum())


def _spine(ways: Ways, spots: Spots, radius: FloatArray) -> Spine | None:
    """The chain through the spots, with radii that clear the rim; None where it leaves the piece."""
    flat, place, run, heads = [spots.flat[:1]], [spots.place[:1]], [np.zeros(1)], [0]
    for k in range(len(radius) - 1):
        chain = ways.chain(spots, k, k + 1)
        if chain is None or not chain.run[-1] > 0.0:
            return None
        share = chain.share[1:, None]
        flat.append((1 - share) * spots.flat[k] + share * spots.flat[k + 1])
        place.append(chain.place[1:])
        run.append(run[-1][-1] + chain.run[1:])
        heads.append(heads[-1] + len(share))
    whole, ends = np.concatenate(run), np.array(heads)
    drawn = float(np.linalg.norm(np.diff(spots.flat, axis=0), axis=1).sum())
    wished = radius * (whole[-1] / drawn if drawn > 0.0 else 1.0)
    loose = Spine(spots.flat, wished, np.concatenate(flat), np.concatenate(place), whole, ends)
    at, away = _clearance(ways.piece, loose)
    tight = replace(loose, radius=concave(whole[ends], np.minimum(wished, np.interp(whole[ends], at, away))))
    radii = tight.radii(at)
    # Halfway between two points the chord may be shorter by half their distance, and r larger by that times its slope.
    loss = 0.5 * float((np.diff(at) + np.abs(np.diff(radii))).max(initial=0.0)) + 1e-9 * ways.size
    return replace(tight, radius=tight.radius + float((away - radii).min()) - loss)


def _clearance(piece: MappedMesh, spine: Spine) -> tuple[FloatArray, FloatArray]:
    """Lengths of run (c,) close together, and the chords from there to the rim."""
    count = max(int(np.ceil(spine.run[-1] / (piece.usual / _PARTS))), 1)
    run = np.union1d(np.linspace(0.0, spine.run[-1], count + 1), spine.run)
    place = np.stack([np.interp(run, spine.run, spine.place[:, x]) for x in range(3)], axis=1)
    ends = piece.vertices[piece.edges[piece.on_rim]]
    away = np.full(len(run), np.inf)
    for part in np.array_split(np.arange(len(ends)), len(ends) * len(run) // 500_000 + 1):
        a, d = ends[part, 0], ends[part, 1] - ends[part, 0]
        off = place[:, None] - a
        share = np.clip((off * d).sum(axis=2) / (d * d).sum(axis=1), 0.0, 1.0)
        away = np.minimum(away, np.linalg.norm(off - share[..., None] * d, axis=2).min(axis=1))
    return run, away


def _missing_rim(ways: Ways, defects: FloatArray, spine: Spine) -> float:
    """Sum of w_v e_v, never more than it is."""
    reach = float(spine.radius.max())
    flat, place, run = spine.flat, spine.place, spine.run
    box = (place.min(axis=0) - reach, place.max(axis=0) + reach)
    near = ((ways.piece.vertices >= box[0]) & (ways.piece.vertices <= box[1])).all(axis=1)
    up, down = np.flatnonzero(near & (defects > 0)), np.flatnonzero(near & (defects < 0))
    total = 0.0
    if len(up):
        drawn = float(np.linalg.norm(np.diff(flat, axis=0), axis=1).sum())
        scale = run[-1] / drawn if drawn > 0.0 else 1.0
        foot = _deepest(scale * ways.piece.points[up], scale * flat, run, spine)[1]
        at = [np.interp(foot, run, x) for x in (*flat.T, *place.T)]
        lengths = ways.lengths(up, Goals(np.stack(at[:2], axis=1), np.stack(at[2:], axis=1)))
        total += float((defects[up] * np.maximum(spine.radii(foot) - lengths, 0.0)).sum())
    if len(down):
        depth = _deepest(ways.piece.vertices[down], place, run, spine)[0]
        total += float((defects[down] * np.maximum(depth, 0.0)).sum())
    # Angles are rounded.
    return total - 1e-9 * abs(total) - 1e-12 * reach * len(defects)


def _deepest(points: FloatArray, chain: FloatArray, run: FloatArray, spine: Spine) -> tuple[FloatArray, FloatArray]:
    """Largest r(p) - |x - p| over the straight pieces of a chain (c, d) for points (n, d), and p's length of run."""
    best, foot = np.full(len(points), -np.inf), np.zeros(len(points))
    if len(chain) == 1:
        return spine.radius[0] - np.linalg.norm(points - chain[0], axis=1), foot
    for j in range(len(chain) - 1):
        length, ahead = run[j + 1] - run[j], chain[j + 1] - chain[j]
        straight = float(np.linalg.norm(ahead))
        if straight == 0.0 or length <= 0.0:
            continue
        first, last = spine.radii(run[j : j + 2])
        slope = float(np.clip((last - first) / straight, -0.999, 0.999))
        off = points - chain[j]
        x = off @ (ahead / straight)
        y = np.sqrt(np.maximum((off**2).sum(axis=1) - x**2, 0.0))
        at = np.clip(x + y * slope / np.sqrt(1.0 - slope**2), 0.0, straight)
        depth = first + (last - first) * at / straight - np.hypot(x - at, y)
        better = depth > best
        best[better], foot[better] = depth[better], run[j] + length * at[better] / straight
    return best, foot
