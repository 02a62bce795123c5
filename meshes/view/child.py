"""Draws saved scenes with pyvista, in a process of its own: without a graphics system vtk ends the process it is in.

`python -m meshes.view.child draw FOLDER WIDTH HEIGHT`: shot k of FOLDER/shots.json becomes FOLDER/k.png.
`python -m meshes.view.child window FOLDER WIDTH HEIGHT`: all scenes in one window, one shown at a time.
"""

import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pyvista
from PIL import Image
from vtkmodules.vtkCommonDataModel import vtkPlane

from meshes.view.painter import AMBIENT, LIGHTS, MAP_AMBIENT, MAP_SHARE
from meshes.view.scene import (
    BACKGROUND,
    FINE_COLOUR,
    HALF_OPENING_DEG,
    LINE_COLOUR,
    NO_SCREEN,
    Scene,
    camera,
    load_scene,
)
from meshes.view.settled_maps import Legend

SCENE_LINE_PX = 2.2
# vtk's windows that no one sees: without a screen it takes one of these and would "show" it without a word.
OFF_SCREEN = ("vtkEGLRenderWindow", "vtkOSOpenGLRenderWindow")

Size = tuple[int, int]


def main(words: list[str]) -> None:
    """Do what the command line says."""
    what, folder, size = words[0], Path(words[1]), (int(words[2]), int(words[3]))
    shots = json.loads((folder / "shots.json").read_text())
    scenes = {name: load_scene(folder / f"{name}.npz") for name in dict.fromkeys(name for name, _ in shots)}
    if what == "window":
        plotter = _window(scenes, size)
        if plotter.render_window.GetClassName() in OFF_SCREEN:
            sys.exit(NO_SCREEN)
        plotter.show()
        return
    for k, (name, view) in enumerate(shots):
        _draw(scenes[name], view, size, folder / f"{k}.png")


def _draw(scene: Scene, view: str, size: Size, path: Path) -> None:
    plotter: Any = pyvista.Plotter(off_screen=True, window_size=list(size), lighting="none")
    _prepare(plotter, scene, view, size)
    _add(plotter, scene)
    plotter.enable_anti_aliasing("ssaa")
    image = plotter.screenshot(return_img=True)
    Image.fromarray(np.ascontiguousarray(image[:, :, :3])).save(path)
    plotter.close()


def _prepare(plotter: Any, scene: Scene, view: str, size: Size) -> None:
    """Background, camera, and lights that go with the camera."""
    plotter.set_background([c / 255.0 for c in BACKGROUND])
    at = camera(scene, view, size)
    plotter.camera_position = [tuple(at.eye), tuple(at.target), tuple(at.axes[1])]
    plotter.camera.view_angle = 2.0 * HALF_OPENING_DEG
    for direction, share in LIGHTS:
        light = pyvista.Light(light_type="camera light", intensity=share)
        light.position, light.focal_point = direction, (0.0, 0.0, 0.0)
        plotter.add_light(light)


def _add(plotter: Any, scene: Scene) -> list[Any]:
    """Surfaces and lines of a scene; returns their actors."""
    actors = []
    ambient, share = (MAP_AMBIENT, MAP_SHARE) if scene.is_map else (AMBIENT, 1.0)
    for part in scene.parts:
        mesh = pyvista.PolyData.from_regular_faces(np.array(part.vertices), part.triangles.astype(int))
        mesh.point_data["colour"] = part.colours
        mesh.point_data.active_normals = np.array(part.normals, dtype=np.float32)
        options = {"ambient": ambient, "diffuse": share, "specular": 0.0, "interpolation": "Gouraud"}
        actors.append(plotter.add_mesh(mesh, scalars="colour", rgb=True, **options))
    for lines, colour, wide in (
        (scene.lines, LINE_COLOUR, SCENE_LINE_PX),
        (scene.fine, FINE_COLOUR, 0.5 * SCENE_LINE_PX),
    ):
        if lines:
            # All of one kind as one mesh: hundreds of strokes as meshes of their own are slow to turn.
            drawn = pyvista.merge([pyvista.lines_from_points(np.array(points)) for _, points in lines])
            options = {"color": [c / 255.0 for c in colour], "line_width": wide, "lighting": False}
            actors.append(plotter.add_mesh(drawn, **options))
    plotter.reset_camera_clipping_range()
    return actors


def _window(scenes: dict[str, Scene], size: Size) -> Any:
    """One window: buttons choose what is shown; a plane that can be dragged cuts the seat open."""
    first = next(iter(scenes.values()))
    plotter: Any = pyvista.Plotter(window_size=list(size), lighting="none", title=first.title.partition("\n")[0])
    _prepare(plotter, first, "front", size)
    actors = {name: _add(plotter, scene) for name, scene in scenes.items()}
    lettering = {name: _letter(plotter, scene) for name, scene in scenes.items()}
    _choose(plotter, {name: [*actors[name], *lettering[name]] for name in scenes}, size)
    _section(plotter, first, [actor for group in actors.values() for actor in group])
    plotter.add_axes(xlabel="right", ylabel="rear", zlabel="up")
    return plotter


def _letter(plotter: Any, scene: Scene) -> list[Any]:
    """Names of the pieces, and what the colours mean."""
    actors = []
    if scene.names:
        places = np.array([place for _, place in scene.names])
        words = [word for word, _ in scene.names]
        options = {"shape_color": "white", "shape_opacity": 0.6, "font_size": 14, "bold": False}
        actors.append(plotter.add_point_labels(places, words, show_points=False, **options))
    if scene.key is not None:
        actors.append(plotter.add_text(_said(scene.key), position="lower_right", font_size=10, color="black"))
    return actors


def _said(key: Legend) -> str:
    """The key in words: the window has no bar of colours."""
    return key.spoken or f"{key.words}: light {key.ticks[0][1]} to dark {key.ticks[-1][1]}"


def _choose(plotter: Any, groups: dict[str, list[Any]], size: Size) -> None:
    """A button for each scene, of which one is shown; at first the first."""
    buttons: dict[str, Any] = {}

    def show(chosen: str) -> None:
        for name, group in groups.items():
            for actor in group:
                actor.SetVisibility(name == chosen)
            buttons[name].GetRepresentation().SetState(int(name == chosen))
        plotter.render()

    for k, name in enumerate(groups):
        place = (14.0, size[1] - 50.0 - 36.0 * k)
        buttons[name] = plotter.add_checkbox_button_widget(
            lambda on, name=name: show(name), position=place, size=24, color_on="steelblue", color_off="lightgrey"
        )
        plotter.add_text(name, position=(46.0, place[1]), font_size=11, color="black")
    show(next(iter(groups)))


def _section(plotter: Any, scene: Scene, actors: list[Any]) -> None:
    """A button that sets a plane to cut with; what lies on its far side is hidden."""
    low, high = scene.box()
    plane = vtkPlane()
    plane.SetOrigin(*(0.5 * (low + high)))
    plane.SetNormal(1.0, 0.0, 0.0)
    bounds = tuple(np.column_stack([low, high]).ravel().tolist())

    def moved(normal: Any, origin: Any) -> None:
        plane.SetNormal(*normal)
        plane.SetOrigin(*origin)

    def switched(on: bool) -> None:
        plotter.clear_plane_widgets()
        for actor in actors:
            actor.GetMapper().RemoveAllClippingPlanes()
            if on:
                actor.GetMapper().AddClippingPlane(plane)
        if on:
            plotter.add_plane_widget(moved, normal=plane.GetNormal(), origin=plane.GetOrigin(), bounds=bounds)
        plotter.render()

    plotter.add_checkbox_button_widget(switched, position=(14.0, 20.0), size=24, color_on="steelblue")
    plotter.add_text("section", position=(46.0, 20.0), font_size=11, color="black")


if __name__ == "__main__":
    main(sys.argv[1:])
