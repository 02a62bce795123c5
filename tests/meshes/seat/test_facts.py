"""Facts about a pad, each against a body of which it is known."""

import inspect
from dataclasses import replace

import numpy as np
import pytest

from meshes.padding.layers import PadDistances
from meshes.records.pad import Layer, Profile
from meshes.schema.cover_tables import OutputInput
from meshes.seat.build import build
from meshes.seat.facts import RESIDUAL_REFUSED_MM, RESIDUAL_TOLD_MM, pad_facts
from meshes.support.blocks import face_of
from tests.pads import FLAT, built, sheet_of

CROOKED = (
    FLAT.replace("front_width = 400", "front_left = 190\nfront_right = 210")
    .replace("rear_width = 400", "rear_left = 200\nrear_right = 195")
    .replace("\ndepth = 300", "\ndepth_left = 310\ndepth_right = 300")
    .replace("corner_radius = 40", "corner_radius = 30")
)


def differences(text, **profiles):
    pad = sheet_of(text).pads[0]
    return dict(built_from(replace(pad, **profiles)).facts.left_right)


def built_from(pad):
    return build(pad, edge_mm=25.0)


def test_what_was_measured_on_both_sides_is_told_as_right_less_left():
    text = CROOKED + "[pad.sides.left]\ndrop = 70\nedge_radius = 15\nband = true\n"
    told = dict(built(text, edge_mm=25.0).facts.left_right)
    assert told["front half width"] == pytest.approx(20.0)
    assert told["rear half width"] == pytest.approx(-5.0)
    assert told["depth"] == pytest.approx(-10.0)
    assert told["drop"] == pytest.approx(10.0)
    assert told["edge radius"] == pytest.approx(5.0)


def test_heights_on_both_sides_of_the_centre_are_compared_where_they_differ_most():
    low = tuple((y, 4.0) for y in (0.0, 100.0, 200.0, 300.0))
    high = ((0.0, 4.0), (100.0, 5.0), (200.0, 1.5), (300.0, 4.0))
    pairs = (Profile("along", -120.0, low), Profile("along", 120.0, high), Profile("along", 60.0, low))
    told = differences(FLAT, profiles=pairs)
    assert told["height along 120 mm from the centre"] == pytest.approx(-2.5)
    assert "height along 60 mm from the centre" not in told
    across = (Profile("across", 150.0, ((-180.0, 0.0), (-90.0, 3.0), (0.0, 6.0), (90.0, 4.5), (180.0, 0.5))),)
    assert differences(FLAT, profiles=across)["height across at 150 mm"] == pytest.approx(1.5)
    # A profile along that happens to begin on the left of zero is none across.
    along = (Profile("along", 0.0, ((-5.0, 4.0), (2.0, 6.0), (4.0, 9.0), (150.0, 4.0), (300.0, 4.0))),)
    assert not [name for name in differences(FLAT, profiles=along) if name.startswith("height across")]
    half = (Profile("across", 150.0, ((0.0, 6.0), (90.0, 4.5), (180.0, 0.5))),)
    assert "height across at 150 mm" not in differences(FLAT, profiles=half)


def test_an_even_pad_has_no_differences():
    told = dict(built(FLAT, edge_mm=25.0).facts.left_right)
    assert set(told) == {"front half width", "rear half width", "depth", "drop", "edge radius"}
    assert set(told.values()) == {0.0}


def test_area_thickness_triangles_and_the_smallest_angle_are_those_of_the_surface():
    pad = built(FLAT + '[[pad.layer]]\nmaterial = "foam_medium"\nthickness = 20\nwhere = "face"\n', edge_mm=20.0)
    a, b, c = (pad.surface.vertices[pad.surface.triangles[:, k]] for k in range(3))
    sides = [np.linalg.norm(p - q, axis=1) for p, q in ((b, c), (c, a), (a, b))]
    cosines = [
        (sides[j] ** 2 + sides[k] ** 2 - sides[i] ** 2) / (2 * sides[j] * sides[k])
        for i, j, k in ((0, 1, 2), (1, 2, 0), (2, 0, 1))
    ]
    assert pad.facts.smallest_angle_deg == pytest.approx(np.degrees(np.arccos(np.max(cosines))), abs=1e-6)
    assert pad.facts.triangles == len(pad.surface.triangles)
    assert pad.facts.area_mm2 == pytest.approx(0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1).sum())
    assert pad.facts.thickness_mm == (pytest.approx(0.0, abs=1e-9), pytest.approx(20.0))


def test_a_layer_covers_where_more_than_a_fiftieth_of_it_lies():
    pad = built(FLAT, edge_mm=20.0)
    n, x = len(pad.surface.vertices), pad.surface.vertices[:, 0]
    nothing, side = np.zeros(n), np.where(x < -1e-6, 0.019, 0.021)
    at = PadDistances(nothing, nothing, {"front": side}, {"front": nothing}, nothing)
    layer = Layer("foam", 30.0, "front", None, 10.0)
    (row,) = pad_facts(replace(pad.pad, layers=(layer,)), face_of(pad.pad), pad.surface, nothing, at).layers
    assert row[:3] == ("foam", "front", 30.0)
    # Half of an even pad, and half of what hangs on the vertices of its centre line.
    centre = (np.abs(x) < 1e-6)[pad.surface.triangles].sum(axis=1) / 3.0
    a, b, c = (pad.surface.vertices[pad.surface.triangles[:, k]] for k in range(3))
    areas = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
    assert row[3] == pytest.approx(0.5 * areas.sum() + 0.5 * (centre * areas).sum())


def test_a_strip_is_told_with_its_width_and_covers_more_where_it_is_wider():
    pad = sheet_of(FLAT).pads[0]
    layers = tuple(Layer("foam", 30.0, "front", within, 5.0) for within in (30.0, 80.0))
    narrow, wide = built_from(replace(pad, layers=(Layer("foam", 30.0, "face", None, 10.0), *layers))).facts.layers[1:]
    assert (narrow[1], wide[1]) == ("front, within 30 mm", "front, within 80 mm")
    assert wide[3] > narrow[3] > 0.0


def test_the_usual_triangles_are_those_of_a_sheet():
    assert inspect.signature(build).parameters["edge_mm"].default == OutputInput().mesh


def test_profiles_that_miss_each_other_are_told_from_a_millimetre_and_refused_from_ten():
    assert (RESIDUAL_TOLD_MM, RESIDUAL_REFUSED_MM) == (1.0, 10.0)
