"""Pieces with what their outer edges are held by: lines beyond the sew line, and notes along the edges. Flaps over the
ends of a zip are drawn likewise."""

from collections.abc import Sequence
from dataclasses import replace

from flatten.edges.fixings import HeldEdge, held_edge, line_beyond
from flatten.edges.named import Makes
from flatten.held.corner_posts import with_corner_cuts
from flatten.held.flies import LEAST_GRIP_MM, with_fly_notes
from flatten.held.posts import with_post_cuts
from flatten.held.skived import with_skived_joints
from flatten.held.snips import with_snips
from flatten.pieces.piece import Edge, InnerLine, LineKind, Piece
from meshes.base.problems import Problem
from meshes.records.closed import FLAP
from meshes.records.frame import STAPLED
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel, PanelRole, RimEdge
from meshes.sheet.whole import Allowance
from meshes.support.chart import MakeProblem
from meshes.support.line_roles import LineRole


def held_pieces(pad: BuiltPad, pieces: Sequence[Piece], allowance: Allowance, makes: Makes) -> tuple[Piece, ...]:
    """The pieces of a pad with all that follows from how their edges are held."""
    panels = {panel.name: panel for panel in pad.panels}
    found = []
    for piece in pieces:
        panel = panels[piece.panels[0]]
        made = with_post_cuts(pad, panel, _with_lines(pad, panel, with_skived_joints(pad, panel, piece, makes)))
        made = with_corner_cuts(pad, panel, made)
        found.append(with_snips(pad, panel, with_fly_notes(pad, panel, made, allowance)))
    return tuple(found)


def staple_notes(pad: BuiltPad, make_problem: MakeProblem, allowance: Allowance) -> list[Problem]:
    """Staples so far in under a board that the allowance leaves too little beyond them."""
    fixings = pad.pad.fixings
    left = allowance.pulled - fixings.under
    if STAPLED not in dict(fixings.sides).values() or left >= LEAST_GRIP_MM:
        return []
    text = f"staples {fixings.under:g} mm in under the board leave {left:.0f} mm of leather to grip, and a hand needs "
    text += f"{LEAST_GRIP_MM:g}; write pulled = {fixings.under + LEAST_GRIP_MM:g} under [allowance], or a smaller under"
    return [replace(make_problem("G203", ("fixing", "under"), text), warning=True)]


def _with_lines(pad: BuiltPad, panel: Panel, piece: Piece) -> Piece:
    """The piece with its staple lines, sleeves, hems and skived edges."""
    edges: list[Edge] = []
    lines: list[InnerLine] = []
    for rim, edge in zip(panel.rim, piece.edges, strict=True):
        held = _held(pad, panel, rim, edge)
        note = "; ".join(part for part in (edge.note, held.note) if part)
        edges.append(replace(edge, note=note) if held.note else edge)
        for name, away in held.lines:
            lines += [InnerLine(name, run, LineKind.HELD) for run in line_beyond(edge.points, piece.cut, away)]
        for away in held.rows:
            runs = line_beyond(edge.points, piece.cut, away)
            lines += [InnerLine(f"row, {away:g} mm", run, LineKind.ROW) for run in runs]
    return replace(piece, edges=tuple(edges), inner=(*piece.inner, *lines))


def _held(pad: BuiltPad, panel: Panel, rim: RimEdge, edge: Edge) -> HeldEdge:
    """What is drawn and said along one edge of a piece."""
    if (rim.seam is not None and rim.kind != FLAP) or panel.role is PanelRole.FLY:
        return HeldEdge()
    fixings = pad.pad.fixings
    stapled = rim.role is LineRole.TACK and fixings.of(rim.side) == STAPLED
    return held_edge(edge.kind, edge.allowance_mm, under_mm=fixings.under if stapled else None)
