"""Pleats on paper, read back by other libraries: each kind of line on its own layer, at its true place and length."""

import io

import ezdxf
import numpy as np
import pytest
from lxml import etree
from pypdf import PdfReader
from svgpathtools import parse_path

from flatten.demand.develop import flatten
from flatten.draw.marks import draw_piece
from flatten.draw.pen import PenLayer, RecordingPen
from flatten.paper.dxf import patterns_dxf
from flatten.paper.pdf import roll_pdf
from flatten.paper.svg import patterns_svg
from flatten.pieces.pattern import backings_of, pieces_of
from flatten.pieces.piece import LineKind
from meshes.base.surface import curve_length
from meshes.sheet.whole import Allowance
from tests.papers import dxf_entities
from tests.pleats import square

KINDS = {
    LineKind.STITCH: (PenLayer.STITCH, "stitch lines"),
    LineKind.CREST: (PenLayer.CREST, "crests"),
    LineKind.JOIN: (PenLayer.JOIN, "joins"),
    LineKind.BACKING: (PenLayer.BACKING, "backing lines"),
}
ROLL = 914.0


@pytest.fixture(scope="module")
def pieces():
    pad = square('count = 8\njoins = [3, 5]\nfiller = "wadding"\nrise = 6')
    flats = {p.name: flatten(p.surface.vertices, p.surface.triangles) for p in pad.panels}
    return (*pieces_of(pad, flats, Allowance()), *backings_of(pad, flats, Allowance()))


def lengths(pieces, kind):
    return sorted(curve_length(line.points) for piece in pieces for line in piece.inner if line.kind is kind)


@pytest.mark.parametrize("kind", list(KINDS))
def test_dxf_keeps_each_kind_on_its_layer(pieces, kind):
    drawing = ezdxf.read(io.StringIO(patterns_dxf(pieces, roll_width_mm=ROLL).decode("cp1252"), newline=None))
    layer = f"{KINDS[kind][0].value} {KINDS[kind][1]}"
    lines = [e for e in dxf_entities(drawing) if e.dxftype() == "LWPOLYLINE" and e.dxf.layer == layer]
    found = [np.array(list(e.get_points("xy"))) for e in lines]
    assert sorted(curve_length(points) for points in found) == pytest.approx(lengths(pieces, kind), abs=0.1)
    assert drawing.layers.get(layer).description == KINDS[kind][1]


@pytest.mark.parametrize("kind", list(KINDS))
def test_svg_keeps_each_kind_in_its_group(pieces, kind):
    root = etree.fromstring(patterns_svg(pieces, roll_width_mm=ROLL))
    groups = [g for g in root.iter() if g.get("class") == KINDS[kind][1].replace(" ", "-")]
    found = sorted(parse_path(path.get("d")).length() for group in groups for path in group)
    assert found == pytest.approx(lengths(pieces, kind), abs=0.1)


def test_pdf_can_switch_each_kind(pieces):
    reader = PdfReader(io.BytesIO(roll_pdf(pieces, roll_width_mm=ROLL)))
    names = {group.get_object()["/Name"] for group in reader.trailer["/Root"]["/OCProperties"]["/OCGs"]}
    assert {word for _, word in KINDS.values()} | {"valleys"} <= names


def test_every_stitch_line_is_named_where_it_is_drawn(pieces):
    for piece in pieces:
        pen = RecordingPen()
        draw_piece(piece, pen)
        words = [text.words for text in pen.texts]
        for line in piece.inner:
            if line.kind in (LineKind.STITCH, LineKind.BACKING):
                assert words.count(line.name) == 1


def test_valleys_are_marked_on_the_sew_line_and_not_at_the_cut_edge(pieces):
    for piece in pieces:
        pen = RecordingPen()
        draw_piece(piece, pen)
        ticks = [points for layer, points, _ in pen.lines if layer is PenLayer.VALLEY]
        for tick in ticks:
            to_cut = min(np.linalg.norm(piece.cut[:, None] - tick[None], axis=2).min(), np.inf)
            assert to_cut > 5.0
            middle = tick[0] + (tick[1] - tick[0]) * 5.0 / 6.5
            assert np.linalg.norm(piece.sew - middle, axis=1).min() < 1e-6
