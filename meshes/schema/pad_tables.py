"""The tables of one pad as they are written: profiles, sides, layers, inset, lines, and the pad itself."""

from typing import Annotated, Any

from pydantic import Discriminator, Field, Tag

from meshes.records.bands import CORNER_WORDS, OVER_SIDES, Bands
from meshes.records.pad import BOLSTER_WORDS, KINDS, LAYER_FORMS
from meshes.schema.fixings import FixingInput, FoldsInput, PostInput
from meshes.schema.outline import MOST_POINTS, BoardInput, OutlineInput, Radius
from meshes.schema.pleats import PleatsInput
from meshes.schema.support import CLOTH_FIXED, ClosedInput, ContinuesInput, FrameInput, SupportInput
from meshes.schema.text_values import NameRule, TextRule, WordRule
from meshes.schema.values import Flag, LengthRule, NumberRule, PlacePoint, PlanPoint, RowRule, Table

PadPlace = Annotated[float, LengthRule("a place on the pad", least=-5000.0)]
Oversize = Annotated[float, LengthRule("an oversize", most=100.0)]
Margin = Annotated[float, LengthRule("a margin")]
Degrees = Annotated[float, NumberRule("an angle", least=-180.0, most=180.0, unit="degrees")]


class ProfileInput(Table):
    direction: Annotated[str, WordRule(("along", "across"))] = Field(
        description="along: from front to rear at x = at; across: from left to right at y = at."
    )
    at: PadPlace = Field(default=0.0, description="Where the gauge stood: x of a profile along, y of one across.")
    points: list[PlacePoint] = Field(
        min_length=2, max_length=MOST_POINTS, description="[place, height] of every reading, by rising place."
    )


class SideInput(Table):
    drop: Annotated[float, LengthRule("a drop", above=True, most=1500.0)] = Field(
        default=100.0,
        description="From the edge of the bare frame or board down to the tack line, in the middle of the side; "
        "blocks of foam stand above it.",
    )
    drops: list[PlacePoint] | None = Field(
        default=None,
        min_length=2,
        max_length=MOST_POINTS,
        description="Instead of drop: [place, drop] of every reading along the side; place is x of front and rear, "
        "y of left and right.",
    )
    edge_radius: Annotated[float, LengthRule("an edge radius", most=300.0)] = Field(
        default=10.0, description="Radius of the bare edge."
    )
    turn: Annotated[float, NumberRule("a turn", least=30.0, most=180.0, unit="degrees")] = Field(
        default=90.0, description="How far the cover turns round the edge; 180 goes over a rounded top to the back."
    )
    band: Flag = Field(
        default=False, description="A band of its own along this side; false: the face runs to the tack line."
    )
    seam_below: Annotated[float, LengthRule("a seam below the edge", most=1000.0)] = Field(
        default=0.0, description="How far below the edge the band is sewn on; 0: on the edge."
    )
    welt: Flag = Field(default=False, description="The seam of the band carries welt.")
    closed_by_hand: Flag = Field(default=False, description="This side is fixed last, by hand.")
    crease: Annotated[float, LengthRule("how far below the edge a side is hidden", most=1000.0)] | None = Field(
        default=None, description="How far below the edge a neighbour hides this side: where a fly begins to matter."
    )
    gap: Annotated[float, LengthRule("a gap", most=1000.0)] = Field(
        default=0.0, description="From where the springs end to the rail of this side; 0: they reach it."
    )
    gap_depth: Annotated[float, LengthRule("a gap's depth", above=True, most=500.0)] | None = Field(
        default=None, description="How far padding can sink into the gap; when not given, as far as the gap is wide."
    )
    cloth: Flag = Field(default=False, description="Cloth is carried over the gap and holds the padding up.")
    cloth_fixed: Annotated[str, WordRule(CLOTH_FIXED)] = Field(
        default="frame", description="Where the cloth's inner edge is fixed: to the springs, or to the frame behind."
    )


class SidesInput(Table):
    front: SideInput | None = None
    right: SideInput | None = None
    rear: SideInput | None = None
    left: SideInput | None = None


BlockEdge = Annotated[float, LengthRule("an edge", most=300.0)]


class EdgesInput(Table):
    """Radii of a block's upper edges, side by side; sides left out: square."""

    front: BlockEdge | None = None
    right: BlockEdge | None = None
    rear: BlockEdge | None = None
    left: BlockEdge | None = None


def _kind_of_edge(value: object) -> str:
    return "table" if isinstance(value, dict | EdgesInput) else "length"


class BlockOutlineInput(OutlineInput):
    at: PlanPoint = Field(
        default=(0.0, 0.0), description="[x, y] in the pad's coordinates of what is [0, 0] of this outline."
    )


class LayerInput(Table):
    material: Annotated[str, NameRule("a material")] = Field(
        description="A built-in material or one of [material.NAME]."
    )
    thickness: Annotated[float, LengthRule("a layer", above=True, most=300.0)] = Field(description="Free thickness.")
    where: Annotated[str, TextRule("where the layer lies")] = Field(
        default="all", description="all, face or the name of a side."
    )
    within: Annotated[float, LengthRule("a strip", above=True)] | None = Field(
        default=None, description="With a side: on the face, within this distance of that side's edge."
    )
    taper: Annotated[float, LengthRule("a taper", most=2000.0)] | None = Field(
        default=None,
        description="Distance over which the layer runs out (all over: down to the tack line). When not given: its "
        "thickness; a layer all over stays full to the tack line.",
    )
    below: Annotated[float, LengthRule("how far a layer goes on", most=1000.0)] = Field(
        default=0.0,
        description="A layer on the face or a strip: how far past the edge it is carried before it runs out.",
    )
    oversize: Oversize | None = Field(
        default=None,
        description="By how much it is cut larger than the pad where it ends square. When not given: foam as under "
        "allowance, firm foam half of that, anything else nothing.",
    )
    sewn: Flag = Field(
        default=False,
        description="Sew foam with scrim: sewn to the plain panels and cut as their pieces are, not as padding.",
    )
    form: Annotated[str, WordRule(LAYER_FORMS)] | None = Field(
        default=None,
        description="laid over: it follows what it lies on; block: cut from sheet foam with sides of its own. When not "
        "given: laid over; foam on the face of a board with taper = 0 is a block.",
    )
    overhang: Annotated[float, LengthRule("an overhang", least=-2000.0, most=200.0)] = Field(
        default=0.0,
        description="A block: how far its lower edge lies out beyond the pad's outline, inward below 0.",
    )
    bevel: Annotated[float, NumberRule("a bevel", least=-60.0, most=60.0, unit="degrees")] = Field(
        default=0.0,
        description="A block: how far its sides lean in from upright, towards the top; below 0 it is undercut. Of a "
        "strip: the side over the face.",
    )
    edge: Annotated[
        Annotated[BlockEdge, Tag("length")] | Annotated[EdgesInput, Tag("table")], Discriminator(_kind_of_edge)
    ] = Field(
        default=0.0,
        description="A block: radius its upper edges are rolled to, 0: square; or a table with one for each side.",
    )
    outline: BlockOutlineInput | None = Field(
        default=None,
        description="A block: an outline of its own, as the pad's is told; when not given, the pad's. overhang counts "
        "from it.",
    )
    crown: list[ProfileInput] = Field(
        default=[],
        description="A block: profiles of a crowned top, heights above the flat one; none: flat.",
    )


class InsetInput(Table):
    margin: Margin | None = Field(default=None, description="Margin on all four sides.")
    front: Margin | None = Field(
        default=None, description="Margin from the front edge; 0: the inset runs to that side."
    )
    rear: Margin | None = Field(default=None, description="Margin from the rear edge.")
    left: Margin | None = Field(default=None, description="Margin from the left edge.")
    right: Margin | None = Field(default=None, description="Margin from the right edge.")
    corner_radius: Radius = Field(default=0.0, description="Radius of the inset's corners.")
    welt: Flag = Field(default=False, description="The seam round the inset carries welt.")
    bolsters: Annotated[str, WordRule(BOLSTER_WORDS)] = Field(
        default="mitred",
        description="How bolsters meet at the inset's corners: mitred, or butted with those of the sides, or of the "
        "ends (front and rear), going on past the others.",
    )
    tied: Flag = Field(default=False, description="The seam round the inset is tied down onto the padding.")


class LineInput(Table):
    name: Annotated[str, NameRule("the line's name")] = Field(description="What the seam is called.")
    points: list[PlanPoint] = Field(
        min_length=2,
        max_length=MOST_POINTS,
        description="[x, y] of its points, in the outline's coordinates.",
    )
    welt: Flag = Field(default=False, description="This seam carries welt.")
    tied: Flag = Field(default=False, description="This seam is tied down onto the padding.")


def _kind_of_partings(value: object) -> str:
    return "table" if isinstance(value, dict | PartingsInput) else "word"


CornerParting = Annotated[str, WordRule(CORNER_WORDS)]


class PartingsInput(Table):
    """Where bands part at each corner; corners left out: as usual."""

    front_left: CornerParting | None = None
    front_right: CornerParting | None = None
    rear_left: CornerParting | None = None
    rear_right: CornerParting | None = None


class BandsInput(Table):
    corners: (
        Annotated[
            Annotated[CornerParting, Tag("word")] | Annotated[PartingsInput, Tag("table")],
            Discriminator(_kind_of_partings),
        ]
        | None
    ) = Field(
        default=None,
        description="Where two bands part at a corner: in its middle; at an end of it, when it belongs to the sides or "
        "to the ends (front and rear); none: one band goes on round it. One word, or a table with one for each corner.",
    )
    joins: list[PlanPoint] = Field(
        default=[],
        max_length=MOST_POINTS,
        description="[x, y] of places on the outline at which a band has a join besides.",
    )
    over: list[Annotated[str, WordRule(OVER_SIDES)]] = Field(
        default=[],
        max_length=len(OVER_SIDES),
        description="Front, rear or both: there the face runs on over the edge down to the tack line, and the bands "
        "beside it end as gables with the outline of the section.",
    )


def bands_record(given: BandsInput) -> Bands:
    """Where the bands of a pad part."""
    word: Any = given.corners
    corners = (word,) * 4
    if isinstance(word, PartingsInput):
        own: Any = (word.front_right, word.rear_right, word.rear_left, word.front_left)
        corners = own
    over = tuple(side for side in OVER_SIDES if side in given.over)
    return Bands(corners, tuple((float(x), float(y)) for x, y in given.joins), over)


class PadInput(Table):
    name: Annotated[str, NameRule("the pad's name")] = Field(description="What the pad is called.")
    kind: Annotated[str, WordRule(KINDS)] = Field(description="cushion lies; backrest and side stand.")
    origin: Annotated[
        tuple[float, float, float],
        RowRule("X to the right, Y to the rear, Z up", 3, LengthRule("an origin", least=-20000.0, most=20000.0)),
    ] = Field(default=(0.0, 0.0, 0.0), description="Where the pad's front (bottom) centre sits in the seat: X, Y, Z.")
    rake: Annotated[float, NumberRule("a rake", least=-60.0, most=80.0, unit="degrees")] = Field(
        default=0.0, description="cushion: how far the rear drops; upright pads: how far the top leans back."
    )
    facing: Degrees = Field(default=0.0, description="Turn about the upright axis, counter-clockwise seen from above.")
    outline: OutlineInput = Field(description="The pad seen square on.")
    profile: list[ProfileInput] = Field(default=[], description="Measured heights of the bare support; none: flat.")
    sides: SidesInput = Field(default=SidesInput(), description="What happens at each side.")
    layer: list[LayerInput] = Field(default=[], description="Padding, from the support outward.")
    inset: InsetInput | None = Field(default=None, description="An inset panel with bolsters round it.")
    line: list[LineInput] = Field(default=[], description="Extra seam lines over the face.")
    pleats: PleatsInput | None = Field(default=None, description="Pleats of the face or the inset.")
    bands: BandsInput = Field(default=BandsInput(), description="Where the bands part.")
    support: SupportInput | None = Field(default=None, description="What carries the padding; when not given, a board.")
    wanted_radius: Annotated[float, LengthRule("a radius of the cover", least=5.0, most=200.0)] | None = Field(
        default=None, description="How round the cover is to go over the pad's ridges; padding is proposed for it."
    )
    continues: ContinuesInput | None = Field(
        default=None, description="A neighbour that this pad goes on from, like one more pleat."
    )
    closed: ClosedInput | None = Field(
        default=None, description="A cover without a frame, sewn shut all round its core: a loose cushion or a roll."
    )
    board: BoardInput | None = Field(
        default=None,
        description="A board that is covered flat, its leather wrapped to its back: a door card; beside [pad.closed] a "
        "board below the core of a loose cushion.",
    )
    frame: FrameInput = Field(default=FrameInput(), description="How the frame's rim and the tack lines run.")
    folds: FoldsInput = Field(
        default=FoldsInput(), description="How the corners are finished where the cover runs over the edge."
    )
    fixing: FixingInput = Field(default=FixingInput(), description="How the outer edges are held, side by side.")
    post: list[PostInput] = Field(default=[], description="Posts of the frame that the cover goes round.")
    finished_height: Annotated[float, LengthRule("a finished height", least=-500.0, most=2000.0)] | None = Field(
        default=None, description="The most the finished pad is to stand above its origin; more is told."
    )
