"""How near seams and areas come with what triangles: `python -m tests.bench.convergence [SHEET ...]`.

Every pad of the helm bench, the pilot's bucket and the round stool, settled at one tension, in triangles alike all over
and in triangles that grow where it is flat, beside triangles alike of half the edge.
"""

import argparse
from pathlib import Path

import numpy as np

from meshes.base.surface import curve_length, triangle_areas
from meshes.numerics.sizes import Sizes
from meshes.records.materials import Material
from meshes.records.pad import Pad
from meshes.seat.build import BuiltPad, build_surface
from meshes.sheet.read import read_sheet

EXAMPLES = Path(__file__).parents[2] / "examples"
SHEETS = ("helm_bench/bench.toml", "pilot_bucket/bucket.toml", "round_stool/stool.toml")
EDGE_MM, TENSION_N_PER_MM = 6.0, 0.2


def figures(pad: BuiltPad) -> tuple[dict[str, float], dict[str, float]]:
    """Lengths mm of the pad's curves and areas mm2 of its panels, by name."""
    surface = pad.surface
    lengths = {name: curve_length(surface.vertices[path]) for name, path in surface.curves.items()}
    areas = {p.name: float(triangle_areas(p.surface.vertices, p.surface.triangles).sum()) for p in pad.panels}
    return lengths, areas


def rows_of(pad: Pad, materials: dict[str, Material]) -> None:
    """Print the table of one pad."""

    def built(edge_mm: float | Sizes) -> BuiltPad:
        return build_surface(pad, edge_mm=edge_mm, tension_n_per_mm=TENSION_N_PER_MM, materials=materials)

    lengths, areas = figures(built(Sizes(0.5 * EDGE_MM)))
    for words, edge in (("alike", Sizes(EDGE_MM)), ("grown", EDGE_MM), ("grown", 2.0 * EDGE_MM)):
        found = built(edge)
        mm, mm2 = figures(found)
        off = [abs(mm[name] - length) for name, length in lengths.items()]
        share = max(abs(mm2[name] / area - 1.0) for name, area in areas.items())
        least = edge.least if isinstance(edge, Sizes) else edge
        print(
            f"{pad.name:<12} {words:<6} {least:4.0f} mm {len(found.surface.triangles):7d} triangles   curves "
            f"{np.mean(off):.3f} mm off, worst {max(off):.2f}   areas within {100.0 * share:.3f} %",
            flush=True,
        )


def main() -> None:
    words = argparse.ArgumentParser(prog="python -m tests.bench.convergence", description=__doc__)
    words.add_argument("sheets", nargs="*", type=Path, default=[EXAMPLES / name for name in SHEETS])
    for path in words.parse_args().sheets:
        sheet = read_sheet(path)
        for pad in sheet.pads:
            if pad.on_frame:
                rows_of(pad, dict(sheet.materials))


if __name__ == "__main__":
    main()
