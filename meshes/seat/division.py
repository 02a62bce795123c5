"""A padded surface and its seam lines become panels, each a disc, and the seams between them.

Panels are the parts that the sewn lines leave.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from meshes.base.arrays import BoolArray, IntArray, locked_floats, locked_ints
from meshes.base.cut_open import cut_open
from meshes.base.problems import ProblemError
from meshes.base.surface import Surface, boundary_loops, components, directed_edges, is_disc, triangles_among
from meshes.padding.support_mesh import SupportMesh
from meshes.pleats.plan import PleatPlan
from meshes.records.frame import FIXED
from meshes.records.pad import SIDES, Pad
from meshes.seat.corner_folds import corner_at, corner_folds, corner_sectors, fold_name
from meshes.seat.names import numbered
from meshes.seat.panel_identities import panel_identities
from meshes.seat.panels import Division, Panel, PanelIdentity, PanelRole, RimEdge, Seam, own_seam_word
from meshes.support.chart import Chart, MakeProblem
from meshes.support.chart_mesh import ChartMesh
from meshes.support.inset import inset_polygon
from meshes.support.line_roles import LineIdentity, LineRole

# Panels that stand: their grain goes up.
STANDING = (PanelRole.BAND, PanelRole.FLY)


@dataclass(frozen=True, eq=False)
class _Parting:
    """A surface parted by its sewn lines. part_of (m,): the part of every triangle; identities: by part."""

    pad: Pad
    chart: Chart
    mesh: ChartMesh
    surface: Surface
    part_of: IntArray
    identities: dict[int, PanelIdentity]


def divide(
    meshed: SupportMesh, surface: Surface, make_problem: MakeProblem, pleats: PleatPlan | None = None
) -> Division:
    """Split a pad's surface along its sewn lines; pleats name the parts of what is pleated. Raises ProblemError when a
    part is no disc."""
    pad, mesh = meshed.pad, meshed.mesh
    sewn = np.array([mesh.rules[k].sewn for k in mesh.rule], dtype=bool)
    part_of = components(mesh.triangles, mesh.edges[sewn])
    sectors = corner_sectors(meshed, part_of, make_problem)
    identities = panel_identities(meshed, surface, part_of, inset_polygon(pad, meshed.chart, make_problem), pleats)
    # What corners take in belongs to no panel.
    for sector in sectors:
        part_of[sector.triangles] = len(identities)
    parting = _Parting(pad, meshed.chart, mesh, surface, part_of, identities)
    partner = _partners(mesh, part_of)
    made: dict[int, Panel] = {}
    for part in sorted(identities, key=lambda k: partner[k] != k and _lies_left(mesh, part_of == k)):
        source = made.get(partner[part]) if partner[part] != part else None
        made[part] = _panel(parting, part, source)
    _all_discs(list(made.values()), make_problem)
    ordered = [made[k] for k in sorted(identities, key=lambda k: (identities[k].role, identities[k].part))]
    return replace(named_seams(ordered), folds=corner_folds(sectors, surface, ordered, pad))


def _lies_left(mesh: ChartMesh, own: BoolArray) -> bool:
    """Whether most of a part, given by its triangles (m,), lies left of the centre line: of a mirrored pair it is the
    right one that is drawn."""
    return float(mesh.plan[mesh.triangles[own], 0].mean()) < 0.0


def _partners(mesh: ChartMesh, part_of: IntArray) -> IntArray:
    """For every part the part that mirrors it (itself when it lies across the centre line or the pad is crooked)."""
    parts = np.arange(int(part_of.max()) + 1)
    if mesh.mirror is None:
        return parts
    first = np.unique(part_of, return_index=True)[1]
    return part_of[triangles_among(mesh.mirror[mesh.triangles[first]], mesh.triangles)]


def _panel(parting: _Parting, part: int, source: Panel | None) -> Panel:
    """The panel of one part; source: the panel whose mirror image it is."""
    mesh, surface, pad = parting.mesh, parting.surface, parting.pad
    if source is not None and mesh.mirror is not None:
        vertices = mesh.mirror[source.vertices]
        local = source.surface.triangles[:, [0, 2, 1]]
        triangles = triangles_among(vertices[local], mesh.triangles)
    else:
        triangles = np.flatnonzero(parting.part_of == part)
        vertices, local = _laid_open(parting, triangles)
    rim = _rim(parting, part, vertices, local) if is_disc(local) else ()
    identity = parting.identities[part]
    return Panel(
        name=f"{pad.name} {identity.part}",
        pad=pad.name,
        identity=identity,
        surface=Surface(surface.vertices[vertices], local),
        vertices=locked_ints(vertices),
        triangles=locked_ints(triangles),
        rim=rim,
        grain=locked_floats([0.0, 0.0, 1.0] if identity.role in STANDING else [0.0, 1.0, 0.0]),
        mirror_of=source.name if source is not None else None,
        mirror=_own_mirror(mesh, vertices, local),
        centre=locked_ints(_crosses_centre(rim, np.isin(vertices, mesh.centre))),
    )


def _laid_open(parting: _Parting, triangles: IntArray) -> tuple[IntArray, IntArray]:
    """Vertices (n,) of the surface and triangles (m, 3) by their numbers of one part, parted where it is sewn to
    itself: there every vertex is its own twice."""
    mesh = parting.mesh
    vertices, flat = np.unique(mesh.triangles[triangles], return_inverse=True)
    local = flat.reshape(-1, 3)
    sewn = np.sort(mesh.edges[[mesh.rules[k].sewn for k in mesh.rule]], axis=1)
    sides = np.sort(directed_edges(mesh.triangles[triangles]), axis=1)
    keys, often = np.unique(sides @ np.array([len(mesh.plan), 1]), return_counts=True)
    walls = sewn[np.isin(sewn @ np.array([len(mesh.plan), 1]), keys[often == 2])]
    if not len(walls):
        return vertices, local
    cut = cut_open(parting.surface.vertices[vertices], local, *np.searchsorted(vertices, walls))
    return vertices[cut.origin], cut.triangles


def _crosses_centre(rim: Sequence[RimEdge], on: BoolArray) -> IntArray:
    """Vertices where a rim crosses the centre line, in rising order; on (n,): which of a panel's vertices lie on it.

    A seam that runs along the line parts the panels there; its ends are their corners, which are mark enough.
    """
    loop = np.concatenate([edge.vertices[:-1] for edge in rim]) if rim else np.zeros(0, dtype=np.int64)
    here = on[loop]
    return np.sort(loop[here & ~np.roll(here, 1) & ~np.roll(here, -1)])


def _own_mirror(mesh: ChartMesh, vertices: IntArray, local: IntArray) -> IntArray | None:
    """For a panel across the centre line the vertex that mirrors each of its own; None for any other. local (m, 3): its
    triangles by its own numbers; they tell apart what a join has doubled."""
    if mesh.mirror is None:
        return None
    image = mesh.mirror[vertices]
    if not np.array_equal(np.sort(image), np.sort(vertices)):
        return None
    other = local[triangles_among(image[local], vertices[local])]
    mirror = np.empty(len(vertices), dtype=np.int64)
    match = vertices[other][:, None, :] == image[local][:, :, None]
    mirror[local] = np.take_along_axis(other, match.argmax(axis=2), axis=1)
    return locked_ints(mirror)


def _rim(parting: _Parting, part: int, vertices: IntArray, local: IntArray) -> tuple[RimEdge, ...]:
    """The rim of a part, split wherever the line or what lies beyond it changes; vertices (n,): numbers in the surface;
    local (m, 3): the part's triangles by numbers among these."""
    mesh = parting.mesh
    loop = boundary_loops(local)[0]
    after = np.roll(loop, -1)
    top = len(mesh.plan)
    keys = np.sort(np.stack([vertices[loop], vertices[after]], axis=1), axis=1) @ np.array([top, 1])
    line = np.sort(mesh.edges, axis=1) @ np.array([top, 1])
    order = np.argsort(line, kind="stable")
    spot = np.minimum(np.searchsorted(line[order], keys), len(line) - 1)
    beyond = _beyond(mesh, parting.part_of, part, keys, top)
    # Round what a corner takes in there may be no line, or only the edge.
    folded = (beyond >= 0) & ~np.isin(beyond, list(parting.identities))
    rule = mesh.rule[order][spot]
    # Where the cover goes on beyond a line that is no tack line, it is the part itself.
    own = np.array([mesh.rules[k].role is not LineRole.TACK for k in rule]) & (beyond < 0)
    beyond[own] = part
    line_kind = np.where(folded, -1, _alike(mesh.rules)[rule])
    change = (line_kind != np.roll(line_kind, 1)) | (beyond != np.roll(beyond, 1))
    change = np.flatnonzero(change | np.isin(vertices[loop], _join_ends(mesh)))
    if len(change) == 0:
        change = np.array([0])
    edges = []
    for start, stop in zip(change, np.append(change[1:], change[0] + len(loop)), strict=True):
        run = loop[np.arange(start, stop + 1) % len(loop)]
        if folded[start]:
            edges.append(_fold_edge(parting, vertices[run], run))
            continue
        both = parting.identities[part], parting.identities.get(int(beyond[start]))
        edge = _rim_edge(parting.pad, mesh.rules[rule[start]], both, run)
        itself = int(beyond[start]) == part
        edges.append(replace(edge, name=own_seam_word(edge.role)) if itself else edge)
    return tuple(edges)


def _alike(rules: Sequence[LineIdentity]) -> IntArray:
    """For every line the first that is one with it to who sews: the edge seam goes on from side to side when it is sewn
    alike. Shape (k,)."""
    plain = [replace(rule, number=0, image=None) if rule.role is LineRole.EDGE else rule for rule in rules]
    return np.array([plain.index(rule) for rule in plain], dtype=np.int64)


def _join_ends(mesh: ChartMesh) -> IntArray:
    """Vertices at which joins of a band and sewn corners begin and end."""
    down = mesh.on(LineRole.JOIN, LineRole.SIDE_SEAM, LineRole.CORNER_SEAM)
    ends, often = np.unique(mesh.edges[down], return_counts=True)
    return ends[often == 1]


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


def _rim_edge(pad: Pad, rule: LineIdentity, both: tuple[PanelIdentity, PanelIdentity | None], run: IntArray) -> RimEdge:
    """An edge of the first panel, beyond which the second lies, or nothing."""
    own, neighbour = both
    if neighbour is not None:
        sewn = "bare" if rule.role is LineRole.FLY_END else "welted" if rule.welt else "sewn"
        side = SIDES[rule.number] if rule.role is LineRole.FLY else ""
        return RimEdge(neighbour.part, sewn, rule.role, locked_ints(run), side=side)
    # The cover ends at tack lines only, which are numbered by their sides.
    side = SIDES[rule.number]
    kind = "closed" if pad.sides[side].closed_by_hand else "pulled"
    if own.role is not PanelRole.FLY:
        kind = FIXED.get(pad.fixings.of(side) or "", kind)
    return RimEdge(f"{pad.side_word(side)} tack line", kind, rule.role, locked_ints(run), side=side)


def _fold_edge(parting: _Parting, numbers: IntArray, run: IntArray) -> RimEdge:
    """The edge round what a corner takes in; numbers (k,): of its vertices in the surface."""
    corner = corner_at(parting.chart, parting.mesh.u[numbers])
    return RimEdge(fold_name(parting.pad, corner), "folded", LineRole.FOLD, locked_ints(run))


def _parts_it(panel: Panel) -> str:
    if panel.role is PanelRole.BAND:
        return "give it a place in joins under [pad.bands]"
    return "part it with one more seam line"


def _all_discs(panels: Sequence[Panel], make_problem: MakeProblem) -> None:
    faults = [
        make_problem(
            "G107",
            (),
            f"the {panel.part} is no disc: it is a ring or hangs on a point; {_parts_it(panel)}",
        )
        for panel in panels
        if not panel.rim
    ]
    if faults:
        raise ProblemError(faults)


def _seam_words(a: Panel, b: Panel, edge: RimEdge) -> str:
    return f"{a.name} {own_seam_word(edge.role)}" if a is b else f"{a.name} / {b.part}"


def named_seams(panels: Sequence[Panel]) -> Division:
    """Pair the rim edges of neighbours and give each pair one name, numbered when two panels meet more than once."""
    open_edges: dict[frozenset[tuple[int, int]], list[tuple[int, int]]] = {}
    for p, panel in enumerate(panels):
        for e, edge in enumerate(panel.rim):
            if edge.kind in ("sewn", "welted"):
                run = panel.vertices[edge.vertices]
                steps = frozenset((min(i, j), max(i, j)) for i, j in pairwise(run.tolist()))
                open_edges.setdefault(steps, []).append((p, e))
    pairs = [both for both in open_edges.values() if len(both) == 2]
    names = numbered([_seam_words(panels[a], panels[b], panels[a].rim[e]) for (a, e), (b, _) in pairs])
    rims = [list(panel.rim) for panel in panels]
    seams = []
    for name, ((a, i), (b, j)) in zip(names, pairs, strict=True):
        rims[a][i], rims[b][j] = replace(rims[a][i], seam=name), replace(rims[b][j], seam=name)
        edge = rims[a][i]
        run = locked_ints(panels[a].vertices[edge.vertices])
        seams.append(Seam(name, panels[a].name, panels[b].name, edge.kind == "welted", run))
    return Division(tuple(replace(p, rim=tuple(rim)) for p, rim in zip(panels, rims, strict=True)), tuple(seams))
