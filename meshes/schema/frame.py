"""The frame under a pad as a sheet says it: how its rim and its tack lines run, and the plane it stands in."""

from typing import Annotated

from pydantic import Field

from meshes.schema.text_values import WordRule
from meshes.schema.values import LengthRule, Table

Below = Annotated[float, LengthRule("how far the base lies below the pad's zero", least=-1000.0, most=1500.0)]


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
