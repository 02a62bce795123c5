"""Steps of the padding: springs under cloth, layers with their sizes, edges rounded off, heights before the cover."""

from collections.abc import Iterator, Sequence

from flatten.figures.padding import plan_for
from flatten.foam.plan import PadPlan
from flatten.foam.rounding import texts_of
from flatten.job.pipeline import Job
from flatten.orders.order import HESSIAN_TURN_MM
from flatten.pieces.piece import Piece
from flatten.work.heights import heights_of
from flatten.work.steps import ADHESIVE, BLADES, FIRE, SPRINGS, StepFigure, WorkStep, force_words
from meshes.base.files import number
from meshes.base.plane import extent
from meshes.records.pad import SIDES
from meshes.seat.build import BuiltPad

# Heights further off than this are put right before the cover goes on: a tape on padding (P: 1 % or 3 mm).
OFF_MM = 3.0
# Springs are tried by pressing them so far.
PRESSED_BY_MM = 10.0
# kPa on a square of this size are N.
_LOAD_SQUARE_MM = 100.0
_ADHESIVE_WORDS = " (mind the caution on adhesive)"


def pad_stage(pad: BuiltPad) -> str:
    """What the heading over the padding of a pad says."""
    return f"Build up the padding of the {pad.pad.name}"


def uncut_pad(job: Job, pad: BuiltPad) -> BuiltPad:
    """A pad as it was before panels were cut, with one mesh for padding and cover."""
    return next((one for one in job.before_cuts.pads if one.pad.name == pad.pad.name), pad)


def padding_steps(job: Job, pad: BuiltPad) -> Iterator[WorkStep]:
    """Everything from the springs up to the padding that is ready for its cover."""
    yield from spring_steps(pad)
    plan = plan_for(job, pad)
    if plan is not None:
        yield from layer_steps(job, pad, plan)
    yield from _rounded(job, pad, plan)
    places = heights_of(uncut_pad(job, pad))
    if places and pad.pad.layers:
        yield WorkStep(
            pad_stage(pad),
            pad.pad.name,
            "Check the padding with a ruler before the cover goes on.",
            (
                "Heights stand above the zero of the sheet's profiles, places on the two lines through the middle. Lay "
                f"a straightedge across; where one is off by more than {OFF_MM:g} mm, correct the padding first.",
            ),
            tuple(StepFigure(one.name, one.free_mm, found=True) for one in places),
        )


def spring_steps(pad: BuiltPad) -> Iterator[WorkStep]:
    """Springs as they are held, and the cloth over them."""
    springs, stage, name = pad.pad.springs, pad_stage(pad), pad.pad.name
    if springs is None:
        return
    details, figures = [], []
    press = springs.rate_kpa_per_mm * PRESSED_BY_MM * 1e-3 * _LOAD_SQUARE_MM**2
    square = f"{_LOAD_SQUARE_MM:g} × {_LOAD_SQUARE_MM:g} mm"
    if springs.free_mm is not None and springs.held_mm is not None:
        figures.append(
            StepFigure("springs, as twine holds them", springs.held_mm, f"free {springs.free_mm:g} mm", True)
        )
        load = springs.preload_kpa * 1e-3 * _LOAD_SQUARE_MM**2
        details.append(f"So held they push up against the twine with {force_words(load)} on every {square}.")
    more = "more " if springs.preload_kpa > 0.0 else ""
    details.append(f"{force_words(press)} {more}on {square} presses them down by {PRESSED_BY_MM:g} mm.")
    yield WorkStep(
        stage,
        name,
        "Check that the springs stand and are tied as measured.",
        tuple(details),
        tuple(figures),
        (SPRINGS,),
    )
    wide, deep = (mm + 2.0 * HESSIAN_TURN_MM for mm in extent(pad.pad.outline.corners))
    yield WorkStep(
        stage,
        name,
        f"Cover the springs with cloth, {number(wide, 0)} × {number(deep, 0)} mm, {HESSIAN_TURN_MM:g} mm turned in all "
        "round.",
        ("Draw it smooth, never so tight that it pulls the springs lower.", *_gaps(pad)),
        (),
        (SPRINGS,),
    )


def _gaps(pad: BuiltPad) -> Iterator[str]:
    """Gaps between springs and rail, and what becomes of them."""
    for name in SIDES:
        side = pad.pad.sides[name]
        if side.gap > 0.0 and not (pad.pad.symmetric and name == "left"):
            word = pad.pad.side_word(name)
            if side.cloth:
                yield f"At the {word} the cloth goes on over the {side.gap:g} mm gap, fixed to the {side.cloth_fixed}."
            else:
                yield f"At the {word} the gap of {side.gap:g} mm between springs and rail stays open."


def layer_steps(job: Job, pad: BuiltPad, plan: PadPlan) -> Iterator[WorkStep]:
    """One step for every layer: what it is, how large, how it is fixed."""
    for one in plan.cut:
        if not one.shapes:
            continue
        notes = [note.replace(_ADHESIVE_WORDS, "") for note in one.shapes[0].notes]
        glued = any(_ADHESIVE_WORDS in note for shape in one.shapes for note in shape.notes)
        # Which way an arrow points is seen on the shape.
        how = " ".join(_sentence(note) for note in notes[1:] if not note.startswith("arrow"))
        sizes = [f"{_name(shape)}: {_box(shape)}, {shape.count_text}." for shape in one.shapes]
        cautions = (FIRE, *((ADHESIVE,) if glued else ()), BLADES)
        text = f"{_name(one.shapes[0])}: {notes[0]}."
        if len(sizes) == 1:
            text, sizes = f"{text[:-1]}, {sizes[0].partition(': ')[2]}", []
        yield WorkStep(pad_stage(pad), pad.pad.name, text, tuple(part for part in (*sizes, how) if part), (), cautions)


def _name(shape: Piece) -> str:
    return shape.name[0].upper() + shape.name[1:]


def _box(shape: Piece) -> str:
    x0, y0, x1, y1 = shape.box()
    return f"{number(x1 - x0, 0)} × {number(y1 - y0, 0)} mm"


def _sentence(note: str) -> str:
    return f"{note[0].upper()}{note[1:]}."


def _rounded(job: Job, pad: BuiltPad, plan: PadPlan | None) -> Iterator[WorkStep]:
    """Square edges of glued foam are rounded off with the knife."""
    if plan is None or not plan.roundings:
        return
    gauges = " and ".join(gauge.name for gauge in plan.gauges) or "rounding gauge"
    texts: Sequence[str] = texts_of(pad.pad, plan.roundings, job.sheet.unit)
    details = tuple(_sentence(text) for text in texts)
    yield WorkStep(
        pad_stage(pad),
        pad.pad.name,
        f"Round off the glued edges with the knife until the {gauges} fits.",
        details,
        (),
        (BLADES,),
    )
