"""One panel becomes one flat piece: first map, least energy, least demand, certificate. How it was made is recorded.

Rungs in the order tried: `least demand`; `least energy` when the search for least demand loses its certificate;
`least energy, rim kept apart` when the piece would lie over itself; `fold-free start` when no search keeps its
certificate. Nothing leaves without a certificate.
"""

import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from flatten.bounds.floor import Floor, floor_of
from flatten.demand.least_demand import GAP, Heading, LeastDemand, least_demand
from flatten.demand.length_penalty import RimLengths
from flatten.demand.straightening import Straightening
from flatten.leather.card import Card, checked_budget
from flatten.leather.card_file import find_card
from flatten.leather.grain import carried, carrying, chosen, even_backbone, upright
from flatten.leather.stretch import stretch
from flatten.leather.verdict import LaidPiece, Over, Verdict, judged
from flatten.maps.certify import Certificate, certify
from flatten.maps.halves import Half, halved, right_half
from flatten.maps.pose import laid_out, laying, scaled_map
from flatten.maps.relax import CONVERGED, Relaxed, relax
from flatten.maps.rim_barrier import relax_apart
from flatten.maps.start import best_scale, circle_map, even_circle, starts
from meshes.base.arrays import FloatArray, IntArray, locked_floats, locked_ints
from meshes.base.mesh_checks import check_mesh, remarks
from meshes.base.problems import Problem, ProblemError
from meshes.base.progress import Progress, unheard
from meshes.base.surface import boundary_loops, triangle_areas
from meshes.numerics.status import Ending, Status


@dataclass(frozen=True, eq=False)
class Flat:
    """A flat map with its figures.

    points (n, 2) mm in the order of the vertices, seen from the outer side; triangles (m, 3); stretch (m, 2), length
    on the seat / length on the piece, larger first; along (m, 2): unit direction on the piece of the larger stretch.
    demand, floor, budget: fractions, the floor a proven lower limit of any piece's demand; p995: the stretch that 0.5
    % of the seat's area exceeds; energy: area-weighted mean of s1^2 + s2^2 + s1^-2 + s2^-2; rung: how the map was
    made; steps: Newton steps; status: how the search ended; use (m,): share of the leather's budget each triangle uses,
    None without one; backbone (2,): unit direction on the piece that the hide's backbone should follow, None when the
    leather gives alike in all directions as far as is known; trouble: where the floor is proven; over: where the piece
    is over its budget, None where it is not; remarks: what is remarkable about a mesh from outside, rough or inside
    out; straightening: what straight lines cost, None when none were asked for.
    """

    points: FloatArray
    triangles: IntArray
    stretch: FloatArray
    along: FloatArray
    demand: float
    floor: float | None
    budget: float | None
    verdict: Verdict | None
    certified: bool
    flipped: int
    rung: str
    p995: float
    area_seat_mm2: float
    area_piece_mm2: float
    energy: float
    steps: int
    seconds: float
    status: Status
    use: FloatArray | None = None
    backbone: FloatArray | None = None
    trouble: "Trouble | None" = None
    over: Over | None = None
    remarks: tuple[str, ...] = ()
    straightening: Straightening | None = None

    def unconverged(self, where: str) -> Problem | None:
        """The warning that the search ended early, None when it did not; the piece is certified all the same."""
        return unconverged(where, self.status)


def unconverged(where: str, status: Status) -> Problem | None:
    """The warning that a search ended before the least was reached, None when it was reached."""
    if status.converged:
        return None
    return Problem("F201", where, f"the search for the best piece ended early: {status}", warning=True)


@dataclass(frozen=True)
class Trouble:
    """Where a floor is proven: the number of the vertex in its middle, the radius mm of the disc or circle there, and
    kind, "disc" on a dome, "star" on a saddle."""

    vertex: int
    radius_mm: float
    kind: str


# Share of the energy that is not worth another step where the least energy is but a start. The step that promises less
# is still gone, so that hardly its square is left.
NEAR = 1e-6


class Aim(StrEnum):
    """What the search makes least."""

    DEMAND = "least demand"
    ENERGY = "least energy"


@dataclass(frozen=True, eq=False)
class Found:
    """A map of least demand that was found elsewhere: points (n, 2) mm, the backbone's direction (2,) on it, the steps
    it took, how the search ended, and what straight lines cost."""

    points: FloatArray
    backbone: FloatArray
    steps: int
    status: Status
    straightening: Straightening | None = None


@dataclass(frozen=True, eq=False)
class Wish:
    """What a piece is asked beyond its shape.

    mirror (n,): the vertex that mirrors each one, for a panel that is the same left and right; rim: lengths its edges
    should have; start (n, 2) mm: a good map to begin at; gap: how close to the least demand, as a share of it; prove:
    whether a lower limit of the demand is proven too; aim: what is made least; grain (3,): direction on the seat that
    the backbone should follow, any when not given; window_deg: by how much it may lie off that, to either side;
    found: the map itself, when it has been found with those of its neighbours; rested: share of the energy that is not
    worth another step towards the least, for a map that is but a start; runs: vertices along every edge in which
    fullness can be worked, the whole rim when not given.
    """

    mirror: IntArray | None = None
    rim: RimLengths | None = None
    start: FloatArray | None = None
    gap: float = GAP
    prove: bool = True
    aim: Aim = Aim.DEMAND
    grain: FloatArray | None = None
    window_deg: float = 0.0
    found: Found | None = None
    rested: float = CONVERGED
    runs: tuple[IntArray, ...] | None = None


@dataclass(frozen=True, eq=False)
class _Map:
    points: FloatArray
    rung: str
    steps: int
    status: Status
    backbone: FloatArray | None = None
    straightening: Straightening | None = None


def flatten(
    vertices: npt.ArrayLike,
    triangles: npt.ArrayLike,
    *,
    leather: Card | str | None = None,
    budget: float | None = None,
    wish: Wish | None = None,
    progress: Progress | None = None,
) -> Flat:
    """Flatten a disc-shaped triangle mesh at true size with least demand.

    With a leather no place is slack: the least stretch is the leather's pull, and what is made least is the largest
    use of what it gives by direction. Without one the largest and the least stretch are balanced about 1.

    vertices (n, 3) mm; triangles (m, 3), counter-clockwise from the outer side; leather: a card, the name of a
    built-in one or of a file of cards, for the budget, the pull and the verdict; budget: the demand allowed, a
    fraction, instead of the card's; wish: what the piece is asked beyond its shape; progress: called with what is
    being done, the step and the energy. Inputs are not changed. Raises ProblemError for a mesh that cannot be
    flattened as it is, for an unknown leather, and when no map could be certified.
    """
    begin = time.perf_counter()
    seat, corners = check_mesh(vertices, triangles)
    # Who asks more than the shape knows the mesh: it was made by this program.
    told = remarks(seat, corners) if wish is None else []
    card = find_card(leather) if isinstance(leather, str) else leather
    allowed = checked_budget(budget) if budget is not None else None
    asked = wish or Wish()
    given = _Given(
        float(np.log1p(card.pull)) if card is not None else 0.0,
        card.limits if card is not None and allowed is None else None,
    )
    found, certificate = _certified(seat, corners, asked, given, progress or unheard)
    if asked.rim is None and asked.found is None and asked.aim is Aim.DEMAND:
        found = replace(found, points=scaled_map(seat, found.points, corners, None if card is None else card.pull))
    field = stretch(seat, found.points, corners)
    floor = floor_of(seat, corners, found.points) if asked.prove else None
    runs = asked.runs if asked.runs is not None else (_whole_rim(corners),)
    laid = LaidPiece(found.points, corners, found.backbone, runs)
    judgement = judged(field, floor, laid, card=card, budget=allowed)
    return Flat(
        points=locked_floats(found.points),
        triangles=locked_ints(corners),
        stretch=locked_floats(field.values),
        along=locked_floats(field.along),
        demand=field.demand,
        floor=None if floor is None else floor.value,
        budget=judgement.budget,
        verdict=judgement.verdict,
        certified=certificate.holds,
        flipped=certificate.flipped,
        rung=found.rung,
        p995=field.p995,
        area_seat_mm2=float(field.areas_seat.sum()),
        area_piece_mm2=float(triangle_areas(found.points, corners).sum()),
        energy=field.energy,
        steps=found.steps,
        seconds=time.perf_counter() - begin,
        status=found.status,
        use=judgement.use,
        backbone=None if found.backbone is None else locked_floats(found.backbone),
        trouble=None if floor is None else _trouble(seat, floor),
        over=judgement.over,
        remarks=tuple(told),
        straightening=None
        if found.straightening is None
        else found.straightening.within(field.demand, judgement.budget),
    )


def _whole_rim(triangles: IntArray) -> IntArray:
    """The rim as one closed run; of a mesh by itself it is not known which of its edges are sewn."""
    loop = boundary_loops(triangles)[0]
    return np.append(loop, loop[:1])


def _trouble(vertices: FloatArray, floor: Floor) -> Trouble | None:
    if floor.kind == "none":
        return None
    middle = int(np.argmin(((vertices - floor.centre) ** 2).sum(axis=1)))
    return Trouble(middle, floor.radius_mm, floor.kind)


@dataclass(frozen=True)
class _Given:
    """What the leather gives. pull: ln of the least stretch; limits: ln of the most along and across the backbone, None
    when one budget holds for all directions or none is known."""

    pull: float
    limits: tuple[float, float] | None


def _certified(
    vertices: FloatArray, triangles: IntArray, wish: Wish, given: _Given, say: Progress
) -> tuple[_Map, Certificate]:
    """The first rung whose map holds its certificate as it will be laid out."""
    certificate, rim = None, boundary_loops(triangles)[0]
    for found in _rungs(vertices, triangles, wish, given, say):
        certificate = certify(found.points, triangles, rim=rim)
        if certificate.holds:
            return found, certificate
    why = "rounding folds every first map"
    if certificate is not None:
        why = f"{certificate.flipped} triangles turned over, the rim meets itself {certificate.rim_crossings} times"
    text = f"no flat map could be proven one-to-one: {why}; use better shaped triangles or part the panel by a seam"
    raise ProblemError([Problem("F101", "panel", text)])


def _rungs(vertices: FloatArray, triangles: IntArray, wish: Wish, given: _Given, say: Progress) -> Iterator[_Map]:
    """Maps in the order they should be tried, each laid out as it will leave."""
    # One size for all meshes, so that a seat drawn larger takes the same steps.
    size = float(np.sqrt(triangle_areas(vertices, triangles).sum()))
    unit = (vertices - vertices.mean(axis=0)) / size

    def laid(points: FloatArray, rung: str, steps: int, status: Status, backbone: FloatArray | None = None) -> _Map:
        if backbone is None and given.limits is not None:
            backbone = _backbone(unit, points, triangles, wish, given)
        turn = laying(points, triangles)
        return _Map(laid_out(points, triangles), rung, steps, status, None if backbone is None else backbone @ turn)

    if wish.found is not None:
        backbone = wish.found.backbone if given.limits is not None else None
        kept = laid(wish.found.points, "least demand", wish.found.steps, wish.found.status, backbone)
        yield replace(kept, straightening=wish.found.straightening)
    for begin in _beginnings(unit, triangles, wish, size):
        rested = _relaxed(begin, wish, say)
        lie = _lying(begin, rested.points, wish, given)
        if lie is None:
            continue
        if wish.aim is Aim.DEMAND:
            best = _least(begin, size, lie, wish, given, say)
            backbone = lie.backbone_on(best.points)
            yield laid(begin.whole(best.points), "least demand", rested.steps + best.steps, best.status, backbone)
        yield laid(size * begin.whole(rested.points), "least energy", rested.steps, rested.status)
    for made in (circle_map, even_circle):
        round_ = made(unit, triangles)
        round_ = best_scale(unit, round_, triangles) * round_
        if not certify(round_, triangles).holds:
            continue
        apart = relax_apart(unit, round_, triangles, progress=lambda k, _: say("rim kept apart", k, 0))
        yield laid(size * apart.points, "least energy, rim kept apart", apart.steps, apart.status)
        yield laid(size * round_, "fold-free start", 0, apart.status)


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
        return points if self.half is None else self.half.unfolded(points)


def _beginnings(unit: FloatArray, triangles: IntArray, wish: Wish, size: float) -> Iterator[_Beginning]:
    """The even half when there is one, then the whole."""
    order = None
    if wish.start is not None:
        points = wish.start / size
    else:
        start = next(starts(unit, triangles), None)
        if start is None:
            return
        points, order = start.points, start.order
    weights = None if wish.grain is None else carrying(unit, triangles, wish.grain)
    half = None if wish.mirror is None else right_half(unit, triangles, wish.mirror)
    mine = None if half is None else halved(half, points)
    if half is not None and mine is not None:
        yield _Beginning(unit[half.vertices], half.triangles, mine, half, weights)
    yield _Beginning(unit, triangles, points, None, weights, order)


def _relaxed(begin: _Beginning, wish: Wish, say: Progress) -> Relaxed:
    """Least energy, unless the search begins at a map that has been through it."""
    if wish.start is not None:
        return Relaxed(begin.points, 0.0, 0, Status(Ending.CONVERGED, 0.0))
    held = None if begin.half is None else begin.half.held()
    return relax(
        begin.vertices,
        begin.points,
        begin.triangles,
        held=held,
        order=begin.order,
        done=wish.rested if wish.aim is Aim.ENERGY else max(wish.rested, NEAR),
        progress=lambda k, _: say("least energy", k, 0),
    )


def _backbone(vertices: FloatArray, points: FloatArray, triangles: IntArray, wish: Wish, given: _Given) -> FloatArray:
    """Direction (2,) of the backbone on a map."""
    assert given.limits is not None
    field = stretch(vertices, points, triangles)
    if wish.grain is None:
        return chosen(field, given.pull, np.array([0.0, 1.0]), 90.0, given.limits)
    middle = carried(vertices, triangles, points, wish.grain)
    return chosen(field, given.pull, middle, wish.window_deg, given.limits)


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


def _lying(begin: _Beginning, points: FloatArray, wish: Wish, given: _Given) -> _Pose | None:
    """How a map (n, 2) is laid for the search; None when the half of an even piece cannot follow the grain."""
    if given.limits is None:
        return _Pose(points)
    if begin.half is not None:
        if begin.carrying is not None:
            even = even_backbone(begin.carrying @ begin.whole(points), wish.window_deg)
        else:
            even = even_backbone(_backbone(begin.vertices, points, begin.triangles, wish, given), 90.0)
        return None if even is None else _Pose(points, even)
    points = upright(points, _backbone(begin.vertices, points, begin.triangles, wish, given))
    heading = None if begin.carrying is None else Heading.on(points, begin.carrying)
    return _Pose(points, np.array([0.0, 1.0]), heading)


def _least(begin: _Beginning, size: float, lie: _Pose, wish: Wish, given: _Given, say: Progress) -> LeastDemand:
    """Least demand at true size."""
    ratio = (1.0, 1.0)
    if lie.backbone is not None and given.limits is not None:
        least = min(given.limits)
        along, across = (limit / least for limit in given.limits)
        ratio = (across, along) if lie.backbone[1] else (along, across)
    rim, held = wish.rim, None
    if begin.half is not None:
        held = begin.half.held()
        if rim is not None:
            edges, kept = begin.half.local(rim.edges)
            rim = RimLengths(edges, rim.lengths[kept], rim.weights[kept])
    return least_demand(
        size * begin.vertices,
        begin.triangles,
        size * lie.points,
        pull=given.pull,
        ratio=ratio,
        rim=rim,
        held=held,
        heading=lie.heading,
        gap=wish.gap,
        progress=lambda k, _: say("least demand", k, 0),
    )
