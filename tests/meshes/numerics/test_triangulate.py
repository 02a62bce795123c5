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
