"""A pad's bare support as a mesh: its chart in triangles, the points of the support, and how layers see every place."""

from collections.abc import Sequence
from dataclasses import dataclass

from meshes.numerics.sizes import Sizes
from meshes.padding.handed import handed_mesh
from meshes.padding.layers import PadDistances, places
from meshes.records.pad import Pad
from meshes.support.chart import Chart, MakeProblem
from meshes.support.chart_mesh import ChartMesh
from meshes.support.face import Face, is_even
from meshes.support.line_roles import ChartLine
from meshes.support.loft import Support, loft


@dataclass(frozen=True, eq=False)
class SupportMesh:
    """chart: of the pad, padded; mesh: the chart's triangles; support: points and directors (n, 3) of the bare support
    at the mesh's vertices; at: what layers ask about them."""

    pad: Pad
    chart: Chart
    mesh: ChartMesh
    support: Support
    at: PadDistances


def support_mesh(
    pad: Pad,
    chart: Chart,
    face: Face,
    make_problem: MakeProblem,
    *,
    edge_mm: float | Sizes,
    valleys: Sequence[ChartLine] = (),
) -> SupportMesh:
    """The support of a pad, its face given, in triangles of about `edge_mm`, one for all or by place; valleys: lines of
    the chart that become edges besides the pad's seams. Raises ProblemError as `handed_mesh`."""
    sizes = edge_mm if isinstance(edge_mm, Sizes) else Sizes(edge_mm)
    mesh = handed_mesh(pad, chart, make_problem, half=is_even(pad), sizes=sizes, valleys=valleys)
    support = loft(chart, face, mesh.plan, mesh.u, mesh.c)
    return SupportMesh(pad, chart, mesh, support, places(chart, mesh.plan, mesh.u, mesh.c))
