"""A stitch line moved square to itself, and what is drawn on a piece brought along with it."""

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from flatten.fit.places import STANDS_ON_MM, lengths_to, place_along
from flatten.fit.run_out import RUN_OUT
from flatten.pieces.allowance import add_allowances, as_cut
from flatten.pieces.piece import SLITS_APART_MM, EdgeKind, InnerLine, LineKind, Mark, Piece
from meshes.base.arrays import FloatArray

# Edges that are held and not sewn: beside one, what moves may go on to the corner.
HELD_KINDS = (
    *(EdgeKind.PULLED, EdgeKind.CLOSED, EdgeKind.ZIP, EdgeKind.FLAP, EdgeKind.BLIND, EdgeKind.RINGED),
    *(EdgeKind.CLIPPED, EdgeKind.GLUED, EdgeKind.CORDED),
)
# A line that moved by less is not drawn again.
REDRAWN_MM = 0.05
# Two edges that meet flatter than this have no corner that could be moved along one of them.
LEAST_SINE = 0.35
# What the line that was is called beside the new one.
BEFORE_WORDS = "before fitting"


class CrossedError(Exception):
    """A moved line does not make a piece any more."""


@dataclass(frozen=True, eq=False)
class EdgeMove:
    """How far an edge moves: out_mm (m,) at places (m,) in vertices of the edge, which rise and hold all of them;
    seat_mm (m,): as much of it as the seat itself was
    found to be other than computed, or the line on it goes along with, none when not given."""

    at: FloatArray
    out_mm: FloatArray
    seat_mm: FloatArray | None = None

    @property
    def stretching(self) -> "EdgeMove":
        """As much of it as makes the piece shorter or longer than its seat."""
        return self if self.seat_mm is None else EdgeMove(self.at, self.out_mm - self.seat_mm)


@dataclass(frozen=True, eq=False)
class EdgeTrack:
    """An edge before and after, point by point: old, new (m, 2) mm; at (m,): in vertices of the edge."""

    at: FloatArray
    old: FloatArray
    new: FloatArray

    def carried(self, point: FloatArray) -> FloatArray:
        """Where a point (2,) on the old line went."""
        place = place_along(self.old, point)
        return np.array([np.interp(place, range(len(self.new)), self.new[:, k]) for k in (0, 1)])

    def steps(self) -> FloatArray:
        """Lengths (k,) of the new line along every segment of the edge as it was, mm."""
        ends = lengths_to(self.new)
        whole = np.interp(np.arange(round(float(self.at[-1])) + 1), self.at, ends)
        return np.asarray(np.diff(whole))


def tracked(points: FloatArray, move: EdgeMove) -> EdgeTrack:
    """A line (k, 2), counter-clockwise round its piece, moved outwards square to itself."""
    count = np.arange(len(points))
    old = np.column_stack([np.interp(move.at, count, points[:, k]) for k in (0, 1)])
    outward = _outward(points)
    normals = np.column_stack([np.interp(move.at, count, outward[:, k]) for k in (0, 1)])
    return EdgeTrack(move.at, old, old + move.out_mm[:, None] * normals)


def _outward(points: FloatArray) -> FloatArray:
    """Outward direction at every point of a line (k, 2), as long as keeps both segments beside it at one distance."""
    steps = np.diff(points, axis=0)
    along = steps / np.maximum(np.linalg.norm(steps, axis=1), 1e-12)[:, None]
    square = np.column_stack([along[:, 1], -along[:, 0]])
    both = np.vstack([square[:1], square[:-1] + square[1:], square[-1:]])
    both[1:-1] /= np.maximum(0.5 * (both[1:-1] ** 2).sum(axis=1), 0.25)[:, None]
    return both


def with_moves(piece: Piece, moves: Mapping[int, EdgeMove], *, widths: Sequence[float], corner: str) -> Piece:
    """The piece with some of its edges moved: stitch line, allowances, cut line, marks and the ends of inner lines, and
    the lines that were.

    moves: by the number of the edge; widths: allowance of every edge, mm; corner: how the cut line turns. Raises
    CrossedError where no piece is left.
    """
    folded = {k for k, edge in enumerate(piece.edges) if edge.kind is EdgeKind.FOLDED}
    tracks, runs = _tracks([edge.points for edge in piece.edges], moves, folded)
    for k, track in tracks.items():
        runs[k] = _without_folds_back(track.new)
    edges = [
        replace(edge, points=run, allowance_mm=width)
        for edge, run, width in zip(piece.edges, runs, widths, strict=True)
    ]
    sew = Polygon(np.concatenate([run[:-1] for run in runs]))
    if not sew.is_valid or sew.area <= 0.0:
        raise CrossedError("the moved stitch line crosses another edge of the piece; take a smaller amount")
    outline = add_allowances(edges, corner=corner)
    return replace(
        piece,
        edges=as_cut(edges, outline),
        outline=outline,
        marks=tuple(_mark(mark, piece, tracks) for mark in piece.marks),
        inner=(*(_inner(line, piece, tracks, sew) for line in piece.inner), *_before(tracks)),
    )


def _tracks(
    runs: list[FloatArray], moves: Mapping[int, EdgeMove], folded: AbstractSet[int]
) -> tuple[dict[int, EdgeTrack], list[FloatArray]]:
    """The tracks of moved edges, and all edges as they then meet; folded: edges of folded leather."""
    tracks = {k: tracked(runs[k], move) for k, move in moves.items()}
    for k in moves:
        tracks[k], runs = _met(tracks[k], k, (moves, folded), runs)
    return tracks, runs


def moved_rim(
    runs: Sequence[FloatArray], moves: Mapping[int, EdgeMove], folded: AbstractSet[int] = frozenset()
) -> tuple[FloatArray, ...]:
    """Where the vertices of all edges (k, 2) of a map, counter-clockwise, go when some edges move, as far as that
    stretches the piece. Beside a corner that is moved along an edge, what lies on that edge makes room over RUN_OUT
    times as much; folded: edges of leather that is folded at a corner. Raises CrossedError as `with_moves` does."""
    stretching = {k: move.stretching for k, move in moves.items()}
    tracks, _ = _tracks(list(runs), stretching, folded)
    lines = []
    for k, run in enumerate(runs):
        if k in tracks:
            whole = np.searchsorted(tracks[k].at, np.arange(len(run)) - 1e-9)
            lines.append(tracks[k].new[whole])
            continue
        line = run
        before, after = (k - 1) % len(runs), (k + 1) % len(runs)
        if before in tracks:
            line = _made_room(line, tracks[before].new[-1])
        if after in tracks:
            line = _made_room(line[::-1], tracks[after].new[0])[::-1]
        lines.append(line)
    return tuple(lines)


def _made_room(run: FloatArray, corner: FloatArray) -> FloatArray:
    """The vertices of an edge (k, 2) that now begins at a corner on it or on its straight prolongation."""
    if np.linalg.norm(corner - run[0]) <= 1e-9:
        return run
    ends = lengths_to(run)
    first = (run[1] - run[0]) / max(float(ends[1]), 1e-12)
    ahead = float((corner - run[0]) @ first)
    start = ahead if ahead <= 0.0 else float(np.interp(place_along(run, corner), range(len(ends)), ends))
    reach = min(max(RUN_OUT * abs(start), 2.0 * start), float(ends[-1]))
    places = np.where(ends < reach, start + ends * (reach - start) / reach, ends)
    found = np.column_stack([np.interp(places, ends, run[:, k]) for k in (0, 1)])
    outside = places < 0.0
    found[outside] = run[0] + places[outside, None] * first
    return found


def _met(
    track: EdgeTrack,
    k: int,
    rules: tuple[Mapping[int, EdgeMove], AbstractSet[int]],
    runs: list[FloatArray],
) -> tuple[EdgeTrack, list[FloatArray]]:
    """A moved edge that ends beside the old corner, and its neighbours, brought to meet there. rules: all moves, and
    edges that are folded: their leather begins where the moved edge ends."""
    moves, folded = rules
    runs, new = list(runs), track.new.copy()
    for last in (False, True):
        end = -1 if last else 0
        away = float(moves[k].out_mm[end])
        if abs(away) <= 1e-9:
            continue
        beside = (k + 1) % len(runs) if last else (k - 1) % len(runs)
        if beside in folded:
            run = runs[beside]
            runs[beside] = np.vstack([new[-1:], run[1:]]) if last else np.vstack([run[:-1], new[:1]])
            continue
        if beside in moves and abs(float(moves[beside].out_mm[0 if last else -1])) > 1e-9:
            raise CrossedError("two moved edges meet in one corner; move one of them, and look again")
        neighbour = runs[beside] if last else runs[beside][::-1]
        square = (new[end] - track.old[end]) / away
        met = _along_neighbour(neighbour, square, away)
        runs[beside] = met if last else met[::-1]
        new[end] = met[0]
        way = track.old[-2] - track.old[-1] if last else track.old[1] - track.old[0]
        # What would lie beyond the new corner is drawn in to it.
        order = range(len(new) - 2, -1, -1) if last else range(1, len(new))
        for j in order:
            if float((new[j] - new[end]) @ way) > 0.0:
                break
            new[j] = new[end]
    return EdgeTrack(track.at, track.old, new), runs


def _along_neighbour(run: FloatArray, square: FloatArray, away: float) -> FloatArray:
    """A neighbouring edge (k, 2) that begins at the corner, begun where it is so far off the old line instead."""
    off = (run - run[0]) @ square
    first = run[1] - run[0]
    first = first / np.linalg.norm(first)
    sine = float(first @ square)
    if abs(sine) < LEAST_SINE:
        raise CrossedError(
            "the edge beyond the corner runs nearly along the moved one; end the stretch at a mark before"
        )
    if sine * away < 0.0:
        # Away from where the neighbour runs: it is prolonged straight.
        return np.vstack([run[0] + first * away / sine, run[1:]])
    beyond = np.flatnonzero(off * np.sign(away) >= abs(away))
    if not len(beyond) or beyond[0] == 0:
        raise CrossedError("the edge beyond the corner is too short for the amount; take a smaller one")
    j = int(beyond[0])
    share = (away - off[j - 1]) / (off[j] - off[j - 1])
    return np.vstack([run[j - 1] + share * (run[j] - run[j - 1]), run[j:]])


def _without_folds_back(points: FloatArray) -> FloatArray:
    """The line without points that fall together."""
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    kept = points[np.concatenate([[True], steps > 1e-9])]
    return np.vstack([kept[:-1], points[-1:]])


def _mark(mark: Mark, piece: Piece, tracks: Mapping[int, EdgeTrack]) -> Mark:
    """A mark on a moved edge, at the same place of it."""
    for k, track in tracks.items():
        if LineString(piece.edges[k].points).distance(shapely.Point(mark.at)) > STANDS_ON_MM:
            continue
        at = track.carried(mark.at)
        if np.linalg.norm(at - mark.at) <= 1e-9:
            continue
        spots = np.array([track.carried(spot) for spot in mark.spots])
        return replace(mark, at=at, outward=_square_to(track.new, at), spots=spots)
    return mark


def _square_to(line: FloatArray, at: FloatArray) -> FloatArray:
    """Outward direction beside a point of a line, over the width of a doubled notch."""
    ends, shape = lengths_to(line), LineString(line)
    places = np.clip(shape.project(shapely.Point(at)) + 0.5 * SLITS_APART_MM * np.array([-1.0, 1.0]), 0.0, ends[-1])
    one, two = shapely.get_coordinates(shapely.line_interpolate_point(shape, places))
    along = (two - one) / np.linalg.norm(two - one)
    return np.array([along[1], -along[0]])


def _inner(line: InnerLine, piece: Piece, tracks: Mapping[int, EdgeTrack], sew: Polygon) -> InnerLine:
    """An inner line whose ends stand on a moved edge goes on to the new one, or ends there."""
    points = line.points.copy()
    for k, track in tracks.items():
        edge = LineString(piece.edges[k].points)
        on = shapely.distance(shapely.points(points), edge) <= STANDS_ON_MM
        for j in np.flatnonzero(on):
            points[j] = track.carried(points[j])
    if (points == line.points).all():
        return line
    inside = LineString(points).intersection(sew.buffer(STANDS_ON_MM))
    parts = [part for part in shapely.get_parts(inside) if part.geom_type == "LineString"]
    if not parts or shapely.LinearRing(piece.sew).buffer(STANDS_ON_MM).contains(LineString(line.points)):
        return replace(line, points=points)
    return replace(line, points=shapely.get_coordinates(max(parts, key=lambda part: part.length)))


def _before(tracks: Mapping[int, EdgeTrack]) -> list[InnerLine]:
    """The old lines, where they were left."""
    found = []
    for track in tracks.values():
        away = np.linalg.norm(track.new - track.old, axis=1) > REDRAWN_MM
        ends = np.flatnonzero(np.diff(np.concatenate([[False], away, [False]]).astype(int)))
        for start, end in zip(ends[::2], ends[1::2], strict=True):
            run = track.old[max(start - 1, 0) : end + 1]
            if len(run) > 1:
                found.append(InnerLine(BEFORE_WORDS, run, LineKind.BEFORE))
    return found
