"""Rows that give pieces another size: what was done to each piece, as a trimmer reads it."""

from collections.abc import Sequence
from dataclasses import dataclass

from flatten.fit.words import followed_words
from meshes.fitting.notes import FitNote

# What is true of a seat over a place that a dry fit found higher or lower.
NOT_SETTLED = "the seat is not settled again over it: padding pressed and springs down are told as before the fitting"


@dataclass(frozen=True)
class StretchRead:
    """A reading of a dry fit that counts. panel: that is drawn; was, now: mean stretch, a fraction, that it was cut for
    and that was found; long_mm: size of the piece that way before and after."""

    note: FitNote
    panel: str
    was: float
    now: float
    long_mm: tuple[float, float]

    @property
    def factor(self) -> float:
        """By what the piece grows that way."""
        return (1.0 + self.was) / (1.0 + self.now)


def stretch_words(read: StretchRead, follow: Sequence[str], sides: str) -> str:
    """What a measured stretch did to its piece."""
    before, after = read.long_mm
    way = "shorter" if read.factor < 1.0 else "longer"
    return (
        f"round {read.note.round}: leather found stretched {100 * read.now:.1f} % {read.note.way} the backbone at the "
        f"pull it was cut for, reckoned with {100 * read.was:.1f} %: cut {100 * abs(read.factor - 1.0):.1f} % {way} "
        f"that way, {before:.1f} to {after:.1f} mm{followed_words(follow)}{sides}"
    )


def stretch_follow_words(read: StretchRead, piece: str) -> str:
    """The same on a piece that is sewn to it."""
    way = "shorter" if read.factor < 1.0 else "longer"
    return f"round {read.note.round}: {way} where it is sewn to {piece}, whose leather was found stretched otherwise"


def raise_words(
    note: FitNote, where: str, figures: tuple[float, float, float], besides: tuple[str, Sequence[str]]
) -> str:
    """What padding that is to be higher did. figures: over how much it runs out and by how much the piece is let out,
    mm, and by how much it grows, mm2; besides: what to lay on or take away, and what follows."""
    laid, follow = besides
    amount, taper, out = note.higher_mm or 0.0, figures[0], figures[1]
    more = "higher" if amount > 0.0 else "lower"
    moved = f"{'let out' if out > 0.0 else 'taken in'} {abs(out):.1f} mm across it at the most"
    return (
        f"round {note.round}: padding {abs(amount):.1f} mm {more} {where}, run out over {taper:.0f} mm: {moved}, "
        f"{figures[2] / 100.0:+.1f} cm2; {laid}{followed_words(follow)}; {NOT_SETTLED}"
    )


def raise_follow_words(note: FitNote, piece: str) -> str:
    """The same on another piece over that place."""
    amount = note.higher_mm or 0.0
    more = "higher" if amount > 0.0 else "lower"
    return f"round {note.round}: drawn over padding {abs(amount):.1f} mm {more} at {piece}"
