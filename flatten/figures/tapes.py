"""Figures of tapes laid over the seat: what each read, what is computed there, which numbers would explain them."""

from typing import Any

from flatten.figures.rounded import length
from meshes.tapes.explain import Explanation, Taped
from meshes.tapes.told import Tapes


def tape_rows(tapes: Tapes) -> dict[str, Any]:
    """What the report says of all tapes: lengths mm, None for a tape that meets no cover."""
    return {"tapes": [_taped(one) for one in tapes.taped], "explained_by": [_explained(one) for one in tapes.explained]}


def _taped(one: Taped) -> dict[str, Any]:
    return {
        "pad": one.control.pad,
        "where": one.control.words,
        "tape_mm": length(one.control.length),
        "computed_mm": None if one.length_mm is None else length(one.length_mm),
        "tape_off_by_mm": length(one.error_mm),
        "differs": one.differs,
    }


def _explained(one: Explanation) -> dict[str, Any]:
    return {
        "number": one.words,
        "keys": list(one.keys),
        "value_mm": length(one.value_mm),
        "change_mm": length(one.change_mm),
        "left_mm": length(one.left_mm),
        "score": length(one.score),
    }
