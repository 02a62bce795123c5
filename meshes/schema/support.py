"""What carries a pad, as it is written in a sheet: the keys of [pad.support], of gaps along the
sides, of the frame below, [pad.frame], of a neighbour that it goes on from, [pad.continues], and of the core of a cover
that is closed all round, [pad.closed]."""

from typing import Annotated, Any, Literal, cast

from pydantic import Field

from meshes.records.built_up import Continues
from meshes.records.closed import (
    CORNERS_IN_MM,
    FORMS,
    USUAL_PAST_CORNER_MM,
    USUAL_THICKNESS_MM,
    USUAL_ZIP,
    USUAL_ZIP_SHORT_MM,
    Closed,
    zip_run,
)
from meshes.records.frame import FIXED
from meshes.records.pad import SIDES
from meshes.records.springs import Springs, bed_rate_kpa_per_mm
from meshes.schema.text_values import NameRule, SidesRule, TextRule, WordRule
from meshes.schema.values import Flag, LengthRule, NumberRule, RowRule, Table

SUPPORTS = ("board", "springs")
CLOTH_FIXED = ("springs", "frame")
FLANKS = ("left", "right")
LEAST_RATE, MOST_RATE = 0.001, 1000.0
Below = Annotated[float, LengthRule("how far the base lies below the pad's zero", least=-1000.0, most=1500.0)]
SpringHeight = Annotated[float, LengthRule("the height of springs", above=True, most=500.0)]


class SupportInput(Table):
    kind: Annotated[str, WordRule(SUPPORTS)] = Field(
        default="board", description="springs go down under the cover; a board does not move."
    )
    rate_kpa_per_mm: (
        Annotated[float, NumberRule("a spring rate", least=LEAST_RATE, most=MOST_RATE, unit="kPa per mm")] | None
    ) = Field(default=None, description="Pressure per deflection of the whole unit, kPa per mm.")
    coil_rate: Annotated[float, NumberRule("a coil's rate", least=0.01, most=1000.0, unit="N/mm")] | None = Field(
        default=None, description="Instead: rate of one coil in N/mm, with the pitch of the coils."
    )
    pitch: Annotated[float, LengthRule("a pitch", above=True, most=500.0)] | None = Field(
        default=None, description="Distance of the coils, both ways."
    )
    free_height: SpringHeight | None = Field(default=None, description="Height of the springs when nothing holds them.")
    held_height: SpringHeight | None = Field(
        default=None, description="Height where twine and cloth hold them, and at which the profiles were measured."
    )


# A compression table: strain and pressure of every point.
CurvePoint = Annotated[
    tuple[float, ...], RowRule("strain and pressure", 2, NumberRule("a number", least=0.0, most=10000.0))
]


def springs_record(given: SupportInput) -> Springs | None:
    """The springs of a pad; None on board, or where their rate was not given."""
    if given.kind == "board":
        return None
    rate = given.rate_kpa_per_mm
    if rate is None and given.coil_rate is not None and given.pitch is not None:
        rate = bed_rate_kpa_per_mm(given.coil_rate, given.pitch)
    return None if rate is None else Springs(rate, given.free_height, given.held_height)


class FrameInput(Table):
    rim: Annotated[str, WordRule(("fair", "carried"))] | None = Field(
        default=None,
        description="fair: through the ends of the profiles and fair along itself between them; carried: as the "
        "profiles' form goes on to it. When not given: fair where profiles run both ways or the plan is round.",
    )
    tack: Annotated[str, WordRule(("straight", "parallel"))] | None = Field(
        default=None,
        description="straight: a drop is read in the middle of its side and the tack line runs straight from there; "
        "parallel: it runs at that drop below the rim everywhere. When not given: straight where the rim is fair.",
    )
    level: Below | None = Field(
        default=None,
        description="All sides without a drop are tacked in a level plane so far below zero.",
    )
    front: Below | None = Field(default=None, description="A tilted plane instead: how far below at the front edge.")
    rear: Below | None = Field(default=None, description="How far below zero at the rear edge.")
    left: Below | None = Field(default=None, description="How far below zero at the left side.")
    right: Below | None = Field(default=None, description="How far below zero at the right side.")


FixedHow = Annotated[str, WordRule(tuple(FIXED))]


class ClosedInput(Table):
    form: Annotated[str, WordRule(FORMS)] = Field(
        default="box",
        description="box: two plates and a band, a loose cushion; roll: two end discs and a tube; panel: one flat "
        "piece that closes a seat, its bottom or its outside back; knife_edge: two faces on one seam, without a band.",
    )
    thickness: Annotated[float, LengthRule("a core", least=10.0, most=600.0)] | None = Field(
        default=None, description="Of a box or a knife edge: from face to face of the core, where it is thickest."
    )
    rear_thickness: Annotated[float, LengthRule("a core", least=10.0, most=600.0)] | None = Field(
        default=None, description="Of a box that is a wedge: its thickness at the rear; thickness is that in front."
    )
    length: Annotated[float, LengthRule("a roll", least=10.0, most=3000.0)] | None = Field(
        default=None, description="Of a roll: from end to end of the core; its plan is the disc."
    )
    core: Annotated[str, NameRule("a material")] = Field(
        default="foam_medium", description="What the core is of: a built-in material or one of [material.NAME]."
    )
    undersize: Annotated[float, LengthRule("an undersize", most=100.0)] | None = Field(
        default=None,
        description="By how much the cover is smaller than its core, in all, not on each side. When not given: by the "
        "core's firmness; a roll is cut to its own size, a knife edge 25.4 mm smaller.",
    )
    band: Annotated[float, LengthRule("a band", least=10.0, most=600.0)] | None = Field(
        default=None, description="Finished height of the band of a box; when not given, the core's thickness."
    )
    welt: Flag = Field(default=False, description="The seams of plates and band carry welt.")
    zip: Annotated[tuple[str, ...], SidesRule(SIDES)] = Field(
        default=USUAL_ZIP,
        description="Along which side the zip runs, or along which next to each other: rear, front, left, right (top, "
        'bottom); "rear, left" goes round their corner.',
    )
    past_corner: Annotated[float, LengthRule("a zip past the corner", most=1000.0)] = Field(
        default=USUAL_PAST_CORNER_MM, description="How far the zip goes on past the corners of its side."
    )
    flap: Flag = Field(
        default=False, description="The band of a box goes on over both ends of the zip and is folded back there."
    )
    corners_in: Annotated[float, LengthRule("corners taken in", most=60.0)] = Field(
        default=CORNERS_IN_MM,
        description="How far the corners of a knife edge are taken in, over a quarter of each side; 0: not at all.",
    )
    zip_short: Annotated[float, LengthRule("a zip short of the corner", most=1000.0)] = Field(
        default=USUAL_ZIP_SHORT_MM, description="How far short of the corners of its side the zip of a knife edge ends."
    )
    front: FixedHow = Field(default="stapled", description="How a panel's front or bottom edge is fixed.")
    right: FixedHow = Field(default="closed by hand", description="How a panel's right edge is fixed.")
    rear: FixedHow = Field(default="blind-tacked", description="How a panel's rear or top edge is fixed.")
    left: FixedHow = Field(default="closed by hand", description="How a panel's left edge is fixed.")


def closed_record(given: ClosedInput) -> Closed:
    """The closed cover that a sheet asks for."""
    form: Any = given.form
    reach = given.length if form == "roll" else given.thickness
    reach = USUAL_THICKNESS_MM if reach is None else reach
    kinds = [FIXED[word] for word in (given.front, given.right, given.rear, given.left)]
    return Closed(
        form,
        reach,
        given.core,
        given.undersize,
        given.band,
        given.welt,
        given.past_corner,
        (kinds[0], kinds[1], kinds[2], kinds[3]),
        given.flap,
        given.corners_in,
        given.zip_short,
        given.rear_thickness,
        zip_run(given.zip) or USUAL_ZIP,
    )


class ContinuesInput(Table):
    pad: Annotated[str, TextRule("the name of a pad")] = Field(description="The neighbour whose section goes on here.")
    side: Annotated[str, WordRule(FLANKS)] = Field(description="The side of this pad where both meet: left or right.")
    over: Annotated[float, LengthRule("a width", least=20.0, most=500.0)] | None = Field(
        default=None,
        description="Width in which it comes back to its own profile; not given: three quarters of its width.",
    )


def continues_record(given: ContinuesInput | None) -> Continues | None:
    """The record of what was read."""
    if given is None:
        return None
    return Continues(given.pad, cast(Literal["left", "right"], given.side), given.over)
