"""A straight cut through a pad before anything presses: support, directors, and what lies under the cover along it.

The pad's chart answers for any place, so the cut needs no mesh: places stand evenly along a straight line of the chart,
from tack line to tack line. Lengths mm; in the plane of the cut (place, height).
"""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import shapely
from shapely import LineString

from meshes.base.arrays import BoolArray, FloatArray, IntArray
from meshes.base.frozen_map import FrozenMap
from meshes.base.problems import ProblemError
from meshes.padding.directors import bridged
from meshes.padding.layers import PadDistances, all_thickness, edge_thickness, places
from meshes.padding.stack import Stack
from meshes.padding.underlay import underlay
from meshes.pleats.valleys import pleat_plan
from meshes.records.alignment import UNALIGNED, Alignment
from meshes.records.materials import BUILT_IN, Material
from meshes.records.pad import Pad
from meshes.support.blocks import SideWay, face_of
from meshes.support.chart import Chart, MakeProblem, make_problem_for, pad_chart
from meshes.support.inset import inset_polygon
from meshes.support.loft import loft

STEP_MM = 1.5
# A cut that meets the outline at a slant shows edges longer than they are: least cosine to square on.
LEAST_SQUARE = 0.8
Direction = Literal["along", "across"]
UP = (0.0, 1.0)


@dataclass(frozen=True, eq=False)
class SectionLine:
    """A cut before anything presses: support (k, 2) as measured; base and directors (k, 2), from which heights are
    counted; stacks on them; fixed: places that are held, on the tack lines; tied: places where the cut crosses seams
    and valleys that are tied down; sides at its two ends; the area of padding (mm2) it shows; thickness_mm (layers, k)
    of every layer as it lies, and bed_mm (k,): how far below height 0 the lowest begins; upright (k,): where what lies
    below height 0 stands straight up from the support, as blocks do on the face; and feet: by number of a block's
    layer, its lower edge (k, 2) as places on its side above that see it, not a number elsewhere."""

    support: FloatArray
    base: FloatArray
    directors: FloatArray
    stack: Stack
    fixed: IntArray
    tied: IntArray
    sides: tuple[str, str]
    padding_mm2: float
    thickness_mm: FloatArray
    bed_mm: FloatArray
    upright: BoolArray
    feet: Mapping[int, FloatArray] = field(default_factory=dict)


@dataclass(frozen=True)
class Cut:
    """Where a pad is cut: "along" at x = at, "across" at y = at."""

    direction: Direction
    at: float

    @property
    def name(self) -> str:
        """The same in words."""
        return f"{self.direction} {self.at:g}"


@dataclass(frozen=True, eq=False)
class CutGround:
    """What a cut meets before padding is laid: chart; plan (k, 2), u and c (k,) as places of it; points and directors
    (k, 2) of the bare support, even (k, 2) those evened out over hollows; distances, as layers ask for them; feet of
    blocks, fixed and tied places as in `SectionLine`; sides at its two ends."""

    chart: Chart
    plan: FloatArray
    points: FloatArray
    directors: FloatArray
    even: FloatArray
    distances: PadDistances
    feet: Mapping[int, FloatArray]
    fixed: IntArray
    tied: IntArray
    sides: tuple[str, str]


def cut_ground(
    pad: Pad, cut: Cut, *, make_problem: MakeProblem | None = None, alignment: Alignment = UNALIGNED
) -> CutGround:
    """What a cut through a pad meets. Raises ProblemError where it misses the pad or meets its outline at a slant."""
    make_problem = make_problem or make_problem_for(pad)
    chart = pad_chart(pad, edge_thickness(pad), make_problem)
    plan, u, c = cut_places(chart, cut, make_problem)
    bare = loft(chart, face_of(pad, alignment.built_up), plan, u, c)
    axes = [1, 2] if cut.direction == "along" else [0, 2]
    points, directors = bare.points[:, axes], bare.directors[:, axes]
    directors = directors / np.linalg.norm(directors, axis=1, keepdims=True)
    return CutGround(
        chart=chart,
        plan=plan,
        points=points,
        directors=directors,
        even=_uncrossed(points, directors, c < 0.0),
        distances=places(chart, plan, u, c),
        feet={} if chart.way is None else _feet(chart, chart.way, pad, (u, c), axes),
        fixed=np.array([0, len(plan) - 1]),
        tied=_tied(pad, chart, plan, make_problem, alignment),
        sides=(chart.side_at(float(u[0])), chart.side_at(float(u[-1]))),
    )


def ground_key(pad: Pad) -> Hashable:
    """What the ground of a pad's cuts owes to its padding: paddings of one key, on pads that are otherwise the same,
    lie on the same ground."""
    edges = tuple(edge_thickness(pad).items())
    # Blocks are part of the ground, and valleys that are tied down lie by what is laid on it.
    deep = any(layer.block is not None for layer in pad.layers) or (pad.pleats is not None and pad.pleats.tied)
    return (edges, pad.layers if deep else ())


def section_line(
    pad: Pad,
    cut: Cut,
    *,
    materials: Mapping[str, Material] = BUILT_IN,
    make_problem: MakeProblem | None = None,
    alignment: Alignment = UNALIGNED,
    ground: CutGround | None = None,
) -> SectionLine:
    """The bare cut through a pad; alignment: with its neighbours; ground: of this cut, where it is known.

    Raises ProblemError where the cut misses the pad or meets its outline at a slant.
    """
    if ground is None:
        ground = cut_ground(pad, cut, make_problem=make_problem, alignment=alignment)
    points, directors, distances = ground.points, ground.directors, ground.distances
    stack, lies = underlay(pad, distances, materials), all_thickness(pad.layers, distances)
    thick = stack.free_mm()
    bed = lies.sum(axis=0) - thick
    long = np.linalg.norm(np.diff(points + 0.5 * thick[:, None] * directors, axis=0), axis=1)
    area = float((0.5 * (thick[1:] + thick[:-1]) * long).sum())
    level = np.abs(np.diff(points[:, 0]))
    area += float((0.5 * (bed[1:] + bed[:-1]) * level).sum())
    # Blocks stand upright on the face, whatever way their own tops and sides lean.
    upright = (distances.in_from_turn > 0.0) & (bed > 0.0)
    support = points - bed[:, None] * np.where(upright[:, None], UP, directors)
    for _, foot in sorted(ground.feet.items(), reverse=True):
        support = np.where(np.isfinite(foot), foot, support)
    base = points + thick[:, None] * (directors - ground.even)
    return SectionLine(
        support,
        base,
        ground.even,
        stack,
        ground.fixed,
        ground.tied,
        ground.sides,
        area,
        lies,
        bed,
        upright,
        FrozenMap(ground.feet),
    )


def _feet(
    chart: Chart, way: SideWay, pad: Pad, at: tuple[FloatArray, FloatArray], axes: list[int]
) -> dict[int, FloatArray]:
    """Lower edges of the blocks that end at the rim, as the places on their sides see them; at: u and c."""
    u, c = at
    found = {}
    for k, number in way.feet:
        low = chart.turn_end(u) + way.at(way.length[:, k], u)
        # Where the face runs on over a side, a place lies where it is drawn.
        foot = loft(chart, face_of(pad), chart.to_plane(u, low), u, low).points[:, axes]
        # What lies round a rolled edge stands on the bed straight below it.
        turn = chart.turn_end(u)
        share = np.clip(c, 0.0, None) / np.maximum(turn, 1e-9)
        inward = chart.radius(u) * (1.0 - np.sin(np.minimum(share, 1.0) * chart.turn(u)))
        foot[:, 0] += np.where(c < turn, np.sign(foot[:, 0].mean() - foot[:, 0]) * inward, 0.0)
        found[number] = np.where(((c >= 0.0) & (c < low))[:, None], foot, np.nan)
    return found


def cut_places(chart: Chart, cut: Cut, make_problem: MakeProblem) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Plan (k, 2), u and c (k,) along a cut, from tack line to tack line. Raises ProblemError where it misses the pad
    or meets its outline at a slant."""
    direction, at = cut.direction, cut.at
    rim = chart.outline.point(chart.outline.samples(4.0))
    along = 1 if direction == "along" else 0
    low, high = float(rim[:, 1 - along].min()), float(rim[:, 1 - along].max())
    text = f"a cut {direction} at {at:g} misses the pad; choose a place between {low:.0f} and {high:.0f} mm"
    # A place that is no number lies nowhere between.
    if not low < at < high:
        raise ProblemError([make_problem("G142", (), text)])
    # Two steps more, so that one lies beyond the tack line even where a step ends on it.
    reach = float(chart.tack(chart.outline.samples(4.0)).max()) + 2.0 * STEP_MM
    place = np.arange(rim[:, along].min() - reach, rim[:, along].max() + reach, STEP_MM)
    plan = np.full((len(place), 2), float(at))
    plan[:, along] = place
    u, c = chart.from_plane(plan)
    on = np.flatnonzero(c <= chart.tack(u))
    if len(on) < 5:
        raise ProblemError([make_problem("G142", (), text)])
    on = np.arange(on[0], on[-1] + 1)
    # The last places at both ends move out onto the tack line.
    short = chart.tack(u) - c
    for end, beyond in ((on[0], on[0] - 1), (on[-1], on[-1] + 1)):
        plan[end] += short[end] / (short[end] - short[beyond]) * (plan[beyond] - plan[end])
    u, c = chart.from_plane(plan)
    turning = on[c[on] >= 0.0]
    square = np.abs(chart.outline.normal(u[turning])[:, along])
    if square.min() < LEAST_SQUARE:
        side = chart.side_at(float(u[turning[int(np.argmin(square))]]))
        text = f"a cut {direction} at {at:g} meets the outline at a slant, near a corner of the {side} side"
        raise ProblemError([make_problem("G142", (), f"{text}; choose a place further from the corner")])
    return plan[on], u[on], c[on]


def _tied(pad: Pad, chart: Chart, plan: FloatArray, make_problem: MakeProblem, alignment: Alignment) -> IntArray:
    """The places on seams and valleys that are tied down; all of them where the cut runs along one."""
    tied = [LineString(line.points) for line in pad.lines if line.tied]
    if pad.symmetric:
        tied += [LineString([(-x, y) for x, y in line.points]) for line in pad.lines if line.tied]
    inset = inset_polygon(pad, chart, make_problem) if pad.inset is not None and pad.inset.tied else None
    if inset is not None:
        tied.append(LineString(inset.exterior.coords))
    if pad.pleats is not None and pad.pleats.tied:
        tied += [drawn.line for drawn in pleat_plan(pad, chart, make_problem, alignment=alignment).drawn()]
    if not tied:
        return np.zeros(0, dtype=np.int64)
    near = shapely.distance(shapely.points(plan)[:, None], np.array(tied)[None]).min(axis=1)
    return np.flatnonzero(near <= 0.5 * STEP_MM + 1e-9)


def _uncrossed(points: FloatArray, directors: FloatArray, face: BoolArray) -> FloatArray:
    """Directors evened out over hollows, as on the pad itself: the cut is taken for a strip of it."""
    k = len(points)
    wide = np.zeros((2 * k, 3))
    wide[:, 0] = np.repeat([0.0, 20.0], k)
    wide[:, 1:] = np.tile(points, (2, 1))
    fan = np.column_stack([np.zeros(2 * k), np.tile(directors, (2, 1))])
    a = np.arange(k - 1)
    triangles = np.concatenate([np.stack([a, a + k, a + k + 1], 1), np.stack([a, a + k + 1, a + 1], 1)])
    even = bridged(wide, fan, triangles, face=np.tile(face, 2))[:k, 1:]
    return np.asarray(even / np.linalg.norm(even, axis=1, keepdims=True))
