"""What the page asks for, in the order in which one measures: what it is, its plan, its height, its sides, what carries
it, its padding, its cover, the paper. Each question names the place of its answer in the sheet and the part of the
drawing that shows where the tape goes.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from meshes.base.problems import KeyPath
from meshes.records.pad import SIDES
from meshes.schema.tables import BLOCK_KG

PadTable = Mapping[str, Any]


@dataclass(frozen=True)
class Question:
    """keys: below the pad, or below the sheet; label: what is asked; tape: the part of the drawing; more: asked only on
    demand, as it is rarely needed; begins: of a table that is there or not, the key it begins with."""

    keys: KeyPath
    label: str
    tape: str = ""
    more: bool = False
    begins: str = ""


@dataclass(frozen=True)
class RowKind:
    """A list of tables: keys; what a row is called; questions of one row; what a new one holds; which rows are told
    here, where a list is told in several stages; named: rows stand in a table under names, not in a list."""

    keys: KeyPath
    called: str
    questions: tuple[Question, ...]
    new: Mapping[str, Any]
    mine: Callable[[Mapping[str, Any]], bool] = lambda row: True
    named: bool = False


@dataclass(frozen=True)
class Stage:
    """Questions that belong together. word: of the stage, for addresses; why: one sentence on how it is measured;
    drawing: which drawing stands beside it; pad: the questions are about a pad, not the sheet; asked: whether they are
    asked of a pad at all; seldom: most seats do without."""

    word: str
    title: str
    why: str
    drawing: str
    questions: tuple[Question, ...] = ()
    rows: RowKind | None = None
    pad: bool = True
    asked: Callable[[PadTable], bool] = lambda pad: True
    seldom: bool = False


def on_frame(pad: PadTable) -> bool:
    """The cover is held on a frame: neither a loose cushion nor a board."""
    return not isinstance(pad.get("closed"), dict) and not isinstance(pad.get("board"), dict)


def closed_form(pad: PadTable) -> str:
    """The form of a closed cover: box, roll, panel; empty where it is none."""
    closed = pad.get("closed")
    return str(closed.get("form", "box")) if isinstance(closed, dict) else ""


def has_shape(pad: PadTable) -> bool:
    """Its plan is a named shape, not four corners."""
    outline = pad.get("outline")
    return isinstance(outline, dict) and outline.get("shape") in ("round", "d", "kidney")


def _is_traced(pad: PadTable) -> bool:
    outline = pad.get("outline")
    return isinstance(outline, dict) and isinstance(outline.get("points"), list)


_PLAN = (
    Question(("outline", "front_width"), "Width in front", "front_width"),
    Question(("outline", "middle_width"), "Width half-way", "middle_width", more=True),
    Question(("outline", "rear_width"), "Width at the rear", "rear_width"),
    Question(("outline", "depth"), "Depth, front to rear", "depth"),
    Question(("outline", "diagonal_left"), "Diagonal from front left to rear right", "diagonal_left", more=True),
    Question(("outline", "diagonal_right"), "Diagonal from front right to rear left", "diagonal_right", more=True),
    Question(("outline", "corner_radius"), "Radius of the corners", "corner_radius"),
)
_SHAPED = (
    Question(("outline", "shape"), "Shape", "width"),
    Question(("outline", "width"), "Width over all", "width"),
    Question(("outline", "depth"), "Depth, front to rear", "depth"),
    Question(("outline", "hollow"), "How far the drawn-in side is hollow", "hollow", more=True),
    Question(("outline", "end_radius"), "Radius of its ends", "corner_radius", more=True),
    Question(("outline", "side"), "Which side is straight or drawn in", "", more=True),
)
_BOX = (
    Question(("closed", "thickness"), "Thickness of the core", "core"),
    Question(("closed", "core"), "What the core is of"),
    Question(("closed", "welt"), "Welt in the seams", "welt"),
    Question(("closed", "band"), "Finished height of the band", "band", more=True),
    Question(("closed", "undersize"), "Cover smaller than the core, in all", "undersize", more=True),
    Question(("closed", "zip"), "Zip runs along", "zip", more=True),
    Question(("closed", "past_corner"), "Zip goes past its corners by", "past_corner", more=True),
    Question(("closed", "flap"), "Band folded back over the ends of the zip", "", more=True),
    Question(("board",), "A board below the core", "", more=True, begins="thickness"),
)
_ROLL = (
    Question(("closed", "length"), "Length of the core", "length"),
    Question(("closed", "core"), "What the core is of"),
    Question(("closed", "welt"), "Welt in the seams", "welt"),
)
_BOARD = (
    Question(("board", "thickness"), "Thickness of the board", "core"),
    Question(("board", "wrap"), "Leather glued to the back", "wrap"),
    Question(("board", "pair"), "Hand, where a mirrored one is covered too", "", more=True),
)


def _side(side: str) -> tuple[Question, ...]:
    at = ("sides", side)
    return (
        Question((*at, "drop"), "Drop, edge to tack line", f"{side}.drop"),
        Question((*at, "drops"), "Drop in three places of the side", f"{side}.drop", more=True),
        Question((*at, "edge_radius"), "Radius of the bare edge", f"{side}.edge_radius"),
        Question((*at, "turn"), "Cover turns over by", f"{side}.turn", more=True),
        Question((*at, "band"), "A band of its own", f"{side}.band"),
        Question((*at, "seam_below"), "Band sewn on below the edge by", f"{side}.seam_below", more=True),
        Question((*at, "welt"), "Welt in its seam", f"{side}.welt"),
        Question((*at, "gap"), "Gap from springs to rail", f"{side}.gap", more=True),
        Question((*at, "cloth"), "Cloth over the gap", f"{side}.gap", more=True),
        Question((*at, "closed_by_hand"), "Closed by hand", "", more=True),
    )


_SUPPORT = (
    Question(("support", "kind"), "What carries the padding", "support"),
    Question(("support", "rate_kpa_per_mm"), "Springs: pressure for each mm down", "support"),
    Question(("support", "free_height"), "Height of the springs, free", "free_height"),
    Question(("support", "held_height"), "Height where twine holds them", "held_height"),
)
_LAYER = (
    Question(("material",), "Material"),
    Question(("thickness",), "Thickness", "layer"),
    Question(("where",), "Where it lies"),
    Question(("within",), "Strip: how far in over the face", "", more=True),
    Question(("below",), "Past the edge by", "", more=True),
    Question(("taper",), "Runs out over", "", more=True),
)
_WISHES = (
    Question(("wanted_radius",), "Wanted roundness of the edges", "radius"),
    Question(("finished_height",), "Not higher than", "finished_height", more=True),
)
_PLEATS = (
    Question(("pleats", "count"), "How many pleats", "pleats"),
    Question(("pleats", "pitch"), "or: finished width of one", "pleats", more=True),
    Question(("pleats", "filler"), "Filler"),
    Question(("pleats", "filler_thickness"), "Thickness of the filler", "pleats"),
    Question(("pleats", "direction"), "They run", "", more=True),
    Question(("pleats", "construction"), "Sewn", "", more=True),
    Question(("pleats", "take_up_measured"), "Test strip of five came to", "", more=True),
)
_COVER = (
    Question(("cover", "leather"), "Leather card"),
    Question(("cover", "tension"), "Tension of the cover", "", more=True),
    Question(("cover", "grain_window"), "Piece may lie off the backbone by", "", more=True),
)
_PAPER = (
    Question(("output", "page"), "Page of the patterns"),
    Question(("output", "roll_width"), "Width of roll paper", "", more=True),
    Question(("allowance", "sewn"), "Allowance, sewn seams"),
    Question(("allowance", "welted"), "Allowance, with welt between"),
    Question(("allowance", "pulled"), "Allowance beyond the tack line"),
    Question(("allowance", "zip"), "Allowance beside a zip", "", more=True),
    Question(("allowance", "notch_spacing"), "Distance of the notches", "", more=True),
    Question(("output", "mesh"), "Fineness of the reckoning (triangle edge)", "", more=True),
)

_TAPES = (
    Question(("pad",), "Over which pad"),
    Question(("way",), "The tape lies"),
    Question(("at",), "at"),
    Question(("over",), "Over what"),
    Question(("length",), "It read"),
    Question(("follows",), "Pressed into hollows", "", more=True),
    Question(("ends",), "From where to where", "", more=True),
    Question(("start",), "Between: from", "", more=True),
    Question(("end",), "Between: to", "", more=True),
    Question(("below",), "Round: below the edge by", "", more=True),
)

_STRIP = (
    Question(("way",), "Cut along or across the backbone"),
    Question(("width",), "Width of the strip"),
    Question(("marks",), "Between its marks before any weight"),
    Question(("readings",), "Readings"),
)
_FOAM = (
    Question(("density",), "Density, as its maker says"),
    Question(("block", "height"), "Height of the block without a weight", "height"),
    Question(("block", "side"), "Side of its square face", "", more=True),
    Question(("block", "readings"), "Readings"),
    Question(("thickness",), "Thickness it is sold in", "", more=True),
)
_CUTTING = (
    Question(("cutting", "tool"), "What cuts"),
    Question(("cutting", "gap"), "Between cut lines", "", more=True),
    Question(("cutting", "rim"), "Left along the rim of a hide"),
    Question(("cutting", "chalk"), "Left outside the chalk ring of a flaw"),
    Question(("cutting", "pair_apart"), "Tell of a mirrored pair that lies further apart than", "", more=True),
    Question(("cutting", "neighbours_apart"), "Tell of parts of one face further apart than", "", more=True),
    Question(("cutting", "prices"), "Price table beside the sheet (CSV)", "", more=True),
)


def _tried_in_a_block(material: Mapping[str, Any]) -> bool:
    return isinstance(material.get("block"), dict)


def _over_cover(row: Mapping[str, Any]) -> bool:
    return row.get("over") == "cover"


FIRST = Stage(
    "what",
    "What it is",
    "The name is printed on every piece. Numbers without a unit are in the unit chosen here; any number may carry its "
    "own: 52 cm, 20 1/2 in.",
    "plan",
    (Question(("name",), "Name of the job"), Question(("unit",), "Unit of the tape")),
    pad=False,
)
# What is measured while the old cover is still on.
STRIPPING = Stage(
    "before-stripping",
    "Before stripping",
    "Without an old cover go on. Else leave it on for now, and lay the tape over it: front to rear over the crown, "
    "side to side, and all round; over a loose cushion right round it as well. These readings are held against the "
    "seat you build, and cannot be had once the cover is off.",
    "grid",
    rows=RowKind(("control",), "tape", _TAPES, {"pad": "cushion", "way": "along", "at": 0, "over": "cover",
                                                "length": 600}, mine=_over_cover),
    pad=False,
)  # fmt: skip
LAST = (
    Stage(
        "tapes",
        "Tapes laid over it",
        "Once it is padded, and not before: along every profile and three or four across. They are held against what "
        "is computed there, and you are told which number to measure again. For the first patterns go on.",
        "grid",
        rows=RowKind(("control",), "tape", _TAPES, {"pad": "cushion", "way": "along", "at": 0, "length": 600},
                     mine=lambda row: not _over_cover(row)),
        pad=False,
    ),
    Stage("cover", "Leather", "The card says how far the leather gives; the shop's own numbers go in a file.", "piece",
          _COVER, pad=False),
    Stage("paper", "Paper and allowances", "What the shop prints on, and what is left beyond the sew line.", "piece",
          _PAPER, pad=False),
    Stage(
        "strips",
        "Strip test",
        "Better than any card: strips of this hide, 50 x 300 mm with marks 200 mm apart, cut along and across the "
        "backbone. Hang a weight on for 5 minutes, read between the marks, take it off, wait 5 and read again; then "
        "the next heavier one. At least three weights a strip. Keep your feet from under the weight.",
        "strip",
        rows=RowKind(("strip",), "strip", _STRIP, {"way": "along", "width": 50, "marks": 200, "readings": [
            [0.5, 200, 200], [1, 200, 200], [2, 200, 200], [4, 200, 200], [8, 200, 200]]}),
        pad=False,
        seldom=True,
    ),
    Stage(
        "foams",
        "Foam test",
        "For foam whose firmness nobody can tell you: a block of it, 100 x 100 mm and at least 50 high, pieces laid on "
        "each other. Lay a board and a weight on its middle, count the board with the weight, wait 60 seconds, measure "
        "the height at all four corners and write their mean. A stack of weights tips: stand it against a stop, and "
        "keep fingers from under the board and feet from below. Then choose it as the material of a layer.",
        "block",
        rows=RowKind(("material",), "foam", _FOAM, {"density": 35, "block": {"height": 100, "readings": [
            [kg, 100] for kg in BLOCK_KG]}}, mine=_tried_in_a_block, named=True),
        pad=False,
        seldom=True,
    ),
    Stage("cutting", "Cutting", "How close pieces lie on a hide, and what is left beside its rim and its flaws.",
          "piece", _CUTTING, pad=False, seldom=True),
)  # fmt: skip
OF_PAD = (
    Stage(
        "plan",
        "The plan, square on",
        "Tape on the bare frame, or on the core: widths first, then depth, then across the corners. Each twice; where "
        "two readings are further apart than 3 mm or 1 %, take a third.",
        "plan",
        _PLAN,
        asked=lambda pad: not has_shape(pad) and not _is_traced(pad) and closed_form(pad) != "roll",
    ),
    Stage(
        "plan",
        "The plan, square on",
        "Over all, across the widest place, then from front to rear.",
        "plan",
        _SHAPED,
        asked=lambda pad: has_shape(pad) or closed_form(pad) == "roll",
    ),
    Stage("core", "The core", "Measure the foam as it is cut, before it is wrapped.", "edge", _BOX,
          asked=lambda pad: closed_form(pad) == "box"),
    Stage("core", "The core", "Measure the foam as it is cut, from end to end.", "edge", _ROLL,
          asked=lambda pad: closed_form(pad) == "roll"),
    Stage("board", "The board", "Measure the board bare, with its old cover off.", "edge", _BOARD,
          asked=lambda pad: isinstance(pad.get("board"), dict) and not closed_form(pad)),
    Stage("board", "The board below it", "Its thickness; it is cut smaller than the cover, to clear the seams.",
          "edge", _BOARD[:1], asked=lambda pad: isinstance(pad.get("board"), dict) and bool(closed_form(pad))),
    Stage(
        "heights",
        "Heights of the bare seat",
        "Lay the gauge along the middle first, then beside it. Read the height every few fingers' width, and at both "
        "ends. A flat board needs none.",
        "grid",
        rows=RowKind(
            ("profile",),
            "profile",
            (Question(("direction",), "The gauge lies"), Question(("at",), "at"), Question(("points",), "Readings")),
            {"direction": "along", "at": 0, "points": [[0, 0], [200, 8], [400, 0]]},
        ),
        asked=on_frame,
    ),
    *(
        Stage(
            f"side-{side}",
            f"Down the {side}",
            "From the edge down to where the cover is tacked, in the middle of the side.",
            "edge",
            _side(side),
            asked=on_frame,
        )
        for side in SIDES
    ),
    Stage("support", "What carries it", "A board does not move; springs go down under the cover.", "edge", _SUPPORT,
          asked=on_frame),
    Stage(
        "padding",
        "Padding",
        "From the support outwards, each layer as thick as it is bought.",
        "edge",
        _WISHES,
        rows=RowKind(("layer",), "layer", _LAYER, {"material": "foam_firm", "thickness": 20}),
        asked=on_frame,
    ),
    Stage(
        "padding",
        "Padding",
        "What is wrapped round the core or laid on the board, each layer as thick as it is bought.",
        "edge",
        rows=RowKind(("layer",), "layer", _LAYER, {"material": "wadding", "thickness": 12, "where": "face"}),
        asked=lambda pad: not on_frame(pad),
    ),
    Stage("pleats", "Pleats", "Leave the number empty for a plain face.", "plan", _PLEATS, asked=on_frame),
)  # fmt: skip
