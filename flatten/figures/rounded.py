"""Figures as a report writes them: rounded to what can be measured, and never anything but a number."""

import numpy as np

FRACTION_PLACES, LENGTH_PLACES = 6, 3


def rounded(value: float, places: int) -> float:
    """A figure to so many decimals. Raises ValueError when it is no finite number."""
    if not np.isfinite(value):
        raise ValueError(f"the report has no room for {value}")
    # Adding zero turns "-0.0" into "0.0".
    return round(float(value), places) + 0.0


def length(value: float) -> float:
    """A length in mm, an area in mm2 or seconds, to a thousandth."""
    return rounded(value, LENGTH_PLACES)


def fraction(value: float | None) -> float | None:
    """A share of one to a millionth; None stays None."""
    return None if value is None else rounded(value, FRACTION_PLACES)
