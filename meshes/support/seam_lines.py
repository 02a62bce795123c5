"""Seam lines as exact mesh edges: every line of a pad, drawn in its chart, cut at crossings and set out in even steps.

Lines come from four places: the edge seam between face and bands, the inset with its corner lines, lines drawn in the
sheet, and (for a pad that is the same left and right) the centre line, along which the computed half is mirrored.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import LineString, MultiLineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from meshes.base.arrays import BoolArray, FloatArray, IntArray
from meshes.base.problems import Problem, ProblemError
from meshes.base.units import LINE_REACH_MM
from meshes.records.pad import SIDES, ExtraLine, Pad
from meshes.support.chart import Blame, Chart
from meshes.support.inset_ring import DENSE_MM, inset_corner, inset_ring, parts_in_a_bow
from meshes.support.line_roles import MIRRORED_CORNER, MIRRORED_SIDE, ChartLine, LineIdentity, LineRole, line_words
from meshes.support.meeting_points import ChartSegment, met, place_of
from meshes.support.outline import CornersTooRoundError, rounded_outline
from meshes.support.side_ramps import BOW_TURN_RAD

# Lines that end on another are drawn so far past it, so that both are sure to cross.
OVERSHOOT_MM = 2.0
HUGS_MM = 3.0
# A centre mark this close to the end of a line stands at that end.
NODE_MM = 0.75
KINK_RAD = np.deg2rad(25.0)


@dataclass(frozen=True, eq=False)
class FacePlan:
    """The face patch ready for triangles: points (n, 2), segments (k, 2) cut at all crossings, rule number of each, and
    the rules; centre (j,): points at which other lines cross the centre line, whether that is drawn or not."""

    points: FloatArray
    segments: IntArray
    rule: IntArray
    rules: tuple[LineIdentity, ...]
    centre: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))

    def rim(self) -> BoolArray:
        """Which segments bound the patch."""
        return np.array([self.rules[k].rim for k in self.rule])


def face_lines(
    pad: Pad, chart: Chart, blame: Blame, *, half: bool, valleys: Sequence[ChartLine] = ()
) -> list[ChartLine]:
    """The edge seam of a pad and all lines inside it, cut at their crossings.

    half: only x >= 0, with the centre line as part of the rim; valleys: between pleats, of the whole pad. Raises
    ProblemError for lines that cannot be used.
    """
    rim = _rim(pad, chart, half=half)
    region = _region(rim)
    if not region.is_valid or region.area <= 0:
        text = "the edge line of the padded face crosses itself; make the edge radius, padding or seam_below smaller"
        raise ProblemError([blame("G102", ("outline",), text)])
    # Of a half only the right valleys and the centre one are drawn; the rest is mirrored.
    inner = _inset(pad, chart, blame) + _drawn_lines(pad, chart)
    inner += [drawn for drawn in valleys if not half or drawn.line.bounds[2] > -1e-6]
    hugged = not half and any(_hugs_centre(drawn.line) for drawn in valleys)
    if not half and not hugged:
        inner.append(_centre_line(region))
    lines = _noded(rim + inner, region)
    return _parted_at_centre(lines) if hugged else lines


def face_plan(lines: Sequence[ChartLine], *, edge_mm: float, reach_mm: float) -> FacePlan:
    """Lines cut at their crossings in steps of about `edge_mm`; ends, kinks and crossings nearer to each other than
    `reach_mm` are one point."""
    cuts = [ChartSegment(d.line, d.rule if d.rule.rim else None, d.rule.sewn) for d in lines]
    joined = [replace(d, line=line) for d, line in zip(lines, met(cuts, reach_mm), strict=True) if line is not None]
    plan = _set_out(joined, edge_mm, reach_mm)
    centre = [int(np.argmin(np.linalg.norm(plan.points - at, axis=1))) for at in _centre_crossings(lines)]
    return replace(plan, centre=np.unique(np.array(centre, dtype=np.int64)))


def too_close(pad: Pad, lines: Sequence[ChartLine], at: FloatArray, blame: Blame) -> Problem:
    """The problem of two lines that leave no room for triangles near a place (2,) of the chart."""
    near = [d.rule for d in sorted(lines, key=lambda d: d.line.distance(Point(at)))]
    one = near[0]
    other = next((rule for rule in near if (rule.role, rule.number) != (one.role, one.number)), one)
    keys: tuple[str | int, ...] = ()
    for rule in (one, other):
        own = {LineRole.EXTRA: ("line", rule.number), LineRole.VALLEY: ("pleats",)}
        keys = keys or own.get(rule.role, ())
    text = f"{line_words(pad, one)} and {line_words(pad, other)} run so close together, or meet at so sharp an angle, "
    text += f"at x = {at[0]:.0f}, y = {at[1]:.0f} mm that no triangles fit between them; move one of them away, "
    return blame("G104", keys, text + "or leave it out")


def _rim(pad: Pad, chart: Chart, *, half: bool) -> list[ChartLine]:
    u = chart.outline.samples(DENSE_MM)
    breaks = sorted(chart.corners)
    if half:
        low, high = centre_places(chart)
        breaks = [low, *[b for b in breaks if low < b < high], high]
    else:
        breaks = [*breaks, breaks[0] + chart.outline.period]
    every = np.concatenate([u, u + chart.outline.period])
    drawn = []
    for start, end in pairwise(breaks):
        inner = np.concatenate([[start], every[(every > start + 1e-9) & (every < end - 1e-9)], [end]])
        side = chart.side_at(0.5 * (start + end))
        number, band = SIDES.index(side), pad.sides[side].band
        rule = LineIdentity(
            LineRole.EDGE,
            number,
            MIRRORED_SIDE[number],
            sewn=band,
            welt=band and pad.sides[side].welt,
            rim=True,
        )
        path = chart.to_plane(inner, chart.seam(inner))
        if half:
            path[np.abs(path[:, 0]) < 1e-9, 0] = 0.0
        drawn.append(ChartLine(rule, LineString(path)))
    if half:
        ends = [drawn[-1].line.coords[-1], drawn[0].line.coords[0]]
        drawn.append(ChartLine(LineIdentity(LineRole.CENTRE, rim=True), LineString(ends)))
    return drawn


def centre_places(chart: Chart) -> tuple[float, float]:
    """u of the front and the rear centre of a pad that is the same left and right."""
    u = chart.outline.samples(DENSE_MM)
    u = np.append(u, u[0] + chart.outline.period)
    x = chart.outline.point(u)[:, 0]
    found = []
    for k in np.flatnonzero((x[:-1] < 0) != (x[1:] < 0)):
        low, high = u[k], u[k + 1]
        rising = x[k] < 0
        for _ in range(80):
            middle = 0.5 * (low + high)
            if (chart.outline.point(np.array([middle]))[0, 0] < 0) == rising:
                low = middle
            else:
                high = middle
        found.append((0.5 * (low + high), rising))
    front = next(u for u, rising in found if rising)
    rear = next(u for u, rising in found if not rising)
    return front, rear if rear > front else rear + chart.outline.period


def _region(rim: Sequence[ChartLine]) -> Polygon:
    points = [p for d in rim for p in list(d.line.coords)[:-1]]
    return Polygon(points)


def _parts(geometry: BaseGeometry) -> list[LineString]:
    """The lines of what shapely returned, without points and other crumbs."""
    if isinstance(geometry, LineString):
        return [] if geometry.length < 1e-6 else [geometry]
    return [part for piece in getattr(geometry, "geoms", ()) for part in _parts(piece)]


def _centre_line(region: Polygon) -> ChartLine:
    """The line x = 0 through a crooked pad, not sewn, carried past the rim: centre marks need mesh vertices there."""
    low, high = region.bounds[1], region.bounds[3]
    return ChartLine(LineIdentity(LineRole.CENTRE), LineString([(0.0, low - 1.0), (0.0, high + 1.0)]))


def _hugs_centre(valley: LineString) -> bool:
    """Whether a valley of a crooked pad runs so close beside the centre line that no triangles fit between the two."""
    low, high = valley.bounds[1], valley.bounds[3]
    beside = valley.intersection(box(-HUGS_MM, low, HUGS_MM, high))
    return bool(beside.length > 4.0 * HUGS_MM)


def _centre_crossings(lines: Sequence[ChartLine]) -> FloatArray:
    """Where lines other than valleys cross x = 0, (k, 2): centre marks stand there, whether a line is drawn or not."""
    crossing = [d.line for d in lines if d.rule.role is not LineRole.VALLEY]
    low, high = (f(line.bounds[k] for line in crossing) for f, k in ((min, 1), (max, 3)))
    middle = LineString([(0.0, low - 1.0), (0.0, high + 1.0)])
    return shapely.get_coordinates(shapely.intersection(crossing, middle))


def _parted_at_centre(lines: Sequence[ChartLine]) -> list[ChartLine]:
    """Lines other than valleys parted where they cross x = 0, but not so near to an end that no triangle fits."""
    at = [Point(place) for place in _centre_crossings(lines)]
    parted: list[ChartLine] = []
    for d in lines:
        own = [d.line.project(p) for p in at if d.rule.role is not LineRole.VALLEY and d.line.distance(p) < 1e-6]
        inner = sorted({a for a in own if NODE_MM < a < d.line.length - NODE_MM})
        parted += [ChartLine(d.rule, substring(d.line, a, b)) for a, b in pairwise([0.0, *inner, d.line.length])]
    return parted


def _inset(pad: Pad, chart: Chart, blame: Blame) -> list[ChartLine]:
    """The outline of the inset and the lines from its corners to the pad's corners that part the bolsters."""
    inset = pad.inset
    if inset is None:
        return []
    margin = {s: float(getattr(inset, s)) for s in SIDES}
    line, starts = (_ring_in_bows if parts_in_a_bow(chart) else _ring_by_runs)(pad, chart, blame)
    drawn = [ChartLine(LineIdentity(LineRole.INSET, sewn=True, welt=inset.welt, tied=inset.tied), line)]
    for k, (a, b) in enumerate(zip(SIDES, SIDES[1:] + SIDES[:1], strict=True)):
        if margin[a] > 0 and margin[b] > 0:
            u = np.array([chart.outline.corner_between(a, b)])
            start, stop = starts[k], chart.to_plane(u, chart.seam(u))[0]
            # Begun a little inside the inset, so that it crosses the inset's line; the dead end is dropped later.
            ends = [start - OVERSHOOT_MM * (stop - start) / np.linalg.norm(stop - start), stop]
            drawn.append(ChartLine(LineIdentity(LineRole.CORNER, k, MIRRORED_CORNER[k], sewn=True), LineString(ends)))
    return drawn


def _ring_by_runs(pad: Pad, chart: Chart, blame: Blame) -> tuple[LineString, list[FloatArray]]:
    """The line round an inset whose pad has clear corners, and where its own corners are: every run moved in."""
    inset = pad.inset
    assert inset is not None
    margin = {s: float(getattr(inset, s)) for s in SIDES}
    corners = np.asarray(pad.outline.corners, dtype=np.float64)
    far = float(np.ptp(corners, axis=0).max())
    # A margin of nothing lets the inset run out over that side: its line is carried well past it and cut at the rim.
    moved = _moved_in(corners, [margin[s] if margin[s] > 0 else -far for s in pad.outline.side_of_edge])
    changes = [pad.outline.side_of_edge[k - 1] != s for k, s in enumerate(pad.outline.side_of_edge)]
    try:
        ring = rounded_outline(
            [(x, y) for x, y in moved],
            [inset.corner_radius if c else 0.0 for c in changes],
            pad.outline.side_of_edge,
        )
    except CornersTooRoundError as fault:
        raise ProblemError(
            [blame("G103", ("inset",), f"{fault}; make its corner radius or margins smaller")]
        ) from fault
    path = ring.point(ring.samples(DENSE_MM))
    line = LineString(np.concatenate([path, path[:1]]))
    if not line.is_simple:
        raise ProblemError([blame("G103", ("inset",), "the inset's margins leave nothing of it; make them smaller")])
    starts = [
        ring.point(np.array([ring.corner_between(a, b)]))[0] for a, b in zip(SIDES, SIDES[1:] + SIDES[:1], strict=True)
    ]
    return line, starts


def _ring_in_bows(pad: Pad, chart: Chart, blame: Blame) -> tuple[LineString, list[FloatArray]]:
    """The same on a pad some of whose sides part in bows."""
    assert pad.inset is not None
    margins = {s: float(getattr(pad.inset, s)) for s in SIDES}
    line = inset_ring(chart, margins, pad.inset.corner_radius)
    if line is None:
        raise ProblemError([blame("G103", ("inset",), "the inset's margins leave nothing of it; make them smaller")])
    return line, [inset_corner(chart, line, a, b) for a, b in zip(SIDES, SIDES[1:] + SIDES[:1], strict=True)]


def face_region(pad: Pad, chart: Chart) -> Polygon:
    """The face inside the edge seam as a region of the chart."""
    return _region(_rim(pad, chart, half=False))


def seam_corners(chart: Chart) -> FloatArray:
    """Where the edge seam passes from one side to the next, in the chart, (4, 2) mm."""
    u = np.array(chart.corners)
    return chart.to_plane(u, chart.seam(u))


def face_corners(pad: Pad, chart: Chart) -> FloatArray:
    """What is inside the edge seam, and of the inset where there is one, before corners are rounded: (k, 2) mm."""
    # Place u in the middle of the straight run from corner k on.
    u = np.arange(1.5, 2.0 * len(pad.outline.corners), 2.0)
    out = chart.radius(u) - chart.seam(u)
    inset = [0.0 if pad.inset is None else float(getattr(pad.inset, s)) for s in pad.outline.side_of_edge]
    margins = [m if m > 0.0 else float(o) for m, o in zip(inset, out, strict=True)]
    return _moved_in(np.asarray(pad.outline.corners, dtype=np.float64), margins)


def _moved_in(corners: FloatArray, margins: Sequence[float]) -> FloatArray:
    """Polygon with every run moved inward by its own margin: the crossings of neighbouring moved runs; at a point of a
    bow, where they run nearly alike, a move by the mean of both margins."""
    forward = np.roll(corners, -1, axis=0) - corners
    forward /= np.linalg.norm(forward, axis=1, keepdims=True)
    turn = np.arccos(np.clip(np.sum(forward * np.roll(forward, 1, axis=0), axis=1), -1.0, 1.0))
    inward = np.stack([-forward[:, 1], forward[:, 0]], axis=1)
    level = np.sum(inward * corners, axis=1) + np.asarray(margins)
    moved = []
    for k in range(len(corners)):
        rows = inward[[k - 1, k]]
        if turn[k] < BOW_TURN_RAD:
            way = rows.sum(axis=0) / np.linalg.norm(rows.sum(axis=0))
            moved.append(corners[k] + way * (0.5 * (margins[k - 1] + margins[k]) / np.cos(0.5 * turn[k])))
        else:
            moved.append(np.linalg.solve(rows, level[[k - 1, k]]))
    return np.array(moved)


def inset_polygon(pad: Pad, chart: Chart, blame: Blame) -> Polygon | None:
    """The inset as a region of the chart, None without one."""
    if pad.inset is None:
        return None
    ring = _inset(pad, chart, blame)[0].line
    return Polygon(ring.coords)


def _drawn_lines(pad: Pad, chart: Chart) -> list[ChartLine]:
    lines = [(line, LineString(line.points)) for line in pad.lines]
    others = [path for _, path in lines]
    drawn = []
    for k, (line, _) in enumerate(lines):
        rest = [*others[:k], *others[k + 1 :]]
        rule = LineIdentity(LineRole.EXTRA, k, sewn=True, welt=line.welt, tied=line.tied)
        drawn.append(ChartLine(rule, _carried_on(pad, chart, line, rest)))
    return drawn


def _carried_on(pad: Pad, chart: Chart, line: ExtraLine, others: Sequence[LineString]) -> LineString:
    """A drawn line with ends that were meant to meet an edge or another line carried past it; crossings cut them
    later."""
    points = np.asarray(line.points, dtype=np.float64)
    inside = chart.outline.nearest(points[[0, -1]])[1]
    if pad.inset is not None:
        others = [*others, _inset_line(pad, chart)]
    for end, (tip, back) in enumerate(((points[0], points[1]), (points[-1], points[-2]))):
        heading = (tip - back) / np.linalg.norm(tip - back)
        if inside[end] < LINE_REACH_MM:
            # Far enough to cross the whole of the turn at any slant; the rim cuts off the rest.
            carried = tip + heading * (abs(inside[end]) + 10.0 * float(chart.edge(np.array([0.0]))[0]) + 300.0)
        elif any(other.distance(Point(tip)) < LINE_REACH_MM for other in others):
            carried = tip + heading * 2.0 * LINE_REACH_MM
        else:
            continue
        points = np.concatenate([carried[None], points]) if end == 0 else np.concatenate([points, carried[None]])
    return LineString(points)


def _inset_line(pad: Pad, chart: Chart) -> LineString:
    assert pad.inset is not None
    if parts_in_a_bow(chart):
        ring = inset_ring(chart, {s: float(getattr(pad.inset, s)) for s in SIDES}, 0.0)
        return LineString() if ring is None else ring
    margins = [float(getattr(pad.inset, s)) for s in pad.outline.side_of_edge]
    moved = _moved_in(np.asarray(pad.outline.corners, dtype=np.float64), margins)
    return LineString(np.concatenate([moved, moved[:1]]))


def _noded(drawn: Sequence[ChartLine], region: Polygon) -> list[ChartLine]:
    """Every line cut at every crossing; what lies outside the rim and dead ends that reach nothing are dropped."""
    pieces = _parts(shapely.node(MultiLineString([d.line for d in drawn])))
    cut = []
    for piece in pieces:
        middle = piece.interpolate(0.5, normalized=True)
        owner = min(
            range(len(drawn)),
            key=lambda k: (round(drawn[k].line.distance(middle), 6), _rank(drawn[k].rule), k),
        )
        rule = drawn[owner].rule
        if not rule.rim and region.exterior.distance(middle) < 1e-6:
            # A seam or valley along the centre line: it takes that line's place as the rim of the half.
            rule = replace(rule, rim=True)
        if rule.rim or region.contains(middle):
            cut.append(ChartLine(rule, piece))
    while True:
        ends: dict[tuple[float, float], int] = {}
        for d in cut:
            for end in (d.line.coords[0], d.line.coords[-1]):
                ends[place_of(end)] = ends.get(place_of(end), 0) + 1
        kept = [
            d for d in cut if d.rule.rim or all(ends[place_of(e)] > 1 for e in (d.line.coords[0], d.line.coords[-1]))
        ]
        if len(kept) == len(cut):
            return kept
        cut = kept


def _rank(rule: LineIdentity) -> int:
    """Of lines on top of each other the sewn one counts, then a valley."""
    return 0 if rule.sewn else 1 if rule.role is LineRole.VALLEY else 2


def _set_out(drawn: Sequence[ChartLine], edge_mm: float, reach_mm: float) -> FacePlan:
    """Even steps along every line between its ends and kinks, as points and segments."""
    number: dict[tuple[float, float], int] = {}
    points: list[FloatArray] = []
    segments: list[tuple[int, int]] = []
    rule: list[int] = []
    rules = list(dict.fromkeys(d.rule for d in drawn))
    for d in drawn:
        path = _even(np.asarray(d.line.coords), edge_mm, reach_mm)
        here = []
        for p in path:
            key = place_of(p)
            if key not in number:
                number[key] = len(points)
                points.append(p)
            here.append(number[key])
        pairs = [(a, b) for a, b in pairwise(here) if a != b]
        segments += pairs
        rule += [rules.index(d.rule)] * len(pairs)
    return FacePlan(np.array(points), np.array(segments, dtype=np.int64), np.array(rule, dtype=np.int64), tuple(rules))


def _even(path: FloatArray, edge_mm: float, reach_mm: float) -> FloatArray:
    """Even steps along a line from kink to kink; a kink within `reach_mm` of another one or of an end is none."""
    step = np.diff(path, axis=0)
    keep = np.concatenate([[True], np.linalg.norm(step, axis=1) > 1e-9])
    path = path[keep]
    step = np.diff(path, axis=0)
    heading = np.arctan2(step[:, 1], step[:, 0])
    bend = np.abs(np.mod(np.diff(heading) + np.pi, 2 * np.pi) - np.pi)
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(step, axis=1))])
    stops = [0]
    for kink in np.flatnonzero(bend > KINK_RAD) + 1:
        if along[kink] - along[stops[-1]] > reach_mm and along[-1] - along[kink] > reach_mm:
            stops.append(int(kink))
    stops.append(len(path) - 1)
    places: list[FloatArray] = []
    for a, b in pairwise(stops):
        count = max(int(np.ceil((along[b] - along[a]) / edge_mm - 1e-9)), 1)
        places.append(np.linspace(along[a], along[b], count + 1)[:-1])
    at = np.append(np.concatenate(places), along[-1])
    return np.stack([np.interp(at, along, path[:, k]) for k in (0, 1)], axis=1)
