"""Looks for a floor above a demand that is reached: `python -m tests.bench.false_floors --count 2000 --seed 0`.

Every panel is flattened; no proven limit, from the map itself, from one that is badly bent or from rows of discs laid
anyhow, may be above what the map asks. The search is trusted for nothing: its map is measured.
"""

import argparse
import sys
from dataclasses import dataclass

import numpy as np

from flatten.bounds.circle_bound import excess, likely
from flatten.bounds.floor import floor_of
from flatten.bounds.geodesic import MappedMesh
from flatten.bounds.level_set_bound import MeshLengths
from flatten.bounds.row_bound import row_limit
from flatten.bounds.straight import Ways
from flatten.demand.develop import flatten
from flatten.demand.options import Options
from meshes.base.arrays import FloatArray, IntArray
from meshes.base.problems import ProblemError
from meshes.numerics.laplace import corner_angles
from tests.odd_panels import odd_panel


@dataclass(frozen=True)
class Claim:
    """What was proven: by what, and ln(largest / smallest stretch)."""

    by: str
    log: float


def bent(rng: np.random.Generator, points: FloatArray) -> FloatArray:
    """A map made worse by a smooth change that folds nothing."""
    size = float(np.ptp(points, axis=0).max())
    x, y = ((points - points.mean(axis=0)) / size).T
    a, b = rng.uniform(-0.12, 0.12, 2)
    turn = rng.uniform(0, 6)
    across = np.stack([x + a * np.sin(2.5 * y + turn), rng.uniform(0.8, 1.2) * y + b * np.sin(2.5 * x)], axis=1)
    c, s = np.cos(turn), np.sin(turn)
    return rng.uniform(0.2, 5.0) * size * across @ np.array([[c, s], [-s, c]])


def defects_of(piece: MappedMesh) -> FloatArray:
    """2 pi less the angles at each vertex, 0 on the rim."""
    angles, _ = corner_angles(piece.vertices, piece.triangles)
    total = np.bincount(piece.triangles.ravel(), weights=angles.ravel(), minlength=len(piece.vertices))
    out: FloatArray = np.asarray(2 * np.pi - total)
    out[piece.rim] = 0.0
    return out


def claims(rng: np.random.Generator, vertices: FloatArray, triangles: IntArray, points: FloatArray) -> list[Claim]:
    """All that can be proven of a panel, from a good map and a bad one, by aim and by chance."""
    found = []
    for by, flat in (("good map", points), ("bent map", bent(rng, points))):
        found.append(Claim(f"floor, {by}", floor_of(vertices, triangles, flat, places=16).log))
        piece = MappedMesh(vertices, triangles, flat)
        ways, defects, panel = Ways(piece), defects_of(piece), MeshLengths(vertices, triangles)
        size = float(np.sqrt(np.prod(np.ptp(flat, axis=0))))
        for _ in range(6):
            one, two = flat[rng.integers(len(flat), size=2)]
            count = int(rng.integers(1, 6))
            knots = one + np.linspace(0.0, 1.0, count)[:, None] * (two - one) + rng.normal(0, 0.03 * size, (count, 2))
            found.append(Claim(f"row, {by}", row_limit(ways, defects, knots, rng.uniform(0.02, 0.6, count) * size).log))
        start = int(rng.integers(len(flat)))
        found.append(Claim(f"level set, {by}", panel.about(flat, flat[start], refined=True).log))
        if start not in piece.rim:
            guess = abs(float(likely(defects, flat, piece.rim, flat[[start]])[0])) + 1e-3
            found.append(Claim(f"circle, {by}", excess(piece, start, guess=guess).log))
    return found


def judged(seed: int) -> tuple[float, list[Claim]] | None:
    """ln of 1 + demand reached on a panel and what is proven of it; None where it cannot be flattened."""
    vertices, triangles = odd_panel(seed)
    try:
        flat = flatten(vertices, triangles, options=Options(prove=False))
    except ProblemError:
        return None
    if not flat.certificate.holds:
        return None
    return float(np.log1p(flat.demand)), claims(np.random.default_rng(seed), vertices, triangles, flat.points)


def main() -> None:
    words = argparse.ArgumentParser(prog="python -m tests.bench.false_floors", description=__doc__)
    words.add_argument("--count", type=int, default=200)
    words.add_argument("--seed", type=int, default=0)
    asked = words.parse_args()
    tried, left, false, shares = 0, 0, 0, []
    nearest: dict[str, float] = {}
    for seed in range(asked.seed, asked.seed + asked.count):
        found = judged(seed)
        if found is None:
            left += 1
            continue
        reached, proven = found
        tried += 1
        shares.append(proven[0].log / max(reached, 1e-12))
        for claim in proven:
            nearest[claim.by] = max(nearest.get(claim.by, 0.0), claim.log / max(reached, 1e-12))
            if claim.log > reached + 1e-9:
                false += 1
                print(f"seed {seed}: {claim.by} proves {claim.log:.6f}, reached {reached:.6f}", flush=True)
    print(f"{tried} panels, {left} not flattened, {false} false; share proven, median {np.median(shares):.1%}")
    print("largest share proven by each:", ", ".join(f"{k} {v:.4f}" for k, v in nearest.items()))
    sys.exit(1 if false else 0)


if __name__ == "__main__":
    main()
