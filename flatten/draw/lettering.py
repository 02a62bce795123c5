"""What is written on a piece: its name and instructions in one block, and what meets it along each edge."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from flatten.draw.fonts import LINE_ROOM, words_width
from flatten.draw.imprint import NO_IMPRINT, Imprint
from flatten.draw.labels import FreeRoom, LabelPlace, readable, turned_box
from flatten.draw.pen import Pen, PenLayer
from flatten.pieces.piece import Edge, EdgeKind, Piece
from meshes.base.arrays import FloatArray

NAME_MM = 8.0
LINE_MM = 4.0
SMALLEST_MM = 3.0
"""Capitals no smaller than this: what has no room in them is left out or said elsewhere, never written smaller."""
EDGE_NAME_MM = (3.5, SMALLEST_MM)
EDGE_AWAY_MM = (2.5, 9.0)
"""Words along an edge stand so far from it: beside it, or behind the numbers of its marks."""
EDGE_SHARES = tuple(0.5 + side * k / 40.0 for k in range(18) for side in ((1, -1) if k else (1,)))
KIND_WORDS = {
    EdgeKind.SEWN: "sewn",
    EdgeKind.WELTED: "welted",
    EdgeKind.TOPSTITCHED: "topstitched",
    EdgeKind.DOUBLE_TOPSTITCHED: "double topstitched",
    EdgeKind.LAPPED_OVER: "laps over",
    EdgeKind.LAPPED_UNDER: "lapped under",
    EdgeKind.PULLED: "pulled and tacked",
    EdgeKind.CLOSED: "closed by hand",
    EdgeKind.ZIP: "folded beside the zip",
    EdgeKind.FLAP: "folded back over the zip",
    EdgeKind.BLIND: "blind-tacked",
    EdgeKind.RINGED: "hog-ringed",
    EdgeKind.CLIPPED: "sewn to an edge clip",
    EdgeKind.GLUED: "glued",
    EdgeKind.CORDED: "hem for a draw cord",
    EdgeKind.BARE: "cut edge",
    EdgeKind.OVERSIZE: "oversize",
    EdgeKind.MITRED: "mitred, out by",
    EdgeKind.FOLDED: "folded and tacked",
    EdgeKind.WRAPPED: "wrapped and glued",
}


LONGEST_LINE = 44
"""Letters in a line of the block; longer texts are broken."""


@dataclass(frozen=True)
class Block:
    """Lines of writing one below another: words and capital height in mm of each, and their place."""

    lines: tuple[tuple[str, float], ...]
    place: LabelPlace


def allowance_text(piece: Piece) -> str:
    """The allowances of a piece by kind of edge: "allowance: sewn 12 mm, pulled 50 mm"."""
    parts = []
    for kind in (kind for kind in EdgeKind if kind is not EdgeKind.BARE):
        widths = sorted({edge.allowance_mm for edge in piece.edges if edge.kind is kind and edge.allowance_mm > 0.0})
        if widths:
            parts.append(f"{kind.value} {' and '.join(f'{width:g}' for width in widths)} mm")
    return f"allowance: {', '.join(parts)}" if parts else "no allowance: cut on the line"


def place_block(
    piece: Piece, room: FreeRoom, angles: Sequence[float], share: float, *, imprint: Imprint = NO_IMPRINT
) -> Block:
    """The fullest wording that can be written in letters of SMALLEST_MM at least; none where no wording can.

    share: part of the full letter height to use at most, 1 = NAME_MM. Takes the room it needs.
    """
    for wording in _wordings(piece, imprint):
        width, height = _size(wording)
        place = room.best_place(width, height, angles, most=share)
        if place.scale * min(size for _, size in wording) >= SMALLEST_MM - 1e-9:
            room.take(turned_box(place.at, place.scale * width, place.scale * height, place.angle_deg))
            return Block(wording, place)
    return Block((), LabelPlace((0.0, 0.0), 0.0, 0.0))


def _wordings(piece: Piece, imprint: Imprint) -> list[tuple[tuple[str, float], ...]]:
    """Ways of writing the same, from tall to one line, then leaving out what the edges and the cut list also say."""
    name, pad, widths = piece.name, piece.pad, imprint.words(allowance_text(piece))
    # Which side lies up is said in every wording, the shortest too: a piece cut the wrong way round is lost.
    count = " – ".join(text for text in (piece.count_text, piece.side_text) if text)
    last = " – ".join(text for text in (name, piece.side_text) if text)
    told = [imprint.words(note) for note in piece.notes]
    notes = tuple((line, LINE_MM) for note in told for line in _folded(note))
    # Whose job a loose piece is of, and of which state of the sheet, belongs to what no wording leaves out.
    job = ((imprint.line, LINE_MM),) if imprint.line else ()
    widths_lines = tuple((line, LINE_MM) for line in _folded(widths))
    full = ((name, NAME_MM), (pad, LINE_MM), *job, (count, LINE_MM), *widths_lines, *notes)
    broken = tuple((part, LINE_MM) for part in widths.split(", "))
    tall = ((name, NAME_MM), (pad, LINE_MM), *job, (count, LINE_MM), *broken, *notes)
    lower = ((name, 1.5 * LINE_MM), *tall[1:])
    flat = ((name, NAME_MM), (f"{pad} – {count}", LINE_MM), *job, (" – ".join((widths, *told)), LINE_MM))
    short = ((name, 1.5 * LINE_MM), (f"{pad} – {count}", LINE_MM), *job)
    line = " – ".join(text for text in (name, pad, count, imprint.line) if text)
    stacked = ((name, LINE_MM), (pad, LINE_MM), *((part, LINE_MM) for part in count.split(" – ")), *job)
    least = ((last, LINE_MM), *job)
    return [
        full,
        tall,
        lower,
        flat,
        short,
        ((line, LINE_MM),),
        stacked,
        least,
        ((_joined(last, imprint.line), LINE_MM),),
        # A small piece had better say its name and its side alone than nothing.
        ((last, LINE_MM),),
        tuple((part, LINE_MM) for part in (*name.split(" ("), *_halves(piece.side_text)) if part),
        ((name, LINE_MM),),
    ]


def _halves(side: str) -> tuple[str, ...]:
    """Which side lies up, in two short lines."""
    words = side.split(" ")
    return (" ".join(words[:2]), " ".join(words[2:]))


def _joined(*parts: str) -> str:
    return " – ".join(part for part in parts if part)


def _folded(text: str, most: int = LONGEST_LINE) -> list[str]:
    """A text in lines of about `most` letters at most, broken between its words."""
    count = -(-len(text) // most)
    lines = [""]
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and len(longer) > max(len(text) / count + 4, 8):
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def _size(lines: tuple[tuple[str, float], ...]) -> tuple[float, float]:
    width = max(words_width(words, size) for words, size in lines)
    return width + 4.0, LINE_ROOM * sum(size for _, size in lines) + 2.0


def draw_block(block: Block, pen: Pen) -> None:
    """Write the lines of a block below each other, each centred."""
    if not block.lines:
        return
    turn = np.radians(block.place.angle_deg)
    down = np.array([np.sin(turn), -np.cos(turn)])
    scale = block.place.scale
    reach = -0.5 * scale * LINE_ROOM * sum(size for _, size in block.lines)
    for words, size in block.lines:
        at = block.place.at + (reach + 0.5 * scale * LINE_ROOM * size) * down
        reach += scale * LINE_ROOM * size
        pen.text(
            PenLayer.TEXT,
            (float(at[0]), float(at[1])),
            words,
            height_mm=scale * size,
            angle_deg=block.place.angle_deg,
        )


def draw_edge_name(edge: Edge, pen: Pen, room: FreeRoom, *, imprint: Imprint = NO_IMPRINT) -> bool:
    """Write along an edge, inside the sew line, what it is sewn to and how, with its allowance: in one line, in two, or
    at two places, as there is room; False where there is none."""
    name, how, note, width = _edge_words(edge, imprint)
    # A note, such as how much is eased in, is what the hand has to know there: it goes before the name does.
    noted = ((_joined(name, how, note),), (_joined(name, how), note), (name, how, note), (how, note))
    if note and any(_written(edge, lines, pen, room) for lines in noted):
        return True
    if note:
        _written(edge, (note,), pen, room)
    if any(_written(edge, lines, pen, room) for lines in ((_joined(name, how),), (name, how))):
        return True
    if _written(edge, (how,), pen, room):
        _written(edge, (name,), pen, room)
        return True
    # The allowance is the last to go: what is cut wrong there is lost.
    return any(_written(edge, (words,), pen, room) for words in (f"{name} {width}".strip(), width) if width)


def _edge_words(edge: Edge, imprint: Imprint) -> tuple[str, str, str, str]:
    """Name of an edge, what happens there, its note, and its allowance alone, empty where there is none."""
    kind, width = KIND_WORDS[edge.kind], imprint.words(f"{edge.allowance_mm:g} mm") if edge.allowance_mm > 0 else ""
    how = kind if edge.kind is EdgeKind.BARE else f"{kind} {width}" if width else f"{kind}, not cut open"
    return edge.name, how, imprint.words(edge.note), width


def _written(edge: Edge, lines: tuple[str, ...], pen: Pen, room: FreeRoom) -> bool:
    """Lines of words below each other along an edge, near its middle; False, and nothing written, without room."""
    for away, height in product(EDGE_AWAY_MM, EDGE_NAME_MM):
        width = max(words_width(words, height) for words in lines) + 1.0
        for at, angle in _places(edge, (width, LINE_ROOM * height * len(lines)), away):
            shape = turned_box(at, width, LINE_ROOM * height * len(lines), angle)
            if room.holds(shape):
                down = np.array([np.sin(np.radians(angle)), -np.cos(np.radians(angle))])
                for k, words in enumerate(lines):
                    x, y = at + LINE_ROOM * height * (k - 0.5 * (len(lines) - 1)) * down
                    pen.text(PenLayer.TEXT, (float(x), float(y)), words, height_mm=height, angle_deg=angle)
                room.take(shape)
                return True
    return False


def _places(edge: Edge, size: tuple[float, float], away: float) -> Iterator[tuple[FloatArray, float]]:
    """Centre and angle of words of a size along an edge, from its middle outwards; none where it is too short."""
    steps = np.linalg.norm(np.diff(edge.points, axis=0), axis=1)
    length, width = float(steps.sum()), size[0]
    if width > 0.95 * length:
        return
    for share in EDGE_SHARES:
        if 0.5 * width <= share * length <= length - 0.5 * width:
            yield _beside(edge.points, steps, share * length, size, away)


def _beside(
    points: FloatArray, steps: FloatArray, place: float, size: tuple[float, float], away: float
) -> tuple[FloatArray, float]:
    """Centre and angle of words inside the sew line, clear by `away` of the edge's bend over their own width."""
    width, height = size
    ends = np.concatenate([[0.0], np.cumsum(steps)])
    spots = np.clip(np.linspace(place - 0.5 * width, place + 0.5 * width, 9), 0.0, ends[-1])
    run = np.column_stack([np.interp(spots, ends, points[:, 0]), np.interp(spots, ends, points[:, 1])])
    chord = run[-1] - run[0]
    along = chord / max(float(np.linalg.norm(chord)), 1e-9)
    inward = np.array([-along[1], along[0]])
    deepest = float(((run - run[4]) @ inward).max())
    at = run[4] + (deepest + 0.5 * height + away) * inward
    return at, readable(float(np.degrees(np.arctan2(along[1], along[0]))))
