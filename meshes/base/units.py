"""Lengths as trimmers write them, and every tolerance of the seat named once with its meaning.

Inside the program every length is a float in millimetres. The inch is 25.4 mm exactly (international yard and
pound agreement, 1959). Stands on nothing but the standard library.
"""

import math
import re
import unicodedata
from fractions import Fraction
from typing import Literal

Unit = Literal["mm", "in"]

MM_PER_INCH = Fraction(254, 10)
# Units a length may carry, in millimetres. The quotation mark is how a tape measure is read out on paper.
MM_PER_UNIT = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "in": MM_PER_INCH,
    "inch": MM_PER_INCH,
    "inches": MM_PER_INCH,
    '"': MM_PER_INCH,
}

# Two points nearer than this are one point; finer than any tool in the shop can mark.
SNAP_MM = 0.01
# What a tape held against upholstery reads to: measured places may lie this far outside the outline.
TAPE_READING_MM = 2.0
# Left and right that differ by less than this count as equal.
SAME_MM = 0.001
# No pad of a seat is longer than this; a larger number is a slip of the unit.
LARGEST_PAD_MM = 5000.0
# No pad is narrower than this; a smaller number is a slip of the unit.
SMALLEST_PAD_MM = 20.0
# Every pad is at least this long one way.
SHORTEST_PAD_MM = 120.0
# Narrower than this is possible but rare: worth a warning, since 44 in written as 44 mm ends up here.
RARE_PAD_MM = 100.0

# Two profiles this near each other were meant for one place.
SAME_PLACE_MM = 1.0
# A seam line that ends this near an edge or another line is meant to reach it.
LINE_REACH_MM = 12.0
# Heights of a profile count from the pad's own zero; none is larger on a seat.
HIGHEST_MM = 500.0
# More padding than this is worth a warning: over-padding is the usual mistake (common practice, no source).
THICK_PADDING_MM = 80.0

# A length beyond this is no length at all (1000 km); it keeps the arithmetic away from overflow.
_ABSURD_MM = 1e9
# So many characters hold any length; a longer text is not worth reading.
_LONGEST_TEXT = 40

_LENGTH = re.compile(
    r"""(?P<sign>[-+]?)\s*
        (?:(?P<whole>\d+)(?:\s+|-)(?P<mixed>\d+\s*/\s*\d+)      # 20 1/2 and 20-1/2
          |(?P<fraction>\d+\s*/\s*\d+)                          # 3/8
          |(?P<decimal>\d+\.?\d*|\.\d+))                        # 520, 20.5, .5
        \s*(?P<unit>[a-z"]*)""",
    re.VERBOSE | re.ASCII,
)
_ADVICE = 'write it like 520, "52 cm", "20 1/2 in" or "3/8 in"'


def parse_length(value: object, *, unit: Unit) -> float:
    """A length in mm from a number (in `unit`) or from text, which may carry its own unit or be a fraction.

    Raises ValueError with what is wrong and what to write instead, in words for a trimmer.
    """
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise ValueError(f"is not a length; {_ADVICE}")
    if isinstance(value, str):
        return _in_range(_from_text(value, unit))
    if isinstance(value, float) and not math.isfinite(value):
        raise ValueError("is not a number that can be measured; write the measured length")
    if abs(value) > _ABSURD_MM:
        raise ValueError("is far too large for a length; check it")
    return _in_range(Fraction(value) * MM_PER_UNIT[unit]) if unit == "in" else float(value)


def inches(mm: float) -> str:
    """A length above zero as it stands on an inch tape, to the nearest sixteenth: "20 1/2 in"."""
    return f"{_sixteenths(mm)} in"


def _sixteenths(mm: float) -> str:
    whole, part = divmod(Fraction(round(mm / float(MM_PER_INCH) * 16), 16), 1)
    words = [str(whole)] if whole or not part else []
    return " ".join([*words, *([str(part)] if part else [])])


def span(low: str, high: str) -> str:
    """Two figures from low to high as printed, "22 to 42"; figures that print alike are said once."""
    return low if low == high else f"{low} to {high}"


def length_words(mm: float, *, unit: Unit) -> str:
    """A length above zero to the nearest mm, in inches first where the sheet is in inches: "2 3/8 in (60 mm)"."""
    return in_shop_unit(f"{mm:.0f} mm", unit=unit)


# One figure or several that share their unit: "12.5 mm", "480 x 300 mm", "11 to 13 mm", "1.2 m", "0.56 m²"; what names
# both units already comes first and is left alone. A figure after "m" is no length: so is the path of a drawing.
_FIGURES = re.compile(
    r"[\d/]+ in \([^()]* mm?\)|[\d.]+ mm? \([^()]* in\)|[\d.]+ sq ft \([^()]* m[²2]\)"
    r"|(?<![\w.,/-])(?:-?\d+(?:\.\d+)?(?: x | × | to |–| and ))*-?\d+(?:\.\d+)? "
    r"(?P<unit>m[²2](?!\w)|mm?\b(?![²/]| \([^()]* in\)| -?\d))"
)
# Square millimetres in a square foot.
SQUARE_FOOT_MM2 = (12.0 * float(MM_PER_INCH)) ** 2
# A range of the tape whose ends read alike.
_ALIKE = re.compile(r"(?<![\d/ ])(-?[\d/ ]*[\d/])(?: to |–)\1(?![\d/ ])")
_FIGURE = re.compile(r"(?<![\d.])-?\d+(?:\.\d+)?|–")
# A sixteenth is the finest line on the tape; less than half of it is read as nothing.
_FINEST_MM = float(MM_PER_INCH) / 32.0


def place_words(x: float, y: float) -> str:
    """A place of a pad seen square on, mm: both figures with their unit, so that a shop's tape has both."""
    # Rounded first: nothing to the left of the centre line by rounding alone.
    return ", ".join(f"{name} = {round(value) + 0.0:.0f} mm" for name, value in (("x", x), ("y", y)))


_TOO_FINE = re.compile(r"\d+\.\d{3,}")


def in_shop_unit(text: str, *, unit: Unit) -> str:
    """A text with its lengths as the shop's tape has them.

    Lengths in mm stay as they are where the sheet is in mm; where it is in inches each is written in inches and
    sixteenths with the mm beside it: "2 3/8 in (60 mm)", "47 1/4 in (1.2 m)", and areas in square feet:
    "6.0 sq ft (0.56 m²)". Rates (N/mm) and lengths finer than the tape stay.
    """
    return _FIGURES.sub(_in_both, text) if unit == "in" else text


def _in_both(found: re.Match[str]) -> str:
    given, unit = found[0], found["unit"]
    if unit is None:
        return given
    figures = given.removesuffix(f" {unit}")
    if unit[-1] in "²2":
        return f"{_FIGURE.sub(_square_feet, figures)} sq ft ({given})"
    scale = 1000.0 if unit == "m" else 1.0
    if all(abs(scale * float(one)) < _FINEST_MM and float(one) for one in _FIGURE.findall(given) if one != "–"):
        return given
    tape = _FIGURE.sub(lambda one: one[0] if one[0] == "–" else _signed(scale * float(one[0])), figures)
    tape = _ALIKE.sub(r"\1", tape)
    # Stock in inches is no round number of mm; nobody measures it finer than tenths.
    beside = _TOO_FINE.sub(lambda one: f"{float(one[0]):.1f}", given) if unit == "mm" else given
    return f"{tape} in ({beside})"


def _square_feet(found: re.Match[str]) -> str:
    """A figure in m² in square feet, about as finely told."""
    if found[0] == "–":
        return found[0]
    places = 2 if len(found[0].partition(".")[2]) > 2 else 1
    return f"{float(found[0]) * 1e6 / SQUARE_FOOT_MM2:.{places}f}"


def _signed(mm: float) -> str:
    return ("-" if mm < 0 and abs(mm) >= _FINEST_MM else "") + _sixteenths(abs(mm))


def _from_text(text: str, unit: Unit) -> Fraction:
    if len(text) > _LONGEST_TEXT:
        raise ValueError(f"is too long for a length; {_ADVICE}")
    plain = _plain(text)
    found = _LENGTH.fullmatch(plain)
    if found is None:
        raise ValueError(_why_unreadable(plain))
    given = found["unit"] or unit
    if given not in MM_PER_UNIT:
        raise ValueError(_why_no_unit(given))
    try:
        amount = Fraction(found["decimal"] or 0) + int(found["whole"] or 0)
        amount += Fraction((found["mixed"] or found["fraction"] or "0").replace(" ", ""))
    except ZeroDivisionError:
        raise ValueError("divides by zero; check the fraction") from None
    return (-amount if found["sign"] == "-" else amount) * MM_PER_UNIT[given]


def _plain(text: str) -> str:
    """Lower case, with typographic fractions, quotes and minus signs turned into the plain ones."""
    spaced = "".join(f" {c}" if unicodedata.category(c) == "No" else c for c in text)
    plain = unicodedata.normalize("NFKC", spaced).lower()
    swaps = {"\u2044": "/", "\u2033": '"', "\u201d": '"', "\u2032\u2032": '"', "\u2212": "-", "''": '"'}
    for odd, usual in swaps.items():
        plain = plain.replace(odd, usual)
    return plain.strip()


def _why_unreadable(text: str) -> str:
    if re.search(r"\d,\d", text):
        return f"has a comma; write decimals with a point: {text.replace(',', '.')}"
    if not text:
        return f"is empty; {_ADVICE}"
    if "'" in text or re.search(r"\d\s*(ft|feet|foot)\b", text):
        return 'is in feet; give inches only: "44 in" for 3 ft 8 in'
    if not any(c.isdigit() for c in text):
        return f"holds no number; {_ADVICE}"
    return f"cannot be read as a length; {_ADVICE}"


def _why_no_unit(unit: str) -> str:
    if unit in ("ft", "feet", "foot"):
        return 'is in feet; give inches only: "44 in" for 3 ft 8 in'
    return f'has the unit "{unit}", which is not known; use mm, cm, m or in'


def _in_range(length: Fraction) -> float:
    if abs(length) > _ABSURD_MM:
        raise ValueError("is far too large for a length; check it")
    return float(length)
