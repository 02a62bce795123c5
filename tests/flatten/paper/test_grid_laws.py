"""Pages under lines, places on a raster and pieces on a roll, each held against trying everything."""

from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Polygon, box

from flatten.draw.marks import line_record
from flatten.paper.page_grid import PageGrid
from flatten.paper.page_plan import CLEAR_EACH_MM, Raster, _sampled, _Trial, plan_pages
from flatten.paper.pages import PAGE_EDGE_MM, _groups, _pages_of, _parts, page_named, tiled
from flatten.paper.roll import GAP_MM, SheetLayout, _lowest, _packed, _raised, lay_out_roll, placed_at, too_wide
from flatten.pieces.piece import EdgeKind
from tests.pieces import boxed_cushion, curved, edges_of, l_shape, long_band, piece_of, small

GRID = PageGrid((100.0, 80.0), 10.0, 3.0)


def bare(width, height, name="strip"):
    corners = [(0, 0), (width, 0), (width, height), (0, height)]
    return piece_of(name, edges_of(corners, [0.0] * 4, kinds=[EdgeKind.BARE] * 4))


def test_pages_lie_a_print_less_an_overlap_apart_and_show_a_strip_past_their_joins():
    assert GRID.step == (90.0, 70.0)
    assert GRID.strip_mm == 2.0
    assert PageGrid((100.0, 80.0), 4.0, 3.0).strip_mm == 0.0
    assert GRID.shown((0, 0)).bounds == (3.0, 3.0, 97.0, 77.0)
    assert GRID.shown((2, -1)).bounds == (183.0, -67.0, 277.0, 7.0)
    points = np.array([[5.0, 5.0], [94.9, 74.9], [95.1, 4.9], [-100.0, 80.0]])
    assert GRID.cores_of(points).tolist() == [[0, 0], [0, 0], [1, -1], [-2, 1]]


@pytest.mark.parametrize("overlap", [10.0, 4.0, 0.0])
@pytest.mark.parametrize("seed", range(4))
def test_points_need_the_pages_that_alone_can_show_them(seed, overlap):
    """Every point stands on a page; a page is there only for points that no other page can show, or, of those in
    strips, where no neighbour is printed anyway."""
    grid, rng = PageGrid((100.0, 80.0), overlap, 3.0), np.random.default_rng(seed)
    points = rng.uniform(-50.0, 320.0, (12, 2))
    pages = {tuple(page) for page in grid.pages_of(points).tolist()}
    strip = grid.strip_mm
    every = [(i, j) for i in range(-3, 6) for j in range(-3, 7)]
    shows = {page: shapely.covers(grid.shown(page), shapely.points(points)) for page in every}
    assert np.any([shows[page] for page in pages], axis=0).all()
    count = np.sum([shows[page] for page in every], axis=0)
    for k in np.flatnonzero(count == 1):
        assert tuple(grid.cores_of(points[k : k + 1])[0].tolist()) in pages
    cores = {tuple(core) for core in grid.cores_of(points).tolist()}
    assert pages <= cores
    for page in cores - pages:
        others = np.any([shows[other] for other in pages], axis=0)
        assert others[shows[page] & (grid.cores_of(points) == page).all(axis=1)].all()
    if strip == 0.0:
        assert pages == cores
    moved = grid.pages_at(points, np.array([0.0, 90.0 + 10.0 - overlap]), np.array([0.0, 80.0 - overlap, 1.0]))
    assert (len(moved), len(moved[0])) == (3, 2)
    assert {tuple(p) for p in moved[0][0].tolist()} == pages
    # A whole page further to the right or up, it is the same pages one further.
    assert {(i + 1, j) for i, j in pages} == {tuple(p) for p in moved[0][1].tolist()}
    assert {(i, j + 1) for i, j in pages} == {tuple(p) for p in moved[1][0].tolist()}
    shifted = {tuple(p) for p in grid.pages_of(points + np.array([0.0, 1.0])).tolist()}
    assert {tuple(p) for p in moved[2][0].tolist()} == shifted


def test_what_runs_in_a_strip_needs_no_page_of_its_own():
    line = np.column_stack([np.full(20, 95.0 + 1.9), np.linspace(20.0, 60.0, 20)])
    assert GRID.pages_of(np.vstack([line, [[50.0, 40.0]]])).tolist() == [[0, 0]]
    assert GRID.pages_of(np.vstack([line + np.array([0.2, 0.0]), [[50.0, 40.0]]])).tolist() == [[0, 0], [1, 0]]
    # Alone it lies in the core of the page after.
    assert GRID.pages_of(line).tolist() == [[1, 0]]
    # In both strips at a corner: any of the four pages will do.
    corner = np.array([[96.0, 76.0], [50.0, 40.0]])
    assert GRID.pages_of(corner).tolist() == [[0, 0]]
    assert GRID.pages_of(np.array([[96.0, 76.0], [150.0, 40.0]])).tolist() == [[1, 0]]
    assert GRID.pages_of(np.array([[96.0, 76.0], [50.0, 140.0]])).tolist() == [[0, 1]]
    assert GRID.pages_of(np.array([[97.0, 77.0], [150.0, 140.0]])).tolist() == [[1, 1]]


def test_pages_hang_together_in_parts_and_groups():
    assert [sorted(part) for part in _parts({(0, 0), (1, 0), (1, 1), (3, 0), (0, 5)})] == [
        [(0, 0), (1, 0), (1, 1)],
        [(0, 5)],
        [(3, 0)],
    ]
    # Touching at a corner is apart.
    assert len(_parts({(0, 0), (1, 1)})) == 2
    groups = _groups([{(0, 0)}, {(5, 5)}, {(9, 9), (8, 9)}, {(0, 0), (9, 9)}, {(7, 7)}])
    assert [sorted(group) for group in groups] == [[(0, 0), (8, 9), (9, 9)], [(5, 5)], [(7, 7)]]


def test_pages_of_a_piece_show_all_its_lines_and_are_joined_side_by_side():
    """A ring along four pages' corners; and two dots far apart that pages in between must tie together."""
    grid = PageGrid((190.0, 277.0), 10.0, 3.0)
    for piece in (boxed_cushion(), curved(), long_band(), l_shape()):
        for at in ((3.0, 3.0), (77.7, 130.0)):
            place = placed_at(piece, False, np.array(at))
            pages = _pages_of(place, grid)
            assert len(_parts(pages)) == 1
            shown = shapely.union_all([grid.shown(page) for page in pages]).buffer(1e-6)
            for _, points, closed in line_record(piece).lines:
                assert shown.covers(LineString(place.points(np.vstack([points, points[:1]]) if closed else points)))
            lines = [
                LineString(place.points(np.vstack([p, p[:1]]) if closed else p))
                for _, p, closed in line_record(piece).lines
            ]
            met = [page for page in pages if any(line.intersects(grid.shown(page)) for line in lines)]
            assert len(met) == len(pages)


def test_a_page_carries_words_inside_its_joins_only_and_its_core_ends_at_them():
    tiling = tiled([boxed_cushion()], page_named("a4", 10.0))
    (place,) = tiling.layout.places
    room = tiling.words_in(place)
    for tile in tiling.tiles:
        x0, y0, x1, y1 = tile.box
        assert (x1 - x0, y1 - y0) == pytest.approx((190.0, 277.0))
        core = tiling.core(tile)
        sides = [bool(tiling.neighbour(tile, *side)) for side in ((-1, 0), (0, -1), (1, 0), (0, 1))]
        assert np.abs(np.array(core) - tile.box) == pytest.approx(5.0 * np.array(sides))
        own = box(x0 + 11.5, y0 + 11.5, x1 - 11.5, y1 - 11.5)
        assert shapely.affinity.translate(room, *place.shift).buffer(1e-6).covers(own)
        strip = box(x0 + 11.4, y0, x0 + 11.6, y1).intersection(shapely.affinity.translate(room, *place.shift))
        assert strip.area <= 0.11 * 260.0
    assert room.area == pytest.approx(len(tiling.tiles) * 167.0 * 254.0)
    other = tiled([boxed_cushion(), small()], page_named("a4", 10.0))
    for place in other.layout.places:
        assert other.words_in(place).area <= room.area + 2 * 167.0 * 254.0


def test_layouts_of_pages_are_as_large_as_all_pages_together():
    tiling = tiled([boxed_cushion(), curved()], page_named("a4", 10.0))
    x0, y0 = min(t.box[0] for t in tiling.tiles), min(t.box[1] for t in tiling.tiles)
    x1, y1 = max(t.box[2] for t in tiling.tiles), max(t.box[3] for t in tiling.tiles)
    assert (x1 - x0, y1 - y0) == pytest.approx((tiling.columns * 180.0 + 10.0, tiling.rows * 267.0 + 10.0))
    assert (tiling.layout.width_mm, tiling.layout.length_mm) == pytest.approx((x1, y1))
    assert min(tile.row for tile in tiling.tiles) == min(tile.column for tile in tiling.tiles) == 0
    assert max(tile.row for tile in tiling.tiles) == tiling.rows - 1
    for tile in tiling.tiles:
        area = box(*tile.box)
        near = [p for p in tiling.layout.places if Polygon(p.points(p.piece.cut)).distance(area) < 0.49]
        assert list(tile.touches) == near
        assert set(tile.carries) <= set(tile.touches)
        assert tile.carries
    assert page_named("A3", 0.0).print_width_mm == 277.0
    assert page_named("a3", 138.5).overlap_mm == 138.5


# ---- the raster -----------------------------------------------------------------------------------------------------


def test_cells_divide_a_page_evenly_and_a_piece_begins_at_a_pages_edge():
    raster = Raster(PageGrid((190.0, 277.0), 10.0, 3.0))
    assert raster.per_page == (18, 27)
    assert raster.cell == pytest.approx([10.0, 267.0 / 27])
    assert raster.corner(0, 0) == pytest.approx([3.0, 3.0])
    assert raster.corner(18, 27) == pytest.approx([183.0, 270.0])
    assert Raster(PageGrid((5.0, 14.0), 1.0, 0.0)).per_page == (1, 1)


@pytest.mark.parametrize("turned", [False, True])
def test_a_piece_takes_the_cells_it_touches_with_its_room(turned):
    raster = Raster(PageGrid((190.0, 277.0), 10.0, 3.0))
    shape = raster.shape(curved(), turned)
    place = placed_at(curved(), turned, np.zeros(2))
    lines = np.vstack([place.points(points) for _, points, _ in line_record(curved()).lines])
    assert shape.low == pytest.approx(lines.min(axis=0), abs=1e-6)
    body = Polygon(place.points(curved().cut) - shape.low)
    out = max(-float(shape.low.min()), 0.0)
    for row, of_row in enumerate(shape.filled):
        for column, filled in enumerate(of_row):
            cell = box(*(np.array([column, row]) * raster.cell), *(np.array([column + 1, row + 1]) * raster.cell))
            away = cell.distance(shapely.affinity.translate(body, CLEAR_EACH_MM, CLEAR_EACH_MM))
            if away < CLEAR_EACH_MM - 1e-6:
                assert filled
            if away > 2.0 * (CLEAR_EACH_MM + out):
                assert not filled
    assert shape.filled.any(axis=0).all()
    assert shape.filled.any(axis=1).all()


def test_lines_are_sampled_closely_with_all_their_corners():
    points = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 7.0]])
    open_, closed = _sampled(points, False), _sampled(points, True)
    for sampled, line in ((open_, points), (closed, np.vstack([points, points[:1]]))):
        steps = np.linalg.norm(np.diff(sampled, axis=0), axis=1)
        assert steps.max() <= 4.0 + 1e-9
        assert steps.sum() == pytest.approx(np.linalg.norm(np.diff(line, axis=0), axis=1).sum(), rel=1e-6)
        assert all(np.linalg.norm(sampled - corner, axis=1).min() < 1e-9 for corner in points)
    assert len(open_) == 7


def test_each_place_within_a_page_knows_the_pages_its_lines_need():
    grid = PageGrid((90.0, 70.0), 10.0, 3.0)
    raster = Raster(grid)
    piece = bare(130.0, 47.0)
    shape = raster.shape(piece, False)
    assert shape.which.shape == raster.per_page[::-1]
    lines = np.vstack([_sampled(points, closed) for _, points, closed in line_record(piece).lines])
    lines = lines - lines.min(axis=0)
    for row in range(raster.per_page[1]):
        for column in range(raster.per_page[0]):
            pages = grid.pages_of(np.unique(np.round(lines), axis=0) + raster.corner(column, row))
            pattern = shape.patterns[shape.which[row, column]]
            assert {(i - 1, j - 1) for j, i in np.argwhere(pattern).tolist()} == {tuple(p) for p in pages.tolist()}
    assert len({(p.shape, p.tobytes()) for p in shape.patterns}) == len(shape.patterns)


def filled_trial():
    raster = Raster(PageGrid((90.0, 70.0), 10.0, 3.0))
    trial = _Trial(raster, 4, 5)
    first = [raster.shape(bare(75.0, 64.0), turned) for turned in (False, True)]
    assert trial.put(first, 0)
    return raster, trial


def test_free_places_and_fresh_pages_are_those_found_by_trying_every_cell():
    raster, trial = filled_trial()
    shape = raster.shape(bare(110.0, 35.0), False)
    free, more = trial._free(shape.filled), trial._more(shape)
    rows, columns = shape.filled.shape
    per = raster.per_page
    for row in range(trial.taken.shape[0] - rows + 1):
        for column in range(trial.taken.shape[1] - columns + 1):
            lies = (trial.taken[row : row + rows, column : column + columns] * shape.filled).any()
            assert free[row, column] == (not lies)
            pattern = shape.patterns[shape.which[row % per[1], column % per[0]]]
            page = (row // per[1], column // per[0])
            printed = trial.printed[page[0] : page[0] + pattern.shape[0], page[1] : page[1] + pattern.shape[1]]
            if printed.shape == pattern.shape:
                assert more[row, column] == pattern.sum() - (printed * pattern).sum()
            else:
                assert np.isinf(more[row, column])
    assert trial._free(np.ones((99, 2), dtype=bool)) is None
    assert trial._free(np.ones((2, 99), dtype=bool)) is None
    assert trial._free(np.ones(trial.taken.shape, dtype=bool)).shape == (1, 1)
    # The cheapest of them: the fewest fresh pages, then the lowest, then the leftmost.
    cost, spot = trial._cheapest(shape)
    found = [
        (round(more[r, c] + 0.3 * (r + rows) / per[1] + 1e-5 * c, 6), (r, c)) for r, c in np.argwhere(free).tolist()
    ]
    assert (cost, spot) == min(found)
    assert np.isinf(trial._cheapest(raster.shape(bare(900.0, 35.0), False))[0])


def test_a_piece_that_is_put_takes_its_cells_and_prints_its_pages():
    raster, trial = filled_trial()
    before = trial.taken.copy()
    assert trial.count == 1
    ways = [raster.shape(bare(110.0, 35.0), turned) for turned in (False, True)]
    assert trial.put(ways, 1)
    place = trial.places[1]
    assert (trial.taken >= before).all()
    assert trial.taken.max() == 1.0
    assert (trial.taken - before).sum() in {way.filled.sum() for way in ways}
    need = {tuple(p) for one in trial.places.values() for p in _pages_of(one, raster.grid)}
    assert {(i - 1, j - 1) for j, i in np.argwhere(trial.printed).tolist()} == need
    assert trial.count == len(need)
    bodies = [Polygon(one.points(one.piece.cut)) for one in trial.places.values()]
    assert bodies[0].distance(bodies[1]) >= 3.0
    low = place.points(place.piece.cut).min(axis=0)
    assert (low >= PAGE_EDGE_MM - 1e-9).all()
    assert not trial.put([raster.shape(bare(900.0, 500.0), False)], 2)
    wide = {key for one in trial.places.values() for key in _pages_of(one, raster.grid)}
    rows, columns = (len({page[k] for page in wide}) for k in (1, 0))
    assert trial.off_aspect == pytest.approx(abs(np.log(rows * 60.0 / (columns * 80.0) / 1.3)))


def test_of_two_ways_up_the_one_that_prints_fewer_pages_is_laid():
    grid = PageGrid((190.0, 277.0), 10.0, 3.0)
    # 250 mm is within the height of a page and not within its width.
    (place,) = plan_pages([bare(250.0, 100.0)], grid)
    assert place.turned
    (place,) = plan_pages([bare(100.0, 250.0)], grid)
    assert not place.turned
    assert len(_pages_of(place, grid)) == 1
    both = plan_pages([bare(90.0, 250.0, "a"), bare(84.0, 250.0, "b")], grid)
    assert len(set.union(*(_pages_of(one, grid) for one in both))) == 1
    with pytest.raises(ValueError, match="no piece"):
        plan_pages([], grid)
    # Longer than all widths that are tried, or one of many that are long.
    (long,) = plan_pages([bare(4000.0, 50.0)], grid)
    assert len(_pages_of(long, grid)) <= 16
    lots = plan_pages([bare(2600.0, 200.0, f"s{k}") for k in range(3)], grid)
    assert [one.piece.name for one in lots] == ["s0", "s1", "s2"]
    bodies = [Polygon(one.points(one.piece.cut)) for one in lots]
    assert all(a.distance(b) >= 3.0 - 1e-6 for k, a in enumerate(bodies) for b in bodies[:k])


# ---- the roll -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(8))
def test_boxes_are_put_where_they_lie_lowest_then_leftmost(seed):
    """Every left edge tried on what is there already, a gap from its neighbours."""
    rng = np.random.default_rng(seed)
    sizes = [tuple(size) for size in rng.integers(20, 90, (9, 2)).astype(float)]
    room = 200.0
    corners, height = _packed(sizes, room)
    put = []
    for (width, high), (x, y) in zip(sizes, corners, strict=True):

        def low_at(left, width=width):
            beside = [u + w + GAP_MM <= left + 1e-9 or left + width + GAP_MM <= u + 1e-9 for (u, _), (w, _) in put]
            under = [v + h + GAP_MM for ((_, v), (_, h)), off in zip(put, beside, strict=True) if not off]
            return max(under, default=0.0)

        lefts = sorted({0.0, *(u + w + GAP_MM for (u, _), (w, _) in put), *(u for (u, _), _ in put)})
        best = min((low_at(left), left) for left in lefts if left + width <= room + 1e-9)
        assert y == pytest.approx(best[0])
        assert x == pytest.approx(best[1])
        put.append(((x, y), (width, high)))
    assert height == pytest.approx(max(v + h for (_, v), (_, h) in put))


def test_a_skyline_is_raised_where_something_is_put_down():
    line = [(0.0, 5.0, 40.0), (40.0, 2.0, 60.0)]
    assert _raised(line, 40.0, 20.0, 9.0) == [(0.0, 5.0, 40.0), (40.0, 9.0, 20.0), (60.0, 2.0, 40.0)]
    assert _raised(line, 10.0, 50.0, 9.0) == [(0.0, 5.0, 10.0), (10.0, 9.0, 50.0), (60.0, 2.0, 40.0)]
    assert _raised(line, 0.0, 100.0, 9.0) == [(0.0, 9.0, 100.0)]
    assert _lowest(line, 60.0) == (40.0, 2.0)
    assert _lowest(line, 61.0) == (0.0, 5.0)
    assert _lowest([(0.0, 2.0, 50.0), (50.0, 2.0, 50.0)], 30.0) == (0.0, 2.0)
    with pytest.raises(ValueError, match="101 mm do not fit on 100 mm"):
        _lowest(line, 101.0)


def test_the_shortest_of_four_orders_is_kept_and_a_piece_turned_only_when_it_must_be():
    kinds = [(120.0, 30.0), (80.0, 130.0), (150.0, 80.0), (20.0, 150.0), (110.0, 130.0), (40.0, 90.0)]
    pieces = [bare(*size, f"strip {k}") for k, size in enumerate(kinds)]
    layout = lay_out_roll(pieces, width_mm=250.0)
    boxes = [one.box() for one in pieces]
    sizes = [(x1 - x0, y1 - y0) for x0, y0, x1, y1 in boxes]
    rules = (lambda s: s[1], lambda s: s[0], lambda s: s[0] * s[1], max)
    heights = [_packed(sorted(sizes, key=lambda s, rule=rule: (-rule(s), -s[1])), 230.0)[1] for rule in rules]
    assert len(set(heights)) == 4
    assert layout.length_mm == pytest.approx(min(heights) + 2 * GAP_MM)
    assert layout.width_mm == 250.0
    assert not any(place.turned for place in layout.places)
    low = lay_out_roll(pieces, width_mm=169.0)
    assert [place.piece.name for place in low.places if place.turned] == ["strip 2"]
    assert low.notes == ()
    assert low.width_mm == 169.0
    # As wide as the room to a hair it is not turned.
    assert not lay_out_roll([bare(130.0, 30.0)], width_mm=150.0).places[0].turned
    assert lay_out_roll([bare(130.0, 30.0)], width_mm=149.9).places[0].turned
    square = lay_out_roll([bare(140.0, 140.0)], width_mm=150.0)
    assert (square.width_mm, square.places[0].turned) == (160.0, False)
    assert square.notes == ("strip is 140 x 140 mm, wider than the roll either way; the sheet is wider",)
    wide = bare(140.0, 160.0)
    assert too_wide([bare(130.0, 900.0), wide], width_mm=150.0) == [(wide, 160.0)]
    foot = lay_out_roll(pieces, width_mm=250.0, edge_mm=4.0, foot_mm=31.0)
    assert min(place.points(place.piece.cut)[:, 1].min() for place in foot.places) == pytest.approx(35.0)
    assert min(place.points(place.piece.cut)[:, 0].min() for place in foot.places) == pytest.approx(4.0)
    with pytest.raises(ValueError, match="20 mm wide leaves no room between edges of 10 mm"):
        lay_out_roll(pieces, width_mm=20.0)


def test_a_piece_is_placed_by_the_corner_of_its_cut_lines_box():
    for turned in (False, True):
        place = placed_at(curved(), turned, np.array([12.0, 34.0]))
        assert place.points(curved().cut).min(axis=0) == pytest.approx([12.0, 34.0])
        shape, own = Polygon(place.points(curved().cut)), Polygon(curved().cut)
        assert shape.area == pytest.approx(own.area)
        size = np.ptp(curved().cut, axis=0)
        assert np.ptp(place.points(curved().cut), axis=0) == pytest.approx(size[::-1] if turned else size)
        # As it lies, drawn upright, it is the same shape.
        assert place.upright.cut + np.array(place.shift) == pytest.approx(place.points(curved().cut))
    drawn = SimpleNamespace(lines=[], line=lambda layer, points, closed=False: drawn.lines.append(points))
    drawn.fill = drawn.text = lambda *args, **more: None
    SheetLayout((place,), 100.0, 100.0).draw(drawn)
    assert drawn.lines[0] == pytest.approx(place.points(curved().cut))
