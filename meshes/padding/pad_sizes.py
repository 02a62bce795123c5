"""How long the edges of a pad's triangles are to be: short where its padded surface bends, long where it is flat.

The surface is first laid out in triangles twice as long as the shortest asked for, its padding free, and its bends are
read from that.
"""

import numpy as np

from meshes.base.arrays import BoolArray, IntArray
from meshes.base.problems import Problem, ProblemError
from meshes.numerics.sizes import Sizes, least_radii, longest
from meshes.padding.layers import free_thickness
from meshes.padding.support_mesh import support_mesh
from meshes.records.pad import Pad
from meshes.support.chart import Chart
from meshes.support.face import Face

# The first lay-out's triangles, times the shortest; by how much the longest must exceed it to be worth that.
ROUGH_EDGES, WORTH_GRADING = 2.0, 1.3


def pad_sizes(pad: Pad, chart: Chart, face: Face, edge_mm: float) -> Sizes:
    """The sizes of a pad's triangles, none shorter than `edge_mm`; all alike where the pad cannot be laid out in longer
    ones."""
    if longest(edge_mm) < WORTH_GRADING * edge_mm:
        return Sizes(edge_mm)
    try:
        rough = support_mesh(pad, chart, face, _quiet, edge_mm=ROUGH_EDGES * edge_mm)
    except ProblemError:
        return Sizes(edge_mm)
    mesh = rough.mesh
    outer = rough.support.points + free_thickness(pad.layers, rough.at)[:, None] * rough.support.directors
    radii = least_radii(outer, mesh.triangles)
    face_, sides = (_within(mesh.triangles[own], len(outer)) for own in (mesh.side < 0, mesh.side >= 0))
    sizes = Sizes.graded(mesh.plan[face_], radii[face_], edge_mm)
    below = (mesh.c - chart.edge(mesh.u))[sides]
    return sizes.with_sides(np.maximum(below, 0.0), radii[sides]) if sides.any() else sizes


def _within(triangles: IntArray, count: int) -> BoolArray:
    """Which of so many vertices belong to triangles (m, 3)."""
    own = np.zeros(count, dtype=bool)
    own[triangles] = True
    return own


def _quiet(code: str, keys: object, text: str) -> Problem:
    return Problem(code, "", text)
