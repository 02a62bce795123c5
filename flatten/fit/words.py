"""What was done to pieces at a fitting, and what the words for what was seen ask for, as a trimmer reads it."""

from collections.abc import Sequence
from dataclasses import dataclass

from flatten.fit.asked import RowDone
from meshes.base.units import span
from meshes.fitting.notes import FitNote
from meshes.fitting.words import ADVICE
from meshes.schema.cover_tables import OFF_RIDGE

# Behind a piece some edges of which are told apart by where they are.
SIDES_ARE = ", with left, right, upper and lower as it lies grain side up with its arrow up"
# Whose the figures of a seat are that was fitted; said once beside them.
FIGURES_ARE = (
    "After fitting: all figures are those of the pieces as they are cut now, on the seat as computed; where a row "
    "names what was seen, the seat is taken to be off there by what the row takes in or lets out."
)


@dataclass(frozen=True)
class RowTold:
    """What a row did. pad, piece: that it names; panels: of that piece; words: "round 1: ..."; follow: panels that
    follow, each with what is said on its piece; figures: those behind the words, by what they are."""

    note: FitNote
    pad: str
    piece: str
    panels: tuple[str, ...]
    words: str
    follow: tuple[tuple[str, str], ...] = ()
    figures: tuple[tuple[str, float], ...] = ()


def followed_words(names: Sequence[str]) -> str:
    """Pieces that follow along their seams, after what was done to one."""
    if not names:
        return ""
    words = " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
    return f"; {words} follow{'s' if len(names) == 1 else ''} along the seams"


def figures_words(done: Sequence[RowDone] | Sequence[RowTold]) -> str:
    """The same of rows that moved something; empty without one."""
    return FIGURES_ARE if done else ""


def done_words(row: RowDone) -> str:
    """One row on the piece it names: "round 1: taken in 6.0 mm each layer along front band, from 1 to 3, ..."."""
    note, piece = row.found.note, row.found.drawn.edge(row.found.where)[0]
    return f"{_what(row)}{_beyond(row)}{_followed(row, note)}{_sides(note, piece.mirrored_count)}"


def follow_words(row: RowDone, across: bool) -> str:
    """The same row on a piece that follows; across: it lies on the other side of the seam."""
    note = row.found.note
    over = (-row.each_mm,) * 2 if note.found == OFF_RIDGE else row.other_mm
    other = over if across else row.own_mm
    piece = row.found.drawn.edge(row.found.where)[0]
    return f"round {note.round}: {_way(sum(other))} {_amount(other)} mm where it is sewn to {piece.name}"


def _what(row: RowDone) -> str:
    note, (start, end) = row.found.note, row.found.ends
    edge = note.span.edge if note.span is not None else ""
    seen = f" ({note.found})" if note.found else ""
    amount = f"{abs(row.each_mm):.1f} mm each layer"
    if any(row.shares):
        # Both sides of a bend keep one length only when one of them takes more.
        amount = f"{_amount(row.own_mm)} mm here and {_amount(row.other_mm)} mm on the other layer"
        amount += ", shared so that both stay of one length round the bend,"
    return f"round {note.round}{seen}: {_way(row.each_mm)} {amount} along {edge}, from {start.name} to {end.name}"


def _amount(out: tuple[float, float]) -> str:
    """Without its sign, from the least to the most."""
    return span(*sorted((f"{abs(one):.1f}" for one in out), key=float))


def _way(out: float) -> str:
    return "let out" if out > 0 else "taken in"


def _beyond(row: RowDone) -> str:
    before, after = row.run_mm
    if before <= 0.0 and after <= 0.0:
        return ", to both corners"
    if before <= 0.0 or after <= 0.0:
        return f", run out over {max(before, after):.0f} mm and on to the corner"
    return f", run out over {span(*sorted((f'{before:.0f}', f'{after:.0f}'), key=float))} mm"


def _followed(row: RowDone, note: FitNote) -> str:
    if not row.follow:
        return ""
    one = len(row.follow) == 1
    follows = "follows" if one else "follow"
    over = "goes the other way" if one else "go the other way"
    return f"; {' and '.join(row.follow)} {over if note.found == OFF_RIDGE else follows}"


def _sides(note: FitNote, mirrored: int) -> str:
    if note.alone:
        return "; on this side alone"
    return "; both pieces of the pair" if mirrored else ""


def advice_of(note: FitNote) -> str:
    """What helps where a row says what was seen and moves nothing; empty for any other."""
    if note.found is None or note.span is not None or note.higher_mm:
        return ""
    where = f" towards {note.towards}" if note.towards else ""
    return f"{note.found}{where}: {ADVICE[note.found]}"
