"""Channels raised on the settled surface: which pleat every vertex lies on, how high its crest stands there, and the
figures a trimmer checks.

Valleys stay on the surface, where the stitches hold them down; crests stand up along its normals by the section of
their filler. Towards a seam the rise runs out, so that the sewn edge lies flat: also round the corners of an end that
runs over its edge, where the bands of the sides beside it are sewn on. Lengths mm.
"""

from dataclasses import dataclass, replace

import numpy as np
import shapely
from scipy.interpolate import LinearNDInterpolator, NearestNDInterpolator

from meshes.base.arrays import BoolArray, FloatArray, IntArray, locked_floats, locked_ints
from meshes.base.surface import Surface, vertex_normals
from meshes.pleats.ends import whole_run
from meshes.pleats.plan import PleatPlan, pleat_names
from meshes.pleats.shape import run_out
from meshes.records.pad import SIDES, Pad
from meshes.support.chart_mesh import ChartMesh
from meshes.support.line_roles import LineRole

# Widths over the surface are followed in at least so many steps from valley to valley, none longer than that.
WIDTH_STEPS, WIDTH_STEP_MM = 6, 5.0
# A rim follows its curve by chords: widths are taken this far inside it and made up again.
NUDGE_MM = 0.05
GRID_MM = 4.0


@dataclass(frozen=True)
class PleatFigure:
    """One pleat in numbers, mm. finished: width over the surface at the middle of its length, low and high: at its
    ends, or where its filler ends short of a corner that cuts it; rise: of the crest; cut: width of the leather for it,
    arc and take-up."""

    index: int
    name: str
    finished_mm: float
    finished_low_mm: float
    finished_high_mm: float
    rise_mm: float
    cut_mm: float
    take_up_mm: float


@dataclass(frozen=True, eq=False)
class Pleated:
    """Pleats on a built pad.

    valleys: vertices of each valley in order along it; place (n,): where across the pleats a vertex lies, 2.5 in the
    middle of the third pleat, -1 for vertices beside the pleats; station (n,): where along them, mm in the chart;
    scale (n,): share of the full rise; height_mm (n,): of the crest over the surface; raised: the surface with its
    crests; width_mm (m, pleats): finished widths over the surface at the plan's stations.
    """

    plan: PleatPlan
    valleys: tuple[IntArray, ...]
    place: FloatArray
    station: FloatArray
    scale: FloatArray
    height_mm: FloatArray
    raised: Surface
    width_mm: FloatArray
    figures: tuple[PleatFigure, ...]

    def widths_at(self, station: FloatArray) -> FloatArray:
        """Finished widths (k, pleats) at stations (k,)."""
        at = self.plan.stations
        return np.stack([np.interp(station, at, width) for width in self.width_mm.T], axis=1)

    def grown(self, ends: IntArray, share: FloatArray, triangles: IntArray) -> "Pleated":
        """The same pleats on a finer mesh: new vertices (k,) at a share of the way between two others."""

        def with_new(values: FloatArray) -> FloatArray:
            grown = np.concatenate([values, np.zeros((len(ends), *values.shape[1:]))])
            for k, ((i, j), s) in enumerate(zip(ends.tolist(), share.tolist(), strict=True), start=len(values)):
                grown[k] = (1.0 - s) * grown[i] + s * grown[j]
            return locked_floats(grown)

        per_vertex = (self.place, self.station, self.scale, self.height_mm)
        place, station, scale, height = (with_new(values) for values in per_vertex)
        raised = Surface(with_new(self.raised.vertices), triangles)
        return replace(self, place=place, station=station, scale=scale, height_mm=height, raised=raised)


def pleated(pad: Pad, plan: PleatPlan, mesh: ChartMesh, surface: Surface) -> Pleated:
    """Raise the pleats of a plan on a pad's surface, which shares the mesh's triangles."""
    on_face = np.zeros(len(mesh.plan), dtype=bool)
    on_face[mesh.triangles[mesh.side < 0]] = True
    at = plan.region.place(mesh.plan)
    inside = on_face & shapely.contains_xy(shapely.buffer(plan.region.shape, 0.1), at[:, 0], at[:, 1])
    widths = _width_table(plan, mesh, surface, on_face)
    source, raises = _sources(pad, plan, mesh, inside)
    known = np.maximum(source, 0)
    place = np.where(source >= 0, _places(plan, at)[known], -1.0)
    station = np.where(source >= 0, at[known, 1], 0.0)
    scale = np.where(raises, _scale(pad, plan, at)[known], 0.0)
    valleys = tuple(valley_path(plan, mesh, v.number) for v in plan.valleys)
    for k, path in enumerate(valleys):
        place[path] = k + 1.0
    height = _heights(plan, widths, place, station, scale)
    raised = surface.vertices + height[:, None] * vertex_normals(surface.vertices, surface.triangles)
    if mesh.mirror is not None:
        # The left half is the exact mirror image, as it is in the surface below.
        left = np.arange(len(raised)) > mesh.mirror
        raised[left] = raised[mesh.mirror[left]] * np.array([-1.0, 1.0, 1.0])
    return Pleated(
        plan=plan,
        valleys=valleys,
        place=locked_floats(place),
        station=locked_floats(station),
        scale=locked_floats(scale),
        height_mm=locked_floats(height),
        raised=surface.moved(raised),
        width_mm=locked_floats(widths),
        figures=_figures(plan, widths),
    )


def _places(plan: PleatPlan, at: FloatArray) -> FloatArray:
    """Where across the pleats places (n, 2) of the region lie, from 0 to the number of pleats."""
    edges = plan.edges_at(at[:, 1])
    index = (at[:, :1] > edges[:, 1:-1]).sum(axis=1)
    rows = np.arange(len(at))
    left, right = edges[rows, index], edges[rows, index + 1]
    return np.asarray(index + np.clip((at[:, 0] - left) / np.maximum(right - left, 1e-9), 0.0, 1.0))


def _heights(
    plan: PleatPlan, widths: FloatArray, place: FloatArray, station: FloatArray, scale: FloatArray
) -> FloatArray:
    """Height of the crest (n,) over the surface."""
    index = np.clip(place.astype(np.int64), 0, plan.count - 1)
    width = np.zeros(len(place))
    for k in range(plan.count):
        own = index == k
        width[own] = np.interp(station[own], plan.stations, widths[:, k])
    height = plan.section.height(place - index, width, scale)
    return np.where((place > 0.0) & (place != np.round(place)) & (scale > 0.0), height, 0.0)


def _width_table(plan: PleatPlan, mesh: ChartMesh, surface: Surface, on_face: BoolArray) -> FloatArray:
    """Widths (m, n) of all pleats over the surface at the plan's stations; 0 where a pleat has ended at a corner."""
    flat, high = mesh.plan[on_face], surface.vertices[on_face]
    exact, near = LinearNDInterpolator(flat, high), NearestNDInterpolator(flat, high)
    # Beyond its end at a rounded corner a valley lies outside: the pleat beside it reaches to the region's own edge.
    edges = np.clip(plan.edges, plan.edges[:, :1] + NUDGE_MM, plan.edges[:, -1:] - NUDGE_MM)
    widest = float(np.diff(edges, axis=1).max())
    steps = np.linspace(0.0, 1.0, max(WIDTH_STEPS, int(np.ceil(widest / WIDTH_STEP_MM))) + 1)
    across = edges[:, :-1, None] + steps * np.diff(edges, axis=1)[:, :, None]
    along = np.broadcast_to(np.clip(plan.stations, *_within(plan))[:, None, None], across.shape)
    at = plan.region.place(np.stack([across.ravel(), along.ravel()], axis=1))
    points = exact(at)
    missed = np.isnan(points[:, 0])
    points[missed] = near(at[missed])
    points = points.reshape(*across.shape, 3)
    width = np.linalg.norm(np.diff(points, axis=2), axis=3).sum(axis=2)
    whole = np.clip(plan.edges, plan.edges[:, :1], plan.edges[:, -1:])
    width += np.diff(whole, axis=1) - np.diff(edges, axis=1)
    return np.asarray(width)


def _within(plan: PleatPlan) -> tuple[float, float]:
    low, high = plan.region.span
    return low + NUDGE_MM, high - NUDGE_MM


def _scale(pad: Pad, plan: PleatPlan, place: FloatArray) -> FloatArray:
    """Share of the full rise at places (n, 2): it runs out towards seams at the ends of the pleats."""
    low, high, low_end, high_end = end_stations(plan)
    across = np.linspace(low, high, len(low_end))
    scale = np.ones(len(place))
    for k, ends in enumerate((low_end, high_end)):
        gap = (1.0 - 2.0 * k) * (place[:, 1] - np.interp(place[:, 0], across, ends))
        if not plan.region.sewn[k]:
            gap = _to_bands(gap, place, _band_ends(pad, plan, k))
        scale = np.minimum(scale, run_out(np.maximum(gap, 0.0), plan.pleats.filling.taper))
    return scale


def _band_ends(pad: Pad, plan: PleatPlan, end: int) -> list[tuple[FloatArray, float]]:
    """Where bands that go round the corners of an open end stop: places (2,), and 1 or -1 where they lie towards higher
    or lower places across."""
    if pad.inset is not None:
        return []
    side = SIDES.index((("left", "right") if plan.region.turned else ("front", "rear"))[end])
    found = []
    for corner, other, beside in ((side - 1, side, side - 1), (side, side - 1, (side + 1) % 4)):
        node = plan.region.nodes[corner]
        if pad.sides[SIDES[beside]].band:
            found.append((node, float(np.sign(node[0] - plan.region.nodes[other][0]))))
    return found


def _to_bands(gap: FloatArray, place: FloatArray, stops: list[tuple[FloatArray, float]]) -> FloatArray:
    """How far places (n, 2) of an end without seam of its own are from the bands round its corners; gap (n,): how far
    they are from the end along the pleats. Where a band stops it is sewn on down the side, so all that is beside it
    runs out towards that place."""
    nearest = np.full(len(place), np.inf)
    for stop, towards in stops:
        within = towards * (place[:, 0] - stop[0]) >= 0.0
        nearest = np.minimum(nearest, np.where(within, gap, np.hypot(*(place - stop).T)))
    return nearest


def end_stations(plan: PleatPlan) -> tuple[float, float, FloatArray, FloatArray]:
    """Stations at which pleats end, low and high, on even steps across the region: from, to, (k,), (k,)."""
    low, _, high, _ = plan.region.shape.bounds
    across = np.linspace(low, high, max(int(np.ceil((high - low) / GRID_MM)), 2) + 1)
    ends = np.array([plan.region.along(x) for x in across])
    return float(low), float(high), ends[:, 0], ends[:, 1]


def _sources(pad: Pad, plan: PleatPlan, mesh: ChartMesh, inside: BoolArray) -> tuple[IntArray, BoolArray]:
    """For every vertex the vertex of the face whose place on the pleats it shares: itself, or for a vertex on a side
    without band the one above it on the edge; -1 beside the pleats. And where crests rise."""
    source, raises = np.where(inside, np.arange(len(inside)), -1), inside.copy()
    edge = np.unique(mesh.edges[mesh.on(LineRole.EDGE)])
    above = {float(mesh.u[v]): int(v) for v in edge if inside[v]}
    ends = ("left", "right") if plan.region.turned else ("front", "rear")
    for side in (side for side in SIDES if not pad.sides[side].band):
        own = np.unique(mesh.triangles[mesh.side == SIDES.index(side)])
        own = own[~inside[own]]
        source[own] = [above.get(float(u), -1) for u in mesh.u[own]]
        if side in ends and plan.pleats.over_edge:
            raises[own] = source[own] >= 0
    return source, raises


def valley_path(plan: PleatPlan, mesh: ChartMesh, number: int) -> IntArray:
    """Vertices of a valley, by its number, in order, from its low end to its high one, over the sides it runs on to."""
    own = np.array([mesh.rules[k].number == number for k in mesh.rule], dtype=bool)
    edges = mesh.edges[mesh.on(LineRole.VALLEY) & own]
    beside: dict[int, list[int]] = {}
    for i, j in edges.tolist():
        beside.setdefault(i, []).append(j)
        beside.setdefault(j, []).append(i)
    tips = [v for v, near in beside.items() if len(near) == 1]
    along = plan.region.place(mesh.plan)[:, 1]
    here = min(tips, key=lambda v: float(along[v]))
    path, before = [here], -1
    while True:
        ahead = [v for v in beside[path[-1]] if v != before]
        if not ahead:
            return locked_ints(path)
        before = path[-1]
        path.append(ahead[0])


def _figures(plan: PleatPlan, table: FloatArray) -> tuple[PleatFigure, ...]:
    names = pleat_names(plan)
    rows = []
    for k in range(plan.count):
        low, high = whole_run(plan.stations, table[:, k], plan.reference)
        first, middle, last = (float(np.interp(s, plan.stations, table[:, k])) for s in (low, plan.reference, high))
        crown, cut = plan.section.crown(np.array(middle)), plan.section.cut(np.array(middle))
        rows.append(PleatFigure(k + 1, names[k], middle, first, last, float(crown), float(cut), plan.section.take_up))
    return tuple(rows)
