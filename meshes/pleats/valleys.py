"""Valleys of a pad's pleats as curves in its chart, placed by lengths over the padded surface.

A valley is given by its place across the pleats at every station along them: x over y for pleats along, y over x for
pleats across. Straight valleys keep their place; fanned ones move evenly from end to end; those that follow the edges
keep their share of the way between them. Lengths mm in the plane of the chart, unless said to be over the surface.
"""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import LineString

from meshes.base.arrays import FloatArray, locked_floats
from meshes.base.problems import ProblemError
from meshes.base.units import SAME_MM
from meshes.padding.layers import edge_thickness
from meshes.pleats.layout import Layout, LayoutFault, laid_at, lay_out_pleats, outer_kept
from meshes.pleats.limits import STATION_MM, runs_out, stands
from meshes.pleats.parts import Parts, part_cut
from meshes.pleats.plan import PleatPlan, Valley
from meshes.pleats.region import EDGE_STATIONS, Region, Ruler, laid_on, region_of, ruler
from meshes.pleats.shape import USUAL_TENSION_N_PER_MM, PleatSection, pleat_section
from meshes.records.alignment import UNALIGNED, Alignment
from meshes.records.pad import Pad
from meshes.records.pleats import Pleats
from meshes.support.chart import Chart, MakeProblem, pad_chart
from meshes.support.face import is_even

# A valley that is inside for less than this share of the region's length has left it. One that stands straight is cut
# short by round corners alone, as on a round stool, and can be sewn at half the length; one that is fanned out runs
# into a side, where its pleat ends in a point.
LEAST_RUN, LEAST_RUN_FANNED = 0.5, 0.75


def pleat_plan(
    pad: Pad,
    chart: Chart,
    make_problem: MakeProblem,
    *,
    tension_n_per_mm: float = USUAL_TENSION_N_PER_MM,
    alignment: Alignment = UNALIGNED,
) -> PleatPlan:
    """Lay out the pleats of a pad that has some; tension_n_per_mm: of the cover over their filler; alignment: with the
    pad's neighbours. Raises ProblemError."""
    assert pad.pleats is not None
    try:
        return _planned(pad, pad.pleats, chart, make_problem, tension_n_per_mm, alignment)
    except LayoutFault as fault:
        raise ProblemError([make_problem(fault.code, ("pleats", fault.key), str(fault))]) from fault


def _planned(
    pad: Pad, pleats: Pleats, chart: Chart, make_problem: MakeProblem, tension: float, alignment: Alignment = UNALIGNED
) -> PleatPlan:
    region, laid = region_of(pad, pleats, chart, make_problem), laid_on(pad, chart, alignment.built_up)
    even = is_even(pad) and pleats.direction == "along"
    low, high = region.span
    middle = 0.5 * (low + high)
    over = ruler(region, laid, middle, even=even)
    stations = np.linspace(low, high, max(int(np.ceil((high - low) / STATION_MM)), 8) + 1)
    if pad.leader is not None:
        layout = _followed(pad, region, over, _leading(pad, pad.leader, make_problem), alignment.nudges)
    else:
        lost = _lost(pleats, region, over)
        lost = (max(lost), max(lost)) if even else lost
        layout = lay_out_pleats(pleats.spacing, over.low, over.high, even=even, lost=lost)
    drawn = pleat_section(pleats.filling, float(np.median(layout.widths)), tension_n_per_mm=tension)
    stands(pleats.filling, drawn, layout)
    runs_out(pleats.filling.taper, region, laid, middle=0.5 * sum(region.across(middle)))
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


def _leading(pad: Pad, leader: Pad, make_problem: MakeProblem) -> FloatArray:
    """Places across this pad at which the valleys of its leader arrive at their common edge."""
    assert leader.pleats is not None
    chart = pad_chart(leader, edge_thickness(leader), make_problem)
    try:
        plan = _planned(leader, leader.pleats, chart, make_problem, USUAL_TENSION_N_PER_MM)
    except LayoutFault as fault:
        text = f'the pleats of "{leader.name}", whose valleys these follow, cannot be laid out; mend those first'
        raise LayoutFault("G122", "lines_up_with", text) from fault
    ends = np.array([meeting_place(leader, plan, valley) for valley in plan.valleys])
    turn = np.deg2rad(pad.facing_deg)
    apart = np.array(leader.origin[:2]) - np.array(pad.origin[:2])
    return np.asarray(ends + float(apart @ [np.cos(turn), np.sin(turn)]))


def _followed(pad: Pad, region: Region, over: Ruler, here: FloatArray, nudges: Sequence[float]) -> Layout:
    """The layout that brings valleys to places (k,) on the edge at which the pad meets its leader. Those that would
    leave the region, as the outer ones do on a pad that is narrower or rounder, are left out, and those that would
    leave a sliver for an outer pleat; nudges: added to the places, one for each valley that is kept, or none. Raises
    LayoutFault."""
    pleats = pad.pleats
    assert pleats is not None
    low, high = region.span
    stations = np.linspace(low, high, max(int(np.ceil((high - low) / STATION_MM)), 8) + 1)
    middle = _at_middle(pad, pleats, region, here)
    length = np.array(over.length_at(middle))
    least = pleats.filling.thickness
    runs = np.array([_run(region, place, stations) for place in _places(pleats, region, middle, stations).T])
    kept = (length > over.low + least) & (length < over.high - least) & (runs >= _least_run(pleats))
    both = (pleats, pad.leader.pleats if pad.leader else None)
    halves = any(one is not None and one.spacing.half_at_sides for one in both)
    kept[kept] = outer_kept(length[kept].tolist(), over.low, over.high, halves=halves, lost=_lost(pleats, region, over))
    if is_even(pad):
        kept &= kept[::-1]
    if len(nudges) == kept.sum():
        length[kept] = over.length_at(_at_middle(pad, pleats, region, here[kept] + np.array(nudges)))
    return laid_at(length[kept].tolist(), over.low, over.high, least=least, left_out=int((~kept).sum()))


def _at_middle(pad: Pad, pleats: Pleats, region: Region, here: FloatArray) -> FloatArray:
    """Places across at the middle station of valleys that arrive at places on the edge where the pad meets another."""
    # A valley meets the edge where the region ends at its place: behind a rounded corner that is further in.
    low, high = region.span
    stations = np.array([region.along(x)[1 if meets_behind(pad) else 0] for x in here])
    return np.asarray(here / _spread(pleats.spacing.fan, (stations - low) / (high - low)))


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
        return np.asarray(np.outer(_spread(pleats.spacing.fan, share), middle))
    left, right = region.between_edges(np.array([0.5 * (low + high)]))[0]
    share = (middle - left) / (right - left)
    ends = region.between_edges(stations)
    return np.asarray(ends[:, :1] + share * (ends[:, 1:] - ends[:, :1]))


def _lost(pleats: Pleats, region: Region, over: Ruler) -> tuple[float, float]:
    """How much narrower than in the middle the low and the high outer pleat become where the edges run in, beside
    valleys that spread as the others do. Rounded corners do not count: they cut every pleat they meet."""
    if pleats.shape == "edge":
        return 0.0, 0.0
    (low, high), stations = region.span, np.linspace(*region.whole, EDGE_STATIONS)
    spread = np.asarray(_spread(pleats.spacing.fan, (stations - low) / (high - low)))
    ends = region.between_edges(stations) / spread[:, None]
    left, right = over.length_at(np.array([ends[:, 0].max(), ends[:, 1].min()]))
    return max(left - over.low, 0.0), max(over.high - right, 0.0)


def _parted(pleats: Pleats, drawn: PleatSection, edges: FloatArray, length: float, *, even: bool) -> Parts:
    size = drawn.cut(np.diff(edges, axis=1).max(axis=0))
    reach = np.concatenate([[0.0], np.cumsum(size)])

    def fits(first: int, last: int) -> bool:
        width = float(reach[last] - reach[first])
        area = 1e-6 * width * length
        return (pleats.joining.largest_width is None or width <= pleats.joining.largest_width) and (
            pleats.joining.largest_area_m2 is None or area <= pleats.joining.largest_area_m2
        )

    return part_cut(pleats.joining, fits, size.tolist(), even=even)


def _from_centre(layout: Layout, *, along: bool) -> list[tuple[str, int]]:
    """Side and count of every valley, from the centre mark outward, or from the front where pleats run across."""
    if not along:
        return [("", k + 1) for k in range(len(layout.valleys))]
    right = sum(v > SAME_MM for v in layout.valleys)
    left = sum(v < -SAME_MM for v in layout.valleys)
    centre = [("centre", 0)] * (len(layout.valleys) - right - left)
    return [*(("left", left - k) for k in range(left)), *centre, *(("right", k + 1) for k in range(right))]


def _run(region: Region, place: FloatArray, stations: FloatArray) -> float:
    """Over what share of the region's length a valley runs through it in one go: of that between its corners, as beyond
    them a round region narrows and its outer valleys are short."""
    low, high = region.whole
    inside = shapely.intersection(region.shape, LineString(np.stack([place, stations], axis=1)))
    one = inside.geom_type == "LineString" and not inside.is_empty
    return (inside.bounds[3] - inside.bounds[1]) / (high - low) if one else 0.0


def _least_run(pleats: Pleats) -> float:
    return LEAST_RUN if pleats.spacing.fan == 1.0 else LEAST_RUN_FANNED


def _all_inside(plan: PleatPlan) -> None:
    """Every valley runs through the region in one go, over most of its length."""
    low, high = plan.region.whole
    for valley in plan.valleys:
        run = _run(plan.region, valley.place, plan.stations)
        if run < _least_run(plan.pleats):
            text = f"the {valley.name} leaves the {plan.pleats.where}: only {run * (high - low):.0f} of "
            text += f"{high - low:.0f} mm of it lie inside"
            if plan.pleats.spacing.fan != 1.0:
                advice = "bring fan nearer to 1, or let the valleys follow the edges (shape = edge)"
                raise LayoutFault("G130", "fan", f"{text}; {advice}")
            advice = "make the outer pleats wider or the corners less round, or let the valleys follow the edges"
            raise LayoutFault("G130", "shape", f"{text}; {advice} (shape = edge)")
