"""Padding for a wanted radius: which sheets, laid where along an edge, bring the settled cover over it to that radius.

Cloth is carried over a gap first, for without something to hold it no padding makes a hard line go away. A pad is
compared in one cut as measured, as padded, and with what is proposed.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial

from meshes.base.problems import Problem, ProblemError
from meshes.records.alignment import UNALIGNED, Alignment
from meshes.records.materials import BUILT_IN, CRUSH_LIMIT, Material
from meshes.records.pad import SIDES, Layer, Pad
from meshes.settle.padding_search import PROPOSED_LIFT_MORE_MM, PaddingSearch, SectionTrial, most_lift
from meshes.settle.section import Ridge, Section, SectionLift, as_measured
from meshes.settle.section_line import Cut
from meshes.support.chart import MakeProblem


@dataclass(frozen=True, eq=False)
class Proposal:
    """Padding for one side. side: as the sheet names it; wanted_mm; reached: whether a trial came to the radius;
    layers: to be added to the pad, from inside outward; cloth: to be carried over the gap; pad: with both;
    before, after: the cut over the side; material_mm2: more padding in the cut; tries: cuts that were tried; crushed:
    the foam most crushed over the side, its place among the layers and by what share, None where there is none."""

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
    crushed: tuple[int, float] | None = None

    @property
    def ridge(self) -> Ridge:
        """The ridge over the side, with the padding proposed."""
        word = self.pad.side_word(self.side)
        return next(ridge for ridge in self.after.ridges if ridge.side == word)

    @property
    def radius_mm(self) -> float:
        """Radius of the cover over the side, with the padding proposed."""
        return self.ridge.radius_mm

    @property
    def too_crushed(self) -> bool:
        """Foam over the side is crushed beyond its limit."""
        return self.crushed is not None and self.crushed[1] > CRUSH_LIMIT

    @property
    def text(self) -> str:
        """The proposal in words."""
        return self._what + self._but

    @property
    def _but(self) -> str:
        """What is wrong with it, where no better padding was found."""
        if self.crushed is None or not self.too_crushed:
            return ""
        layer, share = self.pad.layers[self.crushed[0]], self.crushed[1]
        none = ", and no other sheets of about as much do without" if self.layers else ""
        return (
            f"; {layer.thickness:g} mm {layer.material} there is crushed by {100 * share:.0f} %, more than "
            f"{100 * CRUSH_LIMIT:.0f} %{none}: use firmer foam, or round the edge beneath it"
        )

    @property
    def _what(self) -> str:
        layers = [
            f"{layer.thickness:g} mm {layer.material}, {layer.within:g} mm in over the face, {layer.below:g} mm past "
            f"the edge, run out over {layer.taper:g} mm"
            for layer in self.layers
        ]
        what = (["cloth over the gap"] if self.cloth else []) + layers
        radius = f"the cover goes over with a radius of {self.radius_mm:.0f} mm"
        if not what:
            return f"nothing to add: {radius}"
        return f"{'; '.join(what)}: {radius}" + ("" if self.reached else f", short of {self.wanted_mm:g} mm")


@dataclass(frozen=True, eq=False)
class Comparison:
    """One cut of a pad, three ways. bare: as measured, first layer only, no cloth over a gap; padded: as the sheet pads
    it; proposed: with the padding for the wanted radius, None where none was wanted; on_pad: where the cover of the
    whole pad lifts along this cut, None where only the cut was computed; edge: the pad's word for the edge it is about,
    empty for the one that matters most."""

    name: str
    bare: Section
    padded: Section
    proposal: Proposal | None = None
    on_pad: tuple[SectionLift, ...] | None = None
    edge: str = ""

    @property
    def ridge(self) -> Ridge:
        """The ridge it is about, as the sheet pads it."""
        return next((ridge for ridge in self.padded.ridges if ridge.side == self.edge), self.padded.ridge)

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
        return self.ridge_bare.radius_mm

    @property
    def ridge_radius_mm(self) -> float:
        """Smallest radius of the cover over that edge, as the sheet pads it."""
        return self.ridge.radius_mm

    @property
    def ridge_bare(self) -> Ridge:
        """The same ridge as measured."""
        return next(ridge for ridge in self.bare.ridges if ridge.side == self.ridge.side)


def compare(
    pad: Pad,
    cut: Cut,
    *,
    tension_n_per_mm: float,
    materials: Mapping[str, Material] = BUILT_IN,
    make_problem: MakeProblem | None = None,
    alignment: Alignment = UNALIGNED,
) -> Comparison:
    """Cut a pad as measured, as padded, and with the padding proposed where the sheet wants a radius.

    Raises ProblemError as `section`.
    """
    trial = SectionTrial(cut, tension_n_per_mm, materials, make_problem, alignment)
    padded = trial(pad)
    return Comparison(padded.name, trial(as_measured(pad)), padded, _wanted(pad, padded, padded.ridge, trial))


def _other_edge(pad: Pad, cut: Comparison, trial: SectionTrial) -> Comparison:
    """The same cut about its other edge: a front roll as well as the rear."""
    other = next(ridge for ridge in cut.padded.ridges if ridge.side != cut.ridge.side)
    return replace(cut, proposal=_wanted(pad, cut.padded, other, trial), edge=other.side)


def _wanted(pad: Pad, cut: Section, ridge: Ridge, trial: SectionTrial) -> Proposal | None:
    """Padding for a ridge whose radius is wanted: those over gaps, or front and rear of a pad without gaps."""
    gaps = any(side.gap > 0 for side in pad.sides.values())
    here = ridge.gap if gaps else cut.cut.direction == "along"
    if pad.wanted_radius is None or not here:
        return None
    return propose(pad, _side_of(pad, ridge.side), pad.wanted_radius, trial)


def usual_cuts(
    pad: Pad,
    *,
    tension_n_per_mm: float,
    materials: Mapping[str, Material] = BUILT_IN,
    make_problem: MakeProblem,
    alignment: Alignment = UNALIGNED,
) -> tuple[tuple[Comparison, ...], tuple[Problem, ...]]:
    """The cuts through the middle of a pad: along over the edge that matters most, across, and along over the other
    edge; and warnings for those that cannot be made."""
    middle = 0.5 * (min(y for _, y in pad.outline.corners) + max(y for _, y in pad.outline.corners))
    compared = partial(
        compare,
        pad,
        tension_n_per_mm=tension_n_per_mm,
        materials=materials,
        make_problem=make_problem,
        alignment=alignment,
    )
    cuts: list[Comparison] = []
    notes: list[Problem] = []
    for cut in (Cut("along", 0.0), Cut("across", round(middle, 1))):
        try:
            cuts.append(compared(cut))
        except ProblemError as fault:
            notes += [replace(problem, warning=True) for problem in fault.problems]
    trial = SectionTrial(Cut("along", 0.0), tension_n_per_mm, materials, make_problem, alignment)
    cuts += [_other_edge(pad, cut, trial) for cut in cuts if cut.padded.cut.direction == "along"]
    return tuple(cuts), tuple(notes)


def square_to(side: str, at: float = 0.0) -> Cut:
    """The cut square to a side (front, right, rear, left) at a place along it."""
    return Cut("along" if side in ("front", "rear") else "across", at)


def _side_of(pad: Pad, word: str) -> str:
    return next(side for side in SIDES if pad.side_word(side) == word)


def propose(pad: Pad, side: str, wanted_mm: float, trial: SectionTrial) -> Proposal:
    """Padding that brings the cover over one side (front, right, rear, left) to a radius of `wanted_mm`, in the trial's
    cut, which is square to that side. Raises ProblemError as `section`."""
    before = trial(pad)
    # Cloth first: it costs next to nothing, and padding needs it.
    cloth = pad.sides[side].gap > 0 and not pad.sides[side].cloth
    carried = replace(pad, sides={**pad.sides, side: replace(pad.sides[side], cloth=True)}) if cloth else pad
    start = trial(carried)
    search = PaddingSearch(carried, side, most_lift(before) + PROPOSED_LIFT_MORE_MM, trial, {(): start})
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
        crushed=search.crushed(layers),
    )
