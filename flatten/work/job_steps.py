"""All steps of a job in working order: cut, sew, pad and fit, pad by pad; what closes the seat last."""

from collections import Counter
from collections.abc import Iterator, Sequence

from flatten.fit.words import FIGURES_ARE
from flatten.job.pipeline import Job
from flatten.leather.card import Card
from flatten.pieces.piece import Piece
from flatten.report.amounts import fittings
from flatten.report.strip_sheet import STRIP_KG
from flatten.work.closed_steps import board_steps, closed_steps, panel_steps
from flatten.work.padding_steps import padding_steps
from flatten.work.sewing_steps import sewing_steps
from flatten.work.steps import BELTS, BLADES, FIRE, JobSheet, StepFigure, WorkStep, numbered
from flatten.work.tacking_steps import tacking_steps
from meshes.base.files import number
from meshes.base.problems import and_words
from meshes.fitting.strips import GRAVITY_N_PER_KG
from meshes.schema.cover_tables import STRIP_WIDTH_MM
from meshes.seat.build import BuiltPad

CUT, LAST = "Before you cut, and cutting", "At last"


def job_sheet(job: Job) -> JobSheet:
    """The job sheet of a job."""
    pads = _in_order(job.pads)
    ends = [pad for pad in pads if _closes(pad)]
    steps = [*_cut(job)]
    for pad in (pad for pad in pads if not _closes(pad)):
        steps += _of_pad(job, pad)
    for pad in ends:
        steps += panel_steps(job, pad)
    steps += _trims(job)
    return numbered(job.sheet.name, job.sheet.revision, job.sheet.unit, tuple(steps))


def _of_pad(job: Job, pad: BuiltPad) -> Iterator[WorkStep]:
    if pad.pad.closed is not None:
        yield from closed_steps(job, pad, pad.pad.closed)
    elif pad.pad.board is not None:
        yield from board_steps(job, pad)
    else:
        yield from sewing_steps(job, pad)
        yield from padding_steps(job, pad)
        yield from tacking_steps(job, pad)


def _in_order(pads: Sequence[BuiltPad]) -> list[BuiltPad]:
    """Pads as they are worked: cushions first, and one whose pleats follow another's after that one."""
    return sorted(pads, key=lambda pad: (pad.pad.leader is not None, pad.pad.kind != "cushion"))


def _closes(pad: BuiltPad) -> bool:
    return pad.pad.closed is not None and not pad.pad.closed.filled


def _cut(job: Job) -> Iterator[WorkStep]:
    """Leather at rest, the first cover in cloth, and all that is cut."""
    pulled, whence = strip_words(job.leather, roll=job.coverings.main.roll is not None)
    yield WorkStep(
        CUT,
        "",
        f"Let the leather ({job.leather.name}) lie 24 h in the shop, then {pulled}",
        (whence, "Cut the first cover in cheap cloth, sew it, fit it and correct the pieces before leather is cut."),
        (),
        (BELTS, FIRE),
    )
    if job.fitting is not None and job.fitting.told:
        rounds = sorted({row.note.round for row in job.fitting.told})
        words = f"round{'s' if len(rounds) > 1 else ''} {and_words([str(k) for k in rounds])} of fitting"
        rows = tuple(f"{row.pad} {row.piece}, {row.words}." for row in job.fitting.told)
        yield WorkStep(
            CUT, "", f"Take the pieces that are corrected by {words}, none of an earlier print.", (*rows, FIGURES_ARE)
        )
    count = sum(piece.cut_count + piece.mirrored_count for piece in job.pieces)
    details = tuple(
        f"{pad.pad.name[0].upper()}{pad.pad.name[1:]}: "
        + "; ".join(_counted(piece) for piece in job.pieces if piece.pad == pad.pad.name)
        + "."
        for pad in _in_order(job.pads)
    )
    yield WorkStep(
        CUT,
        "",
        f"Cut {count} cover piece{'' if count == 1 else 's'}; mark notches, centre marks and arrows before any leaves "
        "the table.",
        details,
        (),
        (BLADES,),
    )
    others = Counter(str(piece.kind) for piece in job.others for _ in range(piece.cut_count + piece.mirrored_count))
    if others:
        words = ", ".join(f"{n} {kind}{'s' if n > 1 else ''}" for kind, n in others.items())
        yield WorkStep(CUT, "", f"Cut what lies under the cover: {words}.")


def strip_words(card: Card, *, roll: bool) -> tuple[str, str]:
    """What a strip has to do under a weight that leaves it below the most it may be stretched, and whence that is."""

    def stretch(kg: float) -> tuple[float, float]:
        pull = kg * GRAVITY_N_PER_KG / STRIP_WIDTH_MM
        return pull / card.stiffness_along, pull / card.stiffness_across

    most = card.stretch_along, card.stretch_across
    borne = [kg for kg in STRIP_KG if all(one <= top for one, top in zip(stretch(kg), most, strict=True))]
    kg = max(borne, default=min(STRIP_KG))
    along, across = (number(100.0 * one, 1) for one in stretch(kg))
    way = "roll" if roll else "backbone"
    pulled = f"hang {kg:g} kg on a strip {STRIP_WIDTH_MM:g} mm wide: it has to stretch by {along} % along the {way}, "
    measured = [w for w in ("along", "across") if card.source[f"stiffness_{w}"].startswith("measured")]
    limits = f"At most it may be stretched by {100.0 * most[0]:.1f} % along and {100.0 * most[1]:.1f} % across"
    whence = f"measured on strips {and_words(measured)}" if measured else "by its card, not measured on this hide"
    return f"{pulled}{across} % across.", f"{limits}; {whence}."


def _counted(piece: Piece) -> str:
    count = piece.cut_count + piece.mirrored_count
    return piece.name if count == 1 else f"{piece.name}, {count} in all"


def _trims(job: Job) -> Iterator[WorkStep]:
    """What is bought by length and goes on along outer edges."""
    found = fittings(job)
    if found:
        figures = tuple(StepFigure(one.name, one.length_mm, one.words) for one in found)
        yield WorkStep(LAST, "", "Wire-on and sewn-on trims, cut to these lengths.", (), figures, (BLADES,))
