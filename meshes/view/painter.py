"""Pictures without a graphics system: triangles sorted from far to near and filled with numpy and Pillow.

Drawn larger and scaled down, so that edges are smooth. Also letters title and key, whoever drew the picture.
"""

from collections.abc import Sequence

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from meshes.base.arrays import FloatArray
from meshes.base.files import FONT_FILE
from meshes.view.scene import BACKGROUND, FINE_COLOUR, LINE_COLOUR, Camera, Colours, Scene, camera
from meshes.view.settled_maps import Legend

OVERSIZE = 2
# Lines lie on the surface; drawn as if this much nearer, they are not lost between the triangles they run along.
LINE_NEARER_MM = 8.0
LINE_PX = 2
# Lights as directions towards them in the camera's axes (right, up, to the eye) and their share of the light.
LIGHTS = (((-0.4, 0.6, 0.7), 0.42), ((0.6, 0.0, 0.8), 0.22))
AMBIENT = 0.44
# On a map light only hints at the shape, so that colours match the key: light from all sides, share of LIGHTS.
MAP_AMBIENT, MAP_SHARE = 0.86, 0.22
# The inner side of a surface, seen where a seat is open below, is darker than the outer one.
INNER_SHADE = 0.75
INK = (60, 58, 55)


def paint(scene: Scene, view: str, size: tuple[int, int]) -> Image.Image:
    """The scene from a named view as a picture of size (width, height) pixels."""
    large = (size[0] * OVERSIZE, size[1] * OVERSIZE)
    at = camera(scene, view, large)
    image = Image.new("RGB", large, BACKGROUND)
    draw = ImageDraw.Draw(image)
    corners, depths, colours = _triangles(scene, at, large)
    ends, line_depths = _segments(scene.lines, at, large)
    thin, thin_depths = _segments(scene.fine, at, large)
    shapes, segments = corners.tolist(), [*ends.tolist(), *thin.tolist()]
    looks = [(LINE_COLOUR, LINE_PX * OVERSIZE)] * len(ends) + [(FINE_COLOUR, OVERSIZE)] * len(thin)
    fills = [tuple(colour) for colour in colours.tolist()]
    for k in np.argsort(-np.concatenate([depths, line_depths, thin_depths]), kind="stable").tolist():
        if k < len(shapes):
            draw.polygon(shapes[k], fill=fills[k])
        else:
            colour, wide = looks[k - len(shapes)]
            draw.line(segments[k - len(shapes)], fill=colour, width=wide)
    return image.resize(size, Image.Resampling.BOX)


def _triangles(scene: Scene, at: Camera, size: tuple[int, int]) -> tuple[FloatArray, FloatArray, Colours]:
    """Corners in pixels (m, 6), depth (m,) and shaded colour (m, 3) of all triangles."""
    corners, depths, colours = [], [], []
    for part in scene.parts:
        seen = at.seen(part.vertices, size)[part.triangles]
        light = _light(part.normals, part.vertices, at, (MAP_AMBIENT, MAP_SHARE) if scene.is_map else (AMBIENT, 1.0))
        shaded = light[:, None] * part.colours
        corners.append(seen[:, :, :2].reshape(-1, 6))
        depths.append(seen[:, :, 2].mean(axis=1))
        colours.append(shaded[part.triangles].mean(axis=1))
    mixed = np.rint(np.clip(np.concatenate(colours), 0.0, 255.0)).astype(np.uint8)
    return np.concatenate(corners), np.concatenate(depths), mixed


def _light(normals: FloatArray, places: FloatArray, at: Camera, shares: tuple[float, float]) -> FloatArray:
    """Share of light (n,) on the side that is seen; shares: light from all sides, and of LIGHTS."""
    local = normals @ at.axes.T
    inner = np.einsum("ij,ij->i", normals, at.eye - places) < 0.0
    local = np.where(inner[:, None], -local, local)
    light = np.full(len(local), shares[0])
    for direction, share in LIGHTS:
        toward = np.array(direction) / np.linalg.norm(direction)
        light += shares[1] * share * np.clip(local @ toward, 0.0, 1.0)
    return np.where(inner, INNER_SHADE * light, light)


def _segments(
    lines: Sequence[tuple[str, FloatArray]], at: Camera, size: tuple[int, int]
) -> tuple[FloatArray, FloatArray]:
    """Ends in pixels (k, 4) and depth (k,) of all steps of some lines."""
    ends, depths = [np.zeros((0, 4))], [np.zeros(0)]
    for _, points in lines:
        seen = at.seen(points, size)
        ends.append(np.column_stack([seen[:-1, :2], seen[1:, :2]]))
        depths.append(0.5 * (seen[:-1, 2] + seen[1:, 2]) - LINE_NEARER_MM)
    return np.concatenate(ends), np.concatenate(depths)


def _font(size: float) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(FONT_FILE), size)


def letter(image: Image.Image, scene: Scene) -> Image.Image:
    """A copy of the picture with the title and, for a map, its key."""
    done = image.copy()
    draw = ImageDraw.Draw(done)
    unit = done.height / 900.0
    font = _font(max(10.0, 26.0 * unit))
    draw.text((28 * unit, 20 * unit), scene.title, fill=INK, font=font)
    if scene.key is not None:
        _key(draw, scene.key, done.size, unit)
    return done


def _key(draw: ImageDraw.ImageDraw, key: Legend, size: tuple[int, int], unit: float) -> None:
    """A bar with numbers and words below it, its limit marked, and colours that stand beside it."""
    left, top, wide, high = _bar(draw, key.bar, (key.ticks, [(0.5, key.words)]), size, unit)
    if key.limit is not None:
        x = left + key.limit * wide
        draw.line((x, top - 0.45 * high, x, top + 1.25 * high), fill=INK, width=max(1, round(4 * unit)))
    for k, (colour, words) in enumerate(key.swatches):
        x, y = left + wide + 26 * unit, top + 36 * unit * k
        draw.rectangle((x, y, x + 1.4 * high, y + high), fill=colour, outline=INK)
        draw.text((x + 1.8 * high, y + 0.5 * high), words, fill=INK, font=_font(max(9.0, 23.0 * unit)), anchor="lm")


def _bar(
    draw: ImageDraw.ImageDraw,
    colours: Sequence[tuple[int, ...]],
    rows: Sequence[Sequence[tuple[float, str]]],
    size: tuple[int, int],
    unit: float,
) -> tuple[float, float, float, float]:
    """A bar of colours low in the middle of the picture, with rows of (share, text) below; returns left, top, width and
    height of the bar."""
    wide, high = 640 * unit, 22 * unit
    left, top = 0.5 * (size[0] - wide), size[1] - 104 * unit
    for k, colour in enumerate(colours):
        x = left + wide * k / len(colours)
        draw.rectangle((x, top, x + wide / len(colours), top + high), fill=tuple(colour))
    draw.rectangle((left, top, left + wide, top + high), outline=INK)
    font = _font(max(9.0, 25.0 * unit))
    for below, texts in zip((5, 37), rows, strict=False):
        for share, text in texts:
            draw.text((left + share * wide, top + high + below * unit), text, fill=INK, font=font, anchor="ma")
    return left, top, wide, high
