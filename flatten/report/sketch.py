"""A piece as a small drawing for the report: use of the leather, cut and sew line, notches, numbered edges, grain.

Not to scale on paper; the patterns are. Drawn in mm with y turned downwards, as SVG wants it.
"""

from collections.abc import Sequence

import numpy as np

from flatten.draw.stretch_map import Box, map_png
from flatten.pieces.piece import Edge, Mark, MarkKind, Piece
from flatten.report.markup import data_uri, esc
from meshes.base.arrays import FloatArray
from meshes.base.files import number
from meshes.numerics.contours import SHORT_MM, USE_BANDS, at_vertices, contours, longer_than, strokes
from meshes.view.colours import OVER, use_colours

# Width in pixels that a drawing is meant for; what has a size of its own (numbers, ticks) is set by it.
BROAD_PX, NARROW_PX, TALLEST_PX = 700, 430, 560
BROAD_RATIO = 1.5
# Strokes shorter than this share of the longest usual one are dots, and left out.
LEAST_STROKE = 0.15
# Where along an edge its number may stand, the middle first.
TAG_SHARES = (0.5, 0.44, 0.56, 0.4, 0.6, 0.36, 0.64)


def is_broad(piece: Piece) -> bool:
    """Whether the drawing takes the whole width of the page."""
    x0, y0, x1, y1 = piece.box()
    return (x1 - x0) > BROAD_RATIO * (y1 - y0)


def piece_svg(piece: Piece, *, reach: float, words: str) -> str:
    """The drawing as SVG text. words: what it shows, for those who cannot see it."""
    x0, y0, x1, y1 = piece.box()
    width_px = min(BROAD_PX if is_broad(piece) else NARROW_PX, TALLEST_PX * (x1 - x0) / (y1 - y0))
    unit = (x1 - x0) / width_px
    edge = 20.0 * unit
    box = (x0 - edge, y0 - edge, x1 + edge, y1 + edge)
    view = f"0 0 {number(box[2] - box[0], 1)} {number(box[3] - box[1], 1)}"
    parts = [
        f'<svg class="piece" viewBox="{view}" width="{width_px + 40:.0f}" role="img" aria-label="{esc(words)}">',
        _map(piece, box, reach),
        f'<path class="cut" d="{_path(piece.cut, box, closed=True)}"/>',
        f'<path class="sew" d="{_path(piece.sew, box, closed=True)}"/>',
        *(f'<path class="inner" d="{_path(line.points, box)}"/>' for line in piece.inner),
        *(f'<path class="{kind}" d="{_pulls(piece, box, reach, unit)}"/>' for kind in ("pull under", "pull")),
        *_bands(piece, box),
        *(
            f'<path class="notch" d="{_mark(mark, box, unit)}"/>'
            for mark in piece.marks
            if mark.kind is not MarkKind.SNIP
        ),
        _arrow(piece.grain, box, unit),
        *(_number(k + 1, edge, piece.marks, box, unit) for k, edge in enumerate(piece.edges)),
        "</svg>",
    ]
    return "\n".join(part for part in parts if part)


def legend_svg(reach: float) -> str:
    """The colours of the maps with their meaning; reach: fullness, a fraction, where blue ends."""
    # The scale is made of straight mixes between five colours, as a gradient is.
    stops = "".join(
        f'<stop offset="{25 * k}%" stop-color="{_hex(colour)}"/>'
        for k, colour in enumerate(use_colours(np.linspace(-1.0, 1.0, 5)).tolist())
    )
    most = number(100.0 * reach, 1)
    words = "".join(
        f'<text x="{x}" y="37" text-anchor="{anchor}">{text}</text>'
        for x, anchor, text in (
            (20, "start", f"{most} % fullness"),
            (200, "middle", "true length"),
            (290, "middle", "half the budget"),
            (380, "middle", "all of it"),
            (446, "middle", "over"),
        )
    )
    label = (
        f"Colours from {most} % fullness, blue, over true length, white, to all of the budget, orange; over it, dark"
    )
    return (
        f'<svg class="legend" viewBox="0 0 480 44" width="480" role="img" aria-label="{label}">'
        f'<linearGradient id="scale">{stops}</linearGradient>'
        f'<rect x="20" y="4" width="360" height="16" fill="url(#scale)"/>'
        f'<rect x="426" y="4" width="40" height="16" fill="{_hex(OVER)}"/>{words}</svg>'
    )


def _hex(colour: Sequence[int]) -> str:
    return "#" + "".join(f"{part:02x}" for part in colour)


def _map(piece: Piece, box: Box, reach: float) -> str:
    if not len(piece.mesh.triangles):
        return ""
    low, high = piece.mesh.points.min(axis=0), piece.mesh.points.max(axis=0)
    frame = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
    picture = data_uri(map_png(piece.mesh, frame, reach=reach))
    return (
        f'<image x="{number(frame[0] - box[0], 2)}" y="{number(box[3] - frame[3], 2)}" '
        f'width="{number(frame[2] - frame[0], 2)}" height="{number(frame[3] - frame[1], 2)}" '
        f'preserveAspectRatio="none" href="{picture}"/>'
    )


def _place(point: FloatArray, box: Box) -> tuple[float, float]:
    return float(point[0]) - box[0], box[3] - float(point[1])


def _path(points: FloatArray, box: Box, *, closed: bool = False) -> str:
    places = (_place(point, box) for point in points)
    text = "L".join(f"{number(x, 1)} {number(y, 1)}" for x, y in places)
    return f"M{text}Z" if closed else f"M{text}"


def _mark(mark: Mark, box: Box, unit: float) -> str:
    """A notch as a tick from the sew line outwards, doubled side by side; a centre mark crosses the sew line; a joint
    is a triangle on it."""
    across = np.array([-mark.outward[1], mark.outward[0]])
    shifts = (-2.5 * unit, 2.5 * unit) if mark.kind is MarkKind.DOUBLE_NOTCH else (0.0,)
    inward = 7.0 * unit if mark.kind is MarkKind.CENTRE else 0.0
    outward = max(0.5 * mark.allowance_mm, 6.0 * unit)
    if mark.kind is MarkKind.JOINT:
        base = mark.at + 7.0 * unit * mark.outward
        corners = np.array([mark.at, base + 4.0 * unit * across, base - 4.0 * unit * across])
        return _path(corners, box, closed=True)
    return "".join(
        _path(
            np.array([mark.at + s * across - inward * mark.outward, mark.at + s * across + outward * mark.outward]), box
        )
        for s in shifts
    )


def _pulls(piece: Piece, box: Box, reach: float, unit: float) -> str:
    """Short lines along the larger mean stretch, longer where it is more, none where there is next to none."""
    mesh, apart = piece.mesh, max(25.0, 26.0 * unit)
    if not len(mesh.triangles):
        return ""
    found = strokes(mesh.points, mesh.triangles, mesh.stretch, mesh.along, apart_mm=apart)
    share = np.minimum(found.size / np.log1p(reach), 1.2)
    half = 0.36 * apart * np.maximum(share, 0.0)[:, None] * found.along
    ends = np.stack([found.at - half, found.at + half], axis=1)[share >= LEAST_STROKE]
    return "".join(_path(pair, box) for pair in ends)


def _bands(piece: Piece, box: Box) -> list[str]:
    """Lines at the bands of the budget, the limit itself the heaviest."""
    mesh = piece.mesh
    if mesh.use is None or not len(mesh.triangles):
        return []
    values = at_vertices(mesh.points, mesh.triangles, mesh.use)
    lines = [longer_than(SHORT_MM, contours(mesh.points, mesh.triangles, values, level)) for level in USE_BANDS]
    return [
        f'<path class="band band{k + 1}" d="{"".join(_path(line, box) for line in found)}"/>'
        for k, found in enumerate(lines)
        if found
    ]


def _number(k: int, edge: Edge, marks: Sequence[Mark], box: Box, unit: float) -> str:
    """The number of an edge in a small circle on its allowance, near the middle but clear of the marks."""
    spots = [_beside(edge, share, 9.0 * unit) for share in TAG_SHARES]
    near = [min([20.0 * unit, *(float(np.linalg.norm(mark.at - spot)) for mark in marks)]) for spot in spots]
    x, y = _place(spots[int(np.argmax(near))], box)
    size = number(11.0 * unit, 2)
    return (
        f'<circle class="tag" cx="{number(x, 1)}" cy="{number(y, 1)}" r="{number(8.5 * unit, 2)}"/>'
        f'<text class="tag" x="{number(x, 1)}" y="{number(y + 4.0 * unit, 1)}" font-size="{size}">{k}</text>'
    )


def _beside(edge: Edge, share: float, least_mm: float) -> FloatArray:
    """A point half way out on the allowance, at a share of the edge's length."""
    steps = np.diff(edge.points, axis=0)
    lengths = np.linalg.norm(steps, axis=1)
    ends = np.cumsum(lengths)
    k = min(int(np.searchsorted(ends, share * ends[-1])), len(steps) - 1)
    along = steps[k] / lengths[k]
    at = edge.points[k] + (share * ends[-1] - ends[k] + lengths[k]) * along
    return at + max(0.5 * edge.allowance_mm, least_mm) * np.array([along[1], -along[0]])


def _arrow(grain: FloatArray, box: Box, unit: float) -> str:
    """The grain arrow, halo below so that it is seen on any colour."""
    along = (grain[1] - grain[0]) / np.linalg.norm(grain[1] - grain[0])
    across = np.array([-along[1], along[0]])
    wings = [grain[1] - 9.0 * unit * along + s * 4.0 * unit * across for s in (1.0, -1.0)]
    path = _path(grain, box) + _path(np.array([wings[0], grain[1], wings[1]]), box)
    return f'<path class="halo" d="{path}"/><path class="grain" d="{path}"/>'
