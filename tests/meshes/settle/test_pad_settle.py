"""Pads of a sheet settling: what stays free, symmetry, springs, gaps, hollows and tie-downs on the pad's own mesh."""

from dataclasses import replace
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest

from meshes.base.problems import Problem, ProblemError
from meshes.padding.directors import bridged
from meshes.records.materials import BUILT_IN
from meshes.records.pad import Layer
from meshes.records.springs import Springs
from meshes.seat.build import build
from meshes.settle.pad import Lift, lift_notes
from tests.pads import sheet_of
from tests.shapes import grid

BACK = """
name = "test"
[[pad]]
name = "back"
kind = "backrest"
outline = {bottom_width = 420, top_width = 400, depth = 300, corner_radius = 50}
layer = [{material = "foam_medium", thickness = 20}, {material = "wadding", thickness = 6}]
[[pad.profile]]
direction = "along"
points = [[0, 0], [150, 24], [300, 0]]
[pad.sides.bottom]
drop = 60
edge_radius = 15
closed_by_hand = true
[pad.sides.right]
drop = 70
edge_radius = 15
band = true
[pad.sides.top]
drop = 90
edge_radius = 15
turn = 120
"""


def graph_of(height):
    """A height field over 280 x 280 mm about the origin, and its triangles."""
    flat, tri = grid(28, 28)
    x, y = 280.0 * (flat - 0.5).T
    return np.column_stack([x, y, height(x, y)]), tri


def facing(points, tri):
    """Twice the area of every triangle seen from above, negative where it is turned over."""
    a, b, c = (points[tri[:, k], :2] for k in range(3))
    u, v = b - a, c - a
    return u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]


def pad_of(text=BACK, **changes):
    (pad,) = sheet_of(text).pads
    return replace(pad, **changes)


@cache
def plain(tension):
    return build(pad_of(), edge_mm=9.0, tension_n_per_mm=tension)


@pytest.mark.parametrize("tension", [None, 0.0])
def test_a_pad_without_tension_is_the_limit_of_looser_covers(tension):
    """Nothing is settled then, and where a very loose cover presses it lies as the free padding does."""
    pad, loose = (build(pad_of(), edge_mm=15.0, tension_n_per_mm=t) for t in (tension, 1e-6))
    assert pad.rest is None
    assert pad.settled is None
    pressed = loose.settled.pressure_kpa > 0
    assert pressed.mean() > 0.5
    off = np.linalg.norm(loose.surface.vertices - pad.surface.vertices, axis=1)
    # But for the shores, where a triangle is pressed in part.
    assert np.percentile(off[pressed], 90) < 0.02


def test_both_halves_are_equal_to_the_last_digit():
    pad = plain(0.15)
    turned = pad.surface.vertices * [-1.0, 1.0, 1.0]
    order = np.lexsort(np.round(pad.surface.vertices, 9).T)
    other = np.lexsort(np.round(turned, 9).T)
    assert np.array_equal(pad.surface.vertices[order], turned[other] + 0.0)


def test_half_and_whole_settle_to_the_same():
    """The pad told to be crooked is solved as a whole, on a mesh of its own; it comes out as high, and even."""
    half, whole = plain(0.15), build(pad_of(symmetric=False), edge_mm=9.0, tension_n_per_mm=0.15)
    assert half.settled.heights_mm.mean() == pytest.approx(whole.settled.heights_mm.mean(), abs=0.05)
    assert half.rest.foam_compression_max == pytest.approx(whole.rest.foam_compression_max, abs=0.02)


def test_it_comes_to_rest_in_few_factorisations_and_keeps_the_tack_lines():
    pad = plain(0.15)
    settled = pad.settled
    assert settled.converged
    assert settled.factorisations <= 15
    assert (np.diff(settled.energy) <= 0).all()
    tack = np.concatenate([path for name, path in pad.surface.curves.items() if "tack line" in name])
    assert settled.points[tack] == pytest.approx(pad.rest.free[tack], abs=1e-9)
    assert np.array_equal(settled.points, pad.surface.vertices)


def test_edges_are_crushed_and_flat_places_hardly():
    pad = plain(0.15)
    x, y, _ = pad.surface.vertices.T
    flat = (np.abs(x) < 120) & (np.abs(y - 150) < 60)
    assert pad.settled.compression[flat, 0].max() < 0.1
    assert pad.rest.layer_compression_max[0] > 0.3
    assert pad.rest.height_change_mm[0] < -3.0


def test_foam_is_told_apart_from_stuffing_that_is_meant_to_give():
    layers = (Layer("wadding", 10.0, "all", None, 10.0), Layer("foam_medium", 15.0, "face", None, 30.0))
    rest = build(replace(pad_of(), layers=layers), edge_mm=9.0, tension_n_per_mm=0.15).rest
    assert rest.foam_layers == (False, True)
    assert rest.foam_compression_max == rest.layer_compression_max[1]
    assert rest.padding_compression_max == max(rest.layer_compression_max) > rest.foam_compression_max
    # Foam lies on the face only; where there is none the map holds no number.
    assert np.nanmax(rest.foam_crush) == rest.foam_compression_max
    assert 0 < np.isnan(rest.foam_crush).sum() < len(rest.foam_crush)


def test_more_tension_never_lets_the_middle_stand_higher():
    pads = [plain(t) for t in (0.05, 0.15, 0.3)]
    down = [pad.settled.heights_mm for pad in pads]
    area = [pad.facts.area_mm2 for pad in pads]
    assert down[0].mean() > down[1].mean() > down[2].mean()
    assert area[0] > area[1] > area[2]


def test_springs_go_down_only_beyond_what_twine_holds():
    loose = build(pad_of(springs=Springs(0.1)), edge_mm=12.0, tension_n_per_mm=0.15)
    held = build(pad_of(springs=Springs(0.1, 150.0, 50.0)), edge_mm=12.0, tension_n_per_mm=0.15)
    board = build(pad_of(), edge_mm=12.0, tension_n_per_mm=0.15)
    assert loose.rest.spring_deflection_mm > 1.0
    assert held.rest.spring_deflection_mm < 0.01
    assert board.rest.spring_deflection_mm == 0.0
    assert loose.settled.heights_mm.min() <= board.settled.heights_mm.min() + 1e-6


def gapped(**changes):
    pad = pad_of()
    top = replace(pad.sides["rear"], gap=60.0, gap_depth=60.0, **changes)
    return build(replace(pad, sides={**pad.sides, "rear": top}), edge_mm=9.0, tension_n_per_mm=0.15)


def test_padding_sinks_over_an_open_gap_and_cloth_holds_it():
    sunk, cloth, board = gapped(), gapped(cloth=True), plain(0.15)
    x, y, _ = board.surface.vertices.T
    over = (np.abs(x) < 60) & (y > 240) & (y < 270)
    assert np.array_equal(cloth.surface.vertices, board.surface.vertices)
    assert sunk.settled.heights_mm[over].mean() < cloth.settled.heights_mm[over].mean() - 0.5
    assert not sunk.settled.pressure_kpa[over & (y > 250) & (y < 262)].any()


def test_cloth_fixed_to_springs_goes_down_with_them():
    pad = pad_of(springs=Springs(0.02))
    pads = {}
    for fixed in ("springs", "frame"):
        top = replace(pad.sides["rear"], gap=80.0, gap_depth=60.0, cloth=True, cloth_fixed=fixed)
        pads[fixed] = build(replace(pad, sides={**pad.sides, "rear": top}), edge_mm=9.0, tension_n_per_mm=0.15)
    x, y, _ = pads["frame"].surface.vertices.T
    inner = (np.abs(x) < 60) & (y > 215) & (y < 240)
    assert pads["springs"].settled.spring_mm[inner].mean() > pads["frame"].settled.spring_mm[inner].mean()


HOLLOW = (
    BACK.replace("[150, 24]", "[150, -40]")
    + """
[[pad.line]]
name = "cross seam"
points = [[0, 150], [205, 150]]
"""
)


def test_a_hollow_is_told_and_a_tied_seam_holds_it():
    bridged = build(pad_of(HOLLOW), edge_mm=12.0, tension_n_per_mm=0.1)
    told = [p for p in bridged.problems if p.code == "G140"]
    assert 1 <= len(told) <= len(bridged.rest.lifts)
    assert all(p.warning for p in told)
    worst = bridged.rest.lifts[0]
    assert worst.gap_mm > 15.0
    assert abs(worst.at[0]) < 40.0
    assert worst.at[1] == pytest.approx(150.0, abs=25.0)
    assert "a tie-down or a seam belongs there" in told[0].text
    assert not any(lift.tied for lift in bridged.rest.lifts)
    assert "on the face" in told[0].text
    tied = build(pad_of(HOLLOW + "tied = true\n"), edge_mm=12.0, tension_n_per_mm=0.1)
    x, y, _ = tied.support.vertices.T
    seam = (np.abs(y - 150.0) < 1e-6) & (np.abs(x) < 150.0)
    assert seam.sum() > 10
    assert tied.settled.lift_mm[seam].max() == 0.0
    assert tied.settled.lift_mm.max() < bridged.settled.lift_mm.max()
    assert all(lift.tied for lift in tied.rest.lifts if np.hypot(lift.at[0], lift.at[1] - 150.0) < 100.0)


def test_places_too_small_to_tie_are_not_told_and_what_is_tied_is_not_to_be_tied_again():
    lifts = [Lift((x, 0.0, 0.0), "on the face", 6.0, long, 3.0, tied) for x, long, tied in
             ((0.0, 0.0, False), (10.0, 60.0, False), (20.0, 60.0, True))]  # fmt: skip
    rest = SimpleNamespace(lifts=tuple(lifts))
    loose, tied = lift_notes(
        SimpleNamespace(symmetric=True), rest, lambda code, keys, text: Problem(code, "back", text)
    )
    assert "write tied = true" in loose.text
    assert "tied down already" in tied.text
    assert "write tied = true" not in tied.text


def test_directors_over_a_sharp_hollow_do_not_cross():
    at, tri = graph_of(lambda x, y: -45.0 * np.exp(-((y / 40.0) ** 2)))
    slope = np.stack([np.zeros(len(at)), at[:, 1] / 800.0 * at[:, 2]], axis=1)
    raw = np.column_stack([slope, np.ones(len(at))])
    raw /= np.linalg.norm(raw, axis=1, keepdims=True)
    face = (np.abs(at[:, 0]) < 139.0) & (np.abs(at[:, 1]) < 139.0)
    even = bridged(at, raw, tri, face=face)
    # Where the face is held at its edge directors are what they were.
    inner = tri[(np.abs(at[tri, 0]) < 100.0).all(axis=1)]
    crossed = [bool((facing(at + 45.0 * d, inner) <= 0).any()) for d in (raw, even)]
    assert crossed == [True, False]
    # Beside the hollow nothing changes.
    assert np.array_equal(even[~face], raw[~face])


def test_directors_of_a_bulge_stay_as_they_are():
    at, tri = graph_of(lambda x, y: -0.002 * (x**2 + y**2))
    raw = np.column_stack([0.004 * at[:, :2], np.ones(len(at))])
    face = (np.abs(at[:, 0]) < 139.0) & (np.abs(at[:, 1]) < 139.0)
    assert bridged(at, raw, tri, face=face) is raw


def test_a_cover_that_does_not_come_to_rest_is_refused(monkeypatch):
    monkeypatch.setattr("meshes.settle.equilibrium.NEWTON_STEPS_MOST", 1)
    with pytest.raises(ProblemError) as refused:
        build(pad_of(), edge_mm=15.0, tension_n_per_mm=0.3)
    (problem,) = refused.value.problems
    assert problem.code == "G141"
    assert "does not come to rest" in problem.text
    assert "usually help" in problem.text
    assert isinstance(problem, Problem)


def test_panels_are_parts_of_the_settled_surface():
    pad = plain(0.15)
    for panel in pad.panels:
        assert np.array_equal(panel.surface.vertices, pad.surface.vertices[panel.vertices])


def test_softer_material_of_the_shop_is_crushed_more():
    soft = {**BUILT_IN, "foam_medium": BUILT_IN["foam_very_soft"]}
    pad = build(pad_of(), edge_mm=12.0, tension_n_per_mm=0.1, materials=soft)
    firm = build(pad_of(), edge_mm=12.0, tension_n_per_mm=0.1)
    assert pad.settled.heights_mm.mean() < firm.settled.heights_mm.mean()
