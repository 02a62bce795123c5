"""A band that goes on all round and has no join is joined behind, in its middle."""

import numpy as np
import pytest

from tests.pads import built, sheet_of

RING = """
name = "stool"
[[pad]]
name = "top"
kind = "cushion"
[pad.outline]
{outline}
[pad.sides]
front = {{ drop = 60, edge_radius = 12, band = true }}
right = {{ drop = 60, edge_radius = 12, band = true }}
rear = {{ drop = 60, edge_radius = 12, band = true }}
[pad.bands]
corners = "none"
{joins}
"""
ROUND = 'shape = "round"\nwidth = 400'
SQUARE = "front_width = 400\nrear_width = 380\ndepth = 360\ncorner_radius = 60"


@pytest.mark.parametrize(("outline", "deep"), [(ROUND, 400.0), (SQUARE, 360.0)])
def test_it_is_the_band_with_a_join_in_the_middle_of_the_rear(outline, deep):
    left_out = built(RING.format(outline=outline, joins=""), edge_mm=24.0)
    said = built(RING.format(outline=outline, joins=f"joins = [[0, {deep}]]"), edge_mm=24.0)
    assert [panel.part for panel in left_out.panels] == [panel.part for panel in said.panels]
    for one, other in zip(left_out.panels, said.panels, strict=True):
        assert np.array_equal(one.surface.vertices, other.surface.vertices)


def test_a_join_that_is_said_stays_and_a_ring_that_is_none_gets_none():
    (pad,) = sheet_of(RING.format(outline=SQUARE, joins="joins = [[100, 360]]")).pads
    assert pad.bands.joins == ((100.0, 360.0),)
    plain = RING.format(outline=SQUARE, joins="").replace("12, band = true }\n[pad.bands]", "12 }\n[pad.bands]")
    assert sheet_of(plain).pads[0].bands.joins == ()
