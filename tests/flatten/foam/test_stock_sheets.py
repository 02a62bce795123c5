"""Boxes on stock sheets: enough sheets for a layout that exists, never fewer than their area takes."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from flatten.foam.stock_sheets import sheets_for_boxes

SHEET = (1000.0, 2000.0)
SIZES = st.tuples(st.floats(10.0, 1000.0), st.floats(10.0, 2000.0))


def test_two_shapes_that_fill_three_quarters_of_a_sheet_may_need_two():
    # End to end they are 2367 mm long, side by side 1333 mm wide; by area one sheet would do.
    boxes = [(1183.6, 666.4)] * 2
    assert sum(w * h for w, h in boxes) < 0.8 * SHEET[0] * SHEET[1]
    assert sheets_for_boxes(boxes, SHEET) == 2


@pytest.mark.parametrize(
    ("boxes", "sheets"),
    [
        ([], 0),
        ([(1000.0, 2000.0)], 1),
        ([(2000.0, 1000.0)], 1),
        ([(500.0, 1000.0)] * 4, 1),
        ([(1000.0, 500.0)] * 4, 1),
        ([(500.0, 1000.0)] * 5, 2),
        ([(500.0, 500.0)] * 8, 1),
        ([(600.0, 2000.0), (400.0, 1200.0), (400.0, 800.0)], 1),
        ([(1200.0, 1500.0)], 2),
        ([(2500.0, 900.0)], 2),
    ],
)
def test_known_layouts(boxes, sheets):
    assert sheets_for_boxes(boxes, SHEET) == sheets


@given(st.lists(SIZES, max_size=12))
def test_between_what_their_area_takes_and_a_sheet_each(boxes):
    found = sheets_for_boxes(boxes, SHEET)
    assert math.ceil(sum(w * h for w, h in boxes) / (SHEET[0] * SHEET[1]) - 1e-9) <= found <= len(boxes)


@given(st.lists(SIZES, min_size=1, max_size=8), st.randoms(use_true_random=False))
def test_order_and_turning_do_not_matter(boxes, dice):
    mixed = [box[::-1] if dice.random() < 0.5 else box for box in boxes]
    dice.shuffle(mixed)
    assert sheets_for_boxes(mixed, SHEET) == sheets_for_boxes(boxes, SHEET)


@given(st.lists(SIZES, min_size=1, max_size=8), st.sampled_from([2.0, 4.0]))
def test_the_unit_does_not_matter(boxes, scale):
    scaled = [(w * scale, h * scale) for w, h in boxes]
    assert sheets_for_boxes(scaled, (SHEET[0] * scale, SHEET[1] * scale)) == sheets_for_boxes(boxes, SHEET)
