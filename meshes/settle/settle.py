"""The settled surface: where a taut cover comes to rest over padding, springs, gaps and hollows.

Heights of the cover along smooth directors are the unknowns. The cover pulls alike in all directions, padding and
springs push back after their measured curves and never pull. Where no padding is reached the cover bridges: `lift_mm`
says how far. Where the support ends without cloth, padding has nothing below it and carries nothing until it has sunk
by the depth of the gap. Lengths mm, tension N/mm, pressures kPa.
"""

from dataclasses import dataclass, replace

import numpy as np

from meshes.base.arrays import BoolArray, FloatArray, IntArray, locked_floats
from meshes.base.surface import directed_edges
from meshes.padding.stack import Stack
from meshes.records.compression import Columns
from meshes.settle.equilibrium import Contact, Rest, combined, gathered, rest
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


@dataclass(frozen=True, eq=False)
class Settled:
    """A cover at rest, or as near to it as the search came.

    heights_mm (n,) along the directors; points (n, 3), or (n, 2) in section; compression (n, layers): strain of each
    layer; spring_mm (n,): deflection below the held height; lift_mm (n,): how far the cover stands off carried padding;
    pressure_kpa (n,); energy: after every step, N mm, counted from the first guess's; residual: forces left as a share
    of the first pull; note: empty when converged, else what went wrong and what to change.
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
    residual: float
    converged: bool
    note: str


def settle(
    points: FloatArray,
    directors: FloatArray,
    triangles: IntArray,
    stack: Stack | None,
    *,
    tension_n_per_mm: float | FloatArray,
    fixed: IntArray | None = None,
    fixed_mm: FloatArray | None = None,
    start_mm: FloatArray | None = None,
    push_n: FloatArray | None = None,
) -> Settled:
    """Let a cover settle over the padding of a surface.

    points (n, 3): the support; directors (n, 3): unit; triangles (m, 3); stack: what lies on it, None for a cover over
    nothing; tension_n_per_mm: one for the whole cover, or one for each triangle (m,); fixed (k,): vertices tied down
    (tack lines, pleat valleys), at fixed_mm (k,), when not given on the free padding; start_mm (n,): first guess;
    push_n (n,): forces on the cover against the directors, N. Raises ValueError for a tension that is negative or not
    finite.
    """
    _possible(tension_n_per_mm)
    cover = Membrane(points, directors, triangles)
    contact = None if stack is None else _under_triangles(cover, stack)
    return _settled(cover, stack, contact, tension_n_per_mm, _BoundaryConditions(fixed, fixed_mm, start_mm, push_n))


def settle_section(
    points: FloatArray,
    directors: FloatArray,
    stack: Stack | None,
    *,
    tension_n_per_mm: float,
    fixed: IntArray | None = None,
    fixed_mm: FloatArray | None = None,
    start_mm: FloatArray | None = None,
    push_n: FloatArray | None = None,
) -> Settled:
    """The same in section: points and directors (n, 2) in order along a cut; energies and forces are per mm of
    width."""
    _possible(tension_n_per_mm)
    cover = CoverLine(points, directors)
    contact = None if stack is None else _under_line(cover, stack)
    return _settled(cover, stack, contact, tension_n_per_mm, _BoundaryConditions(fixed, fixed_mm, start_mm, push_n))


def _possible(tension: float | FloatArray) -> None:
    wrong = np.atleast_1d(np.asarray(tension, dtype=np.float64))
    wrong = wrong[~(np.isfinite(wrong) & (wrong >= 0.0))]
    if len(wrong):
        raise ValueError(f"a cover cannot have a tension of {wrong[0]:g} N/mm; give 0 or more")


@dataclass(frozen=True, eq=False)
class _BoundaryConditions:
    fixed: IntArray | None
    fixed_mm: FloatArray | None
    start_mm: FloatArray | None
    push_n: FloatArray | None


def _settled(
    cover: Membrane | CoverLine,
    stack: Stack | None,
    contact: Contact | None,
    tension: float | FloatArray,
    held: _BoundaryConditions,
) -> Settled:
    padding = np.zeros(cover.count) if stack is None else stack.free_mm()
    start = padding.copy() if held.start_mm is None else np.array(held.start_mm, dtype=np.float64)
    free = np.ones(cover.count, dtype=bool)
    if held.fixed is not None:
        free[held.fixed] = False
        start[held.fixed] = padding[held.fixed] if held.fixed_mm is None else held.fixed_mm
    if not np.any(tension) or not free.any():
        found = Rest(np.where(free, padding, start), (0.0,), 0, 0.0, "")
    else:
        found = _eased(cover, contact, tension, start, free, held.push_n)
    return _record(cover, stack, found)


def _eased(
    cover: TautCover,
    contact: Contact | None,
    tension: float | FloatArray,
    start: FloatArray,
    free: BoolArray,
    push_n: FloatArray | None,
) -> Rest:
    """At rest, by way of softer padding where that is the only or the shorter way: where most of the ground is bare
    wood, the places where the cover leaves it would else be found cell by cell."""
    if contact is None:
        return rest(cover, contact, tension, start, free=free, push_n=push_n)
    cell = float(cover.size(start).mean()) ** (1.0 / (cover.cells.shape[1] - 1))
    touch = contact.columns.given_mm(np.zeros(len(contact.weight)))[1]
    # Length over which the bend of a cover dies out on this padding: sqrt(T / k).
    usual = float(np.mean(tension))
    hard = float((np.sqrt(1e3 * usual * touch) < _BEND_CELLS * cell).mean())
    done = 0
    if hard < _HARD_SHARE:
        found = rest(cover, contact, tension, start, free=free, push_n=push_n)
        if not found.why:
            return found
        done = found.factorisations
    first, last = (_FIRST_BEND_CELLS * cell) ** 2 / (1e3 * usual), float(touch.min())
    free_start = start
    for softer in _falling(first, last):
        softly = replace(contact, columns=replace(contact.columns, least_mm_per_kpa=softer))
        found = rest(cover, softly, tension, start, free=free, push_n=push_n, residual=_NEARLY)
        start, done = found.heights, done + found.factorisations
    found = rest(cover, contact, tension, start, free=free, push_n=push_n)
    # A search counts from where it starts, but all of one cover's energies count from one place.
    ahead = float(np.sum(tension * (cover.size(start) - cover.size(free_start))))
    ahead += 0.0 if push_n is None else float(push_n @ (start - free_start))
    energy = tuple(ahead + value for value in found.energy)
    return replace(found, energy=energy, factorisations=found.factorisations + done)


def _falling(first: float, last: float) -> list[float]:
    """Values from the first towards the last, without it, in even steps of their ratio."""
    count = max(int(np.ceil(np.log(first / last) / np.log(_SOFTER))), 1) if first > last else 0
    return [first * (last / first) ** (k / count) for k in range(count)]


def _record(cover: Membrane | CoverLine, stack: Stack | None, found: Rest) -> Settled:
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
        residual=found.residual,
        converged=not found.why,
        note=_advice(cover, found),
    )


def _advice(cover: TautCover, found: Rest) -> str:
    if not found.why:
        return ""
    text = f"{found.why}, {100 * found.residual:.2g} % of the cover's first pull is left"
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
    sunk = np.concatenate([np.zeros(len(up)), stack.depth_mm[down]])
    share = np.concatenate([stack.carried[up], 1.0 - stack.carried[down]])
    # The bottom of a gap is hard: no springs there.
    give = np.concatenate([stack.give_mm_per_kpa[up], np.zeros(len(down))])
    preload = np.concatenate([stack.preload_kpa[up], np.zeros(len(down))])
    return Columns(stack.curves, stack.thickness_mm[:, owner], give, preload), owner, sunk, share


def _between(stack: Stack, rows: IntArray, share: FloatArray) -> Stack:
    """The stack at places between vertices: rows (q, k) vertices, share (q, k) of each."""

    def mean(values: FloatArray) -> FloatArray:
        return np.asarray((values[..., rows] * share).sum(axis=-1))

    parts = (stack.give_mm_per_kpa, stack.preload_kpa, stack.carried, stack.depth_mm)
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
