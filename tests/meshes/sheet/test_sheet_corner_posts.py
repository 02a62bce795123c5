"""Posts at corners as a sheet says them. Invented data."""

import pytest

from meshes.base.problems import ProblemError
from tests.flatten.pieces.test_corner_posts import BOARD, POST
from tests.pads import sheet_of

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
