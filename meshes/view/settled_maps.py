"""Colours and keys of the maps of a settled seat: how far foam is crushed, how far the cover went down.

One hue each, light where nothing happens and dark where much does, so that colour-blind eyes and grey copies read them
as well; neither hue is one of those that stand for stretch.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from meshes.base.arrays import FloatArray
from meshes.records.materials import CRUSH_LIMIT

Rgb = tuple[int, int, int]

# Violet up to the limit; all beyond it has one colour, a clear step darker.
_CRUSH_STOPS = np.array([[247, 242, 249], [202, 167, 214], [139, 77, 163]], dtype=float)
BEYOND_LIMIT: Rgb = (52, 12, 70)
NO_FOAM: Rgb = (214, 214, 210)
# Green: how far down.
_DOWN_STOPS = np.array([[243, 248, 241], [140, 190, 160], [10, 86, 66]], dtype=float)
RISEN: Rgb = (222, 178, 70)
# Above the free padding by more than this: over a hollow.
RISEN_MM = 0.5
# Share of the key's bar that reaches the limit; the rest stands for what is beyond.
_LIMIT_AT = 0.82
_BAR_STEPS = 128


@dataclass(frozen=True)
class Legend:
    """What the colours of a map mean. bar: colours from left to right; ticks: (share of the bar, number); words: below
    it; limit: share of the bar where a limit is marked, None where none is; swatches: (colour, words) beside it;
    spoken: all of it in words, for where no bar is drawn, when light and dark do not say it."""

    bar: tuple[Rgb, ...]
    ticks: tuple[tuple[float, str], ...]
    words: str
    limit: float | None = None
    swatches: tuple[tuple[Rgb, str], ...] = ()
    spoken: str = ""


def crush_colours(crush: npt.ArrayLike) -> npt.NDArray[np.uint8]:
    """Colours (k, 3) of the shares (k,) by which foam is crushed; not a number: there is none."""
    share = np.asarray(crush, dtype=float).ravel()
    none = np.isnan(share)
    colours = _mixed(_CRUSH_STOPS, np.where(none, 0.0, share) / CRUSH_LIMIT)
    colours[share > CRUSH_LIMIT] = BEYOND_LIMIT
    colours[none] = NO_FOAM
    return colours


def crush_key() -> Legend:
    """The key of `crush_colours`."""
    shares = np.linspace(0.0, CRUSH_LIMIT / _LIMIT_AT, _BAR_STEPS)
    ticks = [(_LIMIT_AT * k / 5, f"{k * 20 * CRUSH_LIMIT:.0f} %") for k in range(6)]
    return Legend(
        bar=_rows(crush_colours(shares)),
        ticks=(*ticks, (0.5 * (1.0 + _LIMIT_AT) + 0.03, "over")),
        words=f"foam crushed: share of the layer pressed most   |   limit {100 * CRUSH_LIMIT:.0f} %",
        limit=_LIMIT_AT,
        swatches=((NO_FOAM, "no foam"),),
    )


def down_colours(change_mm: FloatArray, reach_mm: float) -> npt.NDArray[np.uint8]:
    """Colours (k, 3) of changes of height (k,) mm, negative down; down by reach_mm and more is darkest."""
    change = np.asarray(change_mm, dtype=float)
    colours = _mixed(_DOWN_STOPS, -change / reach_mm)
    colours[change > RISEN_MM] = RISEN
    return colours


def down_key(reach_mm: float) -> Legend:
    """The key of `down_colours`."""
    change = -np.linspace(0.0, reach_mm, _BAR_STEPS)
    ticks = tuple((k / 4, f"{k * reach_mm / 4:.3g} mm") for k in range(5))
    words = "cover gone down from the free padding"
    return Legend(_rows(down_colours(change, reach_mm)), ticks, words, swatches=((RISEN, "risen: a hollow"),))


def round_reach(most_mm: float) -> float:
    """The next of 4, 8, 12, 20, 40 ... mm: a reach that divides into four numbers easy to read."""
    steps = [4.0, 8.0, 12.0, *(20.0 * k for k in range(1, 11))]
    return next((step for step in steps if step >= most_mm), most_mm)


def _mixed(stops: FloatArray, place: FloatArray) -> npt.NDArray[np.uint8]:
    """Straight mixing between evenly spaced colours; place from 0 to 1."""
    at = np.clip(place, 0.0, 1.0) * (len(stops) - 1)
    mixed = np.stack([np.interp(at, np.arange(len(stops)), stops[:, k]) for k in range(3)], axis=1)
    return np.rint(mixed).astype(np.uint8)


def _rows(colours: npt.NDArray[np.uint8]) -> tuple[Rgb, ...]:
    return tuple((int(r), int(g), int(b)) for r, g, b in colours)
