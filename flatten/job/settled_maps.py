"""The flat maps of a seat and its surface made to agree: pads settled again at what their pieces as cut pull with.

Trials with coarse triangles have found the tension of every panel (`tension`); the pieces themselves, and those of
panels that are cut, may pull otherwise. A pad of which some panel does by more than is left untold is settled again
nearer to its last answer, at most twice, and the round is kept where it comes nearer to itself. A cut runs through
the same places of the mesh on the surface as it is then; a cut panel is settled at the mean of what its parts pull
with.
"""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy import sparse
from scipy.sparse import csgraph

from flatten.coverings.assigned import coverings_of
from flatten.edges.named import Makes, makes_of, sewn_so
from flatten.job.flats import matched_flats
from flatten.job.pads import led_by, settled_anew, settled_in_place, tension_of
from flatten.job.pulls import SAME_SHARE, reached_by_wholes, tension_of_parts, wholes_of
from flatten.job.tension import TensionTrial, most_off, next_tension, twins_of
from flatten.leather.card import Card
from flatten.maps.flat import Flat
from flatten.relief.carried import carried_over
from flatten.relief.panel_names import panels_told_apart
from flatten.relief.recut import recut
from flatten.relief.search import Relief
from meshes.base.arrays import IntArray
from meshes.base.problems import ProblemError
from meshes.base.progress import Progress, unheard
from meshes.padding.handed import mirrored_pads
from meshes.seat.build import BuiltPad, Tension
from meshes.sheet.whole import Sheet

# How often a pad is settled again at most.
SETTLED_AGAIN = 2


@dataclass(frozen=True, eq=False)
class MadeCut:
    """pad: number of the pad; panel: what it was called; relief: the proposal, in the panel's own vertex numbers."""

    pad: int
    panel: str
    relief: Relief


@dataclass(frozen=True, eq=False)
class SeatBeforeCuts:
    """pads: as they were built, before any cut; tensions: at which they were settled; cuts: made since, in rounds, each
    in panels that the round before it left."""

    pads: tuple[BuiltPad, ...]
    tensions: tuple[Tension, ...]
    cuts: tuple[tuple[MadeCut, ...], ...] = ()


@dataclass(frozen=True, eq=False)
class SettledMaps:
    """seat: before cuts; pads: cut and sewn as the sheet says; tensions: at which their panels were settled; flats: by
    panel name; makes: how seams are sewn that the sheet speaks of."""

    seat: SeatBeforeCuts
    pads: tuple[BuiltPad, ...]
    tensions: tuple[Tension, ...]
    flats: Mapping[str, Flat]
    makes: Makes


def settled_maps(
    sheet: Sheet, leather: Card, seat: SeatBeforeCuts, each: Callable[..., Sequence[Any]], say: Progress
) -> SettledMaps:
    """The flat maps of a seat, its pads settled again where their pieces pull otherwise than they were settled at."""
    found = _mapped(sheet, leather, seat, each, say)
    tried = [[trial] for trial in _trials(sheet, leather, found)]
    for turn in range(SETTLED_AGAIN):
        off = {k for k, rows in enumerate(tried) if min(most_off(*row) for row in rows) > SAME_SHARE}
        if not off:
            break
        say("settling again at what the pieces pull with", turn, SETTLED_AGAIN)
        tensions = _next(sheet, leather, found, tried, off)
        try:
            again = _again(sheet, leather, found, tensions, each)
        except ProblemError:
            # What was found stands; a surface that cannot be had is no answer.
            break
        if again is found:
            break
        new = _trials(sheet, leather, again)
        old = _trials(sheet, leather, found)
        moved = [k for k, (one, two) in enumerate(zip(found.seat.pads, again.seat.pads, strict=True)) if one is not two]
        for k in moved:
            tried[k].append(new[k])
        found = _nearer(found, again, [most_off(*row) for row in old], [most_off(*row) for row in new])
    return found


def _mapped(
    sheet: Sheet, leather: Card, seat: SeatBeforeCuts, each: Callable[..., Sequence[Any]], say: Progress
) -> SettledMaps:
    pads, makes = cut_and_sewn(sheet, seat)
    return SettledMaps(seat, pads, _by_parts(seat, pads), matched_flats(sheet, leather, pads, each, say), makes)


def cut_and_sewn(sheet: Sheet, seat: SeatBeforeCuts) -> tuple[tuple[BuiltPad, ...], Makes]:
    """The pads of a seat with its cuts made and its seams sewn as the sheet says, panels told apart by name."""
    pads, makes = _sewn(sheet, seat.pads)
    for cuts in seat.cuts:
        cut = list(pads)
        for one in cuts:
            panel = next(p for p in cut[one.pad].panels if p.name == one.panel)
            cut[one.pad] = recut(cut[one.pad], one.panel, carried_over(one.relief, panel.surface.vertices))
        pads, makes = _sewn(sheet, cut)
    return pads, makes


def _sewn(sheet: Sheet, pads: Sequence[BuiltPad]) -> tuple[tuple[BuiltPad, ...], Makes]:
    apart = panels_told_apart(pads)
    makes = makes_of(sheet.seams, apart)
    return sewn_so(apart, makes), makes


def _by_parts(seat: SeatBeforeCuts, pads: Sequence[BuiltPad]) -> tuple[Tension, ...]:
    rows = zip(seat.pads, pads, seat.tensions, strict=True)
    return tuple(tension_of_parts(tension, wholes_of(whole, pad)) for whole, pad, tension in rows)


def _trials(sheet: Sheet, leather: Card, found: SettledMaps) -> list[TensionTrial]:
    """What every pad was settled at, and what its panels pull with now; nothing of a closed cover, which its core
    pulls, and of pads without a tension."""
    coverings = coverings_of(sheet, leather, found.pads)
    rows: list[TensionTrial] = []
    for whole, pad, tension in zip(found.seat.pads, found.pads, found.seat.tensions, strict=True):
        free = pad.closed is not None or not tension
        reached = {} if free else reached_by_wholes(pad, wholes_of(whole, pad), found.flats, coverings)
        rows.append((tension, reached))
    return rows


def _next(
    sheet: Sheet, leather: Card, found: SettledMaps, tried: Sequence[Sequence[TensionTrial]], off: Collection[int]
) -> tuple[Tension, ...]:
    """What every pad is settled at next: those of `off` nearer to their last answer, mirrored pads alike."""
    wish = tension_of(sheet, leather)
    tensions = [next_tension(tried[k], wish) if k in off else t for k, t in enumerate(found.seat.tensions)]
    cut = {one.pad for cuts in found.seat.cuts for one in cuts}
    mirrored = {} if sheet.eases else mirrored_pads(sheet.pads)
    for k, (one, parts) in twins_of(found.seat.pads, mirrored).items():
        now = tensions[one]
        if not cut & {k, one}:
            tensions[k] = {part: now[image] for part, image in parts.items()} if isinstance(now, Mapping) else now
    return tuple(tensions)


def _again(
    sheet: Sheet, leather: Card, found: SettledMaps, tensions: tuple[Tension, ...], each: Callable[..., Sequence[Any]]
) -> SettledMaps:
    """The maps with pads settled at other tensions; maps of pads that stay are not made again. Raises ProblemError."""
    seat = found.seat
    which = [k for k, (now, was) in enumerate(zip(tensions, seat.tensions, strict=True)) if now != was]
    settled = settled_in_place if seat.cuts else settled_anew
    pads = settled(sheet, seat.pads, tensions, which, each)
    if seat.cuts and not all(_meshed_alike(one, two) for one, two in zip(seat.pads, pads, strict=True)):
        return found
    seat = replace(seat, pads=pads, tensions=tensions)
    drawn, makes = cut_and_sewn(sheet, seat)
    moved = [k for k, (one, two) in enumerate(zip(found.seat.pads, pads, strict=True)) if one is not two]
    flats = matched_flats(sheet, leather, [drawn[k] for k in moved], each, unheard)
    return SettledMaps(seat, drawn, _by_parts(seat, drawn), {**found.flats, **flats}, makes)


def _meshed_alike(one: BuiltPad, two: BuiltPad) -> bool:
    """Whether a cut through one pad can be made in the other."""
    if not np.array_equal(one.surface.triangles, two.surface.triangles) or len(one.panels) != len(two.panels):
        return False
    rows = zip(one.panels, two.panels, strict=True)
    return all(a.name == b.name and np.array_equal(a.vertices, b.vertices) for a, b in rows)


def _nearer(old: SettledMaps, new: SettledMaps, off: Sequence[float], off_now: Sequence[float]) -> SettledMaps:
    """Of both the pads that come nearer to themselves, with their maps; pads that meet each other together."""
    group = _meeting(old.seat.pads)
    better = [max(np.array(off_now)[group == own]) < max(np.array(off)[group == own]) - 1e-9 for own in group.tolist()]
    by_pad = [new if take else old for take in better]
    each = list(enumerate(by_pad))
    seat = replace(
        old.seat,
        pads=tuple(one.seat.pads[k] for k, one in each),
        tensions=tuple(one.seat.tensions[k] for k, one in each),
    )
    pads = tuple(one.pads[k] for k, one in each)
    flats = {
        panel.name: one.flats[panel.name] for (k, one), pad in zip(each, pads, strict=True) for panel in pad.panels
    }
    return SettledMaps(seat, pads, tuple(one.tensions[k] for k, one in each), flats, old.makes)


def _meeting(pads: Sequence[BuiltPad]) -> IntArray:
    """For every pad the number of the group of pads that it follows, goes on from, or is followed by."""
    number = {pad.pad.name: k for k, pad in enumerate(pads)}
    links = np.array([(k, number[n]) for k, pad in enumerate(pads) for n in led_by(pad)], dtype=np.int64).reshape(-1, 2)
    graph = sparse.coo_matrix((np.ones(len(links)), links.T), shape=(len(pads), len(pads)))
    return np.asarray(csgraph.connected_components(graph, directed=False)[1])
