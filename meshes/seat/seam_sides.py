"""Both sides of a seam on the seat, and the ease that a sheet asks for between them."""

from collections.abc import Mapping, Sequence

from meshes.base.arrays import IntArray
from meshes.seat.panels import Panel, Seam
from meshes.sheet.read import Ease


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


def ease_of(seam: Seam, panels: Mapping[str, Panel], eases: Sequence[Ease]) -> float:
    """By what share side a of a seam is to be longer than b, below 0 when b is; 0 without ease.

    Ease in a seam holds for its mirror image too.
    """
    sides = [panels[name].mirror_of or name for name in (seam.a, seam.b)]
    for ease in eases:
        named = next((other for pair in panels.values() for other in pair.rim if other.seam == ease.seam), None)
        if named is None or ease.longer not in panels:
            continue
        ends = [p.mirror_of or p.name for p in panels.values() if any(e.seam == ease.seam for e in p.rim)]
        longer = panels[ease.longer].mirror_of or ease.longer
        if sorted(set(ends)) == sorted(set(sides)) and longer in sides:
            return ease.by if sides[0] == longer else 1.0 / (1.0 + ease.by) - 1.0
    return 0.0
