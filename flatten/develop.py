"""One panel becomes one flat piece: first map, least energy, certificate. Which rung made it is recorded.

Rungs in the order tried: `least energy`; `least energy, rim kept apart` when the piece would lie over itself;
`fold-free start` when no search keeps its certificate. Nothing leaves without a certificate.
"""

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from flatten.apart import relax_apart
from flatten.certify import Certificate, certify
from flatten.leather import Card, card_named, checked_budget, verdict
from flatten.relax import relax
from flatten.start import best_scale, circle, even_circle, starts
from flatten.stretch import stretch
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
    demand, floor, budget: fractions; p995: the stretch that 0.5 % of the seat's area exceeds; energy: area-weighted
    mean of s1^2 + s2^2 + s1^-2 + s2^-2; rung: how the map was made; steps: Newton steps; note: how the search ended.
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
    progress: Progress | None = None,
) -> Flat:
    """Flatten a disc-shaped triangle mesh at true size with least energy.

    vertices (n, 3) mm; triangles (m, 3), counter-clockwise from the outer side; leather: a card or the name of a
    built-in one, for the budget and the verdict; budget: the demand allowed, a fraction, instead of the card's;
    progress: called with what is being done, the step and the energy. Inputs are not changed. Raises ProblemError for a
    mesh that cannot be flattened as it is, for an unknown leather, and when no map could be certified.
    """
    begin = time.perf_counter()
    seat, corners = check_mesh(vertices, triangles)
    card = card_named(leather) if isinstance(leather, str) else leather
    allowed = checked_budget(budget) if budget is not None else card.budget if card is not None else None
    found, certificate = _certified(seat, corners, progress or (lambda what, step, energy: None))
    field = stretch(seat, found.points, corners)
    return Flat(
        points=locked_floats(found.points),
        triangles=locked_ints(corners),
        stretch=locked_floats(field.values),
        along=locked_floats(field.along),
        demand=field.demand,
        floor=None,
        budget=allowed,
        verdict=None if allowed is None else verdict(field.demand, allowed),
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


def _certified(vertices: FloatArray, triangles: IntArray, say: Progress) -> tuple[_Map, Certificate]:
    """The first rung whose map holds its certificate as it will be laid out."""
    certificate, rim = None, boundary_loops(triangles)[0]
    for found in _rungs(vertices, triangles, say):
        certificate = certify(found.points, triangles, rim=rim)
        if certificate.holds:
            return found, certificate
    why = "rounding folds every first map"
    if certificate is not None:
        why = f"{certificate.flipped} triangles turned over, the rim meets itself {certificate.rim_crossings} times"
    text = f"no flat map could be proven one-to-one: {why}; use better shaped triangles or part the panel by a seam"
    raise ProblemError([Problem("F101", "panel", text)])


def _rungs(vertices: FloatArray, triangles: IntArray, say: Progress) -> Iterator[_Map]:
    """Maps in the order they should be tried, each laid out as it will leave."""
    # One size for all meshes, so that a seat drawn larger takes the same steps.
    size = float(np.sqrt(triangle_areas(vertices, triangles).sum()))
    unit = (vertices - vertices.mean(axis=0)) / size

    def laid(points: FloatArray, rung: str, steps: int, note: str) -> _Map:
        return _Map(laid_out(size * points, triangles), rung, steps, note)

    start = next(starts(unit, triangles), None)
    if start is not None:
        rested = relax(unit, start.points, triangles, progress=lambda k, e: say("least energy", k, e))
        note = rested.reason
        if rested.fallbacks:
            note += f", {rested.fallbacks} of its linear systems by full pivoting"
        yield laid(rested.points, "least energy", rested.steps, note)
    for made in (circle, even_circle):
        round_ = made(unit, triangles)
        round_ = best_scale(unit, round_, triangles) * round_
        if not certify(round_, triangles).holds:
            continue
        apart = relax_apart(unit, round_, triangles, progress=lambda k, e: say("rim kept apart", k, e))
        yield laid(apart.points, "least energy, rim kept apart", apart.steps, apart.reason)
        yield laid(round_, "fold-free start", 0, apart.reason)


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
