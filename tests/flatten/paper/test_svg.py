"""The SVG file read back with lxml and svgpathtools: true size, layers, texts that stand upright."""

import copy
import re

import numpy as np
import pytest
from lxml import etree
from svgpathtools import parse_path

from flatten.draw.imprint import Imprint
from flatten.draw.pen import PenLayer, RecordingPen
from flatten.draw.strokes import STROKES
from flatten.paper.roll import GAP_MM, lay_out_roll
from flatten.paper.svg import patterns_svg
from tests.pieces import all_pieces, long_band, small

SVG = "{http://www.w3.org/2000/svg}"
INKSCAPE = "{http://www.inkscape.org/namespaces/inkscape}"
PIECES = all_pieces()
ROLL = 914.0


@pytest.fixture(scope="module")
def data():
    return patterns_svg(PIECES, roll_width_mm=ROLL)


@pytest.fixture(scope="module")
def root(data):
    return etree.fromstring(data)


def group(root, word):
    """All groups of a layer, piece by piece, as one."""
    found = etree.Element(f"{SVG}g")
    for one in root.iter(f"{SVG}g"):
        if one.get(f"{INKSCAPE}groupmode") == "layer" and one.get(f"{INKSCAPE}label") == word:
            found.extend(copy.deepcopy(one))
    return found


def test_one_unit_is_one_millimetre(root):
    left, top, width, height = (float(v) for v in root.get("viewBox").split())
    assert (left, top) == (0.0, 0.0)
    assert root.get("width").endswith("mm")
    assert root.get("height").endswith("mm")
    assert float(root.get("width")[:-2]) == pytest.approx(width, abs=1e-9)
    assert float(root.get("height")[:-2]) == pytest.approx(height, abs=1e-9)
    assert width == pytest.approx(ROLL)
    # nothing but words is moved by a transform, so the numbers in the paths are the millimetres themselves
    assert all(element.tag == f"{SVG}text" for element in root.iter() if element.get("transform"))


@pytest.mark.parametrize(("word", "line"), [("cut", "cut"), ("sew", "sew")])
def test_outlines_are_true_to_a_tenth_and_unmirrored(root, word, line):
    height = float(root.get("viewBox").split()[3])
    layout = lay_out_roll(PIECES, width_mm=ROLL)
    paths = [parse_path(e.get("d")) for e in group(root, word).iter(f"{SVG}path")]
    assert len(paths) == len(layout.places)
    for path, place in zip(paths, layout.places, strict=True):
        points = place.points(getattr(place.piece, line))
        assert path.isclosed()
        expected = np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1).sum()
        assert path.length() == pytest.approx(expected, abs=0.1)
        corners = np.array([[s.start.real, height - s.start.imag] for s in path])[: len(points)]
        assert np.abs(corners - points).max() < 0.1
        x0, x1, y0, y1 = path.bbox()
        assert (x0, height - y1) == pytest.approx(tuple(points.min(axis=0)), abs=0.1)
        assert (x1, height - y0) == pytest.approx(tuple(points.max(axis=0)), abs=0.1)


def test_every_kind_of_line_has_its_layer(root):
    words = {stroke.word for stroke in STROKES.values()}
    for piece in (g for g in root if g.tag == f"{SVG}g"):
        labels = [g.get(f"{INKSCAPE}label") for g in piece]
        assert len(set(labels)) == len(labels)
        assert {"cut", "sew", "text"} <= set(labels) <= words
        assert all(g.get(f"{INKSCAPE}groupmode") == "layer" for g in piece)
    drawn = RecordingPen()
    lay_out_roll(PIECES, width_mm=ROLL).draw(drawn)
    for layer, stroke in STROKES.items():
        marks = sum(one[0] is layer for one in [*drawn.lines, *drawn.fills])
        assert len(list(group(root, stroke.word).iter(f"{SVG}path"))) == marks
        words = [one.words for one in drawn.texts if one.layer is layer]
        assert [e.text for e in group(root, stroke.word).iter(f"{SVG}text")] == words
    assert len(list(group(root, STROKES[PenLayer.TEXT].word).iter(f"{SVG}text"))) >= len(PIECES)


def test_words_stand_where_and_how_they_were_drawn_and_never_upside_down(root):
    height = float(root.get("viewBox").split()[3])
    drawn = RecordingPen()
    lay_out_roll(PIECES, width_mm=ROLL).draw(drawn)
    for layer, stroke in STROKES.items():
        elements = list(group(root, stroke.word).iter(f"{SVG}text"))
        for element, one in zip(elements, [t for t in drawn.texts if t.layer is layer], strict=True):
            angle = 0.0
            if element.get("transform"):
                turn = re.fullmatch(r"rotate\((\S+) (\S+) (\S+)\)", element.get("transform"))
                angle, x, y = (float(v) for v in turn.groups())
                assert (x, height - y) == pytest.approx(one.at, abs=0.01)
            # SVG turns clockwise on the page, the pen counter-clockwise
            assert (angle + one.angle_deg + 180.0) % 360.0 == pytest.approx(180.0, abs=0.01)
            assert -90.01 <= angle <= 90.01, element.text
            assert float(element.get("x")) == pytest.approx(one.at[0], abs=0.01)
            assert height - float(element.get("y")) == pytest.approx(one.at[1] - 0.5 * one.height_mm, abs=0.01)


def test_a_long_piece_is_turned_and_keeps_its_handedness():
    layout = lay_out_roll([long_band(), small()], width_mm=400.0)
    (band,) = [place for place in layout.places if place.piece.name == "front band"]
    assert band.turned
    points = band.points(band.piece.cut)
    after = np.roll(points, -1, axis=0)
    area = 0.5 * float((points[:, 0] * after[:, 1] - points[:, 1] * after[:, 0]).sum())
    before = band.piece.cut
    following = np.roll(before, -1, axis=0)
    assert area == pytest.approx(0.5 * float((before[:, 0] * following[:, 1] - before[:, 1] * following[:, 0]).sum()))
    assert area > 0.0


@pytest.mark.parametrize("width", [400.0, 610.0, 914.0, 1400.0])
def test_pieces_lie_apart_and_on_the_roll(width):
    layout = lay_out_roll(PIECES, width_mm=width)
    boxes = []
    for place in layout.places:
        points = place.points(place.piece.cut)
        (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
        assert x0 > GAP_MM - 1e-6
        assert y0 > GAP_MM - 1e-6
        assert x1 < layout.width_mm - GAP_MM + 1e-6
        assert y1 < layout.length_mm - GAP_MM + 1e-6
        boxes.append((x0, y0, x1, y1))
    for k, (x0, y0, x1, y1) in enumerate(boxes):
        for u0, v0, u1, v1 in boxes[:k]:
            assert max(x0 - u1, u0 - x1, y0 - v1, v0 - y1) > GAP_MM - 1e-6
    assert sorted(place.piece.name for place in layout.places) == sorted(piece.name for piece in PIECES)


def test_a_piece_too_wide_either_way_makes_the_sheet_wider_and_says_so():
    layout = lay_out_roll([long_band()], width_mm=100.0)
    assert layout.width_mm > 100.0
    assert len(layout.notes) == 1
    assert "front band" in layout.notes[0]
    assert b"wider than the roll either way" in patterns_svg([long_band()], roll_width_mm=100.0)


def test_no_piece_or_no_room_is_refused():
    with pytest.raises(ValueError, match="no piece"):
        patterns_svg([], roll_width_mm=914.0)
    with pytest.raises(ValueError, match="leaves no room"):
        patterns_svg(PIECES, roll_width_mm=20.0)


def test_the_same_pieces_give_the_same_bytes(data):
    assert patterns_svg(all_pieces(), roll_width_mm=ROLL) == data


def test_every_piece_is_one_group_with_its_name_and_count():
    imprint = Imprint("bench 7", "c0ffee")
    root = etree.fromstring(patterns_svg(PIECES, roll_width_mm=ROLL, imprint=imprint))
    groups = [g for g in root if g.tag == f"{SVG}g"]
    places = lay_out_roll(PIECES, width_mm=ROLL).places
    assert len({g.get("id") for g in groups}) == len(groups) == len(places)
    for found, place in zip(groups, places, strict=True):
        piece, drawn = place.piece, RecordingPen()
        place.draw(drawn, imprint=imprint)
        assert (found.get("data-piece"), found.get("data-pad")) == (piece.name, piece.pad)
        assert (found.get("data-count"), found.get("data-mirrored")) == (
            str(piece.cut_count),
            str(piece.mirrored_count),
        )
        assert (found.get("data-job"), found.get("data-revision")) == ("bench 7", "c0ffee")
        # All of the piece, and nothing of another.
        assert len(list(found.iter(f"{SVG}path"))) == len(drawn.lines) + len(drawn.fills)
        assert len(list(found.iter(f"{SVG}text"))) == len(drawn.texts)
    assert not [e for e in root if e.tag in (f"{SVG}path", f"{SVG}text")]
