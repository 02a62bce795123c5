"""A proposed cut made real: the panel is cut, its parts and seams take its place, its mirror image is cut alike.

A dart leaves one panel whose two legs are sewn to each other in a seam of their own. A seam leaves panels named by
where they lie. Where a cut meets an edge that is sewn, that seam ends there too and goes on as another, so that the
neighbour carries a mark where the new line has to meet it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatten.relief.cutting import Mapped, parts
from flatten.relief.even_cut import EvenCut, even_cut
from flatten.relief.rejoin import PanelsAndSeams, joined
from flatten.relief.search import Relief
from meshes.base.arrays import FloatArray, IntArray, locked_floats, locked_ints
from meshes.base.surface import Surface, boundary_loops, smallest_angles
from meshes.records.pad import Pad
from meshes.seat.build import BuiltPad
from meshes.seat.names import told_apart
from meshes.seat.panels import Panel, RimEdge, Seam, curves_of
from meshes.support.line_roles import LineRole

MIRRORED = np.array([-1.0, 1.0, 1.0])
# Parts of an even cut mirror each other but for the triangles that their means are taken over.
PAIR_MM = 5.0


def recut(pad: BuiltPad, name: str, relief: Relief) -> BuiltPad:
    """The pad with one of its panels cut as proposed, and with it the panel that mirrors it.

    relief: a proposal for the panel of this name, in its own vertex numbers. Raises ValueError for a panel that is the
    mirror image of another one: cut that one.
    """
    panel = next(p for p in pad.panels if p.name == name)
    if panel.mirror_of is not None:
        raise ValueError(f"{name} is cut as the mirror image of {panel.mirror_of}")
    even = even_cut(relief, panel.mirror) if relief.even and panel.mirror is not None else None
    if even is not None:
        relief = even.relief
    both = [panel, *(p for p in pad.panels if p.mirror_of == name)]
    ends = [path[[0, -1]] if relief.kind == "seam" else path[-1:] for path in relief.paths]
    stops = np.unique(np.concatenate([target.vertices[np.concatenate(ends)] for target in both]))
    draft = PanelsAndSeams(pad.panels, pad.seams)
    for stop in stops.tolist():
        draft = _ended_at(draft, stop)
    taken = {p.part for p in pad.panels if p not in both}
    source: Sequence[Panel] = ()
    for target in both:
        now = next(p for p in draft.panels if p.name == target.name)
        grown = _grown(pad, now, relief.drawn)
        pad = grown.pad
        made, seams = _parts(grown, now, relief, source, taken)
        if even is not None:
            made = _evened(made, now, even, grown.rows)
        place = draft.panels.index(now)
        draft = PanelsAndSeams((*draft.panels[:place], *made, *draft.panels[place + 1 :]), (*draft.seams, *seams))
        taken |= {p.part for p in made}
        source = made
    panels, seams_now = joined(draft)
    surface = Surface(pad.surface.vertices, pad.surface.triangles, curves_of(panels, seams_now))
    angle = float(np.rad2deg(smallest_angles(surface.vertices, surface.triangles).min()))
    facts = replace(pad.facts, triangles=len(surface.triangles), smallest_angle_deg=angle)
    return replace(pad, surface=surface, division=replace(pad.division, panels=panels, seams=seams_now), facts=facts)


def _ended_at(draft: PanelsAndSeams, stop: int) -> PanelsAndSeams:
    """Every edge and every seam that runs through a vertex of the pad's surface in two, one to either side of it."""
    halves: dict[str, tuple[Seam, Seam]] = {}
    for seam in draft.seams:
        at = np.flatnonzero(seam.vertices[1:-1] == stop)
        if len(at):
            first, last = seam.vertices[: at[0] + 2], seam.vertices[at[0] + 1 :]
            # Working names; seams get their names when all panels stand.
            halves[seam.name] = (
                replace(seam, name=f"{seam.name}\n1", vertices=first),
                replace(seam, name=f"{seam.name}\n2", vertices=last),
            )
    seams = [half for seam in draft.seams for half in halves.get(seam.name, (seam,))]
    panels = [replace(p, rim=tuple(e for edge in p.rim for e in _halved(p, edge, stop, halves))) for p in draft.panels]
    return PanelsAndSeams(tuple(panels), tuple(seams))


def _halved(panel: Panel, edge: RimEdge, stop: int, halves: Mapping[str, tuple[Seam, Seam]]) -> list[RimEdge]:
    run = panel.vertices[edge.vertices]
    at = np.flatnonzero(run[1:-1] == stop)
    if not len(at):
        return [edge]
    first, last = edge.vertices[: at[0] + 2], edge.vertices[at[0] + 1 :]
    names: tuple[str | None, str | None] = (None, None)
    if edge.seam is not None:
        one, two = halves[edge.seam]
        forward = {run[0], run[1]} == set(one.vertices[:2].tolist())
        names = (one.name, two.name) if forward else (two.name, one.name)
    return [replace(edge, vertices=locked_ints(v), seam=s) for v, s in zip((first, last), names, strict=True)]


@dataclass(frozen=True, eq=False)
class _Grown:
    """A pad with the lines of a panel drawn into its surfaces; numbers: the pad's number of every vertex of the panel
    as drawn; rows: the pad's row of every triangle of it."""

    pad: BuiltPad
    numbers: IntArray
    rows: IntArray


def _grown(pad: BuiltPad, panel: Panel, drawn: Mapped) -> _Grown:
    """The pad's surfaces with the lines of a panel drawn into them."""
    old, count = len(panel.vertices), len(drawn.vertices) - len(panel.vertices)
    numbers = np.concatenate([panel.vertices, len(pad.surface.vertices) + np.arange(count)])
    ends, share = numbers[drawn.ends[old:]], drawn.share[old:]
    triangles = numbers[drawn.triangles if panel.mirror_of is None else drawn.triangles[:, [0, 2, 1]]]
    rows = panel.triangles[drawn.parent]
    again = np.ones(len(rows), dtype=bool)
    again[np.unique(rows, return_index=True)[1]] = False
    rows = np.where(again, len(pad.surface.triangles) + np.cumsum(again) - 1, rows)
    whole = np.concatenate([pad.surface.triangles, np.zeros((int(again.sum()), 3), dtype=np.int64)])
    whole[rows] = triangles

    def with_new(values: FloatArray) -> FloatArray:
        values = np.concatenate([values, np.zeros((count, *values.shape[1:]))])
        for k, ((i, j), s) in enumerate(zip(ends, share, strict=True), start=len(values) - count):
            values[k] = (1.0 - s) * values[i] + s * values[j]
        return values

    grown = replace(
        pad,
        surface=Surface(with_new(pad.surface.vertices), whole, pad.surface.curves),
        support=Surface(with_new(pad.support.vertices), whole),
        thickness_mm=locked_floats(with_new(pad.thickness_mm)),
        pleats=None if pad.pleats is None else pad.pleats.grown(ends, share, whole),
    )
    return _Grown(grown, numbers, rows)


@dataclass(frozen=True, eq=False)
class _Rim:
    """What the edges of a cut panel are, by the directed pair of vertices in `drawn`: an edge of the panel, or a path
    counted on from there; tips: where darts end."""

    edges: Mapping[tuple[int, int], int]
    tips: frozenset[int]


def _rim_of(panel: Panel, relief: Relief) -> _Rim:
    edges: dict[tuple[int, int], int] = {}
    for k, edge in enumerate(panel.rim):
        edges |= dict.fromkeys(zip(edge.vertices[:-1].tolist(), edge.vertices[1:].tolist(), strict=True), k)
    for k, path in enumerate(relief.paths, start=len(panel.rim)):
        there = list(zip(path[:-1].tolist(), path[1:].tolist(), strict=True))
        edges |= dict.fromkeys([*there, *((j, i) for i, j in there)], k)
    tips = frozenset(int(path[0]) for path in relief.paths) if relief.kind == "dart" else frozenset()
    return _Rim(edges, tips)


def _parts(
    grown: _Grown, panel: Panel, relief: Relief, source: Sequence[Panel], taken: set[str]
) -> tuple[list[Panel], list[Seam]]:
    """The panels that a cut makes of one, and the seams along it; source: the parts that they mirror."""
    mirrored = panel.mirror_of is not None
    triangles = relief.cut.triangles[:, [0, 2, 1]] if mirrored else relief.cut.triangles
    rim = _rim_of(panel, relief)
    pieces = parts(triangles)
    vertices = relief.cut.vertices * MIRRORED if mirrored else relief.cut.vertices
    named = part_words(grown.pad.pad, panel, [vertices[own].mean(axis=0) for own, _, _ in pieces], taken)
    names = [f"{panel.name} cut {k + 1}" for k in range(len(relief.paths))]
    made = []
    for k, (own, faces, local) in enumerate(pieces):
        origin = relief.cut.origin[own]
        edges = _part_rim(panel, rim, local, origin, names)
        on_rim = np.unique(np.concatenate([edge.vertices for edge in edges]))
        made.append(
            replace(
                panel,
                name=f"{panel.pad} {named[k][0]}",
                identity=replace(panel.identity, part=named[k][0], places=named[k][1]),
                surface=Surface(vertices[own], local),
                vertices=locked_ints(grown.numbers[origin]),
                triangles=locked_ints(grown.rows[faces]),
                rim=edges,
                mirror_of=source[k].name if source else None,
                mirror=None,
                centre=locked_ints(on_rim[np.isin(origin[on_rim], panel.centre)]),
            )
        )
    ways = [path[::-1] if mirrored else path for path in relief.paths]
    seams = [
        Seam(name, "", "", False, locked_ints(grown.numbers[path])) for name, path in zip(names, ways, strict=True)
    ]
    return made, seams


def _evened(made: Sequence[Panel], panel: Panel, even: EvenCut, rows: IntArray) -> list[Panel]:
    """The parts of an even panel that was cut evenly: each its own mirror image, or a pair of which the left one is
    the right one's."""
    pieces = parts(even.relief.cut.triangles)
    whose = np.empty(len(even.relief.cut.vertices), dtype=np.int64)
    local = np.empty_like(whose)
    for k, (own, _, _) in enumerate(pieces):
        whose[own], local[own] = k, np.arange(len(own))
    result = list(made)
    for k, (own, faces, triangles) in enumerate(pieces):
        twin = even.vertex[own]
        other = int(whose[twin[0]])
        if other == k:
            mirror = locked_ints(local[twin])
            result[k] = replace(made[k], mirror=mirror, centre=_centre_of(made[k], mirror))
        elif even.relief.cut.vertices[own, 0].mean() > 0.0:
            # The left one is given the right one's order of vertices.
            order = np.empty(len(own), dtype=np.int64)
            order[local[twin]] = np.arange(len(own))
            image = made[other]
            result[k] = replace(made[k], mirror=None)
            result[other] = replace(
                image,
                surface=Surface(made[k].surface.vertices * MIRRORED, triangles[:, [0, 2, 1]]),
                vertices=locked_ints(image.vertices[local[twin]]),
                triangles=locked_ints(rows[even.triangle[faces]]),
                rim=tuple(replace(edge, vertices=locked_ints(order[edge.vertices])) for edge in image.rim),
                centre=locked_ints(order[image.centre]),
                grain=locked_floats(panel.grain * MIRRORED),
                mirror_of=made[k].name,
            )
    return result


def _centre_of(panel: Panel, mirror: IntArray) -> IntArray:
    """Where the rim of an even panel crosses the centre line; not where a dart along it ends."""
    loop = boundary_loops(panel.surface.triangles)[0]
    beside = mirror[np.roll(loop, 1)] == np.roll(loop, -1)
    along = panel.surface.vertices[np.roll(loop, 1), 0] == 0.0
    return locked_ints(np.sort(loop[(mirror[loop] == loop) & beside & ~along]))


def _part_rim(panel: Panel, rim: _Rim, local: IntArray, origin: IntArray, names: Sequence[str]) -> tuple[RimEdge, ...]:
    """The edges of one part: what is left of the panel's, and the legs of the cuts."""
    loop = boundary_loops(local)[0]
    around = origin[loop].tolist()
    label = np.array([rim.edges[pair] for pair in zip(around, around[1:] + around[:1], strict=True)])
    starts = np.flatnonzero((label != np.roll(label, 1)) | np.isin(around, list(rim.tips)))
    edges = []
    for first, last in zip(starts, np.append(starts[1:], starts[0] + len(loop)), strict=True):
        run = locked_ints(loop[np.arange(first, last + 1) % len(loop)])
        kind = int(label[first])
        if kind < len(panel.rim):
            edges.append(replace(panel.rim[kind], vertices=run))
        else:
            edges.append(RimEdge("", "sewn", LineRole.RELIEF, run, names[kind - len(panel.rim)]))
    return tuple(edges)


def part_words(
    pad: Pad, panel: Panel, middles: Sequence[FloatArray], taken: set[str]
) -> list[tuple[str, tuple[str, ...]]]:
    """Names for the parts of a panel by where their middles (3,) lie in the pad, none of them among `taken`, each with
    the words of place in it."""
    if len(middles) == 1:
        return [(panel.part, panel.places)]
    at = np.array(middles)
    # Where two parts mirror each other, they are the left and the right one, however far a third lies from both.
    way = 0 if _has_pair(at) else int(np.argmax(np.ptp(at, axis=0)))
    low, high = (("left", "right"), (pad.side_word("front"), pad.side_word("rear")), ("lower", "upper"))[way]
    order = np.argsort(at[:, way], kind="stable")
    words = {2: (low, high), 3: (low, "centre", high)}.get(len(at), tuple(f"{k + 1}." for k in range(len(at))))
    # "rear rear bolster" would be read as a slip.
    join = " part of " if set(words) & set(panel.places) else " "
    names = told_apart([f"{word}{join}{panel.part}" for word in words], taken)
    at_place = dict(zip(order.tolist(), zip(names, words, strict=True), strict=True))
    return [(at_place[k][0], (at_place[k][1], *panel.places)) for k in range(len(at))]


def _has_pair(middles: FloatArray) -> bool:
    """Whether one of the middles (k, 3) mirrors another."""
    apart = np.linalg.norm((middles * MIRRORED)[:, None] - middles, axis=2)
    pairs = np.argwhere(apart < PAIR_MM)
    return bool((pairs[:, 0] != pairs[:, 1]).any())
