"""The order of work: sheet, pads, flat maps, seams, pieces; cuts that the sheet asks for come after (`app.job`).

Every stage takes plain arguments and knows nothing of the others; this file alone knows which comes after which.
"""

import math
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from flatten.corners.clearance import clearance_notes
from flatten.corners.unfolded import unfolded_notes
from flatten.coverings.assigned import coverings_of, other_coverings
from flatten.coverings.covering import Coverings
from flatten.edges.named import Makes, makes_of
from flatten.fit.fitted import FittedSeat
from flatten.foam.block_shapes import square_edge_notes
from flatten.foam.core import core_plan
from flatten.foam.plan import PadPlan, crushed_notes, plan_of
from flatten.held.corner_posts import corner_post_notes
from flatten.held.flies import fly_notes
from flatten.held.lines import held_pieces, staple_notes
from flatten.held.posts import post_notes
from flatten.job.asked import check_built
from flatten.job.continuing import continuing_notes
from flatten.job.pads import Tensions, built_pads, with_advice
from flatten.job.pulls import tension_notes
from flatten.job.settled_maps import SeatBeforeCuts, settled_maps
from flatten.job.tension import agreed
from flatten.leather.card import Card
from flatten.leather.card_file import card_from_sheet
from flatten.leather.pleat_grain import grained_with_pleats
from flatten.leather.verdict import is_tight
from flatten.machine.estimate import check_room, estimate_for
from flatten.machine.workers import WORTH_S, Workers, worker_pool
from flatten.maps.flat import Flat
from flatten.paper.roll import too_wide
from flatten.pieces.fillers import fillers_of, trial_strip_of
from flatten.pieces.pattern import backings_of, from_coverings, pieces_of, sew_foams_of
from flatten.pieces.piece import Piece
from flatten.pieces.pleat_ends import end_notes, pleat_ends
from flatten.pieces.seams import SeamFigures, ease_notes, seam_figures
from flatten.trim.board_plan import board_plan
from flatten.trim.covered import covered_boards
from meshes.base.problems import Problem, ProblemError
from meshes.base.progress import Progress, unheard
from meshes.base.surface import curve_length
from meshes.base.units import Unit
from meshes.closed.words import snip_notes
from meshes.records.materials import Material
from meshes.schema.words import SheetPlaces
from meshes.seat.build import BuiltPad, mean_of
from meshes.seat.lineup import line_up, line_up_notes
from meshes.seat.panels import Panel, RimEdge
from meshes.sheet.read import read_sheet
from meshes.sheet.whole import Allowance, Sheet
from meshes.support.chart import MakeProblem
from meshes.tapes.told import NO_TAPES, Tapes


@dataclass(frozen=True, eq=False)
class DrawnSeat:
    """A seat as far as its pieces. flats: by panel name; problems: warnings and notes; seconds: wall time."""

    sheet: Sheet
    leather: Card
    pads: tuple[BuiltPad, ...]
    flats: Mapping[str, Flat]
    pieces: tuple[Piece, ...]
    seams: tuple[SeamFigures, ...]
    problems: tuple[Problem, ...]
    seconds: float


@dataclass(frozen=True, eq=False)
class Job(DrawnSeat):
    """Everything the main job found. others: pieces that are not of the cover: backings, fillers and test strips of
    pleats; plans: of the padding, pad by pad; tensions: at which the pads were settled; makes: how seams are sewn that
    the sheet speaks of; before_cuts: the seat as it was before panels were cut, and what was cut since;
    rolled_mm: how much of a roll a layout of it takes, by the name of its card, where one was made; fitting: what rows
    of fitting did, None without one; tapes: of the sheet, held against the seat."""

    others: tuple[Piece, ...] = ()
    plans: tuple[PadPlan, ...] = ()
    tensions: Tensions = ()
    makes: Makes = field(default_factory=dict)
    before_cuts: SeatBeforeCuts = field(default_factory=lambda: SeatBeforeCuts((), ()))
    rolled_mm: Mapping[str, float] = field(default_factory=dict)
    fitting: FittedSeat | None = None
    tapes: Tapes = NO_TAPES

    @property
    def coverings(self) -> Coverings:
        """What every panel is cut from."""
        # A leather named for one of a pair is that of both, whether or not a fitting parted them.
        if self.fitting is None:
            return coverings_of(self.sheet, self.leather, self.pads)
        found = coverings_of(self.sheet, self.leather, self.fitting.whole)
        return replace(found, measured=self.fitting.cards)

    @property
    def panels(self) -> dict[str, Panel]:
        """All panels of all pads by name."""
        return {panel.name: panel for pad in self.pads for panel in pad.panels}

    def paper_mm(self, panel: Panel, edge: RimEdge) -> float:
        """Length along an edge of a panel's piece as it is cut, pleats stitched, mm."""
        if self.fitting is not None:
            return self.fitting.edge_mm(panel, edge)
        return curve_length(self.flats[panel.name].points[edge.vertices])

    @property
    def unfit(self) -> tuple[str, ...]:
        """Panels whose pieces do not fit: they ask more than the leather gives, or are not proven to lie flat."""
        return tuple(name for name, flat in self.flats.items() if is_tight(flat.verdict) or not flat.certified)


def uncut(given: Sheet | str | Path, *, progress: Progress | None = None, workers: Workers = 2) -> Job:
    """Build the pads of a sheet, flatten their panels, cut out the pieces, without the darts and seams it asks for.

    given: the sheet or its path; progress is called with what is being done, how many are done, and of how many. Raises
    ProblemError with every problem found. Writes nothing.
    """
    begin = time.perf_counter()
    say = progress or unheard
    with worker_pool(workers) as pool:
        try:
            sheet = given if isinstance(given, Sheet) else read_sheet(Path(given))
            leather = card_from_sheet(sheet)
            other_coverings(sheet)
            expected = check_room(sheet, workers=pool.count)
            each = pool.map_if(expected.seconds > WORTH_S)
            asked = agreed(sheet, leather, each, say)
            tensions, pads = asked.tensions, built_pads(sheet, asked.tensions, each, say, begin=asked.begin)
            check_built(sheet, pads)
        except ProblemError as fault:
            raise with_advice(given, fault) from None
        seat = SeatBeforeCuts(tuple(pads), tuple(tensions))
        job = finish(sheet, leather, seat, progress=progress, workers=pool)
    return replace(job, seconds=time.perf_counter() - begin)


def finish(
    sheet: Sheet,
    leather: Card,
    seat: SeatBeforeCuts,
    *,
    progress: Progress | None = None,
    workers: Workers = 2,
) -> Job:
    """The job from built pads on: their cuts, flat maps, pads settled again where these pull otherwise, seams, pieces.
    Writes nothing."""
    begin = time.perf_counter()
    say = progress or unheard
    with worker_pool(workers) as pool:
        each = pool.map_if(estimate_for([pad.facts.triangles for pad in seat.pads]).seconds > WORTH_S)
        found = settled_maps(sheet, leather, seat, each, say)
        pads, flats, makes = found.pads, found.flats, found.makes
        pads = tuple(grained_with_pleats(pad, {name: flat.points for name, flat in flats.items()}) for pad in pads)
        planned = [_plan_task(sheet, k, pad) for k, pad in enumerate(pads)]
        plans = tuple(_plan_located(sheet, plan) for plan in each(_planned, planned, say, "planning the padding"))
    by_name = {panel.name: panel for pad in pads for panel in pad.panels}
    seams = tuple(row for pad in pads for row in seam_figures(pad.seams, by_name, flats, sheet.eases))
    say("drawing the pieces", 0, 1)
    eased = ease_notes(seams)
    notes = edge_notes(pads, eased)
    coverings = coverings_of(sheet, leather, pads)
    cover = [
        p
        for pad in pads
        for p in held_pieces(
            pad, pieces_of(pad, flats, sheet.allowance, notes=notes, makes=makes), sheet.allowance, makes
        )
    ]
    cover = covered_boards(cover, pads, coverings)
    job = Job(
        sheet,
        leather,
        pads,
        flats,
        pieces=tuple(from_coverings(cover, coverings)),
        seams=seams,
        problems=(),
        seconds=0.0,
        others=tuple(piece for pad in pads for piece in other_pieces(pad, flats, sheet)),
        plans=plans,
        tensions=found.tensions,
        makes=makes,
        before_cuts=found.seat,
    )
    return replace(job, problems=tuple(job_notes(job)), seconds=time.perf_counter() - begin)


def job_notes(job: Job) -> Iterator[Problem]:
    """What is told of a job: of its sheet, its padding, its maps, its seams, its pleats, and its papers."""
    sheet, pads, flats = job.sheet, job.pads, job.flats
    yield from sheet.warnings
    for pad in pads:
        yield from pad.problems
        yield from crushed_notes(pad)
    for k, pad in enumerate(pads):
        yield from unfolded_notes(pad, flats, _problems_of(sheet, k))
        pull = mean_of(job.tensions[k]) if job.tensions else 0.0
        yield from square_edge_notes(pad, pull, sheet.materials, _problems_of(sheet, k))
        yield from clearance_notes(pad, job.leather.thickness_mm, _problems_of(sheet, k))
        yield from fly_notes(pad, job.pieces, _problems_of(sheet, k), sheet.allowance)
        yield from staple_notes(pad, _problems_of(sheet, k), sheet.allowance)
        yield from post_notes(pad, _problems_of(sheet, k))
        yield from corner_post_notes(pad, job.pieces, _problems_of(sheet, k))
    for plan in job.plans:
        yield from plan.notes
    yield from continuing_notes(sheet, pads)
    yield from _search_notes(flats)
    yield from tension_notes(pads, flats, job.coverings, job.tensions)
    yield from _seam_notes(job.seams)
    yield from end_notes([end for pad in pads for end in pleat_ends(pad, flats)])
    yield from line_up_notes(line_up(pads), pads)
    drawn = (*job.pieces, *job.others, *(shape for plan in job.plans for shape in plan.drawn))
    yield from outline_notes(drawn)
    yield from _roll_notes(sheet, drawn)
    yield from () if job.fitting is None else job.fitting.notes


def _roll_notes(sheet: Sheet, pieces: Sequence[Piece]) -> list[Problem]:
    """Pieces that the sheet's roll is too narrow for, which are drawn on a wider sheet all the same."""
    width = sheet.output.roll_width
    return [
        sheet.problem(
            "P304",
            ("output", "roll_width"),
            f"{piece.pad} {piece.name} needs paper {math.ceil(need)} mm wide, and the roll has {width:g} mm; its sheet "
            f"is drawn wider: give the width of wider paper, join strips of it, or use the pages of patterns.pdf",
            warning=True,
        )
        for piece, need in too_wide(pieces, width_mm=width)
    ]


def edge_notes(pads: Sequence[BuiltPad], eased: Mapping[tuple[str, str], str]) -> dict[tuple[str, str], str]:
    """What is written along the edges of all pieces, by panel and seam."""
    snipped = {key: note for pad in pads for key, note in snip_notes(pad).items()}
    return {key: "; ".join(n for n in (eased.get(key), snipped.get(key)) if n) for key in (*eased, *snipped)}


def other_pieces(pad: BuiltPad, flats: Mapping[str, Flat], sheet: Sheet) -> tuple[Piece, ...]:
    """What lies sewn under the cover: backings, fillers and test strips of pleats, sew foam."""
    foams = sew_foams_of(pad, flats, sheet.allowance, makes_of(sheet.seams, [pad]))
    return (*backings_of(pad, flats, sheet.allowance), *foams, *fillers_of(pad, flats), *trial_strip_of(pad))


@dataclass(frozen=True, eq=False)
class PlanTask:
    """All that a padding plan is made from. pad: without what is told of it; places: words for what is told, without
    file and lines; index: its number in the sheet."""

    pad: BuiltPad
    index: int
    materials: Mapping[str, Material]
    allowance: Allowance
    unit: Unit
    places: SheetPlaces


def _plan_task(sheet: Sheet, k: int, pad: BuiltPad) -> PlanTask:
    # Of all allowances a plan asks for that of foam, and how its corners are drawn.
    allowance, places = Allowance(corner=sheet.allowance.corner, foam=sheet.allowance.foam), sheet.places.of_pad(k)
    return PlanTask(replace(pad, problems=()), k, sheet.materials, allowance, sheet.unit, places)


def _planned(task: PlanTask) -> PadPlan:
    pad = task.pad
    if pad.pad.closed is not None:
        return core_plan(pad, pad.pad.closed, task.materials)
    if pad.pad.board is not None:
        return board_plan(pad, pad.pad.board, task.materials)
    return plan_of(
        pad,
        task.materials,
        task.allowance,
        make_problem=lambda code, keys, text: task.places.problem(code, ("pad", task.index, *keys), text),
        unit=task.unit,
    )


def _plan_located(sheet: Sheet, plan: PadPlan) -> PadPlan:
    """The plan, with what is told of it at its lines of the sheet's file."""
    return replace(plan, notes=tuple(sheet.places.located(problem) for problem in plan.notes))


def _problems_of(sheet: Sheet, index: int) -> MakeProblem:
    """Makes problems of one pad of a sheet."""
    return lambda code, keys, text: sheet.problem(code, ("pad", index, *keys), text)


def _search_notes(flats: Mapping[str, Flat]) -> list[Problem]:
    """Maps whose search for the least demand did not come to rest; they are certified all the same."""
    return [problem for name, flat in flats.items() if (problem := flat.unconverged(name)) is not None]


def outline_notes(pieces: Sequence[Piece]) -> list[Problem]:
    """What is wrong with cut lines, piece by piece, as warnings."""
    places = ((piece, piece.name if not piece.material else f"{piece.pad} {piece.name}") for piece in pieces)
    return [Problem("P303", place, fault, warning=True) for piece, place in places for fault in piece.faults]


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
