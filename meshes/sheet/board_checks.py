"""Checks of boards that are covered flat: what they have not, whether openings and holes leave board and leather."""

from collections.abc import Sequence

from shapely import maximum_inscribed_circle
from shapely.geometry import Point, Polygon

from meshes.base.problems import KeyPath
from meshes.outlines.openings import followed
from meshes.records.board import MOST_FOAM_MM, Board
from meshes.schema.words import Faults
from meshes.sheet.parts import PadDraft

# What a pad on a frame or a closed cover may have and a flat board has not.
NOT_ON_A_BOARD = (
    *("sides", "profile", "inset", "line", "pleats", "support", "continues", "frame", "wanted_radius"),
    *("closed", "folds", "bands"),
)
# Less board than this beside an opening breaks, less leather than this does not hold when glued (P).
LEAST_RIM_MM, LEAST_GLUED_MM = 6.0, 6.0


def check_boards(drafts: Sequence[PadDraft], faults: Faults) -> None:
    """Check every board that is covered flat."""
    for drawn in drafts:
        if drawn.board is None:
            continue
        for key in NOT_ON_A_BOARD:
            if drawn.raw.get(key):
                text = "a board that is covered flat has nothing of this; leave it out, or leave out [pad.board]"
                faults.add("G190", (*drawn.keys, key), text)
        _check_foam(drawn, faults)
        if drawn.outline is not None and not faults.under((*drawn.keys, "board")):
            plate = Polygon(followed(drawn.outline.corners, drawn.outline.radii))
            _check_openings(drawn.board, plate, _foam_mm(drawn), (*drawn.keys, "board"), faults)


def _foam_mm(drawn: PadDraft) -> float:
    return sum(layer.thickness for layer in drawn.layers if layer is not None)


def _check_foam(drawn: PadDraft, faults: Faults) -> None:
    """Foam on a flat board is thin, and lies all over it."""
    for k, layer in enumerate(drawn.layers):
        keys = (*drawn.keys, "layer", k)
        if layer is None:
            continue
        if layer.where not in ("all", "face") or layer.within is not None:
            text = f'foam lies all over a flat board, found where = "{layer.where}"; write where = "all"'
            faults.add("G191", (*keys, "where"), text)
        for key in ("taper", "below", "sewn"):
            if drawn.raw["layer"][k].get(key):
                faults.add("G191", (*keys, key), "foam on a flat board ends at the board's edge; leave it out")
    if _foam_mm(drawn) > MOST_FOAM_MM:
        text = f"{_foam_mm(drawn):g} mm of foam on a board that is covered flat, which has {MOST_FOAM_MM:g} mm at most"
        faults.add(
            "G191", (*drawn.keys, "layer"), f"{text}; make it thinner, or leave out [pad.board] for a padded one"
        )


def _check_openings(board: Board, plate: Polygon, foam_mm: float, keys: KeyPath, faults: Faults) -> None:
    room = float(maximum_inscribed_circle(plate).length)
    if board.wrap >= room:
        text = f"leather turned in by {board.wrap:g} mm from both sides of a board {2.0 * room:.0f} mm wide meets on"
        faults.add("G195", (*keys, "wrap"), f"{text} its back; write less than {room:.0f} mm")
    shapes = [Polygon(followed(one.corners, one.radii)) for one in board.openings]
    for k, (opening, shape) in enumerate(zip(board.openings, shapes, strict=True)):
        own = (*keys, "opening", k)
        rim = plate.exterior.distance(shape) if plate.covers(shape) else 0.0
        if rim < LEAST_RIM_MM:
            text = f"the opening leaves {rim:.0f} mm of board beside it, and {LEAST_RIM_MM:g} mm are the least"
            faults.add("G192", (*own, "at"), f"{text}; move it inwards or make it smaller")
        elif rim < board.wrap + opening.wrap:
            text = f"{rim:.0f} mm of board beside the opening for {board.wrap:g} mm of leather turned in at the edge"
            text += f" and {opening.wrap:g} mm at the opening" if opening.wrapped else ""
            faults.warn("G193", (*own, "at"), f"{text}; glue one down and trim it before the other lies over it")
        beside = min((shape.distance(other) for other in shapes[:k]), default=LEAST_RIM_MM)
        if beside < LEAST_RIM_MM:
            text = f"{beside:.0f} mm of board between this opening and another, {LEAST_RIM_MM:g} mm are the least"
            faults.add("G192", (*own, "at"), f"{text}; move them apart or make one of both")
        inside = float(maximum_inscribed_circle(shape).length)
        least = board.thickness + foam_mm + LEAST_GLUED_MM
        if opening.wrapped and inside < least:
            text = f"an opening {2.0 * inside:.0f} mm wide leaves too little leather to turn in, {2.0 * least:.0f} mm"
            faults.add("G194", (*own, "edge"), f'{text} are the least on this board and foam; write edge = "cut"')
    for k, hole in enumerate(board.holes):
        at = Point(hole.at)
        rim = plate.exterior.distance(at) if plate.covers(at) else 0.0
        free = min((shape.distance(at) for shape in shapes), default=rim)
        if min(rim, free) < 0.5 * hole.diameter:
            short = 0.5 * hole.diameter - min(rim, free)
            text = f"a hole of {hole.diameter:g} mm at [{hole.at[0]:g}, {hole.at[1]:g}] does not lie on the board"
            faults.add("G192", (*keys, "hole", k, "at"), f"{text}; move it by {short:.0f} mm or more")
