"""The main job: from the sheet to pieces, with the darts and seams that the sheet asks for."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from flatten.coverings.assigned import covering_faults
from flatten.edges.named import seam_faults
from flatten.fit.as_cut import as_cut_flats
from flatten.fit.asked import DrawnPad, MakeFitProblem, piece_of_row
from flatten.fit.blamed import tight_notes
from flatten.fit.certificate import seams_after, unlike_notes
from flatten.fit.fitted import FittedPad, FittedSeat, fitted, followed
from flatten.fit.one_side import DrawPad, without_images
from flatten.fit.proposed import proposed_row
from flatten.fit.words import advice_of
from flatten.held.lines import held_pieces
from flatten.job.applied import apply_cuts
from flatten.job.asked import eased_twice
from flatten.job.pipeline import Job, edge_notes, job_notes, other_pieces, uncut
from flatten.job.relieve import SheetRelief, relieve_job
from flatten.machine.workers import Workers, worker_pool
from flatten.maps.flat import Flat
from flatten.pieces.pattern import drawn_pieces, from_coverings, told_pieces
from flatten.pieces.piece import EdgeKind, Piece
from flatten.pieces.seams import SEAM_TOLERANCE_MM, SeamFigures, ease_notes, seam_figures
from flatten.reshape.old_lines import with_old_lines
from flatten.reshape.seat import Reshaped, reshaped
from flatten.trim.covered import covered_boards
from meshes.base.problems import Key, Problem, ProblemError, near_name, one_of
from meshes.base.progress import Progress
from meshes.base.surface import curve_length
from meshes.seat.build import BuiltPad
from meshes.sheet.whole import ReliefCut, Sheet
from meshes.tapes.told import tape_notes, tapes_of

__all__ = ["Job", "make", "relieve_sheet"]


def make(sheet: Sheet | str | Path, *, progress: Progress | None = None, workers: Workers = 2) -> Job:
    """Do the main job: build the pads, flatten their panels, make the cuts asked for, cut out the pieces.

    sheet: the sheet or its path; progress is called with what is being done, how many are done, and of how many. Raises
    ProblemError with every problem found. Writes nothing.
    """
    with worker_pool(workers) as pool:
        job = uncut(sheet, progress=progress, workers=pool)
        seconds, left = job.seconds, list(enumerate(job.sheet.cuts))
        while left:
            now, left = _at_once(job, left)
            choice = {_original_of(job, cut.panel): cut.apply for _, cut in now}
            found = relieve_job(job, only=choice, progress=progress, workers=pool)
            _check_numbers(job.sheet, now, found, job)
            job = apply_cuts(found, choice=choice, progress=progress, workers=pool).job
            seconds += job.seconds
    _check_seams(job)
    job = fitted_job(job)
    tapes = tapes_of(job.sheet, job.before_cuts.pads)
    return replace(job, seconds=seconds, tapes=tapes, problems=(*job.problems, *tape_notes(job.sheet, tapes)))


def fitted_job(job: Job) -> Job:
    """The job with its pieces corrected by the sheet's rows of fitting, and everything that follows from their edges
    made again: rows about leather and padding on maps and seat, then those that move stitch lines, on the pieces drawn
    from them. Raises ProblemError with every row that cannot be followed."""
    sheet = job.sheet
    if not sheet.fits:
        return job

    def problem(code: str, row: int, key: Key, text: str) -> Problem:
        return sheet.problem(code, ("fit", row, key), text)

    def without(number: int) -> Mapping[str, Flat] | None:
        fits = tuple(note for note in sheet.fits if note.row != number)
        try:
            return _fitted(replace(job, sheet=replace(sheet, fits=fits)), problem).flats if fits else job.flats
        except ProblemError:
            return None

    found = _fitted(job, problem)
    assert found.fitting is not None
    told = (*found.fitting.notes, *tight_notes(found.fitting, (job.flats, found.flats), without, problem))
    found = replace(found, fitting=replace(found.fitting, notes=told))
    return replace(found, problems=tuple(job_notes(found)))


def _fitted(job: Job, problem: MakeFitProblem) -> Job:
    """The job with its rows of fitting done, without its problems."""
    sheet, makes, allowance = job.sheet, job.makes, job.sheet.allowance

    def draw_first(k: int, pad: BuiltPad) -> DrawnPad:
        return DrawnPad(k, pad, drawn_pieces(pad, job.flats, allowance, makes))

    first = [draw_first(k, pad) for k, pad in enumerate(job.pads)]
    seat = reshaped(first, sheet.fits, (job.flats, job.coverings), draw_first, problem)

    def draw(k: int, pad: BuiltPad) -> DrawnPad:
        return DrawnPad(k, pad, drawn_pieces(pad, seat.flats, allowance, makes))

    drawn = [draw(k, pad) for k, pad in enumerate(seat.pads)] if seat.changed else first
    try:
        fitting = fitted(drawn, sheet.fits, (allowance, makes), problem, draw, seat.apart)
    except ProblemError as fault:
        raise ProblemError(_once([*fault.problems, *seat.faults])) from None
    if seat.faults:
        raise ProblemError(_once(seat.faults))
    fitting = replace(fitting, before=seat.flats, reshaped=seat.told, cards=seat.cards)
    fitting = replace(fitting, pads=tuple(_as_told(fit, fitting, seat, draw_first) for fit in fitting.pads))
    return _with_fitting(job, seat, fitting, problem)


def _once(problems: Sequence[Problem]) -> list[Problem]:
    """Problems without those that say of one key again what is wrong with it."""
    found: dict[tuple[str, tuple[Key, ...]], Problem] = {}
    for one in problems:
        found.setdefault((one.code, tuple(one.keys)), one)
    return list(found.values())


def _as_told(fit: FittedPad, fitting: FittedSeat, seat: Reshaped, draw_first: DrawPad) -> FittedPad:
    """A pad's pieces with what rows about leather and padding did to each, and the lines that were before."""
    names = {panel.name for panel in fit.drawn.pad.panels}
    if not names & seat.changed:
        return fit
    parted = {one.panels[0] for one in fit.pieces}
    images = {panel.name: panel.mirror_of for panel in fit.drawn.pad.panels}
    pad = fitting.whole[fit.drawn.index]
    apart = {p.mirror_of for p in pad.panels if p.mirror_of is not None and images[p.name] is None}
    whole = draw_first(fit.drawn.index, without_images(pad, apart - {None}))
    before = {piece.panels[0]: piece for piece in whole.pieces if piece.panels[0] in parted}
    pieces = []
    for piece in fit.pieces:
        own = piece.panels[0]
        # Room on a piece is short: what to lay on and what follows stands in the report and the job sheet.
        said = [row.words.partition("; ")[0] for row in fitting.reshaped if own in row.panels]
        said += [words for row in fitting.reshaped for name, words in row.follow if name == own]
        now = with_old_lines(piece, before[own]) if own in seat.changed else piece
        pieces.append(replace(now, notes=(*dict.fromkeys((*now.notes, *said)),)))
    return replace(fit, pieces=tuple(pieces))


def _with_fitting(job: Job, seat: Reshaped, fitting: FittedSeat, problem: MakeFitProblem) -> Job:
    """The job with fitted pieces, its seams measured again, and all that follows from their edges."""
    sheet, flats, makes, allowance = job.sheet, seat.flats, job.makes, job.sheet.allowance
    job = replace(job, pads=seat.pads, fitting=fitting)
    pads = tuple(fit.drawn.pad for fit in fitting.pads)
    measured = _measured(job, seat)
    renewed = {
        name: row for fit in fitting.pads for name, row in seams_after(fit.drawn, fit.moves, flats, sheet.eases).items()
    }
    unlike = unlike_notes(measured, renewed, fitting.done, problem)
    drawn = [fit.drawn for fit in fitting.pads]
    fitting = replace(fitting, notes=(*fitting.notes, *unlike, *_seen(job, drawn, problem)))
    seams = tuple(renewed.get(row.name, row) for row in measured)
    notes = edge_notes(pads, ease_notes(seams))
    cover: list[Piece] = []
    others: list[Piece] = []
    now, unknown = dict(flats), list[str]()
    for fit in fitting.pads:
        as_cut = as_cut_flats(fit, flats, job.coverings)
        now |= as_cut.flats
        unknown += as_cut.unknown
        drawn_now = told_pieces(as_cut.pieces, now, notes=notes, makes=makes)
        cover += held_pieces(fit.drawn.pad, drawn_now, allowance, makes)
        others += [followed(piece, fit, allowance.corner) for piece in other_pieces(fit.drawn.pad, flats, sheet)]
    pieces = tuple(from_coverings(covered_boards(cover, pads, job.coverings), job.coverings))
    told = (*fitting.notes, *(_unknown(name) for name in unknown), *_zips_unlike(fitting, pads, flats, problem))
    fitting = replace(fitting, notes=told)
    return replace(job, pads=pads, flats=now, pieces=pieces, others=tuple(others), seams=seams, fitting=fitting)


def _measured(job: Job, seat: Reshaped) -> tuple[SeamFigures, ...]:
    """The seams of a job, those of panels drawn anew measured again."""
    panels = {panel.name: panel for pad in seat.pads for panel in pad.panels}
    by_name = {
        row.name: row
        for pad in seat.pads
        for row in seam_figures(
            [s for s in pad.seams if {s.a, s.b} & seat.changed], panels, seat.flats, job.sheet.eases
        )
    }
    return tuple(by_name.get(row.name, row) for row in job.seams)


def _unknown(name: str) -> Problem:
    text = "with its moved line its map does not lie flat, so its stretch, verdict and pull are those before fitting"
    return Problem("F341", name, f"{text}; try it in cheap cloth first", warning=True)


def _zips_unlike(
    fitting: FittedSeat, pads: Sequence[BuiltPad], now: Mapping[str, Flat], problem: MakeFitProblem
) -> list[Problem]:
    """Rows about one side alone that leave a zip with one side longer than the other."""
    told = []
    for pad in pads:
        edges = [(panel, edge) for panel in pad.panels for edge in panel.rim if edge.kind == EdgeKind.ZIP]
        long = [curve_length(now[panel.name].points[edge.vertices]) for panel, edge in edges]
        row = next((row.note.row for row in fitting.reshaped if row.pad == pad.pad.name), None)
        if row is not None and long and max(long) - min(long) > SEAM_TOLERANCE_MM:
            text = (
                f"one side of the zip is now {max(long) - min(long):.1f} mm longer than the other: leave `alone` out, "
            )
            text += "so that both follow, or ease the longer one in along the tape"
            told.append(replace(problem("F349", row, "alone", text), warning=True))
    return told


def _seen(job: Job, drawn: Sequence[DrawnPad], problem: MakeFitProblem) -> list[Problem]:
    """What helps where rows only say what was seen at a fitting."""
    told = []
    for note in job.sheet.fits:
        there = piece_of_row(drawn, note, problem)
        text = advice_of(note)
        if isinstance(there, Problem) or not text:
            continue
        told.append(replace(problem("F337", note.row, "piece", text), warning=True))
        first = proposed_row(note, there[0].pieces[there[1]])
        if first:
            told.append(replace(problem("F344", note.row, "piece", first), warning=True))
    return told


def relieve_sheet(
    sheet: Sheet | str | Path,
    *,
    every: bool = False,
    most: int = 5,
    progress: Progress | None = None,
    workers: Workers = 2,
) -> SheetRelief:
    """Do the main job on a sheet and look for more cuts in every panel that is too tight, or in `every` one.

    sheet: the sheet or its path. Raises ProblemError with every problem of the sheet. Writes nothing.
    """
    with worker_pool(workers) as pool:
        job = make(sheet, progress=progress, workers=pool)
        return relieve_job(job, every=every, most=most, progress=progress, workers=pool)


def _check_seams(job: Job) -> None:
    """Raises ProblemError for ease in a seam, or for a panel, that there is not, for a seam eased twice, and for rows
    about seams that cannot be followed."""
    faults = []
    sides = {row.name: (row.a, row.b) for row in job.seams}
    for k, ease in enumerate(job.sheet.eases):
        if ease.seam not in sides:
            near = near_name(ease.seam, sides)
            advice = f'did you mean "{near}"?' if near else f"seams are {', '.join(sides)}"
            text = f'there is no seam "{ease.seam}"; {advice}'
            faults.append(job.sheet.problem("F302", ("ease", k, "seam"), text))
        elif ease.longer not in sides[ease.seam]:
            text = f'"{ease.longer}" is no side of this seam; write {one_of(sides[ease.seam])}'
            faults.append(job.sheet.problem("F303", ("ease", k, "longer"), text))
    faults += eased_twice(job.sheet, job.panels)
    faults += seam_faults(job.sheet, job.pads)
    faults += covering_faults(job.sheet, job.pads)
    if faults:
        raise ProblemError(faults)


def _at_once(
    job: Job, cuts: Sequence[tuple[int, ReliefCut]]
) -> tuple[list[tuple[int, ReliefCut]], list[tuple[int, ReliefCut]]]:
    """The first cuts, each of another panel that there is, and the rest, which may name parts those cuts leave."""
    taken: set[str] = set()
    for _, cut in cuts:
        name = _original_of(job, cut.panel) if cut.panel in job.panels else None
        if name is None or name in taken:
            break
        taken.add(name)
    count = len(taken)
    if not count:
        k, cut = cuts[0]
        text = f'there is no panel "{cut.panel}"; panels are {", ".join(job.panels)}'
        raise ProblemError([_told(job.sheet, "R101", k, "panel", text)])
    return list(cuts[:count]), list(cuts[count:])


def _original_of(job: Job, name: str) -> str:
    """The panel that stands for this one and its mirror image."""
    return job.panels[name].mirror_of or name


def _check_numbers(sheet: Sheet, cuts: Sequence[tuple[int, ReliefCut]], found: SheetRelief, job: Job) -> None:
    known = {one.name: len(one.study.reliefs) for one in found.advice}
    faults = []
    for k, cut in cuts:
        count = known[_original_of(job, cut.panel)]
        if cut.apply > count:
            advice = f"use 1 to {count}" if count else "nothing takes enough of its demand away; take this table out"
            text = f"{cut.panel} has {count} proposals, found number {cut.apply}; {advice}"
            faults.append(_told(sheet, "R102", k, "apply", text))
    if faults:
        raise ProblemError(faults)


def _told(sheet: Sheet, code: str, k: int, key: str, text: str) -> Problem:
    return sheet.problem(code, ("relief", k, key), text)
