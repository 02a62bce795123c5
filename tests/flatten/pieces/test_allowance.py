"""The cut line: Steiner's formula, a boxed cushion, inward corners, and random outlines that must stay whole."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon

from flatten.job.pipeline import outline_notes
from flatten.pieces.allowance import CORNERS, MITRE_LIMIT, add_allowances, as_cut
from flatten.pieces.piece import CutLine, Edge, EdgeKind
from tests.pieces import all_pieces, boxed_cushion, edges_of, l_shape, round_piece

INCH = 25.4


def cut_line(edges, *, corner):
    return add_allowances(edges, corner=corner).points


def sew_of(edges):
    return np.concatenate([edge.points[:-1] for edge in edges])


def turned(corners, degrees):
    a = np.radians(degrees)
    return [tuple(c) for c in np.array(corners) @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])]


CONVEX = {
    "rectangle": [(0, 0), (300, 0), (300, 120), (0, 120)],
    "triangle": [(0, 0), (200, 10), (40, 150)],
    "seven corners": [(100 * np.cos(t), 140 * np.sin(t)) for t in np.arange(7) * 2 * np.pi / 7],
}


@pytest.mark.parametrize("allowance", [5.0, 12.0, 50.0])
@pytest.mark.parametrize("shape", CONVEX)
def test_rounded_allowance_adds_what_steiner_says(shape, allowance):
    sew = Polygon(CONVEX[shape])
    edges = edges_of(CONVEX[shape], [allowance] * len(CONVEX[shape]))
    added = Polygon(cut_line(edges, corner="round")).area - sew.area
    # Steiner formula for a convex body: P a + pi a^2
    assert added == pytest.approx(sew.length * allowance + np.pi * allowance**2, rel=1e-3)


def test_a_round_corner_is_fine_enough_to_cut():
    corner = Polygon(cut_line(edges_of(CONVEX["rectangle"], [12.0] * 4), corner="round"))
    straight = 300 * 120 + 12 * 840
    assert corner.area - straight == pytest.approx(np.pi * 144, abs=4 * 0.05)


@pytest.mark.parametrize("corner", CORNERS)
def test_round_piece_grows_by_its_allowance_all_round(corner):
    piece = round_piece(150.0, 10.0)
    radii = np.linalg.norm(cut_line(piece.edges, corner=corner), axis=1)
    # 240 chords: the sew line itself lies up to 0.013 mm inside the circle
    assert np.abs(radii - 160.0).max() < 0.02


def test_boxed_cushion_top_is_an_inch_more_each_way():
    # Boxed cushion L x W, 1/2 in seams: top L+1 x W+1 (thespruce.com)
    piece = boxed_cushion(20 * INCH, 18 * INCH, 0.5 * INCH)
    x0, y0, x1, y1 = piece.box()
    assert (x1 - x0, y1 - y0) == pytest.approx((21 * INCH, 19 * INCH), abs=1e-9)
    assert Polygon(piece.cut).area == pytest.approx(21 * 19 * INCH**2, abs=1e-6)
    assert len(piece.cut) == 4


def test_inward_corner_and_four_different_allowances():
    cut = Polygon(l_shape().cut)
    # By hand: foot 50, right 12, top of the foot 12, inner side 12, top 25, left 10.
    expected = Polygon([(-10, -50), (432, -50), (432, 172), (182, 172), (182, 405), (-10, 405)])
    assert cut.symmetric_difference(expected).area < 1e-6


@pytest.mark.parametrize("corner", CORNERS)
@pytest.mark.parametrize("degrees", [0.0, 17.3, 123.4])
def test_edges_that_run_on_straight_leave_no_slit(corner, degrees):
    """A cut line must not run in and out again between two strips that only touch."""
    corners = turned([(0, 0), (70, 0), (100, 0), (300, 0), (300, 120), (211, 120), (0, 120)], degrees)
    points = [np.linspace(corners[k], corners[(k + 1) % 7], 23) for k in range(7)]
    edges = tuple(Edge(f"edge {k}", EdgeKind.SEWN, p, 12.0, None) for k, p in enumerate(points))
    cut = Polygon(cut_line(edges, corner=corner))
    perimeter = 840 + (2 * np.pi * 12 if corner == "round" else 8 * 12)
    assert cut.length == pytest.approx(perimeter, rel=1e-4)


def test_wide_beside_narrow_on_a_straight_line_is_a_plain_step():
    edges = edges_of([(0, 0), (100, 0), (200, 0), (200, 80), (0, 80)], [50, 12, 12, 12, 12])
    cut = Polygon(cut_line(edges, corner="square"))
    assert cut.contains(Point(99.9, -49.9))
    assert not cut.intersects(Point(100.1, -12.1))
    assert cut.area == pytest.approx(224 * (80 + 12) + 112 * 50 + 112 * 12, abs=1e-4)


def test_sharp_corner_is_limited_by_its_rule():
    needle = [(0, 0), (200, 0), (0, 30)]
    reach = {}
    for corner in CORNERS:
        cut = cut_line(edges_of(needle, [12.0] * 3), corner=corner)
        near = cut[np.linalg.norm(cut - [200, 0], axis=1) < 100]
        reach[corner] = np.linalg.norm(near[near[:, 0] > 200] - [200, 0], axis=1).max()
    assert reach["round"] == pytest.approx(12.0, abs=1e-6)
    assert reach["square"] == pytest.approx(12.0 * np.sqrt(2), abs=1e-6)
    assert reach["mitre"] == pytest.approx(MITRE_LIMIT * 12.0, abs=1e-6)


def test_a_nearly_right_corner_stays_a_plain_corner():
    """A pad's corners are seldom exactly 90 degrees; a chamfer of a hair's breadth would help nobody."""
    cut = cut_line(edges_of([(0, 0), (200, 0), (180, 100), (15, 100)], [12.0] * 4), corner="square")
    assert len(cut) == 4


def test_an_unknown_corner_is_refused():
    with pytest.raises(ValueError, match="square, round, mitre"):
        cut_line(l_shape().edges, corner="fancy")


@pytest.mark.parametrize("piece", all_pieces(), ids=lambda piece: piece.name)
def test_samples_have_their_allowance_at_the_middle_of_every_edge(piece):
    cut = Polygon(piece.cut)
    assert cut.is_valid
    assert cut.exterior.is_ccw
    for edge in piece.edges:
        middle = edge.points[len(edge.points) // 2 - 1 : len(edge.points) // 2 + 1].mean(axis=0)
        assert Point(middle).distance(cut.exterior) == pytest.approx(edge.allowance_mm, abs=0.05)


@st.composite
def outlines(draw):
    """Star-shaped outlines, mostly with inward corners, and an allowance for each edge."""
    count = draw(st.integers(3, 14))
    radii = draw(st.lists(st.floats(40.0, 200.0), min_size=count, max_size=count))
    wide = draw(st.lists(st.sampled_from([0.0, 6.0, 10.0, 12.0, 25.0, 50.0]), min_size=count, max_size=count))
    start = draw(st.floats(0.0, 6.28))
    angles = start + np.arange(count) * 2 * np.pi / count
    corners = [(r * np.cos(t), r * np.sin(t)) for r, t in zip(radii, angles, strict=True)]
    return corners, wide


@given(outlines(), st.sampled_from(CORNERS))
@settings(max_examples=150, deadline=None)
def test_random_outlines_stay_whole_and_start_anywhere(outline, corner):
    corners, allowances = outline
    edges = edges_of(corners, allowances)
    cut = cut_line(edges, corner=corner)
    polygon = Polygon(cut)
    assert polygon.is_valid
    assert polygon.exterior.is_ccw
    assert polygon.buffer(1e-6).contains(Polygon(sew_of(edges)))
    for edge in edges:  # no cut nearer to a sewn edge than its allowance, measured straight out from its middle
        a, b = edge.points
        along = (b - a) / np.linalg.norm(b - a)
        spot = 0.5 * (a + b) + 0.999 * edge.allowance_mm * np.array([along[1], -along[0]])
        assert polygon.buffer(1e-6).contains(Point(spot))
    k = len(edges) // 2
    again = Polygon(cut_line(edges[k:] + edges[:k], corner=corner))
    assert again.symmetric_difference(polygon).area < 1e-6


@given(outlines())
@settings(max_examples=80, deadline=None)
def test_rounded_with_one_width_is_all_points_within_that_distance(outline):
    """Another road to the same outline: shapely's buffer, which offsets and cleans curves instead of joining strips."""
    corners, _ = outline
    edges = edges_of(corners, [12.0] * len(corners))
    ours = Polygon(cut_line(edges, corner="round"))
    other = Polygon(Polygon(corners).buffer(12.0, quad_segs=90).exterior)
    assert ours.symmetric_difference(other).area < 0.05 * len(corners)


@pytest.mark.parametrize("corner", CORNERS)
def test_one_edge_all_the_way_round_has_no_seam_corner(corner):
    angles = np.linspace(0.0, 2 * np.pi, 181)
    points = 80.0 * np.column_stack([np.cos(angles), np.sin(angles)])
    points[-1] = points[0]
    cut = cut_line((Edge("tack line", EdgeKind.PULLED, points, 40.0, None),), corner=corner)
    # 180 chords of 2 degrees: up to 0.02 mm outside the circle where strips meet, 0.03 inside the middle of a chord
    assert np.abs(np.linalg.norm(cut, axis=1) - 120.0).max() < 0.05
    assert Polygon(cut).length == pytest.approx(2 * np.pi * 120.0, rel=1e-3)


def test_what_is_wrong_with_an_outline_is_said_of_it():
    assert not add_allowances(edges_of(CONVEX["rectangle"], [10.0] * 4), corner="square").faults
    # A room behind a slit that the allowance of both its sides fills.
    keyhole = [(0, 0), (100, 0), (100, 90), (51, 90), (51, 60), (70, 60), (70, 20), (30, 20), (30, 60), (49, 60)]
    keyhole += [(49, 90), (0, 90)]
    (fault,) = add_allowances(edges_of(keyhole, [4.0] * len(keyhole)), corner="square").faults
    assert "closes over an opening" in fault
    crossed = [(0, 0), (100, 80), (100, 0), (0, 80)]
    assert "crosses itself" in add_allowances(edges_of(crossed, [5.0] * 4), corner="square").faults[0]


def test_the_warning_names_the_piece():
    good = l_shape()
    bad = replace(good, name="lid", outline=CutLine(good.cut, ("the sew line crosses itself",)))
    (problem,) = outline_notes([good, bad])
    assert (problem.code, problem.where, problem.warning) == ("P303", "lid", True)


@pytest.mark.parametrize("corner", CORNERS)
@pytest.mark.parametrize(("gap", "cut_open"), [(2.0, False), (9.0, False), (20.0, False), (60.0, True), (120.0, True)])
def test_an_edge_has_the_allowance_that_the_cut_line_gives_it(gap, cut_open, corner):
    """A dart 90 mm deep: of 12 mm on both legs something is cut where it is more than some 24 mm wide."""
    corners = [(0, 0), (120 - gap / 2, 0), (120, 90), (120 + gap / 2, 0), (240, 0), (240, 200), (0, 200)]
    edges = edges_of(corners, [12.0] * 7)
    found = as_cut(edges, add_allowances(edges, corner=corner))
    legs = [found[k].allowance_mm for k in (1, 2)]
    assert legs == ([12.0] * 2 if cut_open else [0.0] * 2)
    assert [found[k].allowance_mm for k in (0, 3, 4, 5, 6)] == [12.0] * 5


@pytest.mark.parametrize("piece", all_pieces(), ids=lambda piece: piece.name)
def test_edges_of_whole_pieces_keep_their_allowance(piece):
    found = as_cut(piece.edges, piece.outline)
    assert [edge.allowance_mm for edge in found] == [edge.allowance_mm for edge in piece.edges]
