"""What is wrong with a closed cover in a sheet, told at its place with what to do."""

import pytest

from meshes.base.problems import ProblemError
from tests.pads import sheet_of

GOOD = """
name = "box"
[[pad]]
name = "c"
kind = "cushion"
[pad.outline]
front_width = 400
rear_width = 400
depth = 360
corner_radius = 30
[pad.closed]
thickness = 80
[[pad.layer]]
material = "wadding"
thickness = 10
where = "face"
"""


def codes(text):
    with pytest.raises(ProblemError) as caught:
        sheet_of(text)
    return {problem.code for problem in caught.value.problems}


def test_a_good_one_reads_without_a_word():
    assert sheet_of(GOOD).warnings == ()


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("[[pad.layer]]", "[pad.sides.front]\ndrop = 90\n[[pad.layer]]", "G170"),
        ("[[pad.layer]]", "[pad.inset]\nmargin = 60\n[[pad.layer]]", "G170"),
        ("[[pad.layer]]", '[pad.support]\nkind = "board"\n[[pad.layer]]', "G170"),
        ('where = "face"', 'where = "front"', "G171"),
        ("thickness = 80", "thickness = 80\nband = 101", "G172"),
        ("thickness = 80", "thickness = 80\nband = 45", "G172"),
        ("thickness = 80", "thickness = 80\nundersize = 60", "G175"),
        ("thickness = 80", "thickness = 80\nlength = 60", "G176"),
        ("thickness = 80", "welt = true", "S011"),
        ("thickness = 80", 'form = "roll"\nlength = 300\nband = 80', "G172"),
        ("thickness = 80", 'thickness = 80\ncore = "foam_frim"', "S022"),
        ("thickness = 80", 'form = "panel"', "G170"),
        ("thickness = 80", 'form = "panel"\nfront = "nailed"', "S013"),
        ("thickness = 80", 'form = "sphere"\nthickness = 80', "S013"),
    ],
)
def test_faults_have_codes_of_their_own(old, new, code):
    assert code in codes(GOOD.replace(old, new, 1))
