"""How the leather is used, as lines on the seat: where bands of its budget are reached, and which way it is pulled."""

from dataclasses import dataclass

import numpy as np

from flatten.job.pipeline import Job
from flatten.maps.flat import Flat
from meshes.base.arrays import FloatArray
from meshes.base.surface import vertex_normals
from meshes.numerics.contours import SHORT_MM, USE_BANDS, at_vertices, contours, longer_than, strokes
from meshes.seat.assembly import placed
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel

# One stroke to a square of this side; a stroke's length for no stretch, and what a stretch of 1 would add.
STROKES_APART_MM, LEAST_MM, GROWTH_MM = 40.0, 5.0, 220.0
# Lines lie so far off the surface, so that it does not hide them.
LIFT_MM = 1.2


@dataclass(frozen=True, eq=False)
class UseLine:
    """A contour of the use of the budget, or a stroke along the larger stretch, on a panel. level: share of the budget
    that the contour is drawn at, None for a stroke; points (k, 3): in seat coordinates, mm."""

    panel: Panel
    level: float | None
    points: FloatArray

    @property
    def name(self) -> str:
        """What it is called in pictures and models."""
        return f"{self.panel.name} stretch" if self.level is None else f"{self.panel.name} use {self.level:g}"


def use_lines(job: Job) -> list[UseLine]:
    """Contours of the use of the budget and strokes along the larger stretch, on all panels."""
    lines: list[UseLine] = []
    for pad in job.pads:
        lifted = _lifted(pad)
        for panel in pad.panels:
            flat, places = job.flats.get(panel.name), lifted[panel.vertices]
            if flat is None:
                continue
            lines += _bands(panel, flat, places)
            lines += [UseLine(panel, None, stroke) for stroke in _strokes(panel, flat, places)]
    return lines


def _lifted(pad: BuiltPad) -> FloatArray:
    normals = vertex_normals(pad.shown.vertices, pad.shown.triangles)
    return placed(pad.shown.vertices + LIFT_MM * normals, pad.placement)


def _bands(panel: Panel, flat: Flat, places: FloatArray) -> list[UseLine]:
    if flat.use is None:
        return []
    values = at_vertices(flat.points, flat.triangles, flat.use)
    return [
        UseLine(panel, level, line)
        for level in USE_BANDS
        for line in longer_than(SHORT_MM, contours(places, panel.surface.triangles, values, level))
    ]


def _strokes(panel: Panel, flat: Flat, places: FloatArray) -> list[FloatArray]:
    """Short lines on the seat, each in the triangle below the place of its stroke on the piece."""
    found = strokes(flat.points, flat.triangles, flat.stretch, flat.along, apart_mm=STROKES_APART_MM)
    corners, seat = flat.points[flat.triangles], places[flat.triangles]
    middle = corners.mean(axis=1)
    lines = []
    for at, along, size in zip(found.at, found.along, found.size, strict=True):
        k = int(np.argmin(((middle - at) ** 2).sum(axis=1)))
        paper = np.stack([corners[k, 1] - corners[k, 0], corners[k, 2] - corners[k, 0]], axis=1)
        share = np.linalg.solve(paper, along)
        run = share @ np.stack([seat[k, 1] - seat[k, 0], seat[k, 2] - seat[k, 0]])
        half = 0.5 * (LEAST_MM + GROWTH_MM * max(float(size), 0.0)) * run / np.linalg.norm(run)
        here = seat[k].mean(axis=0)
        lines.append(np.stack([here - half, here + half]))
    return lines
