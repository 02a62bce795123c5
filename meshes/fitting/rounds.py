"""Rounds of fitting: what a sheet has so far, and which number the next row carries."""

from collections.abc import Sequence

from meshes.fitting.notes import FitNote

FIRST_ROUND = 1


def last_round(notes: Sequence[FitNote]) -> int:
    """The latest round that has a row; FIRST_ROUND where there is none."""
    return max((note.round for note in notes), default=FIRST_ROUND)


def by_round(notes: Sequence[FitNote]) -> dict[int, tuple[FitNote, ...]]:
    """The rows of every round, earlier ones first."""
    rounds = sorted({note.round for note in notes})
    return {number: tuple(note for note in notes if note.round == number) for number in rounds}
