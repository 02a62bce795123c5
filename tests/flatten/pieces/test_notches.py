"""Both pieces of a seam are notched alike, however the sew line bends where a notch comes to stand."""

from itertools import pairwise

import numpy as np
import pytest
from shapely.geometry import LineString, Point

from flatten.draw.marks import draw_piece
from flatten.draw.pen import PenLayer, RecordingPen
from flatten.pieces.notches import notch_marks
from flatten.pieces.piece import SLITS_APART_MM, Edge, EdgeKind, MarkKind
from tests.pieces import piece_of

SHARES = np.array([0.25, 0.5, 0.75])
TURNS_DEG = (-30.0, -10.0, 0.0, 10.0, 30.0)


def bent(turn_deg, past_mm):
    """Edges of a piece; the front one, 160 mm long, turns by an angle (left: above 0) so far past its middle."""
    turn = np.deg2rad(turn_deg)
    knee = np.array([80.0 + past_mm, 0.0])
    end = knee + (80.0 - past_mm) * np.array([np.cos(turn), np.sin(turn)])
    front = Edge("front", EdgeKind.PULLED, np.array([[0.0, 0.0], knee, end]), 12.0)
    others = [end, (170.0, 150.0), (0.0, 150.0), (0.0, 0.0)]
    return (front, *(Edge("side", EdgeKind.PULLED, np.array(pair), 12.0) for pair in pairwise(others)))


def marks_of(edge):
    return (*notch_marks(edge, SHARES[[0, 2]], double=False), *notch_marks(edge, SHARES[[1]], double=True))


@pytest.mark.parametrize("past_mm", [-2.9, -1.0, 0.0, 0.5, 2.5])
@pytest.mark.parametrize("turn_deg", TURNS_DEG)
def test_both_slits_of_a_doubled_notch_stand_on_the_sew_line(turn_deg, past_mm):
    """Half the distance between them before its place and half after it, along the line; square to the way from one to
    the other, so that they run side by side."""
    edge = bent(turn_deg, past_mm)[0]
    line = LineString(edge.points)
    (double,) = notch_marks(edge, SHARES[[1]], double=True)
    assert [line.distance(Point(spot)) for spot in double.spots] == pytest.approx([0.0, 0.0], abs=1e-9)
    half = 0.5 * SLITS_APART_MM
    assert [line.project(Point(spot)) for spot in double.spots] == pytest.approx([80 - half, 80 + half])
    assert double.outward @ (double.spots[1] - double.spots[0]) == pytest.approx(0.0, abs=1e-9)
    assert double.outward[1] < 0.0


@pytest.mark.parametrize("past_mm", [-2.9, 0.0, 1.5])
@pytest.mark.parametrize("turn_deg", TURNS_DEG)
def test_a_trimmer_reads_the_same_kinds_off_the_paper_on_a_straight_side_and_on_a_bent_one(turn_deg, past_mm):
    """By what is drawn: short ticks whose middles lie on the sew line, two of them 6 mm apart along it for a doubled
    notch, and a slit straight ahead of every tick."""
    edges = bent(turn_deg, past_mm)
    pen = RecordingPen()
    draw_piece(piece_of("face", edges, marks=marks_of(edges[0])), pen)
    line = LineString(edges[0].points)
    ticks = [p for layer, p, _ in pen.lines if layer is PenLayer.INNER and len(p) == 2 and _long(p) < 3.1]
    on = sorted(line.project(Point(p.mean(axis=0))) for p in ticks if line.distance(Point(p.mean(axis=0))) < 1e-6)
    assert on == pytest.approx([40.0, 77.0, 83.0, 120.0])
    slits = [p for layer, p, _ in pen.lines if layer is PenLayer.NOTCH]
    ahead = [sum(_ahead(slit, tick) for slit in slits) for tick in ticks]
    assert (len(ticks), len(slits), ahead) == (4, 4, [1, 1, 1, 1])


@pytest.mark.parametrize("turn_deg", TURNS_DEG)
def test_what_is_sewn_face_to_face_is_notched_at_the_same_places_and_kinds(turn_deg):
    """The other piece runs along the seam the other way round, and bends the other way."""
    one, other = marks_of(bent(turn_deg, 1.0)[0]), marks_of(bent(-turn_deg, -1.0)[0])
    lines = [LineString(bent(*way)[0].points) for way in ((turn_deg, 1.0), (-turn_deg, -1.0))]
    here = sorted((lines[0].project(Point(mark.at)), mark.kind) for mark in one)
    there = sorted((160.0 - lines[1].project(Point(mark.at)), mark.kind) for mark in other)
    assert [at for at, _ in here] == pytest.approx([at for at, _ in there])
    assert [kind for _, kind in here] == [kind for _, kind in there]
    assert [kind for _, kind in here].count(MarkKind.DOUBLE_NOTCH) == 1
    assert all(b - a > SLITS_APART_MM for (a, _), (b, _) in pairwise(here))


def _long(points):
    return float(np.linalg.norm(points[1] - points[0]))


def _ahead(slit, tick):
    along = (tick[1] - tick[0]) / _long(tick)
    off = slit.mean(axis=0) - tick[0]
    return off @ along > 0.0 and abs(off[0] * along[1] - off[1] * along[0]) < 1e-6
