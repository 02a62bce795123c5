"""Where something meets a seam between its ends it is marked on both pieces; a centre mark is always there."""

import numpy as np
import pytest

from flatten.demand.develop import flatten
from flatten.pieces.crossings import SEW_CORNER_RAD
from flatten.pieces.pattern import pieces_of
from flatten.pieces.piece import EdgeKind, MarkKind
from meshes.base.surface import curve_length
from meshes.sheet.whole import Allowance
from tests.pads import FLAT, built
from tests.pleats import square

CROOKED = FLAT.replace(
    "front_width = 400\nrear_width = 400\n", "front_left = 196\nfront_right = 204\nrear_left = 196\nrear_right = 204\n"
)
PADS = {
    "plain": FLAT,
    "odd pleats": FLAT + "[pad.pleats]\ncount = 5\n",
    "even pleats": FLAT + "[pad.pleats]\ncount = 4\n",
    "even pleats joined at the centre": FLAT + "[pad.pleats]\ncount = 4\njoins = [2]\n",
    "even strips": FLAT + '[pad.pleats]\ncount = 4\nconstruction = "strips"\n',
    "a seam down the centre": FLAT + '[[pad.line]]\nname = "middle"\npoints = [[0, 0], [0, 300]]\n',
    "crooked": CROOKED,
    # The frame's middle is 4 mm beside its centre mark, and so is the middle valley.
    "crooked, a valley beside the centre": CROOKED + "[pad.pleats]\ncount = 4\n",
    "crooked, one valley less": CROOKED + "[pad.pleats]\ncount = 5\n",
}


def made(text):
    pad = built(text, edge_mm=14.0)
    flats = {p.name: flatten(p.surface.vertices, p.surface.triangles) for p in pad.panels if p.mirror_of is None}
    return pad, pieces_of(pad, flats, Allowance())


def turns(piece):
    """How far the sew line turns at each of its points, rad."""
    sew = piece.sew
    step = np.roll(sew, -1, axis=0) - sew
    heading = np.arctan2(step[:, 1], step[:, 0])
    return np.abs(np.mod(heading - np.roll(heading, 1) + np.pi, 2 * np.pi) - np.pi)


def at(piece, kind):
    return [mark.at for mark in piece.marks if mark.kind is kind]


@pytest.mark.parametrize("name", PADS)
def test_every_piece_across_the_centre_has_its_centre_marks(name):
    pad, pieces = made(PADS[name])
    by_panel = {piece.panels[0]: piece for piece in pieces}
    found = 0
    for panel in pad.panels:
        if panel.name not in by_panel:
            continue
        x = panel.surface.vertices[:, 0]
        loop = np.concatenate([edge.vertices[:-1] for edge in panel.rim])
        side = np.sign(np.where(np.abs(x[loop]) < 1.0, 0.0, x[loop]))
        side = side[side != 0]
        crossings = int(np.count_nonzero(side != np.roll(side, 1)))
        marks = [m for m in by_panel[panel.name].marks if m.kind is MarkKind.CENTRE]
        assert len(marks) == crossings, panel.name
        assert all(mark.text == "centre" for mark in marks)
        found += len(marks)
    assert found >= 2


@pytest.mark.parametrize("name", PADS)
def test_both_pieces_of_a_seam_carry_the_centre_at_one_place(name):
    _, pieces = made(PADS[name])
    shares = {}
    for piece in pieces:
        for edge in piece.edges:
            if edge.seam is None:
                continue
            along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(edge.points, axis=0), axis=1))])
            for spot in at(piece, MarkKind.CENTRE):
                away = np.linalg.norm(edge.points - spot, axis=1)
                k = int(np.argmin(away))
                if away[k] < 1e-9 and 0 < k < len(edge.points) - 1:
                    shares.setdefault(edge.seam, []).append(along[k] / along[-1])
    for both in shares.values():
        assert len(both) == 2
        assert sum(both) == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize("name", PADS)
def test_what_meets_a_seam_is_marked_wherever_the_sew_line_has_no_corner(name):
    """The end of a seam, where a third one begins, is a corner of a piece or carries a mark on it."""
    pad, pieces = made(PADS[name])
    seams = {}
    for seam in pad.seams:
        for end in seam.vertices[[0, -1]].tolist():
            seams.setdefault(end, set()).add(seam.name)
    by_panel = {piece.panels[0]: piece for piece in pieces}
    inside = 0
    for panel in (panel for panel in pad.panels if panel.name in by_panel):
        piece = by_panel[panel.name]
        rim = panel.vertices[np.concatenate([edge.vertices[:-1] for edge in panel.rim])].tolist()
        for vertex, point, turn in zip(rim, piece.sew, turns(piece), strict=True):
            if vertex in seams and turn <= SEW_CORNER_RAD:
                inside += 1
                assert min(np.linalg.norm(spot - point) for spot in at(piece, MarkKind.JOINT)) < 1e-9
    assert inside == sum(len(at(piece, MarkKind.JOINT)) for piece in pieces)


def test_a_band_that_runs_past_a_join_on_the_centre_carries_all_three_marks():
    _, pieces = made(PADS["even pleats joined at the centre"])
    band = next(piece for piece in pieces if piece.name == "front band")
    kinds = [
        {mark.kind for mark in band.marks if np.linalg.norm(mark.at - spot) < 1e-9}
        for spot in at(band, MarkKind.CENTRE)
    ]
    assert {MarkKind.CENTRE, MarkKind.VALLEY, MarkKind.JOINT} in kinds


def test_leather_that_is_pulled_is_marked_with_a_pen_only():
    _, pieces = made(PADS["plain"])
    seen = set()
    for piece in pieces:
        for mark in piece.marks:
            edges = [e for e in piece.edges if np.linalg.norm(e.points - mark.at, axis=1).min() < 1e-9]
            if mark.kind is MarkKind.CENTRE:
                pulled = any(edge.kind is EdgeKind.PULLED for edge in edges)
                assert mark.pen == pulled
                seen.add(pulled)
    assert seen == {True, False}


def test_strips_of_an_even_count_meet_at_the_centre_of_the_band():
    pad = square('count = 4\nconstruction = "strips"', edge_mm=14.0)
    band = next(panel for panel in pad.panels if panel.part == "front band")
    crossed = band.surface.vertices[band.centre]
    assert crossed[:, 0] == pytest.approx([0.0, 0.0])
    assert curve_length(crossed) == pytest.approx(80.0, abs=1e-6)
