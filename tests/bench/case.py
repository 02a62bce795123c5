"""One measurement in a process of its own: `python -m tests.bench.case SHAPE SIZE METHOD` prints one line of JSON.

A process of its own keeps peak memory and warm caches of one case out of the next. Each method is warmed up on a small
mesh first, so that imports do not count; small cases count the best of three runs.
"""

import json
import resource
import sys
from collections.abc import Callable
from typing import Any

import flatten
from flatten.demand.methods import NEAR
from flatten.demand.options import Aim, Options
from flatten.leather.stretch import stretch
from flatten.maps.relax import CONVERGED, RelaxOptions, relax
from flatten.maps.start import starts
from meshes.base.arrays import FloatArray, IntArray
from tests.bench import peers
from tests.bench.sizes import SIZES, mesh

# Cases below this many triangles are repeated.
REPEATED, RUNS = 50_000, 3


def ours(
    seat: FloatArray, triangles: IntArray, *, aim: Aim, prove: bool = False, tolerance: float = NEAR
) -> peers.Made:
    """The whole of `flatten.flatten`: checks, first map, optimum, floor where `prove`, certificate.

    tolerance: promised share of the energy at which least energy ends. `NEAR` is far closer than a peer comes by its
    own rule (the energies are printed), and what a search for least demand begins at.
    """
    begin = peers.clock()
    flat = flatten.flatten(seat, triangles, options=Options(aim=aim, prove=prove, tolerance=tolerance))
    seconds = peers.clock() - begin
    assert flat.certified
    return peers.Made(flat.points, seconds, flat.made.steps)


def least_energy(seat: FloatArray, triangles: IntArray) -> peers.Made:
    """First map and least energy alone, timed as the peers are: without checking the mesh or proving the piece.

    It ends where a search for least demand would begin, far closer to the optimum than a peer comes by its own rule:
    the energies are printed.
    """
    begin = peers.clock()
    start = next(starts(seat, triangles))
    found = relax(seat, start.points, triangles, RelaxOptions(order=start.order, done=NEAR))
    return peers.Made(found.points, peers.clock() - begin, found.steps)


def meshlab_conformal(seat: FloatArray, triangles: IntArray) -> peers.Made:
    return peers.meshlab("compute_texcoord_parametrization_least_squares_conformal_maps", seat, triangles)


def meshlab_harmonic(seat: FloatArray, triangles: IntArray) -> peers.Made:
    return peers.meshlab("compute_texcoord_parametrization_harmonic", seat, triangles)


METHODS: dict[str, Callable[[FloatArray, IntArray], peers.Made]] = {
    "energy": least_energy,
    "energy scipy": least_energy,
    "piece of least energy": lambda v, t: ours(v, t, aim=Aim.ENERGY, tolerance=CONVERGED),
    "whole": lambda v, t: ours(v, t, aim=Aim.DEMAND, prove=True),
    "whole scipy": lambda v, t: ours(v, t, aim=Aim.DEMAND, prove=True),
    "slim lscm": peers.slim_from_lscm,
    "slim circle": peers.slim_from_circle,
    "arap": peers.arap,
    "lscm": peers.lscm,
    "meshlab lscm": meshlab_conformal,
    "meshlab harmonic": meshlab_harmonic,
}


def measured(shape: str, size: str, method: str) -> dict[str, Any]:
    """Figures of one case: seconds, rounds, energy, demand, peak memory in MB of this process."""
    run = METHODS[method]
    run(*mesh(shape, 1500))
    seat, triangles = mesh(shape, SIZES[size])
    begun = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    made = run(seat, triangles)
    if len(triangles) < REPEATED:
        made = min([made] + [run(seat, triangles) for _ in range(RUNS - 1)], key=lambda m: m.seconds)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    demand = peers.demand(seat, triangles, made.points)
    energy = float("inf")
    if made.points is not None and demand < float("inf"):
        energy = stretch(seat, made.points, triangles).energy
    return {
        "shape": shape,
        "size": size,
        "method": method,
        "triangles": len(triangles),
        "seconds": made.seconds,
        "rounds": made.rounds,
        "energy": energy,
        "demand": demand,
        "peak_mb": peak / 1024,
        "before_mb": begun / 1024,
    }


if __name__ == "__main__":
    print(json.dumps(measured(*sys.argv[1:4])))
