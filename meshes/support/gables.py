"""Gables as triangles: the bands beside a side over which the face runs on, each filled in its own plane.

A gable's plane is laid out with the way round the outline to the right and down as down; its section runs in it a
little inside the face's edge, by the radius of that edge. What lies outside it, up to the seam, is the rest of the turn
round the edge, drawn square to the section. So the plane is flat to the last digit and the turn keeps its width.
Lengths mm.
"""

from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from meshes.base.arrays import FloatArray, IntArray
from meshes.numerics.triangulate import triangulate
from meshes.support.chart import Chart
from meshes.support.over import Beside, RolledOver


@dataclass(frozen=True, eq=False)
class GableEnd:
    """One end of a gable: the over-side there, the number of the gable's side in its `beside`, and that side."""

    over: RolledOver
    number: int

    @property
    def beside(self) -> Beside:
        """The gable's side, seen from there."""
        return self.over.beside[self.number]


@dataclass(frozen=True, eq=False)
class Gable:
    """A gable between places of the ring of the edge seam, first to last. start, end: the ends at which an over-side
    lies; length: of the side between its sharp corners, where both are one."""

    side: str
    first: int
    last: int
    start: GableEnd | None
    end: GableEnd | None
    length: float

    def frames(self) -> list[GableEnd]:
        """The ends that have an over-side."""
        return [end for end in (self.start, self.end) if end is not None]


@dataclass(frozen=True, eq=False)
class GableMesh:
    """New vertices of a gable: drawn (k, 2), u and c (k,); triangles by numbers of the whole mesh, and its foot: those
    along the tack line, in the order of the outline."""

    plan: FloatArray
    u: FloatArray
    c: FloatArray
    triangles: IntArray
    foot: IntArray


# A place of the ring this near to a corner is that corner.
AT_GABLE_MM = 1e-3
# An edge this sharp has no turn that triangles could follow.
NO_TURN_MM = 0.01


class GableNotFilledError(Exception):
    """A gable whose foot crosses its section, or whose rim leaves no room for triangles; side: whose it is."""

    def __init__(self, side: str) -> None:
        self.side = side
        super().__init__(f"no triangles fit the gable of the {side} side")


def gables_of(chart: Chart, ring: FloatArray, u: FloatArray) -> list[Gable]:
    """The gables of a pad, or of its right half. ring (k, 2): places of the edge seam in the order of the outline,
    drawn; u (k,)."""
    ends = {(b.side, number): GableEnd(over, number) for over in chart.overs for number, b in enumerate(over.beside)}
    found = []
    for side in dict.fromkeys(side for side, _ in ends):
        # A side that comes after an over-side begins there, one that comes before it ends there.
        start, end = ends.get((side, 1)), ends.get((side, 0))
        some = start or end
        assert some is not None
        first, last = (None if e is None else _at_corner(e, ring) for e in (start, end))
        if (start is not None and first is None) or (end is not None and last is None):
            # It lies on the other half.
            continue
        far = _furthest(some, ring, u)
        length = 0.0 if start is None or end is None else float(np.linalg.norm(start.beside.corner - end.beside.corner))
        found.append(Gable(side, far if first is None else first, far if last is None else last, start, end, length))
    return found


def _at_corner(end: GableEnd, ring: FloatArray) -> int | None:
    """Number of the place of the ring at the corner of an over-side, None where it has none."""
    over = end.over
    corner = over.draw(np.array([over.turn_end]), np.array([end.beside.seam]), end.number)
    off = np.linalg.norm(ring - corner, axis=1)
    return int(off.argmin()) if off.min() < AT_GABLE_MM else None


def _furthest(end: GableEnd, ring: FloatArray, u: FloatArray) -> int:
    """Number of the place of the ring that is furthest from the corner on the straight run of the side beside it."""
    low, high = sorted(end.beside.run)
    on = np.flatnonzero((u >= low) & (u <= high) & (end.over.local(ring)[:, 1] < -end.over.radius))
    return int(on[np.argmax(end.beside.away(u[on]))])


@dataclass(frozen=True, eq=False)
class _Plane:
    """A gable laid out in its plane: way round the outline to the right, height up, both from the sharp corner at its
    start, else at its end."""

    chart: Chart
    gable: Gable

    def _far(self, right: FloatArray, end: GableEnd) -> FloatArray:
        """How far from the corner of an end."""
        if end is self.gable.start:
            return right
        return self.gable.length - right

    def _right(self, far: FloatArray, end: GableEnd) -> FloatArray:
        return far if end is self.gable.start else self.gable.length - far

    def laid(self, drawn: FloatArray, u: FloatArray, c: FloatArray) -> FloatArray:
        """Where vertices of the seam or of the column at an end (n,) lie in the plane, (n, 2)."""
        some = self.gable.frames()[0]
        b = some.beside
        right = self._right(b.away(u), some)
        up = -(b.radius + c - b.turn_end)
        at = np.stack([right, up], axis=1)
        for end in self.gable.frames():
            rolled = end.over.rolled(drawn)
            own = rolled.on.copy()
            own[rolled.on] = rolled.number == end.number
            kept = own[rolled.on]
            at[own] = self.outside(end, rolled.c_over[kept], rolled.c_side[kept])
        return at

    def outside(self, end: GableEnd, c_over: FloatArray, c_side: FloatArray) -> FloatArray:
        """Where places round the edge lie that are drawn square to the section, (n, 2)."""
        over, b = end.over, end.beside
        angle, aside, sunk = over.section(c_over)
        wide = b.turn_end - c_side
        outward = aside - b.radius * np.sin(angle) + wide * np.sin(angle)
        down = sunk + b.radius * np.cos(angle) - wide * np.cos(angle)
        return np.stack([self._right(-outward / _square(end), end), -down], axis=1)

    def places(self, at: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Drawn (n, 2), u and c (n,) of points (n, 2) of the plane."""
        frames = self.gable.frames()
        some = frames[0]
        b = some.beside
        u = b.places(self._far(at[:, 0], some))
        c = b.turn_end - b.radius - at[:, 1]
        drawn = self.chart.to_plane(u, c)
        middle = 0.5 * self.gable.length
        for end in frames:
            near = np.ones(len(at), dtype=bool)
            if len(frames) == 2:
                near = at[:, 0] < middle if end is self.gable.start else at[:, 0] >= middle
            c_over, wide = _round_section(end, self._far(at[:, 0], end) * _square(end), -at[:, 1])
            own = near & (wide > 1e-9) & (c_over > 0.0)
            c[own] = end.beside.turn_end - wide[own]
            drawn[own] = end.over.draw(c_over[own], c[own], end.number)
        return drawn, u, c


def _square(end: GableEnd) -> float:
    """Cosine between the side of a gable and square to its over-side."""
    return abs(float(end.beside.along @ end.over.outward))


def _round_section(end: GableEnd, far: FloatArray, down: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The nearest place c of the section (n,), 0 on the face, and how far outside of it points of the plane lie, less
    the radius of the edge; far: from the over-side, down: from the face."""
    over, b = end.over, end.beside
    at = np.stack([far - over.radius, down - over.radius], axis=1)
    away = np.linalg.norm(at, axis=1)
    angle = np.arctan2(-at[:, 0], -at[:, 1])
    inner = over.radius - b.radius
    flat = np.where(at[:, 0] >= 0.0, -at[:, 1] - inner, -np.inf)
    arc = np.where((angle >= 0.0) & (angle <= over.turn), away - inner, -np.inf)
    way = np.array([-np.cos(over.turn), np.sin(over.turn)])
    square = np.array([-np.sin(over.turn), -np.cos(over.turn)])
    on = at @ way
    straight = np.where(on >= 0.0, at @ square - inner, -np.inf)
    outside = np.stack([flat, arc, straight], axis=1)
    which = outside.argmax(axis=1)
    c = np.stack([np.zeros(len(at)), angle * over.padded, over.turn_end + on], axis=1)
    rows = np.arange(len(at))
    return c[rows, which], outside[rows, which]


def gable_mesh(
    chart: Chart,
    gable: Gable,
    rim: tuple[IntArray, FloatArray, FloatArray, FloatArray],
    *,
    begin: int,
    edge_mm: float,
) -> GableMesh:
    """Fill a gable with triangles of about `edge_mm`. rim: numbers (k,), drawn (k, 2), u and c (k,) of the vertices it
    shares with its neighbours, from the foot at its start up, along the seam and down to the foot at its end; begin:
    number of the first new vertex. Raises GableNotFilledError."""
    plane = _Plane(chart, gable)
    number, drawn, u, c = rim
    top = plane.laid(drawn, u, c)
    foot_plan, foot_u, foot_c, foot = _foot(plane, top, edge_mm)
    loop = np.concatenate([top, foot])
    if not Polygon(loop).is_valid:
        raise GableNotFilledError(gable.side)
    order = np.arange(len(loop))
    segments = np.stack([order, np.roll(order, -1)], axis=1)
    flat = triangulate(loop, segments, rim=np.ones(len(loop), dtype=bool), edge_mm=edge_mm)
    if len(flat.segments) > len(segments):
        raise GableNotFilledError(gable.side)
    inner = plane.places(flat.points[len(loop) :])
    numbers = np.concatenate([number, begin + np.arange(len(flat.points) - len(number))])
    along = np.concatenate([number[:1], numbers[len(number) : len(loop)][::-1], number[-1:]])
    return GableMesh(
        np.concatenate([foot_plan, inner[0]]),
        np.concatenate([foot_u, inner[1]]),
        np.concatenate([foot_c, inner[2]]),
        numbers[flat.triangles],
        along,
    )


def _foot(plane: _Plane, top: FloatArray, edge_mm: float) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """The new vertices along the tack line of a gable, from its end to its start: drawn, u, c, and in the plane."""
    gable, chart = plane.gable, plane.chart
    some = gable.frames()[0].beside
    tips = [_tip(plane, end, edge_mm) if end is not None else None for end in (gable.start, gable.end)]
    left = float(top[0, 0] if tips[0] is None else tips[0][3][-1, 0])
    right = float(top[-1, 0] if tips[1] is None else tips[1][3][-1, 0])
    count = max(round((right - left) / edge_mm), 1)
    x = left + (right - left) * np.arange(1, count) / count
    u = some.places(plane._far(x, gable.frames()[0]))
    c = chart.tack(u)
    row = (chart.to_plane(u, c), u, c, np.stack([x, -(some.radius + c - some.turn_end)], axis=1))
    parts = [tips[0], row, None if tips[1] is None else tuple(values[::-1] for values in tips[1])]
    kept = [part for part in parts if part is not None]
    joined = [np.concatenate([part[k] for part in kept])[::-1] for k in range(4)]
    return joined[0], joined[1], joined[2], joined[3]


def _tip(plane: _Plane, end: GableEnd, edge_mm: float) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """The tack line round the edge at one end, from the seam to the plane of the gable: drawn, u, c, in the plane."""
    over, b = end.over, end.beside
    corner = over.draw(np.array([over.turn_end]), np.array([b.seam]), end.number)
    c_over = float(plane.chart.tack(over.places(over.local(corner)[:, 0]))[0])
    wide = b.turn_end - b.seam
    if wide < NO_TURN_MM:
        none = np.zeros(0)
        return np.zeros((0, 2)), none, none, np.zeros((0, 2))
    count = max(round(wide / edge_mm), 1)
    c = b.seam + wide * np.arange(1, count + 1) / count
    deep = np.full(count, c_over)
    at = plane.outside(end, deep, c)
    return over.draw(deep, c, end.number), b.places(plane._far(at[:, 0], end)), c, at
