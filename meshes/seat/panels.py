"""Panels of a cover and the seams between them, as records.

A panel is a disc. Its rim is split wherever what lies beyond it changes, so one rim edge is one seam or one tack line.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

from meshes.base.arrays import FloatArray, IntArray
from meshes.base.surface import Surface
from meshes.records.corners import CornerFinish
from meshes.seat.names import told_apart
from meshes.support.line_roles import LineRole

# What the edges of a panel are called that are sewn to each other: of a dart, of a join, and down a corner.
DART_LEG = "dart"
JOIN = "join"
CORNER_LEG = "corner"


def own_seam_word(role: LineRole) -> str:
    """What the seam of a panel with itself is called: a dart, a sewn corner, or the join of a band all round."""
    return {LineRole.RELIEF: DART_LEG, LineRole.CORNER_SEAM: CORNER_LEG}.get(role, JOIN)


class PanelRole(IntEnum):
    """What a panel is on the pad; pieces are read in this order."""

    PLEAT = 0
    INSET = 1
    FACE = 2
    BOLSTER = 3
    BAND = 4
    FLY = 5


@dataclass(frozen=True)
class PanelIdentity:
    """role: what a panel is; part: what it is called on its pad; places: words of place that this name holds
    already."""

    role: PanelRole
    part: str
    places: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class RimEdge:
    """One edge of a panel. role: of the line it lies on; vertices: panel numbers, counter-clockwise, both corners
    included; kind: "sewn", "welted", "zip", "folded", "bare" (cut and left) or one of FIXED; name: the neighbour's
    part, or the tack line, the zip or the fold; seam: name of the seam, None when not sewn; side: of the pad, for outer
    edges and the seams of flies."""

    name: str
    kind: str
    role: LineRole
    vertices: IntArray
    seam: str | None = None
    side: str = ""


@dataclass(frozen=True, eq=False)
class Panel:
    """One disc of the cover in pad coordinates.

    vertices (n,) and triangles (m,): numbers in the pad's surface; grain (3,): direction on the seat that the grain
    arrow follows; mirror_of: panel whose exact mirror image this is (same vertex order); mirror (n,): the vertex that
    mirrors each one, for a panel that lies evenly across the centre line; centre: vertices where the rim crosses that
    line.
    """

    name: str
    pad: str
    identity: PanelIdentity
    surface: Surface
    vertices: IntArray
    triangles: IntArray
    rim: tuple[RimEdge, ...]
    grain: FloatArray
    mirror_of: str | None
    mirror: IntArray | None
    centre: IntArray

    @property
    def part(self) -> str:
        """What it is called on its pad."""
        return self.identity.part

    @property
    def role(self) -> PanelRole:
        """What it is on its pad."""
        return self.identity.role

    @property
    def places(self) -> tuple[str, ...]:
        """Words of place that its name holds already."""
        return self.identity.places


@dataclass(frozen=True, eq=False)
class Seam:
    """Two panel edges sewn together; vertices: numbers along the pad's surface, in the direction of panel a's rim."""

    name: str
    a: str
    b: str
    welt: bool
    vertices: IntArray


@dataclass(frozen=True, eq=False)
class CornerFold:
    """What a corner takes in: the cover below the edge round its arc, which the leather beside it covers in folds.

    name: of the edge of the panel that runs round it, down from the tack line and up again; triangles (k,): numbers in
    the pad's surface; depth_mm: from the edge down to the tack line along the cover; arc_mm: round the edge.
    """

    corner: str
    finish: CornerFinish
    name: str
    panel: str
    triangles: IntArray
    depth_mm: float
    arc_mm: float


@dataclass(frozen=True, eq=False)
class Division:
    """All panels of a pad, the seams between them, and what its folded corners take in."""

    panels: tuple[Panel, ...]
    seams: tuple[Seam, ...]
    folds: tuple[CornerFold, ...] = ()


def curves_of(panels: Sequence[Panel], seams: Sequence[Seam]) -> dict[str, IntArray]:
    """Every seam and every edge that is not sewn as vertices of the pad, each under a name of its own."""
    open_edges = [(panel, edge) for panel in panels for edge in panel.rim if edge.seam is None]
    names = told_apart([*(seam.name for seam in seams), *(f"{panel.part} {edge.name}" for panel, edge in open_edges)])
    runs = [*(seam.vertices for seam in seams), *(panel.vertices[edge.vertices] for panel, edge in open_edges)]
    return dict(zip(names, runs, strict=True))
