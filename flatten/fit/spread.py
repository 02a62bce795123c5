"""How a piece shares what is taken in or let out at an edge among its leather, as it is drawn over its seat.

Between its edges the displacement of the leather is as even as can be (harmonic, cotangent weights: Pinkall and
Polthier 1993). What an edge does there depends on how it is held. A sewn edge stays with its partner, point for
point. An edge that is drawn down and fixed only then lies on its line and slides along it until it is fixed, so a
change at a corner is shared by the whole of the line beyond. Where leather is folded at a corner nothing holds it: it
goes over the corner as it is drawn. Limit: it slides without friction.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse

from flatten.fit.moved import LEAST_SINE
from flatten.fit.places import lengths_to
from flatten.maps.flat import Flat
from flatten.pieces.piece import EdgeKind
from meshes.base.arrays import BoolArray, FloatArray
from meshes.numerics.laplace import corner_angles, laplacian
from meshes.numerics.solver import Factor
from meshes.seat.panels import RimEdge

# Edges that are drawn down to their line and fixed there after that.
DRAWN_DOWN = frozenset(
    (*(EdgeKind.PULLED, EdgeKind.RINGED, EdgeKind.CLIPPED, EdgeKind.GLUED, EdgeKind.CORDED, EdgeKind.BLIND),)
)
# A way along a line shorter than this has no direction.
NO_WAY_MM = 1e-9


@dataclass(frozen=True, eq=False)
class _HeldRim:
    """What is known of the vertices of a map: given (n, 2) mm, by how much those of the rim go; fixed (n,): those
    that go just there; along (n, 2): unit direction in which a vertex may slide besides, nothing where it does not."""

    given: FloatArray
    fixed: BoolArray
    along: FloatArray

    @property
    def slides(self) -> BoolArray:
        """Vertices (n,) that go where they are told, or beside it along their line."""
        return np.asarray((self.along != 0.0).any(axis=1) & ~self.fixed)


def spread(flat: Flat, edges: Sequence[RimEdge], lines: Sequence[FloatArray]) -> FloatArray:
    """How far every vertex of a map goes (n, 2), mm, when the lines of its edges lie at `lines` (k, 2 each), edge by
    edge with a point for every vertex."""
    rim = _rim(flat.points, edges, lines)
    if not rim.slides.any():
        return _harmonic(flat, rim)
    drawn = _harmonic(flat, rim)
    # It slid along straight ways; its line may bend.
    slid = rim.given.copy()
    for edge, line in zip(edges, lines, strict=True):
        if edge.kind in DRAWN_DOWN:
            here = np.flatnonzero(rim.slides[edge.vertices])
            far = ((drawn - rim.given) * rim.along).sum(axis=1)[edge.vertices]
            slid[edge.vertices[here]] = (_further(line, far) - flat.points[edge.vertices])[here]
    return _harmonic(flat, _HeldRim(slid, rim.fixed | rim.slides, rim.along))


def _rim(points: FloatArray, edges: Sequence[RimEdge], lines: Sequence[FloatArray]) -> _HeldRim:
    """How the vertices of the rim are held."""
    n = len(points)
    given, along, fixed = np.zeros((n, 2)), np.zeros((n, 2)), np.zeros(n, dtype=bool)
    for edge, line in zip(edges, lines, strict=True):
        if edge.kind == EdgeKind.FOLDED:
            continue
        given[edge.vertices] = line - points[edge.vertices]
        if edge.kind not in DRAWN_DOWN:
            fixed[edge.vertices] = True
            continue
        ways = _ways(points[edge.vertices])
        known = along[edge.vertices]
        sine = abs(known[:, 0] * ways[:, 1] - known[:, 1] * ways[:, 0])
        # Drawn down on both its sides, a corner goes where both lines meet.
        fixed[edge.vertices[sine > LEAST_SINE]] = True
        along[edge.vertices] = ways
    return _HeldRim(given, fixed, along)


def _ways(run: FloatArray) -> FloatArray:
    """Unit direction (k, 2) of a line at its points, of a closed one on round its beginning."""
    steps = np.diff(run, axis=0)
    closed = len(run) > 2 and bool(np.linalg.norm(run[0] - run[-1]) <= NO_WAY_MM)
    before = steps[-1:] if closed else steps[:1]
    after = steps[:1] if closed else steps[-1:]
    both = np.vstack([before, steps]) + np.vstack([steps, after])
    return np.asarray(both / np.maximum(np.linalg.norm(both, axis=1), NO_WAY_MM)[:, None])


def _further(line: FloatArray, far: FloatArray) -> FloatArray:
    """Points (k, 2) of a line, each so much further along it (k,), mm; beyond its ends it goes on straight, and round
    when it is closed."""
    ends = lengths_to(line)
    at, long = ends + far, float(ends[-1])
    if np.linalg.norm(line[0] - line[-1]) <= NO_WAY_MM:
        at = at % long
    found = np.column_stack([np.interp(at, ends, line[:, k]) for k in (0, 1)])
    ways = _ways(line)
    found += np.minimum(at, 0.0)[:, None] * ways[0] + np.maximum(at - long, 0.0)[:, None] * ways[-1]
    return np.asarray(found)


def _harmonic(flat: Flat, rim: _HeldRim) -> FloatArray:
    """The displacement (n, 2) that is most even with the rim as it is held."""
    n = len(flat.points)
    slides = np.flatnonzero(rim.slides)
    free = np.flatnonzero(~rim.fixed & ~rim.slides)
    if not len(free) and not len(slides):
        return rim.given
    flat_3d = np.column_stack([flat.points, np.zeros(n)])
    matrix = laplacian(flat.triangles, corner_angles(flat_3d, flat.triangles)[1], n)
    given = np.where((rim.fixed | rim.slides)[:, None], rim.given, 0.0)
    if not len(slides):
        found = given.copy()
        found[free] = Factor(matrix[free][:, free]).solve(-(matrix @ given)[free])
        return found
    both = sparse.block_diag([matrix, matrix], format="csr")
    rows = np.concatenate([free, n + free, slides, n + slides])
    last = 2 * len(free) + np.arange(len(slides))
    columns = np.concatenate([np.arange(2 * len(free)), last, last])
    values = np.concatenate([np.ones(2 * len(free)), *rim.along[slides].T])
    ways = sparse.csr_matrix((values, (rows, columns)), shape=(2 * n, 2 * len(free) + len(slides)))
    start = given.T.ravel()
    step = ways @ Factor(sparse.csc_matrix(ways.T @ both @ ways)).solve(-(ways.T @ (both @ start)))
    return np.asarray((start + step).reshape(2, n).T)
