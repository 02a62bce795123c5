"""Leathers by panel: each piece is judged by its own, seams stay of one length, and every list is by material."""

import csv
import io

import pytest

from flatten.coverings.pulls import shared_pull
from flatten.coverings.roll_length import ROLL_GAP_MM, roll_length_mm
from flatten.job.make import make
from flatten.leather.card import CARDS
from flatten.report.amounts import leather_area_mm2, lots
from flatten.report.cut_list import cutlist_csv
from meshes.base.problems import ProblemError
from tests.pads import FLAT, sheet_of

HEAD = """
[output]
mesh = 24
[cover]
leather = "furniture"
"""
OTHER = """
[[covering]]
panels = ["bands", "welt"]
leather = "knit_backed_vinyl"
roll = { width = 1370, usable = 1340 }
"""


def sheet(covering: str):
    name, rest = FLAT.split("[[pad]]")
    return sheet_of(name + HEAD + covering + "[[pad]]" + rest.replace("seam_below = 5", "seam_below = 5\nwelt = true"))


@pytest.fixture(scope="module")
def job():
    return make(sheet(OTHER), workers=1)


def test_every_panel_is_judged_by_its_own_leather(job):
    for name, panel in job.panels.items():
        card = job.coverings.card(name)
        assert card.name == ("furniture" if panel.part == "face" else "knit_backed_vinyl")
        flat = job.flats[name]
        # Nothing is slack by its own card; the largest use is by its own limits.
        assert flat.stretch.min() - 1.0 >= card.pull - 1e-3
        reach = flat.stretch.min() * (1.0 + flat.budget) - 1.0
        assert card.stretch_along - 2e-3 <= reach <= card.stretch_across + 2e-3


def test_seams_between_unlike_leathers_stay_of_one_length(job):
    assert job.seams
    assert all(seam.sews for seam in job.seams)
    assert max(abs(seam.mismatch_mm) for seam in job.seams) < 0.5


def test_lists_by_material_add_up_to_all(job):
    face, bands = lots(job)
    assert (face.covering.card.name, bands.covering.card.name) == ("furniture", "knit_backed_vinyl")
    assert face.all_mm2 + bands.all_mm2 == pytest.approx(leather_area_mm2(job), rel=1e-12)
    assert face.welt_mm2 == 0.0 < bands.welt_mm2
    assert bands.roll_mm is not None
    assert bands.roll_mm * 1340.0 >= bands.all_mm2
    rows = list(csv.DictReader(io.StringIO(cutlist_csv(job).decode())))
    cut = {row["name"]: row["material"] for row in rows if row["kind"] == "piece"}
    assert {name for name, material in cut.items() if material == "furniture"} == {"face"}
    assert {row["material"] for row in rows if row["kind"] == "welt"} == {"knit_backed_vinyl"}
    (metres,) = (row for row in rows if row["name"] == "to buy by the metre")
    assert float(metres["length_mm"]) == pytest.approx(bands.roll_mm, abs=0.06)


def test_a_piece_from_another_leather_says_so(job):
    for piece in job.pieces:
        assert ("knit_backed_vinyl" in piece.count_text) == ("band" in piece.name)


def test_names_of_no_panel_are_told():
    with pytest.raises(ProblemError, match="did you mean"):
        make(sheet('[[covering]]\npanels = ["cushion fronnt band"]\nleather = "soft"\n'), workers=1)


@pytest.mark.parametrize("panels", ["[]", '["a", "a"]', '"bands"', "[1]"])
def test_lists_of_panels_that_are_none_are_refused(panels):
    with pytest.raises(ProblemError):
        sheet(f'[[covering]]\npanels = {panels}\nleather = "soft"\n')


def test_one_least_stretch_serves_the_one_that_needs_most_within_the_other_ones_budget():
    one, two = CARDS["furniture"], CARDS["knit_backed_vinyl"]
    assert shared_pull([one]) == one.pull
    assert shared_pull([one, two]) == two.pull
    tight = [CARDS["cloth"], two]
    assert 0.0 <= shared_pull(tight) <= min(c.stretch_along for c in tight)


def test_rows_across_a_roll():
    # Two of 600 side by side, the third in a row of its own.
    length, wide = roll_length_mm([(600.0, 300.0), (600.0, 200.0), (600.0, 100.0), (1400.0, 50.0)], 1340.0)
    assert length == pytest.approx(300.0 + ROLL_GAP_MM + 100.0)
    assert wide == (3,)


def test_a_roll_has_no_more_usable_than_its_width():
    table = '[[covering]]\npanels = ["bands"]\nleather = "soft"\nroll = { width = 900, usable = 1340 }\n'
    with pytest.raises(ProblemError, match="selvedges"):
        make(sheet(table), workers=1)


def test_usable_width_follows_the_roll():
    table = '[[covering]]\npanels = ["bands"]\nleather = "soft"\nroll = { width = 900 }\n'
    assert sheet(table).coverings[0].roll.usable_mm == 870.0
