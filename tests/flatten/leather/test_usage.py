"""Use of a leather's budget by direction, against plain scans over all directions."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flatten.demand.least_demand import Member, least_demand
from flatten.demand.window import Terms
from flatten.leather.budget_use import use_of
from flatten.leather.stretch import stretch
from flatten.maps.start import starts
from tests import shapes

TURNS = np.linspace(0.0, np.pi, 36001)


def scanned(values, along, backbone, limits, use):
    """Largest stretch over the allowance of `use` in any of many directions, then of more near the best; 1 when the use
    is just met. The peak is narrow where both allowances differ much."""
    across = np.array([-along[1], along[0]])
    side = np.array([-backbone[1], backbone[0]])

    def shares(turns):
        n = np.stack([np.cos(turns), np.sin(turns)], axis=1)
        length = np.hypot(values[0] * (n @ along), values[1] * (n @ across))
        return length / np.hypot(np.exp(use * limits[0]) * (n @ backbone), np.exp(use * limits[1]) * (n @ side))

    best = TURNS[int(np.argmax(shares(TURNS)))]
    near = best + np.linspace(-1.5, 1.5, 3001) * (TURNS[1] - TURNS[0])
    share = shares(near)
    turn = near[int(np.argmax(share))]
    return share.max(), np.array([np.cos(turn), np.sin(turn)])


@given(
    st.floats(1.0, 1.2),
    st.floats(0.8, 1.0),
    st.floats(0.0, 3.1),
    st.floats(0.0, 3.1),
    st.floats(0.01, 0.3),
    st.floats(0.01, 0.3),
)
def test_use_is_the_least_that_no_direction_exceeds(large, small, turn, grain, along_limit, across_limit):
    along, backbone = (np.array([np.cos(a), np.sin(a)]) for a in (turn, grain))
    limits = (along_limit, across_limit)
    found = use_of(np.array([[large, small]]), along[None], backbone, limits)
    share, toward = scanned((large, small), along, backbone, limits, float(found.values[0]))
    # No direction is beyond it; the scan misses the one that meets it by up to half a step of 9e-8 rad.
    assert 1.0 - 1e-6 < share <= 1.0 + 1e-9
    if large - small > 1e-3:
        # The scan knows the direction no better than where the two curves nearly coincide.
        here = found.toward[0]
        across = np.array([-along[1], along[0]])
        length = np.hypot(large * (here @ along), small * (here @ across))
        side = np.array([-backbone[1], backbone[0]])
        use = float(found.values[0])
        allowed = np.hypot(np.exp(use * limits[0]) * (here @ backbone), np.exp(use * limits[1]) * (here @ side))
        assert length / allowed == pytest.approx(1.0, abs=1e-9)
        assert abs(toward @ here) > 0.7


def test_a_leather_alike_in_all_directions_is_used_by_the_log_of_its_largest_stretch():
    found = use_of(np.array([[1.03, 0.99]]), np.array([[0.6, 0.8]]), np.array([0.0, 1.0]), (0.05, 0.05))
    assert found.values[0] == pytest.approx(np.log(1.03) / 0.05, abs=1e-12)
    assert found.most[0] == pytest.approx(np.exp(0.05), abs=1e-12)


@pytest.mark.parametrize("name", ["cap", "saddle", "cushion"])
def test_a_bound_by_direction_uses_less_of_such_a_leather_than_a_bound_alike(name):
    mesh = {
        "cap": lambda: shapes.cap(0.5, rings=14),
        "saddle": lambda: shapes.saddle(rings=12),
        "cushion": lambda: shapes.cushion(edge=26.0),
    }[name]()
    limits = (0.04, 0.08)
    start = next(starts(*mesh)).points

    def worst(ratio):
        found = least_demand(Member(*mesh, start, ratio=ratio), Terms(pull=0.01), gap=2e-3)
        assert found.status.converged
        field = stretch(mesh[0], found.points, mesh[1])
        assert np.log(field.values.min()) >= 0.01 - 1e-12
        return use_of(field.values, field.along, np.array([1.0, 0.0]), limits).values.max()

    assert worst((1.0, 2.0)) < 0.95 * worst((1.0, 1.0))
    assert worst((1.0, 1.0)) < worst((2.0, 1.0))


def test_a_bound_alike_in_both_directions_is_the_plain_one():
    mesh = shapes.cap(0.5, rings=12)
    start = next(starts(*mesh)).points
    plain = least_demand(Member(*mesh, start), gap=1e-3)
    other = least_demand(Member(*mesh, start, ratio=(1.0, 1.0 + 1e-12)), gap=1e-3)
    assert other.log_spread == pytest.approx(plain.log_spread, rel=2e-3)


def test_far_more_across_than_along_keeps_to_both_bounds():
    # Stretched mostly across at the start: the bound along must not be taken for the one across.
    seat, triangles = shapes.cylinder()
    start = next(starts(seat, triangles)).points
    axis = np.linalg.svd(start - start.mean(axis=0))[2][0]
    start = (start - start.mean(axis=0)) @ np.array([[axis[1], axis[0]], [-axis[0], axis[1]]])
    squeezed = start * np.array([1.0, 0.95])
    found = least_demand(Member(seat, triangles, squeezed, ratio=(1.0, 3.0)), Terms(pull=0.01), gap=2e-3)
    field = stretch(seat, found.points, triangles)
    assert np.log(field.values.min()) >= 0.01 - 1e-12
    # What unrolls takes no more than the pull; a few per cent of the limit are left to the search.
    use = use_of(field.values, field.along, np.array([1.0, 0.0]), (0.05, 0.15)).values.max()
    assert 0.01 / 0.05 < use < 0.21
