"""How the square edge of a foam block rounds off under a taut cover: finite elements of its section.

A bed of columns has no corner; a block has one, and the cover presses it round to a radius that depends on the foam and
the tension, hardly on the thickness. So the section across the edge is solved for itself, in plane strain, with the
foam's table as energy in the principal stretches, glued to what it lies on, under a cover that slides without friction
and is bent by nothing but the foam. In tension foam is taken to be as stiff as at the first touch. Lengths mm,
tension N/mm; in the section (outward, up), the sharp corner being (0, 0).
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.interpolate import CubicHermiteSpline

from meshes.base.arrays import BoolArray, FloatArray, IntArray, locked_floats, locked_ints
from meshes.numerics.plane_strain import PlaneSolid
from meshes.numerics.solver import Factor
from meshes.numerics.status import Ending, Status
from meshes.numerics.triangulate import triangulate
from meshes.records.compression import Curve

# The edge's own shape has died away so many mm from it.
REACH_MM = 100.0
EDGE_STEPS_MOST = 80
# At rest when what a step promises to save is this share of tension x length.
_EDGE_PROMISE = 1e-12
_EDGE_SAVED = 1e-4
_EDGE_HALVINGS = 40
_N_PER_KPA = 1e-3
# A point this near to a line of the section lies on it.
_ON_RIM_MM = 1e-9


class FoamLaw:
    """Energy of one principal stretch from a compression curve: pressure(1 - stretch) below 1."""

    def __init__(self, curve: Curve) -> None:
        self._pressure = CubicHermiteSpline(
            curve.strain, _N_PER_KPA * curve.pressure_kpa, _N_PER_KPA / curve.compliance
        )
        self._energy, self._slope = self._pressure.antiderivative(), self._pressure.derivative()
        self._end = float(curve.strain[-1])
        self._room = 1.0 - self._end
        self._first = float(self._slope(0.0))

    def __call__(self, stretch: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Energy (N/mm2), slope and second derivative by the stretch; past its table the pressure grows as x / (1 - x),
        x being the share of what was left to compress."""
        strain = 1.0 - stretch
        inner = np.clip(strain, 0.0, self._end)
        energy, pressure, slope = self._energy(inner), self._pressure(inner), self._slope(inner)
        pulled = np.minimum(strain, 0.0)
        energy = energy + 0.5 * self._first * pulled**2
        pressure = pressure + self._first * pulled
        more = np.clip((strain - self._end) / self._room, 0.0, 1.0 - 1e-9)
        scale = slope * self._room
        energy = energy + self._room * (pressure * more - scale * (more + np.log1p(-more)))
        pressure = pressure + scale * more / (1.0 - more)
        return energy, -pressure, np.where(more > 0.0, slope / (1.0 - more) ** 2, slope)


@dataclass(frozen=True)
class EdgeForm:
    """The edge of a block before anything presses. thickness: of the block, mm; turn_deg: from its top to its side, 90
    for an upright one; roll_mm: radius its upper edge is cut to, 0 for a square one; overhang_mm: how far the foot of
    its side lies out beyond what it is glued to."""

    thickness: float
    turn_deg: float = 90.0
    roll_mm: float = 0.0
    overhang_mm: float = 0.0


@dataclass(frozen=True, eq=False)
class RoundedEdge:
    """A block's edge under its cover. free (k, 2): the cover's line before it is pulled, from the top over the edge
    down to the foot of the side; cover (j, 2): its line at rest, which is convex; points, moved (n, 2) and triangles
    (m, 3): the foam's section before and after; status: how the search ended."""

    free: FloatArray
    cover: FloatArray
    points: FloatArray
    moved: FloatArray
    triangles: IntArray
    status: Status

    @property
    def shorter_mm(self) -> float:
        """By how much the cover's way round the edge is shorter than round the free block."""
        return _length(self.free) - _length(self.cover)

    def radius(self, half_mm: float) -> float:
        """Radius of a circle through the cover within `half_mm` of its sharpest place (least squares, Kasa 1976)."""
        along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(self.cover, axis=0), axis=1))])
        fine = np.arange(0.0, along[-1], 0.25)
        line = np.column_stack([np.interp(fine, along, self.cover[:, k]) for k in (0, 1)])
        middles = fine[(fine >= half_mm) & (fine <= along[-1] - half_mm)][::2]
        return min(_circle(line[np.abs(fine - middle) <= half_mm]) for middle in middles)


def _length(line: FloatArray) -> float:
    return float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())


def _circle(points: FloatArray) -> float:
    x, y, rest = np.linalg.lstsq(np.column_stack([2.0 * points, np.ones(len(points))]), (points**2).sum(axis=1))[0]
    return float(np.sqrt(rest + x * x + y * y))


def rounded_edge(form: EdgeForm, curve: Curve, tension_n_per_mm: float, *, edge_mm: float = 2.0) -> RoundedEdge:
    """The section of a block's edge at rest under a cover of this tension, in triangles of about `edge_mm`."""
    rim, cover = _rim(form, edge_mm)
    inside, bottom, glued = rim[0, 0], rim[0, 1], _foot(form) - form.overhang_mm

    def held(at: FloatArray) -> BoolArray:
        fixed = np.zeros((len(at), 2), dtype=bool)
        fixed[(np.abs(at[:, 1] - bottom) < _ON_RIM_MM) & (at[:, 0] <= glued + _ON_RIM_MM)] = True
        # Far from the edge the block goes on alike; the cover's lower end is held along its way by its tacks.
        fixed[np.abs(at[:, 0] - inside) < _ON_RIM_MM, 0] = True
        fixed[cover[-1], 1] = True
        return fixed

    return foam_under_cover(rim, cover, held, curve, tension_n_per_mm, edge_mm=edge_mm)


def foam_under_cover(
    rim: FloatArray,
    cover: IntArray,
    held: Callable[[FloatArray], BoolArray],
    curve: Curve,
    tension_n_per_mm: float,
    *,
    edge_mm: float,
) -> RoundedEdge:
    """Any section of foam at rest. rim (r, 2): counter-clockwise, its points about `edge_mm` apart; cover (k,): numbers
    of those that the cover lies on, in order; held: which coordinates (n, 2) of points (n, 2) are held."""
    segments = np.stack([np.arange(len(rim)), np.roll(np.arange(len(rim)), -1)], axis=1)
    mesh = triangulate(rim, segments, rim=np.ones(len(rim), dtype=bool), edge_mm=edge_mm)
    at = mesh.points
    solid = PlaneSolid(at, mesh.triangles, FoamLaw(curve))
    moved, status = _EdgeSearch(solid, cover, tension_n_per_mm, ~held(at).ravel()).run(at)
    free, there = locked_floats(at[cover]), locked_floats(_taut(moved[cover]))
    return RoundedEdge(free, there, locked_floats(at), locked_floats(moved), locked_ints(mesh.triangles), status)


def _taut(line: FloatArray) -> FloatArray:
    """The line of a cover over points in order: what lies in a hollow between others is bridged."""
    kept: list[FloatArray] = []
    for point in line:
        while len(kept) > 1:
            (ax, ay), (bx, by) = kept[-1] - kept[-2], point - kept[-1]
            if ax * by - ay * bx < 0.0:
                break
            kept.pop()
        kept.append(point)
    return np.array(kept)


def _foot(form: EdgeForm) -> float:
    """How far out of the corner the foot of the side lies."""
    turn = np.deg2rad(form.turn_deg)
    return float(form.thickness * np.cos(turn) / np.sin(turn))


def _rim(form: EdgeForm, edge_mm: float) -> tuple[FloatArray, IntArray]:
    """The section's rim, counter-clockwise from the bottom far inside (r, 2), and the numbers of those of its points
    that the cover lies on, from the top far inside to the foot of the side."""
    reach = max(REACH_MM, 1.5 * form.thickness)
    turn = np.deg2rad(form.turn_deg)
    foot = np.array([_foot(form), -form.thickness])
    down = np.array([np.cos(turn), -np.sin(turn)])
    cut = min(form.roll_mm * np.tan(0.5 * turn), 0.95 * float(np.linalg.norm(foot)), 0.95 * reach)
    radius = cut / np.tan(0.5 * turn)
    runs = [_run(np.array([-reach, 0.0]), np.array([-cut, 0.0]), edge_mm)]
    if radius > 0.0:
        angle = np.linspace(0.0, turn, max(int(np.ceil(radius * turn / edge_mm)), 2) + 1)
        runs.append(np.array([-cut, -radius]) + radius * np.column_stack([np.sin(angle), np.cos(angle)])[:-1])
    runs.append(_run(cut * down, foot, edge_mm))
    lies = np.concatenate([*runs, foot[None]])
    below = _run(np.array([-reach, -form.thickness]), foot, edge_mm)
    behind = _run(np.array([-reach, 0.0]), np.array([-reach, -form.thickness]), edge_mm)
    rim = np.concatenate([below, lies[::-1], behind[1:]])
    return rim, len(below) + np.arange(len(lies))[::-1]


def _run(start: FloatArray, end: FloatArray, edge_mm: float) -> FloatArray:
    """Points from start to end, without the end."""
    count = max(int(np.ceil(float(np.linalg.norm(end - start)) / edge_mm)), 1)
    return start + (np.arange(count) / count)[:, None] * (end - start)


class _EdgeSearch:
    """Newton's method on foam energy + tension x length of the cover."""

    def __init__(self, solid: PlaneSolid, cover: IntArray, tension: float, free: BoolArray) -> None:
        self.solid, self.cover, self.tension = solid, cover, tension
        self.free = np.flatnonzero(free)

    def energy(self, at: FloatArray) -> float:
        return self.solid.energy(at) + self.tension * _length(at[self.cover])

    def run(self, at: FloatArray) -> tuple[FloatArray, Status]:
        energy = self.energy(at)
        small = _EDGE_PROMISE * self.tension * _length(at[self.cover])
        for _ in range(EDGE_STEPS_MOST):
            slope, stiffness = self._derivatives(at)
            step = -Factor(stiffness).solve(slope)
            promise = -float(slope @ step)
            moved = self._along(at, step, energy, promise)
            if promise <= small:
                return at if moved is None else moved[0], Status(Ending.CONVERGED, promise / max(energy, 1e-300))
            if moved is None:
                return at, Status(Ending.NO_DESCENT, promise / max(energy, 1e-300))
            at, energy = moved
        return at, Status(Ending.STEPS, promise / max(energy, 1e-300))

    def _along(
        self, at: FloatArray, step: FloatArray, energy: float, promise: float
    ) -> tuple[FloatArray, float] | None:
        whole = np.zeros(at.size)
        whole[self.free] = step
        share = 1.0
        for _ in range(_EDGE_HALVINGS):
            there = at + share * whole.reshape(at.shape)
            new = self.energy(there)
            if new <= energy - _EDGE_SAVED * share * promise:
                return there, new
            share *= 0.5
        return None

    def _derivatives(self, at: FloatArray) -> tuple[FloatArray, sparse.csc_matrix]:
        state = self.solid.state(at)
        line = at[self.cover]
        way = np.diff(line, axis=0)
        long = np.linalg.norm(way, axis=1)
        way = way / long[:, None]
        a, b = 2 * self.cover[:-1, None] + np.arange(2), 2 * self.cover[1:, None] + np.arange(2)
        slope = state.slope.copy()
        np.add.at(slope, a, -self.tension * way)
        np.add.at(slope, b, self.tension * way)
        across = self.tension * (np.eye(2) - way[:, :, None] * way[:, None, :]) / long[:, None, None]
        both = np.concatenate([a, b], axis=1)
        block = np.concatenate(
            [np.concatenate([across, -across], axis=2), np.concatenate([-across, across], axis=2)], axis=1
        )
        rows, cols = np.repeat(both, 4, axis=1).ravel(), np.tile(both, (1, 4)).ravel()
        stretched = sparse.coo_matrix((block.ravel(), (rows, cols)), shape=state.stiffness.shape).tocsr()
        whole = (state.stiffness + stretched)[self.free][:, self.free]
        return slope[self.free], whole.tocsc()
