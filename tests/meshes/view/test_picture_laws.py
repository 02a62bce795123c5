"""Views, lamps, colours and places in a picture by what a reader sees of them, not by their figures."""

import colorsys
import json
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image

from meshes.view import child, view
from meshes.view.colours import OVER, PANEL_COLOURS, use_colours
from meshes.view.painter import INK, letter, paint
from meshes.view.scene import (
    BACKGROUND,
    CAMERAS,
    FINE_COLOUR,
    LINE_COLOUR,
    NO_SCREEN,
    Scene,
    ScenePart,
    camera,
    load_scene,
)
from meshes.view.settled_maps import (
    BEYOND_LIMIT,
    NO_FOAM,
    RISEN,
    Legend,
    crush_colours,
    crush_key,
    down_colours,
    down_key,
    round_reach,
)
from meshes.view.view import Shot, pictures
from tests.meshes.view.test_colours import lightness
from tests.meshes.view.test_painter_laws import KEY, board, inked, lettered, middle_of, of_colour
from tests.meshes.view.test_view import BLUE, RED, square

SIZE = (600, 450)


def angles(name):
    """How far a view looks from the middle of the front, to the left, and how far down, in degrees."""
    x, y, z = CAMERAS[name]
    return np.degrees(np.arctan2(-x, -y)), np.degrees(np.arctan2(z, np.hypot(x, y)))


def test_views_are_what_they_are_called():
    """Front and rear from an open corner and above; side and top nearly square on, by a little more than a degree and
    less than five, so that the edge that is nearest shows."""
    left, down = angles("front")
    assert 28.0 < left < 36.0
    assert 25.0 < down < 33.0
    left, down = angles("rear")
    assert 140.0 < -left < 152.0
    assert 25.0 < down < 33.0
    left, down = angles("side")
    assert 2.0 < 90.0 + left < 5.0
    assert 2.0 < down < 5.0
    left, down = angles("top")
    assert left == 0.0
    assert 88.5 < down < 89.5


@pytest.mark.parametrize(
    ("name", "sides"),
    [("front", "front left top"), ("side", "front right top"), ("rear", "rear right top"), ("top", "front top")],
)
def test_a_view_shows_these_sides_of_a_box(name, sides):
    ways = {"front": (0, -1, 0), "rear": (0, 1, 0), "left": (-1, 0, 0), "right": (1, 0, 0), "top": (0, 0, 1)}
    assert {side for side, way in ways.items() if np.dot(way, CAMERAS[name]) > 0} == set(sides.split())


@pytest.mark.parametrize("name", CAMERAS)
def test_the_horizon_is_level_and_the_seat_stands_across_the_shop(name):
    """A seat of 600 mm fills a picture from three to six metres away."""
    seat = Scene("", (square("a", 0.0, RED, half=300.0), square("b", 500.0, RED, half=300.0)))
    at = camera(seat, name, SIZE)
    assert at.axes[0, 2] == 0.0
    assert at.axes[1, 2] > 0.0
    assert 3000.0 < np.linalg.norm(at.eye - at.target) < 6000.0
    assert (at.eye - at.target) / np.linalg.norm(at.eye - at.target) == pytest.approx(at.axes[2])


def test_pixels_follow_the_rule_of_a_pinhole():
    """Size over distance: a rod of 10 mm in the middle of the picture."""
    scene = Scene("", (square("a", 0.0, RED),))
    at = camera(scene, "front", SIZE)
    for axis in (0, 1):
        for back in (0.0, 50.0):
            ends = at.target + np.array([[-5.0], [5.0]]) * at.axes[axis] - back * at.axes[2]
            seen = at.seen(ends, SIZE)
            distance = np.linalg.norm(at.eye - at.target) + back
            assert seen[:, 2] == pytest.approx(distance)
            height_mm = 2.0 * distance * np.tan(np.radians(6.0))
            assert np.linalg.norm(seen[1, :2] - seen[0, :2]) == pytest.approx(10.0 * SIZE[1] / height_mm)


# Light.


def light(scene_normal, *, key=None):
    """Share of its colour that a board shows, its normal in the camera's axes."""
    at = camera(Scene("", (board((0, -1, 0)),)), "front", SIZE)
    part = board(np.array(scene_normal) @ at.axes, colour=(200, 200, 200))
    image = np.asarray(paint(Scene("", (part,), key=key), "front", SIZE)).astype(float)
    return float(np.median(image[(image[:, :, 0] == image[:, :, 1]) & (image[:, :, 1] == image[:, :, 2]), 0])) / 200.0


def test_two_lamps_light_a_seat_the_left_one_twice_as_strong_as_the_right():
    """Out of reach of both a board has the light from all sides; each lamp adds its own share at the cosine."""
    shade = light((-0.5, -0.85, 0.1))
    assert shade == pytest.approx(0.44, abs=0.02)
    # Straight towards each lamp, the other one's share taken off.
    first, second = np.array([-0.4, 0.6, 0.7]) / np.sqrt(1.01), np.array([0.6, 0.0, 0.8])
    both = first @ second
    facing = [light(first) - shade, light(second) - shade]
    own = np.linalg.solve([[1.0, both], [both, 1.0]], facing)
    assert own == pytest.approx([0.42, 0.22], abs=0.02)
    # And by the cosine in between.
    for way in ((-0.7, 0.7, 0.14), (0.6, -0.75, 0.28), (0.0, 0.0, 1.0), (0.3, 0.3, 0.9)):
        n = np.array(way) / np.linalg.norm(way)
        expected = shade + own @ np.maximum([n @ first, n @ second], 0.0)
        assert light(way) == pytest.approx(expected, abs=0.015)


def test_a_map_is_nearly_as_light_as_its_key_says():
    shade = light((-0.5, -0.85, 0.1), key=KEY)
    assert shade == pytest.approx(0.86, abs=0.02)
    for way in ((0.0, 0.0, 1.0), (-0.4, 0.6, 0.7)):
        assert light(way, key=KEY) - shade == pytest.approx(0.22 * (light(way) - 0.44), abs=0.02)


def test_the_inner_side_is_a_quarter_darker():
    toward = np.array(CAMERAS["front"])
    outer, inner = (middle_of(Scene("", (board(toward, turned=t),)))[0] for t in (False, True))
    assert inner / outer == pytest.approx(0.75, abs=0.02)


def test_colours_run_evenly_between_corners():
    """A triangle has the mean of its corners' shaded colours; nothing is lighter than white."""
    part = square("a", 0.0, RED)
    mixed = replace(part, colours=np.array([[0, 0, 0], [90, 90, 90], [180, 180, 180], [90, 90, 90]]))
    image = np.asarray(paint(Scene("", (mixed,), key=KEY), "top", SIZE)).astype(float)
    facing = light((0.0, 0.0, 1.0), key=KEY)
    for mean in (60.0, 90.0):
        share = (np.abs(image[:, :, 0] - mean * facing) < 2.0).mean()
        assert share == pytest.approx(0.5 * (image[:, :, 0] < 100.0).mean(), rel=0.1)
    for colour, seen in ((0, 0), (255, 255)):
        plain = replace(part, colours=np.full(3, colour))
        middle = middle_of(Scene("", (plain,), key=KEY), "top")
        assert middle == pytest.approx(seen * facing, abs=0.6)
    white = replace(part, colours=np.array([255, 255, 255]))
    assert np.asarray(paint(Scene("", (white,)), "front", SIZE)).min() > 200


def test_lines_lie_on_a_surface_and_not_through_it():
    """What runs along a surface is seen, also a few millimetres inside it; a centimetre behind it is hidden."""
    part = square("a", 0.0, (240, 240, 240), n=9)
    plain = np.asarray(paint(Scene("", (part,)), "top", SIZE)).astype(int)
    for deep, seen in ((0.0, True), (5.0, True), (10.0, False)):
        line = np.array([[-80.0, 11.0, -deep], [0.0, 11.0, -deep], [80.0, 11.0, -deep]])
        drawn = np.asarray(paint(Scene("", (part,), lines=(("seam", line),)), "top", SIZE)).astype(int)
        columns = (np.abs(plain - drawn).sum(axis=2) > 200).any(axis=0)
        assert bool(columns.any()) == seen
        if seen:
            # The whole of it, both steps.
            board_px = np.ptp(np.flatnonzero((plain < 230).any(axis=(0, 2))))
            assert columns.sum() == pytest.approx(0.8 * board_px, rel=0.6)


def test_a_line_runs_from_its_first_point_to_its_last():
    part = square("a", 0.0, (240, 240, 240))
    at = camera(Scene("", (part,)), "top", SIZE)
    corners = np.array([[-70.0, -50.0, 1.0], [60.0, -50.0, 1.0], [60.0, 40.0, 1.0], [10.0, 40.0, 1.0]])
    seen = at.seen(corners, SIZE)[:, :2]
    plain = np.asarray(paint(Scene("", (part,)), "top", SIZE)).astype(int)
    for kind, wide in (("lines", 2.0), ("fine", 1.0)):
        drawn = np.asarray(paint(Scene("", (part,), **{kind: (("seam", corners),)}), "top", SIZE)).astype(int)
        rows, columns = np.nonzero(np.abs(plain - drawn).sum(axis=2) > 150)
        assert [columns.min(), rows.min()] == pytest.approx(seen.min(axis=0), abs=2.0)
        assert [columns.max(), rows.max()] == pytest.approx(seen.max(axis=0), abs=2.0)
        length = np.linalg.norm(np.diff(seen, axis=0), axis=1).sum()
        assert 0.7 * wide * length < len(rows) < (wide + 1.3) * length


# Colours.


def hue(colour):
    """Hue in degrees and saturation of sRGB."""
    h, s, _ = colorsys.rgb_to_hsv(*(np.asarray(colour, dtype=float) / 255.0))
    return 360.0 * h, s


@pytest.mark.parametrize(
    ("scale", "wanted", "off"),
    [
        (lambda x: use_colours([-x]), 214.0, 8.0),
        (lambda x: use_colours([x]), 25.0, 7.0),
        (lambda x: crush_colours([0.5 * x]), 284.0, 6.0),
        (lambda x: down_colours(np.array([-8.0 * x]), 8.0), 154.0, 12.0),
    ],
)
def test_each_scale_keeps_its_hue_and_grows_stronger(scale, wanted, off):
    found = [hue(scale(x)[0]) for x in (0.5, 0.6, 0.8, 1.0)]
    assert all(abs(h - wanted) < off for h, _ in found)
    assert [s for _, s in found] == sorted(s for _, s in found)


def test_no_use_and_no_crush_are_nearly_white_without_a_hue():
    for colour in (
        use_colours([0.0])[0],
        crush_colours([0.0])[0],
        down_colours(np.zeros(1), 8.0)[0],
        NO_FOAM,
        BACKGROUND,
    ):
        assert hue(colour)[1] < 0.03
    assert lightness(use_colours([0.0]))[0] > 96.0


def test_colours_beyond_a_limit_keep_to_their_side():
    assert hue(BEYOND_LIMIT)[0] == pytest.approx(282.0, abs=6.0)
    assert 300.0 < hue(OVER)[0] < 340.0
    assert 35.0 < hue(RISEN)[0] < 50.0
    for colour in (BEYOND_LIMIT, OVER):
        assert 10.0 < lightness(np.array([colour]))[0] < 14.0
        assert hue(colour)[1] > 0.8
    assert lightness(np.array([NO_FOAM]))[0] == pytest.approx(85.5, abs=1.0)
    assert lightness(np.array([RISEN]))[0] == pytest.approx(75.0, abs=3.0)


def test_a_thousandth_over_the_budget_is_rounding_and_half_a_percent_is_not():
    assert tuple(use_colours([1.005])[0]) == OVER
    assert tuple(use_colours([1.0009])[0]) == tuple(use_colours([1.0])[0])


def test_seams_are_ink_and_fine_lines_as_dark_but_coloured():
    seam, fine, ink = (lightness(np.array([c]))[0] for c in (LINE_COLOUR, FINE_COLOUR, INK))
    assert abs(seam - fine) < 2.0
    assert seam < ink < 26.0
    assert max(hue(LINE_COLOUR)[1], hue(INK)[1]) < 0.1
    assert hue(FINE_COLOUR)[1] > 0.7
    assert 300.0 < hue(FINE_COLOUR)[0] < 330.0
    assert lightness(np.array([BACKGROUND]))[0] == pytest.approx(96.0, abs=0.5)


def test_panels_are_muted():
    assert all(hue(colour)[1] < 0.4 for colour in PANEL_COLOURS)
    light_ = lightness(np.array(PANEL_COLOURS))
    assert light_.min() > 50.0
    assert light_.max() < 90.0


@pytest.mark.parametrize("key", [crush_key(), down_key(8.0)])
def test_a_key_s_bar_runs_once_through_its_colours(key):
    assert len(key.bar) > 100
    light_ = lightness(np.array(key.bar))
    assert (np.diff(light_) < 0.3).all()
    assert key.ticks[0][0] == 0.0
    assert [share for share, _ in key.ticks] == sorted(share for share, _ in key.ticks)


def test_the_key_of_crushed_foam_ends_at_its_limit_and_names_what_is_beyond():
    key = crush_key()
    assert [word for _, word in key.ticks] == ["0 %", "10 %", "20 %", "30 %", "40 %", "50 %", "over"]
    assert 0.75 < key.limit < 0.88
    assert np.diff([share for share, _ in key.ticks[:6]]) == pytest.approx(key.limit / 5.0)
    # "over" stands under its colour.
    assert key.limit < key.ticks[6][0] < 1.0
    assert key.bar[round(key.ticks[6][0] * (len(key.bar) - 1))] == BEYOND_LIMIT
    first = next(k for k, colour in enumerate(key.bar) if colour == BEYOND_LIMIT)
    assert first / (len(key.bar) - 1) == pytest.approx(key.limit, abs=0.01)
    assert key.swatches == ((NO_FOAM, "no foam"),)
    assert "limit 50 %" in key.words


def test_the_key_of_what_went_down_reaches_as_far_as_it_says():
    for reach in (4.0, 60.0):
        key = down_key(reach)
        assert [float(word.split()[0]) for _, word in key.ticks] == pytest.approx([reach * k / 4 for k in range(5)])
        assert [share for share, _ in key.ticks] == [0.0, 0.25, 0.5, 0.75, 1.0]
        assert key.bar[-1] == tuple(down_colours(np.array([-reach]), reach)[0].tolist())
        assert key.swatches[0][0] == RISEN
    assert tuple(down_colours(np.array([0.45]), 8.0)[0]) != RISEN
    assert tuple(down_colours(np.array([0.55]), 8.0)[0]) == RISEN
    assert [round_reach(x) for x in (4.0, 4.1, 8.1, 12.0, 12.1, 40.1, 199.0, 200.1)] == (
        [4.0, 8.0, 12.0, 12.0, 20.0, 60.0, 200.0, 200.1]
    )  # fmt: skip


# Places of the lettering, in pixels of a picture of 1200 x 900.


def test_bar_and_swatches_have_their_places():
    image = lettered((1200, 900), key=KEY)
    bar = [*of_colour(image, (20, 40, 200))[:2], *of_colour(image, (20, 139, 200))[2:]]
    # In the middle, 640 wide and 22 high, from 104 above the lower rim.
    assert bar == pytest.approx([280, 796, 920, 818], abs=2)
    assert (image[796, 300] == INK).all()
    first, second = (of_colour(image, colour) for colour in ((250, 0, 0), (0, 160, 0)))
    assert first == pytest.approx([946, 796, 977, 818], abs=2)
    assert second == pytest.approx([946, 832, 977, 854], abs=2)
    # Its words begin beside it and stand in its middle.
    words = inked_in(image, (980, 780, 1199, 828))
    assert words[0] == pytest.approx(946 + 1.8 * 22, abs=3)
    assert 0.5 * (words[1] + words[3]) == pytest.approx(807, abs=4)


def inked_in(image, box):
    left, top, right, bottom = box
    found = inked(image[top:bottom, left:right])
    return found + np.array([left, top, left, top])


def test_numbers_stand_under_their_places_and_words_under_the_numbers():
    image = lettered((1200, 900), key=replace(KEY, swatches=()))
    for left, middle in ((250, 280), (880, 920)):
        number = inked_in(image, (left, 822, left + 80, 848))
        assert 0.5 * (number[0] + number[2]) == pytest.approx(middle, abs=4)
        # A number's height, and the way down from the bar.
        assert number[3] - number[1] == pytest.approx(18, abs=2)
        assert number[1] == pytest.approx(829, abs=4)
    words = inked_in(image, (300, 855, 900, 899))
    assert 0.5 * (words[0] + words[2]) == pytest.approx(600, abs=4)
    assert words[1] == pytest.approx(860, abs=4)


def test_the_title_has_its_place_and_height():
    box = inked(lettered((1200, 900), title="H"))
    assert box[0] == pytest.approx(30, abs=3)
    assert box[1] == pytest.approx(25, abs=3)
    assert box[3] - box[1] == pytest.approx(18, abs=2)
    # In a small picture letters stay as large as can be read.
    small = inked(lettered((120, 90), title="H"))
    assert small[3] - small[1] >= 6
    key = inked_in(lettered((300, 225), key=replace(KEY, swatches=())), (60, 205, 80, 225))
    assert key[3] - key[1] >= 5


def test_a_limit_is_marked_across_the_bar():
    image = lettered((1200, 900), key=replace(KEY, limit=0.25))
    plain = lettered((1200, 900), key=KEY)
    left, top, right, bottom = inked(image - plain + BACKGROUND)
    assert 0.5 * (left + right) == pytest.approx(280 + 160, abs=1.5)
    assert right - left + 1 == pytest.approx(4, abs=1)
    assert [top, bottom] == pytest.approx([796 - 10, 796 + 27], abs=2)
    small = lettered((120, 90), key=replace(KEY, limit=0.25)) - lettered((120, 90), key=KEY)
    assert np.ptp(np.nonzero(np.abs(small).sum(axis=2))[1]) == 0


def test_a_picture_without_a_key_has_no_bar_and_is_not_changed_itself():
    blank = Image.new("RGB", (300, 200), BACKGROUND)
    done = letter(blank, Scene("", (board((0, 0, 1)),)))
    assert done.tobytes() == blank.tobytes()
    letter(blank, Scene("words", (board((0, 0, 1)),), key=KEY))
    assert (np.asarray(blank) == BACKGROUND).all()


# The child that draws, on a plotter that only writes down what it is told.


class Actor:
    def __init__(self, name):
        self.name, self.shown = name, True

    def SetVisibility(self, on):
        self.shown = on


class Told:
    """Stands for pyvista's plotter."""

    def __init__(self, **given):
        self.given, self.meshes, self.texts, self.labels, self.lights, self.shown = given, [], [], [], [], 0
        self.camera = SimpleNamespace(view_angle=None)
        self.render_window = SimpleNamespace(GetClassName=lambda: self.kind)
        self.kind = "vtkXOpenGLRenderWindow"

    def add_mesh(self, mesh, **options):
        self.meshes.append((mesh, options))
        return Actor(f"mesh {len(self.meshes)}")

    def add_point_labels(self, places, words, **options):
        self.labels.append((places, words, options))
        return Actor("labels")

    def add_text(self, text, **options):
        self.texts.append((text, options))
        return Actor("text")

    def add_light(self, light):
        self.lights.append(light)

    def add_axes(self, **words):
        self.axes = words

    def add_checkbox_button_widget(self, press, **_):
        return SimpleNamespace(GetRepresentation=lambda: SimpleNamespace(SetState=lambda on: None))

    def set_background(self, colour):
        self.background = colour

    def show(self):
        self.shown += 1

    def __getattr__(self, name):
        return lambda *_, **__: None


SEAM = (("seam", np.array([[0.0, 0.0, 0.0], [10.0, 0.0, 0.0], [10.0, 5.0, 0.0]])),)
STROKES = (("a", np.array([[0.0, 1.0, 0.0], [5.0, 1.0, 0.0]])), ("b", np.array([[0.0, 2.0, 0.0], [5.0, 2.0, 0.0]])))


@pytest.mark.parametrize("key", [None, KEY])
def test_the_child_draws_what_the_painter_draws(key):
    """Surfaces with their colours and normals, lit as the painter lights them; fine lines half as wide as seams."""
    scene = Scene("", (square("a", 0.0, RED), square("b", 50.0, BLUE, n=3)), SEAM, fine=STROKES, key=key)
    plotter = Told()
    assert [actor.name for actor in child._add(plotter, scene)] == ["mesh 1", "mesh 2", "mesh 3", "mesh 4"]
    for part, (mesh, options) in zip(scene.parts, plotter.meshes[:2], strict=True):
        assert np.array_equal(mesh.points, part.vertices)
        assert np.array_equal(mesh.regular_faces, part.triangles)
        assert np.array_equal(mesh.point_data["colour"], part.colours)
        assert mesh.point_data.active_normals == pytest.approx(part.normals)
        assert (options["scalars"], options["rgb"], options["specular"]) == ("colour", True, 0.0)
        # As much light from all sides, and as much of the lamps.
        assert options["ambient"] == pytest.approx(0.44 if key is None else 0.86)
        assert options["diffuse"] == pytest.approx(1.0 if key is None else 0.22)
    (seams, thick), (strokes, thin) = plotter.meshes[2:]
    assert (seams.n_points, strokes.n_points) == (3, 4)
    assert [255.0 * c for c in thick["color"]] == pytest.approx(LINE_COLOUR)
    assert [255.0 * c for c in thin["color"]] == pytest.approx(FINE_COLOUR)
    assert thick["line_width"] == 2.0 * thin["line_width"]
    assert 2.0 <= thick["line_width"] <= 3.0
    assert not thick["lighting"]
    assert not thin["lighting"]


def test_lamps_of_the_child_go_with_the_camera():
    plotter = Told()
    child._prepare(plotter, Scene("", (square("a", 0.0, RED),)), "front", SIZE)
    assert [255.0 * c for c in plotter.background] == pytest.approx(BACKGROUND)
    assert plotter.camera.view_angle == 12.0
    for lamp, (direction, share) in zip(plotter.lights, child.LIGHTS, strict=True):
        assert lamp.position == direction
        assert lamp.focal_point == (0.0, 0.0, 0.0)
        assert lamp.intensity == share
        assert lamp.is_camera_light


def test_the_child_letters_pieces_and_keys():
    plotter = Told()
    names = (("face", np.array([0.0, 0.0, 5.0])), ("band", np.array([9.0, 0.0, 1.0])))
    scene = Scene("", (square("a", 0.0, RED),), names=names, key=KEY)
    assert [actor.name for actor in child._letter(plotter, scene)] == ["labels", "text"]
    places, words, options = plotter.labels[0]
    # Words on the seat are larger than those of the key, and none stands on a dot.
    assert 10 < options["font_size"] < 20
    assert plotter.texts[0][1]["font_size"] < options["font_size"]
    assert not options["show_points"]
    assert not options["bold"]
    assert 0.4 < options["shape_opacity"] < 0.9
    assert words == ["face", "band"]
    assert np.array_equal(places, [[0.0, 0.0, 5.0], [9.0, 0.0, 1.0]])
    assert plotter.texts[0][0] == "words below it: light 0 to dark 1"
    assert child._letter(Told(), Scene("", scene.parts)) == []


@pytest.fixture
def folder(tmp_path):
    """Scenes and shots as they are handed to the child."""
    from meshes.view.scene import save_scene

    for name, colour in (("one", RED), ("two", BLUE)):
        save_scene(Scene(f"{name}\nmore", (square(name, 0.0, colour),)), tmp_path / f"{name}.npz")
    (tmp_path / "shots.json").write_text(json.dumps([["one", "top"], ["two", "front"], ["one", "front"]]))
    return tmp_path


def test_the_child_draws_every_shot_in_its_order(folder, monkeypatch):
    drawn = []
    monkeypatch.setattr(child, "_draw", lambda *given: drawn.append(given))
    child.main(["draw", str(folder), "320", "240"])
    assert [(scene.parts[0].name, name, size, path.name) for scene, name, size, path in drawn] == [
        ("one", "top", (320, 240), "0.png"),
        ("two", "front", (320, 240), "1.png"),
        ("one", "front", (320, 240), "2.png"),
    ]  # fmt: skip


def test_a_window_opens_on_a_screen_and_says_so_where_there_is_none(folder, monkeypatch):
    made = []
    monkeypatch.setattr(child.pyvista, "Plotter", lambda **given: made.append(Told(**given)) or made[-1])
    child.main(["window", str(folder), "320", "240"])
    (plotter,) = made
    assert plotter.shown == 1
    assert plotter.given["title"] == "one"
    assert plotter.given["window_size"] == [320, 240]
    assert plotter.axes == {"xlabel": "right", "ylabel": "rear", "zlabel": "up"}
    assert len(plotter.meshes) == 2
    for kind in child.OFF_SCREEN:
        monkeypatch.setattr(child.pyvista, "Plotter", lambda kind=kind, **given: off(kind))
        with pytest.raises(SystemExit) as ended:
            child.main(["window", str(folder), "320", "240"])
        assert ended.value.code == NO_SCREEN


def off(kind):
    plotter = Told()
    plotter.kind = kind
    return plotter


# Pictures and the window as they are asked for.


def test_pictures_come_in_the_order_asked_for_each_scene_saved_once(monkeypatch):
    """The child is handed every scene once, however often it is shown."""
    one, two = Scene("", (square("one", 0.0, RED),)), Scene("", (square("two", 0.0, BLUE),))
    seen = []

    def run(command, **given):
        folder = view.Path(command[-3])
        shots = json.loads((folder / "shots.json").read_text())
        files = sorted(folder.glob("*.npz"))
        seen.append((shots, len(files), command, given))
        for k, (name, _) in enumerate(shots):
            first = load_scene(folder / f"{name}.npz").parts[0].colours[0]
            Image.new("RGB", (20, 10), tuple(int(c) for c in first)).save(folder / f"{k}.png")
        return SimpleNamespace(returncode=0)

    monkeypatch.setattr(view.subprocess, "run", run)
    shots = [Shot(two, "front"), Shot(one, "top"), Shot(two, "side")]
    drawn = pictures(shots, size=(20, 10), time_limit_s=7.0)
    assert (drawn.how, drawn.reason) == ("pyvista", "")
    assert [image.getpixel((10, 5)) for image in drawn.images] == [BLUE, RED, BLUE]
    ((told, files, command, given),) = seen
    assert [name for _, name in told] == ["front", "top", "side"]
    assert (files, command[-2:], command[-4], given["timeout"]) == (2, ["20", "10"], "draw", 7.0)
    assert not {"DISPLAY", "WAYLAND_DISPLAY"} & set(given["env"])


@pytest.mark.parametrize(("code", "words"), [(NO_SCREEN, "there is no screen"), (3, "status 3"), (-11, "SIGSEGV")])
def test_a_window_that_does_not_open_says_why(monkeypatch, code, words):
    monkeypatch.setenv("DISPLAY", ":7")
    monkeypatch.setenv("PYTHONPATH", "elsewhere")
    seen = []
    monkeypatch.setattr(
        view.subprocess, "run", lambda *a, **given: seen.append(given) or SimpleNamespace(returncode=code)
    )
    with pytest.raises(view.ProblemError, match=words):
        view.window({"panels": Scene("", (square("one", 0.0, RED),))})
    assert seen[0]["env"]["DISPLAY"] == ":7"
    assert seen[0]["timeout"] is None
    first, *rest = seen[0]["env"]["PYTHONPATH"].split(view.os.pathsep)
    assert (view.Path(first) / "meshes" / "view").is_dir()
    assert rest == ["elsewhere"]


def test_a_window_has_a_button_for_every_scene_by_its_name(monkeypatch):
    seen = []

    def run(command, **_):
        folder = view.Path(command[-3])
        seen.append((json.loads((folder / "shots.json").read_text()), {f.stem for f in folder.glob("*.npz")}))
        return SimpleNamespace(returncode=0)

    monkeypatch.setattr(view.subprocess, "run", run)
    view.window({name: Scene("", (square(name, 0.0, RED),)) for name in ("panels", "map")})
    assert seen == [([["panels", "front"], ["map", "front"]], {"panels", "map"})]


def test_a_part_with_one_colour_has_it_everywhere_and_locked():
    part = ScenePart("a", np.zeros((3, 3)), np.array([[0, 1, 2]]), np.zeros((3, 3)), np.array(RED))
    assert np.array_equal(part.colours, [RED] * 3)
    for array in (part.colours, part.vertices, part.triangles, part.normals):
        assert not array.flags.writeable


def test_a_legend_in_words_names_its_ends():
    assert child._said(Legend((), ((0.0, "a"), (0.5, "b"), (1.0, "c")), "use")) == "use: light a to dark c"


def test_a_picture_of_the_child_is_saved_without_its_transparency(monkeypatch, tmp_path):
    image = np.zeros((10, 20, 4), dtype=np.uint8)
    image[:, :, 0] = 200
    made = []

    def plotter(**given):
        made.append(Told(**given))
        made[-1].screenshot = lambda **_: image
        return made[-1]

    monkeypatch.setattr(child.pyvista, "Plotter", plotter)
    child._draw(Scene("", (square("one", 0.0, RED),)), "top", (20, 10), tmp_path / "0.png")
    with Image.open(tmp_path / "0.png") as saved:
        assert (saved.mode, saved.size, saved.getpixel((3, 3))) == ("RGB", (20, 10), (200, 0, 0))
    assert made[0].given["off_screen"]
    assert made[0].given["window_size"] == [20, 10]
