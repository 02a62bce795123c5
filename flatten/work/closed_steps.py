"""Steps of covers that close round their core, of boards that are covered flat, and of flat panels that close a seat.

Order of a box cushion: zip into its strips, band closed, centre marks, first plate, second plate with the zip open,
turned (B: upholsterers' instructions for loose cushions).
"""

from collections.abc import Iterator, Sequence

from flatten.figures.padding import plan_for
from flatten.job.pipeline import Job
from flatten.report.edge_lengths import edge_lengths
from flatten.work.heights import named_places, thickness_at
from flatten.work.padding_steps import OFF_MM, layer_steps
from flatten.work.sewing_steps import BAND_STAGE, SeamGroup, seam_groups, sew_stage, welt_steps
from flatten.work.steps import ADHESIVE, BLADES, StepFigure, WorkStep
from flatten.work.tacking_steps import fit_stage
from meshes.base.files import number
from meshes.base.problems import and_words
from meshes.closed.words import zip_place
from meshes.records.closed import Closed
from meshes.records.frame import FIXED
from meshes.records.pad import Pad
from meshes.records.seam_kinds import WELTED
from meshes.seat.build import BuiltPad


def closed_steps(job: Job, pad: BuiltPad, closed: Closed) -> Iterator[WorkStep]:
    """Everything of a closed cover, from its zip to the filled cushion."""
    stage, name = sew_stage(pad), pad.pad.name
    groups = seam_groups(job, pad)
    if pad.closed is not None and pad.closed.zip_mm > 0.0:
        yield WorkStep(
            stage,
            name,
            f"Sew the zip in first, while its {'strips lie' if closed.form == 'box' else 'edges lie'} flat.",
            (*zip_details(pad.pad), *flap_words(job, closed)),
            (StepFigure("opening of the zip", pad.closed.zip_mm),),
            (BLADES,),
        )
    plain = [g for g in groups if closed.banded and g.stage < BAND_STAGE and g.step.kind != WELTED]
    yield from _joined(pad, closed, plain)
    yield from welt_steps(job, pad)
    yield from _plates(pad, closed, [group for group in groups if group not in plain])
    plan = plan_for(job, pad)
    if plan is not None:
        yield from layer_steps(job, pad, plan)
    yield from _filled(pad, closed)


def zip_details(pad: Pad) -> tuple[str, ...]:
    """Where the zip of a loose cushion runs."""
    where = zip_place(pad).removesuffix("; ")
    return (f"It runs {where}.",) if where else ()


def flap_words(job: Job, closed: Closed) -> tuple[str, ...]:
    """How the ends of the band are folded over the ends of the zip, where the sheet asks for flaps."""
    if not (closed.flap and closed.form == "box"):
        return ()
    wide = job.sheet.allowance.flap
    return (
        f"Then the flaps: at both ends of the band {wide:g} mm go on past the sew line. Fold them back at the fold "
        f"line, {0.5 * wide:g} mm out, over the end of the zip, and baste them; closing the band catches them.",
    )


def _joined(pad: BuiltPad, closed: Closed, groups: Sequence[SeamGroup]) -> Iterator[WorkStep]:
    """What closes the band to a ring in one step; seams of faces one by one."""
    ring = [group for group in groups if closed.banded and group.bands]
    for some in ([ring] if ring else []) + [[group] for group in groups if group not in ring]:
        how = "Close the band to a ring," if some is ring else "Sew"
        words = and_words([words for group in some for words in group.joined])
        lengths = dict.fromkeys(round(mm, 1) for group in some for mm in group.lengths_mm if mm)
        figures = tuple(StepFigure("length along the sew line", mm) for mm in lengths)
        yield WorkStep(sew_stage(pad), pad.pad.name, f"{how} {words}.", (), figures, (BLADES,))


def _plates(pad: BuiltPad, closed: Closed, groups: list[SeamGroup]) -> Iterator[WorkStep]:
    """Plates, or discs, to their band one after the other; the zip is open for the last."""
    plates = list(dict.fromkeys(plate for group in groups for plate in group.others))
    if not closed.banded:
        yield from _on_each_other(pad, closed, groups)
        return
    how = "Notch the centres of both, lay them on each other and sew from there both ways; round the corners clip the"
    word = "tube" if closed.form == "roll" else "band"
    for k, plate in enumerate(plates):
        last = k == len(plates) - 1
        opened = " Open the zip before you sew, or the cover cannot be turned." if last else ""
        text = f"Sew the {word} to the {plate}, the {'second' if last else 'first'} of two.{opened}"
        yield WorkStep(sew_stage(pad), pad.pad.name, text, (f"{how} {word}'s allowance.",), (), (BLADES,))
    yield _turned(pad)


def _on_each_other(pad: BuiltPad, closed: Closed, groups: list[SeamGroup]) -> Iterator[WorkStep]:
    """Two plates on one seam."""
    for group in groups:
        text = f"Open the zip and sew {and_words(group.joined)}, from one end of the zip round to the other."
        details = f"The corners are taken in by {number(closed.corners_in, 1)} mm: follow the line, it bends there."
        figures = tuple(StepFigure("length along the sew line", mm) for mm in group.lengths_mm if mm)
        yield WorkStep(sew_stage(pad), pad.pad.name, text, (details,) if closed.corners_in else (), figures, (BLADES,))
    yield _turned(pad)


def _turned(pad: BuiltPad) -> WorkStep:
    text = "Turn the cover through the zip and push its corners out, with nothing sharp."
    return WorkStep(sew_stage(pad), pad.pad.name, text)


def _filled(pad: BuiltPad, closed: Closed) -> Iterator[WorkStep]:
    """The core goes in, and what can be measured then."""
    if not closed.filled:
        return
    middle = named_places(pad)[0][1]
    thick = thickness_at(pad.surface.vertices, pad.surface.triangles, middle)
    wraps = sum(layer.thickness for layer in pad.pad.layers)
    facts = pad.closed
    fold = "Fold the core, put it in with its"
    if closed.board:
        fold = "Slide core and board in together, board down, with their"
    details = [f"{fold} corners into the corners of the cover, close the zip, and beat it even."]
    if facts is not None and facts.smaller.mm > 0.0:
        details.append(
            f"The cover is {number(facts.smaller.mm, 1)} mm smaller than the core in all, so that it fills it."
        )
    figures = []
    if closed.form == "box" and thick is not None:
        free = closed.mean_thickness + closed.board + closed.wrapped_faces * wraps
        parts = "core, board and wrap" if closed.board else "core and wrap"
        figures.append(StepFigure("thickness in the middle", thick, f"{parts} by themselves {free:g} mm", True))
        figures += band_heights(pad.pad, closed)
    elif closed.form == "knife_edge" and thick is not None:
        figures.append(StepFigure("thickness in the middle", thick, "", True))
    yield WorkStep(fit_stage(pad), pad.pad.name, "Fill the cover.", tuple(details), tuple(figures))
    yield WorkStep(
        fit_stage(pad),
        pad.pad.name,
        "Let it rest over night, then look again: seams straight, corners full, "
        f"{'the board flat below' if closed.board else 'both faces alike'}.",
        (f"A thickness more than {OFF_MM:g} mm off says that core or wrap is not as reckoned.",) if figures else (),
    )


def band_heights(pad: Pad, closed: Closed) -> list[StepFigure]:
    """The height of the band of a box; of a wedge at both its ends."""
    if closed.rear is None:
        return [StepFigure("height of the band", closed.height, "", True)]
    ends = (("front", closed.height), ("rear", closed.rear + closed.board))
    return [StepFigure(f"height of the band at the {pad.side_word(side)}", high, "", True) for side, high in ends]


def board_steps(job: Job, pad: BuiltPad) -> Iterator[WorkStep]:
    """A board that is covered flat: foam on, leather laid and glued, turned in behind."""
    plan = plan_for(job, pad)
    if plan is not None:
        yield from layer_steps(job, pad, plan)
    for piece in (piece for piece in job.pieces if piece.pad == pad.pad.name):
        notes = tuple(f"{note[0].upper()}{note[1:]}." for note in piece.notes)
        text = (
            f"Cover the board with {piece.name}: centre marks on those of the board, smooth it from the middle outward."
        )
        yield WorkStep(fit_stage(pad), pad.pad.name, text, notes, (), (ADHESIVE, BLADES))


def panel_steps(job: Job, pad: BuiltPad) -> Iterator[WorkStep]:
    """A flat panel that closes a seat, when everything else is fixed."""
    how = {kind: word for word, kind in FIXED.items()}
    long = [edge for edge in edge_lengths(job) if edge.pad == pad.pad.name and edge.kind in how]
    figures = tuple(
        StepFigure(edge.name.removeprefix(f"{pad.pad.name} "), edge.paper_mm, how[edge.kind]) for edge in long
    )
    text = f"Last of all close the seat with the {pad.pad.name}; the blind-tacked edge first, then the sides."
    yield WorkStep(fit_stage(pad), pad.pad.name, text, (), figures, (BLADES,))
