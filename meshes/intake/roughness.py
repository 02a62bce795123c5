"""How rough a mesh is, and which way it is turned: what a scan may be and no file check can see.

Every point inside the mesh is held against the middle of its neighbours, along the normal and as a share of the edges
there. On a smooth surface that offset is the bend over an edge and hardly changes from a point to the next; noise
changes it at every point. The median of the change, scaled to the normal distribution (1.4826; Rousseeuw and Croux
1993), leaves out creases, which few points lie on. White noise of standard deviation s edges changes it by 1.36 s on
triangles of six neighbours.

A surface bends outwards or inwards at every edge; summed over edges, length times angle is twice the integral of the
mean curvature (Steiner 1840).
"""

from dataclasses import dataclass

import numpy as np
from scipy import sparse

from meshes.base.arrays import BoolArray, FloatArray, IntArray
from meshes.base.problems import Problem, ProblemError
from meshes.base.surface import boundary_loops, directed_edges, triangle_areas, vertex_normals

# Standard deviation of the change of offsets for noise of one edge, on triangles of six neighbours.
_GAIN = 1.36
_MEDIAN_TO_DEVIATION = 1.4826
# With fewer points inside nothing can be said of noise.
_FEWEST_INSIDE = 25
# Noise as a share of the edges. Coarse smooth meshes read up to 0.02. A domed face meshed at 16 mm asks 1 % without
# noise, 3 % with 0.05, 21 % with 0.1 and comes out a seventh too small then; from 0.15 on it crumples.
ROUGH_SHARE, NO_SURFACE_SHARE = 0.03, 0.08
# A seat's roundings are lost on longer edges.
_COARSEST_MM = 25.0
# How much of all bending has to go inwards, and how far the surface has to turn, for a mesh to be called hollow.
_HOLLOW_SHARE, _HOLLOW_TURN_RAD = 0.5, np.deg2rad(15.0)


@dataclass(frozen=True)
class Roughness:
    """share: noise as a share of the edges, 0 where the mesh is too small to tell; noise_mm; edge_mm: median edge;
    turn_deg: median angle between neighbouring triangles; excess: by what share the mesh has more area than smoothed a
    little, 0 where it is not rough."""

    share: float
    noise_mm: float
    edge_mm: float
    turn_deg: float
    excess: float

    @property
    def is_rough(self) -> bool:
        """The noise is felt in the piece."""
        return self.share > ROUGH_SHARE

    @property
    def is_no_surface(self) -> bool:
        """The piece would tell of nothing but the noise."""
        return self.share > NO_SURFACE_SHARE

    @property
    def words(self) -> str:
        """The figures, and what to do."""
        enough = self.noise_mm / ROUGH_SHARE
        coarser = f", or mesh it with edges of {enough:.2g} mm or more" if enough < _COARSEST_MM else ""
        return (
            f"its points lie {self.noise_mm:.2g} mm off their neighbours' surface where edges are "
            f"{self.edge_mm:.3g} mm long ({100 * self.share:.0f} %), triangles turn by {self.turn_deg:.0f} degrees "
            f"from one to the next, and it has {100 * self.excess:.1f} % more area than smoothed a little; "
            f"smooth the scan{coarser}"
        )


def roughness(vertices: FloatArray, triangles: IntArray) -> Roughness:
    """Measure the noise of a disc of sound triangles; vertices (n, 3) mm, triangles (m, 3)."""
    edges = np.unique(np.sort(directed_edges(triangles), axis=1), axis=0)
    length = np.linalg.norm(vertices[edges[:, 0]] - vertices[edges[:, 1]], axis=1)
    near, size = _neighbours(edges, length, len(vertices))
    rim = np.zeros(len(vertices), dtype=bool)
    rim[np.concatenate(boundary_loops(triangles))] = True
    deep = ~rim & (near @ rim == 0.0)
    normals = vertex_normals(vertices, triangles)
    offset = ((near @ vertices - vertices) * normals).sum(axis=1) / size
    share = 0.0
    if deep.sum() >= _FEWEST_INSIDE:
        change = (offset - near @ offset)[deep]
        share = float(np.median(np.abs(change))) * _MEDIAN_TO_DEVIATION / _GAIN
    angle, _ = _bends(vertices, triangles)
    edge = float(np.median(length))
    turn = float(np.rad2deg(np.median(np.abs(angle)))) if len(angle) else 0.0
    excess = 0.0
    if share > ROUGH_SHARE:
        smooth = triangle_areas(_smoothed(vertices, near, rim), triangles).sum()
        excess = float(triangle_areas(vertices, triangles).sum() / smooth) - 1.0
    return Roughness(share, share * edge, edge, turn, excess)


def is_hollow(vertices: FloatArray, triangles: IntArray) -> bool:
    """Whether the mesh, seen from the side its triangles face, is hollow like a bowl: most of its bending goes inwards,
    and it bends enough to tell. A flat mesh, a saddle and a mesh of noise are not hollow."""
    angle, length = _bends(vertices, triangles)
    bend = angle * length
    normals = vertex_normals(vertices, triangles)
    mean = normals.mean(axis=0)
    turn = np.arccos(np.clip(normals @ (mean / max(float(np.linalg.norm(mean)), 1e-300)), -1.0, 1.0))
    inwards = -float(bend.sum()) > _HOLLOW_SHARE * float(np.abs(bend).sum())
    return inwards and float(np.quantile(turn, 0.9)) > _HOLLOW_TURN_RAD


def _neighbours(edges: IntArray, length: FloatArray, count: int) -> tuple[sparse.csr_array, FloatArray]:
    """The mean over neighbours as a matrix (n, n), and the mean length of the edges at every vertex (n,)."""
    rows, columns = np.concatenate([edges, edges[:, ::-1]]).T
    link = sparse.csr_array((np.ones(len(rows)), (rows, columns)), shape=(count, count))
    degree = np.maximum(link.sum(axis=1), 1.0)
    total = np.bincount(rows, weights=np.concatenate([length, length]), minlength=count)
    return sparse.csr_array(sparse.diags_array(1.0 / degree) @ link), np.maximum(total / degree, 1e-300)


def _smoothed(vertices: FloatArray, near: sparse.csr_array, rim: BoolArray) -> FloatArray:
    """Ten rounds there and back, which take out what is shorter than a few edges and shrink nothing (Taubin 1995)."""
    points = vertices.copy()
    for step in (0.5, -0.53) * 10:
        moved = points + step * (near @ points - points)
        moved[rim] = vertices[rim]
        points = moved
    return points


def _bends(vertices: FloatArray, triangles: IntArray) -> tuple[FloatArray, FloatArray]:
    """Angle of every inner edge, above 0 where the surface bends away from the side its triangles face, and length."""
    edges = np.sort(directed_edges(triangles), axis=1)
    keys = edges[:, 0] * (int(triangles.max()) + 1) + edges[:, 1]
    order = np.argsort(keys, kind="stable")
    same = np.flatnonzero(keys[order][1:] == keys[order][:-1])
    one, two = order[same] % len(triangles), order[same + 1] % len(triangles)
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    normals = np.cross(b - a, c - a)
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-300)
    middle = (a + b + c) / 3.0
    across = np.linalg.norm(np.cross(normals[one], normals[two]), axis=1)
    angle = np.arctan2(across, (normals[one] * normals[two]).sum(axis=1))
    down = ((middle[two] - middle[one]) * normals[one]).sum(axis=1)
    ends = edges[order[same]]
    return -np.sign(down) * angle, np.linalg.norm(vertices[ends[:, 0]] - vertices[ends[:, 1]], axis=1)


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
