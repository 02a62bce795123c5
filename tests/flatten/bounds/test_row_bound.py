"""Discs in a row: the hull against another library, ways against distances, the limit against the sphere's own figures,
and the claim about flat shapes on shapes that bend, narrow and fork."""

import numpy as np
import pytest
import shapely

from flatten.bounds.geodesic import MappedMesh, from_first
from flatten.bounds.row_bound import concave, hull_perimeter, row_limit
from flatten.bounds.straight import Goals, Ways
from meshes.numerics.laplace import corner_angles
from tests.odd_panels import grown, squares
from tests.shapes import cylinder, graph, grid, scattered


def defects(piece):
    angles, _ = corner_angles(piece.vertices, piece.triangles)
    total = np.bincount(piece.triangles.ravel(), weights=angles.ravel(), minlength=len(piece.vertices))
    out = 2 * np.pi - total
    out[piece.rim] = 0.0
    return out


def band(edge, *, half_length=0.8, half_width=0.35, radius=100.0):
    """Both sides of the equator, mapped by longitude and latitude."""
    points, triangles = scattered(2 * half_length, 2 * half_width, edge)
    points = points - [half_length, half_width]
    lon, lat = points.T
    vertices = radius * np.column_stack([np.cos(lat) * np.sin(lon), np.sin(lat), np.cos(lat) * np.cos(lon)])
    return MappedMesh(vertices, triangles, points)


@pytest.mark.parametrize("seed", range(8))
def test_hull_of_discs_is_that_of_shapely(seed):
    rng = np.random.default_rng(seed)
    along, radius = np.sort(rng.uniform(0, 100, 5)), rng.uniform(1, 60, 5)
    discs = shapely.buffer(shapely.points(along, 0.0 * along), radius, quad_segs=400)
    other = shapely.convex_hull(shapely.union_all(discs)).length
    ours = hull_perimeter(along, radius)
    # The library's polygons lie inside the discs: short of them by a share (pi / 800)^2 / 6 at most.
    assert other <= ours * (1 + 1e-12)
    assert ours == pytest.approx(other, rel=3e-6)


def test_concave_radii_are_no_larger_and_fall_ever_faster():
    rng = np.random.default_rng(3)
    for _ in range(200):
        run, wished = np.cumsum(rng.uniform(0.5, 2.0, 6)), rng.uniform(1.0, 3.0, 6)
        radius = concave(run, wished)
        assert (radius <= wished).all()
        slopes = np.diff(radius) / np.diff(run)
        assert (np.abs(slopes) < 1).all()
        assert (np.diff(slopes) <= 1e-12).all()
    falling = np.array([3.0, 2.5, 1.5])
    assert (concave(np.array([0.0, 1.0, 2.5]), falling) == falling).all()


def test_ways_on_a_cylinder_are_as_long_as_on_its_flat_map():
    vertices, triangles = cylinder(radius=80.0, turn=2.0, height=200.0, cells=(30, 20))
    side = 2 * 80.0 * np.sin(1.0 / 30)
    uv, _ = grid(30, 20)
    points = np.column_stack([uv[:, 0] * 30 * side, uv[:, 1] * 200.0])
    ways = Ways(MappedMesh(vertices, triangles, points))
    spot = ways.piece.spots(points.mean(axis=0, keepdims=True) + np.array([[1.7, 0.9]]))
    starts = np.arange(len(vertices))
    goals = Goals(np.repeat(spot.flat, len(starts), axis=0), np.repeat(spot.place, len(starts), axis=0))
    assert ways.lengths(starts, goals) == pytest.approx(np.linalg.norm(points - spot.flat, axis=1), abs=1e-6)


def test_ways_are_paths_and_never_shorter_than_the_shortest():
    piece = band(0.05)
    spots = piece.spots(np.array([[-0.5, 0.1], [0.3, -0.2], [0.6, 0.2]]))
    ways = Ways(piece)
    exact = from_first(piece, spots)
    lengths = [ways.chain(spots, 0, k).run[-1] for k in (1, 2)]
    assert (exact[1:] <= lengths).all()
    assert exact[1:] == pytest.approx(lengths, rel=0.02)
    # On the sphere itself nothing is shorter than the arc of the great circle.
    unit = spots.place / np.linalg.norm(spots.place, axis=1, keepdims=True)
    arcs = 100.0 * np.arccos(unit[0] @ unit[1:].T)
    assert exact[1:] == pytest.approx(arcs, rel=2e-3)


def test_a_way_that_leaves_the_piece_has_no_length():
    ways = Ways(MappedMesh(*comb(2, (2, 1), ((0, 3), (2, 3)))))
    points = ways.piece.points
    left, right = (int(np.argmin(((points - p) ** 2).sum(axis=1))) for p in ([0.5, 4.0], [2.5, 4.0]))
    goals = Goals(points[[right]], ways.piece.vertices[[right]])
    assert np.isinf(ways.lengths(np.array([left]), goals)).all()


def test_limit_of_a_row_on_a_sphere():
    # A strip of half width w about an arc of length d of a great circle: rim 2 d cos w + 2 pi sin w.
    knots = np.column_stack([np.linspace(-0.4, 0.4, 5), np.zeros(5)])
    ratios = []
    for edge in (0.06, 0.03):
        piece = band(edge)
        found = row_limit(Ways(piece), defects(piece), knots, np.full(5, 0.35))
        w, d = found.radius_mm / 100.0, 0.8
        exact = np.log((2 * d + 2 * np.pi * w) / (2 * d * np.cos(w) + 2 * np.pi * np.sin(w)))
        assert 0.33 < w <= 0.35
        ratios.append(found.log / exact)
    assert 0.97 < ratios[0] < 1.003
    assert 0.985 < ratios[1] < 1.001


def test_uneven_radii_are_held_to_the_same_law():
    # Discs that shrink to both sides on a small piece of a sphere: the hull's perimeter less the integral of K times
    # depth is the rim. Small: to second order depth can be taken in the plane.
    piece = band(0.01 * 0.2, half_length=0.08, half_width=0.035)
    knots = np.column_stack([[-0.03, 0.0, 0.03], np.zeros(3)])
    found = row_limit(Ways(piece), defects(piece), knots, np.array([0.020, 0.034, 0.020]))
    shrink = 100.0 * 0.034 - found.radius_mm
    along, radius = np.array([-3.0, 0.0, 3.0]), np.array([2.0, 3.4, 2.0]) - shrink
    x, y = np.meshgrid(np.linspace(-5, 5, 801), np.linspace(-4, 4, 641))
    s = np.linspace(-3.0, 3.0, 301)
    deep = np.zeros(x.shape)
    for at, r in zip(s, np.interp(s, along, radius), strict=True):
        deep = np.maximum(deep, r - np.hypot(x - at, y))
    lack = deep.sum() * (10 / 800) * (8 / 640) / 100.0**2
    rim = hull_perimeter(along, radius)
    # Distances are taken 1e-5 shorter, which takes away from the rim up to six times that share of the row's length.
    assert -0.01 * lack <= lack - rim * found.log <= 0.01 * lack + 6e-5 * 6.0


def comb(wide, *parts):
    """Flat squares of unit side: a row of `wide` + 1 at the bottom and columns (x, height) upon it, cut fine."""
    cells = {(x, 0) for x in range(wide + 1)}
    for x, height in parts[-1]:
        cells |= {(x, y) for y in range(height + 1)}
    return flat_squares(cells)


def flat_squares(cells, *, fine=3):
    """Vertices, triangles and points of flat squares."""
    points, triangles = squares(cells, fine=fine)
    return np.column_stack([points, np.zeros(len(points))]), triangles, points


@pytest.mark.parametrize("seed", range(40))
def test_no_flat_shape_has_a_shorter_rim_than_its_discs_laid_in_a_row(seed):
    rng = np.random.default_rng(seed)
    vertices, triangles, points = flat_squares(grown(rng, int(rng.integers(2, 25))))
    piece = MappedMesh(vertices, triangles, points)
    rim = points[piece.edges[piece.on_rim]]
    length = np.linalg.norm(rim[:, 1] - rim[:, 0], axis=1).sum()
    edges = shapely.multilinestrings(shapely.linestrings(rim))
    for _ in range(10):
        chosen = rng.choice(len(triangles), size=min(6, len(triangles)), replace=False)
        spots = piece.spots(points[triangles[chosen]].mean(axis=1))
        depth = shapely.distance(edges, shapely.points(spots.flat))
        assert hull_perimeter(from_first(piece, spots), depth) <= length
        # Discs pushed by less than they are apart are a weaker claim, and equal positions the plainest.
        assert hull_perimeter(np.zeros(len(depth)), depth) <= length


@pytest.mark.parametrize("length", [2, 6])
def test_a_straight_strip_needs_all_of_its_rim(length):
    vertices, triangles, points = flat_squares({(x, 0) for x in range(length)}, fine=8)
    piece = MappedMesh(vertices, triangles, points)
    spots = piece.spots(np.array([[0.5, 0.5], [length - 0.5, 0.49]]))
    depth = np.minimum(spots.flat[:, 1], 1 - spots.flat[:, 1])
    proven = hull_perimeter(from_first(piece, spots), depth)
    assert proven == pytest.approx(2 * (length - 1) + np.pi, rel=0.03)


def test_flat_panels_prove_nothing():
    vertices, triangles = graph(lambda x, y: 0.0 * x, width=300.0, depth=100.0, edge=12.0)
    piece = MappedMesh(vertices, triangles, vertices[:, :2])
    knots = np.column_stack([np.linspace(-90, 90, 5), np.zeros(5)])
    assert row_limit(Ways(piece), defects(piece), knots, np.full(5, 48.0)).log == 0.0
    assert row_limit(Ways(piece), defects(piece), knots[2:3], np.array([48.0])).log <= 1e-9


def test_a_row_through_a_bay_proves_nothing():
    piece = MappedMesh(*comb(2, (), ((0, 3), (2, 3))))
    knots = np.array([[0.5, 3.5], [2.5, 3.5]])
    assert row_limit(Ways(piece), defects(piece) + 0.1, knots, np.full(2, 0.4)).log == 0.0
