"""Thread and needles: how much a seam takes, by its length, its thickness and its stitches.

A lockstitch (301) takes C = 2 + 2 T S inches of thread for each inch of seam, with the thickness T in inches and S
stitches an inch (textilecalculations.com). The ratio of 2.5 that is told for cloth is 15 to 36 per cent short in
leather.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from flatten.edges.makes import USUAL_MAKES
from flatten.job.pipeline import Job
from flatten.leather.card import Card
from flatten.pieces.piece import LineKind
from meshes.base.surface import curve_length
from meshes.base.units import MM_PER_INCH

# Stitches an inch in leather (leatherworker.net, US Navy course: 5 to 6), what is wasted (10 to 20 %), and what is
# sewn to and fro at each end (TM 9-2350-247-34: 1 in).
STITCHES_PER_INCH, THREAD_WASTE, BACK_STITCH_MM = 6.0, 0.15, 25.4
# A row of a pleat goes through leather, filler and backing: pressed flat, about as thick as two leathers (common
# practice, no source).
STITCHED_LAYERS = 2
# Thread, needle and the thickest leather it is used for, mm (leatherworker.net; thicknesses common practice, no
# source).
THREADS = ((1.0, "69", "Nm 110"), (1.5, "92", "Nm 120-125"), (8.0, "138", "Nm 140-160"))


def lockstitch_ratio(thickness_mm: float, stitches_per_inch: float = STITCHES_PER_INCH) -> float:
    """Length of thread for a length of seam. thickness_mm: of all that is sewn through. Raises ValueError for what
    has no thickness."""
    if thickness_mm <= 0.0 or stitches_per_inch <= 0.0:
        raise ValueError(f"a seam has a thickness and stitches, found {thickness_mm:g} mm and {stitches_per_inch:g}")
    return 2.0 + 2.0 * thickness_mm / float(MM_PER_INCH) * stitches_per_inch


def thread_for(thickness_mm: float) -> tuple[str, str]:
    """Thread size and needle for a leather of a thickness."""
    return next((thread, needle) for most, thread, needle in THREADS if thickness_mm <= most)


@dataclass(frozen=True)
class ThreadUse:
    """Thread of a job, mm: seams and rows as sewn, thread with waste, by size of thread; stitches_per_inch it was
    reckoned with."""

    seams_mm: float
    thread_mm: Mapping[str, float]
    stitches_per_inch: float = STITCHES_PER_INCH


def thread_use(job: Job) -> ThreadUse:
    """Thread for every sewn seam and every row beside one, with back stitches at both ends and waste; a welt is sewn on
    before its seam is closed; and for the rows of stitched pleats, through leather and what backs it."""
    sewn, by_size = 0.0, dict[str, float]()

    def take(card: Card, long: float, rows: int, leathers: int) -> None:
        nonlocal sewn
        ratio = lockstitch_ratio(leathers * card.thickness_mm)
        size = thread_for(card.thickness_mm)[0]
        sewn += rows * long
        by_size[size] = by_size.get(size, 0.0) + rows * long * ratio * (1.0 + THREAD_WASTE)

    for seam in job.seams:
        make = job.makes.get(seam.name, USUAL_MAKES["welted" if seam.welt else "sewn"])
        card = max((job.coverings.card(name) for name in (seam.a, seam.b)), key=lambda one: one.thickness_mm)
        long = max(seam.length_a_mm, seam.length_b_mm) + 4.0 * BACK_STITCH_MM
        take(card, long, make.rows_of_thread + (1 if seam.welt else 0), make.leathers)
    for piece in job.pieces:
        for line in piece.inner:
            if line.kind is LineKind.STITCH:
                long = curve_length(line.points) + 4.0 * BACK_STITCH_MM
                take(job.coverings.card(piece.panels[0]), long, piece.cut_count + piece.mirrored_count, STITCHED_LAYERS)
    return ThreadUse(sewn, by_size)
