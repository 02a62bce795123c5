"""Where cuts would help: the work of `trimloft relief` on a sheet or on one mesh, as records, text and JSON.

For every piece that asks more than its leather gives: a few proposals, each with its length, the demand before and
after, and how much of it is seen. Before and after are what the shape of the piece asks by itself; sewn to its
neighbours a piece may ask a little more, which the report of the whole seat says.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from flatten.corners.other_kinds import KindOfCorner, kinds_of_corner, kinds_words
from flatten.demand.develop import flatten
from flatten.job.pipeline import Job
from flatten.leather.verdict import Verdict, by_demand, is_tight
from flatten.machine.estimate import check_room_for
from flatten.machine.workers import Workers, worker_pool
from flatten.maps.flat import Flat, unconverged
from flatten.relief.search import Relief, ReliefTask, Study, relieve
from meshes.base.arrays import BoolArray, FloatArray
from meshes.base.problems import Problem, plain
from meshes.base.progress import Progress, unheard
from meshes.base.surface import vertex_normals
from meshes.folder.report_head import json_text, problem_rows, report_head
from meshes.intake.read import read_mesh
from meshes.seat.assembly import placed
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel

# Towards the eye of somebody in front of the seat; a place is seen when it faces the eye by more than a graze.
EYE, GRAZE = np.array([0.0, -1.0, 0.62]) / np.hypot(1.0, 0.62), 0.1


@dataclass(frozen=True, eq=False)
class ReliefAdvice:
    """What was found for one panel.

    name: the panel's; mirrored: the panel that is its mirror image, to be cut alike; flat: the piece as it is; study:
    its proposals; lines: for every proposal its lines in seat coordinates, (k, 3) mm; places: for every proposal where
    it meets the panel's edges, in words, none for a mesh; judged: whether it is known which places are seen; corners:
    what each kind of corner would ask, of a face without bands.
    """

    name: str
    mirrored: str | None
    flat: Flat
    study: Study
    lines: tuple[tuple[FloatArray, ...], ...]
    places: tuple[str, ...]
    judged: bool
    corners: tuple[KindOfCorner, ...] = ()

    @property
    def problems(self) -> tuple[Problem, ...]:
        """What was found by searches that ended before the least was reached: demands that may be too large."""
        places = [(self.name, self.study.status)]
        places += [(f"{self.name}, proposal {k}", r.status) for k, r in enumerate(self.study.reliefs, start=1)]
        return tuple(p for where, status in places if (p := unconverged(where, status)) is not None)

    def verdict(self, relief: Relief) -> Verdict | None:
        """The verdict on the cut panel by its shape alone; None when no budget is known."""
        return None if self.flat.budget is None else by_demand(relief.demand_after, self.flat.budget)


@dataclass(frozen=True, eq=False)
class SheetRelief:
    """The job as it is, and advice for its tight panels in reading order."""

    job: Job
    advice: tuple[ReliefAdvice, ...]


def relieve_job(
    job: Job,
    *,
    every: bool = False,
    only: Collection[str] | None = None,
    most: int = 5,
    progress: Progress | None = None,
    workers: Workers = 2,
) -> SheetRelief:
    """Look for cuts in every panel of a job that is too tight, in `every` one, or in those named in `only`.

    Of a mirrored pair one is looked at. Writes nothing.
    """
    say = progress or unheard
    found = []
    for pad in job.pads:
        drawn = [panel for panel in pad.panels if panel.mirror_of is None]
        if only is not None:
            wanted = [panel for panel in drawn if panel.name in only]
        else:
            wanted = [panel for panel in drawn if every or is_tight(job.flats[panel.name].verdict)]
        found += [(pad, panel) for panel in wanted]
    tasks = [_task(pad, panel, job.flats[panel.name]) for pad, panel in found]
    with worker_pool(workers) as pool:
        studies = pool.map(partial(relieve, most=most), tasks, say, "looking for cuts")
    partner = {panel.mirror_of: panel.name for pad in job.pads for panel in pad.panels if panel.mirror_of}
    advice = [
        ReliefAdvice(
            name=panel.name,
            mirrored=partner.get(panel.name),
            flat=job.flats[panel.name],
            study=study,
            lines=tuple(tuple(placed(line, pad.placement) for line in r.lines) for r in study.reliefs),
            places=tuple(place_words(panel, relief) for relief in study.reliefs),
            judged=True,
            corners=_kinds_at(job, pad, panel) if is_tight(job.flats[panel.name].verdict) else (),
        )
        for (pad, panel), study in zip(found, studies, strict=True)
    ]
    return SheetRelief(job, tuple(advice))


def _kinds_at(job: Job, pad: BuiltPad, panel: Panel) -> tuple[KindOfCorner, ...]:
    """What each kind of corner would ask of a face that is too tight."""
    card = job.coverings.card(panel.name)
    tension = job.tensions[job.pads.index(pad)] if job.tensions else None
    return kinds_of_corner(pad, panel, card, tension, job.sheet.materials)


def _task(pad: BuiltPad, panel: Panel, flat: Flat) -> ReliefTask:
    corners = np.array([edge.vertices[0] for edge in panel.rim], dtype=np.int64)
    return ReliefTask(
        vertices=panel.surface.vertices,
        triangles=panel.surface.triangles,
        plan=flat.points,
        budget=flat.budget,
        corners=corners if len(corners) > 1 else corners[:0],
        across=np.array([1.0, 0.0, 0.0]) if pad.pad.symmetric else None,
        seen=seen_from_front(pad)[panel.vertices],
    )


def seen_from_front(pad: BuiltPad) -> BoolArray:
    """Vertices (n,) of a pad that face somebody in front of the seat; what other parts hide is not looked into."""
    normals = vertex_normals(pad.surface.vertices, pad.surface.triangles) @ pad.placement[:3, :3].T
    return np.asarray(normals @ EYE > GRAZE)


def place_words(panel: Panel, relief: Relief) -> str:
    """Where the lines of a proposal meet the edges of the panel: "front band", or "inset to tack line right"."""
    words = []
    for path in relief.paths:
        ends = path[-1:] if relief.kind == "dart" else path[[0, -1]]
        names = [" and ".join(dict.fromkeys(e.name for e in panel.rim if int(end) in e.vertices)) for end in ends]
        words.append(" to ".join(names))
    return "; ".join(words)


def relieve_mesh(
    path: str | Path,
    *,
    leather: str | None = None,
    budget_pct: float | None = None,
    repair: Collection[str] | None = None,
    most: int = 5,
    progress: Progress | None = None,
) -> ReliefAdvice:
    """Flatten one mesh from a file and look for cuts in it, whether it fits or not.

    budget_pct: the demand allowed in per cent, instead of the leather's; repair: see meshes.intake.read.read_mesh.
    Raises ProblemError with every fault of the mesh. Writes nothing.
    """
    mesh = read_mesh(path, repair=repair or ())
    check_room_for(len(mesh.triangles), str(path))
    budget = None if budget_pct is None else budget_pct / 100.0
    flat = flatten(mesh.vertices, mesh.triangles, leather=leather, budget=budget)
    task = ReliefTask(mesh.vertices, mesh.triangles, flat.points, budget=flat.budget)
    study = relieve(task, most=most, progress=progress)
    return ReliefAdvice(
        plain(Path(path).stem),
        None,
        flat,
        study,
        tuple(r.lines for r in study.reliefs),
        ("",) * len(study.reliefs),
        False,
    )


def relief_text(advice: Sequence[ReliefAdvice]) -> str:
    """The proposals as lines of plain text."""
    if not advice:
        return "Every piece fits its leather; no cut is needed."
    return "\n".join(line for one in advice for line in _lines(one))


def _lines(one: ReliefAdvice) -> list[str]:
    flat = one.flat
    budget = "" if flat.budget is None else f", budget {100 * flat.budget:.1f} %: {flat.verdict}"
    alike = f" (and {one.mirrored}, mirrored)" if one.mirrored else ""
    lines = [
        f"{one.name}{alike}: demand {100 * flat.demand:.1f} %{budget}; "
        f"by its shape alone {100 * one.study.demand:.1f} %; {one.study.tried} cuts tried"
    ]
    lines += [f"  {words}" for words in kinds_words(one.corners)]
    if not one.study.reliefs:
        lines += [f"  {problem}" for problem in one.problems]
        return [*lines, "  no dart or seam takes enough of it away; choose a softer leather or a flatter shape"]
    width = max(len(relief.words) for relief in one.study.reliefs)
    for k, relief in enumerate(one.study.reliefs, start=1):
        seen = f"  {100 * relief.visible:3.0f} % seen" if one.judged else ""
        word = one.verdict(relief)
        place = f"  {one.places[k - 1]}" if one.places[k - 1] else ""
        lines.append(
            f"  {k}  {relief.words:<{width}}  {relief.length_mm:6.0f} mm{seen}  "
            f"{100 * relief.demand_before:4.1f} -> {100 * relief.demand_after:4.1f} %  {word or '-'}{place}"
        )
    lines += [f"  {problem}" for problem in one.problems]
    return lines


def relief_dict(advice: Sequence[ReliefAdvice]) -> dict[str, Any]:
    """The proposals for JSON; lengths in mm, demand, budget and the share seen as fractions."""
    return {
        **report_head(),
        "panels": [_panel_dict(one) for one in advice],
        "problems": problem_rows(p for one in advice for p in one.problems),
    }


def _panel_dict(one: ReliefAdvice) -> dict[str, Any]:
    return {
        "name": one.name,
        "mirrored": one.mirrored,
        "demand": one.flat.demand,
        "floor": one.flat.floor,
        "budget": one.flat.budget,
        "verdict": one.flat.verdict,
        "alone": one.study.demand,
        "tried": one.study.tried,
        "corners": [
            {
                "kinds": list(kind.kinds),
                "demand": kind.demand,
                "verdict": kind.verdict,
                "depth_mm": kind.depth_mm,
                "leather_mm": list(kind.thick_mm),
            }
            for kind in one.corners
        ],
        "proposals": [
            {
                "kind": relief.kind,
                "words": relief.words,
                "length_mm": relief.length_mm,
                "demand_before": relief.demand_before,
                "demand_after": relief.demand_after,
                "parts": list(relief.after),
                "visible": relief.visible if one.judged else None,
                "even": relief.even,
                "verdict": one.verdict(relief),
                "place": place,
                "note": str(relief.status),
                "lines": [np.round(line, 3).tolist() for line in lines],
            }
            for relief, lines, place in zip(one.study.reliefs, one.lines, one.places, strict=True)
        ],
    }


def relief_json(advice: Sequence[ReliefAdvice]) -> str:
    """The proposals as JSON text."""
    return json_text(relief_dict(advice))
