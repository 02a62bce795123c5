"""A pad that goes on where its neighbour ends, as it is written in a sheet."""

from typing import Annotated, Literal, cast

from pydantic import Field

from meshes.records.built_up import Continues
from meshes.schema.text_values import TextRule, WordRule
from meshes.schema.values import LengthRule, Table

FLANKS = ("left", "right")


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
