"""Where marks, arrows, bars and names of lines come to stand, to the last digit, on pieces whose room is known."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point, Polygon, box

from flatten.draw.fonts import LINE_ROOM, words_width
from flatten.draw.imprint import Imprint
from flatten.draw.labels import FreeRoom, LabelPlace, turned_box
from flatten.draw.marks import (
    _arrow,
    _arrow_and_block,
    _arrow_middle,
    _bar_arrow_and_block,
    _draw_arrow,
    _draw_bar,
    _name_line,
    _scale_bar,
    draw_piece,
    line_record,
)
from flatten.draw.pen import PenLayer, RecordingPen
from flatten.draw.seam_marks import draw_mark
from flatten.pieces.piece import CutLine, InnerLine, LineKind, Mark, MarkKind
from tests.pieces import boxed_cushion, edges_of, piece_of, small

SQUARE = [(0.0, 0.0), (300.0, 0.0), (300.0, 300.0), (0.0, 300.0)]
DOWN = np.array([0.0, -1.0])


def square(*marks, allowance=20.0, corners=SQUARE):
    piece = piece_of("face", edges_of(corners, [allowance] * len(corners)))
    return replace(piece, marks=tuple(marks))


def drawn_mark(mark, room=None, piece=None):
    pen = RecordingPen()
    room = room or FreeRoom(Polygon(SQUARE))
    draw_mark(piece or square(mark), mark, pen, room)
    return pen, room


def line_of(pen, layer):
    return [points.tolist() for one, points, _ in pen.lines if one is layer]


def test_marks_reach_as_far_to_both_sides_of_the_sew_line_as_their_kind_says():
    """Seen at y = 0 with the cut line 20 mm below: a slit of 4 mm, and a shape of its own."""
    at = np.array([150.0, 0.0])
    pen, _ = drawn_mark(Mark(MarkKind.NOTCH, at, DOWN, 20.0))
    assert line_of(pen, PenLayer.NOTCH) == [[[150.0, -20.0], [150.0, -16.0]]]
    assert line_of(pen, PenLayer.INNER) == [[[150.0, 1.5], [150.0, -1.5]]]
    pen, _ = drawn_mark(Mark(MarkKind.DOUBLE_NOTCH, at, DOWN, 20.0))
    assert sorted(line[0][0] for line in line_of(pen, PenLayer.NOTCH)) == [147.0, 153.0]
    assert sorted(line[0][0] for line in line_of(pen, PenLayer.INNER)) == [147.0, 153.0]
    # A centre line reaches 12 mm in and out to where the slit ends.
    pen, _ = drawn_mark(Mark(MarkKind.CENTRE, at, DOWN, 20.0))
    assert line_of(pen, PenLayer.INNER) == [[[150.0, 12.0], [150.0, -16.0]]]
    pen, _ = drawn_mark(Mark(MarkKind.VALLEY, at, DOWN, 20.0))
    assert line_of(pen, PenLayer.VALLEY) == [[[150.0, 5.0], [150.0, -1.5]]]
    assert not pen.uses(PenLayer.NOTCH)
    # A triangle of 5 mm with its tip on the sew line, its base outwards and 1.2 times as wide.
    pen, _ = drawn_mark(Mark(MarkKind.JOINT, at, DOWN, 20.0))
    assert line_of(pen, PenLayer.INNER) == [[[150.0, 0.0], [153.0, -5.0], [147.0, -5.0]]]
    low, _ = drawn_mark(Mark(MarkKind.JOINT, at, DOWN, 7.0), piece=square(allowance=7.0))
    assert np.array(line_of(low, PenLayer.INNER)[0])[:, 1] == pytest.approx([0.0, -5.0, -5.0])
    # Between 1.5 and 5 mm of room the triangle is as high as that; with less it stands inside.
    low, _ = drawn_mark(Mark(MarkKind.JOINT, at, DOWN, 3.0), piece=square(allowance=3.0))
    assert np.array(line_of(low, PenLayer.INNER)[0]) == pytest.approx(np.array([[150, 0], [151.8, -3], [148.2, -3]]))
    low, _ = drawn_mark(Mark(MarkKind.JOINT, at, DOWN, 1.0), piece=square(allowance=1.0))
    assert np.array(line_of(low, PenLayer.INNER)[0]) == pytest.approx(np.array([[150, 0], [153, 5], [147, 5]]))
    low, _ = drawn_mark(Mark(MarkKind.CENTRE, at, DOWN, 0.0), piece=square(allowance=0.0))
    assert line_of(low, PenLayer.INNER) == [[[150.0, 12.0], [150.0, 0.0]]]
    # Where the leather ends at the sew line nothing of a mark is drawn beside it, and a tick is as long as any.
    raw, _ = drawn_mark(Mark(MarkKind.NOTCH, at, DOWN, 0.0), piece=square(allowance=0.0))
    assert line_of(raw, PenLayer.INNER) == [[[150.0, 3.0], [150.0, 0.0]]]
    raw, _ = drawn_mark(Mark(MarkKind.VALLEY, at, DOWN, 0.0), piece=square(allowance=0.0))
    assert line_of(raw, PenLayer.VALLEY) == [[[150.0, 5.0], [150.0, 0.0]]]


@pytest.mark.parametrize(("allowance", "deep"), [(6.39, 0.0), (6.41, 0.41), (10.0, 4.0), (7.5, 1.5), (8.0, 2.0)])
def test_a_slit_is_left_out_where_no_knife_makes_it(allowance, deep):
    mark = Mark(MarkKind.NOTCH, np.array([150.0, 0.0]), DOWN, allowance)
    pen, _ = drawn_mark(mark, piece=square(mark, allowance=allowance))
    lines = line_of(pen, PenLayer.NOTCH)
    assert len(lines) == (deep > 0.0)
    if lines:
        assert lines[0] == [pytest.approx([150.0, -allowance]), pytest.approx([150.0, deep - allowance])]


def test_between_two_sew_lines_a_mark_reaches_halfway_at_most():
    """A slot 4 mm wide that no knife opens: straight out from one of its sides the other's sew line is 4 mm away."""
    corners = [(0, 0), (100, 0), (100, 200), (104, 200), (104, 0), (204, 0), (204, 300), (0, 300)]
    piece = square(corners=corners, allowance=20.0)
    out = np.array([1.0, 0.0])
    for kind, far in ((MarkKind.CENTRE, 2.0), (MarkKind.NOTCH, 1.5), (MarkKind.VALLEY, 1.5)):
        pen, _ = drawn_mark(Mark(kind, np.array([100.0, 120.0]), out, 20.0), piece=piece)
        assert not pen.uses(PenLayer.NOTCH)
        (line,) = [points for layer, points, _ in pen.lines if layer in (PenLayer.INNER, PenLayer.VALLEY)]
        assert line[:, 0].max() == pytest.approx(100.0 + far)
    narrow = square(corners=[(x - 2.4 * (x > 102), y) for x, y in corners], allowance=20.0)
    pen, _ = drawn_mark(Mark(MarkKind.NOTCH, np.array([100.0, 120.0]), out, 20.0), piece=narrow)
    assert line_of(pen, PenLayer.INNER)[0][1][0] == pytest.approx(100.8)
    # Where the sew line turns back over the spot itself there is no room at all.
    pen, _ = drawn_mark(Mark(MarkKind.NOTCH, np.array([50.0, 300.0]), DOWN, 20.0), piece=piece)
    assert np.ptp(np.array(line_of(pen, PenLayer.INNER)[0])[:, 1]) == pytest.approx(1.5)


@pytest.mark.parametrize(
    ("kind", "other", "slit"),
    [
        (MarkKind.JOINT, MarkKind.NOTCH, False),
        (MarkKind.JOINT, MarkKind.CENTRE, False),
        (MarkKind.JOINT, MarkKind.JOINT, True),
        (MarkKind.CENTRE, MarkKind.NOTCH, False),
        (MarkKind.CENTRE, MarkKind.DOUBLE_NOTCH, False),
        (MarkKind.CENTRE, MarkKind.JOINT, True),
        (MarkKind.NOTCH, MarkKind.NOTCH, True),
        (MarkKind.NOTCH, MarkKind.CENTRE, True),
    ],
)
def test_of_two_marks_in_one_place_one_is_slit(kind, other, slit):
    mark = Mark(kind, np.array([150.0, 0.0]), DOWN, 20.0)
    for away, cut in ((0.0, slit), (5.9, slit), (6.0, True)):
        near = Mark(other, np.array([150.0 + away, 0.0]), DOWN, 20.0)
        pen, _ = drawn_mark(mark, piece=square(mark, near))
        assert pen.uses(PenLayer.NOTCH) == cut, away


def test_of_a_doubled_notch_both_are_slit_or_neither():
    """A cut line that is open to one side of it: one of the two rays meets none."""
    corners = [(0, 0), (148, 0), (148, -90), (300, -90), (300, 300), (0, 300)]
    mark = Mark(MarkKind.DOUBLE_NOTCH, np.array([150.0, 0.0]), DOWN, 20.0)
    pen, _ = drawn_mark(mark, piece=square(mark, corners=corners))
    assert not pen.uses(PenLayer.NOTCH)
    assert len(line_of(pen, PenLayer.INNER)) == 2


def test_words_of_a_mark_stand_straight_behind_it_else_beside_it_else_further_in():
    at, high = np.array([150.0, 0.0]), LINE_ROOM * 3.0
    mark = Mark(MarkKind.NOTCH, at, DOWN, 20.0, "12")
    wide = words_width("12", 3.0) + 1.0
    pen, room = drawn_mark(mark)
    assert pen.texts[0].at == pytest.approx((150.0, 1.5 + 1.1 + 0.5 * high))
    assert pen.texts[0].angle_deg == 0.0
    assert (pen.texts[0].words, pen.texts[0].height_mm, pen.texts[0].layer) == ("12", 3.0, PenLayer.TEXT)
    # The mark's own line and the words are no room any more.
    assert not room.holds(box(150 - 0.45 * wide, 3.0, 150 + 0.45 * wide, 7.0))
    assert not room.holds(Point(150.0, 1.0).buffer(0.1))
    assert room.holds(box(152.0, 0.1, 152.1, 1.0))
    behind = box(149.0, 2.7, 151.0, 20.0)
    pen, _ = drawn_mark(mark, FreeRoom(Polygon(SQUARE).difference(behind)))
    # `across` is outward turned a quarter to the left: to the right of a mark that looks down.
    beside = 0.5 * wide + 1.2
    assert pen.texts[0].at == pytest.approx((150.0 + beside, 0.9 + 0.5 * high))
    blocked = behind.union(box(151.0, 0.0, 160.0, 20.0))
    pen, _ = drawn_mark(mark, FreeRoom(Polygon(SQUARE).difference(blocked)))
    assert pen.texts[0].at == pytest.approx((150.0 - beside, 0.9 + 0.5 * high))
    further = box(140.0, 0.0, 160.0, 5.0)
    pen, _ = drawn_mark(mark, FreeRoom(Polygon(SQUARE).difference(further)))
    assert pen.texts[0].at == pytest.approx((150.0, 1.5 + 4.0 + 0.5 * high))
    pen, _ = drawn_mark(mark, FreeRoom(Polygon(SQUARE).difference(box(140.0, 0.0, 160.0, 20.0))))
    assert pen.texts == []


def test_a_valleys_number_is_written_along_its_line():
    mark = Mark(MarkKind.VALLEY, np.array([150.0, 0.0]), DOWN, 20.0, "valley 3")
    pen, _ = drawn_mark(mark)
    wide = words_width("valley 3", 3.0) + 1.0
    assert pen.texts[0].at == pytest.approx((150.0, 5.0 + 1.1 + 0.5 * wide))
    assert pen.texts[0].angle_deg == pytest.approx(90.0)
    taken = FreeRoom(Polygon(SQUARE).difference(box(149.0, 5.5, 151.0, 80.0)))
    pen, _ = drawn_mark(mark, taken)
    assert pen.texts[0].at == pytest.approx((150.0 + 0.5 * LINE_ROOM * 3.0 + 1.2, 0.9 + 0.5 * wide))


@pytest.mark.parametrize("turn", [0.0, 40.0])
def test_a_name_is_moved_along_its_line_and_then_to_its_other_side_where_there_is_no_room(turn):
    a = np.radians(turn)
    spin = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    line = InnerLine("stitch line 2", np.array([[0.0, 0.0], [250.0, 0.0]]) @ spin, LineKind.STITCH)
    wide, away = words_width(line.name, 3.0), 0.5 * LINE_ROOM * 3.0 + 1.6
    first = 15.0 + 0.5 * wide

    def named(room):
        pen = RecordingPen()
        _name_line(line, pen, FreeRoom(Polygon(np.array(room.exterior.coords) @ spin)))
        return [tuple((np.array(text.at) @ spin.T).round(6)) for text in pen.texts]

    assert named(box(-50, -50, 300, 50)) == [pytest.approx((first, away))]
    assert named(box(-50, -50, 300, 3)) == [pytest.approx((first, -away))]
    assert named(box(first - 0.5 * wide - 0.4 + 10, -50, 300, 50)) == [pytest.approx((first + 20, away))]
    assert named(box(first - 0.5 * wide - 0.6 + 10, -50, 300, 50)) == [pytest.approx((first + 10, away))]
    # No nearer to the other end than 15 mm.
    last = 250.0 - 15.0 - 0.5 * wide
    assert named(box(last - 0.5 * wide - 0.4, -50, 300, 50)) == []
    assert named(box(-50, -3, 300, 3)) == []


def test_a_name_takes_its_room():
    line = InnerLine("backing line", np.array([[0.0, 0.0], [250.0, 0.0]]), LineKind.BACKING)
    pen, room = RecordingPen(), FreeRoom(box(-50, -50, 300, 50))
    _name_line(line, pen, room)
    _name_line(line, pen, room)
    one, two = (turned_box(t.at, words_width(t.words, 3.0), 3.0 * LINE_ROOM, 0.0) for t in pen.texts)
    assert not one.intersects(two)
    assert pen.texts[0].height_mm == 3.0


@pytest.mark.parametrize("angle", [0.0, 90.0, 30.0])
def test_a_bar_has_its_ticks_at_their_lengths_and_its_words_above(angle):
    pen = RecordingPen()
    measure = Imprint().bars[1]
    _draw_bar(LabelPlace((10.0, 20.0), angle, 1.0), measure, pen)
    a = np.radians(angle)
    spin = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    lines = [(points - [10.0, 20.0]) @ spin for _, points, _ in pen.lines]
    assert lines[0] == pytest.approx(np.array([[-25.0, -2.0], [25.0, -2.0]]))
    assert len(lines) == 1 + 6
    for k, tick in enumerate(lines[1:]):
        # Ten millimetres apart; the first and every fifth are twice as high.
        assert tick[0] == pytest.approx([-25.0 + 10.0 * k, -2.0], abs=1e-9)
        assert tick[1] == pytest.approx([-25.0 + 10.0 * k, 0.0 if k in (0, 5) else -1.0], abs=1e-9)
    (text,) = pen.texts
    assert (np.array(text.at) - [10.0, 20.0]) @ spin == pytest.approx([0.0, 2.6], abs=1e-9)
    assert (text.words, text.height_mm, text.angle_deg) == ("50 mm", 3.0, angle)
    # It keeps within the 9 mm of room that were taken for it.
    assert 2.6 + 0.5 * LINE_ROOM * 3.0 < 0.5 * 9.0 + 1.0


def test_a_bar_lies_at_the_far_end_of_its_room_and_takes_it():
    room = FreeRoom(box(0, 0, 300, 200))
    place = _scale_bar(room, (0.0,), 100.0)
    # With 3.5 mm more than itself below it, and no more than one of 40 steps of half the height above that.
    assert 8.0 <= place.at[1] <= 8.0 + 100.0 / 39.0
    assert place.at[0] == pytest.approx(150.0, abs=60.0)
    assert place.scale == 1.0
    left = shapely.box(0, 0, 300, 200).area - room.free.area
    assert left == pytest.approx(106.0 * 9.0)
    assert not room.holds(turned_box(place.at, 1.0, 1.0, 0.0))
    # Room for it to a hair, and a hair too little.
    assert _scale_bar(FreeRoom(box(0, 0, 106.5, 9.5)), (0.0,), 100.0) is not None
    assert _scale_bar(FreeRoom(box(0, 0, 105.5, 9.5)), (0.0,), 100.0) is None
    assert _scale_bar(FreeRoom(box(0, 0, 106.5, 8.5)), (0.0,), 100.0) is None
    turned = _scale_bar(FreeRoom(box(0, 0, 50, 300)), (0.0, 90.0), 100.0)
    assert turned.angle_deg == 90.0
    # Down is to the right of what is written upwards.
    assert turned.at[0] > 25.0


@pytest.mark.parametrize("length", [100.0, 20.0, 12.0])
def test_an_arrow_has_a_head_of_8_mm_or_two_fifths_of_a_short_one(length):
    pen = RecordingPen()
    _draw_arrow(np.array([[5.0, 1.0], [5.0, 1.0 + length]]), pen)
    head = min(8.0, 0.4 * length)
    ((_, shaft, _),) = pen.lines
    assert shaft == pytest.approx(np.array([[5.0, 1.0], [5.0, 1.0 + length - head]]))
    ((_, corners),) = pen.fills
    assert corners[0] == pytest.approx([5.0, 1.0 + length])
    assert sorted(corners[1:, 0]) == pytest.approx([5.0 - 0.35 * head, 5.0 + 0.35 * head])
    assert corners[1:, 1] == pytest.approx(1.0 + length - head)
    nothing = RecordingPen()
    _draw_arrow(None, nothing)
    assert not nothing.uses(PenLayer.GRAIN)


def test_an_arrow_is_as_long_as_the_room_lets_it_be_and_takes_its_room():
    piece = square()
    middle = piece.grain.mean(axis=0)
    wide = FreeRoom(Polygon(SQUARE))
    arrow = _arrow(piece, wide, 100.0, 30.0)
    assert np.diff(arrow, axis=0)[0] == pytest.approx([0.0, 100.0])
    assert arrow.mean(axis=0) == pytest.approx(middle)
    assert Polygon(SQUARE).area - wide.free.area == pytest.approx(102.0 * 8.0)
    for share, height in ((1.0, 103.0), (0.75, 101.0), (0.5, 60.0), (0.35, 40.0), (0.25, 30.0), (0.15, 20.0)):
        slot = FreeRoom(box(0, 100, 300, 100 + height))
        found = _arrow(piece, slot, 100.0, 5.0)
        assert np.linalg.norm(found[1] - found[0]) == pytest.approx(100.0 * share), height
    assert _arrow(piece, FreeRoom(box(0, 100, 300, 130)), 100.0, 30.0) is None
    assert _arrow(piece, FreeRoom(box(0, 100, 300, 140)), 100.0, 35.0) is not None
    assert _arrow(piece, FreeRoom(box(0, 100, 300, 116)), 100.0, 5.0) is None


def test_an_arrow_has_space_round_it_where_there_is_some_and_else_just_fits():
    piece = square()
    middle = piece.grain.mean(axis=0)
    just = FreeRoom(box(middle[0] - 12.1, middle[1] - 54.1, middle[0] + 12.1, middle[1] + 54.1))
    assert _arrow_middle(piece, just, 100.0, 90.0) == pytest.approx(middle)
    # Less than thrice its width: wherever it just fits, in the middle of a slot elsewhere.
    slot = FreeRoom(box(40.0, 50.0, 49.0, 160.0))
    found = _arrow_middle(piece, slot, 100.0, 90.0)
    assert found[0] == pytest.approx(44.5, abs=0.6)
    assert 50.0 + 51.0 <= found[1] <= 160.0 - 51.0
    assert _arrow_middle(piece, FreeRoom(box(40.0, 50.0, 49.0, 151.0)), 100.0, 90.0) is None
    # Looked for up to half the width and a fifth of the height of the cut line away, the nearest first.
    width, height = 340.0, 340.0
    away = FreeRoom(box(middle[0] + 0.4 * width - 13, middle[1] - 60, middle[0] + 0.4 * width + 40, middle[1] + 60))
    assert _arrow_middle(piece, away, 100.0, 90.0)[0] == pytest.approx(middle[0] + 10 / 24 * width, abs=1e-6)
    above = FreeRoom(box(middle[0] - 20, middle[1] + 0.1 * height - 55, middle[0] + 20, 320))
    assert _arrow_middle(piece, above, 100.0, 90.0) == pytest.approx(middle + np.array([0.0, 0.1 * height]))
    far = FreeRoom(box(middle[0] - 20, 0, middle[0] + 20, middle[1] - 0.2 * height + 55))
    assert _arrow_middle(piece, far, 100.0, 90.0) == pytest.approx(middle - np.array([0.0, 0.2 * height]))


def test_words_are_made_smaller_before_the_arrow_is_left_out():
    piece = square(corners=[(0, 0), (220, 0), (220, 120), (0, 120)])
    large = FreeRoom(Polygon(SQUARE))
    arrow, block = _arrow_and_block(piece, large, (0.0,), Imprint())
    assert arrow is not None
    assert block.place.scale == pytest.approx(1.0)
    before = large.free.area
    assert Polygon(SQUARE).area - before > 24.0 * 8.0
    scales = []
    for height in (30.0, 40.0, 50.0, 60.0, 80.0, 110.0):
        room = FreeRoom(box(20, 10, 130, 10 + height))
        arrow, block = _arrow_and_block(piece, room, (0.0,), Imprint())
        smallest = min((size for _, size in block.lines), default=4.0)
        if block.lines:
            assert block.place.scale * smallest >= 3.0 - 1e-9
        scales.append(block.place.scale if block.lines else 0.0)
        if arrow is not None and block.lines:
            words = turned_box(
                block.place.at, block.place.scale * max(words_width(w, s) for w, s in block.lines), 1.0, 0.0
            )
            assert not LineString(arrow).intersects(words)
    assert scales[-1] > 0.0


def test_a_piece_has_the_longest_bar_beside_which_it_can_be_named():
    large = square()
    bar, arrow, block = _bar_arrow_and_block(large, FreeRoom(Polygon(SQUARE)), (0.0, 90.0), Imprint())
    assert bar[1].length_mm == 100.0
    assert arrow is not None
    assert large.side_text in " ".join(words for words, _ in block.lines)
    inch = _bar_arrow_and_block(large, FreeRoom(Polygon(SQUARE)), (0.0, 90.0), Imprint(unit="in"))[0]
    assert inch[1].length_mm == pytest.approx(101.6)
    lengths = []
    for side in (150.0, 80.0, 55.0, 45.0):
        little = square(corners=[(0, 0), (side, 0), (side, side), (0, side)])
        inside = FreeRoom(Polygon(little.sew).buffer(-1.0))
        bar, _, block = _bar_arrow_and_block(little, inside, (0.0, 90.0), Imprint())
        lengths.append(bar[1].length_mm if bar else 0.0)
        said = " ".join(words for words, _ in block.lines)
        assert little.side_text in said or bar is None
    assert lengths == sorted(lengths, reverse=True)
    assert lengths[0] == 100.0
    assert lengths[-1] < 50.0


def test_lines_alone_are_the_pieces_lines_and_marks_without_a_word():
    piece = boxed_cushion()
    whole, bare = RecordingPen(), line_record(piece)
    draw_piece(piece, whole)
    assert {layer for layer, *_ in bare.lines} == {PenLayer.CUT, PenLayer.SEW, PenLayer.INNER, PenLayer.NOTCH}
    assert [text.words for text in bare.texts] == []
    assert bare.fills == []
    assert bare.lines[0][1].tolist() == piece.cut.tolist()
    assert [closed for layer, _, closed in bare.lines if layer in (PenLayer.CUT, PenLayer.SEW)] == [True, True]
    exact = [(layer, points.tolist()) for layer, points, _ in bare.lines]
    rest = [
        (layer, points.tolist()) for layer, points, _ in whole.lines if layer not in (PenLayer.TEXT, PenLayer.GRAIN)
    ]
    assert exact == rest


def test_words_keep_to_the_part_of_a_piece_they_are_given():
    piece = boxed_cushion()
    half = box(-50, -50, 250, 600)
    pen = RecordingPen()
    draw_piece(piece, pen, words_in=half)
    assert len(pen.texts) > 5
    for text in pen.texts:
        assert half.contains(
            turned_box(text.at, words_width(text.words, text.height_mm), text.height_mm, text.angle_deg)
        )


def test_words_stay_a_millimetre_within_the_sew_line_and_off_inner_lines():
    for piece in (boxed_cushion(), small()):
        pen = RecordingPen()
        draw_piece(piece, pen)
        sew = Polygon(piece.sew)
        for text in pen.texts:
            letters = turned_box(text.at, words_width(text.words, text.height_mm), text.height_mm, text.angle_deg)
            assert sew.exterior.distance(letters) >= 1.0
            for inner in piece.inner:
                assert LineString(inner.points).distance(letters) > 1.5


@pytest.mark.parametrize(("far", "slit"), [(1.9, True), (2.1, False)])
def test_a_cut_edge_is_looked_for_within_twice_the_allowance(far, slit):
    mark = Mark(MarkKind.NOTCH, np.array([150.0, 0.0]), DOWN, 20.0)
    cut = np.array([[-50.0, -20.0 * far], [350.0, -20.0 * far], [350.0, 350.0], [-50.0, 350.0]])
    pen, _ = drawn_mark(mark, piece=replace(square(mark), outline=CutLine(cut)))
    assert pen.uses(PenLayer.NOTCH) == slit


def test_a_name_on_a_bent_line_lies_along_its_chord_over_its_own_width():
    wide = words_width("valley 3", 3.0)
    bend = 15.0 + 0.75 * wide
    line = InnerLine("valley 3", np.array([[0.0, 0.0], [bend, 0.0], [bend, 300.0]]), LineKind.STITCH)
    pen = RecordingPen()
    _name_line(line, pen, FreeRoom(box(-50, -50, 300, 350)))
    (text,) = pen.texts
    # Its first three quarters on the level part, the last on the upright one.
    assert text.angle_deg == pytest.approx(np.degrees(np.arctan2(0.25, 0.75)))


def test_layers_have_the_numbers_of_the_standards_list_and_their_own_beyond_it():
    """ASTM D6673: 1 boundary, 4 notches, 7 grain, 8 internal, 11 internal cut-outs, 14 sew, 15 text."""
    listed = {"CUT": 1, "NOTCH": 4, "GRAIN": 7, "INNER": 8, "OPENING": 11, "SEW": 14, "TEXT": 15}
    assert {layer.name: layer.value for layer in PenLayer if layer.value < 30} == listed
    own = [layer.value for layer in PenLayer if layer.value >= 30]
    assert own == list(range(30, 30 + len(own)))
