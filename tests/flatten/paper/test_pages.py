"""Tiling: how many pages, which ones, and that together they show every line of every piece."""

from math import ceil

import numpy as np
import pytest
import shapely
from shapely.geometry import LinearRing, box

from flatten.paper.pages import PAGE_MM, page_named, tile_count, tile_name, tiled
from tests.pieces import all_pieces, boxed_cushion, small


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
    areas, last = [], (tiling.columns - 1, tiling.rows - 1)
    for tile in tiling.tiles:
        x0, y0, x1, y1 = tile.box
        assert (x0, tiling.layout.length_mm - y1) == pytest.approx((tile.column * step[0], tile.row * step[1]))
        half = 0.5 * overlap
        low = (x0 + half * (tile.column > 0), y0 + half * (tile.row < last[1]))
        high = (x1 - half * (tile.column < last[0]), y1 - half * (tile.row > 0))
        areas.append(box(*low, *high))
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
