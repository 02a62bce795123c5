"""Rows of discs: figures of the plane two ways, the curvature in a row by trying its discs, and the search's aim."""

import numpy as np
import pytest

from flatten.bounds.geodesic import MappedMesh
from flatten.bounds.row_bound import Spine, _missing_rim, _spine, concave, hull_perimeter, row_limit, unbent
from flatten.bounds.row_search import _LUMPS, _SHARES, RowSearch, _lumped
from flatten.bounds.straight import Ways
from tests import shapes
from tests.odd_panels import squares


@pytest.mark.parametrize("seed", range(10))
def test_the_perimeter_of_a_straight_row_is_that_of_its_hull(seed):
    rng = np.random.default_rng(seed)
    run = np.append(0.0, np.cumsum(rng.uniform(5.0, 20.0, 4)))
    radius = concave(run, rng.uniform(20.0, 40.0, 5))
    assert unbent(run, radius) == pytest.approx(hull_perimeter(run, radius), rel=1e-9)
    assert unbent(3.0 * run, 3.0 * radius) == pytest.approx(3.0 * unbent(run, radius))
    assert unbent(run[-1] - run[::-1], radius[::-1]) == pytest.approx(unbent(run, radius))


def test_radii_never_fall_as_fast_as_the_row_is_long():
    run = np.array([0.0, 10.0, 12.0, 20.0, 21.0])
    radius = concave(run, np.array([1.0, 30.0, 28.0, 15.0, 14.9]))
    assert (np.abs(np.diff(radius) / np.diff(run)) <= 0.99 + 1e-12).all()
    # Too steep a wish takes as much from all of them: 0.99 of 10 mm below 30 would be 20.1, and 1 is wished.
    assert radius[1] == pytest.approx(30.0 - 19.1)
    assert radius[0] == pytest.approx(1.0)
    even = np.full(5, 7.0)
    assert (concave(run, even) == even).all()


def spine_of(flat, place, knots, radius):
    run = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(place, axis=0), axis=1)))
    return Spine(flat[knots], np.array(radius), flat, place, run, np.array(knots))


def test_radii_between_knots_are_read_along_the_row():
    flat = np.array([[0.0, 0.0], [3.0, 4.0], [9.0, 12.0], [9.0, 22.0]])
    spine = spine_of(flat, np.column_stack([flat, np.zeros(4)]), [0, 2, 3], [2.0, 8.0, 3.0])
    assert spine.radii(np.array([0.0, 5.0, 15.0, 20.0, 25.0])) == pytest.approx([2.0, 4.0, 8.0, 5.5, 3.0])


@pytest.mark.parametrize("drawn", [1.0, 0.3])
def test_missing_rim_is_curvature_times_depth_in_the_row(drawn):
    """A flat seat with curvature written onto its vertices; each counts for how deep it lies in the deepest disc."""
    points, triangles = squares({(x, y) for x in range(6) for y in range(4)}, fine=3)
    seat = 10.0 * points
    piece = MappedMesh(np.column_stack([seat, np.zeros(len(seat))]), triangles, drawn * seat)
    place = np.array([[15.0, 18.0, 0.0], [28.0, 21.0, 0.0], [47.0, 20.0, 0.0]]) + np.array([0.123, 0.123, 0.0])
    spine = spine_of(drawn * place[:, :2], place, [0, 1, 2], [9.0, 12.0, 6.0])
    run = np.linspace(0.0, spine.run[-1], 4001)
    along = np.stack([np.interp(run, spine.run, place[:, x]) for x in range(2)], axis=1)
    deep = (spine.radii(run) - np.linalg.norm(seat[:, None] - along, axis=2)).max(axis=1)
    assert ((deep > 0) & (deep < 5)).sum() > 20
    for signs in ((1.0,), (-1.0,), (1.0, -1.0)):
        defects = np.random.default_rng(1).uniform(0.01, 0.2, len(seat)) * np.resize(signs, len(seat))
        defects[piece.rim] = 0.0
        true = (defects * np.maximum(deep, 0.0)).sum()
        found = _missing_rim(Ways(piece), defects, spine)
        assert found == pytest.approx(true, rel=2e-4, abs=1e-3)
        # From the safe side: the depth tried above is itself a little short.
        assert found <= true + 2e-4 * np.abs(defects).sum()
    assert _missing_rim(Ways(piece), np.zeros(len(seat)), spine) == pytest.approx(0.0, abs=1e-6)


def test_a_single_disc_misses_rim_by_depth_too():
    points, triangles = squares({(x, y) for x in range(3) for y in range(3)}, fine=3)
    piece = MappedMesh(np.column_stack([points, np.zeros(len(points))]), triangles, points)
    middle = np.array([[1.55, 1.47, 0.0]])
    spine = Spine(middle[:, :2], np.array([1.2]), middle[:, :2], middle, np.zeros(1), np.array([0]))
    defects = np.where(np.arange(len(points)) % 2, 0.1, -0.05)
    defects[piece.rim] = 0.0
    deep = np.maximum(1.2 - np.linalg.norm(points - middle[0, :2], axis=1), 0.0)
    assert _missing_rim(Ways(piece), defects, spine) == pytest.approx((defects * deep).sum(), rel=1e-5)


def flat_piece(wide, high, drawn=1.0):
    points, triangles = squares({(x, y) for x in range(wide) for y in range(high)}, fine=4)
    seat = np.column_stack([points, np.zeros(len(points))])
    return MappedMesh(seat, triangles, drawn * points)


@pytest.mark.parametrize("drawn", [1.0, 0.5])
def test_a_row_takes_the_room_it_has_and_no_more(drawn):
    piece = flat_piece(9, 4, drawn)
    ways = Ways(piece)
    spots = piece.spots(drawn * np.array([[2.1, 1.9], [4.4, 1.8], [6.6, 2.3]]))
    clear = np.minimum(spots.place[:, 1], 4.0 - spots.place[:, 1])
    wide = _spine(ways, spots, drawn * np.full(3, 30.0))
    # As large as the room, less what may lie between the places where it is held: a part of an edge.
    assert (wide.radius <= clear).all()
    assert wide.radius == pytest.approx(concave(wide.run[wide.heads], clear), abs=0.02)
    wished = _spine(ways, spots, drawn * np.array([0.6, 1.0, 0.7]))
    # Smaller discs than there is room for are all let out by one length.
    assert wished.radius - wished.radius[0] == pytest.approx([0.0, 0.4, 0.1], abs=0.01)
    away = np.linspace(spots.place[:-1], spots.place[1:], 200).reshape(-1, 3)
    away = away[np.argsort(away[:, 0])]
    along = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(away, axis=0), axis=1)))
    room = np.minimum(away[:, 1], 4.0 - away[:, 1]) - wished.radii(along)
    assert 0.0 <= room.min() < 0.03
    assert wide.run[wide.heads] == pytest.approx(
        np.append(0.0, np.cumsum(np.linalg.norm(np.diff(spots.place, axis=0), axis=1))), rel=1e-6
    )
    assert wide.flat == pytest.approx(drawn * wide.place[:, :2])
    assert wide.flat[wide.heads] == pytest.approx(spots.flat)


def test_discs_of_one_triangle_are_one_and_those_without_room_are_left_out():
    lumped = flat_piece(9, 4)
    # As much curvature in the middle as a quarter of a turn.
    defects = np.zeros(len(lumped.points))
    defects[np.argmin(np.linalg.norm(lumped.points - [4.5, 2.0], axis=1))] = 0.5 * np.pi
    ways, middle = Ways(lumped), np.array([[4.55, 2.03]])
    one = row_limit(ways, defects, middle, np.array([1.7]))
    # A disc of radius r about a cone's tip, a little beside it: rim 2 pi r - w (r - d), image at least 2 pi r.
    spot = lumped.spots(middle).flat[0]
    off = np.linalg.norm(spot - [4.5, 2.0])
    radius = one.radius_mm
    assert radius == pytest.approx(min(spot[1], 4 - spot[1]), abs=0.02)
    assert one.log == pytest.approx(-np.log(1 - 0.25 * (1 - off / radius)), rel=1e-6)
    assert one.flat == pytest.approx(spot)
    twice = row_limit(ways, defects, np.concatenate([middle, middle + 1e-3]), np.full(2, 1.7))
    assert (twice.log, twice.radius_mm) == (one.log, one.radius_mm)
    # A disc in the corner, where none but a tiny one fits, is dropped when it would take the others' room.
    corner = row_limit(ways, defects, np.concatenate([[[0.01, 0.01]], middle]), np.array([1e-3, 1.7]))
    assert corner.log <= one.log * 1.001


def test_curvature_is_kept_when_it_is_lumped():
    rng = np.random.default_rng(4)
    points = rng.uniform(-1.0, 1.0, (20_000, 2)) * [150.0, 60.0]
    defects = rng.uniform(0.0, 0.1, len(points))
    places, lumps = _lumped(points, defects)
    assert lumps.sum() == pytest.approx(defects.sum())
    assert lumps @ places == pytest.approx(defects @ points)
    # The cells are square, so many that the piece's box holds the number asked for.
    assert len(lumps) == pytest.approx(_LUMPS, rel=0.12)
    assert np.bincount(np.unique(np.rint(places[:, 0]), return_inverse=True)[1]).max() < 60
    assert np.linalg.norm(places[:, None] - places, axis=2).max() == pytest.approx(np.hypot(300.0, 120.0), rel=0.06)
    few = np.array([[0.0, 0.0], [100.0, 0.0], [100.5, 0.0], [0.0, 50.0]])
    places, lumps = _lumped(few, np.array([0.1, -0.3, 0.1, 0.0]))
    assert sorted(lumps.round(12).tolist()) == [-0.2, 0.0, 0.1]
    # By the amount of curvature, whatever its sign.
    assert places[np.argmin(lumps)] == pytest.approx([100.125, 0.0])


def searched(bend=0.002, width=160.0, depth=60.0):
    vertices, triangles = shapes.graph(lambda x, y: 0.0 * x, width=width, depth=depth, edge=8.0)
    piece = MappedMesh(vertices, triangles, vertices[:, :2])
    area = np.zeros(len(vertices))
    a, b, c = (piece.points[triangles[:, k]] for k in range(3))
    size = 0.5 * np.abs((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0])
    np.add.at(area, triangles.ravel(), np.repeat(size / 3.0, 3))
    defects = bend / 100.0 * area
    defects[piece.rim] = 0.0
    return piece, RowSearch(piece.points, piece.points[piece.edges[piece.on_rim]], defects), defects


def test_rows_are_set_out_to_both_sides_of_their_middle():
    _, search, _ = searched()
    assert search.half == pytest.approx([80.0, 30.0], rel=1e-2)
    middle = np.array([3.0, -2.0])
    for turn, reach in ((0.0, search.half[0]), (0.5 * np.pi, search.half[1])):
        state = search._state(middle, turn, 0.25)
        assert 0.5 * (state[:2] + state[2:4]) == pytest.approx(middle)
        assert 0.5 * (state[2:4] - state[:2]) == pytest.approx(0.25 * reach * np.array([np.cos(turn), np.sin(turn)]))
        assert state[4] == search.half.max()
    aslant = search._state(middle, 0.25 * np.pi, 0.5)
    assert np.linalg.norm(aslant[2:4] - middle) == pytest.approx(0.5 * np.hypot(*search.half) / np.sqrt(2))


def test_moves_of_a_row_stretch_it_shift_it_and_turn_its_ends():
    _, search, _ = searched()
    frame = search._frame(np.array([1.0, 1.0, 4.0, 5.0, 9.0]))
    way, aside = np.array([0.6, 0.8]), np.array([-0.8, 0.6])
    assert frame == pytest.approx(
        np.array(
            [
                [*-way, *way, 0.0],
                [*way, *way, 0.0],
                [*aside, 0.0, 0.0, 0.0],
                [0.0, 0.0, *aside, 0.0],
                [0.0, 0.0, 0.0, 0.0, 1.0],
            ]
        )
    )


@pytest.mark.parametrize("state", [[-30.0, 2.0, 35.0, -4.0, 99.0], [-10.0, -9.0, 20.0, 11.0, 14.0]])
def test_a_rows_worth_is_the_rim_that_curvature_takes(state):
    _, search, _ = searched()
    row = search._worth(np.array(state))
    knots = np.array([np.array(state[:2]) + s * (np.array(state[2:4]) - state[:2]) for s in _SHARES])
    assert row.knots == pytest.approx(knots)
    run = _SHARES * np.linalg.norm(np.array(state[2:4]) - state[:2])
    room = np.minimum(search.half[1] - np.abs(knots[:, 1]), state[4])
    assert row.radius == pytest.approx(concave(run, room), abs=0.3)
    s = np.linspace(0.0, run[-1], 2001)
    centres = np.array(state[:2]) + s[:, None] / run[-1] * (np.array(state[2:4]) - state[:2])
    away = np.linalg.norm(search.places[:, None] - centres, axis=2)
    deep = np.maximum((np.interp(s, run, row.radius) - away).max(axis=1), 0.0)
    missing = (search.lumps * deep).sum()
    assert row.log == pytest.approx(-np.log(1 - missing / unbent(run, row.radius)), rel=1e-3)
    # A row with an end off the piece, or of no length, is worth nothing.
    assert search._worth(np.array([-90.0, 0.0, 30.0, 0.0, 99.0])).log == 0.0
    assert search._worth(np.array([5.0, 0.0, 5.0, 0.0, 99.0])).log == 0.0


def test_the_best_row_lies_along_an_evenly_domed_strip():
    piece, search, _ = searched()
    turned = piece.points @ np.array([[0.6, 0.8], [-0.8, 0.6]]) + [500.0, 40.0]
    edges = piece.edges[piece.on_rim]
    _, _, defects = searched()
    rows = RowSearch(turned, turned[edges], defects).best(turned[[0, 40, 90]])
    assert [row.log for row in rows] == sorted((row.log for row in rows), reverse=True)
    assert 1 <= len(rows) <= 2
    knots = (rows[0].knots - [500.0, 40.0]) @ np.array([[0.6, -0.8], [0.8, 0.6]])
    # From end to end, in the middle: K of the area of the strip that its discs cover, by depth, over its rim.
    assert np.abs(knots[:, 1]).max() < 2.5
    assert abs(knots[2, 0]) < 5.0
    assert rows[0].radius == pytest.approx(30.0, abs=2.5)
    assert rows[0].log > 1.02 * max(
        search._worth(search._state(np.zeros(2), turn, half)).log
        for turn in (0.0, 0.5 * np.pi)
        for half in (0.02, 0.25, 0.5)
    )
    assert RowSearch(turned, turned[edges], -defects).best(turned[[0, 40, 90]]) == []
