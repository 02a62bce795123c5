"""Faces that are pulled round corners in one and ask too much there: told that folds would take that out."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import Point

from flatten.leather.verdict import is_tight
from flatten.maps.flat import Flat
from meshes.base.problems import Problem
from meshes.records.corners import CORNERS_AFTER, LEAST_CORNER_RAD, CornerFinish, usual_finish
from meshes.records.pad import SIDES, Pad
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel, PanelRole
from meshes.support.chart import MakeProblem
from meshes.support.line_roles import LineRole

# What a corner leaves over reaches as far onto the face as its arc, and so much further.
BEYOND_CORNER_MM = 60.0


def unfolded_notes(pad: BuiltPad, flats: Mapping[str, Flat], make_problem: MakeProblem) -> list[Problem]:
    """Faces that are too tight at corners without a band, where the sheet has no word on how corners are finished."""
    said = {finish for _, finish in pad.pad.folds.finishes}
    if not pad.pad.on_frame or said - {CornerFinish.CUT}:
        return []
    corners = bare_corners(pad.pad)
    notes = []
    for panel in pad.panels:
        flat = flats[panel.name]
        if panel.role is not PanelRole.FACE or not is_tight(flat.verdict) or flat.over is None:
            continue
        pulled = any(edge.role is LineRole.TACK for edge in panel.rim)
        at = _middle(panel, flat.over.triangle)
        near = [name for name, reach in corners.items() if reach.covers(at)]
        if pulled and near:
            finish = usual_finish(sum(layer.thickness for layer in pad.pad.layers if layer.within is None))
            text = f"the {panel.part} goes round its {_word(pad.pad, near[0])} corner in one and asks "
            text += f"{100.0 * flat.demand:.1f} %; finished there it is not asked for what a corner leaves over: write "
            text += f'all = "{finish}" under [pad.folds]; trimloft relief says what each kind of corner asks'
            notes.append(replace(make_problem("F340", ("folds",), text), warning=True))
    return notes


def _word(pad: Pad, corner: str) -> str:
    """What a corner is called on this pad: "front left", "top left"."""
    end, side = corner.split("_")
    return f"{pad.side_word(end)} {side}"


def _middle(panel: Panel, triangle: int) -> Point:
    return Point(panel.surface.vertices[panel.surface.triangles[triangle]].mean(axis=0)[:2])


def bare_corners(pad: Pad) -> dict[str, shapely.Geometry]:
    """Round every corner between two sides without a band, as far as it reaches, seen square on."""
    outline, count = pad.outline, len(pad.outline.corners)
    points = np.asarray(outline.corners)
    found = {}
    for k, name in enumerate(CORNERS_AFTER):
        sides = (SIDES[k], SIDES[(k + 1) % len(SIDES)])
        at = next(n for n in range(count) if (outline.side_of_edge[n - 1], outline.side_of_edge[n]) == sides)
        before, after = points[at] - points[at - 1], points[(at + 1) % count] - points[at]
        turn = np.arctan2(before[0] * after[1] - before[1] * after[0], before @ after)
        cut = pad.folds.of(name) is CornerFinish.CUT
        if turn >= LEAST_CORNER_RAD and not cut and not any(pad.sides[side].band for side in sides):
            deep = max(pad.sides[side].drop for side in sides)
            found[name] = Point(points[at]).buffer(max(outline.radii[at], deep) + BEYOND_CORNER_MM)
    return found
