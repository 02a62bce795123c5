"""Posts at corners as a sheet says them. Invented data."""

import pytest

from meshes.base.problems import ProblemError
from tests.pads import sheet_of

WIDE, DEEP, DROP = 420.0, 340.0, 50.0
SIDES = "".join(f"[pad.sides.{side}]\ndrop = {DROP}\nedge_radius = 2\n" for side in ("front", "right", "rear"))
BOARD = f"""
name = "board"
[cover]
tension = 0
[cover.card]
name = "slack"
thickness = 1
stretch_along = 0.06
stretch_across = 0.06
pull = 0
[output]
mesh = 24
[[pad]]
name = "seat"
kind = "cushion"
[pad.outline]
front_width = {WIDE}
rear_width = {WIDE}
depth = {DEEP}
corner_radius = 2
{SIDES}"""
POST = '[[pad.post]]\ncorner = "rear_left"\nwidth = 40\n'
BANDED = BOARD.replace("edge_radius = 2\n", "edge_radius = 2\nband = true\n").replace(
    "corner_radius = 2", "corner_radius = 30"
)


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        (BANDED + POST + "depth = 20\n", {"G206"}),
        (BOARD + POST + "depth = 20\ndown = 3\n", {"G206"}),
        (BOARD + POST + "depth = 20\nturned = true\n", {"G206"}),
        (BOARD + POST, {"G206"}),
        (BOARD + POST + 'side = "rear"\nat = 20\ndown = 3\n', {"G206"}),
        (BOARD + "[[pad.post]]\nwidth = 40\n", {"G206"}),
        (BOARD + '[[pad.post]]\nside = "rear"\nat = 20\nwidth = 40\ndepth = 20\n', {"G206"}),
        (BOARD + '[pad.fixing]\nrear = "fly"\n' + POST + "depth = 20\n", {"G206"}),
    ],
)
def test_what_cannot_be_is_told(text, codes):
    with pytest.raises(ProblemError) as caught:
        sheet_of(text)
    assert {problem.code for problem in caught.value.problems} == codes


def test_a_named_fold_where_a_post_stands_is_told():
    sheet = sheet_of(BOARD + '[pad.folds]\nrear_left = "single"\n' + POST + "depth = 20\n")
    (told,) = [problem for problem in sheet.warnings if problem.code == "G207"]
    assert "leave rear_left out" in told.text


def test_upright_pads_say_bottom_and_top():
    back = BOARD.replace('"cushion"', '"backrest"').replace("front", "bottom").replace("rear", "top")
    sheet = sheet_of(back + POST.replace("rear_left", "top_left") + "depth = 20\n")
    assert {post.corner for post in sheet.pads[0].fixings.corner_posts} == {"rear_left", "rear_right"}
