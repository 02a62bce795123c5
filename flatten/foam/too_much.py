"""Too much padding: a finished height gone over, a layer thicker than it need be, more over springs than is usual.

A layer is thicker than needed when the cuts through the middle of the pad, solved again with the next thinner stock or
one sheet less, still hold: radius of the cover over every edge, hard line, crushed foam, lifts. That says nothing of
how soft a seat is, so only strips laid for a wanted radius are tried, and what lies on the face where there is more
over springs than is usual. Lengths mm.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from meshes.base.problems import ProblemError
from meshes.padding.layup import twin_number
from meshes.records.materials import CRUSH_LIMIT, Material
from meshes.records.pad import Layer, Pad
from meshes.seat.build import BuiltPad
from meshes.settle.proposal import Comparison
from meshes.settle.section import STRAIGHT_RADIUS_MM, THIN_MM, Section, section

# One layer of about this much over a spring unit is enough (common practice, no source: P), and what "about" takes in.
OVER_SPRINGS_MM, ABOUT = 25.0, 1.2
RULE_CODE = "P"
# Thicknesses foam is usually sold in (common practice, no source).
USUAL_STOCK_MM = (6.0, 12.0, 20.0, 25.0, 40.0, 50.0, 75.0, 100.0)
# What still holds: so much of the radius there was (where the sheet wants none), no harder line than this or before
# by so much, no more crushed foam than its limit, no cover that lifts by so much more (common practice, no source).
RADIUS_KEPT, HARD_LINE_DEG, HARD_LINE_MORE_DEG, THINNER_LIFT_MORE_MM = 0.9, 5.0, 0.5, 1.0


@dataclass(frozen=True)
class SettledHeight:
    """How high the settled pad stands above its origin, where, and what the sheet allows. at: (x, y)."""

    found_mm: float
    at: tuple[float, float]
    wanted_mm: float | None

    @property
    def over_mm(self) -> float:
        """By how much it is too high; 0 where it is not, or where nothing is asked."""
        return 0.0 if self.wanted_mm is None else max(self.found_mm - self.wanted_mm, 0.0)


@dataclass(frozen=True)
class Figures:
    """What a cut comes to. index: which of the pad's cuts it is; radius_mm: least over an edge; hard_line_deg; crushed:
    largest strain of any foam; lift_mm: farthest the cover stands off."""

    index: int
    cut: str
    side: str
    radius_mm: float
    hard_line_deg: float
    crushed: float
    lift_mm: float


@dataclass(frozen=True)
class Thinner:
    """A layer tried thinner. layers: numbers from 1 (mirrored ones are tried together); before, after: by cut; holds:
    whether all that matters still does."""

    layers: tuple[int, ...]
    material: str
    thickness_mm: float
    tried_mm: float
    before: tuple[Figures, ...]
    after: tuple[Figures, ...]
    holds: bool

    @property
    def text(self) -> str:
        """Both figures of the cut that changes most, in words."""
        pairs = zip(self.before, self.after, strict=True)
        old, new = max(pairs, key=lambda pair: pair[0].radius_mm / max(pair[1].radius_mm, 1e-9))
        what = f"{self.tried_mm:g} mm {self.material} instead of {self.thickness_mm:g} mm"
        if not self.tried_mm:
            what = f"the {self.thickness_mm:g} mm {self.material} left out"
        return (
            f"{what}: in the cut {old.cut} the "
            f"cover goes over the {old.side} edge with a radius of {_mm(new.radius_mm)} instead of "
            f"{_mm(old.radius_mm)}, hard line {new.hard_line_deg:.1f} instead of {old.hard_line_deg:.1f} degrees, foam "
            f"crushed by {100 * new.crushed:.0f} instead of {100 * old.crushed:.0f} % at most"
        )


def _mm(radius: float) -> str:
    return f"{radius:.0f} mm" if radius < STRAIGHT_RADIUS_MM else f"over {STRAIGHT_RADIUS_MM:.0f} mm"


def height_of(pad: BuiltPad) -> SettledHeight:
    """The highest place of a pad's settled surface above its origin, without the crests of pleats."""
    points = pad.surface.vertices
    top = points[int(np.argmax(points[:, 2]))]
    return SettledHeight(float(top[2]), (float(top[0]), float(top[1])), pad.pad.finished_height)


def face_padding_mm(pad: Pad) -> float:
    """What the layers on the whole face add up to, mm."""
    return sum(layer.thickness for layer in pad.layers if layer.where in ("all", "face"))


def thinner_layers(pad: BuiltPad, materials: Mapping[str, Material]) -> tuple[Thinner, ...]:
    """Every layer that might be thinner, tried. Nothing for a pad whose cover has no tension, or without cuts."""
    if pad.rest is None or not pad.sections:
        return ()
    tension = pad.rest.tension_n_per_mm
    found = []
    for numbers, thick in _candidates(pad.pad, materials):
        layers = tuple(
            replace(one, thickness=thick) if k in numbers else one
            for k, one in enumerate(pad.pad.layers, start=1)
            if thick > 0.0 or k not in numbers
        )
        trial = replace(pad.pad, layers=layers)
        before = [
            figure for index, cut in _cuts(pad.sections) for figure in _figures(pad.pad, index, cut.padded, materials)
        ]
        after = _tried(replace(pad, pad=trial), tension, materials)
        if after is None:
            continue
        layer = pad.pad.layers[numbers[0] - 1]
        holds = all(_holds(pad, old, new) for old, new in zip(before, after, strict=True))
        found.append(Thinner(numbers, layer.material, layer.thickness, thick, tuple(before), tuple(after), holds))
    return tuple(found)


def _candidates(pad: Pad, materials: Mapping[str, Material]) -> Iterator[tuple[tuple[int, ...], float]]:
    """Numbers of layers and the thickness to try; a mirrored pair once."""
    seen: set[int] = set()
    for k, layer in enumerate(pad.layers, start=1):
        strip = pad.wanted_radius is not None and layer.within is not None
        deep = pad.springs is not None and face_padding_mm(pad) > ABOUT * OVER_SPRINGS_MM
        if k in seen or not (strip or (deep and layer.where in ("all", "face"))):
            continue
        twin = twin_number(pad.layers, k - 1) if pad.symmetric else None
        same = [k] if twin is None else [k, twin + 1]
        seen |= set(same)
        thick = thinner_mm(layer, materials[layer.material], strip=strip)
        if thick is not None:
            yield tuple(same), thick


def thinner_mm(layer: Layer, material: Material, *, strip: bool) -> float | None:
    """One sheet less, which may leave a strip out altogether; of foam on the face in one sheet, the next thinner that
    is sold. Where the shop names its sheets, the next thinner layer they make. None where there is none."""
    if material.stock_mm:
        less_mm = material.next_thinner(layer.thickness)
        return less_mm if strip or less_mm else None
    if strip or (material.thickness_mm is not None and layer.thickness > material.thickness_mm + 1e-9):
        return (max(len(material.laid_up(layer.thickness)), 1) - 1) * (material.thickness_mm or layer.thickness)
    less = [mm for mm in USUAL_STOCK_MM if mm < layer.thickness - 1e-9]
    return max(less) if less and material.foam else None


def _tried(trial: BuiltPad, tension: float, materials: Mapping[str, Material]) -> list[Figures] | None:
    """Figures of the same cuts through the padding on trial; None when it cannot be built or does not come to rest."""
    found: list[Figures] = []
    for index, cut in _cuts(trial.sections):
        try:
            new = section(
                trial.pad,
                cut.padded.cut,
                tension_n_per_mm=tension,
                materials=materials,
                alignment=trial.alignment,
            )
        except ProblemError:
            return None
        found += _figures(trial.pad, index, new, materials)
    return found


def _cuts(cuts: tuple[Comparison, ...]) -> list[tuple[int, Comparison]]:
    """Every cut once, with its number; one may be compared over both of its edges."""
    names = [cut.name for cut in cuts]
    return [(k, cut) for k, cut in enumerate(cuts) if names.index(cut.name) == k]


def _figures(pad: Pad, index: int, cut: Section, materials: Mapping[str, Material]) -> list[Figures]:
    """Figures over both edges of a cut."""
    lift = max((lift.gap_mm for lift in cut.lifts), default=0.0)
    crushed = _crushed(pad, cut, materials)
    return [
        Figures(
            index, cut.name, ridge.side, min(ridge.radius_mm, STRAIGHT_RADIUS_MM), ridge.hard_line_deg, crushed, lift
        )
        for ridge in cut.ridges
    ]


def _crushed(pad: Pad, cut: Section, materials: Mapping[str, Material]) -> float:
    """Largest strain of any foam in a cut."""
    if cut.settled is None:
        return 0.0
    thick = np.linalg.norm(np.diff(cut.before, axis=0, prepend=cut.support[None]), axis=2)
    strain = np.where(thick.T > THIN_MM, cut.settled.compression, 0.0).max(axis=0, initial=0.0)
    return max(
        (float(s) for s, one in zip(strain, pad.layers, strict=True) if materials[one.material].foam), default=0.0
    )


def _holds(pad: BuiltPad, old: Figures, new: Figures) -> bool:
    wanted = pad.pad.wanted_radius
    asked = any(one.proposal is not None and (one.name, one.ridge.side) == (old.cut, old.side) for one in pad.sections)
    least = RADIUS_KEPT * old.radius_mm if not asked or wanted is None else min(wanted, old.radius_mm)
    return (
        new.radius_mm >= least
        and new.hard_line_deg <= max(HARD_LINE_DEG, old.hard_line_deg + HARD_LINE_MORE_DEG)
        and new.crushed <= max(CRUSH_LIMIT, old.crushed)
        and new.lift_mm <= old.lift_mm + THINNER_LIFT_MORE_MM
    )
