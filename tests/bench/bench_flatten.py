"""How long flattening takes, in one short run that can fail; `python -m tests.bench` prints the whole table.

Run: python -m pytest tests/bench/bench_flatten.py --benchmark-only -s
"""

import numpy as np
import pytest

import flatten
from flatten.demand.options import Aim, Options
from flatten.leather.stretch import stretch
from tests.bench import peers
from tests.bench.sizes import SHAPES, SIZES, mesh

SIZE = "20k"


@pytest.mark.parametrize("shape", SHAPES)
def test_least_energy_is_found_sooner_than_by_slim(benchmark, shape):
    seat, triangles = mesh(shape, SIZES[SIZE])
    options = Options(aim=Aim.ENERGY, prove=False)
    flat = benchmark.pedantic(
        flatten.flatten, (seat, triangles), {"options": options}, rounds=3, warmup_rounds=1, iterations=1
    )
    slim = min((peers.slim_from_lscm(seat, triangles) for _ in range(2)), key=lambda made: made.seconds)
    ours = benchmark.stats.stats.min
    benchmark.extra_info["slim_over_ours"] = slim.seconds / ours
    print(
        f"\n{shape}, {len(triangles)} triangles: ours {ours:.3f} s in {flat.made.steps} steps, SLIM "
        f"{slim.seconds:.2f} s in {slim.rounds} rounds: {slim.seconds / ours:.1f} times ours"
    )
    assert flat.certified
    assert slim.points is not None
    assert np.all(np.isfinite(slim.points))
    assert flat.figures.energy <= stretch(seat, slim.points, triangles).energy * (1 + 1e-12)
    assert ours < slim.seconds
