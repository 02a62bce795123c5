"""Pieces turned over, for those who mark out on the flesh side, mirrored, or turned on the paper."""

from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache

import numpy as np

from flatten.pieces.piece import Edge, FlatMesh, InnerLine, Mark, Piece
from meshes.base.arrays import FloatArray

_OVER = np.array([-1.0, 1.0])


def flesh_side_up(piece: Piece) -> Piece:
    """The piece seen from the flesh side, within the same box: lines, marks, grain and map are mirrored left to right,
    and its edges follow each other the other way round, so that outlines stay counter-clockwise."""
    return replace(mirrored(piece), flesh_up=not piece.flesh_up)


def mirrored(piece: Piece) -> Piece:
    """The mirror image of a piece within the same box, left to right, seen from the same side of the leather."""
    x0, _, x1, _ = piece.box()
    turned = _moved(piece, np.diag(_OVER), np.array([x0 + x1, 0.0]))
    mesh = turned.mesh
    return replace(
        turned,
        edges=tuple(replace(one, points=one.points[::-1]) for one in reversed(turned.edges)),
        outline=replace(turned.outline, points=turned.cut[::-1]),
        mesh=FlatMesh(mesh.points, mesh.triangles[:, [0, 2, 1]], mesh.stretch, mesh.along, mesh.use),
    )


def with_mirrored(pieces: Iterable[Piece]) -> tuple[Piece, ...]:
    """The pieces, with the mirror image of each that is also cut mirrored after it, each with its own count."""
    found: list[Piece] = []
    for piece in pieces:
        order = piece.order
        if not order.mirrored:
            found.append(piece)
            continue
        plain, _, other = piece.name.removesuffix(" mirrored)").partition(" (")
        found.append(replace(piece, name=plain, order=replace(order, mirrored=0)))
        whose, of, _ = plain.rpartition(" of ")
        name = f"{whose}{of}{other}" if other and other != plain else f"{plain}, mirrored"
        over = mirrored(piece)
        edges = tuple(_called_over(edge) for edge in over.edges)
        order = replace(order, count=order.mirrored, mirrored=0)
        found.append(replace(over, name=name, edges=edges, order=order))
    return tuple(found)


def _called_over(edge: Edge) -> Edge:
    """An edge by the name and the seam that it has on the mirrored piece."""
    if edge.over is None:
        return edge
    name, seam = edge.over
    return replace(edge, name=name, seam=seam, over=(edge.name, edge.seam))


@lru_cache(maxsize=256)
def quarter_turned(piece: Piece) -> Piece:
    """The piece turned a quarter counter-clockwise about the origin, so that what is written on it stands upright.

    The same one for every paper, so that room for its words is found once."""
    return _moved(piece, np.array([[0.0, 1.0], [-1.0, 0.0]]), np.zeros(2))


def _moved(piece: Piece, turn: FloatArray, shift: FloatArray) -> Piece:
    """Every point as a row times `turn`, then shifted; directions only turned."""

    def at(points: FloatArray) -> FloatArray:
        return np.asarray(points @ turn + shift)

    def edge(one: Edge) -> Edge:
        return replace(one, points=at(one.points))

    def mark(one: Mark) -> Mark:
        return replace(one, at=at(one.at), outward=one.outward @ turn, spots=at(one.spots))

    def line(one: InnerLine) -> InnerLine:
        return replace(one, points=at(one.points))

    mesh = piece.mesh
    return replace(
        piece,
        edges=tuple(edge(one) for one in piece.edges),
        outline=replace(piece.outline, points=at(piece.cut)),
        marks=tuple(mark(one) for one in piece.marks),
        grain=at(piece.grain),
        mesh=FlatMesh(at(mesh.points), mesh.triangles, mesh.stretch, mesh.along @ turn, mesh.use),
        inner=tuple(line(one) for one in piece.inner),
    )
