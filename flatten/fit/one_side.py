"""Rows about one side alone: mirrored pairs that such a row moves are cut as two pieces, each with a name of its own.

A pair is one drawing, and what is sewn to either side follows; so a row about it moves both sides of the seat. A row
that is about one side alone is looked up on the pieces with that pair parted, and then moves what is sewn to that side
only. All other rows are looked up on the pieces as they are without it, and moved on both sides.
"""

from collections.abc import Callable, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace

import numpy as np

from flatten.fit.asked import DrawnPad, FoundRow, MakeFitProblem, found_row, piece_of_row
from flatten.fit.linked import EdgeNumber, Follower, followers
from flatten.fit.places import NamedPlace, edge_names, places_on
from flatten.pieces.piece import Piece
from meshes.base.problems import Problem
from meshes.fitting.notes import FitNote
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel


@dataclass(frozen=True)
class SidePlaces:
    """What an edge and its places are called on the other piece of a pair: places in the order of those drawn."""

    edge: str
    places: tuple[str, ...]


DrawPad = Callable[[int, BuiltPad], DrawnPad]
"""Draws the pieces of a pad, which has its number."""


def found_rows(
    pads: Sequence[DrawnPad],
    notes: Sequence[FitNote],
    draw: DrawPad,
    problem: MakeFitProblem,
    apart: Mapping[int, AbstractSet[str]],
) -> tuple[list[DrawnPad], list[FoundRow], list[Problem]]:
    """The pads as they are drawn with pairs parted, the rows on them, and what is wrong with rows; apart: pairs by the
    number of their pad that are parted already."""
    faults = [fault for note in notes if (fault := _both_named(pads, note, problem)) is not None]
    if faults:
        return list(pads), [], faults
    begun = [draw(k, without_images(one.pad, apart[k])) if apart.get(k) else one for k, one in enumerate(pads)]
    parted = _parted(begun, [note for note in notes if note.alone], draw, problem)
    rows: list[FoundRow] = []
    for note in notes:
        found = found_row(parted if note.alone else pads, note, problem)
        if isinstance(found, Problem):
            faults.append(found)
        elif found is not None:
            same = parted[found.drawn.index] is found.drawn
            rows += [found] if same else _on_both_sides(found, parted[found.drawn.index])
    return parted, rows, faults


def _both_named(pads: Sequence[DrawnPad], note: FitNote, problem: MakeFitProblem) -> Problem | None:
    """A row about one side alone that names both pieces of a pair."""
    there = piece_of_row(pads, note, problem) if note.alone else None
    if there is None or isinstance(there, Problem):
        return None
    piece = there[0].pieces[there[1]]
    own = [name.casefold() for panel in piece.panels for name in (panel, panel.removeprefix(f"{piece.pad} "))]
    if len(piece.panels) < 2 or note.piece.casefold() in own:
        return None
    text = f'"{note.piece}" is a pair, and the row is about one of it alone; write "{piece.panels[0]}" or '
    return problem("F343", note.row, "piece", f'{text}"{piece.panels[1]}"')


def _parted(
    pads: Sequence[DrawnPad], notes: Sequence[FitNote], draw: DrawPad, problem: MakeFitProblem
) -> list[DrawnPad]:
    """The pads with every pair parted that a row about one side moves, or that follows it."""
    now = list(pads)
    while True:
        wanted: dict[int, set[str]] = {}
        for note in notes:
            there = piece_of_row(now, note, problem)
            if isinstance(there, Problem):
                continue
            drawn, i = there
            numbers = {i}
            row = found_row(now, note, problem) if len(drawn.pieces[i].panels) < 2 else None
            if isinstance(row, FoundRow):
                numbers |= {one.where[0] for one in followers(drawn.pad, drawn.pieces, row.where)}
            pairs = {drawn.pieces[k].panels[0] for k in numbers if len(drawn.pieces[k].panels) > 1}
            wanted.setdefault(drawn.index, set()).update(pairs)
        if not any(wanted.values()):
            return now
        now = [draw(k, without_images(one.pad, wanted[k])) if wanted.get(k) else one for k, one in enumerate(now)]


def without_images(pad: BuiltPad, sources: AbstractSet[str]) -> BuiltPad:
    """The pad with the mirror images of some panels as panels of their own."""
    panels = tuple(replace(p, mirror_of=None) if p.mirror_of in sources else p for p in pad.panels)
    return replace(pad, division=replace(pad.division, panels=panels))


def _on_both_sides(row: FoundRow, parted: DrawnPad) -> list[FoundRow]:
    """A row as found on the pieces with their pairs, on the pieces with some of them parted: once for every group of
    edges that follow each other there."""
    whole = followers(row.drawn.pad, row.drawn.pieces, row.where)
    rows: list[FoundRow] = []
    taken: set[EdgeNumber] = set()
    for one in sorted(whole, key=lambda follower: (follower.across, follower.where != row.where)):
        for where, back in _parts_of(one.where, row.drawn, parted):
            if where in taken:
                continue
            taken |= {other.where for other in followers(parted.pad, parted.pieces, where)}
            rows.append(_moved_to(row, one, parted, where, back=back))
    return rows


def _parts_of(where: EdgeNumber, whole: DrawnPad, parted: DrawnPad) -> list[tuple[EdgeNumber, bool]]:
    """Where an edge of a piece lies on the pieces with pairs parted, and whether it runs the other way there."""
    piece, k = whole.edge(where)
    panels = {panel.name: panel for panel in parted.pad.panels}
    run = panels[piece.panels[0]].rim[k].vertices
    found = []
    for name in piece.panels:
        i = next(i for i, other in enumerate(parted.pieces) if name in other.panels)
        if parted.pieces[i].panels[0] != name:
            continue
        # A mirror image has the vertex numbers of what it mirrors.
        twin = next(m for m, edge in enumerate(panels[name].rim) if set(edge.vertices) == set(run))
        found.append(((i, twin), not np.array_equal(panels[name].rim[twin].vertices, run)))
    return found


def _moved_to(row: FoundRow, one: Follower, parted: DrawnPad, where: EdgeNumber, *, back: bool) -> FoundRow:
    """The row about an edge that follows its own."""
    piece, k = parted.edge(where)
    places, last = places_on(piece, k), float(len(one.segment))

    def placed(end: NamedPlace) -> NamedPlace:
        at = one.from_first(end.at)
        at = last - at if back else at
        return min(places, key=lambda place: abs(place.at - at))

    start, end = (placed(end) for end in row.ends)
    span = row.note.span
    assert span is not None
    named = replace(span, edge=edge_names(piece)[k], start=start.name, end=end.name)
    note = replace(row.note, piece=f"{piece.pad} {piece.name}", span=named)
    low, high = sorted((start, end), key=lambda place: place.at)
    return FoundRow(note, parted, where, places, (low, high))


def other_sides(pad: BuiltPad, pieces: Sequence[Piece], alone: Sequence[Piece]) -> dict[str, list[SidePlaces]]:
    """What the edges of mirrored pairs and their places are called on the piece that is drawn over, by the panel that
    is drawn, edge by edge, as a row about that piece alone names them. pieces: of the pad, with their pairs; alone: the
    same with pairs parted."""
    panels = {panel.name: panel for panel in pad.panels}
    by_panel = {piece.panels[0]: piece for piece in alone}
    found: dict[str, list[SidePlaces]] = {}
    for piece in (one for one in pieces if len(one.panels) > 1):
        drawn, over = (panels[name] for name in piece.panels)
        other = by_panel[over.name]
        found[drawn.name] = [_called_over(piece, k, drawn, over, other) for k in range(len(piece.edges))]
    return found


def _called_over(piece: Piece, k: int, drawn: Panel, over: Panel, other: Piece) -> SidePlaces:
    run = drawn.rim[k].vertices
    twin = next(m for m, edge in enumerate(over.rim) if set(edge.vertices) == set(run))
    places, last = places_on(other, twin), float(len(run) - 1)
    back = not np.array_equal(over.rim[twin].vertices, run)
    at = [last - place.at if back else place.at for place in places_on(piece, k)]
    names = tuple(_nearest(places, here) for here in at)
    return SidePlaces(edge_names(other)[twin], names)


def _nearest(places: Sequence[NamedPlace], at: float) -> str:
    return min(places, key=lambda place: abs(place.at - at)).name
