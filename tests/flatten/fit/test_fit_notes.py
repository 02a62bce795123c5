"""Rows of fitting on a made seat: what moves, what follows, what stays, and what is refused."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Polygon

from flatten.draw.marks import line_record
from flatten.draw.pen import PenLayer
from flatten.figures.report import report
from flatten.fit.moved import CrossedError, EdgeMove, with_moves
from flatten.fit.places import edge_names, edge_sides, place_named, places_on
from flatten.job.make import fitted_job
from flatten.pieces.piece import LineKind, MarkKind
from flatten.report.cut_list import cutlist_csv
from meshes.base.problems import ProblemError
from meshes.fitting.notes import FitNote, FitSpan
from meshes.schema.cover_tables import IN_ALL, OFF_RIDGE
from tests.pieces import edges_of
from tests.pieces import piece_of as piece_with_edges
from tests.samples import sample_job


def piece_with(corners):
    return piece_with_edges("strip", edges_of(corners, [12.0] * 4))


def noted(*rows, piece="back face", edge="top band", start="1", end="2"):
    """The sample job with rows of (round, out_mm) about one stretch, or of whole notes."""
    notes = [
        row if isinstance(row, FitNote) else FitNote(row[0], k, piece, FitSpan(edge, start, end, row[1]))
        for k, row in enumerate(rows)
    ]
    job = sample_job()
    return fitted_job(replace(job, sheet=replace(job.sheet, fits=tuple(notes))))


def piece_of(job, panel):
    return next(piece for piece in job.pieces if panel in piece.panels)


def edge_of(piece, name):
    return piece.edges[edge_names(piece).index(name)]


@pytest.fixture(scope="module")
def taken():
    """Six millimetres taken in along the middle of the top of the back, and the job before."""
    return sample_job(), noted((1, -6.0))


def offsets(before, after, panel, edge):
    """How far inside the old line points every mm along it find the new one, and where they are along it."""
    old, new = (LineString(edge_of(piece_of(job, panel), edge).points) for job in (before, after))
    at = np.arange(1.0, old.length - 1.0)
    return at, np.array([new.distance(shapely.line_interpolate_point(old, a)) for a in at])


@pytest.mark.parametrize(("panel", "edge"), [("back face", "top band"), ("back top band", "face")])
def test_both_partners_move_by_the_amount_between_the_marks_and_run_out(taken, panel, edge):
    before, after = taken
    piece = piece_of(before, panel)
    places = {place.short: place.along_mm for place in places_on(piece, edge_names(piece).index(edge))}
    at, away = offsets(before, after, panel, edge)
    low, high = sorted((places["1"], places["2"]))
    assert away[(at >= low + 1) & (at <= high - 1)] == pytest.approx(6.0, abs=0.05)
    # it is out at the corners, as the next marks are farther than eight times six
    assert away[[0, -1]] == pytest.approx(0.0, abs=0.05)
    assert np.abs(np.diff(away)).max() < np.pi / 16 + 0.01
    inside = Polygon(piece.sew)
    assert inside.buffer(0.01).contains(LineString(edge_of(piece_of(after, panel), edge).points))


def test_everything_else_stays_where_it_was(taken):
    before, after = taken
    for old, new in zip(before.pieces, after.pieces, strict=True):
        if old.panels[0] not in ("back face", "back top band"):
            assert new is old or (np.array_equal(new.cut, old.cut) and new.notes == old.notes)
            continue
        moved = "top band" if old.panels[0] == "back face" else "face"
        for one, other, name in zip(old.edges, new.edges, edge_names(old), strict=True):
            if name != moved:
                assert np.abs(one.points - other.points).max() < 0.1
                assert (one.allowance_mm, one.seam, one.kind) == (other.allowance_mm, other.seam, other.kind)
        # the cut line differs along the moved edge alone
        change = Polygon(old.cut).symmetric_difference(Polygon(new.cut)).buffer(-0.05)
        band = LineString(edge_of(old, moved).points).buffer(14.0)
        assert band.contains(change)
        assert change.area > 6.0 * 70.0


def test_the_cut_line_keeps_its_allowance_from_the_moved_line(taken):
    piece = piece_of(taken[1], "back face")
    edge = edge_of(piece, "top band")
    cut = shapely.LinearRing(piece.cut)
    middle = edge.points[len(edge.points) // 4 : 3 * len(edge.points) // 4]
    assert [cut.distance(shapely.Point(p)) for p in middle] == pytest.approx(
        [edge.allowance_mm] * len(middle), abs=0.05
    )


def test_marks_stay_on_the_line_and_on_their_partners(taken):
    before, after = taken
    for panel, edge in (("back face", "top band"), ("back top band", "face")):
        old, new = piece_of(before, panel), piece_of(after, panel)
        k = edge_names(new).index(edge)
        assert [p.name for p in places_on(new, k)] == [p.name for p in places_on(old, k)]
        pairs = [(a, b) for a, b in zip(old.marks, new.marks, strict=True) if np.abs(a.at - b.at).max() > 1.0]
        assert {b.kind for _, b in pairs} >= {MarkKind.NOTCH, MarkKind.DOUBLE_NOTCH, MarkKind.CENTRE}
        for a, b in pairs:
            # straight across to the new line
            assert float(np.linalg.norm(a.at - b.at)) == pytest.approx(6.0, abs=0.05)
            assert (b.kind, b.text, len(b.spots)) == (a.kind, a.text, len(a.spots))
            assert float(b.outward @ a.outward) > 0.999


def test_the_seam_is_measured_again_and_still_sews(taken):
    before, after = taken
    old, new = (next(s for s in job.seams if s.name == "back face / top band") for job in taken)
    measured = {
        name: LineString(edge_of(piece_of(after, name), edge).points).length
        for name, edge in ((new.a, "top band"), (new.b, "face"))
    }
    assert (new.length_a_mm, new.length_b_mm) == pytest.approx((measured[new.a], measured[new.b]), abs=1e-6)
    assert new.length_a_mm != old.length_a_mm
    assert new.sews
    assert [s for s in after.seams if s.name != new.name] == [s for s in before.seams if s.name != new.name]


def test_the_old_line_is_drawn_beside_on_a_layer_of_its_own_and_said(taken):
    piece = piece_of(taken[1], "back face")
    (line,) = (line for line in piece.inner if line.kind is LineKind.BEFORE)
    old = LineString(edge_of(piece_of(taken[0], "back face"), "top band").points)
    assert old.buffer(0.01).contains(LineString(line.points))
    drawn = [points for layer, points, _ in line_record(piece).lines if layer is PenLayer.BEFORE]
    assert len(drawn) == 1
    (note,) = (note for note in piece.notes if note.startswith("round"))
    assert note.startswith("round 1: taken in 6.0 mm each layer along top band, from 1 to 2, run out over")
    assert note.endswith("top band follows")
    assert note in cutlist_csv(taken[1]).decode()
    (row,) = report(taken[1])["fitting"]
    assert (row["out_mm"], row["follow"], row["from"], row["to"]) == (-6.0, ["top band"], "1", "2")


def test_rounds_add_up_and_the_same_rows_make_the_same_pieces(taken):
    twice, again = noted((1, -4.0), (2, -2.0)), noted((1, -4.0), (2, -2.0))
    for one, two in zip(twice.pieces, again.pieces, strict=True):
        assert np.array_equal(one.cut, two.cut)
        assert np.array_equal(one.sew, two.sew)
    _, away = offsets(taken[0], twice, "back face", "top band")
    _, once = offsets(*taken, "back face", "top band")
    # run-outs of a small amount may be shorter; here the next mark is farther for all
    assert away == pytest.approx(once, abs=0.02)
    back = noted((1, -4.0), (2, 4.0))
    assert offsets(taken[0], back, "back face", "top band")[1].max() < 0.01
    assert {n for n in piece_of(twice, "back face").notes if n.startswith("round")} != set()


def test_in_all_is_shared_by_both_layers():
    row = FitNote(1, 0, "back face", FitSpan("top band", "1", "2", -6.0, IN_ALL))
    for panel, edge in (("back face", "top band"), ("back top band", "face")):
        _, away = offsets(sample_job(), noted(row), panel, edge)
        assert away.max() == pytest.approx(3.0, abs=0.02)


def test_a_pair_is_changed_on_both_sides_and_what_is_sewn_to_both_follows():
    after = noted((1, -3.0), piece="=cushion right band", edge="face 2")
    assert any("both pieces of the pair" in note for note in piece_of(after, "=cushion right band").notes)
    for edge in ("right band", "left band 2"):
        _, away = offsets(sample_job(), after, "=cushion face", edge)
        assert away.max() == pytest.approx(3.0, abs=0.02)
    changed = {s.name for s, old in zip(after.seams, sample_job().seams, strict=True) if s != old}
    assert changed == {"=cushion face / right band 1", "=cushion face / left band 2"}


def test_a_seam_off_the_ridge_goes_over_as_a_whole():
    row = FitNote(1, 0, "back face", FitSpan("top band", "1", "2", -5.0), found=OFF_RIDGE)
    after = noted(row)
    before = sample_job()
    areas = {
        panel: piece_of(after, panel).cut_mm2 - piece_of(before, panel).cut_mm2
        for panel in ("back face", "back top band")
    }
    assert areas["back face"] < -5.0 * 70.0
    assert areas["back top band"] == pytest.approx(-areas["back face"], rel=0.02)
    assert "goes the other way" in piece_of(after, "back face").notes[-1]


def test_a_short_seam_is_taken_in_on_to_the_tack_line():
    """The tack lines of both bands are cut short where the seam between them is taken in down to them."""
    ends = ("corner towards face", "corner towards left tack line")
    after = noted((1, -2.0), piece="back left band", edge="top band", start=ends[0], end=ends[1])
    before = sample_job()
    for panel, tacks in (("back left band", "left tack line"), ("back top band", "top tack line")):
        old, new = (LineString(edge_of(piece_of(job, panel), tacks).points).length for job in (before, after))
        assert old - new == pytest.approx(2.0, abs=0.1)
        assert Polygon(piece_of(after, panel).sew).is_valid


def problems(*rows):
    with pytest.raises(ProblemError) as found:
        noted(*rows)
    return [(problem.code, problem.keys[1:], problem.text) for problem in found.value.problems]


def row(number, piece, edge, start, end, out, **more):
    return FitNote(more.pop("round", 1), number, piece, FitSpan(edge, start, end, out), **more)


def test_rows_whose_place_there_is_not_are_all_told_at_once():
    told = problems(
        row(0, "back fcae", "top band", "1", "2", -6.0),
        row(1, "back face", "top bnd", "1", "2", -6.0),
        row(2, "back face", "top band", "7", "2", -6.0),
        row(3, "back face", "top band", "1", "1", -6.0),
        row(4, "face", "top band", "1", "2", -6.0),
    )
    assert [code for code, *_ in told] == ["F330", "F331", "F332", "F333", "F330"]
    assert 'did you mean "back face"' in told[0][2]
    assert 'did you mean "top band"' in told[1][2]
    assert "corner towards right band, 1, centre, 2, corner towards left band" in told[2][2]
    assert "2 pieces are called" in told[4][2]


def test_a_name_that_several_edges_have_means_the_one_with_the_marks():
    """The side band of the cushion is sewn to the face along two edges, both called face; only one has a mark 3."""
    _, away = offsets(
        sample_job(), noted(row(0, "=cushion right band", "face", "3", "1", -1.0)), "=cushion right band", "face 2"
    )
    assert away.max() == pytest.approx(1.0, abs=0.05)
    ((code, _, text),) = problems(row(0, "=cushion right band", "face", "2", "1", -2.0))
    assert code == "F331"
    assert "2 edges" in text
    assert noted(row(0, "=cushion right band", "face 1", "2", "1", -0.5)).fitting.done[0].found.where[1] == 2


@pytest.mark.parametrize(
    "second",
    [
        row(1, "back face", "top band", "1", "2", 6.0),
        row(1, "back face", "top band", "1", "centre", -5.0),
        row(1, "back top band", "face", "1", "2", -5.0),
        row(1, "back face", "top band", "1", "2", -6.0, found=OFF_RIDGE),
    ],
    ids=["both ways", "overlapping", "the partner told otherwise", "moved over and taken in"],
)
def test_rows_of_one_round_that_disagree_are_told(second):
    ((code, keys, text),) = problems(row(0, "back face", "top band", "1", "2", -6.0), second)
    assert (code, keys[0]) == ("F334", 1)
    assert "row 1 says take in 6.0 mm" in text
    # in a later round it is another fitting
    assert noted(row(0, "back face", "top band", "1", "2", -6.0), replace(second, round=2)).pieces


def test_rows_that_say_the_same_of_both_partners_count_once(taken):
    both = noted(row(0, "back face", "top band", "1", "2", -6.0), row(1, "back top band", "face", "1", "2", -6.0))
    assert offsets(taken[0], both, "back face", "top band")[1] == pytest.approx(
        offsets(*taken, "back face", "top band")[1], abs=1e-6
    )


def test_more_than_the_piece_has_is_refused():
    ends = ("corner towards face", "corner towards left tack line")
    assert problems(row(0, "back left band", "top band", *ends, -30.0))[0][0] == "F333"
    ((code, _, text),) = problems(row(0, "back top band", "face", "1", "2", -50.0))
    assert code in ("F333", "F336"), text


def test_a_line_that_crosses_another_edge_is_refused():
    strip = piece_with([(0.0, 0.0), (900.0, 0.0), (900.0, 30.0), (0.0, 30.0)])
    widths = [edge.allowance_mm for edge in strip.edges]

    def moved(out):
        move = EdgeMove(np.linspace(0.0, 1.0, 5), np.array([0.0, out, out, out, 0.0]))
        return with_moves(strip, {0: move}, widths=widths, corner="square")

    assert Polygon(moved(-29.0).sew).area < 900.0 * 30.0
    with pytest.raises(CrossedError, match="crosses another edge"):
        moved(-31.0)


def test_a_tack_line_that_goes_on_round_a_bend_runs_out_before_its_end():
    """Where the next edge runs on straight there is no corner to cut short."""
    ends = ("corner towards front band", "corner towards face")
    after = noted((1, -2.0), piece="=cushion right band", edge="right tack line", start=ends[0], end=ends[1])
    _, away = offsets(sample_job(), after, "=cushion right band", "right tack line")
    edges = [edge_of(piece_of(job, "=cushion right band"), "right tack line").points for job in (sample_job(), after)]
    assert edges[1][[0, -1]] == pytest.approx(edges[0][[0, -1]], abs=1e-9)
    assert away.max() == pytest.approx(2.0, abs=0.05)


def test_the_line_of_a_folded_corner_is_no_row_of_fitting():
    from flatten.fit.asked import BOUND_KINDS

    assert {kind.value for kind in BOUND_KINDS} >= {"folded", "wrapped"}


def test_what_was_seen_is_answered_and_moves_nothing():
    notes = [
        FitNote(1, 0, "back face", found="loose"),
        FitNote(1, 1, "back face", found="drag line", towards="top band"),
    ]
    after, before = noted(*notes), sample_job()
    assert all(np.array_equal(a.cut, b.cut) for a, b in zip(after.pieces, before.pieces, strict=True))
    told = [p for p in after.problems if p.code == "F337"]
    assert len(told) == 2
    assert "pinch" in told[0].text
    assert "towards top band" in told[1].text


def test_letting_out_more_than_the_allowance_and_a_bend_are_told():
    wide = noted((1, 14.0))
    assert [p.code for p in wide.problems if p.keys[:1] == ("fit",)].count("F338") == 1
    bent = noted((1, -6.0), piece="=cushion face", edge="front band", start="2", end="1")
    (told,) = (p for p in bent.problems if p.code == "F339")
    seam = next(s for s in bent.seams if s.name == "=cushion face / front band")
    assert f"{abs(seam.mismatch_mm):.1f} mm longer" in told.text


def test_places_are_called_by_what_stands_beside_them():
    places = places_on(piece_of(sample_job(), "back face"), 1)
    assert place_named(places, "Mark 1").name == "1"
    assert place_named(places, "centre").short == "centre"
    assert place_named(places, "corner") is None
    assert place_named(places, "corner towards left band").along_mm == max(p.along_mm for p in places)


def test_edges_of_one_name_are_told_apart_by_where_they_lie():
    """A band sewn to the zip strip at both ends: 90 wide, 40 high, its arrow up."""
    corners, names = [(0, 0), (90, 0), (90, 40), (0, 40)], ["plate", "zip strip", "face", "zip strip"]
    band = piece_with_edges("band", edges_of(corners, [12.0] * 4, names=names))
    assert edge_sides(band) == ["", "right", "", "left"]
    assert edge_sides(replace(band, flesh_up=True)) == ["", "left", "", "right"]
    assert edge_sides(replace(band, grain=band.grain[:, ::-1])) == ["", "upper", "", "lower"]
