"""Job, revision mark and unit on every paper, read back from the written files; letters no smaller than 3 mm."""

import io
from dataclasses import replace

import ezdxf
import numpy as np
import pytest
from lxml import etree
from shapely.geometry import LineString, Polygon, box

from flatten.draw.fonts import words_width
from flatten.draw.imprint import Imprint
from flatten.draw.labels import turned_box
from flatten.draw.marks import draw_piece
from flatten.draw.pen import RecordingPen
from flatten.paper import pdf as paper
from flatten.paper.dxf import patterns_dxf
from flatten.paper.pages import page_named, tiled
from flatten.paper.pdf import patterns_pdf, roll_pdf
from flatten.paper.svg import patterns_svg
from flatten.paper.wording import GAUGES
from flatten.pieces.piece import CutOrder, PieceKind
from meshes.sheet.read import revision_of
from tests.papers import opened, page_paths, page_words
from tests.pieces import all_pieces, boxed_cushion, small

SHOP = Imprint("Launch 7 bench", "c0ffee")
INCH = Imprint("Launch 7 bench", "c0ffee", "in")


@pytest.fixture(scope="module", params=[SHOP, INCH], ids=["mm", "in"])
def papers(request):
    pieces = all_pieces()
    tiles = patterns_pdf(pieces, page="a4", overlap_mm=10.0, imprint=request.param)
    return request.param, tiles, roll_pdf(pieces, roll_width_mm=914.0, imprint=request.param)


def test_every_page_says_whose_it_is(papers):
    imprint, *files = papers
    for reader in map(opened, files):
        for page in reader.pages:
            assert imprint.line in page.extract_text()


def test_no_letter_on_any_page_is_smaller_than_three_millimetres(papers):
    _, *files = papers
    for reader in map(opened, files):
        for number in range(len(reader.pages)):
            words = page_words(reader, number)
            assert words
            for text, height in words:
                assert height >= 3.0 - 0.01, text


def test_every_piece_says_whose_it_is_in_every_drawing():
    pieces = [piece for piece in all_pieces() if piece.name != "end cap"]
    root = etree.fromstring(patterns_svg(pieces, roll_width_mm=914.0, imprint=SHOP))
    texts = [node.text for node in root.iter("{http://www.w3.org/2000/svg}text")]
    assert sum(SHOP.line in text for text in texts) == len(pieces)
    assert SHOP.line in root.find("{http://www.w3.org/2000/svg}title").text
    data = patterns_dxf(pieces, roll_width_mm=914.0, imprint=SHOP).decode("cp1252")
    assert data.count(SHOP.line) > len(pieces)


def test_an_inch_shop_reads_inches_with_millimetres_beside_them(papers):
    imprint, *files = papers
    for reader in map(opened, files):
        words = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
        if imprint.unit == "in":
            assert "2 in square and both 4 in rulers" in words
            # 12.7 mm are half an inch, 50 mm 1 31/32, to the nearest sixteenth 1 15/16
            assert "welted 1/2 in (12.7 mm)" in words
            assert "pulled and tacked 1 15/16 in (50 mm)" in words
            assert "4 in (101.6 mm)" in words
        else:
            assert " in (" not in words


@pytest.mark.parametrize(("imprint", "square", "ruler"), [(SHOP, 50.0, 100.0), (INCH, 50.8, 101.6)])
def test_what_paper_is_checked_with_is_as_long_as_it_says(imprint, square, ruler):
    reader = opened(patterns_pdf([boxed_cushion()], page="letter", overlap_mm=10.0, imprint=imprint))
    for number in range(len(reader.pages)):
        free = [path.points for path in page_paths(reader, number)["frames and rulers"]]
        spans = [np.abs(p[1] - p[0]) for p in free if len(p) == 2]
        assert any(s == pytest.approx([ruler, 0.0], abs=0.01) for s in spans)
        assert any(s == pytest.approx([0.0, ruler], abs=0.01) for s in spans)
        squares = [p for p in free if len(p) == 4 and np.ptp(p, axis=0) == pytest.approx([square, square], abs=0.01)]
        assert number or len(squares) == 1


def test_the_checking_square_lies_over_no_line():
    pieces = all_pieces()
    reader = opened(patterns_pdf(pieces, page="a4", overlap_mm=10.0, imprint=SHOP))
    seen = 0
    for number in range(1, len(reader.pages)):
        paths = page_paths(reader, number)
        lines = [one for layer, kept in paths.items() if layer != "frames and rulers" for one in kept]
        drawn = [LineString(np.vstack([one.points, one.points[:1]]) if one.closed else one.points) for one in lines]
        for path in paths["frames and rulers"]:
            if len(path.points) == 4 and np.ptp(path.points, axis=0) == pytest.approx([50.0, 50.0], abs=0.01):
                assert not any(line.intersects(Polygon(path.points)) for line in drawn), number
                seen += 1
    assert seen > 5


def test_no_words_lie_across_the_joins_of_pages():
    pieces = [boxed_cushion(900.0, 700.0), *all_pieces()]
    tiling = tiled(pieces, page_named("a4", 10.0))
    for place, record in paper._records(tiling.layout, SHOP, tiling):
        for text in record.texts:
            shape = turned_box(text.at, words_width(text.words, text.height_mm), text.height_mm, text.angle_deg)
            shown = [tile for tile in tiling.tiles if box(*tiling.core(tile)).contains(shape)]
            assert len(shown) == 1, (place.piece.name, text.words)


def test_sheets_of_gauges_speak_of_gauges():
    gauge = replace(boxed_cushion(), name="gauge top, along 0", order=CutOrder(material="card", kind=PieceKind.GAUGE))
    reader = opened(patterns_pdf([gauge], page="a4", overlap_mm=10.0, wording=GAUGES, imprint=SHOP))
    first = " ".join(reader.pages[0].extract_text().split())
    assert "Section gauges" in first
    assert "hollow side" in first
    for word in ("Cover patterns", "leather", "notch", "sewn"):
        assert word not in first


def test_the_mark_changes_with_values_and_with_nothing_else():
    raw = {"name": "bench", "pad": [{"name": "seat", "rake": 4}], "unit": "mm"}
    assert revision_of(raw) == revision_of({"unit": "mm", "pad": [{"rake": 4, "name": "seat"}], "name": "bench"})
    for other in ({**raw, "unit": "in"}, {**raw, "pad": [{"name": "seat", "rake": 4.5}]}):
        assert revision_of(other) != revision_of(raw)
    assert len(revision_of(raw)) == 6


def test_the_drawing_opens_with_its_marks():
    drawing = ezdxf.read(
        io.StringIO(patterns_dxf([boxed_cushion()], roll_width_mm=914.0, imprint=SHOP).decode("cp1252"), newline=None)
    )
    assert any(SHOP.line in entity.dxf.text for entity in drawing.modelspace().query("TEXT"))


def test_a_small_piece_says_its_name_where_the_job_has_no_room():
    pen = RecordingPen()
    draw_piece(small(), pen, imprint=Imprint("A launch with a very long name indeed", "c0ffee"))
    assert any(small().name in text.words for text in pen.texts)
    assert all(text.height_mm >= 3.0 - 1e-9 for text in pen.texts)
