"""The pads of a sheet, built: each for itself, then lined up with those they follow, going on from neighbours."""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from flatten.job.continuing import NOTHING_NEAR, continued, meeting_now
from flatten.leather.card import Card
from flatten.leather.card_file import card_from_sheet
from meshes.base.problems import Problem, ProblemError
from meshes.base.progress import Progress, unheard
from meshes.closed.build import build_surface
from meshes.numerics.sizes import Sizes
from meshes.padding.handed import mirrored_pads
from meshes.records.alignment import UNALIGNED, Alignment
from meshes.records.built_up import BuiltUp
from meshes.records.materials import Material
from meshes.records.pad import Pad
from meshes.schema.toml_text import parsed, text_of
from meshes.schema.words import SheetPlaces
from meshes.seat.advice import advised
from meshes.seat.build import BuiltPad, Tension, cut_open
from meshes.seat.continuation import followed_sizes
from meshes.seat.lineup import line_up, nudges
from meshes.settle.proposal import Comparison, usual_cuts
from meshes.sheet.read import revision_of
from meshes.sheet.whole import Sheet
from meshes.support.chart import MakeProblem

# How often a pad that follows another is laid out again until its valleys meet.
LINE_UP_ROUNDS = 3

Tensions = Sequence[Tension]
"""For every pad one tension of its cover in N/mm, or one for each of its panels by part."""
BuildSome = Callable[..., tuple[BuiltPad, ...]]
"""Builds pads of the sheet, by number, aligned as is asked."""


def built_pads(
    sheet: Sheet,
    tensions: Tensions,
    each: Callable[..., Sequence[Any]],
    say: Progress,
    *,
    sections: bool = True,
    aligned: Sequence[Alignment] | None = None,
    begin: Sequence[Alignment] | None = None,
) -> tuple[BuiltPad, ...]:
    """The pads at their tensions; each: runs a function over tasks; sections: whether the usual cuts are made; aligned:
    how pads lay with their neighbours before, to be taken as it is instead of being found; begin: how they may lie
    with them, from which that is found sooner. Raises ProblemError with every problem found."""
    some = _builder(sheet, tensions, each)
    first = [UNALIGNED] * len(sheet.pads) if begin is None else [replace(one, built_up=None) for one in begin]
    pads = some(dict(enumerate(first if aligned is None else aligned)), say, "building the pads")
    if aligned is None:
        near = {k: one.built_up for k, one in enumerate(begin or ()) if one.built_up is not None}
        pads = _joined(sheet, pads, some, say, near)
    return _cut_open(sheet, pads, range(len(pads)), each, say) if sections else pads


def _joined(
    sheet: Sheet,
    pads: tuple[BuiltPad, ...],
    some: BuildSome,
    say: Progress,
    near: Mapping[int, BuiltUp] = NOTHING_NEAR,
) -> tuple[BuiltPad, ...]:
    """Pads lined up with those they follow, and going on from their neighbours; near: what was built up for that, by
    number, on a seat that is much like this one."""
    pads = _lined_up(pads, some, say)
    images = mirrored_pads(sheet.pads)
    return continued(sheet, pads, lambda k, alignment: some({k: alignment}, unheard)[0], say, near, images)


def settled_anew(
    sheet: Sheet,
    pads: Sequence[BuiltPad],
    tensions: Tensions,
    which: Collection[int],
    each: Callable[..., Sequence[Any]],
) -> tuple[BuiltPad, ...]:
    """The pads, those of `which` settled at other tensions, and with them all that follow or go on from them. Raises
    ProblemError with every problem found."""
    some, again = _builder(sheet, tensions, each), set(which)
    number = {pad.pad.name: k for k, pad in enumerate(pads)}
    while more := {k for k, pad in enumerate(pads) if any(number[n] in again for n in led_by(pad))} - again:
        again |= more
    asked = {k: replace(pads[k].alignment, built_up=None) for k in sorted(again)}
    near = {k: up for k in sorted(again) if (up := pads[k].alignment.built_up) is not None}
    joined = _joined(sheet, _with(pads, asked, some), some, unheard, near)
    return _cut_open(sheet, joined, sorted(again), each, unheard)


def settled_in_place(
    sheet: Sheet,
    pads: Sequence[BuiltPad],
    tensions: Tensions,
    which: Collection[int],
    each: Callable[..., Sequence[Any]],
) -> tuple[BuiltPad, ...]:
    """The same with pads meshed, laid out and built up as they were, so that what was cut can be cut there again."""
    some = _builder(sheet, tensions, each)
    now = _with(pads, {k: pads[k].alignment for k in sorted(which)}, some)
    return _cut_open(sheet, meeting_now(sheet, now, pads), sorted(which), each, unheard)


def led_by(pad: BuiltPad) -> list[str]:
    """Names of the pads whose valleys a pad follows or from which it goes on."""
    found = [] if pad.pad.leader is None else [pad.pad.leader.name]
    return found if pad.pad.continues is None else [*found, pad.pad.continues.pad]


def _with(pads: Sequence[BuiltPad], asked: Mapping[int, Alignment], some: BuildSome) -> tuple[BuiltPad, ...]:
    again = dict(zip(asked, some(asked, unheard), strict=True))
    return tuple(again.get(k, pad) for k, pad in enumerate(pads))


def _builder(sheet: Sheet, tensions: Tensions, each: Callable[..., Sequence[Any]]) -> BuildSome:
    """Builds pads of some numbers, aligned as is asked."""

    def some(asked: Mapping[int, Alignment], told: Progress, what: str = "") -> tuple[BuiltPad, ...]:
        built = each(_built, [_pad_task(sheet, k, (tensions[k], a)) for k, a in asked.items()], told, what)
        return tuple(_located(sheet, pad) for pad in _sound(built, sheet))

    return some


def with_advice(given: Sheet | str | Path, fault: ProblemError) -> ProblemError:
    """The problems of a sheet, or of the one at a path, with changes that were tried. A sheet that is not what its file
    says, as while its numbers are still being turned, has no file that could be tried."""
    if not isinstance(given, Sheet):
        return advised(Path(given), fault, _built_here)
    return advised(given.path, fault, _built_here) if _as_filed(given) else fault


def _as_filed(sheet: Sheet) -> bool:
    """Whether a sheet's file holds the same values."""
    try:
        return revision_of(parsed(text_of(sheet.path), str(sheet.path))) == sheet.revision
    except ProblemError:
        return False


def _built_here(sheet: Sheet) -> tuple[BuiltPad, ...]:
    tensions = [tension_of(sheet, card_from_sheet(sheet))] * len(sheet.pads)
    return built_pads(sheet, tensions, lambda work, tasks, *_: [work(task) for task in tasks], unheard)


def tension_of(sheet: Sheet, leather: Card) -> float:
    """Tension of the fitted cover in N/mm: the sheet's, else what the leather pulls with halfway up its budget."""
    return leather.tension_n_per_mm if sheet.cover.tension is None else sheet.cover.tension / 1000.0


@dataclass(frozen=True, eq=False)
class PadTask:
    """All that a pad is built from, so that equal tasks build equal pads. places: words for what is told of it, without
    file and lines; index: its number in the sheet."""

    pad: Pad
    index: int
    edge_mm: float | Sizes
    tension: Tension
    alignment: Alignment
    materials: Mapping[str, Material]
    places: SheetPlaces


def _pad_task(sheet: Sheet, k: int, at: tuple[Tension, Alignment]) -> PadTask:
    edge_mm, places = followed_sizes(sheet.pads, k, sheet.output.mesh), sheet.places.of_pad(k)
    return PadTask(sheet.pads[k], k, edge_mm, *at, sheet.materials, places)


def _built(task: PadTask) -> BuiltPad | ProblemError:
    try:
        return build_surface(
            task.pad,
            edge_mm=task.edge_mm,
            make_problem=_problems_at(task.places, task.index),
            tension_n_per_mm=task.tension,
            materials=task.materials,
            alignment=task.alignment,
        )
    except ProblemError as fault:
        # Handed back instead of raised, so that the faults of all pads are told together.
        return fault


@dataclass(frozen=True, eq=False)
class UsualCutsTask:
    """All that the usual cuts through a pad are made from; fields as those of `PadTask`."""

    pad: Pad
    index: int
    tension_n_per_mm: float
    alignment: Alignment
    materials: Mapping[str, Material]
    places: SheetPlaces


def _cut_open(
    sheet: Sheet,
    pads: Sequence[BuiltPad],
    which: Collection[int],
    each: Callable[..., Sequence[Any]],
    say: Progress,
) -> tuple[BuiltPad, ...]:
    """The pads, those of `which` that have settled with the usual cuts through them."""
    tasks = {}
    for k in which:
        if (rest := pads[k].rest) is not None:
            places = sheet.places.of_pad(k)
            tasks[k] = UsualCutsTask(
                sheet.pads[k], k, rest.tension_n_per_mm, pads[k].alignment, sheet.materials, places
            )
    opened = list(pads)
    for k, (cuts, missed) in zip(tasks, each(_cuts, list(tasks.values()), say, "cutting the pads open"), strict=True):
        opened[k] = cut_open(
            pads[k],
            cuts,
            [sheet.places.located(problem) for problem in missed],
            materials=sheet.materials,
            make_problem=_problems_at(sheet.places, k),
        )
    return tuple(opened)


def _cuts(task: UsualCutsTask) -> tuple[tuple[Comparison, ...], tuple[Problem, ...]]:
    return usual_cuts(
        task.pad,
        tension_n_per_mm=task.tension_n_per_mm,
        materials=task.materials,
        make_problem=_problems_at(task.places, task.index),
        alignment=task.alignment,
    )


def _problems_at(places: SheetPlaces, index: int) -> MakeProblem:
    """Makes problems of a pad by its number, without file and lines."""
    return lambda code, keys, text: places.problem(code, ("pad", index, *keys), text)


def _located(sheet: Sheet, pad: BuiltPad) -> BuiltPad:
    """The pad, with what is told of it at its lines of the sheet's file."""
    return replace(pad, problems=tuple(sheet.places.located(problem) for problem in pad.problems))


def _lined_up(pads: tuple[BuiltPad, ...], build_some: BuildSome, say: Progress) -> tuple[BuiltPad, ...]:
    """Pads whose pleats follow another's, laid out again where the settled valleys miss each other."""
    for _ in range(LINE_UP_ROUNDS):
        offsets = line_up(pads)
        moved = {
            k: replace(pad.alignment, nudges=found) for k, pad in enumerate(pads) if (found := nudges(pad, offsets))
        }
        if not moved:
            break
        built = build_some(moved, say, "lining up the pleats")
        again = dict(zip(moved, built, strict=True))
        pads = tuple(again.get(k, pad) for k, pad in enumerate(pads))
    return pads


def _sound(results: Sequence[BuiltPad | ProblemError], sheet: Sheet) -> tuple[BuiltPad, ...]:
    """The pads, when all could be built. Raises ProblemError with the faults of all that could not."""
    faults = [problem for result in results if isinstance(result, ProblemError) for problem in result.problems]
    if faults:
        raise ProblemError([sheet.places.located(problem) for problem in faults])
    return tuple(result for result in results if isinstance(result, BuiltPad))
