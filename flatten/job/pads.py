"""The pads of a sheet, built: each for itself, then lined up with those they follow, going on from neighbours."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from flatten.job.continuing import continued
from flatten.job.workers import Workers, worker_pool
from flatten.leather.card import Card
from flatten.leather.card_file import card_from_sheet
from meshes.base.problems import ProblemError
from meshes.base.progress import Progress, unheard
from meshes.seat.advice import advised
from meshes.seat.build import BuiltPad, build
from meshes.seat.continuation import followed_edge_mm
from meshes.seat.lineup import line_up, nudges
from meshes.sheet.read import Sheet, read_sheet

# How often a pad that follows another is laid out again until its valleys meet.
LINE_UP_ROUNDS = 3


def build_pads(
    sheet: Sheet | str | Path, *, progress: Progress | None = None, workers: Workers = 2
) -> tuple[BuiltPad, ...]:
    """All pads of a sheet, or of the one at a path, exactly as the main job builds them.

    With the tension of its cover, its own materials, pleats lined up, and pads going on from their neighbours. Raises
    ProblemError with every problem found. Writes nothing.
    """
    asked = sheet if isinstance(sheet, Sheet) else read_sheet(Path(sheet))
    tension = tension_of(asked, card_from_sheet(asked))
    with worker_pool(workers) as pool:
        return built_pads(asked, tension, pool.map, progress or unheard)


def built_pads(sheet: Sheet, tension: float, each: Callable[..., Sequence[Any]], say: Progress) -> tuple[BuiltPad, ...]:
    """The pads at a tension in N/mm; each: runs a function over tasks. Raises ProblemError with every problem found."""
    tasks = [(sheet, k, tension) for k in range(len(sheet.pads))]
    pads = _sound(each(_built, tasks, say, "building the pads"))
    sheet, pads = _lined_up(sheet, pads, tension, each, say)

    def again(asked: Sheet, numbers: Sequence[int]) -> tuple[BuiltPad, ...]:
        return _sound(each(_built, [(asked, k, tension) for k in numbers], unheard))

    return continued(sheet, pads, again, say)[1]


def with_advice(path: Path, fault: ProblemError) -> ProblemError:
    """The problems of the sheet at a path, with changes that were tried."""
    return advised(path, fault, _built_here)


def _built_here(sheet: Sheet) -> tuple[BuiltPad, ...]:
    tension = tension_of(sheet, card_from_sheet(sheet))
    return built_pads(sheet, tension, lambda work, tasks, *_: [work(task) for task in tasks], unheard)


def tension_of(sheet: Sheet, leather: Card) -> float:
    """Tension of the fitted cover in N/mm: the sheet's, else what the leather pulls with halfway up its budget."""
    return leather.tension_n_per_mm if sheet.cover.tension is None else sheet.cover.tension / 1000.0


def _built(task: tuple[Sheet, int, float]) -> BuiltPad | ProblemError:
    sheet, index, tension = task
    try:
        return build(
            sheet.pads[index],
            edge_mm=followed_edge_mm(sheet.pads, index, sheet.output.mesh),
            blame=lambda code, keys, text: sheet.problem(code, ("pad", index, *keys), text),
            tension_n_per_mm=tension,
            materials=sheet.materials,
        )
    except ProblemError as fault:
        # Handed back instead of raised, so that the faults of all pads are told together.
        return fault


def _lined_up(
    sheet: Sheet, pads: tuple[BuiltPad, ...], tension: float, each: Callable[..., Sequence[Any]], say: Progress
) -> tuple[Sheet, tuple[BuiltPad, ...]]:
    """Pads whose pleats follow another's, laid out again where the settled valleys miss each other."""
    for _ in range(LINE_UP_ROUNDS):
        offsets = line_up(pads)
        moved = {k: found for k, pad in enumerate(pads) if (found := nudges(pad, offsets))}
        if not moved:
            break
        sheet = replace(sheet, pads=tuple(replace(p, nudges=moved.get(k, p.nudges)) for k, p in enumerate(sheet.pads)))
        tasks = [(sheet, k, tension) for k in moved]
        built = _sound(each(_built, tasks, say, "lining up the pleats"))
        again = dict(zip(moved, built, strict=True))
        pads = tuple(again.get(k, pad) for k, pad in enumerate(pads))
    return sheet, pads


def _sound(results: Sequence[BuiltPad | ProblemError]) -> tuple[BuiltPad, ...]:
    """The pads, when all could be built. Raises ProblemError with the faults of all that could not."""
    faults = [problem for result in results if isinstance(result, ProblemError) for problem in result.problems]
    if faults:
        raise ProblemError(faults)
    return tuple(result for result in results if isinstance(result, BuiltPad))
