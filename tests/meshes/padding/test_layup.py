"""Where layers lie before they are cut: on what is beneath them, to where they end, and the same on both hands."""

from dataclasses import replace

import numpy as np
import pytest

from meshes.base.problems import Problem
from meshes.base.surface import triangle_areas
from meshes.padding.layup import FACE, lie_of, twin_number, twin_of
from meshes.records.pad import SIDES, Layer
from tests.pads import FLAT, sheet_of

BOXED = FLAT + "[pad.sides.left]\ndrop = 80\nedge_radius = 20\nband = true\n"
WHOLE = Layer("foam_medium", 10.0, "all", None, 0.0)
TOP = Layer("foam_medium", 25.0, "face", None, 20.0, below=0.0)
RIGHT, LEFT = Layer("wadding", 8.0, "right", None, 30.0), Layer("wadding", 8.0, "left", None, 30.0)
STRIP = Layer("wadding", 6.0, "front", 70.0, 30.0, below=10.0)


def make_problem(code, keys, text):
    return Problem(code, "", text)


def pad_of(*layers, **changes):
    return replace(sheet_of(BOXED).pads[0], layers=layers, **changes)


def by_side(laid, name):
    """One of the facts of the edges beneath a layer, by side."""
    return {side: getattr(edge, name) for side, edge in laid.edges.items()}


def lies(*layers, index=-1, **changes):
    return lie_of(
        pad_of(*layers, **changes), len(layers) + index if index < 0 else index, edge_mm=15.0, make_problem=make_problem
    )


def test_a_first_layer_lies_on_the_bare_support():
    laid = lies(WHOLE)
    # The bare box of 400 x 300 mm, its face at height 0 and its sides 80 mm down.
    assert laid.points[:, 2].max() == pytest.approx(0.0, abs=1e-9)
    assert laid.points[:, 2].min() == pytest.approx(-80.0, abs=1e-6)
    assert np.abs(laid.points[:, 0]).max() == pytest.approx(200.0, abs=1e-6)
    assert by_side(laid, "beneath_mm") == dict.fromkeys(SIDES, 20.0)
    assert by_side(laid, "turn_deg") == dict.fromkeys(SIDES, 90.0)


def test_a_second_layer_lies_on_the_first_all_round():
    """On an even layer of 10 mm every place is 10 mm further out, and edges are 10 mm rounder (Steiner)."""
    laid = lies(WHOLE, TOP)
    assert laid.points[:, 2].max() == pytest.approx(10.0, abs=1e-6)
    assert np.abs(laid.points[:, 0]).max() == pytest.approx(210.0, abs=1e-6)
    assert laid.points[:, 1].min() == pytest.approx(-10.0, abs=1e-6)
    assert by_side(laid, "beneath_mm") == {side: pytest.approx(30.0) for side in SIDES}
    # In the middle of the front the turn is a quarter circle of 30 mm about the bare edge's centre.
    x, y, z = laid.points.T
    turn = (np.abs(x) < 120.0) & (y < 19.9) & (z > -19.9)
    assert turn.sum() > 10
    assert np.hypot(y[turn] - 20.0, z[turn] + 20.0) == pytest.approx(30.0, abs=1e-3)


def test_half_of_an_even_pad_is_laid_and_stands_for_both():
    half = lies(WHOLE, TOP)
    assert half.half
    assert half.points[:, 0].min() == 0.0
    whole = lies(WHOLE, TOP, symmetric=False)
    assert not whole.half
    areas = [triangle_areas(one.points, one.triangles).sum() for one in (half, whole)]
    assert 2.0 * areas[0] == pytest.approx(areas[1], rel=2e-3)


@pytest.mark.parametrize("layer", [TOP, WHOLE, RIGHT, STRIP])
def test_distances_along_the_layer_are_lengths_on_its_bed(layer):
    """Down the middle of the front, from the middle of the edge to the tack line, the way told is the way measured."""
    laid = lies(WHOLE, layer)
    middle = np.flatnonzero(
        (laid.points[:, 0] < 1e-6) & (laid.points[:, 1] < 100.0) & (laid.past_edge > 0.0) & (laid.to_tack > -1e-9)
    )
    order = middle[np.argsort(laid.past_edge[middle])]
    line = laid.points[order]
    long = np.linalg.norm(np.diff(line, axis=0), axis=1).sum()
    assert len(order) > 4
    assert np.ptp(laid.past_edge[order]) == pytest.approx(long, rel=0.01)
    assert np.ptp(laid.to_tack[order]) == pytest.approx(long, rel=0.01)
    assert laid.to_tack[order[-1]] == pytest.approx(0.0, abs=1e-6)
    # The quarter turn of 30 mm, half of it past its middle, and the 60 mm of straight side.
    assert (laid.to_tack + laid.past_edge)[order] == pytest.approx(7.5 * np.pi + 60.0, abs=1e-6)


def test_a_layer_has_its_thickness_inside_its_ends_and_none_beyond():
    for layer in (TOP, STRIP, RIGHT, replace(WHOLE, taper=30.0)):
        laid = lies(WHOLE, layer, symmetric=False)
        full = np.all([limit.full > 1e-6 for limit in laid.limits], axis=0)
        gone = np.any([limit.inside < -1e-6 for limit in laid.limits if not limit.square], axis=0)
        # A side's own share blends over the corners.
        on_run = np.ones(len(full), dtype=bool)
        if layer.where in SIDES and layer.within is None:
            on_run = laid.limits[1].inside > 0.999
        assert (full & on_run).any()
        assert laid.thickness_mm[full & on_run] == pytest.approx(layer.thickness)
        if not all(limit.square for limit in laid.limits):
            assert laid.thickness_mm[gone] == pytest.approx(0.0)
        assert (laid.thickness_mm <= layer.thickness + 1e-9).all()


def test_a_short_taper_is_a_square_cut_and_a_long_one_is_not():
    for taper, square in ((20.0, True), (25.0, True), (26.0, False)):
        (limit,) = lies(replace(TOP, taper=taper)).limits
        assert (limit.kind, limit.square) == ("rim", square)
    assert lies(WHOLE).limits == ()
    assert [limit.kind for limit in lies(STRIP).limits] == ["face", "rim"]
    assert [limit.kind for limit in lies(RIGHT, symmetric=False).limits] == ["face", "side"]


def test_how_far_a_layer_goes_on_full_past_the_edge():
    down = 7.5 * np.pi + 60.0
    assert by_side(lies(WHOLE, WHOLE), "reach_mm") == {side: pytest.approx(down) for side in SIDES}
    assert by_side(lies(WHOLE, replace(WHOLE, taper=25.0)), "reach_mm")["rear"] == pytest.approx(down - 25.0)
    assert by_side(lies(WHOLE, replace(TOP, below=14.0)), "reach_mm") == {side: pytest.approx(14.0) for side in SIDES}
    assert by_side(lies(WHOLE, replace(TOP, below=400.0)), "reach_mm")["left"] == pytest.approx(down)
    right = by_side(lies(WHOLE, RIGHT), "reach_mm")
    assert right == {"front": 0.0, "rear": 0.0, "left": 0.0, "right": pytest.approx(down)}
    assert by_side(lies(WHOLE, STRIP), "reach_mm") == {"front": 10.0, "rear": 0.0, "left": 0.0, "right": 0.0}


def test_triangles_know_the_side_they_lie_at():
    laid = lies(WHOLE, TOP, symmetric=False)
    middle = laid.points[laid.triangles].mean(axis=1)
    # How far in from every side of the box; the nearest is the one, where that is not in doubt.
    inward = np.stack([middle[:, 1] + 10, 210 - middle[:, 0], 310 - middle[:, 1], 210 + middle[:, 0]], axis=1)
    near = np.sort(inward, axis=1)
    sure = (near[:, 1] - near[:, 0] > 60.0) & (near[:, 0] < 40.0)
    assert sure.sum() > 100
    assert np.array_equal(laid.near[sure], np.argmin(inward, axis=1)[sure])
    assert set(np.unique(laid.side)) == {FACE, 0, 1, 2, 3}
    below = middle[:, 2] < -30.0
    assert (laid.side[below] >= 0).all()
    assert np.array_equal(laid.side[below], laid.near[below])


def test_two_mirrored_strips_lie_on_one_bed_and_twins_know_each_other():
    layers = (WHOLE, RIGHT, LEFT, TOP)
    assert [twin_number(layers, k) for k in range(4)] == [None, 2, 1, None]
    double = (RIGHT, LEFT, RIGHT, LEFT)
    assert [twin_number(double, k) for k in range(4)] == [1, 0, 3, 2]
    assert twin_number((RIGHT, TOP), 0) is None
    assert twin_of(twin_of(RIGHT)) == RIGHT
    assert twin_of(TOP) == TOP
    right, left = (lies(*layers, index=k) for k in (1, 2))
    assert right.half
    assert left.half
    assert np.array_equal(right.points, left.points)


def test_a_strip_over_the_centre_line_and_an_uneven_bed_are_laid_whole():
    assert not lies(WHOLE, replace(RIGHT, within=180.0)).half
    assert lies(WHOLE, replace(RIGHT, within=100.0)).half
    assert not lies(RIGHT, TOP).half
    assert lies(RIGHT, LEFT, TOP).half
