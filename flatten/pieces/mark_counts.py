"""How many marks stand on either side of a seam, counted on the pieces as they are drawn."""

from collections.abc import Mapping, Sequence

import shapely
from shapely.geometry import LineString

from flatten.pieces.piece import MarkKind, Piece
from meshes.seat.panels import Panel, Seam

# A mark stands on the sew line it belongs to, up to rounding.
ON_LINE_MM = 0.05


def mark_counts(
    seams: Sequence[Seam], panels: Mapping[str, Panel], pieces: Sequence[Piece]
) -> dict[str, tuple[int, int]]:
    """By seam name the marks on its first and on its second side, corners left out.

    Of a mirrored pair one piece is drawn; its mirror image carries the same marks. 0 where a side has no piece.
    """
    drawn = {name: piece for piece in pieces for name in piece.panels}
    found = {}
    for seam in seams:
        first = _on_side(panels[seam.a], seam, 0, panels, drawn)
        second = _on_side(panels[seam.b], seam, -1, panels, drawn)
        found[seam.name] = (first, second)
    return found


def _on_side(panel: Panel, seam: Seam, which: int, panels: Mapping[str, Panel], drawn: Mapping[str, Piece]) -> int:
    """Marks on a panel's edge in a seam; which: 0 the first such edge, -1 the last, as a dart has two."""
    own = [edge for edge in panel.rim if edge.seam == seam.name]
    piece = drawn.get(panel.name)
    if not own or piece is None:
        return 0
    run = set(own[which].vertices.tolist())
    source = panels[panel.mirror_of] if panel.mirror_of else panel
    # A mirror image has the numbers of what it mirrors.
    names = [edge.seam for edge in source.rim if set(edge.vertices.tolist()) == run]
    edges = [edge for edge in piece.edges if names and edge.seam == names[0]]
    if not edges:
        return 0
    line = LineString(edges[which].points)
    ends = [shapely.Point(line.coords[k]) for k in (0, -1)]
    at = [shapely.Point(mark.at) for mark in piece.marks if mark.kind is not MarkKind.SNIP]
    on = [p for p in at if line.distance(p) <= ON_LINE_MM and min(p.distance(end) for end in ends) > ON_LINE_MM]
    return len(on)
