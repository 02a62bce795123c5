"""A piece that serves left and right is notched once, so mirrored seams must be counted towards mirrored ends."""

import numpy as np
import pytest

from flatten.pieces.seams import seam_runs_back
from tests.pads import FLAT, built

INSET = """
[pad.inset]
front = 0
rear = 70
left = 80
right = 80
corner_radius = 30
"""


def doubled_end(points):
    return points[0] if seam_runs_back(points) else points[-1]


def test_mirrored_seams_of_a_pad_are_doubled_at_mirrored_ends():
    pad = built(FLAT + INSET)
    ends = {seam.name: doubled_end(pad.surface.vertices[seam.vertices]) for seam in pad.seams}
    one_sided = 0
    for panel in pad.panels:
        if panel.mirror_of is None:
            continue
        for edge in panel.rim:
            if edge.seam is None:
                continue
            source = next(p for p in pad.panels if p.name == panel.mirror_of)
            (twin,) = [e for e in source.rim if e.seam and set(e.vertices) == set(edge.vertices)]
            assert ends[edge.seam] == pytest.approx(ends[twin.seam] * [-1.0, 1.0, 1.0], abs=1e-6), edge.seam
            one_sided += 1
    assert one_sided >= 3


def test_a_seam_across_the_centre_line_is_counted_to_the_right():
    across = np.array([[-200.0, 0.0, 0.0], [0.0, -5.0, 0.0], [200.0, 0.0, 0.0]])
    assert doubled_end(across)[0] == 200.0
    assert doubled_end(across[::-1])[0] == 200.0


def test_a_seam_on_the_left_is_counted_outwards():
    left = np.array([[-200.0, 0.0, 0.0], [-50.0, 10.0, 0.0]])
    assert doubled_end(left)[0] == -200.0
    assert doubled_end(left[::-1])[0] == -200.0
