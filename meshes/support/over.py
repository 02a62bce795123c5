"""Where a face runs on over a side between two gables: the corner there is no arc of the plan but the section itself.

The side beside goes straight down in one plane. Face and over-side together are one bent sheet, whose section square to
the over-side is the face, an arc and a straight run; where it comes to the plane of the side beside, the edge of that
side goes on along the section, round the arc and down to the tack line, as round as it is along the face.

A place of such a corner has two section places at once: c_over along the section, and c_side round the edge beside it.
The chart draws it where both would put it: c_over - edge radius outward of the over-side, c_side - edge radius
outward of the side beside. Plan lengths mm; angles rad. "Local" plan: along the over-side, and outward of it.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import BoolArray, FloatArray, IntArray
from meshes.outlines.rounded import RoundedOutline
from meshes.records.pad import Pad

# Places on a run of the outline keep this far from its ends, so that they belong to it.
_IN_RUN = 1e-9


@dataclass(frozen=True, eq=False)
class Beside:
    """One of the two sides that end at an over-side. corner (2,): where both would meet sharp; along (2,): unit, away
    from it; normal (2,): unit, outward; run: places u of its straight run, at the corner and at the far end, and
    reach: how far both are from the corner; radius, padded, seam: of its bare and its padded edge, and how far round
    that the seam lies."""

    side: str
    corner: FloatArray
    along: FloatArray
    normal: FloatArray
    run: tuple[float, float]
    reach: tuple[float, float]
    radius: float
    padded: float
    seam: float

    @property
    def turn_end(self) -> float:
        """Where its turn ends, on the padded edge."""
        return 0.5 * np.pi * self.padded

    def along_of(self, plan: FloatArray) -> FloatArray:
        """How far from the corner points (n, 2) lie along the side."""
        return np.asarray((plan - self.corner) @ self.along)

    def places(self, away: FloatArray) -> FloatArray:
        """Places u of the run at lengths from the corner (n,)."""
        share = np.clip((away - self.reach[0]) / (self.reach[1] - self.reach[0]), _IN_RUN, 1.0 - _IN_RUN)
        return np.asarray(self.run[0] + share * (self.run[1] - self.run[0]))

    def away(self, u: FloatArray) -> FloatArray:
        """Lengths from the corner of places of the run."""
        share = (u - self.run[0]) / (self.run[1] - self.run[0])
        return np.asarray(self.reach[0] + share * (self.reach[1] - self.reach[0]))

    def angle(self, c: FloatArray) -> FloatArray:
        """How far round the edge a place c lies."""
        quarter = 0.5 * np.pi
        if self.padded <= 1e-9:
            return np.where(c > 1e-9, quarter, 0.0)
        return np.clip(c / self.padded, 0.0, quarter)


@dataclass(frozen=True, eq=False)
class RolledPlaces:
    """Places of a rolled corner and of the section between them, (n,) each. on: which places of those asked for they
    are; c_over along the section, c_side round the edge of the side beside (negative between the gables), number of
    that side in `beside`; plan (n, 2): where the section stands, sunk: how far below the face, angle: its turn."""

    on: BoolArray
    c_over: FloatArray
    c_side: FloatArray
    number: IntArray
    plan: FloatArray
    sunk: FloatArray
    angle: FloatArray


@dataclass(frozen=True, eq=False)
class RolledOver:
    """A side over which the face runs on. origin (2,): where it begins, along and outward (2,): unit; run: places u of
    its straight run and reach: lengths from the origin of its ends; radius, padded, turn: of its edge; beside: the side
    before it and the side after it."""

    side: str
    origin: FloatArray
    along: FloatArray
    outward: FloatArray
    run: tuple[float, float]
    reach: tuple[float, float]
    radius: float
    padded: float
    turn: float
    beside: tuple[Beside, Beside]

    @property
    def turn_end(self) -> float:
        """c where the arc of the section ends."""
        return self.padded * self.turn

    def local(self, plan: FloatArray) -> FloatArray:
        """Points (n, 2) along and outward of the over-side."""
        return np.stack([(plan - self.origin) @ self.along, (plan - self.origin) @ self.outward], axis=1)

    def plan(self, local: FloatArray) -> FloatArray:
        """The other way round."""
        return np.asarray(self.origin + local[:, :1] * self.along + local[:, 1:] * self.outward)

    def section(self, c: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Turn of the section at places c (n,), how far outward of the over-side it stands there, and how far below
        the face."""
        sharp = np.where(c > 1e-9, self.turn, 0.0)
        angle = np.clip(c / self.padded, 0.0, self.turn) if self.padded > 1e-9 else sharp
        below = np.maximum(c - self.turn_end, 0.0)
        aside = self.radius * (np.sin(angle) - 1.0) + below * np.cos(self.turn)
        aside = np.where(c < 0.0, c - self.radius, aside)
        return angle, aside, self.radius * (1.0 - np.cos(angle)) + below * np.sin(self.turn)

    def places(self, along: FloatArray) -> FloatArray:
        """Places u of its run at lengths along it (n,)."""
        share = (along - self.reach[0]) / (self.reach[1] - self.reach[0])
        return np.asarray(self.run[0] + np.clip(share, _IN_RUN, 1.0 - _IN_RUN) * (self.run[1] - self.run[0]))

    def rolled(self, drawn: FloatArray) -> RolledPlaces:
        """Those of the points (n, 2) drawn in the chart that lie past the begin of the arc."""
        local = self.local(drawn)
        on = local[:, 1] > -self.radius + 1e-9
        c_over = local[on, 1] + self.radius
        angle, aside, sunk = self.section(c_over)
        plan = self.plan(np.stack([local[on, 0], aside], axis=1))
        out = np.stack([(plan - b.corner) @ b.normal + b.radius for b in self.beside], axis=1)
        number = np.argmax(out, axis=1)
        c_side = out[np.arange(len(out)), number]
        # Far outside both there is no place of this pad.
        return RolledPlaces(on, c_over, c_side, number, plan, sunk, angle)

    def rolled_of(self, drawn: FloatArray, u: FloatArray, c: FloatArray, turn_end: FloatArray) -> RolledPlaces:
        """Those of the chart's vertices (n,) that lie on the section or in its corners: drawn (n, 2), u, c, and where
        the turn ends there. What lies further down the side beside is its plane."""
        at = self.rolled(drawn)
        in_turn = np.any([_within(u, b.run) for b in self.beside], axis=0) & (c <= turn_end + 1e-9)
        kept = (in_turn | _within(u, self.run))[at.on]
        on = at.on.copy()
        on[at.on] = kept
        rest = (at.c_over, at.c_side, at.number, at.plan, at.sunk, at.angle)
        return RolledPlaces(on, *(values[kept] for values in rest))

    def draw(self, c_over: FloatArray, c_side: FloatArray, number: int) -> FloatArray:
        """Where places of one of its corners are drawn, (n, 2)."""
        b = self.beside[number]
        aside = self.section(c_over)[1]
        # Along the over-side, to where the side beside is as far out as c_side says.
        base = self.plan(np.stack([np.zeros(len(aside)), aside], axis=1))
        along = (c_side - b.radius - (base - b.corner) @ b.normal) / float(self.along @ b.normal)
        return self.plan(np.stack([along, c_over - self.radius], axis=1))

    def section_places(self, drawn: FloatArray, u: FloatArray, c: FloatArray) -> tuple[FloatArray, FloatArray]:
        """u and c of points (n, 2) drawn in the chart, those that do not lie past the arc's begin as handed in: on the
        section between the gables those of the over-side, in a corner those of the side beside."""
        at = self.rolled(drawn)
        u, c = u.copy(), c.copy()
        along = self.local(drawn)[at.on, 0]
        own_u, own_c = self.places(along), at.c_over.copy()
        for k, b in enumerate(self.beside):
            corner = (at.number == k) & (at.c_side > 0.0)
            own_u[corner] = b.places(b.along_of(at.plan[corner]))
            own_c[corner] = at.c_side[corner]
        u[at.on], c[at.on] = own_u, own_c
        return u, c

    def onto(
        self, other: "RolledOver", drawn: FloatArray, u: FloatArray, ends: tuple[FloatArray, FloatArray]
    ) -> tuple[BoolArray, FloatArray, FloatArray]:
        """Which of the chart's vertices, drawn (n, 2) at u (n,), with their c and where their turn ends, lie on the
        section or in its corners; and where the same places are drawn, and their c, on a chart of other padding."""
        at = self.rolled_of(drawn, u, *ends)
        c_over = at.angle * other.padded + np.maximum(at.c_over - self.turn_end, 0.0)
        along = self.local(drawn[at.on])[:, 0]
        found, c = self.plan(np.stack([along, c_over - self.radius], axis=1)), c_over.copy()
        for k, (b, far) in enumerate(zip(self.beside, other.beside, strict=True)):
            own = (at.number == k) & (at.c_side > 0.0)
            c[own] = b.angle(at.c_side[own]) * far.padded
            found[own] = other.draw(c_over[own], c[own], k)
        return at.on, found, c

    def on_seam(self, drawn: FloatArray) -> FloatArray:
        """Those of the points (n, 2) drawn past the begin of the arc, moved onto the edge seam: straight across at the
        end of the arc, else round the edge beside."""
        at = self.rolled(drawn)
        moved = drawn[at.on].copy()
        for k, b in enumerate(self.beside):
            own = (at.number == k) & (at.c_over < self.turn_end - 1e-6)
            moved[own] = self.draw(at.c_over[own], np.full(int(own.sum()), b.seam), k)
        return moved

    def below(self, top: FloatArray, tack: FloatArray, rows: int) -> FloatArray:
        """Places below points (k, 2) of the line across at the end of the arc down to the tack line, whose c is tack
        (k,), in even steps: drawn, (rows, k, 2)."""
        along = self.local(top)[:, 0]
        ends = self._ends(np.full(len(top), self.turn_end))
        share = (along - ends[0]) / (ends[1] - ends[0])
        found = []
        for row in range(1, rows + 1):
            c = self.turn_end + (tack - self.turn_end) * row / rows
            low, high = self._ends(c)
            found.append(self.plan(np.stack([low + share * (high - low), c - self.radius], axis=1)))
        return np.array(found)

    def _ends(self, c: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Where the seams beside lie along the over-side at places c (n,) of the section."""
        low, high = (self.local(self.draw(c, np.full(len(c), b.seam), k))[:, 0] for k, b in enumerate(self.beside))
        return low, high

    def order(self, drawn: FloatArray, u: FloatArray) -> FloatArray:
        """Numbers that put places of the edge seam (n,) in the order of the outline: their u, and past the begin of the
        arc numbers that run on evenly through the corners."""
        at = self.rolled(drawn)
        order = u.copy()
        share = at.c_over / self.turn_end
        along = self.local(drawn)[at.on, 0]
        ends = [float(end[0]) for end in self._ends(np.array([self.turn_end]))]
        # The line across comes between the places of both corners, which own the arcs of the outline.
        across = self.run[0] + (along - ends[0]) / (ends[1] - ends[0]) * (self.run[1] - self.run[0])
        first = self.run[0] - 1.0 + share
        last = self.run[1] + 1.0 - share
        found = np.where(share > 1.0 - 1e-7, across, np.where(at.number == 0, first, last))
        order[at.on] = found
        return order


def _within(u: FloatArray, run: tuple[float, float]) -> BoolArray:
    return np.asarray((u >= min(run)) & (u <= max(run)))


def overs_of(pad: Pad, outline: RoundedOutline, padding_mm: Mapping[str, float]) -> tuple[RolledOver, ...]:
    """The sides over which the face of a pad runs on; padding_mm: on the edge of every side."""
    return tuple(_over(pad, outline, padding_mm, side) for side in pad.bands.over)


def _over(pad: Pad, outline: RoundedOutline, padding_mm: Mapping[str, float], name: str) -> RolledOver:
    corners = np.asarray(pad.outline.corners)
    count = len(corners)
    k = pad.outline.side_of_edge.index(name)
    begin, end = corners[k], corners[(k + 1) % count]
    along = (end - begin) / np.linalg.norm(end - begin)
    outward = np.array([along[1], -along[0]])
    edge = pad.sides[name]
    run = (2.0 * k + 1.0, 2.0 * k + 2.0)
    tips = outline.point(np.array([run[0] + 1e-12, run[1] - 1e-12]))
    before = _beside(pad, outline, padding_mm, (k - 1) % count, last=True)
    after = _beside(pad, outline, padding_mm, (k + 1) % count, last=False)
    return RolledOver(
        side=name,
        origin=begin,
        along=along,
        outward=outward,
        run=run,
        reach=(float((tips[0] - begin) @ along), float((tips[1] - begin) @ along)),
        radius=edge.edge_radius,
        padded=edge.edge_radius + padding_mm[name],
        turn=float(np.deg2rad(edge.turn_deg)),
        beside=(before, after),
    )


def _beside(pad: Pad, outline: RoundedOutline, padding_mm: Mapping[str, float], edge: int, *, last: bool) -> Beside:
    """The side of edge number `edge` of the outline, which ends (last) or begins at an over-side."""
    corners = np.asarray(pad.outline.corners)
    begin, end = corners[edge], corners[(edge + 1) % len(corners)]
    way = (end - begin) / np.linalg.norm(end - begin)
    normal = np.array([way[1], -way[0]])
    corner, along = (end, -way) if last else (begin, way)
    run = (2.0 * edge + 2.0, 2.0 * edge + 1.0) if last else (2.0 * edge + 1.0, 2.0 * edge + 2.0)
    inner = [min(max(u, 2.0 * edge + 1.0 + 1e-12), 2.0 * edge + 2.0 - 1e-12) for u in run]
    tips = outline.point(np.array(inner))
    name = pad.outline.side_of_edge[edge]
    side = pad.sides[name]
    padded = side.edge_radius + padding_mm[name]
    return Beside(
        side=name,
        corner=corner,
        along=along,
        normal=normal,
        run=run,
        reach=(float((tips[0] - corner) @ along), float((tips[1] - corner) @ along)),
        radius=side.edge_radius,
        padded=padded,
        seam=0.25 * np.pi * padded + side.seam_below,
    )
