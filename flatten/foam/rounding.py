"""Where thick foam is rounded off by the knife once it is glued, to what radius, and how much comes away.

Foam parted over a tight edge stands there as a square corner: face and band meet in a mitre. Surface, sections and
section gauges take padding as it lies round the edge, its outer face as round as the edge and all that lies on it are
together; on a face that slopes towards the edge a little flatter. The corner rounded to that line is the same body.
Layers mitred one upon another are glued square and rounded together from outside; a layer that bends round the edge
needs what is beneath it rounded first. Lengths mm.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from itertools import zip_longest

import numpy as np

from meshes.base.arrays import FloatArray
from meshes.base.units import Unit, length_words
from meshes.padding.edge_profile import EdgeProfile, edge_profile
from meshes.records.alignment import UNALIGNED, Alignment
from meshes.records.pad import SIDES, Pad
from meshes.support.chart import MakeProblem

# At so many places through the turn a rounding is known; odd, so that its middle is one.
TURN_PLACES = 65
# A layer thinner than this has run out, a rounding that leaves its circle by more is no circle, and radii and turns
# that differ by less have one gauge.
GONE_MM, UNEVEN_THICKNESS_MM, SAME_EDGE_MM, SAME_DEG = 0.5, 0.5, 0.25, 0.5


@dataclass(frozen=True, eq=False)
class Rounding:
    """Foam rounded off along one side of a pad. layers: numbers from 1 of those that are rounded together, once the
    last is glued; line (k, 2): the outer face through the turn, outward and up; ways (2, 2): unit, into the turn along
    the face and out of it down the side; before: number of the layer that is laid over it next, None where none is."""

    side: str
    layers: tuple[int, ...]
    line: FloatArray
    ways: FloatArray
    before: int | None = None

    @property
    def radius_mm(self) -> float:
        """Radius of the circle that fits the line."""
        return _circle(self.line)[1]

    @property
    def even(self) -> bool:
        """Whether the line is a circle's."""
        centre, radius = _circle(self.line)
        return bool(np.abs(np.linalg.norm(self.line - centre, axis=1) - radius).max() <= UNEVEN_THICKNESS_MM)

    @property
    def turn_deg(self) -> float:
        """How far the foam turns."""
        return float(np.degrees(np.arccos(np.clip(self.ways[0] @ self.ways[1], -1.0, 1.0))))

    @property
    def corner(self) -> FloatArray:
        """Where face and side of the foam meet square (2,)."""
        (a, b), start = self.ways, self.line[0]
        along = np.linalg.solve(np.column_stack([a, b]), self.line[-1] - start)
        return np.asarray(start + along[0] * a)

    @property
    def take_off_mm2(self) -> float:
        """Foam to take off, volume per length of the edge: what lies between the square corner and the line."""
        x, y = np.vstack([self.corner, self.line[::-1]]).T
        return float(0.5 * abs((x * np.roll(y, -1) - y * np.roll(x, -1)).sum()))

    @property
    def bevel_mm(self) -> float:
        """How far out from both lines where the rounding begins a first flat bevel may start without cutting in."""
        return float(self.radius_mm * np.tan(0.25 * np.deg2rad(self.turn_deg)))

    @property
    def layer_words(self) -> str:
        """Which layers these are: "layer 1", "layers 1 and 2"."""
        return ("layer " if len(self.layers) < 2 else "layers ") + " and ".join(map(str, self.layers))

    def radius_words(self, unit: Unit) -> str:
        """The radius: "R 60 mm", in inches too where the sheet is in inches."""
        return f"R {'' if self.even else 'about '}{length_words(self.radius_mm, unit=unit)}"

    @property
    def when(self) -> str:
        """When it is done: "once layers 1 and 2 are glued, before layer 3"."""
        glued = f"once {self.layer_words} {'is' if len(self.layers) < 2 else 'are'} glued"
        return glued if self.before is None else f"{glued}, before layer {self.before}"


def roundings_of(
    pad: Pad, mitred: Mapping[int, Collection[str]], *, make_problem: MakeProblem, alignment: Alignment = UNALIGNED
) -> tuple[Rounding, ...]:
    """Roundings of a pad, side by side from the support outward. mitred: by number of the layer, counted from 0, the
    sides along whose edge its face and band meet in a mitre."""
    found = []
    for side in (side for side in SIDES if any(side in sides for sides in mitred.values())):
        profile = edge_profile(pad, side, TURN_PLACES, make_problem=make_problem, alignment=alignment)
        stack = [k for k in range(len(pad.layers)) if profile.thickness[k].max() > GONE_MM]
        together: list[int] = []
        for k, after in zip_longest(stack, stack[1:]):
            together = [*together, k] if side in mitred.get(k, ()) else []
            if together and (after is None or side not in mitred.get(after, ())):
                found.append(_rounding(side, together, profile, None if after is None else after + 1))
    return tuple(found)


def _rounding(side: str, layers: Collection[int], profile: EdgeProfile, before: int | None) -> Rounding:
    last = max(layers)
    return Rounding(side, tuple(k + 1 for k in layers), profile.tops[last], profile.ways[last], before)


def _circle(line: FloatArray) -> tuple[FloatArray, float]:
    """The circle that fits a line best, centre and radius: least squares of the power of its points (Kasa 1976)."""
    middle = line.mean(axis=0)
    own = line - middle
    found, *_ = np.linalg.lstsq(np.column_stack([2.0 * own, np.ones(len(own))]), (own**2).sum(axis=1), rcond=None)
    return middle + found[:2], float(np.sqrt(found[2] + (found[:2] ** 2).sum()))


def side_words(pad: Pad, roundings: Collection[Rounding]) -> str:
    """The sides of some roundings in words: "front", "front and right", "front, right, rear and left"."""
    words = [pad.side_word(side) for side in SIDES if side in {one.side for one in roundings}]
    return " and ".join([part for part in (", ".join(words[:-1]), words[-1]) if part])


def texts_of(pad: Pad, roundings: Collection[Rounding], unit: Unit) -> tuple[str, ...]:
    """What is to be done: "round the outer edge at the front to R 60 mm once layer 1 is glued"; once for all sides that
    are alike."""
    groups = [
        [one for one in group if (one.layers, one.before) == key]
        for group in grouped(roundings)
        for key in dict.fromkeys((one.layers, one.before) for one in group)
    ]
    return tuple(
        f"round the outer edge at the {side_words(pad, group)} to {group[0].radius_words(unit)} {group[0].when}"
        for group in groups
    )


def alike(one: Rounding, other: Rounding) -> bool:
    """Whether one gauge serves for both."""
    if abs(one.turn_deg - other.turn_deg) > SAME_DEG:
        return False
    return bool(np.abs((one.line - one.corner) - (other.line - other.corner)).max() <= SAME_EDGE_MM)


def grouped(roundings: Collection[Rounding]) -> tuple[tuple[Rounding, ...], ...]:
    """Roundings sorted by the gauge that serves them."""
    groups: list[list[Rounding]] = []
    for one in roundings:
        same = next((group for group in groups if alike(group[0], one)), None)
        if same is None:
            groups.append([one])
        else:
            same.append(one)
    return tuple(map(tuple, groups))
