"""Ways on the seat that are straight lines of the piece: many at once, walked from triangle to triangle.

A way is the chain of the points where its line crosses edges. Two neighbouring points always lie on one triangle, so
the length of the chain is that of a path on the seat, an upper bound of the distance, whatever the flat map is worth.
"""

from dataclasses import dataclass

import numpy as np

from flatten.bounds.geodesic import LONGER, MappedMesh, Spots
from meshes.base.arrays import FloatArray, IntArray

# How far outside its triangle, in shares, and how far from its stated place, in sizes of the mesh, a goal may be found.
_OFF = 1e-9


@dataclass(frozen=True, eq=False)
class Goals:
    """Where ways end: flat (k, 2) on the piece, place (k, 3) on the seat."""

    flat: FloatArray
    place: FloatArray


@dataclass(frozen=True, eq=False)
class Chain:
    """One way: share (c,) of the straight line on the piece from 0 to 1, place (c, 3), run (c,) mm on the seat."""

    share: FloatArray
    place: FloatArray
    run: FloatArray


class Ways:
    """The triangles of a mesh as one walks through them. size: its largest extent, mm."""

    def __init__(self, piece: MappedMesh) -> None:
        self.piece = piece
        t, n = piece.triangles, len(piece.vertices)
        self._n = n
        keys = np.concatenate([t[:, k] * n + t[:, (k + 1) % 3] for k in range(3)])
        order = np.argsort(keys)
        self._keys, self._behind = keys[order], np.concatenate([t[:, (k + 2) % 3] for k in range(3)])[order]
        self.size = float(np.ptp(piece.vertices, axis=0).max())

    def lengths(self, starts: IntArray, goals: Goals) -> FloatArray:
        """Lengths (k,) of the ways from vertices `starts` (k,), infinite where the line leaves the piece."""
        points, t = self.piece.points, self.piece.triangles
        asked = np.full(self._n, -1)
        asked[starts] = np.arange(len(starts))
        corner = np.concatenate([np.stack([t[:, k], t[:, (k + 1) % 3], t[:, (k + 2) % 3]], axis=1) for k in range(3)])
        corner = corner[asked[corner[:, 0]] >= 0]
        which = asked[corner[:, 0]]
        way = goals.flat[which] - points[corner[:, 0]]
        right, left = (_cross(way, points[corner[:, k]] - points[corner[:, 0]]) for k in (1, 2))
        ahead = (right <= 0.0) & (left > 0.0)
        which, first = np.unique(which[ahead], return_index=True)
        out = np.full(len(starts), np.inf)
        mine = starts[which]
        out[which] = self._walked(
            points[mine], self.piece.vertices[mine], corner[ahead][first], Goals(goals.flat[which], goals.place[which])
        )
        return out

    def chain(self, spots: Spots, start: int, goal: int) -> Chain | None:
        """The way from one spot to another, None where the line leaves the piece."""
        t = self.piece.triangles[spots.triangle[start]]
        turned = np.stack([t[[2, 0, 1]], t[[0, 1, 2]], t[[1, 2, 0]]], axis=1)
        origin, end = spots.flat[start], spots.flat[goal]
        side = _cross((end - origin)[None], self.piece.points[t] - origin)
        ahead = np.flatnonzero((side <= 0.0) & (np.roll(side, -1) > 0.0))
        if len(ahead) == 0:
            return None
        kept: list[tuple[float, FloatArray]] = [(0.0, spots.place[start])]
        ends = Goals(end[None], spots.place[goal][None])
        # The triangle's corner behind the side that is crossed comes first.
        first = turned[ahead[:1]]
        length = self._walked(origin[None], spots.place[start][None], first, ends, kept)
        if not np.isfinite(length[0]):
            return None
        share, place = np.array([s for s, _ in kept]), np.array([p for _, p in kept])
        run = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(place, axis=0), axis=1) * LONGER)])
        return Chain(np.maximum.accumulate(np.clip(share, 0.0, 1.0)), place, run)

    def _walked(
        self,
        origin: FloatArray,
        place: FloatArray,
        first: IntArray,
        goals: Goals,
        kept: list[tuple[float, FloatArray]] | None = None,
    ) -> FloatArray:
        """Lengths of the ways that leave triangles `first` (k, 3) across the side from their second to their third
        corner; kept: takes share and place of every crossing, for one way."""
        points, vertices = self.piece.points, self.piece.vertices
        out = np.full(len(origin), np.inf)
        live, corners, last, run = np.arange(len(origin)), first.copy(), place.copy(), np.zeros(len(origin))
        way = goals.flat - origin
        square = np.maximum((way**2).sum(axis=1), 1e-300)
        for _ in range(2 * len(self.piece.triangles)):
            if len(live) == 0:
                break
            a, b = corners[:, 1], corners[:, 2]
            w = way[live]
            right, left = (_cross(w, points[k] - origin[live]) for k in (a, b))
            share = (right / (right - left))[:, None]
            flat = (1 - share) * points[a] + share * points[b]
            reach = ((flat - origin[live]) * w).sum(axis=1) / square[live]
            done = reach >= 1.0
            out[live[done]] = self._arrived(corners[done], last[done], run[done], goals, live[done])
            cross = (1 - share) * vertices[a] + share * vertices[b]
            run = run + np.linalg.norm(cross - last, axis=1)
            if kept is not None:
                kept.append((1.0, goals.place[0]) if done[0] else (float(reach[0]), cross[0]))
            key = b * self._n + a
            at = np.minimum(np.searchsorted(self._keys, key), len(self._keys) - 1)
            go = ~done & (self._keys[at] == key)
            live, last, run, a, b = live[go], cross[go], run[go], a[go], b[go]
            behind = self._behind[at[go]]
            over = (_cross(way[live], points[behind] - origin[live]) > 0.0)[:, None]
            corners = np.where(over, np.stack([b, a, behind], axis=1), np.stack([a, behind, b], axis=1))
        return out

    def _arrived(
        self, corners: IntArray, last: FloatArray, run: FloatArray, goals: Goals, which: IntArray
    ) -> FloatArray:
        """Lengths of ways whose goal should lie in triangles `corners`; infinite where it is not found there."""
        p, q, r = (self.piece.points[corners[:, k]] for k in range(3))
        twice = _cross(q - p, r - p)
        twice = np.where(twice == 0.0, np.nan, twice)
        goal = goals.flat[which]
        shares = np.stack([_cross(r - q, goal - q), _cross(p - r, goal - r), _cross(q - p, goal - p)], axis=1)
        shares = shares / twice[:, None]
        place = np.einsum("kc,kcx->kx", shares, self.piece.vertices[corners])
        near = np.linalg.norm(place - goals.place[which], axis=1) <= _OFF * self.size
        good = near & (shares.min(axis=1, initial=1.0) >= -_OFF)
        whole = run + np.linalg.norm(goals.place[which] - last, axis=1) + _OFF * self.size
        return np.where(good, whole * LONGER, np.inf)


def _cross(u: FloatArray, v: FloatArray) -> FloatArray:
    return np.asarray(u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0], dtype=np.float64)
