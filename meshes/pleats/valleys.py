"""Valleys of a pad's pleats as curves in its chart, placed by lengths over the padded surface.

A valley is given by its place across the pleats at every station along them: x over y for pleats along, y over x for
pleats across. Straight valleys keep their place; fanned ones move evenly from end to end; those that follow the edges
keep their share of the way between them. Lengths mm in the plane of the chart, unless said to be over the surface.
"""

from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import LineString, Point

from meshes.base.arrays import FloatArray, locked_floats
from meshes.base.problems import ProblemError
from meshes.base.units import SAME_MM
from meshes.padding.layers import edge_thickness
from meshes.pleats.layout import Layout, LayoutFault, Parts, laid_at, lay_out_pleats, outer_kept, part_cut
from meshes.pleats.limits import STATION_MM, runs_out, stands
from meshes.pleats.region import Region, Ruler, carried_on, laid_on, region_of, ruler
from meshes.pleats.shape import USUAL_TENSION_N_PER_MM, PleatSection, pleat_section
from meshes.records.pad import Pad
from meshes.records.pleats import Pleats
from meshes.support.chart import Blame, Chart, pad_chart
from meshes.support.face import is_even
from meshes.support.line_roles import ChartLine, LineIdentity, LineRole
from meshes.support.seam_lines import OVERSHOOT_MM

MEETS_MM, BENDS_MM = 0.75, 20.0
# Points that leave a straight line by less than this are not worth keeping.
COLLINEAR_MM = 1e-4
# A valley that is inside for less than this share of the region's length has left it.
LEAST_RUN = 0.75


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
    if plan.pleats.half_at_sides:
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
    if len(runs) == plan.count:
        names = _pleat_names(plan)
        return [names[r] for r in own]
    if plan.region.turned:
        return [(f"{word} {r + 1}", "") for r in own]
    half, odd = divmod(len(runs), 2)
    left = [(f"left {word} {half - r}" if half > 1 else f"left {word}", "left") for r in range(half)]
    right = [(f"right {word} {r + 1}" if half > 1 else f"right {word}", "right") for r in range(half)]
    names = [*left, *([(f"centre {word}", "centre")] * odd), *right]
    return [names[r] for r in own]


def pleat_plan(pad: Pad, chart: Chart, blame: Blame, *, tension_n_per_mm: float = USUAL_TENSION_N_PER_MM) -> PleatPlan:
    """Lay out the pleats of a pad that has some; tension_n_per_mm: of the cover over their filler. Raises
    ProblemError."""
    assert pad.pleats is not None
    try:
        return _planned(pad, pad.pleats, chart, blame, tension_n_per_mm)
    except LayoutFault as fault:
        raise ProblemError([blame(fault.code, ("pleats", fault.key), str(fault))]) from fault


def _planned(pad: Pad, pleats: Pleats, chart: Chart, blame: Blame, tension: float) -> PleatPlan:
    region, laid = region_of(pad, pleats, chart, blame), laid_on(pad, chart)
    even = is_even(pad) and pleats.direction == "along"
    low, high = region.span
    middle = 0.5 * (low + high)
    over = ruler(region, laid, middle, even=even)
    stations = np.linspace(low, high, max(int(np.ceil((high - low) / STATION_MM)), 8) + 1)
    if pad.leader is not None:
        layout = _followed(pad, pleats, region, over, _leading(pad, pad.leader, blame))
    else:
        layout = lay_out_pleats(pleats, over.low, over.high, even=even)
    drawn = pleat_section(pleats, float(np.median(layout.widths)), tension_n_per_mm=tension)
    stands(pleats, drawn, layout)
    runs_out(pleats, region, laid, middle=0.5 * sum(region.across(middle)))
    inner = _places(pleats, region, over.across_at(np.array(layout.valleys)), stations)
    if even:
        # Rounding must not put the centre valley beside the line along which the half is mirrored.
        inner = 0.5 * (inner - inner[:, ::-1])
    rims = np.array([region.across(s) for s in stations])
    edges = np.concatenate([rims[:, :1], inner, rims[:, 1:]], axis=1)
    parts = _parted(pleats, drawn, edges, high - low, even=even)
    where = _from_centre(layout, along=pleats.direction == "along")
    valleys = tuple(
        Valley(k + 1, *where[k], locked_floats(inner[:, k]), k + 1 in parts.joins) for k in range(inner.shape[1])
    )
    plan = PleatPlan(
        pleats=pleats,
        region=region,
        layout=layout,
        section=drawn,
        stations=locked_floats(stations),
        edges=locked_floats(edges),
        reference=middle,
        valleys=valleys,
        parts=parts,
    )
    _all_inside(plan)
    return plan


def _leading(pad: Pad, leader: Pad, blame: Blame) -> FloatArray:
    """Places across this pad at which the valleys of its leader arrive at their common edge."""
    assert leader.pleats is not None
    chart = pad_chart(leader, edge_thickness(leader), blame)
    try:
        plan = _planned(replace(leader, leader=None), leader.pleats, chart, blame, USUAL_TENSION_N_PER_MM)
    except LayoutFault as fault:
        text = f'the pleats of "{leader.name}", whose valleys these follow, cannot be laid out; mend those first'
        raise LayoutFault("G122", "lines_up_with", text) from fault
    ends = np.array([meeting_place(leader, plan, valley) for valley in plan.valleys])
    turn = np.deg2rad(pad.facing_deg)
    apart = np.array(leader.origin[:2]) - np.array(pad.origin[:2])
    return np.asarray(ends + float(apart @ [np.cos(turn), np.sin(turn)]))


def _followed(pad: Pad, pleats: Pleats, region: Region, over: Ruler, here: FloatArray) -> Layout:
    """The layout that brings valleys to places (k,) on the edge at which the pad meets its leader. Those that would
    leave the region, as the outer ones do on a pad that is narrower or rounder, are left out, and those that would
    leave a sliver for an outer pleat. Raises LayoutFault."""
    low, high = region.span
    stations = np.linspace(low, high, max(int(np.ceil((high - low) / STATION_MM)), 8) + 1)
    middle = _at_middle(pad, pleats, region, here)
    length = np.array(over.length_at(middle))
    least = pleats.filler_thickness
    runs = np.array([_run(region, place, stations) for place in _places(pleats, region, middle, stations).T])
    kept = (length > over.low + least) & (length < over.high - least) & (runs >= LEAST_RUN)
    halves = pleats.half_at_sides or bool(pad.leader and pad.leader.pleats and pad.leader.pleats.half_at_sides)
    kept[kept] = outer_kept(length[kept].tolist(), over.low, over.high, halves=halves)
    if is_even(pad):
        kept &= kept[::-1]
    if len(pad.nudges) == kept.sum():
        length[kept] = over.length_at(_at_middle(pad, pleats, region, here[kept] + np.array(pad.nudges)))
    return laid_at(length[kept].tolist(), over.low, over.high, least=least, left_out=int((~kept).sum()))


def _at_middle(pad: Pad, pleats: Pleats, region: Region, here: FloatArray) -> FloatArray:
    """Places across at the middle station of valleys that arrive at places on the edge where the pad meets another."""
    # A valley meets the edge where the region ends at its place: behind a rounded corner that is further in.
    low, high = region.span
    stations = np.array([region.along(x)[1 if meets_behind(pad) else 0] for x in here])
    return np.asarray(here / _spread(pleats.fan, (stations - low) / (high - low)))


def meets_behind(pad: Pad) -> bool:
    """Whether a pad meets its neighbour with its rear edge (a cushion) or with its bottom edge (an upright pad)."""
    return pad.kind == "cushion"


def meeting_place(pad: Pad, plan: PleatPlan, valley: Valley) -> float:
    """Where across the pad a valley arrives at the edge with which the pad meets its neighbour."""
    inside = shapely.intersection(plan.region.shape, plan.line(valley))
    ends = np.asarray(inside.coords)
    return float(ends[int(np.argmax(ends[:, 1]) if meets_behind(pad) else np.argmin(ends[:, 1])), 0])


def _spread(fan: float, share: float | FloatArray) -> float | FloatArray:
    """Widths at a share 0..1 of the way, in terms of those in the middle."""
    return 2.0 * (1.0 + (fan - 1.0) * share) / (1.0 + fan)


def _places(pleats: Pleats, region: Region, middle: FloatArray, stations: FloatArray) -> FloatArray:
    """Places (m, v) of the valleys at stations; middle (v,): at the middle station."""
    low, high = region.span
    if pleats.shape == "straight":
        share = (stations - low) / (high - low)
        return np.asarray(np.outer(_spread(pleats.fan, share), middle))
    left, right = region.between_edges(np.array([0.5 * (low + high)]))[0]
    share = (middle - left) / (right - left)
    ends = region.between_edges(stations)
    return np.asarray(ends[:, :1] + share * (ends[:, 1:] - ends[:, :1]))


def _parted(pleats: Pleats, drawn: PleatSection, edges: FloatArray, length: float, *, even: bool) -> Parts:
    size = drawn.cut(np.diff(edges, axis=1).max(axis=0))
    reach = np.concatenate([[0.0], np.cumsum(size)])

    def fits(first: int, last: int) -> bool:
        width = float(reach[last] - reach[first])
        area = 1e-6 * width * length
        return (pleats.largest_width is None or width <= pleats.largest_width) and (
            pleats.largest_area_m2 is None or area <= pleats.largest_area_m2
        )

    return part_cut(pleats, fits, size.tolist(), even=even)


def _from_centre(layout: Layout, *, along: bool) -> list[tuple[str, int]]:
    """Side and count of every valley, from the centre mark outward, or from the front where pleats run across."""
    if not along:
        return [("", k + 1) for k in range(len(layout.valleys))]
    right = sum(v > SAME_MM for v in layout.valleys)
    left = sum(v < -SAME_MM for v in layout.valleys)
    centre = [("centre", 0)] * (len(layout.valleys) - right - left)
    return [*(("left", left - k) for k in range(left)), *centre, *(("right", k + 1) for k in range(right))]


def _run(region: Region, place: FloatArray, stations: FloatArray) -> float:
    """Over what share of the region's length a valley runs through it in one go."""
    low, high = region.span
    inside = shapely.intersection(region.shape, LineString(np.stack([place, stations], axis=1)))
    one = inside.geom_type == "LineString" and not inside.is_empty
    return (inside.bounds[3] - inside.bounds[1]) / (high - low) if one else 0.0


def _all_inside(plan: PleatPlan) -> None:
    """Every valley runs through the region in one go, over most of its length."""
    low, high = plan.region.span
    for valley in plan.valleys:
        run = _run(plan.region, valley.place, plan.stations)
        if run < LEAST_RUN:
            text = f"the {valley.name} leaves the {plan.pleats.where}: only {run * (high - low):.0f} of "
            text += f"{high - low:.0f} mm of it lie inside"
            if plan.pleats.fan != 1.0:
                advice = "bring fan nearer to 1, or let the valleys follow the edges (shape = edge)"
                raise LayoutFault("G130", "fan", f"{text}; {advice}")
            advice = "make the outer pleats wider or the corners less round, or let the valleys follow the edges"
            raise LayoutFault("G130", "shape", f"{text}; {advice} (shape = edge)")
