"""The settled surface: where a taut cover comes to rest over padding, springs, gaps and hollows.

Heights of the cover along smooth directors are the unknowns. The cover pulls alike in all directions, padding and
springs push back after their measured curves and never pull. Where no padding is reached the cover bridges: `lift_mm`
says how far. Where the support ends without cloth, padding has nothing below it and carries nothing until it has sunk
by the depth of the gap. Lengths mm, tension N/mm, pressures kPa.
"""

from dataclasses import dataclass, replace

import numpy as np

from meshes.base.arrays import FloatArray, IntArray, locked_floats
from meshes.base.surface import directed_edges
from meshes.numerics.status import Ending, Status
from meshes.padding.stack import Stack
from meshes.records.compression import Columns
from meshes.settle.equilibrium import (
    STILL_MM,
    Contact,
    CoverProblem,
    Equilibrium,
    combined,
    find_equilibrium,
    forces,
    gathered,
)
from meshes.settle.tension import CoverLine, Membrane, TautCover

# Padding over a gap is taken to be carried in part where less than this share of it is left without.
_CARRIED = 1e-6
# Where the cover bends within fewer cells than the first, at more than this share of places, it is let down in steps,
# over padding made so soft at first that it bends over so many cells.
_BEND_CELLS, _HARD_SHARE, _FIRST_BEND_CELLS = 0.5, 0.6, 8.0
# On the way down a cover only has to come near to rest.
_NEARLY = 0.01
# Padding is made softer by no more than this from one time to the next.
_SOFTER = 30.0
# Ties are let go and taken up no more often than this; and let go where they would have to push with more than this
# share of the largest force at any held place.
_TIE_TURNS_MOST, _TIE_FORCE = 40, 1e-7


@dataclass(frozen=True, eq=False)
class Settled:
    """A cover at rest, or as near to it as the search came.

    heights_mm (n,) along the directors; points (n, 3), or (n, 2) in section; compression (n, layers): strain of each
    layer; spring_mm (n,): deflection below the held height; lift_mm (n,): how far the cover stands off carried padding;
    pressure_kpa (n,); energy: after every step, N mm, counted from the first guess's; status: its gap is the residual;
    note: empty when converged, else what went wrong and what to change.
    """

    heights_mm: FloatArray
    points: FloatArray
    compression: FloatArray
    spring_mm: FloatArray
    lift_mm: FloatArray
    pressure_kpa: FloatArray
    energy: tuple[float, ...]
    steps: int
    factorisations: int
    status: Status
    note: str

    @property
    def converged(self) -> bool:
        """Whether the cover came to rest."""
        return self.status.converged

    @property
    def residual(self) -> float:
        """Forces left as a share of the cover's first pull."""
        return self.status.gap


@dataclass(frozen=True, eq=False)
class Conditions:
    """What a cover settles under besides its padding, and where the search begins.

    fixed (k,): vertices that are held (tack lines), at fixed_mm (k,), when not given on the free padding; tied (t,):
    vertices on seams and valleys that are tied down: a thread keeps them from standing above tied_mm (t,), when not
    given the free padding, and does not keep them from sinking below it; push_n (n,): forces on the cover against the
    directors, N (in section N per mm of width); start_mm (n,): first guess, when not given the free padding.
    """

    fixed: IntArray | None = None
    fixed_mm: FloatArray | None = None
    tied: IntArray | None = None
    tied_mm: FloatArray | None = None
    push_n: FloatArray | None = None
    start_mm: FloatArray | None = None


UNHELD = Conditions()


def settle(
    points: FloatArray,
    directors: FloatArray,
    triangles: IntArray,
    stack: Stack | None,
    *,
    tension_n_per_mm: float | FloatArray,
    conditions: Conditions = UNHELD,
) -> Settled:
    """Let a cover settle over a stack of padding.

    points (n, 3): height 0; unit directors (n, 3); triangles (m, 3); stack: what lies on it, None for a cover over
    nothing; tension_n_per_mm: one for the whole cover, or one for each triangle (m,). Raises ValueError for a tension
    that is negative or not finite.
    """
    _possible(tension_n_per_mm)
    cover = Membrane(points, directors, triangles)
    contact = None if stack is None else _under_triangles(cover, stack)
    return _settled(cover, stack, contact, tension_n_per_mm, conditions)


def settle_section(
    points: FloatArray,
    directors: FloatArray,
    stack: Stack | None,
    *,
    tension_n_per_mm: float,
    conditions: Conditions = UNHELD,
) -> Settled:
    """The same in section: points and directors (n, 2) in order along a cut; energies and forces are per mm of
    width."""
    _possible(tension_n_per_mm)
    cover = CoverLine(points, directors)
    contact = None if stack is None else _under_line(cover, stack)
    return _settled(cover, stack, contact, tension_n_per_mm, conditions)


def _possible(tension: float | FloatArray) -> None:
    wrong = np.atleast_1d(np.asarray(tension, dtype=np.float64))
    wrong = wrong[~(np.isfinite(wrong) & (wrong >= 0.0))]
    if len(wrong):
        raise ValueError(f"a cover cannot have a tension of {wrong[0]:g} N/mm; give 0 or more")


def _settled(
    cover: Membrane | CoverLine,
    stack: Stack | None,
    contact: Contact | None,
    tension: float | FloatArray,
    conditions: Conditions,
) -> Settled:
    padding = np.zeros(cover.count) if stack is None else stack.free_mm()
    start = padding.copy() if conditions.start_mm is None else np.array(conditions.start_mm, dtype=np.float64)
    free = np.ones(cover.count, dtype=bool)
    if conditions.fixed is not None:
        free[conditions.fixed] = False
        start[conditions.fixed] = padding[conditions.fixed] if conditions.fixed_mm is None else conditions.fixed_mm
    if not np.any(tension) or not free.any():
        found = Equilibrium(np.where(free, padding, start), (0.0,), 0, Status(Ending.CONVERGED, 0.0))
    else:
        problem = CoverProblem(cover, contact, tension, free, conditions.push_n)
        tied = np.zeros(0, dtype=np.int64) if conditions.tied is None else conditions.tied
        cap = padding.copy()
        if conditions.tied_mm is not None:
            cap[tied] = conditions.tied_mm
        found = _held_down(problem, start, tied[free[tied]], cap)
    return _record(cover, stack, found)


def _held_down(problem: CoverProblem, start: FloatArray, tied: IntArray, cap_mm: FloatArray) -> Equilibrium:
    """The equilibrium of a cover that is tied at some of its free vertices: none of them stands above cap_mm (n,).

    A thread pulls and does not push, so a tie at which the cover would go down by itself is let go, and one that is
    let go and then stands too high is taken up again: a primal-dual active set (Hintermueller, Ito and Kunisch 2002,
    "The primal-dual active set strategy as a semismooth Newton method").
    """
    # A first guess that lies lower at a tie has it let go already.
    holds = start[tied] >= cap_mm[tied] - STILL_MM
    begun, done = start, 0
    for turn in range(_TIE_TURNS_MOST):
        free = problem.free.copy()
        free[tied[holds]] = False
        start = start.copy()
        start[tied[holds]] = cap_mm[tied[holds]]
        here = replace(problem, free=free)
        if not free.any():
            found = Equilibrium(start, (0.0,), 0, Status(Ending.CONVERGED, 0.0))
        else:
            found = find_equilibrium(here, start) if turn else _continued(here, start)
        done += found.factorisations
        if not len(tied) or not found.status.converged:
            break
        force = forces(problem, found.heights)
        least = _TIE_FORCE * float(np.abs(force[~free]).max(initial=0.0))
        high = ~holds & (found.heights[tied] > cap_mm[tied] + STILL_MM)
        # Towards the end ties are only taken up, so that no two places can change for ever.
        idle = holds & (force[tied] > least) if turn < _TIE_TURNS_MOST // 2 else np.zeros(len(tied), dtype=bool)
        if not (high | idle).any():
            break
        holds, start = (holds & ~idle) | high, found.heights
    else:
        found = replace(found, status=Status(Ending.STEPS, found.status.gap))
    return replace(found, energy=_from(problem, begun, start, found.energy), factorisations=done)


def _from(problem: CoverProblem, begun: FloatArray, start: FloatArray, energy: tuple[float, ...]) -> tuple[float, ...]:
    """Energies that a search counts from its own start (n,), counted from where all began (n,): the cover's part."""
    cover = problem.cover
    ahead = float(np.sum(problem.tension_n_per_mm * (cover.size(start) - cover.size(begun))))
    ahead += 0.0 if problem.push_n is None else float(problem.push_n @ (start - begun))
    return tuple(ahead + value for value in energy)


def _continued(problem: CoverProblem, start: FloatArray) -> Equilibrium:
    """The equilibrium, by way of softer padding where that is the only or the shorter way (a continuation in the
    padding's compliance): where most of the ground is bare wood, the places where the cover leaves it would else be
    found cell by cell."""
    cover, contact, tension = problem.cover, problem.contact, problem.tension_n_per_mm
    if contact is None:
        return find_equilibrium(problem, start)
    cell = float(cover.size(start).mean()) ** (1.0 / (cover.cells.shape[1] - 1))
    touch = contact.columns.compression(np.zeros(len(contact.weight))).compliance
    # Length over which the bend of a cover dies out on this padding: sqrt(T / k).
    usual = float(np.mean(tension))
    hard = float((np.sqrt(1e3 * usual * touch) < _BEND_CELLS * cell).mean())
    done = 0
    if hard < _HARD_SHARE:
        found = find_equilibrium(problem, start)
        if found.status.converged:
            return found
        done = found.factorisations
    first, last = (_FIRST_BEND_CELLS * cell) ** 2 / (1e3 * usual), float(touch.min())
    begun = start
    for compliance in _falling(first, last):
        softly = replace(contact, columns=replace(contact.columns, least_mm_per_kpa=compliance))
        found = find_equilibrium(replace(problem, contact=softly), start, residual=_NEARLY)
        start, done = found.heights, done + found.factorisations
    found = find_equilibrium(problem, start)
    # A search counts from where it starts, but all of one cover's energies count from one place.
    energy = _from(problem, begun, start, found.energy)
    return replace(found, energy=energy, factorisations=found.factorisations + done)


def _falling(first: float, last: float) -> list[float]:
    """Values from the first towards the last, without it, in even steps of their ratio."""
    count = max(int(np.ceil(np.log(first / last) / np.log(_SOFTER))), 1) if first > last else 0
    return [first * (last / first) ** (k / count) for k in range(count)]


def _record(cover: Membrane | CoverLine, stack: Stack | None, found: Equilibrium) -> Settled:
    n = cover.count
    if stack is None:
        strain, spring, lift, pressure = np.zeros((n, 0)), np.zeros(n), np.zeros(n), np.zeros(n)
    else:
        strain, spring, lift, pressure = _under(stack, found.heights)
    return Settled(
        heights_mm=locked_floats(found.heights),
        points=locked_floats(cover.points + found.heights[:, None] * cover.directors),
        compression=locked_floats(strain),
        spring_mm=locked_floats(spring),
        lift_mm=locked_floats(lift),
        pressure_kpa=locked_floats(pressure),
        energy=found.energy,
        steps=len(found.energy) - 1,
        factorisations=found.factorisations,
        status=found.status,
        note=_advice(cover, found),
    )


def _advice(cover: TautCover, found: Equilibrium) -> str:
    if found.status.converged:
        return ""
    text = f"{found.status}, {100 * found.status.gap:.2g} % of the cover's first pull is left"
    if not cover.upright(found.heights).all():
        return f"{text}; the cover turns over itself: make the padding thinner or edges rounder there"
    return f"{text}; less tension, smaller triangles or a tie-down in the hollow usually help"


def _under(stack: Stack, heights: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Strain of every layer, spring deflection, lift and pressure at the vertices."""
    n = len(heights)
    columns, owner, offset, share = _columns(stack)
    pressed = columns.free_mm() - offset - heights[owner]
    pressure = columns.respond(pressed).pressure_kpa
    strain = np.zeros((n, len(stack.curves)))
    np.add.at(strain, owner, share[:, None] * columns.strains(pressure))
    spring = gathered(owner, share * columns.spring_mm(pressure), n)
    lift = np.where(stack.carried > 0.5, np.maximum(heights - stack.free_mm(), 0.0), 0.0)
    return strain, spring, np.where(lift > 1e-9, lift, 0.0), gathered(owner, share * pressure, n)


def _columns(stack: Stack) -> tuple[Columns, IntArray, FloatArray, FloatArray]:
    """The columns under places: one that is carried and one that has sunk into a gap where there is one, with the
    place each belongs to, how far it has sunk, and its share of that place."""
    up, down = np.flatnonzero(stack.carried > _CARRIED), np.flatnonzero(stack.carried < 1.0 - _CARRIED)
    owner = np.concatenate([up, down])
    sunk = np.concatenate([stack.below_mm[up], stack.below_mm[down] + stack.depth_mm[down]])
    share = np.concatenate([stack.carried[up], 1.0 - stack.carried[down]])
    # The bottom of a gap is hard: no springs there.
    give = np.concatenate([stack.give_mm_per_kpa[up], np.zeros(len(down))])
    preload = np.concatenate([stack.preload_kpa[up], np.zeros(len(down))])
    return Columns(stack.curves, stack.thickness_mm[:, owner], give, preload), owner, sunk, share


def _between(stack: Stack, rows: IntArray, share: FloatArray) -> Stack:
    """The stack at places between vertices: rows (q, k) vertices, share (q, k) of each."""

    def mean(values: FloatArray) -> FloatArray:
        return np.asarray((values[..., rows] * share).sum(axis=-1))

    parts = (stack.give_mm_per_kpa, stack.preload_kpa, stack.carried, stack.depth_mm, stack.below_mm)
    return Stack(stack.curves, mean(stack.thickness_mm), *(mean(p) for p in parts))


def _contact(stack: Stack, rows: IntArray, share: FloatArray, weight: FloatArray) -> Contact:
    columns, owner, sunk, part = _columns(_between(stack, rows, share))
    spread = combined(rows[owner], share[owner], stack.thickness_mm.shape[1])
    return Contact(spread, weight[owner] * part, columns.free_mm() - sunk, columns)


def _under_triangles(cover: Membrane, stack: Stack) -> Contact:
    """Padding is felt in the middle of every edge: exact for what is quadratic over a triangle."""
    edges = np.sort(directed_edges(cover.cells), axis=1)
    both, which = np.unique(edges, axis=0, return_inverse=True)
    area = _mean_size(cover, stack)
    weight = gathered(which.ravel(), np.tile(area / 3.0, 3), len(both))
    return _contact(stack, both, np.full(both.shape, 0.5), weight)


def _under_line(cover: CoverLine, stack: Stack) -> Contact:
    """Padding is felt in the two Gauss places of every segment: exact for what is cubic over it."""
    near = 0.5 - 0.5 / np.sqrt(3.0)
    cells = cover.cells
    rows = np.concatenate([cells, cells])
    first = np.broadcast_to([1.0 - near, near], cells.shape)
    share = np.concatenate([first, first[:, ::-1]])
    return _contact(stack, rows, share, np.tile(0.5 * _mean_size(cover, stack), 2))


def _mean_size(cover: Membrane | CoverLine, stack: Stack) -> FloatArray:
    """Area (or length) that the padding of a cell stands on, meant over its height (Steiner's rule)."""
    free = stack.free_mm()
    return np.asarray((cover.size(0.0 * free) + 4.0 * cover.size(0.5 * free) + cover.size(free)) / 6.0)
