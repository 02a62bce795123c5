"""Letters by the typeface's own table, rooms that hold words to a hair, wordings from the fullest to the shortest."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from fontTools.ttLib import TTFont
from shapely.geometry import GeometryCollection, LineString, Point, Polygon, box

from flatten.draw.fonts import CAPITAL_SHARE, LINE_ROOM, height_to_fit, register_font, type_size, words_width
from flatten.draw.imprint import NO_IMPRINT, Imprint, imprint_of
from flatten.draw.labels import NO_PLACE, FreeRoom, long_way, turned_box
from flatten.draw.lettering import (
    EDGE_SHARES,
    KIND_WORDS,
    _folded,
    _halves,
    _places,
    _wordings,
    allowance_text,
    draw_edge_name,
    place_block,
)
from flatten.draw.pen import PenLayer, RecordingPen
from flatten.draw.strokes import STROKES
from flatten.pieces.piece import CutOrder, Edge, EdgeKind, PieceKind
from meshes.base.files import FONT_FILE
from tests.pieces import boxed_cushion, curved, edges_of, piece_of


def test_letters_are_as_the_typeface_says():
    font = TTFont(FONT_FILE)
    units = font["head"].unitsPerEm
    capital = font["glyf"]["H"].yMax
    assert pytest.approx(capital / units) == CAPITAL_SHARE
    assert type_size(7.0) * capital / units == pytest.approx(7.0)
    widths, names = font["hmtx"], font.getBestCmap()
    own = sum(widths[names[ord(letter)]][0] for letter in "front band – 12 mm") / units
    assert words_width("front band – 12 mm", 3.0) == pytest.approx(own * type_size(3.0), rel=2e-3)
    # A line holds all that reaches above and below, with little to spare.
    high = (font["hhea"].ascent - font["hhea"].descent) / capital
    assert high < LINE_ROOM < 1.1 * high
    assert register_font() == register_font() == "DejaVuSans"
    assert height_to_fit("words", 3.0, 0.0) == 0.0


def test_a_job_is_named_with_its_revision_and_in_the_shops_unit():
    assert Imprint("helm bench", "1a2b").line == "helm bench, revision 1a2b"
    assert Imprint("helm bench").line == "helm bench"
    assert Imprint("", "1a2b").line == "revision 1a2b"
    assert NO_IMPRINT.line == ""
    assert Imprint(unit="in").words("sewn 12.7 mm") == "sewn 1/2 in (12.7 mm)"
    assert Imprint().words("sewn 12.7 mm") == "sewn 12.7 mm"
    sheet = SimpleNamespace(name="bow seat", revision="77", unit="in")
    assert imprint_of(sheet) == Imprint("bow seat", "77", "in")


def test_measures_have_the_ticks_a_rule_has():
    """Centimetres with their halves, inches with halves, quarters or eighths."""
    for unit, inch in (("mm", 1.0), ("in", 25.4)):
        one = Imprint(unit=unit)
        for measure in (one.square, one.ruler, *one.bars):
            long, middling = measure.labelled * measure.tick_mm, measure.middling * measure.tick_mm
            assert long in (pytest.approx(50.0), pytest.approx(25.4))
            assert middling in (pytest.approx(10.0), pytest.approx(12.7), pytest.approx(25.4))
            assert middling <= long
            assert measure.length_mm % inch in (pytest.approx(0.0), pytest.approx(inch))
    assert [bar.length_mm for bar in Imprint().bars] == [100.0, 50.0, 20.0]
    assert [bar.tick_mm for bar in Imprint().bars] == [10.0] * 3
    assert [bar.tick_mm for bar in Imprint(unit="in").bars] == pytest.approx([6.35] * 3)
    assert Imprint(unit="in").ruler.tick_mm == pytest.approx(25.4 / 8)
    assert Imprint().ruler.tick_mm == 5.0
    assert [len({measure.words for measure in Imprint(unit=u).bars}) for u in ("mm", "in")] == [3, 3]


def test_strokes_can_be_drawn_by_any_printer_and_told_from_the_cut_line():
    cut = STROKES[PenLayer.CUT].width_mm
    for layer, stroke in STROKES.items():
        assert 0.15 <= stroke.width_mm <= 0.5
        # Only openings and joins, which are cut too, are as heavy as the cut line.
        assert stroke.width_mm < cut or layer in (PenLayer.CUT, PenLayer.JOIN, PenLayer.OPENING)
        dashes, gaps = stroke.dash_mm[::2], stroke.dash_mm[1::2]
        assert len(dashes) == len(gaps)
        assert all(2.5 * stroke.width_mm < gap <= 3.0 for gap in gaps)
        assert all(1.5 * stroke.width_mm < dash <= 10.0 for dash in dashes)
    # Crests, which nothing is cut or sewn by, are the lightest, more gap than line.
    assert min(STROKES.values(), key=lambda stroke: stroke.width_mm) is STROKES[PenLayer.CREST]
    assert STROKES[PenLayer.CREST].width_mm < STROKES[PenLayer.INNER].width_mm
    sparse = {layer for layer, s in STROKES.items() if sum(s.dash_mm[::2]) < sum(s.dash_mm[1::2])}
    assert sparse == {PenLayer.CREST}
    # Lines that are cut or sewn are mostly line.
    for layer in (PenLayer.SEW, PenLayer.STITCH, PenLayer.JOIN, PenLayer.ROUNDING):
        dash = STROKES[layer].dash_mm
        assert sum(dash[::2]) > 1.5 * sum(dash[1::2])


def test_a_room_holds_what_lies_wholly_in_it_and_gives_nothing_where_it_is_none():
    room = FreeRoom(box(0, 0, 10, 10))
    assert room.holds(box(1, 1, 9, 9))
    assert not room.holds(box(5, 5, 11, 9))
    for nothing in (Polygon(), LineString([(0, 0), (9, 9)]), GeometryCollection([Point(1, 1)])):
        assert FreeRoom(nothing).best_place(5.0, 3.0, (0.0, 90.0)) == NO_PLACE
    assert (NO_PLACE.scale, NO_PLACE.at, NO_PLACE.angle_deg) == (0.0, (0.0, 0.0), 0.0)
    # Of several rooms the one where the box is largest, whatever their areas.
    many = FreeRoom(box(0, 0, 300, 4).union(box(0, 100, 50, 130)))
    found = many.best_place(40.0, 20.0, (0.0,), most=9.0)
    assert found.at == pytest.approx((25.0, 115.0), abs=2.6)
    assert found.scale == pytest.approx(1.25, rel=0.02)


@pytest.mark.parametrize("size", [(60.0, 6.0), (10.0, 30.0)])
@pytest.mark.parametrize("spare", [1.002, 1.4, 0.7])
def test_a_box_fits_where_there_is_room_for_it_to_a_hair(size, spare):
    room = FreeRoom(box(0, 0, spare * size[0], spare * size[1]))
    found = room.best_place(*size, (0.0,))
    assert found.scale == pytest.approx(min(spare, 1.0), rel=2e-3)
    assert found.scale <= min(spare, 1.0)
    assert room.holds(turned_box(found.at, found.scale * size[0], found.scale * size[1], 0.0))


def test_a_turned_box_is_turned_about_its_middle():
    shape = turned_box((10.0, 5.0), 8.0, 2.0, 90.0)
    assert shape.bounds == pytest.approx((9.0, 1.0, 11.0, 9.0))
    assert turned_box((10.0, 5.0), 8.0, 2.0, 0.0).bounds == (6.0, 4.0, 14.0, 6.0)
    up = np.array(turned_box((0.0, 0.0), 8.0, 2.0, 30.0).exterior.coords)
    assert up[:, 1].max() == pytest.approx(4.0 * 0.5 + 1.0 * np.sqrt(0.75))


def test_what_has_no_area_lies_level():
    assert long_way(LineString([(0, 0), (3, 3)])) == 0.0
    assert long_way(Point(1, 1)) == 0.0


def test_a_long_text_is_broken_between_words_into_lines_of_like_length():
    text = "the facing is cut on the line and glued round the edge of the board before it is turned under"
    lines = _folded(text)
    assert " ".join(lines) == text
    assert len(lines) == 3
    assert max(map(len, lines)) <= len(text) / 3 + 4
    assert min(map(len, lines)) > 20
    assert _folded("x" * 44) == ["x" * 44]
    assert len(_folded("abcd " * 8 + "abcd")) == 1
    assert len(_folded("abcd " * 9 + "abcd")) == 2
    assert _folded("abcdefgh ijklmnop", most=9) == ["abcdefgh", "ijklmnop"]
    assert _folded("ab cd ef", most=3) == ["ab cd ef"]
    assert _folded("") == [""]


def test_each_wording_says_no_more_than_the_one_before_and_all_name_the_piece():
    piece, imprint = curved(), Imprint("helm bench", "1a2b")
    ways = _wordings(piece, imprint)
    said = [" ".join(words for words, _ in way) for way in ways]
    assert all("left bolster" in text for text in said)
    # Which side lies up is left out last of all.
    assert ["(grain)" in text for text in said] == [True] * (len(ways) - 1) + [False]
    assert [imprint.line in text for text in said] == [True] * (len(ways) - 3) + [False] * 3
    counted = [piece.count_text in text for text in said]
    assert counted == sorted(counted, reverse=True)
    assert ["allowance" in text for text in said] == [True] * 4 + [False] * (len(ways) - 4)
    # The name is the largest of its block: twice as large, once and a half, or as all the rest.
    heights = [max(size for _, size in way) for way in ways]
    assert set(heights) == {8.0, 6.0, 4.0}
    assert all(size == 4.0 for way in ways for _, size in way[1:])
    # From tall to flat to short: how many lines.
    assert [len(way) for way in ways[3:7]] == [4, 3, 1, 5]
    assert (ways[0][0], ways[1][0], ways[2][0]) == (
        (piece.name, 8.0),
        (piece.name, 8.0),
        (piece.name, 6.0),
    )
    assert ways[2][1:] == ways[1][1:]
    assert [words for words, _ in ways[1] if "mm" in words] == ["allowance: sewn 12 mm", "welted 12 mm", "pulled 50 mm"]
    assert ways[7] == ((f"{piece.name} – {piece.side_text}", 4.0), (imprint.line, 4.0))
    assert ways[8] == ((f"{piece.name} – {piece.side_text} – {imprint.line}", 4.0),)
    assert ways[9] == ((f"{piece.name} – {piece.side_text}", 4.0),)
    assert [words for words, _ in ways[10]] == ["left bolster", "right bolster mirrored)", "right side", "(grain) up"]
    assert ways[11] == ((piece.name, 4.0),)
    stacked = [piece.name, "cushion", piece.count_text, piece.side_text, imprint.line]
    assert [words for words, _ in ways[6]] == stacked
    assert ways[5][0][0] == " – ".join((piece.name, "cushion", piece.count_text, piece.side_text, imprint.line))


def test_notes_stand_in_the_four_full_wordings_only_and_foam_has_no_right_side():
    piece = boxed_cushion()
    said = [" ".join(words for words, _ in way) for way in _wordings(piece, NO_IMPRINT)]
    assert ["ease the rear corners" in text for text in said] == [True] * 4 + [False] * (len(said) - 4)
    foam = replace(piece, order=CutOrder(kind=PieceKind.PADDING, material="foam"))
    for way in _wordings(foam, NO_IMPRINT):
        assert "side up" not in " ".join(words for words, _ in way)
        assert all(words for words, _ in way)
    assert _halves("flesh side up") == ("flesh side", "up")
    assert _halves("right side (grain) up") == ("right side", "(grain) up")
    inches = _wordings(piece, Imprint(unit="in"))
    assert any("in (12.7 mm)" in words for words, _ in inches[0])


def test_a_block_takes_the_first_wording_that_can_be_written_in_three_millimetres():
    piece = boxed_cushion()
    ways = _wordings(piece, NO_IMPRINT)
    for n, way in enumerate(ways):
        width = max(words_width(words, size) for words, size in way) + 4.0
        height = LINE_ROOM * sum(size for _, size in way) + 2.0
        share = 3.0 / min(size for _, size in way)
        tight = FreeRoom(box(0, 0, 1.004 * share * width, 1.004 * share * height))
        found = place_block(piece, tight, (0.0,), 1.0)
        assert found.lines in ways[: n + 1]
        assert found.place.scale * min(size for _, size in found.lines) >= 3.0 - 1e-9
        # In less than that it is another, or none.
        less = FreeRoom(box(0, 0, 0.99 * share * width, 0.99 * share * height))
        assert place_block(piece, less, (0.0,), 1.0).lines != way
    large = FreeRoom(box(0, 0, 400, 400))
    small = place_block(piece, large, (0.0,), 0.8)
    assert small.place.scale == 0.8
    width = max(words_width(words, size) for words, size in ways[0]) + 4.0
    height = LINE_ROOM * sum(size for _, size in ways[0]) + 2.0
    assert 160_000.0 - large.free.area == pytest.approx(0.64 * width * height)
    nothing = place_block(piece, FreeRoom(Polygon()), (0.0,), 1.0)
    assert (nothing.lines, nothing.place.scale) == ((), 0.0)


def test_places_along_an_edge_go_out_from_its_middle_by_fortieths():
    edge = Edge("front", EdgeKind.SEWN, np.array([[0.0, 0.0], [400.0, 0.0]]), 12.0)
    found = [at[0] for at, _ in _places(edge, (30.0, 5.0), 2.5)]
    assert found[:5] == pytest.approx([200.0, 210.0, 190.0, 220.0, 180.0])
    assert len(EDGE_SHARES) == len(set(EDGE_SHARES)) == 35
    assert min(found) == pytest.approx(30.0)
    assert max(found) == pytest.approx(370.0)
    wide = [at[0] for at, _ in _places(edge, (380.0, 5.0), 2.5)]
    assert wide == pytest.approx([200.0, 210.0, 190.0])
    assert list(_places(edge, (380.1, 5.0), 2.5)) == []
    assert all(at[1] == pytest.approx(5.0) for at, _ in _places(edge, (30.0, 5.0), 2.5))


def test_words_on_a_bend_follow_its_chord_and_clear_its_deepest_point():
    turn = np.linspace(0.0, np.pi, 181)
    # A hollow arc of radius 100 walked with its middle on the left, and a round one with it on the right.
    hollow = Edge("a", EdgeKind.SEWN, 100.0 * np.column_stack([-np.cos(turn), -np.sin(turn)]), 12.0)
    at, angle = next(iter(_places(hollow, (60.0, 5.0), 2.0)))
    deep = 100.0 * (1 - np.cos(0.3))
    assert at == pytest.approx([0.0, -100.0 + deep + 2.5 + 2.0], abs=0.02)
    assert angle == pytest.approx(0.0, abs=1e-6)
    round_ = Edge("b", EdgeKind.SEWN, hollow.points[::-1], 12.0)
    at, angle = next(iter(_places(round_, (60.0, 5.0), 2.0)))
    # Its ends lie higher than its middle, which is the deepest inwards.
    assert at == pytest.approx([0.0, -100.0 - 2.5 - 2.0], abs=0.02)
    assert angle == pytest.approx(0.0, abs=1e-6)


def edge_of(note="", allowance=12.0, kind=EdgeKind.SEWN, length=400.0):
    return Edge("front band", kind, np.array([[0.0, 0.0], [length, 0.0]]), allowance, note=note)


def written(edge, room, imprint=NO_IMPRINT):
    pen = RecordingPen()
    said = draw_edge_name(edge, pen, FreeRoom(room), imprint=imprint)
    return said, [text.words for text in pen.texts], pen


def test_lines_of_an_edge_stand_below_each_other_and_take_their_room():
    high = LINE_ROOM * 3.0
    wide = max(words_width(words, 3.0) for words in ("front band", "sewn 12 mm")) + 11.2
    room = box(200 - wide / 2, 2.4, 200 + wide / 2, 2.6 + 2 * high)
    said, words, pen = written(edge_of(), room)
    assert said
    assert words == ["front band", "sewn 12 mm"]
    assert [text.at[1] for text in pen.texts] == pytest.approx([2.5 + 1.5 * high, 2.5 + 0.5 * high])
    assert {text.height_mm for text in pen.texts} == {3.0}
    free = FreeRoom(box(0, 0, 400, 200))
    for k in range(3):
        draw_edge_name(edge_of(), pen, free)
        shapes = [turned_box(t.at, words_width(t.words, t.height_mm), t.height_mm, 0.0) for t in pen.texts[2:]]
        assert not any(a.intersects(b) for i, a in enumerate(shapes) for b in shapes[:i])
        assert len(shapes) == k + 1
    assert pen.texts[2].height_mm == 3.5


def test_a_note_is_said_before_the_name():
    edge = edge_of("ease in 4 mm")
    high, say = LINE_ROOM * 3.0, {}
    for lines in (1, 2, 3):
        for width in (60.0, 45.0, 34.0, 24.0):
            room = box(200 - width / 2 - 5.5, 2.4, 200 + width / 2 + 5.5, 2.6 + lines * high)
            say[lines, width] = written(edge, room)[:2]
    assert say[2, 60.0] == (True, ["front band – sewn 12 mm", "ease in 4 mm"])
    assert say[3, 34.0] == (True, ["front band", "sewn 12 mm", "ease in 4 mm"])
    assert say[2, 34.0] == (True, ["sewn 12 mm", "ease in 4 mm"])
    assert say[1, 34.0] == (False, ["ease in 4 mm"])
    # In inches, and an edge that is cut on the line.
    assert written(edge_of("ease in 25.4 mm"), box(0, 0, 400, 200), Imprint(unit="in"))[1] == [
        "front band – sewn 1/2 in (12 mm) – ease in 1 in (25.4 mm)"
    ]
    assert written(edge_of(kind=EdgeKind.BARE, allowance=0.0), box(0, 0, 400, 200))[1] == ["front band – cut edge"]
    assert written(edge_of(allowance=0.0), box(199, 0, 201, 200))[:2] == (False, [])
    assert KIND_WORDS.keys() == set(EdgeKind)


def test_where_only_the_width_has_room_it_is_said_with_the_name_if_it_can_be():
    edge = Edge("a", EdgeKind.DOUBLE_TOPSTITCHED, np.array([[0.0, 0.0], [387.0, 0.0]]), 12.0)
    wide = words_width("a 12 mm", 3.0) + 11.5
    assert wide < words_width("double topstitched 12 mm", 3.0)
    room = box(194 - wide / 2, 2.4, 194 + wide / 2, 2.6 + LINE_ROOM * 3.0)
    assert written(edge, room)[:2] == (True, ["a 12 mm"])


def test_allowances_of_edges_without_any_are_not_told():
    kinds = [EdgeKind.SEWN, EdgeKind.BARE, EdgeKind.PULLED, EdgeKind.SEWN]
    corners = [(0, 0), (100, 0), (100, 50), (0, 50)]
    piece = piece_of("p", edges_of(corners, [0, 9, 50, 12.5], kinds=kinds))
    assert allowance_text(piece) == "allowance: sewn 12.5 mm, pulled 50 mm"
    little = piece_of("p", edges_of(corners, [0.8, 9, 50, 12.5], kinds=kinds))
    assert allowance_text(little) == "allowance: sewn 0.8 and 12.5 mm, pulled 50 mm"


def test_words_of_an_edge_stand_beside_it_or_nine_millimetres_behind():
    edge = edge_of()
    for low, away in ((1.0, 2.5), (4.0, 9.0)):
        _, words, pen = written(edge, box(0, low, 400, 60))
        assert words == ["front band – sewn 12 mm"]
        assert pen.texts[0].at[1] == pytest.approx(away + 0.5 * LINE_ROOM * 3.5)
