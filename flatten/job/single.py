"""One mesh from a file becomes one flat piece: the work of `trimloft flatten`."""

from collections.abc import Collection
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from flatten.demand.develop import flatten
from flatten.machine.estimate import check_room_for
from flatten.maps.flat import Flat
from meshes.base.problems import Problem, plain
from meshes.base.progress import Progress
from meshes.folder.output import OutputFolder, Writer, output_folder
from meshes.folder.report_head import json_text, problem_rows, report_head
from meshes.intake.mesh_file import ply_bytes
from meshes.intake.read import read_mesh

# What is assumed of the edges of a mesh by itself.
RIM = "no seams are known: the whole rim counts as a seam in which fullness can be worked"
FLATTEN = Writer("flatten", "trimloft flatten", ("flat.ply", "report.json"))


@dataclass(frozen=True, eq=False)
class Single:
    """name: of the piece, after its file; flat; notes: what was repaired or assumed, in words; kept: warnings about the
    folder it was written into."""

    name: str
    flat: Flat
    notes: tuple[str, ...]
    kept: tuple[Problem, ...] = ()

    @property
    def problems(self) -> tuple[Problem, ...]:
        """The notes and, when the search ended early, that it did, as warnings."""
        notes = [Problem("M301", "mesh", note, warning=True) for note in self.notes]
        early = self.flat.unconverged("panel")
        return tuple(notes if early is None else [*notes, early])


def flatten_file(
    path: Path,
    out: Path,
    *,
    leather: str | None = None,
    budget_pct: float | None = None,
    repair: Collection[str] | None = None,
    progress: Progress | None = None,
) -> Single:
    """Read and flatten one mesh, and write the folder `out`: flat.ply and report.json.

    budget_pct: the demand allowed in per cent, instead of the leather's; repair: names that
    meshes.intake.read.read_mesh knows. Raises ProblemError with every fault of the mesh, and for a folder that
    cannot be written to; nothing is written then.
    """
    with output_folder(out, FLATTEN) as folder:
        mesh = read_mesh(path, repair=repair or ())
        check_room_for(len(mesh.triangles), str(path))
        budget = None if budget_pct is None else budget_pct / 100.0
        flat = flatten(mesh.vertices, mesh.triangles, leather=leather, budget=budget, progress=progress)
        single = Single(plain(Path(path).stem), flat, mesh.notes)
        return replace(single, kept=write_single(single, folder))


def write_single(single: Single, folder: OutputFolder) -> tuple[Problem, ...]:
    """Write flat.ply (z = 0, mm, vertices and triangles as in the mesh) and report.json; returns warnings about the
    folder."""
    flat = single.flat
    level = np.column_stack([flat.points, np.zeros(len(flat.points))])
    return folder.write(
        {"flat.ply": ply_bytes(level, flat.triangles), "report.json": report_text(single).encode()},
    )


def report_text(single: Single) -> str:
    """The report of one piece as JSON: the keys of the main report, with one panel and no seams or pads."""
    flat = single.flat
    panel: dict[str, Any] = {
        "name": single.name,
        "triangles": len(flat.triangles),
        "area_seat_mm2": flat.figures.area_seat_mm2,
        "area_piece_mm2": flat.figures.area_piece_mm2,
        "stretch": {
            "max": float(flat.stretch[:, 0].max()),
            "min": float(flat.stretch[:, 1].min()),
            "p995": flat.figures.p995,
        },
        "demand": flat.demand,
        "floor": flat.floor,
        "budget": flat.budget,
        "verdict": flat.verdict,
        "over": None if flat.over is None else asdict(flat.over),
        "flipped": flat.flipped,
        "certified": flat.certified,
        "rung": flat.made.method,
        "seconds": round(flat.made.seconds, 3),
        "energy": flat.figures.energy,
        "steps": flat.made.steps,
        "note": str(flat.made.status),
    }
    report = {
        **report_head(),
        "panels": [panel],
        "seams": [],
        "pads": [],
        "problems": problem_rows(single.problems),
        "rim": RIM,
        "seconds": round(flat.made.seconds, 3),
    }
    return json_text(report)


def summary_text(single: Single) -> str:
    """The figures as lines of plain text."""
    flat = single.flat
    budget = "" if flat.budget is None else f", budget {100 * flat.budget:.2f} %: {flat.verdict}"
    lines = [
        f"{single.name}: {len(flat.triangles)} triangles, {flat.figures.area_seat_mm2 / 1e6:.4f} m2 on the seat, "
        f"{flat.figures.area_piece_mm2 / 1e6:.4f} m2 flat",
        f"  demand {100 * flat.demand:.3f} %{budget}",
        f"  stretch {flat.stretch[:, 1].min():.4f} to {flat.stretch[:, 0].max():.4f}, "
        f"all but 0.5 % of the area below {flat.figures.p995:.4f}",
        f"  made by: {flat.made.method} ({flat.made.steps} steps, {flat.made.status}); proven one-to-one; "
        f"{flat.made.seconds:.2f} s",
    ]
    if flat.over is not None:
        words = f"up to {100 * flat.over.excess:.2f} % over the budget, on {100 * flat.over.share:.1f} % of its area"
        lines.insert(2, f"  {words}; {RIM}")
    return "\n".join(lines + [f"  note: {problem.text}" for problem in single.problems])
