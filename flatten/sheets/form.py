"""The questions of the page with their answers: label, limits, unit and meaning out of the sheet's own schema, the
value as it is written, and what the numbered problems say of it.
"""

import typing
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from flatten.leather.card import CARDS
from flatten.sheets.edits import value_at
from flatten.sheets.questions import FIRST, LAST, OF_PAD, STRIPPING, Question, RowKind, Stage, closed_form
from flatten.sheets.refusals import told_as_json
from meshes.base.problems import Key, KeyPath, Problem
from meshes.base.units import parse_length
from meshes.records.materials import BUILT_IN
from meshes.records.pad import SIDES, UPRIGHT, side_word, upright_key
from meshes.schema.tables import SheetInput
from meshes.schema.text_values import SidesRule, WordRule
from meshes.schema.values import CountRule, FlagRule, LengthRule, NumberRule, PointRule, Rule, WeighedRule

_WORDS: dict[KeyPath, tuple[str, ...]] = {
    ("cover", "leather"): tuple(CARDS),
    ("closed", "core"): tuple(name for name, one in BUILT_IN.items() if one.foam),
    ("material",): tuple(BUILT_IN),
    ("where",): ("all", "face", *SIDES),
}
# Where a page offers that a zip runs: along one side, or round one corner or two.
_ZIPPED = (("rear",), ("front",), ("left",), ("right",), ("rear", "left"), ("rear", "right"), ("left", "rear", "right"))


def form_of(
    raw: Mapping[str, Any], problems: Sequence[Problem], begun: Mapping[str, Any] | None = None
) -> list[dict[str, Any]]:
    """All stages of a sheet in the order of measuring, each with its questions and answers. begun: the tables it was
    begun with, so that stages say whether all their measures are still those."""
    rows = raw.get("pad")
    # A pad keeps its number where another one is no table.
    pads = {k: pad for k, pad in enumerate(rows if isinstance(rows, list) else ()) if isinstance(pad, dict)}
    covered = any(closed_form(pad) != "panel" for pad in pads.values())
    stages = [_stage(raw, stage, (), problems) for stage in (FIRST, *((STRIPPING,) if covered else ()))]
    for k, pad in pads.items():
        asked = [stage for stage in OF_PAD if stage.asked(pad)]
        stages += [_stage(raw, stage, ("pad", k), problems) for stage in asked]
    stages += [_stage(raw, stage, (), problems) for stage in LAST]
    for stage in stages:
        stage["begun"] = bool(begun) and _as_begun(raw, stage, begun or {})
    return stages


def _as_begun(raw: Mapping[str, Any], stage: Mapping[str, Any], begun: Mapping[str, Any]) -> bool:
    """Whether everything measured with a tape or a gauge in a stage of a pad is as the sheet was begun."""
    if stage["pad_index"] is None:
        return False
    places = [f["keys"] for f in stage["fields"] if f["type"] == "length" and f["tape"] and f["value"] is not None]
    if stage["rows"] is not None and stage["rows"]["called"] == "profile" and stage["rows"]["rows"]:
        places.append(stage["rows"]["keys"])
    return bool(places) and all(value_at(dict(raw), keys) == value_at(dict(begun), keys) for keys in places)


def _stage(raw: Mapping[str, Any], stage: Stage, base: KeyPath, problems: Sequence[Problem]) -> dict[str, Any]:
    pad = value_at(dict(raw), base) if base else {}
    kind, name = str(pad.get("kind", "cushion")), str(pad.get("name", ""))[:60]
    title, word = stage.title, stage.word
    side = word.partition("side-")[2]
    if side:
        title = f"Down the {side_word(side, kind)}"
    rows = None
    if stage.rows is not None:
        rows = _rows(raw, stage.rows, base, problems)
    shown: dict[str, Any] = {
        "id": "-".join([word, *(str(k) for k in base[1:])]),
        "title": title,
        "pad": name,
        "pad_index": base[1] if base else None,
        "kind": kind,
        "why": stage.why,
        "seldom": stage.seldom,
        "drawing": stage.drawing,
        "side": side,
        "copies": bool(side == "left" and not isinstance(value_at(dict(raw), (*base, "sides", "left")), dict)),
        "fields": [_field(raw, question, base, problems, kind) for question in stage.questions],
        "rows": rows,
    }
    own = {tuple(f["keys"]) for f in shown["fields"]}
    shown["problems"] = told_as_json(
        [p for p in problems if _belongs(p, stage, base) and not any(_covers(keys, p.keys) for keys in own)]
    )
    return shown


def _belongs(problem: Problem, stage: Stage, base: KeyPath) -> bool:
    """A problem of a whole table is told with the stage that asks about that table."""
    keys = problem.keys[len(base) :] if problem.keys[: len(base)] == base else ()
    tables = {q.keys[:2] if q.keys[0] == "sides" else q.keys[:1] for q in stage.questions}
    if stage.rows is not None:
        tables.add(stage.rows.keys)
    return bool(keys) and bool(base or keys[0] != "pad") and any(keys[: len(t)] == t for t in tables)


def _covers(own: Sequence[Key], keys: KeyPath) -> bool:
    return bool(keys) and tuple(keys[: len(own)]) == tuple(own)


def _rows(raw: Mapping[str, Any], kind: RowKind, base: KeyPath, problems: Sequence[Problem]) -> dict[str, Any]:
    found = value_at(dict(raw), (*base, *kind.keys))
    pad = value_at(dict(raw), base)
    upright = str(pad.get("kind", ""))
    there: Sequence[tuple[Key, Any]] = list(enumerate(found)) if isinstance(found, list) else ()
    if kind.named:
        there = [(str(name), row) for name, row in found.items()] if isinstance(found, dict) else ()
    mine = [k for k, row in there if kind.mine(row if isinstance(row, dict) else {})]
    rows = [
        [_field(raw, question, (*base, *kind.keys, k), problems, upright) for question in kind.questions] for k in mine
    ]
    new = {key: _new_value(value, (*base, *kind.keys, 0, key), raw) for key, value in kind.new.items()}
    # The names that are taken, and those of the rows here; without names a row is told by its number.
    names = {"taken": [k for k, _ in there], "of_rows": mine} if kind.named else None
    return {"keys": [*base, *kind.keys], "called": kind.called, "new": new, "rows": rows, "names": names}


def _new_value(value: Any, keys: KeyPath, raw: Mapping[str, Any]) -> Any:
    """What a new row holds at a place; lengths, which are told in mm, say so where the sheet is in inches."""
    if isinstance(value, dict):
        return {key: _new_value(one, (*keys, key), raw) for key, one in value.items()}
    rule = _schema_of(keys)[1]
    if raw.get("unit") != "in" or isinstance(value, str):
        return value
    if isinstance(value, list):
        first = 1 if isinstance(rule, WeighedRule) else 0
        rows = [row if isinstance(row, list) else [row] for row in value]
        return [[*row[:first], *(f"{mm:g} mm" for mm in row[first:])] for row in rows]
    return f"{value:g} mm" if isinstance(rule, LengthRule) else value


def _field(
    raw: Mapping[str, Any], question: Question, base: KeyPath, problems: Sequence[Problem], kind: str
) -> dict[str, Any]:
    keys = (*base, *question.keys)
    info, rule = _schema_of(keys)
    value = value_at(dict(raw), keys)
    told = [p for p in problems if _covers(keys, p.keys)]
    words = _WORDS.get(question.keys) or (rule.words if isinstance(rule, WordRule) else ())
    usual = _usual(info, question.keys, raw)
    if isinstance(rule, SidesRule):
        words = tuple(_sides_text(sides, kind) for sides in _ZIPPED)
        usual, value = _sides_text(info.default, kind), _sides_text(value, kind)
    if question.keys == ("material",) and isinstance(raw.get("material"), dict):
        words = (*words, *map(str, raw["material"]))
    return {
        "keys": list(keys),
        "label": _in_words_of(question.label, question.keys, kind),
        "help": info.description or "",
        "tape": question.tape,
        "more": question.more and value is None and not told,
        **_kind_of(rule, words, listed=any(typing.get_origin(one) is list for one in _inside(info))),
        "value": value if not isinstance(value, float) else round(value, 9),
        "usual": usual,
        "mm": _in_mm(value, rule, raw),
        "problems": told_as_json(told),
        **(_begun(info, question, raw) if question.begins else {}),
    }


def _begun(info: FieldInfo, question: Question, raw: Mapping[str, Any]) -> dict[str, Any]:
    """Of a table that is there or not: what it holds when it is begun."""
    model = next(one for one in _inside(info) if isinstance(one, type) and issubclass(one, BaseModel))
    usual = model.model_fields[question.begins].default
    value = f"{usual:g} mm" if raw.get("unit") == "in" else usual
    return {"type": "part", "begins": {"key": question.begins, "value": value}}


def _sides_text(sides: Any, kind: str) -> Any:
    """Sides as one text with commas, in the words of a pad; what is none as it stands."""
    parts = [part.strip() for part in sides.split(",")] if isinstance(sides, str) else sides
    if not isinstance(parts, list | tuple) or not all(isinstance(part, str) for part in parts):
        return sides
    return ", ".join(side_word(part, kind) for part in parts)


def _in_words_of(label: str, keys: KeyPath, kind: str) -> str:
    """A label in the words of an upright pad, whose front is its bottom."""
    if kind not in UPRIGHT:
        return label
    last = str(keys[-1])
    if upright_key(last) == last and last != "depth":
        return label
    swaps = {"in front": "at the bottom", "at the rear": "at the top", "Depth, front to rear": "Height, bottom to top"}
    for usual, upright in swaps.items():
        label = label.replace(usual, upright)
    return label


def _kind_of(rule: Rule | None, words: Sequence[str], *, listed: bool) -> dict[str, Any]:
    """What is asked for: of places one, or, where they are listed, several."""
    if words:
        return {"type": "word", "words": list(words), "open": not isinstance(rule, WordRule)}
    if isinstance(rule, LengthRule):
        return {"type": "length", "least": rule.least, "most": rule.most}
    if isinstance(rule, NumberRule):
        return {"type": "number", "least": rule.least, "most": rule.most, "unit": rule.unit}
    if isinstance(rule, CountRule):
        return {"type": "count", "least": rule.least, "most": rule.most}
    if isinstance(rule, FlagRule):
        return {"type": "flag"}
    if isinstance(rule, WeighedRule):
        return {"type": "weighed", "lengths": list(rule.lengths)}
    return {"type": "points" if listed else "place"} if isinstance(rule, PointRule) else {"type": "text"}


def _usual(info: FieldInfo, keys: KeyPath, raw: Mapping[str, Any]) -> Any:
    """What counts where nothing is written, in the sheet's unit where it is a length of mm."""
    found = info.get_default(call_default_factory=False) if not info.is_required() else None
    return found if isinstance(found, str | int | float | bool) else None


def _in_mm(value: Any, rule: Rule | None, raw: Mapping[str, Any]) -> float | None:
    """A length in mm for the drawing; None where it is none."""
    if not isinstance(rule, LengthRule) or value is None:
        return None
    try:
        return round(parse_length(value, unit="in" if raw.get("unit") == "in" else "mm"), 4)
    except ValueError:
        return None


def _schema_of(keys: Sequence[Key]) -> tuple[FieldInfo, Rule | None]:
    """What the schema says of a place, and the rule its value is read by."""
    model: type[BaseModel] = SheetInput
    info = FieldInfo()
    named = False
    for key in keys:
        # Numbers of rows, and names that the shop gives, are no keys of the schema.
        if named or isinstance(key, int):
            named = False
            continue
        info = model.model_fields[key]
        below = next((one for one in _inside(info) if isinstance(one, type) and issubclass(one, BaseModel)), None)
        model = below or model
        named = typing.get_origin(info.annotation) is dict
    return info, next((one for one in _inside(info) if isinstance(one, Rule)), None)


def _inside(info: FieldInfo) -> Iterator[Any]:
    """Everything an annotation is made of: types and rules."""
    yield from info.metadata
    waiting = [info.annotation]
    while waiting:
        one = waiting.pop(0)
        yield one
        yield from getattr(one, "__metadata__", ())
        waiting += [part for part in typing.get_args(one) if not isinstance(part, str)]
