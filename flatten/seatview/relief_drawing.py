"""Proposed cuts as drawings: on the flat piece as SVG, on the seat as a scene to be painted."""

from collections.abc import Sequence

import numpy as np
from scipy.spatial import cKDTree

from flatten.job.pipeline import Job
from flatten.job.relieve import ReliefAdvice
from flatten.pieces.pattern import grain_turn
from flatten.relief.search import Relief
from flatten.report.markup import esc
from flatten.seatview.scenes import panel_normals, scene
from meshes.base.arrays import FloatArray, IntArray
from meshes.base.files import number
from meshes.base.surface import boundary_loops
from meshes.seat.assembly import placed
from meshes.view.scene import Scene, ScenePart

# Colours of the first, second, ... proposal, told apart by colour-blind people too; dashes repeat the order.
COLOURS = ((178, 58, 20), (24, 90, 157), (20, 110, 82), (122, 62, 138), (90, 84, 76))
DASHES = ("", "9 4", "3 3", "12 3 3 3", "1 4")
RIBBON_MM, RIBBON_LIFT_MM = 7.0, 2.5


def piece_drawing(one: ReliefAdvice, *, turn_rad: float = 0.0) -> str:
    """The outline of a piece with its proposals, numbered, as a whole SVG file; turned by `turn_rad` to the left."""
    turned = np.array([[np.cos(turn_rad), np.sin(turn_rad)], [-np.sin(turn_rad), np.cos(turn_rad)]])
    # SVG counts y downwards.
    points = one.flat.points @ turned * np.array([1.0, -1.0])
    low, size = points.min(axis=0), np.ptp(points, axis=0)
    edge, text = 0.04 * float(size.max()), 0.035 * float(size.max())
    key = 1.5 * text * len(one.study.reliefs) + edge
    box = (size[0] + 2 * edge, size[1] + 2 * edge + key)
    rim = points[boundary_loops(one.flat.triangles)[0]] - low + edge
    body = [f'<path d="{_path(rim)}Z" fill="#f3ead6" stroke="#2c2a28" stroke-width="{number(0.1 * text, 2)}"/>']
    for k, relief in enumerate(one.study.reliefs):
        looks = f'fill="none" stroke="{_hex(k)}" stroke-width="{number(0.16 * text, 2)}"'
        dash = _dash(k, 0.1 * text)
        lines = [relief.drawn.plan[path] @ turned * np.array([1.0, -1.0]) - low + edge for path in relief.paths]
        body += [f'<path d="{_path(line)}" {looks}{dash}/>' for line in lines]
        y = size[1] + 2 * edge + 1.5 * text * (k + 0.8)
        body.append(f'<path d="M{number(edge, 1)} {number(y - 0.3 * text, 1)}h{number(2 * text, 1)}" {looks}{dash}/>')
        body.append(_words(edge + 2.5 * text, y, text, _key(one, relief, k)))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {number(box[0], 1)} {number(box[1], 1)}" '
        f'width="{number(box[0], 1)}mm" height="{number(box[1], 1)}mm" role="img" '
        f'aria-label="{esc(one.name)}: proposed cuts">\n' + "\n".join(body) + "\n</svg>\n"
    )


def turn_of(job: Job, one: ReliefAdvice) -> float:
    """The turn that brings a piece's grain upright, as on its pattern, radians."""
    return grain_turn(job.panels[one.name], one.flat)


def _key(one: ReliefAdvice, relief: Relief, k: int) -> str:
    return (
        f"{k + 1}  {relief.words}, {relief.length_mm:.0f} mm: "
        f"{100 * relief.demand_before:.1f} to {100 * relief.demand_after:.1f} %"
    )


def _words(x: float, y: float, size: float, words: str) -> str:
    looks = f'font-family="sans-serif" font-size="{number(size, 2)}" fill="#2c2a28"'
    return f'<text x="{number(x, 1)}" y="{number(y, 1)}" {looks}>{esc(words)}</text>'


def _dash(k: int, unit: float) -> str:
    dash = DASHES[k % len(DASHES)]
    if not dash:
        return ""
    return f' stroke-dasharray="{" ".join(number(float(d) * unit, 2) for d in dash.split())}"'


def _hex(k: int) -> str:
    return "#{:02x}{:02x}{:02x}".format(*COLOURS[k % len(COLOURS)])


def _path(points: FloatArray) -> str:
    return "M" + "L".join(f"{number(float(x), 1)} {number(float(y), 1)}" for x, y in points)


def seat_scene(job: Job, advice: Sequence[ReliefAdvice]) -> Scene:
    """The seat with its panels and every proposal as a ribbon in its colour, on mirrored panels too; the longest lie
    lowest."""
    base = scene(job, "panels")
    ribbons: list[ScenePart] = []
    over = np.array([-1.0, 1.0, 1.0])
    for one, name in [(owner, name) for owner in advice for name in (owner.name, owner.mirrored) if name is not None]:
        panel = job.panels[name]
        pad = next(pad for pad in job.pads if pad.pad.name == panel.pad)
        normals = panel_normals(pad)[name]
        tree = cKDTree(placed(panel.surface.vertices, pad.placement))
        for k, relief in enumerate(one.study.reliefs):
            lift = RIBBON_LIFT_MM + 0.4 * (len(one.lines) - k)
            for line in relief.lines:
                line = placed(line * (over if panel.mirror_of else 1.0), pad.placement)
                near = np.asarray(tree.query(line)[1])
                ribbons.append(_ribbon(f"{name} {k + 1}", line, normals[near], k, lift))
    return Scene(f"{job.sheet.name}: proposed cuts", (*base.parts, *ribbons), base.lines, base.names)


def _ribbon(name: str, line: FloatArray, normals: FloatArray, k: int, lift_mm: float) -> ScenePart:
    """A line (k, 3) as a strip of triangles that lies on the surface with these normals (k, 3)."""
    along = np.gradient(line, axis=0)
    aside = np.cross(normals, along)
    aside /= np.maximum(np.linalg.norm(aside, axis=1, keepdims=True), 1e-300)
    middle = line + lift_mm * normals
    count = len(line)
    vertices = np.concatenate([middle - 0.5 * RIBBON_MM * aside, middle + 0.5 * RIBBON_MM * aside])
    a: IntArray = np.arange(count - 1)
    triangles = np.concatenate([np.stack([a, a + 1, a + count], 1), np.stack([a + 1, a + 1 + count, a + count], 1)])
    return ScenePart(name, vertices, triangles, np.tile(normals, (2, 1)), np.array(COLOURS[k % len(COLOURS)]))
