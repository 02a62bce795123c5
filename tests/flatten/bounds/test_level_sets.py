"""The level-set bound against its own claim worked out another way: regions cut out by another library, the least
weighted mean by trying every split, Milnor's cap, and what another unit or function may not change."""

import numpy as np
import pytest
import shapely

from flatten.bounds.level_set_bound import LEVELS, MARGIN, SEARCH_LEVELS, MeshLengths, _Sums, _whole
from flatten.bounds.own_axes import own_axes
from flatten.bounds.subdivision import cells_of, graded
from tests import shapes


def flat_panel(edge=22.0, seed=3):
    points, triangles = shapes.scattered(110.0, 80.0, edge, seed=seed)
    return np.column_stack([points, np.zeros(len(points))]), triangles


def sums_of(vertices, triangles, u, levels):
    panel = MeshLengths(vertices, triangles)
    return _Sums(panel, panel.cells, u, levels)


def below(points, triangles, u, level):
    """The parts of flat triangles where the function is below a level, as one shape."""
    parts = []
    for t in triangles:
        corners = []
        for a, b in ((0, 1), (1, 2), (2, 0)):
            p, q, s, e = points[t[a]], points[t[b]], u[t[a]] - level, u[t[b]] - level
            if s <= 0:
                corners.append(p)
            if s * e < 0:
                corners.append(p + s / (s - e) * (q - p))
        if len(corners) >= 3:
            parts.append(shapely.Polygon(corners))
    return shapely.union_all(shapely.set_precision(parts, 1e-9)) if parts else shapely.Polygon()


@pytest.mark.parametrize("seed", range(3))
def test_area_and_rim_below_every_level_are_those_of_the_region_cut_out(seed):
    vertices, triangles = flat_panel(seed=seed)
    points, levels = vertices[:, :2], 13
    u = np.random.default_rng(seed).integers(0, levels + 1, len(points))
    u[:2] = 0, levels
    sums = sums_of(vertices, triangles, u, levels)
    for k in range(1, levels + 1):
        # Just below a level and the area up to it: plateaus at the level itself do not belong to the region.
        region = below(points, triangles, u, k - 1e-7)
        assert sums.area[k] == pytest.approx(region.area, abs=1e-3)
        assert sums.length[k] == pytest.approx(region.length, abs=1e-2)
    assert sums.area[0] == 0.0


@pytest.mark.parametrize("seed", range(3))
def test_slowness_along_a_level_is_held_against_the_lines_themselves(seed):
    """Mean of 1 / |grad u| along {u = k}, parts on the rim counting nought, from every crossing of every triangle."""
    vertices, triangles = flat_panel(seed=seed)
    points, levels = vertices[:, :2], 11
    u = np.random.default_rng(seed).integers(0, levels + 1, len(points))
    u[:2] = 0, levels
    sums = sums_of(vertices, triangles, u, levels)
    rim = MeshLengths(vertices, triangles).rim
    for k in range(1, levels):
        for level, side in ((k - 1e-6, sums.below), (k + 1e-6, sums.above)):
            lengths, slow = [], []
            for t in triangles:
                p, q, value = points[t[1]] - points[t[0]], points[t[2]] - points[t[0]], u[t].astype(float)
                across = p[0] * q[1] - p[1] * q[0]
                rise = ((value[1] - value[0]) * q - (value[2] - value[0]) * p) / across
                ends = []
                for a, b in ((0, 1), (1, 2), (2, 0)):
                    if (value[a] - level) * (value[b] - level) < 0:
                        s = (level - value[a]) / (value[b] - value[a])
                        ends.append(points[t[a]] + s * (points[t[b]] - points[t[a]]))
                if len(ends) == 2:
                    lengths.append(np.linalg.norm(ends[1] - ends[0]))
                    slow.append(1.0 / np.linalg.norm(rise))
            for a, b in rim:
                low, high = sorted((u[a], u[b]))
                share = np.clip((level - low) / (high - low), 0.0, 1.0) if high > low else float(level > low)
                lengths.append(share * np.linalg.norm(points[b] - points[a]))
                slow.append(0.0)
            lengths, off = np.array(lengths), np.array(slow) - sums.centre
            for power in range(3):
                expected = (lengths * off**power).sum()
                scale = (lengths * np.abs(off) ** power).sum()
                assert side[power][k] == pytest.approx(expected, abs=1e-4 * scale + 1e-4)


def least_mean(lengths, values, q):
    """The least mean of values under weights in [1, q], by trying every split of the sorted values."""
    order = np.argsort(values)
    lengths, values = lengths[order], values[order]
    best = np.inf
    for split in range(len(values) + 1):
        weights = np.where(np.arange(len(values)) < split, q, 1.0) * lengths
        best = min(best, (weights * values).sum() / weights.sum())
    return best


@pytest.mark.parametrize("q", [1.0, 1.02, 1.2, 1.7])
def test_the_least_mean_is_never_above_the_true_one_and_meets_it_for_two_values(q):
    vertices, triangles = flat_panel()
    sums = sums_of(vertices, triangles, np.arange(len(vertices)) % 5, 4)
    rng, margin = np.random.default_rng(1), np.sqrt(MARGIN) * sums.centre
    lengths = rng.uniform(10.0, 1000.0, (200, 7))
    values = rng.uniform(0.2, 3.0, (200, 7))
    off = values - sums.centre
    found = sums.least([(lengths * off**k).sum(axis=1) for k in range(3)], q)
    true = np.array([least_mean(*pair, q) for pair in zip(lengths, values, strict=True)])
    assert (found <= true * (1 + 1e-12)).all()
    if q == 1.0:
        assert found == pytest.approx(true, rel=1e-9)
    # Scarf's bound is met where the higher of two values is q times as long as the lower.
    two, values = np.array([1.0, q]) * 100.0, np.array([1.0, 2.0])
    weights = np.array([q, 1.0]) * two
    off = values - sums.centre
    found = sums.least([np.array([(two * off**k).sum()]) for k in range(3)], q)
    assert found[0] == pytest.approx((weights * values).sum() / weights.sum(), rel=1e-9, abs=2 * (q - 1) * margin)


def test_where_the_line_is_as_good_as_nothing_its_mean_counts_nought():
    sums = sums_of(*flat_panel(), np.arange(len(flat_panel()[0])) % 5, 4)
    tiny = 1e2 * sums.noise
    off = 1.0 - sums.centre
    assert sums.least([np.array([tiny]), np.array([tiny * off]), np.array([tiny * off**2])], 1.0)[0] == 0.0


@pytest.mark.parametrize("widest", [1.0, 1.3, 6.0])
def test_the_limit_is_the_claim_worked_out_from_the_regions(widest):
    """Q >= F(Q) = 2 pi (sqrt(A(s0) / pi) + integral of m) / L(s1), here with m by level as the bound has it."""
    vertices, triangles = shapes.graph(
        lambda x, y: 40.0 * np.exp(-(((x - 20) / 50) ** 2) - (y / 40) ** 2), width=160.0, depth=120.0, edge=14.0
    )
    panel = MeshLengths(vertices, triangles, widest=widest)
    u = np.linalg.norm(vertices[:, :2] - [20.0, 0.0], axis=1)
    found = panel.by_level_sets(u, levels=256)
    unit = (u.max() - u.min()) / 256
    whole = np.rint((u - u.min()) / unit).astype(int)
    sums = _Sums(panel, panel.cells, whole, 256)

    def limit(q):
        best, at = 0.0, 0
        above, under = sums.least(sums.above, q), sums.least(sums.below, q)
        for last in range(1, 257):
            if sums.length[last] <= 1e6 * sums.noise:
                continue
            grown = 0.0
            for first in range(last, -1, -1):
                value = 2 * np.pi * (np.sqrt(sums.area[first] / np.pi) + grown) / sums.length[last]
                if value > best:
                    best, at = value, last
                if first:
                    grown += min(above[first - 1], under[first])
        return best, at

    proven, level = limit(max(limit(1.0)[0], widest))
    assert proven > 1.0
    assert found.log == pytest.approx(np.log(proven), abs=1e-8)
    assert found.log <= np.log(proven)
    assert found.level == pytest.approx(u.min() + unit * level)
    assert found.length_mm == pytest.approx(sums.length[level])
    assert found.area_mm2 == pytest.approx(sums.area[level])


def test_a_flat_panel_proves_nothing_of_any_leather():
    vertices, triangles = flat_panel()
    u = np.linalg.norm(vertices[:, :2] - [40.0, 30.0], axis=1)
    found = MeshLengths(vertices, triangles, widest=1.5).by_level_sets(u)
    assert (found.log, found.level, found.length_mm, found.area_mm2) == (0.0, u.max(), 0.0, 0.0)


@pytest.mark.parametrize(("angle", "outer"), [(0.6, 0.6), (0.5, 0.8)])
def test_a_disc_on_a_sphere_has_the_spheres_own_area_and_rim(angle, outer):
    vertices, triangles = shapes.cap(outer, rings=24)
    away = 100.0 * np.arccos(np.clip(vertices[:, 2] / 100.0, -1, 1))
    panel = MeshLengths(vertices, triangles)
    found = panel.by_level_sets(away)
    assert found.level == pytest.approx(100.0 * outer, rel=1e-9)
    assert found.area_mm2 == pytest.approx(2 * np.pi * 100.0**2 * (1 - np.cos(outer)), rel=2e-3)
    assert found.length_mm == pytest.approx(2 * np.pi * 100.0 * np.sin(outer), rel=2e-3)
    best = np.log(outer / np.sin(outer))
    assert 0.97 * best < found.log <= best
    # The same function in another unit, from another beginning.
    other = panel.by_level_sets(3.0 * away + 7.0)
    assert other.log == pytest.approx(found.log, abs=1e-7)
    assert other.level == pytest.approx(3.0 * found.level + 7.0)
    # A disc within the panel: what lies outside counts nothing, as its function is even there.
    small = panel.by_level_sets(np.minimum(away, 100.0 * angle))
    assert small.log <= found.log
    coarse = panel.by_level_sets(away, levels=SEARCH_LEVELS)
    assert SEARCH_LEVELS < LEVELS
    assert coarse.log == pytest.approx(found.log, rel=1e-3)


def test_a_function_that_is_even_everywhere_proves_nothing():
    vertices, triangles = shapes.cap(0.5, rings=4)
    found = MeshLengths(vertices, triangles).by_level_sets(np.full(len(vertices), 4.0))
    assert (found.log, found.level, found.length_mm, found.area_mm2) == (0.0, 4.0, 0.0, 0.0)


def test_finer_cells_about_the_centre_prove_more_and_nothing_untrue():
    angle = 0.9
    vertices, triangles = shapes.cap(angle, rings=10)
    flat = np.arccos(np.clip(vertices[:, 2:] / 100.0, -1, 1)) * vertices[:, :2]
    flat /= np.maximum(np.linalg.norm(vertices[:, :2], axis=1), 1e-9)[:, None]
    panel = MeshLengths(vertices, triangles)
    rough, fine = (panel.about(flat, np.zeros(2), refined=refined).log for refined in (False, True))
    best = np.log(angle / np.sin(angle))
    assert rough < fine <= best
    assert best - fine < 0.5 * (best - rough)


def test_points_on_seams_lie_midway_in_whole_numbers():
    points, triangles = shapes.disc(4)
    fine = graded(cells_of(np.column_stack([points, 0 * points[:, 0]]), triangles), points, np.zeros(2), near=2.0)
    assert len(fine.seams) > 1
    u = 1000.0 * np.linalg.norm(fine.points - [0.1, 0.2], axis=1)
    whole = _whole(u, fine.seams)
    for middles, ends in fine.seams:
        assert (2 * whole[middles] == whole[ends].sum(axis=1)).all()
    middles = np.concatenate([m for m, _ in fine.seams])
    ends = np.concatenate([e.ravel() for _, e in fine.seams])
    free = np.setdiff1d(np.arange(len(u)), np.concatenate([middles, ends]))
    assert (whole[free] == np.rint(u[free])).all()
    # Ends are moved by no more than half of what has to divide them, and rounding: the coarsest by the most.
    for k, (_, ends) in enumerate(fine.seams):
        own = np.setdiff1d(ends, np.concatenate([middles, *(e.ravel() for _, e in fine.seams[:k])]))
        assert np.abs(whole[own] - u[own]).max(initial=0.0) <= 0.5 * 2 ** (len(fine.seams) - k) + 0.5


def test_cells_have_their_sides_products_and_area():
    vertices = np.array([[1.0, 2, 3], [4, 2, 3], [1, 7, 3], [4, 7, 9]])
    cells = cells_of(vertices, np.array([[0, 1, 2], [1, 3, 2]]))
    assert cells.shapes[:, 0] == pytest.approx([9.0, 0.0, 25.0, 15.0])
    p, q = vertices[3] - vertices[1], vertices[2] - vertices[1]
    assert cells.shapes[:, 1] == pytest.approx([p @ p, p @ q, q @ q, np.linalg.norm(np.cross(p, q))])


def test_a_linear_function_is_as_steep_in_every_cell_and_after_any_parting():
    points, triangles = shapes.scattered(90.0, 60.0, 17.0)
    vertices = np.column_stack([points, 0.3 * points[:, 0] - 0.2 * points[:, 1]])
    way = np.array([2.0, -1.0, 0.5])
    normal = np.array([-0.3, 0.2, 1.0]) / np.linalg.norm([-0.3, 0.2, 1.0])
    expected = np.linalg.norm(way - normal * (way @ normal))
    cells = cells_of(vertices, triangles)
    assert cells.steepness(vertices @ way) == pytest.approx(expected)
    chosen = np.arange(len(triangles)) % 3 == 0
    finer, ends, loose = cells.subdivide(chosen, len(vertices))
    every = np.concatenate([vertices, vertices[ends].mean(axis=1)])
    assert finer.steepness(every @ way) == pytest.approx(expected)
    assert finer.shapes[3].sum() == pytest.approx(cells.shapes[3].sum())
    assert len(finer.triangles) == len(triangles) + 3 * chosen.sum()
    # Shapes and corners tell the same triangles, wound as before.
    again = cells_of(every, finer.triangles)
    assert again.shapes == pytest.approx(finer.shapes)
    flat = every[:, :2][finer.triangles]
    p, q = flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]
    assert (p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0] > 0).all()
    # A new point is loose where only one of the triangles at its side was parted.
    sides = np.sort(np.concatenate([triangles[chosen][:, [k, (k + 1) % 3]] for k in range(3)]), axis=1)
    count = {tuple(side): (sides == side).all(axis=1).sum() for side in sides.tolist()}
    assert [count[tuple(end)] == 1 for end in np.sort(ends, axis=1).tolist()] == loose.tolist()


def test_cells_are_parted_where_they_are_large_for_their_distance_and_stay_joined():
    points, triangles = shapes.scattered(100.0, 100.0, 10.0)
    vertices, centre = np.column_stack([points, 0 * points[:, 0]]), np.array([50.0, 50.0])
    fine = graded(cells_of(vertices, triangles), points, centre, near=2.0, partings=3)
    assert (fine.points[: len(points)] == points).all()
    corners = fine.points[fine.cells.triangles]
    size = np.abs(corners - np.roll(corners, 1, axis=1)).max(axis=(1, 2))
    away = np.linalg.norm(corners - centre, axis=2).min(axis=1)
    whole = np.abs(points[triangles] - np.roll(points[triangles], 1, axis=1)).max()
    # Left as they are: those far enough away, or parted three times over.
    assert ((away >= 2.0 * size) | (size <= whole / 8)).all()
    assert size[away > 2.0 * whole + 1e-9].min() > 1.5
    assert size.min() == pytest.approx(size[away < 1.0].min(), rel=0.8)
    u = np.random.default_rng(0).uniform(0, 1, len(fine.points))
    joined = fine.joined(u)
    for middles, ends in fine.seams:
        assert joined[middles] == pytest.approx(joined[ends].mean(axis=1))
    loose = np.concatenate([middles for middles, _ in fine.seams])
    free = np.setdiff1d(np.arange(len(u)), loose)
    assert (joined[free] == u[free]).all()
    # A function that is linear on the piece is left alone.
    linear = fine.points @ [3.0, 2.0]
    assert fine.joined(linear) == pytest.approx(linear)
    everything = graded(cells_of(vertices, triangles), points, centre, near=1e9, partings=2)
    assert len(everything.cells.triangles) == 16 * len(triangles)
    nothing = graded(cells_of(vertices, triangles), points, np.array([1e6, 0.0]), near=2.0)
    assert len(nothing.cells.triangles) == len(triangles)


def test_a_piece_has_axes_of_its_own_longest_first_and_leaning_outward():
    rng = np.random.default_rng(2)
    points = rng.exponential(1.0, (300, 2)) * [9.0, 4.0]
    turn = np.array([[np.cos(2.0), -np.sin(2.0)], [np.sin(2.0), np.cos(2.0)]])
    for placed in (points, points @ turn.T + [5.0, -40.0], points * [1, -1], points[:, ::-1]):
        own = own_axes(placed)
        assert own.axes @ own.axes.T == pytest.approx(np.eye(2), abs=1e-12)
        seen = own.seen(placed)
        assert seen.mean(axis=0) == pytest.approx([0.0, 0.0], abs=1e-9)
        assert (seen**2).sum(axis=0)[0] > (seen**2).sum(axis=0)[1]
        assert ((seen**3).sum(axis=0) > 0.0).all()
        assert own.back(seen) == pytest.approx(placed)
        # However it lies, it looks the same.
        assert seen == pytest.approx(own_axes(points).seen(points), abs=1e-9)
