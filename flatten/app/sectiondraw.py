"""The picture of a cut: before, and as padded or with the padding proposed, side by side at one scale.

Support dark, every layer in a colour of its own with its name, cover as a heavy line, the smallest radius as a circle,
open gap hatched, lifts marked. Stands on matplotlib, without a screen.
"""

import io

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Circle

from meshes.arrays import FloatArray
from meshes.pad import Layer, Pad
from meshes.proposal import Comparison
from meshes.section import Section, SectionLift, as_measured

LAYER_COLOURS = ("#f2d06b", "#8fb8de", "#a9cf9a", "#e3a06f", "#c6a5d3", "#d9d2c5", "#7fb0ab", "#d98f9a")
SUPPORT, COVER, RADIUS, GAP = "#4a4540", "#7a2e1d", "#1d4e89", "#b3372b"
# How much of the cut is shown round the ridge, mm.
REACH_MM = 150.0


def cut_picture(cut: Comparison, pad: Pad) -> bytes:
    """The picture as PNG: the whole cut above, the edge that matters below, before left and after right."""
    shown, title = (cut.padded, "as padded")
    layers = pad.layers
    if cut.proposal is not None and (cut.proposal.layers or cut.proposal.cloth):
        shown, title, layers = cut.proposal.after, "with the padding proposed", cut.proposal.pad.layers
    side = cut.padded.ridge.side
    figure = Figure(figsize=(15, 9), layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.subplots(2, 2, gridspec_kw={"height_ratios": [1, 2]})
    lifts = cut.lifts if shown is cut.padded else shown.lifts
    views = ((cut.bare, as_measured(pad).layers, "before", cut.bare.lifts), (shown, layers, title, lifts))
    for column, (section, own, words, off) in enumerate(views):
        _view(axes[0, column], section, own, side, off)
        axes[0, column].set_title(f"{pad.name}, {cut.name}: {words}", fontsize=14)
        _view(axes[1, column], section, own, side, off)
        _zoom(axes[1, column], shown, side)
        _same_window(axes[0, column], views)
        axes[1, column].legend(loc="lower center", fontsize=9, ncols=2)
    stream = io.BytesIO()
    figure.savefig(stream, format="png", dpi=110, metadata={"Software": None})
    return stream.getvalue()


def _view(axes: Axes, cut: Section, layers: tuple[Layer, ...], side: str, lifts: tuple[SectionLift, ...]) -> None:
    below: FloatArray = cut.ground
    axes.plot(*cut.support.T, color=SUPPORT, lw=1.0, ls=":", label="measured support")
    _board(axes, cut)
    for k, (layer, top) in enumerate(zip(layers, cut.after, strict=True)):
        ring = np.concatenate([below, top[::-1]])
        label = f"{k + 1}  {layer.thickness:g} mm {layer.material}"
        axes.fill(*ring.T, color=LAYER_COLOURS[k % len(LAYER_COLOURS)], ec="#55504a", lw=0.5, label=label)
        below = top
    axes.plot(*cut.cover.T, color=COVER, lw=2.5, label="cover")
    ridge = next(ridge for ridge in cut.ridges if ridge.side == side)
    _circle(axes, cut, ridge.at, ridge.radius_mm)
    for lift in lifts:
        axes.annotate(
            f"lifts {lift.gap_mm:.1f} mm", lift.at, xytext=(0, 28), textcoords="offset points", ha="center",
            color=GAP, arrowprops={"arrowstyle": "->", "color": GAP},
        )  # fmt: skip
    axes.set_aspect("equal")
    axes.set_xlabel("mm")


def _board(axes: Axes, cut: Section) -> None:
    """What carries the padding, drawn solid; nothing under an open gap."""
    open_ = cut.carried < 0.5
    carried = cut.ground.copy()
    carried[open_] = np.nan
    if open_.any():
        # Past the gap stands the rail: the shorter of the two stretches that carry.
        first, last = np.flatnonzero(open_)[[0, -1]]
        rail = cut.ground[last + 1 :] if last > len(open_) / 2 else cut.ground[:first]
        axes.annotate(
            "rail", rail[len(rail) // 2], xytext=(0, -22), textcoords="offset points", ha="center", fontsize=12
        )
    axes.plot(*carried.T, color=SUPPORT, lw=6.0, solid_capstyle="butt", label="springs, rail, board or cloth")
    if open_.any():
        gap = cut.support.copy()
        gap[~open_] = np.nan
        axes.plot(*gap.T, color=GAP, lw=2.0, ls=(0, (2, 2)), label="open gap")
        middle = cut.support[int(np.median(np.flatnonzero(open_)))]
        axes.annotate("gap", middle, xytext=(0, -28), textcoords="offset points", ha="center", color=GAP, fontsize=12)


def _circle(axes: Axes, cut: Section, at: tuple[float, float], radius: float) -> None:
    k = int(np.argmin(np.linalg.norm(cut.cover - np.array(at), axis=1)))
    k = min(max(k, 1), len(cut.cover) - 2)
    if not np.isfinite(radius):
        return
    way = cut.cover[k + 1] - cut.cover[k - 1]
    inward = np.array([way[1], -way[0]]) / np.linalg.norm(way)
    centre = cut.cover[k] + radius * inward
    axes.add_patch(Circle((centre[0], centre[1]), radius, fill=False, ec=RADIUS, lw=1.5, ls="--"))
    spoke = np.stack([centre, cut.cover[k]])
    axes.plot(*spoke.T, color=RADIUS, lw=1.2)
    axes.plot(*centre, "+", color=RADIUS, ms=8)
    outside = cut.cover[k] - 24.0 * inward
    axes.text(*outside, f"R {radius:.0f}", color=RADIUS, fontsize=13, fontweight="bold", ha="center", va="center")


def _same_window(
    axes: Axes, views: tuple[tuple[Section, tuple[Layer, ...], str, tuple[SectionLift, ...]], ...]
) -> None:
    """Both sides of the picture show the same stretch of the pad, so that they can be compared by eye."""
    points = np.concatenate([line for section, *_ in views for line in (section.cover, section.support)])
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    axes.set_xlim(x0 - 15, x1 + 50)
    axes.set_ylim(y0 - 15, y1 + 15)


def _zoom(axes: Axes, cut: Section, side: str) -> None:
    at = next(ridge for ridge in cut.ridges if ridge.side == side).at
    axes.set_xlim(at[0] - REACH_MM, at[0] + REACH_MM)
    axes.set_ylim(at[1] - 0.8 * REACH_MM, at[1] + 0.4 * REACH_MM)
