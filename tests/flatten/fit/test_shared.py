"""Moves shared by both sides of a seam round a bend: one length on both, and together what was asked for."""

import numpy as np
import pytest

from flatten.figures.report import report
from flatten.fit.moved import EdgeMove, tracked
from flatten.fit.shared import shares_of
from meshes.fitting.notes import FitNote, FitSpan
from tests.flatten.fit.test_fit_notes import noted, piece_of

CORNERS = "corner towards right band", "corner towards left band"


def arc(turn, long=400.0, count=81):
    """A line of a length that turns by so much (rad) in its middle third, bulging to its right."""
    at = np.linspace(0.0, long, count)
    heading = turn * np.clip(3.0 * at / long - 1.0, 0.0, 1.0)
    steps = np.diff(at)[:, None] * np.column_stack([np.cos(heading), np.sin(heading)])[1:]
    return np.vstack([np.zeros(2), np.cumsum(steps, axis=0)])


def unlike_of(one, two, out):
    at = np.arange(len(one), dtype=float)

    def longer(line, amounts):
        steps = np.linalg.norm(np.diff(line, axis=0), axis=1)
        return tracked(line, EdgeMove(at, amounts)).steps() - steps

    return lambda shares: longer(two, out * (1.0 - shares)) - longer(one, out * (1.0 + shares))


@pytest.mark.parametrize("turns", [(0.5, 0.2), (0.2, 0.5), (0.6, 0.2)])
def test_two_lines_that_bend_unlike_keep_one_length_when_one_takes_more(turns):
    """The other way round: moved alike they differ by the amount times what they turn unlike."""
    one, two = (arc(turn) for turn in turns)
    at, wave = np.linspace(0.0, 400.0, 81), np.sin(np.pi * np.linspace(0.0, 1.0, 81)) ** 2
    out = -6.0 * wave
    unlike, seat = unlike_of(one, two, out), np.diff(at)
    middle = wave[27:54].mean()
    assert unlike(np.zeros(81)).sum() == pytest.approx(6.0 * middle * (turns[0] - turns[1]), rel=0.1)
    shares = shares_of(unlike, at, seat, 6.0)
    assert abs(unlike(shares).sum()) < 0.4 * abs(unlike(np.zeros(81)).sum())
    assert abs(unlike(shares).sum()) < 1.0
    assert np.abs(shares).max() <= 1.0
    # the line bends no faster than twice an amount that runs out
    assert np.abs(np.diff(out * (1.0 + shares))).max() < 0.4 * seat[0]


def test_lines_that_bend_alike_are_moved_as_they_were_told():
    at = np.linspace(0.0, 400.0, 81)
    unlike = unlike_of(arc(0.5), arc(0.45), np.full(81, -6.0))
    assert not shares_of(unlike, at, np.diff(at), 6.0).any()


def test_a_seam_round_the_whole_of_a_bend_still_sews():
    job = noted((1, -6.0), start=CORNERS[0], end=CORNERS[1])
    (seam,) = (s for s in job.seams if s.name == "back face / top band")
    assert seam.sews
    assert abs(seam.mismatch_mm) < 0.5
    assert not [p for p in job.problems if p.code in ("F301", "F339")]
    (note,) = (n for n in piece_of(job, "back face").notes if n.startswith("round"))
    assert "shared so that both stay of one length round the bend" in note
    (row,) = report(job)["fitting"]
    for mine, other in zip(row["own_mm"], reversed(row["other_mm"]), strict=True):
        assert mine + other == pytest.approx(-12.0, abs=0.002)
    assert row["own_mm"] != row["other_mm"]


def test_what_both_take_together_is_what_was_asked_for():
    """At every place of the seat's edge, on both pieces along it."""
    job = noted((1, -6.0), start=CORNERS[0], end=CORNERS[1])
    (pad,) = (fit for fit in job.fitting.pads if fit.drawn.pad.pad.name == "back")
    whole = []
    for (i, k), move in pad.moves.items():
        panel = next(p for p in pad.drawn.pad.panels if p.name == pad.pieces[i].panels[0])
        vertices = panel.vertices[panel.rim[k].vertices]
        whole.append(dict(zip(vertices.tolist(), np.interp(range(len(vertices)), move.at, move.out_mm), strict=True)))
    one, two = whole
    assert one.keys() == two.keys()
    both = np.array([one[v] + two[v] for v in one])
    assert both.min() == pytest.approx(-12.0, abs=1e-6)
    assert np.abs(np.array([one[v] - two[v] for v in one])).max() > 1.0
    # what goes over from one to the other stretches neither
    for move in pad.moves.values():
        assert move.stretching.out_mm.min() == pytest.approx(-6.0, abs=1e-6)


def test_a_note_without_a_bend_is_told_as_ever():
    job = noted(FitNote(1, 0, "back face", FitSpan("top band", "1", "2", -3.0)))
    assert "3.0 mm each layer" in next(n for n in piece_of(job, "back face").notes if n.startswith("round"))
