"""Knife-edge cushions against exact bodies: two faces on a seam, corners taken in, a zip in the rear. Invented data."""

import math

import numpy as np
import pytest

from meshes.base.problems import ProblemError
from meshes.closed.build import build
from meshes.closed.corners_in import with_corners_in
from meshes.closed.words import closed_words
from tests.meshes.closed.test_closed_bodies import BOX, area, by_part, is_closed_surface, volume
from tests.pads import sheet_of

# Core 440 x 400; finished 12.7 mm smaller on each side, its corners 15 round.
WIDE, DEEP, ROUND = 440.0 - 25.4, 400.0 - 25.4, 15.0


def text(outline=None, more="", thick=90.0):
    said = BOX.format(wide=440.0, deep=400.0, radius=20.0, thick=thick, under=0, more=more)
    said = said.replace("undersize = 0\n", "").replace("[pad.closed]", '[pad.closed]\nform = "knife_edge"')
    plain = "front_width = 440.0\nrear_width = 440.0\ndepth = 400.0\ncorner_radius = 20.0"
    assert plain in said
    return said.replace(plain, outline or plain)


def knife(outline=None, more="", thick=90.0, edge_mm=20.0):
    return build(sheet_of(text(outline, more, thick)).pads[0], edge_mm=edge_mm)


@pytest.fixture(scope="module")
def square():
    return knife()


@pytest.fixture(scope="module")
def disc():
    return knife('shape = "round"\nwidth = 425.4', thick=80.0, edge_mm=12.0)


def test_a_round_one_is_a_paraboloid(disc):
    """A membrane under even pressure on a circle of radius R: h (1 - r2/R2), of volume pi R2 h / 2, a known area."""
    top, r, h = by_part(disc)["top plate"].surface, 200.0, 40.0
    off2 = (top.vertices[:, :2] ** 2).sum(axis=1) - 2 * top.vertices[:, 1] * 212.7 + 212.7**2
    assert np.abs(top.vertices[:, 2] - h * (1.0 - off2 / r**2)).max() < 0.2
    slope = 2.0 * h / r
    exact = math.pi * r**4 / (6.0 * h**2) * ((1.0 + slope**2) ** 1.5 - 1.0)
    assert area(by_part(disc)["top plate"]) == pytest.approx(exact, rel=1e-3)
    assert volume(disc.surface) == pytest.approx(math.pi * r**2 * h, rel=3e-3)
    assert disc.closed.rise_mm == pytest.approx(h)


def test_both_faces_are_one_closed_body_on_one_line_of_vertices(square):
    assert is_closed_surface(square.surface.triangles)
    assert volume(square.surface) > 0.0
    used = np.unique(square.surface.triangles)
    assert np.array_equal(used, np.arange(len(square.surface.vertices)))
    found = by_part(square)
    assert set(found) == {"top plate", "bottom plate"}
    assert found["bottom plate"].mirror_of == found["top plate"].name
    assert np.array_equal(found["bottom plate"].surface.vertices, found["top plate"].surface.vertices * [1, 1, -1])
    top = found["top plate"].surface.vertices
    assert np.array_equal(top[found["top plate"].mirror], top * [-1, 1, 1])
    rim = np.unique(np.concatenate([edge.vertices for edge in found["top plate"].rim]))
    assert np.abs(top[rim, 2]).max() == 0.0
    assert top[:, 2].max() == pytest.approx(45.0)


def test_corners_are_taken_in_by_fifteen_over_a_quarter_of_each_side(square):
    """The rim keeps the finished size between its quarters; its corner would lie 15 mm inside both sides."""
    top = by_part(square)["top plate"]
    rim = np.concatenate([top.surface.vertices[edge.vertices, :2] for edge in top.rim])
    assert np.ptp(rim, axis=0) == pytest.approx([WIDE, DEEP], abs=1e-6)
    front = rim[rim[:, 1] < rim[:, 1].min() + 15.0]
    taper = 0.25 * WIDE
    straight = np.abs(front[:, 0]) < 0.5 * WIDE - 1.3 * taper
    assert np.ptp(front[straight, 1]) == pytest.approx(0.0, abs=1e-9)
    # Half-way along the taper, clear of both its arcs, it lies half as far in: from the quarter to (15, 15).
    x = 0.5 * WIDE - taper + 0.5 * (taper - 15.0)
    order = np.argsort(front[:, 0])
    there = np.interp([x, -x], front[order, 0], front[order, 1]) - rim[:, 1].min()
    assert there == pytest.approx([7.5, 7.5], abs=0.05)


def test_the_zip_ends_short_of_both_rear_corners(square):
    """Seam and zip are the whole rim; the zip is what the corners' middles leave less 38 mm each."""
    top = by_part(square)["top plate"]
    (opening,) = (edge for edge in top.rim if edge.kind == "zip")
    (seam,) = (edge for edge in top.rim if edge.kind == "sewn")
    run = top.surface.vertices[opening.vertices]
    length = float(np.linalg.norm(np.diff(run, axis=0), axis=1).sum())
    assert square.closed.zip_mm == pytest.approx(length, abs=0.1)
    assert run[:, 1].max() == pytest.approx(12.7 + DEEP, abs=1e-6)
    assert run[0, 0] == pytest.approx(-run[-1, 0], abs=1e-9)
    shorter = knife(more="zip_short = 58").closed.zip_mm
    assert square.closed.zip_mm - shorter == pytest.approx(40.0)
    # From the middle of a corner's arc, 15 mm inside both sides, to the end of the zip it is 38 mm along the rim.
    turn = 0.5 * math.pi - math.atan2(15, 0.25 * WIDE - 15) - math.atan2(15, 0.25 * DEEP - 15)
    to_arc = ROUND * math.tan(0.5 * turn)
    leg = 38.0 - 0.5 * ROUND * turn + to_arc
    along = np.array([0.25 * WIDE - 15.0, 15.0]) / math.hypot(0.25 * WIDE - 15.0, 15.0)
    assert np.abs(run[0, :2]) == pytest.approx(
        [0.5 * WIDE - 15.0 - leg * along[0], 12.7 + DEEP - 15.0 + leg * along[1]], abs=0.05
    )
    assert seam.seam == "c top plate / bottom plate"


def test_not_taken_in_its_rim_is_that_of_its_core_less_an_inch():
    pad = knife(more="corners_in = 0\nwelt = true\nundersize = 10")
    top = by_part(pad)["top plate"]
    rim = np.concatenate([np.linalg.norm(np.diff(top.surface.vertices[e.vertices], axis=0), axis=1) for e in top.rim])
    assert rim.sum() == pytest.approx(2.0 * (430.0 + 390.0) - (8.0 - 2.0 * math.pi) * 25.0, rel=2e-4)
    assert {edge.kind for edge in top.rim} == {"welted", "zip"}
    assert "taken in" not in closed_words(pad)


def test_a_bow_is_taken_in_along_itself_and_a_circle_not_at_all():
    bow = np.array([[-200.0, 0.0], [0.0, -20.0], [200.0, 0.0], [200.0, 300.0], [-200.0, 300.0]])
    found, radii, sides = with_corners_in(bow, [20.0] * 5, ["front", "front", "right", "rear", "left"], 15.0)
    # Four corners, the bow's own point, and two more points a side.
    assert [len(found), len(radii), len(sides)] == [13, 13, 13]
    assert sides.count("front") == 4
    assert np.isclose(found, [0.0, -20.0]).all(axis=1).any(), "the middle of a side stays"
    half = 0.5 * math.hypot(200.0, 20.0)
    place = np.array([-200.0, 0.0]) + half * np.array([200.0, -20.0]) / (2 * half)
    assert np.isclose(found, place).all(axis=1).any(), "a quarter of the bow is along the bow"
    order = [tuple(np.round(row, 6)) for row in found]
    assert {(-x, y) for x, y in order} == {(x + 0.0, y) for x, y in order}
    circle = 100.0 * np.array([[math.cos(a), math.sin(a)] for a in np.arange(36) * math.pi / 18])
    assert np.array_equal(with_corners_in(circle, [100.0] * 36, ["front"] * 36, 15.0)[0], circle)


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ("band = 60", "G225"),
        ("flap = true", "G225"),
        ("past_corner = 130", "G225"),
        ("length = 60", "G176"),
        ("zip_short = 150", "G226"),
    ],
)
def test_faults_have_codes_of_their_own(more, code):
    with pytest.raises(ProblemError) as caught:
        knife(more=more)
    assert {problem.code for problem in caught.value.problems} == {code}


def test_the_room_that_a_refused_zip_is_told_is_enough():
    with pytest.raises(ProblemError) as caught:
        knife(more="zip_short = 150")
    room = int(caught.value.problems[0].text.split("write ")[1].split()[0])
    assert knife(more=f"zip_short = {room - 0.5}").closed.zip_mm == pytest.approx(101.0, abs=1.1)


def test_a_box_has_no_corners_taken_in():
    with pytest.raises(ProblemError) as caught:
        sheet_of(BOX.format(wide=440, deep=400, radius=20, thick=90, under=6, more="corners_in = 10"))
    assert {problem.code for problem in caught.value.problems} == {"G225"}
