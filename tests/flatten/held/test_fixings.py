"""How outer edges are held: allowances, lines and flies against closed forms, on boxes with upright sides. Invented
data."""

import io

import ezdxf
import numpy as np
import pytest
import shapely
from lxml import etree
from shapely.geometry import LineString, Polygon
from svgpathtools import parse_path

from flatten.draw.marks import draw_piece
from flatten.draw.pen import PenLayer, RecordingPen
from flatten.edges.fixings import RINGS_APART_MM, rings_for
from flatten.edges.order import sewing_order
from flatten.figures.report import report
from flatten.held.posts import FORK_MM, SHORT_OF_POST_MM
from flatten.job.make import make
from flatten.paper.dxf import patterns_dxf
from flatten.paper.svg import patterns_svg
from flatten.pieces.piece import EdgeKind, LineKind, MarkKind
from flatten.report.amounts import fittings, lots
from flatten.report.cut_list import rows
from meshes.base.problems import ProblemError
from meshes.base.surface import curve_length
from meshes.records.frame import FIXED
from tests.pads import sheet_of

SVG = "{http://www.w3.org/2000/svg}"
INKSCAPE = "{http://www.inkscape.org/namespaces/inkscape}"
# A box: bands all round, upright sides, no padding that could bulge, a cover that nothing pulls.
WIDE, DEEP, DROP, CREASE, ROUND = 420.0, 340.0, 130.0, 25.0, 10.0
BOX = f"""
name = "box"
[cover]
tension = 0
[cover.card]
name = "slack"
thickness = 1
stretch_along = 0.06
stretch_across = 0.06
pull = 0
[output]
mesh = 12
[[pad]]
name = "seat"
kind = "cushion"
[pad.outline]
front_width = {WIDE}
rear_width = {WIDE}
depth = {DEEP}
corner_radius = {ROUND}
[pad.sides.front]
drop = {DROP}
edge_radius = 1
band = true
[pad.sides.right]
drop = {DROP}
edge_radius = 1
band = true
[pad.sides.rear]
drop = {DROP}
edge_radius = 1
band = true
crease = {CREASE}
[pad.fixing]
"""


def boxed(fixing, more=""):
    return make(sheet_of(BOX + fixing + more), workers=1)


def piece_of(job, name):
    return next(piece for piece in job.pieces if piece.name == name or piece.name.startswith(f"{name} ("))


def tack_edge(piece):
    return next(edge for edge in piece.edges if edge.name.endswith("tack line"))


@pytest.fixture(scope="module")
def plain():
    return boxed("")


@pytest.fixture(scope="module")
def flown():
    return boxed('rear = "fly"\n', '[[pad.post]]\nside = "rear"\nat = 120\nwidth = 40\n')


@pytest.mark.parametrize(
    ("word", "allowance"),
    [
        ("stapled", 50.0),
        ("hog-ringed", 25.0),
        ("edge clip", 12.0),
        ("glued", 22.0),
        ("draw cord", 20.0),
        ("blind-tacked", 20.0),
        ("closed by hand", 25.0),
    ],
)
def test_a_fixing_sets_kind_and_allowance_of_its_side_alone(word, allowance):
    job = boxed(f'front = "{word}"\n')
    edge = tack_edge(piece_of(job, "front band"))
    assert edge.kind == FIXED[word]
    assert edge.allowance_mm == allowance
    others = [tack_edge(piece_of(job, name)) for name in ("rear band", "right band")]
    assert {(other.kind, other.allowance_mm) for other in others} == {(EdgeKind.PULLED, 50.0)}


def test_every_allowance_of_a_fixing_can_be_set_in_the_sheet():
    numbers = {"ringed": 31.0, "clipped": 9.0, "glued": 24.0, "corded": 27.0}
    table = "[allowance]\n" + "".join(f"{kind} = {mm}\n" for kind, mm in numbers.items())
    for word, kind in (("hog-ringed", "ringed"), ("edge clip", "clipped"), ("glued", "glued"), ("draw cord", "corded")):
        job = make(sheet_of((BOX + f'front = "{word}"\n').replace("[output]", table + "[output]")), workers=1)
        assert tack_edge(piece_of(job, "front band")).allowance_mm == numbers[kind]


def test_without_a_fixing_nothing_is_as_it_was_not(plain):
    assert {piece.name.split(" (")[0] for piece in plain.pieces} == {"face", "front band", "rear band", "right band"}
    edges = [edge for piece in plain.pieces for edge in piece.edges]
    assert {edge.kind for edge in edges} == {EdgeKind.SEWN, EdgeKind.PULLED}
    assert not [line for piece in plain.pieces for line in piece.inner]
    assert not any(edge.note for edge in edges)
    assert not fittings(plain)


@pytest.mark.parametrize(
    ("word", "kind", "away"),
    [
        ("stapled", LineKind.HELD, 18.0),
        ("hog-ringed", LineKind.ROW, 15.0),
        ("draw cord", LineKind.ROW, 15.0),
        ("glued", LineKind.HELD, 10.0),
    ],
)
def test_what_is_drawn_beyond_the_sew_line_lies_where_it_is_said(word, kind, away):
    """Staples 18 mm in under the board, sleeve and hem sewn 15 from the fold, the last 12 of 22 mm pared."""
    piece = piece_of(boxed(f'front = "{word}"\n'), "front band")
    edge = tack_edge(piece)
    lines = [line for line in piece.inner if line.kind is kind]
    assert lines
    for line in lines:
        assert shapely.distance(shapely.points(line.points), LineString(edge.points)) == pytest.approx(away, abs=1e-6)
        assert Polygon(piece.cut).buffer(1e-3).contains(LineString(line.points))
        assert not Polygon(piece.sew).buffer(-1e-3).intersects(LineString(line.points))
        assert curve_length(line.points) == pytest.approx(curve_length(edge.points), rel=0.1)
    assert edge.note


def test_allowances_are_read_back_from_the_papers():
    """The cut line of the front band stands off its tack line by 22 mm and off its other long seam by 12, in DXF and in
    SVG."""
    piece = piece_of(boxed('front = "glued"\n'), "front band")
    drawing = ezdxf.read(io.StringIO(patterns_dxf([piece], roll_width_mm=900.0).decode("cp1252"), newline=None))
    lines = {e.dxf.layer: e for block in drawing.blocks for e in block.query("LWPOLYLINE")}
    in_dxf = [np.array([p[:2] for p in lines[layer].get_points()]) for layer in ("1 cut", "14 sew")]
    root = etree.fromstring(patterns_svg([piece], roll_width_mm=900.0))
    in_svg = []
    for word in ("cut", "sew"):
        (layer,) = [g for g in root.iter(f"{SVG}g") if g.get(f"{INKSCAPE}label") == word]
        (line,) = [parse_path(path.get("d")) for path in layer.iter(f"{SVG}path")]
        in_svg.append(np.array([[seg.start.real, -seg.start.imag] for seg in line]))
    for cut, sew in (in_dxf, in_svg):
        line = LineString(np.vstack([sew, sew[:1]]))
        lowest, highest = cut[np.argmin(cut[:, 1])], cut[np.argmax(cut[:, 1])]
        middle = 0.5 * (cut[:, 0].min() + cut[:, 0].max())
        rim = LineString(np.vstack([cut, cut[:1]]))
        below, above = (
            rim.intersection(LineString([(middle, at[1] - 9.0), (middle, at[1] + 9.0)])) for at in (lowest, highest)
        )
        assert [line.distance(below), line.distance(above)] == pytest.approx([22.0, 12.0], abs=0.01)


def test_a_fly_is_as_long_as_the_edge_it_is_sewn_to(flown):
    band, fly = piece_of(flown, "rear band"), piece_of(flown, "rear fly")
    (mine,), (its,) = ([e for e in piece.edges if e.seam == "seat rear band / rear fly"] for piece in (band, fly))
    assert curve_length(mine.points) == pytest.approx(curve_length(its.points), abs=0.02)
    # Round half of each corner's arc, and straight between them.
    want = WIDE - 2.0 * ROUND + 0.5 * np.pi * ROUND
    assert curve_length(its.points) == pytest.approx(want, abs=1.0)


@pytest.mark.parametrize("strip", [60, 100, 150])
def test_a_strip_is_told_as_wide_as_it_is_drawn(strip):
    """One too narrow to reach the tack line is drawn as far as that, and told so."""
    job = boxed(f'rear = "fly"\nstrip = {strip}\n')
    fly = piece_of(job, "rear fly")
    wide = np.ptp(fly.cut, axis=0)[1]
    assert wide == pytest.approx(max(strip, 12.0 + DROP - 1.0 + 0.25 * np.pi - CREASE - 40.0), abs=0.2)
    assert any(note.startswith(f"strip {wide:.0f} mm wide as cut") for note in fly.notes)
    assert report(job)["pads"][0]["flies"][0]["width_as_cut_mm"] == pytest.approx(wide, abs=0.2)


def test_leather_ends_where_the_sheet_says_and_the_strip_is_as_wide_as_it_says(flown):
    band, fly = piece_of(flown, "rear band"), piece_of(flown, "rear fly")
    # From the middle of a turn of 1 mm radius, 25 to the crease and 40 past it.
    assert np.ptp(band.sew, axis=0)[1] == pytest.approx(CREASE + 40.0, abs=0.1)
    assert np.ptp(fly.cut, axis=0)[1] == pytest.approx(120.0, abs=0.1)
    assert tack_edge(fly).kind is EdgeKind.PULLED


def test_the_leather_that_a_fly_saves_is_told_to_the_closed_form(plain, flown):
    """Without the fly the band goes on to the tack line and 50 mm beyond; with it 12 mm past the fly's seam."""
    length = WIDE - 2.0 * ROUND + 0.5 * np.pi * ROUND
    deep = DROP - 1.0 + 0.25 * np.pi - (CREASE + 40.0)
    (row,) = report(flown)["pads"][0]["flies"]
    assert row["leather_saved_mm2"] == pytest.approx(length * (deep + 50.0 - 12.0), rel=2e-3)
    # The same told by the pieces themselves; the allowances of both ends go with it.
    less = piece_of(plain, "rear band").cut_mm2 - piece_of(flown, "rear band").cut_mm2
    assert less == pytest.approx(row["leather_saved_mm2"] + 2.0 * 12.0 * (deep + 50.0 - 12.0), rel=0.02)
    assert row["grip_mm"] == pytest.approx(120.0 - 12.0 - deep, abs=0.2)


def test_a_fly_is_of_cloth_by_the_roll_and_counted_there(flown, plain):
    fly = piece_of(flown, "rear fly")
    assert fly.order.leather == "cloth"
    (cloth,) = [lot for lot in lots(flown) if lot.covering.card.name == "cloth"]
    assert cloth.covering.roll is not None
    assert cloth.pieces_mm2 == pytest.approx(fly.cut_mm2)
    assert cloth.roll_mm == pytest.approx(np.ptp(fly.cut, axis=0)[1])
    assert not [lot for lot in lots(plain) if lot.covering.card.name == "cloth"]
    (row,) = [row for row in rows(flown) if row["name"] == "rear fly"]
    assert row["material"] == "cloth"
    assert "saves" in row["note"]


@pytest.mark.parametrize("word", ["flies", "hidden parts", "seat rear fly"])
def test_flies_can_be_of_something_else(word):
    covering = f'[[covering]]\npanels = ["{word}"]\nleather = "knit_backed_vinyl"\n'
    job = make(sheet_of((BOX + 'rear = "fly"\n').replace("[output]", covering + "[output]")), workers=1)
    assert piece_of(job, "rear fly").order.leather == "knit_backed_vinyl"
    assert piece_of(job, "rear band").order.leather == ""


def test_the_ends_of_a_fly_are_cut_and_left(flown):
    ends = [edge for edge in piece_of(flown, "rear fly").edges if edge.kind is EdgeKind.BARE]
    assert len(ends) == 2
    assert {edge.allowance_mm for edge in ends} == {0.0}


def test_two_flies_beside_each_other_are_sewn_together():
    job = boxed('rear = "fly"\nright = "fly"\n')
    assert {"seat rear fly / right fly", "seat left fly / rear fly"} <= {seam.name for seam in job.seams}
    assert all(seam.sews for seam in job.seams)
    fly = piece_of(job, "right fly")
    assert fly.cut_count + fly.mirrored_count == 2


def test_flies_are_sewn_on_after_what_ends_in_their_seam(flown):
    steps = [step.seam for step in sewing_order(flown.pads, flown.makes)]
    assert steps.index("seat rear band / rear fly") == len(steps) - 1


def test_wire_clip_and_cord_are_bought_by_the_length_of_their_edges():
    job = boxed('front = "hog-ringed"\nright = "draw cord"\nrear = "edge clip"\n')
    long = {
        name: curve_length(tack_edge(piece_of(job, name)).points) for name in ("front band", "right band", "rear band")
    }
    found = {one.name: one for one in fittings(job)}
    assert found["listing wire"].length_mm == pytest.approx(long["front band"])
    assert found["edge clip"].length_mm == pytest.approx(long["rear band"])
    assert found["draw cord"].length_mm == pytest.approx(2.0 * long["right band"] + 300.0)
    assert f"{rings_for(long['front band'])} hog rings" in found["listing wire"].words
    listed = {row["name"]: float(row["length_mm"]) for row in rows(job) if row["kind"] == "fitting"}
    assert listed == pytest.approx({name: one.length_mm for name, one in found.items()}, abs=0.06)
    steps = [step.kind for step in sewing_order(job.pads, job.makes)]
    assert {"hog-ringed", "draw cord", "edge clip"} <= set(steps)


def test_rings_stand_at_both_ends_and_no_further_apart_than_is_said():
    assert [rings_for(mm) for mm in (RINGS_APART_MM, RINGS_APART_MM + 1.0, 600.0)] == [2, 3, 11]


def test_a_y_cut_is_drawn_and_never_a_line_to_cut_along(flown):
    band, fly = piece_of(flown, "rear band"), piece_of(flown, "rear fly")
    for piece in (band, fly):
        pen = RecordingPen()
        draw_piece(piece, pen)
        later = [points for layer, points, _ in pen.lines if layer is PenLayer.LATER]
        assert later
        (cut,) = [points for layer, points, _ in pen.lines if layer is PenLayer.CUT]
        assert np.array_equal(cut, piece.cut)
        assert any("cut after the cover is pulled" in note for note in piece.notes)
    # The post stands at the crease, 40 mm above the leather's end: slit to an inch before it, then to its corners.
    (seam,) = [LineString(edge.points) for edge in band.edges if edge.seam == "seat rear band / rear fly"]
    slit, fork, post = [line.points for line in band.inner[:3]]
    assert seam.distance(shapely.Point(slit[-1])) == pytest.approx(40.0 - FORK_MM, abs=0.2)
    assert shapely.distance(shapely.points(post), seam) == pytest.approx([40.0, 40.0], abs=0.2)
    assert curve_length(post) == pytest.approx(40.0)
    assert shapely.distance(shapely.points(fork[[0, 2]]), shapely.points(post[:2])) == pytest.approx(
        [SHORT_OF_POST_MM] * 2, abs=1e-6
    )
    rim = LineString(np.vstack([band.cut, band.cut[:1]]))
    assert rim.distance(shapely.Point(slit[0])) < 1e-5
    # In the cloth below, the whole strip is slit.
    through = [line.points for line in fly.inner if line.kind is LineKind.LATER]
    assert [curve_length(line) for line in through] == pytest.approx([120.0, 120.0], abs=0.2)


def test_a_post_on_one_half_stands_on_the_other_too_where_the_pad_is_even(flown):
    assert sorted(post.at for post in flown.pads[0].pad.fixings.posts) == [-120.0, 120.0]
    piece = piece_of(flown, "rear fly")
    middle = 0.5 * (piece.box()[0] + piece.box()[2])
    cuts = [line.points[:, 0].mean() - middle for line in piece.inner if line.kind is LineKind.LATER]
    assert sorted(cuts) == pytest.approx([-120.0, 120.0], abs=0.3)


def test_papers_have_the_later_cuts_on_a_layer_of_their_own(flown):
    drawing = ezdxf.read(io.StringIO(patterns_dxf(flown.pieces, roll_width_mm=1000.0).decode("cp1252"), newline=None))
    by_layer: dict[str, int] = {}
    for block in drawing.blocks:
        for entity in block.query("LWPOLYLINE"):
            by_layer[entity.dxf.layer] = by_layer.get(entity.dxf.layer, 0) + 1
    later = sum(line.kind is LineKind.LATER for piece in flown.pieces for line in piece.inner)
    assert by_layer["39 cut later"] == later
    assert by_layer["1 cut"] == len(flown.pieces)
    assert b"cut later" in patterns_svg(flown.pieces, roll_width_mm=1000.0)


@pytest.mark.parametrize(
    ("fixing", "more", "code"),
    [
        ('rear = "fly"\nstrip = 90\n', "", "G201"),
        ('front = "stapled"\nunder = 30\n', "", "G203"),
        ("", '[[pad.post]]\nside = "front"\nat = 400\nwidth = 30\n', "G202"),
        # Its middle stands on the side, its outer half does not.
        ("", '[[pad.post]]\nside = "front"\nat = 195\nwidth = 30\n', "G202"),
        ('front = "stapled"\n', "", "G204"),
    ],
)
def test_what_does_not_serve_is_told(fixing, more, code):
    assert code in {problem.code for problem in boxed(fixing, more).problems}


@pytest.mark.parametrize(
    ("old", "new", "fixing", "code"),
    [
        (f"crease = {CREASE}", "crease = 100", 'rear = "fly"\n', "G200"),
        (f"crease = {CREASE}", "closed_by_hand = true", 'rear = "glued"\n', "S020"),
        ('name = "box"', 'name = "box"', 'rear = "nailed"\n', "S013"),
        ("[pad.fixing]", "[pad.closed]\nthickness = 80\n[pad.fixing]", 'rear = "glued"\n', "G170"),
        ("[pad.fixing]", '[pad.folds]\nrear_left = "single"\n[pad.fixing]', 'rear = "fly"\n', "G118"),
    ],
)
def test_what_contradicts_is_refused(old, new, fixing, code):
    with pytest.raises(ProblemError) as caught:
        make(sheet_of((BOX + fixing).replace(old, new, 1)), workers=1)
    assert code in {problem.code for problem in caught.value.problems}


def test_upright_pads_say_top_and_bottom():
    text = (
        BOX.replace('kind = "cushion"', 'kind = "backrest"')
        .replace("sides.rear", "sides.top")
        .replace("sides.front", "sides.bottom")
    )
    for old, new in (("front_width", "bottom_width"), ("rear_width", "top_width")):
        text = text.replace(old, new)
    posts = '[[pad.post]]\nside = "bottom"\nat = 0\nwidth = 30\ndown = 40\n'
    job = make(sheet_of(text + 'top = "closed by hand"\nbottom = "glued"\n' + posts), workers=1)
    assert tack_edge(piece_of(job, "bottom band")).kind is EdgeKind.GLUED
    assert tack_edge(piece_of(job, "top band")).kind is EdgeKind.CLOSED
    marks = [mark for mark in piece_of(job, "top band").marks if mark.kind is MarkKind.NOTCH]
    assert len(marks) >= 2
    assert [line for line in piece_of(job, "bottom band").inner if line.kind is LineKind.LATER]
