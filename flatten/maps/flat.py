"""A flat map of one panel with all that is known of it: the record that pieces, report and papers read."""

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from flatten.leather.verdict import Judged, Over, Verdict
from flatten.maps.certify import Certificate
from meshes.base.arrays import FloatArray, IntArray
from meshes.base.problems import Problem
from meshes.numerics.status import Status


class Method(StrEnum):
    """How a map was made. The first is the usual one; each of the others stands in where those before it lose their
    certificate (flatten/demand/methods.py)."""

    LEAST_DEMAND = "least demand"
    LEAST_ENERGY = "least energy"
    RIM_KEPT_APART = "least energy, rim kept apart"
    FOLD_FREE_START = "fold-free start"


@dataclass(frozen=True)
class Made:
    """How a map was made: the method, its Newton steps, how its search ended, and the seconds that all of it took."""

    method: Method
    steps: int
    status: Status
    seconds: float


@dataclass(frozen=True)
class MapFigures:
    """Figures of a map. demand: a fraction, largest / smallest stretch - 1; p995: the stretch that 0.5 % of the seat's
    area exceeds; energy: area-weighted mean of s1^2 + s2^2 + s1^-2 + s2^-2; areas of the panel and of the piece."""

    demand: float
    p995: float
    energy: float
    area_seat_mm2: float
    area_piece_mm2: float


@dataclass(frozen=True)
class Trouble:
    """Where a floor is proven: the number of the vertex in its middle, the radius mm of the disc or circle there, and
    kind, "disc" on a dome, "circle" on a saddle."""

    vertex: int
    radius_mm: float
    kind: str


@dataclass(frozen=True)
class Straightening:
    """What straight lines cost one piece, fractions of demand: paid, by how much its demand is higher than it need be;
    asks, how much more it would be with all of its lines straight as far as was found, 0 where they are, None where
    none was found within what the leather gives."""

    paid: float
    asks: float | None

    def within(self, demand: float, budget: float | None) -> "Straightening":
        """The same of a piece with this demand: what would take it beyond the budget told of it is not given."""
        beyond = self.asks and budget is not None and demand + self.asks > budget
        return replace(self, asks=None) if beyond else self


@dataclass(frozen=True)
class ProvenFloor:
    """demand: a fraction that no piece in one part can do with less than; trouble: where that is proven, None when
    nothing above 0 is."""

    demand: float
    trouble: Trouble | None


@dataclass(frozen=True, eq=False)
class Flat:
    """A flat map with its figures.

    points (n, 2) mm in the order of the vertices, seen from the outer side; triangles (m, 3); stretch (m, 2), length
    on the seat / length on the piece, larger first; along (m, 2): unit direction on the piece of the larger stretch;
    backbone (2,): unit direction on the piece that the hide's backbone should follow, None when the leather gives alike
    in all directions as far as is known; judgement: what its leather says to it; certificate: that it is one-to-one;
    lower: what any piece's demand cannot be below, None when that was not asked for; made: how it was made; remarks:
    what is remarkable about a mesh from outside, rough or inside out; straightening: what straight lines cost, None
    when that was not asked for.
    """

    points: FloatArray
    triangles: IntArray
    stretch: FloatArray
    along: FloatArray
    backbone: FloatArray | None
    figures: MapFigures
    judgement: Judged
    certificate: Certificate
    lower: ProvenFloor | None
    made: Made
    remarks: tuple[str, ...] = ()
    straightening: Straightening | None = None

    @property
    def demand(self) -> float:
        """Largest stretch / smallest stretch - 1, a fraction."""
        return self.figures.demand

    @property
    def floor(self) -> float | None:
        """A proven lower limit of any piece's demand, a fraction; None when none was asked for."""
        return None if self.lower is None else self.lower.demand

    @property
    def trouble(self) -> Trouble | None:
        """Where the floor is proven."""
        return None if self.lower is None else self.lower.trouble

    @property
    def budget(self) -> float | None:
        """The demand that the leather gives, a fraction; None without a leather."""
        return self.judgement.budget

    @property
    def verdict(self) -> Verdict | None:
        """Whether the leather takes the piece; None without a leather."""
        return self.judgement.verdict

    @property
    def use(self) -> FloatArray | None:
        """Share (m,) of the leather's budget that each triangle uses; None without a leather."""
        return self.judgement.use

    @property
    def over(self) -> Over | None:
        """Where the piece is over its budget, None where it is not."""
        return self.judgement.over

    @property
    def certified(self) -> bool:
        """Whether the map is proven one-to-one."""
        return self.certificate.holds

    @property
    def flipped(self) -> int:
        """Triangles that are flat or turned over."""
        return self.certificate.flipped

    def unconverged(self, where: str) -> Problem | None:
        """The warning that the search ended early, None when it did not; the piece is certified all the same."""
        return unconverged(where, self.made.status)


def mirrored(flat: Flat) -> Flat:
    """The map turned over: x changes sign and every triangle is wound the other way; all figures stay."""
    over = np.array([-1.0, 1.0])
    return replace(
        flat,
        points=flat.points * over,
        triangles=flat.triangles[:, [0, 2, 1]],
        along=flat.along * over,
        backbone=None if flat.backbone is None else flat.backbone * over,
    )


def unconverged(where: str, status: Status) -> Problem | None:
    """The warning that a search ended before the least was reached, None when it was reached."""
    if status.converged:
        return None
    return Problem("F201", where, f"the search for the best piece ended early: {status}", warning=True)
