"""One panel becomes one flat piece: the first method whose map holds its certificate, scaled, judged and measured.

Nothing leaves without a certificate; how the map was made is recorded (flatten/demand/methods.py).
"""

import time
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from flatten.bounds.floor import Floor, floor_of
from flatten.demand.methods import LaidMap, LeatherLimits, Mesh, maps_in_turn
from flatten.demand.options import Aim, Options
from flatten.leather.card import Card, checked_budget
from flatten.leather.card_file import find_card
from flatten.leather.stretch import Stretch, stretch
from flatten.leather.verdict import Judged, LaidPiece, judged
from flatten.maps.certify import Certificate, certify
from flatten.maps.flat import Flat, Made, MapFigures, ProvenFloor, Trouble
from flatten.maps.pose import scaled_map
from meshes.base.arrays import FloatArray, IntArray, locked_floats, locked_ints
from meshes.base.problems import Problem, ProblemError
from meshes.base.progress import Progress, unheard
from meshes.base.surface import boundary_loops, triangle_areas
from meshes.intake.checks import check_mesh
from meshes.intake.roughness import remarks


def flatten(
    vertices: npt.ArrayLike,
    triangles: npt.ArrayLike,
    *,
    leather: Card | str | None = None,
    budget: float | None = None,
    options: Options | None = None,
    progress: Progress | None = None,
) -> Flat:
    """Flatten a disc-shaped triangle mesh at true size with least demand.

    With a leather no place is slack: the least stretch is the leather's pull, and what is made least is the largest
    use of what it gives by direction. Without one the largest and the least stretch are balanced about 1.

    vertices (n, 3) mm; triangles (m, 3), counter-clockwise from the outer side; leather: a card, the name of a
    built-in one or of a file of cards, for the budget, the pull and the verdict; budget: the demand allowed, a
    fraction, instead of the card's; options: what the piece is asked beyond its shape; progress: called with what is
    being done, the step and the energy. Inputs are not changed. Raises ProblemError for a mesh that cannot be
    flattened as it is, for an unknown leather, and when no map could be certified.
    """
    begin = time.perf_counter()
    seat, corners = check_mesh(vertices, triangles)
    # Who asks more than the shape knows the mesh: it was made by this program.
    told = remarks(seat, corners) if options is None else []
    card = find_card(leather) if isinstance(leather, str) else leather
    allowed = checked_budget(budget) if budget is not None else None
    asked = options or Options()
    found, certificate = _certified(Mesh.of(seat, corners), asked, _limits(card, allowed), progress or unheard)
    if asked.rim is None and asked.precomputed is None and asked.aim is Aim.DEMAND:
        found = replace(found, points=scaled_map(seat, found.points, corners, None if card is None else card.pull))
    field = stretch(seat, found.points, corners)
    floor = floor_of(seat, corners, found.points) if asked.prove else None
    runs = asked.runs if asked.runs is not None else (_whole_rim(corners),)
    laid = LaidPiece(found.points, corners, found.backbone, runs)
    judgement = judged(field, floor, laid, card=card, budget=allowed)
    lower = None if floor is None else ProvenFloor(floor.value, _trouble(seat, floor))
    made = Made(found.method, found.steps, found.status, time.perf_counter() - begin)
    cost = found.straightening and found.straightening.within(field.demand, judgement.budget)
    return replace(_flat(laid, field, judgement, certificate, lower, made), remarks=tuple(told), straightening=cost)


def _flat(
    laid: LaidPiece,
    field: Stretch,
    judgement: Judged,
    certificate: Certificate,
    lower: ProvenFloor | None,
    made: Made,
) -> Flat:
    """All of it in one record, arrays locked."""
    area_piece = float(triangle_areas(laid.points, laid.triangles).sum())
    area_seat = float(field.areas_seat.sum())
    return Flat(
        points=locked_floats(laid.points),
        triangles=locked_ints(laid.triangles),
        stretch=locked_floats(field.values),
        along=locked_floats(field.along),
        backbone=None if laid.backbone is None else locked_floats(laid.backbone),
        figures=MapFigures(field.demand, field.p995, field.energy, area_seat, area_piece),
        judgement=judgement,
        certificate=certificate,
        lower=lower,
        made=made,
    )


def _limits(card: Card | None, budget: float | None) -> LeatherLimits:
    """What a leather gives by direction; a budget that is given instead of the card's holds for all directions."""
    if card is None:
        return LeatherLimits(0.0, None)
    return LeatherLimits(float(np.log1p(card.pull)), card.limits if budget is None else None)


def _certified(mesh: Mesh, options: Options, limits: LeatherLimits, say: Progress) -> tuple[LaidMap, Certificate]:
    """The first map that holds its certificate as it will be laid out."""
    certificate, rim = None, boundary_loops(mesh.triangles)[0]
    for found in maps_in_turn(mesh, options, limits, say):
        certificate = certify(found.points, mesh.triangles, rim=rim)
        if certificate.holds:
            return found, certificate
    reason = "rounding folds every first map"
    if certificate is not None:
        reason = f"{certificate.flipped} triangles turned over, the rim meets itself {certificate.rim_crossings} times"
    text = f"no flat map could be proven one-to-one: {reason}; use better shaped triangles or part the panel by a seam"
    raise ProblemError([Problem("F101", "panel", text)])


def _whole_rim(triangles: IntArray) -> IntArray:
    """The rim as one closed run; of a mesh by itself it is not known which of its edges are sewn."""
    loop = boundary_loops(triangles)[0]
    return np.append(loop, loop[:1])


def _trouble(vertices: FloatArray, floor: Floor) -> Trouble | None:
    if floor.kind == "none":
        return None
    middle = int(np.argmin(((vertices - floor.centre) ** 2).sum(axis=1)))
    return Trouble(middle, floor.radius_mm, floor.kind)
