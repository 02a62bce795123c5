"""Covered boards against the geometry of paper folded round an edge: sizes, mitres, slits, openings, pairs, papers."""

import re
from xml.etree import ElementTree

import ezdxf
import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Polygon

from flatten.draw.imprint import NO_IMPRINT
from flatten.figures.report import report
from flatten.foam.plan import totals
from flatten.job.make import make
from flatten.paper.dxf import patterns_dxf
from flatten.paper.svg import SVG, patterns_svg
from flatten.pieces.piece import EdgeKind, LineKind
from flatten.report.cut_list import cutlist_csv
from flatten.trim.reliefs import Turned, reliefs_of
from flatten.trim.words import board_words
from tests.pads import sheet_of

LEATHER = """
[cover.card]
name = "hide"
thickness = 1.0
stretch_along = 0.06
stretch_across = 0.08
pull = 0.01
source = "invented"
"""
SHEET = """
name = "card"
[output]
mesh = 24
{leather}
[stock]
foam_firm = [3]
[[pad]]
name = "door"
kind = "side"
[pad.outline]
{outline}
[pad.board]
thickness = 3
wrap = 22
{board}
[[pad.layer]]
material = "foam_firm"
thickness = 3
"""
SQUARE = "bottom_width = 500\ntop_width = 500\ndepth = 400"
OPENINGS = """
[[pad.board.opening]]
name = "lock"
at = [-120, 250]
width = 90
depth = 60
[[pad.board.opening]]
name = "vent"
shape = "round"
at = [100, 150]
width = 120
edge = "cut"
[[pad.board.opening]]
name = "cup"
shape = "round"
at = [100, 300]
width = 90
[[pad.board.hole]]
name = "screw"
at = [-150, 80]
diameter = 6
"""
# Foam, board and one thickness of leather, then what is glued.
EDGE, WRAP = 3.0 + 3.0 + 1.0, 22.0
REACH = EDGE + WRAP


def job_of(outline=SQUARE, board=""):
    return make(sheet_of(SHEET.format(leather=LEATHER, outline=outline, board=board)), workers=1)


@pytest.fixture(scope="module")
def square():
    return job_of(board=OPENINGS)


@pytest.fixture(scope="module")
def pair():
    return job_of("bottom_width = 500\ntop_width = 420\ndepth = 400\ncorner_radius = 40", 'pair = "right"\n' + OPENINGS)


def lines(piece, kind):
    return [line for line in piece.inner if line.kind is kind]


def test_the_piece_is_the_board_and_its_reach_all_round(square):
    (piece,) = square.pieces
    assert Polygon(piece.sew).area == pytest.approx(500 * 400, rel=1e-9)
    assert np.ptp(piece.cut, axis=0) == pytest.approx([500 + 2 * REACH, 400 + 2 * REACH], abs=1e-6)
    assert {edge.kind for edge in piece.edges} == {EdgeKind.WRAPPED}
    assert {edge.allowance_mm for edge in piece.edges} == {REACH}


def test_a_square_corner_is_cut_straight_across_at_45_degrees(square):
    """Four corners lose the square of the reach, less the triangle between the back edges' feet: (e^2) / 2 stays."""
    (piece,) = square.pieces
    flaps = 2 * (500 + 400) * REACH
    # Beyond the foot of each back edge a flap is mitred at 45 degrees: a triangle of the wrap at both its ends.
    assert Polygon(piece.cut).area == pytest.approx(500 * 400 + flaps - 8 * 0.5 * WRAP**2 + 4 * 0.5 * EDGE**2, abs=0.5)
    corner = np.array([piece.sew[:, 0].min(), piece.sew[:, 1].min()])
    inner = LineString([corner - [EDGE, 0.0], corner - [0.0, EDGE]])
    assert Polygon(piece.cut).exterior.distance(shapely.Point(inner.centroid)) < 1e-6


def folded_back(body, line):
    """Flaps of a polygon as they come to lie on the back of a straight sided board, one a side."""
    flaps = []
    for p, q in zip(line, np.roll(line, -1, axis=0), strict=True):
        along = (q - p) / np.linalg.norm(q - p)
        out = np.array([along[1], -along[0]])
        start, end = p - 99 * along, q + 99 * along
        strip = Polygon([start + EDGE * out, end + EDGE * out, end + 99 * out, start + 99 * out])
        parts = [part for part in shapely.get_parts(body.intersection(strip)) if part.geom_type == "Polygon"]
        foot = LineString([p + EDGE * out, q + EDGE * out])
        own = max(parts, key=lambda part: part.intersection(foot.buffer(1e-6)).area)
        at = shapely.get_coordinates(own.exterior)
        away = (at - p) @ out
        flaps.append(Polygon(at - np.outer(2.0 * away - EDGE, out)).buffer(0))
    return flaps


# Corners that turn by 90, 53, 38, 28 and 62 degrees.
OBTUSE = "symmetric = false\npoints = [[-250, 0], [250, 0], [250, 300], [120, 400], [-120, 400], [-250, 330]]"


@pytest.mark.parametrize("outline", [SQUARE, "bottom_width = 500\ntop_width = 300\ndepth = 400", OBTUSE])
def test_flaps_meet_in_mitres_on_the_back_and_never_lie_over_each_other(outline):
    (piece,) = job_of(outline).pieces
    sew = Polygon(piece.sew).simplify(1e-6)
    flaps = folded_back(Polygon(piece.cut), shapely.get_coordinates(shapely.geometry.polygon.orient(sew).exterior)[:-1])
    for k, flap in enumerate(flaps):
        assert sew.buffer(1e-3).covers(flap)
        for other in flaps[:k]:
            assert flap.intersection(other).area < 0.05
    # Together they cover the strip along the board's edge whole.
    strip = sew.difference(sew.buffer(-WRAP, join_style="mitre"))
    assert shapely.union_all(flaps).area == pytest.approx(strip.area, rel=2e-3)


@pytest.mark.parametrize("radius", [40.0, 60.0, 200.0])
def test_round_a_bow_what_is_left_is_as_long_as_the_back(radius):
    """A disc: at r outside its edge 2 pi (radius + r) of leather comes to lie on 2 pi (radius - (r - e))."""
    angles = 2.0 * np.pi * np.arange(240) / 240
    disc = radius * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    notches = shapely.union_all(reliefs_of(disc, Turned(EDGE, WRAP)).notches)
    for depth in (0.5, 8.0, 16.0):
        ring = Polygon(disc).buffer(EDGE + depth, quad_segs=90).exterior
        left = ring.difference(notches).length
        assert left == pytest.approx(2.0 * np.pi * (radius - depth), rel=0.03)


def test_the_glue_line_lies_where_leather_meets_the_back(square):
    (piece,) = square.pieces
    board = Polygon(piece.sew)
    outer = [line for line in lines(piece, LineKind.GLUE) if not board.covers(LineString(line.points))]
    assert outer
    for line in outer:
        assert shapely.distance(shapely.points(line.points), board) == pytest.approx(
            np.full(len(line.points), EDGE), abs=1e-6
        )
    assert sum(LineString(line.points).length for line in outer) == pytest.approx(2 * (500 + 400), abs=1e-3)


def test_an_opening_is_cut_out_with_leather_left_to_turn_in(square):
    (piece,) = square.pieces
    found = {line.name: Polygon(line.points) for line in lines(piece, LineKind.OPENING)}
    assert found["lock"].area == pytest.approx((90 - 2 * (EDGE + 13)) * (60 - 2 * (EDGE + 13)), rel=1e-6)
    assert found["vent"].area == pytest.approx(np.pi * 60**2, rel=1e-3)
    assert found["cup"].area == pytest.approx(np.pi * (45 - EDGE - 13) ** 2, rel=2e-3)
    low = piece.sew.min(axis=0)
    assert np.array(found["vent"].centroid.coords[0]) - low == pytest.approx([350.0, 150.0], abs=1e-6)
    edges = {line.name: Polygon(line.points).area for line in lines(piece, LineKind.INNER)}
    assert edges == {"edge of lock": pytest.approx(90 * 60), "edge of cup": pytest.approx(np.pi * 45**2, rel=1e-3)}


def test_slits_run_to_three_millimetres_short_of_an_openings_edge(square):
    (piece,) = square.pieces
    edges = {line.name: LineString(line.points) for line in lines(piece, LineKind.INNER)}
    slits = [LineString(line.points) for line in lines(piece, LineKind.SLIT)]
    lock = [
        slit
        for slit in slits
        if slit.distance(edges["edge of lock"]) < 20.0 and slit.distance(edges["edge of cup"]) > 20.0
    ]
    assert len(lock) == 4
    corners = shapely.points(np.array(edges["edge of lock"].coords[:-1]))
    assert [float(shapely.distance(slit, corners).min()) for slit in lock] == pytest.approx([3.0] * 4, abs=1e-6)
    cup = [slit for slit in slits if slit not in lock]
    assert len(cup) == round(np.pi * 90 / 12)
    assert [slit.distance(edges["edge of cup"]) for slit in cup] == pytest.approx([3.0] * len(cup), abs=0.1)


def test_hollow_corners_are_slit_from_two_millimetres_outside_the_board():
    step = "symmetric = false\npoints = [[-250, 60], [-100, 60], [-100, 0], [250, 0], [250, 400], [-250, 400]]"
    (piece,) = job_of(step).pieces
    (slit,) = lines(piece, LineKind.SLIT)
    low = piece.sew.min(axis=0) - [-250.0, 0.0]
    near, far = slit.points - low
    assert near == pytest.approx(np.array([-100.0, 60.0]) - 2.0 / np.sqrt(2.0), abs=1e-6)
    assert Polygon(piece.cut).exterior.distance(shapely.Point(slit.points[1])) < 1e-6
    # Under the step the flap keeps its whole width up to the slit.
    assert far == pytest.approx([-100.0 - REACH, 60.0 - REACH], abs=1e-3)


def test_holes_are_marked_and_not_cut(square):
    (piece,) = square.pieces
    circle, *cross = lines(piece, LineKind.HOLE)
    assert "pierce later" in circle.name
    assert len(cross) == 2
    at = circle.points[:-1].mean(axis=0) - piece.sew.min(axis=0)
    assert at == pytest.approx([100.0, 80.0], abs=1e-6)
    assert np.linalg.norm(circle.points - circle.points[:-1].mean(axis=0), axis=1) == pytest.approx(np.full(25, 3.0))
    assert not any(Polygon(line.points).area < 100.0 for line in lines(piece, LineKind.OPENING))


def test_foam_and_board_are_the_board_less_its_openings(square):
    board, foam = square.plans[0].shapes
    holes = 90 * 60 + np.pi * 60**2 + np.pi * 45**2
    for shape in (board, foam):
        own = Polygon(shape.cut).area - sum(Polygon(line.points).area for line in lines(shape, LineKind.OPENING))
        assert own == pytest.approx(500 * 400 - holes, rel=1e-3)
    assert square.plans[0].stock[1].area_mm2 == pytest.approx(500 * 400 - holes, rel=1e-3)
    assert square.pads[0].facts.layers[0][3] == pytest.approx(500 * 400 - holes, rel=1e-3)
    assert {total.material for total in totals(square.plans)} == {"board", "foam_firm"}


def test_foam_asked_larger_is_cut_so():
    job = make(sheet_of(SHEET.format(leather="", outline=SQUARE, board="") + "oversize = 10\n"), workers=1)
    foam = job.plans[0].shapes[1]
    assert np.ptp(foam.cut, axis=0) == pytest.approx([520.0, 420.0])
    assert np.ptp(foam.sew, axis=0) == pytest.approx([500.0, 400.0])


def test_a_pair_is_one_piece_cut_twice_one_of_them_mirrored(pair):
    (piece,) = pair.pieces
    assert piece.name == "right cover (left cover mirrored)"
    assert (piece.cut_count, piece.mirrored_count) == (1, 1)
    right, left = pair.pads[0].panels
    assert left.mirror_of == right.name
    turned = right.surface.vertices * [-1.0, 1.0, 1.0] - left.surface.vertices
    assert np.ptp(turned, axis=0) == pytest.approx([0.0, 0.0, 0.0], abs=1e-9)
    assert left.surface.vertices[:, 0].max() < right.surface.vertices[:, 0].min()
    assert all((shape.cut_count, shape.mirrored_count) == (1, 1) for shape in pair.plans[0].shapes)
    assert {edge.over for edge in piece.edges} == {
        (f"{side} edge", None) for side in ("bottom", "left", "right", "top")
    }
    assert next(edge.over for edge in piece.edges if edge.name == "left edge") == ("right edge", None)


def test_nothing_of_a_board_is_stretched_and_nothing_is_tried(pair):
    for flat in pair.flats.values():
        assert flat.stretch == pytest.approx(np.ones_like(flat.stretch), abs=1e-6)
        assert flat.certified
    assert pair.problems == ()


def test_outlines_read_back_from_svg_and_dxf(square, tmp_path):
    (piece,) = square.pieces
    openings = sorted(Polygon(line.points).area for line in lines(piece, LineKind.OPENING))
    tree = ElementTree.fromstring(patterns_svg(square.pieces, roll_width_mm=914.0, imprint=NO_IMPRINT))
    layers = {group.get("class"): group for group in tree.iter(f"{{{SVG}}}g") if group.get("class")}
    for word, areas in (("cut", [Polygon(piece.cut).area]), ("openings", openings)):
        found = []
        for path in layers[word].iter(f"{{{SVG}}}path"):
            numbers = np.array(re.findall(r"-?[\d.]+", path.get("d")), dtype=float).reshape(-1, 2)
            assert path.get("d").endswith("Z")
            found.append(Polygon(numbers).area)
        assert sorted(found) == pytest.approx(areas, rel=1e-5)
    assert layers["holes-to-pierce"].get("stroke-dasharray")
    assert layers["slits"].get("stroke-dasharray")
    (tmp_path / "card.dxf").write_bytes(patterns_dxf(square.pieces, roll_width_mm=914.0))
    drawing = ezdxf.readfile(tmp_path / "card.dxf")
    block = next(b for b in drawing.blocks if not b.name.startswith("*"))
    rings = {
        layer: [Polygon([p[:2] for p in e.get_points()]) for e in block.query(f'LWPOLYLINE[layer=="{layer}"]')]
        for layer in ("1 cut", "11 openings")
    }
    assert [ring.area for ring in rings["1 cut"]] == pytest.approx([Polygon(piece.cut).area], rel=1e-6)
    assert sorted(ring.area for ring in rings["11 openings"]) == pytest.approx(openings, rel=1e-6)
    assert all(e.closed for e in block.query('LWPOLYLINE[layer=="11 openings"]'))
    assert len(block.query('LWPOLYLINE[layer=="38 holes to pierce"]')) == 3


def test_words_stand_clear_of_openings(square):
    from flatten.draw.marks import draw_piece
    from flatten.draw.pen import RecordingPen

    (piece,) = square.pieces
    pen = RecordingPen()
    draw_piece(piece, pen)
    openings = [Polygon(line.points) for line in lines(piece, LineKind.OPENING)]
    assert len(pen.texts) > 10
    for text in pen.texts:
        assert not any(opening.covers(shapely.Point(text.at)) for opening in openings), text.words


def test_report_summary_and_cut_list_say_what_is_covered(pair):
    row = report(pair)["pads"][0]["board"]
    assert row["wrap_mm"] == 22.0
    assert [one["name"] for one in row["openings"]] == ["lock", "vent", "cup"]
    assert report(pair)["pads"][0]["closed"] is None
    words = board_words(pair.pads[0])
    assert "a pair of boards" in words
    assert words.endswith("3 openings, of which 2 with leather turned in, 1 hole to pierce when covered")
    assert "wrapped, along the edge of the board" in str(cutlist_csv(pair))
    (piece,) = pair.pieces
    assert any("foam 3 + board 3 + leather 1 mm" in note for note in piece.notes)
