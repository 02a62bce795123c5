"""Rows of fitting held against the pieces there are: which edge, from where to where, and what contradicts itself."""

from collections.abc import Callable, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field, replace

import numpy as np

from flatten.fit.linked import EdgeNumber, Follower, followers, sewn_to_itself
from flatten.fit.moved import HELD_KINDS, LEAST_SINE, EdgeMove, tracked
from flatten.fit.places import NamedPlace, edge_names, lengths_to, place_named, places_on
from flatten.fit.run_out import SAME_MARK_MM, AskedStretch, EdgeGround, NoRoomError, RunOut, out_mm, run_outs
from flatten.fit.shared import shares_of
from flatten.pieces.piece import Edge, EdgeKind, Piece
from meshes.base.arrays import FloatArray
from meshes.base.problems import Key, Problem, near_name
from meshes.fitting.notes import FitNote
from meshes.schema.cover_tables import OFF_RIDGE
from meshes.seat.build import BuiltPad

# Edges whose line is not drawn freely: it follows from what lies beside it, or from a board.
BOUND_KINDS = (EdgeKind.FOLDED, EdgeKind.WRAPPED, EdgeKind.BARE, EdgeKind.OVERSIZE, EdgeKind.MITRED)

MakeFitProblem = Callable[[str, int, Key, str], Problem]
"""A problem of a row: code, number of the row, key, text."""


@dataclass(frozen=True, eq=False)
class DrawnPad:
    """The pieces of a pad as they are drawn at first, and its number among all."""

    index: int
    pad: BuiltPad
    pieces: tuple[Piece, ...]

    def edge(self, where: EdgeNumber) -> tuple[Piece, int]:
        """A piece and the number of one of its edges."""
        return self.pieces[where[0]], where[1]


@dataclass(frozen=True, eq=False)
class FoundRow:
    """A row with its place: the pad, the edge, and both ends among the places there are."""

    note: FitNote
    drawn: DrawnPad
    where: EdgeNumber
    places: tuple[NamedPlace, ...]
    ends: tuple[NamedPlace, NamedPlace]


@dataclass(frozen=True, eq=False)
class RowDone:
    """A row as it was done. each_mm: what every layer is let out by; run_mm: over how much it runs out before and
    after; follow: pieces that follow, by name; shares: the least and the most by which its own layer takes more of the
    amount, -1 to 1, and the other layer less, so that both stay of one length."""

    found: FoundRow
    each_mm: float
    run_mm: tuple[float, float]
    follow: tuple[str, ...]
    shares: tuple[float, float] = (0.0, 0.0)

    @property
    def own_mm(self) -> tuple[float, float]:
        """What its own layer is let out by, from the place where that is least to where it is most."""
        low, high = self.shares
        return (1.0 + low) * self.each_mm, (1.0 + high) * self.each_mm

    @property
    def other_mm(self) -> tuple[float, float]:
        """What the layer that is sewn to it is let out by, likewise, unless the seam goes over."""
        low, high = self.shares
        return (1.0 - high) * self.each_mm, (1.0 - low) * self.each_mm


@dataclass(frozen=True, eq=False)
class Resolved:
    """moves: by pad and edge; done: row by row; faults."""

    moves: Mapping[tuple[int, EdgeNumber], EdgeMove]
    done: tuple[RowDone, ...]
    faults: tuple[Problem, ...]


@dataclass(frozen=True, eq=False)
class _Group:
    """An edge with all that follow it, and the rows about any of them."""

    drawn: DrawnPad
    first: EdgeNumber
    all: Mapping[EdgeNumber, Follower]
    rows: list[FoundRow] = field(default_factory=list)


def resolved(rows: Sequence[FoundRow], problem: MakeFitProblem) -> Resolved:
    """What rows that were found move."""
    faults: list[Problem] = []
    moves: dict[tuple[int, EdgeNumber], EdgeMove] = {}
    done: list[RowDone] = []
    for group in _groups(rows):
        told = _disagreeing(group, problem)
        if told:
            faults += told
            continue
        try:
            found, rows_done = _moves(group)
        except NoRoomError as none:
            faults.append(problem("F333", none.rows[-1], "to", str(none)))
            continue
        moves |= {(group.drawn.index, where): move for where, move in found.items()}
        done += rows_done
    return Resolved(moves, tuple(sorted(done, key=lambda one: one.found.note.row)), tuple(faults))


def piece_of_row(pads: Sequence[DrawnPad], note: FitNote, problem: MakeFitProblem) -> tuple[DrawnPad, int] | Problem:
    """The piece a row names, or what is wrong with the name."""
    wanted = note.piece.casefold()
    known = [(drawn, i, piece) for drawn in pads for i, piece in enumerate(drawn.pieces)]
    found = [(drawn, i) for drawn, i, piece in known if wanted in _names(piece)]
    if len(found) == 1:
        return found[0]
    names = [f"{piece.pad} {piece.name}" for _, _, piece in known]
    near = near_name(note.piece, names)
    what = f'{len(found)} pieces are called "{note.piece}"' if found else f'there is no piece "{note.piece}"'
    advice = f'did you mean "{near}"?' if near else f"pieces are {', '.join(names)}"
    return problem("F330", note.row, "piece", f"{what}; {advice}")


def _names(piece: Piece) -> set[str]:
    parts = (panel.removeprefix(f"{piece.pad} ") for panel in piece.panels)
    names = (piece.name, f"{piece.pad} {piece.name}", f"{piece.pad}: {piece.name}", *piece.panels, *parts)
    return {name.casefold() for name in names}


def found_row(pads: Sequence[DrawnPad], note: FitNote, problem: MakeFitProblem) -> FoundRow | Problem | None:
    """Where a row's stretch lies; None for one that moves nothing and whose piece and edge there are."""
    there = piece_of_row(pads, note, problem)
    if isinstance(there, Problem):
        return there
    drawn, i = there
    piece = drawn.pieces[i]
    wanted = note.span.edge if note.span is not None else note.edge
    if wanted is None:
        return None
    names = edge_names(piece)
    marks = () if note.span is None else (note.span.start, note.span.end)
    found = edges_meant(piece, wanted, marks)
    if len(found) > 1:
        text = (
            f'{piece.name} has {len(found)} edges "{wanted}" with these marks; write "{wanted} 1" for the first of them'
        )
        return problem("F331", note.row, "edge", f"{text}, as `trimloft fit` lists them")
    k = found[0] if found else None
    if k is None:
        near = near_name(wanted, names)
        advice = f'did you mean "{near}"?' if near else f"its edges are {', '.join(names)}"
        return problem("F331", note.row, "edge", f'{piece.name} has no edge "{wanted}"; {advice}')
    if note.span is None:
        return None
    if piece.edges[k].kind in BOUND_KINDS:
        text = f'"{names[k]}" is {piece.edges[k].kind.value}: its line follows from what lies beside it; change that'
        return problem("F335", note.row, "edge", text)
    return _with_ends(FoundRow(note, drawn, (i, k), places_on(piece, k), _NOWHERE), problem)


def edges_meant(piece: Piece, wanted: str, marks: Sequence[str]) -> list[int]:
    """Edges that a row can mean. What is written along several edges means the one that has the row's marks."""
    printed = [k for k, edge in enumerate(piece.edges) if edge.name.casefold() == wanted.casefold()]
    if len(printed) < 2:
        known = [name.casefold() for name in edge_names(piece)]
        first = wanted.casefold().removesuffix(" 1")
        return [known.index(one) for one in dict.fromkeys((wanted.casefold(), first)) if one in known][:1]
    if not marks:
        return printed[:1]
    return [k for k in printed if all(place_named(places_on(piece, k), one) for one in marks)] or printed[:1]


_NOWHERE = (NamedPlace("", "", 0.0, 0.0), NamedPlace("", "", 0.0, 0.0))


def _with_ends(row: FoundRow, problem: MakeFitProblem) -> FoundRow | Problem:
    """The row with both its marks."""
    span, number = row.note.span, row.note.row
    assert span is not None
    ends = []
    for key, words in (("from", span.start), ("to", span.end)):
        place = place_named(row.places, words)
        if place is None:
            names = [one.name for one in row.places]
            text = f'no mark "{words}", or more than one, along "{span.edge}"; its places are {", ".join(names)}'
            return problem("F332", number, key, text)
        ends.append(place)
    if abs(ends[0].at - ends[1].at) < 1e-9:
        return problem("F333", number, "to", "the stretch begins and ends at one mark; give two")
    low, high = sorted(ends, key=lambda place: place.at)
    piece, k = row.drawn.edge(row.where)
    if row.note.found == OFF_RIDGE:
        seam = piece.edges[k].seam
        if seam is None or sewn_to_itself(row.drawn.pad, row.drawn.pieces, row.where):
            text = "the seam cannot be moved over: nothing is sewn to this edge but its own mirror image or nothing"
            return problem("F335", number, "found", f"{text}; take it in or let it out without found")
    return replace(row, ends=(low, high))


def _groups(rows: Sequence[FoundRow]) -> list[_Group]:
    """Rows by the edges that follow each other."""
    groups: list[_Group] = []
    for row in rows:
        index = row.drawn.index
        group = next((g for g in groups if g.drawn.index == index and row.where in g.all), None)
        if group is None:
            found = followers(row.drawn.pad, row.drawn.pieces, row.where)
            group = _Group(row.drawn, row.where, {one.where: one for one in found})
            groups.append(group)
        group.rows.append(row)
    return groups


def _asked(group: _Group, row: FoundRow) -> AskedStretch:
    """A row's stretch along the first edge of its group."""
    span = row.note.span
    assert span is not None
    follower = group.all[row.where]
    ends = lengths_to(_first_points(group))

    def along(place: NamedPlace) -> float:
        return float(np.interp(follower.to_first(place.at), range(len(ends)), ends))

    places = sorted(along(place) for place in row.places)
    start, end = sorted(along(place) for place in row.ends)
    before = max((at for at in places if at < start - SAME_MARK_MM), default=0.0)
    after = min((at for at in places if at > end + SAME_MARK_MM), default=float(ends[-1]))
    sign = -1.0 if follower.across and row.note.found == OFF_RIDGE else 1.0
    return AskedStretch(row.note.row, start, end, sign * span.each_mm(_layers(group, row)), before, after)


def _layers(group: _Group, row: FoundRow) -> int:
    """How many layers an amount in all is shared by: both sides of a seam, or one edge that is held."""
    piece, k = row.drawn.edge(row.where)
    return 2 if piece.edges[k].seam is not None else 1


def _first_points(group: _Group) -> FloatArray:
    piece, k = group.drawn.edge(group.first)
    return piece.edges[k].points


def _disagreeing(group: _Group, problem: MakeFitProblem) -> list[Problem]:
    """Rows of one round about one stretch, or about both sides of its seam, that say two things."""
    faults = []
    for k, two in enumerate(group.rows):
        for one in group.rows[:k]:
            if one.note.round != two.note.round:
                continue
            a, b = _asked(group, one), _asked(group, two)
            same = a.out_mm == b.out_mm and (one.note.found == OFF_RIDGE) == (two.note.found == OFF_RIDGE)
            if same or min(a.end_mm, b.end_mm) - max(a.start_mm, b.start_mm) <= SAME_MARK_MM:
                continue
            where = "the same stretch" if one.where == two.where else "the other side of the same seam"
            row = f"row {one.note.row + 1} says {_said(one)} of {where}"
            text = f"{row} in the same round, and this one {_said(two)}; keep one of them, or give this a later round"
            faults.append(problem("F334", two.note.row, _key(two), text))
    return faults


def _said(row: FoundRow) -> str:
    span = row.note.span
    assert span is not None
    return f"{'let out' if span.out_mm > 0 else 'take in'} {abs(span.out_mm):.1f} mm {span.counted}"


def _key(row: FoundRow) -> str:
    return "let_out" if row.note.span is not None and row.note.span.out_mm > 0 else "take_in"


def _ground(group: _Group) -> EdgeGround:
    """The first edge: how long it is, and at which ends all edges that follow may go on in full."""
    points = _first_points(group)
    free = [True, True]
    count = len(points) - 1
    for one in group.all.values():
        piece, k = group.drawn.edge(one.where)
        beside = piece.edges[k - 1], piece.edges[(k + 1) % len(piece.edges)]
        for place, edge in zip((0.0, float(len(one.segment))), beside, strict=True):
            at = one.to_first(place)
            end = 0 if at < 0.5 else 1 if at > count - 0.5 else None
            held = edge.kind in HELD_KINDS and _cornered(piece.edges[k], edge, last=place > 0.0)
            if end is None or not (held or edge.kind is EdgeKind.FOLDED):
                free = [False, False] if end is None else [free[0] and end != 0, free[1] and end != 1]
    closed = bool(np.linalg.norm(points[0] - points[-1]) < SAME_MARK_MM)
    return EdgeGround(float(lengths_to(points)[-1]), free[0] and not closed, free[1] and not closed)


def _cornered(edge: Edge, beside: Edge, *, last: bool) -> bool:
    """Whether an edge and the one beside it meet in a corner, so that one may be moved along the other."""
    one = edge.points[-1] - edge.points[-2] if last else edge.points[0] - edge.points[1]
    two = beside.points[1] - beside.points[0] if last else beside.points[-2] - beside.points[-1]
    sine = (one[0] * two[1] - one[1] * two[0]) / (np.linalg.norm(one) * np.linalg.norm(two))
    return bool(abs(sine) >= LEAST_SINE)


def _moves(group: _Group) -> tuple[dict[EdgeNumber, EdgeMove], list[RowDone]]:
    """How far every edge of a group moves, all rounds together, and its rows as done. Raises NoRoomError."""
    ground, points = _ground(group), _first_points(group)
    ends = lengths_to(points)
    both: list[tuple[bool, list[RunOut]]] = []
    done, seen = [], set[int]()
    for number in sorted({row.note.round for row in group.rows}):
        for over in (False, True):
            rows = [r for r in group.rows if r.note.round == number and (r.note.found == OFF_RIDGE) == over]
            runs = run_outs([_asked(group, row) for row in rows], ground)
            both.append((over, list(runs)))
            done += [_done(group, row, runs) for row in rows]
            seen |= {row.note.row for row in rows if row.note.found is not None}
    vertices = np.arange(len(points), dtype=float)
    marks = [place for _, runs in both for run in runs for place in run.places]
    inside = [place for place in marks if 0.0 < place < ground.length_mm]
    at = np.unique(np.round(np.concatenate([vertices, np.interp(inside, ends, vertices)]), 9))
    along = np.interp(at, vertices, ends)
    alike, shifted, known = _summed(both, seen, along)
    most = float(abs(alike).max(initial=0.0))
    shares = shares_of(lambda s: _unlike(group, at, alike, s), along, np.diff(ends), most)
    shifted = shifted + shares * alike
    found = {}
    for where, one in group.all.items():
        gone_over = -shifted if one.across else shifted
        places, out = one.own(at, alike + gone_over)
        seat = one.own(at, known + gone_over)[1]
        found[where] = EdgeMove(places, out, seat if seat.any() else None)
    return found, [_with_shares(group, row, along, shares) for row in done]


def _with_shares(group: _Group, row: RowDone, along: FloatArray, shares: FloatArray) -> RowDone:
    """The row with the least and the most that its own layer takes more along its stretch."""
    asked = _asked(group, row.found)
    own = shares[(along >= asked.start_mm - SAME_MARK_MM) & (along <= asked.end_mm + SAME_MARK_MM)]
    if not own.any() or row.found.note.found == OFF_RIDGE:
        return row
    low, high = float(own.min()), float(own.max())
    return replace(row, shares=(-high, -low) if group.all[row.found.where].across else (low, high))


def _unlike(group: _Group, at: FloatArray, alike: FloatArray, shares: FloatArray) -> FloatArray:
    """By how much the other side of a seam gets longer than the first, mm, along every segment (k,) of the first edge,
    when both move at places (m,) by so much (m,), the first (1 + share) times; 0 where nothing is sewn to it."""
    count = round(float(at[-1]))
    change, often = np.zeros((2, count)), np.zeros((2, count))
    for where, one in group.all.items():
        piece, k = group.drawn.edge(where)
        points, side = piece.edges[k].points, int(one.across)
        move = EdgeMove(*one.own(at, alike * (1.0 - shares if one.across else 1.0 + shares)))
        steps = tracked(points, move).steps() - np.linalg.norm(np.diff(points, axis=0), axis=1)
        np.add.at(change[side], one.segment, steps)
        np.add.at(often[side], one.segment, 1.0)
    both = (often > 0.0).all(axis=0)
    mean = change / np.maximum(often, 1.0)
    return np.where(both, mean[1] - mean[0], 0.0)


def _summed(
    both: Sequence[tuple[bool, list[RunOut]]], seen: AbstractSet[int], along: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """What all rounds move at places (m,) along the first edge: both sides alike, over from one to the other, and how
    much of the first is what the seat was seen to be off. both: stretches of a round, and whether they go over."""
    alike, shifted, known = np.zeros(len(along)), np.zeros(len(along)), np.zeros(len(along))
    for over, runs in both:
        out = out_mm(runs, along)
        if over:
            shifted += out
            continue
        alike += out
        told = [run for run in runs if run.asked.row in seen]
        known += out if len(told) == len(runs) else out_mm(told, along)
    return alike, shifted, known


def _done(group: _Group, row: FoundRow, runs: Sequence[RunOut]) -> RowDone:
    asked = _asked(group, row)
    run = next(one for one in runs if one.start_mm <= one.end_mm and _holds(one, asked))
    before, after = run.start_mm - max(run.from_mm, 0.0), run.to_mm - run.end_mm
    names = [group.drawn.edge(where)[0].name for where in group.all if where != row.where]
    own = row.drawn.edge(row.where)[0].name
    sign = -1.0 if group.all[row.where].across and row.note.found == OFF_RIDGE else 1.0
    follow = tuple(dict.fromkeys(name if name != own else f"the other edge of {name}" for name in names))
    return RowDone(row, sign * asked.out_mm, (before, after), follow)


def _holds(run: RunOut, asked: AskedStretch) -> bool:
    return run.asked.start_mm <= asked.start_mm + SAME_MARK_MM and asked.end_mm <= run.asked.end_mm + SAME_MARK_MM
