"""How long a pad's cover takes to settle: 15 000, 60 000 and 240 000 triangles, time per factorisation and growth.

Run: python -m pytest tests/bench/bench_settle.py --benchmark-only -s
"""

import time

import numpy as np

from meshes.base.problems import Problem
from meshes.padding.layers import edge_thickness
from meshes.padding.support_mesh import support_mesh
from meshes.records.materials import BUILT_IN
from meshes.settle.pad import PadRest, settle_pad
from meshes.support.blocks import face_of
from meshes.support.chart import pad_chart
from meshes.support.face import is_even
from tests.pads import sheet_of

# A sprung back of a bench whose springs stop short of its top rail, crooked so that no half is saved. Invented.
BACK = """
name = "bench"
[[pad]]
name = "back"
kind = "backrest"
[pad.outline]
bottom_left = 560
bottom_right = 555
top_left = 540
top_right = 545
depth_left = 430
depth_right = 430
corner_radius = 90
[[pad.profile]]
direction = "along"
points = [[0, 0], [110, 17], [230, 21], [430, 0]]
[pad.support]
kind = "springs"
rate_kpa_per_mm = 0.1
[pad.sides.bottom]
drop = 60
edge_radius = 14
closed_by_hand = true
[pad.sides.left]
drop = 80
edge_radius = 14
[pad.sides.right]
drop = 80
edge_radius = 14
[pad.sides.top]
drop = 95
edge_radius = 14
turn = 150
gap = 70
[[pad.layer]]
material = "wadding"
thickness = 6
[[pad.layer]]
material = "foam_medium"
thickness = 25
"""
EDGES_MM = {"15k": 11.35, "60k": 5.6, "240k": 2.79}
# The whole of a solve may grow no faster than this with the number of triangles; a plane mesh's factors grow as n^1.5.
MOST_GROWTH = 1.5
MOST_FACTORISATIONS = 15


def settled(edge_mm: float) -> tuple[int, float, PadRest]:
    """Triangles, seconds of settling alone, and what came of it."""
    (pad,) = sheet_of(BACK).pads

    def make_problem(code: str, keys: tuple[str | int, ...], text: str) -> Problem:
        return Problem(code, pad.name, text)

    assert not is_even(pad)
    chart = pad_chart(pad, edge_thickness(pad), make_problem)
    meshed = support_mesh(pad, chart, face_of(pad), make_problem, edge_mm=edge_mm)
    begin = time.perf_counter()
    rest = settle_pad(meshed, BUILT_IN, tension_n_per_mm=0.15, make_problem=make_problem)
    return len(meshed.mesh.triangles), time.perf_counter() - begin, rest


def test_settling_takes_few_factorisations_and_grows_gently(benchmark):
    settled(EDGES_MM["15k"])
    rows = [settled(edge) for edge in (EDGES_MM["15k"], EDGES_MM["240k"])]
    middle = benchmark.pedantic(settled, (EDGES_MM["60k"],), rounds=1)
    rows.insert(1, middle)
    for triangles, seconds, rest in rows:
        done = rest.settled
        each = seconds / done.factorisations
        print(
            f"\n{triangles} triangles: {seconds:.2f} s, {done.steps} steps, {done.factorisations} factorisations, "
            f"{each:.3f} s for each",
            end="",
        )
        assert done.converged
        assert done.factorisations <= MOST_FACTORISATIONS
    growth = [np.polyfit(np.log([r[0] for r in rows]), np.log(values), 1)[0] for values in (
        [seconds for _, seconds, _ in rows],
        [seconds / rest.settled.factorisations for _, seconds, rest in rows],
    )]  # fmt: skip
    print(f"\ntime grows as triangles^{growth[0]:.2f}, time per factorisation as triangles^{growth[1]:.2f}")
    assert growth[1] < MOST_GROWTH
