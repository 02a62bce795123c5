"""Rows about leather and padding on a made seat: what becomes of the piece, of what is sewn to it, of all others."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString

from flatten.bench.fit_tried import fit_tried
from flatten.figures.report import report
from flatten.fit.places import edge_names, lengths_to, places_on
from flatten.fit.words import FIGURES_ARE
from flatten.job.make import fitted_job, make
from flatten.leather.stretch import stretch
from flatten.leather.tension import pull_of
from flatten.pieces.piece import LineKind, MarkKind
from flatten.report.page import report_html
from flatten.reshape.raised import passes_through
from flatten.reshape.stretched import cut_for
from flatten.reshape.told import NOT_SETTLED, raise_words
from meshes.base.problems import ProblemError
from meshes.base.surface import Surface, curve_length
from meshes.fitting.notes import FitNote, FitSpan
from meshes.seat.seam_sides import sides_of
from tests.flatten.fit.test_fit_notes import edge_of, noted, offsets, piece_of
from tests.samples import sample_job

FACE, TOP = "back face", "back top band"
LEFT, RIGHT = "=cushion left band", "=cushion right band"


def along(share, **more):
    return FitNote(more.pop("round", 1), more.pop("row", 0), more.pop("piece", FACE), stretched=share, **more)


def higher(amount, **more):
    place = {"piece": FACE, "edge": "top band", "start": "1", "end": "2"} | more
    return FitNote(place.pop("round", 1), place.pop("row", 0), place.pop("piece"), higher_mm=amount, **place)


LOWER = higher(-3.0, piece="=cushion face", edge="front band", start=None, end=None)


@pytest.fixture(scope="module")
def measured():
    """The leather of the back face stretched by 2.8 % along the backbone at the pull it was cut for."""
    return noted(along(0.028))


@pytest.fixture(scope="module")
def raised():
    return noted(higher(5.0))


def seams_of(job):
    return {seam.name: seam for seam in job.seams}


def apart(job):
    """The largest distance along a seam by which marks of both sides that belong together miss each other, mm, and how
    many marks there were."""
    worst, count = 0.0, 0
    drawn = {panel: piece for piece in job.pieces for panel in piece.panels}
    for pad in job.pads:
        panels = {panel.name: panel for panel in pad.panels}
        for seam in pad.seams:
            sides = []
            for name, run in sides_of(seam, panels):
                piece, rim = drawn[name], panels[drawn[name].panels[0]].rim
                k = next(k for k, edge in enumerate(rim) if np.array_equal(np.sort(edge.vertices), np.sort(run)))
                line = LineString(piece.edges[k].points)
                marks = [m for m in piece.marks if m.kind in (MarkKind.NOTCH, MarkKind.DOUBLE_NOTCH)]
                spots = [shapely.Point(m.at) for m in marks]
                at = sorted(line.project(spot) for spot in spots if line.distance(spot) < 0.05)
                back = rim[k].vertices[0] != run[0]
                sides.append(sorted(line.length - a for a in at) if back else at)
            if len(sides[0]) == len(sides[1]) and sides[0]:
                worst = max(worst, np.abs(np.subtract(*sides)).max())
                count += len(sides[0])
    return worst, count


def test_a_piece_is_cut_for_the_stretch_that_was_found(measured):
    before = sample_job()
    panel = before.panels[FACE]
    was, now = (cut_for(panel, job.flats[FACE]) for job in (before, measured))
    assert now[0] == pytest.approx(0.028, abs=1e-4)
    assert now[1] == pytest.approx(was[1], abs=1e-4)
    old, new = (job.flats[FACE] for job in (before, measured))
    long = [np.ptp(flat.points @ flat.backbone) for flat in (old, new)]
    assert long[1] / long[0] == pytest.approx((1.0 + was[0]) / 1.028, abs=1e-5)
    # It pulls as it did: the reading is a point of its card.
    card = measured.coverings.card(FACE)
    pulls = [
        pull_of(stretch(panel.surface.vertices, flat.points, panel.surface.triangles), flat.backbone, leather)
        for flat, leather in ((old, before.coverings.card(FACE)), (new, card))
    ]
    assert pulls[1].tension_n_per_mm == pytest.approx(pulls[0].tension_n_per_mm, rel=2e-3)
    assert "measured at dry fit 1: 2.8 %" in card.source["stiffness_along"]
    assert card.stiffness_across == before.coverings.card(FACE).stiffness_across
    assert measured.coverings.card(TOP) == before.coverings.card(TOP)


def test_verdict_budget_and_certificate_come_from_that_one_map(measured):
    flat, panel = measured.flats[FACE], measured.panels[FACE]
    field = stretch(panel.surface.vertices, flat.points, panel.surface.triangles)
    assert np.array_equal(field.values, flat.stretch)
    assert (flat.demand, flat.certified) == (field.demand, True)
    # More of what the leather gives is used up.
    assert flat.budget < sample_job().flats[FACE].budget
    assert (flat.demand <= flat.budget) == (flat.over is None)


def test_what_is_sewn_to_it_follows_and_nothing_else(measured):
    before = sample_job()
    old, new = seams_of(before), seams_of(measured)
    for name, seam in new.items():
        assert seam.mismatch_mm == pytest.approx(old[name].mismatch_mm, abs=0.02), name
        assert seam.sews
        if FACE not in (seam.a, seam.b):
            assert seam.length_a_mm == pytest.approx(old[name].length_a_mm, abs=0.02)
    assert new["back face / right band"].length_a_mm < old["back face / right band"].length_a_mm - 1.0
    for one, two in zip(before.pieces, measured.pieces, strict=True):
        if one.pad != "back":
            assert np.array_equal(one.cut, two.cut)
    assert measured.fitting.told[0].follow[0][0] in ("back right band", "back left band")


@pytest.mark.parametrize("row", [along(0.028), along(0.02, way="across"), higher(5.0), LOWER])
def test_marks_are_laid_anew_and_meet_their_partners(row):
    first, count = apart(sample_job())
    worst, again = apart(noted(row))
    assert again == count > 20
    assert worst <= first + 0.05
    assert worst < 0.5


def test_marks_meet_after_a_line_was_moved_too():
    worst, count = apart(noted((1, -6.0)))
    assert count > 20
    assert worst < 0.5


def test_the_old_line_is_drawn_beside_it_and_said(measured, raised):
    for job in (measured, raised):
        piece, old = piece_of(job, FACE), piece_of(sample_job(), FACE)
        lines = [line for line in piece.inner if line.kind is LineKind.BEFORE]
        assert lines
        assert sum(note.startswith("round 1") for note in piece.notes) == 1
        assert piece.sew.shape != old.sew.shape or np.abs(piece.sew - old.sew).max() > 0.5
    assert "256.6 to 254.9 mm" in piece_of(measured, FACE).notes[-1]
    assert "padding 5.0 mm higher along top band, from 1 to 2" in piece_of(raised, FACE).notes[-1]
    assert "drawn over padding 5.0 mm higher at face" in piece_of(raised, TOP).notes[-1]
    assert report_html(raised, {}).decode().count(FIGURES_ARE) == 1
    assert {row["piece"]: row["out_mm"] > 3.0 for row in report(raised)["fitting"]} == {"face": True}


def test_pieces_over_a_raised_place_grow_as_the_seat_does(raised):
    before = sample_job()
    for name in (FACE, TOP):
        old, new = before.panels[name], raised.panels[name]
        ways = [cut_for(old, before.flats[name]), cut_for(new, raised.flats[name])]
        assert ways[1] == pytest.approx(ways[0], abs=1.5e-3)
        assert raised.flats[name].certified
        assert raised.flats[name].lower is None
    shift = raised.pads[1].surface.vertices - before.pads[1].surface.vertices
    assert np.linalg.norm(shift, axis=1).max() == pytest.approx(5.0, abs=0.05)
    seam = seams_of(raised)["back face / top band"]
    assert seam.sews
    assert seam.seat_mm > seams_of(before)["back face / top band"].seat_mm + 0.5


def test_a_raised_place_leaves_the_rest_as_it_was(raised):
    before = sample_job()
    old, new = seams_of(before), seams_of(raised)
    for name, seam in new.items():
        if name != "back face / top band":
            assert seam.length_a_mm == pytest.approx(old[name].length_a_mm, abs=0.02)
            assert seam.length_b_mm == pytest.approx(old[name].length_b_mm, abs=0.02)
    for name, flat in raised.flats.items():
        if name not in (FACE, TOP):
            assert flat is before.flats[name]
    # The corners of the face stay, against each other, where they were.
    corners = [np.array([edge.points[0] for edge in piece_of(job, FACE).edges]) for job in (before, raised)]
    sides = [np.linalg.norm(np.diff(one[[0, 1, 2, 3, 0]], axis=0), axis=1) for one in corners]
    assert sides[1][[0, 2]] == pytest.approx(sides[0][[0, 2]], abs=0.1)


def test_rounds_add_up_and_the_same_rows_make_the_same_pieces(raised, measured):
    twice = noted(higher(3.0), higher(2.0, round=2, row=1))
    assert twice.flats[FACE].points == pytest.approx(raised.flats[FACE].points, abs=0.02)
    back = noted(higher(3.0), higher(-3.0, round=2, row=1))
    assert back.flats[FACE].points == pytest.approx(sample_job().flats[FACE].points, abs=1e-3)
    # A later reading takes the place of an earlier one, so what both change adds up to it.
    later = noted(along(0.024), along(0.028, round=2, row=1))
    assert later.flats[FACE].points == pytest.approx(measured.flats[FACE].points, abs=1e-6)
    assert [row.note.round for row in later.fitting.told] == [1, 2]
    again = noted(along(0.028))
    for one, two in zip(again.pieces, measured.pieces, strict=True):
        assert np.array_equal(one.cut, two.cut)


def test_lines_are_moved_on_the_pieces_as_they_are_after_it(measured):
    """Six millimetres taken in move exactly that stretch of both partners, also on a piece of another size."""
    span = FitNote(2, 1, FACE, FitSpan("top band", "1", "2", -6.0))
    both = noted(along(0.028), span)
    for panel, edge in ((FACE, "top band"), (TOP, "face")):
        at, away = offsets(measured, both, panel, edge)
        piece = piece_of(measured, panel)
        places = {place.short: place.along_mm for place in places_on(piece, edge_names(piece).index(edge))}
        low, high = sorted((places["1"], places["2"]))
        assert away[(at >= low + 1) & (at <= high - 1)] == pytest.approx(6.0, abs=0.05)
        for name in ("right band", "left band"):
            one, two = (edge_of(piece_of(job, panel), name).points for job in (measured, both))
            assert np.abs(one - two).max() < 0.1
    told = [row.note.row for row in both.fitting.told]
    assert told == [0, 1]
    notes = [note for note in piece_of(both, FACE).notes if note.startswith("round")]
    assert len(notes) == 2


def test_one_side_alone_parts_the_pair_and_leaves_the_other():
    before = sample_job()
    job = noted(along(0.03, piece=LEFT, alone=True))
    assert np.array_equal(piece_of(job, RIGHT).cut, piece_of(before, RIGHT).cut)
    assert cut_for(job.panels[LEFT], job.flats[LEFT])[0] == pytest.approx(0.03, abs=1e-4)
    assert job.coverings.card(RIGHT) == before.coverings.card(RIGHT)
    assert job.coverings.card(LEFT) != before.coverings.card(LEFT)
    seams = seams_of(job)
    kept = seams_of(before)["=cushion face / right band 1"]
    assert seams[kept.name].length_a_mm == pytest.approx(kept.length_a_mm, abs=0.02)
    assert all(
        seam.mismatch_mm == pytest.approx(seams_of(before)[name].mismatch_mm, abs=0.02) for name, seam in seams.items()
    )
    high = noted(higher(4.0, piece="=cushion face", edge="left band 2", start="1", end="3", alone=True))
    assert {piece.name for piece in high.pieces} >= {"right band", "left band"}
    assert high.flats[RIGHT].points == pytest.approx(before.flats[RIGHT].points, abs=0.02)
    assert "alone" not in piece_of(high, RIGHT).notes
    # Without it both sides are raised, and the pair stays one drawing.
    pair = noted(higher(4.0, piece="=cushion face", edge="left band 2", start="1", end="3"))
    assert "likewise where the seat is mirrored" in pair.fitting.told[0].words
    assert "likewise" not in high.fitting.told[0].words
    assert piece_of(pair, RIGHT) is piece_of(pair, LEFT)


def problems(*rows):
    with pytest.raises(ProblemError) as found:
        noted(*rows)
    return [(problem.code, problem.keys[1:], problem.text) for problem in found.value.problems]


@pytest.mark.parametrize(
    ("rows", "code", "keys", "words"),
    [
        ([along(0.0)], "F345", (0, "stretched"), "0 % is no reading"),
        ([along(0.2)], "F345", (0, "stretched"), "more than firm may be stretched along the backbone (3.0 %)"),
        ([along(0.024), along(0.026, row=1)], "F334", (1, "stretched"), "row 1 says 2.4 %"),
        ([higher(5.0), higher(3.0, row=1)], "F334", (1, "padding"), "row 1 says padding 5"),
        ([higher(5.0), higher(3.0, row=1, piece=TOP, edge="face")], "F334", (1, "padding"), "row 1 says padding 5"),
        ([higher(5.0, taper_mm=20.0)], "F347", (0, "taper"), "need 40 mm"),
        ([higher(-60.0)], "F347", (0, "padding"), "than padding lies there"),
        ([higher(5.0, piece=TOP, edge="top tack line", start=None, end=None)], "F347", (0, "edge"), "fixed there"),
        ([higher(5.0, start="9")], "F332", (0, "from"), 'no mark "9"'),
        ([higher(5.0, edge="top bnad")], "F331", (0, "edge"), 'did you mean "top band"'),
        ([higher(5.0, piece="back fcae")], "F330", (0, "piece"), 'did you mean "back face"'),
    ],
    ids=lambda one: one if isinstance(one, str) else None,
)
def test_what_cannot_be_or_contradicts_itself_is_refused(rows, code, keys, words):
    ((found, where, text),) = problems(*rows)
    assert (found, where) == (code, keys)
    assert words in text


def test_faults_of_all_sorts_of_rows_are_told_at_once():
    span = FitNote(1, 1, FACE, FitSpan("top band", "7", "2", -6.0))
    assert [code for code, *_ in problems(along(0.2), span)] == ["F332", "F345"]


def test_a_slack_piece_has_no_reading():
    job = sample_job()
    flats = {name: replace(flat, points=flat.points * 1.06) for name, flat in job.flats.items()}
    slack = replace(job, flats=flats, sheet=replace(job.sheet, fits=(along(0.02),)))
    with pytest.raises(ProblemError) as found:
        fitted_job(slack)
    assert [problem.code for problem in found.value.problems] == ["F346"]


def test_the_page_tries_such_a_row_before_it_is_written():
    job = sample_job()
    told = fit_tried(job, replace(job.sheet, fits=(along(0.028),)))
    assert len(told["words"]) == 1
    assert {piece["name"] for piece in told["pieces"]} >= {"face", "right band", "left band"}
    assert not told["problems"]


BOX = """
name = "Loose cushion"
unit = "mm"
[cover]
leather = "soft"
[output]
mesh = 30
[[pad]]
name = "cushion"
kind = "cushion"
[pad.outline]
front_width = 320
rear_width = 310
depth = 300
corner_radius = 30
[pad.closed]
thickness = 80
core = "foam_medium"
[[pad.layer]]
material = "wadding"
thickness = 10
where = "face"
"""


@pytest.fixture(scope="module")
def cushion(tmp_path_factory):
    """A small loose cushion with a zip, on coarse triangles."""
    path = tmp_path_factory.mktemp("box") / "box.toml"
    path.write_text(BOX)
    return make(path, workers=1)


def zips_of(job):
    return {
        panel.name: job.flats[panel.name].points[edge.vertices]
        for panel in job.pads[0].panels
        for edge in panel.rim
        if edge.kind == "zip"
    }


def bow(line):
    """How far a line lies off the straight one through its ends, mm."""
    way = (line[-1] - line[0]) / np.linalg.norm(line[-1] - line[0])
    return float(np.abs((line - line[0]) @ np.array([-way[1], way[0]])).max())


@pytest.mark.parametrize("alone", [False, True])
def test_strips_that_follow_stay_straight_and_a_zip_gets_no_longer_on_one_side_unsaid(cushion, alone):
    row = along(0.02, way="across", piece="cushion top plate", alone=alone)
    job = fitted_job(replace(cushion, sheet=replace(cushion.sheet, fits=(row,))))
    old, new = zips_of(cushion), zips_of(job)
    for name, line in new.items():
        assert bow(line) < bow(old[name]) + 0.5
    shorter = {name: curve_length(line) - curve_length(old[name]) for name, line in new.items()}
    told = [problem.code for problem in job.problems if problem.code == "F349"]
    assert shorter["cushion upper zip strip"] < -2.0
    if alone:
        assert shorter["cushion lower zip strip"] == pytest.approx(0.0, abs=0.02)
        assert told == ["F349"]
    else:
        assert shorter["cushion lower zip strip"] == pytest.approx(shorter["cushion upper zip strip"])
        assert not told
    before = seams_of(cushion)
    for name, seam in seams_of(job).items():
        assert seam.mismatch_mm == pytest.approx(before[name].mismatch_mm, abs=0.03)


def test_what_makes_a_piece_too_tight_is_told():
    job = noted(along(0.0299))
    tight = [name for name in (FACE,) if str(job.flats[name].verdict).startswith("too")]
    told = [problem for problem in job.problems if problem.code == "F348"]
    assert len(told) == len(tight)
    assert lengths_to(piece_of(job, FACE).edges[0].points)[-1] > 0.0


def test_a_row_about_padding_says_that_the_seat_is_not_settled_again():
    note = FitNote(1, 0, FACE, higher_mm=4.0, edge="top band")
    words = raise_words(note, "along top band", (60.0, 1.0, 500.0), ("lay 4.0 mm on", ("top band",)))
    assert words.endswith(NOT_SETTLED)


@pytest.mark.parametrize("away", [(0.0, 0.0, 0.0), (-300.0, 200.0, 700.0), (300.0, -200.0, -700.0)])
def test_a_surface_passes_through_itself_where_a_triangle_turns_over_and_nowhere_else(away):
    """A flat square of two triangles, wherever it lies: raised, tilted past upright, and with one triangle turned
    over."""
    flat = np.array([[0.0, 0.0, 0.0], [10.0, 0.0, 0.0], [10.0, 10.0, 0.0], [0.0, 10.0, 0.0]])
    triangles = np.array([[0, 1, 2], [0, 2, 3]])
    old = Surface(flat + away, triangles, {})

    def turned(points):
        return passes_through(old, Surface(points + away, triangles, {}))

    assert not turned(flat + np.array([0.0, 0.0, 5.0]))
    for degrees, over in ((80.0, False), (100.0, True)):
        way = np.deg2rad(degrees)
        assert turned(np.column_stack([flat[:, 0] * np.cos(way), flat[:, 1], flat[:, 0] * np.sin(way)])) == over
    beyond = flat.copy()
    beyond[3] = [10.0, 2.0, 0.0]
    assert turned(beyond)
