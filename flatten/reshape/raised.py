"""Padding that is to be higher at a place: where that is on the seat, the seat raised there, and what pieces become.

What a straight edge shows at the fit is the finished seat, so the cover comes up there by the whole amount, square to
the seat, and smoothly down again around it. Every piece over that place is drawn anew so that its leather is stretched
as it was: each triangle grows as it grows on the seat. Limit: the seat is not brought to rest anew; springs and
padding beside the place stay pressed as they were.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree

from flatten.fit.asked import DrawnPad, MakeFitProblem, edges_meant
from flatten.fit.linked import followers
from flatten.fit.places import NamedPlace, edge_names, place_named, places_on
from flatten.leather.stretch import frames
from flatten.maps.flat import Flat
from flatten.reshape.bump import RUNS_OUT_MM, RUNS_OUT_TIMES, RaisedPlace, off_fixed
from flatten.reshape.elastic import inverted, turned_by
from meshes.base.arrays import FloatArray, IntArray, locked_floats
from meshes.base.problems import Problem
from meshes.base.surface import Surface, vertex_normals
from meshes.fitting.notes import FitNote
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel

# Less than this is not drawn anew.
UNRAISED_MM = 0.01


@dataclass(frozen=True, eq=False)
class RaiseAsked:
    """A row about the padding, the pieces it names, and its place; where: in words."""

    note: FitNote
    drawn: DrawnPad
    piece: int
    place: RaisedPlace
    where: str


def raise_asked(drawn: DrawnPad, i: int, note: FitNote, problem: MakeFitProblem) -> RaiseAsked | Problem:
    """Where a row is to raise the padding. drawn: pieces with the pairs that the row is about parted."""
    amount, pad = note.higher_mm or 0.0, drawn.pad
    taper = max(RUNS_OUT_MM, RUNS_OUT_TIMES * abs(amount)) if note.taper_mm is None else note.taper_mm
    if taper < RUNS_OUT_TIMES * abs(amount):
        text = f"{abs(amount):g} mm need {RUNS_OUT_TIMES * abs(amount):.0f} mm to run out, or they show as a step; "
        return problem("F347", note.row, "taper", f"{text}write that, or a smaller amount")
    if pad.pad.board is not None:
        return problem("F347", note.row, "padding", "this pad is covered flat; change its layer")
    found = _place(drawn, i, note, problem)
    if isinstance(found, Problem):
        return found
    vertices, where = found
    clear = off_fixed(pad, vertices)
    if not len(clear):
        text = "the cover is fixed there, so nothing can be higher; name an edge that is sewn, or marks farther in"
        return problem("F347", note.row, "edge", text)
    return RaiseAsked(note, drawn, i, RaisedPlace(clear, amount, taper), where)


def padding_mm(pad: BuiltPad) -> FloatArray:
    """What padding lies under the cover at every vertex (n,), mm; of a closed cover, and of one over blocks, the
    most."""
    count = len(pad.surface.vertices)
    if pad.pad.closed is not None:
        return np.full(count, 0.5 * pad.pad.closed.mean_thickness)
    if any(layer.block is not None for layer in pad.pad.layers) or len(pad.thickness_mm) != count:
        return np.full(count, pad.facts.thickness_mm[1])
    return pad.thickness_mm


def _place(drawn: DrawnPad, i: int, note: FitNote, problem: MakeFitProblem) -> tuple[IntArray, str] | Problem:
    """Vertices of the seat's surface that a row names, and the same in words."""
    piece = drawn.pieces[i]
    panels = {panel.name: panel for panel in drawn.pad.panels}
    edge = note.edge
    if edge is None:
        k = _middle(piece.mesh.points, [one.points for one in piece.edges])
        return np.array([panels[name].vertices[k] for name in piece.panels]), "in the middle"
    names, ends = edge_names(piece), [words for words in (note.start, note.end) if words is not None]
    meant = edges_meant(piece, edge, ends)
    if len(meant) != 1:
        # A name that is none or that of several is told where all rows are looked up.
        return problem("F331", note.row, "edge", f'{piece.name} has {len(meant)} edges "{edge}" with these marks')
    k = meant[0]
    places = places_on(piece, k)
    span: list[NamedPlace] = [places[0], places[-1]]
    for j, (key, words) in enumerate((("from", note.start), ("to", note.end))):
        place = None if words is None else place_named(places, words)
        if words is not None and place is None:
            text = f'no mark "{words}", or more than one, along "{edge}"; its places are '
            return problem("F332", note.row, key, text + ", ".join(one.name for one in places))
        span[j] = place or span[j]
    if span[0].at > span[1].at:
        span.reverse()
    where = f"along {names[k]}"
    if ends:
        where += f", from {span[0].name} to {span[1].name}" if span[0] != span[1] else f", at {span[0].name}"
    own, all_of = (_along(drawn, (i, k), (span[0].at, span[1].at), both=both) for both in (False, True))
    if note.alone or (len(piece.panels) < 2 and not len(np.setdiff1d(all_of, own))):
        return own, where
    return all_of, f"{where}, and likewise where the seat is mirrored"


def _middle(points: FloatArray, edges: Sequence[FloatArray]) -> int:
    """The vertex of a map (n, 2) that lies farthest from its edges."""
    away = np.asarray(cKDTree(np.concatenate(edges)).query(points)[0])
    return int(np.argmax(away.round(6)))


def _along(drawn: DrawnPad, where: tuple[int, int], span: tuple[float, float], *, both: bool) -> IntArray:
    """Vertices along a stretch of an edge, given in vertices of the edge; both: also where the seat is mirrored."""
    panels = {panel.name: panel for panel in drawn.pad.panels}
    # A stretch between two vertices is that between the nearest ones.
    low, high = (round(at) for at in span)
    found = []
    all_of = followers(drawn.pad, drawn.pieces, where)
    for one in all_of if both else [follower for follower in all_of if follower.where == where]:
        i, k = one.where
        steps = np.flatnonzero((one.segment >= low) & (one.segment < max(high, low + 1)))
        at = np.unique(np.concatenate([steps, steps + 1]))
        if low == high:
            at = np.unique([round(one.from_first(float(low))) if low < one.segment.max() + 1 else at[-1]])
        for name in drawn.pieces[i].panels:
            panel = panels[name]
            rim = panels[drawn.pieces[i].panels[0]].rim[k].vertices
            found.append(panel.vertices[rim[at]])
    return np.unique(np.concatenate(found))


def raised_pad(pad: BuiltPad, height_mm: FloatArray) -> BuiltPad:
    """The pad with its cover raised by so much (n,) square to its surface."""
    old = pad.surface
    shift = height_mm[:, None] * vertex_normals(old.vertices, old.triangles)
    surface = old.moved(old.vertices + shift)
    panels = tuple(_moved_panel(panel, surface) for panel in pad.division.panels)
    pleats = pad.pleats
    if pleats is not None:
        raised = pleats.raised.moved(pleats.raised.vertices + shift)
        pleats = replace(pleats, raised=raised)
    thick = pad.thickness_mm
    if len(thick) == len(height_mm):
        thick = locked_floats(np.maximum(thick + height_mm, 0.0))
    division = replace(pad.division, panels=panels)
    return replace(pad, surface=surface, division=division, pleats=pleats, thickness_mm=thick)


def _moved_panel(panel: Panel, surface: Surface) -> Panel:
    return replace(panel, surface=panel.surface.moved(surface.vertices[panel.vertices]))


def passes_through(old: Surface, new: Surface) -> bool:
    """Whether a raised surface turns somewhere through itself."""
    one, two = (_normals(surface) for surface in (old, new))
    return bool(((one * two).sum(axis=1) <= 0.0).any())


def _normals(surface: Surface) -> FloatArray:
    a, b, c = (surface.vertices[surface.triangles[:, k]] for k in range(3))
    return np.asarray(np.cross(b - a, c - a))


def grown(flat: Flat, old: Surface, new: Surface) -> FloatArray:
    """By what every triangle (m, 2, 2) of a map has to grow for its stretch to stay what it was, when the panel's
    surface becomes another one."""
    triangles = old.triangles
    seat = [frames(one.vertices, triangles) for one in (old, new)]
    # Both frames lie on the longest edge of their own; the edges themselves are compared.
    a = flat.points[triangles[:, 0]]
    paper = np.stack([flat.points[triangles[:, 1]] - a, flat.points[triangles[:, 2]] - a], axis=1)
    before, after = seat[0][0], seat[1][0]
    # Edges are rows: after = before @ own @ turn with a symmetric own, seat = paper @ pulled.
    change = inverted(before) @ after
    own = change @ turned_by(change).transpose(0, 2, 1)
    pulled = inverted(paper) @ before
    whole = pulled @ own @ inverted(pulled)
    found = whole @ turned_by(whole).transpose(0, 2, 1)
    return np.asarray(0.5 * (found + found.transpose(0, 2, 1)))


def laid_words(pad: BuiltPad, place: RaisedPlace) -> str:
    """What to lay on or take away so that the cover stands as much higher, pressed as the padding there is."""
    amount, rest, pressed, name = place.amount_mm, pad.rest, 0.0, ""
    if rest is not None and len(rest.foam_crush) > place.vertices.max():
        crush = rest.foam_crush[place.vertices]
        foams = [layer.material for layer, foam in zip(pad.pad.layers, rest.foam_layers, strict=True) if foam]
        if foams and np.isfinite(crush).any():
            pressed, name = float(np.nanmean(crush)), foams[-1]
    thick = abs(amount) / max(1.0 - pressed, 0.1)
    what = (
        f"{thick:.1f} mm of {name} (pressed by {100 * pressed:.0f} % there)" if name else f"{thick:.1f} mm of padding"
    )
    return f"lay on {what}, skived out to nothing" if amount > 0.0 else f"take away {what}, skived to nothing"
