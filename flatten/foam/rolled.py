"""Where thick foam is rolled over a tight edge in one piece, and in what layers it is laid up to go round.

An edge that turns by much more than a quarter has no mitre, so foam goes over it. In one thickness its outer face is
longer than its inner one by thickness times turn, on a tight edge more than it gives; sheets of one layer are cut alike
and differ by as much. Laid up of thinner layers, every one bends round what lies beneath it and is cut to its own
length; the body is the same, so are surface, sections and gauges. Lengths mm.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil, radians

from flatten.foam.parts import BENDS, LayerPart, mitred_sides
from meshes.base.problems import Problem
from meshes.padding.layup import LaidLayer
from meshes.records.materials import Material
from meshes.records.pad import MIRROR_SIDE, SIDES, Pad
from meshes.support.chart import MakeProblem

# More layers than this are no help: the edge beneath has to be rounder.
MOST_LAYERS = 3
# Thicknesses are told to this, and one that differs by less is the same.
SAME_LAYER_MM = 0.5


@dataclass(frozen=True)
class Rolled:
    """Foam rolled over the edge of one side. thickness_mm: of the layer; beneath_mm: radius of the edge beneath it;
    turn_deg: of the edge; sheets_mm: of the stuff where it is sold in named thicknesses."""

    side: str
    thickness_mm: float
    beneath_mm: float
    turn_deg: float
    sheets_mm: tuple[float, ...] = ()

    @property
    def longer_mm(self) -> float:
        """How much longer the outer face is than the inner."""
        return self.thickness_mm * radians(self.turn_deg)

    @property
    def layers_mm(self) -> tuple[float, ...]:
        """Layers of one thickness that add up to this and go round, from the support outward; none where more than
        MOST_LAYERS would be needed. Named sheets are taken where they fit."""
        least = ceil(self.thickness_mm / (BENDS * self.beneath_mm) - 1e-9) if self.beneath_mm > 0.0 else MOST_LAYERS + 1
        counts = [n for n in range(2, MOST_LAYERS + 1) if n >= least]
        sold = [n for n in counts if any(abs(self.thickness_mm / n - mm) < SAME_LAYER_MM for mm in self.sheets_mm)]
        return () if not counts else (self.thickness_mm / (sold or counts)[0],) * (sold or counts)[0]

    @property
    def rounder_mm(self) -> float:
        """The least radius of the edge beneath at which it goes round in one layer."""
        return self.thickness_mm / BENDS

    @property
    def advice(self) -> str:
        """What to do: how to lay it up, with how much longer every layer is, or how round to make the edge."""
        rounder = f"round the edge beneath it to {ceil(self.rounder_mm)} mm"
        if not self.layers_mm:
            return rounder
        count, each = len(self.layers_mm), self.layers_mm[0]
        return (
            f"lay it up of {count} layers of {each:.3g} mm, a [[pad.layer]] each, glued round the edge one after the "
            f"other: each is {each * radians(self.turn_deg):.0f} mm longer there than the one beneath it; or {rounder}"
        )

    def short_words(self, pad: Pad) -> str:
        """For the shape itself."""
        side = pad.side_word(self.side)
        if not self.layers_mm:
            return f"does not bend over the {side} edge: round that to {ceil(self.rounder_mm)} mm beneath it"
        count, each = len(self.layers_mm), self.layers_mm[0]
        return f"does not bend over the {side} edge in one: cut {count} layers of {each:.3g} mm instead"

    def words(self, pad: Pad) -> str:
        """What is wrong, and what to do."""
        return (
            f"{self.thickness_mm:g} mm foam is rolled over the {pad.side_word(self.side)} edge, {self.beneath_mm:.0f} "
            f"mm round beneath it and turning by {self.turn_deg:.0f} degrees: its outer face has to be "
            f"{self.longer_mm:.0f} mm longer than its inner one, more than it gives; {self.advice}"
        )


def rolled_over(lie: LaidLayer, parts: Sequence[LayerPart], material: Material) -> tuple[Rolled, ...]:
    """By side of the whole pad where a layer goes over an edge that it neither bends round nor is mitred at."""
    if not material.foam or not parts:
        return ()
    thick, mitred = lie.layer.thickness, mitred_sides(lie, parts)
    found = {}
    for side in SIDES:
        edge = lie.edges[side]
        if side not in mitred and edge.reach_mm > thick > BENDS * edge.beneath_mm:
            found[side] = Rolled(side, thick, edge.beneath_mm, edge.turn_deg, tuple(material.stock_mm or ()))
    return tuple(found.values())


def rolled_notes(
    pad: Pad, laid: Iterable[tuple[Sequence[int], Sequence[Rolled]]], make_problem: MakeProblem
) -> list[Problem]:
    """A warning for every layer and edge that it does not go round; laid: numbers of layers counted from 0, and where
    they are rolled. Mirrored edges are told once."""
    notes = []
    for numbers, rows in laid:
        for one in _once(rows):
            text = f"layer {min(numbers) + 1}: {one.words(pad)}"
            notes.append(replace(make_problem("G155", ("layer", min(numbers)), text), warning=True))
    return notes


def _once(rows: Sequence[Rolled]) -> list[Rolled]:
    """Of two sides that mirror each other and are alike, the first."""
    by_side: Mapping[str, Rolled] = {row.side: row for row in rows}
    kept: list[Rolled] = []
    for row in rows:
        twin = by_side.get(MIRROR_SIDE.get(row.side, row.side))
        if twin in kept and twin is not None and replace(twin, side=row.side) == row:
            continue
        kept.append(row)
    return kept
