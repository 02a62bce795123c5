"""In which order seams are sewn, and what is done at each.

A seam that ends in another is sewn before it: first what parts a panel (darts, joins), then bands to each other, then
the parts of the face, then bands to the face, then flies, and at last what is sewn along outer edges. Rows are sewn
while the piece still lies flat, right after their seam.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from flatten.edges.fixings import FIXED_HOW, SEWN_ALONG
from flatten.edges.makes import USUAL_MAKES, SeamMake
from flatten.edges.named import Makes
from meshes.records.seam_kinds import DOUBLE, LAPPED, TOPSTITCHED, WELTED
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel, PanelRole, Seam


@dataclass(frozen=True)
class SewingStep:
    """One seam in its turn: the pad, the seam, its kind, what is done, rows of thread, leathers on each other."""

    pad: str
    seam: str
    kind: str
    words: str
    rows: int
    leathers: int


def sewing_order(pads: Sequence[BuiltPad], makes: Makes) -> tuple[SewingStep, ...]:
    """Every seam of the pads in the order of sewing, pad by pad."""
    steps = []
    for pad in pads:
        panels = {panel.name: panel for panel in pad.panels}
        for seam in sorted(pad.seams, key=lambda seam: seam_stage(seam, panels)):
            make = makes.get(seam.name, USUAL_MAKES["welted" if seam.welt else "sewn"])
            words = _words(make, [panels[name].part for name in (seam.a, seam.b)], _over(make, panels))
            steps.append(SewingStep(pad.pad.name, seam.name, make.kind, words, make.rows_of_thread, make.leathers))
        steps += _outer_edges(pad)
    return tuple(steps)


def _outer_edges(pad: BuiltPad) -> list[SewingStep]:
    """What is sewn along edges that are held by a wire, a cord or a clip."""
    return [
        SewingStep(pad.pad.name, f"{panel.name} {edge.name}", FIXED_HOW[edge.kind], SEWN_ALONG[edge.kind], 1, 2)
        for panel in pad.panels
        for edge in panel.rim
        if edge.seam is None and edge.kind in SEWN_ALONG
    ]


def seam_stage(seam: Seam, panels: Mapping[str, Panel]) -> int:
    """When a seam has its turn: 0 a dart, 1 between parts alike, 2 in the face, 3 of a band to it, 4 of a fly."""
    roles = {panels[name].role for name in (seam.a, seam.b)}
    if seam.a == seam.b:
        return 0
    if len(roles) == 1:
        return 1
    if PanelRole.FLY in roles:
        return 4
    return 3 if PanelRole.BAND in roles else 2


def _over(make: SeamMake, panels: Mapping[str, Panel]) -> str:
    return next((panels[name].part for name in sorted(make.over) if name in panels), "")


def _words(make: SeamMake, sides: Sequence[str], over: str) -> str:
    words = {
        TOPSTITCHED: f"sew, turn both allowances under {over}, sew a row on {over} 3 mm from the seam",
        DOUBLE: "sew, open the allowances, lay tape under them, sew a row 3 mm each side",
        LAPPED: f"{'turn the edge of ' + over + ' under and glue it, ' if make.turned else ''}lay {over} to the line, "
        f"sew 3 mm inside its edge",
        WELTED: f"sew the welt to {sides[0]} first, then close the seam close to the cord",
    }.get(make.kind, "sew")
    return f"{words}; skive the edges, {make.leathers} leathers meet" if make.skive else words
