"""What the page offers of pads without a frame: places on them, tapes over them as lines, where a zip runs."""

import tomllib

import numpy as np
import pytest

from flatten.bench.seat_places import seat_places, tapes_laid
from flatten.sheets.form import form_of
from meshes.closed.build import build_surface
from meshes.sheet.read import read_sheet

OUTLINE = "[pad.outline]\nfront_width = 480\nrear_width = 440\ndepth = 430\ncorner_radius = 30\n"
SHEET = f"""\
name = "Invented"
[[pad]]
name = "cushion"
kind = "cushion"
origin = [0, 0, 300]
{OUTLINE}
[pad.closed]
thickness = 80
core = "foam_medium"
[[pad.layer]]
material = "wadding"
thickness = 12
where = "face"
[[pad]]
name = "card"
kind = "side"
origin = [600, 0, 0]
{OUTLINE}
[pad.board]
[[pad]]
name = "bottom"
kind = "cushion"
origin = [-600, 0, 0]
{OUTLINE}
[pad.closed]
form = "panel"
[[control]]
pad = "cushion"
way = "along"
at = 0
ends = "girth"
over = "cover"
length = 994
[[control]]
pad = "card"
way = "round"
length = 1700
[[control]]
pad = "bottom"
way = "along"
at = 0
ends = "girth"
length = 860
"""


@pytest.fixture(scope="module")
def seat(tmp_path_factory):
    path = tmp_path_factory.mktemp("loose") / "sheet.toml"
    path.write_text(SHEET)
    sheet = read_sheet(path)
    return sheet, [build_surface(pad, edge_mm=30.0, materials=sheet.materials) for pad in sheet.pads]


def test_places_lie_on_the_pad_and_say_whether_a_tape_goes_right_round(seat):
    _, pads = seat
    places = seat_places(pads)
    assert set(places) == {"cushion", "card", "bottom"}
    assert {name: {row["girth"] for row in rows} for name, rows in places.items()} == {
        "cushion": {True},
        "card": {True},
        "bottom": {False},
    }
    named = {row["name"]: row for row in places["cushion"]}
    # The cushion stands on its lower plate at 300, its upper edge a band of 80 above; its middle stands higher.
    x, y, z = named["front edge, centre line"]["point"]
    assert (x, z) == (0.0, pytest.approx(380.0))
    assert y == pytest.approx(8.0, abs=1.5)
    assert named["middle"]["point"][2] > 385.0


def test_tapes_are_drawn_where_they_lie(seat):
    sheet, pads = seat
    girth, around, refused = tapes_laid(sheet, pads)["tapes"]
    line = np.reshape(girth["line"], (-1, 3))
    assert np.allclose(line[0], line[-1])
    assert np.ptp(line[:, 0]) < 0.1
    assert line[:, 2].min() < 300.0 < 380.0 < line[:, 2].max()
    assert not girth["differs"]
    line = np.reshape(around["line"], (-1, 3))
    # The card stands upright.
    assert np.ptp(line[:, 2]) == pytest.approx(430.0, abs=0.2)
    assert [problem["code"] for problem in refused["problems"]] == ["S056"]


@pytest.mark.parametrize(
    ("kind", "said", "value", "usual"),
    [
        ("cushion", "", None, "rear"),
        ("cushion", 'zip = "front"', "front", "rear"),
        ("backrest", 'zip = "bottom"', "bottom", "top"),
        ("backrest", 'zip = ["top", "left"]', "top, left", "top"),
    ],
)
def test_the_form_offers_along_which_side_a_zip_runs(kind, said, value, usual):
    text = f'[[pad]]\nname = "a"\nkind = "{kind}"\n[pad.closed]\nthickness = 80\n{said}\n'
    asked = [field for stage in form_of(tomllib.loads(text), []) for field in stage["fields"]]
    (field,) = [field for field in asked if field["keys"] == ["pad", 0, "closed", "zip"]]
    assert (field["type"], field["value"], field["usual"]) == ("word", value, usual)
    assert {usual, "left", "right"} <= set(field["words"])
    assert value is None or value in field["words"]
