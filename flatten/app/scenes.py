"""What of a job is shown in pictures and in the window: bare support, padded seat, panels, stretch on the seat."""

from dataclasses import replace

import numpy as np

from flatten.app.course import Job
from flatten.app.restscenes import compression_scene, settled_scene
from flatten.app.seatlines import use_lines
from flatten.app.stretchmap import reach_of, shown_stretch
from meshes.arrays import FloatArray
from meshes.assembly import placed
from meshes.colours import PANEL_COLOURS, stretch_colours
from meshes.pad_build import BuiltPad
from meshes.panels import Panel
from meshes.scene import Colours, Part, Scene
from meshes.surface import Surface, triangle_areas, vertex_normals

SHOWS = ("panels", "stretch", "compression", "settled", "padded", "support")
LINE_LIFT_MM = 1.0
PADDED_COLOUR, SUPPORT_COLOUR = (226, 214, 186), (186, 178, 166)


def scene(job: Job, show: str) -> Scene:
    """One of SHOWS in seat coordinates. Raises KeyError for another word."""
    make = {
        "panels": _panels,
        "stretch": _stretch,
        "compression": compression_scene,
        "settled": settled_scene,
        "padded": _padded,
        "support": _support,
    }[show]
    return make(job)


def panel_colours(job: Job) -> dict[str, tuple[int, int, int]]:
    """Colour of every panel by name; a mirrored pair has one colour."""
    colours: dict[str, tuple[int, int, int]] = {}
    for pad in job.pads:
        drawn = [panel for panel in pad.panels if panel.mirror_of is None]
        own = {panel.name: PANEL_COLOURS[k % len(PANEL_COLOURS)] for k, panel in enumerate(drawn)}
        colours |= {panel.name: own[panel.mirror_of or panel.name] for panel in pad.panels}
    return colours


def panel_normals(pad: BuiltPad) -> dict[str, FloatArray]:
    """Unit normals (n, 3) in seat coordinates at each panel's vertices, taken across seams: the padding is smooth."""
    normals = vertex_normals(pad.shown.vertices, pad.shown.triangles) @ pad.placement[:3, :3].T
    return {panel.name: normals[panel.vertices] for panel in pad.panels}


def _panels(job: Job) -> Scene:
    colours = panel_colours(job)
    return _by_panel(job, f"{job.sheet.name}: panels and seams", {n: np.array(c) for n, c in colours.items()}, None)


def _stretch(job: Job) -> Scene:
    reach = reach_of(job.leather)
    colours: dict[str, Colours] = {}
    for name, panel in job.panels.items():
        flat = job.flats[name]
        colours[name] = stretch_colours(_at_vertices(panel.surface, shown_stretch(flat.stretch)), reach)
    drawn = _by_panel(job, f"{job.sheet.name}: stretch of the leather", colours, reach)
    return replace(drawn, fine=tuple(use_lines(job)))


def _at_vertices(surface: Surface, values: FloatArray) -> FloatArray:
    """Values of triangles (m,) as area-weighted means at the vertices (n,)."""
    areas = triangle_areas(surface.vertices, surface.triangles)
    corners = surface.triangles.ravel()
    count = len(surface.vertices)
    total = np.bincount(corners, np.repeat(areas * values, 3), count)
    return np.asarray(total / np.bincount(corners, np.repeat(areas, 3), count))


def _by_panel(job: Job, title: str, colours: dict[str, Colours], legend: float | None) -> Scene:
    parts, names = [], []
    for pad in job.pads:
        normals = panel_normals(pad)
        for panel in pad.panels:
            vertices = placed(pad.shown.vertices[panel.vertices], pad.placement)
            parts.append(Part(panel.name, vertices, panel.surface.triangles, normals[panel.name], colours[panel.name]))
            names.append((panel.name, _middle(panel, vertices)))
    return Scene(title, tuple(parts), _lines(job), legend, tuple(names))


def _middle(panel: Panel, vertices: FloatArray) -> FloatArray:
    """The vertex nearest to the middle of a panel."""
    return vertices[int(np.argmin(np.linalg.norm(vertices - vertices.mean(axis=0), axis=1)))]


def _lines(job: Job) -> tuple[tuple[str, FloatArray], ...]:
    """Seam and tack lines, lifted off the padding so that it does not hide them."""
    lines = []
    for pad in job.pads:
        lifted = pad.shown.vertices + LINE_LIFT_MM * vertex_normals(pad.shown.vertices, pad.shown.triangles)
        points = placed(lifted, pad.placement)
        lines += [(f"{pad.pad.name} {name}", points[path]) for name, path in pad.surface.curves.items()]
    return tuple(lines)


def _plain(job: Job, title: str, colour: tuple[int, int, int], *, bare: bool) -> Scene:
    parts = []
    for pad in job.pads:
        surface = pad.support if bare else pad.shown
        vertices = placed(surface.vertices, pad.placement)
        normals = vertex_normals(vertices, surface.triangles)
        parts.append(Part(pad.pad.name, vertices, surface.triangles, normals, np.array(colour)))
    names = tuple((part.name, part.vertices.mean(axis=0)) for part in parts)
    return Scene(f"{job.sheet.name}: {title}", tuple(parts), (), None, names)


def _padded(job: Job) -> Scene:
    return _plain(job, "padded", PADDED_COLOUR, bare=False)


def _support(job: Job) -> Scene:
    return _plain(job, "bare support", SUPPORT_COLOUR, bare=True)
