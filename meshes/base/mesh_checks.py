"""Triangle meshes from outside: read from a file, checked, repaired only where asked, every repair stated.

A pattern made from a bad mesh is a wrong cut, so a mesh that cannot be flattened as it is is refused with the reason.
Vertex order and triangles are kept; a repair that changes either happens only when named.
"""

from collections.abc import Callable, Collection
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from textwrap import shorten

import numpy as np
import numpy.typing as npt

from meshes.base.arrays import FloatArray, IntArray, locked_floats, locked_ints
from meshes.base.mesh_file import EmptyFileError, PolygonError, TooManyError, load
from meshes.base.problems import Problem, ProblemError, plain, shown
from meshes.base.reading import UnreadableError
from meshes.base.roughness import is_hollow, roughness
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

MESH_SUFFIXES = (".ply", ".obj", ".stl")
REPAIRS = ("merge", "orient", "drop-loose", "largest-part", "turn-over")
# A seat panel is larger than a thumb and smaller than a boat.
LEAST_SIZE_MM, MOST_SIZE_MM = 5.0, 20_000.0
# Thinner triangles carry no direction that could be trusted.
SLIVER_RAD = np.deg2rad(0.05)
_COARSER = "a panel needs some ten thousand triangles, so mesh it coarser"


@dataclass(frozen=True, eq=False)
class Intake:
    """vertices (n, 3) mm, triangles (m, 3); notes: what was repaired or assumed, in words."""

    vertices: FloatArray
    triangles: IntArray
    notes: tuple[str, ...]


def read_mesh(path: str | Path, *, repair: Collection[str] = ()) -> Intake:
    """Read a PLY, OBJ or STL file (mm) that holds one disc of triangles.

    repair: see `repair_mesh`; "merge" is always done, and always stated, for STL, which has no shared vertices. Raises
    ProblemError with every fault.
    """
    path = Path(path)
    _check_repairs(repair)
    vertices, triangles = _loaded(path)
    wanted = {*repair, "merge"} if path.suffix.lower() == ".stl" else set(repair)
    return repair_mesh(vertices, triangles, repair=wanted, file=str(path))


def repair_mesh(
    vertices: npt.ArrayLike, triangles: npt.ArrayLike, *, repair: Collection[str] = (), file: str | None = None
) -> Intake:
    """One disc of triangles from vertices (n, 3) mm and triangles (m, 3), repaired only as named, then checked.

    repair: "merge" vertices at one place, "orient" triangles alike, "drop-loose" vertices, keep the "largest-part",
    "turn-over" the whole mesh, when it is inside out. file: named in problems. Inputs are not changed. Raises
    ProblemError with every fault.
    """
    _check_repairs(repair)
    points, corners = _arrays(vertices, triangles, file)
    faults: list[Problem] = []
    if _unusable(points, corners, lambda code, text: faults.append(Problem(code, "mesh", text, file=file))):
        raise ProblemError(faults)
    notes: list[str] = []
    if "merge" in repair:
        points, corners = _merged(points, corners, notes)
    if "largest-part" in repair:
        corners = _largest(corners, notes)
    if "drop-loose" in repair or "largest-part" in repair:
        points, corners = _without_loose(points, corners, notes)
    if "orient" in repair:
        corners = _oriented(corners, notes)
    if "turn-over" in repair:
        corners = corners[:, [0, 2, 1]]
        notes.append("the whole mesh turned over to face the other way")
    check_mesh(points, corners, file=file)
    notes += remarks(points, corners, file=file)
    cut = coinciding(points)
    if len(cut):
        notes.append(f"the rim lies on itself at {len(cut)} vertices: taken as a cut, both its sides stay apart")
    return Intake(locked_floats(points), locked_ints(corners), tuple(notes))


def remarks(vertices: FloatArray, triangles: IntArray, *, file: str | None = None) -> list[str]:
    """What a sound mesh from outside may be all the same, in words: rough, or inside out as far as that can be known.

    Raises ProblemError (M217) for one so rough that a piece made from it would show nothing else.
    """
    noise = roughness(vertices, triangles)
    if noise.is_no_surface:
        text = f"this is no surface of a seat, its roughness is all that a piece would show: {noise.words}"
        raise ProblemError([Problem("M217", "mesh", text, file=file)])
    found = []
    if noise.is_rough:
        found.append(f"the mesh is rough, and demand and verdict take that for shape: {noise.words}")
    if is_hollow(vertices, triangles):
        found.append(
            "seen from the side its triangles face the surface is hollow like a bowl, and the piece is drawn as seen "
            "from there; if it is the outside of a padded seat, the mesh is inside out and the piece comes out as its "
            "mirror image: ask for the repair turn-over"
        )
    return found


def _check_repairs(repair: Collection[str]) -> None:
    for name in repair:
        if name not in REPAIRS:
            text = f"no repair of this name, found {name!r}; known are {', '.join(REPAIRS)}"
            raise ProblemError([Problem("M101", "repair", text)])


def _loaded(path: Path) -> tuple[FloatArray, IntArray]:
    def stop(code: str, text: str) -> ProblemError:
        return ProblemError([Problem(code, "", text, file=str(path))])

    if path.suffix.lower() not in MESH_SUFFIXES:
        raise stop(
            "M102", f"not a mesh file this program reads, found {shown(path.suffix)}; give PLY, OBJ or STL in mm"
        )
    try:
        vertices, triangles = load(path)
    except UnreadableError as fault:
        more = f"; {_COARSER}" if fault.too_large else ""
        raise stop("M107" if fault.too_large else "M103", f"{fault}{more}") from fault
    except EmptyFileError as fault:
        raise stop("M104", "the file is empty; write the mesh again") from fault
    except TooManyError as fault:
        raise stop("M107", f"{fault}; {_COARSER}") from fault
    except PolygonError as fault:
        raise stop("M106", f"{fault}; write the surface as triangles, so that the pattern answers to them") from fault
    except (ValueError, KeyError, IndexError, OverflowError) as fault:
        what = shorten(plain(str(fault)), 160, placeholder=" ...")
        raise stop("M105", f"the file cannot be read as a mesh ({what}); write it again as PLY") from fault
    if len(triangles) == 0:
        raise stop("M104", "the file holds no triangles; write the surface as triangles")
    return vertices, triangles


def _merged(vertices: FloatArray, triangles: IntArray, notes: list[str]) -> tuple[FloatArray, IntArray]:
    """Vertices at exactly one place become one, numbered by first appearance."""
    first, number = np.unique(vertices, axis=0, return_index=True, return_inverse=True)[1:]
    order = np.argsort(first, kind="stable")
    rank = np.empty(len(order), dtype=np.int64)
    rank[order] = np.arange(len(order))
    if len(first) < len(vertices):
        notes.append(
            f"{len(vertices) - len(first)} repeated vertices merged; vertices are numbered by first appearance"
        )
    return vertices[first[order]], rank[number.ravel()][triangles]


def _largest(triangles: IntArray, notes: list[str]) -> IntArray:
    part = components(triangles)
    size = np.bincount(part)
    if len(size) > 1:
        notes.append(f"the largest of {len(size)} parts kept, {len(triangles) - int(size.max())} triangles dropped")
    return triangles[part == int(np.argmax(size))]


def _without_loose(vertices: FloatArray, triangles: IntArray, notes: list[str]) -> tuple[FloatArray, IntArray]:
    used, number = np.unique(triangles, return_inverse=True)
    if len(used) < len(vertices):
        notes.append(f"{len(vertices) - len(used)} loose vertices dropped; the others keep their order")
    return vertices[used], number.reshape(-1, 3).astype(np.int64)


def _oriented(triangles: IntArray, notes: list[str]) -> IntArray:
    """All triangles wound like the majority of their part, spreading from neighbour to neighbour."""
    edges = directed_edges(triangles)
    owner = np.tile(np.arange(len(triangles)), 3)
    low, high = edges.min(axis=1), edges.max(axis=1)
    order = np.lexsort((high, low))
    near: list[list[tuple[int, bool]]] = [[] for _ in triangles]
    for i, j in pairwise(order):
        if low[i] == low[j] and high[i] == high[j]:
            alike = bool(edges[i, 0] != edges[j, 0])
            near[owner[i]].append((int(owner[j]), alike))
            near[owner[j]].append((int(owner[i]), alike))
    turned = np.full(len(triangles), -1, dtype=np.int64)
    for seed in range(len(triangles)):
        if turned[seed] >= 0:
            continue
        turned[seed], stack, members = 0, [seed], [seed]
        while stack:
            here = stack.pop()
            for other, alike in near[here]:
                if turned[other] < 0:
                    turned[other] = turned[here] if alike else 1 - turned[here]
                    stack.append(other)
                    members.append(other)
        if 2 * turned[members].sum() > len(members):
            turned[members] = 1 - turned[members]
    if turned.any():
        notes.append(f"{int(turned.sum())} triangles turned over to face like the rest")
    return np.where((turned == 1)[:, None], triangles[:, [0, 2, 1]], triangles)


def check_mesh(
    vertices: npt.ArrayLike, triangles: npt.ArrayLike, *, file: str | None = None
) -> tuple[FloatArray, IntArray]:
    """The mesh as arrays (copies), when it is one disc of sound triangles in mm.

    vertices (n, 3), triangles (m, 3). Raises ProblemError with every reason why it is not; numbers of vertices and
    triangles in the text count from 0.
    """
    vertices, triangles = _arrays(vertices, triangles, file)
    faults: list[Problem] = []

    def fault(code: str, text: str) -> None:
        faults.append(Problem(code, "mesh", text, file=file))

    if _unusable(vertices, triangles, fault):
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


def _arrays(vertices: npt.ArrayLike, triangles: npt.ArrayLike, file: str | None) -> tuple[FloatArray, IntArray]:
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


def _unusable(vertices: FloatArray, triangles: IntArray, fault: Fault) -> bool:
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
