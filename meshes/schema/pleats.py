"""Pleats as they are written in a sheet: the keys of [pad.pleats] with their meaning, limits and defaults."""

from dataclasses import dataclass
from typing import Annotated, Any, Literal, cast

from pydantic import Field, ValidationInfo

from meshes.base.problems import shown
from meshes.records.pleats import CONSTRUCTIONS, FILLERS, MOST_PLEATS, SHAPES, WHERE, Filling, Joining, Pleats, Spacing
from meshes.schema.text_values import NameRule, WordRule
from meshes.schema.values import CountRule, Flag, Json, LengthRule, NumberRule, Table, fault

VALLEY = CountRule("the number of a valley", 1, MOST_PLEATS)


@dataclass(frozen=True)
class JoinsRule(WordRule):
    """ "auto", or numbers of valleys."""

    def read(self, value: object, info: ValidationInfo) -> Any:
        if isinstance(value, str):
            return super().read(value, info)
        if not isinstance(value, list):
            text = f'neither a list nor "auto", found {shown(value)}'
            raise fault("S012", f"{text}; write the numbers of valleys in square brackets: [4, 9]")
        return tuple(VALLEY.read(item, info) for item in value)

    def json(self) -> Json:
        return {"anyOf": [super().json(), {"type": "array", "items": VALLEY.json()}]}


PleatWidth = Annotated[float, LengthRule("a pleat's width", least=5.0, most=500.0)]


class PleatsInput(Table):
    count: Annotated[int, CountRule("the number of pleats", 1, MOST_PLEATS)] | None = Field(
        default=None, description="How many pleats; half ones at the sides are not counted."
    )
    pitch: PleatWidth | None = Field(
        default=None, description="Finished width of a pleat; rounded so that they fill the room."
    )
    widths: list[PleatWidth] | None = Field(
        default=None, max_length=MOST_PLEATS, description="Finished width of every pleat, from left to right."
    )
    direction: Annotated[str, WordRule(("along", "across"))] = Field(
        default="along", description="along: pleats run from front to rear; across: from side to side."
    )
    where: Annotated[str, WordRule(WHERE)] = Field(
        default="face", description="What is pleated: the face, or the inset."
    )
    shape: Annotated[str, WordRule(SHAPES)] = Field(
        default="straight", description="straight: straight valleys; edge: they follow the edges they lie between."
    )
    fan: Annotated[float, NumberRule("a fan", least=0.3, most=3.0)] = Field(
        default=1.0, description="Width of a pleat at the rear or right end, over that at the front or left."
    )
    over_edge: Flag = Field(
        default=True, description="Where a side has no band, pleats run over its edge to the tack line."
    )
    half_at_sides: Flag = Field(default=False, description="A pleat of half the width at each side.")
    construction: Annotated[str, WordRule(CONSTRUCTIONS)] = Field(
        default="one piece", description="one piece: stitched through to a backing; strips: sewn together."
    )
    filler: Annotated[str, WordRule(FILLERS)] = Field(default="foam", description="What stands in the channels.")
    filler_thickness: Annotated[float, LengthRule("a filler", least=1.0, most=80.0)] = Field(
        default=12.0, description="Thickness of the filler before it is stitched."
    )
    filler_foam: Annotated[str, NameRule("a material")] = Field(
        default="foam_soft", description="Material of a foam filler."
    )
    rise: Annotated[float, LengthRule("a rise", above=True, most=80.0)] | None = Field(
        default=None, description="Crest of wadding over its valleys; without it 0.6 of the filler's thickness."
    )
    taper: Annotated[float, LengthRule("a taper", most=300.0)] = Field(
        default=25.0, description="Length over which the rise runs out towards a seam."
    )
    take_up_measured: Annotated[float, LengthRule("the test strip", least=25.0, most=2500.0)] | None = Field(
        default=None,
        description="What the test strip of five pleats came to between its outer stitch lines. Without it a quarter "
        "of the filler's thickness is taken up by each pleat; sources disagree (a quarter or half): the strip decides.",
    )
    joins: Annotated[Any, JoinsRule(("auto",))] = Field(
        default=(), description="Valleys where the cut is parted, by number from the left or front; or auto."
    )
    largest_width: Annotated[float, LengthRule("the largest part", least=50.0)] | None = Field(
        default=None, description="joins = auto: no part is cut wider than this."
    )
    largest_area: Annotated[float, NumberRule("an area", least=0.01, most=10.0, unit="square metres")] | None = Field(
        default=None, description="joins = auto: no part is larger than this, in square metres."
    )
    lines_up_with: Annotated[str, NameRule("the other pad's name")] | None = Field(
        default=None, description="Name of the pad whose valleys these ones follow."
    )
    tied: Flag = Field(default=False, description="The valleys are tied down onto the padding, through hollows too.")


def pleats_record(given: PleatsInput) -> Pleats:
    """The record of pleats that were read without a fault."""
    return Pleats(
        spacing=Spacing(
            count=given.count,
            pitch=given.pitch,
            widths=None if given.widths is None else tuple(given.widths),
            fan=given.fan,
            half_at_sides=given.half_at_sides,
        ),
        filling=Filling(
            filler=cast(Literal["wadding", "foam"], given.filler),
            thickness=given.filler_thickness,
            foam=given.filler_foam,
            rise=given.rise,
            taper=given.taper,
            take_up_measured=given.take_up_measured,
        ),
        joining=Joining(
            construction=cast(Literal["one piece", "strips"], given.construction),
            joins=given.joins,
            largest_width=given.largest_width,
            largest_area_m2=given.largest_area,
        ),
        direction=cast(Literal["along", "across"], given.direction),
        where=cast(Literal["face", "inset"], given.where),
        shape=cast(Literal["straight", "edge"], given.shape),
        over_edge=given.over_edge,
        lines_up_with=given.lines_up_with,
        tied=given.tied,
    )
