"""One pad of the sheet, built in three dimensions: support, padding, panels, and the facts a trimmer checks."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from meshes.base.arrays import FloatArray, locked_floats
from meshes.base.problems import Problem, ProblemError
from meshes.base.surface import Surface, smallest_angles, triangle_areas
from meshes.padding.handed import handed_mesh
from meshes.padding.layers import PadDistances, edge_thickness, free_thickness, layer_thickness, places
from meshes.pleats.channels import Pleated, pleated
from meshes.pleats.shape import USUAL_TENSION_N_PER_MM, pleat_section
from meshes.pleats.valleys import PleatPlan, pleat_plan
from meshes.records.built_up import Continued
from meshes.records.materials import BUILT_IN, Material
from meshes.records.pad import Pad, Profile
from meshes.seat.assembly import placement
from meshes.seat.panels import PLEATED, Panel, PanelRole, Seam, curves_of, divide
from meshes.settle.pad import PadRest, lift_notes, settle_pad
from meshes.settle.proposal import Comparison, usual_cuts
from meshes.settle.section import lifts_on
from meshes.settle.settle import Settled
from meshes.support.chart import Blame, Chart, is_even, pad_chart
from meshes.support.chart_mesh import ChartMesh
from meshes.support.loft import Face, face_of, loft
from meshes.support.profile import left_out_mm, sensitivity
from meshes.support.seam_lines import inset_polygon

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


@dataclass(frozen=True, eq=False)
class BuiltPad:
    """A pad in its own coordinates: bare support and padded surface share triangles; thickness (n,) mm of the free
    padding along the directors; placement (4, 4) from pad to seat; rest and sections: how the cover settled, when it
    has a tension; continued: how it goes on from its neighbour, when the sheet asks for that."""

    pad: Pad
    support: Surface
    surface: Surface
    thickness_mm: FloatArray
    panels: tuple[Panel, ...]
    seams: tuple[Seam, ...]
    placement: FloatArray
    facts: PadFacts
    problems: tuple[Problem, ...]
    pleats: Pleated | None = None
    rest: PadRest | None = None
    sections: tuple[Comparison, ...] = ()
    continued: Continued | None = None

    @property
    def settled(self) -> Settled | None:
        """The cover at rest on its padding; None where the surface is that of free padding."""
        return None if self.rest is None else self.rest.settled

    @property
    def shown(self) -> Surface:
        """The surface as one sees it: with the crests of its pleats."""
        return self.surface if self.pleats is None else self.pleats.raised


def build(
    pad: Pad,
    *,
    edge_mm: float = 6.0,
    blame: Blame | None = None,
    tension_n_per_mm: float | Mapping[str, float] | None = None,
    materials: Mapping[str, Material] = BUILT_IN,
    sections: bool = True,
) -> BuiltPad:
    """Build one pad with triangles of about `edge_mm`.

    blame makes the problems of a pad that cannot be built; with a sheet at hand it knows file and line.
    tension_n_per_mm: of the fitted cover, one for all or one for each panel by its part (the mean for one that is not
    named); without it, or at 0, the surface is that of the free padding. materials: of the layers, by name; sections:
    whether the usual cuts are made too. Raises ProblemError.
    """
    blame = blame or (lambda code, keys, text: Problem(code, f"pad {pad.name}", text))
    even = is_even(pad)
    chart = pad_chart(pad, edge_thickness(pad), blame)
    pull = tension_n_per_mm or USUAL_TENSION_N_PER_MM
    usual = float(np.mean(list(pull.values()))) if isinstance(pull, Mapping) else pull
    plan = pleat_plan(pad, chart, blame, tension_n_per_mm=usual) if pad.pleats is not None else None
    mesh = handed_mesh(pad, chart, blame, half=even, edge_mm=edge_mm, valleys=plan.drawn() if plan else ())
    face = face_of(pad)
    support = loft(chart, face, mesh.plan, mesh.u, mesh.c)
    face = replace(face, built_up=None)
    at = places(chart, mesh.plan, mesh.u, mesh.c)
    thickness = free_thickness(pad.layers, at)
    outer = support.points + thickness[:, None] * support.directors
    notes = _unmet_profiles(pad, face, blame)
    _not_folded(pad, chart, blame, mesh, outer, support.directors)
    rest: PadRest | None = None
    cuts: tuple[Comparison, ...] = ()
    if tension_n_per_mm:
        tensions: float | FloatArray = usual
        if isinstance(tension_n_per_mm, Mapping):
            free = Surface(outer, mesh.triangles)
            parts = divide(pad, chart, blame, mesh, free, inset_polygon(pad, chart, blame), plan).panels
            tensions = _by_triangle(parts, tension_n_per_mm, len(mesh.triangles))
            plan = None if plan is None else _pulled_alike(plan, parts, tension_n_per_mm)
        rest = settle_pad(pad, chart, mesh, support, at, materials, tension_n_per_mm=tensions, blame=blame)
        rest = replace(rest, tension_n_per_mm=usual)
        notes, outer = (*notes, *lift_notes(pad, rest, blame)), rest.settled.points
        if sections:
            cuts, missed = usual_cuts(pad, tension_n_per_mm=usual, materials=materials, blame=blame)
            cuts, notes = tuple(_with_lifts(cut, rest.settled, mesh) for cut in cuts), (*notes, *missed)
        _not_folded(pad, chart, blame, mesh, outer, support.directors)
    bare = Surface(_even(support.points, mesh), mesh.triangles)
    padded = Surface(_even(outer, mesh), mesh.triangles)
    division = divide(pad, chart, blame, mesh, padded, inset_polygon(pad, chart, blame), plan)
    padded = Surface(padded.vertices, padded.triangles, curves_of(division.panels, division.seams))
    return BuiltPad(
        pad=pad,
        support=bare,
        surface=padded,
        thickness_mm=locked_floats(thickness),
        panels=division.panels,
        seams=division.seams,
        placement=placement(pad),
        facts=_facts(pad, face, padded, thickness, at),
        problems=(*notes, *_rounded(plan, blame)),
        pleats=pleated(pad, plan, mesh, padded) if plan else None,
        rest=rest,
        sections=cuts,
    )


def _by_triangle(panels: Sequence[Panel], tension: Mapping[str, float], count: int) -> FloatArray:
    """The tension of every triangle of a pad, (m,), from that of its panels by part."""
    values = np.full(count, float(np.mean(list(tension.values()))))
    for panel in panels:
        if panel.part in tension:
            values[panel.triangles] = tension[panel.part]
    return values


def _pulled_alike(plan: PleatPlan, panels: Sequence[Panel], tension: Mapping[str, float]) -> PleatPlan:
    """The same pleats, their crests drawn down by what the pleated panels are pulled with."""
    roles = (PanelRole.PLEAT, PLEATED[plan.pleats.where])
    values = [tension[panel.part] for panel in panels if panel.role in roles and panel.part in tension]
    if not values:
        return plan
    section = pleat_section(plan.pleats, plan.section.nominal, tension_n_per_mm=float(np.mean(values)))
    return replace(plan, section=section)


def _rounded(plan: PleatPlan | None, blame: Blame) -> list[Problem]:
    """Warnings for what was rounded while the pleats were laid out."""
    notes = plan.layout.notes if plan else ()
    return [replace(blame("G131", ("pleats",), note), warning=True) for note in notes]


def _with_lifts(cut: Comparison, settled: Settled, mesh: ChartMesh) -> Comparison:
    """A cut with the places where the pad's own cover lifts along it."""
    own = lifts_on(settled.points, settled.lift_mm, mesh.triangles, cut.padded.direction, cut.padded.at)
    return replace(cut, on_pad=own)


def _unmet_profiles(pad: Pad, face: Face, blame: Blame) -> tuple[Problem, ...]:
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
            refused.append(blame("G110", ("profile", k), text))
        elif missed > RESIDUAL_TOLD_MM:
            told.append(replace(blame("G109", ("profile", k), text), warning=True))
    if refused:
        raise ProblemError(refused)
    return tuple(told)


def _not_folded(
    pad: Pad, chart: Chart, blame: Blame, mesh: ChartMesh, outer: FloatArray, directors: FloatArray
) -> None:
    """Every triangle of the padded surface must face outward; where one does not, the cover would pass through
    itself."""
    a, b, c = (outer[mesh.triangles[:, k]] for k in range(3))
    facing = np.einsum("ij,ij->i", np.cross(b - a, c - a), directors[mesh.triangles].sum(axis=1))
    folded = np.flatnonzero(facing <= 0)
    if len(folded):
        u, below = (
            mesh.u[mesh.triangles[folded]].mean(),
            mesh.c[mesh.triangles[folded]].mean() - chart.edge(mesh.u[mesh.triangles[folded]].ravel()).mean(),
        )
        side = chart.side_at(float(u))
        where = "on the face" if below < -50.0 else f"{below:.0f} mm below the edge" if below > 0 else "on the edge"
        text = (
            f"the padded cover passes through itself in {len(folded)} places, {where} at the "
            f"{pad.side_word(side)} side; make the padding thinner or its taper longer, "
            "the corner radius larger, or the drop shorter"
        )
        raise ProblemError([blame("G108", ("sides", side), text)])


def _even(points: FloatArray, mesh: ChartMesh) -> FloatArray:
    """The left half as the exact mirror image of the right one: rounding must not tell mirrored pieces apart."""
    if mesh.mirror is None:
        return points
    flipped = points[mesh.mirror] * np.array([-1.0, 1.0, 1.0])
    even = np.where((np.arange(len(points)) <= mesh.mirror)[:, None], points, flipped)
    even[mesh.mirror == np.arange(len(points)), 0] = 0.0
    return even


def _facts(pad: Pad, face: Face, surface: Surface, thickness: FloatArray, at: PadDistances) -> PadFacts:
    areas = triangle_areas(surface.vertices, surface.triangles)
    share = np.bincount(surface.triangles.ravel(), np.repeat(areas / 3.0, 3), len(surface.vertices))
    layers = []
    for layer in pad.layers:
        covered = layer_thickness(layer, at) > COVERED_SHARE * layer.thickness
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
