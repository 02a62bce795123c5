"""Words' widths and heights: in proportion, and held to the room they have."""

import pytest

from flatten.draw.fonts import height_to_fit, type_size, words_width

WORDS = "helm bench, revision 1a2b3c"


def test_widths_grow_with_the_height_and_add_up():
    assert words_width(WORDS, 7.0) == pytest.approx(2.0 * words_width(WORDS, 3.5))
    assert words_width(WORDS + WORDS, 3.5) == pytest.approx(2.0 * words_width(WORDS, 3.5))
    assert type_size(3.0) == pytest.approx(3.0 * type_size(1.0))
    assert type_size(1.0) > 1.0


@pytest.mark.parametrize("room_mm", [20.0, 61.7])
def test_words_too_wide_are_made_as_small_as_fills_the_room_to_the_last_digit(room_mm):
    assert words_width(WORDS, height_to_fit(WORDS, 10.0, room_mm)) == pytest.approx(room_mm)


def test_words_with_room_enough_and_no_words_keep_their_height():
    assert height_to_fit(WORDS, 3.0, 1.001 * words_width(WORDS, 3.0)) == 3.0
    assert height_to_fit("", 3.0, 5.0) == 3.0
