"""Both ends of every pleated piece against the seams they are sewn into: as cut, less take-up, less the ease stated.

A part with several pleats is spread to the full rise up to its ends, where the crests lie flat: what the arcs are
longer than their chords is fullness that is eased in between the valley marks. A strip is cut to its taper and needs
none. Lengths mm, along the sew line.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from flatten.leather.pleat_grain import pleats_of
from flatten.maps.flat import Flat
from flatten.pieces.spread import cut_widths, spread
from meshes.base.problems import Problem
from meshes.base.surface import curve_length
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel, RimEdge

# What an end may miss its seam by and still sew flat.
END_MM, END_SHARE = 0.5, 0.005
# Fullness of a sewn end beyond this share shows, however well it is eased in (proposed, no source).
SHOWS_SHARE = 0.015
# An edge that crosses less than this share of a pleat is no end of it.
CROSSED = 0.5


@dataclass(frozen=True)
class PleatEnd:
    """One end of a pleated part. cut: its sew line on the piece; take_up: what the stitch lines take of it; ease: the
    fullness to be eased in; seam: the same seam on the other piece, None at an end that is not sewn."""

    pad: str
    part: str
    edge: str
    pleats: int
    cut_mm: float
    take_up_mm: float
    ease_mm: float
    seam_mm: float | None

    @property
    def finished_mm(self) -> float:
        """What the end comes to when it is stitched and eased."""
        return self.cut_mm - self.take_up_mm - self.ease_mm

    @property
    def off_mm(self) -> float:
        """What it comes to less what it is sewn to; 0 at an end that is not sewn."""
        return 0.0 if self.seam_mm is None else self.finished_mm - self.seam_mm

    @property
    def meets(self) -> bool:
        """Whether the end meets its seam."""
        return abs(self.off_mm) <= max(END_MM, END_SHARE * self.finished_mm)

    @property
    def shows(self) -> bool:
        """Whether the fullness to be eased in will show."""
        return self.seam_mm is not None and self.ease_mm > SHOWS_SHARE * self.finished_mm

    @property
    def told(self) -> str:
        """What the verdict of the piece says of it, empty for an end that comes out well; a warning says what helps."""
        words = []
        if self.shows:
            words.append(f"At the {self.edge} {self.ease_mm:.1f} mm of fullness is eased in and will show.")
        if not self.meets:
            words.append(f"At the {self.edge} its pleats miss the seam by {abs(self.off_mm):.1f} mm.")
        return " ".join(words)


def pleat_ends(pad: BuiltPad, flats: Mapping[str, Flat]) -> tuple[PleatEnd, ...]:
    """Every end of every pleated part of a pad; mirrored parts once."""
    rows = []
    for panel in pad.panels:
        pleats = pleats_of(pad, panel)
        if pleats is None or panel.mirror_of is not None:
            continue
        points = flats[panel.name].points
        apart = spread(pleats, panel, points)
        for rim in panel.rim:
            place = pleats.place[panel.vertices[rim.vertices]]
            if np.ptp(place) < CROSSED:
                continue
            flat, taken, cut = (curve_length(p[rim.vertices]) for p in (points, apart.taken_up, apart.points))
            crossed = round(float(np.ptp(place)))
            row = PleatEnd(
                pad.pad.name,
                panel.part,
                rim.name,
                crossed,
                cut,
                taken - flat,
                cut - taken,
                _seam(pad, panel, rim, flats),
            )
            rows.append(row)
    return tuple(rows)


def cut_by_pleat(pad: BuiltPad, flats: Mapping[str, Flat]) -> dict[int, float]:
    """Width of every pleat on its piece, half way along, by its index from 1, mm.

    Leather that is cut smaller for its pull, or stretched over a crown, is cut that much narrower than arc and take-up.
    """
    found: dict[int, float] = {}
    for panel in pad.panels:
        pleats = pleats_of(pad, panel)
        if pleats is not None:
            apart = spread(pleats, panel, flats[panel.name].points)
            widths = cut_widths(pleats, panel, apart, apart.points)
            found |= {apart.first + k + 1: float(width) for k, width in enumerate(widths) if np.isfinite(width)}
    # A pleat that is cut through has no width of its own on any piece: what it would have whole.
    whole = {figure.index: figure.cut_mm for figure in pad.pleats.figures} if pad.pleats else {}
    return whole | found


def _seam(pad: BuiltPad, panel: Panel, rim: RimEdge, flats: Mapping[str, Flat]) -> float | None:
    """Length of a rim edge's seam on the other piece, along that piece's own edge: the ends of a ring that is cut open
    are one place on the pad and two on the piece."""
    if rim.seam is None:
        return None
    seam = next(seam for seam in pad.seams if seam.name == rim.seam)
    other = next(p for p in pad.panels if p.name == (seam.b if seam.a == panel.name else seam.a))
    points = flats[other.name].points
    return sum(curve_length(points[one.vertices]) for one in other.rim if one.seam == rim.seam and one is not rim)


def ends_told(pads: Sequence[BuiltPad], flats: Mapping[str, Flat]) -> dict[str, list[str]]:
    """By name of a pleated panel: what the verdict of its piece says of its ends, those of which a warning tells."""
    found: dict[str, list[str]] = {}
    for pad in pads:
        panels = {panel.part: panel.name for panel in pad.panels if panel.mirror_of is None}
        for end in pleat_ends(pad, flats):
            if end.told:
                found.setdefault(panels[end.part], []).append(end.told)
    return found


def end_notes(ends: Sequence[PleatEnd]) -> list[Problem]:
    """Warnings for ends that miss their seams, and for fullness that will show."""
    notes = []
    for end in ends:
        where = f"{end.pad} {end.part}, {end.edge}"
        if not end.meets:
            text = f"the pleats come to {end.finished_mm:.1f} mm, the seam to {end.seam_mm:.1f} mm"
            notes.append(
                Problem("F310", where, f"{text}; ease the longer one in between the valley marks", warning=True)
            )
        if end.shows:
            per_pleat = end.ease_mm / max(end.pleats, 1)
            text = f"{end.ease_mm:.1f} mm of fullness to be eased in, {per_pleat:.1f} mm a pleat, will show"
            advice = 'sew strips (construction = "strips"), which are cut to the taper, or make the rise lower'
            notes.append(Problem("F311", where, f"{text}; {advice}", warning=True))
    return notes
