"""The one typeface on paper, and how wide its words are.

DejaVu Sans is shipped with the project so that a pattern looks the same on every machine and can be embedded.
"""

from functools import cache, lru_cache

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from meshes.base.files import FONT_FILE
from meshes.base.units import SAME_MM

FONT_NAME = "DejaVuSans"
CAPITAL_SHARE = 1493.0 / 2048.0
"""Height of a capital as a share of the type size, from the font's own table."""
LINE_ROOM = 1.7
"""Height of a line with its ascenders and descenders, in capital heights."""


@cache
def register_font() -> str:
    """Make the typeface known to the PDF writer once; returns its name."""
    pdfmetrics.registerFont(TTFont(FONT_NAME, str(FONT_FILE)))
    return FONT_NAME


def type_size(height_mm: float) -> float:
    """Type size in mm whose capitals are `height_mm` high."""
    return height_mm / CAPITAL_SHARE


@lru_cache(maxsize=16384)
def words_width(words: str, height_mm: float) -> float:
    """Width in mm of words whose capitals are `height_mm` high."""
    return float(pdfmetrics.stringWidth(words, register_font(), type_size(height_mm)))


def height_to_fit(words: str, height_mm: float, widest_mm: float) -> float:
    """The height in mm of capitals, at most `height_mm`, at which words are no wider than `widest_mm`."""
    return min(height_mm, height_mm * widest_mm / max(words_width(words, height_mm), SAME_MM))
