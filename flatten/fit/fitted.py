"""Pieces corrected by the rows of a sheet: a function of drawn pieces and rows alone, the same every time."""

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field, replace

import numpy as np

from flatten.edges.named import Makes
from flatten.fit.asked import DrawnPad, MakeFitProblem, Resolved, RowDone, resolved
from flatten.fit.linked import followers
from flatten.fit.moved import CrossedError, EdgeMove, with_moves
from flatten.fit.one_side import DrawPad, found_rows
from flatten.fit.words import RowTold, done_words, follow_words
from flatten.leather.card import Card
from flatten.maps.flat import Flat
from flatten.pieces.pattern import edge_widths
from flatten.pieces.piece import Piece, PieceKind
from meshes.base.frozen_map import FrozenMap
from meshes.base.problems import Problem, ProblemError
from meshes.base.surface import curve_length
from meshes.fitting.notes import FitNote
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel, RimEdge
from meshes.sheet.whole import Allowance

NO_PAIRS: Mapping[int, AbstractSet[str]] = FrozenMap({})


@dataclass(frozen=True, eq=False)
class FittedPad:
    """A pad's pieces after the fitting, and how far their edges moved, by piece and edge; one_sided: some of them on
    one side alone."""

    drawn: DrawnPad
    pieces: tuple[Piece, ...]
    moves: Mapping[tuple[int, int], EdgeMove]
    one_sided: bool = False


@dataclass(frozen=True, eq=False)
class FittedSeat:
    """Everything a fitting did: the pads, its rows, what is worth knowing of them; before: maps of all panels as they
    were before any line moved; whole: the pads with all their mirrored pairs, also those that were parted for it;
    reshaped: rows about leather and padding, done before any line moved; cards: of leather as it was measured, by
    panel."""

    pads: tuple[FittedPad, ...]
    done: tuple[RowDone, ...]
    notes: tuple[Problem, ...]
    before: Mapping[str, Flat] = field(default_factory=dict)
    whole: tuple[BuiltPad, ...] = ()
    reshaped: tuple[RowTold, ...] = ()
    cards: Mapping[str, Card] = field(default_factory=dict)

    @property
    def told(self) -> tuple[RowTold, ...]:
        """What every row did, in the order of the sheet."""
        rows = [*self.reshaped, *(_row_told(row) for row in self.done)]
        return tuple(sorted(rows, key=lambda row: row.note.row))

    def edge_mm(self, panel: Panel, edge: RimEdge) -> float:
        """Length along an edge of a panel's piece as it is cut, pleats stitched."""
        length = curve_length(self.before[panel.name].points[edge.vertices])
        for fit in self.pads:
            i = next((i for i, piece in enumerate(fit.pieces) if panel.name in piece.panels), None)
            if i is None:
                continue
            source = next(one for one in fit.drawn.pad.panels if one.name == fit.pieces[i].panels[0])
            # A mirror image has the vertex numbers of what it mirrors.
            run = np.sort(edge.vertices)
            k = next(k for k, one in enumerate(source.rim) if np.array_equal(np.sort(one.vertices), run))
            old, new = (curve_length(pieces[i].edges[k].points) for pieces in (fit.drawn.pieces, fit.pieces))
            return length + new - old
        return length


def _row_told(row: RowDone) -> RowTold:
    piece = row.found.drawn.edge(row.found.where)[0]
    return RowTold(row.found.note, row.found.drawn.pad.pad.name, piece.name, tuple(piece.panels), done_words(row))


def fitted(
    pads: Sequence[DrawnPad],
    notes: Sequence[FitNote],
    rules: tuple[Allowance, Makes],
    problem: MakeFitProblem,
    draw: DrawPad,
    apart: Mapping[int, AbstractSet[str]] = NO_PAIRS,
) -> FittedSeat:
    """The pieces of all pads with every row of all rounds done.

    rules: the sheet's allowances, and how seams are sewn; draw: draws a pad anew whose pairs are parted; apart:
    pairs that are parted already, by the number of their pad. Raises ProblemError with every row that cannot be
    followed.
    """
    whole = tuple(drawn.pad for drawn in pads)
    pads, rows, wrong = found_rows(pads, notes, draw, problem, apart)
    found = resolved(rows, problem)
    faults = [*wrong, *found.faults]
    made = []
    for drawn in pads:
        moves = {where: move for (index, where), move in found.moves.items() if index == drawn.index}
        pieces = []
        for i, piece in enumerate(drawn.pieces):
            try:
                pieces.append(_one(drawn, i, piece, moves, rules))
            except CrossedError as crossed:
                number = next(row.found.note.row for row in found.done if _about(row, drawn, i))
                faults.append(problem("F336", number, "edge", f"{piece.name}: {crossed}"))
        alone = any(row.found.note.alone and row.found.drawn.index == drawn.index for row in found.done)
        made.append(FittedPad(drawn, tuple(pieces), moves, alone))
    if faults:
        raise ProblemError(faults)
    told = [replace(fit, pieces=_told(fit, found)) for fit in made]
    return FittedSeat(tuple(told), found.done, tuple(_short_allowances(found, problem)), whole=whole)


def _one(
    drawn: DrawnPad, i: int, piece: Piece, moves: Mapping[tuple[int, int], EdgeMove], rules: tuple[Allowance, Makes]
) -> Piece:
    own = {k: move for (of, k), move in moves.items() if of == i and abs(move.out_mm).max() > 0.0}
    if not own:
        return piece
    panel = next(panel for panel in drawn.pad.panels if panel.name == piece.panels[0])
    allowance, makes = rules
    return with_moves(piece, own, widths=edge_widths(panel, piece, makes, allowance), corner=allowance.corner)


def _about(row: RowDone, drawn: DrawnPad, i: int) -> bool:
    """Whether a row moves an edge of a piece."""
    if row.found.drawn.index != drawn.index:
        return False
    return any(one.where[0] == i for one in followers(drawn.pad, drawn.pieces, row.found.where))


def _told(fit: FittedPad, found: Resolved) -> tuple[Piece, ...]:
    """The pieces with what was done to each."""
    notes: dict[int, list[str]] = {}
    for row in found.done:
        if row.found.drawn.index != fit.drawn.index:
            continue
        for one in followers(fit.drawn.pad, fit.drawn.pieces, row.found.where):
            own = one.where == row.found.where
            words = done_words(row) if own else follow_words(row, one.across)
            known = notes.setdefault(one.where[0], [])
            if words not in known:
                known.append(words)
    return tuple(
        replace(piece, notes=(*piece.notes, *notes[i])) if i in notes else piece for i, piece in enumerate(fit.pieces)
    )


def _short_allowances(found: Resolved, problem: MakeFitProblem) -> list[Problem]:
    """Rows that let out more than the allowance of pieces that are cut already."""
    told = []
    for row in found.done:
        piece, k = row.found.drawn.edge(row.found.where)
        width = piece.edges[k].allowance_mm
        most = max(row.own_mm)
        if most > width > 0.0:
            text = f"lets out {most:.1f} mm, and the allowance there has {width:.1f} mm; a piece cut before has "
            text += "not got that leather: cut it anew"
            told.append(replace(problem("F338", row.found.note.row, "let_out", text), warning=True))
    return told


def followed(piece: Piece, fit: FittedPad, corner: str) -> Piece:
    """A backing or sew foam with the edges of the piece it lies under moved as there; others as they are."""
    i = next((i for i, one in enumerate(fit.drawn.pieces) if one.panels[:1] == piece.panels[:1]), None)
    if i is None or piece.kind is not PieceKind.BACKING or len(piece.edges) != len(fit.drawn.pieces[i].edges):
        return piece
    own = {k: move for (of, k), move in fit.moves.items() if of == i and abs(move.out_mm).max() > 0.0}
    alike = all(len(piece.edges[k].points) == round(float(move.at[-1])) + 1 for k, move in own.items())
    if not own or not alike:
        return piece
    widths = [edge.allowance_mm for edge in piece.edges]
    return with_moves(piece, own, widths=widths, corner=corner)
