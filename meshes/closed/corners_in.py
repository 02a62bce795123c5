"""Corners of a knife edge taken in: without that, a filled cover's corners stand out as empty ears.

From a quarter of each side on the line runs straight to a corner that lies so far inside both; where it leaves the side
it is rounded off over part of its run.
"""

from collections.abc import Sequence

import numpy as np

from meshes.base.arrays import FloatArray
from meshes.outlines.side_ramps import BOW_TURN_RAD
from meshes.records.closed import CORNERS_IN_OVER

# Where the line leaves the side it is rounded off over so much of its run, on either side of the bend.
ROUNDED_OVER = 0.25


def with_corners_in(
    corners: FloatArray, radii: Sequence[float], sides: Sequence[str], by_mm: float
) -> tuple[FloatArray, list[float], list[str]]:
    """An outline, its corners (n, 2) counter-clockwise, with every corner that stands out taken in by `by_mm` on both
    its sides; a bow's points lie on one side. Returns corners (m, 2), radii and the side after each."""
    turn = _turns(corners)
    ends = [k for k in range(len(corners)) if turn[k] >= BOW_TURN_RAD]
    if not ends:
        return corners, list(radii), list(sides)
    found: list[FloatArray] = []
    round_off: list[float] = []
    names: list[str] = []
    for k, begin in enumerate(ends):
        stop = ends[(k + 1) % len(ends)]
        count = (stop - begin - 1) % len(corners) + 1
        run = [(begin + step) % len(corners) for step in range(count + 1)]
        line = _RunBetweenCorners(corners[run], by_mm)
        for at, own in line.places():
            if own == 0:
                continue
            found.append(line.inside(at))
            round_off.append(line.bend_radius(by_mm) if own is None else float(radii[run[own]]))
            names.append(sides[run[line.edge(at)]])
        # The corner itself lies inside both its sides.
        after = corners[(stop + 1) % len(corners)]
        found.append(_inside_both(corners[run[-2]], corners[stop], after, by_mm))
        round_off.append(float(radii[stop]))
        names.append(sides[stop])
    return np.array(found), round_off, names


def _turns(corners: FloatArray) -> FloatArray:
    ahead = np.roll(corners, -1, axis=0) - corners
    behind = np.roll(ahead, 1, axis=0)
    cross = behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0]
    return np.asarray(np.arctan2(cross, np.einsum("ij,ij->i", ahead, behind)))


def _inward(a: FloatArray, b: FloatArray) -> FloatArray:
    along = (b - a) / np.linalg.norm(b - a)
    return np.array([-along[1], along[0]])


def _inside_both(before: FloatArray, corner: FloatArray, after: FloatArray, by_mm: float) -> FloatArray:
    one, other = _inward(before, corner), _inward(corner, after)
    return np.asarray(corner + by_mm * (one + other) / (1.0 + one @ other))


class _RunBetweenCorners:
    """The line between two corners, (n, 2), taken in towards both its ends."""

    def __init__(self, line: FloatArray, by_mm: float) -> None:
        self.line, self.by_mm = line, by_mm
        self.length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
        self.reach = CORNERS_IN_OVER * float(self.length[-1])

    def places(self) -> list[tuple[float, int | None]]:
        """Lengths along the line at which it has a point, its last end left out: with the number of the point where it
        has one already, None at a quarter of it."""
        marks: list[tuple[float, int | None]] = [(float(at), k) for k, at in enumerate(self.length[:-1])]
        for at in (self.reach, float(self.length[-1]) - self.reach):
            if np.abs(self.length - at).min() > 1e-6:
                marks.append((at, None))
        return sorted(marks, key=lambda mark: mark[0])

    def edge(self, at: float) -> int:
        """The edge that begins at a place, or goes on there."""
        return int(np.clip(np.searchsorted(self.length, at + 1e-9) - 1, 0, len(self.line) - 2))

    def inside(self, at: float) -> FloatArray:
        """The point at a place, taken in as far as it is to be there."""
        edge = self.edge(at)
        share = (at - self.length[edge]) / (self.length[edge + 1] - self.length[edge])
        point = self.line[edge] + share * (self.line[edge + 1] - self.line[edge])
        near = min(at, float(self.length[-1]) - at)
        away = self.by_mm * max(1.0 - near / self.reach, 0.0)
        return np.asarray(point + away * _inward(self.line[edge], self.line[edge + 1]))

    def bend_radius(self, by_mm: float) -> float:
        """Radius of the arc between the side and the line that leaves it."""
        turn = float(np.arctan2(by_mm, self.reach - by_mm))
        return ROUNDED_OVER * self.reach / np.tan(0.5 * turn)
