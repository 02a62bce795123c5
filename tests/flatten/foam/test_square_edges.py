"""What is told of a block's square edge, against finite elements made outside the project and against laws."""

import re

import pytest

from flatten.foam.block_shapes import square_edge_notes
from meshes.records.materials import BUILT_IN
from meshes.support.chart import make_problem_for
from tests.pads import FLAT, built

SLAB = '[[pad.layer]]\nmaterial = "{}"\nthickness = {}\nwhere = "face"\nform = "block"\n{}\n'


def told(material="foam_firm", thick=75, more="", tension=0.1):
    pad = built(FLAT + SLAB.format(material, thick, more), edge_mm=30.0)
    return square_edge_notes(pad, tension, BUILT_IN, make_problem_for(pad.pad))


def figures(**given):
    (note,) = told(**given)
    assert note.code == "G228"
    assert note.warning
    return [float(found) for found in re.search(r"about (\d+) mm.* in (\d+) mm less", note.text).groups()]


def test_radius_and_length_are_those_of_finite_elements():
    """75 mm of firm foam: 14.5 mm less at 100 N/m; its radius over 20 mm is 25.2 mm at 150 N/m, made independently."""
    assert figures()[1] == pytest.approx(14.5, abs=0.5)
    assert figures(tension=0.15)[0] == pytest.approx(25.2, abs=2.0)


def test_softer_foam_is_pressed_rounder():
    assert figures(material="foam_medium")[0] > figures()[0] + 3.0


@pytest.mark.parametrize("given", [{"tension": 0.0}, {"more": "edge = 20"}, {"thick": 15}, {"tension": 0.01}])
def test_nothing_is_told_where_nothing_is_pressed(given):
    assert told(**given) == []
