"""Lines that meet all but in one point: laws of the points that are joined, and of the triangles that follow."""

import numpy as np
import pytest
from shapely.geometry import LineString

from meshes.base.problems import Problem
from meshes.numerics.meeting_points import ChartSegment, met
from meshes.padding.layers import edge_thickness
from meshes.seat.build import build
from meshes.support.chart import pad_chart
from meshes.support.seam_lines import seam_corners
from tests.pads import FLAT, sheet_of

SQUARE = [(0, 0), (100, 0), (100, 60), (0, 60)]


def _square(crossed_at: float) -> list[ChartSegment]:
    """A square rim of four lines and a seam that crosses its right side so far above the lower right corner."""
    low, right, high, left = (LineString([SQUARE[k], SQUARE[(k + 1) % 4]]) for k in range(4))
    at = (100.0, crossed_at)
    parts = [LineString([SQUARE[1], at]), LineString([at, SQUARE[2]])]
    assert right.length == pytest.approx(sum(part.length for part in parts))
    rim = [
        ChartSegment(low, "low", True),
        *(ChartSegment(part, "right", True) for part in parts),
        ChartSegment(high, "high", True),
    ]
    return [*rim, ChartSegment(left, "left", True), ChartSegment(LineString([(0, 60), at]), None, True)]


@pytest.mark.parametrize("above", [1e-4, 0.0127, 0.4])
def test_near_points_are_one(above: float) -> None:
    """A seam that ends just beside a corner ends in it: no ends are nearer than the reach, corners stay."""
    lines = [line for line in met(_square(above), 0.5) if line is not None]
    ends = np.unique([end for line in lines for end in (line.coords[0], line.coords[-1])], axis=0)
    apart = np.linalg.norm(ends[:, None] - ends[None], axis=2)[np.triu_indices(len(ends), 1)]
    assert apart.min() > 0.5
    assert {tuple(end) for end in ends.tolist()} == {(float(x), float(y)) for x, y in SQUARE}
    assert len(lines) == 5


def test_far_points_stay() -> None:
    """Beyond the reach nothing moves."""
    cuts = _square(0.6)
    assert met(cuts, 0.5) == [cut.line for cut in cuts]


@pytest.mark.parametrize("edge_mm", [6.0, 24.0])
@pytest.mark.parametrize("beside", [-0.5, -0.0127, -1e-4, 1e-4, 0.0127, 0.1, 0.5])
def test_no_slivers_beside_a_corner(edge_mm: float, beside: float) -> None:
    """A seam across the face that arrives however close beside the corner of the edge seam leaves no thin triangle."""
    pad = sheet_of(FLAT).pads[0]

    chart = pad_chart(pad, edge_thickness(pad), lambda code, keys, text: Problem(code, pad.name, text))
    corner = seam_corners(chart)[0]
    y = corner[1] + beside
    line = f'\n[[pad.line]]\nname = "across"\npoints = [[0, {y:.6f}], [200, {y:.6f}]]\n'
    made = build(sheet_of(FLAT + line).pads[0], edge_mm=edge_mm)
    assert made.facts.smallest_angle_deg > 1.0
