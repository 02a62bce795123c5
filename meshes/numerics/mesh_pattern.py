"""Where the entries of a matrix on a mesh's vertex pairs stand, found once, so that filling it is one gather.

Every triangle adds a 2 x 2 block for each pair of its corners. As moving a map without turning it costs nothing, the
blocks of a row sum to zero, so the three blocks between different corners of a triangle say all.
"""

import numpy as np

from meshes.base.arrays import BoolArray, FloatArray, IntArray


class MeshPattern:
    """The pattern of symmetric matrices (2 n, 2 n) on a mesh of n vertices and triangles (m, 3).

    indptr, indices: by columns, rows rising. Unknown 2 v + c is component c of vertex v. turned (3, m): pair k of a
    triangle, corners k and k + 1, runs from the higher vertex number to the lower one.
    """

    def __init__(self, triangles: IntArray, n: int) -> None:
        self.n, m = n, len(triangles)
        tail = triangles.T.ravel()
        head = np.roll(triangles, -1, axis=1).T.ravel()
        self.turned: BoolArray = (tail > head).reshape(3, m)
        edge, place = _ranked(np.minimum(tail, head) * n + np.maximum(tail, head))
        fresh = np.concatenate([[True], edge[1:] != edge[:-1]])
        starts = np.flatnonzero(fresh)
        self.low, self.high = np.divmod(edge[starts], n)
        # Both triangles' places in the list of pairs; the place past its end holds zeros.
        self._one = place[starts]
        twice = np.append(starts[1:], len(edge)) - starts > 1
        self._two = np.where(twice, place[np.minimum(starts + 1, len(edge) - 1)], 3 * m)
        self._lay_out()

    def _lay_out(self) -> None:
        n, e = self.n, len(self.low)
        own = np.arange(n)
        column = np.concatenate([self.high, self.low, own])
        row = np.concatenate([self.low, self.high, own])
        self._keys, source = _ranked(column * n + row)
        column, row = np.divmod(self._keys, n)
        counts = np.bincount(column, minlength=n)
        starts = np.concatenate([[0], np.cumsum(counts)])
        base = 4 * starts[column] + 2 * (np.arange(len(column)) - starts[column])
        width = 2 * counts[column]
        # Block b, entry (r, c): column 2 column + c of the matrix, row 2 row + r.
        self._spot = {(r, c): base + c * width + r for r in (0, 1) for c in (0, 1)}
        self.indptr = np.concatenate([[0], np.cumsum(np.repeat(2 * counts, 2))])
        self.indices = np.empty(4 * len(column), dtype=np.int64)
        self._gather = np.empty(4 * len(column), dtype=np.int64)
        # Pool of entries: xx, xy, yx, yy of every edge's block, then of every vertex's own block.
        back, whose = (source >= e) & (source < 2 * e), np.where(source >= e, source - e, source)
        for (r, c), spot in self._spot.items():
            self.indices[spot] = 2 * row + r
            self._gather[spot] = 4 * whose + np.where(back, 2 * c + r, 2 * r + c)

    def block_spots(self, rows: IntArray, columns: IntArray) -> dict[tuple[int, int], IntArray]:
        """Where the 2 x 2 blocks of vertex pairs (k,) that share a triangle stand among the values."""
        block = np.searchsorted(self._keys, columns * self.n + rows)
        return {entry: spot[block] for entry, spot in self._spot.items()}

    def filled(self, blocks: FloatArray) -> FloatArray:
        """The matrix values from blocks (3 m + 1, 4): pair k of triangle t in row k m + t, entries xx, xy, yx, yy with
        rows at the lower vertex number and columns at the higher; the last row is zero."""
        pool = np.empty((len(self.low) + self.n, 4))
        edge = pool[: len(self.low)]
        np.take(blocks, self._one, axis=0, out=edge)
        edge += blocks[self._two]
        self._own_blocks(edge, pool[len(self.low) :])
        return pool.ravel()[self._gather]

    def _own_blocks(self, edge: FloatArray, out: FloatArray) -> None:
        """Minus the sum of the blocks in a row, written to out (n, 4)."""
        ends = np.concatenate([self.low, self.high])
        for entry, here, there in ((0, 0, 0), (1, 1, 2), (3, 3, 3)):
            weights = np.concatenate([edge[:, here], edge[:, there]])
            out[:, entry] = -np.bincount(ends, weights=weights, minlength=self.n)
        out[:, 2] = out[:, 1]


def _ranked(keys: IntArray) -> tuple[IntArray, IntArray]:
    """The keys in rising order and where each came from; keys are not negative."""
    bits = len(keys).bit_length()
    if int(keys.max(initial=0)).bit_length() + bits > 63:
        order = np.argsort(keys, kind="stable")
        return keys[order], order
    # Sorting numbers that carry their place is several times faster than sorting places.
    packed = np.sort((keys << bits) | np.arange(len(keys)))
    return packed >> bits, packed & ((1 << bits) - 1)
