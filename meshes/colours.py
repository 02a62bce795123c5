"""The one colour scale for stretch, used wherever stretch is shown, so that a colour means the same everywhere.

Diverging: deep blue where the cover has fullness, near white at true length, burnt orange where it is stretched. Blue
and orange stay apart for all common kinds of colour blindness, and both ends are dark, so that a grey copy still shows
where something happens.
"""

import numpy as np
import numpy.typing as npt

# Five fixed colours, evenly spaced from full fullness to full stretch; in between, straight mixing.
_STOPS = np.array([[23, 55, 108], [98, 144, 196], [247, 246, 242], [235, 158, 92], [158, 63, 6]], dtype=float)


def stretch_colours(values: npt.ArrayLike, reach: float) -> npt.NDArray[np.uint8]:
    """Colours (k, 3) for stretches (k,), length on the seat / length on the piece.

    1 is near white; 1 + reach and more is full orange, 1 - reach and less is full blue. reach: a fraction (0.05 is
    5 %). Raises ValueError when it is not above zero.
    """
    if not reach > 0.0:
        raise ValueError(f"the reach of the colours must be above zero, found {reach}")
    stretch = np.asarray(values, dtype=float).ravel()
    place = np.clip((stretch - 1.0) / reach, -1.0, 1.0) * 2.0 + 2.0
    mixed = np.stack([np.interp(place, np.arange(5.0), _STOPS[:, k]) for k in range(3)], axis=1)
    return np.rint(mixed).astype(np.uint8)


# Muted colours for panels, sRGB, used in turn; apart in lightness too, so that neighbours differ in a grey copy.
PANEL_COLOURS: tuple[tuple[int, int, int], ...] = (
    (216, 200, 174),
    (136, 158, 170),
    (188, 140, 116),
    (160, 168, 132),
    (224, 216, 204),
    (122, 126, 142),
    (200, 170, 122),
    (150, 126, 130),
)
