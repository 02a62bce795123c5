"""One pad of the sheet, built in three dimensions: support, padding, settled cover, panels and seams."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import shapely

from meshes.base.arrays import FloatArray, locked_floats
from meshes.base.problems import Problem, ProblemError
from meshes.base.surface import Surface
from meshes.numerics.sizes import Sizes
from meshes.padding.layers import PadDistances, edge_thickness, free_thickness
from meshes.padding.pad_sizes import pad_sizes
from meshes.padding.support_mesh import SupportMesh, support_mesh
from meshes.pleats.channels import Pleated, pleated
from meshes.pleats.plan import PleatPlan
from meshes.pleats.shape import USUAL_TENSION_N_PER_MM, pleat_section
from meshes.pleats.valleys import pleat_plan
from meshes.records.alignment import UNALIGNED, Alignment
from meshes.records.built_up import Continued
from meshes.records.closed import Undersize
from meshes.records.materials import BUILT_IN, Material
from meshes.records.pad import Pad
from meshes.seat.assembly import placement
from meshes.seat.division import divide
from meshes.seat.facts import PadFacts, pad_facts, unmet_profiles
from meshes.seat.frame_notes import frame_notes
from meshes.seat.long_bands import long_band_notes
from meshes.seat.panel_identities import PLEATED
from meshes.seat.panels import Division, Panel, PanelRole, Seam, curves_of
from meshes.settle.on_pad import LiftAlong, section_of_pad
from meshes.settle.pad import PadRest, lift_notes, settle_pad
from meshes.settle.proposal import Comparison, usual_cuts
from meshes.settle.section_line import section_line
from meshes.settle.settle import Settled
from meshes.support.blocks import face_of
from meshes.support.chart import MakeProblem, make_problem_for, pad_chart
from meshes.support.chart_mesh import ChartMesh
from meshes.support.rim import rimmed

Tension = float | Mapping[str, float]
"""Of a fitted cover, N/mm: one for all of it, or one for each panel by its part (the mean for one not named)."""


# Edges of triangles across a pleat at least.
CREST_EDGES = 6.0


@dataclass(frozen=True)
class ClosedFacts:
    """What follows of a closed cover. smaller: than its core; tension: of the cover filled, N/mm; rise: of each face
    above its rim, zip: length of its opening, mm."""

    smaller: Undersize
    tension_n_per_mm: float
    rise_mm: float
    zip_mm: float


@dataclass(frozen=True, eq=False)
class BuiltPad:
    """A pad in its own coordinates: bare support and padded surface share triangles; thickness_mm (n,) of the free
    padding along the directors; division: into panels; rest and sections: how the cover settled, when it has a tension;
    alignment: with its neighbours; continued: how it goes on from its neighbour, when the sheet asks for that; closed:
    what follows of a closed cover."""

    pad: Pad
    alignment: Alignment
    support: Surface
    surface: Surface
    thickness_mm: FloatArray
    division: Division
    facts: PadFacts
    problems: tuple[Problem, ...]
    pleats: Pleated | None = None
    rest: PadRest | None = None
    sections: tuple[Comparison, ...] = ()
    continued: Continued | None = None
    closed: ClosedFacts | None = None

    @property
    def panels(self) -> tuple[Panel, ...]:
        """The panels of its cover."""
        return self.division.panels

    @property
    def seams(self) -> tuple[Seam, ...]:
        """The seams between its panels."""
        return self.division.seams

    @property
    def placement(self) -> FloatArray:
        """Matrix (4, 4) from pad to seat coordinates, mm."""
        return placement(self.pad)

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
    edge_mm: float | Sizes = 6.0,
    make_problem: MakeProblem | None = None,
    tension_n_per_mm: Tension | None = None,
    materials: Mapping[str, Material] = BUILT_IN,
    alignment: Alignment = UNALIGNED,
) -> BuiltPad:
    """Build one pad with triangles of `edge_mm` where it bends and longer ones where it is flat, or of sizes as given,
    and make the usual cuts through it.

    make_problem makes the problems of a pad that cannot be built; with a sheet at hand it knows file and line.
    tension_n_per_mm: of the fitted cover; without it, or at 0, the surface is that of the free padding, and there are
    no cuts. materials: of the layers, by name; alignment: with the pad's neighbours. Raises ProblemError.
    """
    make_problem = make_problem or make_problem_for(pad)
    built = build_surface(
        pad,
        edge_mm=edge_mm,
        make_problem=make_problem,
        tension_n_per_mm=tension_n_per_mm,
        materials=materials,
        alignment=alignment,
    )
    if built.rest is None:
        return built
    tension = built.rest.tension_n_per_mm
    return cut_open(
        built,
        *usual_cuts(pad, tension_n_per_mm=tension, materials=materials, make_problem=make_problem, alignment=alignment),
        materials=materials,
        make_problem=make_problem,
    )


def cut_open(
    built: BuiltPad,
    cuts: Sequence[Comparison],
    missed: Sequence[Problem],
    *,
    materials: Mapping[str, Material],
    make_problem: MakeProblem,
) -> BuiltPad:
    """A settled pad with cuts that were made through it, as they lie in the pad, and warnings for those that could not
    be made. Raises ProblemError when the cover of a cut does not come to rest."""
    lying = tuple(in_pad(cut, built, materials=materials, make_problem=make_problem) for cut in cuts)
    return replace(built, sections=lying, problems=(*built.problems, *missed))


def in_pad(
    cut: Comparison, built: BuiltPad, *, materials: Mapping[str, Material], make_problem: MakeProblem
) -> Comparison:
    """A cut through a settled pad as it lies in it: its cover lifts where and as far as the pad's own does."""
    assert built.rest is not None
    settled, where = built.rest.settled, cut.padded.cut
    along = LiftAlong.of(settled.points, settled.lift_mm, built.surface.triangles, where)
    line = partial(
        section_line, built.pad, where, materials=materials, make_problem=make_problem, alignment=built.alignment
    )
    padded = section_of_pad(
        built.pad,
        cut.padded,
        along,
        tension_n_per_mm=built.rest.tension_n_per_mm,
        line=line,
        make_problem=make_problem,
    )
    # It stays about the same edge, as its proposal does.
    return replace(cut, padded=padded, on_pad=along.lifts(), edge=cut.ridge.side)


def build_surface(
    pad: Pad,
    *,
    edge_mm: float | Sizes = 6.0,
    make_problem: MakeProblem | None = None,
    tension_n_per_mm: Tension | None = None,
    materials: Mapping[str, Material] = BUILT_IN,
    alignment: Alignment = UNALIGNED,
) -> BuiltPad:
    """The same without the cuts."""
    make_problem = make_problem or make_problem_for(pad)
    chart = pad_chart(pad, edge_thickness(pad), make_problem)
    usual = mean_of(tension_n_per_mm or USUAL_TENSION_N_PER_MM)
    plan = None
    if pad.pleats is not None:
        plan = pleat_plan(pad, chart, make_problem, tension_n_per_mm=usual, alignment=alignment)
    face, aligned = rimmed(pad).face, face_of(pad, alignment.built_up)
    sizes = edge_mm if isinstance(edge_mm, Sizes) else _for_crests(pad_sizes(pad, chart, aligned, edge_mm), plan)
    meshed = support_mesh(pad, chart, aligned, make_problem, edge_mm=sizes, valleys=plan.drawn() if plan else ())
    thickness = free_thickness(pad.layers, meshed.at)
    outer = meshed.support.points + thickness[:, None] * meshed.support.directors
    notes = (*unmet_profiles(pad, face, make_problem), *frame_notes(pad, chart, make_problem))
    _not_folded(meshed, outer, make_problem)
    rest = None
    if tension_n_per_mm:
        plan, tensions = _pulled(meshed, outer, plan, tension_n_per_mm, make_problem)
        rest = replace(
            settle_pad(meshed, materials, tension_n_per_mm=tensions, make_problem=make_problem), tension_n_per_mm=usual
        )
        notes, outer = (*notes, *lift_notes(pad, rest, make_problem)), rest.settled.points
        _not_folded(meshed, outer, make_problem)
    surface, division = _divided(meshed, outer, plan, make_problem)
    return BuiltPad(
        pad=pad,
        alignment=alignment,
        support=Surface(_even(meshed.support.points, meshed.mesh), meshed.mesh.triangles),
        surface=surface,
        thickness_mm=locked_floats(thickness),
        division=division,
        facts=pad_facts(pad, face, surface, thickness + _in_blocks(meshed.at), meshed.at),
        problems=(*notes, *long_band_notes(meshed, division.panels, make_problem), *_rounded(plan, make_problem)),
        pleats=pleated(pad, plan, meshed.mesh, surface) if plan else None,
        rest=rest,
    )


def _for_crests(sizes: Sizes, plan: PleatPlan | None) -> Sizes:
    """The same sizes, short enough for the crests of pleats where there are some."""
    places = sizes.places
    if plan is None or not len(places):
        return sizes
    at = plan.region.place(places)
    pleated_ = places[shapely.contains_xy(plan.region.shape, at[:, 0], at[:, 1])]
    widest = float(np.median(np.diff(plan.edges, axis=1))) / CREST_EDGES
    return sizes.refined(pleated_, np.full(len(pleated_), widest))


def _in_blocks(at: PadDistances) -> FloatArray | float:
    """Thickness of all blocks at every place, (n,) mm."""
    return 0.0 if at.blocks is None else np.asarray(at.blocks.thickness_mm.sum(axis=0))


def _divided(
    meshed: SupportMesh, outer: FloatArray, plan: PleatPlan | None, make_problem: MakeProblem
) -> tuple[Surface, Division]:
    """The surface with points (n, 3), its seams and open edges as curves, and its division into panels."""
    surface = Surface(_even(outer, meshed.mesh), meshed.mesh.triangles)
    division = divide(meshed, surface, make_problem, plan)
    return Surface(surface.vertices, surface.triangles, curves_of(division.panels, division.seams)), division


def mean_of(tension: Tension) -> float:
    """The mean tension of a cover."""
    return float(np.mean(list(tension.values()))) if isinstance(tension, Mapping) else tension


def _pulled(
    meshed: SupportMesh, free: FloatArray, plan: PleatPlan | None, tension: Tension, make_problem: MakeProblem
) -> tuple[PleatPlan | None, float | FloatArray]:
    """The pleats under the tension of their panels, and one tension for all triangles or one for each (m,); free
    (n, 3): the cover over free padding."""
    if not isinstance(tension, Mapping):
        return plan, tension
    triangles = meshed.mesh.triangles
    panels = divide(meshed, Surface(free, triangles), make_problem, plan).panels
    plan = None if plan is None else _pulled_alike(plan, panels, tension)
    return plan, _by_triangle(panels, tension, len(triangles))


def _by_triangle(panels: Sequence[Panel], tension: Mapping[str, float], count: int) -> FloatArray:
    """The tension of every triangle of a pad, (m,), from that of its panels by part."""
    values = np.full(count, mean_of(tension))
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
    section = pleat_section(plan.pleats.filling, plan.section.nominal, tension_n_per_mm=float(np.mean(values)))
    return replace(plan, section=section)


def _rounded(plan: PleatPlan | None, make_problem: MakeProblem) -> list[Problem]:
    """Warnings for what was rounded while the pleats were laid out."""
    notes = plan.layout.notes if plan else ()
    return [replace(make_problem("G131", ("pleats",), note), warning=True) for note in notes]


def _not_folded(meshed: SupportMesh, outer: FloatArray, make_problem: MakeProblem) -> None:
    """Every triangle of the padded surface must face outward; where one does not, the cover would pass through
    itself."""
    pad, chart, mesh = meshed.pad, meshed.chart, meshed.mesh
    a, b, c = (outer[mesh.triangles[:, k]] for k in range(3))
    facing = np.einsum("ij,ij->i", np.cross(b - a, c - a), meshed.support.directors[mesh.triangles].sum(axis=1))
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
        raise ProblemError([make_problem("G108", ("sides", side), text)])


def _even(points: FloatArray, mesh: ChartMesh) -> FloatArray:
    """The left half as the exact mirror image of the right one: rounding must not tell mirrored pieces apart."""
    if mesh.mirror is None:
        return points
    flipped = points[mesh.mirror] * np.array([-1.0, 1.0, 1.0])
    even = np.where((np.arange(len(points)) <= mesh.mirror)[:, None], points, flipped)
    even[mesh.mirror == np.arange(len(points)), 0] = 0.0
    return even
