"""Where the reader draws the line: what is just allowed reads, what is just too much is refused.

The limits follow from the measures of the good sheet and were worked out by hand beside each case.
"""

import math

import pytest

from meshes.base.problems import ProblemError
from meshes.records.pad import Side
from tests.pads import sheet_of
from tests.sheets import GOOD

LINE = "points = [[0, 200], [560, 210]]"
INSET = "front = 0\nrear = 100\nleft = 110\nright = 110\ncorner_radius = 50"
LIMITS = [
    # Edge radius 20 and 25 mm of padding turn through 90 degrees: pi / 4 * 45 + 120 - 20 = 135.34 mm to the tack line.
    ("seam_below = 8", "seam_below = 135.3", "seam_below = 135.4", "G020"),
    # A quarter turn of 20 mm radius takes 20 mm of the drop.
    ("drop = 120", "drop = 20.1", "drop = 19.9", "G022"),
    # tan 80 degrees = 5.671: so much height within 1 mm, up and down.
    ("  [120, 6],", "  [120, 6],\n  [121, 11.6],", "  [120, 6],\n  [121, 11.7],", "G014"),
    ("  [120, 6],", "  [120, 6],\n  [121, 0.4],", "  [120, 6],\n  [121, 0.3],", "G014"),
    # The pad is 480 mm deep: half of that a profile may run past it.
    ("  [0, 0],\n  [120", "  [-239.9, 0],\n  [120", "  [-240.1, 0],\n  [120", "G011"),
    ("[470, -10]", "[719.9, -10]", "[720.1, -10]", "G011"),
    # The pad is 1120 mm wide at the front, 1080 mm at the rear.
    ("at = 200", "at = 540", "at = 561", "G012"),
    ("at = 200", "at = 101.1", "at = 100.9", "G013"),
    ("[120, 6]", "[120, 500]", "[120, 501]", "G015"),
    ("within = 70", "within = 480", "within = 480.1", "G024"),
    ('"front"\nwithin = 70', '"left"\nwithin = 1120', '"left"\nwithin = 1120.1', "G024"),
    ("front = 0", "front = 20", "front = 19.9", "G031"),
    # At y = 380, where the rear margin ends, the pad is 1120 - 40 * 380 / 480 = 1088.33 mm wide; 4 mm must be left.
    ("right = 110\ncorner_radius = 50", "right = 974.2", "right = 974.4", "G030"),
    # Depth 480: with 100 at the rear and 375 at the front 5 mm are left, with 377 only 3.
    (INSET, "front = 375\nrear = 100", "front = 377\nrear = 100", "G030"),
    # The inset is 380 mm deep.
    ("corner_radius = 50", "corner_radius = 190", "corner_radius = 190.1", "G032"),
    # At y = 210 the right edge stands at 560 - 20 * 210 / 480 = 551.25, slanting by 1 in 24; a line may end 12 mm
    # beyond.
    ("[560, 210]", "[563.2, 210]", "[563.3, 210]", "G041"),
    # The same edge from inside, then the seam of the inset 110 mm from it, and the one 100 mm from the rear.
    ("[560, 210]", "[539.3, 210]", "[539.2, 210]", "G043"),
    ("[560, 210]", "[452, 210]", "[455, 210]", "G043"),
    (LINE, "points = [[560, 210], [300, 391]]", "points = [[560, 210], [300, 393]]", "G043"),
    # The mirror image meets a line on the centre line.
    (LINE, "points = [[560, 210], [11, 210]]", "points = [[560, 210], [13, 210]]", "G043"),
    # A quarter of an A4 page, 210 mm wide.
    ("overlap = 10", "overlap = 52.5", "overlap = 52.6", "S024"),
    ('name = "bench"', f'name = "{"b" * 60}"', f'name = "{"b" * 61}"', "S018"),
    ("turn = 90", "turn = 30", "turn = 29.9", "S016"),
    ("turn = 170", "turn = 180", "turn = 180.1", "S016"),
    ("taper = 30", "taper = 0", "taper = -0.1", "S016"),
    ("thickness = 25", "thickness = 300", "thickness = 300.1", "S016"),
    ("mesh = 6", "mesh = 1", "mesh = 0.9", "S017"),
    ("mesh = 6", "mesh = 40", "mesh = 40.1", "S016"),
    ("roll_width = 914", "roll_width = 200", 'roll_width = "199 mm"', "S016"),
    # The front edge is 1120 mm, the sides 480.42 mm at 87.61 and 92.39 degrees: radii of 240 mm need
    # 240 * (tan 46.2 + tan 43.8 degrees) = 480.42 mm.
    ("corner_radius = 60", "corner_radius = 240", "corner_radius = 240.5", "G002"),
]


def codes_of(text: str) -> set[str]:
    try:
        sheet_of(text)
    except ProblemError as refused:
        return {problem.code for problem in refused.problems}
    return set()


@pytest.mark.parametrize(("old", "allowed", "refused", "code"), LIMITS, ids=[f"{c} {a[-24:]}" for _, a, _, c in LIMITS])
def test_limit(old, allowed, refused, code):
    assert old in GOOD
    assert codes_of(GOOD.replace(old, allowed, 1)) == set()
    assert codes_of(GOOD.replace(old, refused, 1)) == {code}


@pytest.mark.parametrize(
    ("turn_deg", "per_radius"),
    # Tangents of an arc meet tan(turn / 2) radii from its ends; past a quarter turn the arc itself is followed.
    [(60, math.tan(math.radians(30))), (90, 1.0), (180, 1.0 + math.pi / 2)],
)
def test_what_a_turn_takes_of_the_drop(turn_deg, per_radius):
    assert Side(edge_radius=20.0, turn_deg=turn_deg).lead == pytest.approx(20.0 * per_radius)


def test_left_and_right_profiles_that_agree_keep_a_pad_even():
    profile = '[[pad.profile]]\ndirection = "along"\nat = {}\npoints = [[0, 0], [470, {}]]\n'
    place = "[pad.sides.front]"
    even = GOOD.replace(place, profile.format(-200, 2).replace("[0, 0]", "[0, 1]") + place, 1)
    assert sheet_of(even).pads[0].symmetric
    assert not sheet_of(even.replace("[470, 2]]\n[pad.sides", "[470, 3]]\n[pad.sides")).pads[0].symmetric


@pytest.mark.parametrize(("at", "places"), [((100, 200), 4), ((-100, -200), 4), ((-100, 200), 2), ((0, 200), 3)])
def test_profiles_of_one_half_are_completed_on_an_uneven_pad(at, places):
    uneven = "[pad.sides.left]\ndrop = 90\n[pad.sides.right]\ndrop = 95\n[pad.sides.rear]"
    text = GOOD.replace("at = 100", f"at = {at[0]}").replace("at = 200", f"at = {at[1]}")
    pad = sheet_of(text.replace("[pad.sides.rear]", uneven)).pads[0]
    assert len(pad.profiles) == places
    assert len({profile.at for profile in pad.profiles}) == places


def test_both_halves_of_an_uneven_outline_are_looked_at():
    whole = "points = [[-500, 0], [500, 0], [480, 400], [-480, 400], [-400, 200]]\nsymmetric = false"
    start, end = GOOD.index("points = [\n  [0, 0],\n  [500"), GOOD.index("\n[pad.sides.top]")
    assert codes_of(GOOD[:start] + whole + GOOD[end:]) == {"G003"}
    assert codes_of(GOOD[:start] + whole.replace("[-400, 200]", "[-400, 200, 30]") + GOOD[end:]) == set()


def test_the_rounder_edge_of_a_corner_counts():
    # Front edge 20 mm, sides 10 mm: corners of 15 mm are made 20 mm round at the front, but suffice at the rear.
    warnings = [w.code for w in sheet_of(GOOD.replace("corner_radius = 60", "corner_radius = 15")).warnings]
    assert warnings == ["G051"]
    table = "corner_radius = { rear_left = 15, rear_right = 15 }"
    assert sheet_of(GOOD.replace("corner_radius = 60", table)).warnings == ()


@pytest.mark.parametrize(("points", "warned"), [("[[0, 0], [300, 5]]", True), ("[[0, 0], [470, 5]]", False)])
def test_half_a_profile_across_is_held_against_its_half(points, warned):
    text = GOOD.replace('"along"\nat = 200', '"across"\nat = 240').replace("[[0, 1], [470, 2]]", points)
    assert [w.code for w in sheet_of(text).warnings] == (["G053"] if warned else [])


@pytest.mark.parametrize(("last", "told"), [("[481.9, -10]", []), ("[482.1, -10]", ["G065"]), ("[719, -10]", ["G065"])])
def test_readings_past_the_outline_are_told_beyond_what_a_tape_reads_to(last, told):
    assert [w.code for w in sheet_of(GOOD.replace("[470, -10]", last)).warnings] == told


def test_a_profile_has_two_readings_on_the_pad():
    """One reading alone on the pad and one far past it would make a face of a guess."""
    text = GOOD.replace('"along"\nat = 200', '"across"\nat = 240').replace("[[0, 1], [470, 2]]", "[[540, 1], [600, 2]]")
    assert codes_of(text) == {"G011"}
