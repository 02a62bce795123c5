"""Single tables of a sheet read with their models, and the tables of an upright pad in usual words."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from meshes.base.problems import KeyPath
from meshes.records.pad import UPRIGHT, usual_key
from meshes.schema.values import Table
from meshes.schema.words import Faults

AnyTable = TypeVar("AnyTable", bound=Table)


@dataclass(frozen=True)
class PartReader:
    """Reads single tables of a sheet that was already held against the models as a whole."""

    faults: Faults
    unit: str

    def table(self, model: type[AnyTable], raw: Any, keys: KeyPath) -> AnyTable | None:
        """One table read with its model; None when it is not there or something in it was found faulty."""
        if not isinstance(raw, dict) or self.faults.under(keys):
            return None
        return model.model_validate(raw, context={"unit": self.unit})

    def tables(self, model: type[AnyTable], raw: Mapping[str, Any], name: str, keys: KeyPath) -> list[AnyTable | None]:
        many = raw.get(name, [])
        if not isinstance(many, list):
            return []
        return [self.table(model, one, (*keys, name, k)) for k, one in enumerate(many)]


def usual_words(raw: Mapping[str, Any], keys: KeyPath, faults: Faults) -> dict[str, Any]:
    """The tables of one pad, with front and rear for bottom and top where the pad is upright."""
    pad = dict(raw)
    if faults.places.kind(keys[1]) not in UPRIGHT:
        return pad
    for name in ("outline", "sides", "inset", "frame", "folds", "closed", "bands", "fixing"):
        if isinstance(pad.get(name), dict):
            pad[name] = _renamed(pad[name], (*keys, name), faults)
    for name, inner in (("outline", "corner_radius"), ("outline", "corners"), ("bands", "corners")):
        table = pad.get(name)
        if isinstance(table, dict) and isinstance(table.get(inner), dict):
            table[inner] = _renamed(table[inner], (*keys, name, inner), faults)
    bands = pad.get("bands")
    if isinstance(bands, dict) and isinstance(bands.get("over"), list):
        bands["over"] = [usual_key(side) if isinstance(side, str) else side for side in bands["over"]]
    if isinstance(pad.get("closed"), dict) and "zip" in pad["closed"]:
        pad["closed"]["zip"] = _usual_sides(pad["closed"]["zip"])
    for name, key in (("layer", "where"), ("post", "side"), ("post", "corner")):
        if isinstance(pad.get(name), list):
            pad[name] = [_side_words(one, key) for one in pad[name]]
    for k, layer in enumerate(pad["layer"] if isinstance(pad.get("layer"), list) else []):
        for name in ("edge", "outline"):
            if isinstance(layer, dict) and isinstance(layer.get(name), dict):
                layer = {**layer, name: _renamed(layer[name], (*keys, "layer", k, name), faults)}
        pad["layer"][k] = layer
    return pad


def _renamed(table: Mapping[str, Any], keys: KeyPath, faults: Faults) -> dict[str, Any]:
    renamed: dict[str, Any] = {}
    for key, value in table.items():
        usual = usual_key(key)
        if usual in renamed:
            faults.add(
                "S020",
                (*keys, usual),
                f"given twice, as {usual} and in the words bottom or top; keep one of them",
            )
        renamed[usual] = value
    return renamed


def _usual_sides(value: Any) -> Any:
    """Sides as one text with commas, or as a list."""
    parts = value.split(",") if isinstance(value, str) else value
    if not isinstance(parts, list):
        return value
    return [usual_key(part.strip()) if isinstance(part, str) else part for part in parts]


def _side_words(table: Any, key: str) -> Any:
    """A table that names a side under a key."""
    word = table.get(key) if isinstance(table, dict) else None
    if isinstance(word, str) and word.split("_")[0] in ("bottom", "top"):
        return {**table, key: usual_key(word)}
    return table
