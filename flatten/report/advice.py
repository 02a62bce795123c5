"""Verdicts in plain words: what each one means, what to do next, and where on the piece the cover is asked most."""

from collections.abc import Sequence

import numpy as np

from flatten.leather.verdict import Verdict, is_tight
from flatten.maps.flat import Flat
from flatten.pieces.over_notes import near, over_by, over_words
from flatten.pieces.piece import Piece
from meshes.base.problems import Problem, one_of

# Symbol and what it says; the words carry the meaning, the symbol and a colour repeat it.
SYMBOLS: dict[str, str] = {Verdict.FITS: "✓", Verdict.EASE: "✓", Verdict.TIGHT: "✗", Verdict.PROVEN: "✗"}

# Problems of pieces for which there is no leather.
NO_ROOM_CODES = ("H003", "H005")


def symbol(verdict: str | None) -> str:
    """One character for a verdict."""
    return SYMBOLS.get(verdict or "", "–")


def kind_of(verdict: str | None) -> str:
    """A word for the looks of a verdict: good, ease, bad, worst or none."""
    kinds: dict[str, str] = {Verdict.FITS: "good", Verdict.EASE: "ease", Verdict.TIGHT: "bad", Verdict.PROVEN: "worst"}
    return kinds.get(verdict or "", "none")


def next_step(piece: Piece, flat: Flat) -> str:
    """What to do about a piece, in one or two sentences."""
    if flat.verdict == Verdict.FITS:
        return "Cut as drawn."
    if flat.verdict == Verdict.EASE:
        there = _said(over_words(piece, flat))
        return f"Cut as drawn; ease the fullness in between the notches, with steam or by hand{there}."
    if flat.verdict == Verdict.TIGHT:
        return (
            f"Asks more than the leather gives, most of all {near(piece, _farthest(flat))}{_said(over_by(flat))}. Part "
            "it there by a seam or dart, choose a softer leather, or make the pad flatter."
        )
    if flat.verdict == Verdict.PROVEN:
        where = "" if flat.trouble is None else f", as its shape {near(piece, _triangle_at(flat))} shows"
        return (
            f"No pattern in one part can do it, however it is cut{where}. It takes another seam or dart there, a "
            "softer leather, or a flatter shape: trimloft relief finds where a cut helps most."
        )
    return "Not judged: no budget is known for this leather."


def _said(words: str) -> str:
    return f" ({words})" if words else ""


def overall(verdicts: Sequence[str | None]) -> str:
    """The state of the whole job in one sentence."""
    tight = sum(is_tight(verdict) for verdict in verdicts)
    if any(verdict is None for verdict in verdicts):
        return "Some pieces could not be judged; see the table."
    if len(verdicts) == 1:
        return "The only piece asks more than the leather gives." if tight else "The only piece fits the leather."
    if not tight:
        return f"All {len(verdicts)} pieces fit the leather."
    if tight == len(verdicts):
        return "No piece fits the leather as it is drawn."
    ask = "asks" if tight == 1 else "ask"
    return f"{tight} of {len(verdicts)} pieces {ask} more than the leather gives."


def no_room_words(problems: Sequence[Problem]) -> str:
    """How many pieces have no leather, and where to read of them; empty where every piece has found room."""
    codes = [problem.code for problem in problems if problem.code in NO_ROOM_CODES]
    if not codes:
        return ""
    have = "piece has" if len(codes) == 1 else "pieces have"
    return f"{len(codes)} {have} no leather yet: no room on the hides given, see {one_of(dict.fromkeys(codes))}."


def extremes(piece: Piece, flat: Flat) -> list[tuple[str, str]]:
    """Where the piece is stretched most and where it has most fullness, with the nearest edge by name."""
    most, least = int(np.argmax(flat.stretch[:, 0])), int(np.argmin(flat.stretch[:, 1]))
    rows = []
    if flat.stretch[most, 0] >= 1.0005:
        rows.append(("most stretch", f"{100.0 * (flat.stretch[most, 0] - 1.0):.1f}\u00a0% {near(piece, most)}"))
    if flat.stretch[least, 1] <= 0.9995:
        rows.append(("most fullness", f"{100.0 * (1.0 - flat.stretch[least, 1]):.1f}\u00a0% {near(piece, least)}"))
    return rows


def _triangle_at(flat: Flat) -> int:
    """A triangle in the middle of the place where the floor is proven."""
    assert flat.trouble is not None
    return int(np.argmax((flat.triangles == flat.trouble.vertex).any(axis=1)))


def _farthest(flat: Flat) -> int:
    """The triangle that uses the leather most; without a budget the one farthest from true length, in ratio."""
    if flat.use is not None:
        return int(np.argmax(flat.use))
    return int(np.argmax(np.maximum(flat.stretch[:, 0], 1.0 / flat.stretch[:, 1])))
