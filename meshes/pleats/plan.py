"""Pleats of a pad in its chart, laid out: the record, its valleys as lines of the chart, and what pleats are called.

Lengths mm in the plane of the chart, unless said to be over the surface.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Point

from meshes.base.arrays import FloatArray
from meshes.base.units import SAME_MM
from meshes.pleats.layout import Layout
from meshes.pleats.parts import Parts
from meshes.pleats.region import Region, carried_on
from meshes.pleats.shape import PleatSection
from meshes.records.pleats import Pleats
from meshes.support.line_roles import OVERSHOOT_MM, ChartLine, LineIdentity, LineRole

MEETS_MM, BENDS_MM = 0.75, 20.0
# Points that leave a straight line by less than this are not worth keeping.
COLLINEAR_MM = 1e-4


@dataclass(frozen=True, eq=False)
class Valley:
    """One valley: number from the left or front; side: "left", "right" or "centre", empty where pleats run across;
    count: from the centre mark outward, or from the front; place (m,) at the plan's stations; whether the cut is parted
    here."""

    number: int
    side: str
    count: int
    place: FloatArray
    joined: bool

    @property
    def name(self) -> str:
        """What it is called: by its place from the centre mark, or from the front where pleats run across."""
        words = (self.side, "valley", str(self.count) if self.count else "")
        return " ".join(word for word in words if word)

    @property
    def unsided(self) -> str:
        """The same without left and right, for a piece that is also cut mirrored."""
        return f"valley {self.count}" if self.count else self.name


@dataclass(frozen=True, eq=False)
class PleatPlan:
    """Pleats of a pad in its chart. stations (m,) along the pleats; edges (m, n + 1): where each pleat begins and ends
    at them, the region's own edges first and last; reference: station at which the layout's widths hold."""

    pleats: Pleats
    region: Region
    layout: Layout
    section: PleatSection
    stations: FloatArray
    edges: FloatArray
    reference: float
    valleys: tuple[Valley, ...]
    parts: Parts

    @property
    def count(self) -> int:
        """How many pleats there are."""
        return len(self.layout.widths)

    def edges_at(self, station: FloatArray) -> FloatArray:
        """Where each pleat begins and ends at stations (k,), shape (k, n + 1)."""
        at = np.clip(station, self.stations[0], self.stations[-1])
        return np.stack([np.interp(at, self.stations, edge) for edge in self.edges.T], axis=1)

    def line(self, valley: Valley) -> LineString:
        """A valley over (across, along), carried a little past the region."""
        path = np.stack([valley.place, self.stations], axis=1)
        inside = shapely.intersection(self.region.shape, LineString(path))
        first, last = inside.bounds[1], inside.bounds[3]
        kept = (self.stations >= first - OVERSHOOT_MM) & (self.stations <= last + OVERSHOOT_MM)
        ends = np.array([first - OVERSHOOT_MM, last + OVERSHOOT_MM])
        tips = np.stack([carried_on(valley.place, self.stations, ends), ends], axis=1)
        inner = path[kept] if self.pleats.shape == "edge" else path[:0]
        points = np.concatenate([tips[:1], inner, tips[1:]])
        return LineString(_let_in(points, self.region.nodes)).simplify(COLLINEAR_MM)

    def drawn(self) -> list[ChartLine]:
        """The valleys as lines of the chart."""
        rules = [
            LineIdentity(
                LineRole.VALLEY,
                valley.number,
                None if self.region.turned else len(self.valleys) + 1 - valley.number,
                sewn=valley.joined,
                runs_on=self.pleats.over_edge,
                tied=self.pleats.tied,
            )
            for valley in self.valleys
        ]
        lines = [self.region.place(np.asarray(self.line(valley).coords)) for valley in self.valleys]
        return [ChartLine(rule, LineString(line)) for rule, line in zip(rules, lines, strict=True)]


def _let_in(points: FloatArray, nodes: FloatArray) -> FloatArray:
    """A valley that would miss a corner of the seam by less than can be sewn, let into it: no triangle fits there."""
    for node in nodes:
        if LineString(points).distance(Point(node)) < MEETS_MM:
            front = np.linalg.norm(points[0] - node) < np.linalg.norm(points[-1] - node)
            # What lies near the corner gives way, so that the valley bends evenly and not at its very end.
            kept = points[np.linalg.norm(points - node, axis=1) > BENDS_MM]
            heading = node - kept[0 if front else -1]
            tip = node + OVERSHOOT_MM * heading / np.linalg.norm(heading)
            points = np.concatenate([tip[None], kept] if front else [kept, tip[None]])
    return points


def pleat_names(plan: PleatPlan) -> list[str]:
    """What each pleat is called: by its place from the centre mark, or from the front where pleats run across."""
    return [name for name, _ in _pleat_names(plan)]


def _pleat_names(plan: PleatPlan) -> list[tuple[str, str]]:
    """Name of every pleat, and the side that is in it, empty where pleats run across."""
    edges = plan.layout.edges
    if plan.region.turned:
        return [(f"pleat {k + 1}", "") for k in range(plan.count)]
    left = sum(b <= SAME_MM for b in edges[1:])
    right = sum(a >= -SAME_MM for a in edges[:-1])
    centre = [("centre pleat", "centre")] * (plan.count - left - right)
    names = [*((f"left pleat {left - k}", "left") for k in range(left)), *centre]
    names += [(f"right pleat {k + 1}", "right") for k in range(right)]
    if plan.pleats.spacing.half_at_sides:
        names[0], names[-1] = ("left half pleat", "left"), ("right half pleat", "right")
    return names


def part_names(plan: PleatPlan, word: str, middles: FloatArray) -> list[tuple[str, str]] | None:
    """Names of the pleated parts by their middles (k, 2) in the chart, each with the side that is in it (empty where
    there is none); None when they are not the plan's runs."""
    at = plan.region.place(middles)
    pleat = (at[:, :1] > plan.edges_at(at[:, 1])[:, 1:-1]).sum(axis=1)
    runs = plan.parts.runs(plan.count)
    own = [next(r for r, (a, b) in enumerate(runs) if a <= k < b) for k in pleat]
    if sorted(own) != list(range(len(runs))):
        return None
    names = run_names(plan, plan.parts, word)
    return [names[r] for r in own]


def run_names(plan: PleatPlan, parts: Parts, word: str) -> list[tuple[str, str]]:
    """What the runs of pleats that some parts leave are called, in order, each with the side that is in it; word: what
    the whole is called."""
    runs = parts.runs(plan.count)
    if len(runs) == 1:
        return [(word, "")]
    if len(runs) == plan.count:
        return _pleat_names(plan)
    if plan.region.turned:
        return [(f"{word} {r + 1}", "") for r in range(len(runs))]
    half, odd = divmod(len(runs), 2)
    left = [(f"left {word} {half - r}" if half > 1 else f"left {word}", "left") for r in range(half)]
    right = [(f"right {word} {r + 1}" if half > 1 else f"right {word}", "right") for r in range(half)]
    return [*left, *([(f"centre {word}", "centre")] * odd), *right]
