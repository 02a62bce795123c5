"""A map drawn anew: a wish that fits is met exactly, sewn edges come out as long as asked, all else strains least."""

import numpy as np
import pytest

from flatten.reshape.bump import RaisedPlace, distances, raised_mm
from flatten.reshape.elastic import SewnRun, drawn_anew, inverted, laid_on, turned_by
from meshes.base.surface import Surface, triangle_areas
from tests.samples import sample_job


def sheet(wide=200.0, deep=120.0, step=10.0):
    """A plain rectangle in triangles: points (n, 2), triangles, and its vertices by row and column."""
    x, y = np.meshgrid(np.arange(0.0, wide + 1, step), np.arange(0.0, deep + 1, step))
    at = np.arange(x.size).reshape(x.shape)
    a, b, c, d = (part.ravel() for part in (at[:-1, :-1], at[:-1, 1:], at[1:, 1:], at[1:, :-1]))
    return np.column_stack([x.ravel(), y.ravel()]), np.concatenate([np.c_[a, b, c], np.c_[a, c, d]]), at


def lengths(points, run):
    return np.linalg.norm(np.diff(points[run], axis=0), axis=1)


def test_a_growth_that_is_the_same_everywhere_is_met_exactly():
    points, triangles, _ = sheet()
    points.flags.writeable = False
    way = np.array([0.6, 0.8])
    growth = np.eye(2) - 0.03 * np.outer(way, way)
    found = drawn_anew(points, triangles, np.broadcast_to(growth, (len(triangles), 2, 2)), ())
    across = np.array([-0.8, 0.6])
    assert np.ptp(found @ across) == pytest.approx(np.ptp(points @ across), rel=1e-6)
    middle = points.mean(axis=0)
    assert found == pytest.approx((points - middle) @ growth + middle, abs=1e-6)


@pytest.mark.parametrize("share", [0.97, 1.02])
def test_a_sewn_edge_gets_its_length_and_the_others_keep_theirs(share):
    points, triangles, at = sheet(wide=400.0, deep=60.0)
    moved, kept = at[-1], (at[:, 0], at[:, -1])
    runs = [SewnRun(moved, share * lengths(points, moved)), *(SewnRun(run, lengths(points, run)) for run in kept)]
    found = drawn_anew(points, triangles, None, runs)
    assert lengths(found, moved).sum() == pytest.approx(share * 400.0, abs=0.005)
    for run in kept:
        assert lengths(found, run).sum() == pytest.approx(60.0, abs=0.005)
    area = triangle_areas(np.c_[found, np.zeros(len(found))], triangles).sum()
    # A strip that bends strains as a straight line over its width, by e along the moved edge; its squares are least in
    # sum where it is -e / 2 along the other one, so that a quarter of e is left in the mean.
    change = share - 1.0
    assert area == pytest.approx(400.0 * 60.0 * (1.0 + 0.25 * change), rel=0.0015)
    assert lengths(found, at[0]).sum() == pytest.approx(400.0 * (1.0 - 0.5 * change), rel=0.003)


def test_a_piece_is_laid_where_it_lay():
    points, _, _ = sheet()
    turn = np.array([[np.cos(0.4), np.sin(0.4)], [-np.sin(0.4), np.cos(0.4)]])
    assert laid_on(points @ turn + 30.0, points) == pytest.approx(points, abs=1e-9)
    # It is never turned over.
    over = laid_on(points * [-1.0, 1.0], points)
    assert np.linalg.det(np.linalg.lstsq(points * [-1.0, 1.0] - points.mean(0), over - over.mean(0))[0]) > 0.0


def test_maps_part_into_stretch_and_turn():
    maps = np.eye(2) + 0.3 * np.random.default_rng(3).normal(size=(40, 2, 2))
    maps = maps[np.linalg.det(maps) > 0.1]
    turn = turned_by(maps)
    stretch = maps @ turn.transpose(0, 2, 1)
    assert stretch == pytest.approx(stretch.transpose(0, 2, 1), abs=1e-12)
    assert np.linalg.det(turn) == pytest.approx(np.ones(len(turn)))
    assert maps @ inverted(maps) == pytest.approx(np.broadcast_to(np.eye(2), maps.shape), abs=1e-9)


def test_distances_over_a_plane_are_near_the_true_ones():
    points, triangles, at = sheet(wide=300.0, deep=300.0, step=6.0)
    surface = Surface(np.c_[points, np.zeros(len(points))], triangles)
    found = distances(surface, at[25, 20:31], 80.0)
    dx = np.maximum(np.maximum(120.0 - points[:, 0], points[:, 0] - 180.0), 0.0)
    true = np.hypot(dx, points[:, 1] - 150.0)
    near = true <= 80.0
    assert np.abs(found - true)[near].max() < 8.0
    assert (found >= true - 1e-9).all()
    assert np.isinf(found[true > 130.0]).all()


def test_a_place_is_raised_in_full_and_runs_out_and_nothing_is_raised_where_the_cover_is_fixed():
    pad = sample_job().pads[1]
    face = next(panel for panel in pad.panels if panel.name == "back face")
    top = next(edge for edge in face.rim if edge.name == "top band")
    place = RaisedPlace(face.vertices[top.vertices[5:12]], 5.0, 60.0)
    high = raised_mm(pad, [[place]])
    assert high[place.vertices] == pytest.approx(5.0, abs=0.1)
    assert high.max() <= 5.0 + 1e-9
    away = np.linalg.norm(pad.surface.vertices[:, None] - pad.surface.vertices[place.vertices][None], axis=2).min(
        axis=1
    )
    assert not high[away >= 60.0].any()
    fixed = [panel.vertices[edge.vertices] for panel in pad.panels for edge in panel.rim if edge.seam is None]
    assert not high[np.concatenate(fixed)].any()
    # Rounds add up; places of one round share what lies between them.
    assert raised_mm(pad, [[place], [place]]) == pytest.approx(2.0 * high)
    both = raised_mm(pad, [[place, RaisedPlace(place.vertices, 5.0, 60.0)]])
    assert both.max() == pytest.approx(high.max())
