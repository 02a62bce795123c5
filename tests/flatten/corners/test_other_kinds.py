"""What other kinds of corner would ask, against seats that have them. Invented data."""

from types import SimpleNamespace

import pytest

from flatten.corners.other_kinds import KINDS_MESH_MM, kinds_of_corner, kinds_words
from flatten.job import relieve as relieve_module
from flatten.job.make import make
from flatten.job.relieve import relief_dict, relief_text, relieve_job
from meshes.records.corners import CornerFinish
from tests.pads import sheet_of

SEAT = f"""
name = "slip seat"
[cover]
leather = "furniture"
tension = 0
[output]
mesh = {KINDS_MESH_MM}
[[pad]]
name = "seat"
kind = "cushion"
[pad.outline]
front_width = 320
rear_width = 300
depth = 290
corner_radius = 15
[pad.sides]
front = {{ drop = 50, edge_radius = 10 }}
right = {{ drop = 50, edge_radius = 10 }}
rear = {{ drop = 50, edge_radius = 10 }}
"""


@pytest.fixture(scope="module")
def tight():
    return make(sheet_of(SEAT), workers=1)


@pytest.fixture(scope="module")
def kinds(tight):
    (pad,) = tight.pads
    card = tight.coverings.card("seat face")
    return kinds_of_corner(pad, pad.panels[0], card, tight.tensions[0] if tight.tensions else None, {})


@pytest.mark.parametrize(("k", "word"), [(0, "double"), (1, "sewn")])
def test_each_asks_what_a_seat_that_has_it_asks(kinds, k, word):
    job = make(sheet_of(SEAT + f'[pad.folds]\nall = "{word}"\n'), workers=1)
    (flat,) = job.flats.values()
    assert kinds[k].demand == pytest.approx(flat.demand, abs=0.003)
    assert kinds[k].verdict == flat.verdict
    assert CornerFinish(word) in kinds[k].kinds
    if job.pads[0].division.folds:
        assert kinds[k].depth_mm == pytest.approx(max(fold.depth_mm for fold in job.pads[0].division.folds), abs=0.01)
    else:
        assert kinds[k].depth_mm is None


def test_leather_at_a_corner_is_three_layers_folded_two_sewn_and_one_drawn(tight, kinds):
    thick = tight.leather.thickness_mm
    assert dict(zip(kinds[0].kinds, kinds[0].thick_mm, strict=True)) == pytest.approx(
        {"drawn": thick, "single": 3.0 * thick, "double": 3.0 * thick}
    )
    assert kinds[1].thick_mm == pytest.approx((2.0 * thick,))


def test_relief_tells_them_for_a_face_that_is_too_tight(tight, kinds, monkeypatch):
    """Cuts themselves are looked for elsewhere, and take long."""
    nothing = SimpleNamespace(demand=1.0, reliefs=(), tried=0, status=tight.flats["seat face"].made.status)
    monkeypatch.setattr(relieve_module, "relieve", lambda task, most: nothing)
    found = relieve_job(tight, most=1, workers=1)
    text = relief_text(found.advice)
    for words in kinds_words(kinds):
        assert words in text
    (panel,) = relief_dict(found.advice)["panels"]
    assert [row["demand"] for row in panel["corners"]] == pytest.approx([kind.demand for kind in kinds])


def test_a_pad_with_bands_has_no_such_corners(tight):
    banded = make(sheet_of(SEAT.replace("edge_radius = 10", "edge_radius = 10, band = true")), workers=1)
    (pad,) = banded.pads
    face = next(panel for panel in pad.panels if panel.part == "face")
    assert kinds_of_corner(pad, face, tight.leather, None, {}) == ()
