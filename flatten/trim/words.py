"""What is said of a covered board: on its piece, in the summary and in the report."""

from meshes.base.files import number
from meshes.closed.fullness import wrap_mm
from meshes.records.board import Board
from meshes.seat.build import BuiltPad

# The last stretch of what is turned in is pared, so that it does not show (M).
SKIVED_MM = 12.0


def piece_notes(pad: BuiltPad, board: Board, leather_mm: float, *, slit: bool) -> tuple[str, ...]:
    """What a piece says of how it is wrapped; slit: it is slit at hollow corners."""
    round_it = [f"board {number(board.thickness, 1)}", f"leather {number(leather_mm, 1)}"]
    if wrap_mm(pad.pad) > 0.0:
        round_it.insert(0, f"foam {number(wrap_mm(pad.pad), 1)}")
    notes = [
        f"round the edge {' + '.join(round_it)} mm, then glued {number(board.wrap, 1)} mm to the back, from the glue "
        f"line out; pare the last {number(SKIVED_MM, 0)} mm",
        "notches at corners: the flaps meet behind and do not lie over each other",
    ]
    wrapped = [one for one in board.openings if one.wrapped]
    if slit or wrapped:
        notes.append("make slits only when the card is covered, from the back")
    if wrapped:
        names = ", ".join(dict.fromkeys(one.name for one in wrapped))
        notes.append(f"turned in and glued behind through: {names}")
    if flush := [one for one in board.openings if not one.wrapped]:
        notes.append(f"cut along the board's edge: {', '.join(dict.fromkeys(one.name for one in flush))}")
    if board.holes:
        notes.append("holes are marked, not cut: pierce them when the card is covered")
    return tuple(notes)


def board_words(pad: BuiltPad) -> str:
    """One sentence on a covered board; empty for any other pad."""
    board = pad.pad.board
    if board is None:
        return ""
    words = ["a board covered flat" if board.pair is None else "a pair of boards covered flat"]
    words.append(f"{number(board.thickness, 1)} mm thick, leather glued {number(board.wrap, 1)} mm to the back")
    if board.openings:
        wrapped = sum(one.wrapped for one in board.openings)
        words.append(f"{_counted(len(board.openings), 'opening')}, of which {wrapped} with leather turned in")
    if board.holes:
        words.append(f"{_counted(len(board.holes), 'hole')} to pierce when covered")
    return ", ".join(words)


def _counted(count: int, word: str) -> str:
    return f"{count} {word}" + ("" if count == 1 else "s")
