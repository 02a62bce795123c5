"""The pieces of a job laid out on the hides of its sheet and on its rolls, each leather by itself."""

from collections.abc import Sequence
from dataclasses import replace

from shapely.geometry import Polygon

from flatten.hides.asks import CutAsk, LeatherCut, asks_of, leather_cuts
from flatten.hides.by_leather import LaidLeather, LeatherTask, laid_on_hides, laid_on_roll, room_missing
from flatten.hides.laid_cut import LaidCut, LaidHides
from flatten.hides.like_leather import neighbour_notes, pair_notes
from flatten.hides.pinned import PinnedCuts, pinned_cuts
from flatten.job.pipeline import Job
from flatten.nesting.task import Effort
from meshes.base.arrays import FloatArray
from meshes.base.problems import Problem, ProblemError
from meshes.hides.records import Hide
from meshes.sheet.whole import Sheet

# Rounds of `make`, the same for the same sheet on any machine.
USUAL_ROUNDS = 10
# Moves of pieces for each round before one is left out for want of leather.
MOVES_A_ROUND = 2_000


def has_something_to_lay_on(sheet: Sheet) -> bool:
    """Whether a sheet has hides, or roll goods that it names."""
    return bool(sheet.hides.hides) or any(roll is not None for roll in (sheet.roll, *(c.roll for c in sheet.coverings)))


def lay_hides(job: Job, *, seconds: float | None = None, rounds: int = USUAL_ROUNDS) -> LaidHides:
    """Lay the leathers of a job on the hides of its sheet, and its roll goods on their rolls, a fixed number of rounds,
    or so many seconds in all.

    Raises ProblemError for pinned pieces that cannot stay where they are, for names of no piece, and for hides of a
    leather that nothing is cut from.
    """
    plan, cuts = job.sheet.hides, leather_cuts(job)
    _names_are_known(job, cuts)
    asks = asks_of(job, cuts, plan.placings)
    pinned = pinned_cuts(job, cuts, asks)
    hides, found, notes = list(plan.hides), list[LaidLeather](), list[Problem]()
    for task in tasks_of(job, cuts, asks, pinned, (rounds, seconds)):
        if task.covering.roll is not None:
            one = laid_on_roll(task, len(hides))
            hides += [one.roll] if one.roll is not None else []
        elif task.hides:
            one = laid_on_hides(task)
            left = room_missing(replace(task, cuts=one.cut, asks=one.asks), one.layout)
            one = replace(one, problems=(*one.problems, *left))
        else:
            notes += _no_hide(task) if plan.hides else []
            continue
        found.append(one)
    laid = tuple(cut for one in found for cut in one.cuts)
    notes += [problem for one in found for problem in one.problems]
    notes += _marks_and_turns(job, laid, hides)
    on_hides = [cut for cut in laid if not hides[cut.hide].roll]
    cutting = plan.cutting
    notes += pair_notes(hides, on_hides, apart_mm=cutting.pair_apart_mm)
    notes += neighbour_notes(hides, on_hides, job.panels, apart_mm=cutting.neighbours_apart_mm)
    unplaced = tuple(label for one in found for label in one.layout.unplaced)
    looked = sum(one.layout.rounds for one in found)
    firsts = [one.layout.first_s for one in found if one.layout.first_s is not None]
    first_s = sum(firsts) if firsts else None
    return LaidHides(replace(plan, hides=tuple(hides)), laid, unplaced, tuple(notes), looked, seconds, first_s)


def tasks_of(
    job: Job,
    cuts: Sequence[LeatherCut],
    asks: Sequence[CutAsk],
    pinned: PinnedCuts,
    looked: tuple[int, float | None],
) -> list[LeatherTask]:
    """One task for each leather that something is cut from; seconds are shared out by the number of pieces."""
    main, (rounds, seconds), found = job.coverings.main.card.name, looked, []
    for covering in job.coverings.all:
        name = covering.card.name
        of_it = [k for k, cut in enumerate(cuts) if cut.leather == name]
        if not of_it:
            continue
        share = None if seconds is None else seconds * len(of_it) / len(cuts)
        hides = tuple(k for k, hide in enumerate(job.sheet.hides.hides) if (hide.leather or main) == name)
        labels = {label: pin for label, pin in pinned.labels.items() if pin.hide in hides}
        effort = Effort(rounds=rounds, seconds=share, moves=MOVES_A_ROUND * rounds)
        mine, asked = tuple(cuts[k] for k in of_it), tuple(asks[k] for k in of_it)
        found.append(LeatherTask(job, covering, mine, asked, hides, replace(pinned, labels=labels), effort))
    return found


def _no_hide(task: LeatherTask) -> list[Problem]:
    """A leather that is cut from no hide of the sheet."""
    area = sum(Polygon(cut.points).area for cut in task.cuts) / 1e6
    count = "1 piece" if len(task.cuts) == 1 else f"{len(task.cuts)} pieces"
    name = task.covering.card.name
    text = f'{count} of {name} ({area:.2f} m2) have no hide; add [[hide]] with leather = "{name}"'
    return [task.job.sheet.problem("H014", ("hide",), text, True)]


def _names_are_known(job: Job, cuts: Sequence[LeatherCut]) -> None:
    names = {cut.name for cut in cuts}
    found = [
        job.sheet.problem(
            "H006", ("placing", one.place, "pieces"), f'no piece is called "{name}"; known: {", ".join(sorted(names))}'
        )
        for one in job.sheet.hides.placings
        for name in one.pieces
        if name not in names
    ]
    leathers = [one.card.name for one in job.coverings.all if one.roll is None]
    for hide in job.sheet.hides.hides:
        if hide.leather is not None and hide.leather not in leathers:
            text = f'hide "{hide.name}" is "{hide.leather}", and no panel is cut from that by the hide; '
            text += f"known: {', '.join(leathers)}" if leathers else "everything comes off a roll"
            found.append(job.sheet.problem("H015", ("hide", hide.place, "leather"), text))
    if found:
        raise ProblemError(found)


def _marks_and_turns(job: Job, laid: Sequence[LaidCut], hides: Sequence[Hide]) -> list[Problem]:
    """Pieces on marks, and those that are seen and lie off the backbone."""
    found = []
    for one in laid:
        marks = _marks_under(hides[one.hide], one.points)
        if marks:
            text = f"lies on {', '.join(marks)} of {hides[one.hide].name}; look whether it shows there"
            found.append(Problem("H007", one.cut.label, text, warning=True))
        if one.off_deg > job.sheet.cover.grain_window_deg + 1e-6 and one.ask.seen in ("face", "band"):
            text = f"its arrow lies {one.off_deg:.0f} degrees off the backbone; sources disagree how much that matters"
            found.append(Problem("H009", one.cut.label, text, warning=True))
    return found


def _marks_under(hide: Hide, points: FloatArray) -> list[str]:
    shape = Polygon(points)
    return [
        flaw.kind
        for flaw in hide.flaws
        if flaw.grade == "mark" and Polygon(hide.along_and_off(flaw.points)).intersects(shape)
    ]
