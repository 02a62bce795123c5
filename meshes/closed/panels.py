"""Panels and seams of a closed cover: plates, band, zip strips; of a roll its end discs and its tube.

What mirrors another panel, left and right or up and down, is that one's mirror image to the last digit.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from meshes.base.arrays import FloatArray, IntArray, locked_floats, locked_ints
from meshes.base.surface import Surface
from meshes.closed.bands import BandPart
from meshes.closed.body import ClosedBody
from meshes.closed.plate_mesh import PlateMesh
from meshes.records.closed import FLAP
from meshes.records.pad import SIDES, Pad
from meshes.seat.division import named_seams
from meshes.seat.panels import Division, Panel, PanelIdentity, PanelRole, RimEdge
from meshes.support.line_roles import LineRole


@dataclass(frozen=True, eq=False)
class _Draft:
    """A panel before its neighbours are known. vertices (n,), triangles (m, 3) by numbers among these; rim: runs of
    its vertices with the role of the line; mirror (n,): for one that is even left and right; source: the part whose
    mirror image it is."""

    identity: PanelIdentity
    vertices: IntArray
    triangles: IntArray
    rim: tuple[tuple[LineRole, IntArray], ...]
    mirror: IntArray | None = None
    source: str | None = None


def closed_panels(pad: Pad, body: ClosedBody, parts: Sequence[BandPart], spans: Sequence[IntArray]) -> Division:
    """The panels of a closed cover. spans: of every part of the band the columns at which its seams begin and end."""
    plates = _plates(pad, body, parts, spans)
    bands = [one for part, span in _banded(body, parts, spans) for one in _bands(body, part, span)]
    drafts = [*plates, *_with_images(body, bands)]
    points = body.vertices
    sewn = _neighbours(drafts)
    first = np.cumsum([0, *(len(draft.triangles) for draft in drafts)])
    welted = pad.closed is not None and pad.closed.welt
    named = named_seams(
        [
            _panel(pad, draft, points, sewn[k], rows=np.arange(first[k], first[k + 1]), welted=welted)
            for k, draft in enumerate(drafts)
        ]
    )
    return _with_flaps(named) if pad.closed is not None and pad.closed.flap else named


def _with_flaps(division: Division) -> Division:
    """The ends of bands that are sewn to a zip strip, as flaps over the end of the zip."""
    zipped = {panel.part for panel in division.panels if any(edge.role is LineRole.ZIP for edge in panel.rim)}

    def flapped(panel: Panel, edge: RimEdge) -> RimEdge:
        end = edge.role is LineRole.SIDE_SEAM and panel.part not in zipped and edge.name in zipped
        return replace(edge, kind=FLAP) if end else edge

    panels = (replace(p, rim=tuple(flapped(p, edge) for edge in p.rim)) for p in division.panels)
    return replace(division, panels=tuple(panels))


def flat_panel(pad: Pad, plate: PlateMesh, spans: Sequence[IntArray]) -> Division:
    """One flat panel; spans: columns of the rim at which its left, front, right and rear edges begin and end."""
    assert pad.closed is not None
    rim = plane_rim(pad, plate, spans, dict(zip(SIDES, pad.closed.edges, strict=True)))
    points = np.column_stack([plate.points, np.zeros(len(plate.points))])
    panel = Panel(
        name=f"{pad.name} panel",
        pad=pad.name,
        identity=PanelIdentity(PanelRole.FACE, "panel"),
        surface=Surface(points, plate.triangles),
        vertices=locked_ints(np.arange(len(points))),
        triangles=locked_ints(np.arange(len(plate.triangles))),
        rim=rim,
        grain=locked_floats([0.0, 1.0, 0.0]),
        mirror_of=None,
        mirror=plate.mirror,
        centre=locked_ints(np.zeros(0)),
    )
    return Division((replace(panel, centre=locked_ints(rim_centre(panel, points))),), ())


def plane_rim(pad: Pad, plate: PlateMesh, spans: Sequence[IntArray], kinds: Mapping[str, str]) -> tuple[RimEdge, ...]:
    """The edges of a plane panel, left, front, right, rear; spans: their columns of the rim; kinds: by side."""
    count, rim = len(plate.rim), []
    for side, span in zip(("left", "front", "right", "rear"), spans, strict=True):
        run = locked_ints(plate.rim[np.arange(span[0], span[-1] + 1) % count])
        rim.append(RimEdge(f"{pad.side_word(side)} edge", kinds[side], LineRole.CLOSING, run, side=side))
    return tuple(rim)


def _banded(
    body: ClosedBody, parts: Sequence[BandPart], spans: Sequence[IntArray]
) -> Iterator[tuple[BandPart, IntArray]]:
    """The parts that are leather, with their columns; those of a knife edge are its seam and its zip."""
    return iter(zip(parts, spans, strict=True) if body.half_levels else ())


def _plates(pad: Pad, body: ClosedBody, parts: Sequence[BandPart], spans: Sequence[IntArray]) -> list[_Draft]:
    """Both plates, or end discs; the lower one is the upper one's mirror image."""
    plate = body.plate
    count = body.columns
    stops = np.unique(np.mod(np.concatenate(spans), count))
    after = np.append(stops[1:], stops[0] + count)
    runs = [plate.rim[np.arange(a, b + 1) % count] for a, b in zip(stops, after, strict=True)]
    open_from = {int(s[0]) % count for p, s in zip(parts, spans, strict=True) if p.zipped and body.half_levels == 0}
    roles = (LineRole.ZIP if stop in open_from else LineRole.EDGE for stop in stops.tolist())
    rim = tuple(zip(roles, runs, strict=True))
    words = ("right", "left") if pad.closed is not None and pad.closed.form == "roll" else ("top", "bottom")
    what = "end disc" if words[0] == "right" else "plate"
    names = [f"{word} {what}" for word in words]
    upper = _Draft(_face(names[0], words[0]), np.arange(len(plate.points)), plate.triangles, rim, plate.mirror)
    return [upper, _below(body, upper, _face(names[1], words[1]))]


def _below(body: ClosedBody, draft: _Draft, identity: PanelIdentity) -> _Draft:
    """The panel that lies below another as its mirror image; where the middle between both is not level it is one of
    its own: the lower plate on a board, or all of a wedge."""
    below = _image(draft, body.over, identity)
    if body.middle_mm is None:
        return below
    plate = identity.role is PanelRole.FACE
    level = np.all(body.middle_mm[body.plate.rim] == 0.0)
    return below if level and not plate else replace(below, source=None)


def _face(part: str, word: str) -> PanelIdentity:
    return PanelIdentity(PanelRole.FACE, part, (word,))


def _bands(body: ClosedBody, part: BandPart, span: IntArray) -> list[_Draft]:
    """A part of the band: in one, or as the two strips on both sides of a zip."""
    middle, last = body.half_levels, 2 * body.half_levels
    if not part.zipped:
        return [_band(body, part.name, span, (0, middle, last), zipped=part.name == "tube")]
    upper = _band(body, f"upper {part.name}", span, (0, middle), zipped=True)
    return [upper, _below(body, upper, PanelIdentity(PanelRole.BAND, f"lower {part.name}", ("lower",)))]


def _band(body: ClosedBody, name: str, span: IntArray, levels: Sequence[int], *, zipped: bool) -> _Draft:
    """One part between columns span[0] and span[-1], its seams parted at those between, from level to level, its ends
    parted at those between. zipped: a tube's ends, or a strip's lower edge, are at the zip."""
    columns = np.arange(span[0], span[-1] + 1)
    vertices, triangles = body.strip(columns, levels[0], levels[-1])
    wide, rows = len(columns), levels[-1] - levels[0]
    breaks, tube = span - span[0], zipped and len(levels) == 3
    below = [rows * wide + np.arange(a, b + 1) for a, b in pairwise(breaks.tolist())]
    above = [np.arange(b, a - 1, -1) for a, b in reversed(list(pairwise(breaks.tolist())))]
    steps = [level - levels[0] for level in levels]
    rising = [np.arange(b, a - 1, -1) for a, b in reversed(list(pairwise(steps)))]
    if tube:
        rising = [np.arange(rows, -1, -1)]
    side, low = LineRole.ZIP if tube else LineRole.SIDE_SEAM, LineRole.ZIP if zipped and not tube else LineRole.EDGE
    if low is LineRole.ZIP:
        below = [rows * wide + np.arange(wide)]
    rim = (
        *((low, run) for run in below),
        *((side, run * wide + wide - 1) for run in rising),
        *((LineRole.EDGE, run) for run in above),
        *((side, run[::-1] * wide) for run in reversed(rising)),
    )
    identity = PanelIdentity(PanelRole.BAND, name, _place_words(name))
    return _Draft(identity, vertices, triangles, rim, _own_mirror(body, vertices, columns))


def _place_words(name: str) -> tuple[str, ...]:
    return tuple(word for word in name.split() if word in ("left", "right", "front", "rear", "upper", "lower"))


def _own_mirror(body: ClosedBody, vertices: IntArray, columns: IntArray) -> IntArray | None:
    """For a part of the band that is even left and right the vertex that mirrors each of its own."""
    if body.plate.mirror is None or (columns[0] + columns[-1]) % body.columns:
        return None
    return np.arange(len(vertices)).reshape(-1, len(columns))[:, ::-1].ravel()


def _image(draft: _Draft, image: IntArray, identity: PanelIdentity) -> _Draft:
    """The mirror image of a panel; image (n,): of every vertex of the body."""
    rim = tuple((role, run[::-1]) for role, run in reversed(draft.rim))
    triangles = draft.triangles[:, [0, 2, 1]]
    return _Draft(identity, image[draft.vertices], triangles, rim, draft.mirror, draft.source or draft.identity.part)


def _with_images(body: ClosedBody, bands: Sequence[_Draft]) -> list[_Draft]:
    """The parts of a band, those on the left as mirror images of those on the right, where the plate is even. Strips
    beside a zip are mirror images of each other already."""
    across = body.across
    if across is None:
        return list(bands)
    own = {frozenset(draft.vertices.tolist()): draft for draft in bands}
    done: list[_Draft] = []
    for draft in bands:
        zipped = any(role is LineRole.ZIP for role, _ in draft.rim)
        twin = own[frozenset(across[draft.vertices].tolist())]
        left = float(body.vertices[draft.vertices, 0].mean()) < 0.0
        done.append(_image(twin, across, draft.identity) if left and twin is not draft and not zipped else draft)
    return done


def _neighbours(drafts: Sequence[_Draft]) -> list[list[str | None]]:
    """For every panel and every edge of its rim what lies beyond it; None at the zip."""
    at: dict[frozenset[tuple[int, int]], list[int]] = {}
    keys = []
    for k, draft in enumerate(drafts):
        mine = []
        for role, run in draft.rim:
            ids = np.sort(np.stack([draft.vertices[run[:-1]], draft.vertices[run[1:]]], axis=1), axis=1)
            key = frozenset((int(i), int(j)) for i, j in ids)
            mine.append(key if role is not LineRole.ZIP else None)
            if role is not LineRole.ZIP:
                at.setdefault(key, []).append(k)
        keys.append(mine)
    return [
        [None if key is None else next(drafts[other].identity.part for other in at[key] if other != k) for key in mine]
        for k, mine in enumerate(keys)
    ]


def _panel(
    pad: Pad, draft: _Draft, points: FloatArray, beyond: Sequence[str | None], *, rows: IntArray, welted: bool
) -> Panel:
    plate = draft.identity.role is PanelRole.FACE
    rim = tuple(
        RimEdge(
            "zip" if name is None else name,
            "zip" if name is None else "welted" if welted and role is LineRole.EDGE else "sewn",
            role,
            locked_ints(run),
        )
        for (role, run), name in zip(draft.rim, beyond, strict=True)
    )
    panel = Panel(
        name=f"{pad.name} {draft.identity.part}",
        pad=pad.name,
        identity=draft.identity,
        surface=Surface(points[draft.vertices], draft.triangles),
        vertices=locked_ints(draft.vertices),
        triangles=locked_ints(rows),
        rim=rim,
        grain=locked_floats([0.0, 1.0, 0.0] if plate else [0.0, 0.0, 1.0]),
        mirror_of=None if draft.source is None else f"{pad.name} {draft.source}",
        mirror=None if draft.mirror is None else locked_ints(draft.mirror),
        centre=locked_ints(np.zeros(0)),
    )
    return replace(panel, centre=locked_ints(rim_centre(panel, points)))


def rim_centre(panel: Panel, points: FloatArray) -> IntArray:
    """Vertices at which a rim crosses the middle from front to rear within one of its edges, in rising order."""
    crossings = []
    for edge in panel.rim:
        on = points[panel.vertices[edge.vertices], 0] == 0.0
        crossings += edge.vertices[1:-1][on[1:-1] & ~on[:-2] & ~on[2:]].tolist()
    return np.array(sorted(crossings), dtype=np.int64)
