"""Outer pleats of pads that narrow and have rounded corners: two thirds of a pleat along the straight sides."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes.base.problems import Problem
from meshes.padding.layers import edge_thickness
from meshes.pleats.ends import LEAST_END_MM, whole_run
from meshes.pleats.layout import OUTER_SHARE
from meshes.pleats.valleys import pleat_plan
from meshes.support.chart import pad_chart
from tests.pads import FLAT, sheet_of

# Lengths over an edge that is rounded are a little more than in the chart.
OVER_EDGE_MM = 0.6


def make_problem(code, keys, text):
    return Problem(code, "", text)


def plan_of(front, rear, radius, pleats):
    text = FLAT.replace("front_width = 400", f"front_width = {front}").replace(
        "rear_width = 400", f"rear_width = {rear}"
    )
    text = text.replace("corner_radius = 40", f"corner_radius = {radius}")
    pad = sheet_of(f"{text}[pad.pleats]\n{pleats}\n").pads[0]
    return pleat_plan(pad, pad_chart(pad, edge_thickness(pad), make_problem), make_problem)


@pytest.mark.parametrize("radius", [20, 40, 80])
@pytest.mark.parametrize(("front", "rear"), [(400, 400), (430, 370), (440, 350), (360, 440)])
@pytest.mark.parametrize(
    "pleats", ["count = 7", "pitch = 52", "count = 6\nhalf_at_sides = true", "count = 6\nfan = 0.9"]
)
def test_outer_pleats_are_no_slivers_along_straight_sides(front, rear, radius, pleats):
    plan = plan_of(front, rear, radius, pleats)
    at = plan.stations[(plan.stations >= plan.region.whole[0]) & (plan.stations <= plan.region.whole[1])]
    sides, edges = plan.region.between_edges(at), plan.edges_at(at)
    beside = edges[:, 2] - edges[:, 1]
    least = OUTER_SHARE * beside * (0.5 if plan.pleats.spacing.half_at_sides else 1.0)
    assert (edges[:, 1] - sides[:, 0] - least).min() >= -OVER_EDGE_MM
    assert (sides[:, 1] - edges[:, -2] - least).min() >= -OVER_EDGE_MM


@given(st.floats(0.0, 300.0), st.floats(300.0, 600.0), st.floats(5.0, 120.0), st.floats(0.05, 4.0))
def test_a_pleat_is_filled_as_far_as_it_is_wide_enough(first, last, width, slope):
    """A pleat of one width that both ends of the region cut aslant."""
    at = np.linspace(first - 40.0, last + 40.0, 201)
    widths = np.clip(np.minimum(at - first, last - at) * slope, 0.0, width)
    middle = 0.5 * (first + last)
    low, high = whole_run(at, widths, middle)
    within = np.linspace(low, high, 50)
    least = min(LEAST_END_MM, OUTER_SHARE * float(np.interp(middle, at, widths)))
    assert low <= middle <= high
    assert np.interp(within, at, widths).min() >= least - 1e-6
    # Just beyond it is narrower.
    assert np.interp([low - 1.0, high + 1.0], at, widths).max() <= least + 1e-6
