"""Light, lines and lettering of painted pictures: what holds for any scene, size and turn."""

from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from meshes.view.colours import PANEL_COLOURS
from meshes.view.painter import INNER_SHADE, letter, paint
from meshes.view.scene import (
    BACKGROUND,
    CAMERAS,
    FINE_COLOUR,
    LINE_COLOUR,
    Scene,
    ScenePart,
    camera,
    load_scene,
    save_scene,
)
from meshes.view.settled_maps import RISEN, RISEN_MM, Legend, down_colours
from meshes.view.view import pictures
from tests.meshes.view.test_colours import lightness

SIZE = (600, 450)
GREY = (150, 150, 150)


def board(normal, *, turned=False, centre=(0.0, 0.0, 0.0), half=100.0, colour=GREY):
    """A square across a direction; turned: its outer side is the other one."""
    n = np.array(normal, dtype=float) / np.linalg.norm(normal)
    a = np.cross(n, [0.0, 0.0, 1.0]) if abs(n[2]) < 0.9 else np.array([1.0, 0.0, 0.0])
    a /= np.linalg.norm(a)
    b = np.cross(n, a)
    corners = np.array(centre) + half * np.array([-a - b, a - b, a + b, -a + b])
    triangles = np.array([[0, 1, 2], [0, 2, 3]])
    out = -n if turned else n
    return ScenePart(
        "board", corners, triangles[:, ::-1] if turned else triangles, np.tile(out, (4, 1)), np.array(colour)
    )


def middle_of(scene, view="front", size=SIZE):
    image = np.asarray(paint(scene, view, size)).astype(float)
    return image[size[1] // 2 - 3 : size[1] // 2 + 3, size[0] // 2 - 3 : size[0] // 2 + 3].mean(axis=(0, 1))


@pytest.mark.parametrize("view", CAMERAS)
def test_the_inner_side_is_as_light_as_the_outer_one_would_be_but_for_its_shade(view):
    toward = np.array(CAMERAS[view])
    outer, inner = (middle_of(Scene("", (board(toward, turned=t),)), view) for t in (False, True))
    assert inner == pytest.approx(INNER_SHADE * outer, abs=1.5)


def test_light_comes_from_above_left_and_grows_with_the_cosine():
    """Boards turned about the eye's way: what faces the lamp is lightest, and no board is black or burnt out."""
    at = camera(Scene("", (board((0, -1, 0)),)), "front", SIZE)
    right, up, eye = at.axes

    def light(*turn):
        return float(middle_of(Scene("", (board(np.array(turn) @ at.axes),)))[0])

    facing, left, away = light(0.0, 0.0, 1.0), light(-0.4, 0.5, 1.0), light(0.4, -0.9, 1.0)
    assert left > facing > away
    assert light(0.0, 0.6, 1.0) > light(0.0, -0.6, 1.0)
    assert 0.4 * GREY[0] < away
    assert left < 1.15 * GREY[0]
    # Colour only scales: twice as dark a board is twice as dark everywhere.
    dark = middle_of(Scene("", (board(np.array([-0.4, 0.5, 1.0]) @ at.axes, colour=(75, 75, 75)),)))
    assert dark == pytest.approx(0.5 * left, abs=1.0)
    assert right @ up == pytest.approx(0.0, abs=1e-12)
    assert eye @ np.array(CAMERAS["front"]) > 0.99 * np.linalg.norm(CAMERAS["front"])


def darkness(scene, size):
    """How much darker than the board alone a picture is, in all, and pixel by pixel."""
    plain = np.asarray(paint(replace(scene, lines=(), fine=()), "top", size)).astype(float).sum(axis=2)
    drawn = np.asarray(paint(scene, "top", size)).astype(float).sum(axis=2)
    return plain - drawn


def test_a_seam_is_two_pixels_wide_and_a_fine_line_one():
    line = np.array([[-80.0, 0.0, 1.0], [80.0, 0.0, 1.0]])
    part = board((0, 0, 1), colour=(240, 240, 240))
    ground = 3.0 * middle_of(Scene("", (part,)), "top")[0]
    for kind, colour, wide in (("lines", LINE_COLOUR, 2.0), ("fine", FINE_COLOUR, 1.0)):
        column = darkness(Scene("", (part,), **{kind: (("seam", line),)}), SIZE)[:, SIZE[0] // 2]
        # So many pixels of its full colour, whether they fall on whole ones or not.
        assert column.sum() / (ground - sum(colour)) == pytest.approx(wide, abs=0.1), kind


def test_lines_on_the_far_side_are_hidden():
    part = board((0, 0, 1), colour=(240, 240, 240))
    under = np.array([[-80.0, 0.0, -30.0], [80.0, 0.0, -30.0]])
    assert darkness(Scene("", (part,), lines=(("seam", under),)), SIZE).max() == 0.0


@pytest.mark.parametrize("view", CAMERAS)
def test_a_scene_of_any_size_and_place_gives_one_picture(view):
    """The camera follows the seat: moved, or ten times as large, it looks the same."""
    parts = (board((0.3, -1.0, 0.5)), board((0, 0, 1), centre=(60.0, 40.0, -50.0), half=50.0))
    first = np.asarray(paint(Scene("", parts), view, SIZE)).astype(int)
    for scale, shift in ((1.0, np.array([900.0, -300.0, 420.0])), (10.0, np.zeros(3))):
        moved = tuple(replace(p, vertices=scale * p.vertices + shift) for p in parts)
        again = np.asarray(paint(Scene("", moved), view, SIZE)).astype(int)
        assert (np.abs(again - first).max(axis=2) > 40).mean() < 2e-3


def lettered(size, key=None, title=""):
    blank = Image.new("RGB", size, BACKGROUND)
    return np.asarray(letter(blank, Scene(title, (board((0, 0, 1)),), key=key))).astype(int)


def inked(image):
    """Box of everything that is drawn: left, top, right, bottom."""
    rows, columns = np.nonzero(np.abs(image - BACKGROUND).sum(axis=2) > 60)
    return np.array([columns.min(), rows.min(), columns.max(), rows.max()])


KEY = Legend(
    tuple((20, 40 + k, 200) for k in range(100)),
    ((0.0, "0"), (1.0, "1")),
    "words below it",
    swatches=(((250, 0, 0), "first"), ((0, 160, 0), "second")),
)


def of_colour(image, colour):
    rows, columns = np.nonzero((np.abs(image - colour) < 6).all(axis=2))
    return np.array([columns.min(), rows.min(), columns.max(), rows.max()])


def test_letters_grow_with_the_picture():
    for more in ({"title": "two boards"}, {"key": KEY}):
        small, large = (inked(lettered(size, **more)) for size in ((1200, 900), (2400, 1800)))
        assert large == pytest.approx(2 * small, abs=8)


def test_the_title_stands_above_left_and_the_key_below():
    title, key = inked(lettered((1200, 900), title="boards")), inked(lettered((1200, 900), key=KEY))
    assert (title < [60, 60, 300, 90]).all()
    assert key[1] > 700
    assert (key[[2, 3]] < [1199, 899]).all()


def test_swatches_stand_in_a_column_right_of_the_bar_and_numbers_below_it():
    image = lettered((1200, 900), key=KEY)
    bar = np.array([*of_colour(image, (20, 60, 200))[:2], *of_colour(image, (20, 120, 200))[2:]])
    one, two = of_colour(image, (250, 0, 0)), of_colour(image, (0, 160, 0))
    assert bar[2] < one[0] == two[0]
    assert one[1] == pytest.approx(bar[1], abs=3)
    assert one[3] + 3 < two[1]
    assert np.diff(one[[0, 2]]) == np.diff(two[[0, 2]]) > np.diff(one[[1, 3]])
    # Words: one row of numbers and one of text below the bar, none on it.
    below = image[bar[3] + 3 :, 250:950]
    dark = (np.abs(below - BACKGROUND).sum(axis=2) > 60).any(axis=1)
    starts, ends = (np.flatnonzero(np.diff(dark.astype(int)) == step) for step in (1, -1))
    assert len(starts) == 2
    # Numbers can be read from where the bar can: they are about as high as it is.
    assert 0.6 < (ends[0] - starts[0]) / (bar[3] - bar[1]) < 1.5


def test_panels_are_told_apart_in_a_grey_copy_of_neighbours():
    light = lightness(np.array(PANEL_COLOURS))
    assert (np.abs(light - np.roll(light, 1)) > 8.0).all()
    assert len(set(PANEL_COLOURS)) == len(PANEL_COLOURS)
    # Lighter than the ink that runs over them, darker than the ground they stand on.
    assert light.min() > 50.0
    assert light.max() < lightness(np.array([BACKGROUND]))[0] - 5.0


def test_risen_places_begin_beyond_their_bound():
    at, over = down_colours(np.array([RISEN_MM, RISEN_MM + 1e-9]), 8.0)
    assert tuple(over) == RISEN != tuple(at)
    half = down_colours(np.array([-4.0, -8.0, -80.0]), 8.0)
    assert tuple(half[1]) == tuple(half[2])
    light = lightness(half)
    assert light[0] - light[1] > 20.0


def test_no_shots_are_no_pictures():
    assert pictures([], size=SIZE).images == ()


@pytest.mark.parametrize("size", [(600, 450), (400, 800)])
@pytest.mark.parametrize("view", CAMERAS)
def test_the_camera_is_as_near_as_the_room_allows(view, size):
    """The outmost point reaches the share of the picture that is a seat's, measured from the middle; with a key less,
    and higher by a tenth of half the picture."""
    parts = (board((0.3, -1.0, 0.5)), board((0, 0, 1), centre=(60.0, 40.0, -50.0), half=50.0))
    points = np.concatenate([part.vertices for part in parts])
    for key, fill, rise in ((None, 0.84, 0.0), (KEY, 0.70, 0.10)):
        at = camera(Scene("", parts, key=key), view, size)
        off = at.seen(points, size)[:, :2] / np.array(size) * 2.0 - 1.0
        off[:, 1] += rise
        assert np.abs(off).max() == pytest.approx(fill, rel=0.015)
        assert at.seen(at.target[None], size)[0, :2] == pytest.approx(np.array(size) / 2)


def test_fine_lines_and_spoken_words_come_back_from_a_file(tmp_path):
    key = replace(KEY, limit=0.8, spoken="light to dark")
    fine = (("stroke", np.array([[0.0, 1.0, 2.0], [3.0, 4.0, 5.0]])),)
    scene = Scene("a\nb", (board((0, 0, 1)), board((0, 1, 0))), fine=fine, key=key)
    save_scene(scene, tmp_path / "scene.npz")
    back = load_scene(tmp_path / "scene.npz")
    assert (back.key, back.title, back.fine[0][0]) == (key, "a\nb", "stroke")
    assert np.array_equal(back.fine[0][1], fine[0][1])
    assert back.box()[0] == pytest.approx([-100.0, -100.0, -100.0])
    assert back.box()[1] == pytest.approx([100.0, 100.0, 100.0])
    with pytest.raises(ValueError, match="read-only"):
        back.parts[0].vertices[0, 0] = 1.0
