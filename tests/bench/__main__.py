"""The speed table: `python -m tests.bench` (see DEVELOPERS.md).

Our least energy, our piece of least energy (checked, to rounding, certified) and our whole piece (least demand and
floor too) against libigl's SLIM, ARAP and LSCM on five shapes, by geometric means; each case runs in a process of its
own.
"""

import argparse
import json
import os
import subprocess
import sys
from typing import Any

import numpy as np

from tests.bench.commands import command_times
from tests.bench.layouts import compared
from tests.bench.sizes import SHAPES, SIZES

OURS = ("energy", "energy scipy", "piece of least energy", "whole")
PEERS = ("slim lscm", "slim circle", "arap", "lscm")
MAPS_ONLY = ("meshlab lscm", "meshlab harmonic")
# SciPy's solver is not asked for the largest meshes, and PyMeshLab is asked for its maps at one size alone.
LEFT_OUT = {("energy scipy", "1000k"), *((m, s) for m in MAPS_ONLY for s in SIZES if s != "5k")}

Case = dict[str, Any]


def run(shape: str, size: str, method: str, *, clock: str = "wall") -> Case:
    """One case in a child process with one thread for dense algebra."""
    solver = "scipy" if method.endswith("scipy") else "cholmod"
    environment = os.environ | {"OPENBLAS_NUM_THREADS": "1", "TRIMLOFT_SOLVER": solver, "BENCH_CLOCK": clock}
    command = [sys.executable, "-m", "tests.bench.case", shape, size, method]
    done = subprocess.run(command, capture_output=True, text=True, env=environment, check=False)
    if done.returncode:
        print(f"  {shape} {size} {method}: {done.stderr.strip().splitlines()[-1]}", flush=True)
        return {"seconds": float("nan"), "energy": float("inf"), "demand": float("inf"), "peak_mb": float("nan")}
    found: Case = json.loads(done.stdout)
    print(
        f"  {shape:14} {found['triangles']:>8} {method:22} {found['seconds']:8.2f} s {found['rounds']:4} rounds  "
        f"energy - 4 {found['energy'] - 4.0:.6e}  demand {found['demand']:.5f}  {found['peak_mb']:6.0f} MB",
        flush=True,
    )
    return found


def geometric(values: list[float]) -> float:
    """Geometric mean of what was measured."""
    kept = np.array([v for v in values if np.isfinite(v) and v > 0])
    return float(np.exp(np.log(kept).mean())) if len(kept) else float("nan")


def table(cases: dict[tuple[str, str, str], Case], sizes: list[str], methods: list[str]) -> None:
    """Geometric means over the shapes: seconds, then how many times longer each peer takes than we do."""
    shapes = sorted({shape for shape, _, _ in cases})
    print("\nseconds, geometric means over", ", ".join(shapes))
    print(f"{'':22}" + "".join(f"{s:>10}" for s in sizes) + f"{'growth':>10}")
    means: dict[tuple[str, str], float] = {}
    for method in methods:
        for size in sizes:
            means[method, size] = geometric([cases[k]["seconds"] for k in cases if k[1:] == (size, method)])
        row = "".join(f"{means[method, s]:10.3f}" for s in sizes)
        print(f"{method:22}{row}{growth(cases, sizes, method, means):>10}")
    for own in (m for m in OURS if m in methods):
        print(f"\ntimes as long as our {own}")
        for peer in (m for m in PEERS if m in methods):
            print(f"{peer:22}" + "".join(f"{means[peer, s] / means[own, s]:10.1f}" for s in sizes))
    print("\npeak memory, MB, largest over the shapes")
    for method in methods:
        peaks = [max(cases[k]["peak_mb"] for k in cases if k[1:] == (s, method)) for s in sizes if s]
        print(f"{method:22}" + "".join(f"{p:10.0f}" for p in peaks))


def growth(cases: dict[tuple[str, str, str], Case], sizes: list[str], method: str, means: Any) -> str:
    """Exponent of time by triangles from the second size to the last; small meshes do not tell."""
    run_at = [s for s in sizes if s != "5k" and np.isfinite(means[method, s])]
    if len(run_at) < 2:
        return "-"
    count = {s: geometric([cases[k]["triangles"] for k in cases if k[1:] == (s, method)]) for s in run_at}
    x, y = (np.log([f(s) for s in run_at]) for f in (count.__getitem__, lambda s: means[method, s]))
    return f"{np.polyfit(x, y, 1)[0]:.2f}"


def promises(cases: dict[tuple[str, str, str], Case]) -> bool:
    """Say whether our energy is never above SLIM's and our demand never above anyone's."""
    good, compared = True, 0
    for (shape, size, method), case in cases.items():
        if method in OURS:
            continue
        compared += 1
        ours = cases.get((shape, size, "energy"))
        if ours and method.startswith("slim") and case["energy"] < ours["energy"] * (1 - 1e-12):
            good = False
            print(f"{shape} {size}: {method} has less energy, {case['energy']!r} against {ours['energy']!r}")
        whole = cases.get((shape, size, "whole"))
        if whole and case["demand"] <= whole["demand"]:
            good = False
            print(f"{shape} {size}: {method} has less demand, {case['demand']!r} against {whole['demand']!r}")
    if not good:
        print("\nsome peer is better")
    elif compared:
        print("\nnone of the peers asked has less energy or less demand than we")
    return good


def main() -> None:
    words = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    add = words.add_argument
    add("--sizes", nargs="+", default=["5k", "20k"], choices=SIZES, metavar="SIZE", help=", ".join(SIZES))
    add("--shapes", nargs="+", default=list(SHAPES), choices=SHAPES, metavar="SHAPE", help=", ".join(SHAPES))
    add("--methods", nargs="+", default=[*OURS, *PEERS, *MAPS_ONLY], metavar="METHOD")
    add("--million", action="store_true", help="also our least energy on 1 000 000 triangles, with its memory")
    add("--commands", action="store_true", help="also the seconds of `trimloft check` and `make` on the helm bench")
    add("--clock", default="wall", choices=("wall", "cpu"), help="cpu: processor seconds, for a machine others use too")
    add("--strips", action="store_true", help="also classical strips laid out, a minute each, beside spyrrow")
    asked = words.parse_args()
    cases = {}
    for size in asked.sizes:
        for shape in asked.shapes:
            for method in asked.methods:
                if (method, size) not in LEFT_OUT:
                    cases[shape, size, method] = run(shape, size, method, clock=asked.clock)
    table(cases, asked.sizes, [m for m in asked.methods if m not in MAPS_ONLY])
    good = promises(cases)
    if asked.million:
        print("\n1 000 000 triangles")
        good &= run("free form", "1000k", "energy", clock=asked.clock)["peak_mb"] < 6 * 1024
    if asked.commands:
        command_times()
    if asked.strips:
        print("\nclassical strips, share covered in 60 s, %")
        good &= compared(60.0)
    sys.exit(0 if good else 1)


if __name__ == "__main__":
    main()
