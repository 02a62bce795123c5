"""What paper is checked with: as long as it says, with ticks that divide it evenly, in either unit."""

import pytest

from flatten.draw.imprint import Imprint

IN_UNITS = [Imprint(unit=unit) for unit in ("mm", "in")]
CHECKED = [measure for one in IN_UNITS for measure in (one.square, one.ruler)]
EVERY = [*CHECKED, *(bar for one in IN_UNITS for bar in one.bars)]


@pytest.mark.parametrize("measure", EVERY, ids=lambda measure: measure.words)
def test_a_measure_is_as_long_as_it_says_and_ends_with_a_tick(measure):
    factor = 25.4 if " in" in measure.words else 1.0
    assert float(measure.words.split()[0]) * factor == pytest.approx(measure.length_mm)
    assert round(measure.length_mm / measure.tick_mm, 9) % 1.0 == 0.0
    assert measure.labelled % measure.middling == 0


@pytest.mark.parametrize("measure", CHECKED, ids=lambda measure: measure.words)
def test_the_last_tick_of_square_and_ruler_is_a_longest_one(measure):
    assert round(measure.length_mm / measure.tick_mm, 9) % measure.labelled == 0.0


def test_bars_of_either_unit_grow_shorter_and_none_is_a_finger_longer_than_its_twin():
    for one in IN_UNITS:
        lengths = [bar.length_mm for bar in one.bars]
        assert lengths == sorted(set(lengths), reverse=True)
    for metric, imperial in zip(*(one.bars for one in IN_UNITS), strict=True):
        assert 0.0 < imperial.length_mm - metric.length_mm < 6.0
