"""The search for the least padding that brings a cover over an edge to a radius: stock sheets laid along the edge.

Every trial is a real one: the cut with those sheets is built and its cover let down. Sheets are of a material the pad
already has, of a thickness the shop has or it is sold in, alike in one proposal. Fewest sheets first, then least
material, and a little more where that keeps foam from being crushed beyond its limit.
"""

import math
from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain, product

from meshes.base.problems import ProblemError
from meshes.records.alignment import UNALIGNED, Alignment
from meshes.records.materials import BUILT_IN, CRUSH_LIMIT, Material
from meshes.records.pad import Layer, Pad
from meshes.settle.section import Section, section_along
from meshes.settle.section_line import Cut, CutGround, SectionLine, cut_ground, ground_key, section_line
from meshes.support.blocks import bare_edge_mm
from meshes.support.chart import MakeProblem

# How far a sheet runs in over the face, over which distance it is skived off, and which share of the way from the edge
# down to the tack line it is carried first: over a rail the padding has to go round with the cover. Lengths mm.
INWARD_MM = (10.0, 30.0, 60.0)
TAPER_MM = (60.0, 100.0, 150.0, 200.0, 260.0)
DOWN_SHARES = (0.0, 0.5, 1.0)
MOST_SHEETS = 4
# If none of so many of the thickest ways to lay some sheets comes to this share of the radius, more sheets are tried.
SOUNDINGS, SOUNDING_SHARE = 3, 0.95
# So much more material is laid, as a share, where it keeps foam from being crushed beyond its limit.
LITTLE_MORE = 0.25
# Where a material has no thickness it is sold in, a usual one (common practice, no source).
USUAL_SHEET_MM = 25.0
# More hollow under the cover than the padding had before is no answer.
PROPOSED_LIFT_MORE_MM = 2.0


@dataclass
class SectionTrial:
    """Cuts one pad after another at the same place; tries: how many so far; of: the pad last cut, without its padding,
    and grounds: of its cuts, by what they owe to padding."""

    cut: Cut
    tension: float
    materials: Mapping[str, Material] = field(default_factory=lambda: BUILT_IN)
    make_problem: MakeProblem | None = None
    alignment: Alignment = UNALIGNED
    tries: int = 0
    of: Pad | None = None
    grounds: dict[Hashable, CutGround] = field(default_factory=dict)

    def __call__(self, pad: Pad) -> Section:
        self.tries += 1
        return section_along(
            pad, self.cut, self.line(pad), tension_n_per_mm=self.tension, make_problem=self.make_problem
        )

    def line(self, pad: Pad) -> SectionLine:
        """The cut through a pad before anything presses. Pads that differ in their padding only share its ground."""
        key = ground_key(pad)
        if self.of != (bare := replace(pad, layers=())):
            self.of, self.grounds = bare, {}
        if key not in self.grounds:
            self.grounds[key] = cut_ground(pad, self.cut, make_problem=self.make_problem, alignment=self.alignment)
        return section_line(
            pad,
            self.cut,
            materials=self.materials,
            make_problem=self.make_problem,
            alignment=self.alignment,
            ground=self.grounds[key],
        )


@dataclass
class PaddingSearch:
    """Looks for the least padding. pad: with cloth; lift_mm: most hollow allowed; cuts: what was tried, None where it
    could not be built; areas: of padding in the cut, mm2, of what was weighed."""

    pad: Pad
    side: str
    lift_mm: float
    trial: SectionTrial
    cuts: dict[tuple[Layer, ...], Section | None]
    areas: dict[tuple[Layer, ...], float] = field(default_factory=dict)

    def least(self, wanted_mm: float) -> tuple[Layer, ...]:
        """The least layers that reach a radius, or with a little more those that crush no foam too far; those that come
        nearest when none do."""
        if self.radius(()) >= wanted_mm:
            return ()
        for count in range(1, MOST_SHEETS + 1):
            choices = self._reaching(count, wanted_mm)
            least = next(choices, None)
            if least is None:
                continue
            if self.spares_foam(least):
                return least
            most = self.material_mm2(least) + LITTLE_MORE * (self.material_mm2(least) - self.material_mm2(()))
            counts = range(count, min(count + 1, MOST_SHEETS) + 1)
            more = chain.from_iterable(self._reaching(n, wanted_mm, most) for n in counts)
            return next((one for one in more if self.spares_foam(one)), least)
        return max(self.cuts, key=self.radius)

    def _reaching(self, count: int, wanted_mm: float, most_mm2: float = math.inf) -> Iterator[tuple[Layer, ...]]:
        """So many sheets that reach a radius, least material first."""
        material, choices = _sheet_material(self.pad.layers, self.trial.materials), []
        for thick in material.sheets_mm or (USUAL_SHEET_MM,):
            ways = sorted(_choices(self.pad, self.side, count, material.name, thick), key=self.material_mm2)
            built = [layers for layers in ways if math.isfinite(self.material_mm2(layers))]
            # The thickest show whether so many sheets can do it at all.
            soundings = (self.radius(layers) for layers in built[-SOUNDINGS:])
            if max(soundings, default=0.0) >= SOUNDING_SHARE * wanted_mm:
                choices += built
        for layers in sorted(choices, key=self.material_mm2):
            if self.material_mm2(layers) > most_mm2:
                return
            if self.radius(layers) >= wanted_mm:
                yield layers

    def crushed(self, layers: tuple[Layer, ...]) -> tuple[int, float] | None:
        """Which foam is crushed most over the side, and by what share."""
        cut = self.cuts[layers]
        if cut is None:
            return None
        crush = cut.crush_at(self.pad.side_word(self.side))
        foam = [k for k, one in enumerate(self.pad.layers + layers) if self.trial.materials[one.material].foam]
        worst = max(foam, key=lambda k: float(crush[k]), default=None)
        return None if worst is None else (worst, float(crush[worst]))

    def spares_foam(self, layers: tuple[Layer, ...]) -> bool:
        """Whether no foam over the side is crushed beyond its limit."""
        worst = self.crushed(layers)
        return worst is None or worst[1] <= CRUSH_LIMIT

    def material_mm2(self, layers: tuple[Layer, ...]) -> float:
        """Area of padding in the cut; infinite where these layers cannot be built."""
        if layers not in self.areas:
            self.areas[layers] = self._weighed(layers)
        return self.areas[layers]

    def _weighed(self, layers: tuple[Layer, ...]) -> float:
        try:
            return self.trial.line(replace(self.pad, layers=self.pad.layers + layers)).padding_mm2
        except ProblemError:
            return math.inf

    def radius(self, layers: tuple[Layer, ...]) -> float:
        """Radius over the side with these layers; 0 where they cannot be built or the cover lifts off them."""
        if layers not in self.cuts:
            self.cuts[layers] = _tried(self.trial, replace(self.pad, layers=self.pad.layers + layers))
        cut = self.cuts[layers]
        if cut is None or most_lift(cut) > self.lift_mm:
            return 0.0
        word = self.pad.side_word(self.side)
        return next(ridge.radius_mm for ridge in cut.ridges if ridge.side == word)


def _tried(trial: SectionTrial, pad: Pad) -> Section | None:
    """The cut of a padding on trial; None for one that cannot be built, such as more than a corner has room for."""
    try:
        return trial(pad)
    except ProblemError:
        return None


def most_lift(cut: Section) -> float:
    return max((lift.gap_mm for lift in cut.lifts), default=0.0)


def _choices(pad: Pad, side: str, count: int, material: str, thick: float) -> Iterator[tuple[Layer, ...]]:
    """Ways to lay `count` sheets of a material along a side, each half a skive shorter than the one below it."""
    edge = pad.sides[side]
    laid = [layer.thickness for layer in pad.layers if layer.block is None and layer.where in ("all", "face", side)]
    middle = bare_edge_mm(pad, side) + sum(laid)
    for inward, taper, share in product(INWARD_MM, TAPER_MM, DOWN_SHARES):
        steps = [inward + 0.5 * taper * k for k in reversed(range(count))]
        way = edge.drop - edge.lead + 0.5 * math.radians(edge.turn_deg) * (middle + count * thick)
        down = 5.0 * round(share * way / 5.0)
        yield tuple(Layer(material, thick, side, step, taper, down) for step in steps)


def _sheet_material(layers: Sequence[Layer], materials: Mapping[str, Material]) -> Material:
    """The firmest foam the pad has; where it has none the shop's own foam nearest to the built-in medium one, which is
    what stands in where the shop states none. Only foam keeps the round it is given: cloth and stuffing do not."""
    medium = BUILT_IN["foam_medium"]
    used = [materials[layer.material] for layer in layers if materials[layer.material].foam]
    if used:
        return max(used, key=lambda m: m.compression_kpa[1])
    own = [m for name, m in materials.items() if m.foam and BUILT_IN.get(name) != m]
    return min(own, key=lambda m: abs(m.compression_kpa[1] - medium.compression_kpa[1]), default=medium)
