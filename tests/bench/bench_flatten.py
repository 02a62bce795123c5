"""How long flattening takes, as ratios against libigl's SLIM on the same meshes.

Run: python -m pytest tests/bench/bench_flatten.py --benchmark-only -s
"""

import time

import igl
import numpy as np
import pytest

import flatten
from flatten.start import circle
from flatten.stretch import stretch
from tests import shapes

SIZES = {"5k": 29, "20k": 58, "80k": 116}


def slim_to(energy, seat, triangles, *, most=200):
    """Seconds and rounds libigl's SLIM takes from a circle to within 1e-4 of the energy's excess over 4."""
    begin = time.perf_counter()
    round_ = circle(seat, triangles)
    start = round_ * np.sqrt(stretch(seat, round_, triangles).values.prod(axis=1).mean())
    data = igl.slim_precompute(
        np.asfortranarray(seat),
        np.asfortranarray(triangles.astype(np.int32)),
        np.asfortranarray(start),
        igl.MappingEnergyType.SYMMETRIC_DIRICHLET,
        np.zeros(0, dtype=np.int32),
        np.asfortranarray(np.zeros((0, 2))),
        0.0,
    )
    rounds = 0
    while rounds < most:
        rounds += 1
        points = np.asarray(igl.slim_solve(data, 1))[:, :2]
        if stretch(seat, points, triangles).energy <= energy + 1e-4 * (energy - 4.0):
            break
    return time.perf_counter() - begin, rounds


@pytest.mark.parametrize("size", SIZES)
def test_flatten_a_cap(benchmark, size):
    seat, triangles = shapes.cap(1.0, rings=SIZES[size])
    flat = benchmark.pedantic(flatten.flatten, (seat, triangles), rounds=3, warmup_rounds=1)
    seconds, rounds = slim_to(flat.energy, seat, triangles)
    ours = benchmark.stats.stats.min
    benchmark.extra_info["slim_over_ours"] = seconds / ours
    print(
        f"\n{len(triangles)} triangles: ours {ours:.2f} s in {flat.steps} steps to rounding, SLIM {seconds:.2f} s in "
        f"{rounds} rounds to 1e-4 of the excess: {seconds / ours:.1f} times ours"
    )
    assert flat.certified
