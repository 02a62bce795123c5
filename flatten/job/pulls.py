"""What every panel of a seat was settled at and what its piece pulls with as it is cut, and what is told of both."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from flatten.coverings.covering import Coverings
from flatten.job.pads import Tensions
from flatten.leather.card import Card
from flatten.leather.stretch import stretch
from flatten.leather.tension import Pull, pull_of
from flatten.maps.flat import Flat
from meshes.base.problems import Problem
from meshes.seat.build import BuiltPad, Tension
from meshes.seat.panels import Panel, PanelRole

# A difference between both is told from here on, as a share of what the seat settled at.
SAME_SHARE = 0.15


def settled_at(tension: Tension, part: str) -> float:
    """What a panel of a pad was settled at, N/mm; the mean of all where it is not named."""
    usual = mean_tension(tension)
    return tension.get(part, usual) if isinstance(tension, Mapping) else usual


def mean_tension(tension: Tension) -> float:
    """The tension of a pad's cover in N/mm: the mean of its panels'."""
    return float(np.mean(list(tension.values()))) if isinstance(tension, Mapping) else tension


def pull_of_panel(panel: Panel, flat: Flat, leather: Card | Coverings) -> Pull:
    """How a panel's piece is pulled."""
    surface = panel.surface
    card = leather.card(panel.name) if isinstance(leather, Coverings) else leather
    return pull_of(stretch(surface.vertices, flat.points, surface.triangles), flat.backbone, card)


@dataclass(frozen=True)
class PanelPull:
    """name, part: of a panel; mirrored: name of the one that is its mirror image, pulled alike; settled, reached: N/mm,
    what the pad's surface was settled at there, and what the piece as cut pulls with."""

    name: str
    part: str
    mirrored: str | None
    settled_n_per_mm: float
    reached_n_per_mm: float

    @property
    def off(self) -> float:
        """The difference as a share of what the surface was settled at; 0 where nothing was settled."""
        return self.reached_n_per_mm / self.settled_n_per_mm - 1.0 if self.settled_n_per_mm > 0.0 else 0.0


def panel_pulls(
    pad: BuiltPad, flats: Mapping[str, Flat], leather: Card | Coverings, tension: Tension
) -> list[PanelPull]:
    """What every panel of a pad was settled at and comes to, mirrored ones once; none of a closed cover, whose core
    pulls it and not the cut of its pieces, nor of a flat board, nor of flies, which lie on no padding that is seen."""
    if not pad.pad.on_frame:
        return []
    images = {panel.mirror_of: panel.name for panel in pad.panels if panel.mirror_of is not None}
    return [
        PanelPull(
            panel.name,
            panel.part,
            images.get(panel.name),
            settled_at(tension, panel.part),
            pull_of_panel(panel, flats[panel.name], leather).tension_n_per_mm,
        )
        for panel in pad.panels
        if panel.mirror_of is None and panel.role is not PanelRole.FLY
    ]


def tension_notes(
    pads: Sequence[BuiltPad], flats: Mapping[str, Flat], leather: Card | Coverings, tensions: Tensions
) -> list[Problem]:
    """A warning for every panel whose piece pulls otherwise than its surface was settled at; the worst first."""
    pulls = [row for pad, at in zip(pads, tensions, strict=True) for row in panel_pulls(pad, flats, leather, at)]
    told = sorted((row for row in pulls if abs(row.off) > SAME_SHARE), key=lambda row: -abs(row.off))
    return [_told(row) for row in told]


def _told(row: PanelPull) -> Problem:
    reached, settled = 1000.0 * row.reached_n_per_mm, 1000.0 * row.settled_n_per_mm
    text = (
        f"as cut it pulls with {reached:.0f} N/m{f', {row.mirrored} likewise' if row.mirrored else ''}, the seat was "
        f"settled there at {settled:.0f} N/m; padding there gives a little {'more' if row.off > 0.0 else 'less'} than "
        "told; another tension under [cover], or a leather that gives more, brings both together"
    )
    return Problem("F321", row.name, text, warning=True)


def settled_words(pad: BuiltPad, tension: Tension) -> str:
    """What the panels of a pad were settled at, in whole N/m: one figure, or the span and every panel's."""
    by_figure: dict[int, list[str]] = {}
    for panel in pad.panels:
        by_figure.setdefault(round(1000.0 * settled_at(tension, panel.part)), []).append(panel.part)
    if len(by_figure) < 2:
        return f"{1000.0 * mean_tension(tension):.0f} N/m"
    each = ", ".join(f"{' and '.join(parts)} {figure}" for figure, parts in by_figure.items())
    return f"{min(by_figure)} to {max(by_figure)} N/m ({each})"


def wholes_of(uncut: BuiltPad, cut: BuiltPad) -> dict[str, str]:
    """For every part of a pad's cover the part that it was before panels were cut: itself where none was."""
    owner = np.zeros(len(uncut.surface.triangles), dtype=np.int64)
    for k, panel in enumerate(uncut.panels):
        owner[panel.triangles] = k
    found = {}
    for panel in cut.panels:
        # Triangles that a line parts keep their number on one side of it.
        own = panel.triangles[panel.triangles < len(owner)]
        found[panel.part] = uncut.panels[int(np.bincount(owner[own], minlength=1).argmax())].part
    return found


def tension_of_parts(tension: Tension, wholes: Mapping[str, str]) -> Tension:
    """The tension of a pad whose panels were cut: every part of one was settled at what the whole was."""
    if not isinstance(tension, Mapping):
        return tension
    return {part: settled_at(tension, whole) for part, whole in wholes.items()}


def reached_by_wholes(
    pad: BuiltPad, wholes: Mapping[str, str], flats: Mapping[str, Flat], leather: Card | Coverings
) -> dict[str, float]:
    """What the panels of a pad pull with, N/mm, by part before any was cut: of cut ones the mean over the area of their
    pieces. Of mirrored panels one is asked, so that both are told the same."""
    pulls = {p.name: pull_of_panel(p, flats[p.name], leather) for p in pad.panels if p.mirror_of is None}
    force: dict[str, float] = {}
    area: dict[str, float] = {}
    for panel in pad.panels:
        pull, whole = pulls[panel.mirror_of or panel.name], wholes[panel.part]
        force[whole] = force.get(whole, 0.0) + pull.area_mm2 * pull.tension_n_per_mm
        area[whole] = area.get(whole, 0.0) + pull.area_mm2
    return {whole: max(force[whole] / area[whole], 0.0) for whole in force}
