"""A wrong profile reading planted in sheets of invented cushions, and whether tapes over the padding point at it.

    python -m tests.controls [seed ...]

Every sheet is drawn from its seed: widths, depth, crown, padding, three profiles of nine readings. The tapes follow
the true seat, read off its meshed padding and not off the model that explains them, with the error of a good tape
(normal, spread 0.7 mm) and rounded to whole mm. Then one reading inside a profile is written wrong by 18 to 30 mm.
"""

import sys
import tempfile
from pathlib import Path

import numpy as np

from meshes.base.surface import curve_length
from meshes.numerics.contours import contours
from meshes.seat.build import build_surface
from meshes.sheet.read import read_sheet
from meshes.tapes.explain import Explanation
from meshes.tapes.told import Tapes, tapes_of

SEEDS = tuple(range(1, 21))
TAPE_SPREAD_MM, WRONG_MM = 0.7, (18.0, 30.0)
READINGS = 9
MESH_MM = 14.0


def drawn_sheet(seed: int) -> tuple[str, str, list[tuple[str, float]], tuple[int, int]]:
    """The true sheet, the one with a wrong reading, ways and places of its tapes, and the wrong profile and row."""
    random = np.random.default_rng(seed)
    width, depth = float(random.integers(420, 620)), float(random.integers(400, 520))
    crown = float(random.uniform(14.0, 34.0))
    peak = float(random.uniform(0.3, 0.5)) * depth
    places = np.round(np.linspace(0.0, depth, READINGS) / 5.0) * 5.0
    places[-1] = depth
    sides = (0.0, 0.22 * width, 0.38 * width)
    profiles = []
    for k, x in enumerate(sides):
        high = crown * (1.0 - 0.25 * k)
        form = np.where(places <= peak, places / peak, (depth - places) / (depth - peak))
        heights = high * np.sin(0.5 * np.pi * form) + random.normal(0.0, 0.4, READINGS)
        heights[[0, -1]] = 0.0
        profiles.append((x, np.round(heights, 1)))
    wrong = int(random.integers(0, 3)), int(random.integers(1, READINGS - 1))
    by = float(random.uniform(*WRONG_MM)) * (1.0 if random.random() < 0.5 else -1.0)
    true = _text(width, depth, places, profiles)
    changed = [(x, heights.copy()) for x, heights in profiles]
    changed[wrong[0]][1][wrong[1]] = np.round(changed[wrong[0]][1][wrong[1]] + by, 1)
    tapes = [("along", 0.0), ("along", sides[1]), ("along", sides[2])]
    tapes += [("across", float(np.round(share * depth))) for share in (0.2, 0.4, 0.6, 0.8)]
    return true, _text(width, depth, places, changed), tapes, wrong


def _text(width, depth, places, profiles):
    rows = ""
    for x, heights in profiles:
        points = ", ".join(f"[{y:g}, {z:g}]" for y, z in zip(places, heights, strict=True))
        rows += f'\n[[pad.profile]]\ndirection = "along"\nat = {x:g}\npoints = [{points}]\n'
    sides = "".join(f"\n[pad.sides.{name}]\ndrop = 70\nedge_radius = 20\n" for name in ("front", "right", "rear"))
    return (
        f'name = "Invented"\nunit = "mm"\n[[pad]]\nname = "seat"\nkind = "cushion"\n[pad.outline]\n'
        f"front_width = {width:g}\nrear_width = {width:g}\ndepth = {depth:g}\ncorner_radius = 40\n{rows}{sides}"
        '\n[[pad.layer]]\nmaterial = "foam_medium"\nthickness = 20\n'
    )


def true_tapes(path: Path, tapes: list[tuple[str, float]]) -> list[float]:
    """What tapes read over the meshed padding of a sheet, without any error."""
    sheet = read_sheet(path)
    built = build_surface(sheet.pads[0], edge_mm=MESH_MM, materials=sheet.materials)
    found = []
    for way, at in tapes:
        axis = 0 if way == "along" else 1
        # The mesh is cut a hair beside its own edges.
        lines = contours(built.surface.vertices, built.surface.triangles, built.surface.vertices[:, axis], at + 1e-3)
        line = max(lines, key=len)[:, [1, 2] if way == "along" else [0, 2]]
        found.append(curve_length(line))
    return found


def tried(seed: int, folder: Path) -> tuple[Tapes, tuple[int, int]]:
    """The tapes of one planted sheet with what would explain them, and which reading is wrong."""
    true, wrong, tapes, planted = drawn_sheet(seed)
    path = folder / f"{seed}.toml"
    path.write_text(true)
    random = np.random.default_rng([seed, 1])
    read = [round(mm + random.normal(0.0, TAPE_SPREAD_MM)) for mm in true_tapes(path, tapes)]
    rows = "".join(
        f'\n[[control]]\npad = "seat"\nway = "{way}"\nat = {at:g}\nlength = {mm}\nfollows = true\n'
        for (way, at), mm in zip(tapes, read, strict=True)
    )
    path.write_text(wrong + rows)
    sheet = read_sheet(path)
    built = build_surface(sheet.pads[0], edge_mm=28.0, materials=sheet.materials)
    return tapes_of(sheet, [built]), planted


def names_it(one: Explanation, planted: tuple[int, int]) -> bool:
    """Whether an explanation names the planted reading."""
    return one.keys[2:] == ("profile", planted[0], "points", planted[1], 1)


def main(seeds: list[int]) -> None:
    """Print every sheet and how many of the wrong readings came first."""
    first = 0
    with tempfile.TemporaryDirectory() as folder:
        for seed in seeds:
            found, planted = tried(seed, Path(folder))
            ranks = [k for k, one in enumerate(found.explained, start=1) if names_it(one, planted)]
            first += ranks[:1] == [1]
            best = found.explained[0] if found.explained else None
            told = "nothing" if best is None else f"{best.words} by {best.change_mm:.1f} mm, {best.left_mm:.1f} mm left"
            out = sum(one.differs for one in found.taped)
            where = f"profile {planted[0] + 1} point {planted[1] + 1} comes {ranks or 'nowhere'}"
            print(f"seed {seed}: {where}; {out} tapes out; first {told}", flush=True)
    print(f"{first} of {len(seeds)} named first")


if __name__ == "__main__":
    main([int(word) for word in sys.argv[1:]] or list(SEEDS))
