"""What is told of straight lines is what the pieces as drawn show: bows measured again, prices within half a point,
fillers cut to a curve where, and only where, their stitch line bows."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from flatten.app.summary import summary
from flatten.figures.report import report
from flatten.job.make import make
from flatten.job.straight_notes import LineBow, _words, straight_words
from flatten.maps.flat import Straightening
from flatten.pieces.piece import PieceKind
from meshes.sheet.read import read_sheet

BENCH = Path(__file__).parents[3] / "examples" / "helm_bench" / "bench.toml"


@pytest.fixture(scope="module")
def job():
    sheet = read_sheet(BENCH)
    return make(replace(sheet, output=replace(sheet.output, mesh=24.0)), workers=1)


def bow(path):
    """Largest distance of a path (k, 2) from the chords between points of it that are 300 mm apart along it, mm."""
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    fine = np.arange(0.0, at[-1], 1.0)
    dense = np.stack([np.interp(fine, at, path[:, j]) for j in (0, 1)], axis=1)
    span, most = min(300, len(dense) - 1), 0.0
    for k in range(0, len(dense) - span, 3):
        part = dense[k : k + span + 1] - dense[k]
        x, y = part[-1] / np.hypot(*part[-1])
        most = max(most, float(np.abs(part[:, 0] * y - part[:, 1] * x).max()))
    return most


def test_bows_are_those_of_the_stitch_lines_as_drawn(job):
    rows = {row["name"]: row["straight_lines"] for row in report(job)["panels"]}
    seen = 0
    for piece in job.pieces:
        lines = [row for row in rows[piece.panels[0]]["lines"] if row["valley"]]
        # A piece that is also cut mirrored names no sides.
        told = {
            row["name"].removeprefix("right ") if piece.mirrored_count else row["name"]: row["bow_mm_in_300"]
            for row in lines
        }
        for line in piece.inner:
            if line.name in told:
                assert bow(line.points) == pytest.approx(told[line.name], abs=0.1), (piece.name, line.name)
                seen += 1
    assert seen > 10


def test_prices_stay_within_half_a_point(job):
    for row in report(job)["panels"]:
        told = row["straight_lines"]
        assert 0.0 <= told["paid"] <= 0.005
        assert [line["straight"] for line in told["lines"]] == [line["bow_mm_in_300"] <= 1.0 for line in told["lines"]]
        bowed = not all(line["straight"] for line in told["lines"])
        # What is straight asks for nothing; what is not asks for something, or for more than there is.
        assert bowed or told["asks"] == 0.0
        assert not bowed or told["asks"] is None or told["asks"] > 0.0
        if told["asks"]:
            assert row["demand"] + told["asks"] <= row["budget"] + 1e-6
    assert any(row["straight_lines"]["paid"] > 0.001 for row in report(job)["panels"])


def test_the_summary_says_what_was_paid(job):
    text = summary(job)
    for piece in job.pieces:
        words = straight_words(job.pads, piece, job.flats[piece.panels[0]])
        assert words in text
        cost = job.flats[piece.panels[0]].straightening
        assert ("cost" in words) == (cost.paid >= 0.0005)


def test_fillers_are_curved_where_stitch_lines_bow(job):
    lines = [row for panel in report(job)["panels"] for row in panel["straight_lines"]["lines"] if row["valley"]]
    curved = [
        piece
        for piece in job.others
        if piece.kind is PieceKind.FILLER and any(note.startswith("curved") for note in piece.notes)
    ]
    assert any(not row["straight"] for row in lines) == bool(curved)


def test_words():
    bowed = [LineBow("valley 2", True, 3.14), LineBow("valley 3", True, 0.4)]
    assert _words(bowed, Straightening(0.003, 0.012)) == (
        "straight lines cost 0.3 points of demand; valley 2 bows 3.1 mm in 300 mm, fillers there are cut to the curve; "
        "straight would ask 1.2 points more"
    )
    assert _words(bowed, Straightening(0.0, None)).endswith("no straight way was found within what the leather gives")
    assert _words([LineBow("front tack line", False, 0.2)], Straightening(0.0, 0.0)) == ""
