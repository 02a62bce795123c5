"""What may be asked of a flat map beyond the shape of its panel."""

from dataclasses import dataclass
from enum import StrEnum

from flatten.demand.least_demand import GAP
from flatten.demand.length_penalty import RimLengths
from flatten.maps.flat import Straightening
from flatten.maps.relax import CONVERGED
from meshes.base.arrays import FloatArray, IntArray
from meshes.numerics.status import Status


class Aim(StrEnum):
    """What the search makes least."""

    DEMAND = "least demand"
    ENERGY = "least energy"


@dataclass(frozen=True, eq=False)
class PrecomputedMap:
    """A map of least demand that was found together with those of its neighbours: points (n, 2) mm, the backbone's
    direction (2,) on it, the Newton steps it took, how the search ended, and what straight lines cost."""

    points: FloatArray
    backbone: FloatArray
    steps: int
    status: Status
    straightening: Straightening | None = None


@dataclass(frozen=True, eq=False)
class Options:
    """Options of `flatten.demand.develop.flatten`.

    mirror (n,): the vertex that mirrors each one, for a panel that is the same left and right; rim: lengths its edges
    should have; start (n, 2) mm: a good map to begin at; gap: how close to the least demand, as a share of it; prove:
    whether a lower limit of the demand is proven too; aim: what is made least; grain (3,): direction on the seat that
    the backbone should follow, any when not given; window_deg: by how much it may lie off that, to either side;
    precomputed: the map itself, when it has been found already; tolerance: share of the energy that is not worth
    another step towards the least, for a map that is but a start; runs: vertices along every edge in which fullness can
    be worked, the whole rim when not given.
    """

    mirror: IntArray | None = None
    rim: RimLengths | None = None
    start: FloatArray | None = None
    gap: float = GAP
    prove: bool = True
    aim: Aim = Aim.DEMAND
    grain: FloatArray | None = None
    window_deg: float = 0.0
    precomputed: PrecomputedMap | None = None
    tolerance: float = CONVERGED
    runs: tuple[IntArray, ...] | None = None
