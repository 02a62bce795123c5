"""A pad cut open, as a drawing: support, layers, cover, radius of its ridge, side by side before and after, as SVG.

Drawn to one scale, the place across the page and the height up it, so that the round top of a backrest looks as it
will; the ridge that matters is shown larger below.
"""

import numpy as np

from flatten.app.markup import esc
from meshes.arrays import FloatArray
from meshes.files import number
from meshes.proposal import Comparison
from meshes.section import Section

# Colours of layers from inside outward; told apart in grey too, as they grow lighter outward.
LAYERS = ("#b98b4e", "#d0a869", "#e2c68f", "#eedcb6", "#f5ecd6")
SUPPORT, COVER, RADIUS, LIFT, INK = "#5a544c", "#7a2e12", "#1b5a9d", "#c03a2b", "#2c2a28"
WIDE, HIGH, MARGIN, CLOSE_MM = 420.0, 190.0, 18.0, 90.0


def section_drawing(pad: str, cut: Comparison) -> str:
    """As measured, as padded, and with the padding proposed where some is, as one SVG text."""
    shown = [("as measured: first layer only", cut.bare), ("as the sheet pads it", cut.padded)]
    if cut.proposal is not None and (cut.proposal.layers or cut.proposal.cloth):
        shown.append(("with the padding proposed", cut.proposal.after))
    wide = WIDE * len(shown)
    slug = "cut-" + "".join(c if c.isalnum() else "-" for c in f"{pad}-{cut.name}")
    body = []
    for k, (words, one) in enumerate(shown):
        body.append(f'<g transform="translate({number(k * WIDE, 1)} 0)">{_panel(words, one, f"{slug}-{k}")}</g>')
    title = f"{pad}, cut {cut.name}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {number(wide, 1)} {number(2 * HIGH + 70, 1)}" '
        f'role="img" aria-label="{esc(title)}" font-family="sans-serif" font-size="12" fill="{INK}">'
        f'<text x="8" y="18" font-size="15">{esc(title)}</text>{"".join(body)}</svg>\n'
    )


def _panel(words: str, cut: Section, name: str) -> str:
    """One cut, whole above and its ridge larger below."""
    ridge = cut.ridge
    at = np.array(ridge.at)
    low, high = _box(cut)
    near = np.array([CLOSE_MM, CLOSE_MM * HIGH / WIDE * 1.15])
    close = _drawn(cut, at - near, at + 0.6 * near, f"{name}-close")
    figures = f"radius {_length(ridge.radius_mm)} mm at the {ridge.side}, hard line {ridge.hard_line_deg:.0f}°"
    return (
        f'<text x="{number(MARGIN, 1)}" y="40" font-weight="bold">{esc(words)}</text>'
        f'<g transform="translate(0 46)">{_drawn(cut, low, high, f"{name}-whole")}</g>'
        f'<g transform="translate(0 {number(HIGH + 50, 1)})">{close}</g>'
        f'<text x="{number(MARGIN, 1)}" y="{number(2 * HIGH + 64, 1)}">{esc(figures)}</text>'
    )


def _length(radius: float) -> str:
    return f"{radius:.0f}" if np.isfinite(radius) and radius < 2000 else "over 2000"


def _box(cut: Section) -> tuple[FloatArray, FloatArray]:
    points = np.concatenate([cut.support, cut.free, cut.cover])
    return points.min(axis=0), points.max(axis=0)


def _drawn(cut: Section, low: FloatArray, high: FloatArray, name: str) -> str:
    """The cut within a box of its own coordinates, clipped to it; name: of the clip, its own on the page."""
    room = np.array([WIDE - 2 * MARGIN, HIGH - 16.0])
    scale = float((room / np.maximum(high - low, 1.0)).min())

    def path(points: FloatArray, *, close: bool = False) -> str:
        xy = (points - low) * scale
        x, y = xy[:, 0] + MARGIN, room[1] - xy[:, 1]
        return "M" + "L".join(f"{number(a, 1)} {number(b, 1)}" for a, b in zip(x, y, strict=True)) + "Z" * close

    parts = [
        f'<clipPath id="{name}"><rect x="{number(MARGIN - 4, 1)}" y="-4" width="{number(room[0] + 8, 1)}" '
        f'height="{number(room[1] + 8, 1)}"/></clipPath><g clip-path="url(#{name})">'
    ]
    below = cut.ground
    for k, top in enumerate(cut.after):
        fill = LAYERS[min(k, len(LAYERS) - 1)]
        parts.append(f'<path d="{path(np.vstack([below, top[::-1]]), close=True)}" fill="{fill}"/>')
        below = top
    carried = cut.carried > 0.5
    for held, looks in ((True, 'stroke-width="3"'), (False, 'stroke-width="1.5" stroke-dasharray="2 4"')):
        for run in _runs(carried == held):
            parts.append(f'<path d="{path(cut.ground[run])}" fill="none" stroke="{SUPPORT}" {looks}/>')
    parts.append(f'<path d="{path(cut.support)}" fill="none" stroke="{SUPPORT}" stroke-width="1"/>')
    parts.append(f'<path d="{path(cut.free)}" fill="none" stroke="{INK}" stroke-width="0.8" stroke-dasharray="5 3"/>')
    parts.append(f'<path d="{path(cut.cover)}" fill="none" stroke="{COVER}" stroke-width="2.2"/>')
    parts += [
        f'<circle cx="{number((lift.at[0] - low[0]) * scale + MARGIN, 1)}" '
        f'cy="{number(room[1] - (lift.at[1] - low[1]) * scale, 1)}" r="6" fill="none" '
        f'stroke="{LIFT}" stroke-width="2"/>'
        for lift in cut.lifts
    ]
    parts.append(_circle(cut, low, scale, float(room[1])))
    return "".join(parts) + "</g>"


def _circle(cut: Section, low: FloatArray, scale: float, floor: float) -> str:
    """The circle that lies against the ridge from inside."""
    ridge = cut.ridge
    if not np.isfinite(ridge.radius_mm) or ridge.radius_mm > 300.0:
        return ""
    k = int(np.argmin(np.linalg.norm(cut.cover - np.array(ridge.at), axis=1)))
    a, b = max(k - 2, 0), min(k + 2, len(cut.cover) - 1)
    along = cut.cover[b] - cut.cover[a]
    inward = np.array([along[1], -along[0]]) / max(float(np.linalg.norm(along)), 1e-9)
    middle = (cut.cover[k] + ridge.radius_mm * inward - low) * scale
    return (
        f'<circle cx="{number(middle[0] + MARGIN, 1)}" cy="{number(floor - middle[1], 1)}" '
        f'r="{number(ridge.radius_mm * scale, 1)}" fill="none" stroke="{RADIUS}" stroke-width="1.2"/>'
    )


def _runs(mask: FloatArray) -> list[slice]:
    """Stretches of places where a mask (k,) holds, at least two long."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], np.asarray(mask, dtype=np.int64), [0]])))
    return [slice(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a > 1]
