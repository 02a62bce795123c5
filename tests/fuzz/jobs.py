"""Plausible seats and legal extremes through the whole job: made and verified, or refused with advice.

One seed in eight is an extreme: a seat with measures at the bounds of what a sheet may say. Extremes need not make
pieces; they may not break anything.
"""

import random
import re
from pathlib import Path
from tempfile import TemporaryDirectory

from flatten.job.make import Job, make
from flatten.written.job_folder import write_job
from flatten.written.writers import MAKE
from meshes.base.problems import Problem, ProblemError
from meshes.folder.output import output_folder
from meshes.sheet.read import read_sheet
from tests.fuzz.case import Outcome, chance, complaints, refused
from tests.fuzz.seats import Seat, seat
from tests.fuzz.verify import verify

# Triangles: half of all seats at 16 mm, the others coarser and finer.
MESHES = (16.0, 16.0, 16.0, 12.0, 20.0, 28.0)
_EXTREME_EVERY = 8
_TRIES = 12
# Values at both ends of what a sheet may say, by key.
BOUNDS = {
    "drop": (1, 20, 300, 1500),
    "edge_radius": (0, 0.5, 80, 300),
    "turn": (30, 180),
    "seam_below": (0, 40, 900),
    "corner_radius": (0, 1, 150, 2000),
    "depth": (20, 121, 900, 2000),
    "thickness": (0.1, 1, 120, 300),
    "within": (1, 300),
    "taper": (0, 1, 500, 2000),
    "below": (0, 300, 1000),
    "rake": (-60, 80),
    "fan": (0.3, 3),
    "count": (1, 2, 60, 120),
    "filler_thickness": (1, 40, 80),
    "tension": (0, 1, 1000, 3000),
    "rate_kpa_per_mm": (0.001, 1000),
    "pitch": (5, 500),
    "notch_spacing": (20, 1000),
    "sewn": (0, 1, 200),
    "pulled": (0, 200),
    "mesh": (14, 40),
    "roll_width": (200, 5000),
    "wanted_radius": (5, 200),
    "gap": (1, 300),
    "margin": (1, 300),
}
_ROW = re.compile(r"^(\w+) = (-?[\d.]+)$")


def sheet_of(seed: int) -> tuple[Seat, bool]:
    """The seat of a seed, and whether it is an extreme."""
    dice = chance("jobs", seed)
    made = seat(dice, mesh=dice.choice(MESHES))
    if seed % _EXTREME_EVERY != _EXTREME_EVERY - 1:
        return made, False
    for _ in range(_TRIES):
        text = _at_bounds(made.text, dice)
        if _is_read(text):
            return Seat(text, ("extreme",)), True
    return Seat(made.text, ("extreme",)), True


def _is_read(text: str) -> bool:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "seat.toml"
        path.write_text(text, encoding="utf-8")
        try:
            read_sheet(path)
        except ProblemError:
            return False
    return True


def _at_bounds(text: str, dice: random.Random) -> str:
    lines = text.split("\n")
    rows = [k for k, line in enumerate(lines) if (m := _ROW.match(line)) and m[1] in BOUNDS]
    for k in dice.sample(rows, min(len(rows), dice.choice((1, 1, 2, 3, 6)))):
        key = lines[k].split(" ")[0]
        lines[k] = f"{key} = {dice.choice(BOUNDS[key])}"
    return "\n".join(lines)


def work(seed: int, folder: Path) -> Outcome:
    """Make, write and verify the seat of a seed."""
    made, extreme = sheet_of(seed)
    outcome = whole_job(made.text, folder, plausible=not extreme)
    outcome.variations = list(made.variations)
    if extreme:
        outcome.result = f"extreme {outcome.result}"
    return outcome


def again(seed: int, text: str, folder: Path) -> Outcome:
    """Make another sheet in the place of the one of this seed."""
    return whole_job(text, folder, plausible=not sheet_of(seed)[1])


def written(job: Job, out: Path) -> Job:
    """The job written into a folder, without pictures."""
    with output_folder(out, MAKE) as folder:
        return write_job(job, folder, pictures=False)[0]


def whole_job(text: str, folder: Path, *, plausible: bool) -> Outcome:
    """A sheet made and verified in `folder`; a plausible one that is refused has to be told what to change."""
    path, out = folder / "seat.toml", folder / "out"
    path.write_text(text, encoding="utf-8")
    lines = text.count("\n") + 1
    try:
        job = written(make(path, workers=1), out)
    except ProblemError as fault:
        found = refused(fault, file=str(path), lines=lines)
        found += [words for problem in fault.problems if (words := _no_advice(problem, plausible))]
        if out.exists():
            found.append("refused, and something is written")
        said = [str(problem) for problem in fault.problems]
        return Outcome("refused", sorted({p.code for p in fault.problems}), found, text=text, said=said)
    found = complaints(job.problems, file=str(path), lines=lines) if job.problems else []
    found += verify(job, out)
    return Outcome("made", sorted({p.code for p in job.problems}), found, text=text)


def _no_advice(problem: Problem, plausible: bool) -> str:
    """What a refusal of a plausible seat lacks: a pad or line, a figure found, something to do."""
    if not plausible:
        return ""
    lacks = [
        *(["no place in the sheet"] if problem.line is None and "pad" not in problem.where else []),
        *(["no figure"] if not re.search(r"\d", problem.text) else []),
        *(["nothing to do"] if ";" not in problem.text else []),
    ]
    return f"refusal with {' and '.join(lacks)}: {problem.code} {problem.text[:200]}" if lacks else ""
