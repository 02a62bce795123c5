"""Pieces turned over, for those who mark out on the flesh side: everything drawn is the mirror image."""

from dataclasses import replace

import numpy as np

from flatten.pieces.piece import Edge, FlatMesh, InnerLine, Mark, Piece
from meshes.base.arrays import FloatArray

_OVER = np.array([-1.0, 1.0])


def flesh_side_up(piece: Piece) -> Piece:
    """The piece seen from the flesh side, within the same box: lines, marks, grain and map are mirrored left to right,
    and its edges follow each other the other way round, so that outlines stay counter-clockwise."""
    x0, _, x1, _ = piece.box()
    shift = np.array([x0 + x1, 0.0])

    def over(points: FloatArray) -> FloatArray:
        return np.asarray(points * _OVER + shift)

    def edge(one: Edge) -> Edge:
        return replace(one, points=over(one.points)[::-1])

    def mark(one: Mark) -> Mark:
        return replace(one, at=over(one.at), outward=one.outward * _OVER, spots=over(one.spots))

    def line(one: InnerLine) -> InnerLine:
        return replace(one, points=over(one.points))

    mesh = piece.mesh
    return replace(
        piece,
        edges=tuple(edge(one) for one in reversed(piece.edges)),
        outline=replace(piece.outline, points=over(piece.cut)[::-1]),
        marks=tuple(mark(one) for one in piece.marks),
        grain=over(piece.grain),
        mesh=FlatMesh(over(mesh.points), mesh.triangles[:, [0, 2, 1]], mesh.stretch, mesh.along * _OVER, mesh.use),
        inner=tuple(line(one) for one in piece.inner),
        flesh_up=not piece.flesh_up,
    )
