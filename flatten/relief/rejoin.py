"""Panels and seams of a pad after some have changed: who is sewn to whom, and what every seam and edge is called."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from meshes.base.arrays import locked_ints
from meshes.seat.names import numbered
from meshes.seat.panels import Panel, RimEdge, Seam, own_seam_word


@dataclass(frozen=True, eq=False)
class PanelsAndSeams:
    """Panels whose edges name their seams, and seams whose own names and sides may be out of date."""

    panels: tuple[Panel, ...]
    seams: tuple[Seam, ...]


def joined(draft: PanelsAndSeams) -> tuple[tuple[Panel, ...], tuple[Seam, ...]]:
    """The same panels and seams with sides, names and directions put right.

    A seam runs in the direction of its first panel's edge and is called "first panel / part of the second", numbered
    where two panels meet more than once; a seam of a panel with itself is a dart's or a join's. An edge is called by
    the part beyond it.
    """
    holders: dict[str, list[tuple[Panel, RimEdge]]] = {}
    for panel in draft.panels:
        for edge in panel.rim:
            if edge.seam is not None:
                holders.setdefault(edge.seam, []).append((panel, edge))
    words = numbered([_words(holders[seam.name]) for seam in draft.seams])
    names = dict(zip((seam.name for seam in draft.seams), words, strict=True))
    seams = tuple(_seam(seam, holders[seam.name], names[seam.name]) for seam in draft.seams)
    beyond = {old: [panel for panel, _ in sides] for old, sides in holders.items()}
    panels = tuple(
        replace(panel, rim=tuple(_edge(panel, edge, beyond, names) for edge in panel.rim)) for panel in draft.panels
    )
    return panels, seams


def _words(sides: Sequence[tuple[Panel, RimEdge]]) -> str:
    (a, edge), (b, _) = sides
    return f"{a.name} {own_seam_word(edge.role)}" if a is b else f"{a.name} / {b.part}"


def _seam(seam: Seam, sides: Sequence[tuple[Panel, RimEdge]], name: str) -> Seam:
    (a, edge), (b, _) = sides
    return replace(seam, name=name, a=a.name, b=b.name, vertices=locked_ints(a.vertices[edge.vertices]))


def _edge(panel: Panel, edge: RimEdge, beyond: dict[str, list[Panel]], names: dict[str, str]) -> RimEdge:
    if edge.seam is None:
        return edge
    a, b = beyond[edge.seam]
    other = b if panel is a else a
    return replace(edge, name=own_seam_word(edge.role) if a is b else other.part, seam=names[edge.seam])
