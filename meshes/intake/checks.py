"""What a triangle mesh from outside has to be: one disc of sound triangles in mm, and every reason why it is not.

A pattern made from a bad mesh is a wrong cut, so a mesh that cannot be flattened as it is is refused with the reason.
"""

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from meshes.base.arrays import FloatArray, IntArray
from meshes.base.problems import Problem, ProblemError
from meshes.base.surface import (
    BoundaryError,
    boundary_loops,
    components,
    directed_edges,
    euler,
    repeated,
    side_lengths,
    smallest_angles,
    triangle_areas,
)

Fault = Callable[[str, str], None]

# A seat panel is larger than a thumb and smaller than a boat.
LEAST_SIZE_MM, MOST_SIZE_MM = 5.0, 20_000.0
# Thinner triangles carry no direction that could be trusted.
SLIVER_RAD = np.deg2rad(0.05)


def check_mesh(
    vertices: npt.ArrayLike, triangles: npt.ArrayLike, *, file: str | None = None
) -> tuple[FloatArray, IntArray]:
    """The mesh as arrays (copies), when it is one disc of sound triangles in mm.

    vertices (n, 3), triangles (m, 3). Raises ProblemError with every reason why it is not; numbers of vertices and
    triangles in the text count from 0.
    """
    vertices, triangles = mesh_arrays(vertices, triangles, file)
    faults: list[Problem] = []

    def fault(code: str, text: str) -> None:
        faults.append(Problem(code, "mesh", text, file=file))

    if is_unusable(vertices, triangles, fault):
        raise ProblemError(faults)
    _check_vertices(vertices, triangles, fault)
    if not faults:
        _check_shape(vertices, triangles, fault)
    _check_edges(triangles, fault)
    if not faults:
        _check_disc(triangles, fault)
    same = coinciding(vertices)
    if len(same) and (faults or not np.isin(same, boundary_loops(triangles)[0]).all()):
        text = f"{len(same)} vertices lie exactly on another one, the first is vertex {same[0]}; remove the copies or "
        fault("M205", text + "ask for the repair merge")
    if faults:
        raise ProblemError(faults)
    return vertices, triangles


def coinciding(vertices: FloatArray) -> IntArray:
    """Vertices that share their place with another one, ascending. On the rim that is a cut, elsewhere a fault."""
    order = np.lexsort(vertices.T)
    equal = (vertices[order[1:]] == vertices[order[:-1]]).all(axis=1)
    return np.unique(np.concatenate([order[1:][equal], order[:-1][equal]]))


def mesh_arrays(vertices: npt.ArrayLike, triangles: npt.ArrayLike, file: str | None) -> tuple[FloatArray, IntArray]:
    """The mesh as arrays of their own; numbers that name no vertex are kept out of range. Raises ProblemError."""
    try:
        corners = np.array(triangles, dtype=np.float64)
        numbers = np.where(np.isfinite(corners), corners, -1.0)
        if not np.array_equal(numbers, np.rint(numbers)):
            raise ValueError("vertex numbers of triangles must be whole")
        # Beyond what a double counts one by one no vertex is there.
        return np.array(vertices, dtype=np.float64), np.clip(numbers, -1.0, 2.0**53).astype(np.int64)
    except (TypeError, ValueError) as reason:
        text = f"vertices and triangles must be tables of numbers ({reason}); give (n, 3) and (m, 3)"
        raise ProblemError([Problem("M201", "mesh", text, file=file)]) from reason


def is_unusable(vertices: FloatArray, triangles: IntArray, fault: Fault) -> bool:
    """Whether the arrays are no mesh at all; then `fault` is told why."""
    if vertices.ndim != 2 or vertices.shape[1:] != (3,) or triangles.ndim != 2 or triangles.shape[1:] != (3,):
        fault("M201", f"vertices must be (n, 3) and triangles (m, 3), found {vertices.shape} and {triangles.shape}")
        return True
    if len(triangles) == 0:
        fault("M104", "there are no triangles; give the surface as triangles")
        return True
    if triangles.min() < 0 or triangles.max() >= len(vertices):
        worst = int(np.argmax(((triangles < 0) | (triangles >= len(vertices))).any(axis=1)))
        named = triangles[worst].tolist()
        fault("M202", f"triangle {worst} names a vertex that is not there, found {named}; write the mesh again")
        return True
    bad = np.flatnonzero(~np.isfinite(vertices).all(axis=1))
    if len(bad):
        fault("M203", f"{len(bad)} vertices are no numbers, the first is vertex {bad[0]}; write the mesh again")
        return True
    return False


def _check_vertices(vertices: FloatArray, triangles: IntArray, fault: Fault) -> None:
    loose = int((np.bincount(triangles.ravel(), minlength=len(vertices)) == 0).sum())
    if loose:
        fault("M204", f"{loose} vertices belong to no triangle; remove them or ask for the repair drop-loose")
    with np.errstate(over="ignore"):
        size = float(np.ptp(vertices, axis=0).max())
    if size < LEAST_SIZE_MM:
        fault("M206", f"the mesh is {size:.4g} mm long; if it is in metres, multiply it by 1000, in inches by 25.4")
    if size > MOST_SIZE_MM:
        fault("M206", f"the mesh is {size:.4g} mm long; scale it to millimetres")


def _check_shape(vertices: FloatArray, triangles: IntArray, fault: Fault) -> None:
    a, b, c = triangles.T
    longest = side_lengths(vertices, triangles).max(axis=0)
    flat = (a == b) | (b == c) | (c == a) | (triangle_areas(vertices, triangles) <= 1e-12 * longest**2)
    if flat.any():
        fault(
            "M207",
            f"{int(flat.sum())} triangles have no area, the first is triangle {int(np.argmax(flat))}; remove them",
        )
        return
    thin = smallest_angles(vertices, triangles) < SLIVER_RAD
    if thin.any():
        text = f"{int(thin.sum())} triangles are slivers with an angle below 0.05 degrees, the first is triangle "
        fault("M208", f"{text}{int(np.argmax(thin))}; mesh the surface again with even triangles")


def _check_edges(triangles: IntArray, fault: Fault) -> None:
    twice = _copies(np.sort(triangles, axis=1))
    if twice:
        fault("M209", f"{twice} triangles are there twice; remove the copies")
        return
    edges = directed_edges(triangles)
    top = int(triangles.max()) + 1
    directed = np.sort(2 * (edges.min(axis=1) * top + edges.max(axis=1)) + (edges[:, 0] < edges[:, 1]))
    keys = directed >> 1
    thrice = len(np.unique(keys[2:][keys[2:] == keys[:-2]]))
    if thrice:
        fault("M210", f"{thrice} edges carry more than two triangles; a cover has two sides at most")
        return
    twice_same_way = repeated(directed)
    if twice_same_way:
        text = (
            f"triangles face different ways across {twice_same_way} edges; turn them alike or ask for the repair orient"
        )
        fault("M211", text)


def _copies(ordered: IntArray) -> int:
    """How many triangles, given by rising vertex numbers, are there again."""
    top = int(ordered.max()) + 1
    if top > 2**21:
        return len(ordered) - len(np.unique(ordered, axis=0))
    # Three numbers below 2^21 fit into one.
    return repeated(np.sort(ordered @ np.array([top * top, top, 1])))


def _check_disc(triangles: IntArray, fault: Fault) -> None:
    parts = int(components(triangles).max()) + 1
    if parts > 1:
        fault("M212", f"the mesh has {parts} parts that share no edge; flatten one, or ask for the repair largest-part")
        return
    try:
        loops = boundary_loops(triangles)
    except BoundaryError:
        fault(
            "M213", "the rim touches itself in a vertex: two corners of the cover hang together by a point; part them"
        )
        return
    if len(loops) == 0:
        fault("M214", "the surface is closed and has no rim; cut it open along a seam first")
        return
    if len(loops) > 1:
        fault("M215", f"the surface has {len(loops)} rims: a hole or a ring; cut from rim to rim, or fill the hole")
        return
    if euler(triangles, loops) != 1:
        text = (
            "the surface has a handle, or two sheets of it hang together by one vertex; cut it open along a seam first"
        )
        fault("M216", text)
