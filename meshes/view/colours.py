"""The one colour scale for what is asked of the leather, so that a colour means the same everywhere.

Diverging: deep blue where the cover has fullness, near white at true length, burnt orange where all that the leather
gives is used; past that, one colour of its own, a clear step darker. Blue and orange stay apart for all common kinds of
colour blindness, and both ends are dark, so that a grey copy still shows where something happens.
"""

import numpy as np
import numpy.typing as npt

# Five fixed colours, evenly spaced from full fullness to all of the budget; in between, straight mixing.
_STOPS = np.array([[23, 55, 108], [98, 144, 196], [247, 246, 242], [235, 158, 92], [158, 63, 6]], dtype=float)
# Where more is asked than the leather gives; the last digits of a piece that asks just all of it are no more.
OVER: tuple[int, int, int] = (62, 8, 42)
OVER_FROM = 1.001


def use_colours(use: npt.ArrayLike) -> npt.NDArray[np.uint8]:
    """Colours (k, 3) for uses (k,) of what the leather gives: 0 none, 1 all of it; negative: fullness, -1 and less is
    full blue. Raises ValueError for what is no number."""
    share = np.asarray(use, dtype=float).ravel()
    if np.isnan(share).any():
        raise ValueError("colours stand for numbers, found none")
    place = np.clip(share, -1.0, 1.0) * 2.0 + 2.0
    mixed = np.stack([np.interp(place, np.arange(5.0), _STOPS[:, k]) for k in range(3)], axis=1)
    colours = np.rint(mixed).astype(np.uint8)
    colours[share > OVER_FROM] = OVER
    return colours


# Muted colours for panels, sRGB, used in turn; apart in lightness too, so that neighbours differ in a grey copy.
PANEL_COLOURS: tuple[tuple[int, int, int], ...] = (
    (216, 200, 174),
    (136, 158, 170),
    (224, 216, 204),
    (188, 140, 116),
    (200, 170, 122),
    (150, 126, 130),
    (160, 168, 132),
    (122, 126, 142),
)
