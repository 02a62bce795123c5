"""What is written on a piece: its name and instructions in one block, and what meets it along each edge."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flatten.draw.fonts import LINE_ROOM, words_width
from flatten.draw.labels import FreeRoom, LabelPlace, readable, turned_box
from flatten.draw.pen import Pen, PenLayer
from flatten.pieces.piece import Edge, EdgeKind, Piece
from meshes.base.arrays import FloatArray

NAME_MM = 8.0
LINE_MM = 4.0
EDGE_NAME_MM = (3.5, 2.8, 2.2, 1.8)
EDGE_SHARES = (0.5, 0.42, 0.58, 0.34, 0.66, 0.25, 0.75, 0.18, 0.82, 0.12, 0.88)
SMALLEST_MM = 1.4
KIND_WORDS = {
    EdgeKind.SEWN: "sewn",
    EdgeKind.WELTED: "welted",
    EdgeKind.PULLED: "pulled and tacked",
    EdgeKind.CLOSED: "closed by hand",
    EdgeKind.BARE: "cut edge",
    EdgeKind.OVERSIZE: "oversize",
    EdgeKind.MITRED: "mitred, out by",
}


@dataclass(frozen=True)
class Block:
    """Lines of writing one below another: words and capital height in mm of each, and their place."""

    lines: tuple[tuple[str, float], ...]
    place: LabelPlace


def allowance_text(piece: Piece) -> str:
    """The allowances of a piece by kind of edge: "allowance: sewn 12, pulled 50 mm"."""
    parts = []
    for kind in (kind for kind in EdgeKind if kind is not EdgeKind.BARE):
        widths = sorted({edge.allowance_mm for edge in piece.edges if edge.kind is kind})
        if widths:
            parts.append(f"{kind.value} {' and '.join(f'{width:g}' for width in widths)}")
    return f"allowance: {', '.join(parts)} mm" if parts else "no allowance: cut on the line"


def place_block(piece: Piece, room: FreeRoom, angles: Sequence[float], share: float) -> Block:
    """The fullest wording that can be written at a good size, else the one that comes out largest.

    share: part of the full letter height to use at most, 1 = NAME_MM. Takes the room it needs.
    """
    best = Block((), LabelPlace((0.0, 0.0), 0.0, 0.0))
    best_height = 0.0
    for wording in _wordings(piece):
        width, height = _size(wording)
        place = room.best_place(width, height, angles, most=share)
        letters = place.scale * min(size for _, size in wording)
        if letters > 1.15 * best_height or not best.lines:
            best, best_height = Block(wording, place), letters
        if letters >= min(2.4, 0.98 * share * LINE_MM):
            break
    if best_height < SMALLEST_MM * 0.7:
        return Block((), best.place)
    width, height = _size(best.lines)
    room.take(turned_box(best.place.at, best.place.scale * width, best.place.scale * height, best.place.angle_deg))
    return best


def _wordings(piece: Piece) -> list[tuple[tuple[str, float], ...]]:
    """Ways of writing the same, from tall to one line, then leaving out what the edges and the cut list also say."""
    name, pad, widths = piece.name, piece.pad, allowance_text(piece)
    # Which side lies up is said in every wording, the shortest too: a piece cut the wrong way round is lost.
    count = " – ".join(text for text in (piece.count_text, piece.side_text) if text)
    last = " – ".join(text for text in (name, piece.side_text) if text)
    notes = tuple((note, LINE_MM) for note in piece.notes)
    full = ((name, NAME_MM), (pad, LINE_MM), (count, LINE_MM), (widths, LINE_MM), *notes)
    broken = tuple((part, LINE_MM) for part in widths.split(", "))
    tall = ((name, NAME_MM), (pad, LINE_MM), (count, LINE_MM), *broken, *notes)
    flat = ((name, NAME_MM), (f"{pad} – {count}", LINE_MM), (" – ".join((widths, *piece.notes)), LINE_MM))
    short = ((name, 1.5 * LINE_MM), (f"{pad} – {count}", LINE_MM))
    return [full, tall, flat, short, ((f"{name} – {pad} – {count}", LINE_MM),), ((last, LINE_MM),)]


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


def draw_edge_name(edge: Edge, pen: Pen, room: FreeRoom) -> bool:
    """Write along an edge, inside the sew line, what it is sewn to and how; False where there is no room."""
    steps = np.linalg.norm(np.diff(edge.points, axis=0), axis=1)
    length = float(steps.sum())
    how = KIND_WORDS[edge.kind] if edge.kind is EdgeKind.BARE else f"{KIND_WORDS[edge.kind]} {edge.allowance_mm:g} mm"
    note = f" – {edge.note}" if edge.note else ""
    for words in (f"{edge.name} – {how}{note}", f"{edge.name}{note}", edge.name):
        for height in EDGE_NAME_MM:
            width = words_width(words, height) + 1.0
            if width > 0.95 * length:
                continue
            for share in EDGE_SHARES:
                if not 0.5 * width <= share * length <= length - 0.5 * width:
                    continue
                at, angle = _beside(edge.points, steps, share * length, width, height)
                shape = turned_box(at, width, LINE_ROOM * height, angle)
                if room.holds(shape):
                    x, y = float(at[0]), float(at[1])
                    pen.text(PenLayer.TEXT, (x, y), words, height_mm=height, angle_deg=angle)
                    room.take(shape)
                    return True
    return False


def _beside(
    points: FloatArray, steps: FloatArray, place: float, width: float, height: float
) -> tuple[FloatArray, float]:
    """Centre and angle of words inside the sew line, clear of the edge's bend over their own width."""
    ends = np.concatenate([[0.0], np.cumsum(steps)])
    spots = np.clip(np.linspace(place - 0.5 * width, place + 0.5 * width, 9), 0.0, ends[-1])
    run = np.column_stack([np.interp(spots, ends, points[:, 0]), np.interp(spots, ends, points[:, 1])])
    chord = run[-1] - run[0]
    along = chord / max(float(np.linalg.norm(chord)), 1e-9)
    inward = np.array([-along[1], along[0]])
    deepest = float(((run - run[4]) @ inward).max())
    at = run[4] + (deepest + 0.5 * LINE_ROOM * height + 2.5) * inward
    return at, readable(float(np.degrees(np.arctan2(along[1], along[0]))))
