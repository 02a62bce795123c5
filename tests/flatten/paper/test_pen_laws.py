"""What pens write into files: widths, dashes, greys, windows, names and words, to the last digit."""

import io
import re
from dataclasses import replace
from unittest.mock import Mock, call

import ezdxf
import numpy as np
import pytest
import shapely
from lxml import etree
from shapely.geometry import LineString, Polygon, box

from flatten.draw.fonts import LINE_ROOM, type_size, words_width
from flatten.draw.imprint import NO_IMPRINT, Imprint
from flatten.draw.pen import PenLayer, RecordingPen
from flatten.draw.strokes import STROKES
from flatten.paper import pdf as paper
from flatten.paper.checking import draw_square
from flatten.paper.dxf import DxfPen, block_names, patterns_dxf
from flatten.paper.furniture import (
    _draw_tag,
    _fitting,
    _joins,
    _obstacles,
    _small_arrow,
    draw_cross,
    draw_furniture,
    square_place,
)
from flatten.paper.overview import OverviewRow, _map_fits, _Paper, draw_overview, wrapped
from flatten.paper.page_map import _clear_spot, draw_map, map_height, map_is_readable
from flatten.paper.pages import page_named, tiled
from flatten.paper.pdf_pen import POINTS_PER_MM, PdfPen, show_layers
from flatten.paper.roll import SheetLayout, lay_out_roll, placed_at
from flatten.paper.svg import SvgPen, patterns_svg
from flatten.paper.wording import COVER, GAUGES, PADDING, how_to, how_to_print, side_words, title_of
from flatten.pieces.piece import CutOrder, PieceKind
from tests.flatten.paper.test_furniture import Listener
from tests.papers import opened
from tests.pieces import all_pieces, boxed_cushion, curved, edges_of, long_band, piece_of, small

PT = 72.0 / 25.4
LITTLE = piece_of("cap", edges_of([(0, 0), (30, 0), (30, 20), (0, 20)], [0.0] * 4))
SVG = "{http://www.w3.org/2000/svg}"


def test_a_pdf_pen_draws_in_points_with_its_layers_stroke():
    canvas = Mock()
    pen = PdfPen(canvas)
    assert pytest.approx(PT) == POINTS_PER_MM
    path = canvas.beginPath.return_value
    pen.line(PenLayer.SEW, np.array([[1.0, 2.0], [3.0, 4.0]]), closed=True)
    canvas.setLineWidth.assert_called_with(pytest.approx(0.25 * PT))
    assert canvas.setDash.call_args.args[0] == pytest.approx([4.0 * PT, 2.0 * PT])
    assert canvas.setDash.call_args.args[1] == 0
    canvas.setStrokeGray.assert_called_with(0.0)
    assert path.moveTo.call_args.args == pytest.approx((PT, 2.0 * PT))
    assert path.lineTo.call_args.args == pytest.approx((3.0 * PT, 4.0 * PT))
    path.close.assert_called_once()
    canvas.drawPath.assert_called_with(path, stroke=1, fill=0)
    pen.rule([(0.0, 0.0), (1.0, 0.0)])
    canvas.setLineWidth.assert_called_with(pytest.approx(0.2 * PT))
    assert path.close.call_count == 1
    assert canvas.setDash.call_args.args == ([], 0)
    pen.fill(PenLayer.GRAIN, np.zeros((3, 2)))
    canvas.setFillGray.assert_called_with(0.0)
    canvas.drawPath.assert_called_with(path, stroke=0, fill=1)
    assert path.close.call_count == 2
    pen.write((1.0, 2.0), "w", height_mm=3.0, ink=0.25)
    canvas.setFillGray.assert_called_with(0.25)
    assert canvas.setFont.call_args.args == ("DejaVuSans", pytest.approx(type_size(3.0) * PT))
    assert canvas.mock_calls.index(call.saveState()) < canvas.mock_calls.index(call.restoreState())


def test_a_window_shows_its_part_of_a_drawing_at_its_place():
    canvas = Mock()
    canvas.hasForm.side_effect = lambda form: form.startswith("layer1_")
    show_layers(canvas, "all", (10.0, 20.0, 110.0, 220.0), (7.0, 9.0), 0.5)
    assert [tuple(c.args) for c in canvas.translate.call_args_list] == [
        pytest.approx((7.0 * PT, 9.0 * PT)),
        pytest.approx((-10.0 * PT, -20.0 * PT)),
    ]
    assert canvas.scale.call_args.args == (0.5, 0.5)
    window = canvas.beginPath.return_value
    assert window.rect.call_args.args == pytest.approx((0, 0, 100.0 * PT, 200.0 * PT))
    canvas.clipPath.assert_called_once_with(window, stroke=0, fill=0)
    canvas.doForm.assert_called_once_with("layer1_all")


def test_an_svg_group_has_its_layers_stroke_and_words_are_black():
    root = etree.fromstring(patterns_svg([boxed_cushion()], roll_width_mm=914.0))
    for group in root.iter(f"{SVG}g"):
        word = group.get("{http://www.inkscape.org/namespaces/inkscape}label")
        stroke = next((s for s in STROKES.values() if s.word == word), None)
        if stroke is None:
            continue
        assert float(group.get("stroke-width")) == stroke.width_mm
        dash = group.get("stroke-dasharray")
        assert tuple(map(float, dash.split())) == stroke.dash_mm if stroke.dash_mm else dash is None
        for path in group.iter(f"{SVG}path"):
            assert path.get("d").endswith(" Z") == (word in ("cut", "sew") or path.get("fill") == "#000000")
    data = patterns_svg([boxed_cushion()], roll_width_mm=914.0)
    assert data.startswith(b"<?xml version='1.0' encoding='utf-8'?>")
    numbers = re.findall(rb"\d+\.(\d+)", data)
    assert max(map(len, numbers)) == 4
    title = root.find(f"{SVG}title").text
    assert title == "Cover patterns, right side (grain) up, full size in millimetres"
    assert root[0].tag == f"{SVG}title"
    wide = etree.fromstring(patterns_svg([long_band(), replace(long_band(), name="other")], roll_width_mm=100.0))
    assert [one.tag for one in wide[:3]] == [f"{SVG}title", f"{SVG}desc", f"{SVG}desc"]
    assert [("front band" in one.text, "other" in one.text) for one in wide[1:3]] == [(True, False), (False, True)]
    assert [g.get("id") for g in wide if g.tag == f"{SVG}g"] == ["piece-1", "piece-2"]


def test_svg_turns_y_and_leaves_level_words_alone():
    pen = SvgPen(50.0, 80.0)
    pen.text(PenLayer.TEXT, (10.0, 20.0), "w", height_mm=3.0, angle_deg=360.0)
    pen.text(PenLayer.TEXT, (10.0, 20.0), "w", height_mm=3.0, angle_deg=30.0)
    pen.fill(PenLayer.TEXT, np.array([[1.0, 2.0], [3.0, 4.0], [5.0, 6.0]]))
    level, turned = pen.root.iter(f"{SVG}text")
    assert level.get("transform") is None
    assert turned.get("transform") == "rotate(-30 10 60)"
    assert (level.get("x"), level.get("y")) == ("10", "61.5")
    assert float(level.get("font-size")) == pytest.approx(type_size(3.0), abs=1e-4)
    (path,) = pen.root.iter(f"{SVG}path")
    assert path.get("d") == "M 1,78 L 3,76 L 5,74 Z"
    assert pen.root.get("viewBox") == "0 0 50 80"


# ---- DXF ------------------------------------------------------------------------------------------------------------


def read(data):
    return ezdxf.read(io.StringIO(data.decode("cp1252"), newline=None))


def test_a_filled_shape_in_dxf_is_made_of_triangles_that_cover_it():
    space = Mock()
    corners = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 3.0], [0.0, 3.0]])
    DxfPen(space, "R2000").fill(PenLayer.GRAIN, corners)
    solids = [c.args[0] for c in space.add_solid.call_args_list]
    assert solids == [
        [(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (4.0, 3.0)],
        [(0.0, 0.0), (4.0, 3.0), (0.0, 3.0), (0.0, 3.0)],
    ]
    DxfPen(space, "R12").text(PenLayer.TEXT, (1.0, 2.0), "w", height_mm=3.0, angle_deg=40.0)
    assert space.add_text.call_args.args == ("w",)
    told = space.add_text.call_args.kwargs
    assert (told["height"], told["rotation"]) == (3.0, 40.0)
    assert told["dxfattribs"] == {"layer": "15", "style": "PATTERN"}
    placed = space.add_text.return_value.set_placement.call_args
    assert placed.args == ((1.0, 2.0),)
    assert placed.kwargs["align"].name == "MIDDLE_CENTER"


@pytest.mark.parametrize("version", ["R2000", "R12"])
def test_a_drawing_says_its_limits_units_and_line_types(version):
    pieces = all_pieces()
    layout = lay_out_roll(pieces, width_mm=914.0, foot_mm=12.0)
    drawing = read(patterns_dxf(pieces, roll_width_mm=914.0, version=version, imprint=Imprint("bench 7", "c0ffee")))
    size = (layout.width_mm, layout.length_mm)
    assert tuple(drawing.header["$EXTMIN"])[:2] == (0.0, 0.0)
    assert tuple(drawing.header["$EXTMAX"])[:2] == pytest.approx(size)
    if version == "R2000":
        assert tuple(drawing.header["$LIMMIN"])[:2] == (0.0, 0.0)
        assert tuple(drawing.header["$LIMMAX"])[:2] == pytest.approx(size)
        space = drawing.modelspace()
        assert tuple(space.dxf.extmin)[:2] == (0.0, 0.0)
        assert tuple(space.dxf.extmax)[:2] == pytest.approx(size)
        assert tuple(space.dxf.limmin)[:2] == (0.0, 0.0)
        assert tuple(space.dxf.limmax)[:2] == pytest.approx(size)
        assert drawing.units == 4
    for layer, stroke in STROKES.items():
        entry = drawing.layers.get(str(layer.value) if version == "R12" else f"{layer.value} {stroke.word}")
        # A line with dashes has dashes here too, and a full one has none.
        assert (entry.dxf.linetype.upper() != "CONTINUOUS") == bool(stroke.dash_mm)
    assert drawing.styles.get("PATTERN").dxf.font == ("txt" if version == "R12" else "DejaVuSans.ttf")
    foot = {text.dxf.text.split(" ")[0]: text for text in drawing.modelspace().query("TEXT")}
    assert foot.keys() == {"Layers:", "bench"}
    assert foot["bench"].dxf.text == "bench 7, revision c0ffee; All lengths in millimetres, 1:1; right side (grain) up"
    for word, height, share in (("Layers:", 3.0, 0.2), ("bench", 4.0, 0.7)):
        assert foot[word].dxf.height == height
        assert tuple(foot[word].dxf.align_point)[:2] == pytest.approx((0.5 * size[0], share * 12.0))
    # Neither lies over the other, nor over a piece.
    assert 0.7 * 12.0 - 2.0 > 0.2 * 12.0 + 1.5
    assert min(place.points(place.piece.cut)[:, 1].min() for place in layout.places) > 0.7 * 12.0 + 2.0


def test_attributes_stand_at_the_pieces_corner_and_say_what_it_is_cut_from():
    piece = replace(small(), order=CutOrder(2, 1, "calico"))
    drawing = read(patterns_dxf([piece], roll_width_mm=914.0))
    (insert,) = drawing.modelspace().query("INSERT")
    assert tuple(insert.dxf.insert)[:2] == pytest.approx((10.0, 22.0))
    told = {attrib.dxf.tag: attrib.dxf.text for attrib in insert.attribs}
    assert told == {
        "PIECE": "end cap",
        "PAD": "cushion",
        "COUNT": "2",
        "MIRRORED": "1",
        "MATERIAL": "calico",
        "JOB": "",
        "REVISION": "",
    }
    assert {tuple(attrib.dxf.insert)[:2] for attrib in insert.attribs} == {tuple(insert.dxf.insert)[:2]}


def named(version, *names, pad="seat"):
    pieces = [replace(small(), name=name, pad=pad) for name in names]
    return block_names([placed_at(piece, False, np.zeros(2)) for piece in pieces], version)


def test_names_of_blocks_differ_whatever_their_pieces_are_called():
    assert named("R2000", "face", "face", "face") == ["seat face", "seat face 2", "seat face 3"]
    assert named("R12", "face", "face", "face") == ["SEAT_FACE", "SEAT_FACE_2", "SEAT_FACE_3"]
    assert named("R2000", "face", "FACE", "band") == ["seat face", "seat FACE 2", "seat band"]
    for version in ("R2000", "R12"):
        for names in (("a", "a 2", "a"), ("a 2", "a", "a", "a 2"), ("a", "a", "a 2", "a 3", "a")):
            found = named(version, *names)
            assert len({name.casefold() for name in found}) == len(names)
    assert named("R12", "Łódź – siège")[0] == "SEAT_ODZ_SIEGE"
    assert named("R12", "漢", pad="漢") == ["PIECE"]
    assert named("R2000", "///", pad=":") == ["piece"]
    assert named("R2000", 'a<b>c/d\\e"f:g;h?i*j|k=l`m,n') == ["seat a b c d e f g h i j k l m n"]
    long = "x" * 300
    assert [len(name) for name in named("R12", long, long)] == [27, 29]
    assert [len(name) for name in named("R2000", long, long)] == [200, 202]


# ---- what pages carry -----------------------------------------------------------------------------------------------


def test_a_small_arrow_has_its_shaft_behind_its_head():
    pen = Listener()
    _small_arrow(pen, np.array([10.0, 20.0]), np.array([0.0, 1.0]), 10.0)
    ((shaft, width, _, ink, _),) = pen.rules
    assert shaft == pytest.approx(np.array([[10.0, 15.0], [10.0, 21.0]]))
    assert (width, ink) == (0.25, 0.25)
    assert pen.fills[0] == pytest.approx(np.array([[10.0, 25.0], [8.5, 21.0], [11.5, 21.0]]))


def test_a_cross_reaches_four_millimetres_each_way():
    pen = Listener()
    draw_cross(pen, 5.0, 7.0)
    assert [rule[0].tolist() for rule in pen.rules] == [[[1.0, 7.0], [9.0, 7.0]], [[5.0, 3.0], [5.0, 11.0]]]
    assert {rule[3] for rule in pen.rules} == {0.2}


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_the_squares_words_stand_inside_it(unit):
    pen, imprint = Listener(), Imprint(unit=unit)
    draw_square(pen, (30.0, 40.0), imprint=imprint)
    side = imprint.square.length_mm
    assert [words for words, *_ in pen.words] == (["50 x 50 mm"] if unit == "mm" else ["(50.8 x 50.8 mm)", "2 x 2 in"])
    for k, (words, at, height, _, begins, _) in enumerate(pen.words):
        assert at == pytest.approx([32.0, 43.5 + 4.8 * k])
        assert (height, begins) == (3.0, 0.0)
        assert at[0] + words_width(words, height) < 30.0 + side
    assert {(rule[1], rule[3]) for rule in pen.rules} == {(0.15, 0.45)}


def test_as_many_words_as_have_room_and_how_many_more():
    words = ["one", "", "two", "a third of them"]
    for line in ("one – two – a third of them", "one – two + 1 more", "one + 2 more"):
        assert _fitting(words, 3.0, words_width(line, 3.0)) == line
        assert _fitting(words, 3.0, words_width(line, 3.0) - 0.01) != line
    assert _fitting(words, 3.0, 5.0) == ""
    assert _fitting([], 3.0, 500.0) == ""


def test_the_square_is_put_in_the_lowest_row_that_is_clear_and_leftmost():
    sheet = page_named("a4", 10.0)
    assert square_place(sheet, Polygon(), 50.0) == (14.0, 14.0)
    assert square_place(sheet, box(0, 0, 14.0 - 1.6, 300), 50.0) == (14.0, 14.0)
    assert square_place(sheet, box(0, 0, 14.0 - 1.4, 300), 50.0) == (20.0, 14.0)
    assert square_place(sheet, box(60, 0, 70, 200), 50.0) == (74.0, 14.0)
    assert square_place(sheet, box(0, 0, 210, 100), 50.0) == (14.0, 104.0)
    # Within the margins, and 4 mm more.
    assert square_place(sheet, box(0, 0, 210, 221.0), 50.0) == (14.0, 224.0)
    assert square_place(sheet, box(0, 0, 210, 224.0), 50.0) == (14.0, 230.0)
    assert square_place(sheet, box(0, 0, 210, 230.0), 50.0) is None
    assert square_place(sheet, box(0, 0, 137.0, 300), 50.0) == (140.0, 14.0)
    assert square_place(sheet, box(0, 0, 141.0, 300), 50.0) is None


def test_what_a_piece_has_drawn_is_kept_clear_of_by_its_width():
    record = RecordingPen()
    record.line(PenLayer.CUT, np.array([[0.0, 0.0], [100.0, 0.0]]))
    record.line(PenLayer.SEW, np.array([[0.0, 20.0], [50.0, 20.0], [50.0, 60.0]]), closed=True)
    record.fill(PenLayer.GRAIN, np.array([[5.0, 5.0], [10.0, 5.0], [5.0, 10.0]]))
    record.text(PenLayer.TEXT, (80.0, 40.0), "front", height_mm=3.0, angle_deg=90.0)
    tile = Mock(box=(0.0, -10.0, 90.0, 90.0))
    found = _obstacles(record, tile, (1000.0, 0.0))
    whole = shapely.affinity.translate(found, -1000.0, 0.0)
    assert whole.covers(LineString([(0, 1.19), (90, 1.19)]))
    assert whole.disjoint(LineString([(0, 1.21), (90, 1.21)]))
    assert whole.covers(LineString([(0, 20.79), (49, 20.79)]))
    # The closing side is there too, and nothing past the page.
    assert whole.covers(LineString([(0, 20), (50, 60)]))
    assert whole.bounds[2] <= 91.2 + 1e-9
    wide, high = words_width("front", 3.0), 3.0 * LINE_ROOM
    words = box(80 - 0.5 * high, 40 - 0.5 * wide, 80 + 0.5 * high, 40 + 0.5 * wide)
    assert whole.buffer(1e-6).covers(words)
    assert whole.intersection(box(70, 20, 89, 60)).area == pytest.approx(words.area)
    assert whole.intersection(box(4, 4, 11, 11)).area == pytest.approx(12.5)


def test_overlaps_with_joined_pages_only_are_kept_free_of_words():
    tiling = tiled([boxed_cushion()], page_named("a4", 10.0))
    for tile in tiling.tiles:
        x0, y0, x1, y1 = tile.box
        found = _joins(tiling, tile)
        spots = {
            (-1, 0): (x0 + 10.4, 0.5 * (y0 + y1)),
            (1, 0): (x1 - 10.4, 0.5 * (y0 + y1)),
            (0, -1): (0.5 * (x0 + x1), y0 + 10.4),
            (0, 1): (0.5 * (x0 + x1), y1 - 10.4),
        }
        for side, spot in spots.items():
            assert found.covers(shapely.Point(spot)) == bool(tiling.neighbour(tile, *side))
        assert not found.intersects(box(x0 + 10.6, y0 + 10.6, x1 - 10.6, y1 - 10.6))


def test_a_tag_has_its_arrow_before_its_words_within_the_room_it_takes():
    piece = boxed_cushion(150.0, 150.0)
    place = placed_at(piece, False, np.array([20.0, 20.0]))
    sheet, pen = page_named("a4", 10.0), Listener()
    used = _draw_tag(pen, place, sheet, Polygon(), (0.0, 0.0))
    wide = words_width("cushion face", 3.0)
    assert used.area == pytest.approx((wide + 9.0) * 8.0)
    x0, y0, x1, y1 = used.bounds
    assert (x1 - x0, y1 - y0) == pytest.approx((wide + 9.0, 8.0))
    ((words, at, height, angle, side, _),) = pen.words
    assert (words, height, angle, side) == ("cushion face", 3.0, 0.0, 0.5)
    # Words end 1 mm before the room does, and begin 8 mm into it, behind an arrow of 6.5 mm.
    assert at == pytest.approx([0.5 * (x0 + x1) + 3.5, 0.5 * (y0 + y1)])
    (arrow,) = pen.fills
    shaft = pen.rules[0][0]
    assert arrow[0] - shaft[0] == pytest.approx([0.0, 6.5])
    assert 0.5 * (arrow[0] + shaft[0]) == pytest.approx([x0 + 3.5, 0.5 * (y0 + y1)])
    # Too little of the piece on the page: no tag, and no room used.
    silent, moved = Listener(), Listener()
    assert _draw_tag(silent, place, sheet, box(0, 0, 210, 188), (0.0, 0.0)).is_empty
    assert silent.words == []
    assert _draw_tag(moved, place, sheet, Polygon(), (190.0, 0.0)).is_empty
    assert moved.words == []
    upright = Listener()
    _draw_tag(upright, place, sheet, box(0, 0, 100, 300).union(box(112, 0, 210, 300)), (0.0, 0.0))
    ((_, at, _, angle, *_),) = upright.words
    assert angle == 90.0
    turned = upright.fills[0][0] - upright.rules[0][0][0]
    assert turned == pytest.approx([0.0, 6.5])
    assert at[1] - 0.5 * (upright.fills[0][0] + upright.rules[0][0][0])[1] == pytest.approx(0.5 * wide + 4.5)


def test_margins_say_page_side_job_and_neighbours_at_their_places():
    imprint = Imprint("bench 7", "c0ffee")
    tiling = tiled([boxed_cushion()], page_named("a4", 10.0))
    tile, pen = tiling.tiles[0], Listener()
    draw_furniture(pen, tiling, tile, "page 2 of 9", [], imprint=imprint)
    said = {words: (at, height, angle, side) for words, at, height, angle, side, _ in pen.words}
    at, height, _, side = said["A1"]
    assert (tuple(at), height, side) == ((10.0, 291.0), 4.0, 0.0)
    (line,) = [words for words in said if words.startswith("page 2 of 9")]
    assert line == "page 2 of 9 – right side (grain) up – cushion face"
    at, height, _, side = said[line]
    assert tuple(at) == pytest.approx((14.0 + words_width("A1", 4.0), 291.0))
    assert (height, side) == (3.0, 0.0)
    at, height, angle, side = said[imprint.line]
    assert (tuple(at), height, angle, side) == ((204.0, 20.0), 3.0, 90.0, 0.0)
    right, below = tiling.neighbour(tile, 1, 0), tiling.neighbour(tile, 0, -1)
    assert tuple(said[f"joins {right}"][0]) == pytest.approx((204.0, 0.8 * 297.0))
    assert tuple(said[f"joins {below}"][0]) == pytest.approx((0.88 * 210.0, 6.0))
    last = Listener()
    draw_furniture(last, tiling, tiling.tiles[-1], "page 9 of 9", [], imprint=imprint)
    spots = {words: tuple(at) for words, at, *_ in last.words if words.startswith("joins")}
    assert sorted(spots.values()) == [pytest.approx((6.0, 0.8 * 297.0)), pytest.approx((0.88 * 210.0, 291.0))]
    # A long job's name is held to half the page.
    long = Imprint("a launch with a very long name " * 4)
    pen = Listener()
    draw_furniture(pen, tiling, tile, "page 2 of 9", [], imprint=long)
    (height,) = [height for words, _, height, *_ in pen.words if words == long.line]
    assert words_width(long.line, height) == pytest.approx(0.5 * 297.0)
    rulers = [p for p, width, *_ in pen.rules if width == 0.15 and len(p) == 2 and np.ptp(p, axis=0).max() == 100.0]
    assert {tuple(p[0]) for p in rulers} >= {(20.0, 5.0), (5.0, 20.0)}
    assert {rule[3] for rule in pen.rules if rule[2]} == {0.65}


# ---- first pages ----------------------------------------------------------------------------------------------------


def test_a_map_is_as_large_as_its_room_and_never_more_than_a_quarter():
    tiling = tiled([boxed_cushion(), curved(), long_band()], page_named("a4", 10.0))
    width, height = tiling.columns * 180.0 + 10.0, tiling.rows * 267.0 + 10.0
    assert map_height(tiling, 170.0) == pytest.approx(min(170.0 / width, 0.25) * height)
    assert map_height(tiling, 1e6) == pytest.approx(0.25 * height)
    widest = max(words_width(tile.name, 3.0) for tile in tiling.tiles) + 2.0
    scale = widest / 180.0
    assert map_is_readable(tiling, (1.001 * scale * width, 1e6))
    assert not map_is_readable(tiling, (0.999 * scale * width, 1e6))
    assert map_is_readable(tiling, (1e6, 1.001 * scale * height))
    assert not map_is_readable(tiling, (1e6, 0.999 * scale * height))
    pen, room = Listener(), (20.0, 30.0, 190.0, 30.0 + map_height(tiling, 170.0))
    draw_map(pen, tiling, room)
    corners = np.vstack([rule[0] for rule in pen.rules])
    scale = min(170.0 / width, 0.25)
    # In the middle of its room, from the top: pages less half an overlap all round.
    assert corners[:, 1].max() == pytest.approx(room[3] - 5.0 * scale)
    left = min(tile.box[0] - 180.0 * tile.column for tile in tiling.tiles)
    tile, frame = tiling.tiles[0], next(rule[0] for rule in pen.rules if rule[3])
    assert frame[0][0] == pytest.approx(105.0 - 0.5 * scale * width + scale * (tile.box[0] + 5.0 - left))
    assert {(rule[1], rule[3]) for rule in pen.rules} == {(0.3, 0.0), (0.15, 0.45)}
    assert {(height, side) for _, _, height, _, side, _ in pen.words} == {(3.0, 0.0)}


def test_a_pages_name_stands_upper_left_unless_an_outline_crosses_it():
    cell, wide = (0.0, 0.0, 30.0, 40.0), words_width("A1", 3.0)
    assert _clear_spot(cell, "A1", Polygon()) == (0.8, 37.4)
    x, y = _clear_spot(cell, "A1", LineString([(0.8 + wide, 40.0), (0.8 + wide, 0.0)]))
    assert x == pytest.approx(0.8 + (28.4 - wide) / 3)
    assert y == 37.4
    x, y = _clear_spot(cell, "A1", LineString([(-5.0, 38.0), (99.0, 38.0)]))
    assert x == 0.8
    assert y == pytest.approx(37.4 - 1 * (37.4 - 20.0) / 6) or y == pytest.approx(37.4 - 2 * (37.4 - 20.0) / 6)
    assert not box(x - 0.3, y - 1.9, x + wide + 0.3, y + 1.9).intersects(LineString([(-5.0, 38.0), (99.0, 38.0)]))
    assert _clear_spot(cell, "A1", box(-9, -9, 99, 99)) == (0.8, 37.4)
    low = _clear_spot(cell, "A1", box(-9, 22.0, 99, 99))
    assert low == (0.8, pytest.approx(20.0))
    flat = _clear_spot((0.0, 0.0, 30.0, 10.0), "A1", box(-9, 4.6, 99, 99))
    assert flat == (0.8, pytest.approx(2.6))
    right = _clear_spot(cell, "A1", box(-9, -9, 29.2 - wide - 0.4, 99))
    assert right[0] == pytest.approx(29.2 - wide)


def test_rows_of_the_list_are_as_high_as_their_longest_column():
    assert OverviewRow(("a",), ("b",), ("c",)).height_mm == pytest.approx(4.8 + 0.8)
    assert OverviewRow(("a", "a"), ("b",), ("c", "c", "c")).height_mm == pytest.approx(3 * 4.8 + 0.8)
    assert OverviewRow(("a", "a"), ("b", "b", "b", "b"), ("c",)).height_mm == pytest.approx(4 * 4.8 + 0.8)


def test_the_first_page_is_set_line_by_line_within_its_margins():
    tiling, pen = tiled(all_pieces(), page_named("a4", 10.0)), Listener()
    imprint = Imprint("bench 7", "c0ffee")
    draw_overview(pen, tiling, COVER, imprint=imprint)
    title = f"{title_of(COVER, all_pieces())}, full size"
    room = 180.0 - 50.0 - 8.0
    lines = wrapped(title, 5.0, room)
    words = {text: (at, height, side) for text, at, height, _, side, _ in pen.words}
    for k, line in enumerate(lines):
        at, height, side = words[line]
        assert (height, side) == (5.0, 0.0)
        assert at == pytest.approx([15.0, 281.0 - 8.0 * k])
    at, height, _ = words[imprint.line]
    assert height == 4.0
    assert at == pytest.approx([15.0, 281.0 - 8.0 * len(lines)])
    first = next(text for text in words if text.startswith("Print at"))
    assert words[first][0] == pytest.approx([15.0, 281.0 - 8.0 * len(lines) - 6.4 - 2.0])
    ((square, *_),) = [rule for rule in pen.rules if rule[4] and np.ptp(rule[0], axis=0)[0] == 50.0]
    assert square[0] == pytest.approx([145.0, 281.0 - 50.0 + 3.0])
    # Beside the square lines are shorter; below it they run to the margin.
    for text, (at, height, side) in words.items():
        if side == 0.0 and at[0] == 15.0 and height >= 3.0:
            limit = 137.0 if at[1] > 281.0 - 52.0 else 195.0
            assert 15.0 + words_width(text, height) <= limit + 1e-6, text
    begin = words["Pieces and the pages they are on"]
    assert begin[1] == 3.5
    rows = sorted((at[1] for text, (at, *_) in words.items() if text.startswith("cushion: ")), reverse=True)
    assert begin[0][1] - rows[0] == pytest.approx(4.8 * 3.5 / 3.0 + 1.0)
    assert {round(at[0], 6) for text, (at, *_) in words.items() if text.startswith("cut ")} == {105.0}
    assert min(at[1] for at, *_ in words.values()) >= 5.0
    assert any(at[0] == pytest.approx(15.0 + 0.76 * 180.0) for at, *_ in words.values())


def test_a_map_needs_forty_millimetres_beside_the_list():
    tiling, pen = tiled([small()], page_named("a4", 10.0)), Listener()
    page = _Paper(pen, tiling.sheet, NO_IMPRINT)
    page.begin()
    assert (page.left, page.right, page.low, page.y) == (15.0, 195.0, 16.0, 281.0)
    page.y = 16.0 + 100.0
    assert _map_fits(page, tiling, 60.0)
    assert not _map_fits(page, tiling, 60.1)
    assert page.count == 1


def test_where_the_map_has_no_room_it_gets_a_page_of_its_own():
    pieces = [replace(LITTLE, name=f"cap {k:02d}", pad="port bow seat") for k in range(30)]
    tiling, pen = tiled(pieces, page_named("a4", 10.0)), Listener()
    count = draw_overview(pen, tiling, COVER, imprint=NO_IMPRINT)
    said = [words for words, *_ in pen.words]
    assert count >= 2
    assert "How the pages lie together" in said
    assert said.index("How the pages lie together") > said.index("Pieces and the pages they are on")
    rows = [at for words, at, *_ in pen.words if words.startswith("port bow seat: ")]
    assert len(rows) == 30
    assert min(at[1] for at in rows) >= 16.0


# ---- the roll -------------------------------------------------------------------------------------------------------


def band(length):
    return piece_of(f"band {length:g}", edges_of([(0, 0), (length, 0), (length, 60), (0, 60)], [0.0] * 4))


def test_a_long_layout_is_shown_through_windows_that_overlap():
    layout = SheetLayout((), 300.0, 5080.0)
    assert paper._windows(layout) == [(0.0, 5080.0)]
    assert paper._windows(replace(layout, length_mm=400.0)) == [(0.0, 400.0)]
    windows = paper._windows(replace(layout, length_mm=12_000.0))
    assert windows == [(0.0, 5080.0), (5060.0, 10_080.0), (10_060.0, 12_000.0)]
    # Later pages have a foot of 60 mm as well, and no page is longer than a reader need show.
    assert all(high - low + (60.0 if low else 0.0) <= 5080.0 for low, high in windows)


def test_rolls_are_filled_in_order_as_far_as_a_page_goes():
    pieces = [band(2400.0) for _ in range(5)]
    rolls = paper._rolls(pieces, 100.0)
    assert [len(layout.places) for layout in rolls] == [2, 2, 1]
    assert all(layout.length_mm <= 5080.0 for layout in rolls)
    assert [len(layout.places) for layout in paper._rolls(pieces[:2], 100.0)] == [2]
    (alone,) = paper._rolls([band(6000.0)], 100.0)
    assert alone.length_mm > 5080.0
    with pytest.raises(ValueError, match="6000 mm wide is wider than a page of 5080 mm"):
        paper._rolls([band(5000.0)], 6000.0)


def test_a_rolls_foot_has_square_rulers_and_words_beside_each_other():
    layout, pen = lay_out_roll([boxed_cushion()], width_mm=914.0, foot_mm=60.0), Listener()
    paper._roll_furniture(pen, replace(layout, notes=("a note",)), ("heading", "how"), NO_IMPRINT)
    words = {text: (tuple(at), height, side) for text, at, height, _, side, _ in pen.words}
    assert words["heading"] == ((75.0, 56.0), 3.0, 0.0)
    assert words["how"][0] == (75.0, pytest.approx(50.8))
    assert words["a note"][0] == (75.0, pytest.approx(45.6))
    (square,) = [rule[0] for rule in pen.rules if rule[4]]
    assert square[0].tolist() == [15.0, 6.0]
    rulers = {tuple(rule[0][0]) for rule in pen.rules if len(rule[0]) == 2 and np.ptp(rule[0], axis=0).max() == 100.0}
    assert rulers == {(75.0, 4.0), (4.0, 10.0)}
    assert square[2][1] < 60.0
    narrow = Listener()
    paper._roll_furniture(narrow, replace(layout, width_mm=200.0), ("several words that need lines " * 4,), NO_IMPRINT)
    begins = ("several", "words", "that", "need", "lines")
    lines = [(text, at) for text, at, *_ in narrow.words if text.startswith(begins)]
    assert len(lines) > 1
    assert all(75.0 + words_width(text, 3.0) <= 190.0 for text, _ in lines)


def test_joins_of_a_roll_have_three_crosses_on_a_grey_line():
    pen = Listener()
    paper._roll_join(pen, SheetLayout((), 300.0, 6000.0), 70.0)
    line, width, dash, ink, _ = pen.rules[0]
    assert line.tolist() == [[0.0, 70.0], [300.0, 70.0]]
    assert (width, dash, ink) == (0.15, (1.5, 1.5), 0.65)
    assert sorted({float(rule[0][:, 0].mean()) for rule in pen.rules[1:]}) == [10.0, 150.0, 290.0]
    assert {float(rule[0][:, 1].mean()) for rule in pen.rules[1:]} == {70.0}


def test_a_rolls_pages_are_as_long_as_what_they_show():
    reader = opened(paper.roll_pdf([band(6000.0)], roll_width_mm=120.0, imprint=Imprint("bench 7")))
    sizes = [(float(page.mediabox.width) / PT, float(page.mediabox.height) / PT) for page in reader.pages]
    # 6000 mm, a gap of 10 mm at both ends and a foot of 60 mm; the second page shows 20 mm again above its own foot.
    assert sizes == [pytest.approx((120.0, 5080.0)), pytest.approx((120.0, 6080.0 - 5060.0 + 60.0))]
    words = [" ".join(page.extract_text().split()) for page in reader.pages]
    for k, text in enumerate(words, start=1):
        assert f"sheet {k} of 2" in text.replace("sheet 1 of 2,", "sheet 1 of 2")
    assert reader.metadata.title == "Cover patterns on a roll, bench 7"
    assert reader.metadata.creator == "Trimloft"
    assert reader.pdf_header == "%PDF-1.6"


def test_a_pdf_has_a_mark_for_every_page_of_the_pattern():
    reader = opened(paper.patterns_pdf([boxed_cushion()], page="a4", overlap_mm=10.0, imprint=Imprint("bench 7")))
    names = [tile.name for tile in tiled([boxed_cushion()], page_named("a4", 10.0)).tiles]
    assert [entry.title for entry in reader.outline] == names
    assert reader.metadata.title == "Cover patterns on pages, bench 7"
    assert f"page 2 of {len(names) + 1}" in reader.pages[1].extract_text()


# ---- words ----------------------------------------------------------------------------------------------------------


def test_which_side_lies_up_is_that_of_the_leather_and_of_cloth_where_there_is_none():
    leather, cloth = boxed_cushion(), replace(boxed_cushion(), order=CutOrder(material="calico"))
    foam = replace(boxed_cushion(), order=CutOrder(material="foam", kind=PieceKind.PADDING))
    assert side_words([leather, cloth]) == "right side (grain) up"
    assert side_words([cloth, foam]) == "right side up"
    assert side_words([foam]) == ""
    assert side_words([leather, replace(leather, flesh_up=True)]) == "right side (grain) up, flesh side up"
    assert title_of(PADDING, [foam]) == "Padding shapes"
    assert title_of(GAUGES, [leather]) == "Section gauges, right side (grain) up"


def test_how_to_print_is_said_in_the_shops_unit():
    assert "50 mm square and both 100 mm rulers" in how_to_print(NO_IMPRINT)
    assert "2 in square and both 4 in rulers" in how_to_print(Imprint(unit="in"))
    for wording in (COVER, PADDING, GAUGES):
        said = how_to(wording, NO_IMPRINT)
        assert said[0] == how_to_print(NO_IMPRINT)
        assert said[2:] == wording.how
        assert said[2] == wording.lines
