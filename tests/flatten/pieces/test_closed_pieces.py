"""Pieces of closed covers as they are cut, against closed forms and the check values of the trade. Invented data."""

import numpy as np
import pytest
from shapely.geometry import LineString, Point

from flatten.draw.marks import draw_piece
from flatten.draw.pen import PenLayer, RecordingPen
from flatten.figures.report import report
from flatten.job.make import make
from flatten.pieces.piece import EdgeKind, LineKind, MarkKind
from flatten.report.amounts import welt_mm
from flatten.sections.section import cut_pad
from meshes.base.problems import ProblemError
from meshes.base.units import MM_PER_INCH
from tests.pads import sheet_of

# A cushion of 4 in with a band finished at 3 1/4, seam allowance 1/2 in and 3/4 in folded beside the zip.
CUSHION = """
name = "cushion"
unit = "in"
[output]
mesh = "20 mm"
[allowance]
sewn = 0.5
welted = 0.5
zip = 0.75
[[pad]]
name = "c"
kind = "cushion"
[pad.outline]
front_width = 20
rear_width = 20
depth = 18
corner_radius = 1
[pad.closed]
thickness = 4
core = "foam_firm"
undersize = 0.25
band = 3.25
"""
BOLSTER = """
name = "bolster"
unit = "in"
[output]
mesh = "20 mm"
[allowance]
sewn = 0.5
zip = 0.5
[[pad]]
name = "b"
kind = "cushion"
[pad.outline]
shape = "round"
width = 9
[pad.closed]
form = "roll"
length = 14
"""


@pytest.fixture(scope="module")
def cushion():
    return make(sheet_of(CUSHION), workers=1)


@pytest.fixture(scope="module")
def bolster():
    return make(sheet_of(BOLSTER), workers=1)


def cut_inches(job, name):
    piece = next(piece for piece in job.pieces if piece.name.startswith(name))
    return np.ptp(piece.cut, axis=0) / MM_PER_INCH


def test_a_band_of_four_inches_is_cut_four_and_a_quarter(cushion):
    assert cut_inches(cushion, "band")[1] == pytest.approx(4.25, abs=0.01)


def test_its_zip_strips_are_cut_two_and_seven_eighths(cushion):
    """Half the finished band, the fold, the allowance."""
    assert cut_inches(cushion, "upper zip strip")[1] == pytest.approx(2.875, abs=0.01)


def test_a_bolster_of_nine_by_fourteen(bolster):
    """Discs of 10 in, a tube of 29.27 by 15 with half an inch everywhere."""
    assert cut_inches(bolster, "right end disc") == pytest.approx([10.0, 10.0], abs=0.01)
    assert cut_inches(bolster, "tube") == pytest.approx([29.27, 15.0], abs=0.01)


def test_flat_covers_are_cut_to_their_finished_size(bolster):
    for flat in bolster.flats.values():
        assert flat.stretch == pytest.approx(np.ones_like(flat.stretch), abs=1e-6)
        assert flat.certified
    assert not [problem for problem in bolster.problems if problem.code in ("F201", "F321")]


def test_every_seam_is_equal_on_both_sides(cushion, bolster):
    for job in (cushion, bolster):
        assert job.seams
        for seam in job.seams:
            assert seam.length_a_mm == pytest.approx(seam.length_b_mm, abs=0.2)
            assert seam.length_a_mm == pytest.approx(seam.seat_mm, rel=1e-3, abs=0.2)


def test_beside_a_zip_leather_is_folded_back_and_not_notched(cushion):
    strip = next(piece for piece in cushion.pieces if piece.name.startswith("upper zip strip"))
    zips = [edge for edge in strip.edges if edge.kind is EdgeKind.ZIP]
    assert [edge.allowance_mm for edge in zips] == [pytest.approx(0.75 * MM_PER_INCH)]
    assert zips[0].seam is None


def test_plates_and_strips_are_cut_as_pairs(cushion):
    counts = {piece.name.split(" (")[0]: piece.cut_count + piece.mirrored_count for piece in cushion.pieces}
    assert counts == {"top plate": 2, "band": 1, "upper zip strip": 2}


def test_the_core_is_the_size_that_the_sheet_says(cushion, bolster):
    core = cushion.plans[0].shapes[0]
    assert np.ptp(core.cut, axis=0) / MM_PER_INCH == pytest.approx([20.0, 18.0], abs=1e-6)
    end = bolster.plans[0].shapes[0]
    assert np.ptp(end.cut, axis=0) / MM_PER_INCH == pytest.approx([9.0, 9.0], abs=0.01)


def test_the_tube_is_snipped_all_along_its_round_edges(bolster):
    tube = next(piece for piece in bolster.pieces if piece.name == "tube")
    told = {edge.note for edge in tube.edges if edge.kind is EdgeKind.SEWN}
    assert told == {"snip the allowance every 20 mm"}
    assert all(not edge.note for piece in bolster.pieces if piece.name != "tube" for edge in piece.edges)


def test_a_slim_tube_is_snipped_closer():
    slim = make(sheet_of(BOLSTER.replace("width = 9", "width = 5")), workers=1)
    notes = {edge.note for piece in slim.pieces for edge in piece.edges if edge.note}
    assert notes == {"snip the allowance every 12 mm"}


def test_a_closed_cover_is_not_cut_open(tmp_path):
    sheet = tmp_path / "b.toml"
    sheet.write_text(BOLSTER)
    with pytest.raises(ProblemError) as caught:
        cut_pad(sheet, "b", along=0.0, across=None)
    assert [problem.code for problem in caught.value.problems] == ["C109"]


PANEL = """
name = "outside back"
[output]
mesh = 20
[[pad]]
name = "back"
kind = "backrest"
[pad.outline]
bottom_width = 440
top_width = 400
depth = 380
corner_radius = { bottom_left = 0, bottom_right = 0, top_left = 60, top_right = 60 }
[pad.closed]
form = "panel"
"""


def test_an_outside_back_is_flat_and_its_edges_are_fixed_each_in_its_own_way():
    """Blind-tacked on top 20 mm, closed by hand at the sides 25, stapled below 50; marks to match."""
    job = make(sheet_of(PANEL), workers=1)
    (piece,) = job.pieces
    fixed = {edge.name: (edge.kind, edge.allowance_mm) for edge in piece.edges}
    assert fixed == {
        "top edge": (EdgeKind.BLIND, 20.0),
        "right edge": (EdgeKind.CLOSED, 25.0),
        "left edge": (EdgeKind.CLOSED, 25.0),
        "bottom edge": (EdgeKind.PULLED, 50.0),
    }
    assert np.ptp(piece.sew, axis=0) == pytest.approx([440.0, 380.0], abs=1e-6)
    # The sides lean in, so each upper corner turns by less than a quarter.
    turned = 0.5 * np.pi - np.arctan2(20.0, 380.0)
    corners = 2.0 * 60.0**2 * (np.tan(0.5 * turned) - 0.5 * turned)
    assert job.pads[0].facts.area_mm2 == pytest.approx(0.5 * (440.0 + 400.0) * 380.0 - corners, rel=1e-3)
    sides = [mark for mark in piece.marks if mark.kind is MarkKind.NOTCH]
    assert len(sides) >= 4
    assert job.problems == ()


def test_edges_of_a_panel_are_fixed_as_the_sheet_says():
    every = 'form = "panel"\ntop = "stapled"\nbottom = "stapled"\nleft = "stapled"\nright = "blind-tacked"'
    (piece,) = make(sheet_of(PANEL.replace('form = "panel"', every)), workers=1).pieces
    kinds = {edge.name: edge.kind for edge in piece.edges}
    assert kinds.pop("right edge") is EdgeKind.BLIND
    assert set(kinds.values()) == {EdgeKind.PULLED}


def test_a_core_with_sharp_corners_keeps_them():
    job = make(sheet_of(CUSHION.replace("corner_radius = 1", "corner_radius = 0")), workers=1)
    assert job.plans[0].shapes[0].cut_mm2 == pytest.approx(20.0 * 18.0 * MM_PER_INCH**2, rel=1e-9)


def test_an_eased_edge_of_a_tube_is_snipped_too_whatever_pads_come_after():
    """Two rolls in one sheet: ease in the first one's seam does not take its snips away."""
    second = BOLSTER[BOLSTER.index("[[pad]]") :].replace('name = "b"', 'name = "c"')
    ease = '[[ease]]\nseam = "b right end disc / tube 1"\nlonger = "b tube"\nby = 0.01\n'
    job = make(sheet_of(BOLSTER + second + ease), workers=1)
    tube = next(piece for piece in job.pieces if (piece.pad, piece.name) == ("b", "tube"))
    eased = [e.note for e in tube.edges if "ease" in e.note]
    assert eased
    assert all("snip the allowance every 20 mm" in note for note in eased)


@pytest.mark.parametrize("across_in", [2.4, 4.0])
def test_a_thin_roll_is_cut_and_snipped_like_any_other(across_in):
    """60 and 100 mm across: the tube as wide as the disc is round, snips 12 mm apart on both its round edges."""
    thin = make(sheet_of(BOLSTER.replace("width = 9", f"width = {across_in}").replace('"20 mm"', '"8 mm"')), workers=1)
    assert thin.problems == ()
    assert cut_inches(thin, "right end disc") == pytest.approx([across_in + 1.0] * 2, abs=0.02)
    assert cut_inches(thin, "tube") == pytest.approx([np.pi * across_in + 1.0, 15.0], abs=0.05)
    tube = next(piece for piece in thin.pieces if piece.name == "tube")
    snips = [mark for mark in tube.marks if mark.kind is MarkKind.SNIP]
    round_mm = np.pi * across_in * MM_PER_INCH
    # Both ends; a notch stands where a snip would now and then.
    assert 0.85 * 2.0 * round_mm / 12.0 <= len(snips) <= 2.0 * (round_mm / 12.0 + 2.0)


def test_snips_reach_from_the_cut_edge_to_three_millimetres_off_the_seam_on_no_line_to_cut_along(bolster):
    tube = next(piece for piece in bolster.pieces if piece.name == "tube")
    snips = [mark for mark in tube.marks if mark.kind is MarkKind.SNIP]
    round_mm = np.pi * 9.0 * MM_PER_INCH
    assert 0.85 * 2.0 * round_mm / 20.0 <= len(snips) <= 2.0 * (round_mm / 20.0 + 2.0)
    pen = RecordingPen()
    draw_piece(tube, pen)
    drawn = [points for layer, points, _ in pen.lines if layer is PenLayer.LATER]
    assert len(drawn) == len(snips)
    sew = LineString(np.vstack([tube.sew, tube.sew[:1]]))
    for rim, end in drawn:
        assert sew.distance(Point(rim)) == pytest.approx(0.5 * MM_PER_INCH, abs=1e-3)
        assert sew.distance(Point(end)) == pytest.approx(3.0, abs=1e-3)
    assert not [mark for piece in bolster.pieces if piece.name != "tube" for mark in piece.marks if mark in snips]
    # Snips are no marks to match by: both sides of a seam still count the same.
    for row in report(bolster)["seams"]:
        assert row["marks_a"] == row["marks_b"]


def test_a_band_goes_on_over_both_ends_of_the_zip(cushion):
    """Three inches a side instead of a seam allowance, folded back at half of them; nothing else changes."""
    text = CUSHION.replace("zip = 0.75", "zip = 0.75\nflap = 3").replace("band = 3.25", "band = 3.25\nflap = true")
    job = make(sheet_of(text), workers=1)
    assert cut_inches(job, "band")[0] - cut_inches(cushion, "band")[0] == pytest.approx(2.0 * (3.0 - 0.5), abs=1e-3)
    assert cut_inches(job, "upper zip strip") == pytest.approx(cut_inches(cushion, "upper zip strip"), abs=1e-6)
    band = next(piece for piece in job.pieces if piece.name == "band")
    flaps = [edge for edge in band.edges if edge.kind is EdgeKind.FLAP]
    # The zip parts each end of the band in two.
    assert len(flaps) == 4
    folds = [line.points for line in band.inner if line.kind is LineKind.HELD]
    for fold in folds:
        away = min(LineString(edge.points).hausdorff_distance(LineString(fold)) for edge in flaps)
        assert away == pytest.approx(1.5 * MM_PER_INCH, abs=0.5)
    assert len(folds) == 4
    assert [seam.name for seam in job.seams] == [seam.name for seam in cushion.seams]


def test_zip_and_welt_of_a_box_are_as_long_as_the_closed_form_says():
    """A zip along the rear and past both corners; welt once round each plate, less the undersize."""
    wide, deep, corner, less = 480.0, 400.0, 40.0, 10.0
    text = f"""
name = "box"
[output]
mesh = 12
[[pad]]
name = "c"
kind = "cushion"
[pad.outline]
front_width = {wide}
rear_width = {wide}
depth = {deep}
corner_radius = {corner}
[pad.closed]
thickness = 80
undersize = {less}
welt = true
past_corner = 130
"""
    job = make(sheet_of(text), workers=1)
    drawn = corner - 0.5 * less
    round_mm = 2.0 * (wide - less + deep - less) - 8.0 * drawn + 2.0 * np.pi * drawn
    rear = wide - less - 2.0 * drawn + 0.5 * np.pi * drawn
    assert job.pads[0].closed.zip_mm == pytest.approx(rear + 2.0 * 130.0, abs=0.5)
    assert welt_mm(job) == pytest.approx(2.0 * round_mm, rel=1e-3)
