"""Proposed cuts applied: the pads cut anew, and the job done again from there."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from flatten.job.pipeline import Job, finish
from flatten.job.relieve import ReliefAdvice, SheetRelief, relieve_job
from flatten.job.settled_maps import MadeCut
from flatten.leather.verdict import Verdict, is_tight
from flatten.machine.workers import Workers, worker_pool
from meshes.base.problems import Problem, ProblemError
from meshes.base.progress import Progress


@dataclass(frozen=True, eq=False)
class Applied:
    """job: with the cuts made; cuts: panel as it was called, and the number of its proposal counted from 1."""

    job: Job
    cuts: tuple[tuple[str, int], ...]


def usual_choice(one: ReliefAdvice) -> int | None:
    """The proposal to take when none is asked for: the shortest even one that fits, else the shortest that does, else
    the one that asks least; counted from 1, None without proposals."""
    verdicts = [(one.verdict(relief), relief.even) for relief in one.study.reliefs]
    for even in (True, False):
        if (Verdict.FITS, even) in verdicts:
            return verdicts.index((Verdict.FITS, even)) + 1
    return len(verdicts) or None


def apply_cuts(
    found: SheetRelief,
    *,
    choice: Mapping[str, int] | None = None,
    progress: Progress | None = None,
    workers: Workers = 2,
) -> Applied:
    """Cut the panels as proposed and do the rest of the job again. Writes nothing.

    choice: proposal by panel name, counted from 1; 0 leaves a panel as it is; panels not named get their usual one.
    Raises ProblemError for a panel or a proposal that there is not.
    """
    chosen = dict(choice or {})
    _check_choice(found, chosen)
    cuts, made, seat = [], [], found.job.before_cuts
    for one in found.advice:
        number = chosen.get(one.name, usual_choice(one))
        if not number:
            continue
        place = next(k for k, pad in enumerate(found.job.pads) if any(p.name == one.name for p in pad.panels))
        made.append(MadeCut(place, one.name, one.study.reliefs[number - 1]))
        cuts.append((one.name, number))
    seat = replace(seat, cuts=(*seat.cuts, tuple(made))) if made else seat
    job = finish(found.job.sheet, found.job.leather, seat, progress=progress, workers=workers)
    return Applied(job, tuple(cuts))


def apply_until_it_fits(
    found: SheetRelief, *, rounds: int = 3, progress: Progress | None = None, workers: Workers = 2
) -> Applied:
    """The usual cuts, and again in what is still too tight then, until all fits, nothing helps or `rounds` are over."""
    job, cuts = found.job, tuple[tuple[str, int], ...]()
    with worker_pool(workers) as pool:
        for turn in range(rounds):
            if turn:
                found = relieve_job(job, progress=progress, workers=pool)
            applied = apply_cuts(found, progress=progress, workers=pool)
            job, cuts = applied.job, cuts + applied.cuts
            if not applied.cuts or not any(is_tight(flat.verdict) for flat in job.flats.values()):
                break
    return Applied(job, cuts)


def _check_choice(found: SheetRelief, chosen: Mapping[str, int]) -> None:
    known = {one.name: len(one.study.reliefs) for one in found.advice}
    faults = []
    for name, number in chosen.items():
        if name not in known:
            tight = ", ".join(known) or "none"
            faults.append(Problem("R101", "relief", f'no cuts were looked for in "{name}"; panels with cuts: {tight}'))
        elif not 0 <= number <= known[name]:
            text = f"{name} has {known[name]} proposals, found number {number}; use 1 to {known[name]}, or 0 for no cut"
            faults.append(Problem("R102", "relief", text))
    if faults:
        raise ProblemError(faults)


def applied_text(found: SheetRelief, applied: Applied) -> str:
    """What was cut, as lines of plain text."""
    by_name = {one.name: one for one in found.advice}
    lines = []
    for name, number in applied.cuts:
        if name not in by_name:
            lines.append(f"cut in a later round: {name}: proposal {number}")
            continue
        one = by_name[name]
        relief, place = one.study.reliefs[number - 1], one.places[number - 1]
        alike = f" and, mirrored, {one.mirrored}" if one.mirrored else ""
        lines.append(f"cut: {name}{alike}: proposal {number}, {relief.words}, {relief.length_mm:.0f} mm, {place}")
    return "\n".join(lines) if lines else "nothing was cut"
