"""Both PDF files, read back by pypdf and drawn by poppler: true size, joined without a step, layers that switch."""

import io
from dataclasses import replace

import numpy as np
import pytest
from pypdf import PdfReader, PdfWriter
from pypdf.generic import ArrayObject, NameObject

from flatten.draw.imprint import NO_IMPRINT
from flatten.paper import pdf as paper
from flatten.paper.pages import MARGIN_MM, page_named, tiled
from flatten.paper.pdf import patterns_pdf, roll_pdf
from flatten.paper.pdf_pen import POINTS_PER_MM, keep_layers, new_canvas, show_layers
from tests.papers import closed_lengths, opened, page_paths, rendered
from tests.pieces import all_pieces, boxed_cushion, curved, edges_of, long_band, piece_of, small

PIECES = all_pieces()
OVERLAP = 10.0


@pytest.fixture(scope="module")
def tiles():
    return patterns_pdf(PIECES, page="a4", overlap_mm=OVERLAP)


@pytest.fixture(scope="module")
def roll():
    return roll_pdf(PIECES, roll_width_mm=914.0)


def perimeter(points):
    return float(np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1).sum())


def test_outlines_on_the_roll_are_true_to_a_tenth(roll):
    paths = page_paths(opened(roll), 0)
    for layer, line in (("cut", "cut"), ("sew", "sew")):
        expected = sorted(perimeter(getattr(piece, line)) for piece in PIECES)
        assert closed_lengths(paths[layer]) == pytest.approx(expected, abs=0.1)


def test_every_segment_on_the_roll_is_true_to_a_tenth(roll):
    found = page_paths(opened(roll), 0)
    for layer, line in (("cut", "cut"), ("sew", "sew")):
        for piece in PIECES:
            points = getattr(piece, line)
            rings = [p.points for p in found[layer] if p.closed and len(p.points) == len(points)]
            steps = np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1)
            worst = [np.abs(np.linalg.norm(np.roll(r, -1, axis=0) - r, axis=1) - steps).max() for r in rings]
            assert min(worst) < 0.1, piece.name


def test_every_page_shows_every_outline_at_its_own_place(tiles):
    reader, sheet = opened(tiles), page_named("a4", OVERLAP)
    tiling = tiled(PIECES, sheet)
    for number, tile in enumerate(tiling.tiles, start=len(reader.pages) - len(tiling.tiles)):
        shift = np.array([MARGIN_MM - tile.box[0], MARGIN_MM - tile.box[1]])
        rings = [p.points for p in page_paths(reader, number)["cut"] if p.closed]
        assert len(rings) == len(PIECES)
        for place in tiling.layout.places:
            expected = place.points(place.piece.cut) + shift
            same = [r for r in rings if len(r) == len(expected)]
            assert min(np.abs(r - expected).max() for r in same) < 0.1, (tile.name, place.piece.name)


@pytest.mark.parametrize(("page", "size"), [("a4", (210, 297)), ("a3", (297, 420)), ("letter", (215.9, 279.4))])
def test_pages_have_their_size_and_no_user_unit(page, size):
    reader = opened(patterns_pdf([boxed_cushion(), small()], page=page, overlap_mm=OVERLAP))
    for one in reader.pages:
        found = np.array([float(v) for v in one.mediabox]) * 25.4 / 72.0
        assert found == pytest.approx([0, 0, *size], abs=0.01)
        assert "/UserUnit" not in one
    assert reader.trailer["/Root"]["/ViewerPreferences"]["/PrintScaling"] == "/None"


def test_pages_say_their_names_their_neighbours_and_their_pieces(tiles):
    reader, tiling = opened(tiles), tiled(PIECES, page_named("a4", OVERLAP))
    before = len(reader.pages) - len(tiling.tiles)
    assert before in (1, 2)
    overview = " ".join(page.extract_text() for page in reader.pages[:before])
    overview = " ".join(overview.split())
    for words in ("100 %", "50 mm square", *(tile.name for tile in tiling.tiles)):
        assert words in overview
    for piece in PIECES:
        assert all(word in overview for word in piece.name.split())
    for page, tile in zip(reader.pages[before:], tiling.tiles, strict=True):
        words = page.extract_text()
        assert tile.name in words
        for side in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            other = tiling.neighbour(tile, *side)
            assert not other or f"joins {other}" in words
        for place in tile.touches[:1]:
            assert place.piece.name.split(" (")[0] in words


def test_a_long_list_of_pieces_goes_on_to_a_further_page():
    pieces = [replace(small(), name=f"cap {k:02d}") for k in range(60)]
    data = patterns_pdf(pieces, page="a3", overlap_mm=OVERLAP)
    reader, tiles = opened(data), tiled(pieces, page_named("a3", OVERLAP)).tiles
    before = len(reader.pages) - len(tiles)
    assert before >= 2
    listed = [reader.pages[number].extract_text() for number in range(before)]
    for piece in pieces:
        assert sum(f"cushion: {piece.name}" in words for words in listed) == 1
    assert f"page {before + 1} of {len(reader.pages)}" in reader.pages[before].extract_text()


def test_square_and_rulers_of_every_page_are_as_long_as_they_say(tiles, roll):
    for reader in (opened(tiles), opened(roll)):
        found = []
        for number in range(len(reader.pages)):
            free = [p.points for p in page_paths(reader, number)["frames and rulers"]]
            squares = [p for p in free if len(p) == 4 and np.ptp(p, axis=0) == pytest.approx([50.0, 50.0], abs=0.01)]
            found.append(len(squares))
            assert len(squares) <= 1
            spans = [np.abs(p[1] - p[0]) for p in free if len(p) == 2]
            assert any(s == pytest.approx([100.0, 0.0], abs=0.01) for s in spans)
            assert any(s == pytest.approx([0.0, 100.0], abs=0.01) for s in spans)
        # On the first page, and wherever there is room clear of all lines.
        assert found[0] == 1
        assert sum(found) >= 0.5 * len(found)


def test_the_typeface_is_embedded_and_there_is_no_other(tiles, roll):
    for reader in (opened(tiles), opened(roll)):
        fonts = {}
        for number in range(1, len(reader.xref[0]) + 1):
            thing = reader.get_object(number)
            if isinstance(thing, dict) and thing.get("/Type") == "/Font":
                fonts[thing["/BaseFont"]] = "/FontFile2" in thing["/FontDescriptor"]
        assert fonts
        assert all(fonts.values())
        assert all("DejaVu" in name for name in fonts)


def test_the_same_pieces_give_the_same_bytes(tiles, roll):
    assert patterns_pdf(all_pieces(), page="a4", overlap_mm=OVERLAP) == tiles
    assert roll_pdf(all_pieces(), roll_width_mm=914.0) == roll


def test_tiles_laid_together_are_the_pattern_without_a_step(tmp_path):
    """Pages drawn by poppler, laid by the map and cut at the join lines, against the layout drawn in one piece."""
    dpi, pieces = 127, [curved(), small()]
    tiling = tiled(pieces, page_named("a4", OVERLAP))
    # 127 dpi: 5 pixels a millimetre exactly, so that pages lie on each other pixel on pixel
    pages = rendered(patterns_pdf(pieces, page="a4", overlap_mm=OVERLAP), tmp_path, dpi)
    whole = _one_page(tiling, tmp_path / "whole", dpi)
    margin, compared = round(5 * MARGIN_MM), 0
    for page, tile in zip(pages[-len(tiling.tiles) :], tiling.tiles, strict=True):
        area = page[margin:-margin, margin:-margin]
        x, top = round(5 * tile.box[0]), whole.shape[0] - round(5 * tile.box[3])
        dark = np.argwhere(area < 60)
        part = np.zeros(area.shape, dtype=bool)
        rows, columns = np.indices(area.shape)
        inside = (rows + top >= 0) & (rows + top < whole.shape[0]) & (columns + x < whole.shape[1])
        part[inside] = whole[(rows + top)[inside], (columns + x)[inside]] < 60
        compared += int(part.sum())
        assert part.sum() == 0 or len(dark)
        # every dark pixel of the whole pattern is dark, or beside a dark one, on its page
        near = _thickened(area < 140)
        assert (part & ~near).sum() == 0, tile.name
    assert compared > 2000


def _one_page(tiling, folder, dpi):
    layout = tiling.layout
    folder.mkdir()
    canvas, stream = new_canvas("whole")
    keep_layers(
        canvas, "all", paper._joined(paper._records(layout, NO_IMPRINT, tiling)), layout.width_mm, layout.length_mm
    )
    height = np.ceil(layout.length_mm)
    canvas.setPageSize((np.ceil(layout.width_mm) * POINTS_PER_MM, height * POINTS_PER_MM))
    show_layers(canvas, "all", (0.0, 0.0, layout.width_mm, layout.length_mm), (0.0, 0.0))
    canvas.showPage()
    canvas.save()
    return rendered(stream.getvalue(), folder, dpi)[0]


def _thickened(dark):
    wide = dark.copy()
    for axis in (0, 1):
        wide = wide | np.roll(wide, 1, axis=axis) | np.roll(wide, -1, axis=axis)
    return wide


def test_layers_switch(tmp_path, roll):
    """With one layer off, the page shows less ink, and nothing that was not there before."""
    reader = opened(roll)
    names = [group.get_object()["/Name"] for group in reader.trailer["/Root"]["/OCProperties"]["/OCGs"]]
    assert set(names) == {"cut", "sew", "notches", "grain", "inner lines", "text", "frames and rulers"}
    (tmp_path / "all").mkdir()
    (full,) = rendered(roll, tmp_path / "all", 25)
    for name in names:
        folder = tmp_path / name
        folder.mkdir()
        (fewer,) = rendered(_switched_off(roll, name), folder, 25)
        assert (fewer < 200).sum() < (full < 200).sum(), name
        assert (fewer.astype(int) >= full.astype(int)).all(), name


def _switched_off(data, name):
    writer = PdfWriter(clone_from=PdfReader(io.BytesIO(data)))
    choice = writer._root_object["/OCProperties"]
    off = [group for group in choice["/OCGs"] if group.get_object()["/Name"] == name]
    choice["/D"][NameObject("/OFF")] = ArrayObject(off)
    choice["/D"][NameObject("/ON")] = ArrayObject([g for g in choice["/OCGs"] if g not in off])
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def test_a_piece_longer_than_a_page_goes_on_with_an_overlap():
    edges = edges_of([(0.0, 0.0), (6000.0, 0.0), (6000.0, 90.0), (0.0, 90.0)], [12.0] * 4)
    piece = piece_of("long band", edges)
    reader = opened(roll_pdf([piece], roll_width_mm=300.0))
    assert len(reader.pages) == 2
    assert all(float(page.mediabox.height) <= 14400.0 for page in reader.pages)
    crosses, outlines = [], []
    for number in range(2):
        paths = page_paths(reader, number)
        arms = [p.points for p in paths["frames and rulers"] if len(p.points) == 2]
        level = [a for a in arms if a[0][1] == a[1][1] and abs(np.ptp(a[:, 0]) - 8.0) < 0.01]
        crosses.append(np.unique(np.round([a.mean(axis=0) for a in level], 3), axis=0))
        (outline,) = [p.points for p in paths["cut"]]
        outlines.append(outline)
    assert len(crosses[0]) == len(crosses[1]) == 3
    # laid cross on cross, the two halves of the outline lie on each other
    shift = crosses[0] - crosses[1]
    assert shift == pytest.approx(np.tile(shift[0], (3, 1)), abs=0.01)
    assert outlines[1] + shift[0] == pytest.approx(outlines[0], abs=0.1)
    assert shift[0][1] > 4900.0


def test_a_roll_longer_than_a_page_can_be_goes_on_to_the_next():
    # 14400 points are 5080 mm (ISO 32000-1, annex C)
    reader = opened(roll_pdf([long_band()] * 12, roll_width_mm=200.0))
    heights = [float(page.mediabox.height) for page in reader.pages]
    assert len(heights) == 4
    assert max(heights) <= 14400.0
    rings = [ring for number in range(4) for ring in page_paths(reader, number)["cut"]]
    assert closed_lengths(rings) == pytest.approx([perimeter(long_band().cut)] * 12, abs=0.1)
