"""The working chart of a pad as triangles: the face patch inside the edge seam, the sides below it, both halves.

The face patch is filled with triangles between its lines. Below the edge seam the sides are a strip of columns, one
under every vertex of the seam, so the straight rulings of a side are mesh edges and an upright side is exactly
developable. A pad that is the same left and right is meshed on its right half and mirrored, so that mirrored pieces
are equal to the last digit.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from meshes.base.arrays import BoolArray, FloatArray, IntArray
from meshes.base.problems import ProblemError
from meshes.base.surface import smallest_angles
from meshes.intake.checks import SLIVER_RAD
from meshes.numerics.triangulate import FlatMesh2D, LinesTooCloseError, triangulate
from meshes.records.pad import SIDES, Pad
from meshes.support.chart import Chart, FlySpan, MakeProblem, fly_ends, seams_down
from meshes.support.face_plan import FacePlan, face_plan
from meshes.support.line_roles import MIRRORED_SIDE, ChartLine, LineIdentity, LineRole
from meshes.support.seam_lines import ON_SEAM_MM, centre_places, face_lines, too_close

# A seam down a side begins at a vertex of the edge seam this near.
AT_SEAM_MM = 1e-3
# A side shorter than this below its seam cannot be sewn or tacked.
LEAST_SIDE_MM = 5.0
# Points of lines nearer than this share of a triangle's edge are joined; the next share is tried when slivers are left.
REACH_SHARES = (0.04, 0.12, 0.3)
# Triangles with angles above this are even enough.
EVEN_RAD = np.deg2rad(0.5)


@dataclass(frozen=True, eq=False)
class ChartMesh:
    """Triangles of a pad's chart.

    plan (n, 2) mm drawn position; u, c (n,) section place (c < 0 on the face); triangles (m, 3) counter-clockwise
    from outside; side (m,) number of the side a triangle of the strip belongs to, -1 on the face patch; edges (k, 2)
    on lines, rule (k,) number of the rule in `rules`; mirror (n,) vertex that mirrors each vertex, None for a crooked
    pad; centre (j,) vertices on the centre line, at least all at which another line crosses it; fly (m,): whether a
    triangle belongs to a fly, empty where there is none.
    """

    plan: FloatArray
    u: FloatArray
    c: FloatArray
    triangles: IntArray
    side: IntArray
    edges: IntArray
    rule: IntArray
    rules: tuple[LineIdentity, ...]
    mirror: IntArray | None
    centre: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    fly: BoolArray = field(default_factory=lambda: np.zeros(0, dtype=bool))

    def on(self, *roles: LineRole) -> BoolArray:
        """Which of `edges` belong to lines of these roles, shape (k,)."""
        return np.array([self.rules[k].role in roles for k in self.rule], dtype=bool)


def chart_mesh(
    pad: Pad, chart: Chart, make_problem: MakeProblem, *, half: bool, edge_mm: float, valleys: Sequence[ChartLine] = ()
) -> ChartMesh:
    """Mesh a pad with triangles of about `edge_mm`, along its valleys if it is pleated.

    Raises ProblemError for lines that cannot be meshed.
    """
    lines = face_lines(pad, chart, make_problem, half=half, valleys=valleys)
    _all_lines_survive(pad, lines, make_problem)
    plan, flat = _filled(pad, lines, make_problem, edge_mm=edge_mm)
    u, c = chart.from_plane(flat.points)
    rule = plan.rule[flat.source]
    seam = np.unique(flat.segments[np.array([plan.rules[k].role is LineRole.EDGE for k in rule])])
    # Halving points lie on the chord; back onto the true edge line with them.
    c[seam] = chart.seam(u[seam])
    points = flat.points.copy()
    points[seam] = chart.to_plane(u[seam], c[seam])
    face = ChartMesh(
        points,
        u,
        c,
        flat.triangles,
        np.full(len(flat.triangles), -1),
        flat.segments,
        rule,
        plan.rules,
        None,
        _centre(points, flat.segments, plan),
    )
    ring = _ring(chart, face, seam, half=half)
    _deep_enough(pad, chart, face, ring, make_problem)
    whole = _with_sides(pad, chart, face, ring, half=half, edge_mm=edge_mm)
    return _mirrored(chart, whole) if half else whole


def _centre(points: FloatArray, segments: IntArray, plan: FacePlan) -> IntArray:
    """Vertices of lines on x = 0, and those that stand for a crossing with it."""
    lined = np.unique(segments)
    on = lined[np.abs(points[lined, 0]) < ON_SEAM_MM]
    spots = plan.points[plan.centre]
    near = [int(np.argmin(np.linalg.norm(points - spot, axis=1))) for spot in spots]
    return np.union1d(on, np.array(near, dtype=np.int64))


def _filled(
    pad: Pad, lines: Sequence[ChartLine], make_problem: MakeProblem, *, edge_mm: float
) -> tuple[FacePlan, FlatMesh2D]:
    """The face patch in triangles that are no slivers. Points of lines that leave no room for others are joined, more
    of them when that does not do. Raises ProblemError."""
    best: tuple[float, FacePlan, FlatMesh2D] | None = None
    for share in REACH_SHARES:
        plan = face_plan(lines, edge_mm=edge_mm, reach_mm=share * edge_mm)
        try:
            flat = triangulate(plan.points, plan.segments, rim=plan.rim(), edge_mm=edge_mm)
        except LinesTooCloseError as fault:
            at = fault.at
            continue
        angles = smallest_angles(np.pad(flat.points, ((0, 0), (0, 1))), flat.triangles)
        worst = int(np.argmin(angles))
        if best is None or angles[worst] > best[0]:
            best = float(angles[worst]), plan, flat
            at = flat.points[flat.triangles[worst]].mean(axis=0)
        if best[0] >= EVEN_RAD:
            break
    if best is None or best[0] < 2.0 * SLIVER_RAD:
        raise ProblemError([too_close(pad, lines, at, make_problem)])
    return best[1], best[2]


def _all_lines_survive(pad: Pad, lines: Sequence[ChartLine], make_problem: MakeProblem) -> None:
    drawn = {line.rule.number for line in lines if line.rule.role is LineRole.EXTRA}
    lost = [k for k in range(len(pad.lines)) if k not in drawn]
    if lost:
        text = (
            "the line parts nothing: an end reaches no edge and no other line; carry both ends on until they meet one"
        )
        raise ProblemError([make_problem("G105", ("line", k), text) for k in lost])


def _ring(chart: Chart, face: ChartMesh, seam: IntArray, *, half: bool) -> IntArray:
    """Vertices of the edge seam in order, from the front centre round the right side; closed for a whole pad."""
    u = face.u[seam].copy()
    if half:
        low, high = centre_places(chart)
        # Begun half of the other half before the centre: between two arcs one point bears several numbers.
        begin = low - 0.5 * (chart.outline.period - (high - low))
        u = begin + np.mod(u - begin, chart.outline.period)
        order = np.argsort(u, kind="stable")
        return seam[order]
    return seam[np.argsort(u, kind="stable")]


def _deep_enough(pad: Pad, chart: Chart, face: ChartMesh, ring: IntArray, make_problem: MakeProblem) -> None:
    """There has to be room for the sides between the seam and the tack line. Raises ProblemError."""
    u = face.u[ring]
    deep = chart.tack(u) - face.c[ring]
    if (deep < LEAST_SIDE_MM).any():
        short = chart.side_at(float(u[int(np.argmin(deep))]))
        text = (
            f"the seam on the {pad.side_word(short)} edge comes within {float(deep.min()):.1f} mm of the tack line; "
            "make seam_below or the edge radius smaller, or the drop longer"
        )
        raise ProblemError([make_problem("G106", ("sides", short), text)])
    for span in chart.flies:
        own = np.array([span.holds(place, chart.outline.period) for place in u])
        above = (chart.edge(u) + span.below - face.c[ring])[own]
        if (above < LEAST_SIDE_MM).any() or (deep[own] - above < LEAST_SIDE_MM).any():
            raise ProblemError([make_problem("G190", ("sides", span.side), _no_room(pad, span, above, deep[own]))])


def _no_room(pad: Pad, span: FlySpan, above: FloatArray, deep: FloatArray) -> str:
    """Why a fly cannot be sewn on where the sheet says. above, deep (n,): from the seam over it down to its own and to
    the tack line."""
    text = f"the fly of the {pad.side_word(span.side)} side is sewn on {span.below:g} mm below the edge"
    low, high = span.below - float((above - LEAST_SIDE_MM).min()), span.below + float((deep - above).min())
    high -= LEAST_SIDE_MM
    if high <= low:
        return f"{text}, and that side leaves no room for one above its tack line; make the drop longer"
    return f"{text}; its seam needs {low:.0f} to {high:.0f} mm there: crease and past add up to that"


def _with_sides(pad: Pad, chart: Chart, face: ChartMesh, ring: IntArray, *, half: bool, edge_mm: float) -> ChartMesh:
    """Hang the strip of the sides under the ring of seam vertices."""
    u, top = face.u[ring], face.c[ring]
    deep = chart.tack(u) - top
    chart = replace(chart, flies=_snapped(chart, face, ring, edge_mm))
    v, above = _levels(chart, (u, top, deep), half=half, edge_mm=edge_mm)
    rows, columns = len(v), len(ring)
    number = np.empty((rows + 1, columns), dtype=np.int64)
    number[0] = ring
    number[1:] = len(face.u) + np.arange(rows * columns).reshape(rows, columns)
    below_c = (top + v * deep).ravel()
    below_u = np.tile(u, rows)
    if not half:
        number = np.concatenate([number, number[:, :1]], axis=1)
    along = np.append(u, u[0] + chart.outline.period) if not half else u
    triangles, side = _strip(chart, number, along)
    edges, strip_rules = _strip_lines(pad, chart, face, (number, above), u)
    fly_edges, fly = _fly_lines(chart, number, above, along)
    edges, strip_rules = np.concatenate([edges, fly_edges[0]]), [*strip_rules, *fly_edges[1]]
    rules = list(dict.fromkeys((*face.rules, *strip_rules)))
    return ChartMesh(
        np.concatenate([face.plan, chart.to_plane(below_u, below_c)]),
        np.concatenate([face.u, below_u]),
        np.concatenate([face.c, below_c]),
        np.concatenate([face.triangles, triangles]),
        np.concatenate([face.side, side]),
        np.concatenate([face.edges, edges]),
        np.concatenate([face.rule, [rules.index(r) for r in strip_rules]]).astype(np.int64),
        tuple(rules),
        None,
        np.union1d(face.centre, number[:, np.isin(number[0], face.centre)].ravel()),
        np.concatenate([np.zeros(len(face.triangles), dtype=bool), fly]) if chart.flies else face.fly,
    )


def _snapped(chart: Chart, face: ChartMesh, ring: IntArray, edge_mm: float) -> tuple[FlySpan, ...]:
    """The flies, from column to column of the strip: points of lines may have been joined where one ends."""
    u, tops = face.u[ring], face.plan[ring]

    def column(place: float) -> float:
        away = np.linalg.norm(tops - chart.seam_places(np.array([place])), axis=1)
        nearest = int(np.argmin(away))
        off = float(np.mod(u[nearest] - place + 0.5 * chart.outline.period, chart.outline.period))
        return place + off - 0.5 * chart.outline.period if away[nearest] < edge_mm else place

    return tuple(replace(span, begin=column(span.begin), end=column(span.end)) for span in chart.flies)


def _levels(
    chart: Chart, strip: tuple[FloatArray, FloatArray, FloatArray], *, half: bool, edge_mm: float
) -> tuple[FloatArray, int]:
    """Shares of the depth at which the rows of the strip lie, (rows, columns or 1), and how many rows lie above the
    flies' seams; all where there is none. strip: place, top and depth of every column."""
    u, top, deep = strip
    if not chart.flies:
        rows = max(int(np.ceil(float(np.median(deep)) / edge_mm)), 1)
        return np.arange(1, rows + 1)[:, None] / rows, rows
    share = np.full(len(u), np.nan)
    for span in chart.flies:
        inside = np.array([span.holds(place, chart.outline.period) for place in u])
        share[inside] = ((chart.edge(u) + span.below - top) / deep)[inside]
    known, columns = np.flatnonzero(~np.isnan(share)), np.arange(len(u))
    # Beside a fly the rows run on, level with its seam or from one seam to the next.
    share = np.interp(columns, known, share[known], period=None if half else len(u))
    counts = [max(int(np.ceil(float(np.median(part * deep)) / edge_mm)), 1) for part in (share, 1.0 - share)]
    upper = share * np.arange(1, counts[0] + 1)[:, None] / counts[0]
    lower = share + (1.0 - share) * np.arange(1, counts[1] + 1)[:, None] / counts[1]
    return np.concatenate([upper, lower]), counts[0]


def _fly_lines(
    chart: Chart, number: IntArray, above: int, along: FloatArray
) -> tuple[tuple[IntArray, list[LineIdentity]], BoolArray]:
    """The seams of the flies as edges with their rules, and which triangles of the strip lie on a fly, (m,)."""
    edges: list[tuple[int, int]] = []
    rules: list[LineIdentity] = []
    on_fly = np.zeros((len(number) - 1, number.shape[1] - 1), dtype=bool)
    for k, middle in enumerate(0.5 * (along[:-1] + along[1:])):
        span = next((span for span in chart.flies if span.holds(float(middle), chart.outline.period)), None)
        if span is not None:
            edges.append((int(number[above, k]), int(number[above, k + 1])))
            side = SIDES.index(span.side)
            rules.append(LineIdentity(LineRole.FLY, side, MIRRORED_SIDE[side], sewn=True))
            on_fly[above:, k] = True
    return (np.array(edges, dtype=np.int64).reshape(-1, 2), rules), np.tile(on_fly.ravel(), 2)


def _strip(chart: Chart, number: IntArray, u: FloatArray) -> tuple[IntArray, IntArray]:
    a, b = number[:-1, :-1], number[:-1, 1:]
    d, e = number[1:, :-1], number[1:, 1:]
    # Seen from outside, going on along the ring is going right and down is down.
    lean = (np.add.outer(np.arange(a.shape[0]), np.arange(a.shape[1])) % 2 == 0)[..., None]
    first = np.where(lean, np.stack([a, d, e], -1), np.stack([a, d, b], -1))
    second = np.where(lean, np.stack([a, e, b], -1), np.stack([b, d, e], -1))
    column = np.array([SIDES.index(chart.side_at(0.5 * (x + y))) for x, y in pairwise(u)])
    side = np.broadcast_to(column, a.shape).ravel()
    return np.concatenate([first.reshape(-1, 3), second.reshape(-1, 3)]), np.concatenate([side, side])


def _strip_lines(
    pad: Pad, chart: Chart, face: ChartMesh, strip: tuple[IntArray, int], u: FloatArray
) -> tuple[IntArray, list[LineIdentity]]:
    """Lines down the sides: corner seams, drawn lines carried on over a side without band, ends of flies, and the tack
    lines. strip: numbers of its vertices, and how many of its rows lie above the flies' seams."""
    number, above = strip
    edges: list[tuple[int, int]] = []
    rules: list[LineIdentity] = []
    sewn = _arriving(face)
    down, ends = seams_down(pad, chart), fly_ends(pad, chart)
    tops = face.plan[number[0, : len(u)]]
    for k, place in enumerate(u):
        rule = _nearest_rule(chart, down, tops[k])
        if rule is None and not pad.sides[chart.side_at(place)].band:
            rule = sewn.get(int(number[0, k]))
        below = rule
        if chart.flies:
            hidden = any(span.holds(place, chart.outline.period) for span in chart.flies)
            below = _nearest_rule(chart, ends, tops[k]) or (None if hidden else rule)
        for part, one in ((number[: above + 1], rule), (number[above:], below)):
            if one is not None:
                edges += list(zip(part[:-1, k].tolist(), part[1:, k].tolist(), strict=True))
                rules += [one] * (len(part) - 1)
    bottom = number[-1]
    along = np.append(u, u[0] + chart.outline.period)[: len(bottom)]
    for k in range(len(bottom) - 1):
        side = SIDES.index(chart.side_at(0.5 * (along[k] + along[k + 1])))
        edges.append((int(bottom[k]), int(bottom[k + 1])))
        rules.append(LineIdentity(LineRole.TACK, side, MIRRORED_SIDE[side]))
    return np.array(edges, dtype=np.int64).reshape(-1, 2), rules


def _nearest_rule(chart: Chart, down: Sequence[tuple[float, LineIdentity]], top: FloatArray) -> LineIdentity | None:
    """The line down the side that begins at a vertex of the edge seam."""
    if not down:
        return None
    near = np.linalg.norm(chart.seam_places(np.array([place for place, _ in down])) - top, axis=1)
    return down[int(near.argmin())][1] if near.min() < AT_SEAM_MM else None


def _arriving(face: ChartMesh) -> dict[int, LineIdentity]:
    """Inner lines that run on over a side without band, by the vertices they touch."""
    found = {}
    for (i, j), k in zip(face.edges.tolist(), face.rule.tolist(), strict=True):
        rule = face.rules[k]
        if (rule.sewn or rule.runs_on) and rule.role is not LineRole.EDGE:
            found[i] = found[j] = replace(rule, rim=False)
    return found


def _mirrored(chart: Chart, right: ChartMesh) -> ChartMesh:
    """The right half and its mirror image in the centre line as one mesh."""
    centre = np.abs(right.plan[:, 0]) < ON_SEAM_MM
    n = len(right.plan)
    image = np.arange(n)
    image[~centre] = n + np.arange(int((~centre).sum()))
    plan = right.plan.copy()
    plan[centre, 0] = 0.0
    left = plan[~centre] * np.array([-1.0, 1.0])
    mirror = np.concatenate([image, np.flatnonzero(~centre)])
    u = chart.outline.mirrored(right.u[~centre])
    swap = np.array([*MIRRORED_SIDE, -1])
    rules, left_rule = _mirrored_rules(right)
    keep = ~(centre[right.edges[:, 0]] & centre[right.edges[:, 1]])
    return ChartMesh(
        np.concatenate([plan, left]),
        np.concatenate([right.u, u]),
        np.concatenate([right.c, right.c[~centre]]),
        np.concatenate([right.triangles, image[right.triangles][:, [0, 2, 1]]]),
        np.concatenate([right.side, swap[right.side]]),
        np.concatenate([right.edges, image[right.edges[keep]]]),
        np.concatenate([right.rule, left_rule[right.rule[keep]]]),
        rules,
        mirror,
        np.flatnonzero(mirror == np.arange(len(mirror))),
        np.concatenate([right.fly, right.fly]),
    )


def _mirrored_rules(right: ChartMesh) -> tuple[tuple[LineIdentity, ...], IntArray]:
    rules = list(right.rules)
    number = []
    for rule in right.rules:
        image = rule.mirrored
        if image not in rules:
            rules.append(image)
        number.append(rules.index(image))
    return tuple(rules), np.array(number, dtype=np.int64)
