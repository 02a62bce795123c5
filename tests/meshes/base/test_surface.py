"""Facts of triangulated surfaces against exact bodies, and meshes taken apart along paths."""

import math
import pickle

import numpy as np
import pytest

from meshes.base.cut_open import cut_open
from meshes.base.surface import (
    BoundaryError,
    Surface,
    boundary_loops,
    components,
    curve_length,
    directed_edges,
    euler,
    is_disc,
    repeated,
    side_lengths,
    smallest_angles,
    triangle_areas,
    triangles_among,
    vertex_normals,
)
from tests.shapes import cap, cylinder, disc, grid

TETRA = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]])
CORNERS = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]])
# Two triangles that share an edge and two that stand apart from them.
PAIR = np.array([[0, 1, 2], [2, 1, 3]])


def ring(count=8):
    """A flat ring of triangles with two rims: outer vertices first."""
    k = np.arange(count)
    after = (k + 1) % count
    return np.concatenate([np.stack([k, after, count + k], 1), np.stack([after, count + after, count + k], 1)])


def torus(count=6):
    i, j = (a.ravel() for a in np.meshgrid(np.arange(count), np.arange(count), indexing="ij"))
    at = lambda a, b: (a % count) * count + b % count  # noqa: E731
    return np.concatenate([np.stack([at(i, j), at(i + 1, j), at(i + 1, j + 1)], 1),
                           np.stack([at(i, j), at(i + 1, j + 1), at(i, j + 1)], 1)])  # fmt: skip


# Boundaries.


def test_a_rim_runs_with_the_surface_on_its_left_from_its_lowest_vertex():
    (loop,) = boundary_loops(PAIR)
    assert loop.tolist() == [0, 1, 3, 2]
    points, triangles = grid(4, 3)
    (loop,) = boundary_loops(triangles)
    x, y = points[loop].T
    assert 0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) == pytest.approx(1.0)
    assert loop[0] == loop.min()
    assert len(loop) == len(set(loop.tolist())) == 14


def test_every_rim_is_a_loop_of_its_own_in_rising_order():
    outer, inner = boundary_loops(ring())
    assert outer.tolist() == [*range(8)]
    assert inner.tolist() == [8, *range(15, 8, -1)]
    apart = np.concatenate([PAIR + 4, PAIR])
    assert [loop.tolist() for loop in boundary_loops(apart)] == [[0, 1, 3, 2], [4, 5, 7, 6]]
    assert boundary_loops(TETRA) == []
    assert boundary_loops(np.zeros((0, 3), dtype=np.int64)) == []


def test_triangles_that_make_no_surface_are_refused():
    with pytest.raises(BoundaryError, match="same direction"):
        boundary_loops(np.array([[0, 1, 2], [1, 2, 3]]))
    with pytest.raises(BoundaryError, match="same direction"):
        boundary_loops(np.concatenate([PAIR, PAIR[:1]]))
    with pytest.raises(BoundaryError, match="touches itself"):
        boundary_loops(np.array([[0, 1, 2], [0, 3, 4]]))


def test_numbers_that_equal_the_one_before_are_counted():
    assert [repeated(np.array(keys)) for keys in ([], [3], [1, 2, 3], [1, 1, 2, 2, 2])] == [0, 0, 0, 3]


def test_every_triangle_has_three_edges_round_it():
    edges = directed_edges(PAIR)
    assert edges.tolist() == [[0, 1], [2, 1], [1, 2], [1, 3], [2, 0], [3, 2]]


@pytest.mark.parametrize(
    ("triangles", "number", "flat"),
    [
        (PAIR, 1, True),
        (grid(5, 4)[1], 1, True),
        (disc(3)[1], 1, True),
        (TETRA, 2, False),
        (ring(), 0, False),
        (torus(), 0, False),
        (np.concatenate([PAIR, PAIR + 4]), 2, False),
        (np.array([[0, 1, 2], [1, 2, 3]]), None, False),
        # A disc with a handle: a torus without one of its triangles.
        (torus()[1:], -1, False),
    ],
)
def test_euler_s_number_of_known_bodies(triangles, number, flat):
    if number is not None:
        assert euler(triangles, boundary_loops(triangles)) == number
        # Vertices that no triangle uses do not count.
        assert euler(triangles + 7, boundary_loops(triangles + 7)) == number
    assert is_disc(triangles) == flat


def test_connected_parts_are_numbered_and_walls_part_them():
    assert components(np.concatenate([PAIR, PAIR + 4])).tolist() == [0, 0, 1, 1]
    for wall in ([[1, 2]], [[2, 1]]):
        assert components(PAIR, np.array(wall)).tolist() == [0, 1]
    assert components(PAIR, np.array([[0, 1]])).tolist() == [0, 0]
    assert components(PAIR, np.zeros((0, 2), dtype=int)).tolist() == [0, 0]
    # Meeting in a corner alone is no meeting.
    assert components(np.array([[0, 1, 2], [0, 3, 4]])).tolist() == [0, 1]
    assert len(components(np.zeros((0, 3), dtype=np.int64))) == 0
    points, triangles = grid(6, 4)
    middle = np.flatnonzero(np.isclose(points[:, 0], 0.5))
    group = components(triangles, np.stack([middle[:-1], middle[1:]], 1))
    right = points[triangles].mean(axis=1)[:, 0] > 0.5
    assert len(set(group[right].tolist())) == len(set(group[~right].tolist())) == 1
    assert group[right][0] != group[~right][0]


# Lengths, areas, angles, normals.


def test_areas_of_known_triangles_in_the_plane_and_in_space():
    assert triangle_areas(CORNERS, TETRA) == pytest.approx([0.5, 0.5, 0.5 * math.sqrt(3.0), 0.5])
    assert triangle_areas(CORNERS[:, :2], TETRA[:1]) == pytest.approx([0.5])
    seat, triangles = cylinder(radius=80.0, turn=2.0, height=200.0, cells=(60, 6))
    assert triangle_areas(seat, triangles).sum() == pytest.approx(80.0 * 2.0 * 200.0, rel=1e-4)
    assert triangle_areas(3.0 * seat, triangles) == pytest.approx(9.0 * triangle_areas(seat, triangles))


def test_sides_run_from_each_corner_to_the_next():
    a = np.array([[0.0, 0, 0], [3, 0, 0], [3, 4, 0]])
    assert side_lengths(a, np.array([[0, 1, 2]])).ravel() == pytest.approx([3.0, 4.0, 5.0])
    assert side_lengths(a[:, :2], np.array([[1, 2, 0]])).ravel() == pytest.approx([4.0, 5.0, 3.0])


@pytest.mark.parametrize("order", [[0, 1, 2], [1, 2, 0], [2, 0, 1], [0, 2, 1]])
@pytest.mark.parametrize(
    ("corners", "degrees"),
    [
        ([[0, 0], [3, 0], [3, 4]], math.degrees(math.atan2(3, 4))),
        ([[0, 0], [1, 0], [0.5, math.sqrt(0.75)]], 60.0),
        ([[0, 0], [2, 0], [1, 1]], 45.0),
        ([[0, 0], [2, 0], [1, 0.01]], math.degrees(math.atan(0.01))),
        ([[0, 0], [1, 0], [2, 0]], 0.0),
    ],
)
def test_the_smallest_angle_of_a_triangle(order, corners, degrees):
    found = smallest_angles(np.array(corners, dtype=float), np.array([order]))
    assert np.degrees(found) == pytest.approx([degrees], abs=1e-5)


def test_normals_point_out_of_a_sphere_and_weigh_by_area():
    seat, triangles = cap(0.8, rings=12, radius=100.0)
    normals = vertex_normals(seat, triangles)
    assert np.linalg.norm(normals, axis=1) == pytest.approx(1.0)
    inner = np.setdiff1d(np.arange(len(seat)), boundary_loops(triangles)[0])
    assert np.einsum("ij,ij->i", normals, seat / 100.0)[inner].min() > 0.999
    # A ridge of one small and one nine times as large triangle leans to the large one.
    ridge = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, -9]])
    faces = np.array([[0, 1, 2], [0, 3, 1]])
    expected = np.array([0.0, 0.0, 1.0]) + np.array([0.0, 9.0, 0.0]) * -1.0
    found = vertex_normals(ridge, faces)
    assert found[0] == pytest.approx(expected / np.linalg.norm(expected))
    assert found[2] == pytest.approx([0.0, 0.0, 1.0])


def test_a_line_is_as_long_as_its_steps():
    assert curve_length(np.array([[0.0, 0], [3, 4], [3, 10]])) == 11.0
    assert curve_length(np.array([[0.0, 0, 0], [1, 2, 2]])) == 3.0
    assert curve_length(np.zeros((1, 2))) == 0.0


# The record.


def test_a_surface_keeps_copies_that_nothing_changes():
    points, rows, run = CORNERS.copy(), TETRA.copy(), np.array([0, 1])
    seat = Surface(points, rows, {"rim": run})
    points[0], rows[0], run[0] = 9.0, 0, 3
    assert np.array_equal(seat.vertices, CORNERS)
    assert np.array_equal(seat.triangles, TETRA)
    assert seat.curves["rim"].tolist() == [0, 1]
    assert seat.vertices.dtype == np.float64
    assert seat.triangles.dtype == np.int64
    moved = seat.moved(CORNERS + 1.0)
    assert np.array_equal(moved.vertices, CORNERS + 1.0)
    assert moved.curves["rim"].tolist() == [0, 1]
    assert np.array_equal(moved.triangles, TETRA)
    for one in (seat, moved, pickle.loads(pickle.dumps(seat))):
        for array in (one.vertices, one.triangles, one.curves["rim"]):
            assert not array.flags.writeable
    flat = Surface(CORNERS.ravel(), TETRA.ravel())
    assert flat.vertices.shape == (4, 3)
    assert flat.triangles.shape == (4, 3)
    assert dict(flat.curves) == {}


# Taken apart.


def opened(columns, rows, *paths):
    points, triangles = grid(columns, rows)
    seat = np.column_stack([points, points[:, 0] * points[:, 1]])
    number = {tuple(np.round(p * [columns, rows]).astype(int)): k for k, p in enumerate(points)}
    return seat, triangles, cut_open(seat, triangles, *(np.array([number[at] for at in path]) for path in paths))


def same_places(seat, triangles, cut):
    """Every triangle keeps its corners' places, and every vertex says where it came from."""
    assert np.array_equal(cut.vertices[cut.triangles], seat[triangles])
    assert np.array_equal(cut.vertices, seat[cut.origin])
    assert np.array_equal(cut.origin[: len(seat)], np.arange(len(seat)))
    assert np.array_equal(cut.origin[cut.triangles], triangles)


def test_a_dart_doubles_all_of_its_path_but_its_tip():
    seat, triangles, cut = opened(4, 4, [(2, 2), (2, 1), (2, 0)])
    same_places(seat, triangles, cut)
    assert len(cut.vertices) == len(seat) + 2
    assert is_disc(cut.triangles)
    assert len(boundary_loops(cut.triangles)[0]) == len(boundary_loops(triangles)[0]) + 4
    # Which way the path is told makes no difference.
    assert np.array_equal(opened(4, 4, [(2, 0), (2, 1), (2, 2)])[2].triangles, cut.triangles)


def test_a_path_from_rim_to_rim_parts_the_mesh():
    seat, triangles, cut = opened(4, 4, [(2, k) for k in range(5)])
    same_places(seat, triangles, cut)
    assert len(cut.vertices) == len(seat) + 5
    assert components(cut.triangles).max() == 1
    left, right = (cut.triangles[components(cut.triangles) == k] for k in (0, 1))
    assert is_disc(left)
    assert is_disc(right)
    assert not set(left.ravel().tolist()) & set(right.ravel().tolist())


def test_crossing_paths_give_a_vertex_to_every_quarter():
    seat, triangles, cut = opened(4, 4, [(2, k) for k in range(5)], [(k, 2) for k in range(5)])
    same_places(seat, triangles, cut)
    assert components(cut.triangles).max() == 3
    # Four ends doubled, four inner vertices doubled, the crossing there four times.
    assert len(cut.vertices) == len(seat) + 4 + 4 + 3
    assert np.count_nonzero(cut.origin == cut.origin[cut.triangles.max()]) >= 2


def test_a_slit_inside_the_mesh_leaves_a_hole():
    seat, triangles, cut = opened(5, 4, [(1, 2), (2, 2), (3, 2), (4, 2)])
    same_places(seat, triangles, cut)
    assert len(cut.vertices) == len(seat) + 2
    assert len(boundary_loops(cut.triangles)) == 2


def test_a_path_off_the_edges_is_refused():
    with pytest.raises(ValueError, match="leaves the edges"):
        opened(4, 4, [(0, 0), (2, 0)])
    seat, triangles = grid(3, 3)
    untouched = cut_open(np.column_stack([seat, seat[:, 0]]), triangles, np.array([0, 1]))
    # Along the rim there is nothing to open.
    assert np.array_equal(untouched.triangles, triangles)


def test_triangles_are_found_whichever_way_they_are_wound():
    triangles = np.array([[7, 2, 5], [2, 5, 9], [0, 1, 2], [9, 5, 4]])
    asked = triangles[[3, 0, 2, 1]]
    for turned in (asked, asked[:, [1, 2, 0]], asked[:, [2, 1, 0]]):
        assert triangles_among(turned, triangles).tolist() == [3, 0, 2, 1]
