"""One panel becomes one flat piece: first map, least energy, least demand, certificate. How it was made is recorded.

Rungs in the order tried: `least demand`; `least energy` when the search for least demand loses its certificate;
`least energy, rim kept apart` when the piece would lie over itself; `fold-free start` when no search keeps its
certificate. Nothing leaves without a certificate.
"""

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from flatten.apart import relax_apart
from flatten.certify import Certificate, certify
from flatten.floor import floor_of
from flatten.halves import Half, halved, right_half
from flatten.leather import Card, card_named, checked_budget, verdict
from flatten.minimax import GAP, LeastDemand, least_demand
from flatten.relax import Relaxed, relax
from flatten.start import best_scale, circle, even_circle, starts
from flatten.stretch import stretch
from flatten.window import RimLengths
from meshes.arrays import FloatArray, IntArray, locked_floats, locked_ints
from meshes.intake import check_mesh
from meshes.problems import Problem, ProblemError
from meshes.surface import boundary_loops, triangle_areas

Progress = Callable[[str, int, float], None]


@dataclass(frozen=True, eq=False)
class Flat:
    """A flat map with its figures.

    points (n, 2) mm in the order of the vertices, seen from the outer side; triangles (m, 3); stretch (m, 2), length
    on the seat / length on the piece, larger first; along (m, 2): unit direction on the piece of the larger stretch.
    demand, floor, budget: fractions, the floor a proven lower limit of any piece's demand; p995: the stretch that 0.5
    % of the seat's area exceeds; energy: area-weighted mean of s1^2 + s2^2 + s1^-2 + s2^-2; rung: how the map was
    made; steps: Newton steps; note: how the search ended.
    """

    points: FloatArray
    triangles: IntArray
    stretch: FloatArray
    along: FloatArray
    demand: float
    floor: float | None
    budget: float | None
    verdict: str | None
    certified: bool
    flipped: int
    rung: str
    p995: float
    area_seat_mm2: float
    area_piece_mm2: float
    energy: float
    steps: int
    seconds: float
    note: str = ""


class Aim(StrEnum):
    """What the search makes least."""

    DEMAND = "least demand"
    ENERGY = "least energy"


@dataclass(frozen=True, eq=False)
class Wish:
    """What a piece is asked beyond its shape.

    mirror (n,): the vertex that mirrors each one, for a panel that is the same left and right; rim: lengths its edges
    should have; start (n, 2) mm: a good map to begin at; gap: how close to the least demand, as a share of it; prove:
    whether a lower limit of the demand is proven too; aim: what is made least.
    """

    mirror: IntArray | None = None
    rim: RimLengths | None = None
    start: FloatArray | None = None
    gap: float = GAP
    prove: bool = True
    aim: Aim = Aim.DEMAND


@dataclass(frozen=True, eq=False)
class _Map:
    points: FloatArray
    rung: str
    steps: int
    note: str


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

    With a leather no place is slack: the least stretch is the leather's pull. Without one the largest and the least
    stretch are balanced about 1.

    vertices (n, 3) mm; triangles (m, 3), counter-clockwise from the outer side; leather: a card or the name of a
    built-in one, for the budget, the pull and the verdict; budget: the demand allowed, a fraction, instead of the
    card's; wish: what the piece is asked beyond its shape; progress: called with what is being done, the step and the
    energy. Inputs are not changed. Raises ProblemError for a mesh that cannot be flattened as it is, for an unknown
    leather, and when no map could be certified.
    """
    begin = time.perf_counter()
    seat, corners = check_mesh(vertices, triangles)
    card = card_named(leather) if isinstance(leather, str) else leather
    allowed = checked_budget(budget) if budget is not None else card.budget if card is not None else None
    asked = wish or Wish()
    pull = float(np.log1p(card.pull)) if card is not None else 0.0
    found, certificate = _certified(seat, corners, asked, pull, progress or (lambda what, step, energy: None))
    if card is None and asked.rim is None and asked.aim is Aim.DEMAND:
        found = replace(found, points=_balanced(seat, found.points, corners))
    field = stretch(seat, found.points, corners)
    floor = floor_of(seat, corners, found.points).value if asked.prove else None
    return Flat(
        points=locked_floats(found.points),
        triangles=locked_ints(corners),
        stretch=locked_floats(field.values),
        along=locked_floats(field.along),
        demand=field.demand,
        floor=floor,
        budget=allowed,
        verdict=None if allowed is None else verdict(field.demand, allowed, floor=floor),
        certified=certificate.holds,
        flipped=certificate.flipped,
        rung=found.rung,
        p995=field.p995,
        area_seat_mm2=float(field.areas_seat.sum()),
        area_piece_mm2=float(triangle_areas(found.points, corners).sum()),
        energy=field.energy,
        steps=found.steps,
        seconds=time.perf_counter() - begin,
        note=found.note,
    )


def _certified(
    vertices: FloatArray, triangles: IntArray, wish: Wish, pull: float, say: Progress
) -> tuple[_Map, Certificate]:
    """The first rung whose map holds its certificate as it will be laid out."""
    certificate, rim = None, boundary_loops(triangles)[0]
    for found in _rungs(vertices, triangles, wish, pull, say):
        certificate = certify(found.points, triangles, rim=rim)
        if certificate.holds:
            return found, certificate
    why = "rounding folds every first map"
    if certificate is not None:
        why = f"{certificate.flipped} triangles turned over, the rim meets itself {certificate.rim_crossings} times"
    text = f"no flat map could be proven one-to-one: {why}; use better shaped triangles or part the panel by a seam"
    raise ProblemError([Problem("F101", "panel", text)])


def _rungs(vertices: FloatArray, triangles: IntArray, wish: Wish, pull: float, say: Progress) -> Iterator[_Map]:
    """Maps in the order they should be tried, each laid out as it will leave."""
    # One size for all meshes, so that a seat drawn larger takes the same steps.
    size = float(np.sqrt(triangle_areas(vertices, triangles).sum()))
    unit = (vertices - vertices.mean(axis=0)) / size

    def laid(points: FloatArray, rung: str, steps: int, note: str) -> _Map:
        return _Map(laid_out(points, triangles), rung, steps, note)

    for begin in _beginnings(unit, triangles, wish, size):
        rested = _relaxed(begin, wish, say)
        if wish.aim is Aim.DEMAND:
            best = _least(begin, size, rested.points, wish, pull, say)
            yield laid(begin.whole(best.points), "least demand", rested.steps + best.steps, best.reason)
        note = rested.reason
        if rested.fallbacks:
            note += f", {rested.fallbacks} of its linear systems by full pivoting"
        yield laid(size * begin.whole(rested.points), "least energy", rested.steps, note)
    for made in (circle, even_circle):
        round_ = made(unit, triangles)
        round_ = best_scale(unit, round_, triangles) * round_
        if not certify(round_, triangles).holds:
            continue
        apart = relax_apart(unit, round_, triangles, progress=lambda k, e: say("rim kept apart", k, e))
        yield laid(size * apart.points, "least energy, rim kept apart", apart.steps, apart.reason)
        yield laid(size * round_, "fold-free start", 0, apart.reason)


@dataclass(frozen=True, eq=False)
class _Beginning:
    """Where the search starts: the whole mesh, or its right half; vertices and points of unit size."""

    vertices: FloatArray
    triangles: IntArray
    points: FloatArray
    half: Half | None

    def whole(self, points: FloatArray) -> FloatArray:
        return points if self.half is None else self.half.unfolded(points)


def _beginnings(unit: FloatArray, triangles: IntArray, wish: Wish, size: float) -> Iterator[_Beginning]:
    """The even half when there is one, then the whole."""
    if wish.start is not None:
        points = wish.start / size
    else:
        start = next(starts(unit, triangles), None)
        if start is None:
            return
        points = start.points
    half = None if wish.mirror is None else right_half(unit, triangles, wish.mirror)
    mine = None if half is None else halved(half, points)
    if half is not None and mine is not None:
        yield _Beginning(unit[half.vertices], half.triangles, mine, half)
    yield _Beginning(unit, triangles, points, None)


def _relaxed(begin: _Beginning, wish: Wish, say: Progress) -> Relaxed:
    """Least energy, unless the search begins at a map that has been through it."""
    if wish.start is not None:
        return Relaxed(begin.points, 0.0, 0, True, 0.0, "converged", 0)
    held = None if begin.half is None else begin.half.held()
    return relax(
        begin.vertices, begin.points, begin.triangles, held=held, progress=lambda k, e: say("least energy", k, e)
    )


def _least(begin: _Beginning, size: float, points: FloatArray, wish: Wish, pull: float, say: Progress) -> LeastDemand:
    """Least demand at true size."""
    rim, held = wish.rim, None
    if begin.half is not None:
        held = begin.half.held()
        if rim is not None:
            edges, kept = begin.half.local(rim.edges)
            rim = RimLengths(edges, rim.lengths[kept], rim.weights[kept])
    return least_demand(
        size * begin.vertices,
        begin.triangles,
        size * points,
        pull=pull,
        rim=rim,
        held=held,
        gap=wish.gap,
        progress=lambda k, s: say("least demand", k, s),
    )


def _balanced(vertices: FloatArray, points: FloatArray, triangles: IntArray) -> FloatArray:
    """The piece scaled so that its largest stretch and the inverse of its least are equal."""
    values = stretch(vertices, points, triangles).values
    return np.asarray(points * np.sqrt(values.max() * values.min()))


def laid_out(points: FloatArray, triangles: IntArray) -> FloatArray:
    """The piece with its area's middle at zero and its longest way along x, whichever way it came out of the search.

    Which end of that way is right is settled by the third moment, so moved or renumbered meshes give the same piece.
    """
    corners = points[triangles]
    areas = triangle_areas(points, triangles)
    middle = np.average(corners.mean(axis=1), axis=0, weights=areas)
    spread = corners - middle
    mean = spread.mean(axis=1)
    # Second moments of a triangle: (sum over its corners + 9 times its middle) / 12 of its area.
    moments = np.einsum("m,mki,mkj->ij", areas / 12, spread, spread)
    moments += np.einsum("m,mi,mj->ij", 9 * areas / 12, mean, mean)
    axis = np.linalg.eigh(moments)[1][:, 1]
    lean = float(np.average((mean @ axis) ** 3, weights=areas))
    axis = axis if lean >= 0 else -axis
    return (points - middle) @ np.array([[axis[0], -axis[1]], [axis[1], axis[0]]])
