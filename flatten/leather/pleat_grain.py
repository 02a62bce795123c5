"""Which way a panel's pleats run on its map, and the seat's grain direction that goes with them.

Over a rounded corner or down a slanting side a direction of the seat is carried elsewhere than the pleats beside it.
A pleated panel therefore lies with its pleats: its grain is the direction of the seat, nearest to the usual one, that
its map carries along them in both means (`grain.both_means`), or square across them where they run across the seat.
"""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from flatten.leather.grain import MeansOnMap, carrying
from meshes.base.arrays import FloatArray, locked_floats
from meshes.base.surface import directed_edges
from meshes.pleats.channels import Pleated
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel

# A piece belongs to the pleats when all of it lies on them; a rim may stray by rounding.
ON_PLEATS = -0.5
# Vertices of a valley are on it up to rounding, in pleats.
ON_VALLEY = 1e-9
# The search for a panel's grain: steps at most, the sine that is near enough, the turn that slopes are taken over, the
# longest turn of one step (rad), and the share below which both means count as one.
NEWTON_STEPS, MISS, TURN, LONGEST, ALIKE = 12, 1e-6, 1e-5, 0.3, 1e-2
# What is left on one side of a pad, on the other.
_MIRRORED = np.array([-1.0, 1.0, 1.0])


def pleats_of(pad: BuiltPad, panel: Panel) -> Pleated | None:
    """The pleats that a panel carries, None for any other panel."""
    if pad.pleats is None or (pad.pleats.place[panel.vertices] < ON_PLEATS).any():
        return None
    return pad.pleats


def running(pleats: Pleated, panel: Panel) -> FloatArray | None:
    """Weights (n,) whose sum over a panel's map (n, 2) is the mean of its valleys from end to end, towards higher
    stations; None for a panel along which no valley runs."""
    place, station = pleats.place[panel.vertices], pleats.station[panel.vertices]
    valley = np.rint(place)
    on = (np.abs(place - valley) < ON_VALLEY) & (valley >= 1) & (valley < pleats.plan.count)
    edges = directed_edges(panel.surface.triangles)
    edges = edges[on[edges].all(axis=1) & (valley[edges[:, 0]] == valley[edges[:, 1]])]
    edges = np.unique(np.sort(edges, axis=1), axis=0)
    ends = np.flatnonzero(np.bincount(edges.ravel(), minlength=len(place)) == 1)
    weights: FloatArray = np.zeros(len(place))
    for k in np.unique(valley[ends]):
        # A cut across a valley leaves it in pieces, each with an end to either side.
        own = ends[valley[ends] == k]
        weights[own[np.argsort(station[own], kind="stable")]] = np.resize([-1.0, 1.0], len(own))
    return weights / np.abs(weights).sum() if weights.any() else None


def with_pleats(panel: Panel, run: FloatArray, points: FloatArray) -> FloatArray:
    """The direction (2,) on a map (n, 2) along the run of its pleats (n,) or square across it, whichever is nearer to
    where the panel's grain is carried."""
    along = run @ points
    along /= np.linalg.norm(along)
    now = carrying(panel.surface.vertices, panel.surface.triangles, panel.grain) @ points
    across = np.array([-along[1], along[0]])
    nearer = along if abs(now @ along) >= abs(now @ across) else across
    return np.asarray(nearer if now @ nearer >= 0.0 else -nearer)


def grained_with_pleats(pad: BuiltPad, maps: Mapping[str, FloatArray]) -> BuiltPad:
    """The pad with the grain of every pleated panel along its pleats; maps (n, 2): of the panels that mirror no
    other."""
    found: dict[str, FloatArray] = {}
    for panel in pad.panels:
        pleats = pleats_of(pad, panel) if panel.mirror_of is None else None
        run = None if pleats is None else running(pleats, panel)
        if run is not None:
            found[panel.name] = _grain_along(panel, maps[panel.name], with_pleats(panel, run, maps[panel.name]))
    both = found | {p.name: _MIRRORED * found[p.mirror_of] for p in pad.panels if p.mirror_of in found}
    panels = tuple(replace(p, grain=locked_floats(both[p.name])) if p.name in both else p for p in pad.panels)
    return replace(pad, division=replace(pad.division, panels=panels))


def _grain_along(panel: Panel, points: FloatArray, toward: FloatArray) -> FloatArray:
    """The unit direction of the seat (3,), nearest to the panel's grain, of which a map (n, 2) carries both means
    toward (2,), or as nearly as it can."""
    side = np.array([-toward[1], toward[0]])
    on_map = MeansOnMap(panel.surface.vertices, panel.surface.triangles, points)

    def off(grain: FloatArray) -> FloatArray:
        """Sines of the angles by which both means miss."""
        means = on_map.of(grain)
        return np.asarray(means @ side / np.linalg.norm(means, axis=1))

    best = grain = panel.grain
    for _ in range(NEWTON_STEPS):
        miss = off(grain)
        if np.abs(miss).max() < np.abs(off(best)).max():
            best = grain
        if np.abs(miss).max() < MISS:
            break
        # The two ways in which a unit direction can turn.
        ways = np.linalg.svd(grain[None, :])[2][1:]
        slope = np.stack([(off(grain + TURN * way) - off(grain - TURN * way)) / (2.0 * TURN) for way in ways], axis=1)
        # On a flat panel both means are one, and the shortest turn serves.
        step = -np.linalg.pinv(slope, rcond=ALIKE) @ miss
        step *= min(1.0, LONGEST / max(float(np.linalg.norm(step)), MISS))
        grain = grain + step @ ways
        grain = grain / np.linalg.norm(grain)
    return np.asarray(best)
