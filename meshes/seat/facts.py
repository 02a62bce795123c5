"""Facts about a built pad that a trimmer checks, and what is told of profiles that the support does not meet."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from meshes.base.arrays import FloatArray
from meshes.base.problems import Problem, ProblemError
from meshes.base.surface import Surface, smallest_angles, triangle_areas
from meshes.numerics.profile import left_out_mm, sensitivity
from meshes.padding.layers import PadDistances, all_thickness
from meshes.records.pad import Pad, Profile
from meshes.support.chart import MakeProblem
from meshes.support.face import Face

# Where profiles contradict each other the support cannot meet them all: told from the first, refused from the second.
RESIDUAL_TOLD_MM, RESIDUAL_REFUSED_MM = 1.0, 10.0
# A layer covers the places where at least this share of its thickness lies; the rest is its run-out.
COVERED_SHARE = 0.02


@dataclass(frozen=True)
class ProfileFact:
    """How well the support meets one measured profile. residual: the largest distance in height, mm; sensitivity: by
    how many mm its curve moves for one mm in one reading; left_out: by how much, at most, the curve through the other
    readings misses one that is left out, mm."""

    name: str
    points: int
    residual_mm: float
    sensitivity: float
    left_out_mm: float


@dataclass(frozen=True)
class PadFacts:
    """What was built, in numbers. left_right: what was measured on both sides and right minus left, mm; thickness:
    least and most free padding, mm; layers: material, where, thickness mm, covered area mm2."""

    profiles: tuple[ProfileFact, ...]
    left_right: tuple[tuple[str, float], ...]
    area_mm2: float
    thickness_mm: tuple[float, float]
    layers: tuple[tuple[str, str, float, float], ...]
    triangles: int
    smallest_angle_deg: float


def unmet_profiles(pad: Pad, face: Face, make_problem: MakeProblem) -> tuple[Problem, ...]:
    """Warnings for profiles that are missed by more than a gauge's reading. Raises ProblemError when one is missed by
    far."""
    told, refused = [], []
    for k, profile in enumerate(pad.profiles):
        missed = _missed_mm(face, profile)
        text = (
            f"the support misses this profile by {missed:.1f} mm, as others say otherwise where they cross it; "
            "measure again where they meet"
        )
        if missed > RESIDUAL_REFUSED_MM:
            refused.append(make_problem("G110", ("profile", k), text))
        elif missed > RESIDUAL_TOLD_MM:
            told.append(replace(make_problem("G109", ("profile", k), text), warning=True))
    if refused:
        raise ProblemError(refused)
    return tuple(told)


def pad_facts(pad: Pad, face: Face, surface: Surface, thickness: FloatArray, at: PadDistances) -> PadFacts:
    """What was built: face: as measured; surface: of the pad; thickness (n,) mm of the free padding at its vertices;
    at: what layers ask about these."""
    areas = triangle_areas(surface.vertices, surface.triangles)
    share = np.bincount(surface.triangles.ravel(), np.repeat(areas / 3.0, 3), len(surface.vertices))
    layers = []
    lies = all_thickness(pad.layers, at)
    for layer, thick in zip(pad.layers, lies, strict=True):
        covered = thick > COVERED_SHARE * layer.thickness
        where = layer.where if layer.within is None else f"{layer.where}, within {layer.within:g} mm"
        layers.append((layer.material, where, layer.thickness, float(share[covered].sum())))
    return PadFacts(
        profiles=tuple(_profile_fact(face, profile) for profile in pad.profiles),
        left_right=_left_right(pad),
        area_mm2=float(areas.sum()),
        thickness_mm=(float(thickness.min()), float(thickness.max())),
        layers=tuple(layers),
        triangles=len(surface.triangles),
        smallest_angle_deg=float(np.rad2deg(smallest_angles(surface.vertices, surface.triangles).min())),
    )


def _profile_fact(face: Face, profile: Profile) -> ProfileFact:
    name, points = f"{profile.direction} at {profile.at:g}", profile.points
    return ProfileFact(name, len(points), _missed_mm(face, profile), sensitivity(points), left_out_mm(points))


def _missed_mm(face: Face, profile: Profile) -> float:
    """The largest distance in height between the support and a profile's readings."""
    places, heights = np.array(profile.points).T
    fixed = np.full(len(places), profile.at)
    plan = np.stack([fixed, places] if profile.direction == "along" else [places, fixed], axis=1)
    return float(np.abs(face.height(plan) - heights).max())


def _left_right(pad: Pad) -> tuple[tuple[str, float], ...]:
    """What was measured on both halves, as right minus left, mm."""
    corners = np.array(pad.outline.corners)
    rows = []
    if len(corners) == 4:
        for word, left, right in ((pad.side_word("front"), 0, 1), (pad.side_word("rear"), 3, 2)):
            rows.append((f"{word} half width", float(corners[right, 0] + corners[left, 0])))
        depth = [corners[2, 1] - corners[1, 1], corners[3, 1] - corners[0, 1]]
        rows.append(("depth", float(depth[0] - depth[1])))
    rows.append(("drop", pad.sides["right"].drop - pad.sides["left"].drop))
    rows.append(("edge radius", pad.sides["right"].edge_radius - pad.sides["left"].edge_radius))
    rows += _profile_differences(pad.profiles)
    return tuple(rows)


def _profile_differences(profiles: Sequence[Profile]) -> list[tuple[str, float]]:
    rows = []
    along = {p.at: p for p in profiles if p.direction == "along"}
    for at, right in along.items():
        if at > 0 and -at in along:
            places, heights = np.array(right.points).T
            difference = heights - np.interp(places, *np.array(along[-at].points).T)
            rows.append((f"height along {at:g} mm from the centre", float(difference[np.argmax(np.abs(difference))])))
    for profile in profiles:
        xs, zs = np.array(profile.points).T
        if profile.direction == "across" and xs[0] < 0 < xs[-1]:
            reach = xs[(xs > 0) & (xs <= -xs[0])]
            if len(reach):
                difference = np.interp(reach, xs, zs) - np.interp(-reach, xs, zs)
                rows.append((f"height across at {profile.at:g} mm", float(difference[np.argmax(np.abs(difference))])))
    return rows
