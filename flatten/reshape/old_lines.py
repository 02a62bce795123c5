"""The line that was beside the new one, on pieces of another size."""

from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import LineString

from flatten.fit.moved import BEFORE_WORDS, REDRAWN_MM
from flatten.pieces.piece import InnerLine, LineKind, Piece
from flatten.reshape.elastic import laid_on
from meshes.base.arrays import FloatArray

# Turns in which places that moved little come to count more, and what counts as little, mm.
LAID_TURNS, LITTLE_MM = 20, 0.02


def with_old_lines(new: Piece, old: Piece) -> Piece:
    """A piece with the stitch lines of the one it was drawn from, as that lies best on it; those that fitting left on
    the way are taken out. Both have the same vertices."""
    if len(new.mesh.points) != len(old.mesh.points) or len(new.edges) != len(old.edges):
        return new
    weight = staying(old.mesh.points, new.mesh.points)
    lines = []
    for now, was in zip(new.edges, old.edges, strict=True):
        line = _laid(was.points, (old.mesh.points, new.mesh.points), weight)
        away = shapely.distance(shapely.points(line), LineString(now.points)) > REDRAWN_MM
        ends = np.flatnonzero(np.diff(np.concatenate([[False], away, [False]]).astype(int)))
        for start, end in zip(ends[::2], ends[1::2], strict=True):
            run = line[max(start - 1, 0) : end + 1]
            lines += [InnerLine(BEFORE_WORDS, run, LineKind.BEFORE)] if len(run) > 1 else []
    kept = tuple(line for line in new.inner if line.kind is not LineKind.BEFORE)
    return replace(new, inner=(*kept, *lines))


def staying(old: FloatArray, new: FloatArray) -> FloatArray:
    """Weights (n,) by which a piece is laid on another so that as much as can be of it lies where it lay: the sum of
    the distances is least, not that of their squares (Weiszfeld's weights, 1937)."""
    weight = np.ones(len(old))
    for _ in range(LAID_TURNS):
        weight = 1.0 / np.maximum(np.linalg.norm(laid_on(old, new, weight) - new, axis=1), LITTLE_MM)
    return np.asarray(weight)


def _laid(line: FloatArray, maps: tuple[FloatArray, FloatArray], weight: FloatArray) -> FloatArray:
    """A line (k, 2) of a piece taken along as the piece (n, 2) is laid onto another."""
    old, new = maps
    both, none = np.concatenate([old, line]), np.zeros(len(line))
    return laid_on(both, np.concatenate([new, line]), np.concatenate([weight, none]))[len(old) :]
