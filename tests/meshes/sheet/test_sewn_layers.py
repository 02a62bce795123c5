"""Sew foam as a sheet may say it: thin, and under whole panels."""

import pytest

from meshes.base.problems import ProblemError
from tests.pads import sheet_of

PAD = """name = "bench"
[[pad]]
name = "cushion"
kind = "cushion"
[pad.outline]
front_width = 400
rear_width = 400
depth = 300
[[pad.layer]]
material = "foam_soft"
sewn = true
"""


def test_thin_sew_foam_under_whole_panels_is_read():
    for where in ("all", "face"):
        layer = sheet_of(f'{PAD}thickness = 6\nwhere = "{where}"\n').pads[0].layers[0]
        assert layer.sewn


@pytest.mark.parametrize(
    ("said", "found"),
    [
        ('thickness = 6\nwhere = "front"\n', "whole panels"),
        ("thickness = 40\n", "40 mm is too thick to sew through"),
    ],
)
def test_sew_foam_that_cannot_be_sewn_is_told(said, found):
    with pytest.raises(ProblemError) as refused:
        sheet_of(PAD + said)
    [problem] = refused.value.problems
    assert problem.code == "S030"
    assert found in problem.text
