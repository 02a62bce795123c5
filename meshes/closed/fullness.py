"""How tight a closed cover is, and how its faces bulge: the foam pressed together by a smaller cover pushes back.

Cut across the middle of a box, both faces pull on one side and the core's end pushes on the other: 2 T = p t, with the
core's pressure p at the share by which it is pressed together and its thickness t. Under that pull each face lies on
half of the core and its wrap and is held at its rim, where band and plate are sewn. Both faces are alike, so the middle
of the core stays where it is and one half stands for both. Lengths mm, tension N/mm, pressures kPa.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import FloatArray, IntArray, locked_floats
from meshes.base.surface import triangle_areas
from meshes.closed.plate_mesh import PlateMesh
from meshes.numerics.laplace import corner_angles, laplacian
from meshes.numerics.solver import Factor
from meshes.padding.stack import stack_of
from meshes.records.closed import Closed
from meshes.records.compression import curve
from meshes.records.materials import Material
from meshes.records.pad import Pad
from meshes.settle.equilibrium import KPA
from meshes.settle.settle import Conditions, Settled, settle

# A cover that nothing pulls still lies smooth.
LEAST_PULL_N_PER_MM = 0.005


@dataclass(frozen=True, eq=False)
class Fullness:
    """tension_n_per_mm: of the cover; heights_mm (n,): of the upper face above the middle; settled: None where the
    faces are flat by themselves (a roll's discs); rise_mm: how far each face stands above the flat one through its
    rim."""

    tension_n_per_mm: float
    heights_mm: FloatArray
    settled: Settled | None = None
    rise_mm: float = 0.0


def even_pressure(points: FloatArray, triangles: IntArray, rim: IntArray, high_mm: float) -> FloatArray:
    """Heights (n,) of a membrane over a plane mesh, points (n, 2), held at its rim and pressed evenly from below so
    that its highest place is at `high_mm`: -lap u = const, u = 0 along the rim (L. Prandtl's membrane, 1903)."""
    n = len(points)
    flat = np.column_stack([points, np.zeros(n)])
    matrix = laplacian(triangles, corner_angles(flat, triangles)[1], n)
    load = np.zeros(n)
    np.add.at(load, triangles, triangle_areas(flat, triangles)[:, None] / 3.0)
    free = np.setdiff1d(np.arange(n), rim)
    heights = np.zeros(n)
    heights[free] = Factor(matrix[free][:, free]).solve(load[free])
    return np.asarray(heights * (high_mm / heights.max()))


def wrap_mm(pad: Pad) -> float:
    """What the layers of a closed cover's pad add up to, on each face or round a roll."""
    return sum(layer.thickness for layer in pad.layers)


def fitted_tension(
    closed: Closed, size_mm: tuple[float, float], materials: Mapping[str, Material], usual: float
) -> float:
    """What a cover pulls with that is smaller than its core, N/mm; usual: for one that is not. size_mm: of the core."""
    core = materials[closed.core]
    less = closed.smaller(core).mm
    if closed.form == "roll" or less <= 0.0:
        return max(usual, LEAST_PULL_N_PER_MM)
    share = float(np.mean([min(less / size, 0.9) for size in size_mm]))
    pressure = float(curve(core.table).pressure(np.array([share]))[0])
    return max(0.5 * KPA * pressure * closed.mean_thickness, LEAST_PULL_N_PER_MM)


def core_rims(closed: Closed, plan: FloatArray) -> FloatArray:
    """Half of the height between both plates' rims at plan positions (k, 2), shape (k,): of a wedge even from its
    front to its rear."""
    if closed.rear is None:
        return np.full(len(plan), 0.5 * closed.height)
    y = plan[:, 1]
    share = (y - y.min()) / (y.max() - y.min())
    return np.asarray(0.5 * (closed.thickness + share * (closed.rear - closed.thickness) + closed.board))


def lift_of(closed: Closed, heights: FloatArray, rims: FloatArray) -> FloatArray | None:
    """How high the middle between both faces lies (n,) for the lower one to be flat; heights (n,): of the upper face
    above the middle of the band, rims (n,): half of the band's height. None where both faces are alike."""
    if closed.rear is None and not closed.board:
        return None
    lift = rims - 0.5 * closed.height
    return np.asarray(lift + 0.5 * (heights - rims) if closed.board else lift)


def filled(pad: Pad, closed: Closed, plate: PlateMesh, materials: Mapping[str, Material], tension: float) -> Fullness:
    """The faces of a closed cover at rest. A knife edge stands as a bag under even pressure does."""
    if closed.form == "knife_edge":
        heights = even_pressure(plate.points, plate.triangles, plate.rim, 0.5 * closed.thickness + wrap_mm(pad))
        if plate.mirror is not None:
            heights = 0.5 * (heights + heights[plate.mirror])
        return Fullness(tension, locked_floats(heights), rise_mm=float(heights.max()))
    n, rim = len(plate.points), core_rims(closed, plate.points)
    if closed.form == "roll":
        return Fullness(tension, locked_floats(rim))
    if closed.board:
        return _on_board(pad, closed, plate, materials, tension)
    half = rim if closed.rear is not None else np.full(n, 0.5 * closed.thickness)
    found = _settled(pad, closed, plate, materials, (tension, half, rim))
    heights = found.heights_mm
    if plate.mirror is not None:
        heights = locked_floats(0.5 * (heights + heights[plate.mirror]))
    return Fullness(tension, heights, found, float((heights - rim).max()))


def _on_board(
    pad: Pad, closed: Closed, plate: PlateMesh, materials: Mapping[str, Material], tension: float
) -> Fullness:
    """The upper face of a core that lies on a board: all of the core gives, from the board up. Heights count from the
    middle of the band, as of any other face."""
    rim = core_rims(closed, plate.points)
    core = 2.0 * rim - closed.board if closed.rear is not None else np.full(len(rim), closed.thickness)
    found = _settled(pad, closed, plate, materials, (tension, core, 2.0 * rim - closed.board))
    heights = found.heights_mm + closed.board - rim
    if plate.mirror is not None:
        heights = 0.5 * (heights + heights[plate.mirror])
    # Where the rim is held the upper face is as high as its rim, to the last digit: bands are even up and down.
    heights[plate.rim] = rim[plate.rim]
    return Fullness(tension, locked_floats(heights), found, float((heights - rim).max()))


def _settled(
    pad: Pad,
    closed: Closed,
    plate: PlateMesh,
    materials: Mapping[str, Material],
    pressed: tuple[float, FloatArray, FloatArray],
) -> Settled:
    """A face at rest on foam. pressed: the cover's tension, how thick the core is under it (n,), and how high the rim
    lies that holds it (n,), from where that core stands."""
    tension, core, rim = pressed
    n = len(plate.points)
    layers = [np.full(n, layer.thickness) for layer in pad.layers]
    curves = tuple(curve(materials[name].table) for name in (closed.core, *(layer.material for layer in pad.layers)))
    return settle(
        np.column_stack([plate.points, np.zeros(n)]),
        np.tile([0.0, 0.0, 1.0], (n, 1)),
        plate.triangles,
        stack_of(curves, np.array([core, *layers])),
        tension_n_per_mm=tension,
        conditions=Conditions(fixed=plate.rim, fixed_mm=rim[plate.rim]),
    )
