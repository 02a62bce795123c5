"""Colours of the maps of a settled seat: one hue, ever darker, a step at the limit, and pictures that match it."""

import numpy as np
import pytest

from meshes.records.materials import CRUSH_LIMIT
from meshes.view.painter import letter, paint
from meshes.view.scene import Scene, ScenePart, load_scene, save_scene
from meshes.view.settled_maps import (
    BEYOND_LIMIT,
    NO_FOAM,
    RISEN,
    crush_colours,
    crush_key,
    down_colours,
    down_key,
    round_reach,
)
from tests.meshes.view.test_colours import lightness

SIZE = (1200, 900)


def tilted(colour, slope):
    """A square of 200 mm, tilted to the right, all of one colour."""
    plan = np.array([[-100.0, -100.0], [100.0, -100.0], [100.0, 100.0], [-100.0, 100.0]])
    points = np.column_stack([plan, slope * plan[:, 0]])
    normal = np.array([-slope, 0.0, 1.0]) / np.hypot(1.0, slope)
    return ScenePart("board", points, np.array([[0, 1, 2], [0, 2, 3]]), np.tile(normal, (4, 1)), np.array(colour))


@pytest.mark.parametrize("colours", [crush_colours(np.linspace(0, 0.5, 60)), down_colours(-np.linspace(0, 8, 60), 8.0)])
def test_one_hue_grows_darker_evenly(colours):
    steps = np.diff(lightness(colours))
    assert (steps < 0.3).all()
    assert steps.sum() < -45.0
    # One hue: the same of the three colours is the least throughout.
    assert len(set(np.argmin(colours[20:].astype(int), axis=1))) == 1


def test_the_limit_is_a_step_that_a_grey_copy_shows():
    at, beyond = crush_colours([CRUSH_LIMIT, CRUSH_LIMIT + 1e-9])
    assert tuple(beyond) == BEYOND_LIMIT
    assert lightness(np.array([at]))[0] - lightness(np.array([beyond]))[0] > 25.0
    assert tuple(crush_colours([np.nan])[0]) == NO_FOAM


def test_a_cover_that_rises_over_a_hollow_has_a_colour_of_its_own():
    colours = down_colours(np.array([-4.0, 0.0, 0.4, 2.0]), 4.0)
    assert tuple(colours[3]) == RISEN
    assert tuple(colours[2]) == tuple(colours[1]) != tuple(colours[0])


def test_numbers_of_the_key_stand_below_their_colours():
    key = crush_key()
    for share, word in key.ticks[:-1]:
        value = float(word.removesuffix(" %")) / 100.0
        at = key.bar[min(round(share * (len(key.bar) - 1)), len(key.bar) - 1)]
        assert np.abs(np.array(at, dtype=int) - crush_colours([value - 1e-3])[0].astype(int)).max() <= 6
    assert key.limit == key.ticks[5][0]
    down = down_key(8.0)
    assert [word for _, word in down.ticks] == ["0 mm", "2 mm", "4 mm", "6 mm", "8 mm"]


@pytest.mark.parametrize(("most", "reach"), [(0.0, 4.0), (5.0, 8.0), (19.0, 20.0), (21.0, 40.0), (900.0, 900.0)])
def test_the_reach_is_a_round_number_that_holds_all(most, reach):
    assert round_reach(most) == reach


@pytest.mark.parametrize("slope", [-1.0, 0.0, 1.0])
def test_a_map_keeps_its_colours_however_the_seat_is_turned(slope):
    colour = tuple(int(c) for c in crush_colours([0.3])[0])
    scene = Scene("", (tilted(colour, slope),), key=crush_key())
    middle = np.asarray(paint(scene, "top", SIZE)).astype(int)[400, 600]
    assert np.abs(middle - colour).max() <= 0.12 * max(colour)
    plain = Scene("", (tilted(colour, slope),))
    seen = np.asarray(paint(plain, "top", SIZE)).astype(int)[450, 600]
    assert slope == 0.0 or np.abs(seen - colour).max() > np.abs(middle - colour).max()


def test_the_key_is_drawn_with_its_limit_and_survives_a_file(tmp_path):
    scene = Scene("", (tilted((10, 10, 10), 0.0),), key=crush_key())
    save_scene(scene, tmp_path / "scene.npz")
    assert load_scene(tmp_path / "scene.npz").key == scene.key
    image = np.asarray(letter(paint(scene, "top", SIZE), scene)).astype(int)
    row = image[900 - 94, 280 + 4 : 920 - 4]
    assert lightness(row[:1])[0] > 90.0
    assert np.abs(row[-1] - BEYOND_LIMIT).max() < 8
    # The limit reaches above the bar.
    above = image[900 - 104 - 6, 280:920].sum(axis=1)
    assert np.flatnonzero(above < 300).mean() / 640 == pytest.approx(crush_key().limit, abs=0.01)
