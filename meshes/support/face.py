"""The bare face of a pad as a height field: fair profiles blended without ripples, brought to its rim.

Lengths mm, heights above the pad's own zero.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from scipy.interpolate import RectBivariateSpline

from meshes.base.arrays import FloatArray
from meshes.numerics.profile import FairCurve, blend_across, fair_curve
from meshes.records.built_up import BuiltUp
from meshes.records.pad import Pad, Profile

SLOPE_STEP_MM = 0.5


def is_even(pad: Pad) -> bool:
    """True when a pad is the same left and right, so that one half is computed and mirrored."""
    return pad.symmetric and pad.sides["left"] == pad.sides["right"]


@dataclass(frozen=True, eq=False)
class RimField:
    """Heights over a rectangle of the plan, beyond which they stay as at its edge. even: the same left and right, to
    the last digit; flipped: it holds the heights of the mirror image."""

    spline: RectBivariateSpline
    low: tuple[float, float]
    high: tuple[float, float]
    even: bool
    flipped: bool = False

    def height(self, plan: FloatArray) -> FloatArray:
        """Height at plan positions (n, 2), shape (n,) mm."""
        plan = plan * np.array([-1.0, 1.0]) if self.flipped else plan
        x, y = np.clip(plan, self.low, self.high).T
        here = self.spline.ev(x, y)
        return np.asarray(0.5 * (here + self.spline.ev(-x, y)) if self.even else here, dtype=np.float64)


class HeightField(Protocol):
    """What is added to a face."""

    def height(self, plan: FloatArray) -> FloatArray:
        """By how much at plan positions (n, 2), shape (n,) mm."""
        ...


@dataclass(frozen=True, eq=False)
class Face:
    """Height of the face that padding is laid over, from profiles along and across; rim: what brings it to a fair rim;
    built_up: on the frame; raised: by blocks that lie on it. Heights in mm above the pad's own zero."""

    along: tuple[tuple[float, FairCurve], ...]
    across: tuple[tuple[float, FairCurve], ...]
    built_up: BuiltUp | None = None
    rim: RimField | None = None
    raised: HeightField | None = None

    def height(self, plan: FloatArray) -> FloatArray:
        """Height at plan positions (n, 2), shape (n,) mm."""
        measured = self._measured(plan)
        measured = measured if self.rim is None else measured + self.rim.height(plan)
        measured = measured if self.built_up is None else measured + self.built_up.height(plan)
        return measured if self.raised is None else measured + self.raised.height(plan)

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
