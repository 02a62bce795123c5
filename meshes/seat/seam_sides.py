"""Both sides of a seam on the seat, and the ease that a sheet asks for between them."""

from collections.abc import Mapping, Sequence

from meshes.base.arrays import IntArray
from meshes.seat.panels import Panel, Seam
from meshes.sheet.whole import Ease


def sides_of(seam: Seam, panels: Mapping[str, Panel]) -> tuple[tuple[str, IntArray], tuple[str, IntArray]]:
    """Both sides of a seam: the panel, and its own numbers of the seam's vertices in the seam's direction.

    The legs of a dart are two edges of one panel. Raises KeyError when a side is missing.
    """
    found = []
    for name, last in ((seam.a, 0), (seam.b, -1)):
        edges = [edge for edge in panels[name].rim if edge.seam == seam.name]
        if not edges:
            raise KeyError(f"{name} has no edge in the seam {seam.name}")
        run = edges[last].vertices
        found.append((name, run if panels[name].vertices[run[0]] == seam.vertices[0] else run[::-1]))
    return found[0], found[1]


def likeness(seam: str, panels: Mapping[str, Panel]) -> frozenset[tuple[str, tuple[int, ...]]]:
    """Where a seam runs on the panels that are drawn: the same for its mirror image and for no other seam.

    Panels and their mirror images number their vertices alike; on a panel that is even itself, of both ways to see the
    run the lower numbers count. Empty where there is no such seam.
    """
    return frozenset(
        (panel.mirror_of or panel.name, _run(panel, edge.vertices))
        for panel in panels.values()
        for edge in panel.rim
        if edge.seam == seam
    )


def _run(panel: Panel, vertices: IntArray) -> tuple[int, ...]:
    ways = [vertices] if panel.mirror is None else [vertices, panel.mirror[vertices]]
    return min(tuple(sorted(way.tolist())) for way in ways)


def ease_of(seam: Seam, panels: Mapping[str, Panel], eases: Sequence[Ease]) -> float:
    """By what share side a of a seam is to be longer than b, below 0 when b is; 0 without ease.

    Ease in a seam holds for its mirror image too.
    """
    sides = [panels[name].mirror_of or name for name in (seam.a, seam.b)]
    mine = likeness(seam.name, panels)
    for ease in eases:
        if ease.longer not in panels or likeness(ease.seam, panels) != mine:
            continue
        longer = panels[ease.longer].mirror_of or ease.longer
        if longer in sides:
            return ease.by if sides[0] == longer else 1.0 / (1.0 + ease.by) - 1.0
    return 0.0
