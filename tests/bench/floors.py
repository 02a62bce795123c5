"""What share of the demand reached the floor proves: `python -m tests.bench.floors`.

Spherical panels of several proportions, a cap of an ellipsoid, a cushion that is flat in its middle, and the panels of
two example seats, each flattened without a leather.
"""

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

import meshes
from flatten.bounds.floor import floor_of
from flatten.demand.develop import flatten
from flatten.demand.options import Options
from meshes.base.arrays import FloatArray
from tests.shapes import Mesh, disc, graph, scattered

EXAMPLES = Path(__file__).parents[2] / "examples"
SEATS = {"helm bench": EXAMPLES / "helm_bench" / "bench.toml", "bucket": EXAMPLES / "pilot_bucket" / "bucket.toml"}


def spherical(ratio: float, *, width: float = 120.0, radius: float = 200.0, edge: float = 6.0) -> Mesh:
    """A panel of a sphere between two parallels to its middle line, `ratio` times as long as wide."""
    points, triangles = scattered(ratio * width, width, edge)
    lon, lat = ((points - [0.5 * ratio * width, 0.5 * width]) / radius).T
    return radius * np.column_stack([np.cos(lat) * np.sin(lon), np.sin(lat), np.cos(lat) * np.cos(lon)]), triangles


def ellipsoid(*, rings: int = 20) -> Mesh:
    """The top of an ellipsoid of half axes 300, 150 and 100 mm, cut off level, 360 by 180 mm."""
    flat, triangles = disc(rings)
    x, y = 0.6 * flat.T
    return np.column_stack([300 * x, 150 * y, 100 * np.sqrt(1 - x**2 - y**2)]), triangles


def rounded(*, edge: float = 12.0) -> Mesh:
    """A cushion 480 by 420 mm, crown 40 mm, that is flat in its middle."""

    def height(x: FloatArray, y: FloatArray) -> FloatArray:
        return 40.0 * (1 - (x / 280) ** 4 - (y / 250) ** 4)

    return graph(height, width=480, depth=420, edge=edge)


def seat_panels(path: Path, *, edge: float = 12.0) -> Iterator[tuple[str, Mesh]]:
    """The panels of a sheet's pads, meshed at `edge` mm."""
    for pad in meshes.read_sheet(path).pads:
        for panel in meshes.build(pad, edge_mm=edge).panels:
            yield panel.name, (panel.surface.vertices, panel.surface.triangles)


def cases() -> Iterator[tuple[str, Mesh]]:
    """Names and meshes of the table."""
    made: dict[str, Callable[[], Mesh]] = {
        f"spherical {ratio:g}:1": lambda ratio=ratio: spherical(ratio)  # type: ignore[misc]
        for ratio in (1.0, 1.5, 2.0, 3.0, 4.0)
    }
    for name, make in (made | {"ellipsoid cap": ellipsoid, "cushion": rounded}).items():
        yield name, make()
    for seat, path in SEATS.items():
        for name, mesh in seat_panels(path):
            yield f"{seat}: {name}", mesh


def main() -> None:
    print(f"{'panel':44}{'triangles':>10}{'demand %':>10}{'floor %':>10}{'share':>8}  kind   CPU s floor / piece")
    for name, (vertices, triangles) in cases():
        begin = time.process_time()
        flat = flatten(vertices, triangles, options=Options(prove=False))
        middle = time.process_time()
        floor = floor_of(vertices, triangles, flat.points)
        end = time.process_time()
        share = f"{floor.log / np.log1p(flat.demand):8.1%}" if flat.demand > 1e-6 else "       -"
        print(
            f"{name:44}{len(triangles):10}{100 * flat.demand:10.3f}{100 * floor.value:10.3f}{share}  {floor.kind:5}"
            f"{end - middle:8.2f} /{middle - begin:6.2f}",
            flush=True,
        )


if __name__ == "__main__":
    main()
