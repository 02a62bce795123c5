"""The measurement sheet as it is written: every table and key, with its meaning, limits and default.

These models read raw TOML (after bottom and top have been turned into front and rear) into plain mm values,
and give editors their JSON Schema. What several values mean together is checked in `meshes.sheet.checks`.
"""

import json
from typing import Annotated, Any

from pydantic import Field

from meshes.records.pad import CORNERS, KINDS, upright_key
from meshes.schema.continues import ContinuesInput
from meshes.schema.frame import FrameInput
from meshes.schema.outline import MOST_POINTS, OutlineInput, Radius
from meshes.schema.pleats import PleatsInput
from meshes.schema.support import CLOTH_FIXED, CurvePoint, SupportInput
from meshes.schema.values import (
    CardNameRule,
    CountRule,
    Flag,
    LengthRule,
    NameRule,
    NumberRule,
    PlacePoint,
    PlanPoint,
    RowRule,
    SourceRule,
    Table,
    TextRule,
    WordRule,
)

PAGES = ("a4", "letter", "a3")
LEAST_ROLL_MM, MOST_ROLL_MM = 200.0, 5000.0

PadPlace = Annotated[float, LengthRule("a place on the pad", least=-5000.0)]
Allowed = Annotated[float, LengthRule("an allowance", most=200.0)]
Oversize = Annotated[float, LengthRule("an oversize", most=100.0)]
Margin = Annotated[float, LengthRule("a margin")]
Fraction = Annotated[float, NumberRule("a stretch, as a fraction", least=0.0, most=0.6, percent=True)]
Stiffness = Annotated[float, NumberRule("a stiffness", least=0.01, most=1000.0, unit="N/mm")]
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
        default=100.0, description="From the edge down to the tack line, in the middle of the side."
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
    support: SupportInput | None = Field(default=None, description="What carries the padding; when not given, a board.")
    wanted_radius: Annotated[float, LengthRule("a radius of the cover", least=5.0, most=200.0)] | None = Field(
        default=None, description="How round the cover is to go over the pad's ridges; padding is proposed for it."
    )
    continues: ContinuesInput | None = Field(
        default=None, description="A neighbour that this pad goes on from, like one more pleat."
    )
    frame: FrameInput = Field(default=FrameInput(), description="How the frame's rim and the tack lines run.")
    finished_height: Annotated[float, LengthRule("a finished height", least=-500.0, most=2000.0)] | None = Field(
        default=None, description="The most the finished pad is to stand above its origin; more is told."
    )


CARD_NUMBERS = ("thickness", "stretch_along", "stretch_across", "pull", "stiffness_along", "stiffness_across")


class CardNumbers(Table):
    """What a leather card says: the shop's own numbers."""

    thickness: Annotated[float, LengthRule("leather", least=0.3, most=8.0)] = Field(description="Thickness.")
    stretch_along: Fraction = Field(description="Most it may be stretched along the backbone: 0.06 is 6 %.")
    stretch_across: Fraction = Field(description="Most it may be stretched across the backbone.")
    pull: Fraction = Field(description="Least stretch that keeps it smooth: 0.01 is 1 %.")
    stiffness_along: Stiffness | None = Field(
        default=None, description="Pull along the backbone in N per mm of width for a stretch of 1 (5 %: a twentieth)."
    )
    stiffness_across: Stiffness | None = Field(default=None, description="The same across the backbone.")
    source: Annotated[str | dict[str, str], SourceRule(CARD_NUMBERS)] = Field(
        default="", description="Where the numbers come from: one text, or a table with a text for each number."
    )


class CardInput(CardNumbers):
    name: Annotated[str, NameRule("the leather's name")] = Field(description="What the leather is called.")


class CardFileInput(Table):
    """A file of leather cards: [card.NAME] for each."""

    unit: Annotated[str, WordRule(("mm", "in"))] = Field(
        default="mm", description="Unit of numbers written without one."
    )
    card: dict[Annotated[str, NameRule("the leather's name")], CardNumbers] = Field(description="Cards by name.")


class CoverInput(Table):
    leather: Annotated[str, CardNameRule("a leather card")] | None = Field(
        default=None, description="Name of a built-in leather card, or a file of cards: FILE.toml or FILE.toml:NAME."
    )
    card: CardInput | None = Field(default=None, description="The shop's own leather instead of a built-in card.")
    grain_window: Annotated[float, NumberRule("a grain window", least=0.0, most=90.0, unit="degrees")] = Field(
        default=0.0,
        description="Degrees by which a piece may lie off the backbone, to either side, when that asks less of it.",
    )
    tension: Annotated[float, NumberRule("a tension", least=0.0, most=3000.0, unit="N/m")] | None = Field(
        default=None, description="Tension of the cover in N per m of width; not given: it follows from the leather."
    )


class EaseInput(Table):
    seam: Annotated[str, TextRule("the name of a seam")] = Field(description="The seam, as the report has it.")
    longer: Annotated[str, TextRule("the name of a panel")] = Field(description="The panel whose edge is cut longer.")
    by: Annotated[float, NumberRule("ease, as a fraction", least=0.0, most=0.015, percent=True)] = Field(
        description="By what share: 0.01 is 1 %. More than 1.5 % shows."
    )


class ReliefInput(Table):
    panel: Annotated[str, TextRule("the name of a panel")] = Field(
        description="The panel to be cut, as the report has it."
    )
    apply: Annotated[int, CountRule("the number of a proposal", 1, 20)] = Field(
        description="Which proposal of `trimloft relief` is cut, counted from 1."
    )


class AllowanceInput(Table):
    sewn: Allowed = Field(default=12.0, description="Where two pieces are sewn together.")
    welted: Allowed = Field(default=12.0, description="Where they are sewn with welt between.")
    pulled: Allowed = Field(default=50.0, description="Beyond the tack line, to grip and fold under.")
    closed: Allowed = Field(default=25.0, description="Where an edge is closed by hand after fitting.")
    corner: Annotated[str, WordRule(CORNERS)] = Field(
        default="square", description="How the cut line turns at a corner."
    )
    notch_spacing: Annotated[float, LengthRule("notch spacing", least=20.0, most=1000.0)] = Field(
        default=120.0, description="Distance between notches along a seam."
    )
    foam: Oversize = Field(
        default=12.7, description="By how much foam is cut larger than the pad on every side; firm foam half of it."
    )


class OutputInput(Table):
    page: Annotated[str, WordRule(PAGES)] = Field(default="a4", description="Page of the tiled patterns.")
    overlap: Annotated[float, LengthRule("an overlap")] = Field(
        default=10.0, description="How far neighbouring pages overlap."
    )
    roll_width: Annotated[float, LengthRule("a roll's width", least=LEAST_ROLL_MM, most=MOST_ROLL_MM)] = Field(
        default=914.0, description="Width of the roll paper."
    )
    dxf: Annotated[str, WordRule(("R2000", "R12"))] = Field(default="R2000", description="Version of the DXF file.")
    mesh: Annotated[float, LengthRule("the mesh size", least=1.0, most=40.0)] = Field(
        default=6.0, description="Edge length of the triangles the seat is computed with."
    )


class MaterialInput(Table):
    density: Annotated[float, NumberRule("a density", least=3.0, most=2000.0, unit="kg/m3")] = Field(
        description="Density in kg/m3."
    )
    compression_kpa: (
        Annotated[
            tuple[float, float, float],
            RowRule("pressure at 25, 40 and 65 %", 3, NumberRule("a pressure", least=0.001, most=10000.0, unit="kPa")),
        ]
        | None
    ) = Field(default=None, description="Pressure in kPa at 25, 40 and 65 % compression, rising.")
    compression: list[CurvePoint] | None = Field(
        default=None, min_length=1, max_length=MOST_POINTS, description="Instead: [strain, kPa] of all points measured."
    )
    thickness: Annotated[float, LengthRule("a material", above=True, most=300.0)] | None = Field(
        default=None, description="Thickness it is sold in."
    )
    kind: Annotated[str, WordRule(("foam", "stuffing"))] = Field(
        default="foam", description="Foam is warned of where it is crushed too far; stuffing is meant to give."
    )
    source: Annotated[str, TextRule("where the numbers come from")] = Field(
        default="", description="Where the numbers come from."
    )


class SheetInput(Table):
    """A whole measurement sheet."""

    name: Annotated[str, NameRule("the sheet's name")] = Field(description="What the job is called.")
    unit: Annotated[str, WordRule(("mm", "in"))] = Field(
        default="mm", description="Unit of numbers written without one."
    )
    cover: CoverInput = Field(default=CoverInput(), description="The leather.")
    allowance: AllowanceInput = Field(default=AllowanceInput(), description="Allowances.")
    output: OutputInput = Field(default=OutputInput(), description="Paper and computing choices.")
    material: dict[Annotated[str, NameRule("the material's name")], MaterialInput] = Field(
        default={}, description="The shop's own padding materials."
    )
    pad: list[PadInput] = Field(description="The pads of the seat.")
    ease: list[EaseInput] = Field(default=[], description="Fullness worked into seams while sewing.")
    relief: list[ReliefInput] = Field(
        default=[], description="Darts and seams to cut, as `trimloft relief` proposes them."
    )


def json_schema() -> dict[str, Any]:
    """JSON Schema of a sheet for editors (draft 2020-12), with bottom and top allowed wherever front and rear
    are.
    """
    schema = SheetInput.model_json_schema()
    _tidy(schema)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema, "title": "Measurement sheet"}


def schema_text() -> str:
    """The JSON Schema as the text that is shipped in sheet.schema.json."""
    return json.dumps(json_schema(), indent=1, ensure_ascii=False) + "\n"


def _tidy(node: Any) -> None:
    """Take out the null choices, which TOML cannot write, and give every key about front and rear its upright
    twin.
    """
    for item in node.values() if isinstance(node, dict) else node if isinstance(node, list) else ():
        _tidy(item)
    if not isinstance(node, dict):
        return
    choices = node.get("anyOf")
    if isinstance(choices, list) and {"type": "null"} in choices:
        rest = [choice for choice in choices if choice != {"type": "null"}]
        node.pop("anyOf")
        node.update(rest[0] if len(rest) == 1 else {"anyOf": rest})
    if node.get("default", 0) is None:
        node.pop("default")
    if isinstance(node.get("properties"), dict):
        twins = {twin: value for key, value in node["properties"].items() if (twin := upright_key(key)) != key}
        node["properties"] |= twins
