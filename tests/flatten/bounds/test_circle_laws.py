"""The bound of a saddle against closed forms: regular polygons on hyperbolic discs, and every triangle tried."""

import numpy as np
import pytest

from flatten.bounds.circle_bound import _circle, excess, least_ratio, likely
from flatten.bounds.floor import _climb, _nearest, _saddle, _spread
from flatten.bounds.geodesic import MappedMesh, Slope
from meshes.numerics.laplace import corner_angles
from tests import shapes


def spread_round(count, far):
    """Lower bounds of distances between points of a ring: `far` between neighbours, twice that between others."""
    steps = np.abs(np.subtract.outer(np.arange(count), np.arange(count)))
    steps = np.minimum(steps, count - steps)
    return far * np.minimum(steps, 2)


@pytest.mark.parametrize("count", [6, 7, 12])
@pytest.mark.parametrize("much", [1.001, 1.02, 1.05])
def test_points_of_a_ring_too_far_from_each_other_prove_by_how_much(count, much):
    """n points at distance r, each far from the next: in the plane r sin(pi / n) would be half of that."""
    far = 2 * 50.0 * np.sin(np.pi / count) * much
    radii = np.full(count, 50.0)
    found = least_ratio(radii, radii, spread_round(count, far), most=2.0)
    assert found == pytest.approx(much, rel=1e-6)
    assert found <= much
    assert least_ratio(radii, radii, spread_round(count, far), most=1.0 + 0.5 * (much - 1.0)) == 1 + 0.5 * (much - 1.0)
    assert least_ratio(radii, radii, spread_round(count, far / much), most=2.0) == 1.0
    # Distances that are only known between limits prove less: the angle is least where both are largest.
    loose = least_ratio(radii * 0.999, radii * 1.0005, spread_round(count, far), most=2.0)
    assert loose == pytest.approx(max(much / 1.0005, 1.0), rel=1e-6)


@pytest.mark.parametrize("seed", range(6))
def test_the_least_turn_is_that_of_every_triangle_tried(seed):
    rng = np.random.default_rng(seed)
    count = 7
    lower = rng.uniform(40.0, 50.0, count)
    upper = lower + rng.uniform(0.0, 2.0, count)
    apart = spread_round(count, 60.0) + rng.uniform(0.0, 4.0, (count, count))
    apart = np.triu(apart, 1) + np.triu(apart, 1).T
    found = least_ratio(lower, upper, apart, most=3.0)

    def turn(q):
        total = 0.0
        for i in range(count):
            angles = []
            for j in set(range(count)) - {i}:
                r, s = (np.linspace(lower[k], q * upper[k], 41) for k in (i, j))
                cosine = (r[:, None] ** 2 + s**2 - apart[i, j] ** 2) / (2 * r[:, None] * s)
                angles.append(np.arccos(np.clip(cosine, -1, 1)).min())
            total += 0.5 * sum(sorted(angles)[:2])
        return total

    assert 1.0 < found < 3.0
    assert turn(found) == pytest.approx(2 * np.pi, rel=1e-5)


def mapped(height, *, radius=100.0, rings=16):
    vertices, triangles = shapes.round_graph(height, radius=radius, rings=rings)
    return MappedMesh(vertices, triangles, vertices[:, :2])


def defects_of(piece):
    angles, _ = corner_angles(piece.vertices, piece.triangles)
    total = np.bincount(piece.triangles.ravel(), weights=angles.ravel(), minlength=len(piece.vertices))
    out = 2 * np.pi - total
    out[piece.rim] = 0.0
    return out


def test_what_is_likely_is_the_curvature_within_reach_by_its_distance():
    points = np.array([[0.0, 0.0], [3.0, 4.0], [20.0, 0.0], [0.0, -10.0]])
    rim = np.array([2, 3])
    defects = np.array([-0.2, 0.1, 7.0, 0.0])
    # Radius 10: all of the first, half of the second, nothing at 20 mm.
    assert likely(defects, points, rim, points[:1]) == pytest.approx([(0.2 - 0.5 * 0.1) / (2 * np.pi)])
    both = likely(defects, points, rim, points[[1, 0]])
    radius = np.hypot(17.0, 4.0) if np.hypot(17.0, 4.0) < np.hypot(3.0, 14.0) else np.hypot(3.0, 14.0)
    assert both[0] == pytest.approx(-(0.1 - 0.2 * (1 - 5.0 / radius)) / (2 * np.pi))
    assert both[1] == likely(defects, points, rim, points[:1])[0]
    even = mapped(lambda x, y: 0.0005 * (x**2 - y**2), rings=20)
    # Constant curvature K: what a circle of radius r is longer by is -K r^2 / 6, up to the next order.
    guess = likely(defects_of(even), even.points, even.rim, np.zeros((1, 2)))
    assert guess == pytest.approx(0.001**2 * 100.0**2 / 6.0, rel=0.03)


@pytest.mark.parametrize("drawn", [1.0, 0.4])
def test_points_of_a_circle_are_as_far_from_the_start_and_evenly_spread(drawn):
    piece = mapped(lambda x, y: 0.0 * x)
    piece = MappedMesh(piece.vertices, piece.triangles, drawn * piece.points + [7.0, -3.0])
    flat, spacing = _circle(piece, 0, 60.0, 12)
    away = (flat - piece.points[0]) / drawn
    assert np.linalg.norm(away, axis=1) == pytest.approx(60.0, rel=3e-3)
    steps = np.linalg.norm(away - np.roll(away, 1, axis=0), axis=1)
    assert steps == pytest.approx(2 * 60.0 * np.sin(np.pi / 12), rel=6e-3)
    # Of the finer polygon of 96 points, of which the length of way is taken.
    assert spacing == pytest.approx(8 * 2 * 60.0 * np.sin(np.pi / 96), rel=1e-4)


def test_points_are_spread_by_lengths_on_the_seat_and_not_on_the_piece():
    flat = mapped(lambda x, y: 0.0 * x)
    piece = MappedMesh(flat.vertices, flat.triangles, flat.points * [2.0, 0.7])
    spots, _ = _circle(piece, 0, 50.0, 10)
    away = spots / [2.0, 0.7]
    assert np.linalg.norm(away, axis=1) == pytest.approx(50.0, rel=0.02)
    steps = np.linalg.norm(away - np.roll(away, 1, axis=0), axis=1)
    assert steps == pytest.approx(2 * 50.0 * np.sin(np.pi / 10), rel=0.03)


@pytest.mark.parametrize("bend", [0.05, 0.2])
def test_a_circle_proves_most_of_what_the_hyperbolic_disc_asks(bend):
    piece = mapped(lambda x, y: 0.5 * np.sqrt(bend) / 100.0 * (x**2 - y**2), rings=24)
    guess = likely(defects_of(piece), piece.points, piece.rim, np.zeros((1, 2)))[0]
    found = excess(piece, 0, guess=0.9 * guess)
    assert 0.75 * guess < found.log < guess
    # The circle's points stay within the smallest disc that is sure to lie in any image.
    assert found.radius_mm == pytest.approx(Slope(piece, 0).bound * np.exp(-0.9 * guess), rel=1e-9)
    # A wrong guess proves less: too small a one lets the points lie too near the rim, a large one wastes the panel.
    assert excess(piece, 0, guess=0.3 * guess).log < found.log
    assert excess(piece, 0, guess=6.0 * guess).log < found.log


def test_a_circle_of_too_few_points_is_not_tried():
    piece = mapped(lambda x, y: 0.001 * (x**2 - y**2), rings=2)
    found = excess(piece, 0, guess=0.05)
    assert (found.log, found.radius_mm) == (0.0, 0.0)


def test_a_dome_or_a_flat_piece_has_no_rim_too_much():
    for height in (lambda x, y: -0.001 * (x**2 + y**2), lambda x, y: 0.0 * x):
        assert excess(mapped(height), 0, guess=0.02).log == 0.0


def test_a_saddle_is_proven_in_its_middle_and_only_when_it_beats_what_is_known():
    def crease(x, y):
        return 0.0012 * ((x - 20.0) ** 2 - y**2) * np.exp(-(((x - 20.0) / 70.0) ** 2) - (y / 70.0) ** 2)

    piece = mapped(crease, rings=20)
    defects = defects_of(piece)
    found = _saddle(piece, defects, np.array([40.0, 20.0]), above=0.0)
    assert found.kind == "circle"
    assert found.value == pytest.approx(np.expm1(found.log))
    assert 0.0 < found.radius_mm < 100.0
    assert found.centre in piece.vertices
    # The best place is found by climbing from one beside it.
    start = likely(defects, piece.points, piece.rim, np.array([[40.0, 20.0]]))[0]
    middle = likely(defects, piece.points, piece.rim, found.centre[None, :2])[0]
    assert middle > start
    every = likely(defects, piece.points, piece.rim, piece.points)
    assert middle > 0.93 * every.max()
    none = _saddle(piece, defects, np.array([40.0, 20.0]), above=1.1 * middle)
    assert (none.kind, none.value, none.log, none.radius_mm) == ("none", 0.0, 0.0, 0.0)
    again = _saddle(piece, defects, np.array([40.0, 20.0]), above=0.9 * middle)
    assert again.log == found.log


def test_places_are_spread_each_as_far_as_can_be_from_those_before():
    points = np.random.default_rng(3).uniform(0.0, 100.0, (80, 2)) * [2.0, 1.0]
    places = _spread(points, 12)
    assert len(places) == 12
    assert places[0] == pytest.approx(points[_nearest(points, points.mean(axis=0))])
    for k in range(1, 12):
        gap = np.linalg.norm(points[:, None] - places[:k], axis=2).min(axis=1)
        assert np.linalg.norm(places[k] - places[:k], axis=1).min() == pytest.approx(gap.max())
    assert len(_spread(points[:5], 12)) == 5
    assert _nearest(points, points[17] + [0.01, 0.0]) == 17


def test_climbing_comes_near_the_top_and_never_goes_down():
    points = np.random.default_rng(3).uniform(0.0, 100.0, (200, 2)) * [2.0, 1.0]
    tried = _spread(points, 4)
    # Steps of a quarter of a square's side that holds the share of one place, halved three times.
    step = 0.25 * np.sqrt(200.0 * 100.0 / 4)
    rng = np.random.default_rng(8)
    for _ in range(40):
        near = tried[rng.integers(4)]
        top = near + rng.uniform(-1.5, 1.5, 2) * step
        seen = []

        def worth(place, top=top, seen=seen):
            seen.append(place)
            return -float(np.linalg.norm(place - top))

        found = _climb(worth, points, tried)
        first = np.linalg.norm(tried - top, axis=1)
        assert np.linalg.norm(found - top) <= first.min()
        assert np.linalg.norm(found - top) < 0.6 * step
        # No place beyond all its steps: twice the first, less the last.
        begun = tried[np.argmin(first)]
        assert max(np.linalg.norm(place - begun) for place in seen[4:]) <= 2 * np.sqrt(2) * step * 1.05
        assert np.linalg.norm(seen[4] - begun) == pytest.approx(step, rel=0.05)
        assert len(seen) == 4 + 16
