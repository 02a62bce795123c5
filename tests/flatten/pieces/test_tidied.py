"""Cut lines without points that say nothing: the same shape, begun where the piece begins."""

import numpy as np
import pytest
import shapely

from flatten.pieces.allowance import _tidied


@pytest.mark.parametrize("first", range(4))
@pytest.mark.parametrize("turned", [0, 5, 11])
def test_a_ring_keeps_its_corners_and_begins_at_the_one_nearest_to_the_start(first, turned):
    corners = np.array([[0.0, 0.0], [120.0, -7.0], [131.0, 64.0], [9.0, 88.0]])
    shares = np.array([0.0, 0.25, 0.5])[:, None]
    ring = np.concatenate(
        [(1 - shares) * a + shares * b for a, b in zip(corners, np.roll(corners, -1, 0), strict=True)]
    )
    found = _tidied(np.roll(ring, turned, axis=0), corners[first] + [3.0, -2.0])
    assert found == pytest.approx(np.roll(corners, -first, axis=0))
    assert shapely.Polygon(found).area == pytest.approx(shapely.Polygon(ring).area)
