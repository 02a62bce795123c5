"""Angles of a mesh's triangles and the cotangent Laplace matrix.

Pinkall & Polthier, Computing discrete minimal surfaces and their conjugates, 1993.
"""

import numpy as np
from scipy import sparse

from meshes.base.arrays import FloatArray, IntArray


def corner_angles(vertices: FloatArray, triangles: IntArray) -> tuple[FloatArray, FloatArray]:
    """Inner angle and its cotangent at every corner, (m, 3) each."""
    dot, cross = np.empty((3, len(triangles))), np.empty((3, len(triangles)))
    place = [[np.ascontiguousarray(vertices[:, c])[triangles[:, k]] for c in range(3)] for k in range(3)]
    for k in range(3):
        u, v = ([place[(k + j) % 3][c] - place[k][c] for c in range(3)] for j in (1, 2))
        dot[k] = u[0] * v[0] + u[1] * v[1] + u[2] * v[2]
        x, y, z = (u[i] * v[j] - u[j] * v[i] for i, j in ((1, 2), (2, 0), (0, 1)))
        cross[k] = np.sqrt(x * x + y * y + z * z)
    return np.arctan2(cross, dot).T, (dot / cross).T


def laplacian(triangles: IntArray, cotangents: FloatArray, n: int) -> sparse.csr_matrix:
    """The cotangent matrix, positive semidefinite."""
    tail = np.concatenate([triangles[:, (k + 1) % 3] for k in range(3)])
    head = np.concatenate([triangles[:, (k + 2) % 3] for k in range(3)])
    half = 0.5 * np.concatenate([cotangents[:, k] for k in range(3)])
    pulls = sparse.csr_matrix((half, (tail, head)), shape=(n, n))
    pulls = pulls + pulls.T
    return sparse.csr_matrix(sparse.diags_array(np.asarray(pulls.sum(axis=1)).ravel()) - pulls)
