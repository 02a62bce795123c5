"""The height at which a taut cover comes to rest on padding: Newton's method on one energy, with an honest status.

Energy = tension x size of the cover, cell by cell, + energy of the padding columns under it; columns only push. Padding
is integrated in places between the vertices (`Contact`), so that a linear foam gives the full matrix of linear
elements, and contact may begin inside a cell. The energy has continuous slopes but kinks in its second ones where the
cover begins to touch, so this is a semismooth Newton method (Qi and Sun 1993) with a line search: energy never
increases.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy import sparse

from meshes.base.arrays import BoolArray, FloatArray, IntArray
from meshes.base.progress import look_up
from meshes.numerics.solver import Factor, SingularError
from meshes.numerics.status import Ending, Status
from meshes.records.compression import Columns, Response
from meshes.settle.tension import TautCover, without_push

KPA = 1e-3  # N/mm2
NEWTON_STEPS_MOST = 100
MOST_HALVINGS = 30
# At rest: what forces remain, as a share of the cover's first pull on the padding, or no place moves by more than this.
RESIDUAL = 1e-9
STILL_MM = 1e-7
# What a step promises to save, as a share of the whole energy, below which rounding hides it: nothing is left to gain.
ENERGY_ROUNDING = 1e-12
# A search whose savings rounding hides goes on as long as it can while more than this share of the first pull is left:
# on nearly level ground the whole pull is that small.
_LITTLE = 1e-6
# A step must save at least this share of what its slope promises (Armijo).
_SAVED = 1e-4


@dataclass(frozen=True, eq=False)
class Contact:
    """Where padding pushes on the cover. spread (q, n): the height at every place from those of the vertices;
    weight (q,): area (mm2) or length (mm) a place stands for; free (q,): height at which it just touches; columns: the
    q columns of padding below."""

    spread: sparse.csr_matrix
    weight: FloatArray
    free: FloatArray
    columns: Columns


@dataclass(frozen=True, eq=False)
class CoverProblem:
    """A cover whose equilibrium is looked for.

    contact: None where no padding lies under it; tension_n_per_mm: one for the whole cover, or one for each cell (m,);
    free (n,): vertices that may move, the others keep their heights; push_n (n,): forces on the cover against the
    directors, N (in section N per mm of width), None for none.
    """

    cover: TautCover
    contact: Contact | None
    tension_n_per_mm: float | FloatArray
    free: BoolArray
    push_n: FloatArray | None = None


@dataclass(frozen=True, eq=False)
class Equilibrium:
    """Where the search ended. heights (n,); energy: after every step, N mm (per mm of width in section);
    factorisations: sparse ones done; status: its gap is the residual, the forces left as a share of the cover's pull at
    the start."""

    heights: FloatArray
    energy: tuple[float, ...]
    factorisations: int
    status: Status


def find_equilibrium(problem: CoverProblem, start: FloatArray, *, residual: float = RESIDUAL) -> Equilibrium:
    """Let a cover settle from the heights `start` (n,); residual: forces that may be left, as a share of the cover's
    first pull. A search that does not end says so in its status."""
    return _NewtonSearch(problem).run(start, residual)


def forces(problem: CoverProblem, heights: FloatArray) -> FloatArray:
    """Slope of the energy at every vertex (n,), those that are held as well, N (per mm of width in section): above 0
    where the cover would go down if it were let go."""
    everywhere = replace(problem, free=np.ones(problem.cover.count, dtype=bool))
    search = _NewtonSearch(everywhere)
    search.start = heights
    return search.slope(heights)[0]


class _NewtonSearch:
    def __init__(self, problem: CoverProblem) -> None:
        cover, contact, free = problem.cover, problem.contact, problem.free
        self.cover, self.contact, self.free = cover, contact, free
        self.push = np.zeros(cover.count) if problem.push_n is None else problem.push_n
        self.tension = np.broadcast_to(np.asarray(problem.tension_n_per_mm, dtype=np.float64), len(cover.cells))
        self.number = np.where(free, np.cumsum(free) - 1, -1)
        self.kpa: FloatArray | None = None
        # What the padding answers at the heights last asked for, which its energy, slope and bend share.
        self.answer: tuple[FloatArray, Response] | None = None
        self.factorisations = 0
        cells = self.number[cover.cells]
        k = cells.shape[1]
        rows, cols = np.repeat(cells, k, axis=1).ravel(), np.tile(cells, (1, k)).ravel()
        self.kept = (rows >= 0) & (cols >= 0)
        self.rows, self.cols = rows[self.kept], cols[self.kept]
        if contact is not None:
            self.spread = contact.spread[:, free].tocsr()

    def run(self, start: FloatArray, aim: float) -> Equilibrium:
        heights = start.copy()
        self.at_start, self.start = self.cover.size(heights), start
        energy, slope, pull = self.energy(heights), *self.slope(heights)
        told, first = [energy], max(_largest(pull), 1e-300)
        ending = Ending.CONVERGED
        while _largest(slope) > aim * first:
            look_up()
            step = self.step(heights, slope)
            promise = -float(slope @ step)
            hidden = promise <= ENERGY_ROUNDING * float(self.tension @ self.at_start)
            if _largest(step) <= STILL_MM or (hidden and _largest(slope) <= _LITTLE * first):
                heights, slope = self._polished(heights, slope, step)
                break
            moved = self._along(heights, step, energy, promise)
            # What rounding hides may pass for no loss for ever, without a gain.
            if moved is None or (hidden and moved[1] >= energy):
                ending = Ending.CONVERGED if hidden else Ending.NO_DESCENT
                break
            heights, energy = moved
            told.append(energy)
            slope, _ = self.slope(heights)
            if len(told) > NEWTON_STEPS_MOST:
                ending = Ending.STEPS
                break
        status = Status(ending, _largest(slope) / first)
        return Equilibrium(heights, tuple(told), self.factorisations, status)

    def _polished(self, heights: FloatArray, slope: FloatArray, step: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Take a last step, too small for the energy to tell, if it leaves less force."""
        there = heights.copy()
        there[self.free] += step
        left, _ = self.slope(there)
        return (there, left) if _largest(left) < _largest(slope) else (heights, slope)

    def energy(self, heights: FloatArray) -> float:
        """Energy counted from a cover of the size it had at the start, so that digits are left for small steps."""
        total = float(self.tension @ (self.cover.size(heights) - self.at_start))
        total += float(self.push @ (heights - self.start))
        if self.contact is not None:
            total += KPA * float(self.contact.weight @ self._respond(heights).energy)
        return total

    def _respond(self, heights: FloatArray) -> Response:
        contact = self.contact
        assert contact is not None
        if self.answer is not None and np.array_equal(self.answer[0], heights):
            return self.answer[1]
        response = contact.columns.respond(contact.free - contact.spread @ heights, self.kpa)
        self.kpa, self.answer = response.pressure_kpa, (heights.copy(), response)
        return response

    def slope(self, heights: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Slope of the energy over the free heights, and the cover's own part of it."""
        along, _ = self.cover.slopes(heights)
        pull = gathered(self.cover.cells.ravel(), (self.tension[:, None] * along).ravel(), self.cover.count)
        pull = (pull + self.push)[self.free]
        if self.contact is None:
            return pull, pull
        press = KPA * (self.spread.T @ (self.contact.weight * self._respond(heights).pressure_kpa))
        return pull - press, pull

    def step(self, heights: FloatArray, slope: FloatArray) -> FloatArray:
        """The Newton step; with the concave part of the tension left out where the energy is not convex."""
        for convex in (False, True):
            self.factorisations += 1
            try:
                factor = Factor(self.bend(heights, convex=convex))
                step = -factor.solve(slope) if factor.definite else None
            except SingularError:
                continue
            if step is not None and float(step @ slope) < 0:
                return step
        return -slope

    def bend(self, heights: FloatArray, *, convex: bool) -> sparse.csc_matrix:
        """Second slopes of the energy over the free heights; convex: without the concave part of the tension, so that
        they curve upward in every direction."""
        _, second = self.cover.slopes(heights)
        if convex:
            second = without_push(second)
        n = int(self.free.sum())
        values = (self.tension[:, None, None] * second).ravel()[self.kept]
        matrix = sparse.coo_matrix((values, (self.rows, self.cols)), shape=(n, n)).tocsc()
        if self.contact is not None:
            stiff = KPA * self.contact.weight * self._respond(heights).stiffness
            matrix = matrix + (self.spread.T @ sparse.diags_array(stiff) @ self.spread).tocsc()
        if convex:
            matrix = matrix + 1e-9 * float(np.abs(matrix.diagonal()).max()) * sparse.identity(n, format="csc")
        return sparse.csc_matrix(matrix)

    def _along(
        self, heights: FloatArray, step: FloatArray, energy: float, promise: float
    ) -> tuple[FloatArray, float] | None:
        """Go along a step as far as energy falls and no cell turns over."""
        whole = np.zeros(self.cover.count)
        whole[self.free] = step
        outward = self.cover.upright(heights)
        share = 1.0
        for _ in range(MOST_HALVINGS):
            there = heights + share * whole
            if self.cover.upright(there)[outward].all():
                new = self.energy(there)
                if new <= energy - _SAVED * share * promise:
                    return there, new
            share *= 0.5
        return None


def _largest(values: FloatArray) -> float:
    return float(np.abs(values).max(initial=0.0))


def gathered(owner: IntArray, values: FloatArray, count: int) -> FloatArray:
    """Sums of the values that belong to each of `count` owners."""
    return np.asarray(np.bincount(owner, values, count), dtype=np.float64)


def combined(rows: IntArray, share: FloatArray, count: int) -> sparse.csr_matrix:
    """Places between vertices as a matrix (q, n): rows (q, k) vertices, share (q, k) of each."""
    q, k = rows.shape
    return sparse.csr_matrix((share.ravel(), rows.ravel(), np.arange(0, q * k + 1, k)), shape=(q, count))
