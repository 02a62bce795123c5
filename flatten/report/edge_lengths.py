"""Every edge of the finished seat once: how long it is on paper, and on the seat, where the pull stretches it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from flatten.edges.makes import BARE
from flatten.job.pipeline import Job
from flatten.leather.pleat_grain import pleats_of
from flatten.pieces.spread import spread_points
from meshes.base.arrays import FloatArray
from meshes.base.surface import curve_length
from meshes.records.seam_kinds import PLAIN
from meshes.seat.build import BuiltPad
from meshes.seat.names import told_apart
from meshes.seat.panels import Panel, RimEdge

# Pleats that are still open make an edge longer by at least this, else there are none across it.
OPEN_PLEATS_MM = 0.05


@dataclass(frozen=True)
class EdgeLength:
    """One edge, lengths in mm. kind: the kind of its seam, "sewn" for a plain one, or how an edge that is not sewn is
    held; paper_mm: along the sew line of its pieces, pleats stitched; open_mm: of the piece on which it is longest
    before its pleats are stitched; seat_mm: on the seat."""

    pad: str
    name: str
    kind: str
    paper_mm: float
    open_mm: float
    seat_mm: float

    @property
    def shorter(self) -> float:
        """By which share it is cut shorter than it lies on the seat: what the pull takes up."""
        return 1.0 - self.paper_mm / self.seat_mm

    @property
    def crossed_by_pleats(self) -> bool:
        """Whether it measures more on paper until its pleats are stitched."""
        return self.open_mm - self.paper_mm > OPEN_PLEATS_MM


def edge_lengths(job: Job) -> tuple[EdgeLength, ...]:
    """All edges of all pads: seams first, then edges that are not sewn. An edge that a dart parts is two of them, told
    apart by numbers."""
    rows: list[EdgeLength] = []
    for pad in job.pads:
        opened = {panel.name: _opened(job, pad, panel) for panel in pad.panels}
        found = [*_seams(job, pad, opened), *_loose(job, pad, opened)]
        names = told_apart([row.name for row in found])
        rows += [
            EdgeLength(row.pad, name, row.kind, row.paper_mm, row.open_mm, row.seat_mm)
            for name, row in zip(names, found, strict=True)
        ]
    return tuple(rows)


def _seams(job: Job, pad: BuiltPad, opened: Mapping[str, FloatArray]) -> Iterator[EdgeLength]:
    figures = {seam.name: seam for seam in job.seams}
    panels = {panel.name: panel for panel in pad.panels}
    for seam in pad.seams:
        row = figures.get(seam.name)
        if row is None:
            continue
        longest = max(row.length_a_mm, row.length_b_mm)
        both = [
            length + _opening(job, panels[name], rim, opened)
            for name, length in ((seam.a, row.length_a_mm), (seam.b, row.length_b_mm))
            for rim in panels[name].rim
            if rim.seam == seam.name
        ]
        make = job.makes.get(seam.name)
        kind = "welted" if seam.welt else make.kind if make is not None and make.kind != PLAIN else "sewn"
        yield EdgeLength(pad.pad.name, seam.name, kind, longest, max(both, default=longest), row.seat_mm)


def _loose(job: Job, pad: BuiltPad, opened: Mapping[str, FloatArray]) -> Iterator[EdgeLength]:
    for panel in pad.panels:
        for rim in panel.rim:
            if rim.seam is None and rim.kind != BARE:
                paper = job.paper_mm(panel, rim)
                apart = paper + _opening(job, panel, rim, opened)
                seat = curve_length(pad.surface.vertices[panel.vertices[rim.vertices]])
                yield EdgeLength(pad.pad.name, f"{panel.name} {rim.name}", rim.kind, paper, apart, seat)


def _opening(job: Job, panel: Panel, rim: RimEdge, opened: Mapping[str, FloatArray]) -> float:
    """By how much an edge is longer before its pleats are stitched, mm."""
    stitched = curve_length(job.flats[panel.name].points[rim.vertices])
    return curve_length(opened[panel.name][rim.vertices]) - stitched


def _opened(job: Job, pad: BuiltPad, panel: Panel) -> FloatArray:
    """A panel's piece (n, 2) before its pleats are stitched."""
    points, pleats = job.flats[panel.name].points, pleats_of(pad, panel)
    return points if pleats is None else spread_points(pleats, panel, points)
