"""Edges of a loose cushion's plates: straight where the faces are flat; where they bulge, bowed outwards by what the
crown is longer than its edges, shared by both ends, so that the sewn edge comes out straight."""

import numpy as np
import pytest

from flatten.job.make import make
from meshes.numerics.contours import contours
from meshes.sheet.read import read_sheet

SHEET = """
name = "plates"
[output]
mesh = 24
[[pad]]
name = "c"
kind = "cushion"
[pad.outline]
front_width = 340
rear_width = 340
depth = 300
corner_radius = 20
[pad.closed]
thickness = 80
core = "foam_soft"
"""
WRAP = '[[pad.layer]]\nmaterial = "wadding"\nthickness = {thick}\nwhere = "face"\n'
# A line that stands so far off its chord is as straight as it can be cut.
STRAIGHT_MM = 0.1


def bows(tmp_path, thick):
    """How far the front, the right, the rear and the left edge of the top plate bow outwards (4,), and by how much the
    crown is longer than its chord, front to rear and across (2,), mm."""
    path = tmp_path / "plates.toml"
    path.write_text(SHEET + (WRAP.format(thick=thick) if thick else ""))
    job = make(read_sheet(path))
    panel = job.before_cuts.pads[0].panels[0]
    seat, flat = panel.surface.vertices, job.flats[panel.name].points
    rim = np.concatenate([edge.vertices[:-1] for edge in panel.rim])
    low, high = seat[rim, :2].min(axis=0), seat[rim, :2].max(axis=0)
    found = []
    for axis, end in ((1, low), (0, high), (1, high), (0, low)):
        on = rim[np.abs(seat[rim, axis] - end[axis]) < 1e-6]
        run = flat[on[np.argsort(seat[on, 1 - axis])]]
        way = (run[-1] - run[0]) / np.linalg.norm(run[-1] - run[0])
        off = (run - run[0]) @ [-way[1], way[0]]
        inward = (flat.mean(axis=0) - run[0]) @ [-way[1], way[0]]
        found.append(-np.sign(inward) * off[np.argmax(np.abs(off))])
    longer = []
    for axis in (0, 1):
        middle = 0.5 * (low + high)[axis] + 1e-3
        (line,) = contours(seat, panel.surface.triangles, seat[:, axis], middle)
        longer.append(np.linalg.norm(np.diff(line, axis=0), axis=1).sum() - np.linalg.norm(line[-1] - line[0]))
    return np.array(found), np.array(longer)


def test_edges_of_flat_plates_are_straight(tmp_path):
    off, longer = bows(tmp_path, 0)
    assert longer == pytest.approx([0.0, 0.0], abs=1e-6)
    assert np.abs(off).max() < STRAIGHT_MM


def test_edges_of_plates_that_bulge_bow_by_what_their_crown_is_longer(tmp_path):
    off, longer = bows(tmp_path, 25)
    assert longer.min() > 2.0
    front, right, rear, left = off
    assert min(off) > STRAIGHT_MM
    # Alike left and right; both ends of a line over the crown take no more than it is longer.
    assert right == pytest.approx(left, abs=STRAIGHT_MM)
    assert front + rear < longer[0]
    assert left + right < longer[1]
