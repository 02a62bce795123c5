"""Rows about one side alone: a mirrored pair becomes two pieces, one side moves, the other stays to the last digit."""

from dataclasses import replace

import numpy as np
import pytest

from flatten.figures.report import report
from flatten.fit.one_side import without_images
from flatten.job.make import fitted_job
from flatten.pieces.pattern import drawn_pieces
from flatten.report.edge_lengths import edge_lengths
from flatten.work.slack import pulled_edges
from meshes.base.problems import ProblemError
from meshes.fitting.notes import FitNote, FitSpan
from tests.flatten.fit.test_fit_notes import edge_of, noted, offsets, piece_of
from tests.samples import sample_job

RIGHT, LEFT = "=cushion right band", "=cushion left band"
LONG = FitSpan("face 1", "3", "1", -1.0)


def alone(piece=LEFT, span=LONG, **more):
    return FitNote(more.pop("round", 1), more.pop("row", 0), piece, span, alone=True, **more)


@pytest.fixture(scope="module")
def left():
    """The long upper edge of the left band of the cushion taken in, the right one as it was."""
    return noted(alone())


def test_parted_pieces_are_the_pair_and_its_mirror_image():
    job = sample_job()
    pad = job.pads[0]
    (pair,) = (one for one in drawn_pieces(pad, job.flats, job.sheet.allowance, job.makes) if len(one.panels) > 1)
    two = drawn_pieces(without_images(pad, {RIGHT}), job.flats, job.sheet.allowance, job.makes)
    right, left = (next(one for one in two if one.panels == (name,)) for name in (RIGHT, LEFT))
    assert (right.name, left.name, right.mirrored_count, left.mirrored_count) == ("right band", "left band", 0, 0)
    assert np.array_equal(right.cut, pair.cut)
    over = left.cut * [-1.0, 1.0]
    over += pair.cut.min(axis=0) - over.min(axis=0)
    away = np.linalg.norm(over[:, None] - pair.cut[None], axis=2).min(axis=1)
    # cut lines are rounded
    assert away.max() < 1e-3
    assert sorted(mark.text for mark in left.marks) == sorted(mark.text for mark in right.marks)


def test_only_the_noted_side_moves_and_what_is_sewn_to_it(left):
    before = sample_job()
    names = {piece.name: piece for piece in left.pieces if piece.pad == "=cushion"}
    assert {"right band", "left band"} <= set(names)
    assert not [piece for piece in left.pieces if piece.pad == "=cushion" and piece.mirrored_count]
    # its partner follows on the left, and stays on the right
    _, moved = offsets(before, left, "=cushion face", "left band 2")
    assert moved.max() == pytest.approx(1.0, abs=0.05)
    for edge in ("right band", "left band", "front band", "rear tack line"):
        old, new = (edge_of(piece_of(job, "=cushion face"), edge).points for job in (before, left))
        assert np.array_equal(new, old)
    assert np.array_equal(names["right band"].cut, piece_of(before, RIGHT).cut)
    changed = {s.name for s, old in zip(left.seams, before.seams, strict=True) if s != old}
    assert changed == {"=cushion face / left band 2"}
    assert left.flats[RIGHT] is before.flats[RIGHT]
    assert left.flats[LEFT] is not before.flats[LEFT]
    assert any("on this side alone" in note for note in names["left band"].notes)


def test_a_row_about_both_goes_on_moving_both_beside_one_about_one_side():
    """Two rounds: the pair first, then the left one by as much again."""
    pair = FitNote(1, 0, RIGHT, FitSpan("face 2", "3", "1", -0.5))
    job, before = noted(pair, alone(span=FitSpan("face 1", "3", "1", -0.5), round=2, row=1)), sample_job()
    away = {
        edge: offsets(before, job, "=cushion face", edge)[1].max()
        for edge in ("right band", "left band 2")
    }  # fmt: skip
    assert away == {"right band": pytest.approx(0.5, abs=0.02), "left band 2": pytest.approx(1.0, abs=0.02)}
    assert {row["row"] for row in report(job)["fitting"]} == {1, 2}
    once = noted(pair)
    assert np.abs(piece_of(job, RIGHT).cut - piece_of(once, RIGHT).cut).max() < 1e-9


def test_a_side_of_the_face_alone_parts_what_is_sewn_to_it():
    job = noted(alone("=cushion face", FitSpan("left band 2", "1", "3", -1.0)))
    before = sample_job()
    assert offsets(before, job, "=cushion face", "left band 2")[1].max() == pytest.approx(1.0, abs=0.05)
    assert np.array_equal(piece_of(job, RIGHT).cut, piece_of(before, RIGHT).cut)
    assert {piece.name for piece in job.pieces} >= {"right band", "left band"}


def test_both_sides_are_told_by_themselves_afterwards(left):
    """Tack lines that were told once for both are told each, and leathers stay those of the pair."""
    pad = left.pads[0]
    assert {one.side for one in pulled_edges(left, pad)} >= {"right", "left"}
    assert not any(one.twin for one in pulled_edges(left, pad) if one.side in ("right", "left"))
    assert {one.name for one in edge_lengths(left)} == {one.name for one in edge_lengths(sample_job())}
    assert left.coverings.card(LEFT) == sample_job().coverings.card(LEFT)


def test_a_pair_named_as_one_is_refused():
    with pytest.raises(ProblemError) as found:
        noted(alone("right band (left band mirrored)"))
    (problem,) = found.value.problems
    assert (problem.code, problem.keys[1:]) == ("F343", (0, "piece"))
    assert f'write "{RIGHT}" or "{LEFT}"' in problem.text


def test_rows_of_one_round_that_disagree_are_told_across_both_ways():
    pair = FitNote(1, 0, RIGHT, FitSpan("face 2", "3", "1", -0.5))
    with pytest.raises(ProblemError) as found:
        noted(pair, alone(row=1))
    assert [problem.code for problem in found.value.problems] == ["F334"]


def test_the_same_sheet_twice_gives_the_same_pieces(left):
    again = fitted_job(replace(sample_job(), sheet=left.sheet))
    for one, two in zip(left.pieces, again.pieces, strict=True):
        assert np.array_equal(one.cut, two.cut)
