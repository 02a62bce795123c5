"""A padded surface and its seam lines become panels, each a disc, and the seams between them.

Panels are the parts that the sewn lines leave. Names are what a trimmer calls them: face, front band, inset, left
bolster. A panel's rim is split wherever what lies beyond it changes, so one rim edge is one seam or one tack line.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from shapely import Polygon, contains_xy

from meshes.base.arrays import FloatArray, IntArray, locked_floats, locked_ints
from meshes.base.problems import ProblemError
from meshes.base.surface import Surface, boundary_loops, components, is_disc, triangle_areas
from meshes.pleats.valleys import PleatPlan, part_names
from meshes.records.pad import SIDES, Pad
from meshes.support.chart import Blame, Chart
from meshes.support.chart_mesh import ChartMesh
from meshes.support.seam_lines import CENTRE_LINE, CENTRE_VALLEY, Rule


@dataclass(frozen=True, eq=False)
class RimEdge:
    """One edge of a panel. vertices: panel numbers, counter-clockwise, both corners included; kind: "sewn", "welted",
    "pulled" or "closed"; name: the neighbour's part or the tack line; seam: name of the seam, None when not sewn."""

    name: str
    kind: str
    vertices: IntArray
    seam: str | None = None


@dataclass(frozen=True, eq=False)
class Panel:
    """One disc of the cover in pad coordinates.

    vertices (n,) and triangles (m,): numbers in the pad's surface; grain (3,): direction on the seat that the grain
    arrow follows; mirror_of: panel whose exact mirror image this is (same vertex order); mirror (n,): the vertex that
    mirrors each one, for a panel that lies evenly across the centre line; centre: rim vertices on that line.
    """

    name: str
    pad: str
    part: str
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
    parts = _part_names(pad, chart, mesh, surface, part_of, inset, pleats)
    partner = _partners(mesh, part_of)
    centre = _centre_vertices(mesh)
    drawn: dict[int, Panel] = {}
    for part in sorted(parts, key=lambda k: (partner[k] != k and parts[k].startswith("left"), parts[k])):
        source = drawn.get(partner[part]) if partner[part] != part else None
        drawn[part] = _panel(pad, mesh, surface, part_of, parts, part, source, centre)
    _all_discs(list(drawn.values()), blame)
    ordered = [drawn[k] for k in sorted(parts, key=lambda k: _reading_order(parts[k]))]
    return _named_seams(ordered, mesh, parts)


def _reading_order(part: str) -> tuple[int, str]:
    kinds = ("pleat", "inset", "face", "bolster", "band")
    return next((k for k, kind in enumerate(kinds) if kind in part), len(kinds)), part


def _part_names(
    pad: Pad,
    chart: Chart,
    mesh: ChartMesh,
    surface: Surface,
    part_of: IntArray,
    inset: Polygon | None,
    pleats: PleatPlan | None,
) -> dict[int, str]:
    names: dict[int, str] = {}
    area = triangle_areas(surface.vertices, surface.triangles)
    middle = mesh.plan[mesh.triangles].mean(axis=1)
    groups: dict[str, list[tuple[int, FloatArray]]] = {}
    for part in range(int(part_of.max()) + 1):
        own = part_of == part
        on_face = own & (mesh.side < 0)
        if not on_face.any():
            side = SIDES[int(np.bincount(mesh.side[own]).argmax())]
            names[part] = f"{pad.side_word(side)} band"
            continue
        centroid = np.average(middle[on_face], axis=0, weights=area[on_face])
        word = "face"
        if inset is not None:
            inner = contains_xy(inset, middle[on_face][:, 0], middle[on_face][:, 1])
            if np.average(inner, weights=area[on_face]) > 0.5:
                word = "inset"
            else:
                rim = np.average(
                    chart.outline.point(chart.outline.nearest(middle[on_face])[0]),
                    axis=0,
                    weights=area[on_face],
                )
                nearest = chart.outline.nearest(rim[None])[0]
                word = f"{pad.side_word(chart.side_at(float(nearest[0])))} bolster"
        groups.setdefault(word, []).append((part, centroid))
    for word, members in groups.items():
        known = None
        if pleats is not None and word == pleats.pleats.where and len(members) > 1:
            known = part_names(pleats, word, np.array([middle for _, middle in members]))
        if known is not None:
            names.update({part: name for (part, _), name in zip(members, known, strict=True)})
        else:
            names.update(_spread_names(pad, word, members))
    return names


def _spread_names(pad: Pad, word: str, members: Sequence[tuple[int, FloatArray]]) -> dict[int, str]:
    """Several parts of one kind are told apart by where they lie: left, centre, right; front, rear; else by number."""
    if len(members) == 1:
        return {members[0][0]: word}
    at = np.array([centroid for _, centroid in members])
    across = np.ptp(at[:, 0]) >= np.ptp(at[:, 1])
    order = np.argsort(at[:, 0] if across else at[:, 1], kind="stable")
    ends = ("left", "right") if across else (pad.side_word("front"), pad.side_word("rear"))
    words = {2: ends, 3: (ends[0], "centre", ends[1])}.get(len(members), tuple(str(k + 1) for k in range(len(members))))
    numbered = len(members) > 3
    return {members[m][0]: f"{word} {w}" if numbered else f"{w} {word}" for m, w in zip(order, words, strict=True)}


def _partners(mesh: ChartMesh, part_of: IntArray) -> IntArray:
    """For every part the part that mirrors it (itself when it lies across the centre line or the pad is crooked)."""
    parts = np.arange(int(part_of.max()) + 1)
    if mesh.mirror is None:
        return parts
    where = {tuple(t): k for k, t in enumerate(np.sort(mesh.triangles, axis=1).tolist())}
    first = np.unique(part_of, return_index=True)[1]
    image = np.sort(mesh.mirror[mesh.triangles[first]], axis=1)
    return part_of[[where[tuple(t)] for t in image.tolist()]]


def _centre_vertices(mesh: ChartMesh) -> IntArray:
    # A sewn valley or seam on the centre line parts the panels there, and their corners are mark enough.
    on = np.array([_marks_centre(mesh.rules[k]) for k in mesh.rule], dtype=bool)
    return np.unique(mesh.edges[on])


def _marks_centre(rule: Rule) -> bool:
    return rule.name == CENTRE_LINE.name or (rule.name == CENTRE_VALLEY and not rule.sewn)


def _panel(
    pad: Pad,
    mesh: ChartMesh,
    surface: Surface,
    part_of: IntArray,
    parts: dict[int, str],
    part: int,
    source: Panel | None,
    centre: IntArray,
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
    on_rim = np.unique(np.concatenate([edge.vertices for edge in rim])) if rim else np.zeros(0, dtype=np.int64)
    name = f"{pad.name} {parts[part]}"
    return Panel(
        name=name,
        pad=pad.name,
        part=parts[part],
        surface=own,
        vertices=locked_ints(vertices),
        triangles=locked_ints(triangles),
        rim=rim,
        grain=locked_floats([0.0, 0.0, 1.0] if parts[part].endswith("band") else [0.0, 1.0, 0.0]),
        mirror_of=source.name if source is not None else None,
        mirror=_own_mirror(mesh, vertices),
        centre=locked_ints(on_rim[np.isin(vertices[on_rim], centre)]),
    )


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
    parts: dict[int, str],
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


def _rim_edge(pad: Pad, rule: Rule, neighbour: str | None, run: IntArray) -> RimEdge:
    if neighbour is not None:
        return RimEdge(neighbour, "welted" if rule.welt else "sewn", locked_ints(run))
    side = next((s for s in SIDES if rule.name == f"{pad.side_word(s)} tack line"), None)
    closed = side is not None and pad.sides[side].closed_by_hand
    return RimEdge(rule.name, "closed" if closed else "pulled", locked_ints(run))


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


def _named_seams(panels: Sequence[Panel], mesh: ChartMesh, parts: dict[int, str]) -> Division:
    """Pair the rim edges of neighbours and give each pair one name, numbered when two panels meet more than once."""
    open_edges: dict[frozenset[tuple[int, int]], list[tuple[int, int]]] = {}
    for p, panel in enumerate(panels):
        for e, edge in enumerate(panel.rim):
            if edge.kind in ("sewn", "welted"):
                run = panel.vertices[edge.vertices]
                steps = frozenset((min(i, j), max(i, j)) for i, j in pairwise(run.tolist()))
                open_edges.setdefault(steps, []).append((p, e))
    pairs = [both for both in open_edges.values() if len(both) == 2]
    met: dict[str, int] = {}
    for (a, _), (b, _) in pairs:
        words = f"{panels[a].name} / {panels[b].part}"
        met[words] = met.get(words, 0) + 1
    count: dict[str, int] = {}
    rims = [list(panel.rim) for panel in panels]
    seams = []
    for (a, i), (b, j) in pairs:
        words = f"{panels[a].name} / {panels[b].part}"
        count[words] = count.get(words, 0) + 1
        name = words if met[words] == 1 else f"{words} {count[words]}"
        rims[a][i], rims[b][j] = replace(rims[a][i], seam=name), replace(rims[b][j], seam=name)
        edge = rims[a][i]
        run = locked_ints(panels[a].vertices[edge.vertices])
        seams.append(Seam(name, panels[a].name, panels[b].name, edge.kind == "welted", run))
    return Division(tuple(replace(p, rim=tuple(rim)) for p, rim in zip(panels, rims, strict=True)), tuple(seams))
