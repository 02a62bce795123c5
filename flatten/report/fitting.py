"""The report page's part about fitting: what is pulled or closed where, by how much, and how hard."""

from markupsafe import Markup

from flatten.edges.fixings import FIXED_HOW, PULLED
from flatten.job.pipeline import Job
from flatten.job.pulls import pulls_told
from flatten.report.edge_lengths import edge_lengths
from flatten.report.markup import fixed, item_list, joined_up, part, table
from meshes.base.files import number
from meshes.base.units import span

# How much more pull leather takes for one stretch when it is pulled both ways at once, at the most: 1 / (1 - v) for a
# sheet alike in all directions, with a Poisson's ratio v of .45 as leather's is about (C and M).
BOTH_WAYS_MORE = 1.8
BOTH_WAYS = (
    "What the leather gives and how hard it pulls come from strips, pulled one way. On the seat it is pulled both ways "
    f"at once: the same stretch then takes up to {number(BOTH_WAYS_MORE, 1)} times the pull. Pull by the marks, not by "
    "feel."
)


def fitting_section(job: Job) -> Markup:
    """Edges that are fixed last, each with its length on paper and on the seat, and what to go by."""
    rows = [
        [
            f"{edge.pad}: {edge.name.removeprefix(f'{edge.pad} ')}",
            "pulled and fixed" if edge.kind == PULLED else FIXED_HOW[edge.kind],
            fixed(edge.paper_mm),
            fixed(edge.seat_mm),
            fixed(edge.seat_mm - edge.paper_mm),
        ]
        for edge in edge_lengths(job)
        if edge.kind in FIXED_HOW
    ]
    head = ["edge", "how", "on paper mm|", "on the seat mm|", "pulled longer by mm|"]
    notes = [
        "Start at the centre marks and go outward both ways; corners last. Cut the first cover in cheap cloth.",
        shorter_words(job),
        _pull_words(job),
        BOTH_WAYS,
    ]
    shown = table(head, rows, caption="Edges that are fixed on the seat", unit=job.sheet.unit) if rows else Markup("")
    return joined_up([item_list([note for note in notes if note]), shown]) if rows else part("paragraph", notes[0])


def shorter_words(job: Job) -> str:
    """By how much edges are cut shorter than they lie on the seat, wherever lengths are compared."""
    shares = [edge.shorter for edge in edge_lengths(job)]
    if not shares:
        return ""
    low, high = (f"{100.0 * share:.1f}" for share in (min(shares), max(shares)))
    return (
        f"Edges are cut {span(low, high)} % shorter than they lie on the seat: the pull makes up the difference, so do "
        "not add it back."
    )


def _pull_words(job: Job) -> str:
    """The pull that the pieces carry, as one span."""
    told = pulls_told(job.pads, job.flats, job.coverings)
    reached = [1000.0 * told[name] for name in {piece.panels[0] for piece in job.pieces}]
    low, high = min(reached), max(reached)
    force = span(f"{low:.0f}", f"{high:.0f}")
    weight = span(f"{low / 98.1:.1f}", f"{high / 98.1:.1f}")
    return f"Pulled down to its marks the cover carries {force} N per metre of width, {weight} kg on every 100 mm."
