"""Pieces for marking out on the flesh side are exact mirror images, in every line, mark and word of place."""

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Polygon

from flatten.demand.develop import flatten
from flatten.draw.marks import draw_piece
from flatten.draw.pen import PenLayer, RecordingPen
from flatten.paper.wording import COVER, title_of
from flatten.pieces.pattern import pieces_of
from flatten.pieces.piece import FLESH_UP, GRAIN_UP, CutOrder
from flatten.pieces.turned_over import flesh_side_up, with_mirrored
from meshes.sheet.whole import Allowance
from tests.pads import FLAT, built
from tests.pieces import all_pieces, edges_of, l_shape, piece_of, small

PIECES = {piece.name: piece for piece in all_pieces()}
EXACT = (PenLayer.CUT, PenLayer.SEW, PenLayer.NOTCH, PenLayer.INNER, PenLayer.STITCH)


def area(ring):
    x, y = ring.T
    return 0.5 * float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum())


def drawn(piece):
    """Points of everything whose place is given by the piece, layer by layer, in no particular order."""
    pen = RecordingPen()
    draw_piece(piece, pen)
    return {
        layer: np.array(sorted(np.round(p, 6).tolist() for one, line, _ in pen.lines if one is layer for p in line))
        for layer in EXACT
    }


@pytest.mark.parametrize("name", PIECES)
def test_everything_with_a_place_is_mirrored(name):
    piece, over = PIECES[name], flesh_side_up(PIECES[name])
    x0, _, x1, _ = piece.box()
    assert over.box() == pytest.approx(piece.box())
    for layer, points in drawn(piece).items():
        there = drawn(over)[layer]
        if not len(points):
            assert not len(there)
            continue
        mirrored = np.column_stack([x0 + x1 - points[:, 0], points[:, 1]])
        away = np.linalg.norm(there[:, None] - mirrored[None], axis=2)
        assert away.min(axis=1).max() < 1e-5
        assert away.min(axis=0).max() < 1e-5


@pytest.mark.parametrize("name", PIECES)
def test_outlines_stay_counter_clockwise_and_edges_keep_their_words(name):
    piece, over = PIECES[name], flesh_side_up(PIECES[name])
    assert area(over.cut) == pytest.approx(area(piece.cut))
    assert area(over.sew) == pytest.approx(area(piece.sew))
    assert area(over.sew) > 0
    ends = {edge.name: (edge.kind, edge.allowance_mm, edge.seam) for edge in piece.edges}
    assert {edge.name: (edge.kind, edge.allowance_mm, edge.seam) for edge in over.edges} == ends
    for before, after in zip(over.edges, (*over.edges[1:], over.edges[0]), strict=True):
        assert before.points[-1] == pytest.approx(after.points[0])


def test_turned_over_twice_a_piece_is_itself():
    for piece in PIECES.values():
        twice = flesh_side_up(flesh_side_up(piece))
        assert twice.cut == pytest.approx(piece.cut)
        assert twice.grain == pytest.approx(piece.grain)
        assert [m.kind for m in twice.marks] == [m.kind for m in piece.marks]
        assert not twice.flesh_up


def test_every_piece_and_paper_says_which_side_lies_up():
    for piece in PIECES.values():
        for one, words in ((piece, GRAIN_UP), (flesh_side_up(piece), FLESH_UP)):
            pen = RecordingPen()
            draw_piece(one, pen)
            assert any(words in text.words for text in pen.texts), piece.name
    assert title_of(COVER, list(PIECES.values())).endswith(GRAIN_UP)
    assert title_of(COVER, [flesh_side_up(piece) for piece in PIECES.values()]).endswith(FLESH_UP)


def test_mirrored_pieces_are_drawn_beside_theirs_with_counts_of_their_own():
    band = replace(l_shape(), name="right band (left band mirrored)", order=CutOrder(2, 3))
    backing = replace(band, name="backing of right band (left band mirrored)", order=CutOrder(1, 1, "calico"))
    found = with_mirrored([band, backing, small()])
    names = ["right band", "left band", "backing of right band", "backing of left band", small().name]
    assert [piece.name for piece in found] == names
    assert [(p.cut_count, p.mirrored_count) for p in found] == [(2, 0), (3, 0), (1, 0), (1, 0), (1, 0)]
    for plain, other in (found[0:2], found[2:4]):
        # The mirror image within the same box, from the same side of the leather, and still counter-clockwise.
        x0, _, x1, _ = plain.box()
        assert Polygon(other.cut * [-1.0, 1.0] + [x0 + x1, 0.0]).symmetric_difference(Polygon(plain.cut)).area < 1e-6
        assert other.cut_mm2 == pytest.approx(plain.cut_mm2)
        assert other.side_text == plain.side_text
        assert other.material == plain.material


INSET = "[pad.inset]\nfront = 0\nrear = 70\nleft = 80\nright = 80\ncorner_radius = 30\n"


def test_edges_of_a_mirrored_piece_are_called_as_on_the_panel_it_is_of():
    """Whatever a neighbour is called, the sides of the panel itself say who lies along them."""
    pad = built(FLAT + INSET, edge_mm=20.0)
    flats = {p.name: flatten(p.surface.vertices, p.surface.triangles) for p in pad.panels if p.mirror_of is None}
    panels = {panel.part: panel for panel in pad.panels}
    found = with_mirrored(pieces_of(pad, flats, Allowance()))
    names = 0
    for piece in found:
        panel = panels[piece.name]
        ring = [(edge.name, edge.seam) for edge in piece.edges]
        rim = [(edge.name, edge.seam) for edge in panel.rim]
        assert any(ring == rim[k:] + rim[:k] for k in range(len(rim))), piece.name
        names += panel.mirror_of is not None
    assert names >= 2


def test_a_small_piece_of_leather_says_which_side_lies_up():
    for wide, high in ((34.0, 30.0), (44.0, 22.0), (60.0, 16.0)):
        piece = piece_of("lug", edges_of([(0, 0), (wide, 0), (wide, high), (0, high)], [8.0] * 4))
        pen = RecordingPen()
        draw_piece(replace(piece, marks=()), pen)
        assert GRAIN_UP in " ".join(text.words for text in pen.texts)
