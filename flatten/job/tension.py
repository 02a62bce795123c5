"""One tension: what the cover pulls with while the seat settles, and what its pieces pull with as they are cut.

The sheet's tension, or the leather's own, is what is wished for; how far the pieces come to it depends on what their
leather gives and on the seams between them. So the seat is first tried with coarse triangles: settled at the wish,
its pieces flattened, and where these pull otherwise, settled again nearer to what they reach. A pad is then settled
at what came nearest to itself, so never at what no trial has shown. Coarse triangles tell the pull of a panel to
about 8 % of it, at a small share of the work.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from flatten.coverings.assigned import coverings_of
from flatten.coverings.covering import Coverings
from flatten.job.flats import matched_flats
from flatten.job.pads import Tensions, built_pads, tension_of
from flatten.job.pulls import pull_of_panel, settled_at
from flatten.kept.last_round import from_last_round
from flatten.leather.card import Card
from flatten.maps.flat import Flat
from flatten.relief.panel_names import panels_told_apart
from meshes.base.problems import ProblemError
from meshes.base.progress import Progress, unheard
from meshes.padding.handed import mirrored_pads
from meshes.records.alignment import Alignment
from meshes.seat.build import BuiltPad, Tension
from meshes.sheet.whole import Sheet

# A trial agrees within this share of what it was settled at; the rest of what is not told (`pulls.SAME_SHARE`) is left
# for what coarse triangles show otherwise.
TRIAL_SHARE = 0.1
# Trials at the most: at the wish, and three times again. A trial more costs a third of settling the seat again.
TENSION_ROUNDS = 4
# A panel pulled more stands up less and then pulls less, to a power of about -1. Its neighbours move as well and cover
# most of what two trials show beyond this power.
STEEPEST_ANSWER = -0.5
# A piece that pulls with less is slack: the seat is settled with no less than this.
LEAST_N_PER_MM = 0.005
# No trial tells a tension closer than to 1 N/m, so it is agreed in whole ones.
DECIMALS = 3
# The trial's triangles: so many times the sheet's, within these limits, mm.
COARSER, TRIAL_MESH_MM = 3.0, (14.0, 24.0)

TensionTrial = tuple[Tension, Mapping[str, float]]
"""What a pad was settled at, and what its panels then pulled with, by part."""


@dataclass(frozen=True)
class Agreed:
    """tensions: at which every pad is settled; begin: how pads lay with their neighbours in the trials, nothing
    where there was none, from which that is found sooner for the seat itself."""

    tensions: Tensions
    begin: tuple[Alignment, ...] | None = None


def agreed_tensions(sheet: Sheet, leather: Card, each: Callable[..., Sequence[Any]], say: Progress) -> Tensions:
    """The tensions at which every pad is settled, so that they are what its pieces as cut pull with."""
    return agreed(sheet, leather, each, say).tensions


def agreed(sheet: Sheet, leather: Card, each: Callable[..., Sequence[Any]], say: Progress) -> Agreed:
    """The same, with what the trials tell of how the pads lie with each other."""
    wish = tension_of(sheet, leather)
    tensions: Tensions = [wish] * len(sheet.pads)
    # A closed cover is pulled by its core, and a flat board does not change its shape: none of their panels is tried.
    closed: dict[int, tuple[int, dict[str, str]]] = {k: (k, {}) for k, p in enumerate(sheet.pads) if not p.on_frame}
    if wish == 0.0 or len(closed) == len(sheet.pads):
        return Agreed(tensions)
    mesh = min(max(COARSER * sheet.output.mesh, TRIAL_MESH_MM[0]), max(TRIAL_MESH_MM[1], sheet.output.mesh))
    trial = replace(sheet, output=replace(sheet.output, mesh=mesh), warnings=())
    mirrored = {} if sheet.eases else mirrored_pads(sheet.pads)
    tried: list[list[TensionTrial]] = []
    begin: tuple[Alignment, ...] | None = None
    # A pad that agrees stays as it is while others are tried again.
    each = from_last_round(each)
    for done in range(TENSION_ROUNDS):
        say("trying what the pieces pull with", done, TENSION_ROUNDS)
        try:
            # How pads lie with each other hardly depends on their tension: the first trial finds it for all.
            pads = panels_told_apart(built_pads(trial, tensions, each, unheard, sections=False, aligned=begin))
            twins = twins_of(pads, mirrored) | closed
            asked = [pad for k, pad in enumerate(pads) if k not in twins]
            flats = matched_flats(trial, leather, asked, each, unheard, last=False)
        except ProblemError:
            # What is wrong is told by the seat itself; so coarse a trial may also fail where the seat does not.
            break
        tried.append(
            list(zip(tensions, _reached_by_all(pads, twins, flats, coverings_of(trial, leather, pads)), strict=True))
        )
        begin = begin or tuple(pad.alignment for pad in pads)
        if all(most_off(*row) <= TRIAL_SHARE for row in tried[-1]):
            break
        tensions = [next_tension([one[k] for one in tried], wish) for k in range(len(pads))]
    if not tried:
        return Agreed(tensions)
    # What is built up on coarse triangles may be more than fine ones bear: the seat itself finds its own.
    lay = None if begin is None else tuple(replace(one, built_up=None) for one in begin)
    return Agreed([_nearest([one[k] for one in tried]) for k in range(len(sheet.pads))], lay)


def _nearest(tried: Sequence[TensionTrial]) -> Tension:
    """Of all that a pad was settled at the first with which its pieces agree; else what they came nearest to."""
    agreed = [row[0] for row in tried if most_off(*row) <= TRIAL_SHARE]
    return agreed[0] if agreed else min(tried, key=lambda row: most_off(*row))[0]


def next_tension(tried: Sequence[TensionTrial], wish: float) -> Tension:
    """What to settle a pad at next, by part, after what was reached at what it was settled at.

    A pad that agrees stays, and so does a panel that reaches the wish. A panel that is pulled less stands up more and
    is then stretched more, so the answer swings past: first half of the way is gone, then a straight line is drawn
    through the last two, both in ln.
    """
    if most_off(*tried[-1]) <= TRIAL_SHARE:
        return tried[-1][0]
    found = {}
    for part, last in tried[-1][1].items():
        now = settled_at(tried[-1][0], part)
        if now == wish and abs(last - now) <= TRIAL_SHARE * now:
            found[part] = wish
            continue
        x, y = np.log(now), np.log(max(last, LEAST_N_PER_MM))
        step = 0.5 * (y - x)
        if len(tried) > 1 and part in tried[-2][1]:
            x0, y0 = np.log(settled_at(tried[-2][0], part)), np.log(max(tried[-2][1][part], LEAST_N_PER_MM))
            slope = (y - y0) / (x - x0) if x != x0 else STEEPEST_ANSWER
            step = (y - x) / (1.0 - max(min(slope, 0.0), STEEPEST_ANSWER))
        found[part] = round(float(np.exp(x + step)), DECIMALS)
    return found


def most_off(tension: Tension, reached: Mapping[str, float]) -> float:
    """The largest difference of a pad's panels, as a share of what they were settled at."""
    settled = {part: settled_at(tension, part) for part in reached}
    return max((abs(reached[part] / settled[part] - 1.0) for part in reached), default=0.0)


def twins_of(pads: Sequence[BuiltPad], mirrored: Mapping[int, int]) -> dict[int, tuple[int, dict[str, str]]]:
    """Pads that need no trial: the number of the one that each mirrors, and which of its parts every part mirrors.

    Mirror images are meshed alike, so panels that mirror each other have the same vertices; pads of which that does not
    hold are tried for themselves.
    """
    found = {}
    for k, one in mirrored.items():
        known = {panel.vertices.tobytes(): panel.part for panel in pads[one].panels}
        parts = {panel.part: known.get(panel.vertices.tobytes()) for panel in pads[k].panels}
        told = {part: image for part, image in parts.items() if image is not None}
        if len(told) == len(pads[k].panels) == len(known):
            found[k] = (one, told)
    return found


def _reached_by_all(
    pads: Sequence[BuiltPad],
    twins: Mapping[int, tuple[int, Mapping[str, str]]],
    flats: Mapping[str, Flat],
    coverings: Coverings,
) -> list[dict[str, float]]:
    """What the panels of every pad pull with, by part; of mirrored pads one has been tried."""
    own = {k: _reached(pad, flats, coverings) for k, pad in enumerate(pads) if k not in twins}
    taken = {k: {part: own[one][image] for part, image in parts.items()} for k, (one, parts) in twins.items()}
    return [(own | taken)[k] for k in range(len(pads))]


def _reached(pad: BuiltPad, flats: Mapping[str, Flat], coverings: Coverings) -> dict[str, float]:
    """What the panels of a pad pull with, by part; of mirrored panels one is asked, so that both are told the same."""
    drawn = {panel.name: panel for panel in pad.panels if panel.mirror_of is None}
    pulls = {name: pull_of_panel(panel, flats[name], coverings).tension_n_per_mm for name, panel in drawn.items()}
    return {panel.part: max(pulls[panel.mirror_of or panel.name], 0.0) for panel in pad.panels}
