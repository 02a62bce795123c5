"""Welt and trim: how wide a strip covers a cord, how many strips make a length, and lengths along any named edge.

A strip lies round the cord and leaves an allowance on both sides: its width is 2 a + pi (d + t) with the allowance a,
the cord's diameter d and the covering's thickness t (the middle of the covering runs round at d + t). Strips are cut
along the hide or roll and joined on the bias, which takes one width of the strip at every join. Lengths mm.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

# Cord usual in furniture: 5/32 in (upholsteryresource, a trade page).
USUAL_CORD_MM = 5.0 / 32.0 * 25.4
# Round a corner welt is clipped and eased: so much more for every corner (common practice, no source).
CORNER_MM = 10.0
# What is left at both ends to join or tuck them in (common practice, no source).
ENDS_MM = 50.0


def strip_width(cord_mm: float, covering_mm: float, allowance_mm: float) -> float:
    """Width of a strip for a cord. Raises ValueError for a cord or covering of no thickness."""
    if cord_mm <= 0.0 or covering_mm <= 0.0 or allowance_mm < 0.0:
        raise ValueError(f"a cord and its covering have a thickness, found {cord_mm:g} and {covering_mm:g} mm")
    return 2.0 * allowance_mm + math.pi * (cord_mm + covering_mm)


def strips_needed(length_mm: float, strip_mm: float, *, join_mm: float = 0.0) -> int:
    """How many strips of one length make a length of welt; join_mm: what each join takes.

    Raises ValueError when a strip is no longer than its join.
    """
    if strip_mm <= join_mm:
        raise ValueError(f"strips of {strip_mm:g} mm are too short to be joined")
    # One strip without joins, every further one loses a join.
    return max(math.ceil((length_mm - join_mm) / (strip_mm - join_mm) - 1e-9), 1)


@dataclass(frozen=True)
class WeltPlan:
    """Welt of one kind: length as sewn and as cut with corners and ends; strips of strip_mm length, joined on the
    bias joins times."""

    sewn_mm: float
    cut_mm: float
    width_mm: float
    strip_mm: float
    strips: int
    joins: int


def welt_plan(
    lengths_mm: Mapping[str, float],
    corners: Mapping[str, int],
    *,
    cord_mm: float = USUAL_CORD_MM,
    covering_mm: float,
    allowance_mm: float,
    strip_mm: float,
) -> WeltPlan:
    """Strips for all welted seams: lengths as sewn by seam, and how many corners each goes round."""
    width = strip_width(cord_mm, covering_mm, allowance_mm)
    sewn = sum(lengths_mm.values())
    cut = sewn + CORNER_MM * sum(corners.get(name, 0) for name in lengths_mm) + ENDS_MM * len(lengths_mm)
    # A bias join runs at 45 degrees across the strip: it takes one width.
    strips = strips_needed(cut, strip_mm, join_mm=width)
    return WeltPlan(sewn, cut, width, strip_mm, strips, strips - 1)
