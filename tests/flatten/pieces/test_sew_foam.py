"""Sew foam with scrim counts in the surface and is cut as the plain pieces are."""

import numpy as np
import pytest

from flatten.demand.develop import flatten
from flatten.foam.plan import plan_of
from flatten.pieces.pattern import pieces_of, sew_foams_of
from meshes.base.problems import ProblemError
from meshes.records.materials import BUILT_IN
from meshes.seat.build import build
from tests.pads import FLAT, sheet_of

LAYERS = '[[pad.layer]]\nmaterial = "foam_firm"\nthickness = 25\n'
SEWN = '[[pad.layer]]\nmaterial = "foam_soft"\nthickness = 6\nwhere = "all"\nsewn = true\n'


def pad_of(text):
    return build(sheet_of(text).pads[0], edge_mm=24.0)


@pytest.fixture(scope="module")
def made():
    sheet = sheet_of(FLAT + LAYERS + SEWN)
    pad = pad_of(FLAT + LAYERS + SEWN)
    flats = {p.name: flatten(p.surface.vertices, p.surface.triangles) for p in pad.panels}
    return sheet, pad, flats


def test_it_lifts_the_surface_by_its_thickness(made):
    _, pad, _ = made
    bare = pad_of(FLAT + LAYERS)
    assert np.median(pad.thickness_mm) == pytest.approx(np.median(bare.thickness_mm) + 6.0, abs=1e-6)


def test_each_plain_piece_has_one_of_its_own_shape(made):
    sheet, pad, flats = made
    covers = pieces_of(pad, flats, sheet.allowance)
    foams = sew_foams_of(pad, flats, sheet.allowance, {})
    assert [foam.name for foam in foams] == [f"sew foam of {cover.name}" for cover in covers]
    for cover, foam in zip(covers, foams, strict=True):
        assert np.array_equal(cover.cut, foam.cut)
        assert (cover.cut_count, cover.mirrored_count) == (foam.cut_count, foam.mirrored_count)
        assert foam.material == "foam_soft 6 mm with scrim"
        assert not any(edge.seam for edge in foam.edges)


def test_the_padding_plan_leaves_it_out(made):
    sheet, pad, _ = made
    plan = plan_of(pad, BUILT_IN, sheet.allowance)
    assert {layer for one in plan.cut for layer in one.layers} == {1}


@pytest.mark.parametrize(("old", "new"), [("thickness = 6", "thickness = 25"), ('where = "all"', 'where = "front"')])
def test_what_cannot_be_sewn_is_refused(old, new):
    with pytest.raises(ProblemError, match="sew"):
        sheet_of(FLAT + LAYERS + SEWN.replace(old, new))
