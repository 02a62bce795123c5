"""Maps of a pad drawn anew where its leather or its padding is other than was reckoned: what is sewn to them follows.

Along every seam both sides keep the share by which one is longer than the other. Over a place that is raised both grow
as the seat does, step by step; where a piece is cut for another stretch, its partner becomes as long as it does, and
where both are, by the mean. All other seams stay as long as they were, so what is sewn beyond stays as it is. A band
becomes shorter or longer over its whole width, so that its other edge stays as straight as it was.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from flatten.maps.flat import Flat
from flatten.reshape.elastic import SewnRun, drawn_anew
from meshes.base.arrays import FloatArray, IntArray
from meshes.numerics.laplace import corner_angles, laplacian
from meshes.numerics.solver import Factor
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel, PanelRole
from meshes.seat.seam_sides import sides_of

# Steps of a seam that are to change by less stay as they are.
AS_LONG_MM = 1e-4


@dataclass(frozen=True, eq=False)
class Wishes:
    """What maps are to become, by panel that is drawn. leather (2, 2): by what a piece grows for its leather; seat
    (m, 2, 2): by what its triangles grow over a place that is raised."""

    leather: Mapping[str, FloatArray]
    seat: Mapping[str, FloatArray]

    def of(self, panel: str) -> FloatArray | None:
        """By what the triangles (m, 2, 2) of a map are to grow; None where nothing is wished of it."""
        leather, seat = self.leather.get(panel), self.seat.get(panel)
        return seat if leather is None else both_at_once(leather[None], seat)


def both_at_once(one: FloatArray, two: FloatArray | None) -> FloatArray:
    """Two symmetric growths (m, 2, 2) in one; to first order one after the other is both at once."""
    if two is None:
        return one
    both = one @ two
    return np.asarray(0.5 * (both + both.transpose(0, 2, 1)))


def over_the_width(flat: Flat, edges: Sequence[tuple[IntArray, FloatArray]]) -> FloatArray:
    """Growths (m, 2, 2) of a band's triangles that are along its edges what is asked there, each by its vertices and by
    what its steps grow, and harmonic between (cotangent weights: Pinkall and Polthier 1993)."""
    n = len(flat.points)
    total, often = np.zeros((n, 3)), np.zeros(n)
    for run, grows in edges:
        ways = np.diff(flat.points[run], axis=0)
        ways /= np.linalg.norm(ways, axis=1)[:, None]
        more = (grows - 1.0)[:, None] * np.column_stack([ways[:, 0] ** 2, ways[:, 1] ** 2, ways[:, 0] * ways[:, 1]])
        for ends in (run[:-1], run[1:]):
            np.add.at(total, ends, more)
            np.add.at(often, ends, 1.0)
    field = total / np.maximum(often, 1.0)[:, None]
    inside = np.flatnonzero(often == 0.0)
    if len(inside):
        in_space = np.column_stack([flat.points, np.zeros(n)])
        matrix = laplacian(flat.triangles, corner_angles(in_space, flat.triangles)[1], n)
        field[inside] = Factor(matrix[inside][:, inside]).solve(-(matrix @ field)[inside])
    xx, yy, xy = field[flat.triangles].mean(axis=1).T
    return np.asarray(np.eye(2) + np.stack([xx, xy, xy, yy], axis=1).reshape(-1, 2, 2))


def followed_points(old: BuiltPad, new: BuiltPad, flats: Mapping[str, Flat], wishes: Wishes) -> dict[str, FloatArray]:
    """The points of maps that change, by panel that is drawn. old, new: the pad before and after places were raised,
    with the same panels drawn."""
    drawn = {panel.name: panel.mirror_of or panel.name for panel in new.panels}
    before, after = ({panel.name: panel for panel in pad.panels} for pad in (old, new))
    runs: dict[str, dict[frozenset[int], SewnRun]] = {}
    bands: dict[str, list[tuple[IntArray, FloatArray]]] = {}
    changed = set(wishes.leather) | set(wishes.seat)
    for seam in new.seams:
        sides = [(drawn[name], run) for name, run in sides_of(seam, after)]
        grows = _on_seat(before[seam.a], after[seam.a], sides_of(seam, after)[0][1])
        led = [_grown(flats[name].points[run], wishes.leather[name]) for name, run in sides if name in wishes.leather]
        grows = grows * (np.mean(led, axis=0) if led else 1.0)
        for name, run in sides:
            was = _steps(flats[name].points[run])
            if led and name not in wishes.leather and after[name].role is PanelRole.BAND:
                bands.setdefault(name, []).append((run, np.mean(led, axis=0)))
            runs.setdefault(name, {})[frozenset(run.tolist())] = SewnRun(run, was * grows)
            if abs(was * grows - was).max() > AS_LONG_MM:
                changed.add(name)
    found = {}
    for name in sorted(changed):
        flat, wished = flats[name], wishes.of(name)
        if name in bands:
            wished = both_at_once(over_the_width(flat, bands[name]), wished)
        whole = None if wished is None else np.broadcast_to(wished, (len(flat.triangles), 2, 2))
        found[name] = drawn_anew(flat.points, flat.triangles, whole, tuple(runs.get(name, {}).values()))
    return found


def _on_seat(old: Panel, new: Panel, run: IntArray) -> FloatArray:
    """By what every step of a seam grows on the seat."""
    return _steps(new.surface.vertices[run]) / _steps(old.surface.vertices[run])


def _grown(path: FloatArray, growth: FloatArray) -> FloatArray:
    """By what every step of a line on a piece grows with it."""
    return _steps(path @ growth) / _steps(path)


def _steps(path: FloatArray) -> FloatArray:
    return np.asarray(np.linalg.norm(np.diff(path, axis=0), axis=1))
