"""The sides of a pad as triangles below its edge seam: strips of columns, and gables.

A strip has one column under every vertex of the seam. Lengths mm.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from meshes.base.arrays import BoolArray, FloatArray, IntArray
from meshes.numerics.sizes import Sizes
from meshes.numerics.triangulate import LinesTooCloseError
from meshes.records.pad import SIDES, Pad
from meshes.support.chart import Chart, FlySpan, fly_ends, seams_down
from meshes.support.gables import Gable, GableNotFilledError, gable_mesh, gables_of
from meshes.support.line_roles import MIRRORED_SIDE, LineIdentity, LineRole
from meshes.support.over import RolledOver

# A seam down a side begins at a vertex of the edge seam this near.
AT_SEAM_MM = 1e-3
# A row of triangles down a side is no lower than this share of a triangle's edge.
LEAST_ROW_SHARE = 0.25


@dataclass(frozen=True, eq=False)
class SeamRing:
    """What the sides hang on. plan (n, 2), u, c (n,): of the face's vertices; rules: its lines; ring: numbers of the
    vertices of its edge seam in the order of the outline; arriving: inner lines that run on over a side without band,
    by the vertices they touch."""

    plan: FloatArray
    u: FloatArray
    c: FloatArray
    rules: tuple[LineIdentity, ...]
    ring: IntArray
    arriving: Mapping[int, LineIdentity]


@dataclass(frozen=True, eq=False)
class HungSides:
    """All that lies below the edge seam. plan (k, 2), u, c (k,): of the new vertices, which are numbered after those of
    the face; triangles (m, 3) by numbers of both, side (m,): number of their side, fly (m,): whether they lie on a fly;
    edges (j, 2) on lines, and the line of each; columns: vertices under every vertex of the seam but those of
    gables."""

    plan: FloatArray
    u: FloatArray
    c: FloatArray
    triangles: IntArray
    side: IntArray
    fly: BoolArray
    edges: IntArray
    rules: tuple[LineIdentity, ...]
    columns: tuple[IntArray, ...]


def hung(pad: Pad, chart: Chart, seam: SeamRing, *, closed: bool, sizes: Sizes) -> HungSides:
    """The sides below an edge seam that is closed, or runs from centre to centre of a half. Raises
    GableNotFilledError."""
    ring, edge_mm = seam.ring, sizes.least
    chart = replace(chart, flies=_snapped(chart, seam, edge_mm))
    gables = gables_of(chart, seam.plan[ring], seam.u[ring])
    grids: list[_Grid] = []
    count = len(seam.u)
    for run, whole in _runs(ring, gables, closed=closed):
        grids.append(_grid(chart, seam, run, count, closed=whole, sizes=sizes))
        count += len(grids[-1].below_u)
    parts = [_strip_of(pad, chart, seam, grid) for grid in grids]
    for gable in gables:
        done = _joined(parts)
        parts.append(_gable(chart, seam, done, gable, grids, edge_mm))
    return _joined(parts)


def _joined(parts: Sequence[HungSides]) -> HungSides:
    return HungSides(
        plan=np.concatenate([part.plan for part in parts]),
        u=np.concatenate([part.u for part in parts]),
        c=np.concatenate([part.c for part in parts]),
        triangles=np.concatenate([part.triangles for part in parts]),
        side=np.concatenate([part.side for part in parts]),
        fly=np.concatenate([part.fly for part in parts]),
        edges=np.concatenate([part.edges for part in parts]),
        rules=tuple(rule for part in parts for rule in part.rules),
        columns=tuple(column for part in parts for column in part.columns),
    )


@dataclass(frozen=True, eq=False)
class _Grid:
    """Columns under a run of the edge seam. number (rows + 1, k): vertices, those of the seam first; u (k,): places of
    the columns, going on past the period; over: number of the side over which the face runs on there, None elsewhere;
    plan, below_u, below_c: of the new vertices, row by row; above: how many rows lie above the seams of flies."""

    number: IntArray
    u: FloatArray
    over: int | None
    plan: FloatArray
    below_u: FloatArray
    below_c: FloatArray
    above: int


def _runs(ring: IntArray, gables: Sequence[Gable], *, closed: bool) -> list[tuple[IntArray, bool]]:
    """The runs of the ring that have columns under them, and whether each is closed."""
    if not gables:
        return [(ring, closed)]
    count = len(ring)
    own = np.zeros(count, dtype=bool)
    inner = np.zeros(count, dtype=bool)
    for gable in gables:
        span = np.arange(gable.first, gable.last + (count if gable.last < gable.first else 0) + 1) % count
        own[span[1:-1]] = True
        # A gable's ends bear the columns beside it, and nothing goes on between them.
        inner[span[:-1]] = True
    runs: list[tuple[IntArray, bool]] = []
    # Round a closed ring one begins behind a gable.
    places = ((gables[0].last if closed else 0) + np.arange(count + int(closed))) % count
    here: list[int] = []
    for place in places:
        if not own[place]:
            here.append(int(place))
        if own[place] or inner[place]:
            if len(here) > 1:
                runs.append((ring[here], False))
            here = []
    if len(here) > 1:
        runs.append((ring[here], False))
    return runs


def _grid(chart: Chart, seam: SeamRing, run: IntArray, begin: int, *, closed: bool, sizes: Sizes) -> _Grid:
    """The columns under a run of seam vertices; begin: number of the first new one."""
    u, top = np.unwrap(seam.u[run], period=chart.outline.period) if not closed else seam.u[run], seam.c[run]
    over = next((one for one in chart.overs if _lies_on(one, seam.plan[run])), None)
    tack = chart.tack(u) if over is None else chart.tack(over.places(over.local(seam.plan[run])[:, 0]))
    deep = tack - (top if over is None else over.turn_end)
    v, above = _levels(chart, (u, top, deep), closed=closed, sizes=sizes)
    rows = len(v)
    number = np.empty((rows + 1, len(run)), dtype=np.int64)
    number[0] = run
    number[1:] = begin + np.arange(rows * len(run)).reshape(rows, len(run))
    below_u = np.tile(u, rows)
    if over is None:
        below_c = (top + v * deep).ravel()
        plan = chart.to_plane(below_u, below_c)
    else:
        plan = over.below(seam.plan[run], tack, rows).reshape(-1, 2)
        below_u, below_c = over.section_places(plan, below_u, np.zeros(len(plan)))
    if closed:
        number = np.concatenate([number, number[:, :1]], axis=1)
    return _Grid(number, u, None if over is None else SIDES.index(over.side), plan, below_u, below_c, above)


def _rows(bends: FloatArray, top: FloatArray, tack: FloatArray, edge_mm: float) -> FloatArray:
    """c of the rows under a run of the seam, (rows, columns), from below its c `top` to the tack line, with one along
    every line at which the sides bend, (columns, k)."""
    ends, least = [top], LEAST_ROW_SHARE * edge_mm
    for bend in bends.T:
        if min(float((bend - ends[-1]).min()), float((tack - bend).min())) > least:
            ends.append(bend)
    rows = []
    for above, below in pairwise([*ends, tack]):
        count = max(int(np.ceil(float(np.median(below - above)) / edge_mm)), 1)
        rows += [above + (k / count) * (below - above) for k in range(1, count + 1)]
    return np.array(rows)


def _lies_on(over: RolledOver, plan: FloatArray) -> bool:
    return bool((over.local(plan)[:, 1] > over.turn_end - over.radius - 1e-6).all())


def _strip_of(pad: Pad, chart: Chart, seam: SeamRing, grid: _Grid) -> HungSides:
    """A grid of columns as a part of the sides."""
    number, u = grid.number, grid.u
    around = u if number.shape[1] == len(u) else np.append(u, u[0] + chart.outline.period)
    triangles, side = _strip(chart, number, around)
    if grid.over is not None:
        side = np.full(len(side), grid.over)
    edges, rules = _strip_lines(pad, chart, seam, grid)
    (fly_edges, fly_rules), fly = _fly_lines(chart, number, grid.above, around)
    edges, rules = np.concatenate([edges, fly_edges]), [*rules, *fly_rules]
    columns = tuple(number[:, : len(u)].T)
    return HungSides(grid.plan, grid.below_u, grid.below_c, triangles, side, fly, edges, tuple(rules), columns)


def _gable(
    chart: Chart, seam: SeamRing, done: HungSides, gable: Gable, grids: Sequence[_Grid], edge_mm: float
) -> HungSides:
    """A gable as a part of the sides, done: those hung so far. Its seam goes on down the corners of the over-sides."""
    count, ring = len(seam.ring), seam.ring
    span = ring[np.arange(gable.first, gable.last + (count if gable.last < gable.first else 0) + 1) % count]
    left = next(g.number[:, -1] for g in grids if g.number[0, -1] == span[0])
    right = next(g.number[:, 0] for g in grids if g.number[0, 0] == span[-1])
    rim = np.concatenate([left[:0:-1], span, right[1:]])
    drawn, u, c = (
        np.concatenate([one, more])[rim] for one, more in ((seam.plan, done.plan), (seam.u, done.u), (seam.c, done.c))
    )
    begin = len(seam.u) + len(done.u)
    try:
        filled = gable_mesh(chart, gable, (rim, drawn, u, c), begin=begin, edge_mm=edge_mm)
    except LinesTooCloseError as fault:
        raise GableNotFilledError(gable.side) from fault
    number = SIDES.index(gable.side)
    edges = [np.stack([filled.foot[:-1], filled.foot[1:]], axis=1)]
    rules = [LineIdentity(LineRole.TACK, number, MIRRORED_SIDE[number])] * (len(filled.foot) - 1)
    own = next(r for r in seam.rules if r.role is LineRole.EDGE and r.number == number and r.rim)
    for column, end in ((left, gable.start), (right, gable.end)):
        if end is not None:
            edges.append(np.stack([column[:-1], column[1:]], axis=1))
            rules += [own] * (len(column) - 1)
    side = np.full(len(filled.triangles), number)
    fly = np.zeros(len(filled.triangles), dtype=bool)
    lines = np.concatenate(edges)
    return HungSides(filled.plan, filled.u, filled.c, filled.triangles, side, fly, lines, tuple(rules), ())


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


def _snapped(chart: Chart, seam: SeamRing, edge_mm: float) -> tuple[FlySpan, ...]:
    """The flies, from column to column of the strip: points of lines may have been joined where one ends."""
    u, tops = seam.u[seam.ring], seam.plan[seam.ring]

    def column(place: float) -> float:
        away = np.linalg.norm(tops - chart.seam_places(np.array([place])), axis=1)
        nearest = int(np.argmin(away))
        off = float(np.mod(u[nearest] - place + 0.5 * chart.outline.period, chart.outline.period))
        return place + off - 0.5 * chart.outline.period if away[nearest] < edge_mm else place

    return tuple(replace(span, begin=column(span.begin), end=column(span.end)) for span in chart.flies)


def _levels(
    chart: Chart, strip: tuple[FloatArray, FloatArray, FloatArray], *, closed: bool, sizes: Sizes
) -> tuple[FloatArray, int]:
    """Shares of the depth at which the rows of a strip lie, (rows, columns or 1), and how many rows lie above the
    flies' seams; all where there is none. strip: place, top and depth of every column."""
    (u, top, deep), edge_mm = strip, sizes.least
    bends = chart.bends(u)
    if bends.size and not chart.flies:
        lines = _rows(bends, top, top + deep, edge_mm)
        return (lines - top) / deep, len(lines)
    if not chart.flies:
        shares = sizes.down_to(float(np.median(top - chart.edge(u))), float(np.median(deep)))
        return shares[:, None], len(shares)
    share = np.full(len(u), np.nan)
    for span in chart.flies:
        inside = np.array([span.holds(place, chart.outline.period) for place in u])
        share[inside] = ((chart.edge(u) + span.below - top) / deep)[inside]
    known, columns = np.flatnonzero(~np.isnan(share)), np.arange(len(u))
    # Beside a fly the rows run on, level with its seam or from one seam to the next.
    share = np.interp(columns, known, share[known], period=len(u) if closed else None)
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


def _fly_end(pad: Pad, chart: Chart, top: FloatArray) -> LineIdentity | None:
    """The line down the end of a fly that begins under a vertex of the edge seam, drawn at (2,)."""
    ends = fly_ends(pad, chart)
    near = np.linalg.norm(chart.seam_places(np.array([place for place, _ in ends])) - top, axis=1)
    return ends[int(near.argmin())][1] if near.min() < AT_SEAM_MM else None


def _strip_lines(pad: Pad, chart: Chart, seam: SeamRing, grid: _Grid) -> tuple[IntArray, list[LineIdentity]]:
    """Lines down the sides: corner seams, drawn lines carried on over a side without band, ends of flies, and the tack
    lines."""
    number, u = grid.number, grid.u
    edges: list[tuple[int, int]] = []
    rules: list[LineIdentity] = []
    down = [] if grid.over is not None else seams_down(pad, chart)
    places = chart.seam_places(np.array([place for place, _ in down]))
    tops = seam.plan[number[0, : len(u)]]
    for k, place in enumerate(u):
        near = np.linalg.norm(places - tops[k], axis=1) if down else np.ones(1)
        rule = down[int(near.argmin())][1] if near.min() < AT_SEAM_MM else None
        if rule is None and (grid.over is not None or not pad.sides[chart.side_at(place)].band):
            rule = seam.arriving.get(int(number[0, k]))
        below = rule
        if chart.flies:
            hidden = any(span.holds(place, chart.outline.period) for span in chart.flies)
            below = _fly_end(pad, chart, tops[k]) or (None if hidden else rule)
        for part, one in ((number[: grid.above + 1], rule), (number[grid.above :], below)):
            if one is not None:
                edges += list(zip(part[:-1, k].tolist(), part[1:, k].tolist(), strict=True))
                rules += [one] * (len(part) - 1)
    bottom = number[-1]
    along = np.append(u, u[0] + chart.outline.period)[: len(bottom)]
    for k in range(len(bottom) - 1):
        side = SIDES.index(chart.side_at(0.5 * (along[k] + along[k + 1]))) if grid.over is None else grid.over
        edges.append((int(bottom[k]), int(bottom[k + 1])))
        rules.append(LineIdentity(LineRole.TACK, side, MIRRORED_SIDE[side]))
    return np.array(edges, dtype=np.int64).reshape(-1, 2), rules
