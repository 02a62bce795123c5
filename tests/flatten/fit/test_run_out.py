"""The law of a moved stitch line: full between its marks, out over eight times the amount, rounds add up."""

import numpy as np
import pytest

from flatten.fit.run_out import RUN_OUT, AskedStretch, EdgeGround, NoRoomError, out_mm, run_outs

LONG = EdgeGround(1000.0)
AT = np.linspace(0.0, 1000.0, 20001)


def asked(start, end, out, before=None, after=None, row=0):
    beside = start - 1.0 if before is None else before, end + 1.0 if after is None else after
    return AskedStretch(row, start, end, out, *beside)


def moved(*rows, ground=LONG):
    return out_mm(run_outs(rows, ground), AT)


def test_it_is_full_between_the_marks_and_nothing_beyond_the_run_out():
    found = moved(asked(400.0, 600.0, -6.0))
    between = (AT >= 400.0) & (AT <= 600.0)
    assert found[between] == pytest.approx(-6.0, abs=1e-12)
    assert RUN_OUT == 8.0
    assert found[(AT <= 400.0 - 48.0) | (AT >= 600.0 + 48.0)] == pytest.approx(0.0, abs=1e-12)
    # half way out it is half
    assert np.interp([400.0 - 24.0, 600.0 + 24.0], AT, found) == pytest.approx([-3.0, -3.0], abs=1e-6)


def test_it_goes_to_the_next_mark_where_that_is_farther():
    found = moved(asked(400.0, 600.0, 6.0, before=300.0, after=640.0))
    assert np.interp([300.0, 350.0, 648.0], AT, found) == pytest.approx([0.0, 3.0, 0.0], abs=1e-6)
    assert np.interp(302.0, AT, found) > 0.0


@pytest.mark.parametrize("amount", [0.5, 6.0, 20.0])
def test_no_place_is_steeper_than_the_wave_and_no_place_has_a_kink(amount):
    found = moved(asked(400.0, 600.0, amount))
    slope = np.diff(found) / np.diff(AT)
    # half a wave over eight times the amount
    assert np.abs(slope).max() == pytest.approx(np.pi / 16.0, rel=1e-3)
    assert np.abs(np.diff(slope)).max() < 0.06 * 0.05 / amount * np.pi**2


def test_before_a_sewn_corner_it_is_out_and_begins_within_the_stretch_where_there_is_no_room():
    found = moved(asked(0.0, 500.0, -5.0, before=0.0))
    assert np.interp([0.0, 20.0, 40.0, 500.0], AT, found) == pytest.approx([0.0, -2.5, -5.0, -5.0], abs=1e-6)
    near = moved(asked(30.0, 500.0, -5.0, before=0.0))
    assert np.interp([0.0, 40.0], AT, near) == pytest.approx([0.0, -5.0], abs=1e-6)


def test_beside_an_edge_that_is_held_it_goes_on_to_the_corner():
    ground = EdgeGround(1000.0, open_start=True, open_end=True)
    found = moved(asked(0.0, 1000.0, -5.0, before=0.0, after=1000.0), ground=ground)
    assert found == pytest.approx(-5.0)
    # a run-out that has no room before the corner is cut off by it
    part = moved(asked(20.0, 500.0, -5.0, before=0.0), ground=ground)
    assert -5.0 < part[0] < 0.0


def test_stretches_near_each_other_go_over_into_each_other_without_a_dip():
    found = moved(asked(200.0, 300.0, -6.0), asked(340.0, 500.0, -6.0, row=1))
    assert found[(AT >= 200.0) & (AT <= 500.0)] == pytest.approx(-6.0)
    stepped = moved(asked(200.0, 300.0, -6.0), asked(340.0, 500.0, -2.0, row=1))
    inside = stepped[(AT >= 300.0) & (AT <= 340.0)]
    assert (np.diff(inside) >= 0.0).all()
    assert (inside[0], inside[-1]) == pytest.approx((-6.0, -2.0))
    assert np.abs(np.diff(stepped)).max() < 0.05 * np.pi / 8


def test_touching_stretches_alike_are_one_and_unlike_ones_have_no_room():
    assert moved(asked(200.0, 300.0, 4.0), asked(300.0, 400.0, 4.0)) == pytest.approx(moved(asked(200.0, 400.0, 4.0)))
    with pytest.raises(NoRoomError, match="takes 16 mm") as none:
        moved(asked(200.0, 300.0, 4.0), asked(300.0, 400.0, 2.0, row=3))
    assert none.value.rows == (0, 3)


def test_a_stretch_too_short_to_run_out_within_itself_is_refused():
    with pytest.raises(NoRoomError, match="too short"):
        moved(asked(0.0, 60.0, 6.0, before=0.0, after=60.0), ground=EdgeGround(60.0))
