"""Which seam of a seat is sewn how: the rows of a sheet held against the seams that its pads have.

A row holds for a seam and its mirror image, since both are cut from one drawing. A row without a name holds for every
seam that has no row of its own and is not welted; where such a seam cannot have a piece uppermost, it stays plain.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from flatten.edges.makes import SeamMake
from meshes.base.problems import Problem, near_name, one_of
from meshes.records.seam_kinds import ONE_SIDED, PLAIN, WELTED, SewnAs
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Division, Panel, RimEdge, Seam
from meshes.seat.seam_sides import likeness
from meshes.sheet.whole import Sheet

Makes = Mapping[str, SeamMake]
"""How every seam that the sheet speaks of is sewn, by its name."""


def makes_of(rows: Sequence[SewnAs], pads: Sequence[BuiltPad]) -> dict[str, SeamMake]:
    """How the seams of the pads are sewn, those only that a row is about."""
    if not rows:
        return {}
    panels = {panel.name: panel for pad in pads for panel in pad.panels}
    own = {likeness(row.seam, panels): row for row in reversed(rows) if row.seam is not None}
    rest = next((row for row in rows if row.seam is None), None)
    found = {}
    for seam in (seam for pad in pads for seam in pad.seams):
        row = own.get(likeness(seam.name, panels))
        if row is None and rest is not None and not seam.welt:
            row = rest if rest.kind not in ONE_SIDED or not alike(seam, panels) else None
        if row is not None:
            found[seam.name] = _make(row, seam, panels)
    return found


def _make(row: SewnAs, seam: Seam, panels: Mapping[str, Panel]) -> SeamMake:
    over: frozenset[str] = frozenset()
    if row.kind in ONE_SIDED:
        sides = [panels[seam.a], panels[seam.b]]
        wanted = panels.get(row.over or "")
        # Left open, the piece nearer the middle of the pad lies uppermost.
        top = min(sides, key=lambda panel: panel.role) if wanted is None else wanted
        source = top.mirror_of or top.name
        over = frozenset(panel.name for panel in sides if (panel.mirror_of or panel.name) == source)
    return SeamMake(row.kind, over, row.turned, row.allowance_mm)


def alike(seam: Seam, panels: Mapping[str, Panel]) -> bool:
    """Whether both sides of a seam are cut from one drawing: legs of a dart, a piece and its own mirror image."""
    one, two = panels[seam.a], panels[seam.b]
    return (one.mirror_of or one.name) == (two.mirror_of or two.name)


def sewn_so(pads: Sequence[BuiltPad], makes: Makes) -> tuple[BuiltPad, ...]:
    """The pads, with the edges of their panels and their seams as they are made."""
    return tuple(pad if not makes else replace(pad, division=_division(pad.division, makes)) for pad in pads)


def _division(division: Division, makes: Makes) -> Division:
    panels = tuple(
        replace(panel, rim=tuple(_rim(edge, panel.name, makes.get(edge.seam or "")) for edge in panel.rim))
        for panel in division.panels
    )
    seams = tuple(
        replace(seam, welt=makes[seam.name].kind == WELTED) if seam.name in makes else seam for seam in division.seams
    )
    return replace(division, panels=panels, seams=seams)


def _rim(edge: RimEdge, panel: str, make: SeamMake | None) -> RimEdge:
    return edge if make is None else replace(edge, kind=make.rim_kind(panel))


def seam_faults(sheet: Sheet, pads: Sequence[BuiltPad]) -> list[Problem]:
    """Rows about a seam or a panel that there is not, about one seam twice, or that one drawing cannot follow."""
    panels = {panel.name: panel for pad in pads for panel in pad.panels}
    seams = {seam.name: seam for pad in pads for seam in pad.seams}
    faults = []
    seen: dict[object, int] = {}
    for k, row in enumerate(sheet.seams):
        key = None if row.seam is None else likeness(row.seam, panels) or row.seam
        first = seen.setdefault(key, k)
        told = _told(row, seams, panels) if row.seam is not None else None
        if told is None and first != k:
            told = "seam", f"row {first + 1} (line {sheet.line_of('seam', first)}) is about the same seam; keep one"
        if told is not None:
            faults.append(sheet.problem("F305", ("seam", k, told[0]), told[1]))
    return faults


def _told(row: SewnAs, seams: Mapping[str, Seam], panels: Mapping[str, Panel]) -> tuple[str, str] | None:
    """The key that is wrong and what is wrong with it."""
    seam = seams.get(row.seam or "")
    if seam is None:
        near = near_name(row.seam or "", seams)
        advice = f'did you mean "{near}"?' if near else f"seams are {', '.join(seams) or 'none'}"
        return "seam", f'there is no seam "{row.seam}"; {advice}'
    if row.kind not in ONE_SIDED:
        return None
    if alike(seam, panels):
        both = f"both sides of {seam.name} are cut from one drawing, so neither can lie uppermost"
        return "kind", f'{both}, found "{row.kind}"; write "{PLAIN}" or "double topstitched"'
    if row.over is not None and row.over not in (seam.a, seam.b):
        return "over", f'"{row.over}" is no side of this seam; write {one_of((seam.a, seam.b))}'
    return None
