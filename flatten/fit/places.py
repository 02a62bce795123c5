"""What places on an edge of a piece are called: its corners and its marks, each by a name of its own.

A mark is called by what is written beside it. Where the same is written twice along an edge, as notches are that count
from the centre mark outward, each is told apart by the edge that its end of the edge leads to: "2 towards left band".
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString

from flatten.pieces.piece import Edge, Mark, MarkKind, Piece
from meshes.base.arrays import FloatArray
from meshes.seat.names import told_apart

CORNER = "corner"
# A mark stands on the edge it belongs to up to rounding, and a mark this near an end is that corner's.
STANDS_ON_MM = 0.05


@dataclass(frozen=True)
class NamedPlace:
    """A place on an edge: what it is called, in full and in short, and where, in vertices of the edge from its first
    one (2.5: half way from the third to the fourth) and in mm along it."""

    name: str
    short: str
    at: float
    along_mm: float


def edge_names(piece: Piece) -> list[str]:
    """The names of a piece's edges, told apart by numbers."""
    return told_apart([edge.name for edge in piece.edges])


def edge_sides(piece: Piece) -> list[str]:
    """For each edge that shares its written name with another where it lies beside that one, seen grain side up with
    the arrow up: left, right, upper or lower; "" for the others."""
    arrow = piece.grain[1] - piece.grain[0]
    long = float(np.linalg.norm(arrow))
    often = Counter(edge.name for edge in piece.edges)
    if long == 0.0:
        return ["" for _ in piece.edges]
    up = arrow / long
    right = np.array([up[1], -up[0]]) * (-1.0 if piece.flesh_up else 1.0)
    middles = [0.5 * (edge.points.min(axis=0) + edge.points.max(axis=0)) for edge in piece.edges]
    sides = []
    for edge, middle in zip(piece.edges, middles, strict=True):
        alike = [at for one, at in zip(piece.edges, middles, strict=True) if one.name == edge.name]
        off = middle - np.mean(alike, axis=0)
        across, along = float(off @ right), float(off @ up)
        side = (
            ("right" if across > 0.0 else "left") if abs(across) >= abs(along) else "upper" if along > 0.0 else "lower"
        )
        sides.append(side if often[edge.name] > 1 else "")
    return sides


def places_on(piece: Piece, k: int) -> tuple[NamedPlace, ...]:
    """All places on an edge of a piece, from its first corner to its last."""
    edge, names = piece.edges[k], edge_names(piece)
    before, after = names[k - 1], names[(k + 1) % len(names)]
    ends = lengths_to(edge.points)
    marks = sorted((_at(edge, mark), _word(mark)) for mark in piece.marks if _stands_on(edge, mark))
    found = [(at, word) for at, word in marks if np.interp(at, range(len(ends)), ends) > STANDS_ON_MM]
    found = [(at, word) for at, word in found if np.interp(at, range(len(ends)), ends) < ends[-1] - STANDS_ON_MM]
    rows = [(0.0, CORNER), *found, (float(len(ends) - 1), CORNER)]
    full = told_apart(_in_full([word for _, word in rows], (before, after)))
    return tuple(
        NamedPlace(name, word, at, float(np.interp(at, range(len(ends)), ends)))
        for name, (at, word) in zip(full, rows, strict=True)
    )


def place_named(places: Sequence[NamedPlace], words: str) -> NamedPlace | None:
    """The place that words name, in full, or in short where that is one only; None where there is none or several."""
    wanted = " ".join(words.casefold().split())
    for prefix in ("mark ", "notch "):
        wanted = wanted.removeprefix(prefix)
    full = [place for place in places if place.name.casefold() == wanted]
    short = [place for place in places if place.short.casefold() == wanted]
    found = full or short
    return found[0] if len(found) == 1 else None


def lengths_to(points: FloatArray) -> FloatArray:
    """Length along a polyline (k, 2) up to each of its points, mm."""
    return np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])


def place_along(points: FloatArray, at: FloatArray) -> float:
    """Where a point (2,) lies on a polyline (k, 2), in vertices from its first one."""
    ends = lengths_to(points)
    along = float(LineString(points).project(shapely.Point(at)))
    rising = np.concatenate([[True], np.diff(ends) > 0.0])
    return float(np.interp(along, ends[rising], np.flatnonzero(rising)))


def _at(edge: Edge, mark: Mark) -> float:
    return place_along(edge.points, mark.at)


def _stands_on(edge: Edge, mark: Mark) -> bool:
    near = LineString(edge.points).distance(shapely.Point(mark.at)) <= STANDS_ON_MM
    return near and mark.kind is not MarkKind.SNIP


def _word(mark: Mark) -> str:
    if mark.kind is MarkKind.JOINT:
        return f"joint {mark.text}".strip()
    return mark.text or mark.kind.value


def _in_full(words: Sequence[str], beyond: tuple[str, str]) -> list[str]:
    """Words that stand twice with the edge beyond the end they are nearer to; corners always."""
    often, seen, names = Counter(words), Counter[str](), []
    for word in words:
        seen[word] += 1
        first = 2 * seen[word] <= often[word]
        twice = often[word] > 1
        names.append(f"{word} towards {beyond[0] if first else beyond[1]}" if twice else word)
    return names
