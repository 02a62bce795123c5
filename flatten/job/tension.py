"""One tension: what the cover pulls with while the seat settles, and what its pieces pull with as they are cut.

The sheet's tension, or the leather's own, is what is wished for; how far the pieces come to it depends on what their
leather gives and on the seams between them. So the seat is first tried with coarse triangles: settled at the wish,
its pieces flattened, and where these pull otherwise by more than 15 %, settled again nearer to what they reach.
Coarse triangles tell the mean stretch of a panel to a few hundredths of what it is, at a small share of the work.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from flatten.job.flats import matched_flats
from flatten.job.pads import Tensions, built_pads, tension_of
from flatten.job.panel_names import panels_told_apart
from flatten.leather.card import Card
from flatten.leather.stretch import stretch
from flatten.leather.tension import Pull, pull_of
from flatten.maps.flat import Flat
from meshes.base.problems import Problem, ProblemError
from meshes.base.progress import Progress, unheard
from meshes.padding.handed import mirrored_pads
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel
from meshes.sheet.read import Sheet

# A difference between both is seen to from here on, as a share of what the seat settled at, and so often at most.
SAME_SHARE, TENSION_ROUNDS = 0.15, 2
# A piece that pulls with less is slack: the seat is settled with no less than this.
LEAST_N_PER_MM = 0.005
# No trial tells a tension closer than to 1 N/m, so it is agreed in whole ones.
DECIMALS = 3
# The trial's triangles: so many times the sheet's, within these limits, mm.
COARSER, TRIAL_MESH_MM = 3.0, (14.0, 24.0)


def agreed_tensions(sheet: Sheet, leather: Card, each: Callable[..., Sequence[Any]], say: Progress) -> Tensions:
    """The tensions at which every pad is settled, so that they are what its pieces as cut pull with."""
    wish = tension_of(sheet, leather)
    tensions: Tensions = [wish] * len(sheet.pads)
    if wish == 0.0:
        return tensions
    mesh = min(max(COARSER * sheet.output.mesh, TRIAL_MESH_MM[0]), max(TRIAL_MESH_MM[1], sheet.output.mesh))
    trial = replace(sheet, output=replace(sheet.output, mesh=mesh), warnings=())
    mirrored = {} if sheet.eases else mirrored_pads(sheet.pads)
    tried: list[tuple[Tensions, list[dict[str, float]]]] = []
    for done in range(TENSION_ROUNDS):
        say("trying what the pieces pull with", done, TENSION_ROUNDS)
        try:
            pads = panels_told_apart(built_pads(trial, tensions, each, unheard, sections=False))
            twins = _twins(pads, mirrored)
            asked = [pad for k, pad in enumerate(pads) if k not in twins]
            flats = matched_flats(trial, leather, asked, each, unheard, last=False)
        except ProblemError:
            # What is wrong is told by the seat itself; so coarse a trial may also fail where the seat does not.
            return tensions
        tried.append((tensions, _reached_by_all(pads, twins, flats, leather)))
        if not any(_differs(*row) for row in zip(*tried[-1], strict=True)):
            break
        tensions = [_next([(at[k], reached[k]) for at, reached in tried]) for k in range(len(pads))]
    return tensions


def _next(tried: Sequence[tuple[float | Mapping[str, float], Mapping[str, float]]]) -> dict[str, float]:
    """What to settle a pad at next, by part, after what was reached at what it was settled at.

    A panel that is pulled less stands up more and is then stretched more, so the answer swings past: first half of the
    way is gone, then a straight line is drawn through the last two, both in ln.
    """
    found = {}
    for part, last in tried[-1][1].items():
        x, y = np.log(settled_at(tried[-1][0], part)), np.log(max(last, LEAST_N_PER_MM))
        step = 0.5 * (y - x)
        if len(tried) > 1 and part in tried[-2][1]:
            x0, y0 = np.log(settled_at(tried[-2][0], part)), np.log(max(tried[-2][1][part], LEAST_N_PER_MM))
            slope = (y - y0) / (x - x0) if x != x0 else 0.0
            step = (y - x) / (1.0 - min(slope, 0.0))
        found[part] = round(float(np.exp(x + step)), DECIMALS)
    return found


def settled_at(tension: float | Mapping[str, float], part: str) -> float:
    """What a panel of a pad was settled at, N/mm; the mean of all where it is not named."""
    usual = mean_tension(tension)
    return tension.get(part, usual) if isinstance(tension, Mapping) else usual


def mean_tension(tension: float | Mapping[str, float]) -> float:
    """The tension of a pad's cover in N/mm: the mean of its panels'."""
    return float(np.mean(list(tension.values()))) if isinstance(tension, Mapping) else tension


def pull_of_panel(panel: Panel, flat: Flat, leather: Card) -> Pull:
    """How a panel's piece is pulled."""
    surface = panel.surface
    return pull_of(stretch(surface.vertices, flat.points, surface.triangles), flat.backbone, leather)


def tension_notes(
    pads: Sequence[BuiltPad], flats: Mapping[str, Flat], leather: Card, tensions: Tensions
) -> list[Problem]:
    """Warnings for pads of which some piece pulls otherwise than the seat was settled at."""
    notes = []
    for pad, tension in zip(pads, tensions, strict=True):
        rows = [
            (abs(reached - settled) / settled, panel.part, reached, settled)
            for panel in pad.panels
            if (settled := settled_at(tension, panel.part)) > 0.0
            for reached in [pull_of_panel(panel, flats[panel.name], leather).tension_n_per_mm]
        ]
        worst = max(rows, default=(0.0, "", 0.0, 0.0))
        if worst[0] > SAME_SHARE:
            text = (
                f"as cut, {worst[1]} pulls with {1000 * worst[2]:.0f} N/m, the seat was settled at "
                f"{1000 * worst[3]:.0f} N/m; padding there gives a little {'more' if worst[2] > worst[3] else 'less'} "
                "than told; another tension under [cover], or a leather that gives more, brings both together"
            )
            notes.append(Problem("F321", f"pad {pad.pad.name}", text, warning=True))
    return notes


def _differs(tension: float | Mapping[str, float], reached: Mapping[str, float]) -> bool:
    settled = {part: settled_at(tension, part) for part in reached}
    return any(abs(reached[part] - settled[part]) > SAME_SHARE * settled[part] for part in reached)


def _twins(pads: Sequence[BuiltPad], mirrored: Mapping[int, int]) -> dict[int, tuple[int, dict[str, str]]]:
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
    leather: Card,
) -> list[dict[str, float]]:
    """What the panels of every pad pull with, by part; of mirrored pads one has been tried."""
    own = {k: _reached(pad, flats, leather) for k, pad in enumerate(pads) if k not in twins}
    taken = {k: {part: own[one][image] for part, image in parts.items()} for k, (one, parts) in twins.items()}
    return [(own | taken)[k] for k in range(len(pads))]


def _reached(pad: BuiltPad, flats: Mapping[str, Flat], leather: Card) -> dict[str, float]:
    """What the panels of a pad pull with, by part; of mirrored panels one is asked, so that both are told the same."""
    drawn = {panel.name: panel for panel in pad.panels if panel.mirror_of is None}
    pulls = {name: pull_of_panel(panel, flats[name], leather).tension_n_per_mm for name, panel in drawn.items()}
    return {panel.part: max(pulls[panel.mirror_of or panel.name], 0.0) for panel in pad.panels}
