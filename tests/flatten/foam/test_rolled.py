"""Thick foam over a tight top that is turned over: the plan says how it goes round, and the body stays what it was."""

import re
from dataclasses import replace

import numpy as np
import pytest

from flatten.foam.plan import plan_of
from flatten.foam.rolled import MOST_LAYERS, Rolled
from meshes.records.materials import BUILT_IN
from meshes.records.pad import Layer
from meshes.seat.build import build
from meshes.settle.section import section
from meshes.settle.section_line import Cut
from meshes.sheet.whole import Allowance
from tests.pads import sheet_of

ALLOWANCE = Allowance(12.0, 12.0, 50.0, 25.0, "square", 120.0)
RADIUS, TURN = 15.0, 150.0
BACK = f"""
name = "test"
[[pad]]
name = "back"
kind = "backrest"
outline = {{bottom_width = 520, top_width = 500, depth = 420, corner_radius = 70}}
layer = [{{material = "foam_firm", thickness = 50}}]
[pad.sides.bottom]
drop = 45
edge_radius = 30
closed_by_hand = true
[pad.sides.right]
drop = 80
edge_radius = 30
[pad.sides.top]
drop = 95
edge_radius = {RADIUS:g}
turn = {TURN:g}
"""


def back(*thicknesses):
    (pad,) = sheet_of(BACK).pads
    return replace(pad, layers=tuple(Layer("foam_firm", mm, "all", None, 0.0) for mm in thicknesses))


@pytest.fixture(scope="module")
def seats():
    return {name: build(back(*layers), edge_mm=20.0) for name, layers in {"one": (50.0,), "laid": (25.0, 25.0)}.items()}


@pytest.fixture(scope="module")
def plans(seats):
    return {name: plan_of(seat, BUILT_IN, ALLOWANCE) for name, seat in seats.items()}


def told(plan):
    return [note for note in plan.notes if note.code == "G155"]


def test_foam_that_cannot_go_over_in_one_is_told_with_the_layers_that_do(plans):
    (note,) = told(plans["one"])
    assert note.warning
    longer = 50.0 * np.deg2rad(TURN)
    for words in (f"{longer:.0f} mm longer", "top edge", "2 layers of 25 mm", f"{longer / 2:.0f} mm longer", "25 mm"):
        assert words in note.text
    (face,) = plans["one"].shapes
    assert any("cut 2 layers of 25 mm" in words for words in face.notes)
    assert not told(plans["laid"])


def test_what_it_is_told_to_be_laid_up_of_is_the_same_body(seats):
    one, laid = seats["one"], seats["laid"]
    assert np.abs(one.surface.vertices - laid.surface.vertices).max() < 1e-9
    cuts = [section(seat.pad, Cut("along", 0.0), tension_n_per_mm=0.0) for seat in (one, laid)]
    assert np.abs(cuts[0].free - cuts[1].free).max() < 1e-6


def test_the_layers_differ_over_the_edge_by_what_is_told(plans):
    """Along the middle an outer layer is longer by thickness times all that it turns by at both ends."""
    tall = []
    for layer in (1, 2):
        (face,) = [shape for shape in plans["laid"].shapes_of(layer) if not shape.name.endswith("band")]
        points = face.mesh.points
        middle = points[np.abs(points[:, 0]) < 5.0]
        tall.append(float(np.ptp(middle[:, 1])))
    bottom = np.deg2rad(90.0)
    assert tall[1] - tall[0] == pytest.approx(25.0 * (np.deg2rad(TURN) + bottom), rel=0.03)


@pytest.mark.parametrize("beneath", [0.0, 1.0, 5.0, 9.0, 15.0, 24.0])
@pytest.mark.parametrize("thick", [12.0, 50.0, 73.0])
def test_layers_that_are_told_go_round_and_add_up(thick, beneath):
    one = Rolled("rear", thick, beneath, TURN, (20.0, 25.0))
    assert len(one.layers_mm) <= MOST_LAYERS
    if one.layers_mm:
        assert sum(one.layers_mm) == pytest.approx(thick)
        round_mm = beneath
        for mm in one.layers_mm:
            assert mm <= 2.0 * round_mm + 1e-9
            round_mm += mm
    else:
        assert thick > MOST_LAYERS * 2.0 * beneath
    number = re.search(r"round the edge beneath it to (\d+) mm", one.advice)
    assert 2.0 * int(number[1]) >= thick
