"""Seams measured on both pieces, notches that meet, pieces turned to their grain."""

from dataclasses import replace

import numpy as np
import pytest

from flatten.demand.develop import flatten
from flatten.pieces.pattern import grain_turn, pieces_of
from flatten.pieces.piece import MarkKind
from flatten.pieces.seams import seam_figures
from meshes.base.surface import curve_length
from meshes.sheet.whole import Allowance
from tests.pads import FLAT, built

CURVED = (
    FLAT
    + """
[[pad.profile]]
direction = "along"
at = 0
points = [[0, 0], [80, 14], [160, 12], [240, 4], [300, -4]]
[pad.inset]
front = 0
rear = 70
left = 80
right = 80
corner_radius = 30
"""
)
ALLOWANCE = Allowance(sewn=10.0, welted=12.0, pulled=40.0, closed=25.0, corner="square", notch_spacing=60.0)


@pytest.fixture(scope="module")
def made():
    pad = built(CURVED)
    flats = {p.name: flatten(p.surface.vertices, p.surface.triangles) for p in pad.panels if p.mirror_of is None}
    return pad, flats, pieces_of(pad, flats, ALLOWANCE)


def test_a_flat_panel_keeps_its_seam_lengths():
    pad = built(
        FLAT.replace("edge_radius = 20", "edge_radius = 0")
        .replace("corner_radius = 40", "corner_radius = 0")
        .replace("seam_below = 5", "")
        .replace("[pad.sides.rear]\n", "[pad.sides.rear]\nband = true\n")
    )
    flats = {p.name: flatten(p.surface.vertices, p.surface.triangles) for p in pad.panels}
    # Face and bands of a square-edged box are flat: every seam is as long on both pieces as on the seat.
    for seam in seam_figures(pad.seams, {p.name: p for p in pad.panels}, flats):
        wanted = {"front band": 400.0, "rear band": 400.0, "right band": 300.0, "left band": 300.0}
        if seam.a == "cushion face":
            assert seam.seat_mm == pytest.approx(wanted[seam.b.removeprefix("cushion ")], abs=1e-6)
        assert (seam.length_a_mm, seam.length_b_mm) == pytest.approx((seam.seat_mm, seam.seat_mm), rel=1e-6)
        assert seam.mismatch_mm == pytest.approx(0.0, abs=1e-4)
        assert seam.sews


def test_mirrored_pairs_are_drawn_once(made):
    pad, _, pieces = made
    pairs = [piece for piece in pieces if piece.mirrored_count]
    assert [piece.panels for piece in pairs] == [
        ("cushion right bolster", "cushion left bolster"),
        ("cushion right band", "cushion left band"),
    ]
    assert {piece.count_text for piece in pairs} == {"cut 2, one mirrored"}
    assert {name for piece in pieces for name in piece.panels} == {panel.name for panel in pad.panels}


def test_every_edge_has_the_allowance_of_its_kind(made):
    wanted = {"sewn": 10.0, "welted": 12.0, "pulled": 40.0, "closed": 25.0}
    for piece in made[2]:
        assert all(edge.allowance_mm == wanted[edge.kind] for edge in piece.edges)


def stations_from_start(piece, edge):
    """Shares of the edge's length at which it is notched, with the kind of each notch."""
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(edge.points, axis=0), axis=1))])
    found = []
    for mark in piece.marks:
        if mark.kind in (MarkKind.NOTCH, MarkKind.DOUBLE_NOTCH):
            steps = np.diff(edge.points, axis=0)
            rel = mark.at - edge.points[:-1]
            f = np.clip(np.einsum("ij,ij->i", rel, steps) / np.einsum("ij,ij->i", steps, steps), 0, 1)
            gap = np.linalg.norm(rel - f[:, None] * steps, axis=1)
            k = int(np.argmin(gap))
            if gap[k] < 1e-6:
                found.append(((along[k] + f[k] * np.linalg.norm(steps[k])) / along[-1], mark.kind))
    return sorted(found, key=lambda pair: pair[0])


def test_both_sides_of_a_seam_are_notched_at_equal_shares_and_doubled_at_one_end(made):
    by_seam = {}
    for piece in made[2]:
        for edge in piece.edges:
            if edge.seam and curve_length(edge.points) > 2 * ALLOWANCE.notch_spacing:
                by_seam.setdefault(edge.seam, []).append(stations_from_start(piece, edge))
    both = [rows for rows in by_seam.values() if len(rows) == 2]
    assert len(both) >= 3
    for a, b in both:
        assert len(a) >= 1
        assert [s for s, _ in a] == pytest.approx([1 - s for s, _ in b][::-1], abs=1e-9)
        assert [k for _, k in a] == [k for _, k in b][::-1]
        assert sum(k is MarkKind.DOUBLE_NOTCH for _, k in a) == 1


def test_grain_points_up_the_paper(made):
    pad, flats, _ = made
    for panel in pad.panels:
        if panel.name not in flats:
            continue
        turn = grain_turn(panel, flats[panel.name])
        turned = flats[panel.name].points @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
        # By a second route: the straight map from seat to paper that fits best carries the grain up the paper.
        seat = panel.surface.vertices - panel.surface.vertices.mean(axis=0)
        fit = np.linalg.lstsq(seat, turned - turned.mean(axis=0), rcond=None)[0]
        up = panel.grain @ fit
        assert abs(np.rad2deg(np.arctan2(up[0], up[1]))) < 6.0


def test_the_arrow_of_a_piece_lies_in_its_middle_and_is_no_longer_than_a_hand(made):
    """Two fifths as long as the sewn piece is high, 150 mm at most, up the paper."""
    for piece in made[2]:
        low, high = piece.sew.min(axis=0), piece.sew.max(axis=0)
        tail, head = piece.grain
        assert 0.5 * (tail + head) == pytest.approx(0.5 * (low + high), abs=1e-6)
        assert head - tail == pytest.approx([0.0, min(0.4 * (high[1] - low[1]), 150.0)], abs=1e-6)


def test_centre_marks_stand_on_the_centre_line_of_the_piece(made):
    face = next(piece for piece in made[2] if piece.name == "inset")
    centres = [mark.at for mark in face.marks if mark.kind is MarkKind.CENTRE]
    assert len(centres) == 2
    middle = 0.5 * (face.sew[:, 0].min() + face.sew[:, 0].max())
    assert [at[0] for at in centres] == pytest.approx([middle, middle], abs=0.5)


def test_what_is_wrong_with_its_outline_is_said_of_the_piece(made):
    """A corner of one piece pulled across it: its sew line crosses itself, and no other piece's does."""
    pad, flats, pieces = made
    assert not [piece.name for piece in pieces if piece.faults]
    panel = next(panel for panel in pad.panels if panel.part == "front band")
    points = flats[panel.name].points.copy()
    corner = panel.rim[0].vertices[0]
    points[corner] += 2.5 * (points.mean(axis=0) - points[corner])
    found = pieces_of(pad, flats | {panel.name: replace(flats[panel.name], points=points)}, ALLOWANCE)
    (faulty,) = [piece for piece in found if piece.faults]
    assert faulty.name == "front band"
    assert "crosses itself" in faulty.faults[0]


def test_sew_lines_are_as_long_as_their_edges(made):
    for piece in made[2]:
        closed = np.concatenate([piece.sew, piece.sew[:1]])
        assert curve_length(closed) == pytest.approx(sum(curve_length(edge.points) for edge in piece.edges))
