"""The working chart of a pad as triangles: the face patch inside the edge seam, the sides below it, both halves.

The face patch is filled with triangles between its lines. Below the edge seam the sides are a strip of columns, one
under every vertex of the seam, so the straight rulings of a side are mesh edges and an upright side is exactly
developable. A pad that is the same left and right is meshed on its right half and mirrored, so that mirrored pieces
are equal to the last digit.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from meshes.base.arrays import BoolArray, FloatArray, IntArray
from meshes.base.problems import ProblemError
from meshes.base.surface import smallest_angles
from meshes.intake.checks import SLIVER_RAD
from meshes.numerics.sizes import Sizes, path_radii, sizes_of
from meshes.numerics.triangulate import FlatMesh2D, LinesTooCloseError, triangulate
from meshes.records.pad import Pad
from meshes.support.chart import Chart, FlySpan, MakeProblem
from meshes.support.face_plan import FacePlan, face_plan
from meshes.support.gables import GableNotFilledError
from meshes.support.line_roles import MIRRORED_SIDE, ChartLine, LineIdentity, LineRole
from meshes.support.seam_lines import ON_SEAM_MM, centre_places, face_lines, too_close
from meshes.support.side_strips import SeamRing, hung

# A side shorter than this below its seam cannot be sewn or tacked.
LEAST_SIDE_MM = 5.0
# Points of lines nearer than this share of a triangle's edge are joined; the next share is tried when slivers are left.
REACH_SHARES = (0.04, 0.12, 0.3)
# A line is followed as closely as a surface whose radius is its own divided by this: its chords are seen, and sewn.
BENT_LINE = 8.0
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
    pad: Pad, chart: Chart, make_problem: MakeProblem, *, half: bool, sizes: Sizes, valleys: Sequence[ChartLine] = ()
) -> ChartMesh:
    """Mesh a pad with triangles of these sizes, along its valleys if it is pleated.

    Raises ProblemError for lines that cannot be meshed.
    """
    lines = face_lines(pad, chart, make_problem, half=half, valleys=valleys)
    _all_lines_survive(pad, lines, make_problem)
    sizes = _for_lines(lines, sizes)
    plan, flat = _filled(pad, lines, make_problem, sizes)
    u, c = chart.from_plane(flat.points)
    rule = plan.rule[flat.source]
    seam = np.unique(flat.segments[np.array([plan.rules[k].role is LineRole.EDGE for k in rule])])
    # Halving points lie on the chord; back onto the true edge line with them.
    points = flat.points.copy()
    points[seam], u[seam], c[seam] = chart.on_seam(points[seam])
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
    whole = _with_sides(pad, chart, face, ring, make_problem, half=half, sizes=sizes)
    return _mirrored(chart, whole) if half else whole


def _centre(points: FloatArray, segments: IntArray, plan: FacePlan) -> IntArray:
    """Vertices of lines on x = 0, and those that stand for a crossing with it."""
    lined = np.unique(segments)
    on = lined[np.abs(points[lined, 0]) < ON_SEAM_MM]
    spots = plan.points[plan.centre]
    near = [int(np.argmin(np.linalg.norm(points - spot, axis=1))) for spot in spots]
    return np.union1d(on, np.array(near, dtype=np.int64))


def _filled(
    pad: Pad, lines: Sequence[ChartLine], make_problem: MakeProblem, sizes: Sizes
) -> tuple[FacePlan, FlatMesh2D]:
    """The face patch in triangles that are no slivers. Points of lines that leave no room for others are joined, more
    of them when that does not do. Raises ProblemError."""
    best: tuple[float, FacePlan, FlatMesh2D] | None = None
    for share in REACH_SHARES:
        plan = face_plan(lines, sizes=sizes, reach_mm=share * sizes.least)
        try:
            flat = triangulate(plan.points, plan.segments, rim=plan.rim(), edge_mm=sizes)
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


def _for_lines(lines: Sequence[ChartLine], sizes: Sizes) -> Sizes:
    """The same sizes, shorter where lines bend in the chart."""
    paths = [np.asarray(line.line.coords) for line in lines]
    radii = [path_radii(path, sizes.least) for path in paths]
    if sizes.grid is None or not paths:
        return sizes
    return sizes.refined(np.concatenate(paths), sizes_of(np.concatenate(radii) / BENT_LINE, sizes.least))


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
    u = chart.order(face.plan[seam], face.u[seam])
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
            raise ProblemError([make_problem("G200", ("sides", span.side), _no_room(pad, span, above, deep[own]))])


def _no_room(pad: Pad, span: FlySpan, above: FloatArray, deep: FloatArray) -> str:
    """Why a fly cannot be sewn on where the sheet says. above, deep (n,): from the seam over it down to its own and to
    the tack line."""
    text = f"the fly of the {pad.side_word(span.side)} side is sewn on {span.below:g} mm below the edge"
    low, high = span.below - float((above - LEAST_SIDE_MM).min()), span.below + float((deep - above).min())
    high -= LEAST_SIDE_MM
    if high <= low:
        return f"{text}, and that side leaves no room for one above its tack line; make the drop longer"
    return f"{text}; its seam needs {low:.0f} to {high:.0f} mm there: crease and past add up to that"


def _with_sides(
    pad: Pad, chart: Chart, face: ChartMesh, ring: IntArray, make_problem: MakeProblem, *, half: bool, sizes: Sizes
) -> ChartMesh:
    """Hang the sides under the ring of seam vertices. Raises ProblemError."""
    sewn = _arriving(face)
    seam = SeamRing(face.plan, face.u, face.c, face.rules, ring, sewn)
    try:
        below = hung(pad, chart, seam, closed=not half, sizes=sizes)
    except GableNotFilledError as fault:
        word = pad.side_word(fault.side)
        text = f"the gable of the {word} side is too low for its section, or for triangles of {sizes.least:g} mm; "
        text += "make the "
        raise ProblemError([make_problem("G188", ("sides", fault.side), f"{text}{word} drop longer")]) from fault
    rules = list(dict.fromkeys((*face.rules, *below.rules)))
    own = np.array([rules.index(rule) for rule in below.rules], dtype=np.int64)
    columns = [column for column in below.columns if column[0] in set(face.centre.tolist())]
    return ChartMesh(
        np.concatenate([face.plan, below.plan]),
        np.concatenate([face.u, below.u]),
        np.concatenate([face.c, below.c]),
        np.concatenate([face.triangles, below.triangles]),
        np.concatenate([face.side, below.side]),
        np.concatenate([face.edges, below.edges]),
        np.concatenate([face.rule, own]),
        tuple(rules),
        None,
        np.unique(np.concatenate([face.centre, *columns])),
        np.concatenate([np.zeros(len(face.triangles), dtype=bool), below.fly]) if chart.flies else face.fly,
    )


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
