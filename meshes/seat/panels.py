"""A padded surface and its seam lines become panels, each a disc, and the seams between them.

Panels are the parts that the sewn lines leave. Names are what a trimmer calls them: face, front band, inset, left
bolster. A panel's rim is split wherever what lies beyond it changes, so one rim edge is one seam or one tack line.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import IntEnum
from itertools import pairwise

import numpy as np
from shapely import Polygon, contains_xy

from meshes.base.arrays import BoolArray, FloatArray, IntArray, locked_floats, locked_ints
from meshes.base.problems import ProblemError
from meshes.base.surface import Surface, boundary_loops, components, is_disc, triangle_areas
from meshes.pleats.valleys import PleatPlan, part_names
from meshes.records.pad import SIDES, Pad
from meshes.seat.names import numbered, told_apart
from meshes.support.chart import Blame, Chart
from meshes.support.chart_mesh import ChartMesh
from meshes.support.line_roles import LineIdentity, LineRole


class PanelRole(IntEnum):
    """What a panel is on the pad; pieces are read in this order."""

    PLEAT = 0
    INSET = 1
    FACE = 2
    BOLSTER = 3
    BAND = 4


@dataclass(frozen=True, eq=False)
class RimEdge:
    """One edge of a panel. role: of the line it lies on; vertices: panel numbers, counter-clockwise, both corners
    included; kind: "sewn", "welted", "pulled" or "closed"; name: the neighbour's part or the tack line; seam: name of
    the seam, None when not sewn."""

    name: str
    kind: str
    role: LineRole
    vertices: IntArray
    seam: str | None = None


@dataclass(frozen=True, eq=False)
class Panel:
    """One disc of the cover in pad coordinates.

    part: what it is called on its pad; role: what it is; places: words of place that its name holds already.
    vertices (n,) and triangles (m,): numbers in the pad's surface; grain (3,): direction on the seat that the grain
    arrow follows; mirror_of: panel whose exact mirror image this is (same vertex order); mirror (n,): the vertex that
    mirrors each one, for a panel that lies evenly across the centre line; centre: vertices where the rim crosses that
    line.
    """

    name: str
    pad: str
    part: str
    role: PanelRole
    places: tuple[str, ...]
    surface: Surface
    vertices: IntArray
    triangles: IntArray
    rim: tuple[RimEdge, ...]
    grain: FloatArray
    mirror_of: str | None
    mirror: IntArray | None
    centre: IntArray


@dataclass(frozen=True, eq=False)
class Seam:
    """Two panel edges sewn together; vertices: numbers along the pad's surface, in the direction of panel a's rim."""

    name: str
    a: str
    b: str
    welt: bool
    vertices: IntArray


@dataclass(frozen=True, eq=False)
class Division:
    """All panels of a pad and the seams between them."""

    panels: tuple[Panel, ...]
    seams: tuple[Seam, ...]


def divide(
    pad: Pad,
    chart: Chart,
    blame: Blame,
    mesh: ChartMesh,
    surface: Surface,
    inset: Polygon | None,
    pleats: PleatPlan | None = None,
) -> Division:
    """Split a pad's surface along its sewn lines; pleats name the parts of what is pleated. Raises ProblemError when a
    part is no disc."""
    sewn = np.array([mesh.rules[k].sewn for k in mesh.rule], dtype=bool)
    part_of = components(mesh.triangles, mesh.edges[sewn])
    parts = _named_parts(pad, chart, mesh, surface, part_of, inset, pleats)
    partner = _partners(mesh, part_of)
    drawn: dict[int, Panel] = {}
    for part in sorted(parts, key=lambda k: partner[k] != k and _lies_left(mesh, part_of == k)):
        source = drawn.get(partner[part]) if partner[part] != part else None
        drawn[part] = _panel(pad, mesh, surface, part_of, parts, part, source)
    _all_discs(list(drawn.values()), blame)
    ordered = [drawn[k] for k in sorted(parts, key=lambda k: (parts[k].role, parts[k].name))]
    return _named_seams(ordered)


def _lies_left(mesh: ChartMesh, own: BoolArray) -> bool:
    """Whether most of a part, given by its triangles (m,), lies left of the centre line: of a mirrored pair it is the
    right one that is drawn."""
    return float(mesh.plan[mesh.triangles[own], 0].mean()) < 0.0


@dataclass(frozen=True)
class _PanelPart:
    """What a part is and is called, and the words of place in that name."""

    role: PanelRole
    name: str
    places: tuple[str, ...] = ()


def _named_parts(
    pad: Pad,
    chart: Chart,
    mesh: ChartMesh,
    surface: Surface,
    part_of: IntArray,
    inset: Polygon | None,
    pleats: PleatPlan | None,
) -> dict[int, _PanelPart]:
    parts: dict[int, _PanelPart] = {}
    area = triangle_areas(surface.vertices, surface.triangles)
    middle = mesh.plan[mesh.triangles].mean(axis=1)
    groups: dict[_PanelPart, list[tuple[int, FloatArray]]] = {}
    for part in range(int(part_of.max()) + 1):
        own = part_of == part
        on_face = own & (mesh.side < 0)
        if not on_face.any():
            word = pad.side_word(SIDES[int(np.bincount(mesh.side[own]).argmax())])
            parts[part] = _PanelPart(PanelRole.BAND, f"{word} band", (word,))
            continue
        centroid = np.average(middle[on_face], axis=0, weights=area[on_face])
        kind = _PanelPart(PanelRole.FACE, "face")
        if inset is not None:
            inner = contains_xy(inset, middle[on_face][:, 0], middle[on_face][:, 1])
            if np.average(inner, weights=area[on_face]) > 0.5:
                kind = _PanelPart(PanelRole.INSET, "inset")
            else:
                rim = np.average(
                    chart.outline.point(chart.outline.nearest(middle[on_face])[0]),
                    axis=0,
                    weights=area[on_face],
                )
                nearest = chart.outline.nearest(rim[None])[0]
                word = pad.side_word(chart.side_at(float(nearest[0])))
                kind = _PanelPart(PanelRole.BOLSTER, f"{word} bolster", (word,))
        groups.setdefault(kind, []).append((part, centroid))
    where = None if pleats is None else PLEATED[pleats.pleats.where]
    for kind, members in groups.items():
        known = None
        if pleats is not None and kind.role is where and len(members) > 1:
            known = _pleated_parts(pleats, kind, np.array([middle for _, middle in members]))
        if known is not None:
            parts.update({part: one for (part, _), one in zip(members, known, strict=True)})
        else:
            parts.update(_spread_parts(pad, kind, members))
    return parts


# What is pleated, by where the sheet says it is.
PLEATED = {"face": PanelRole.FACE, "inset": PanelRole.INSET}


def _pleated_parts(pleats: PleatPlan, kind: _PanelPart, middles: FloatArray) -> list[_PanelPart] | None:
    """The parts that joins in valleys leave, each a pleat where every valley is one."""
    known = part_names(pleats, kind.name, middles)
    if known is None:
        return None
    role = PanelRole.PLEAT if len(known) == pleats.count else kind.role
    return [_PanelPart(role, name, (side,) if side else ()) for name, side in known]


def _spread_parts(pad: Pad, kind: _PanelPart, members: Sequence[tuple[int, FloatArray]]) -> dict[int, _PanelPart]:
    """Several parts of one kind are told apart by where they lie: left, centre, right; front, rear; else by number."""
    if len(members) == 1:
        return {members[0][0]: kind}
    at = np.array([centroid for _, centroid in members])
    across = np.ptp(at[:, 0]) >= np.ptp(at[:, 1])
    order = np.argsort(at[:, 0] if across else at[:, 1], kind="stable")
    ends = ("left", "right") if across else (pad.side_word("front"), pad.side_word("rear"))
    words = {2: ends, 3: (ends[0], "centre", ends[1])}.get(len(members), tuple(str(k + 1) for k in range(len(members))))
    numbered = len(members) > 3
    return {
        members[m][0]: replace(kind, name=f"{kind.name} {word}")
        if numbered
        else replace(kind, name=f"{word} {kind.name}", places=(word, *kind.places))
        for m, word in zip(order, words, strict=True)
    }


def _partners(mesh: ChartMesh, part_of: IntArray) -> IntArray:
    """For every part the part that mirrors it (itself when it lies across the centre line or the pad is crooked)."""
    parts = np.arange(int(part_of.max()) + 1)
    if mesh.mirror is None:
        return parts
    where = {tuple(t): k for k, t in enumerate(np.sort(mesh.triangles, axis=1).tolist())}
    first = np.unique(part_of, return_index=True)[1]
    image = np.sort(mesh.mirror[mesh.triangles[first]], axis=1)
    return part_of[[where[tuple(t)] for t in image.tolist()]]


def _panel(
    pad: Pad,
    mesh: ChartMesh,
    surface: Surface,
    part_of: IntArray,
    parts: dict[int, _PanelPart],
    part: int,
    source: Panel | None,
) -> Panel:
    if source is not None and mesh.mirror is not None:
        vertices = mesh.mirror[source.vertices]
        local = source.surface.triangles[:, [0, 2, 1]]
        whole = {tuple(t): k for k, t in enumerate(np.sort(mesh.triangles, axis=1).tolist())}
        triangles = np.array([whole[tuple(t)] for t in np.sort(vertices[local], axis=1).tolist()])
    else:
        triangles = np.flatnonzero(part_of == part)
        vertices, flat = np.unique(mesh.triangles[triangles], return_inverse=True)
        local = flat.reshape(-1, 3)
    own = Surface(surface.vertices[vertices], local)
    rim = _rim(pad, mesh, part_of, parts, part, vertices, local) if is_disc(local) else ()
    named = parts[part]
    return Panel(
        name=f"{pad.name} {named.name}",
        pad=pad.name,
        part=named.name,
        role=named.role,
        places=named.places,
        surface=own,
        vertices=locked_ints(vertices),
        triangles=locked_ints(triangles),
        rim=rim,
        grain=locked_floats([0.0, 0.0, 1.0] if named.role is PanelRole.BAND else [0.0, 1.0, 0.0]),
        mirror_of=source.name if source is not None else None,
        mirror=_own_mirror(mesh, vertices),
        centre=locked_ints(_crosses_centre(rim, np.isin(vertices, mesh.centre))),
    )


def _crosses_centre(rim: Sequence[RimEdge], on: BoolArray) -> IntArray:
    """Vertices where a rim crosses the centre line, in rising order; on (n,): which of a panel's vertices lie on it.

    A seam that runs along the line parts the panels there; its ends are their corners, which are mark enough.
    """
    loop = np.concatenate([edge.vertices[:-1] for edge in rim]) if rim else np.zeros(0, dtype=np.int64)
    here = on[loop]
    return np.sort(loop[here & ~np.roll(here, 1) & ~np.roll(here, -1)])


def _own_mirror(mesh: ChartMesh, vertices: IntArray) -> IntArray | None:
    """For a panel across the centre line the vertex that mirrors each of its own; None for any other."""
    if mesh.mirror is None:
        return None
    image = mesh.mirror[vertices]
    order = np.argsort(vertices, kind="stable")
    spot = np.minimum(np.searchsorted(vertices[order], image), len(vertices) - 1)
    return locked_ints(order[spot]) if np.array_equal(vertices[order][spot], image) else None


def _rim(
    pad: Pad,
    mesh: ChartMesh,
    part_of: IntArray,
    parts: dict[int, _PanelPart],
    part: int,
    vertices: IntArray,
    local: IntArray,
) -> tuple[RimEdge, ...]:
    loop = boundary_loops(local)[0]
    after = np.roll(loop, -1)
    top = len(mesh.plan)
    keys = np.sort(np.stack([vertices[loop], vertices[after]], axis=1), axis=1) @ np.array([top, 1])
    line = np.sort(mesh.edges, axis=1) @ np.array([top, 1])
    order = np.argsort(line, kind="stable")
    rule = mesh.rule[order][np.searchsorted(line[order], keys)]
    beyond = _beyond(mesh, part_of, part, keys, top)
    change = np.flatnonzero((rule != np.roll(rule, 1)) | (beyond != np.roll(beyond, 1)))
    if len(change) == 0:
        change = np.array([0])
    edges = []
    for start, stop in zip(change, np.append(change[1:], change[0] + len(loop)), strict=True):
        run = loop[np.arange(start, stop + 1) % len(loop)]
        edges.append(_rim_edge(pad, mesh.rules[rule[start]], parts.get(int(beyond[start])), run))
    return tuple(edges)


def _beyond(mesh: ChartMesh, part_of: IntArray, part: int, keys: IntArray, top: int) -> IntArray:
    """Number of the part beyond each rim edge, -1 where the cover ends."""
    t = mesh.triangles
    edges = np.sort(np.concatenate([t[:, [0, 1]], t[:, [1, 2]], t[:, [2, 0]]]), axis=1) @ np.array([top, 1])
    owner = np.tile(part_of, 3)
    other = owner != part
    edges, owner = edges[other], owner[other]
    order = np.argsort(edges, kind="stable")
    edges, owner = edges[order], owner[order]
    spot = np.minimum(np.searchsorted(edges, keys), len(edges) - 1) if len(edges) else np.zeros(len(keys), dtype=int)
    return np.where(edges[spot] == keys, owner[spot], -1) if len(edges) else np.full(len(keys), -1)


def _rim_edge(pad: Pad, rule: LineIdentity, neighbour: _PanelPart | None, run: IntArray) -> RimEdge:
    if neighbour is not None:
        return RimEdge(neighbour.name, "welted" if rule.welt else "sewn", rule.role, locked_ints(run))
    # The cover ends at tack lines only, which are numbered by their sides.
    side = SIDES[rule.number]
    kind = "closed" if pad.sides[side].closed_by_hand else "pulled"
    return RimEdge(f"{pad.side_word(side)} tack line", kind, rule.role, locked_ints(run))


def _all_discs(panels: Sequence[Panel], blame: Blame) -> None:
    faults = [
        blame(
            "G107",
            (),
            f"the {panel.part} is no disc: it is a ring or hangs on a point; part it with one more seam line",
        )
        for panel in panels
        if not panel.rim
    ]
    if faults:
        raise ProblemError(faults)


def _named_seams(panels: Sequence[Panel]) -> Division:
    """Pair the rim edges of neighbours and give each pair one name, numbered when two panels meet more than once."""
    open_edges: dict[frozenset[tuple[int, int]], list[tuple[int, int]]] = {}
    for p, panel in enumerate(panels):
        for e, edge in enumerate(panel.rim):
            if edge.kind in ("sewn", "welted"):
                run = panel.vertices[edge.vertices]
                steps = frozenset((min(i, j), max(i, j)) for i, j in pairwise(run.tolist()))
                open_edges.setdefault(steps, []).append((p, e))
    pairs = [both for both in open_edges.values() if len(both) == 2]
    names = numbered([f"{panels[a].name} / {panels[b].part}" for (a, _), (b, _) in pairs])
    rims = [list(panel.rim) for panel in panels]
    seams = []
    for name, ((a, i), (b, j)) in zip(names, pairs, strict=True):
        rims[a][i], rims[b][j] = replace(rims[a][i], seam=name), replace(rims[b][j], seam=name)
        edge = rims[a][i]
        run = locked_ints(panels[a].vertices[edge.vertices])
        seams.append(Seam(name, panels[a].name, panels[b].name, edge.kind == "welted", run))
    return Division(tuple(replace(p, rim=tuple(rim)) for p, rim in zip(panels, rims, strict=True)), tuple(seams))


def curves_of(panels: Sequence[Panel], seams: Sequence[Seam]) -> dict[str, IntArray]:
    """Every seam and every edge that is not sewn as vertices of the pad, each under a name of its own."""
    open_edges = [(panel, edge) for panel in panels for edge in panel.rim if edge.seam is None]
    names = told_apart([*(seam.name for seam in seams), *(f"{panel.part} {edge.name}" for panel, edge in open_edges)])
    runs = [*(seam.vertices for seam in seams), *(panel.vertices[edge.vertices] for panel, edge in open_edges)]
    return dict(zip(names, runs, strict=True))
