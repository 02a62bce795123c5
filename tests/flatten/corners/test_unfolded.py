"""A face that is too tight where it goes round a corner in one is sent to folds, and folded it is sent no more."""

from dataclasses import replace

import pytest

from flatten.corners.unfolded import unfolded_notes
from flatten.job.make import make
from meshes.support.chart import make_problem_for
from tests.pads import sheet_of

SEAT = """
name = "slip seat"
[cover]
leather = "furniture"
tension = 0
[output]
mesh = 24
[[pad]]
name = "seat"
kind = "cushion"
[pad.outline]
front_width = 460
rear_width = 420
depth = 410
corner_radius = 15
[pad.sides]
front = { drop = 50, edge_radius = 10 }
right = { drop = 50, edge_radius = 10 }
rear = { drop = 50, edge_radius = 10 }
"""


@pytest.fixture(scope="module")
def tight():
    return make(sheet_of(SEAT), workers=1)


def test_a_face_that_goes_round_its_corners_in_one_is_sent_to_folds(tight):
    (told,) = [problem for problem in tight.problems if problem.code == "F340"]
    assert told.warning
    assert told.keys == ("pad", 0, "folds")
    (flat,) = tight.flats.values()
    assert f"{100 * flat.demand:.1f} %" in told.text
    assert 'all = "drawn" under [pad.folds]' in told.text


def test_what_it_advises_helps(tight):
    folded = make(sheet_of(SEAT + '[pad.folds]\nall = "drawn"\n'), workers=1)
    assert "F340" not in {problem.code for problem in folded.problems}
    (one,), (other,) = tight.flats.values(), folded.flats.values()
    assert other.demand < 0.5 * one.demand


def test_a_corner_with_a_band_beside_it_is_none_to_fold(tight):
    """The same pad and maps, said to have bands on front and rear: no corner is left over which the face runs."""
    (pad,) = tight.pads
    banded = {name: replace(side, band=name in ("front", "rear")) for name, side in pad.pad.sides.items()}
    with_bands = replace(pad, pad=replace(pad.pad, sides=banded))
    assert unfolded_notes(pad, tight.flats, make_problem_for(pad.pad))
    assert not unfolded_notes(with_bands, tight.flats, make_problem_for(pad.pad))
