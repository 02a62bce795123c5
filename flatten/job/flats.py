"""Flat maps of all panels of a seat: each for itself, then a pad's together with seams of one length, then proven."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from scipy import sparse
from scipy.sparse import csgraph

from flatten.coverings.assigned import coverings_of
from flatten.coverings.covering import Coverings
from flatten.demand.develop import flatten
from flatten.demand.methods import NEAR
from flatten.demand.options import Aim, Options, PrecomputedMap
from flatten.demand.together import SewingTerms, together
from flatten.job.pads import tension_of
from flatten.leather.card import Card
from flatten.leather.pleat_grain import grained_with_pleats
from flatten.leather.stretch import stretch
from flatten.leather.tension import common_factor, pull_of
from flatten.maps.flat import Flat, mirrored
from meshes.base.progress import Progress
from meshes.base.surface import curve_length
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel
from meshes.sheet.whole import Sheet

# How close to the least demand the pieces of a pad are brought, as a share of the largest window.
SEAMS_GAP = 2e-2


def _flat(task: tuple[Panel, Card, Options]) -> Flat:
    panel, leather, options = task
    return flatten(panel.surface.vertices, panel.surface.triangles, leather=leather, options=options)


def _together(task: tuple[BuiltPad, Mapping[str, Flat], Card, SewingTerms]) -> dict[str, PrecomputedMap]:
    return together(*task)


def _terms(sheet: Sheet, leather: Card, pad: BuiltPad, last: bool) -> SewingTerms:
    """What the panels of a pad are asked; last: whether these are the pieces, not a trial."""
    asked = SewingTerms(SEAMS_GAP, sheet.cover.grain_window_deg, sheet.eases, tension_of(sheet, leather), last)
    own = sheet.cover.tension is None
    return replace(asked, own_wishes=own, coverings=coverings_of(sheet, leather, [pad]))


def _untimed(flat: Flat) -> Flat:
    """A map without how long it took, which decides nothing about what is made of it."""
    return replace(flat, made=replace(flat.made, seconds=0.0))


def _shape_of(pad: BuiltPad) -> BuiltPad:
    """A pad without what is told of it and without its cuts, which decide nothing about its maps."""
    return replace(pad, problems=(), sections=())


def matched_flats(
    sheet: Sheet,
    leather: Card,
    pads: Sequence[BuiltPad],
    each: Callable[..., Sequence[Any]],
    say: Progress,
    *,
    last: bool = True,
) -> dict[str, Flat]:
    """Flat maps by panel name: first each for itself, then a pad's together with seams of one length, pulled towards
    the tension that is wished for as far as leather and seams allow, then proven; last: whether these are the pieces,
    not a trial, so that prices of straight lines are tried and limits of demand proven.
    """
    coverings = coverings_of(sheet, leather, pads)
    panels = [panel for pad in pads for panel in pad.panels]
    drawn = _unmirrored(pads)
    flats = each(_flat, _alone(drawn, coverings), say, "flattening the panels")
    first = {panel.name: flat for panel, flat in zip(drawn, flats, strict=True)}
    order = sorted(pads, key=lambda pad: -pad.facts.triangles)
    own = [{p.name: _untimed(first[p.name]) for p in pad.panels if p.mirror_of is None} for pad in order]
    tasks = [
        (_shape_of(pad), maps, leather, _terms(sheet, leather, pad, last)) for pad, maps in zip(order, own, strict=True)
    ]
    found: dict[str, PrecomputedMap] = {}
    for one in each(_together, tasks, say, "matching the seams"):
        found |= one
    for pad in pads:
        found |= _pulled(pad, found, coverings, sheet)
    tasks_left = []
    for p in _unmirrored([grained_with_pleats(pad, {name: one.points for name, one in found.items()}) for pad in pads]):
        sewn = tuple(edge.vertices for edge in p.rim if edge.seam is not None)
        window_deg = 0.0 if coverings.of(p.name).roll is not None else sheet.cover.grain_window_deg
        asked = Options(
            mirror=p.mirror, grain=p.grain, window_deg=window_deg, precomputed=found[p.name], runs=sewn, prove=last
        )
        tasks_left.append((p, coverings.card(p.name), asked))
    return _by_name(panels, drawn, each(_flat, tasks_left, say, "proving the pieces"))


def least_energy_flats(
    sheet: Sheet, leather: Card, pads: Sequence[BuiltPad], each: Callable[..., Sequence[Any]], say: Progress
) -> dict[str, Flat]:
    """Maps of least energy by panel name, each panel for itself, drawn smaller for the tension that is wished for:
    quick, and near to the pieces, whose demand is less. Sides of a seam come out a little unequal."""
    coverings = coverings_of(sheet, leather, pads)
    drawn = _unmirrored(pads)
    first = each(_flat, _alone(drawn, coverings), say, "flattening the panels")
    flats = {panel.name: flat for panel, flat in zip(drawn, first, strict=True)}
    found = {name: _as_found(flat) for name, flat in flats.items()}
    for pad in pads:
        found |= _pulled(pad, found, coverings, sheet)
    asked = [
        (p, coverings.card(p.name), Options(mirror=p.mirror, grain=p.grain, precomputed=found[p.name], prove=False))
        for p in drawn
    ]
    last = [
        replace(flat, made=flats[panel.name].made)
        for panel, flat in zip(drawn, each(_flat, asked, say, "drawing the panels"), strict=True)
    ]
    return _by_name([panel for pad in pads for panel in pad.panels], drawn, last)


def _as_found(flat: Flat) -> PrecomputedMap:
    """A map as one that was found already."""
    backbone = np.array([0.0, 1.0]) if flat.backbone is None else flat.backbone
    return PrecomputedMap(flat.points, backbone, flat.made.steps, flat.made.status)


def _alone(drawn: Sequence[Panel], coverings: Coverings) -> list[tuple[Panel, Card, Options]]:
    """What is asked of every panel by itself: least energy, nothing proven."""
    return [
        (
            p,
            coverings.card(p.name),
            Options(mirror=p.mirror, grain=p.grain, aim=Aim.ENERGY, prove=False, tolerance=NEAR),
        )
        for p in drawn
    ]


def _pulled(
    pad: BuiltPad, found: Mapping[str, PrecomputedMap], coverings: Coverings, sheet: Sheet
) -> dict[str, PrecomputedMap]:
    """The maps of a pad, all drawn smaller by one factor for each group of panels that are sewn to each other, so that
    the cover pulls as is wished of their leathers, in the mean over their area."""
    names = [panel.name for panel in pad.panels]
    place = {name: k for k, name in enumerate(names)}
    ends = np.array([(place[seam.a], place[seam.b]) for seam in pad.seams], dtype=np.int64).reshape(-1, 2)
    links = sparse.coo_matrix((np.ones(len(ends)), ends.T), shape=(len(names), len(names)))
    group = csgraph.connected_components(links, directed=False)[1]
    if not pad.pad.on_frame:
        # What stretches a closed cover is its core, by the undersize, and on a flat board nothing does: pieces are
        # drawn to the finished size.
        return _drawn_smaller(pad, found, [_to_size(pad, found)] * len(names))
    pulls = []
    for panel in pad.panels:
        one = found[panel.mirror_of or panel.name]
        seat = pad.panels[place[panel.mirror_of or panel.name]].surface
        pulls.append(
            pull_of(stretch(seat.vertices, one.points, seat.triangles), one.backbone, coverings.card(panel.name))
        )
    wishes = np.array([tension_of(sheet, coverings.card(name)) for name in names])
    areas = np.array([pull.area_mm2 for pull in pulls])
    factors = []
    for own in group:
        wish = float(np.average(wishes[group == own], weights=areas[group == own]))
        factors.append(common_factor([pull for pull, g in zip(pulls, group, strict=True) if g == own], wish))
    return _drawn_smaller(pad, found, factors)


def _drawn_smaller(
    pad: BuiltPad, found: Mapping[str, PrecomputedMap], factors: Sequence[float]
) -> dict[str, PrecomputedMap]:
    return {
        panel.name: replace(found[panel.name], points=found[panel.name].points / factor)
        for panel, factor in zip(pad.panels, factors, strict=True)
        if panel.mirror_of is None
    }


def _to_size(pad: BuiltPad, found: Mapping[str, PrecomputedMap]) -> float:
    """By how much the pieces of a pad have to be drawn smaller for its edges to be as long as on the seat, in all."""
    panels = {panel.name: panel for panel in pad.panels}
    paper = seat = 0.0
    for name, panel in panels.items():
        for edge in panel.rim:
            paper += curve_length(found[panel.mirror_of or name].points[edge.vertices])
            seat += curve_length(panel.surface.vertices[edge.vertices])
    return paper / seat


def _unmirrored(pads: Sequence[BuiltPad]) -> list[Panel]:
    """Panels that mirror no other; the largest first, so that all workers end at about the same time."""
    panels = [panel for pad in pads for panel in pad.panels if panel.mirror_of is None]
    return sorted(panels, key=lambda p: (-len(p.triangles), p.name))


def _by_name(panels: Sequence[Panel], drawn: Sequence[Panel], found: Sequence[Flat]) -> dict[str, Flat]:
    """Maps of all panels in their order; mirrored ones turned over."""
    flats = dict(zip((panel.name for panel in drawn), found, strict=True))
    return {p.name: flats[p.name] if p.mirror_of is None else mirrored(flats[p.mirror_of]) for p in panels}
