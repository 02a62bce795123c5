"""Pictures of a scene: what is drawn, by whom, and that no failure of a picture stops anything."""

import sys
import time

import numpy as np
import pytest

from meshes.base.problems import ProblemError
from meshes.view import view
from meshes.view.colours import use_colours
from meshes.view.painter import letter, paint
from meshes.view.scene import BACKGROUND, CAMERAS, LINE_COLOUR, Scene, ScenePart, camera, load_scene, save_scene
from meshes.view.settled_maps import Legend
from meshes.view.view import Shot, pictures

SIZE = (240, 180)
BAR = tuple((red, green, blue) for red, green, blue in use_colours(np.linspace(-1.0, 1.0, 128)).tolist())
KEY = Legend(BAR, ((0.5, "true length"),), "words")
RED, BLUE = (200, 40, 40), (40, 40, 200)


def square(name, z, colour, n=2, half=100.0):
    """A level square of (n - 1)^2 x 2 triangles at height z, its outer side up."""
    x, y = np.meshgrid(np.linspace(-half, half, n), np.linspace(-half, half, n))
    vertices = np.column_stack([x.ravel(), y.ravel(), np.full(x.size, z)])
    k = np.arange(n * n).reshape(n, n)
    a, b, c, d = k[:-1, :-1].ravel(), k[:-1, 1:].ravel(), k[1:, 1:].ravel(), k[1:, :-1].ravel()
    triangles = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])
    return ScenePart(name, vertices, triangles, np.tile([0.0, 0.0, 1.0], (len(vertices), 1)), np.array(colour))


@pytest.fixture
def scene():
    line = np.array([[-100.0, 0.0, 51.0], [100.0, 0.0, 51.0]])
    return Scene("two boards", (square("lower", 0.0, RED, n=9), square("upper", 50.0, BLUE, n=9)), (("seam", line),))


def pixels(image):
    return np.asarray(image).astype(int)


def share(image, chosen):
    return float(chosen(pixels(image)).mean())


def reddish(p):
    return (p[..., 0] > 1.5 * p[..., 2]) & (p[..., 0] > 60)


def bluish(p):
    return (p[..., 2] > 1.5 * p[..., 0]) & (p[..., 2] > 60)


@pytest.mark.parametrize("name", CAMERAS)
def test_every_view_holds_the_whole_scene_in_the_middle(scene, name):
    at = camera(scene, name, SIZE)
    seen = at.seen(np.concatenate([part.vertices for part in scene.parts]), SIZE)
    assert (seen[:, 2] > 0).all()
    assert (seen[:, :2] > 0).all()
    assert (seen[:, :2] < SIZE).all()
    # One way or the other the seat fills most of the picture.
    assert (np.ptp(seen[:, :2], axis=0) / SIZE).max() > 0.6
    assert np.allclose(at.axes @ at.axes.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(at.axes) == pytest.approx(1.0)


def test_a_camera_sees_right_on_the_right_and_up_above(scene):
    at = camera(scene, "front", SIZE)
    middle, right, up = at.seen(np.array([[0, 0, 0], [50, 0, 0], [0, 0, 50.0]]), SIZE)
    assert right[0] > middle[0]
    assert up[1] < middle[1]


def test_a_key_gets_room_below_the_seat(scene):
    points = np.concatenate([part.vertices for part in scene.parts])
    with_key = Scene(scene.title, scene.parts, scene.lines, key=KEY)
    lowest = [camera(s, "top", (1200, 900)).seen(points, (1200, 900))[:, 1].max() for s in (scene, with_key)]
    assert lowest[1] < 900 - 104 < lowest[0]


def test_scenes_are_saved_and_read_whole(scene, tmp_path):
    scene = Scene(scene.title, scene.parts, scene.lines, (("upper", np.array([0.0, 0.0, 50.0])),), key=KEY)
    save_scene(scene, tmp_path / "scene.npz")
    back = load_scene(tmp_path / "scene.npz")
    assert (back.title, back.key, back.lines[0][0], back.names[0][0]) == ("two boards", KEY, "seam", "upper")
    assert np.array_equal(back.lines[0][1], scene.lines[0][1])
    for one, other in zip(back.parts, scene.parts, strict=True):
        assert one.name == other.name
        for what in ("vertices", "triangles", "normals", "colours"):
            assert np.array_equal(getattr(one, what), getattr(other, what))


def test_the_painter_hides_what_lies_behind(scene):
    image = paint(scene, "top", SIZE)
    assert share(image, bluish) > 0.3
    assert share(image, reddish) == 0.0
    below = Scene("", (scene.parts[0],))
    assert share(paint(below, "top", SIZE), reddish) > 0.3


def test_the_painter_draws_lines_in_their_colour(scene):
    def dark(p):
        return (np.abs(p - LINE_COLOUR) < 12).all(axis=-1)

    assert share(paint(scene, "top", SIZE), dark) > 0.003
    assert share(paint(Scene("", scene.parts), "top", SIZE), dark) == 0.0


def test_the_painter_is_quick_and_draws_the_same_twice():
    big = Scene("big", (square("big", 0.0, RED, n=225),))
    assert len(big.parts[0].triangles) > 100_000
    begin = time.process_time()
    first = paint(big, "front", (1200, 900))
    assert time.process_time() - begin < 3.0
    assert first.tobytes() == paint(big, "front", (1200, 900)).tobytes()


def test_the_key_is_centred_on_true_length(scene):
    scene = Scene("", scene.parts, key=KEY)
    image = letter(paint(scene, "top", (1200, 900)), scene)
    row = pixels(image)[900 - 94, 280 + 4 : 920 - 4]
    white = use_colours([0.0])[0].astype(int)
    nearest = np.abs(row - white).sum(axis=1)
    assert abs(np.flatnonzero(nearest == nearest.min()).mean() + 284 - 600) < 12
    # Fullness is blue on the left, pull is orange on the right.
    assert row[0, 2] > row[0, 0]
    assert row[-1, 0] > row[-1, 2]


def test_whoever_draws_shows_the_same_view(scene):
    """The child's picture and the painter's agree in outline; where no graphics system is, both are painted."""
    plain = Scene("", scene.parts)
    drawn = pictures([Shot(plain, "front"), Shot(plain, "top")], size=SIZE)
    assert drawn.how in ("pyvista", "painter")
    for image, name in zip(drawn.images, ("front", "top"), strict=True):
        assert image.size == SIZE
        masks = [
            np.abs(pixels(one) - BACKGROUND).sum(axis=-1) > 30
            for one in (image, letter(paint(plain, name, SIZE), plain))
        ]
        assert (masks[0] & masks[1]).sum() > 0.97 * (masks[0] | masks[1]).sum()


def test_pictures_are_the_same_twice(scene):
    one, two = (pictures([Shot(scene, "front")], size=SIZE) for _ in range(2))
    assert one.how == two.how
    assert one.images[0].tobytes() == two.images[0].tobytes()


@pytest.mark.parametrize(
    ("code", "why"),
    [
        ("import os, signal; os.kill(os.getpid(), signal.SIGSEGV)", "SIGSEGV"),
        ("raise SystemExit(3)", "status 3"),
        ("pass", "no picture"),
        ("import time; time.sleep(60)", "longer than 1 s"),
    ],
)
def test_a_child_that_fails_leaves_the_work_to_the_painter(scene, monkeypatch, code, why):
    monkeypatch.setattr(view, "child_command", lambda: [sys.executable, "-c", code])
    drawn = pictures([Shot(scene, "front")], size=SIZE, time_limit_s=1.0)
    assert drawn.how == "painter"
    assert why in drawn.reason
    assert drawn.images[0].tobytes() == letter(paint(scene, "front", SIZE), scene).tobytes()


def test_a_child_that_cannot_be_started_leaves_the_work_to_the_painter(scene, monkeypatch, tmp_path):
    monkeypatch.setattr(view, "child_command", lambda: [str(tmp_path / "nothing")])
    assert pictures([Shot(scene, "front")], size=SIZE).how == "painter"


def test_without_a_screen_the_window_says_so(scene, monkeypatch):
    monkeypatch.setattr(view, "child_command", lambda: [sys.executable, "-c", "raise SystemExit(1)"])
    with pytest.raises(ProblemError) as fault:
        view.window({"panels": scene})
    assert fault.value.problems[0].code == "V101"
    assert "--save" in fault.value.problems[0].text


def test_titles_are_written_in_letters_beyond_ascii():
    from meshes.view.painter import _font

    missing = _font(20).getmask("\uffff").getbbox(), bytes(_font(20).getmask("\uffff"))
    for sign in "Øöß":
        assert (_font(20).getmask(sign).getbbox(), bytes(_font(20).getmask(sign))) != missing
