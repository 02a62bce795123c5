"""How two edges are sewn together: kinds of seams, and what a sheet says of one.

Widths are common practice without a source, as trimmers sew leather, and can be set in the sheet. The cross-sections
are those of ISO 4916: class 1 superimposed (plain, topstitched, welted), class 2 lapped.
"""

from dataclasses import dataclass

PLAIN, TOPSTITCHED, DOUBLE, LAPPED, WELTED = "plain", "topstitched", "double topstitched", "lapped", "welted"
SEAM_KINDS = (PLAIN, TOPSTITCHED, DOUBLE, LAPPED, WELTED)
# Kinds in which one of the two pieces lies uppermost: the sheet has to say which.
ONE_SIDED = (TOPSTITCHED, LAPPED)
# What an edge of a piece is called in a seam of two unlike edges.
LAPPED_OVER, LAPPED_UNDER = "lapped over", "lapped under"


@dataclass(frozen=True)
class SewnAs:
    """How a seam is to be sewn: its name, None for all that have no row of their own; its kind; the panel uppermost,
    None where neither is or the sheet leaves it open; whether a lapped upper edge is turned under; the allowance in mm
    where it is not the sheet's usual one."""

    seam: str | None
    kind: str
    over: str | None = None
    turned: bool = False
    allowance_mm: float | None = None
