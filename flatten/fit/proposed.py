"""A first row to try for what was seen at a dry fit without an amount: piece, edge, marks, and how much."""

from flatten.fit.asked import BOUND_KINDS
from flatten.fit.places import NamedPlace, edge_names, lengths_to, places_on
from flatten.pieces.piece import Piece
from meshes.fitting.notes import FitNote
from meshes.schema.cover_tables import CORNER_EMPTY, DIMPLE, DRAG_LINE, LOOSE, OFF_RIDGE

# What is tried first where nothing was measured (common practice, no source).
FIRST_STEP_MM = 3.0
# What a first row does about a word, by the key of the row.
_KEYS = {LOOSE: "take_in", OFF_RIDGE: "take_in", DRAG_LINE: "let_out", DIMPLE: "padding", CORNER_EMPTY: "padding"}


def proposed_row(note: FitNote, piece: Piece) -> str:
    """The row to try first for a note that names a word and no amount, as it is written into a sheet; empty for a piece
    without an edge that could be moved."""
    k = _edge_meant(note, piece)
    if note.found is None or k is None:
        return ""
    key = _KEYS[note.found]
    words = {"round": str(note.round + 1), "piece": f'"{note.piece}"', "edge": f'"{edge_names(piece)[k]}"'}
    if note.found == DIMPLE and note.edge is None:
        del words["edge"]
    elif note.found == CORNER_EMPTY:
        start, end = places_on(piece, k)[:2]
        words |= {"from": f'"{start.name}"', "to": f'"{end.name}"'}
    elif key != "padding":
        start, end = _marks_of(places_on(piece, k), towards_end=note.found == DRAG_LINE)
        words |= {"from": f'"{start.name}"', "to": f'"{end.name}"'}
    words |= {key: f'"{FIRST_STEP_MM:g} mm"', "found": f'"{note.found}"'}
    if note.towards is not None:
        words["towards"] = f'"{note.towards}"'
    row = ", ".join(f"{name} = {value}" for name, value in words.items())
    return f"to try first, where nothing was measured (common practice, no source): [[fit]] {row}"


def _edge_meant(note: FitNote, piece: Piece) -> int | None:
    """The edge that a note names, or that a drag line runs to; else the longest one that can be moved."""
    names = edge_names(piece)
    for words in (note.edge, note.towards):
        for k, name in enumerate(names):
            if words is not None and words.casefold() in (name.casefold(), piece.edges[k].name.casefold()):
                return k
    free = [k for k, edge in enumerate(piece.edges) if edge.kind not in BOUND_KINDS]
    sewn = [k for k in free if piece.edges[k].seam is not None] or free
    return max(sewn, key=lambda k: float(lengths_to(piece.edges[k].points)[-1]), default=None)


def _marks_of(places: tuple[NamedPlace, ...], *, towards_end: bool) -> tuple[NamedPlace, NamedPlace]:
    """The two places a row begins and ends at: on both sides of the middle of the edge, its corners left alone where
    there are marks enough; of a drag line the two that lie nearest each other there."""
    inner = places[1:-1] if len(places) >= 4 else places
    middle = 0.5 * (places[0].along_mm + places[-1].along_mm)
    before = [place for place in inner if place.along_mm < middle - 1.0] or [inner[0]]
    after = [place for place in inner if place.along_mm > middle + 1.0] or [inner[-1]]
    return (before[-1], after[0]) if towards_end else (before[0], after[-1])
