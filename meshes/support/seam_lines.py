"""Seam lines of a pad: every line drawn in its chart and cut at the crossings, so that it becomes exact mesh edges.

Lines come from four places: the edge seam between face and bands, the inset with its corner lines, lines drawn in the
sheet, and (for a pad that is the same left and right) the centre line, along which the computed half is mirrored.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import LineString, MultiLineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from meshes.base.arrays import FloatArray
from meshes.base.problems import Problem, ProblemError
from meshes.base.units import LINE_REACH_MM, place_words
from meshes.numerics.meeting_points import place_of
from meshes.records.pad import SIDES, ExtraLine, Pad
from meshes.support.chart import Chart, MakeProblem, fold_ends
from meshes.support.face_plan import centre_crossings
from meshes.support.inset import DENSE_MM, inset_lines, sharp_inset
from meshes.support.line_roles import MIRRORED_SIDE, ChartLine, LineIdentity, LineRole, line_words

HUGS_MM = 3.0
# Places drawn nearer to each other than this are one.
ON_SEAM_MM = 1e-6
# A centre mark this close to the end of a line stands at that end.
NODE_MM = 0.75
# Sides spread whose feet are longer than their seam by this factor: then a step of the seam turns by no more than this,
# unless it would be shorter than this.
SPREAD, SPREAD_RAD, LEAST_STEP_MM = 1.3, np.deg2rad(12.0), 0.6


def face_lines(
    pad: Pad, chart: Chart, make_problem: MakeProblem, *, half: bool, valleys: Sequence[ChartLine] = ()
) -> list[ChartLine]:
    """The edge seam of a pad and all lines inside it, cut at their crossings.

    half: only x >= 0, with the centre line as part of the rim; valleys: between pleats, of the whole pad. Raises
    ProblemError for lines that cannot be used.
    """
    rim = _rim(pad, chart, half=half)
    region = _region(rim)
    if not region.is_valid or region.area <= 0:
        text = "the edge line of the padded face crosses itself; make the edge radius, padding or seam_below smaller"
        raise ProblemError([make_problem("G102", ("outline",), text)])
    # Of a half only the right valleys and the centre one are drawn; the rest is mirrored.
    inner = inset_lines(pad, chart, make_problem) + _drawn_lines(pad, chart)
    inner += [drawn for drawn in valleys if not half or drawn.line.bounds[2] > -1e-6]
    hugged = not half and any(_hugs_centre(drawn.line) for drawn in valleys)
    if not half and not hugged:
        inner.append(_centre_line(region))
    lines = _noded(rim + inner, region)
    return _parted_at_centre(lines) if hugged else lines


def too_close(pad: Pad, lines: Sequence[ChartLine], at: FloatArray, make_problem: MakeProblem) -> Problem:
    """The problem of two lines that leave no room for triangles near a place (2,) of the chart."""
    near = [d.rule for d in sorted(lines, key=lambda d: d.line.distance(Point(at)))]
    one = near[0]
    other = next((rule for rule in near if (rule.role, rule.number) != (one.role, one.number)), one)
    keys: tuple[str | int, ...] = ()
    for rule in (one, other):
        own = {LineRole.EXTRA: ("line", rule.number), LineRole.VALLEY: ("pleats",)}
        keys = keys or own.get(rule.role, ())
    text = f"{line_words(pad, one)} and {line_words(pad, other)} run so close together, or meet at so sharp an angle, "
    text += f"at {place_words(*at)} that no triangles fit between them; move one of them away, "
    return make_problem("G104", keys, text + "or leave it out")


def _rim(pad: Pad, chart: Chart, *, half: bool) -> list[ChartLine]:
    u = chart.outline.samples(DENSE_MM)
    flown = [float(np.mod(end, chart.outline.period)) for span in chart.flies for end in (span.begin, span.end)]
    breaks = sorted((*chart.corners, *chart.joins, *fold_ends(pad, chart), *flown))
    if half:
        low, high = centre_places(chart)
        breaks = [low, *[b for b in breaks if low < b < high], high]
    else:
        breaks = [*breaks, breaks[0] + chart.outline.period]
    breaks = _apart(chart, breaks)
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
        for part in _where_sides_spread(chart, inner):
            path = _over_path(chart, side, part, chart.to_plane(part, chart.seam(part)))
            if half:
                path[np.abs(path[:, 0]) < 1e-9, 0] = 0.0
            drawn.append(ChartLine(rule, LineString(path)))
    if half:
        ends = [drawn[-1].line.coords[-1], drawn[0].line.coords[0]]
        drawn.append(ChartLine(LineIdentity(LineRole.CENTRE, rim=True), LineString(ends)))
    return drawn


def _where_sides_spread(chart: Chart, u: FloatArray) -> list[FloatArray]:
    """Rising places (n,) of the edge seam in parts: where sides spread round a corner as they go down, no step of the
    seam may turn far, or their columns would cut the corner at their feet."""
    if chart.way is None:
        return [u]
    tops = chart.to_plane(u, chart.seam(u))
    feet = (
        chart.outline.point(u) + chart.outline.normal(u) * chart.way.at(chart.way.nodes[..., 0].max(axis=1), u)[:, None]
    )
    normal = chart.outline.normal(u)
    turn = np.abs(
        np.arctan2(
            normal[1:, 0] * normal[:-1, 1] - normal[1:, 1] * normal[:-1, 0], (normal[1:] * normal[:-1]).sum(axis=1)
        )
    )
    short, long = (np.linalg.norm(np.diff(points, axis=0), axis=1) for points in (tops, feet))
    cuts, turned, gone = [0], 0.0, 0.0
    for k in np.flatnonzero(long > SPREAD * short):
        turned, gone = (turned + turn[k], gone + short[k]) if k == cuts[-1] or turned else (turn[k], short[k])
        if turned >= SPREAD_RAD and gone >= LEAST_STEP_MM:
            cuts.append(int(k) + 1)
            turned, gone = 0.0, 0.0
    cuts = [*cuts, len(u) - 1] if cuts[-1] < len(u) - 1 else cuts
    return [u[a : b + 1] for a, b in pairwise(cuts)]


def _over_path(chart: Chart, side: str, u: FloatArray, path: FloatArray) -> FloatArray:
    """The edge seam of a side (n, 2), drawn at places u (n,), where the face runs on over it or over one beside it: it
    goes straight across from corner to corner, and round the section beside it."""
    head, tail, kept = path[:0], path[:0], np.ones(len(u), dtype=bool)
    for over, number, b in ((one, n, b) for one in chart.overs for n, b in enumerate(one.beside)):
        corner = over.draw(np.array([over.turn_end]), np.array([b.seam]), number)
        if side == over.side:
            if number == 0 and _same_place(chart, u[0], over.run[0]):
                head, kept[0] = corner, False
            if number == 1 and _same_place(chart, u[-1], over.run[1]):
                tail, kept[-1] = corner, False
        elif side == b.side:
            c = np.linspace(over.turn_end, 0.0, max(int(over.turn_end / DENSE_MM), 16) + 1)
            rolled = over.draw(c, np.full(len(c), b.seam), number)
            flat = over.local(path)[:, 1] < -over.radius - ON_SEAM_MM
            # The arc of the outline between both runs is none of the edge seam.
            if number == 1 and _same_place(chart, u[0], over.run[1]):
                head, kept = rolled, kept & flat & (u > u[0] + 1.0)
            if number == 0 and _same_place(chart, u[-1], over.run[0]):
                tail, kept = rolled[::-1], kept & flat & (u < u[-1] - 1.0)
    return np.concatenate([head, path[kept], tail])


def _same_place(chart: Chart, u: float, other: float) -> bool:
    """Whether two numbers are one place of the outline."""
    period = chart.outline.period
    return bool(abs(np.mod(u - other + 0.5 * period, period) - 0.5 * period) < 1e-6)


def _apart(chart: Chart, breaks: Sequence[float]) -> list[float]:
    """Rising places of the edge seam without those that are drawn where the one before, or the last, is."""
    at = chart.seam_places(np.array(breaks))
    before, last = np.linalg.norm(np.diff(at, axis=0), axis=1), np.linalg.norm(at - at[-1], axis=1)
    inner = [breaks[k] for k in range(1, len(breaks) - 1) if min(before[k - 1], last[k]) > ON_SEAM_MM]
    return [breaks[0], *inner, breaks[-1]]


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


def _parted_at_centre(lines: Sequence[ChartLine]) -> list[ChartLine]:
    """Lines other than valleys parted where they cross x = 0, but not so near to an end that no triangle fits."""
    at = [Point(place) for place in centre_crossings(lines)]
    parted: list[ChartLine] = []
    for d in lines:
        own = [d.line.project(p) for p in at if d.rule.role is not LineRole.VALLEY and d.line.distance(p) < 1e-6]
        inner = sorted({a for a in own if NODE_MM < a < d.line.length - NODE_MM})
        parted += [ChartLine(d.rule, substring(d.line, a, b)) for a, b in pairwise([0.0, *inner, d.line.length])]
    return parted


def face_region(pad: Pad, chart: Chart) -> Polygon:
    """The face inside the edge seam as a region of the chart."""
    return _region(_rim(pad, chart, half=False))


def seam_corners(chart: Chart) -> FloatArray:
    """Where the edge seam passes from one side to the next, in the chart, (4, 2) mm."""
    u = np.array(chart.corners)
    at = chart.to_plane(u, chart.seam(u))
    for k, (before, after) in enumerate(zip(SIDES, SIDES[1:] + SIDES[:1], strict=True)):
        if any(over.side in (before, after) for over in chart.overs):
            at[k] = chart.seam_corner(before, after)
    return at


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
        others = [*others, sharp_inset(pad, chart)]
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
