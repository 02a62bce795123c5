"""A pad's cover let down onto its padding: heights on the pad's mesh, what gives by how much, where the cover lifts.

A pad that is the same left and right is settled as one half, whose edge on the centre line is free to move in the
plane of symmetry, and mirrored: both halves are equal to the last digit. The cover is held on its tack lines, on the
free padding, and along any line it is tied down on it stands no higher.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from scipy import sparse
from scipy.sparse import csgraph
from scipy.spatial import cKDTree

from meshes.base.arrays import BoolArray, FloatArray, IntArray, locked_floats
from meshes.base.problems import Problem, ProblemError
from meshes.base.surface import directed_edges, triangle_areas
from meshes.base.units import place_words
from meshes.padding.directors import bridged
from meshes.padding.stack import Stack
from meshes.padding.support_mesh import SupportMesh
from meshes.padding.underlay import underlay
from meshes.records.materials import Material
from meshes.records.pad import Pad
from meshes.settle.section import LIFT_SEEN_MM, THIN_MM
from meshes.settle.settle import Conditions, Settled, settle
from meshes.support.chart import Chart, MakeProblem
from meshes.support.chart_mesh import ChartMesh
from meshes.support.line_roles import LineRole

# A hollow that is deeper than this somewhere is a problem of the pad; it reaches as far as one can see it.
LIFT_TOLD_MM = 2.0
# A place that is smaller is a vertex or two, and nothing one could tie down.
LIFT_LEAST_MM = 5.0
# A line that is tied down so near to the place is the one that the cover spans from (proposed, no source).
TIED_NEAR_MM = 30.0
# What helps where a cover lifts, and what does where a line there is tied down already.
ADVICE = (
    "a tie-down or a seam belongs there: write tied = true on the inset or line that runs through it, or draw a line "
    "there; or fill the hollow with padding"
)
TIED_ADVICE = (
    "the seam beside it is tied down already, so the cover spans from there: move that seam into the deepest of the "
    "hollow, or draw one more line there that is tied; or fill the hollow with padding"
)


@dataclass(frozen=True)
class Lift:
    """A place where the cover stands off the padding. at (3,): where most, pad coordinates; where: the same in words;
    gap_mm: how far; long_mm, wide_mm: how large the place is; tied: a line that is tied down runs beside it."""

    at: tuple[float, float, float]
    where: str
    gap_mm: float
    long_mm: float
    wide_mm: float
    tied: bool = False


@dataclass(frozen=True, eq=False)
class PadRest:
    """A settled pad. settled: on the pad's mesh; tension_n_per_mm: of the cover, its mean; free (n, 3): the cover over
    free padding; lifts: by falling gap; change_mm (n,): of the height, negative where the cover went down, and
    height_change_mm: least and most; foam_crush (n,): largest compression of the foam that lies at a place, as a share,
    not a number where none does; foam_compression_max: of all foam; padding_compression_max: of stuffing too;
    layer_compression_max: by layer; foam_layers: which of them are foam; spring_deflection_mm: largest."""

    settled: Settled
    tension_n_per_mm: float
    free: FloatArray
    lifts: tuple[Lift, ...]
    change_mm: FloatArray
    height_change_mm: tuple[float, float]
    foam_crush: FloatArray
    foam_compression_max: float
    padding_compression_max: float
    layer_compression_max: tuple[float, ...]
    foam_layers: tuple[bool, ...]
    spring_deflection_mm: float


def settle_pad(
    meshed: SupportMesh,
    materials: Mapping[str, Material],
    *,
    tension_n_per_mm: float | FloatArray,
    make_problem: MakeProblem,
) -> PadRest:
    """Let the cover of a pad settle; tension_n_per_mm: one for all, or one for each triangle (m,) of the mesh. Raises
    ProblemError when it does not come to rest."""
    pad, chart, mesh, support = meshed.pad, meshed.chart, meshed.mesh, meshed.support
    stack = underlay(pad, meshed.at, materials)
    height = stack.free_mm()
    free = support.points + height[:, None] * support.directors
    kept, rows = _right_half(mesh)
    triangles = _numbered(mesh, kept)[mesh.triangles[rows]]
    tension = np.broadcast_to(np.asarray(tension_n_per_mm, dtype=np.float64), len(mesh.triangles))
    middle = None if mesh.mirror is None else np.flatnonzero(mesh.mirror[kept] == kept)
    directors = bridged(support.points[kept], support.directors[kept], triangles, face=mesh.c[kept] < 0.0, mid=middle)
    held, tied = (np.flatnonzero(_marked(at, mesh)[kept]) for at in (_tacked(mesh), _tied(mesh)))
    found = settle(
        free[kept] - height[kept, None] * directors,
        directors,
        triangles,
        stack.some(kept),
        tension_n_per_mm=tension[rows],
        conditions=Conditions(fixed=held, tied=tied),
    )
    if not found.converged:
        raise ProblemError([make_problem("G141", (), f"the cover does not come to rest: {found.note}")])
    settled = _whole(found, mesh, kept)
    lifts = _lifts(settled, pad, chart, mesh)
    foam = tuple(materials[layer.material].foam for layer in pad.layers)
    mean = float(np.average(tension, weights=triangle_areas(settled.points, mesh.triangles)))
    return _rest(settled, stack, foam, free, lifts, mean)


def _right_half(mesh: ChartMesh) -> tuple[IntArray, IntArray]:
    """Vertices of the right half, or of the whole of a crooked pad, and the rows of its triangles."""
    if mesh.mirror is None:
        return np.arange(len(mesh.plan)), np.arange(len(mesh.triangles))
    right = np.arange(len(mesh.plan)) <= mesh.mirror
    return np.flatnonzero(right), np.flatnonzero(right[mesh.triangles].all(axis=1))


def _numbered(mesh: ChartMesh, kept: IntArray) -> IntArray:
    """The new number of every vertex that is kept, (n,)."""
    number = np.full(len(mesh.plan), -1, dtype=np.int64)
    number[kept] = np.arange(len(kept))
    return number


def _marked(vertices: IntArray, mesh: ChartMesh) -> BoolArray:
    """Which of all vertices (n,) are among these."""
    marked = np.zeros(len(mesh.u), dtype=bool)
    marked[vertices] = True
    return marked


def _tacked(mesh: ChartMesh) -> IntArray:
    """Vertices on the tack lines."""
    return np.unique(mesh.edges[mesh.on(LineRole.TACK)])


def _tied(mesh: ChartMesh) -> IntArray:
    """Vertices along lines that are tied down."""
    on = np.array([mesh.rules[k].tied for k in mesh.rule], dtype=bool)
    return np.unique(mesh.edges[on])


def _whole(found: Settled, mesh: ChartMesh, kept: IntArray) -> Settled:
    """What was found on the right half, on both halves."""
    if mesh.mirror is None:
        return found
    back = np.empty(len(mesh.plan), dtype=np.int64)
    back[kept] = np.arange(len(kept))
    back[mesh.mirror[kept]] = np.arange(len(kept))
    points = found.points[back].copy()
    left = np.ones(len(back), dtype=bool)
    left[kept] = False
    points[left, 0] *= -1.0
    points[mesh.mirror == np.arange(len(back)), 0] = 0.0
    return replace(
        found,
        points=locked_floats(points),
        heights_mm=locked_floats(found.heights_mm[back]),
        compression=locked_floats(found.compression[back]),
        spring_mm=locked_floats(found.spring_mm[back]),
        lift_mm=locked_floats(found.lift_mm[back]),
        pressure_kpa=locked_floats(found.pressure_kpa[back]),
    )


def _rest(
    settled: Settled,
    stack: Stack,
    foam: tuple[bool, ...],
    free: FloatArray,
    lifts: tuple[Lift, ...],
    tension: float,
) -> PadRest:
    lies = stack.thickness_mm.T > THIN_MM
    strain = np.where(lies, settled.compression, 0.0)
    chosen = np.array(foam, dtype=bool)
    crush = np.where(lies[:, chosen].any(axis=1), strain[:, chosen].max(axis=1, initial=0.0), np.nan)
    change = settled.heights_mm - stack.free_mm()
    return PadRest(
        settled=settled,
        tension_n_per_mm=tension,
        free=locked_floats(free),
        lifts=lifts,
        change_mm=locked_floats(change),
        height_change_mm=(float(change.min()), float(change.max())),
        foam_crush=locked_floats(crush),
        foam_compression_max=float(strain[:, chosen].max(initial=0.0)),
        padding_compression_max=float(strain.max(initial=0.0)),
        layer_compression_max=tuple(float(s) for s in strain.max(axis=0, initial=0.0)),
        foam_layers=foam,
        spring_deflection_mm=float(settled.spring_mm.max(initial=0.0)),
    )


def _lifts(settled: Settled, pad: Pad, chart: Chart, mesh: ChartMesh) -> tuple[Lift, ...]:
    """Connected places where the cover stands off by more than a trimmer can see."""
    off = settled.lift_mm > LIFT_SEEN_MM
    if settled.lift_mm.max(initial=0.0) <= LIFT_TOLD_MM:
        return ()
    edges = directed_edges(mesh.triangles)
    edges = edges[off[edges].all(axis=1)]
    n = len(off)
    links = sparse.coo_matrix((np.ones(len(edges)), (edges[:, 0], edges[:, 1])), shape=(n, n))
    part = csgraph.connected_components(links, directed=False)[1]
    lifts, tied = [], settled.points[_tied(mesh)]
    for number in np.unique(part[settled.lift_mm > LIFT_TOLD_MM]):
        here = np.flatnonzero(off & (part == number))
        worst = here[int(np.argmax(settled.lift_mm[here]))]
        size = np.sort(np.ptp(settled.points[here], axis=0))
        x, y, z = (float(v) for v in settled.points[worst])
        below = float((mesh.c - chart.edge(mesh.u))[worst])
        where = f"at {place_words(x, y)} on the face"
        if below > 0:
            side = pad.side_word(chart.side_at(float(mesh.u[worst])))
            where = f"on the {side} side, {below:.0f} mm below its edge"
        beside = len(tied) > 0 and float(np.min(cKDTree(tied).query(settled.points[here])[0])) < TIED_NEAR_MM
        lifts.append(Lift((x, y, z), where, float(settled.lift_mm[worst]), float(size[2]), float(size[1]), beside))
    return tuple(sorted(lifts, key=lambda lift: (-lift.gap_mm, lift.at)))


def lift_notes(pad: Pad, rest: PadRest, make_problem: MakeProblem) -> tuple[Problem, ...]:
    """Warnings for the places where the cover lifts; of a place and its mirror image only one is told, and none that
    is too small to tie down."""
    notes = []
    for lift in rest.lifts:
        twin = pad.symmetric and any(
            abs(lift.at[0] + other.at[0]) < 1e-6 and abs(lift.at[1] - other.at[1]) < 1e-6
            for other in rest.lifts
            if other is not lift
        )
        if (twin and lift.at[0] < 0) or lift.long_mm < LIFT_LEAST_MM:
            continue
        size = f"over {lift.long_mm:.0f} x {lift.wide_mm:.0f} mm" + (", and on the other half too" if twin else "")
        text = f"the cover lifts off the padding by up to {lift.gap_mm:.1f} mm, {lift.where}, {size}; "
        text += TIED_ADVICE if lift.tied else ADVICE
        notes.append(replace(make_problem("G140", (), text), warning=True))
    return tuple(notes)
