"""Allowances of different widths side by side, by a second way each: cut lines shifted and intersected, sectors summed,
corners written down. And what is said when an outline cannot be right."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import ConvexHull, HalfspaceIntersection
from shapely.geometry import Point, Polygon, box

from flatten.pieces.allowance import MITRE_LIMIT, SQUARE_LIMIT, _joined, add_allowances
from tests.pieces import edges_of


def cut_of(corners, widths, corner):
    line = add_allowances(edges_of(corners, widths), corner=corner)
    assert not line.faults
    return Polygon(line.points)


def shifted(corners, widths):
    """The convex outline between its sides moved out, each by its own width: half planes intersected by Qhull."""
    corners = np.array(corners, dtype=float)
    along = np.roll(corners, -1, axis=0) - corners
    out = np.stack([along[:, 1], -along[:, 0]], axis=1) / np.linalg.norm(along, axis=1)[:, None]
    offset = -(np.einsum("ij,ij->i", out, corners) + widths)
    meets = HalfspaceIntersection(np.column_stack([out, offset]), corners.mean(axis=0)).intersections
    return Polygon(meets[ConvexHull(meets).vertices])


BLUNT = [(0, 0), (300, 0), (330, 140), (160, 230), (-40, 150)]


@given(
    st.one_of(
        st.tuples(st.lists(st.sampled_from([8.0, 10.0, 12.0]), min_size=5, max_size=5), st.just("mitre")),
        st.tuples(st.lists(st.sampled_from([10.0, 11.0, 12.0]), min_size=5, max_size=5), st.just("square")),
    )
)
@settings(max_examples=60, deadline=None)
def test_blunt_corners_are_where_both_cut_edges_meet(given_widths):
    widths, corner = given_widths
    assert cut_of(BLUNT, widths, corner).symmetric_difference(shifted(BLUNT, widths)).area < 1e-4


@given(st.lists(st.sampled_from([0.0, 8.0, 12.0, 30.0]), min_size=5, max_size=5))
@settings(max_examples=40, deadline=None)
def test_rounded_corners_swing_from_one_width_to_the_next(widths):
    """Strips, and sectors whose radius goes evenly from a to b: turn (a^2 + a b + b^2) / 6."""
    corners = np.array(BLUNT, dtype=float)
    along = np.roll(corners, -1, axis=0) - corners
    length, heading = np.linalg.norm(along, axis=1), np.arctan2(along[:, 1], along[:, 0])
    turn = np.mod(np.roll(heading, -1) - heading, 2 * np.pi)
    a, b = np.array(widths), np.roll(widths, -1)
    wanted = Polygon(BLUNT).area + length @ a + turn @ (a * a + a * b + b * b) / 6.0
    cut = cut_of(BLUNT, widths, "round")
    assert cut.area == pytest.approx(wanted, rel=2e-4)
    # Straight out from either end of every edge the cut line is at the edge's own width.
    for p, d, size, w in zip(corners, along, length, widths, strict=True):
        out = np.array([d[1], -d[0]]) / size
        for share in (0.001, 0.999):
            spot = p + share * d
            assert cut.buffer(1e-6).contains(Point(spot + 0.999 * w * out))
            assert not cut.contains(Point(spot + (w + 0.3) * out)) or share != 0.5


# A needle: its point turns by 180 - 20 degrees.
TIP = np.array([200.0, 0.0])
SLOPE = np.deg2rad(160.0)
NEEDLE = [(0.0, 0.0), tuple(TIP), tuple(TIP + 220.0 * np.array([np.cos(SLOPE), np.sin(SLOPE)]))]


def frames():
    """Directions of the edges into and out of the needle's point, and their outward normals."""
    d, e = np.array([1.0, 0.0]), np.array([np.cos(SLOPE), np.sin(SLOPE)])
    return d, np.array([d[1], -d[0]]), e, np.array([e[1], -e[0]])


@pytest.mark.parametrize(("a", "b"), [(12.0, 12.0), (20.0, 8.0), (8.0, 20.0)])
def test_at_a_sharp_corner_each_allowance_ends_square_at_the_others_width(a, b):
    cut = cut_of(NEEDLE, [a, b, 10.0], "square")
    d, n, e, m = frames()
    hull = Polygon([TIP, TIP + a * n, TIP + a * n + b * d, TIP + b * m - a * e, TIP + b * m]).convex_hull
    strip = Polygon([TIP, NEEDLE[2], NEEDLE[2] + b * m, TIP + b * m])
    # Beyond the point nothing else is cut: the corner is what was written down.
    beyond = box(TIP[0], -200.0, 400.0, 200.0)
    ours, wanted = cut.intersection(beyond), hull.union(strip).intersection(beyond)
    assert ours.symmetric_difference(wanted).area < 1e-4
    assert cut.buffer(1e-6).contains(Point(TIP + a * n + b * d))
    assert not cut.contains(Point(TIP + a * n + (b + 0.01) * d))


@pytest.mark.parametrize(("a", "b"), [(12.0, 12.0), (20.0, 8.0), (8.0, 20.0)])
def test_a_mitre_is_cut_off_where_both_edges_reach_its_limit(a, b):
    cut = cut_of(NEEDLE, [a, b, 10.0], "mitre")
    d, n, e, m = frames()
    reach = MITRE_LIMIT * max(a, b)
    ends = (TIP + a * n + np.sqrt(reach**2 - a**2) * d, TIP + b * m - np.sqrt(reach**2 - b**2) * e)
    for end in ends:
        assert np.linalg.norm(end - TIP) == pytest.approx(reach)
        assert Point(end).distance(cut.exterior) < 1e-6
        assert np.linalg.norm(np.array(cut.exterior.coords) - end, axis=1).min() < 1e-6
    assert max(np.linalg.norm(np.array(cut.exterior.coords)[:-1] - TIP, axis=1)[
        np.array(cut.exterior.coords)[:-1, 0] > TIP[0]
    ]) == pytest.approx(reach)  # fmt: skip


@pytest.mark.parametrize(("a", "b"), [(10.0, 10.0), (10.0, 14.0), (14.0, 10.0)])
@pytest.mark.parametrize("more", [-0.02, 0.02])
def test_square_corners_meet_up_to_their_limit_and_no_further(a, b, more):
    """Corner by corner sharper: the farther of both cut edges runs past the corner by SQUARE_LIMIT of the other's width
    at most; past that each ends square."""

    def ahead(turn):
        """How far each cut edge runs past the corner, in the other's width."""
        return max((b - a * np.cos(turn)) / np.sin(turn) / b, (a - b * np.cos(turn)) / np.sin(turn) / a)

    low, high = np.deg2rad(90.0), np.deg2rad(150.0)
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if ahead(middle) < SQUARE_LIMIT else (low, middle)
    turn = low + more
    far = TIP + 220.0 * np.array([np.cos(turn), np.sin(turn)])
    cut = cut_of([(0.0, 0.0), tuple(TIP), tuple(far)], [a, b, 10.0], "square")
    d, n = np.array([1.0, 0.0]), np.array([0.0, -1.0])
    m = np.array([np.sin(turn), -np.cos(turn)])
    tip = TIP + np.linalg.solve(np.array([n, m]), np.array([a, b]))
    assert (Point(tip).distance(cut.exterior) < 1e-6) == (more < 0.0)
    assert cut.buffer(1e-6).contains(Point(TIP + a * n + min(b, float((tip - TIP) @ d)) * d))


@pytest.mark.parametrize(("a", "b"), [(10.0, 10.0), (8.0, 14.0), (14.0, 8.0)])
@pytest.mark.parametrize("more", [-0.02, 0.02])
def test_mitres_meet_as_long_as_their_point_is_within_the_limit(a, b, more):
    """The point of both cut edges, seen from the sewn corner: up to MITRE_LIMIT of the wider allowance."""

    def point(turn):
        return np.linalg.solve(np.array([[0.0, -1.0], [np.sin(turn), -np.cos(turn)]]), np.array([a, b]))

    low, high = np.deg2rad(100.0), np.deg2rad(170.0)
    for _ in range(60):
        middle = 0.5 * (low + high)
        near = np.linalg.norm(point(middle)) < MITRE_LIMIT * max(a, b)
        low, high = (middle, high) if near else (low, middle)
    turn = low + more
    far = TIP + 220.0 * np.array([np.cos(turn), np.sin(turn)])
    cut = cut_of([(0.0, 0.0), tuple(TIP), tuple(far)], [a, b, 10.0], "mitre")
    assert (Point(TIP + point(turn)).distance(cut.exterior) < 1e-6) == (more < 0.0)


@pytest.mark.parametrize("corner", ["square", "mitre"])
@pytest.mark.parametrize(("a", "b"), [(50.0, 12.0), (12.0, 50.0)])
def test_a_wide_allowance_beside_a_narrow_one_at_a_flat_corner_ends_square(corner, a, b):
    """Where both cut edges would only meet behind the corner, the wide one ends at it."""
    turn = np.deg2rad(10.0)
    far = np.array([200.0 + 200.0 * np.cos(turn), 200.0 * np.sin(turn)])
    cut = cut_of([(0, 0), (200, 0), tuple(far), (150, 300)], [a, b, 12, 12], corner)
    n, m = np.array([0.0, -1.0]), np.array([np.sin(turn), -np.cos(turn)])
    p = np.array([200.0, 0.0])
    assert np.linalg.norm(np.array(cut.exterior.coords) - (p + a * n if a > b else p + b * m), axis=1).min() < 1e-6
    # Each edge has its own width right up to the corner.
    for spot, out, w in ((p - [1.0, 0.0], n, a), (p + 1.0 * np.array([np.cos(turn), np.sin(turn)]), m, b)):
        assert cut.contains(Point(spot + 0.999 * w * out))


@pytest.mark.parametrize("corner", ["square", "mitre", "round"])
def test_a_mirrored_piece_has_the_mirrored_cut_line(corner):
    corners, widths = [(0, 0), (300, 20), (280, 60), (90, 200), (20, 190)], [50.0, 12.0, 8.0, 25.0, 10.0]
    over = [(-x, y) for x, y in corners][::-1]
    # The edge between two corners stays with them.
    turned = [widths[(3 - k) % 5] for k in range(5)]
    one, other = cut_of(corners, widths, corner), cut_of(over, turned, corner)
    mirrored = Polygon(np.array(other.exterior.coords) * [-1.0, 1.0])
    assert one.symmetric_difference(mirrored).area < (1e-3 if corner == "round" else 1e-5)


@pytest.mark.parametrize("gap", [3e-7, 3e-6, 3e-5])
def test_parts_a_hair_apart_are_joined_all_the_same(gap):
    """Rounding leaves hairs of any of these widths between parts that share an edge; nothing is lost to them."""
    parts = [box(0, 0, 100, 40), box(100 + gap, 0, 260, 40), box(0, 40 + gap, 260, 90)]
    whole = _joined(parts)
    assert whole.geom_type == "Polygon"
    assert whole.area == pytest.approx(260 * 90, abs=0.05)


@pytest.mark.parametrize(("side", "told"), [(0.9, False), (1.2, True)])
def test_an_opening_is_told_from_a_square_millimetre_on(side, told):
    """A square room behind a slit that the allowances of its sides fill: what is left open of it is cut as leather."""
    w, s = 4.0, side + 8.0
    room = [(0, 0), (100, 0), (100, 90), (51, 90), (51, 60), (50 + s / 2, 60), (50 + s / 2, 60 - s)]
    room += [(50 - s / 2, 60 - s), (50 - s / 2, 60), (49, 60), (49, 90), (0, 90)]
    faults = add_allowances(edges_of(room, [w] * len(room)), corner="square").faults
    assert bool(faults) == told
    if told:
        assert f"an opening of {side * side:.0f} mm2" in faults[0]
