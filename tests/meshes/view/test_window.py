"""The window's own logic on a plotter that only writes down what it is told: what shows, what cuts, what is said."""

from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest

from meshes.view import child
from meshes.view.scene import Scene, camera
from meshes.view.settled_maps import Legend, crush_key
from tests.meshes.view.test_view import RED, square

SIZE = (1000, 800)
SCENE = Scene("seat", (square("lower", 0.0, RED), square("upper", 60.0, RED, half=40.0)))


class Actor:
    def __init__(self):
        self.shown, self.planes = True, []

    def SetVisibility(self, on):
        self.shown = on

    def GetMapper(self):
        return SimpleNamespace(AddClippingPlane=self.planes.append, RemoveAllClippingPlanes=self.planes.clear)


class Button:
    def __init__(self, press, position, size):
        self.press, self.position, self.size, self.on = press, position, size, None

    def GetRepresentation(self):
        return SimpleNamespace(SetState=lambda on: setattr(self, "on", on))


class Plotter:
    """Stands for pyvista's: keeps buttons, texts and plane widgets."""

    def __init__(self):
        self.buttons, self.texts, self.widgets, self.lights = [], [], [], []
        self.camera = SimpleNamespace(view_angle=None)
        self.camera_position = None

    def add_checkbox_button_widget(self, press, *, position, size, **_):
        self.buttons.append(Button(press, position, size))
        return self.buttons[-1]

    def add_text(self, text, *, position, **_):
        self.texts.append((text, position))
        return text

    def add_plane_widget(self, moved, *, normal, origin, bounds):
        self.widgets.append((moved, normal, origin, bounds))

    def clear_plane_widgets(self):
        self.widgets.clear()

    def set_background(self, colour):
        self.background = colour

    def add_light(self, light):
        self.lights.append(light)

    def render(self):
        pass


def test_one_scene_shows_at_a_time_and_its_button_says_which():
    plotter, groups = Plotter(), {name: [Actor(), Actor()] for name in ("panels", "map", "settled")}
    child._choose(plotter, groups, SIZE)

    def shown():
        return [name for name, group in groups.items() if all(actor.shown for actor in group)]

    def hidden():
        return [name for name, group in groups.items() if not any(actor.shown for actor in group)]

    assert (shown(), hidden()) == (["panels"], ["map", "settled"])
    for k, name in enumerate(groups):
        plotter.buttons[k].press(True)
        assert shown() == [name]
        assert len(hidden()) == 2
        assert [button.on for button in plotter.buttons] == [int(j == k) for j in range(3)]


def test_buttons_stand_in_a_column_within_the_window_with_their_words_beside_them():
    plotter = Plotter()
    child._choose(plotter, {name: [] for name in ("panels", "map", "settled")}, SIZE)
    child._section(plotter, SCENE, [])
    assert [text for text, _ in plotter.texts] == ["panels", "map", "settled", "section"]
    boxes = [(*b.position, b.position[0] + b.size, b.position[1] + b.size) for b in plotter.buttons]
    for (left, low, right, high), (_, (x, y)) in zip(boxes, plotter.texts, strict=True):
        assert left >= 0 <= low
        assert right <= SIZE[0]
        assert high <= SIZE[1]
        assert right < x < right + 2 * (right - left)
        assert y == low
    # From above down, none over another.
    assert len({left for left, *_ in boxes}) == 1
    for upper, lower in pairwise(boxes):
        assert lower[3] < upper[1]


def test_the_section_cuts_where_the_plane_is_and_only_while_it_is_on():
    plotter, actors = Plotter(), [Actor(), Actor()]
    child._section(plotter, SCENE, actors)
    (button,) = plotter.buttons
    assert not any(actor.planes for actor in actors)
    button.press(True)
    (plane,) = actors[0].planes
    assert actors[1].planes == [plane]
    # Upright across the seat, in the middle of its box.
    ((moved, normal, origin, bounds),) = plotter.widgets
    assert normal == (1.0, 0.0, 0.0)
    assert origin == pytest.approx((0.0, 0.0, 30.0))
    assert bounds == pytest.approx((-100.0, 100.0, -100.0, 100.0, 0.0, 60.0))
    moved((0.0, 1.0, 0.0), (1.0, 2.0, 3.0))
    assert plane.GetNormal() == (0.0, 1.0, 0.0)
    assert plane.GetOrigin() == (1.0, 2.0, 3.0)
    button.press(False)
    assert not plotter.widgets
    assert not any(actor.planes for actor in actors)
    button.press(True)
    assert plotter.widgets[0][2] == (1.0, 2.0, 3.0), "it comes back where it was left"


def test_the_window_looks_from_where_the_picture_is_taken():
    plotter = Plotter()
    child._prepare(plotter, SCENE, "side", SIZE)
    at = camera(SCENE, "side", SIZE)
    eye, target, up = plotter.camera_position
    assert np.array([eye, target, up]) == pytest.approx(np.array([at.eye, at.target, at.axes[1]]))
    # The same opening: a point at its rim is seen at the picture's rim.
    rim = at.target + at.axes[1] * np.linalg.norm(at.eye - at.target) * np.tan(
        np.deg2rad(plotter.camera.view_angle / 2)
    )
    assert at.seen(rim[None], SIZE)[0, 1] == pytest.approx(0.0, abs=1e-6)
    assert all(0 <= c <= 1 for c in plotter.background)
    assert plotter.background[0] == pytest.approx(244 / 255)
    assert [light.position for light in plotter.lights] == [direction for direction, _ in child.LIGHTS]


def test_a_key_without_a_bar_is_said_in_words():
    assert child._said(crush_key()).endswith(": light 0 % to dark over")
    assert child._said(Legend((), ((0.0, "none"), (1.0, "all")), "use", spoken="blue to orange")) == "blue to orange"
