"""Welt strips: widths, numbers and joins."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from flatten.pieces.welt import strip_width, strips_needed, welt_plan


def test_strip_over_a_cord():
    # TRADE: 5/32 in cord with 12 mm allowances: 41.0 mm in leather of 1 mm by 2 a + pi (d + t); 37.9 mm in cloth is the
    # same formula with cloth that is hardly thicker than nothing.
    assert strip_width(5 / 32 * 25.4, 1.0, 12.7) == pytest.approx(41.0, abs=0.05)
    assert strip_width(5 / 32 * 25.4, 1e-9, 12.7) == pytest.approx(37.9, abs=0.05)


def test_strips_across_the_cloth():
    # forum.upholster.com topic 10184: 950 in of welt from cloth 54 in wide takes 18 strips.
    assert strips_needed(950.0, 54.0) == 18


@given(st.floats(10.0, 1e5), st.floats(50.0, 3000.0), st.floats(0.0, 45.0))
def test_as_few_strips_as_reach(length, strip, join):
    count = strips_needed(length, strip, join_mm=join)
    assert count * strip - (count - 1) * join >= length * (1 - 1e-9)
    if count > 1:
        assert (count - 1) * strip - (count - 2) * join < length


def test_a_plan_adds_corners_ends_and_joins_run_by_run():
    plan = welt_plan({"a": 1000.0, "b": 500.0}, {"a": 2}, covering_mm=1.0, allowance_mm=12.0, strip_mm=900.0)
    assert plan.sewn_mm == 1500.0
    assert plan.runs["a"].cut_mm == 1000.0 + 2 * 10.0 + 50.0
    assert plan.runs["b"].cut_mm == 500.0 + 50.0
    assert plan.cut_mm == 1500.0 + 2 * 10.0 + 2 * 50.0
    assert plan.width_mm == pytest.approx(24.0 + math.pi * (3.96875 + 1.0))
    # Two strips of 900 less one bias join of the strip's width reach 1070 mm; one reaches 550.
    assert (plan.runs["a"].strips, plan.runs["a"].joins) == (2, 1)
    assert (plan.runs["b"].strips, plan.runs["b"].joins) == (1, 0)
    assert (plan.strips, plan.joins) == (3, 1)


@pytest.mark.parametrize("wrong", [(0.0, 1.0, 12.0), (4.0, 0.0, 12.0), (4.0, 1.0, -1.0)])
def test_welt_without_thickness_is_refused(wrong):
    with pytest.raises(ValueError, match="thickness"):
        strip_width(*wrong)


def test_strips_shorter_than_their_join_are_refused():
    with pytest.raises(ValueError, match="too short"):
        strips_needed(100.0, 30.0, join_mm=40.0)
