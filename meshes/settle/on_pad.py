"""A cut as the whole pad lies in it: in hollows the cover across the cut holds it down, or up, and the cut obeys."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely
from scipy import sparse
from scipy.sparse import csgraph
from scipy.spatial import cKDTree
from shapely import LineString

from meshes.base.arrays import FloatArray, IntArray
from meshes.numerics.contours import contours
from meshes.records.pad import Pad
from meshes.settle.section import LIFT_SEEN_MM, Section, SectionLift, at_rest, section_of
from meshes.settle.section_line import Cut, SectionLine
from meshes.settle.settle import Conditions
from meshes.support.chart import MakeProblem

# Places of a mesh along a cut that are this near belong together, mm.
_TOGETHER_MM = 25.0


def section_of_pad(
    pad: Pad,
    drawn: Section,
    along: "LiftAlong",
    *,
    tension_n_per_mm: float,
    line: Callable[[], SectionLine],
    make_problem: MakeProblem,
) -> Section:
    """The cut `drawn` again, its cover held where the whole pad's cover stands off, as far as that does, and down
    elsewhere, where only the cut for itself would lift: in hollows what pulls across decides.

    line: gives the cut before anything presses, asked only where it matters. Raises ProblemError when the cover does
    not come to rest.
    """
    if drawn.settled is None:
        return drawn
    alone, on_pad = drawn.settled.lift_mm, along.lift_at(drawn.cover)
    off, down = on_pad > LIFT_SEEN_MM, alone > np.maximum(on_pad, 0.5 * LIFT_SEEN_MM)
    if not (off | down).any():
        return drawn
    ground = line()
    ends = np.isin(np.arange(len(off)), ground.fixed)
    fixed, tied = np.flatnonzero(off | ends), np.union1d(np.flatnonzero(down & ~off), ground.tied)
    free = ground.stack.free_mm()
    held = Conditions(
        fixed=fixed,
        fixed_mm=free[fixed] + np.where(ends, 0.0, on_pad)[fixed],
        tied=tied,
        tied_mm=free[tied] + np.where(np.isin(tied, ground.tied), 0.0, on_pad[tied]),
        start_mm=drawn.settled.heights_mm,
    )
    settled = at_rest(ground, tension_n_per_mm, held, make_problem)
    return section_of(pad, drawn.cut, ground, settled, tension_n_per_mm)


@dataclass(frozen=True, eq=False)
class LiftAlong:
    """How far a whole pad's settled cover stands off its padding along a cut: lines of (k, 3) place, height, lift mm.

    The cut solved for itself knows nothing of the pull across it, which brings the cover down into a trough that runs
    out over both sides, and lifts it further over a bowl.
    """

    lines: tuple[FloatArray, ...]

    @classmethod
    def of(cls, points: FloatArray, lift_mm: FloatArray, triangles: IntArray, cut: Cut) -> "LiftAlong":
        """Along a cut, from the whole cover: points (n, 3), lift (n,)."""
        off, axes = (0, [1, 2]) if cut.direction == "along" else (1, [0, 2])
        met = contours(np.column_stack([points[:, axes], lift_mm]), triangles, points[:, off], cut.at)
        return cls(tuple(line for line in met if len(line) > 1))

    def lift_at(self, points: FloatArray) -> FloatArray:
        """The lift (k,) at the places of the cover nearest to points (k, 2) of the cut."""
        found, near = np.zeros(len(points)), np.full(len(points), np.inf)
        for line in self.lines:
            drawn, at = LineString(line[:, :2]), shapely.points(points)
            far, place = shapely.distance(drawn, at), shapely.line_locate_point(drawn, at)
            arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line[:, :2], axis=0), axis=1))])
            found = np.where(far < near, np.interp(place, arc, line[:, 2]), found)
            near = np.minimum(near, far)
        return np.asarray(found)

    def lifts(self) -> tuple[SectionLift, ...]:
        """The places where the cover stands off by what a trimmer sees, by falling gap."""
        met = np.concatenate([*self.lines, np.zeros((0, 3))])
        met = met[met[:, 2] > LIFT_SEEN_MM]
        place, gap = met[:, :2], met[:, 2]
        if not len(gap):
            return ()
        pairs = cKDTree(place).query_pairs(_TOGETHER_MM, output_type="ndarray")
        near = sparse.coo_matrix((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(gap), len(gap)))
        part = csgraph.connected_components(near, directed=False)[1]
        lifts = []
        for number in range(int(part.max()) + 1):
            here = np.flatnonzero(part == number)
            worst = here[int(np.argmax(gap[here]))]
            long = float(np.linalg.norm(np.ptp(place[here], axis=0)))
            lifts.append(SectionLift((float(place[worst, 0]), float(place[worst, 1])), float(gap[worst]), long))
        return tuple(sorted(lifts, key=lambda lift: (-lift.gap_mm, -lift.at[0])))
