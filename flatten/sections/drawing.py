"""A pad cut open, as a drawing: springs, board and gaps, layers by name, cover, radius of its ridge, state by state.

All states are drawn to one scale, whole and larger round the ridge that matters, so that they can be compared by eye.
A backrest stands in its cut, its front to the left. Below: what becomes of each layer at the ridge.
"""

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from flatten.draw.callouts import Callouts
from flatten.draw.drawing import Drawing, ring_of, text_width
from flatten.sections.names import (
    CLOTH,
    COVER,
    GAP,
    INK,
    LARGEST_MM,
    RADIUS,
    SMALL,
    SUPPORT,
    length,
    lifts_named,
    name_all,
)
from flatten.sections.parts import Ground, Shown, ground_of, layer_row, layer_words, nearest, states
from flatten.sections.window import View, clipped, filled, fitted
from meshes.base.arrays import FloatArray
from meshes.base.units import Unit, in_shop_unit
from meshes.records.pad import UPRIGHT, Pad
from meshes.settle.proposal import Comparison

# Colours of layers from inside outward; told apart in grey too, as they grow lighter outward.
LAYERS = ("#b98b4e", "#d0a869", "#e2c68f", "#eedcb6", "#f5ecd6")
PALE = "#b9b4ab"
PANEL, TITLE, ROW, EDGE = 620.0, 64.0, 19.0, 12.0
# Views of a panel, (left, top, width, height): whole and close, of a cut that stands and of one that lies.
STANDING = ((EDGE, TITLE, 130.0, 430.0), (EDGE + 138.0, TITLE, PANEL - 2 * EDGE - 138.0, 430.0))
LYING = ((EDGE, TITLE, PANEL - 2 * EDGE, 130.0), (EDGE, TITLE + 138.0, PANEL - 2 * EDGE, 330.0))
# How far round the ridge the close view reaches along the cover, and room for words about it, pixels.
CLOSE_VIEW_MM, WORDS_PX = 105.0, 78.0
BAND_PX, NORMAL = 6.0, 13.0


def section_drawing(pad: Pad, cut: Comparison, unit: Unit = "mm") -> Drawing:
    """The drawing of a cut in all its states. unit: of the sheet; in inches, lengths have both."""
    shown = states(pad, cut)
    standing = pad.kind in UPRIGHT and cut.padded.cut.direction == "along"
    whole, close = _views(shown, standing)
    high = max(view.rect[1] + view.rect[3] for view in (whole, close)) + 34.0
    high += ROW * max(sum(map(len, _rows(one, unit))) for one in shown)
    columns = min(len(shown), 2)
    drawing = Drawing((PANEL * columns, high * -(-len(shown) // columns)), f"{pad.name}, cut {cut.name}")
    for k, one in enumerate(shown):
        panel = Drawing((PANEL, high), "", unit=unit)
        _panel(panel, f"{pad.name}, cut {cut.name} mm", one, whole, close)
        drawing.add(panel, (PANEL * (k % columns), high * (k // columns)))
    return drawing


def _views(shown: list[Shown], standing: bool) -> tuple[View, View]:
    """The whole cut, and its ridge larger, each to one scale for all states."""
    rects = STANDING if standing else LYING
    everything = [line for one in shown for line in (one.cut.support, one.cut.free, one.cut.cover)]
    near = [part for one in shown for part in _round_ridge(one)]
    return (
        fitted(rects[0], np.concatenate(everything), standing, 10.0),
        fitted(rects[1], np.concatenate(near), standing, WORDS_PX),
    )


def _round_ridge(shown: Shown) -> list[FloatArray]:
    """Cover, free padding and support near the ridge."""
    cut = shown.cut
    arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(cut.cover, axis=0), axis=1))])
    near = np.abs(arc - arc[nearest(cut.cover, np.array(shown.ridge.at))]) <= CLOSE_VIEW_MM
    return [cut.cover[near], cut.free[near], cut.support[near]]


def _panel(drawing: Drawing, title: str, shown: Shown, whole: View, close: View) -> None:
    """One state: title, both views, radius in words, and the layers."""
    ridge, ground = shown.ridge, ground_of(shown)
    drawing.words(title, (EDGE, 22), size=SMALL, colour=INK)
    drawing.words(shown.words, (EDGE, 44), size=17.0, colour=INK, bold=True)
    _frame_of_close(drawing, whole, close)
    outline = _cut(drawing, shown, ground, whole)
    _ends(drawing, shown, whole)
    lifts_named(Callouts(drawing, whole.window, shapely.union_all(outline)), shown, whole)
    solid = _cut(drawing, shown, ground, close)
    name_all(drawing, shown, ground, close, solid)
    drawing.line(np.array(close.window.exterior.coords), PALE, 1.0)
    y = close.rect[1] + close.rect[3] + 24.0
    figures = f"radius {length(ridge.radius_mm)} mm at the {ridge.side}, hard line {ridge.hard_line_deg:.0f}°"
    drawing.words(figures, (EDGE, y), size=15.0, colour=RADIUS, bold=True)
    for k, lines in reversed(list(enumerate(_rows(shown, drawing.unit)))):
        y += ROW
        fill = LAYERS[min(k, len(LAYERS) - 1)]
        drawing.area(
            [(EDGE, y - 11), (EDGE + 22, y - 11), (EDGE + 22, y + 2), (EDGE, y + 2)], fill, edge=INK, width=0.6
        )
        for more, line in enumerate(lines):
            drawing.words(line, (EDGE + 30, y + ROW * more), size=NORMAL, colour=INK)
        y += ROW * (len(lines) - 1)


def _rows(shown: Shown, unit: Unit) -> list[list[str]]:
    """What becomes of each layer, from the support outward, on as many lines as it needs."""
    room, rows = PANEL - 2 * EDGE - 30.0, []
    for k, layer in enumerate(shown.pad.layers):
        name, row = (in_shop_unit(text, unit=unit) for text in (f"{layer_words(layer)}:", layer_row(shown, k)))
        whole = f"{name} {row}"
        rows.append([whole] if text_width(whole, NORMAL) <= room else [name, row])
    return rows


def _frame_of_close(drawing: Drawing, whole: View, close: View) -> None:
    """What the close view shows, as a rectangle in the whole one."""
    low = close.low
    high = low + np.array(close.rect[2:]) / close.scale
    at = (np.array([low, high]) - whole.low) * whole.scale
    left, top, wide, tall = whole.rect
    x = np.clip(left + at[:, 0], left, left + wide)
    y = np.clip(top + tall - at[:, 1], top, top + tall)
    drawing.area([(x[0], y[0]), (x[1], y[0]), (x[1], y[1]), (x[0], y[1])], "#f1eee8", edge=PALE, width=1.0)


def _cut(drawing: Drawing, shown: Shown, ground: Ground, view: View) -> list[BaseGeometry]:
    """The cut in a view; returns what words must not cover, the padding first."""
    cut, solid = shown.cut, []
    below, padding = cut.ground, []
    for k, top in enumerate(cut.after):
        outline = Polygon(view(np.vstack([below, top[::-1]])))
        padding.append(filled(drawing, view, outline, LAYERS[min(k, len(LAYERS) - 1)], "#8d7a5c"))
        below = top
    solid.append(shapely.union_all([shapely.make_valid(one).buffer(2.0) for one in padding]))
    solid += _ground(drawing, shown, ground, view)
    small = view.scale < 1.2
    solid.append(clipped(drawing, view, cut.free, INK, 0.9, dash=(5.0, 3.0)).buffer(3.0))
    solid.append(clipped(drawing, view, cut.cover, COVER, 1.8 if small else 3.0).buffer(4.0))
    for lift in shown.lifts:
        clipped(drawing, view, ring_of(lift.at, 6.0 / view.scale), GAP, 2.0)
    solid.append(_radius(drawing, shown, view))
    return solid


def _ground(drawing: Drawing, shown: Shown, ground: Ground, view: View) -> list[BaseGeometry]:
    """Board and frame as a dark band, springs as coils, cloth as a line, a gap as what the padding hangs into."""
    cut, solid = shown.cut, []
    band = min(BAND_PX, 2.5 + view.scale)
    for kind in ("board", "frame"):
        for run in ground.runs(kind):
            strip = LineString(view(cut.ground[run])).buffer(band, single_sided=True)
            solid.append(filled(drawing, view, strip, SUPPORT).buffer(2.0))
    for run in ground.runs("springs"):
        solid.append(clipped(drawing, view, cut.ground[run], SUPPORT, 2.0).buffer(2.0))
        solid += [_clipped_px(drawing, view, coil) for coil in _coils(view(cut.ground[run]), band)]
    for run in ground.runs("gap"):
        if ground.side_of(run, shown.pad).cloth:
            held = clipped(drawing, view, cut.ground[run], CLOTH, 3.0)
        else:
            held = clipped(drawing, view, cut.ground[run], GAP, 1.6, dash=(2.0, 4.0))
        solid.append(held.buffer(2.0))
    return solid


def _coils(line: FloatArray, band: float) -> list[FloatArray]:
    """Zigzags below a line of springs, as far apart as there is room."""
    along = LineString(line)
    coils = []
    for place in np.arange(4.0 * band, along.length - 2.0 * band, 6.5 * band):
        here = np.array(along.interpolate(place).coords[0])
        way = np.array(along.interpolate(place + 1.0).coords[0]) - here
        down = np.array([-way[1], way[0]]) / np.linalg.norm(way)
        across = way / np.linalg.norm(way)
        steps = np.arange(9)[:, None]
        swing = np.where((steps == 0) | (steps == 8), 0.0, np.where(steps % 2, 1.0, -1.0))
        coils.append(here + down * steps * 0.75 * band + across * swing * 1.1 * band)
    return coils


def _clipped_px(drawing: Drawing, view: View, points: FloatArray) -> BaseGeometry:
    line = LineString(points)
    if view.window.contains(line):
        drawing.line(points, SUPPORT, 1.3)
        return line.buffer(3.0)
    return Polygon()


def _radius(drawing: Drawing, shown: Shown, view: View) -> BaseGeometry:
    """The circle that lies against the ridge from inside, with its radius."""
    cut, ridge = shown.cut, shown.ridge
    if not np.isfinite(ridge.radius_mm) or ridge.radius_mm > LARGEST_MM:
        return Polygon()
    k = nearest(cut.cover, np.array(ridge.at))
    a, b = max(k - 2, 0), min(k + 2, len(cut.cover) - 1)
    along = cut.cover[b] - cut.cover[a]
    inward = np.array([along[1], -along[0]]) / max(float(np.linalg.norm(along)), 1e-9)
    middle = cut.cover[k] + ridge.radius_mm * inward
    arc = clipped(drawing, view, ring_of(middle, ridge.radius_mm), RADIUS, 1.4)
    spoke = clipped(drawing, view, np.stack([middle, cut.cover[k]]), RADIUS, 1.4)
    return shapely.union(arc.buffer(2.0), spoke.buffer(2.0))


def _ends(drawing: Drawing, shown: Shown, view: View) -> None:
    """Words for both ends of the whole cut, for the front of one that stands, and where the cover lifts."""
    left, top, wide, high = view.rect
    first, last = (ridge.side for ridge in shown.cut.ridges)
    if view.standing:
        places = [(first, (left + 0.5 * wide, top + high - 2.0)), (last, (left + 0.5 * wide, top + 10.0))]
        places.append(("‹ front", (left + 22.0, top + 0.93 * high)))
    else:
        places = [(first, (left + 26.0, top + 14.0)), (last, (left + wide - 26.0, top + 14.0))]
    for word, at in places:
        drawing.words(word, at, size=SMALL, colour=INK, anchor="middle")
