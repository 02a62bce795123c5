"""The order of work: sheet, pads, flat maps, seams, pieces; cuts that the sheet asks for come after (`app.job`).

Every stage takes plain arguments and knows nothing of the others; this file alone knows which comes after which.
"""

import time
import warnings
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from flatten.demand.develop import NEAR, Aim, Flat, Found, Wish, flatten
from flatten.demand.together import together
from flatten.foam.plan import PadPlan, crushed_notes, plan_of
from flatten.job.continuing import continued, continuing_notes
from flatten.job.panel_names import panels_told_apart
from flatten.job.workers import crew
from flatten.leather.card import Card
from flatten.leather.card_file import card_from_sheet
from flatten.pieces.fillers import fillers_of, trial_strip_of
from flatten.pieces.pattern import backings_of, pieces_of
from flatten.pieces.piece import Piece
from flatten.pieces.pleat_ends import end_notes, pleat_ends
from flatten.pieces.seams import SeamFigures, ease_notes, seam_figures
from meshes.base.problems import Problem, ProblemError
from meshes.seat.build import BuiltPad, build
from meshes.seat.lineup import line_up, line_up_notes, nudges
from meshes.seat.panels import Panel
from meshes.sheet.read import Ease, Sheet, read_sheet

Progress = Callable[[str, int, int], None]
# How close to the least demand the pieces of a pad are brought, as a share of the largest window.
GAP = 2e-2


@dataclass(frozen=True, eq=False)
class Job:
    """Everything the main job found. flats: by panel name; problems: warnings and notes; seconds: wall time; others:
    pieces that are not of the cover: backings, fillers and test strips of pleats; plans: of the padding, pad by pad."""

    sheet: Sheet
    leather: Card
    pads: tuple[BuiltPad, ...]
    flats: Mapping[str, Flat]
    pieces: tuple[Piece, ...]
    seams: tuple[SeamFigures, ...]
    problems: tuple[Problem, ...]
    seconds: float
    others: tuple[Piece, ...] = ()
    plans: tuple[PadPlan, ...] = ()

    @property
    def panels(self) -> dict[str, Panel]:
        """All panels of all pads by name."""
        return {panel.name: panel for pad in self.pads for panel in pad.panels}


def uncut(sheet_path: str | Path, *, progress: Progress | None = None, workers: int = 2) -> Job:
    """Build the pads of a sheet, flatten their panels, cut out the pieces, without the darts and seams it asks for.

    progress is called with what is being done, how many are done, and of how many. Raises ProblemError with every
    problem found. Writes nothing.
    """
    begin = time.perf_counter()
    say = progress or (lambda what, done, total: None)
    sheet = read_sheet(Path(sheet_path))
    leather = card_from_sheet(sheet)
    with crew(workers) as hands:
        tension = tension_of(sheet, leather)
        tasks = [(sheet, k, tension) for k in range(len(sheet.pads))]
        pads = _sound(hands.each(_built, tasks, lambda d, t: say("building the pads", d, t)))
        sheet, pads = _lined_up(sheet, pads, tension, hands.each, say)
        sheet, pads = continued(
            sheet,
            pads,
            lambda asked, numbers: _sound(
                hands.each(_built, [(asked, k, tension) for k in numbers], lambda done, total: None)
            ),
            say,
        )
    job = finish(sheet, leather, pads, progress=progress, workers=workers)
    return replace(job, seconds=time.perf_counter() - begin)


def finish(
    sheet: Sheet, leather: Card, pads: Sequence[BuiltPad], *, progress: Progress | None = None, workers: int = 2
) -> Job:
    """The job from built pads on: flat maps, seams, pieces. Writes nothing."""
    begin = time.perf_counter()
    say = progress or (lambda what, done, total: None)
    pads = panels_told_apart(pads)
    window_deg = sheet.cover.grain_window_deg
    with crew(workers) as hands:
        flats = _flattened(pads, leather, window_deg, sheet.eases, hands.each, say)
        planned = [(sheet, k, pad) for k, pad in enumerate(pads)]
        plans = tuple(hands.each(_planned, planned, lambda d, t: say("planning the padding", d, t)))
    by_name = {panel.name: panel for pad in pads for panel in pad.panels}
    seams = tuple(row for pad in pads for row in seam_figures(pad.seams, by_name, flats, sheet.eases))
    say("drawing the pieces", 0, 1)
    with warnings.catch_warnings(record=True) as heard:
        warnings.simplefilter("always", UserWarning)
        eased = ease_notes(seams)
        pieces = tuple(piece for pad in pads for piece in pieces_of(pad, flats, sheet.allowance, notes=eased))
        others = tuple(piece for pad in pads for piece in _others(pad, flats, sheet))
    notes = [Problem("P303", "cut lines", str(note.message), warning=True) for note in heard]
    pad_notes = [problem for pad in pads for problem in (*pad.problems, *crushed_notes(pad))]
    pad_notes += [note for plan in plans for note in plan.notes]
    pleat_notes = [*end_notes([end for pad in pads for end in pleat_ends(pad, flats)]), *line_up_notes(line_up(pads))]
    problems = (
        *sheet.warnings,
        *pad_notes,
        *continuing_notes(sheet, pads),
        *_search_notes(flats),
        *_seam_notes(seams),
        *pleat_notes,
        *notes,
    )
    return Job(sheet, leather, tuple(pads), flats, pieces, seams, problems, time.perf_counter() - begin, others, plans)


def _others(pad: BuiltPad, flats: Mapping[str, Flat], sheet: Sheet) -> tuple[Piece, ...]:
    """What a pad's pleats need besides the cover."""
    return (*backings_of(pad, flats, sheet.allowance), *fillers_of(pad), *trial_strip_of(pad))


def tension_of(sheet: Sheet, leather: Card) -> float:
    """Tension of the fitted cover in N/mm: the sheet's, else what the leather pulls with halfway up its budget."""
    return leather.tension_n_per_mm if sheet.cover.tension is None else sheet.cover.tension / 1000.0


def _built(task: tuple[Sheet, int, float]) -> BuiltPad | ProblemError:
    sheet, index, tension = task
    try:
        return build(
            sheet.pads[index],
            edge_mm=sheet.output.mesh,
            blame=lambda code, keys, text: sheet.problem(code, ("pad", index, *keys), text),
            tension_n_per_mm=tension,
            materials=sheet.materials,
        )
    except ProblemError as fault:
        # Handed back instead of raised, so that the faults of all pads are told together.
        return fault


def _planned(task: tuple[Sheet, int, BuiltPad]) -> PadPlan:
    sheet, index, pad = task
    return plan_of(
        pad,
        sheet.materials,
        sheet.allowance,
        blame=lambda code, keys, text: sheet.problem(code, ("pad", index, *keys), text),
    )


def _lined_up(
    sheet: Sheet, pads: tuple[BuiltPad, ...], tension: float, each: Callable[..., Sequence[Any]], say: Progress
) -> tuple[Sheet, tuple[BuiltPad, ...]]:
    """Pads whose pleats follow another's, laid out again where the settled valleys miss each other."""
    offsets = line_up(pads)
    moved = {k: found for k, pad in enumerate(pads) if (found := nudges(pad, offsets))}
    if not moved:
        return sheet, pads
    sheet = replace(sheet, pads=tuple(replace(p, nudges=moved.get(k, ())) for k, p in enumerate(sheet.pads)))
    tasks = [(sheet, k, tension) for k in moved]
    again = dict(zip(moved, _sound(each(_built, tasks, lambda d, t: say("lining up the pleats", d, t))), strict=True))
    return sheet, tuple(again.get(k, pad) for k, pad in enumerate(pads))


def _sound(results: Sequence[BuiltPad | ProblemError]) -> tuple[BuiltPad, ...]:
    """The pads, when all could be built. Raises ProblemError with the faults of all that could not."""
    faults = [problem for result in results if isinstance(result, ProblemError) for problem in result.problems]
    if faults:
        raise ProblemError(faults)
    return tuple(result for result in results if isinstance(result, BuiltPad))


def _flat(task: tuple[Panel, Card, Wish]) -> Flat:
    panel, leather, wish = task
    return flatten(panel.surface.vertices, panel.surface.triangles, leather=leather, wish=wish)


def _together(task: tuple[BuiltPad, Mapping[str, Flat], Card, Sequence[Ease]]) -> dict[str, Found]:
    pad, flats, leather, eases = task
    return together(pad.panels, pad.seams, flats, leather, gap=GAP, eases=eases)


def _flattened(
    pads: Sequence[BuiltPad],
    leather: Card,
    window_deg: float,
    eases: Sequence[Ease],
    each: Callable[..., Sequence[Any]],
    say: Progress,
) -> dict[str, Flat]:
    """Flat maps by panel name: first each for itself, then a pad's together with seams of one length, then proven."""
    panels = [panel for pad in pads for panel in pad.panels]
    # The largest go first, so that all hands end at about the same time.
    drawn = sorted((p for p in panels if p.mirror_of is None), key=lambda p: (-len(p.triangles), p.name))
    wishes = {p.name: Wish(mirror=p.mirror, grain=p.grain, window_deg=window_deg) for p in drawn}
    alone = [(p, leather, replace(wishes[p.name], aim=Aim.ENERGY, prove=False, rested=NEAR)) for p in drawn]
    flats = each(_flat, alone, lambda d, t: say("flattening the panels", d, t))
    first = {panel.name: flat for panel, flat in zip(drawn, flats, strict=True)}
    order = sorted(pads, key=lambda pad: -pad.facts.triangles)
    tasks = [(pad, {p.name: first[p.name] for p in pad.panels if p.mirror_of is None}, leather, eases) for pad in order]
    found: dict[str, Found] = {}
    for one in each(_together, tasks, lambda d, t: say("matching the seams", d, t)):
        found |= one
    last = [(p, leather, replace(wishes[p.name], found=found[p.name])) for p in drawn]
    return _by_name(panels, drawn, each(_flat, last, lambda d, t: say("proving the pieces", d, t)))


def _by_name(panels: Sequence[Panel], drawn: Sequence[Panel], found: Sequence[Flat]) -> dict[str, Flat]:
    """Maps of all panels in their order; mirrored ones turned over."""
    flats = dict(zip((panel.name for panel in drawn), found, strict=True))
    return {p.name: flats[p.name] if p.mirror_of is None else mirrored(flats[p.mirror_of]) for p in panels}


def mirrored(flat: Flat) -> Flat:
    """The map turned over: x changes sign and every triangle is wound the other way; all figures stay."""
    over = np.array([-1.0, 1.0])
    return replace(
        flat,
        points=flat.points * over,
        triangles=flat.triangles[:, [0, 2, 1]],
        along=flat.along * over,
        backbone=None if flat.backbone is None else flat.backbone * over,
    )


def _search_notes(flats: Mapping[str, Flat]) -> list[Problem]:
    """Maps whose search for the least demand did not come to rest; they are certified all the same."""
    return [
        Problem("F201", name, f"the search for the best piece ended early: {flat.note}", warning=True)
        for name, flat in flats.items()
        if not flat.note.startswith("converged")
    ]


def _seam_notes(seams: Sequence[SeamFigures]) -> list[Problem]:
    notes = []
    for seam in seams:
        if not seam.sews:
            longer, shorter = (seam.b, seam.a) if seam.mismatch_mm > 0 else (seam.a, seam.b)
            text = (
                f"{longer} is {abs(seam.mismatch_mm):.1f} mm longer than {shorter} over {seam.seat_mm:.0f} mm; "
                f"{shorter} would bag if its edge were let out, {longer} be pulled more if its edge were taken in; "
                "ease the rest in between the notches, or part the piece that is curved most"
            )
            notes.append(Problem("F301", f"seam {seam.name}", text, warning=True))
    return notes
