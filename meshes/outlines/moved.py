"""Outlines moved out or in, and how one lies in another. Lengths mm."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from meshes.base.plane import Point
from meshes.outlines.rounded import CornersTooRoundError, RoundedOutline, rounded_outline
from meshes.outlines.side_ramps import BOW_TURN_RAD
from meshes.records.pad import SIDES, Outline

# Places along an outline at which it is held against another.
_HELD_STEP_MM = 4.0


def rounded(outline: Outline) -> RoundedOutline:
    """An outline with its corners as the sheet has them. Raises CornersTooRoundError."""
    return rounded_outline(outline.corners, outline.radii, outline.side_of_edge)


def moved_out(outline: Outline, by_mm: float) -> Outline:
    """The outline moved out by `by_mm` all round, in below 0; its arcs keep their middles as far as they have room.
    Raises CornersTooRoundError where a run between two corners is gone."""
    if by_mm == 0.0:
        return outline
    corners = np.asarray(outline.corners)
    ahead = np.roll(corners, -1, axis=0) - corners
    ahead /= np.linalg.norm(ahead, axis=1)[:, None]
    behind = np.roll(ahead, 1, axis=0)
    out = np.stack([ahead[:, 1] + behind[:, 1], -ahead[:, 0] - behind[:, 0]], axis=1)
    moved = corners + by_mm * out / (1.0 + np.einsum("ij,ij->i", ahead, behind))[:, None]
    run = np.roll(moved, -1, axis=0) - moved
    if (np.einsum("ij,ij->i", run, ahead) <= 0.0).any():
        raise CornersTooRoundError(f"moved by {by_mm:.1f} mm, a run of the outline is gone")
    turn = np.arctan2(behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0], np.einsum("ij,ij->i", ahead, behind))
    radii = []
    for radius, angle in zip(outline.radii, turn, strict=True):
        # A point of a traced bow has no radius of its own.
        bow = radius == 0.0 and abs(angle) < BOW_TURN_RAD
        radii.append(0.0 if bow else max(radius + float(np.sign(angle)) * by_mm, 0.0))
    points: Sequence[Point] = [(float(x), float(y)) for x, y in moved]
    return replace(outline, corners=tuple(points), radii=tuple(radii))


@dataclass(frozen=True)
class Lie:
    """How one outline lies in another. least, most: how far inside it its places lie, below 0 outside; reached: by side
    of the other, which share of its straight runs lies within the one, or no more than a given length outside it."""

    least: float
    most: float
    reached: dict[str, float]


def lies_in(one: Outline, other: Outline, near_mm: float) -> Lie:
    """How `one` lies in `other`; near_mm: what counts as reached. Raises CornersTooRoundError."""
    inner, outer = rounded(one), rounded(other)
    inside = outer.nearest(inner.point(inner.samples(_HELD_STEP_MM)))[1]
    reached = {}
    for side in SIDES:
        runs = [k for k, name in enumerate(other.side_of_edge) if name == side]
        ends = np.array([[2.0 * k + 1.0, 2.0 * k + 2.0] for k in runs])
        long = np.linalg.norm(outer.point(ends[:, 1] - 1e-9) - outer.point(ends[:, 0] + 1e-9), axis=1)
        counts = np.maximum(np.ceil(long / _HELD_STEP_MM).astype(int), 1)
        places = np.concatenate(
            [a + (b - a) * (np.arange(n) + 0.5) / n for (a, b), n in zip(ends, counts, strict=True)]
        )
        covered = inner.nearest(outer.point(places))[1] >= -near_mm
        reached[side] = float(np.average(covered, weights=np.repeat(long / counts, counts)))
    return Lie(float(inside.min()), float(inside.max()), reached)


def shifted(outline: Outline, by: Point) -> Outline:
    """An outline laid elsewhere; the same left and right only where it keeps its place across."""
    corners = tuple((x + by[0], y + by[1]) for x, y in outline.corners)
    return replace(outline, corners=corners, symmetric=outline.symmetric and by[0] == 0.0)
