"""Flat maps of all panels of a seat: each for itself, then a pad's together with seams of one length, then proven."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from flatten.demand.develop import NEAR, Aim, Flat, Found, Wish, flatten
from flatten.demand.together import together
from flatten.job.workers import Workers, worker_pool
from flatten.leather.card import Card
from flatten.leather.pleat_grain import grained_with_pleats
from meshes.base.progress import Progress, unheard
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel
from meshes.sheet.read import Ease

# How close to the least demand the pieces of a pad are brought, as a share of the largest window.
SEAMS_GAP = 2e-2


def flatten_pads(
    pads: Sequence[BuiltPad],
    leather: Card,
    *,
    grain_window_deg: float = 0.0,
    eases: Sequence[Ease] = (),
    progress: Progress | None = None,
    workers: Workers = 2,
) -> dict[str, Flat]:
    """Flat maps of all panels by name, both sides of every seam of one length, exactly as the main job has them.

    grain_window_deg: how far a piece may lie off the backbone; eases: fullness worked into seams. Raises ProblemError
    when a panel cannot be flattened.
    """
    say = progress or unheard
    with worker_pool(workers) as pool:
        return matched_flats(pads, leather, grain_window_deg, eases, pool.map, say)


def _flat(task: tuple[Panel, Card, Wish]) -> Flat:
    panel, leather, wish = task
    return flatten(panel.surface.vertices, panel.surface.triangles, leather=leather, wish=wish)


def _together(task: tuple[BuiltPad, Mapping[str, Flat], Card, float, Sequence[Ease]]) -> dict[str, Found]:
    pad, flats, leather, window_deg, eases = task
    return together(pad, flats, leather, gap=SEAMS_GAP, window_deg=window_deg, eases=eases)


def matched_flats(
    pads: Sequence[BuiltPad],
    leather: Card,
    window_deg: float,
    eases: Sequence[Ease],
    each: Callable[..., Sequence[Any]],
    say: Progress,
) -> dict[str, Flat]:
    """Flat maps by panel name: first each for itself, then a pad's together with seams of one length, then proven."""
    panels = [panel for pad in pads for panel in pad.panels]
    drawn = _unmirrored(pads)
    alone = [
        (p, leather, Wish(mirror=p.mirror, grain=p.grain, aim=Aim.ENERGY, prove=False, rested=NEAR)) for p in drawn
    ]
    flats = each(_flat, alone, say, "flattening the panels")
    first = {panel.name: flat for panel, flat in zip(drawn, flats, strict=True)}
    order = sorted(pads, key=lambda pad: -pad.facts.triangles)
    tasks = [
        (pad, {p.name: first[p.name] for p in pad.panels if p.mirror_of is None}, leather, window_deg, eases)
        for pad in order
    ]
    found: dict[str, Found] = {}
    for one in each(_together, tasks, say, "matching the seams"):
        found |= one
    last = []
    for p in _unmirrored([grained_with_pleats(pad, {name: one.points for name, one in found.items()}) for pad in pads]):
        sewn = tuple(edge.vertices for edge in p.rim if edge.seam is not None)
        wish = Wish(mirror=p.mirror, grain=p.grain, window_deg=window_deg, found=found[p.name], runs=sewn)
        last.append((p, leather, wish))
    return _by_name(panels, drawn, each(_flat, last, say, "proving the pieces"))


def _unmirrored(pads: Sequence[BuiltPad]) -> list[Panel]:
    """Panels that mirror no other; the largest first, so that all workers end at about the same time."""
    panels = [panel for pad in pads for panel in pad.panels if panel.mirror_of is None]
    return sorted(panels, key=lambda p: (-len(p.triangles), p.name))


def _by_name(panels: Sequence[Panel], drawn: Sequence[Panel], found: Sequence[Flat]) -> dict[str, Flat]:
    """Maps of all panels in their order; mirrored ones turned over."""
    flats = dict(zip((panel.name for panel in drawn), found, strict=True))
    return {p.name: flats[p.name] if p.mirror_of is None else mirrored(flats[p.mirror_of]) for p in panels}


def mirrored(flat: Flat) -> Flat:
    """The map turned over: x changes sign and every triangle is wound the other way; all figures stay."""
    over = np.array([-1.0, 1.0])
    return replace(
        flat,
        points=flat.points * over,
        triangles=flat.triangles[:, [0, 2, 1]],
        along=flat.along * over,
        backbone=None if flat.backbone is None else flat.backbone * over,
    )
