"""Rows of fitting as records; what contradicts itself within a row is told at its line."""

from collections.abc import Sequence

from meshes.fitting.notes import FitNote, FitSpan
from meshes.schema.cover_tables import DRAG_LINE, FitInput
from meshes.schema.words import Faults


def fit_notes(rows: Sequence[FitInput], faults: Faults) -> tuple[FitNote, ...]:
    """The rows of a sheet, those of earlier rounds first; what is wrong with one goes to `faults`."""
    found = [_note(row, k, faults) for k, row in enumerate(rows)]
    return tuple(sorted((note for note in found if note is not None), key=lambda note: note.round))


def _note(row: FitInput, k: int, faults: Faults) -> FitNote | None:
    fault = _amount_fault(row) or _seen_fault(row)
    if fault is not None:
        code, key, text = fault
        faults.add(code, ("fit", k, key), text)
        return None
    span = None
    if row.take_in is not None or row.let_out is not None:
        out = row.let_out if row.let_out is not None else -float(row.take_in or 0.0)
        span = FitSpan(row.edge or "", row.from_ or "", row.to or "", out, row.counted)
    return FitNote(
        row.round,
        k,
        row.piece,
        span,
        row.found,
        row.towards,
        row.stretched,
        row.way,
        row.padding,
        row.edge,
        row.alone,
        row.from_,
        row.to,
        row.taper,
    )


def _amount_fault(row: FitInput) -> tuple[str, str, str] | None:
    """What is wrong with what is moved: code, key and text."""
    if row.take_in is not None and row.let_out is not None:
        text = "given together with take_in; one stretch is either taken in or let out in one round: keep one of them"
        return "S065", "let_out", text
    moved = row.take_in is not None or row.let_out is not None
    missing = [key for key, value in (("edge", row.edge), ("from", row.from_), ("to", row.to)) if value is None]
    if moved and missing:
        text = f"an amount without {' and '.join(missing)}; say which edge, and between which two of its marks"
        return "S066", "take_in" if row.take_in is not None else "let_out", text
    if row.taper is not None and not row.padding:
        return "S066", "taper", "goes with padding, and says over how much that runs out; give padding, or take it out"
    if row.padding is not None and row.edge is None and (row.from_ is not None or row.to is not None):
        return "S066", "padding", "marks without edge; say which edge they are along"
    if not moved and row.padding is None and (row.from_ is not None or row.to is not None):
        text = "marks without an amount; give take_in, let_out or padding, or leave from and to out"
        return "S066", "from" if row.from_ is not None else "to", text
    return None


def _seen_fault(row: FitInput) -> tuple[str, str, str] | None:
    """What is wrong with what was seen: code, key and text."""
    told = (row.take_in, row.let_out, row.found, row.stretched, row.padding)
    if all(value is None for value in told):
        text = "says nothing; give take_in or let_out with an edge and two marks, or found, stretched or padding"
        return "S067", "piece", text
    if (row.towards is None) == (row.found == DRAG_LINE):
        if row.towards is None:
            return "S068", "found", "a drag line without towards; say which edge or corner of the piece it runs to"
        return "S068", "towards", f'goes with found = "{DRAG_LINE}" only; take it out, or say what was found'
    return None
