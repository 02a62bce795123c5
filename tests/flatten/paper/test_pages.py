"""Tiling: how many pages, which ones, and that together they show every line of every piece."""

from dataclasses import replace
from itertools import combinations
from math import ceil

import numpy as np
import pytest
import shapely
from shapely.geometry import LinearRing, LineString, Polygon, box

from flatten.draw.fonts import words_width
from flatten.draw.marks import draw_piece
from flatten.draw.pen import PenLayer, RecordingPen
from flatten.paper.page_map import draw_map
from flatten.paper.pages import PAGE_EDGE_MM, PAGE_MM, page_named, tile_count, tile_name, tiled
from flatten.pieces.piece import EdgeKind
from tests.pieces import all_pieces, boxed_cushion, curved, edges_of, long_band, piece_of, small


def test_a_long_band_needs_eight_pages():
    # n = ceil((S - o) / (p - o)); 1400, 190, 10 -> 8 (derived: a page adds p - o, the last one o more)
    assert tile_count(1400.0, 190.0, 10.0) == 8


@pytest.mark.parametrize("size", [1.0, 190.0, 190.1, 370.0, 370.1, 5000.0])
def test_tiles_cover_and_none_is_left_over(size):
    n = tile_count(size, 190.0, 10.0)
    assert n * 180.0 + 10.0 >= size
    assert n == 1 or (n - 1) * 180.0 + 10.0 < size
    assert n == max(1, ceil((size - 10.0) / 180.0))


def test_page_sizes():
    # ISO 216; ANSI Y14.1 from memory
    sizes = {"a4": (210.0, 297.0), "a3": (297.0, 420.0), "letter": (8.5 * 25.4, 11 * 25.4)}
    assert PAGE_MM.keys() == sizes.keys()
    for name, size in sizes.items():
        assert PAGE_MM[name] == pytest.approx(size)


def test_tile_names():
    assert [tile_name(r, c) for r, c in ((0, 0), (0, 11), (25, 0), (26, 2), (27, 0))] == [
        "A1",
        "A12",
        "Z1",
        "AA3",
        "AB1",
    ]


@pytest.mark.parametrize("page", PAGE_MM)
@pytest.mark.parametrize("overlap", [0.0, 10.0, 25.0])
def test_every_cut_line_is_shown_between_the_join_lines(page, overlap):
    sheet = page_named(page, overlap)
    tiling = tiled(all_pieces(), sheet)
    step = np.array([sheet.print_width_mm, sheet.print_height_mm]) - overlap
    areas, first = [], tiling.tiles[0]
    origin = first.box[0] - first.column * step[0], first.box[3] + first.row * step[1]
    for tile in tiling.tiles:
        x0, y0, x1, y1 = tile.box
        place = np.array([x0 - origin[0], origin[1] - y1])
        assert place == pytest.approx(np.array([tile.column, tile.row]) * step, abs=1e-6)
        half = 0.5 * overlap
        # A side at which nothing is joined is not cut off.
        left, below, right, above = (
            half * bool(tiling.neighbour(tile, *side)) for side in ((-1, 0), (0, -1), (1, 0), (0, 1))
        )
        areas.append(box(x0 + left, y0 + below, x1 - right, y1 - above))
    shown = shapely.union_all(areas).buffer(1e-6)
    for place in tiling.layout.places:
        assert shown.contains(LinearRing(place.points(place.piece.cut))), place.piece.name


def test_empty_pages_are_left_out_and_no_page_is_named_twice():
    tiling = tiled(all_pieces(), page_named("a4", 10.0))
    names = [tile.name for tile in tiling.tiles]
    assert len(set(names)) == len(names) < tiling.rows * tiling.columns
    for tile in tiling.tiles:
        assert tile.touches


def test_neighbours_name_each_other():
    tiling = tiled([boxed_cushion()], page_named("a4", 10.0))
    by_name = {tile.name: tile for tile in tiling.tiles}
    for tile in tiling.tiles:
        for right, up in ((1, 0), (0, 1), (-1, 0), (0, -1)):
            other = tiling.neighbour(tile, right, up)
            if other:
                assert tiling.neighbour(by_name[other], -right, -up) == tile.name


def _drawn(place):
    """Everything on a piece that has its exact place: not words, arrow and scale bar."""
    pen = RecordingPen()
    draw_piece(place.piece, pen)
    kept = [(p, closed) for layer, p, closed in pen.lines if layer not in (PenLayer.TEXT, PenLayer.GRAIN)]
    return shapely.union_all([LineString(place.points([*p, p[0]] if closed else p)) for p, closed in kept])


@pytest.mark.parametrize("page", PAGE_MM)
def test_every_page_shows_lines_and_every_line_is_on_a_page(page):
    """No page without a line of its own, though a piece covers it: only pages inside pieces may be left out."""
    tiling = tiled([boxed_cushion(1300.0, 900.0), *all_pieces()], page_named(page, 10.0))
    lines = shapely.union_all([_drawn(place) for place in tiling.layout.places])
    shown = shapely.union_all([box(*tile.box) for tile in tiling.tiles])
    assert shown.buffer(1e-6).contains(lines)
    for tile in tiling.tiles:
        assert lines.intersects(box(*tile.box)), tile.name
    inside = shapely.union_all([Polygon(place.points(place.piece.sew)) for place in tiling.layout.places])
    assert inside.difference(shown).area > 0.5 * (tiling.tiles[0].box[2] - tiling.tiles[0].box[0]) ** 2


def slanted(seed):
    """Five quadrilaterals of odd sizes that lie a little aslant."""
    rng, found = np.random.default_rng(seed), []
    for k in range(5):
        wide, high = rng.uniform(120.0, 420.0, 2)
        turn = rng.uniform(-0.04, 0.04)
        corners = np.array([[0.0, 0.0], [wide, 0.0], [wide * (1.0 - abs(turn)), high], [0.0, high]])
        turned = corners @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
        found.append(piece_of(f"piece {k}", edges_of(turned, [12.0] * 4)))
    return found


@pytest.mark.parametrize("seed", [6, 8, 24, 34])
def test_no_page_is_printed_for_what_the_strips_of_others_show(seed):
    tiling = tiled(slanted(seed), page_named("a4", 10.0))
    lines = shapely.union_all([_drawn(place) for place in tiling.layout.places])
    off = np.array([1.0, 1.0, -1.0, -1.0]) * PAGE_EDGE_MM
    for tile in tiling.tiles:
        others = shapely.union_all([box(*(np.array(one.box) + off)) for one in tiling.tiles if one is not tile])
        assert lines.intersection(box(*tile.box)).difference(others.buffer(1e-5)).length > 1.0, tile.name


def test_pieces_do_not_lie_on_each_other():
    pieces = [curved(), *all_pieces(), small(), long_band()]
    tiling = tiled(pieces, page_named("a4", 10.0))
    assert [place.piece for place in tiling.layout.places] == pieces
    shapes = [Polygon(place.points(place.piece.cut)) for place in tiling.layout.places]
    assert all(a.distance(b) >= 3.0 - 1e-6 for a, b in combinations(shapes, 2))


def test_strips_that_fit_side_by_side_share_their_pages():
    """Three strips of 55 x 700 mm fill one column of A4 pages: 3 x 55 + 2 x 3 mm is less than 184 mm."""
    strip = piece_of("strip", edges_of([(0, 0), (55, 0), (55, 700), (0, 700)], [0.0] * 4, kinds=[EdgeKind.BARE] * 4))
    strips = [replace(strip, name=f"strip {k}") for k in range(6)]
    assert len(tiled(strips, page_named("a4", 10.0)).tiles) <= 6


def test_pages_of_one_piece_hang_together_and_only_pages_with_a_common_piece_are_joined():
    tiling = tiled(all_pieces(), page_named("a4", 10.0))
    by_name = {tile.name: tile for tile in tiling.tiles}
    for place in tiling.layout.places:
        own = {tile.name for tile in tiling.tiles if place in tile.carries}
        reached, edge = set(), [min(own)]
        while edge:
            name = edge.pop()
            reached.add(name)
            beside = (tiling.neighbour(by_name[name], *side) for side in ((1, 0), (-1, 0), (0, 1), (0, -1)))
            edge += [other for other in beside if other in own - reached]
        assert reached == own, place.piece.name
    apart = tiled([small(), replace(small(), name="other cap")], page_named("a4", 10.0))
    for tile in apart.tiles:
        assert not any(apart.neighbour(tile, *side) for side in ((1, 0), (-1, 0), (0, 1), (0, -1)))


def test_the_first_page_lies_at_the_top_left():
    tiling = tiled([boxed_cushion()], page_named("a4", 10.0))
    first = tiling.tiles[0]
    assert first.name == "A1"
    assert first.box[0] == min(tile.box[0] for tile in tiling.tiles)
    assert first.box[3] == max(tile.box[3] for tile in tiling.tiles)
    assert tiling.neighbour(first, 1, 0) == "A2"
    assert tiling.neighbour(first, 0, -1) == "B1"


def test_a_small_piece_takes_one_page():
    assert [tile.name for tile in tiled([small()], page_named("letter", 10.0)).tiles] == ["A1"]


def test_wrong_pages_are_refused():
    with pytest.raises(ValueError, match="no such page: found 'a5'"):
        page_named("a5", 10.0)
    with pytest.raises(ValueError, match="overlap must be between 0 and half a page: found -1 mm"):
        page_named("a4", -1.0)
    with pytest.raises(ValueError, match="found 100 mm"):
        page_named("a4", 100.0)


class MapPen:
    """Keeps what is drawn of a map, in order: lines, blanks and names with their boxes."""

    def __init__(self) -> None:
        self.drawn: list[tuple[str, object]] = []

    def rule(self, points, *, closed=False, **_):
        points = [*points, points[0]] if closed else points
        self.drawn.append(("line", LineString(points)))

    def blank(self, box_):
        self.drawn.append(("blank", box(*box_)))

    def write(self, at, words, *, height_mm, **_):
        wide = words_width(words, height_mm)
        self.drawn.append(("name", box(at[0], at[1] - 0.5 * height_mm, at[0] + wide, at[1] + 0.5 * height_mm)))


def test_no_line_of_the_map_crosses_the_name_of_a_page():
    """Among strips narrower than a name no spot is clear of them."""
    corners = ((0.0, 0.0), (25.0, 0.0), (25.0, 900.0), (0.0, 900.0))
    strips = [piece_of(f"strip {k}", edges_of(corners, (0.0,) * 4)) for k in range(14)]
    pen = MapPen()
    draw_map(pen, tiled(strips, page_named("a4", 10.0)), (0.0, 0.0, 180.0, 120.0))
    kinds = [kind for kind, _ in pen.drawn]
    assert kinds.count("name") == kinds.count("blank") > 3
    for k, (kind, name) in enumerate(pen.drawn):
        if kind != "name":
            continue
        before, after = pen.drawn[:k], pen.drawn[k + 1 :]
        # What was drawn below it is blanked out, and nothing is drawn over it.
        assert any(shape.covers(name) for what, shape in before if what == "blank")
        assert not any(shape.intersects(name) for what, shape in after if what == "line")
