"""Covered boards in pictures: their faces with the openings cut out, which the cover as it is computed goes over."""

import numpy as np
import shapely
from shapely.geometry import Polygon

from meshes.base.arrays import FloatArray, IntArray
from meshes.outlines.openings import followed
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel


def board_face(pad: BuiltPad, panel: Panel) -> tuple[FloatArray, IntArray]:
    """Vertices (n, 3) in pad coordinates and triangles (m, 3) of a board's face without its openings."""
    loop = np.concatenate([edge.vertices[:-1] for edge in panel.rim])
    holes = [_on(pad, panel, ring)[:, :2] for ring in _rings(pad)]
    face = Polygon(panel.surface.vertices[loop, :2], holes)
    corners = np.array(
        [part.exterior.coords[:3] for part in shapely.get_parts(shapely.constrained_delaunay_triangles(face))]
    )
    one, other = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    turned = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0] < 0.0
    corners[turned] = corners[turned][:, ::-1]
    points, numbers = np.unique(np.round(corners.reshape(-1, 2), 9), axis=0, return_inverse=True)
    return np.column_stack([points, np.full(len(points), panel.surface.vertices[0, 2])]), numbers.reshape(-1, 3)


def opening_lines(pad: BuiltPad, panel: Panel) -> list[FloatArray]:
    """The edges of a board's openings as closed lines (k, 3) in pad coordinates."""
    return [_on(pad, panel, np.vstack([ring, ring[:1]])) for ring in _rings(pad)]


def _rings(pad: BuiltPad) -> list[FloatArray]:
    board = pad.pad.board
    return [] if board is None else [followed(one.corners, one.radii) for one in board.openings]


def _on(pad: BuiltPad, panel: Panel, points: FloatArray) -> FloatArray:
    """Places (k, 2) of the plan on a panel, (k, 3); the mirror image of a board lies turned over beside it."""
    first, height = pad.panels[0].surface.vertices, np.full(len(points), panel.surface.vertices[0, 2])
    own = panel.surface.vertices
    far = int(np.argmax(np.abs(first[:, 0] - first[0, 0])))
    turn = float(np.sign((own[far, 0] - own[0, 0]) / (first[far, 0] - first[0, 0])))
    return np.column_stack([own[0, 0] + turn * (points[:, 0] - first[0, 0]), points[:, 1], height])
