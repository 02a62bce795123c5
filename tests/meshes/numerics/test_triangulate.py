"""Triangles that follow curves: edges met, well shaped, even, area kept."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from meshes.base.surface import is_disc, smallest_angles, triangle_areas
from meshes.numerics.triangulate import LinesTooCloseError, triangulate


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


def test_pieces_that_no_triangle_follows_are_halved_and_stay_their_lines():
    """A long piece with points of another line close beside it: all of it is edges in the end, piece by piece, and the
    region is filled without a gap."""
    rim, segments = ring(100.0, 10.0)
    long = np.array([[-80.0, 0.0], [80.0, 0.0]])
    beside = np.stack([np.linspace(-60.0, 60.0, 7), np.full(7, 1.5)], axis=1)
    points = np.concatenate([rim, long, beside])
    n = len(rim)
    path = np.arange(n + 2, n + 9)
    every = np.concatenate([segments, [[n, n + 1]], np.stack([path[:-1], path[1:]], axis=1)])
    mesh = triangulate(points, every, rim=np.arange(len(every)) < len(segments), edge_mm=10.0)
    assert len(mesh.segments) == len(mesh.source) > len(every)
    edges = {frozenset(e) for t in mesh.triangles.tolist() for e in ((t[0], t[1]), (t[1], t[2]), (t[2], t[0]))}
    assert all(frozenset(s) in edges for s in mesh.segments.tolist())
    assert np.array_equal(mesh.points[: len(points)], points)
    for number, (a, b) in enumerate(every.tolist()):
        own = mesh.segments[mesh.source == number]
        ends, counts = np.unique(own, return_counts=True)
        assert set(ends[counts == 1].tolist()) == {a, b}
        along = (points[b] - points[a]) / np.linalg.norm(points[b] - points[a])
        steps = mesh.points[own[:, 1]] - mesh.points[own[:, 0]]
        # Halves lie on their piece and add up to it; none of them runs back.
        assert steps @ along == pytest.approx(np.linalg.norm(steps, axis=1))
        assert np.linalg.norm(steps, axis=1).sum() == pytest.approx(np.linalg.norm(points[b] - points[a]))
    (ux, uy), (vx, vy) = ((mesh.points[mesh.triangles[:, k]] - mesh.points[mesh.triangles[:, 0]]).T for k in (1, 2))
    corners = rim[np.arange(n) - 1]
    whole = 0.5 * abs((corners[:, 0] * rim[:, 1] - corners[:, 1] * rim[:, 0]).sum())
    assert (ux * vy - uy * vx > 0).all()
    assert 0.5 * (ux * vy - uy * vx).sum() == pytest.approx(whole)


def test_lines_on_top_of_each_other_cannot_be_followed():
    rim, segments = ring(100.0, 10.0)
    n = len(rim)
    crossed = np.array([[-50.0, 0.0], [50.0, 0.0], [0.0, -50.0], [0.0, 50.0]])
    every = np.concatenate([segments, [[n, n + 1], [n + 2, n + 3]]])
    with pytest.raises(LinesTooCloseError) as refused:
        triangulate(np.concatenate([rim, crossed]), every, rim=np.arange(len(every)) < n, edge_mm=10.0)
    # Near where both cross.
    assert np.linalg.norm(refused.value.at) < 1.0


def test_triangles_are_even_where_nothing_constrains_them():
    rim, segments = ring(60.0, 5.0)
    mesh = triangulate(rim, segments, rim=np.ones(len(segments), dtype=bool), edge_mm=5.0)
    inner = (np.linalg.norm(mesh.points, axis=1) < 45.0)[mesh.triangles].all(axis=1)
    a, b, c = (mesh.points[mesh.triangles[inner][:, k]] for k in range(3))
    sides = np.sort(np.stack([np.linalg.norm(p - q, axis=1) for p, q in ((a, b), (b, c), (c, a))], axis=1), axis=1)
    assert inner.sum() > 300
    # An even triangle with sides of 5 mm has 25 sqrt(3) / 4 mm2, and that many fill the disc.
    assert len(mesh.triangles) == pytest.approx(np.pi * 60.0**2 / (25.0 * np.sqrt(3.0) / 4.0), rel=0.06)
    assert np.median(sides[:, 2] / sides[:, 0]) < 1.15
    assert (sides[:, 2] / sides[:, 0]).max() < 1.9
    # Every vertex inside lies in the middle of its neighbours, as smoothing ends.
    edges = np.unique(
        np.sort(
            np.concatenate([mesh.triangles[:, [0, 1]], mesh.triangles[:, [1, 2]], mesh.triangles[:, [2, 0]]]), axis=1
        ),
        axis=0,
    )
    near = np.zeros((len(mesh.points), 3))
    for i, j in ((0, 1), (1, 0)):
        np.add.at(near, edges[:, i], np.column_stack([mesh.points[edges[:, j]], np.ones(len(edges))]))
    free = np.arange(len(rim), len(mesh.points))
    off = np.linalg.norm(near[free, :2] / near[free, 2:] - mesh.points[free], axis=1)
    assert off.max() < 0.1 * 5.0
