"""What a piece asks of its leather as a small picture: every triangle filled with the colour of its use.

A picture stays small whatever the number of triangles; the lines of the piece are drawn over it as vectors.
"""

import io

import numpy as np
from PIL import Image, ImageDraw

from flatten.leather.card import Card
from flatten.pieces.piece import FlatMesh
from meshes.base.arrays import FloatArray
from meshes.view.colours import OVER, OVER_FROM, use_colours

Box = tuple[float, float, float, float]

# Steps of colour from full fullness to all of the budget; odd, so that true length has a step of its own. One more
# stands for what is over the budget.
COLOUR_LEVELS = 61
LONGEST_PX = 880
FINEST_MM = 0.5


def reach_of(leather: Card) -> float:
    """Fullness, a fraction, where the colours end: as much as this leather may be stretched, the stiffer way."""
    return min(leather.stretch_along, leather.stretch_across)


def shown_stretch(stretch: FloatArray) -> FloatArray:
    """Of the two principal stretches (m, 2) the one farther from true length, in ratio, shape (m,)."""
    larger, smaller = stretch[:, 0], stretch[:, 1]
    return np.where(larger * smaller >= 1.0, larger, smaller)


def shown_use(stretch: FloatArray, use: FloatArray | None, reach: float) -> FloatArray:
    """Use (m,) of what the leather gives, from principal stretches (m, 2); negative, as a share of `reach`, where
    fullness is what is farther from true length. Without a known use stretch is shown as a share of `reach` too."""
    farther = shown_stretch(stretch)
    share = (farther - 1.0) / reach
    return share if use is None else np.where(farther < 1.0, share, use)


def map_png(mesh: FlatMesh, box: Box, *, reach: float) -> bytes:
    """PNG of the mesh within box (x0, y0, x1, y1) mm, y upwards, transparent outside the mesh."""
    x0, y0, x1, y1 = box
    pixel = max(max(x1 - x0, y1 - y0) / LONGEST_PX, FINEST_MM)
    size = max(1, round((x1 - x0) / pixel)), max(1, round((y1 - y0) / pixel))
    scale = np.array([size[0] / (x1 - x0), size[1] / (y1 - y0)])
    # Pillow counts from the middle of the top left pixel.
    places = np.column_stack([mesh.points[:, 0] - x0, y1 - mesh.points[:, 1]]) * scale - 0.5
    corners = places[mesh.triangles].reshape(-1, 6)
    image = Image.new("P", size, 0)
    image.putpalette(_palette())
    draw = ImageDraw.Draw(image)
    for corner, level in zip(corners.tolist(), _levels(shown_use(mesh.stretch, mesh.use, reach)).tolist(), strict=True):
        draw.polygon(corner, fill=level)
    data = io.BytesIO()
    image.save(data, "PNG", transparency=0, optimize=True)
    return data.getvalue()


def _levels(use: FloatArray) -> FloatArray:
    level = np.rint(1 + (np.clip(use, -1.0, 1.0) + 1.0) / 2.0 * (COLOUR_LEVELS - 1)).astype(int)
    return np.where(use > OVER_FROM, COLOUR_LEVELS + 1, level)


def _palette() -> list[int]:
    """Colours by level; level 0 is what lies outside."""
    return [255, 255, 255, *use_colours(np.linspace(-1.0, 1.0, COLOUR_LEVELS)).ravel().tolist(), *OVER]
