"""Profiles and outline become the bare support surface on the pad's chart, with a fan of directors for the padding.

The face is a height field through the fair profiles, blended without ripples between them. Round the edge the section
is a circular arc of the edge radius laid on that height field, then a straight run down to the tack line. Directors are
the normals of the face, turning evenly round the edge into the normal of the side; round a sharp edge or corner they
fan, so padding gets the round it has in life. Lengths mm, angles rad.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from meshes.base.arrays import FloatArray
from meshes.records.built_up import BuiltUp
from meshes.records.pad import Pad, Profile
from meshes.support.chart import Chart, is_even
from meshes.support.profile import FairCurve, blend_across, fair_curve

SLOPE_STEP_MM = 0.5


@dataclass(frozen=True, eq=False)
class Face:
    """Height of the bare face over its plan, from profiles along and across, and what is built up on it. Heights in mm
    above the pad's own zero."""

    along: tuple[tuple[float, FairCurve], ...]
    across: tuple[tuple[float, FairCurve], ...]
    built_up: BuiltUp | None = None

    def height(self, plan: FloatArray) -> FloatArray:
        """Height at plan positions (n, 2), shape (n,) mm."""
        measured = self._measured(plan)
        return measured if self.built_up is None else measured + self.built_up.height(plan)

    def _measured(self, plan: FloatArray) -> FloatArray:
        height = self._from_along(plan)
        if not self.across:
            return height
        rest = []
        for place, curve in self.across:
            row = np.stack([plan[:, 0], np.full(len(plan), place)], axis=1)
            rest.append(curve.height(plan[:, 0]) - self._from_along(row))
        places = np.array([place for place, _ in self.across])
        return height + blend_across(places, np.array(rest), plan[:, 1])

    def _from_along(self, plan: FloatArray) -> FloatArray:
        if not self.along:
            return np.zeros(len(plan))
        places = np.array([place for place, _ in self.along])
        values = np.array([curve.height(plan[:, 1]) for _, curve in self.along])
        return blend_across(places, values, plan[:, 0])

    def normal(self, plan: FloatArray) -> FloatArray:
        """Unit normals of the face, outward, shape (n, 3)."""
        slope = []
        for axis in (0, 1):
            step = np.zeros(2)
            step[axis] = SLOPE_STEP_MM
            slope.append((self.height(plan + step) - self.height(plan - step)) / (2 * SLOPE_STEP_MM))
        normal = np.stack([-slope[0], -slope[1], np.ones(len(plan))], axis=1)
        return normal / np.linalg.norm(normal, axis=1, keepdims=True)


def face_of(pad: Pad, built_up: BuiltUp | None = None) -> Face:
    """The face of a pad: what was measured, and what is built up on it."""
    return replace(fit_face(pad.profiles, symmetric=is_even(pad)), built_up=built_up)


def fit_face(profiles: Sequence[Profile], *, symmetric: bool) -> Face:
    """Fair curves through all measured profiles, placed in order; on a symmetric pad they are mirrored."""
    along: dict[float, FairCurve] = {}
    across: dict[float, FairCurve] = {}
    for profile in profiles:
        if profile.direction == "along":
            along[profile.at] = fair_curve(profile.points)
            if symmetric:
                along[-profile.at] = along[profile.at]
        else:
            across[profile.at] = fair_curve(_both_halves(profile.points) if symmetric else profile.points)
    return Face(tuple(sorted(along.items(), key=lambda p: p[0])), tuple(sorted(across.items(), key=lambda p: p[0])))


def _both_halves(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """A profile across measured on one half only, mirrored; one measured on both halves is averaged left and right."""
    if points[0][0] >= 0:
        right = list(points)
    elif points[-1][0] <= 0:
        right = [(-x, z) for x, z in reversed(points)]
    else:
        places = sorted({round(abs(x), 6) for x, _ in points})
        xs, zs = np.array(points).T
        near = min(-xs[0], xs[-1])
        right = [(x, float(0.5 * (np.interp(x, xs, zs) + np.interp(-x, xs, zs)))) for x in places if x <= near + 1e-9]
    left = [(-x, z) for x, z in reversed(right) if x > 0]
    return left + right


@dataclass(frozen=True, eq=False)
class Support:
    """The bare support at every chart vertex: points (n, 3) mm and directors (n, 3), unit, along which padding is
    laid."""

    points: FloatArray
    directors: FloatArray


def loft(chart: Chart, face: Face, plan: FloatArray, u: FloatArray, c: FloatArray) -> Support:
    """Support points and directors of chart vertices: plan (n, 2) where c < 0, else the section place (u, c)."""
    radius, padded, turn = chart.radius(u), chart.padded_radius(u), chart.turn(u)
    # Without radius the edge is sharp: the turn happens at c = 0, all at once.
    angle = np.where(padded > 1e-9, np.clip(c, 0.0, None) / np.maximum(padded, 1e-9), np.where(c > 1e-9, turn, 0.0))
    angle = np.minimum(angle, turn)
    below = np.maximum(c - chart.turn_end(u), 0.0)
    outward = chart.outline.normal(u)
    aside = radius * (np.sin(angle) - 1.0) + below * np.cos(turn)
    at = np.where((c < 0)[:, None], plan, chart.outline.point(u) + outward * aside[:, None])
    sunk = radius * (1.0 - np.cos(angle)) + below * np.sin(turn)
    points = np.column_stack([at, face.height(at) - np.where(c < 0, 0.0, sunk)])
    angle = np.where(c < 0, 0.0, angle)
    side = np.column_stack([outward, np.zeros(len(u))])
    directors = face.normal(at) * np.cos(angle)[:, None] + side * np.sin(angle)[:, None]
    return Support(points, directors / np.linalg.norm(directors, axis=1, keepdims=True))
