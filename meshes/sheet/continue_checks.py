"""Checks of pads that go on where others end: from another one, and none in a circle."""

from collections.abc import Sequence

from meshes.base.problems import near_name
from meshes.schema.support import ContinuesInput
from meshes.sheet.part_reader import PartReader
from meshes.sheet.parts import PadDraft


def check_continues(drafts: Sequence[PadDraft], reader: PartReader) -> None:
    """Check which pads go on from which: each from another one, and none in a circle."""
    asked: dict[str, str] = {}
    names = [str(drawn.raw.get("name")) for drawn in drafts]
    for drawn, name in zip(drafts, names, strict=True):
        keys = (*drawn.keys, "continues")
        given = reader.table(ContinuesInput, drawn.raw.get("continues"), keys)
        if given is None:
            continue
        if given.pad == name:
            reader.faults.add("G160", (*keys, "pad"), "a pad cannot go on from itself; name its neighbour")
        elif given.pad not in names:
            near = near_name(given.pad, set(names) - {name})
            meant = f'did you mean "{near}"?' if near else "name another pad of this sheet"
            reader.faults.add("G160", (*keys, "pad"), f'no pad "{given.pad}"; {meant}')
        else:
            asked[name] = given.pad
    for drawn, name in zip(drafts, names, strict=True):
        if name in asked and _returns(name, asked):
            way = f"{name} goes on from {asked[name]}, which comes back to {name}"
            reader.faults.add("G160", (*drawn.keys, "continues", "pad"), f"{way}; one of them has to be the first")


def _returns(name: str, asked: dict[str, str]) -> bool:
    """Whether the way from neighbour to neighbour comes back to a pad."""
    at, seen = asked.get(name), set[str]()
    while at is not None and at not in seen:
        if at == name:
            return True
        seen.add(at)
        at = asked.get(at)
    return False
