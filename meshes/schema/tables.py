"""The measurement sheet as it is written: every table and key, with its meaning, limits and default.

These models read raw TOML (after bottom and top have been turned into front and rear) into plain mm values,
and give editors their JSON Schema. What several values mean together is checked in `meshes.sheet.checks`.
"""

from typing import Annotated

from pydantic import Field

from meshes.schema.cover_tables import AllowanceInput, CoverInput, EaseInput, OutputInput, ReliefInput
from meshes.schema.pad_tables import MOST_POINTS, PadInput
from meshes.schema.support import CurvePoint
from meshes.schema.text_values import NameRule, TextRule, WordRule
from meshes.schema.values import LengthRule, NumberRule, RowRule, Table


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
