"""What a kind of seam asks of its two edges: allowances, which way they lie, rows of thread, leathers on each other.

Widths are common practice without a source; the sheet can set them. All lengths mm.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from meshes.records.seam_kinds import DOUBLE, LAPPED, LAPPED_OVER, LAPPED_UNDER, ONE_SIDED, TOPSTITCHED, WELTED
from meshes.sheet.whole import Allowance

# A row of topstitching runs so far from the seam; a lapped edge is sewn so far from its rim.
TOPSTITCH_MM = 3.0
# The lower edge of a lapped seam reaches so far under the upper one; a turned upper edge takes so much.
LAP_UNDER_MM, LAP_TURNED_MM = 12.0, 10.0
# More leathers on each other than this are too thick to sew and to sit on: their edges are pared.
MOST_LEATHERS = 3


@dataclass(frozen=True)
class SeamMake:
    """How one seam is sewn. kind: of `SEAM_KINDS`; over: the panel uppermost (and its mirror image), empty where
    neither is; turned: a lapped upper edge is turned under; allowance_mm: None for the usual one."""

    kind: str
    over: frozenset[str] = frozenset()
    turned: bool = False
    allowance_mm: float | None = None

    def rim_kind(self, panel: str) -> str:
        """What the edge of a panel in this seam is called, as kinds of edges are."""
        if self.kind == LAPPED:
            return LAPPED_OVER if panel in self.over else LAPPED_UNDER
        return self.kind if self.kind in (TOPSTITCHED, DOUBLE, WELTED) else "sewn"

    def rows_mm(self, panel: str) -> tuple[float, ...]:
        """Rows of thread to be seen on a panel, by their distance from the seam."""
        if self.kind == DOUBLE or (self.kind in ONE_SIDED and panel in self.over):
            return (TOPSTITCH_MM,)
        return ()

    @property
    def rows_of_thread(self) -> int:
        """Rows of thread in all; a lapped seam has the one that is seen, a topstitched one the seam and its rows."""
        return {TOPSTITCHED: 2, DOUBLE: 3}.get(self.kind, 1)

    @property
    def leathers(self) -> int:
        """How many leathers lie on each other where the finished seam is thickest. A welted seam holds two pieces and
        the strip, doubled over its cord; a topstitched one the upper piece and both allowances; tape is no leather."""
        return {TOPSTITCHED: 3, LAPPED: 2 + self.turned, WELTED: 4}.get(self.kind, 2)

    @property
    def crossed(self) -> int:
        """How many leathers lie on each other where this seam ends in another, the piece that runs on left out: a piece
        and both allowances where they lie to one side, with the strip of a welt; a piece and one where they are
        opened."""
        return {DOUBLE: 2, LAPPED: 2 + self.turned, WELTED: 5}.get(self.kind, 3)

    def note(self, panel: str) -> str:
        """What the cutter has to know along a panel's edge; empty for a plain or an ordinary welted seam."""
        over = panel in self.over
        words = {
            TOPSTITCHED: "both allowances under this, row 3 mm in" if over else "allowance turned over",
            DOUBLE: "opened over tape, a row 3 mm each side",
            LAPPED: f"{'turned edge' if self.turned else 'raw edge'} on top, row 3 mm in" if over else "lies under",
        }.get(self.kind, "")
        return ", ".join(part for part in (words, self.skive) if part)

    @property
    def skive(self) -> str:
        """The word where more leathers meet than can be sewn and sat on."""
        return "skive" if self.leathers > MOST_LEATHERS else ""


# An edge that is cut and left as it is.
BARE = "bare"
USUAL_MAKES: Mapping[str, SeamMake] = {"sewn": SeamMake("plain"), "welted": SeamMake(WELTED)}


def edge_allowance(rim_kind: str, make: SeamMake | None, allowance: Allowance) -> float:
    """Allowance in mm of an edge of this kind; make: of its seam, None where it is not sewn or nothing was asked."""
    given = None if make is None else make.allowance_mm
    if rim_kind == BARE:
        return 0.0
    if rim_kind == LAPPED_OVER:
        return LAP_TURNED_MM if make is not None and make.turned else 0.0
    if rim_kind == LAPPED_UNDER:
        return LAP_UNDER_MM if given is None else given
    if given is not None:
        return given
    return float(getattr(allowance, "sewn" if rim_kind in (TOPSTITCHED, DOUBLE) else rim_kind))
