"""The small drawings of the report: map of use with colours in the right places, lines at true proportion."""

import io
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image

from flatten.draw.stretch_map import map_png, reach_of, shown_stretch, shown_use
from flatten.pieces.piece import FlatMesh
from flatten.report.sketch import legend_svg, piece_svg
from meshes.view.colours import OVER, use_colours
from tests.pieces import all_pieces
from tests.samples import sample_job


def test_many_triangles_stay_a_small_file():
    side = 245
    x, y = np.meshgrid(np.linspace(0.0, 1200.0, side), np.linspace(0.0, 700.0, side))
    k = np.arange(side * side).reshape(side, side)
    lower = np.stack([k[:-1, :-1], k[:-1, 1:], k[1:, 1:]], axis=-1).reshape(-1, 3)
    upper = np.stack([k[:-1, :-1], k[1:, 1:], k[1:, :-1]], axis=-1).reshape(-1, 3)
    triangles = np.concatenate([lower, upper])
    wave = 0.05 * np.sin(np.arange(len(triangles)) * 0.7)
    mesh = FlatMesh(
        np.column_stack([x.ravel(), y.ravel()]),
        triangles,
        np.column_stack([1.0 + np.abs(wave), 1.0 - np.abs(wave)]),
        np.tile([1.0, 0.0], (len(triangles), 1)),
    )
    assert len(triangles) > 119_000
    assert len(map_png(mesh, (0.0, 0.0, 1200.0, 700.0), reach=0.05)) < 1_000_000


def test_map_has_the_colours_of_its_triangles():
    """Four cells: the upper left one stretched, the lower right one full, the others at true length; then with uses."""
    x, y = np.meshgrid([0.0, 50.0, 100.0], [0.0, 25.0, 50.0])
    corners = np.array([[0, 1, 4, 3], [1, 2, 5, 4], [3, 4, 7, 6], [4, 5, 8, 7]])
    triangles = np.concatenate([corners[:, [0, 1, 2]], corners[:, [0, 2, 3]]])
    stretch = np.tile([[1.0, 1.0], [1.0, 0.95], [1.05, 1.0], [1.0, 1.0]], (2, 1))
    mesh = FlatMesh(np.column_stack([x.ravel(), y.ravel()]), triangles, stretch, np.tile([1.0, 0.0], (8, 1)))
    image = Image.open(io.BytesIO(map_png(mesh, (-10.0, 0.0, 110.0, 50.0), reach=0.05))).convert("RGBA")
    width, height = image.size
    assert width / height == pytest.approx(120.0 / 50.0, rel=0.02)
    blue, white, orange = use_colours([-1.0, 0.0, 1.0]).tolist()
    for place, colour in (((0.25, 0.25), orange), ((0.75, 0.75), blue), ((0.25, 0.75), white), ((0.75, 0.25), white)):
        assert image.getpixel((int(place[0] * width), int(place[1] * height))) == (*colour, 255)
    for outside in (0.03, 0.97):
        assert image.getpixel((int(outside * width), height // 2))[3] == 0


def test_a_map_shows_use_and_what_is_over_the_budget():
    x, y = np.array([0.0, 50.0, 100.0, 0.0, 50.0, 100.0]), np.array([0.0, 0.0, 0.0, 50.0, 50.0, 50.0])
    triangles = np.array([[0, 1, 4], [0, 4, 3], [1, 2, 5], [1, 5, 4]])
    stretch, use = np.tile([1.04, 1.0], (4, 1)), np.array([0.5, 0.5, 1.2, 1.2])
    mesh = FlatMesh(np.column_stack([x, y]), triangles, stretch, np.tile([1.0, 0.0], (4, 1)), use)
    image = Image.open(io.BytesIO(map_png(mesh, (0.0, 0.0, 100.0, 50.0), reach=0.05))).convert("RGB")
    width, height = image.size
    assert image.getpixel((width // 4, height // 2)) == tuple(use_colours([0.5])[0].tolist())
    assert image.getpixel((3 * width // 4, height // 2)) == OVER


def test_fullness_is_shown_by_its_amount_and_pull_by_its_use():
    stretch = np.array([[1.04, 0.99], [1.01, 0.95]])
    assert shown_use(stretch, np.array([0.7, 0.2]), 0.05) == pytest.approx([0.7, -1.0])
    assert shown_use(stretch, None, 0.05) == pytest.approx([0.8, -1.0])


def test_shown_stretch_is_the_one_farther_from_true_length():
    both = np.array([[1.05, 0.99], [1.01, 0.95], [1.0, 1.0], [1.25, 0.8]])
    assert shown_stretch(both).tolist() == [1.05, 0.95, 1.0, 1.25]


def test_drawings_are_sound_and_hold_every_edge_number():
    for piece in all_pieces():
        root = ElementTree.fromstring(piece_svg(piece, reach=0.05, words=f"<{piece.name}>"))
        numbers = [element.text for element in root.iter("text")]
        assert numbers == [str(k + 1) for k in range(len(piece.edges))]
        box = [float(value) for value in root.get("viewBox").split()]
        for circle in root.iter("circle"):
            x, y, r = (float(circle.get(key)) for key in ("cx", "cy", "r"))
            assert r <= x <= box[2] - r
            assert r <= y <= box[3] - r


def test_the_drawing_is_the_cut_line():
    for piece in all_pieces():
        root = ElementTree.fromstring(piece_svg(piece, reach=0.05, words="x"))
        path = next(element.get("d") for element in root.iter("path") if element.get("class") == "cut")
        drawn = np.array([[float(v) for v in pair.split()] for pair in path.strip("MZ").split("L")])
        size = drawn.max(axis=0) - drawn.min(axis=0)
        x0, y0, x1, y1 = piece.box()
        assert size == pytest.approx([x1 - x0, y1 - y0], abs=0.11)
        # Paper's y runs up, the drawing's runs down.
        a, b = piece.cut[1] - piece.cut[0], drawn[1] - drawn[0]
        assert b == pytest.approx([a[0], -a[1]], abs=0.11)


def test_the_legend_tells_the_reach():
    legend = ElementTree.fromstring(legend_svg(reach_of(sample_job().leather)))
    assert [element.text for element in legend.iter("text")] == [
        "3 % fullness",
        "true length",
        "half the budget",
        "all of it",
        "over",
    ]
