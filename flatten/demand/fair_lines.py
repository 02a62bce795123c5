"""Which lines of a panel should come out fair or straight: its outline between corners and the valleys of its pleats.

Straight are valleys, since what fills the pleats is cut straight, and parts of the outline that run straight in the
surface.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from flatten.demand.fairness import Line, chords_along, geodesic_curvature
from flatten.leather.pleat_grain import pleats_of
from flatten.maps.halves import Half
from meshes.base.arrays import FloatArray, IntArray
from meshes.base.surface import boundary_loops, vertex_normals
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel

# The outline turns a corner where it turns by more at one vertex.
CORNER_DEG = 35.0
# A line needs so many vertices before it can be told fair from not.
FEWEST = 4
# A part of the outline is straight on the seat where its geodesic curvature is below this, 1/mm, over so many mm.
STRAIGHT_BELOW, STRAIGHT_FROM_MM = 5e-5, 100.0


@dataclass(frozen=True, eq=False)
class StraightLine:
    """A line of a panel that should come out straight: what it is called, the number of the valley that it is, None for
    a part of the outline, and its vertices (k,)."""

    name: str
    valley: int | None
    vertices: IntArray


def straight_lines(pad: BuiltPad, panel: Panel) -> list[StraightLine]:
    """The valleys that run on a panel, and the parts of its outline that run straight in the surface."""
    seat, loop = panel.surface, boundary_loops(panel.surface.triangles)[0]
    found = [StraightLine(name, number, path) for number, name, path in _valleys(pad, panel)]
    for path in _straight(seat.vertices, loop, _bent_around(panel, loop)):
        edge = max(panel.rim, key=lambda edge: int(np.isin(path, edge.vertices).sum()))
        found.append(StraightLine(edge.name, None, path))
    return found


def lines_of(pad: BuiltPad, panel: Panel, points: FloatArray) -> list[Line]:
    """The lines of a panel, in its own numbers; points (n, 2): a good map of it, which shows its corners."""
    seat, loop = panel.surface, boundary_loops(panel.surface.triangles)[0]
    straight = straight_lines(pad, panel)
    on_valley = {
        frozenset(edge) for line in straight if line.valley is not None for edge in pairwise(line.vertices.tolist())
    }
    normals = vertex_normals(seat.vertices, seat.triangles)
    found = []
    for path in _runs(loop, points, on_valley, np.flatnonzero(~np.isfinite(_bent_around(panel, loop)))):
        bend = geodesic_curvature(seat.vertices[path], normals[path])
        found.append(Line(path, np.zeros(len(path), dtype=bool), bend, np.zeros((0, 3), dtype=np.int64)))
    for line in straight:
        bend, chords = np.zeros(len(line.vertices) - 2), chords_along(seat.vertices[line.vertices])
        found.append(Line(line.vertices, np.zeros(len(line.vertices), dtype=bool), bend, chords))
    return found


def _bent_around(panel: Panel, loop: IntArray) -> FloatArray:
    """Geodesic curvature (k,) of a panel's closed rim (k,)."""
    seat, around = panel.surface, np.concatenate([loop[-1:], loop, loop[:1]])
    normals = vertex_normals(seat.vertices, seat.triangles)
    return geodesic_curvature(seat.vertices[around], normals[around])


def on_half(line: Line, half: Half) -> Line:
    """A line of the whole in the numbers of a half, which it and its mirror image share."""
    number = np.full(len(half.mirror), -1)
    number[half.vertices] = np.arange(len(half.vertices))
    mine, flipped = number[line.vertices], number[line.vertices] < 0
    return replace(
        line,
        vertices=np.where(flipped, number[half.mirror[line.vertices]], mine),
        flipped=flipped,
        share=0.5 * line.share,
    )


def _valleys(pad: BuiltPad, panel: Panel) -> Iterator[tuple[int, str, IntArray]]:
    """Numbers, names and paths of the valleys that run on a panel, its rim included."""
    pleats = pleats_of(pad, panel)
    if pleats is None:
        return
    number = {int(v): k for k, v in enumerate(panel.vertices)}
    for valley, vertices in zip(pleats.plan.valleys, pleats.valleys, strict=True):
        mine = np.array([number.get(int(v), -1) for v in vertices])
        for path in np.split(mine, np.flatnonzero(mine < 0)):
            path = path[path >= 0]
            if len(path) >= FEWEST:
                yield valley.number, valley.name, path


def _runs(loop: IntArray, points: FloatArray, on_valley: set[frozenset[int]], tips: IntArray) -> Iterator[IntArray]:
    """The parts of a closed rim between its corners that lie on no valley; tips: places where it turns back."""
    step = np.roll(points[loop], -1, axis=0) - points[loop]
    before = np.roll(step, 1, axis=0)
    turn = np.arctan2(before[:, 0] * step[:, 1] - before[:, 1] * step[:, 0], (before * step).sum(axis=1))
    valley = np.array([frozenset(e) in on_valley for e in zip(loop.tolist(), np.roll(loop, -1).tolist(), strict=True)])
    ends = np.flatnonzero((np.abs(turn) > np.deg2rad(CORNER_DEG)) | (valley != np.roll(valley, 1)))
    ends = np.union1d(ends, tips)
    if not len(ends):
        yield np.concatenate([loop, loop[: FEWEST - 1]])
        return
    for k, end in enumerate(ends):
        last = ends[(k + 1) % len(ends)]
        path = loop[np.arange(end, last + 1 if last > end else last + len(loop) + 1) % len(loop)]
        if len(path) >= FEWEST and not valley[end]:
            yield path


def _straight(vertices: FloatArray, loop: IntArray, bent: FloatArray) -> Iterator[IntArray]:
    """The parts of a closed rim, of geodesic curvature `bent` (k,), that run straight in the surface."""
    k, ends = len(loop), np.flatnonzero(np.abs(bent) > STRAIGHT_BELOW)
    for j, end in enumerate(ends):
        last = ends[(j + 1) % len(ends)]
        path = loop[np.arange(end, last + 1 if last > end else last + k + 1) % k]
        if len(path) > FEWEST and np.linalg.norm(np.diff(vertices[path], axis=0), axis=1).sum() > STRAIGHT_FROM_MM:
            yield path
