"""The measurement sheet as it is written: every table and key, with its meaning, limits and default.

These models read raw TOML (after bottom and top have been turned into front and rear) into plain mm values,
and give editors their JSON Schema. What several values mean together is checked in `meshes.sheet.checks`.
"""

import json
from typing import Annotated, Any

from pydantic import Field

from meshes.base.units import LARGEST_PAD_MM
from meshes.records.pad import upright_key
from meshes.schema.cover_tables import (
    AllowanceInput,
    CoveringInput,
    CoverInput,
    CuttingInput,
    EaseInput,
    FitInput,
    HideInput,
    OutputInput,
    PlacingInput,
    ReliefInput,
    SeamInput,
    StripInput,
)
from meshes.schema.outline import MOST_POINTS
from meshes.schema.pad_tables import PadInput
from meshes.schema.support import CurvePoint
from meshes.schema.text_values import NameRule, TextRule, WordRule
from meshes.schema.values import Flag, LengthRule, ListRule, NumberRule, PlanPoint, RowRule, Table, WeighedRule

# A block as the worksheet has it: its side, how high it is at least, and the weights it is tried under, kg.
BLOCK_SIDE_MM, LOWEST_BLOCK_MM = 100.0, 50.0
BLOCK_KG = (0.5, 1.0, 2.0, 4.0, 6.0, 8.0, 12.0)
BlockRow = Annotated[tuple[float, ...], WeighedRule(("its height under it",), most_kg=200.0)]


class BlockInput(Table):
    side: Annotated[float, LengthRule("the side of a block", least=50.0, most=500.0)] = Field(
        default=BLOCK_SIDE_MM, description="Side of its square face."
    )
    height: Annotated[float, LengthRule("the height of a block", least=LOWEST_BLOCK_MM, most=300.0)] = Field(
        description="How high it is without a weight; pieces may be laid on each other."
    )
    readings: list[BlockRow] = Field(
        min_length=3, max_length=60, description="A row for every reading: kg on it, and its height 60 s after."
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
    block: BlockInput | None = Field(default=None, description="Instead: what a block of it gave way by under weights.")
    thickness: Annotated[float, LengthRule("a material", above=True, most=300.0)] | None = Field(
        default=None, description="Thickness it is sold in."
    )
    kind: Annotated[str, WordRule(("foam", "stuffing"))] = Field(
        default="foam", description="Foam is warned of where it is crushed too far; stuffing is meant to give."
    )
    source: Annotated[str, TextRule("where the numbers come from")] = Field(
        default="", description="Where the numbers come from."
    )


# Sheets of padding are so thin at least and so thick at most, and a shop has so many thicknesses at most.
LEAST_SHEET_MM, MOST_SHEET_MM, MOST_THICKNESSES = 3.0, 300.0, 20
# The key of the stock list that means every foam.
ALL_FOAM = "foam"


CONTROL_WAYS, CONTROL_OVER, CONTROL_ENDS = (
    ("along", "across", "round", "between"),
    ("support", "padding", "cover"),
    ("tack lines", "edges", "girth"),
)


class ControlInput(Table):
    pad: Annotated[str, TextRule("the name of a pad")] = Field(description="The pad that the tape was laid over.")
    way: Annotated[str, WordRule(CONTROL_WAYS)] = Field(
        description="along (front to rear over the crown), across (side to side), round it below the edge, or between "
        "two places of its face."
    )
    over: Annotated[str, WordRule(CONTROL_OVER)] = Field(
        default="padding",
        description="Over the bare support (a core, a board), the padding before any cover, or the cover on it.",
    )
    length: Annotated[float, LengthRule("what a tape reads", least=20.0, most=4.0 * LARGEST_PAD_MM)] = Field(
        description="What the tape read."
    )
    at: Annotated[float, LengthRule("a place", least=-LARGEST_PAD_MM)] | None = Field(
        default=None, description="Of along: how far from the centre line; of across: from the front or bottom edge."
    )
    ends: Annotated[str, WordRule(CONTROL_ENDS)] | None = Field(
        default=None,
        description="Of along and across: from tack line to tack line; edges: between the middles of both rounded "
        "edges, or the seams of a loose cushion; girth: right round a loose cushion or a board. When not given: tack "
        "lines, and edges of pads without a frame.",
    )
    start: PlanPoint | None = Field(default=None, description="Of between: where the tape begins, seen square on.")
    end: PlanPoint | None = Field(default=None, description="Of between: where it ends.")
    below: Annotated[float, LengthRule("a depth", most=1000.0)] | None = Field(
        default=None, description="Of round: how far below the middle of the edge's turn; not given: 0."
    )
    follows: Flag = Field(default=False, description="The tape was pressed into hollows; else it was pulled taut.")


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
    stock: dict[
        Annotated[str, NameRule("the material's name")],
        Annotated[
            tuple[float, ...],
            ListRule(
                "the sheets in the shop, thinnest first",
                MOST_THICKNESSES,
                LengthRule("a sheet of padding", least=LEAST_SHEET_MM, most=MOST_SHEET_MM),
            ),
        ],
    ] = Field(
        default={},
        description="Thicknesses of the sheets in the shop, rising: of all foam, and of single materials by name.",
    )
    pad: list[PadInput] = Field(description="The pads of the seat.")
    ease: list[EaseInput] = Field(default=[], description="Fullness worked into seams while sewing.")
    covering: list[CoveringInput] = Field(default=[], description="Other leathers and roll goods, by panel.")
    seam: list[SeamInput] = Field(default=[], description="How seams are sewn, where they are not plain or welted.")
    relief: list[ReliefInput] = Field(
        default=[], description="Darts and seams to cut, as `trimloft relief` proposes them."
    )
    control: list[ControlInput] = Field(
        default=[], max_length=40, description="Tapes laid over the seat, to be held against what is computed there."
    )
    fit: list[FitInput] = Field(
        default=[], max_length=200, description="What was noted at dry fits; the pieces are corrected by it."
    )
    strip: list[StripInput] = Field(
        default=[], max_length=40, description="Strips of the sheet's leather as they were read under weights."
    )
    hide: list[HideInput] = Field(default=[], max_length=40, description="The hides to cut from.")
    placing: list[PlacingInput] = Field(default=[], description="What pieces ask of a hide, where not the usual.")
    cutting: CuttingInput = Field(default=CuttingInput(), description="How leather is cut, and what it costs.")


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
