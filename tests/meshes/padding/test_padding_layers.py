"""Where padding layers lie and how they run out: laws of their weights, and distances measured in another way."""

from dataclasses import replace

import numpy as np
import pytest

from meshes.base.problems import Problem
from meshes.padding.layers import PadDistances, edge_thickness, free_thickness, layer_thickness, places
from meshes.records.pad import SIDES, Layer
from meshes.support.chart import pad_chart
from tests.pads import FLAT, sheet_of

FACE = Layer("foam_medium", 20.0, "face", None, 30.0, below=12.0)
ALL = Layer("foam_medium", 20.0, "all", None, 40.0)
SIDE = Layer("wadding", 8.0, "right", None, 25.0)
STRIP = Layer("wadding", 8.0, "front", 60.0, 35.0, below=9.0)


def along(count=121, *, low=-60.0, high=60.0, **known):
    """Places along one way over the edge: below the middle of its turn from low to high; the rest as told, or far."""
    below = np.linspace(low, high, count)
    far, zero = np.full(count, 1e6), np.zeros(count)
    given = {
        "below": below,
        "to_tack": 500.0 - below,
        "share": dict.fromkeys(SIDES, zero),
        "from_side": dict.fromkeys(SIDES, far),
        "in_from_turn": -below,
    }
    return PadDistances(**{**given, **known})


def shares(side, count=121):
    return {s: np.full(count, float(s == side)) for s in SIDES}


def test_a_face_layer_is_full_up_to_where_it_is_carried_and_gone_a_taper_further():
    at = along()
    thick = layer_thickness(FACE, at)
    assert (thick[at.below <= 12.0] == 20.0).all()
    assert (thick[at.below >= 42.0] == 0.0).all()
    between = (at.below > 12.5) & (at.below < 41.5)
    assert (np.diff(thick[between]) < 0).all()


@pytest.mark.parametrize(
    ("layer", "middle"), [(FACE, 12.0 + 15.0), (SIDE, -12.5)], ids=["over the edge", "in over the face"]
)
def test_a_taper_is_the_same_seen_from_both_ends(layer, middle):
    """What is gone on one side of its middle is left on the other, so it takes half of a full taper's padding."""
    way = np.linspace(-0.5, 0.5, 121) * layer.taper
    at = along(low=middle - 0.5 * layer.taper, high=middle + 0.5 * layer.taper, share=shares(layer.where))
    thick = layer_thickness(layer, at)
    assert at.below == pytest.approx(middle + way)
    assert thick + thick[::-1] == pytest.approx(layer.thickness)
    assert thick[60] == pytest.approx(0.5 * layer.thickness)


def test_a_side_layer_begins_a_taper_in_on_the_face_and_stays_on_its_side():
    at = along(share=shares("right"))
    thick = layer_thickness(SIDE, at)
    assert (thick[at.below >= 0.0] == 8.0).all()
    assert (thick[at.below <= -25.0] == 0.0).all()
    assert (np.diff(thick[(at.below > -24.5) & (at.below < -0.5)]) > 0).all()
    assert not layer_thickness(SIDE, along(share=shares("left"))).any()
    half = along(share={s: np.full(121, 0.5 * (s in ("right", "rear"))) for s in SIDES})
    assert layer_thickness(SIDE, half) == pytest.approx(0.5 * thick)


def test_a_layer_all_over_runs_out_at_the_tack_line():
    at = along(to_tack=np.linspace(80.0, 0.0, 121))
    thick = layer_thickness(ALL, at)
    assert (thick[at.to_tack >= 40.0] == 20.0).all()
    assert thick[-1] == 0.0
    middle = np.argmin(np.abs(at.to_tack - 20.0))
    assert thick[middle] == pytest.approx(10.0, abs=1e-9)
    # Without a taper it is full to the end.
    assert (layer_thickness(replace(ALL, taper=0.0), at) == 20.0).all()


def test_a_strip_along_a_side_is_full_within_its_width_and_over_the_edge():
    inward = np.linspace(150.0, 0.0, 121)
    from_side = {s: inward if s == "front" else np.full(121, 1e6) for s in SIDES}
    on_face = layer_thickness(STRIP, along(low=-160.0, high=-1.0, from_side=from_side))
    assert (on_face[inward <= 60.0] == 8.0).all()
    assert (on_face[inward >= 95.0] == 0.0).all()
    assert np.interp(-77.5, -inward, on_face) == pytest.approx(4.0, abs=0.01)
    over = {s: np.zeros(121) if s == "front" else np.full(121, 1e6) for s in SIDES}
    at = along(from_side=over)
    thick = layer_thickness(STRIP, at)
    assert (thick[at.below <= 9.0] == 8.0).all()
    assert (thick[at.below >= 44.0] == 0.0).all()
    assert np.interp(26.5, at.below, thick) == pytest.approx(4.0, abs=0.02)


def test_thickness_grows_with_the_layer_and_layers_add_up():
    at = along(share=shares("right"))
    layers = [FACE, SIDE, ALL, STRIP]
    assert free_thickness(layers, at) == pytest.approx(sum(layer_thickness(one, at) for one in layers))
    thicker = [replace(one, thickness=3.0 * one.thickness) for one in layers]
    assert free_thickness(thicker, at) == pytest.approx(3.0 * free_thickness(layers, at))
    assert not free_thickness([], at).any()


TURNED = FLAT + "[pad.sides.left]\ndrop = 80\nedge_radius = 20\nband = true\n"


def make_problem(code, keys, text):
    return Problem(code, "", text)


def chart_of(*layers):
    pad = replace(sheet_of(TURNED).pads[0], layers=layers)
    return pad, pad_chart(pad, edge_thickness(pad), make_problem)


def test_distances_are_those_of_a_rectangle():
    """Away from the corners the pad is a rectangle of 400 x 300: what is asked can be read from x and y."""
    _, chart = chart_of()
    plan = np.array([[0.0, 150.0], [100.0, 60.0], [-150.0, 150.0], [10.0, 255.0]])
    u, c = chart.from_plane(plan)
    at = places(chart, plan, u, c)
    want = {"front": plan[:, 1], "rear": 300 - plan[:, 1], "right": 200 - plan[:, 0], "left": 200 + plan[:, 0]}
    for side, distance in want.items():
        assert at.from_side[side] == pytest.approx(distance, abs=1e-6), side
    nearest = np.min(list(want.values()), axis=0)
    # The face begins where the edge of 20 mm begins to turn.
    assert at.in_from_turn == pytest.approx(nearest - 20.0, abs=1e-6)
    # The middle of a quarter turn of 20 mm lies 5 pi further.
    assert at.below == pytest.approx(20.0 - nearest - 5.0 * np.pi, abs=1e-6)
    # A side of 80 mm has 60 below the turn.
    assert at.to_tack == pytest.approx(nearest - 20.0 + 10.0 * np.pi + 60.0, abs=1e-6)


def test_every_place_belongs_to_sides_by_shares_that_add_up():
    _, chart = chart_of()
    u = np.linspace(0.0, chart.outline.period, 97, endpoint=False)
    at = places(chart, chart.outline.point(u), u, np.full(97, 10.0))
    assert sum(at.share.values()) == pytest.approx(np.ones(97))
    for k, side in enumerate(SIDES):
        # Corner k owns [2 k, 2 k + 1], the run after it the rest.
        run = (u > 2 * k + 1) & (u < 2 * k + 2)
        assert (at.share[side][run] == 1.0).all()
    # Past the outline nothing is far from the side it lies at.
    assert at.from_side["front"][(u > 1.0) & (u < 2.0)] == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(
    "layer", [FACE, replace(FACE, below=0.0), ALL, replace(SIDE, where="front"), STRIP, replace(STRIP, where="right")]
)
def test_padding_on_the_edge_is_what_lies_on_its_middle(layer):
    """Two ways to it: asked of the pad, and measured at the middle of the turn on every side's run."""
    pad, chart = chart_of(layer)
    edge = edge_thickness(pad)
    for k, side in enumerate(SIDES):
        u = np.array([2 * k + 1.5])
        c = chart.edge(u)
        there = free_thickness(pad.layers, places(chart, chart.to_plane(u, c), u, c))
        assert edge[side] == pytest.approx(there[0], abs=1e-9), side
    assert max(edge.values()) > 0
