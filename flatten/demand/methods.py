"""Maps of a panel, method by method, in the order in which they should be tried.

`least demand`; `least energy` when the search for least demand loses its certificate; `least energy, rim kept apart`
when the piece would lie over itself; `fold-free start` when no search keeps its certificate. A panel that is the same
left and right is first tried as one half.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Self

import numpy as np

from flatten.demand.least_demand import LeastDemand, Member, least_demand
from flatten.demand.length_penalty import RimLengths
from flatten.demand.options import Aim, Options
from flatten.demand.window import Terms
from flatten.leather.grain import carried, carrying, chosen, even_backbone, upright
from flatten.leather.stretch import stretch
from flatten.maps.certify import certify
from flatten.maps.flat import Method, Straightening
from flatten.maps.halves import Half, halved, right_half
from flatten.maps.pose import Heading, laid_out, longest_along_x
from flatten.maps.relax import Relaxed, RelaxOptions, relax
from flatten.maps.rim_barrier import relax_apart
from flatten.maps.start import best_scale, circle_map, even_circle, starts
from meshes.base.arrays import FloatArray, IntArray
from meshes.base.progress import Progress
from meshes.base.surface import triangle_areas
from meshes.numerics.status import Ending, Status

# Share of the energy that is not worth another step where the least energy is but a start. The step that promises less
# is still gone, so that hardly its square is left.
NEAR = 1e-6


@dataclass(frozen=True, eq=False)
class LaidMap:
    """A map as it will leave: points (n, 2) mm laid out, the method and Newton steps that made it, how its search
    ended; backbone (2,): the backbone's direction on it, None where the leather gives alike in all directions;
    straightening: what straight lines cost."""

    points: FloatArray
    method: Method
    steps: int
    status: Status
    backbone: FloatArray | None = None
    straightening: Straightening | None = None


@dataclass(frozen=True)
class LeatherLimits:
    """What a leather gives. pull: ln of the least stretch; limits: ln of the most along and across the backbone, None
    when one budget holds for all directions or none is known."""

    pull: float
    limits: tuple[float, float] | None

    def ratio(self, backbone: FloatArray | None) -> tuple[float, float]:
        """How the bound on ln stretch differs along x and y of a piece on which the backbone (2,) lies along one of
        them, the smaller one 1."""
        if backbone is None or self.limits is None:
            return (1.0, 1.0)
        least = min(self.limits)
        along, across = (limit / least for limit in self.limits)
        return (across, along) if backbone[1] else (along, across)


@dataclass(frozen=True, eq=False)
class Mesh:
    """A panel's mesh: vertices (n, 3) about their mean, in units of `size` mm; triangles (m, 3)."""

    vertices: FloatArray
    triangles: IntArray
    size: float

    @classmethod
    def of(cls, vertices: FloatArray, triangles: IntArray) -> Self:
        """The mesh of vertices (n, 3) mm. One size for all meshes, so that a seat drawn larger takes the same steps."""
        size = float(np.sqrt(triangle_areas(vertices, triangles).sum()))
        return cls((vertices - vertices.mean(axis=0)) / size, triangles, size)


def maps_in_turn(mesh: Mesh, options: Options, limits: LeatherLimits, say: Progress) -> Iterator[LaidMap]:
    """Maps in the order in which they should be tried, each laid out as it will leave."""

    def laid(
        points: FloatArray, method: Method, steps: int, status: Status, backbone: FloatArray | None = None
    ) -> LaidMap:
        if backbone is None and limits.limits is not None:
            backbone = _backbone(mesh.vertices, points, mesh.triangles, options, limits)
        turn = longest_along_x(points, mesh.triangles)
        backbone = None if backbone is None else backbone @ turn
        return LaidMap(laid_out(points, mesh.triangles), method, steps, status, backbone)

    if (known := options.precomputed) is not None:
        backbone = known.backbone if limits.limits is not None else None
        kept = laid(known.points, Method.LEAST_DEMAND, known.steps, known.status, backbone)
        yield replace(kept, straightening=known.straightening)
    for start in _beginnings(mesh, options):
        rested = _relaxed(start, options, say)
        pose = _posed(start, rested.points, options, limits)
        if pose is None:
            continue
        if options.aim is Aim.DEMAND:
            best = _least(start, mesh.size, pose, options, limits, say)
            backbone, steps = pose.backbone_on(best.points), rested.steps + best.steps
            yield laid(start.whole(best.points), Method.LEAST_DEMAND, steps, best.status, backbone)
        yield laid(mesh.size * start.whole(rested.points), Method.LEAST_ENERGY, rested.steps, rested.status)
    for made in (circle_map, even_circle):
        round_ = made(mesh.vertices, mesh.triangles)
        round_ = best_scale(mesh.vertices, round_, mesh.triangles) * round_
        if not certify(round_, mesh.triangles).holds:
            continue
        apart = relax_apart(mesh.vertices, round_, mesh.triangles, progress=lambda k, _: say("rim kept apart", k, 0))
        yield laid(mesh.size * apart.points, Method.RIM_KEPT_APART, apart.steps, apart.status)
        yield laid(mesh.size * round_, Method.FOLD_FREE_START, 0, apart.status)


@dataclass(frozen=True, eq=False)
class _Beginning:
    """Where the search starts: the whole mesh, or its right half; vertices and points of unit size; carrying (n,): how
    the whole mesh carries the grain (flatten.leather.grain), None for any; order: a good one to eliminate the vertices
    in, when it is known."""

    vertices: FloatArray
    triangles: IntArray
    points: FloatArray
    half: Half | None
    carrying: FloatArray | None
    order: IntArray | None = None

    def whole(self, points: FloatArray) -> FloatArray:
        """A map of the half, unfolded."""
        return points if self.half is None else self.half.unfolded(points)


def _beginnings(mesh: Mesh, options: Options) -> Iterator[_Beginning]:
    """The even half when there is one, then the whole."""
    unit, triangles, order = mesh.vertices, mesh.triangles, None
    if options.start is not None:
        points = options.start / mesh.size
    else:
        start = next(starts(unit, triangles), None)
        if start is None:
            return
        points, order = start.points, start.order
    weights = None if options.grain is None else carrying(unit, triangles, options.grain)
    half = None if options.mirror is None else right_half(unit, triangles, options.mirror)
    mine = None if half is None else halved(half, points)
    if half is not None and mine is not None:
        yield _Beginning(unit[half.vertices], half.triangles, mine, half, weights)
    yield _Beginning(unit, triangles, points, None, weights, order)


def _relaxed(start: _Beginning, options: Options, say: Progress) -> Relaxed:
    """Least energy, unless the search begins at a map that has been through it."""
    if options.start is not None:
        return Relaxed(start.points, 0.0, 0, Status(Ending.CONVERGED, 0.0))
    asked = RelaxOptions(
        held=None if start.half is None else start.half.held(),
        order=start.order,
        done=options.tolerance if options.aim is Aim.ENERGY else max(options.tolerance, NEAR),
    )
    return relax(start.vertices, start.points, start.triangles, asked, progress=lambda k, _: say("least energy", k, 0))


def _backbone(
    vertices: FloatArray, points: FloatArray, triangles: IntArray, options: Options, limits: LeatherLimits
) -> FloatArray:
    """Direction (2,) of the backbone on a map."""
    assert limits.limits is not None
    field = stretch(vertices, points, triangles)
    if options.grain is None:
        return chosen(field, limits.pull, np.array([0.0, 1.0]), 90.0, limits.limits)
    middle = carried(vertices, triangles, points, options.grain)
    return chosen(field, limits.pull, middle, options.window_deg, limits.limits)


@dataclass(frozen=True, eq=False)
class _Pose:
    """A start turned so that the backbone (2,) lies along x or y; None where it may lie anyhow. heading: what keeps it
    so."""

    points: FloatArray
    backbone: FloatArray | None = None
    heading: Heading | None = None

    def backbone_on(self, points: FloatArray) -> FloatArray | None:
        """The backbone on the map (n, 2) that was found from here."""
        if self.backbone is None or self.heading is None:
            return self.backbone
        return self.heading.followed(self.backbone, points)


def _posed(start: _Beginning, points: FloatArray, options: Options, limits: LeatherLimits) -> _Pose | None:
    """The pose of a map (n, 2) for the search; None when the half of an even piece cannot follow the grain."""
    if limits.limits is None:
        return _Pose(points)
    if start.half is not None:
        if start.carrying is not None:
            even = even_backbone(start.carrying @ start.whole(points), options.window_deg)
        else:
            even = even_backbone(_backbone(start.vertices, points, start.triangles, options, limits), 90.0)
        return None if even is None else _Pose(points, even)
    points = upright(points, _backbone(start.vertices, points, start.triangles, options, limits))
    heading = None if start.carrying is None else Heading.on(points, start.carrying)
    return _Pose(points, np.array([0.0, 1.0]), heading)


def _least(
    start: _Beginning, size: float, pose: _Pose, options: Options, limits: LeatherLimits, say: Progress
) -> LeastDemand:
    """Least demand at true size."""
    rim, held = options.rim, None
    if start.half is not None:
        held = start.half.held()
        if rim is not None:
            edges, kept = start.half.local(rim.edges)
            rim = RimLengths(edges, rim.lengths[kept], rim.weights[kept])
    ratio = limits.ratio(pose.backbone)
    member = Member(size * start.vertices, start.triangles, size * pose.points, ratio, held, pose.heading)
    terms = Terms(pull=limits.pull, rim=rim)
    return least_demand(member, terms, gap=options.gap, progress=lambda k, _: say("least demand", k, 0))
