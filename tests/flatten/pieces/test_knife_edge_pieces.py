"""Pieces and core of a knife-edge cushion against closed forms. Invented data."""

import numpy as np
import pytest

from flatten.foam.core import core_plan
from flatten.job.make import make
from meshes.records.materials import BUILT_IN
from tests.meshes.closed.test_knife_edge import DEEP, WIDE, knife, text
from tests.pads import sheet_of


def test_its_core_is_shaved_as_the_cover_stands():
    """Of the paraboloid: t (1 - (1 - d/R)2), here 80 mm thick and 200 to the middle."""
    disc = knife('shape = "round"\nwidth = 425.4', thick=80.0, edge_mm=12.0)
    plan = core_plan(disc, disc.pad.closed, BUILT_IN)
    notes = " ".join(plan.shapes[0].notes)
    for d in (25.0, 50.0, 100.0, 150.0):
        assert f"{80.0 * (1.0 - (1.0 - d / 200.0) ** 2):.0f} mm at {d:g}" in notes


def test_its_pieces_fit_and_close():
    job = make(sheet_of(text()), workers=1)
    (piece,) = job.pieces
    assert piece.cut_count + piece.mirrored_count == 2
    (flat, other) = job.flats.values()
    assert [flat.certified, other.demand] == [True, flat.demand]
    # By the trade the piece is cut at the core's size with 1/2 in: finished 1 in less, within what leather stretches.
    assert np.ptp(piece.sew, axis=0) == pytest.approx([WIDE, DEEP], rel=flat.demand)
    assert job.seams[0].length_a_mm == pytest.approx(job.seams[0].length_b_mm, abs=1e-6)
