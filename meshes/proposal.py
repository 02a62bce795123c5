"""Padding for a wanted radius: which sheets, laid where along an edge, bring the settled cover over it to that radius.

Every trial is a real one: layers are added to the pad, the cut over the edge is built and its cover let down, with
cloth carried over the gap, for without something to hold it no padding makes a hard line go away. Sheets are of a
material the pad already has, of the thickness it is sold in. Fewest sheets first, then least material.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

from meshes.chart import Blame
from meshes.cut import Direction, cut_line
from meshes.materials import BUILT_IN, Material
from meshes.pad import SIDES, Layer, Pad
from meshes.problems import Problem, ProblemError
from meshes.section import Section, SectionLift, as_measured, section

# How far a sheet runs in over the face, over which distance it is skived off, and which share of the way from the edge
# down to the tack line it is carried first: over a rail the padding has to go round with the cover. Lengths mm.
INWARD_MM = (10.0, 30.0, 60.0)
TAPER_MM = (60.0, 100.0, 150.0, 200.0, 260.0)
DOWN_SHARES = (0.0, 0.5, 1.0)
MOST_SHEETS = 4
# If none of so many of the thickest ways to lay some sheets comes to this share of the radius, more sheets are tried.
SOUNDINGS, NEAR_SHARE = 3, 0.95
# Where a material has no thickness it is sold in, a usual one (common practice, no source).
USUAL_SHEET_MM = 25.0
# More hollow under the cover than the padding had before is no answer.
LIFT_MORE_MM = 2.0


@dataclass(frozen=True, eq=False)
class Proposal:
    """Padding for one side. side: as the sheet names it; wanted_mm; reached: whether a trial came to the radius;
    layers: to be added to the pad, from inside outward; cloth: to be carried over the gap; pad: with both;
    before, after: the cut over the side; material_mm2: more padding in the cut; tries: cuts that were tried."""

    side: str
    wanted_mm: float
    reached: bool
    layers: tuple[Layer, ...]
    cloth: bool
    pad: Pad
    before: Section
    after: Section
    material_mm2: float
    tries: int

    @property
    def text(self) -> str:
        """The proposal in words."""
        layers = [
            f"{layer.thickness:g} mm {layer.material}, {layer.within:g} mm in over the face, {layer.below:g} mm past "
            f"the edge, run out over {layer.taper:g} mm"
            for layer in self.layers
        ]
        what = (["cloth over the gap"] if self.cloth else []) + layers
        radius = f"the cover goes over with a radius of {self.after.ridge_radius_mm:.0f} mm"
        if not what:
            return f"nothing to add: {radius}"
        return f"{'; '.join(what)}: {radius}" + ("" if self.reached else f", short of {self.wanted_mm:g} mm")


@dataclass(frozen=True, eq=False)
class Comparison:
    """One cut of a pad, three ways. bare: as measured, first layer only, no cloth over a gap; padded: as the sheet pads
    it; proposed: with the padding for the wanted radius, None where none was wanted; on_pad: where the cover of the
    whole pad lifts along this cut, None where only the cut was computed."""

    name: str
    bare: Section
    padded: Section
    proposal: Proposal | None = None
    on_pad: tuple[SectionLift, ...] | None = None

    @property
    def lifts(self) -> tuple[SectionLift, ...]:
        """Where the cover lifts, as the sheet pads it: on the pad itself where it was built, else in the cut."""
        return self.padded.lifts if self.on_pad is None else self.on_pad

    @property
    def proposed(self) -> Section | None:
        """The cut with the padding proposed."""
        return None if self.proposal is None else self.proposal.after

    @property
    def ridge_radius_bare_mm(self) -> float:
        """Smallest radius over the same edge, as measured."""
        side = self.padded.ridge.side
        return next(ridge.radius_mm for ridge in self.bare.ridges if ridge.side == side)

    @property
    def ridge_radius_mm(self) -> float:
        """Smallest radius of the cover over the edge that matters, as the sheet pads it."""
        return self.padded.ridge_radius_mm


def compare(
    pad: Pad,
    direction: Direction,
    at: float,
    *,
    tension_n_per_mm: float,
    materials: Mapping[str, Material] = BUILT_IN,
    blame: Blame | None = None,
) -> Comparison:
    """Cut a pad as measured, as padded, and with the padding proposed where the sheet wants a radius.

    Raises ProblemError as `section`.
    """
    trial = _Trial(direction, at, tension_n_per_mm, materials, blame)
    padded = trial(pad)
    proposal = None
    if pad.wanted_radius is not None and _is_wanted_here(pad, padded):
        proposal = _proposed(pad, _side_of(pad, padded.ridge.side), pad.wanted_radius, trial)
    return Comparison(padded.name, trial(as_measured(pad)), padded, proposal)


def _is_wanted_here(pad: Pad, cut: Section) -> bool:
    """A wanted radius is that of the edges over gaps; of a pad without gaps, that of its front and rear."""
    gaps = any(side.gap > 0 for side in pad.sides.values())
    return cut.ridge.gap if gaps else cut.direction == "along"


def usual_cuts(
    pad: Pad, *, tension_n_per_mm: float, materials: Mapping[str, Material] = BUILT_IN, blame: Blame
) -> tuple[tuple[Comparison, ...], tuple[Problem, ...]]:
    """The two cuts through the middle of a pad, along and across; and warnings for those that cannot be made."""
    middle = 0.5 * (min(y for _, y in pad.outline.corners) + max(y for _, y in pad.outline.corners))
    cuts: list[Comparison] = []
    notes: list[Problem] = []
    places: tuple[tuple[Direction, float], ...] = (("along", 0.0), ("across", round(middle, 1)))
    for direction, at in places:
        try:
            cut = compare(pad, direction, at, tension_n_per_mm=tension_n_per_mm, materials=materials, blame=blame)
        except ProblemError as fault:
            notes += [replace(problem, warning=True) for problem in fault.problems]
        else:
            cuts.append(cut)
    return tuple(cuts), tuple(notes)


def propose(
    pad: Pad,
    side: str,
    wanted_mm: float,
    *,
    at: float = 0.0,
    tension_n_per_mm: float,
    materials: Mapping[str, Material] = BUILT_IN,
    blame: Blame | None = None,
) -> Proposal:
    """Padding that brings the cover over one side (front, right, rear, left) to a radius of `wanted_mm`, in a cut at
    `at` square to that side. Raises ProblemError as `section`."""
    direction: Direction = "along" if side in ("front", "rear") else "across"
    return _proposed(pad, side, wanted_mm, _Trial(direction, at, tension_n_per_mm, materials, blame))


@dataclass
class _Trial:
    direction: Direction
    at: float
    tension: float
    materials: Mapping[str, Material]
    blame: Blame | None
    tries: int = 0

    def __call__(self, pad: Pad) -> Section:
        self.tries += 1
        return section(
            pad,
            self.direction,
            self.at,
            tension_n_per_mm=self.tension,
            materials=self.materials,
            blame=self.blame,
        )


def _side_of(pad: Pad, word: str) -> str:
    return next(side for side in SIDES if pad.side_word(side) == word)


def _proposed(pad: Pad, side: str, wanted_mm: float, trial: _Trial) -> Proposal:
    before = trial(pad)
    # Cloth first: it costs next to nothing, and padding needs it.
    cloth = pad.sides[side].gap > 0 and not pad.sides[side].cloth
    carried = replace(pad, sides={**pad.sides, side: replace(pad.sides[side], cloth=True)}) if cloth else pad
    start = trial(carried)
    search = _Search(carried, side, _most_lift(before) + LIFT_MORE_MM, trial, {(): start})
    layers = search.least(wanted_mm)
    after = search.cuts[layers]
    assert after is not None
    return Proposal(
        side=side,
        wanted_mm=wanted_mm,
        reached=search.radius(layers) >= wanted_mm,
        layers=layers,
        cloth=cloth,
        pad=replace(carried, layers=pad.layers + layers),
        before=before,
        after=after,
        material_mm2=after.padding_mm2 - before.padding_mm2,
        tries=trial.tries,
    )


@dataclass
class _Search:
    """Looks for the least padding. pad: with cloth; lift_mm: most hollow allowed; cuts: what was tried, None where it
    could not be built."""

    pad: Pad
    side: str
    lift_mm: float
    trial: _Trial
    cuts: dict[tuple[Layer, ...], Section | None]

    def least(self, wanted_mm: float) -> tuple[Layer, ...]:
        """The least layers that reach a radius; those that come nearest when none do."""
        if self.radius(()) >= wanted_mm:
            return ()
        for count in range(1, MOST_SHEETS + 1):
            choices = sorted(_choices(self.pad, self.side, count, self.trial.materials), key=self.material_mm2)
            # The thickest show whether so many sheets can do it at all.
            if max(self.radius(layers) for layers in choices[-SOUNDINGS:]) < NEAR_SHARE * wanted_mm:
                continue
            for layers in choices:
                if self.radius(layers) >= wanted_mm:
                    return layers
        return max(self.cuts, key=self.radius)

    def material_mm2(self, layers: tuple[Layer, ...]) -> float:
        """Area of padding in the cut; infinite where these layers cannot be built."""
        trial, pad = self.trial, replace(self.pad, layers=self.pad.layers + layers)
        try:
            line = cut_line(pad, trial.direction, trial.at, materials=trial.materials, blame=trial.blame)
        except ProblemError:
            return math.inf
        return line.padding_mm2

    def radius(self, layers: tuple[Layer, ...]) -> float:
        """Radius over the side with these layers; 0 where they cannot be built or the cover lifts off them."""
        if layers not in self.cuts:
            self.cuts[layers] = _tried(self.trial, replace(self.pad, layers=self.pad.layers + layers))
        cut = self.cuts[layers]
        if cut is None or _most_lift(cut) > self.lift_mm:
            return 0.0
        word = self.pad.side_word(self.side)
        return next(ridge.radius_mm for ridge in cut.ridges if ridge.side == word)


def _tried(trial: _Trial, pad: Pad) -> Section | None:
    """The cut of a padding on trial; None for one that cannot be built, such as more than a corner has room for."""
    try:
        return trial(pad)
    except ProblemError:
        return None


def _most_lift(cut: Section) -> float:
    return max((lift.gap_mm for lift in cut.lifts), default=0.0)


def _choices(pad: Pad, side: str, count: int, materials: Mapping[str, Material]) -> Iterator[tuple[Layer, ...]]:
    """Ways to lay `count` sheets along a side, each half a skive shorter than the one below it."""
    material = _sheet_material(pad.layers, materials)
    thick = material.thickness_mm or USUAL_SHEET_MM
    edge = pad.sides[side]
    middle = edge.edge_radius + sum(layer.thickness for layer in pad.layers if layer.where in ("all", "face", side))
    for inward, taper, share in product(INWARD_MM, TAPER_MM, DOWN_SHARES):
        steps = [inward + 0.5 * taper * k for k in reversed(range(count))]
        way = edge.drop - edge.lead + 0.5 * math.radians(edge.turn_deg) * (middle + count * thick)
        down = 5.0 * round(share * way / 5.0)
        yield tuple(Layer(material.name, thick, side, step, taper, down) for step in steps)


def _sheet_material(layers: Sequence[Layer], materials: Mapping[str, Material]) -> Material:
    """The firmest foam the pad has; the firmest of all where it has none; medium foam for a bare pad."""
    used = [materials[layer.material] for layer in layers] or [BUILT_IN["foam_medium"]]
    sheets = [m for m in used if m.foam] or used
    return max(sheets, key=lambda m: m.compression_kpa[1])
