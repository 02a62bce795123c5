"""What a trimmer wrote down after a dry fit, row by row: stretches taken in or let out, and what was seen."""

from dataclasses import dataclass

from meshes.schema.cover_tables import EACH_LAYER, IN_ALL


@dataclass(frozen=True)
class FitSpan:
    """A stretch of one edge of a piece, between two of its marks, as they are called.

    out_mm: by how much it is let out, below 0 taken in, mm; counted: "each layer" or "in all", over both pieces of a
    seam.
    """

    edge: str
    start: str
    end: str
    out_mm: float
    counted: str = EACH_LAYER

    def each_mm(self, layers: int) -> float:
        """What every one of so many layers is let out by, mm."""
        return self.out_mm / layers if self.counted == IN_ALL else self.out_mm


@dataclass(frozen=True)
class FitNote:
    """One row. round: of fitting, counted from 1; row: its number in the sheet, from 0; piece: as the cut list has it;
    span: what is moved, None where the row only says what was seen; found: one of FOUND; towards: where a drag line
    runs; stretched: fraction by which the leather was found stretched, along or across the backbone; higher_mm: by how
    much the padding is to be higher there, below 0 lower, and taper_mm: over how much that runs out, None for the
    usual; edge, start, end: where that was seen, and between which of its marks, None for all of it; alone: it holds
    for this side of the seat alone, not for its mirror image."""

    round: int
    row: int
    piece: str
    span: FitSpan | None = None
    found: str | None = None
    towards: str | None = None
    stretched: float | None = None
    way: str = "along"
    higher_mm: float | None = None
    edge: str | None = None
    alone: bool = False
    start: str | None = None
    end: str | None = None
    taper_mm: float | None = None
