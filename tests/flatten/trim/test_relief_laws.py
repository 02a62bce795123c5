"""Notches and slits of leather that is turned over an edge, on lines of which everything is known: squares, circles,
single corners, hollow corners with others beside them; and the shapes that lie under the leather."""

import math

import numpy as np
import pytest
from shapely.geometry import Polygon

from flatten.job.make import make
from flatten.trim.reliefs import Turned, reliefs_of
from tests.pads import sheet_of

EDGE, WRAP = 7.0, 22.0
TURNED = Turned(EDGE, WRAP)


def ring(radius, count=720):
    turn = 2.0 * np.pi * np.arange(count) / count
    return radius * np.stack([np.cos(turn), np.sin(turn)], axis=1)


def test_leather_reaches_round_the_edge_and_over_what_is_glued():
    assert TURNED.reach_mm == 29.0


def test_a_square_corner_loses_all_beyond_the_feet_and_mitres_of_both_flaps():
    """Flaps begin one edge outside the corner, and each loses 45 degrees of what is glued."""
    square = np.array([[0.0, 0.0], [200.0, 0.0], [200.0, 150.0], [0.0, 150.0]])
    found = reliefs_of(square, TURNED)
    assert len(found.notches) == 4
    assert found.slits == ()
    leather = Polygon(square).buffer(29.0, join_style="mitre")
    left = leather
    for notch in found.notches:
        left = left.difference(notch)
    sides = 2.0 * (200.0 + 150.0) * 29.0
    # Between the feet of two flaps a triangle of the edge stays, of each flap's ends a triangle of the wrap goes.
    assert left.area == pytest.approx(200.0 * 150.0 + sides - 8 * 0.5 * WRAP**2 + 4 * 0.5 * EDGE**2, rel=1e-9)
    # As drawn the other way round the leather lies inside: four hollow corners, slit along their bisectors.
    inside = reliefs_of(square[::-1], TURNED)
    assert inside.notches == ()
    assert sorted((round(x), round(y)) for (x, y), _ in inside.slits) == [(0, 0), (0, 150), (200, 0), (200, 150)]
    for at, out in inside.slits:
        assert out == pytest.approx(np.sign([100.0 - at[0], 75.0 - at[1]]) / math.sqrt(2.0))


@pytest.mark.parametrize(("outside", "every"), [(True, 14.0), (False, 12.0)])
@pytest.mark.parametrize("radius", [60.0, 200.0])
def test_round_a_circle_reliefs_stand_evenly_and_point_outwards(outside, every, radius):
    line = ring(radius) if outside else ring(radius)[::-1]
    found = reliefs_of(line, TURNED)
    if outside:
        middles = [np.array(notch.centroid.coords[0]) for notch in found.notches]
        ways = [one / np.linalg.norm(one) for one in middles]
        assert not found.slits
    else:
        assert not found.notches
        assert np.linalg.norm([at for at, _ in found.slits], axis=1) == pytest.approx(radius, rel=1e-4)
        ways = [-out for _, out in found.slits]
        for at, out in found.slits:
            assert out == pytest.approx(-at / radius, abs=0.01)
    count = round(2.0 * math.pi * radius / every)
    assert len(ways) == count
    turns = np.sort(np.arctan2([way[1] for way in ways], [way[0] for way in ways]))
    assert np.diff(turns) == pytest.approx(2.0 * math.pi / count, abs=0.02)


def test_what_is_left_round_a_circle_is_as_long_on_the_back_as_the_back_is():
    """At r outside the edge leather comes to lie r - e inside it, on a circle that much smaller."""
    radius = 120.0
    found = reliefs_of(ring(radius), TURNED)
    for r in (EDGE + 5.0, EDGE + 15.0, EDGE + WRAP):
        circle = ring(radius + r, 7200)
        left = Polygon(ring(radius + r + 0.05, 3600), [ring(radius + r - 0.05, 3600)])
        for notch in found.notches:
            left = left.difference(notch)
        assert len(circle)
        assert left.area / 0.1 == pytest.approx(2.0 * math.pi * (radius - (r - EDGE)), rel=5e-3)


@pytest.mark.parametrize(("outside", "reach"), [(True, 2.0 * WRAP + EDGE), (False, WRAP + EDGE)])
def test_a_bow_so_gentle_that_leather_eases_is_left_alone(outside, reach):
    """Four of a hundred: a circle of 25 times what is too much at its far edge."""
    for radius, relieved in ((0.98 * 25.0 * reach, True), (1.02 * 25.0 * reach, False)):
        line = ring(radius, 2000)
        found = reliefs_of(line if outside else line[::-1], TURNED)
        assert bool(found.notches or found.slits) is relieved


def bent(degrees, left=300.0):
    """A long line with one bend, closed far away by sharp corners."""
    turn = math.radians(degrees)
    end = np.array([left + 300.0 * math.cos(turn), 300.0 * math.sin(turn)])
    return np.array([[0.0, 0.0], [left, 0.0], end, [end[0], 900.0], [0.0, 900.0]])


@pytest.mark.parametrize(("degrees", "relieved"), [(1.0, False), (1.3, True), (-1.0, False), (-1.3, True)])
def test_a_blunt_corner_is_relieved_once_it_has_more_than_a_millimetre_too_much(degrees, relieved):
    """2 x 22 + 7 mm out, a turn of 1 / 51 rad is one millimetre: 1.12 degrees."""
    found = reliefs_of(bent(degrees), TURNED)
    assert len(found.notches) == (5 if relieved and degrees > 0.0 else 4)
    assert len(found.slits) == (1 if relieved and degrees < 0.0 else 0)
    for at, out in found.slits:
        assert at == pytest.approx([300.0, 0.0])
        assert out == pytest.approx([-math.sin(math.radians(0.65)), -1.0], abs=0.02)


def test_a_tight_bow_has_a_notch_to_every_hundred_degrees():
    """Half a circle of 3 mm at the end of a tongue is 9 mm long: by its length one notch, by its turn two."""
    turn = np.linspace(-0.5 * np.pi, 0.5 * np.pi, 37)
    cap = np.array([200.0, 0.0]) + 3.0 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    line = np.concatenate([[[0.0, -3.0]], cap, [[0.0, 3.0]]])
    found = reliefs_of(line, TURNED)
    at_cap = [notch for notch in found.notches if notch.centroid.x > 200.0]
    assert len(at_cap) == 2
    assert len(found.notches) == 4
    ways = sorted(math.atan2(notch.centroid.y, notch.centroid.x - 200.0) for notch in at_cap)
    assert ways == pytest.approx([-0.25 * math.pi, 0.25 * math.pi], abs=0.05)


@pytest.mark.parametrize("start", range(6))
def test_a_notch_stops_at_the_slit_of_the_hollow_corner_beside_it(start):
    """An L whose inner arms are shorter than leather reaches, wherever its line begins."""
    corners = np.array([[0.0, 0.0], [120.0, 0.0], [120.0, 100.0], [100.0, 100.0], [100.0, 118.0], [0.0, 118.0]])
    found = reliefs_of(np.roll(corners, -start, axis=0), TURNED)
    ((at, out),) = found.slits
    assert at == pytest.approx([100.0, 100.0])
    assert out == pytest.approx([math.sqrt(0.5), math.sqrt(0.5)])
    assert len(found.notches) == 5
    # Beyond the slit lies the other arm's flap: x - y tells the side.
    for corner, side in (((120.0, 100.0), 1.0), ((100.0, 118.0), -1.0)):
        beyond = Polygon([(corner[0] + a, corner[1] + b) for a, b in ((0, 0), (9, 0), (9, 9), (0, 9))])
        near = [notch for notch in found.notches if notch.distance(beyond) < 1e-6]
        own = [notch for notch in near if side * (notch.centroid.x - notch.centroid.y) > 0.0]
        assert own
        for notch in own:
            x, y = np.array(notch.exterior.coords).T
            assert (side * (x - y)).min() > -1e-6


# --- what lies under the leather -------------------------------------------------------------------------------------

SHEET = """
name = "card"
[output]
mesh = 24
[stock]
foam_firm = [3]
[[pad]]
name = "door"
kind = "side"
[pad.outline]
bottom_width = 300
top_width = 240
depth = 200
[pad.board]
thickness = 3
wrap = 20
{board}
[[pad.board.opening]]
name = "lock"
at = [-40, 100]
width = 60
depth = 40
[[pad.board.hole]]
name = "screw"
at = [60, 50]
diameter = 6
[[pad.layer]]
material = "foam_firm"
thickness = {foam}
{more}
"""
WHOLE = 0.5 * (300.0 + 240.0) * 200.0
SLANT = math.hypot(200.0, 30.0)


def plan_of(board="", foam=3, more=""):
    job = make(sheet_of(SHEET.format(board=board, foam=foam, more=more)), workers=1)
    return job.plans[0]


@pytest.mark.parametrize(("pair", "many"), [("", 1), ('pair = "right"', 2)])
def test_board_and_foam_are_cut_as_the_board_was_measured(pair, many):
    # Foam of 6 is laid up of two sheets of 3.
    plan = plan_of(pair, foam=6)
    board, foam = plan.shapes
    for shape in (board, foam):
        cut = Polygon(shape.cut)
        assert cut.area == pytest.approx(WHOLE, rel=1e-4)
        assert cut.exterior.is_ccw
        # No corner is cut off: all four sides at their lengths.
        assert cut.length == pytest.approx(300.0 + 240.0 + 2.0 * SLANT, abs=0.5)
        # The outline is followed in steps of the mesh, with none left out.
        assert np.linalg.norm(np.diff(shape.cut, axis=0, append=shape.cut[:1]), axis=1).max() < 25.0
        assert cut.bounds[:2] == pytest.approx((0.0, 0.0), abs=1e-9)
        assert Polygon(shape.sew).area == pytest.approx(WHOLE, rel=1e-4)
        assert [edge.allowance_mm for edge in shape.edges] == [0.0]
        tail, head = shape.grain
        assert 0.5 * (tail + head) == pytest.approx([150.0, 100.0], abs=0.1)
        assert head - tail == pytest.approx([0.0, 80.0], abs=0.1)
        opening, hole = shape.inner
        # From the middle of its front edge, which lies at 150.
        assert np.ptp(opening.points, axis=0) == pytest.approx([60.0, 40.0], abs=0.1)
        assert 0.5 * (opening.points.min(axis=0) + opening.points.max(axis=0)) == pytest.approx([110.0, 100.0], abs=0.1)
        assert np.linalg.norm(hole.points - [210.0, 50.0], axis=1) == pytest.approx(3.0, abs=0.02)
        assert (opening.points[0] == opening.points[-1]).all()
    assert len(board.cut) == len(foam.cut)
    assert (board.order.count, board.order.mirrored) == (1, many - 1)
    assert (foam.order.count, foam.order.mirrored) == (2, 2 * (many - 1))
    own = WHOLE - 60.0 * 40.0
    first, second = plan.stock
    assert (first.layer, first.sheets_mm, second.layer, second.sheets_mm) == (0, (3.0,), 1, (3.0, 3.0))
    assert first.area_mm2 == pytest.approx(many * own, rel=1e-4)
    assert second.area_mm2 == pytest.approx(many * 2 * own, rel=1e-4)
    assert any("drill the holes" in note for note in board.notes)


def test_foam_larger_than_its_board_keeps_the_boards_edge_where_it_is():
    board, foam = plan_of(more="oversize = 10").shapes
    assert np.ptp(foam.cut, axis=0)[1] == pytest.approx(220.0, abs=0.1)
    assert foam.edges[0].allowance_mm == 10.0
    inner, outer = Polygon(foam.sew), Polygon(foam.cut)
    assert inner.area == pytest.approx(WHOLE, rel=1e-4)
    assert inner.exterior.distance(outer.exterior) == pytest.approx(10.0, abs=0.05)
    assert outer.contains(inner)
    assert len(board.cut) == len(board.edges[0].points) - 1
