"""What every page carries besides the pattern, kept by a pen that only listens: joins that meet on both pages, rulers,
the map and the list of the first page."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from reportlab.pdfgen.canvas import Canvas
from shapely.geometry import LineString, Polygon, box

from flatten.draw.fonts import words_width
from flatten.draw.imprint import NO_IMPRINT
from flatten.draw.pen import RecordingPen
from flatten.paper.checking import draw_rulers, draw_square
from flatten.paper.furniture import CROSS_MM, draw_furniture
from flatten.paper.overview import draw_overview, runs, wrapped
from flatten.paper.pages import MARGIN_MM, page_named, tiled
from flatten.paper.roll import GAP_MM, lay_out_roll, too_wide
from flatten.paper.wording import COVER, PADDING, how_to, title_of
from flatten.pieces.piece import GRAIN_UP
from tests.pieces import all_pieces, boxed_cushion, curved, edges_of, long_band, piece_of, small

SQUARE_MM = 50.0


class Listener:
    """Keeps what a PDF pen would draw: rules (points, width, dash, ink, closed), words and filled shapes."""

    def __init__(self):
        self.rules, self.words, self.fills, self.canvas = [], [], [], Canvas("/dev/null")
        self.blanks = []

    def rule(self, points, *, width_mm=0.2, dash_mm=(), ink=0.0, closed=False):
        self.rules.append((np.array(points, dtype=float), width_mm, tuple(dash_mm), ink, closed))

    def fill(self, layer, points):
        self.fills.append(np.array(points))

    def blank(self, points):
        self.blanks.append(np.array(points))

    def write(self, at, words, *, height_mm, angle_deg=0.0, ink=0.0, side=0.5, widest_mm=float("inf")):
        self.words.append((words, np.array(at, dtype=float), height_mm, angle_deg, side, widest_mm))

    def said(self):
        return [words for words, *_ in self.words]


@pytest.fixture(scope="module")
def pages():
    """A cushion on several pages: the tiling and what is on each page, by name."""
    tiling = tiled([boxed_cushion()], page_named("a4", 10.0))
    records = []
    for place in tiling.layout.places:
        record = RecordingPen()
        place.draw(record)
        records.append((place, record))
    found = {}
    for k, tile in enumerate(tiling.tiles):
        pen = Listener()
        draw_furniture(pen, tiling, tile, f"page {k + 1} of {len(tiling.tiles)}", records, imprint=NO_IMPRINT)
        found[tile.name] = (tile, pen)
    return tiling, found


def on_pattern(tile, points):
    """Page coordinates in those of the layout."""
    return points + np.array(tile.box[:2]) - MARGIN_MM


def dashed(pen):
    return [points for points, _, dash, *_ in pen.rules if dash]


def crosses(pen):
    """Middles of the register crosses: a level and an upright rule of one length through one point."""
    short = [
        p
        for p, w, *_ in pen.rules
        if len(p) == 2 and w == 0.25 and np.linalg.norm(p[1] - p[0]) == pytest.approx(2 * CROSS_MM)
    ]
    level = {tuple(np.round(p.mean(axis=0), 6)) for p in short if p[0][1] == pytest.approx(p[1][1])}
    upright = {tuple(np.round(p.mean(axis=0), 6)) for p in short if p[0][0] == pytest.approx(p[1][0])}
    assert level == upright
    return np.array(sorted(level))


def test_join_lines_and_crosses_fall_on_the_same_places_of_the_pattern(pages):
    tiling, found = pages
    met = 0
    for tile, pen in found.values():
        for right, up in ((1, 0), (0, 1)):
            name = tiling.neighbour(tile, right, up)
            if not name:
                continue
            other, theirs = found[name]
            ours = [on_pattern(tile, line) for line in dashed(pen)]
            others = [on_pattern(other, line) for line in dashed(theirs)]
            assert any(np.allclose(a, b, atol=1e-6) for a in ours for b in others)
            # Three crosses stand on it, seen from either page: at both ends and half way.
            mine, yours = (on_pattern(t, crosses(p)) for t, p in ((tile, pen), (other, theirs)))
            shared = [c for c in mine if np.linalg.norm(yours - c, axis=1).min() < 1e-6]
            line = next(a for a in ours for b in others if np.allclose(a, b, atol=1e-6))
            on = [c for c in shared if LineString(line).distance(LineString([c, c + 1e-9])) < 1e-6]
            assert len(on) == 3
            ends = sorted(np.linalg.norm(np.array(on) - line[0], axis=1))
            assert ends[1] == pytest.approx(0.5 * np.linalg.norm(line[1] - line[0]))
            assert ends[0] == pytest.approx(np.linalg.norm(line[1] - line[0]) - ends[2])
            # In the middle of what both pages show.
            both = box(*tile.box).intersection(box(*other.box))
            assert both.centroid.distance(LineString(line)) < 1e-6
            met += 1
    assert met >= 4


def test_each_page_names_itself_its_neighbours_and_its_pieces(pages):
    tiling, found = pages
    for k, (name, (tile, pen)) in enumerate(found.items()):
        said = pen.said()
        assert said[0] == name
        assert any(words.startswith(f"page {k + 1} of {len(found)}") and "cushion face" in words for words in said)
        wanted = {
            tiling.neighbour(tile, right, up): at
            for (right, up), at in (((-1, 0), "left"), ((1, 0), "right"), ((0, -1), "below"), ((0, 1), "above"))
            if tiling.neighbour(tile, right, up)
        }
        joins = {
            words.removeprefix("joins "): (at, angle)
            for words, at, _, angle, *_ in pen.words
            if words.startswith("joins ")
        }
        assert joins.keys() == wanted.keys()
        for other, (at, angle) in joins.items():
            sheet = tiling.sheet
            beside = {
                "left": at[0] < MARGIN_MM,
                "right": at[0] > sheet.width_mm - MARGIN_MM,
                "below": at[1] < MARGIN_MM,
                "above": at[1] > sheet.height_mm - MARGIN_MM,
            }
            assert [side for side, there in beside.items() if there] == [wanted[other]]
            assert angle == (90.0 if wanted[other] in ("left", "right") else 0.0)


def test_the_square_lies_clear_of_lines_where_there_is_room(pages):
    tiling, found = pages
    for tile, pen in found.values():
        (square,) = [Polygon(p) for p, *_, closed in pen.rules if closed and len(p) == 4]
        assert square.area == pytest.approx(SQUARE_MM**2)
        sheet = tiling.sheet
        assert box(MARGIN_MM, MARGIN_MM, sheet.width_mm - MARGIN_MM, sheet.height_mm - MARGIN_MM).contains(square)
        for place in tile.touches:
            cut = Polygon(place.points(place.piece.cut)).exterior
            there = on_pattern(tile, np.array(square.exterior.coords))
            assert not LineString(there).intersects(cut)


def test_a_tag_points_along_the_grain_and_stands_on_its_piece(pages):
    _, found = pages
    tagged = 0
    for tile, pen in found.values():
        tags = [entry for entry in pen.words if entry[0] == "cushion face"]
        for (_, at, *_), arrow in zip(tags, pen.fills, strict=True):
            (place,) = tile.touches
            inside = Polygon(place.points(place.piece.cut))
            assert inside.contains(LineString([on_pattern(tile, at), on_pattern(tile, at) + 1e-6]))
            tail, head = place.points(place.piece.grain)
            tip, one, two = arrow
            along = tip - 0.5 * (one + two)
            grain = (head - tail) / np.linalg.norm(head - tail)
            assert along @ grain == pytest.approx(np.linalg.norm(along))
            tagged += 1
    assert tagged >= len(found) // 2


def test_rulers_are_a_hundred_millimetres_with_ticks_at_every_five():
    pen = Listener()
    draw_rulers(pen, (20.0, 5.0), (7.0, 33.0))
    for start, along, up in (((20.0, 5.0), [1.0, 0.0], [0.0, 1.0]), ((7.0, 33.0), [0.0, 1.0], [1.0, 0.0])):
        lines = [p - start for p, *_ in pen.rules]
        own = [p for p in lines if p[0] @ up == pytest.approx(0.0) and -1e-9 <= p[0] @ along <= 100.0 + 1e-9]
        (base,) = [p for p in own if (p[1] - p[0]) @ along == pytest.approx(100.0)]
        assert base[0].tolist() == [0.0, 0.0]
        ticks = sorted((float(p[0] @ along), float((p[1] - p[0]) @ up)) for p in own if (p[1] - p[0]) @ up > 0.5)
        assert [place for place, _ in ticks] == pytest.approx(list(np.arange(0.0, 101.0, 5.0)))
        # The longest at every fifty, middling at every ten.
        for place, size in ticks:
            assert size == pytest.approx(3.0 if place % 50 == 0 else 2.0 if place % 10 == 0 else 1.2)
    assert [(words, angle) for words, _, _, angle, *_ in pen.words] == [("100 mm", 0.0), ("100 mm", 90.0)]
    for (_, at, *_), end in zip(pen.words, ([122.0, 6.5], [8.5, 135.0]), strict=True):
        assert at == pytest.approx(end)


def test_the_square_is_where_it_was_put():
    pen = Listener()
    draw_square(pen, (30.0, 40.0))
    ((points, *_, closed),) = pen.rules
    assert closed
    assert points.tolist() == [[30, 40], [80, 40], [80, 90], [30, 90]]
    assert pen.said() == ["50 x 50 mm"]


# ---- the first page -------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def first():
    tiling, pen = tiled(all_pieces(), page_named("a4", 10.0)), Listener()
    return tiling, pen, draw_overview(pen, tiling, COVER, imprint=NO_IMPRINT)


def test_the_first_page_says_what_it_is_and_how_to_print_it(first):
    _, pen, count = first
    assert count == 1
    text = " ".join(pen.said())
    assert f"{title_of(COVER, all_pieces())}, full size" in text
    for words in (*how_to(COVER, NO_IMPRINT), "50 mm square", "both 100 mm rulers"):
        assert words in text
    assert "Adhesive" not in text
    assert PADDING.title not in text


@pytest.mark.parametrize("high", [250.0, 500.0, 1200.0])
def test_a_short_list_stands_below_a_map_of_any_height(high):
    corners = [(0.0, 0.0), (500.0, 0.0), (500.0, high), (0.0, high)]
    tiling = tiled([piece_of("face", edges_of(corners, [12.0] * 4))], page_named("a4", 10.0))
    assert draw_overview(Listener(), tiling, COVER, imprint=NO_IMPRINT) == 1


def test_every_piece_is_listed_with_its_count_and_its_pages(first):
    tiling, pen, _ = first
    begin = next(float(at[1]) for words, at, *_ in pen.words if words == "Pieces and the pages they are on")
    rows = [(words, at) for words, at, _, angle, *_ in pen.words if 15.0 < at[1] < begin and angle == 0.0]
    columns = {x: " ".join(words for words, at in rows if at[0] == x) for x in {float(at[0]) for _, at in rows}}
    names, counts, on = (columns[x] for x in sorted(columns))
    # In the order in which they were given, which is that of the work.
    pieces = [place.piece for place in tiling.layout.places]
    assert names == " ".join(f"{piece.pad}: {piece.name}" for piece in pieces)
    assert counts == " ".join(piece.count_text for piece in pieces)
    tiles = [[tile for tile in tiling.tiles if any(place.piece is piece for place in tile.carries)] for piece in pieces]
    assert on == " ".join(", ".join(runs(own)) for own in tiles)


def test_the_map_is_the_layout_to_one_scale(first):
    """Pieces and pages in one scale: distances on the map over those on the layout are all the same."""
    tiling, pen, _ = first
    outlines = [p for p, width, *_, closed in pen.rules if closed and width == 0.3]
    assert len(outlines) == len(tiling.layout.places)
    scale, shift = None, None
    for drawn, place in zip(outlines, tiling.layout.places, strict=True):
        there = place.points(place.piece.cut)
        found = np.ptp(drawn, axis=0) / np.ptp(there, axis=0)
        assert found[0] == pytest.approx(found[1])
        scale = scale or found[0]
        assert found[0] == pytest.approx(scale)
        moved = drawn[0] - scale * there[0]
        shift = moved if shift is None else shift
        assert moved == pytest.approx(shift)
    boxes = [
        p
        for p, width, _, _, closed in pen.rules
        if closed and width == 0.15 and np.ptp(p, axis=0)[0] != pytest.approx(SQUARE_MM)
    ]
    assert len(boxes) == len(tiling.tiles)
    for drawn, tile in zip(boxes, tiling.tiles, strict=True):
        half = 0.5 * tiling.sheet.overlap_mm
        core = np.array([[tile.box[0] + half, tile.box[1] + half], [tile.box[2] - half, tile.box[3] - half]])
        assert drawn[[0, 2]] == pytest.approx(scale * core + shift)
        assert tile.name in pen.said()
    sheet = tiling.sheet
    room = box(MARGIN_MM, MARGIN_MM, sheet.width_mm - MARGIN_MM, sheet.height_mm - MARGIN_MM)
    assert all(room.contains(Polygon(p)) for p in (*outlines, *boxes))


def test_nothing_on_the_first_page_lies_over_anything_else(first):
    tiling, pen, _ = first
    square = next(
        Polygon(p) for p, *_, closed in pen.rules if closed and np.ptp(p, axis=0)[0] == pytest.approx(SQUARE_MM)
    )
    page = next(p for p, width, *_, closed in pen.rules if closed and width == 0.3)
    fields = []
    for words, at, height, angle, side, widest in pen.words:
        wide = min(words_width(words, height), widest)
        if angle == 0.0 and words != "100 mm" and words != "50 x 50 mm":
            fields.append(
                box(at[0] - side * wide, at[1] - 0.5 * height, at[0] + (1 - side) * wide, at[1] + 0.5 * height)
            )
    names = {tile.name for tile in tiling.tiles}
    plain = [
        f
        for f, (words, *_) in zip(
            fields, [w for w in pen.words if w[3] == 0.0 and w[0] not in ("100 mm", "50 x 50 mm")], strict=True
        )
        if words not in names
    ]
    assert not any(field.intersects(square) for field in plain)
    assert not any(a.intersects(b) for k, a in enumerate(plain) for b in plain[:k])
    assert not any(field.intersects(Polygon(page)) for field in plain)


def test_words_are_wrapped_to_their_room_without_loss():
    text = "Trim each page along the grey dashed line on its left and at its top, lay it on its neighbours"
    for room in (30.0, 60.0, 500.0):
        lines = wrapped(text, 2.3, room)
        assert " ".join(lines) == text
        assert all(words_width(line, 2.3) <= room for line in lines)
        # No line could take the first word of the next.
        assert all(words_width(f"{a} {b.split()[0]}", 2.3) > room for a, b in pairwise(lines))
    assert wrapped("unbreakable", 2.3, 1.0) == ("unbreakable",)


def test_three_pages_beside_each_other_are_drawn_together(first):
    tiling, *_ = first
    rows = [[tile for tile in tiling.tiles if tile.row == k] for k in range(tiling.rows)]
    row = next(row for row in rows if [tile.column for tile in row[:3]] == [row[0].column + k for k in range(3)])
    names = [tile.name for tile in row]
    assert runs(row[:2]) == names[:2]
    assert runs(row[:3]) == [f"{names[0]}–{names[2]}"]
    assert runs([row[0], row[2]]) == [names[0], names[2]]


# ---- the roll -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("width", [300.0, 600.0, 914.0, 1400.0])
def test_pieces_lie_a_gap_apart_and_from_the_edge_with_a_foot_free(width):
    pieces = [boxed_cushion(), curved(), small(), small(), long_band()]
    layout = lay_out_roll(pieces, width_mm=width, edge_mm=7.0, foot_mm=12.0)
    boxes = [Polygon(place.points(place.piece.cut)).envelope for place in layout.places]
    assert len(boxes) == len(pieces)
    for k, one in enumerate(boxes):
        x0, y0, x1, _ = one.bounds
        assert x0 >= 7.0 - 1e-6
        assert x1 <= layout.width_mm - 7.0 + 1e-6
        assert y0 >= 19.0 - 1e-6
        assert all(one.distance(other) >= GAP_MM - 1e-6 for other in boxes[:k])
    assert max(one.bounds[3] for one in boxes) == pytest.approx(layout.length_mm - 7.0)
    assert min(one.bounds[1] for one in boxes) == pytest.approx(19.0)
    needed = max(min(p.box()[2] - p.box()[0], p.box()[3] - p.box()[1]) for p in pieces) + 14.0
    assert layout.width_mm >= min(width, needed) - 1e-6
    assert (layout.width_mm > width + 1e-6) == bool(layout.notes) == bool(too_wide(pieces, width_mm=width, edge_mm=7.0))


def test_what_is_too_wide_is_told_with_the_width_it_needs():
    piece = boxed_cushion(400.0, 300.0, 10.0)
    assert too_wide([piece], width_mm=339.9, edge_mm=10.0) == [(piece, pytest.approx(340.0))]
    assert too_wide([piece], width_mm=340.0, edge_mm=10.0) == []


def test_every_page_with_leather_says_which_side_lies_up_however_many_names_there_are():
    """Names give way to it, never the other way round."""
    many = [replace(small(), name=f"rear inset corner gusset number {k}", pad="port helm bench") for k in range(12)]
    tiling = tiled([*many, boxed_cushion()], page_named("a4", 10.0))
    crowded = 0
    for k, tile in enumerate(tiling.tiles):
        pen = Listener()
        draw_furniture(pen, tiling, tile, f"page {k + 13} of 120", [], imprint=NO_IMPRINT)
        (line,) = [words for words in pen.said() if words.startswith("page ")]
        assert GRAIN_UP in line
        crowded += "more" in line
    assert crowded
