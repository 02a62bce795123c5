"""Faults of a sheet in its geometry: measures that are written rightly and still cannot be built."""

import pytest

from tests.sheets import Case, check_fault

TRACED = "  [480, 400, 50],\n"
CASES = [
    Case(
        "outline crosses itself",
        TRACED,
        "  [480, 400],\n  [300, -20],\n  [300, 400],\n",
        "G001",
        "points = [ @last",
        "crosses itself",
    ),
    Case("radii too large", "corner_radius = 60", "corner_radius = 300", "G002", "corner_radius = 300", "need 6"),
    Case(
        "radius too large at one point",
        "[480, 400, 50]",
        "[480, 400, 500]",
        "G002",
        "[480, 400, 500]",
        "make them smaller",
    ),
    Case("needle corner", "rear_width = 1080", "rear_width = 4900", "G003", "[pad.outline]", "degrees; check"),
    Case(
        "one side far shorter than the other",
        "rear_width = 1080\ndepth = 480\n",
        "rear_width = 900\ndepth_left = 480\ndepth_right = 20\n",
        "G005",
        "[pad.outline]",
        "no rear side",
    ),
    Case("hollow corner", TRACED, "  [400, 200],\n  [480, 400, 50],\n", "G003", "[400, 200]", "no radius"),
    Case(
        "half traced from the rear",
        "  [0, 0],\n  [500, 0, 30],\n  [480, 400, 50],\n  [0, 420],\n",
        "  [0, 420],\n  [480, 400],\n  [500, 0],\n  [0, 0],\n",
        "G004",
        "points = [ @last",
        "from rear to front",
    ),
    Case(
        "outline of two points",
        "  [500, 0, 30],\n  [480, 400, 50],\n",
        "",
        "G005",
        "points = [ @last",
        "enclose nothing",
    ),
    Case(
        "outline that is a triangle",
        "  [500, 0, 30],\n  [480, 400, 50],\n",
        "  [500, 200],\n",
        "G005",
        "points = [ @last",
        "four",
    ),
    Case("point on the left half", TRACED, "  [480, 400, 50],\n  [-100, 410],\n", "G006", "[-100, 410]", "right half"),
    Case("half begun off the centre", "  [0, 0],\n  [500", "  [10, 0],\n  [500", "G006", "  [10, 0]", "centre line"),
    Case("half ended off the centre", "  [0, 420],\n", "  [12, 420],\n", "G006", "  [12, 420]", "the last point"),
    Case(
        "half begun beside the centre",
        "  [0, 0],\n  [500",
        "  [11, 0],\n  [500",
        "G006",
        "  [11, 0]",
        "the first point",
    ),
    Case(
        "symmetric but different",
        "depth = 480",
        "depth_left = 480\ndepth_right = 470\nsymmetric = true",
        "G007",
        "symmetric",
        "differ by up to 10 mm",
    ),
    Case("point traced twice", TRACED, TRACED + TRACED, "G008", "[480, 400, 50] @2", "same place as point 3"),
    Case(
        "points in the wrong unit",
        "points = [\n  [0, 0],\n  [500, 0, 30],\n  [480, 400, 50],\n  [0, 420],\n]",
        "points = [[0, 0], [0.5, 0], [0.48, 0.4], [0, 0.42]]",
        "S017",
        "0.48",
        "wrong unit",
    ),
    Case(
        "profile out of order",
        "  [120, 6],\n  [470, -10],",
        "  [470, -10],\n  [120, 6],",
        "G010",
        "  [120, 6]",
        "out of order",
    ),
    Case("profile point twice", "  [470, -10],", "  [120, 7],", "G010", "[120, 7]", "same place"),
    Case("profile beyond the rear", "[470, -10]", "[490, -10]", "G011", "[490, -10]", "runs from 0 to 480"),
    Case(
        "profile before the front", "  [0, 0],\n  [120", "  [-9, 0],\n  [120", "G011", "[-9, 0]", "outside the outline"
    ),
    Case("profile beside the pad", "at = 200", "at = 600", "G012", "at = 600", "beside the pad"),
    Case(
        "profile across that was along", '"along"\nat = 200', '"across"\nat = 500', "G012", "at = 500", "measured along"
    ),
    Case("two profiles at one place", "at = 200", "at = 100", "G013", "at = 100 @2", "profile 1"),
    Case("wall", "  [120, 6],", "  [120, 6],\n  [122, 24],\n  [180, 26],", "G016", "[122, 24]", "a wall of 84 degrees"),
    Case("spike", "  [120, 6],", "  [120, 6],\n  [121, 14],\n  [140, 7],", "G014", "[121, 14]", "+8 mm within 1 mm"),
    Case("height of a ladder", "[120, 6]", "[120, 600]", "G015", "[120, 600]", "more than 500"),
    Case("seam below the tack line", "seam_below = 8", "seam_below = 150", "G020", "seam_below = 150", "the tack line"),
    Case("welt without a band", "band = true", "band = false", "G021", "welt = true", "set band = true"),
    Case("drop shorter than the turn", "drop = 120", "drop = 15", "G022", "drop = 15", "takes 20.0 mm"),
    Case("drop shorter than a long turn", "turn = 170", "turn = 170\ndrop = 20", "G022", "drop = 20", "takes 24.0 mm"),
    Case(
        "strip without a side",
        'where = "front"\nwithin',
        'where = "face"\nwithin',
        "G023",
        "within = 70",
        "needs a side",
    ),
    Case("strip wider than the pad", "within = 70", "within = 500", "G024", "within = 500", "a pad of 480 mm"),
    Case(
        "inset without margins",
        "rear = 100\nleft = 110\nright = 110",
        "rear = 0",
        "G030",
        "[pad.inset]",
        "the face itself",
    ),
    Case("inset that leaves nothing", "left = 110", "left = 1000", "G030", "[pad.inset]", "leave"),
    Case("inset inside the turn", "front = 0", "front = 12", "G031", "front = 12", "in the turn"),
    Case(
        "inset corners too round",
        "corner_radius = 50",
        "corner_radius = 250",
        "G032",
        "corner_radius = 250",
        "do not fit",
    ),
    Case("line outside the pad", "[560, 210]", "[660, 210]", "G041", "[660, 210]", "outside the pad"),
    Case(
        "line that crosses itself",
        "[[0, 200], [560, 210]]",
        "[[0, 200], [300, 200], [300, 300], [200, 100]]",
        "G042",
        "[200, 100]",
        "crosses itself",
    ),
    Case("line that stands still", "[[0, 200], [560, 210]]", "[[0, 200], [0, 200]]", "G042", "[0, 200]]", "same place"),
    Case("line that ends in the face", "[560, 210]", "[300, 210]", "G043", "[300, 210]", "carry it on"),
    Case("line on the left half", "[[0, 200], [560", "[[-560, 200], [560", "G044", "[-560", "x >= 0"),
    Case(
        "line along a side",
        "[[0, 200], [560, 210]]",
        "[[556, 20], [545, 460]]",
        "G045",
        "[545, 460]",
        "divides nothing",
    ),
    Case("line along the edge", "[[0, 200], [560, 210]]", "[[0, 2], [500, 4]]", "G045", "[500, 4]", "divides nothing"),
]


@pytest.mark.parametrize("case", CASES, ids=[case.name for case in CASES])
def test_geometry_fault(case, tmp_path):
    check_fault(case, tmp_path)
