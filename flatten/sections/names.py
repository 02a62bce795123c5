"""Names for everything in a cut through a pad: layers by thickness, what carries them, gaps, the cover, its radius."""

import numpy as np
import shapely
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from flatten.draw.callouts import Callouts
from flatten.draw.drawing import Drawing
from flatten.sections.parts import Ground, Shown, layer_words
from flatten.sections.window import View
from meshes.base.arrays import FloatArray, IntArray
from meshes.settle.section import STRAIGHT_RADIUS_MM

SUPPORT, COVER, RADIUS, GAP, CLOTH, INK = "#5a544c", "#7a2e12", "#1b5a9d", "#c03a2b", "#2b6b52", "#2c2a28"
SMALL = 12.0
# Larger circles are not drawn.
LARGEST_MM = 300.0
# A layer thinner than this in the close view is not named in it.
LEAST_SHOWN_MM = 0.2


def _scale(drawing: Drawing, view: View, taken: BaseGeometry) -> BaseGeometry:
    """A scale in the lower corner of a view where it covers least."""
    left, top, across, high = view.rect
    lengths = [25.4 * inch for inch in (2, 4, 8, 20)] if drawing.unit == "in" else [50.0, 100.0, 200.0, 500.0]
    mm = next(mm for mm in lengths if mm * view.scale > 44.0)
    y, wide = top + high - 12.0, mm * view.scale
    places = [box(x, y - 26, x + wide + 16, y + 6) for x in (left + 4.0, left + across - wide - 20.0)]
    held = min(places, key=lambda place: place.intersection(taken).area)
    x = held.bounds[0] + 8.0
    drawing.line([(x, y - 5), (x, y), (x + wide, y), (x + wide, y - 5)], INK, 1.4)
    drawing.line([(x + 0.5 * wide, y - 3), (x + 0.5 * wide, y)], INK, 1.4)
    drawing.words(f"{mm:g} mm", (x + 0.5 * wide, y - 8), size=SMALL, colour=INK, anchor="middle")
    return held


def name_all(drawing: Drawing, shown: Shown, ground: Ground, view: View, solid: list[BaseGeometry]) -> None:
    """Everything in the close view by its name."""
    taken = shapely.union_all(solid)
    taken = taken.union(_scale(drawing, view, taken))
    words = Callouts(drawing, view.window.buffer(-4.0), taken)
    cut, ridge = shown.cut, shown.ridge
    if np.isfinite(ridge.radius_mm) and ridge.radius_mm < LARGEST_MM:
        words.say(f"R {length(ridge.radius_mm)} mm", view(np.array(ridge.at)), colour=RADIUS, size=16.0, bold=True)
    lifts_named(words, shown, view)
    _layers_named(words, shown, view)
    _ground_named(words, shown, ground, view)
    on = _in_view(view, cut.cover)
    if len(on):
        words.say("cover", view(cut.cover[on[[len(on) // 8, len(on) // 5, -len(on) // 6]]]), colour=COVER)


def lifts_named(words: Callouts, shown: Shown, view: View) -> None:
    for lift in shown.lifts:
        at = view(np.array(lift.at))
        if view.window.contains(shapely.Point(at[0])):
            words.say(f"lifts {lift.gap_mm:.1f} mm", at, colour=GAP)


def _in_view(view: View, points: FloatArray) -> IntArray:
    """Numbers of the points that a view shows."""
    return np.flatnonzero(shapely.contains(view.window.buffer(-6.0), shapely.points(view(points))))


def _layers_named(words: Callouts, shown: Shown, view: View) -> None:
    """Each layer where it is thick and there is room for its name."""
    cut = shown.cut
    seen = _in_view(view, cut.cover)
    thick = cut.layer_mm()[1]
    for k in reversed(range(len(shown.pad.layers))):
        if not len(seen) or thick[k, seen].max() < LEAST_SHOWN_MM:
            continue
        most = float(thick[k, seen].max())
        there = seen[thick[k, seen] > min(0.6 * most, 6.0)]
        there = there[len(there) // 10 : -(len(there) // 10) or None]
        stations = there[np.unique(np.linspace(0, len(there) - 1, 12).astype(int))]
        below = cut.after[k - 1] if k else cut.ground
        middles = 0.5 * (cut.after[k, stations] + below[stations])
        words.say(layer_words(shown.pad.layers[k]), view(middles), colour=INK)


def _ground_named(words: Callouts, shown: Shown, ground: Ground, view: View) -> None:
    """Springs, board, gap with its width, cloth, rail."""
    cut = shown.cut
    seen = _in_view(view, cut.ground)
    gaps = ground.runs("gap")
    for run in gaps:
        side, here = ground.side_of(run, shown.pad), _within(seen, run)
        if len(here):
            text = f"cloth over\n{side.gap:g} mm gap" if side.cloth else f"open gap\n{side.gap:g} mm"
            middle = here[len(here) // 4 : -(len(here) // 4) or None : 4]
            words.say(text, view(cut.ground[middle]), colour=CLOTH if side.cloth else GAP)
    for kind, name in (("springs", "springs"), ("board", "board"), ("frame", "rail" if gaps else "frame")):
        for run in ground.runs(kind):
            here = _within(seen, run)
            if len(here) > 3:
                spots = here[len(here) // 5 : -(len(here) // 5) or None : 5]
                words.say(name, view(cut.ground[spots]), colour=SUPPORT)


def _within(seen: IntArray, run: slice) -> IntArray:
    return seen[(seen >= run.start) & (seen < run.stop)]


def length(radius: float) -> str:
    """A radius in words."""
    return f"{radius:.0f}" if np.isfinite(radius) and radius < STRAIGHT_RADIUS_MM else f"over {STRAIGHT_RADIUS_MM:.0f}"
