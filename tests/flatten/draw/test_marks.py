"""Marks, words and arrows on a piece: at the right place, inside the piece, and never on top of each other."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon

from flatten.draw.fonts import words_width
from flatten.draw.labels import FreeRoom, turned_box
from flatten.draw.marks import _arrow_middle, draw_piece
from flatten.draw.pen import MovedPen, PenLayer, RecordingPen
from flatten.pieces.notches import notch_marks, stations
from flatten.pieces.piece import CutLine, Edge, EdgeKind, Mark, MarkKind
from tests.pieces import all_pieces, boxed_cushion, curved, edges_of, long_band, piece_of, small

PIECES = {piece.name: piece for piece in all_pieces()}


def drawn(piece):
    pen = RecordingPen()
    draw_piece(piece, pen)
    return pen


def boxes(pen):
    """Words as the boxes from their baseline to their capitals, with their full width."""
    return [(t.words, turned_box(t.at, words_width(t.words, t.height_mm), t.height_mm, t.angle_deg)) for t in pen.texts]


@pytest.mark.parametrize("name", PIECES)
def test_words_lie_inside_the_sew_line_and_apart(name):
    piece, pen = PIECES[name], drawn(PIECES[name])
    inside = Polygon(piece.sew)
    shapes = boxes(pen)
    assert shapes
    for words, shape in shapes:
        assert inside.contains(shape), words
    for (one, a), (other, b) in combinations(shapes, 2):
        assert a.distance(b) > 0.3, (one, other)


@pytest.mark.parametrize("name", PIECES)
def test_words_are_crossed_by_no_line_and_no_arrow(name):
    pen = drawn(PIECES[name])
    for words, shape in boxes(pen):
        for layer, points, closed in pen.lines:
            line = LineString(np.vstack([points, points[:1]]) if closed else points)
            assert not line.intersects(shape), (words, layer)
        for layer, points in pen.fills:
            assert not Polygon(points).intersects(shape), (words, layer)


@pytest.mark.parametrize("name", PIECES)
def test_nothing_is_drawn_outside_the_cut_line(name):
    piece, pen = PIECES[name], drawn(PIECES[name])
    inside = Polygon(piece.cut).buffer(0.05)
    for layer, points, _ in pen.lines:
        if layer is not PenLayer.NOTCH:
            assert inside.contains(LineString(points)), layer
    for _, points in pen.fills:
        assert inside.contains(Polygon(points))


@pytest.mark.parametrize("name", PIECES)
def test_a_piece_says_who_it_is_how_many_and_how_it_lies(name):
    piece, pen = PIECES[name], drawn(PIECES[name])
    words = " ".join(text.words for text in pen.texts)
    assert piece.name in words
    assert piece.pad in words
    assert piece.count_text in words
    arrows = [points for layer, points in pen.fills if layer is PenLayer.GRAIN]
    shafts = [points for layer, points, _ in pen.lines if layer is PenLayer.GRAIN]
    assert len(arrows) == len(shafts) == 1
    along, grain = arrows[0][0] - shafts[0][0], piece.grain[1] - piece.grain[0]
    assert np.cross([*along, 0], [*grain, 0])[2] == pytest.approx(0.0, abs=1e-6)
    assert along @ grain > 0


def test_every_edge_of_a_roomy_piece_is_named_beside_it():
    for piece in (boxed_cushion(), long_band(), curved()):
        pen = drawn(piece)
        for edge in piece.edges:
            found = [text for text in pen.texts if text.words.startswith(edge.name) and text.words != piece.name]
            near = [text for text in found if LineString(edge.points).distance(Point(text.at)) < 9.0]
            assert near, edge.name


def test_all_words_can_be_read():
    for piece in all_pieces():
        for text in drawn(piece).texts:
            # capitals of 3 mm are read standing at the bench; common practice, no source
            assert text.height_mm >= 3.0 - 1e-9, text.words
            assert -90.0 < text.angle_deg <= 90.0


@pytest.mark.parametrize(("name", "length"), [("face", 100.0), ("front band", 100.0), ("end cap", 50.0)])
def test_the_scale_bar_is_as_long_as_it_says(name, length):
    pen = drawn(PIECES[name])
    bars = [p for layer, p, _ in pen.lines if layer is PenLayer.TEXT]
    assert max(np.linalg.norm(p[-1] - p[0]) for p in bars) == pytest.approx(length)
    assert f"{length:g} mm" in [text.words for text in pen.texts]


def test_stations_are_equal_shares_and_the_same_from_either_end():
    for length in (35.0, 80.0, 300.0, 1400.0):
        shares = stations(length, 120.0)
        steps = np.diff([0.0, *shares, 1.0])
        assert steps == pytest.approx(steps[0])
        assert shares == pytest.approx(1.0 - shares[::-1])
        assert 0.0 < shares[0] <= shares[-1] < 1.0
    # TRADE: every 100 to 150 mm on curves (proposal)
    assert 1400.0 / (len(stations(1400.0, 120.0)) + 1) == pytest.approx(116.7, abs=0.1)
    assert len(stations(20.0, 120.0)) == 0


def test_a_spacing_of_nothing_is_refused():
    with pytest.raises(ValueError, match="notch spacing must be positive: found 0 mm"):
        stations(100.0, 0.0)


def test_notches_stand_at_their_share_of_the_sewn_length():
    (edge, *_) = curved().edges
    steps = np.linalg.norm(np.diff(edge.points, axis=0), axis=1)
    line = LineString(edge.points)
    for share, mark in zip((0.25, 0.6), notch_marks(edge, np.array([0.25, 0.6]), double=False), strict=True):
        assert line.project(Point(mark.at)) == pytest.approx(share * steps.sum())
        assert mark.kind is MarkKind.NOTCH
        assert mark.allowance_mm == edge.allowance_mm
        assert not Polygon(curved().sew).contains(Point(mark.at + 0.5 * mark.outward))
        assert Polygon(curved().sew).contains(Point(mark.at - 0.5 * mark.outward))


@pytest.mark.parametrize(
    ("allowance", "deep"), [(5.0, 0.0), (6.0, 0.0), (7.0, 1.0), (9.0, 3.0), (12.0, 4.0), (50.0, 4.0)]
)
def test_a_slit_begins_at_the_cut_edge_and_leaves_the_stitches_their_leather(allowance, deep):
    """4 mm, never more than half the allowance, never nearer than 6 mm to the stitches."""
    corners = [(0.0, 0.0), (300.0, 0.0), (300.0, 200.0), (0.0, 200.0)]
    piece = piece_of("face", edges_of(corners, [allowance] * 4))
    cut, sew = Polygon(piece.cut).exterior, Polygon(piece.sew).exterior
    slits = [p for layer, p, _ in drawn(piece).lines if layer is PenLayer.NOTCH]
    # two stations a side (300 mm and 200 mm at 120 mm, never fewer than three parts), the last one doubled
    assert len(slits) == (4 * 3 if deep else 0)
    for points in slits:
        assert len(points) == 2
        assert cut.distance(Point(points[0])) < 1e-6
        assert np.linalg.norm(points[1] - points[0]) == pytest.approx(deep)
        assert sew.distance(Point(points[1])) >= max(6.0, allowance / 2.0) - 1e-9


SHAPES = {
    MarkKind.NOTCH: (1, 1, 0),
    MarkKind.DOUBLE_NOTCH: (2, 2, 0),
    MarkKind.JOINT: (1, 0, 1),
    MarkKind.CENTRE: (1, 1, 0),
}


@pytest.mark.parametrize("pen_only", [False, True])
@pytest.mark.parametrize("kind", SHAPES)
def test_every_kind_of_mark_has_a_shape_of_its_own_and_none_is_cut_where_leather_is_pulled(kind, pen_only):
    edges = edges_of([(0.0, 0.0), (50.0, 0.0), (50.0, 50.0), (0.0, 50.0)], [12.0] * 4, kinds=[EdgeKind.PULLED] * 4)
    mark = Mark(kind, np.array([25.0, 0.0]), np.array([0.0, -1.0]), 12.0, "", pen_only)
    pen = drawn(piece_of("end", edges, marks=(mark,)))
    slits, ticks, triangles = SHAPES[kind]
    assert sum(layer is PenLayer.NOTCH for layer, _, _ in pen.lines) == (0 if pen_only else slits)
    inner = [(points, closed) for layer, points, closed in pen.lines if layer is PenLayer.INNER]
    assert [len(points) for points, _ in inner] == [2] * ticks + [3] * triangles
    longest = max(np.ptp(points[:, 1]) for points, _ in inner)
    assert (longest > 15.0) == (kind is MarkKind.CENTRE)
    # Every shape touches the sew line, by which pieces are matched.
    assert all(points[:, 1].min() <= 1e-9 <= points[:, 1].max() + 1e-9 for points, _ in inner)


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize("gap", [14.0, 16.0, 30.0])
def test_a_slit_begins_at_its_own_cut_edge_where_another_one_is_near(gap, side):
    """A slot in a piece, its two sides less than two allowances apart from each other: straight out from one side a ray
    meets the cut edge of the other side as well. A slit belongs to the nearer of what is an allowance away."""
    a, wide = 6.5, 100.0
    corners = [(0, 0), (2 * wide + gap, 0), (2 * wide + gap, 150), (wide + gap, 150), (wide + gap, 60), (wide, 60)]
    corners += [(wide, 150), (0, 150)]
    edges = edges_of(corners, [a] * 8)
    x = wide if side > 0.0 else wide + gap
    mark = Mark(MarkKind.NOTCH, np.array([x, 110.0]), np.array([side, 0.0]), a)
    piece = replace(piece_of("slotted", edges), marks=(mark,))
    assert LineString([mark.at, mark.at + 2 * a * mark.outward]).intersects(Polygon(piece.cut).exterior)
    (slit,) = [points for layer, points, _ in drawn(piece).lines if layer is PenLayer.NOTCH]
    assert slit[0] == pytest.approx([x + side * a, 110.0], abs=1e-9)
    assert slit[1] == pytest.approx([x + side * (a - 0.5), 110.0], abs=1e-9)


def test_where_no_cut_edge_is_near_nothing_is_slit():
    edges = edges_of([(0, 0), (200, 0), (200, 150), (0, 150)], [12.0] * 4)
    mark = Mark(MarkKind.NOTCH, np.array([60.0, 0.0]), np.array([0.0, -1.0]), 12.0)
    # A cut line far out: the piece's own is not within twice the allowance.
    far = np.array([[-90.0, -90], [290, -90], [290, 240], [-90, 240]])
    pen = drawn(replace(piece_of("face", edges), marks=(mark,), outline=CutLine(far)))
    assert not pen.uses(PenLayer.NOTCH)
    assert pen.uses(PenLayer.INNER)


@pytest.mark.parametrize("out", [(0.0, -1.0), (0.6, -0.8), (-0.28, -0.96)])
def test_both_slits_of_a_doubled_notch_stand_on_the_cut_edge_a_stride_apart(out):
    """Square to an edge or not, each of the two begins where its own ray meets the cut line."""
    edges = edges_of([(0, 0), (200, 0), (200, 150), (0, 150)], [12.0] * 4)
    spots = np.array([[90.0 + 3.0 / out[1], 0.0], [90.0 - 3.0 / out[1], 0.0]])
    mark = Mark(MarkKind.DOUBLE_NOTCH, np.array([90.0, 0.0]), np.array(out), 12.0, spots=spots)
    piece = replace(piece_of("face", edges), marks=(mark,))
    slits = [points for layer, points, _ in drawn(piece).lines if layer is PenLayer.NOTCH]
    assert len(slits) == 2
    for slit in slits:
        assert slit[0][1] == pytest.approx(-12.0, abs=1e-9)
        assert (slit[1] - slit[0]) == pytest.approx(-4.0 * np.array(out), abs=1e-9)
    across = np.array([-out[1], out[0]])
    assert abs((slits[1][0] - slits[0][0]) @ across) == pytest.approx(6.0, abs=1e-9)


@pytest.mark.parametrize("name", PIECES)
def test_nothing_to_be_cut_reaches_the_sew_line(name):
    """A knife that follows the layers of cut line and notches must leave the seam whole."""
    piece, pen = PIECES[name], drawn(PIECES[name])
    sew = Polygon(piece.sew)
    notches = [points for layer, points, _ in pen.lines if layer is PenLayer.NOTCH]
    assert notches
    least = min(edge.allowance_mm for edge in piece.edges)
    for points in notches:
        assert LineString(points).distance(sew) >= least / 3.0 - 0.05
    assert not [points for layer, points in pen.fills if layer in (PenLayer.NOTCH, PenLayer.CUT)]


def test_both_sides_of_a_seam_are_notched_alike():
    """One side counts from its start, the other, sewn to it face to face, from its end: pieces s and 1 - s."""
    t = np.linspace(0.0, 1.0, 60)
    straight = Edge("a", EdgeKind.SEWN, np.column_stack([400.0 * t, 0.0 * t]), 12.0, "seam")
    bowed = Edge("b", EdgeKind.SEWN, np.column_stack([390.0 * (1 - t**2), 60.0 * np.sin(np.pi * t)]), 12.0, "seam")
    shares = stations(400.0, 120.0)
    ones = notch_marks(straight, shares, double=False)
    others = notch_marks(bowed, 1.0 - shares, double=False)
    length = np.linalg.norm(np.diff(bowed.points, axis=0), axis=1).sum()
    for one, other in zip(ones, others, strict=True):
        there = LineString(straight.points).project(Point(one.at)) / 400.0
        here = LineString(bowed.points).project(Point(other.at)) / length
        assert here == pytest.approx(1.0 - there, abs=1e-9)


def test_a_centre_on_a_station_is_notched_once():
    piece = boxed_cushion()
    middle = [p for layer, p, _ in drawn(piece).lines if layer is PenLayer.NOTCH and abs(p[1][0] - 254.0) < 4.0]
    # one on the front edge, where centre mark and station fall together, one on the rear edge
    assert len(middle) == 2


def test_the_centre_mark_crosses_the_sew_line_into_the_piece():
    piece = boxed_cushion()
    (mark,) = [mark for mark in piece.marks if mark.kind is MarkKind.CENTRE]
    inside = Polygon(piece.sew)
    lines = [LineString(points) for layer, points, _ in drawn(piece).lines if layer is PenLayer.INNER]
    through = [line for line in lines if line.distance(Point(mark.at)) < 1e-9]
    assert max(line.intersection(inside).length for line in through) >= 10.0
    assert "centre" in [text.words for text in drawn(piece).texts]


def test_a_turned_piece_keeps_its_words_upright_and_its_lengths():
    piece, plain, turned = curved(), RecordingPen(), RecordingPen()
    draw_piece(piece, plain)
    draw_piece(piece, MovedPen(turned, (500.0, 20.0), True))
    for (_, a, _), (_, b, _) in zip(plain.lines, turned.lines, strict=True):
        step = np.diff(a, axis=0) @ np.array([[0.0, 1.0], [-1.0, 0.0]])
        assert np.diff(b, axis=0) == pytest.approx(step)
    assert all(-90.0 < text.angle_deg <= 90.0 for text in turned.texts)
    for a, b in zip(plain.texts, turned.texts, strict=True):
        assert (b.angle_deg - a.angle_deg - 90.0) % 180.0 == pytest.approx(0.0, abs=1e-9)


def test_a_strip_too_narrow_for_words_is_still_drawn():
    edges = edges_of([(0.0, 0.0), (90.0, 0.0), (90.0, 3.0), (0.0, 3.0)], [12.0] * 4)
    pen = drawn(piece_of("strip", edges))
    assert [layer for layer, _, closed in pen.lines if closed] == [PenLayer.CUT, PenLayer.SEW]


def test_pieces_are_not_changed_by_drawing():
    piece = small()
    before = [edge.points.copy() for edge in piece.edges], piece.cut.copy()
    draw_piece(piece, RecordingPen())
    assert all(np.array_equal(a, e.points) for a, e in zip(before[0], piece.edges, strict=True))
    assert np.array_equal(before[1], piece.cut)
    assert Edge("e", EdgeKind.SEWN, piece.cut, 1.0).points.flags.writeable is False


@pytest.mark.parametrize("seed", range(12))
def test_words_find_room_in_any_outline(seed):
    rng = np.random.default_rng(seed)
    count = int(rng.integers(3, 9))
    angles = 2.0 * np.pi * (np.arange(count) + rng.uniform(0.0, 0.8, count)) / count
    radii = rng.uniform(40.0, 300.0, count)
    corners = [(r * np.cos(a), r * np.sin(a)) for r, a in zip(radii, angles, strict=True)]
    piece = piece_of("outline", edges_of(corners, list(rng.uniform(5.0, 50.0, count))))
    shapes, inside = boxes(drawn(piece)), Polygon(piece.sew)
    assert all(inside.contains(shape) for _, shape in shapes)
    assert not any(a.intersects(b) for (_, a), (_, b) in combinations(shapes, 2))


def darted(gap, *, length=75.0, allowance=12.0, lean=0.0):
    """A face 240 mm wide with a dart in its front edge, `gap` mm wide at the mouth, its legs notched as a seam's."""
    tip = (120.0 + lean, length)
    corners = [(0.0, 0.0), (120.0 - gap / 2, 0.0), tip, (120.0 + gap / 2, 0.0), (240.0, 0.0), (240.0, 200.0)]
    names = ["front band", "dart", "dart", "front band", "right band", "rear band", "left band"]
    return piece_of("face", edges_of([*corners, (0.0, 200.0)], [allowance] * 7, names=names))


@pytest.mark.parametrize("lean", [0.0, 30.0])
@pytest.mark.parametrize("allowance", [10.0, 12.0, 20.0])
@pytest.mark.parametrize("gap", [1.0, 4.0, 9.0, 20.0, 30.0, 45.0, 90.0])
def test_slits_begin_on_the_cut_line_and_keep_clear_of_every_sew_line(gap, allowance, lean):
    piece = darted(gap, allowance=allowance, lean=lean)
    pen = drawn(piece)
    cut, sew = Polygon(piece.cut).exterior, Polygon(piece.sew)
    slits = [LineString(points) for layer, points, _ in pen.lines if layer is PenLayer.NOTCH]
    # The straight edges have theirs in any case: what is asked for here is not kept by leaving out all slits.
    assert len(slits) >= 12
    for slit in slits:
        assert cut.distance(Point(slit.coords[0])) < 1e-6
        assert sew.distance(slit) > 6.0 - 1e-3
        assert Polygon(piece.cut).buffer(1e-6).covers(slit)


@pytest.mark.parametrize("gap", [1.0, 4.0, 9.0, 20.0, 30.0, 45.0])
def test_marks_along_a_narrow_dart_touch_one_of_its_legs_only(gap):
    piece = darted(gap)
    legs = [LineString(edge.points) for edge in piece.edges if edge.name == "dart"]
    found = 0
    for layer, points, _ in drawn(piece).lines:
        line = LineString(points)
        near = [leg for leg in legs if leg.distance(line) < 1e-6]
        if layer is PenLayer.INNER and near and line.distance(Point(points[0])) < 1e-6:
            assert len(near) == 1
            found += 1
    assert found >= 4


@pytest.mark.parametrize("shift", [(0.0, 0.0), (1234.0, -777.0)])
def test_an_arrow_goes_no_farther_than_it_must_beside_what_is_in_its_way(shift):
    """A hole of 100 mm in the middle of 600 x 400 leaves room a fifth of the cut height above it; and where the piece
    lies on its drawing changes nothing."""
    corners = [tuple(np.add(corner, shift)) for corner in ((0, 0), (600, 0), (600, 400), (0, 400))]
    piece = piece_of("face", edges_of(corners, [12.0] * 4))
    room = FreeRoom(Polygon(piece.sew).difference(Point(np.add((300, 200), shift)).buffer(50.0)))
    off = _arrow_middle(piece, room, 100.0, 0.0) - np.add((300, 200), shift)
    assert np.abs(off) == pytest.approx([0.0, 0.2 * 424.0])


@pytest.mark.parametrize("name", PIECES)
def test_the_head_of_an_arrow_is_the_same_on_both_sides_of_its_shaft(name):
    pen = drawn(PIECES[name])
    ((tip, one, two),) = [points for layer, points in pen.fills if layer is PenLayer.GRAIN]
    (shaft,) = [points for layer, points, _ in pen.lines if layer is PenLayer.GRAIN]
    assert 0.5 * (one + two) == pytest.approx(shaft[1])
    assert np.linalg.norm(one - two) == pytest.approx(0.7 * np.linalg.norm(tip - shaft[1]))
    assert (one - two) @ (tip - shaft[0]) == pytest.approx(0.0, abs=1e-6)
