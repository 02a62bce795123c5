"""The DXF files read back and audited with ezdxf: units, layers by number, closed outlines of the true size."""

import io
from dataclasses import replace

import ezdxf
import numpy as np
import pytest
from ezdxf.lldxf.encoding import decode_dxf_unicode

from flatten.draw.imprint import Imprint
from flatten.draw.strokes import STROKES
from flatten.paper.dxf import DXF_FOOT_MM, block_names, patterns_dxf
from flatten.paper.roll import lay_out_roll
from tests.papers import dxf_entities
from tests.pieces import all_pieces

PIECES = all_pieces()
ROLL = 914.0
# Layers of sewn-product DXF files, ASTM D6673-10: 1 boundary, 4 notches, 7 grain, 8 internal, 14 sew, 15 text
BOUNDARY, NOTCHES, GRAIN, INTERNAL, SEW, TEXT = "1", "4", "7", "8", "14", "15"


@pytest.fixture(scope="module", params=["R2000", "R12"])
def written(request):
    return request.param, patterns_dxf(PIECES, roll_width_mm=ROLL, version=request.param)


@pytest.fixture(scope="module")
def drawing(written):
    found = ezdxf.read(io.StringIO(written[1].decode("cp1252"), newline=None))
    assert not found.audit().has_errors
    return found


def number(layer):
    """The number that a layer's name begins with."""
    return layer.split()[0]


def rings(drawing, layer):
    """Closed polylines of a layer: points (k, 2)."""
    found = []
    for entity in dxf_entities(drawing):
        if number(entity.dxf.layer) != layer or entity.dxftype() not in ("LWPOLYLINE", "POLYLINE"):
            continue
        if entity.dxftype() == "LWPOLYLINE":
            points, closed = np.array(list(entity.get_points("xy"))), entity.closed
        else:
            points, closed = np.array([v.dxf.location.vec2 for v in entity.vertices]), entity.is_closed
        if closed:
            found.append(points)
    return found


def test_versions_and_units(written, drawing):
    version, _ = written
    assert drawing.dxfversion == {"R2000": "AC1015", "R12": "AC1009"}[version]
    if version == "R2000":
        # DXF reference, header variables: $INSUNITS 4 = millimetres, $MEASUREMENT 1 = metric
        assert drawing.header["$INSUNITS"] == 4
        assert drawing.header["$MEASUREMENT"] == 1
    words = [entity.dxf.text for entity in dxf_entities(drawing) if entity.dxftype() == "TEXT"]
    assert any("millimetres" in one for one in words)
    assert all(piece.name in words for piece in PIECES)


@pytest.mark.parametrize(("layer", "line"), [(BOUNDARY, "cut"), (SEW, "sew")])
def test_outlines_are_closed_and_true_to_a_tenth(drawing, layer, line):
    layout = lay_out_roll(PIECES, width_mm=ROLL, foot_mm=DXF_FOOT_MM)
    found = rings(drawing, layer)
    assert len(found) == len(layout.places)
    for points, place in zip(found, layout.places, strict=True):
        expected = place.points(getattr(place.piece, line))
        assert points.shape == expected.shape
        assert np.abs(points - expected).max() < 0.1
        length = np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1).sum()
        own = getattr(place.piece, line)
        assert length == pytest.approx(np.linalg.norm(np.roll(own, -1, axis=0) - own, axis=1).sum(), abs=0.1)


def test_everything_lies_on_a_numbered_layer(drawing):
    used = {entity.dxf.layer for entity in dxf_entities(drawing)}
    assert {number(layer) for layer in used} == {BOUNDARY, NOTCHES, GRAIN, INTERNAL, SEW, TEXT}
    assert all(drawing.layers.has_entry(layer) for layer in used)


def test_layers_say_the_trades_word_behind_their_number(written, drawing):
    """R12 goes to cutters' software, which looks layers up by bare numbers; people open R2000."""
    names = {entity.dxf.layer for entity in dxf_entities(drawing)}
    bare = {BOUNDARY, NOTCHES, GRAIN, INTERNAL, SEW, TEXT}
    told = {"1 cut", "4 notches", "7 grain", "8 inner lines", "14 sew", "15 text"}
    assert names == (bare if written[0] == "R12" else told)


def test_everything_lies_within_the_stated_limits(drawing):
    high = np.array(drawing.header["$EXTMAX"][:2])
    for layer in (BOUNDARY, SEW):
        for points in rings(drawing, layer):
            assert (points >= 0.0).all()
            assert (points <= high + 1e-6).all()


def test_the_same_pieces_give_the_same_bytes(written):
    version, data = written
    assert patterns_dxf(all_pieces(), roll_width_mm=ROLL, version=version) == data


@pytest.mark.parametrize("version", ["R2000", "R12"])
def test_writing_is_silent(version, caplog, capfd):
    patterns_dxf(PIECES[:1], roll_width_mm=ROLL, version=version)
    assert not caplog.records
    assert capfd.readouterr() == ("", "")


def test_unknown_versions_are_refused():
    with pytest.raises(ValueError, match="no such DXF version: found 'R14'; use one of R2000, R12"):
        patterns_dxf(PIECES, roll_width_mm=ROLL, version="R14")


def test_letters_beyond_the_code_page_come_back(tmp_path):
    from dataclasses import replace

    piece = replace(PIECES[0], name="siège – Łódź 漢")
    for version in ("R2000", "R12"):
        file = tmp_path / f"{version}.dxf"
        file.write_bytes(patterns_dxf([piece], roll_width_mm=ROLL, version=version))
        # what the code page lacks is written as \\U+XXXX (DXF reference), which every reader turns back into letters
        texts = [entity for entity in dxf_entities(ezdxf.readfile(file)) if entity.dxftype() == "TEXT"]
        words = [decode_dxf_unicode(entity.dxf.text) for entity in texts]
        assert piece.name in words


@pytest.mark.parametrize("version", ["R2000", "R12"])
def test_every_piece_is_one_block_with_its_name_and_count(version):
    """Pieces of one name in two pads, and one more of the same, are three blocks; each holds the whole of its piece."""
    from dataclasses import replace

    pieces = [*PIECES, replace(PIECES[0], pad="backrest"), replace(PIECES[0], pad="backrest")]
    data = patterns_dxf(pieces, roll_width_mm=ROLL, version=version, imprint=Imprint("bench 7", "c0ffee"))
    drawing = ezdxf.read(io.StringIO(data.decode("cp1252"), newline=None))
    assert not drawing.audit().has_errors
    inserts = list(drawing.modelspace().query("INSERT"))
    assert len({insert.dxf.name.casefold() for insert in inserts}) == len(inserts) == len(pieces)
    if version == "R12":
        assert all(
            len(i.dxf.name) <= 31 and set(i.dxf.name) <= set("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_") for i in inserts
        )
    told = [{attrib.dxf.tag: attrib.dxf.text for attrib in insert.attribs} for insert in inserts]
    wanted = [(p.name, p.pad, str(p.cut_count), str(p.mirrored_count)) for p in pieces]
    assert sorted((t["PIECE"], t["PAD"], t["COUNT"], t["MIRRORED"]) for t in told) == sorted(wanted)
    assert all((t["JOB"], t["REVISION"]) == ("bench 7", "c0ffee") for t in told)
    assert all(attrib.is_invisible for insert in inserts for attrib in insert.attribs)
    for insert in inserts:
        (outline,) = [
            e for e in drawing.blocks.get(insert.dxf.name) if number(e.dxf.layer) == BOUNDARY and e.dxftype() != "SOLID"
        ]
        points = [v.dxf.location for v in outline.vertices] if version == "R12" else outline.get_points("xy")
        assert np.min([[p[0], p[1]] for p in points], axis=0) == pytest.approx([0.0, 0.0], abs=1e-6)
    # Nothing of a piece lies loose beside its block.
    assert {entity.dxftype() for entity in drawing.modelspace()} == {"INSERT", "TEXT"}


def test_the_drawing_says_its_layers_in_words(drawing):
    words = [entity.dxf.text for entity in drawing.modelspace().query("TEXT")]
    (legend,) = [text for text in words if text.startswith("Layers: ")]
    used = {number(entity.dxf.layer) for entity in dxf_entities(drawing)}
    for layer, stroke in STROKES.items():
        assert (f"{layer.value} {stroke.word}" in legend) == (str(layer.value) in used)


@pytest.mark.parametrize("version", ["R2000", "R12"])
def test_names_of_blocks_have_single_spaces(version):
    piece = replace(PIECES[0], name="filler strip 3, mirrored: 2 / 4")
    (name,) = block_names(lay_out_roll([piece], width_mm=ROLL).places, version)
    assert "  " not in name
    assert "__" not in name
    assert name.casefold().replace("_", " ").startswith("cushion filler strip 3 mir")
