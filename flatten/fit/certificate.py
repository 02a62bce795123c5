"""Seams measured again after a fitting: both sides edge by edge along the moved lines."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from flatten.fit.asked import DrawnPad, MakeFitProblem, RowDone
from flatten.fit.linked import EdgeNumber, followers
from flatten.fit.moved import EdgeMove, tracked
from flatten.maps.flat import Flat
from flatten.pieces.seams import SeamFigures, figures_of
from meshes.base.arrays import FloatArray, IntArray
from meshes.base.problems import Problem
from meshes.seat.panels import Panel
from meshes.seat.seam_sides import ease_of, sides_of
from meshes.sheet.whole import Ease

# From here on it is said that a moved seam comes out unlike on both sides.
SEAM_UNLIKE_MM = 0.5
# So much of its length is eased in over a seam and does not show (as `ease` in a sheet).
MOST_EASED = 0.015


def seams_after(
    drawn: DrawnPad, moves: Mapping[EdgeNumber, EdgeMove], flats: Mapping[str, Flat], eases: Sequence[Ease]
) -> dict[str, SeamFigures]:
    """The seams of a pad with a moved side, by name. Lengths are those of pieces at finished size, pleats stitched."""
    panels = {panel.name: panel for panel in drawn.pad.panels}
    found = {}
    for seam in drawn.pad.seams:
        sides = sides_of(seam, panels)
        moved = [_steps(drawn, moves, flats, panels, side) for side in sides]
        if any(changed for _, changed in moved):
            run = panels[seam.a].surface.vertices[sides[0][1]]
            seat = np.asarray(np.linalg.norm(np.diff(run, axis=0), axis=1))
            both = moved[0][0], moved[1][0]
            found[seam.name] = figures_of(seam, seat, both, ease_of(seam, panels, eases))
    return found


def _steps(
    drawn: DrawnPad,
    moves: Mapping[EdgeNumber, EdgeMove],
    flats: Mapping[str, Flat],
    panels: Mapping[str, Panel],
    side: tuple[str, IntArray],
) -> tuple[FloatArray, bool]:
    """Lengths (k,) of one side of a seam along the seam, and whether the side was moved."""
    name, run = side
    i = next(i for i, piece in enumerate(drawn.pieces) if name in piece.panels)
    # A mirror image has the vertex numbers of what it mirrors, and its lengths.
    source = panels[drawn.pieces[i].panels[0]]
    points = flats[source.name].points
    k = next(k for k, rim in enumerate(source.rim) if np.array_equal(np.sort(rim.vertices), np.sort(run)))
    move = moves.get((i, k))
    if move is None:
        return np.asarray(np.linalg.norm(np.diff(points[run], axis=0), axis=1)), False
    vertices = source.rim[k].vertices
    steps = tracked(points[vertices], move).steps()
    return (steps if vertices[0] == run[0] and vertices[1] == run[1] else steps[::-1]), True


def unlike_notes(
    before: Sequence[SeamFigures],
    after: Mapping[str, SeamFigures],
    done: Sequence[RowDone],
    problem: MakeFitProblem,
) -> list[Problem]:
    """Where a seam follows a bend, a line moved alike on both sides does not stay alike: the side that bulges gets
    shorter as it is taken in, the other one less or not at all."""
    told = []
    for old in before:
        new = after.get(old.name)
        row = next((row.found.note.row for row in done if _moves_seam(row, old.name)), None)
        if new is None or row is None or abs(new.mismatch_mm - old.mismatch_mm) < SEAM_UNLIKE_MM:
            continue
        told.append(replace(problem("F339", row, "edge", _unlike(new)), warning=True))
    return told


def _unlike(seam: SeamFigures) -> str:
    longer, shorter = (seam.b, seam.a) if seam.mismatch_mm > 0 else (seam.a, seam.b)
    away = abs(seam.mismatch_mm)
    text = f"one side of the seam bends where the other does not: {longer} is now {away:.1f} mm longer than {shorter}; "
    if away <= MOST_EASED * min(seam.length_a_mm, seam.length_b_mm):
        return text + "ease that in between the marks of the stretch"
    return text + f"take {longer} in by that much at a seam across its end, as a row of its own, or move less"


def _moves_seam(row: RowDone, seam: str) -> bool:
    drawn = row.found.drawn
    for one in followers(drawn.pad, drawn.pieces, row.found.where):
        piece, k = drawn.edge(one.where)
        edge = piece.edges[k]
        if seam == edge.seam or (edge.over is not None and seam == edge.over[1]):
            return True
    return False
