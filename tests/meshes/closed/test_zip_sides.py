"""Along which side the zip of a closed cover runs: one turned round is the other, lengths in closed form, refusals."""

import math

import numpy as np
import pytest

from meshes.base.problems import ProblemError
from meshes.base.surface import triangle_areas
from meshes.closed.bands import LEFT_OF_SIDE_MM, ZipTooLongError, band_parts
from meshes.closed.build import build
from meshes.closed.rim import rim_curve, smaller_outline
from meshes.closed.words import closed_words
from meshes.records.closed import LONGEST_BAND_MM, ROUND_THE_RIM, Closed, zip_run
from meshes.records.pad import Outline
from tests.meshes.closed.test_closed_bodies import BOX, by_part, is_closed_surface
from tests.pads import sheet_of

WIDE, DEEP, RADIUS, PAST = 420.0, 300.0, 30.0, 100.0
LONG = {"rear": WIDE, "front": WIDE, "left": DEEP, "right": DEEP}
RUNS = [("rear",), ("front",), ("left",), ("right",), ("rear", "left"), ("front", "right"), ("left", "front", "right")]


def rim_of(wide, deep, front=None):
    a, b = 0.5 * (front or wide), 0.5 * wide
    corners = ((-a, 0.0), (a, 0.0), (b, deep), (-b, deep))
    outline = Outline(corners, (RADIUS,) * 4, ("front", "right", "rear", "left"), True)
    return rim_curve(smaller_outline(outline, 0.0, 0.0)[0])


def parts_of(along, rim, **given):
    return band_parts(Closed("box", 80.0, "foam_firm", zip_along=along, **{"past_corner": PAST, **given}), rim)


def made(along, *, wide=WIDE, front=None, past=60, edge_mm=30.0, more=""):
    said = ", ".join(f'"{side}"' for side in along)
    text = BOX.format(wide=wide, deep=DEEP, radius=RADIUS, thick=80.0, under=0.0, more=f"zip = [{said}]\n{more}")
    text = text.replace(f"front_width = {wide}", f"front_width = {front or wide}")
    return build(sheet_of(f"{text}\npast_corner = {past}\n").pads[0], edge_mm=edge_mm)


@pytest.mark.parametrize("along", RUNS)
def test_the_zip_is_as_long_as_its_sides_and_goes_past_their_corners(along):
    """Sides from the middle of one corner's arc to that of the next, which takes two tangents and gives an arc."""
    rim = rim_of(WIDE, DEEP)
    past = PAST if len(along) < 3 else 60.0
    found = parts_of(along, rim, past_corner=past)
    zipped = sum(part.end - part.begin for part in found if part.zipped)
    each = 0.5 * math.pi * RADIUS - 2.0 * RADIUS
    assert zipped == pytest.approx(sum(LONG[side] + each for side in along) + 2.0 * past)
    assert sum(part.end - part.begin for part in found) == pytest.approx(rim.length)
    # Its middle lies in the middle of its sides.
    strip = next(part for part in found if part.zipped)
    half = rim.point(np.array([strip.middle]))[0]
    ways = {"rear": (0, 1), "front": (0, -1), "left": (-1, 0), "right": (1, 0)}
    if len(along) == 1:
        out = np.array(ways[along[0]]) * [0.5 * WIDE, 0.5 * DEEP]
        assert half - out == pytest.approx(np.array([0.0, 0.5 * DEEP]), abs=1e-6)


@pytest.mark.parametrize(("one", "other"), [(("rear",), ("front",)), (("left",), ("right",))])
def test_a_zip_on_the_other_side_is_the_same_cover_turned_round(one, other):
    """Of a rectangle; a wider front turned round is a wider rear."""
    for front, wide in ((WIDE, WIDE), (WIDE, WIDE - 40.0)) if one == ("rear",) else ((WIDE, WIDE),):
        here, there = made(one, wide=wide, front=front), made(other, wide=front, front=wide)
        assert set(by_part(here)) == set(by_part(there))
        for name, panel in by_part(here).items():
            twin = by_part(there)[name].surface
            own, its = (float(triangle_areas(s.vertices, s.triangles).sum()) for s in (panel.surface, twin))
            assert own == pytest.approx(its, rel=2e-4), name
            turned = panel.surface.vertices * [-1.0, -1.0, 1.0] + [0.0, DEEP, 0.0]
            assert turned.min(axis=0) == pytest.approx(twin.vertices.min(axis=0), abs=0.05), name
            assert turned.max(axis=0) == pytest.approx(twin.vertices.max(axis=0), abs=0.05), name
        assert here.closed.zip_mm == pytest.approx(there.closed.zip_mm, abs=1e-6)
        assert len(here.seams) == len(there.seams)


@pytest.mark.parametrize("along", RUNS)
def test_the_body_is_closed_and_every_panel_has_its_neighbours(along):
    pad = made(along, past=50)
    assert is_closed_surface(pad.surface.triangles)
    names = set(by_part(pad))
    assert names == {"top plate", "bottom plate", "band", "upper zip strip", "lower zip strip"}
    even = ("left" in along) == ("right" in along)
    assert (pad.panels[0].mirror is not None) == even
    assert all(edge.name in names | {"zip"} for panel in pad.panels for edge in panel.rim)


def test_a_long_band_round_the_rear_is_parted_at_its_corners():
    rim = rim_of(LONGEST_BAND_MM - 100.0, 400.0)
    found = parts_of(("front",), rim)
    assert [part.name for part in found if not part.zipped] == ["right band", "rear band", "left band"]
    rear = next(part for part in found if part.name == "rear band")
    assert rear.end - rear.begin == pytest.approx(rim.corners[0] + rim.length - rim.corners[3])


def test_strips_of_a_long_zip_beside_one_band_have_names_of_their_own():
    found = parts_of(("right", "rear", "left"), rim_of(700.0, 400.0))
    assert [part.name for part in found if not part.zipped] == ["band"]
    names = [part.name for part in found if part.zipped]
    assert names == ["front zip strip 1", "right zip strip", "rear zip strip", "left zip strip", "front zip strip 2"]


def test_a_knife_edge_opens_along_the_side_that_is_asked_for():
    rim = rim_of(WIDE, DEEP)
    for side in ROUND_THE_RIM:
        seam, opened = band_parts(Closed("knife_edge", 80.0, "foam_soft", zip_short=40.0, zip_along=(side,)), rim)
        each = 0.5 * math.pi * RADIUS - 2.0 * RADIUS
        assert opened.end - opened.begin == pytest.approx(LONG[side] + each - 80.0)
        assert seam.end - seam.begin == pytest.approx(rim.length - (opened.end - opened.begin))


def test_a_zip_round_three_sides_leaves_room_on_the_fourth():
    rim = rim_of(WIDE, DEEP)
    front = rim.corners[2] - rim.corners[1]
    room = 0.5 * (front - LEFT_OF_SIDE_MM)
    parts_of(("right", "rear", "left"), rim, past_corner=room)
    with pytest.raises(ZipTooLongError) as told:
        parts_of(("right", "rear", "left"), rim, past_corner=room + 0.5)
    assert told.value.room_mm == pytest.approx(room)


def test_sides_next_to_each_other_make_a_run_in_the_order_of_the_rim():
    assert zip_run(["left", "rear"]) == ("rear", "left")
    assert zip_run(["rear", "right"]) == ("right", "rear")
    assert zip_run(["front", "left", "rear"]) == ("rear", "left", "front")
    for wrong in ([], ["rear", "front"], ["left", "left"], ["rear", "left", "front", "right"], ["behind"]):
        assert zip_run(wrong) is None


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ('zip = ["rear", "front"]', "G229"),
        ('zip = ["rear", "left", "front", "right"]', "G229"),
        ('zip = "left, left"', "G229"),
        ('zip = "behind"', "S013"),
        ("zip = 3", "S012"),
        ('zip = "left"\npast_corner = 500', "G173"),
        ('form = "roll"\nzip = "front"', "G225"),
        ('form = "panel"\nzip = "front"', "G225"),
    ],
)
def test_zips_that_cannot_be_are_refused(more, code):
    text = BOX.format(wide=WIDE, deep=DEEP, radius=RADIUS, thick=80.0, under=0.0, more=more)
    if "roll" in more:
        text = text.replace("thickness = 80.0", "length = 80.0")
    with pytest.raises(ProblemError) as told:
        build(sheet_of(text).pads[0], edge_mm=30.0)
    assert code in {problem.code for problem in told.value.problems}


def test_an_upright_pad_says_bottom_and_top():
    text = BOX.format(wide=WIDE, deep=DEEP, radius=RADIUS, thick=80.0, under=0.0, more='zip = "right, bottom"')
    text = text.replace('"cushion"', '"backrest"').replace("front_", "bottom_").replace("rear_", "top_")
    pad = sheet_of(text).pads[0]
    assert pad.closed.zip_along == ("front", "right")
    assert "along the bottom and right" in closed_words(build(pad, edge_mm=40.0))
