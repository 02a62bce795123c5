"""What of a job is shown in pictures and in the window: bare support, padded seat, panels, stretch on the seat."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from flatten.draw.stretch_map import reach_of, shown_use
from flatten.job.pipeline import Job
from flatten.seatview.boards import board_face, opening_lines
from flatten.seatview.lines import use_lines
from flatten.seatview.settled_scenes import compression_scene, settled_scene
from meshes.base.arrays import FloatArray
from meshes.base.surface import Surface, triangle_areas, vertex_normals
from meshes.seat.assembly import placed
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel
from meshes.view.colours import OVER, PANEL_COLOURS, use_colours
from meshes.view.scene import Colours, Scene, ScenePart
from meshes.view.settled_maps import Legend

SHOWS = ("panels", "stretch", "compression", "settled", "padded", "support")
LINE_LIFT_MM = 1.0
# Steps of the bar of colours in a key.
KEY_STEPS = 128
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
    """Unit normals (n, 3) in seat coordinates at each panel's vertices, taken across seams: the padding is smooth.
    Plates and bands of a closed cover meet in an edge: there each panel has its own."""
    if not pad.pad.on_frame:
        turn = pad.placement[:3, :3].T
        own = {panel.name: panel.surface for panel in pad.panels}
        return {name: vertex_normals(one.vertices, one.triangles) @ turn for name, one in own.items()}
    normals = vertex_normals(pad.shown.vertices, pad.shown.triangles) @ pad.placement[:3, :3].T
    return {panel.name: normals[panel.vertices] for panel in pad.panels}


def _panels(job: Job) -> Scene:
    colours = panel_colours(job)
    return _by_panel(job, f"{job.sheet.name}: panels and seams", {n: np.array(c) for n, c in colours.items()})


def _stretch(job: Job) -> Scene:
    reach = reach_of(job.leather)
    colours: dict[str, Colours] = {}
    for name, panel in job.panels.items():
        flat = job.flats[name]
        colours[name] = use_colours(_at_vertices(panel.surface, shown_use(flat.stretch, flat.use, reach)))
    title = f"{job.sheet.name}: what is used of what the leather gives\n{_figures(job)}"
    drawn = _by_panel(job, title, colours)
    return replace(drawn, fine=tuple((line.name, line.points) for line in use_lines(job)), key=_use_key(job, reach))


def _figures(job: Job) -> str:
    """Largest use and where, use of all but 0.5 % of the seat's area, least use."""
    used = {name: flat.use for name, flat in job.flats.items() if flat.use is not None}
    if not used:
        return ""
    areas = {n: triangle_areas(job.panels[n].surface.vertices, job.panels[n].surface.triangles) for n in used}
    values, weights = (np.concatenate([part[n] for n in used]) for part in (used, areas))
    order = np.argsort(values)
    covered = np.cumsum(weights[order]) / weights.sum()
    nearly = values[order][int(np.searchsorted(covered, 0.995))]
    worst = max(used, key=lambda n: float(used[n].max()))
    return (
        f"most {100 * values.max():.0f} % ({worst}), 99.5 % of the area {100 * nearly:.0f} % or less, "
        f"least {100 * values.min():.0f} %"
    )


def _use_key(job: Job, reach: float) -> Legend:
    bar = use_colours(np.linspace(-1.0, 1.0, KEY_STEPS)).tolist()
    numbers = ((0.0, f"{100 * reach:.3g} % fullness"), (0.5, "true length"), (0.75, "half"), (1.0, "all of it"))
    card = job.leather
    gives = f"{100 * card.stretch_along:.3g} % along the backbone, {100 * card.stretch_across:.3g} % across"
    return Legend(
        bar=tuple((red, green, blue) for red, green, blue in bar),
        ticks=numbers,
        words=f"used of what the leather gives: {gives}",
        swatches=((OVER, "over"),),
        spoken=f"blue: {100 * reach:.3g} % fullness   white: true length   orange: all the leather gives   dark: over",
    )


def _at_vertices(surface: Surface, values: FloatArray) -> FloatArray:
    """Values of triangles (m,) as area-weighted means at the vertices (n,)."""
    areas = triangle_areas(surface.vertices, surface.triangles)
    corners = surface.triangles.ravel()
    count = len(surface.vertices)
    total = np.bincount(corners, np.repeat(areas * values, 3), count)
    return np.asarray(total / np.bincount(corners, np.repeat(areas, 3), count))


def _by_panel(job: Job, title: str, colours: dict[str, Colours]) -> Scene:
    parts, names = [], []
    for pad in job.pads:
        shown = pad_parts(pad, colours)
        parts += shown
        for panel, part in zip(pad.panels, shown, strict=False):
            flat = pad.pad.board is not None
            names.append((panel.name, part.vertices.mean(axis=0) if flat else _middle(panel, part.vertices)))
    return Scene(title, tuple(parts), _lines(job), tuple(names))


def pad_parts(pad: BuiltPad, colours: Mapping[str, Colours | tuple[int, int, int]]) -> list[ScenePart]:
    """What is seen of a pad, in seat coordinates: its panels in their order, boards without their openings, then what
    folded corners take in. colours: of every panel by name."""
    coloured = {name: np.asarray(colour, dtype=np.uint8) for name, colour in colours.items()}
    if pad.pad.board is not None:
        return _boards(pad, coloured)
    normals, found = panel_normals(pad), []
    for panel in pad.panels:
        vertices = placed(pad.shown.vertices[panel.vertices], pad.placement)
        found.append(
            ScenePart(panel.name, vertices, panel.surface.triangles, normals[panel.name], coloured[panel.name])
        )
    return found + _folded(pad, coloured)


def opening_rings(pad: BuiltPad) -> list[tuple[str, FloatArray]]:
    """The edges of a board's openings as named closed lines (k, 3) in seat coordinates, a hair above the cover."""
    lift = np.array([0.0, 0.0, LINE_LIFT_MM])
    found = []
    for panel in pad.panels:
        rings = [placed(ring + lift, pad.placement) for ring in opening_lines(pad, panel)]
        found += [(f"{panel.name} opening {k}", ring) for k, ring in enumerate(rings, start=1)]
    return found


def _boards(pad: BuiltPad, colours: dict[str, Colours]) -> list[ScenePart]:
    """Covered boards with their openings, each in one colour."""
    found = []
    for panel in pad.panels:
        points, triangles = board_face(pad, panel)
        vertices = placed(points, pad.placement)
        colour = np.asarray(colours[panel.name])
        plain = colour if colour.ndim == 1 else np.median(colour, axis=0).astype(colour.dtype)
        found.append(ScenePart(panel.name, vertices, triangles, vertex_normals(vertices, triangles), plain))
    return found


def _folded(pad: BuiltPad, colours: dict[str, Colours]) -> list[ScenePart]:
    """What folded corners take in, in the colour that the panel has there."""
    normals = vertex_normals(pad.shown.vertices, pad.shown.triangles)
    turn = pad.placement[:3, :3].T
    found = []
    for fold in pad.division.folds:
        numbers, local = np.unique(pad.shown.triangles[fold.triangles], return_inverse=True)
        vertices = placed(pad.shown.vertices[numbers], pad.placement)
        colour = np.asarray(colours[fold.panel])
        plain = colour if colour.ndim == 1 else np.median(colour, axis=0).astype(colour.dtype)
        found.append(ScenePart(fold.name, vertices, local.reshape(-1, 3), normals[numbers] @ turn, plain))
    return found


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
        lines += opening_rings(pad)
    return tuple(lines)


def _plain(job: Job, title: str, colour: tuple[int, int, int], *, bare: bool) -> Scene:
    parts = []
    for pad in job.pads:
        surface = pad.support if bare else pad.shown
        vertices = placed(surface.vertices, pad.placement)
        normals = vertex_normals(vertices, surface.triangles)
        parts.append(ScenePart(pad.pad.name, vertices, surface.triangles, normals, np.array(colour)))
    names = tuple((part.name, part.vertices.mean(axis=0)) for part in parts)
    return Scene(f"{job.sheet.name}: {title}", tuple(parts), (), names)


def _padded(job: Job) -> Scene:
    return _plain(job, "padded", PADDED_COLOUR, bare=False)


def _support(job: Job) -> Scene:
    return _plain(job, "bare support", SUPPORT_COLOUR, bare=True)
