"""A pad cut along a straight line: measured support, layers before and after, the cover at rest, and its figures.

The cut is solved for itself, as a line of finer places than the pad's mesh has, so it is quick enough to try paddings
on. It leaves out what the cover pulls across the cut: little at a ridge, much in a hollow, where `meshes.settle.on_pad`
asks the pad. Radius of a ridge: tension over pressure (Young and Laplace). Hard line: how much the cover turns over
10 mm beyond what its turn over 60 mm would give on an even bend. Lengths mm; in the plane of the cut (place, height).
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from meshes.base.arrays import FloatArray, locked_floats
from meshes.base.problems import ProblemError
from meshes.records.alignment import UNALIGNED, Alignment
from meshes.records.materials import BUILT_IN, Material
from meshes.records.pad import Pad
from meshes.settle.section_line import UP, Cut, SectionLine, section_line
from meshes.settle.settle import Conditions, Settled, settle_section
from meshes.support.chart import MakeProblem, make_problem_for

# Turn over the first width, less what the second would give there, is a hard line.
HARD_MM, EVEN_MM = 10.0, 60.0
# What a trimmer sees as a hollow under the cover.
LIFT_SEEN_MM = 1.0
# A cover that is rounder than this is told as straight.
STRAIGHT_RADIUS_MM = 2000.0
# Layers thinner than this have run out: how much they are crushed is of no interest.
THIN_MM = 1.0


@dataclass(frozen=True)
class Ridge:
    """Where a cut goes over an edge. side: the pad's word for it; radius_mm: smallest of the cover there; at: where;
    hard_line_deg; gap: the springs stop short of that side."""

    side: str
    radius_mm: float
    at: tuple[float, float]
    hard_line_deg: float
    gap: bool


@dataclass(frozen=True)
class SectionLift:
    """Where the cover stands off the padding in a cut: place and height where most, how far, and how long."""

    at: tuple[float, float]
    gap_mm: float
    long_mm: float


@dataclass(frozen=True, eq=False)
class Section:
    """One cut. support, cover (k, 2): measured support, cover at rest; before, after
    (layers, k, 2): top of every layer; ground (k, 2): what the padding stands on, or hangs down to, at rest;
    carried (k,): 1 where something holds the padding, 0 over an open gap; radius_mm (k,): of the cover, infinite where
    it runs straight; padding_mm2: area of free padding in the cut; settled: None without tension; thickness_mm
    (layers, k): of every free layer; pressed_mm: how much it is pressed by at rest."""

    cut: Cut
    support: FloatArray
    cover: FloatArray
    before: FloatArray
    after: FloatArray
    ground: FloatArray
    carried: FloatArray
    radius_mm: FloatArray
    ridges: tuple[Ridge, ...]
    lifts: tuple[SectionLift, ...]
    padding_mm2: float
    settled: Settled | None
    thickness_mm: FloatArray
    pressed_mm: FloatArray

    @property
    def name(self) -> str:
        """Where the pad is cut, in words."""
        return self.cut.name

    @property
    def free(self) -> FloatArray:
        """Top of the free padding, (k, 2)."""
        return self.before[-1] if len(self.before) else self.support

    def layer_mm(self) -> tuple[FloatArray, FloatArray]:
        """Thickness of every layer free and at rest, both (layers, k) mm."""
        return self.thickness_mm, self.thickness_mm - self.pressed_mm

    def crush_at(self, side: str) -> FloatArray:
        """Largest compression (layers,) of every layer on the half of the cut that ends at a side, as the pad names it;
        where a layer has run out it does not count."""
        if self.settled is None:
            return np.zeros(len(self.after))
        lies = self.layer_mm()[0].T > THIN_MM
        half = np.cumsum(_own_length(self.cover))
        near = half >= 0.5 * half[-1] if side == self.ridges[1].side else half < 0.5 * half[-1]
        strain = np.where(lies & near[:, None], self.settled.compression, 0.0)
        return np.asarray(strain.max(axis=0, initial=0.0))

    @property
    def ridge(self) -> Ridge:
        """The ridge that matters: over a gap where there is one, as hard lines come from there, else the sharpest."""
        return min(self.ridges, key=lambda ridge: (not ridge.gap, ridge.radius_mm))

    @property
    def ridge_radius_mm(self) -> float:
        """Smallest radius of the cover over that ridge."""
        return self.ridge.radius_mm

    @property
    def hard_line_deg(self) -> float:
        """Hard line of that ridge."""
        return self.ridge.hard_line_deg


def section(
    pad: Pad,
    cut: Cut,
    *,
    tension_n_per_mm: float,
    materials: Mapping[str, Material] = BUILT_IN,
    make_problem: MakeProblem | None = None,
    alignment: Alignment = UNALIGNED,
) -> Section:
    """Cut a pad and let its cover settle in the cut. Raises ProblemError as `section_line`, and without a rest."""
    line = section_line(pad, cut, materials=materials, make_problem=make_problem, alignment=alignment)
    return section_along(pad, cut, line, tension_n_per_mm=tension_n_per_mm, make_problem=make_problem)


def section_along(
    pad: Pad,
    cut: Cut,
    line: SectionLine,
    *,
    tension_n_per_mm: float,
    make_problem: MakeProblem | None = None,
    start_mm: FloatArray | None = None,
) -> Section:
    """The same along a line that is known; start_mm (k,): heights to begin with, when not given the free padding.
    Raises ProblemError when the cover does not come to rest."""
    held = Conditions(fixed=line.fixed, tied=line.tied, start_mm=start_mm)
    settled = at_rest(line, tension_n_per_mm, held, make_problem or make_problem_for(pad))
    return section_of(pad, cut, line, settled, tension_n_per_mm)


def at_rest(line: SectionLine, tension: float, held: Conditions, make_problem: MakeProblem) -> Settled | None:
    """The cover along a line at rest, None without tension. Raises ProblemError when it does not come to rest."""
    if tension <= 0:
        return None
    settled = settle_section(line.base, line.directors, line.stack, tension_n_per_mm=tension, conditions=held)
    if not settled.converged:
        raise ProblemError([make_problem("G141", (), f"the cover does not come to rest in the cut: {settled.note}")])
    return settled


def section_of(pad: Pad, cut: Cut, line: SectionLine, settled: Settled | None, tension: float) -> Section:
    """A cut along a line whose cover has settled under a tension (N/mm), None for one that lies on free padding."""
    stack = line.stack
    height = stack.free_mm() if settled is None else settled.heights_mm
    strain = np.zeros(line.thickness_mm.T.shape) if settled is None else settled.compression
    left = line.thickness_mm - stack.thickness_mm * strain.T
    # What hangs or stands under the cover: springs gone down, padding sunk into a gap, or none where the cover lifts.
    low = np.minimum(height - left.sum(axis=0), -line.bed_mm)
    cover = _placer(line)(height)
    radius = _bend_radius(cover) if settled is None else _rest_radius(line, settled, tension)
    return Section(
        cut=cut,
        support=locked_floats(line.support),
        cover=locked_floats(cover),
        before=_tops(line, np.cumsum(line.thickness_mm, axis=0) - line.bed_mm),
        after=_tops(line, low + np.cumsum(left, axis=0)),
        ground=locked_floats(_on_feet(line, _stood(line, low), -1)),
        carried=stack.carried,
        radius_mm=locked_floats(radius),
        ridges=_ridges(pad, line, cover, radius),
        lifts=() if settled is None else _lifts(cover, settled.lift_mm),
        padding_mm2=line.padding_mm2,
        settled=settled,
        thickness_mm=line.thickness_mm,
        pressed_mm=locked_floats(line.thickness_mm - left),
    )


def _tops(line: SectionLine, heights: FloatArray) -> FloatArray:
    """The lines (layers, k, 2) at the heights (layers, k); none where there is no layer."""
    tops = [_on_feet(line, _stood(line, h), k) for k, h in enumerate(heights)]
    return locked_floats(np.array(tops).reshape(*heights.shape, 2))


def _on_feet(line: SectionLine, points: FloatArray, layer: int) -> FloatArray:
    """The top (k, 2) of a layer, -1 the ground: beside blocks that lie on it it ends at the lower edge of the first."""
    for number, foot in sorted(line.feet.items(), reverse=True):
        if number > layer:
            points = np.where(np.isfinite(foot), foot, points)
    return points


def _stood(line: SectionLine, height: FloatArray) -> FloatArray:
    """Places (k, 2) at heights (k,) in the padding: outward from the base along the directors, below it straight down
    where blocks stand, so that what lies beneath them is level where it is."""
    place = _placer(line)(height)
    below = line.upright & (height < 0.0)
    bed = np.where(below, line.bed_mm, 1.0)[:, None]
    top = line.support + bed * np.array(UP)
    down = np.clip(-height[:, None] / bed, 0.0, 1.0)
    stood = line.base + down * (top - line.base) + height[:, None] * np.array(UP)
    return np.asarray(np.where(below[:, None], stood, place))


def _placer(line: SectionLine) -> Callable[[FloatArray], FloatArray]:
    def at(height: FloatArray) -> FloatArray:
        return line.base + height[:, None] * line.directors

    return at


def _rest_radius(line: SectionLine, settled: Settled, tension: float) -> FloatArray:
    """T / p, with the foam's pressure per length of the cover, which is not that of the padding where it fans.

    Held places lie on the free padding, where nothing presses."""
    free = line.stack.free_mm()
    stands = sum(w * _own_length(_placer(line)(f * free)) for f, w in ((0.0, 1 / 6), (0.5, 4 / 6), (1.0, 1 / 6)))
    pressure = 1e-3 * settled.pressure_kpa * stands / np.maximum(_own_length(settled.points), 1e-12)
    return np.where(pressure > 0, tension / np.maximum(pressure, 1e-300), np.inf)


def _bend_radius(cover: FloatArray) -> FloatArray:
    """Radius from the turn between neighbouring pieces of a line; infinite where it is straight or hollow."""
    radius = np.full(len(cover), np.inf)
    turn = -np.diff(_headings(cover))
    bent = np.flatnonzero(turn > 1e-12) + 1
    radius[bent] = _own_length(cover)[bent] / turn[bent - 1]
    return radius


def _own_length(points: FloatArray) -> FloatArray:
    """Half of the pieces beside each point."""
    long = np.linalg.norm(np.diff(points, axis=0), axis=1)
    return 0.5 * (np.append(long, 0.0) + np.append(0.0, long))


def _headings(points: FloatArray) -> FloatArray:
    way = np.diff(points, axis=0)
    return np.unwrap(np.arctan2(way[:, 1], way[:, 0]))


def hard_line_deg(cover: FloatArray) -> FloatArray:
    """Turn over 10 mm beyond an even share of the turn over 60 mm, at every point (k,) of a line, degrees."""
    arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(cover, axis=0), axis=1))])
    heading = _headings(cover)
    middle = 0.5 * (arc[1:] + arc[:-1])

    def turn(width: float) -> FloatArray:
        ends = (np.interp(arc + s * width, middle, heading) for s in (-0.5, 0.5))
        before, after = ends
        return np.asarray(before - after)

    return np.rad2deg(turn(HARD_MM) - turn(EVEN_MM) * HARD_MM / EVEN_MM)


def _ridges(pad: Pad, line: SectionLine, cover: FloatArray, radius: FloatArray) -> tuple[Ridge, ...]:
    arc = np.cumsum(_own_length(cover))
    hard = hard_line_deg(cover)
    ridges = []
    for side, here in zip(line.sides, (arc < 0.5 * arc[-1], arc >= 0.5 * arc[-1]), strict=True):
        own = np.flatnonzero(here)
        sharp = own[int(np.argmin(radius[own]))]
        place = (float(cover[sharp, 0]), float(cover[sharp, 1]))
        gap = pad.sides[side].gap > 0
        ridges.append(Ridge(pad.side_word(side), float(radius[sharp]), place, float(hard[own].max()), gap))
    return tuple(ridges)


def _lifts(cover: FloatArray, lift: FloatArray) -> tuple[SectionLift, ...]:
    off = np.flatnonzero(lift > LIFT_SEEN_MM)
    arc = np.cumsum(_own_length(cover))
    lifts = []
    for run in np.split(off, np.flatnonzero(np.diff(off) > 1) + 1) if len(off) else ():
        worst = run[int(np.argmax(lift[run]))]
        place = (float(cover[worst, 0]), float(cover[worst, 1]))
        lifts.append(SectionLift(place, float(lift[worst]), float(arc[run[-1]] - arc[run[0]])))
    return tuple(lifts)


def as_measured(pad: Pad) -> Pad:
    """The pad as it was measured, with its first layer only and no cloth over a gap: what shows the hard line."""
    sides = {name: replace(side, cloth=False) for name, side in pad.sides.items()}
    return replace(pad, layers=pad.layers[:1], sides=sides)
