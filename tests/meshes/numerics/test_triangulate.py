"""Triangles that follow curves: edges met, well shaped, even, area kept."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from meshes.base.surface import is_disc, smallest_angles, triangle_areas
from meshes.numerics.triangulate import triangulate


def ring(radius, edge):
    count = int(np.ceil(2 * np.pi * radius / edge))
    angle = 2 * np.pi * np.arange(count) / count
    points = radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    return points, np.stack([np.arange(count), (np.arange(count) + 1) % count], axis=1)


@settings(max_examples=15, deadline=None)
@given(st.floats(30, 120), st.floats(3, 9))
def test_a_round_panel(radius, edge):
    points, segments = ring(radius, edge)
    mesh = triangulate(points, segments, rim=np.ones(len(segments), dtype=bool), edge_mm=edge)
    assert is_disc(mesh.triangles)
    polygon = 0.5 * len(points) * radius**2 * np.sin(2 * np.pi / len(points))
    assert triangle_areas(mesh.points, mesh.triangles).sum() == pytest.approx(polygon, rel=1e-9)
    flat = np.column_stack([mesh.points, np.zeros(len(mesh.points))])
    assert np.rad2deg(smallest_angles(flat, mesh.triangles)).min() > 20


def test_inner_lines_are_edges_and_the_given_points_come_first():
    edge = 5.0
    side = np.arange(0, 100, edge)
    rim = np.concatenate(
        [
            np.stack([side, 0 * side], 1),
            np.stack([0 * side + 100, side], 1),
            np.stack([100 - side, 0 * side + 100], 1),
            np.stack([0 * side, 100 - side], 1),
        ]
    )
    n = len(rim)
    inner = np.stack([side[1:], 50 + 20 * np.sin(side[1:] / 15)], axis=1)
    path = np.concatenate([[n - 10], n + np.arange(len(inner)), [30]])
    segments = np.concatenate([np.stack([np.arange(n), (np.arange(n) + 1) % n], 1), np.stack([path[:-1], path[1:]], 1)])
    points = np.concatenate([rim, inner])
    mesh = triangulate(points, segments, rim=np.arange(len(segments)) < n, edge_mm=edge)
    assert np.array_equal(mesh.points[: len(points)], points)
    edges = {frozenset(e) for t in mesh.triangles.tolist() for e in ((t[0], t[1]), (t[1], t[2]), (t[2], t[0]))}
    assert all(frozenset(s) in edges for s in mesh.segments.tolist())
    assert mesh.points[mesh.triangles].shape[1:] == (3, 2)
    lengths = [np.linalg.norm(mesh.points[a] - mesh.points[b]) for a, b in (tuple(e) for e in edges)]
    assert 0.8 * edge < np.median(lengths) < 1.2 * edge


def test_the_same_input_gives_the_same_triangles():
    points, segments = ring(60.0, 4.0)
    rim = np.ones(len(segments), dtype=bool)
    first, second = (triangulate(points, segments, rim=rim, edge_mm=4.0) for _ in range(2))
    assert np.array_equal(first.points, second.points)
    assert np.array_equal(first.triangles, second.triangles)


def test_no_point_inside_is_too_near_to_a_line():
    """Points fill the room around lines of any length, but stay out of the circles over their pieces, where they would
    part them."""
    rim, segments = ring(100.0, 10.0)
    line = np.array([[-60.0, 0.0], [-20.0, 3.0], [20.0, -3.0], [60.0, 0.0]])
    points = np.concatenate([rim, line])
    inner = len(rim) + np.array([[0, 1], [1, 2], [2, 3]])
    every = np.concatenate([segments, inner])
    mesh = triangulate(points, every, rim=np.arange(len(every)) < len(segments), edge_mm=10.0)
    # Pieces of 40 mm over triangles of 10 are kept whole where no point lies in the circle over them.
    middle, half = line[:-1] + 0.5 * np.diff(line, axis=0), 0.5 * np.linalg.norm(np.diff(line, axis=0), axis=1)
    new = mesh.points[len(points) :]
    assert (np.linalg.norm(new[:, None] - middle[None], axis=2) > 0.9 * half).all()
    edges = {frozenset(e) for t in mesh.triangles.tolist() for e in ((t[0], t[1]), (t[1], t[2]), (t[2], t[0]))}
    assert all(frozenset(s) in edges for s in mesh.segments.tolist())
