"""Rays, spots, ways and slopes on pieces whose distances are known: flat ones, stretched evenly, and folded ones."""

import igl
import numpy as np
import pytest
import shapely

from flatten.bounds.geodesic import (
    CUT_SHORT,
    LONGER,
    Crossings,
    MappedMesh,
    Slope,
    Spots,
    around,
    from_first,
    located,
)
from flatten.bounds.straight import Goals, Ways
from tests import shapes
from tests.odd_panels import squares

# A seat that is its flat map drawn out by an even stretch and laid aslant in space.
EVEN = np.array([[1.7, 0.0, 0.4], [0.3, 0.8, -0.5]])
# A bent piece: three squares up, three to the right.
HOOK = {(0, 0), (0, 1), (0, 2), (1, 0), (2, 0)}


def evenly_stretched(cells=HOOK, fine=4):
    points, triangles = squares(cells, fine=fine)
    return MappedMesh(points @ EVEN, triangles, points)


def shape_of(piece):
    return shapely.union_all([shapely.Polygon(corners) for corners in piece.points[piece.triangles]])


def rough(seed=2, edge=16.0):
    """A seat whose triangles are stretched very unevenly."""
    points, triangles = shapes.scattered(100.0, 80.0, edge, seed=seed)
    heights = np.random.default_rng(seed).uniform(0.0, 0.6 * edge, len(points))
    return MappedMesh(np.column_stack([points, heights]), triangles, points)


def test_edges_rim_and_lengths_of_a_mesh():
    vertices = np.array([[0.0, 0, 0], [3, 0, 0], [3, 4, 0], [0, 4, 0]])
    piece = MappedMesh(vertices, np.array([[0, 1, 2], [0, 2, 3]]), vertices[:, :2])
    assert {tuple(edge) for edge in piece.edges.tolist()} == {(0, 1), (1, 2), (0, 2), (2, 3), (0, 3)}
    assert [tuple(edge) for edge in piece.edges[~piece.on_rim].tolist()] == [(0, 2)]
    assert piece.longest == 5.0
    assert piece.usual == 4.0
    one = evenly_stretched({(0, 0)}, fine=2)
    assert sorted(piece.rim.tolist()) == [0, 1, 2, 3]
    assert len(one.rim) == 8


def test_length_along_rays_is_read_between_crossings_and_goes_on_evenly_behind_the_last():
    nothing = np.zeros((3, 3))
    found = Crossings(np.array([0, 0, 2]), np.array([2.0, 4.0, 5.0]), nothing, np.array([6.0, 8.0, 10.0]))
    ratios = found.ratios(3, np.array([1.0, 2.0, 3.0, 4.0, 8.0]))
    assert ratios[0] == pytest.approx([3.0, 3.0, 7.0 / 3.0, 2.0, 2.0])
    assert ratios[1] == pytest.approx([1.0] * 5)
    assert ratios[2] == pytest.approx([2.0] * 5)


@pytest.mark.parametrize("start", [(0.5, 0.5), (0.25, 2.25), (0.0, 0.0), (1.0, 1.0)])
def test_rays_run_straight_to_the_rim_and_no_further(start):
    piece = evenly_stretched()
    vertex = int(np.argmin(np.linalg.norm(piece.points - start, axis=1)))
    angles = np.arange(-3.1, 3.1, 0.07)
    found = piece.traced(vertex, angles)
    ways = np.stack([np.cos(angles), np.sin(angles)], axis=1)[found.ray]
    away = found.reach[:, None] * ways @ EVEN
    assert found.place == pytest.approx(piece.vertices[vertex] + away, abs=1e-9)
    assert found.length == pytest.approx(np.linalg.norm(away, axis=1), abs=1e-9)
    assert (np.diff(found.ray) >= 0).all()
    shape, origin = shape_of(piece), shapely.Point(start)
    for ray, angle in enumerate(angles):
        beam = shapely.LineString([start, start + 9.0 * np.array([np.cos(angle), np.sin(angle)])])
        inside = shapely.intersection(shape.buffer(1e-9), beam)
        first = min(shapely.get_parts(inside), key=origin.distance)
        reach = found.reach[found.ray == ray]
        if first.length < 1e-6:
            assert len(reach) == 0
        else:
            assert reach.max() == pytest.approx(first.length, abs=1e-6)
            # A crossing for every side the ray meets.
            assert np.diff(np.append(0.0, np.unique(reach.round(9)))).max() <= np.sqrt(2) / 4 + 1e-6


def test_the_longest_of_the_traced_ways_to_spots_are_their_distances():
    piece = evenly_stretched()
    start = int(np.argmin(np.linalg.norm(piece.points - [0.5, 0.5], axis=1)))
    rng = np.random.default_rng(1)
    spots = piece.spots(np.concatenate([rng.uniform(0.05, 0.95, (20, 2)) * [1.0, 2.5], [[2.9, 0.9], [0.5, 2.9]]]))
    true = np.linalg.norm((spots.flat - piece.points[start]) @ EVEN, axis=1)
    assert piece.farthest(start, spots) == pytest.approx(true * LONGER, rel=1e-11)
    corner = int(np.argmin(np.linalg.norm(piece.points - [3.0, 1.0], axis=1)))
    beyond = piece.spots(np.array([[0.5, 2.9], [1.5, 0.5]]))
    assert np.isinf(piece.farthest(corner, beyond)[0])
    assert piece.farthest(corner, beyond)[1] == pytest.approx(
        np.linalg.norm((beyond.flat[1] - [3.0, 1.0]) @ EVEN) * LONGER, rel=1e-11
    )


def test_spots_lie_where_they_are_asked_and_off_the_sides_of_triangles():
    piece = evenly_stretched()
    middles = piece.points[piece.triangles].mean(axis=1)
    spots = piece.spots(middles)
    assert spots.flat == pytest.approx(middles, abs=1e-12)
    assert spots.triangle.tolist() == list(range(len(middles)))
    asked = np.array([[0.5, 0.25], [2.2, 2.2], [0.13, 1.71]])
    found = piece.spots(asked)
    assert found.place == pytest.approx(found.flat @ EVEN)
    assert found.shares.sum(axis=1) == pytest.approx(1.0)
    # 1 % of a side of a quarter, on a vertex; the last lies inside its triangle and is left alone.
    assert found.shares.min() >= 0.0098
    assert np.linalg.norm(found.flat[0] - asked[0]) < 0.006
    assert found.flat[2] == pytest.approx(asked[2], abs=1e-12)
    some = found.only(np.array([2, 0]))
    assert some.triangle.tolist() == found.triangle[[2, 0]].tolist()
    assert some.flat == pytest.approx(found.flat[[2, 0]])


def test_the_triangle_that_holds_a_place_is_that_of_another_library():
    piece = rough()
    places = np.random.default_rng(4).uniform([1.0, 1.0], [99.0, 79.0], (100, 2))
    triangle, shares = located(piece.points, piece.triangles, places)
    polygons = shapely.polygons(piece.points[piece.triangles])
    assert shapely.covers(polygons[triangle].tolist(), shapely.points(places)).all()
    back = np.einsum("kc,kcx->kx", shares, piece.points[piece.triangles[triangle]])
    assert back == pytest.approx(places, abs=1e-9)
    outside, share = located(piece.points, piece.triangles, np.array([[-3.0, 40.0]]))
    assert shapely.distance(polygons[outside[0]], shapely.Point(-3.0, 40.0)) < 16.0
    assert share.min() < 0.0


@pytest.mark.parametrize("piece", [rough(), rough(5, 9.0), rough(7, 30.0)])
def test_no_step_within_a_cell_is_shorter_than_what_the_slope_says(piece):
    """The steepest way in a cell rises by |grad u| a millimetre; the least length between two levels is no longer."""
    start = int(np.argmin(np.linalg.norm(piece.points - piece.points.mean(axis=0), axis=1)))
    slope = Slope(piece, start)
    cells = slope._fine.cells
    corners = slope._values[cells.triangles]
    steep = cells.steepness(slope._values)
    shares = np.linspace(0.0, 1.0, 41)
    low, high = corners.min(axis=1, keepdims=True), corners.max(axis=1, keepdims=True)
    levels = np.minimum(low + (high - low) * shares, slope.levels[-1])
    lengths = np.diff(levels, axis=1) / steep[:, None]
    least = slope.nearest(levels)
    assert (np.diff(least, axis=1) <= lengths * (1 + 1e-9) + 1e-12).all()
    assert slope.levels[0] == 0.0
    assert slope.levels[-1] == pytest.approx(slope._values[piece.rim].min())
    assert slope.bound == slope.least[-1]
    assert slope.nearest(np.array([slope.levels[-1] * 3])) == slope.bound


@pytest.mark.parametrize("stretched", [np.eye(2), np.diag([0.5, 0.5])])
def test_on_a_flat_disc_the_slope_says_nearly_the_distance_itself(stretched):
    """Circles of a function linear in cells are polygons: what is lost is of the second order in a cell's angle seen
    from the centre."""
    points, triangles = shapes.disc(14)
    seat = 100.0 * points
    piece = MappedMesh(np.column_stack([seat, np.zeros(len(seat))]), triangles, seat @ stretched)
    slope = Slope(piece, 0)
    assert 97.0 < slope.bound < 100.0
    places = seat[np.linalg.norm(seat, axis=1) < 95.0][1:]
    bound = slope.nearest(slope.at(places @ stretched))
    true = np.linalg.norm(places, axis=1)
    assert (bound < true).all()
    assert (bound > 0.95 * true).all()


def igl_distances(piece, spots):
    """Exact distances (k, k) between spots by libigl."""
    own = len(piece.vertices) + np.arange(len(spots.place))
    left = piece.triangles[np.setdiff1d(np.arange(len(piece.triangles)), spots.triangle)]
    parts = [
        [[t[i], t[(i + 1) % 3], mine] for i in range(3)]
        for t, mine in zip(piece.triangles[spots.triangle], own, strict=True)
    ]
    triangles = np.concatenate([left, *parts])
    vertices = np.concatenate([piece.vertices, spots.place])
    return np.stack([igl.exact_geodesic(vertices, triangles, VS=own[[i]], VT=own) for i in range(len(own))])


@pytest.mark.parametrize("seed", range(3))
def test_distances_between_spots_are_those_of_another_library(seed):
    piece, rng = rough(seed, 18.0), np.random.default_rng(seed)
    chosen = rng.choice(len(piece.triangles), 9, replace=False)
    spots = piece.spots(piece.points[piece.triangles[chosen]].mean(axis=1))
    true = igl_distances(piece, spots)
    assert from_first(piece, spots) == pytest.approx(true[0] * (1.0 - CUT_SHORT), rel=1e-6, abs=1e-9)
    radius = float(np.median(true[true > 0]))
    near = around(piece, spots, radius)
    expected = np.minimum(true * (1.0 - CUT_SHORT), radius)
    assert near == pytest.approx(expected, rel=2e-6, abs=1e-9)
    assert (near == radius).sum() > 9
    assert (near < radius).sum() > 18


def test_spots_that_share_a_triangle_have_no_exact_distance():
    piece = evenly_stretched()
    spots = piece.spots(piece.points[piece.triangles[[0, 0]]].mean(axis=1))
    with pytest.raises(ValueError, match="share"):
        from_first(piece, spots)


def test_two_parts_have_no_way_from_one_to_the_other():
    piece = evenly_stretched({(0, 0), (3, 3)}, fine=2)
    spots = piece.spots(np.array([[0.3, 0.4], [3.3, 3.4], [0.8, 0.6]]))
    found = from_first(piece, spots)
    assert found[0] == 0.0
    assert found[1] > 1e99 or np.isinf(found[1])
    assert found[2] == pytest.approx(np.linalg.norm((spots.flat[2] - spots.flat[0]) @ EVEN), rel=2e-5)


def test_a_chain_is_a_straight_line_measured_on_the_seat():
    piece = evenly_stretched()
    spots = piece.spots(np.array([[0.21, 2.83], [0.71, 0.37], [2.77, 0.62]]))
    ways = Ways(piece)
    assert ways.size == pytest.approx(np.ptp(piece.vertices, axis=0).max())
    for one, two in ((0, 1), (1, 0), (1, 2), (2, 1)):
        chain = ways.chain(spots, one, two)
        apart = np.linalg.norm((spots.flat[two] - spots.flat[one]) @ EVEN)
        assert chain.share[0] == 0.0
        assert chain.share[-1] == 1.0
        assert (np.diff(chain.share) >= 0.0).all()
        assert len(chain.share) > 5
        assert chain.run == pytest.approx(chain.share * apart, rel=1e-6)
        assert chain.run[-1] >= apart
        straight = spots.place[one] + chain.share[:, None] * (spots.place[two] - spots.place[one])
        assert chain.place == pytest.approx(straight, abs=1e-9)
    assert ways.chain(spots, 0, 2) is None


def test_ways_from_vertices_are_found_from_every_side_and_on_uneven_seats():
    piece = rough(3, 14.0)
    spots = piece.spots(np.array([[41.0, 37.0]]))
    starts = np.random.default_rng(0).permutation(len(piece.vertices))
    goals = Goals(np.repeat(spots.flat, len(starts), axis=0), np.repeat(spots.place, len(starts), axis=0))
    lengths = Ways(piece).lengths(starts, goals)
    # The straight lines of the piece, cut by all edges, measured on the seat.
    for start, length in list(zip(starts, lengths, strict=True))[:60]:
        line = spots.flat[0] - piece.points[start]
        at = [0.0, 1.0]
        for a, b in piece.points[piece.edges]:
            hit, bad = np.linalg.lstsq(np.stack([line, a - b], axis=1), a - piece.points[start], rcond=None)[:2]
            if 1e-9 < hit[0] < 1.0 and -1e-9 <= hit[1] <= 1 + 1e-9 and bad.sum() < 1e-12:
                at.append(hit[0])
        at = np.unique(at)
        flat = piece.points[start] + at[:, None] * line
        cell, shares = located(piece.points, piece.triangles, flat)
        places = np.einsum("kc,kcx->kx", shares, piece.vertices[piece.triangles[cell]])
        assert length == pytest.approx(np.linalg.norm(np.diff(places, axis=0), axis=1).sum(), rel=1e-7)


def test_a_goal_that_lies_elsewhere_on_the_seat_is_not_reached():
    piece = evenly_stretched({(0, 0)})
    spots = piece.spots(np.array([[0.6, 0.4]]))
    away = Goals(spots.flat, spots.place + np.array([[0.0, 0.0, 1e-3]]))
    assert np.isinf(Ways(piece).lengths(np.array([0]), away)).all()
    there = Goals(spots.flat, spots.place)
    assert Ways(piece).lengths(np.array([0]), there) == pytest.approx(np.linalg.norm(spots.flat @ EVEN))


def test_spots_keep_together_what_belongs_together():
    spots = Spots(np.array([4, 7]), np.eye(3)[:2], np.array([[1.0, 2], [3, 4]]), np.array([[1.0, 2, 3], [4, 5, 6]]))
    second = spots.only(np.array([1]))
    assert second.triangle.tolist() == [7]
    assert second.shares.tolist() == [[0.0, 1.0, 0.0]]
    assert second.flat.tolist() == [[3.0, 4.0]]
    assert second.place.tolist() == [[4.0, 5.0, 6.0]]
