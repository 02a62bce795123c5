"""What is wrong with a flat board in a sheet, told at its place with what to do."""

import numpy as np
import pytest

from meshes.base.problems import ProblemError
from meshes.outlines.openings import followed
from tests.pads import sheet_of

GOOD = """
name = "card"
[[pad]]
name = "door"
kind = "side"
[pad.outline]
bottom_width = 500
top_width = 500
depth = 400
corner_radius = 40
[pad.board]
thickness = 3
wrap = 22
[[pad.board.opening]]
name = "lock"
at = [-120, 250]
width = 90
depth = 60
corner_radius = 10
[[pad.board.opening]]
name = "vent"
shape = "round"
at = [100, 150]
width = 120
edge = "cut"
[[pad.board.hole]]
at = [-120, 100]
diameter = 8
[[pad.layer]]
material = "foam_firm"
thickness = 3
"""


def problems(text):
    with pytest.raises(ProblemError) as caught:
        sheet_of(text)
    return caught.value.problems


def area(corners, radii):
    x, y = followed(corners, radii).T
    return 0.5 * float(x @ np.roll(y, -1) - y @ np.roll(x, -1))


def test_a_good_one_reads_without_a_word():
    sheet = sheet_of(GOOD)
    assert sheet.warnings == ()
    board = sheet.pads[0].board
    assert [one.name for one in board.openings] == ["lock", "vent"]
    assert [one.wrap for one in board.openings] == [13.0, 0.0]
    assert not sheet.pads[0].on_frame


def test_openings_have_the_area_of_their_shape():
    lock, vent = sheet_of(GOOD).pads[0].board.openings
    assert area(lock.corners, lock.radii) == pytest.approx(90 * 60 - (4 - np.pi) * 10**2, rel=1e-3)
    assert area(vent.corners, vent.radii) == pytest.approx(np.pi * 60**2, rel=1e-3)
    ellipse = sheet_of(GOOD.replace("width = 120", "width = 120\ndepth = 80")).pads[0].board.openings[1]
    assert area(ellipse.corners, ellipse.radii) == pytest.approx(np.pi * 60 * 40, rel=1e-3)


def test_a_traced_opening_runs_either_way_round():
    points = "[[-150, 20], [-50, 20], [-50, 70, 8], [-150, 70, 8]]"
    back = "[[-150, 70, 8], [-50, 70, 8], [-50, 20], [-150, 20]]"
    areas = []
    for text in (points, back):
        more = f"[[pad.board.opening]]\npoints = {text}\n[[pad.board.hole]]"
        opening = sheet_of(GOOD.replace("[[pad.board.hole]]", more)).pads[0].board.openings[2]
        areas.append(area(opening.corners, opening.radii))
    assert areas == pytest.approx([100 * 50 - 2 * (1 - np.pi / 4) * 8**2] * 2, rel=1e-4)


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("[[pad.layer]]", "[pad.sides.top]\ndrop = 90\n[[pad.layer]]", "G190"),
        ("[[pad.layer]]", "[pad.closed]\nthickness = 90\n[[pad.layer]]", "G190"),
        ("[[pad.layer]]", '[pad.folds]\nall = "single"\n[[pad.layer]]', "G190"),
        ('material = "foam_firm"\nthickness = 3', 'material = "foam_firm"\nthickness = 16', "G191"),
        ('material = "foam_firm"', 'material = "foam_firm"\nwhere = "top"', "G191"),
        ('material = "foam_firm"', 'material = "foam_firm"\nwhere = "face"\ntaper = 5', "G191"),
        ("at = [-120, 250]", "at = [-220, 250]", "G192"),
        ("at = [-120, 250]", "at = [60, 220]", "G192"),
        ("at = [-120, 100]", "at = [100, 150]", "G192"),
        ("at = [-120, 100]", "at = [-248, 100]", "G192"),
        ("width = 90\ndepth = 60\ncorner_radius = 10", "width = 20\ndepth = 20", "G194"),
        ("depth = 60\ncorner_radius = 10", "depth = 60\ncorner_radius = 31", "G101"),
        ("depth = 60\ncorner_radius = 10", "corner_radius = 10", "S011"),
        ('shape = "round"\nat = [100, 150]', 'shape = "round"\nat = [100, 150]\ncorner_radius = 4', "S020"),
        ('edge = "cut"', 'edge = "cut"\nwrap = 10', "S020"),
        ('edge = "cut"', 'edge = "torn"', "S013"),
        ("diameter = 8", "diameter = 90", "S016"),
    ],
)
def test_faults_have_codes_of_their_own(old, new, code):
    text = GOOD.replace(old, new, 1)
    assert text != GOOD
    assert code in {problem.code for problem in problems(text)}


def test_points_that_cross_bound_no_opening():
    old = "at = [-120, 250]\nwidth = 90\ndepth = 60\ncorner_radius = 10"
    crossed = "points = [[-150, 200], [-60, 300], [-60, 200], [-150, 300]]"
    assert "G001" in {problem.code for problem in problems(GOOD.replace(old, crossed))}


def test_leather_from_both_sides_of_a_narrow_board_may_not_meet():
    narrow = GOOD.replace("depth = 400", "depth = 100").replace("wrap = 22", "wrap = 51").replace("= 40", "= 10")
    (found,) = [problem for problem in problems(narrow) if problem.code == "G195"]
    assert "less than 50 mm" in found.text


def test_two_turned_in_edges_that_meet_are_told_and_stop_nothing():
    sheet = sheet_of(GOOD.replace("at = [-120, 250]", "at = [-175, 250]"))
    (told,) = sheet.warnings
    assert told.code == "G193"
    assert "30 mm of board" in told.text
    assert told.line == 1 + GOOD.splitlines().index("at = [-120, 250]")


def test_corners_that_differ_left_and_right_are_not_taken_for_even():
    uneven = GOOD.replace("corner_radius = 40", "corner_radius = { bottom_left = 40, top_left = 20 }")
    assert not sheet_of(uneven).pads[0].symmetric
    even = GOOD.replace("corner_radius = 40", "corner_radius = { bottom_left = 40, bottom_right = 40 }")
    assert sheet_of(even).pads[0].symmetric
