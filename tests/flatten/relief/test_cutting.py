"""Cutting a panel: exact, orientation kept, a dart leaves a disc and a seam leaves two."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flatten.relief.coarse import coarse_copy
from flatten.relief.cutting import CutLineError, draw_lines, mapped, parts
from meshes.base.cut_open import cut_open
from meshes.base.surface import boundary_loops, is_disc, triangle_areas
from tests.shapes import cap, disc, graph, scattered


def flat_disc(rings=8):
    plan, triangles = disc(rings)
    plan = 100.0 * plan
    return np.column_stack([plan, 0.01 * plan[:, 0] ** 2]), triangles, plan


def nearest(plan, x, y, among=None):
    among = np.arange(len(plan)) if among is None else among
    return int(among[np.argmin(np.linalg.norm(plan[among] - [x, y], axis=1))])


def test_a_dart_doubles_its_inner_vertices_and_its_end_and_leaves_a_disc():
    vertices, triangles, plan = flat_disc()
    drawn, (path,) = draw_lines(mapped(vertices, triangles, plan), (0, nearest(plan, 100, 0)))
    cut = cut_open(drawn.vertices, drawn.triangles, path)
    assert is_disc(cut.triangles)
    times = np.bincount(cut.origin, minlength=len(drawn.vertices))
    assert times[path[0]] == 1
    assert (times[path[1:]] == 2).all()
    assert times.sum() == len(drawn.vertices) + len(path) - 1
    # The rim grows by both legs: twice the edges of the path.
    assert len(boundary_loops(cut.triangles)[0]) == len(boundary_loops(triangles)[0]) + 2 * (len(path) - 1)


def test_cutting_keeps_every_triangle_in_place_and_its_winding():
    vertices, triangles, plan = flat_disc()
    drawn, (path,) = draw_lines(mapped(vertices, triangles, plan), (3, nearest(plan, 20, -98)))
    cut = cut_open(drawn.vertices, drawn.triangles, path)
    assert np.array_equal(cut.origin[cut.triangles], drawn.triangles)
    assert np.array_equal(cut.vertices, drawn.vertices[cut.origin])
    assert np.array_equal(cut.origin[: len(drawn.vertices)], np.arange(len(drawn.vertices)))


def test_a_seam_from_rim_to_rim_leaves_two_discs_with_all_of_the_area():
    vertices, triangles, plan = flat_disc()
    rim = boundary_loops(triangles)[0]
    line = (nearest(plan, -100, 20, rim), nearest(plan, 97, -30, rim))
    drawn, (path,) = draw_lines(mapped(vertices, triangles, plan), line)
    cut = cut_open(drawn.vertices, drawn.triangles, path)
    both = parts(cut.triangles)
    assert [is_disc(local) for _, _, local in both] == [True, True]
    assert sum(len(own) for _, own, _ in both) == len(cut.triangles)
    area = sum(triangle_areas(cut.vertices[own], local).sum() for own, _, local in both)
    assert area == pytest.approx(triangle_areas(vertices, triangles).sum(), rel=1e-12)


def test_several_cuts_at_once():
    vertices, triangles, plan = flat_disc()
    rim = boundary_loops(triangles)[0]
    ends = [nearest(plan, x, y, rim) for x, y in ((100, 0), (0, 100), (-100, 0), (0, -100))]
    tips = [nearest(plan, x, y) for x, y in ((50, 0), (0, 50), (-50, 0), (0, -50))]
    drawn, paths = draw_lines(mapped(vertices, triangles, plan), *zip(tips, ends, strict=True))
    cut = cut_open(drawn.vertices, drawn.triangles, *paths)
    assert is_disc(cut.triangles)
    assert len(cut.vertices) == len(drawn.vertices) + sum(len(path) - 1 for path in paths)


@settings(max_examples=30, deadline=None)
@given(angle=st.floats(0.0, 6.28), share=st.floats(0.0, 0.7), turn=st.floats(0.0, 6.28))
def test_a_drawn_line_leaves_the_surface_as_it_is(angle, share, turn):
    vertices, triangles, plan = flat_disc(6)
    rim = boundary_loops(triangles)[0]
    tip = nearest(plan, 100 * share * np.cos(angle), 100 * share * np.sin(angle))
    end = nearest(plan, 100 * np.cos(turn), 100 * np.sin(turn), rim)
    drawn, (path,) = draw_lines(mapped(vertices, triangles, plan), (tip, end))
    assert is_disc(drawn.triangles)
    assert path[0] == tip
    assert path[-1] == end
    # Same surface: every uncut triangle is covered by its parts, and new vertices stand on their edges.
    own = np.bincount(drawn.parent, triangle_areas(drawn.vertices, drawn.triangles), len(triangles))
    assert np.allclose(own, triangle_areas(vertices, triangles), rtol=1e-12)
    a, b = drawn.vertices[drawn.ends[:, 0]], drawn.vertices[drawn.ends[:, 1]]
    assert np.allclose(drawn.vertices, (1 - drawn.share[:, None]) * a + drawn.share[:, None] * b, atol=1e-12)
    # Straight within what snapping to vertices allows: 8 % of an edge.
    way = (plan[end] - plan[tip]) / np.linalg.norm(plan[end] - plan[tip])
    off = drawn.plan[path] - plan[tip]
    assert np.abs(off[:, 0] * way[1] - off[:, 1] * way[0]).max() < 0.08 * 100 / 6 * 1.3
    assert (np.diff(off @ way) > 0).all()


def test_a_path_that_leaves_the_edges_is_refused():
    vertices, triangles, plan = flat_disc()
    with pytest.raises(ValueError, match="leaves the edges"):
        cut_open(vertices, triangles, np.array([0, nearest(plan, 100, 0)]))


def test_lines_that_cross_or_leave_the_panel_are_refused():
    vertices, triangles, plan = flat_disc()
    rim = boundary_loops(triangles)[0]
    ends = [nearest(plan, x, y, rim) for x, y in ((100, 0), (-100, 0), (5, 100), (5, -100))]
    with pytest.raises(CutLineError):
        draw_lines(mapped(vertices, triangles, plan), (ends[0], ends[1]), (ends[2], ends[3]))
    flat, corners = scattered(300, 300, 20)
    bent = corners[(flat[corners].mean(axis=1) < 150).any(axis=1)]
    used, bent = np.unique(bent, return_inverse=True)
    flat, bent = flat[used], bent.reshape(-1, 3)
    seat = np.column_stack([flat, 0 * flat[:, 0]])
    with pytest.raises(CutLineError):
        draw_lines(mapped(seat, bent, flat), (nearest(flat, 290, 100), nearest(flat, 100, 290)))


def test_the_coarse_copy_is_a_disc_on_the_same_surface():
    vertices, triangles = graph(lambda x, y: 60 - (x**2 + y**2) / 800, width=400, depth=300, edge=7.0)
    plan = vertices[:, :2]
    copy = coarse_copy(vertices, triangles, plan, count=800)
    assert is_disc(copy.triangles)
    assert 500 < len(copy.triangles) < 1300
    area = triangle_areas(copy.vertices, copy.triangles).sum()
    # Chords of a few edges' length under a dome lose very little area.
    assert area == pytest.approx(triangle_areas(vertices, triangles).sum(), rel=2e-3)
    rim = boundary_loops(copy.triangles)[0]
    fine = {tuple(place) for place in vertices[boundary_loops(triangles)[0]].tolist()}
    assert {tuple(place) for place in copy.vertices[rim].tolist()} <= fine


def test_a_small_panel_is_its_own_coarse_copy():
    vertices, triangles = cap(0.3, rings=5)
    assert coarse_copy(vertices, triangles, vertices[:, :2]).triangles is triangles
