"""What is written on a piece: how large, in which order, how far apart, and what it says of its allowances."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon, box
from shapely.ops import unary_union

from flatten.draw.fonts import CAPITAL_SHARE, LINE_ROOM, type_size, words_width
from flatten.draw.labels import FreeRoom, LabelPlace, long_way, readable, turned_box
from flatten.draw.lettering import SMALLEST_MM, WordBlock, allowance_text, draw_block, draw_edge_name, place_block
from flatten.draw.marks import draw_piece
from flatten.draw.pen import MovedPen, PenLayer, RecordingPen
from flatten.draw.seam_marks import slit_mm
from flatten.draw.strokes import STROKES
from flatten.pieces.piece import Edge, EdgeKind, InnerLine, LineKind, Mark, MarkKind
from tests.pieces import boxed_cushion, edges_of, l_shape, piece_of


@pytest.mark.parametrize("angle", [0.0, 30.0, 90.0, -45.0])
@pytest.mark.parametrize("scale", [1.0, 0.5])
def test_lines_stand_below_each_other_centred_on_their_place(angle, scale):
    """The whole block is as high as its lines with their room, and its middle is the place."""
    sizes = (8.0, 4.0, 4.0)
    block = WordBlock(tuple((f"line {k}", s) for k, s in enumerate(sizes)), LabelPlace((50.0, 20.0), angle, scale))
    pen = RecordingPen()
    draw_block(block, pen)
    assert [text.words for text in pen.texts] == ["line 0", "line 1", "line 2"]
    assert [text.height_mm for text in pen.texts] == pytest.approx([scale * s for s in sizes])
    down = np.array([np.sin(np.radians(angle)), -np.cos(np.radians(angle))])
    depth = [(np.array(text.at) - [50.0, 20.0]) @ down / (scale * LINE_ROOM) for text in pen.texts]
    # Of 16 in all, each line's middle.
    assert depth == pytest.approx([-8.0 + 4.0, -8.0 + 8.0 + 2.0, -8.0 + 12.0 + 2.0])
    along = np.array([-down[1], down[0]])
    assert [(np.array(text.at) - [50.0, 20.0]) @ along for text in pen.texts] == pytest.approx([0.0] * 3, abs=1e-9)
    assert {text.angle_deg for text in pen.texts} == {angle}


def test_allowances_are_told_by_kind_smallest_first():
    assert allowance_text(l_shape()) == "allowance: sewn 12 mm, welted 10 mm, pulled 50 mm, closed 25 mm"
    corners = [(0, 0), (100, 0), (100, 50), (0, 50)]
    two = piece_of("p", edges_of(corners, [12, 10, 12, 10]))
    assert allowance_text(two) == "allowance: sewn 10 and 12 mm"
    bare = piece_of("p", edges_of(corners, [0] * 4, kinds=[EdgeKind.BARE] * 4))
    assert allowance_text(bare) == "no allowance: cut on the line"


def test_a_roomy_piece_says_everything_at_full_size_and_a_small_one_less():
    piece = boxed_cushion()
    room = FreeRoom(Polygon(piece.sew))
    block = place_block(piece, room, (0.0,), 1.0)
    words = [line for line, _ in block.lines]
    assert words[0] == piece.name
    assert {piece.pad, allowance_text(piece), *piece.notes} <= set(words)
    assert block.place.scale == pytest.approx(1.0)
    # The room it took is gone.
    size = max(words_width(line, height) for line, height in block.lines)
    assert not room.holds(turned_box(block.place.at, 0.9 * size, 4.0, 0.0))
    small = place_block(piece, FreeRoom(box(0, 0, 60, 12)), (0.0,), 1.0)
    assert 0 < len(small.lines) < len(block.lines)
    assert any(piece.name in line for line, _ in small.lines)
    assert place_block(piece, FreeRoom(box(0, 0, 8, 1)), (0.0,), 1.0).lines == ()


@pytest.mark.parametrize("turn", [0.0, 25.0, 140.0, 200.0])
def test_an_edges_words_stand_inside_it_alongside(turn):
    a = np.radians(turn)
    spin = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    edge = Edge("front band", EdgeKind.WELTED, np.array([[0.0, 0], [300, 0]]) @ spin, 12.0, note="ease in 4 mm")
    pen = RecordingPen()
    assert draw_edge_name(edge, pen, FreeRoom(Point(0, 0).buffer(900.0)))
    (text,) = pen.texts
    assert text.words == "front band – welted 12 mm – ease in 4 mm"
    at = np.array(text.at) @ spin.T
    # In the middle of the edge, to its left, clear of it by 2.5 mm.
    assert at == pytest.approx([150.0, 0.5 * LINE_ROOM * text.height_mm + 2.5])
    assert -90.0 < text.angle_deg <= 90.0
    assert np.sin(np.radians(text.angle_deg - turn)) == pytest.approx(0.0, abs=1e-9)


def test_words_of_an_edge_clear_its_bend():
    x = np.linspace(0.0, 200.0, 41)
    edge = Edge("inset", EdgeKind.SEWN, np.column_stack([x, 12.0 * np.sin(np.pi * x / 200.0)]), 12.0)
    pen = RecordingPen()
    assert draw_edge_name(edge, pen, FreeRoom(box(-50, -50, 250, 100)))
    (text,) = pen.texts
    shape = turned_box(text.at, words_width(text.words, text.height_mm), text.height_mm, text.angle_deg)
    assert shape.distance(Polygon(np.vstack([edge.points, [[200, -40], [0, -40]]]))) > 2.0


def test_an_edge_too_short_or_without_room_is_not_named():
    pen = RecordingPen()
    assert not draw_edge_name(
        Edge("front band", EdgeKind.SEWN, np.array([[0.0, 0], [8, 0]]), 12.0), pen, FreeRoom(box(-9, -9, 99, 99))
    )
    assert not draw_edge_name(
        Edge("front band", EdgeKind.SEWN, np.array([[0.0, 0], [80, 0]]), 12.0), pen, FreeRoom(box(0, 0, 80, 3))
    )
    assert not pen.texts


@given(st.floats(-720.0, 720.0))
def test_writing_is_never_upside_down_and_stays_on_its_line(angle):
    found = readable(angle)
    assert -90.0 < found <= 90.0
    assert np.sin(np.radians(found - angle)) == pytest.approx(0.0, abs=1e-9)


@given(st.floats(-89.0, 90.0), st.floats(20.0, 90.0))
def test_the_long_way_of_a_box_is_its_longer_side(angle, height):
    way = long_way(turned_box((3.0, 4.0), 100.0, height, angle))
    assert np.sin(np.radians(way - angle)) == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("angle", [0.0, 35.0, -60.0])
def test_a_box_finds_the_largest_place_in_a_turned_room(angle):
    """A room of the same proportions twice as large: the box in its middle at twice its size, no more than asked."""
    room = FreeRoom(turned_box((40.0, -7.0), 200.0, 40.0, angle))
    found = room.best_place(100.0, 20.0, (angle,), most=5.0)
    assert found.scale == pytest.approx(2.0, rel=0.02)
    assert found.at == pytest.approx((40.0, -7.0), abs=1.0)
    assert room.best_place(100.0, 20.0, (angle,), most=1.5).scale == 1.5
    # Square to the room there is a fifth of that.
    assert room.best_place(100.0, 20.0, (angle + 90.0,), most=5.0).scale == pytest.approx(0.4, rel=0.05)
    # An earlier angle stays unless a later one gives a fifth more.
    assert room.best_place(100.0, 20.0, (angle, angle + 90.0), most=5.0).angle_deg == angle
    assert room.best_place(100.0, 20.0, (angle + 90.0, angle), most=5.0).angle_deg == angle


def test_an_earlier_angle_is_kept_against_one_hardly_better():
    room = FreeRoom(box(0, 0, 110, 100))
    assert room.best_place(50.0, 10.0, (90.0, 0.0), most=9.0).angle_deg == 90.0
    wide = FreeRoom(box(0, 0, 140, 100))
    assert wide.best_place(50.0, 10.0, (90.0, 0.0), most=9.0).angle_deg == 0.0
    assert FreeRoom(Polygon()).best_place(5.0, 5.0, (0.0,)).scale == 0.0


def test_what_is_taken_is_not_given_again():
    room = FreeRoom(box(0, 0, 100, 20))
    room.take(box(0, 0, 50, 20))
    assert not room.holds(box(40, 5, 60, 15))
    found = room.best_place(40.0, 10.0, (0.0,))
    assert found.at[0] - 20.0 * found.scale >= 50.0 - 1e-6


def test_letters_are_measured_by_their_capitals():
    assert type_size(CAPITAL_SHARE) == pytest.approx(1.0)
    assert words_width("HIDE", 6.0) == pytest.approx(3.0 * words_width("HIDE", 2.0))
    # Capitals of this typeface are about as wide as high.
    assert 3.0 * 6.0 < words_width("MMM", 6.0) < 4.5 * 6.0


def test_a_moved_pen_moves_and_turns_a_quarter():
    kept = RecordingPen()
    pen = MovedPen(kept, (100.0, 10.0), True)
    pen.line(PenLayer.CUT, np.array([[1.0, 0], [2, 3]]))
    pen.fill(PenLayer.GRAIN, np.array([[1.0, 0], [2, 3], [0, 0]]))
    pen.text(PenLayer.TEXT, (1.0, 0.0), "w", height_mm=2.0, angle_deg=0.0)
    pen.text(PenLayer.TEXT, (1.0, 0.0), "w", height_mm=2.0, angle_deg=90.0)
    assert kept.lines[0][1].tolist() == [[100.0, 11.0], [97.0, 12.0]]
    assert kept.fills[0][1].tolist() == [[100.0, 11.0], [97.0, 12.0], [100.0, 10.0]]
    assert kept.texts[0].at == (100.0, 11.0)
    assert [text.angle_deg for text in kept.texts] == [90.0, 0.0]


@pytest.mark.parametrize("kind", [LineKind.STITCH, LineKind.BACKING, LineKind.JOIN, LineKind.BEVEL])
@pytest.mark.parametrize("turn", [0.0, 70.0, 200.0])
def test_lines_are_named_on_their_left_a_little_after_their_first_end(kind, turn):
    """The name begins 15 mm after the end of a long line, bent or not, and stands in the middle of a short one."""
    a = np.radians(turn)
    spin = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    for points, middle in (
        ([[0, 0], [20, 0], [200, 0]], 15.0 + 0.5 * words_width("valley 3", 3.0)),
        ([[0, 0], [10, 0], [16, 0]], 8.0),
    ):
        line = InnerLine("valley 3", np.array(points, dtype=float) @ spin, kind)
        piece = replace(
            piece_of("p", edges_of([(-300, -300), (300, -300), (300, 300), (-300, 300)], [12.0] * 4)), inner=(line,)
        )
        pen = RecordingPen()
        draw_piece(piece, pen)
        (text,) = [text for text in pen.texts if text.words == "valley 3"]
        away = 0.5 * LINE_ROOM * 3.0 + 1.6
        assert np.array(text.at) @ spin.T == pytest.approx([middle, away], abs=1e-9)
        assert np.sin(np.radians(text.angle_deg - turn)) == pytest.approx(0.0, abs=1e-9)
        drawn = [p for _, p, _ in pen.lines if len(p) == 3]
        assert any(np.allclose(p, line.points) for p in drawn)


def test_crests_and_plain_lines_have_no_name():
    for kind in (LineKind.CREST, LineKind.INNER):
        line = InnerLine("crest of pleat 3", np.array([[40.0, 60.0], [300.0, 60.0]]), kind)
        pen = RecordingPen()
        draw_piece(replace(boxed_cushion(), inner=(line,)), pen)
        assert "crest of pleat 3" not in [text.words for text in pen.texts]


def test_words_lie_level_unless_they_are_turned():
    kept = RecordingPen()
    kept.text(PenLayer.TEXT, (1.0, 2.0), "w", height_mm=2.0)
    MovedPen(kept, (0.0, 0.0)).text(PenLayer.TEXT, (1.0, 2.0), "w", height_mm=2.0)
    MovedPen(kept, (0.0, 0.0)).line(PenLayer.CUT, np.zeros((2, 2)))
    assert [text.angle_deg for text in kept.texts] == [0.0, 0.0]
    assert [closed for *_, closed in kept.lines] == [False]


def test_layers_are_told_apart_without_colour():
    """Any two lines differ in width by half a tenth of a millimetre, or in their dashes; all words are unlike."""
    looks = list(STROKES.values())
    assert STROKES.keys() == set(PenLayer)
    assert len({stroke.word for stroke in looks}) == len(looks)
    drawn = [s for layer, s in STROKES.items() if layer not in (PenLayer.TEXT, PenLayer.GRAIN, PenLayer.NOTCH)]
    for k, one in enumerate(drawn):
        for other in drawn[:k]:
            assert one.dash_mm != other.dash_mm or abs(one.width_mm - other.width_mm) >= 0.049, (one, other)
    assert STROKES[PenLayer.CUT].dash_mm == ()


def test_what_was_kept_is_drawn_again_whole_or_by_layer():
    kept = RecordingPen()
    kept.line(PenLayer.CUT, np.zeros((2, 2)), closed=True)
    kept.fill(PenLayer.GRAIN, np.zeros((3, 2)))
    kept.text(PenLayer.TEXT, (1.0, 2.0), "w", height_mm=2.0, angle_deg=30.0)
    whole, part = RecordingPen(), RecordingPen()
    kept.replay(whole)
    assert (len(whole.lines), len(whole.fills), whole.texts) == (1, 1, kept.texts)
    assert whole.lines[0][2] is True
    kept.replay(part, only=PenLayer.GRAIN)
    assert (len(part.lines), len(part.fills), len(part.texts)) == (0, 1, 0)
    for layer in PenLayer:
        assert kept.uses(layer) == (layer in (PenLayer.CUT, PenLayer.GRAIN, PenLayer.TEXT))


@given(st.sampled_from(list(MarkKind)), st.floats(0.0, 60.0), st.booleans())
def test_a_slit_never_comes_near_the_stitches(kind, allowance, pen):
    mark = Mark(kind, np.zeros(2), np.array([0.0, 1.0]), allowance, "", pen)
    deep = slit_mm(mark)
    assert 0.0 <= deep <= 4.0
    assert deep == 0.0 or allowance - deep >= 6.0 - 1e-12
    assert deep <= 0.5 * allowance
    if pen or kind is MarkKind.VALLEY:
        assert deep == 0.0
    elif allowance >= 10.0:
        assert deep == 4.0
    assert slit_mm(replace(mark, pen=True)) == 0.0


def labelled(edge, room):
    pen = RecordingPen()
    draw_edge_name(edge, pen, room)
    return [text.words for text in pen.texts]


def test_an_edge_keeps_kind_and_allowance_where_its_name_has_no_room_beside_them():
    """Sizes in which the whole label, both in two lines, both at two places, kind alone, and width alone have room."""
    edge = Edge("front band", EdgeKind.SEWN, np.array([[0.0, 0], [387, 0]]), 12.0)
    one_line, kind = "front band – sewn 12 mm", "sewn 12 mm"
    high = LINE_ROOM * SMALLEST_MM
    wide = {words: words_width(words, SMALLEST_MM) + 1.5 for words in (one_line, kind, "front band", "12 mm")}

    def fields(width, height, *middles):
        return FreeRoom(unary_union([box(x - width / 2, 2.4, x + width / 2, 2.6 + height) for x in middles]))

    assert labelled(edge, fields(wide[one_line] + 20, high, 194)) == [one_line]
    assert labelled(edge, fields(max(wide[kind], wide["front band"]) + 20, 2 * high, 194)) == ["front band", kind]
    both = max(wide[kind], wide["front band"]) + 11
    assert labelled(edge, fields(both, high, 120, 260)) == [kind, "front band"]
    assert labelled(edge, fields(both, high, 194)) == [kind]
    assert labelled(edge, fields(wide["12 mm"] + 11, high, 194)) == ["12 mm"]


def test_words_of_an_edge_stand_behind_the_numbers_of_its_marks_where_they_have_no_room_beside_it():
    edge = Edge("front band", EdgeKind.SEWN, np.array([[0.0, 0], [90, 0]]), 12.0)
    numbers = unary_union([box(x - 3, 2, x + 3, 8) for x in (15, 45, 75)])
    assert labelled(edge, FreeRoom(box(0, 1, 90, 60).difference(numbers))) == ["front band – sewn 12 mm"]


def test_an_edge_that_is_sewn_and_not_cut_open_tells_no_allowance():
    edge = Edge("dart", EdgeKind.SEWN, np.array([[0.0, 0], [90, 0]]), 0.0)
    assert labelled(edge, FreeRoom(box(0, 1, 90, 60))) == ["dart – sewn, not cut open"]
    corners = [(0, 0), (100, 0), (100, 50), (0, 50)]
    assert allowance_text(piece_of("p", edges_of(corners, [0, 12, 12, 12]))) == "allowance: sewn 12 mm"
