"""The small picture of what a piece asks: places, colours and levels against the mesh they stand for."""

import io

import numpy as np
import pytest
from PIL import Image

from flatten.draw.stretch_map import COLOUR_LEVELS, LONGEST_PX, map_png, reach_of, shown_stretch, shown_use
from flatten.leather.card import CARDS
from flatten.pieces.piece import FlatMesh
from meshes.view.colours import OVER, use_colours

POINTS = np.array([[0.0, 0], [100, 0], [100, 60], [0, 60]])
TRIANGLES = np.array([[0, 1, 2], [0, 2, 3]])


def mesh_of(stretch, use=None):
    return FlatMesh(
        POINTS, TRIANGLES, np.array(stretch), np.tile([1.0, 0.0], (2, 1)), None if use is None else np.array(use)
    )


def picture(mesh, box=(-20.0, -10.0, 120.0, 70.0), reach=0.05):
    image = Image.open(io.BytesIO(map_png(mesh, box, reach=reach)))
    return np.asarray(image.convert("RGBA")).astype(int)


def test_of_two_stretches_the_one_farther_from_true_length_is_shown():
    values = np.array([[1.05, 0.99], [1.01, 0.95], [1.0, 1.0], [1.04, 1.03], [0.98, 0.97]])
    assert shown_stretch(values).tolist() == [1.05, 0.95, 1.0, 1.04, 0.97]


def test_use_is_shown_where_it_is_pulled_and_fullness_as_a_share_of_the_reach():
    values = np.array([[1.05, 0.99], [1.01, 0.95]])
    assert shown_use(values, np.array([0.7, 0.3]), 0.1) == pytest.approx([0.7, -0.5])
    assert shown_use(values, None, 0.1) == pytest.approx([0.5, -0.5])


def test_colours_reach_as_far_as_the_stiffer_way():
    for card in CARDS.values():
        assert reach_of(card) == min(card.stretch_along, card.stretch_across)


@pytest.mark.parametrize(("use", "level"), [(0.0, 0.5), (1.0, 1.0), (0.5, 0.75), (-1.0, 0.0)])
def test_each_triangle_has_the_colour_of_its_use(use, level):
    stretch = [[1.01, 1.0]] * 2 if use >= 0.0 else [[1.0, 0.95]] * 2
    seen = picture(mesh_of(stretch, [use, use]))
    wanted = use_colours(np.linspace(-1.0, 1.0, COLOUR_LEVELS))[round(level * (COLOUR_LEVELS - 1))]
    assert seen[seen.shape[0] // 2, seen.shape[1] // 2, :3].tolist() == np.asarray(wanted).tolist()


def test_what_is_over_has_a_colour_of_its_own():
    seen = picture(mesh_of([[1.09, 1.0], [1.01, 1.0]], [1.2, 0.2]))
    # The triangle below the diagonal is the first.
    low, high = (
        seen[int(0.75 * 0.95 * seen.shape[0]), int(0.75 * seen.shape[1])],
        seen[int(0.3 * seen.shape[0]), int(0.3 * seen.shape[1])],
    )
    assert low[:3].tolist() == list(OVER)
    assert high[:3].tolist() != list(OVER)


def test_the_picture_lies_on_the_piece():
    """Its box is the one asked for, y upwards: the coloured part is where the mesh is, outside it is see-through."""
    box = (-20.0, -10.0, 180.0, 70.0)
    seen = picture(mesh_of([[1.01, 1.0]] * 2, [0.5, 0.5]), box)
    high, wide = seen.shape[:2]
    assert max(high, wide) <= LONGEST_PX
    assert wide / high == pytest.approx(200.0 / 80.0, rel=0.02)
    rows, columns = np.nonzero(seen[:, :, 3] > 0)
    x = np.array([columns.min(), columns.max() + 1]) / wide * 200.0 - 20.0
    y = 70.0 - np.array([rows.max() + 1, rows.min()]) / high * 80.0
    assert x == pytest.approx([0.0, 100.0], abs=0.7)
    assert y == pytest.approx([0.0, 60.0], abs=0.7)
    assert (seen[:, :, 3] > 0).sum() / seen[:, :, 3].size == pytest.approx(6000.0 / 16000.0, rel=0.02)


def test_large_pieces_get_coarser_pixels_and_small_ones_no_finer_than_half_a_millimetre():
    mesh = mesh_of([[1.0, 1.0]] * 2, [0.0, 0.0])
    assert picture(mesh, (0.0, 0.0, 100.0, 60.0)).shape[:2] == (120, 200)
    assert picture(mesh, (0.0, 0.0, 2000.0, 500.0)).shape[:2] == (LONGEST_PX // 4, LONGEST_PX)


@pytest.mark.parametrize(("use", "like"), [(1.0009, 1.0), (-3.0, -1.0), (-0.5, -0.5)])
def test_colours_end_where_the_budget_and_the_reach_end(use, like):
    """A hair over the budget is rounding; more fullness than the reach is as blue as that."""
    stretch = [[1.01, 1.0]] * 2 if use > 0.0 else [[1.0, 1.0 + 0.05 * use]] * 2
    seen = picture(mesh_of(stretch, [use, use]))
    level = round((like + 1.0) / 2.0 * 60)
    wanted = use_colours(np.linspace(-1.0, 1.0, 61))[level]
    assert seen[seen.shape[0] // 2, seen.shape[1] // 2, :3].tolist() == np.asarray(wanted).tolist()


def test_true_length_has_a_step_of_its_own_and_the_picture_is_a_small_file():
    assert COLOUR_LEVELS % 2 == 1
    levels = {
        picture(mesh_of([[1.0 + u / 1000, 1.0]] * 2, [u, u]))[70, 140, :3].tobytes() for u in np.linspace(0, 1, 99)
    }
    assert 25 <= len(levels) <= 31
    data = map_png(mesh_of([[1.01, 1.0]] * 2, [0.5, 0.5]), (0.0, 0.0, 4000.0, 4000.0), reach=0.05)
    assert Image.open(io.BytesIO(data)).size == (880, 880)
    assert len(data) < 10_000
    # Even a sliver has a pixel.
    assert picture(mesh_of([[1.01, 1.0]] * 2, [0.5, 0.5]), (0.0, 0.0, 2000.0, 0.1)).shape[0] == 1
    assert picture(mesh_of([[1.01, 1.0]] * 2, [0.5, 0.5]), (0.0, 0.0, 0.1, 2000.0)).shape[1] == 1
