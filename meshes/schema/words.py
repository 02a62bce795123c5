"""Places of a sheet in words and lines, and pydantic's findings said in a trimmer's words.

A place is the path of keys down to it, with front and rear as names of sides also on upright pads. `SheetPlaces`
turns it into a line of the file and into words such as: pad "helm bench", front side, drop.
"""

import types
import typing
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from meshes.base.problems import Key, KeyPath, Problem, near_name, one_of, shown
from meshes.records.pad import SIDES, UPRIGHT, side_word, upright_key, usual_key
from meshes.schema.outline import MOST_POINTS
from meshes.schema.remedies import remedies

# Tags that stand in a place of the reader, but in no file: behind keys that take a word or length or else a table, and
# behind the name of a row in tables whose rows have names. Anywhere else they are keys like others.
_TAGS = {"corner_radius": ("length", "table"), "corners": ("word", "table"), "edge": ("length", "table")}
_NAMED_ROWS, _NAME_TAG = ("material", "card", "stock"), "[key]"
# Nobody mends more at once, and putting faults into words takes longer than finding them.
MOST_REWORDED = 500
_MANY = {
    word: word
    for word in ("pad", "profile", "layer", "line", "post", "relief", "ease", "opening", "hole", "fit", "strip")
}


@dataclass(frozen=True)
class SheetPlaces:
    """Lines and words of every place. pads: name and kind of each pad as far as they can be read."""

    file: str
    lines: Mapping[KeyPath, int]
    pads: tuple[tuple[str, str], ...] = ()

    def kind(self, index: Key) -> str:
        """Kind of pad number `index`, a cushion when it cannot be read."""
        return self.pads[index][1] if isinstance(index, int) and index < len(self.pads) else "cushion"

    def line_of(self, *keys: Key) -> int | None:
        """Line of a place, or of the nearest table above it that is in the file."""
        path: KeyPath = ()
        line = None
        for depth, key in enumerate(keys):
            choices = [key]
            if isinstance(key, str) and depth >= 2 and keys[0] == "pad" and self.kind(keys[1]) in UPRIGHT:
                choices.append(upright_key(key))
            found = [(*path, choice) for choice in choices if (*path, choice) in self.lines]
            if not found:
                break
            path = found[0]
            line = self.lines[path]
        return line

    def words(self, keys: Sequence[Key]) -> str:
        """A place in words."""
        rest, said = list(keys), []
        kind = "cushion"
        while rest:
            key = rest.pop(0)
            if key == "pad" and rest and isinstance(rest[0], int):
                index = rest.pop(0)
                kind = self.kind(index)
                said.append(self._pad_words(int(index)))
            elif key == "points" and rest and isinstance(rest[0], int):
                said.append(f"point {int(rest.pop(0)) + 1}")
            elif key in _MANY and rest and isinstance(rest[0], int):
                said.append(f"{key} {int(rest.pop(0)) + 1}")
            elif key == "sides" and rest:
                side = str(rest.pop(0))
                said.append(f"{side_word(side, kind)} side" if side in SIDES else f"sides, {side}")
            elif key in ("material", "stock") and rest and len(said) == 0:
                said.append(f'{key} "{rest.pop(0)}"')
            else:
                word = str(key) if isinstance(key, str) else f"number {key + 1}"
                said.append(upright_key(word) if kind in UPRIGHT else word)
        return ", ".join(said)

    def _pad_words(self, index: int) -> str:
        name = self.pads[index][0] if index < len(self.pads) else ""
        return f'pad "{name}"' if name else f"pad {index + 1}"

    def problem(self, code: str, keys: Sequence[Key], text: str, *, warning: bool = False) -> Problem:
        """A problem at a place, with its words, file and line."""
        place = (self.file, self.line_of(*keys) or 1, warning)
        return Problem(
            code, self.words(keys), text, *place, keys=tuple(keys), vary=() if warning else remedies(code, keys)
        )

    def of_pad(self, index: int) -> "SheetPlaces":
        """Words for the places of one pad, without file and lines: what is told with them stays true while the text
        around it changes, and `located` finds its line."""
        others = tuple(("", "cushion") for _ in self.pads[:index])
        return SheetPlaces("", {}, (*others, *self.pads[index : index + 1]))

    def located(self, problem: Problem) -> Problem:
        """A problem that was told without a file, with its file and line; others as they are."""
        if problem.file != "":
            return problem
        return replace(problem, file=self.file, line=self.line_of(*problem.keys) or 1)


@dataclass
class Faults:
    """Collects what is wrong with one sheet while it is read."""

    places: SheetPlaces
    problems: list[Problem] = field(default_factory=list)
    _bad: set[KeyPath] = field(default_factory=set)

    def add(self, code: str, keys: Sequence[Key], text: str) -> None:
        """A fault that stops the sheet from being used."""
        self.mark(keys)
        self.problems.append(self.places.problem(code, keys, text))

    def mark(self, keys: Sequence[Key]) -> None:
        """A place that cannot be used, without a word about it."""
        self._bad.update(tuple(keys[:length]) for length in range(len(keys) + 1))

    def warn(self, code: str, keys: Sequence[Key], text: str) -> None:
        """Something worth knowing that stops nothing."""
        self.problems.append(self.places.problem(code, keys, text, warning=True))

    def under(self, keys: Sequence[Key]) -> bool:
        """True when something at or below this place cannot be used."""
        return tuple(keys) in self._bad


def reword_all(found: ValidationError, faults: Faults, model: type[BaseModel]) -> None:
    """Add what pydantic found about a sheet read with `model`: the first in words, the rest counted."""
    errors = found.errors(include_url=False, include_context=False)
    for error in errors[:MOST_REWORDED]:
        reword(error, faults, model)
    rest = errors[MOST_REWORDED:]
    for error in rest:
        faults.mark(_keys(error))
    if rest:
        text = f"and {len(rest)} more faults of this kind, which are not looked at; mend the first ones"
        faults.add("S009", _keys(rest[0]), text)


def _keys(error: ErrorDetails) -> KeyPath:
    return tuple(key for k, key in enumerate(error["loc"]) if not _is_tag(error["loc"], k))


def _is_tag(place: tuple[Key, ...], k: int) -> bool:
    if place[k] == _NAME_TAG:
        return k >= 2 and place[k - 2] in _NAMED_ROWS
    return k >= 1 and place[k] in _TAGS.get(str(place[k - 1]), ())


def reword(error: ErrorDetails, faults: Faults, model: type[BaseModel]) -> None:
    """Add one of pydantic's findings about a sheet read with `model`."""
    keys = _keys(error)
    found = shown(error["input"])
    kind = faults.places.kind(keys[1]) if len(keys) > 2 and keys[0] == "pad" else "cushion"
    match error["type"]:
        case "extra_forbidden":
            faults.add("S010", keys, _unknown_key(keys, model, kind))
        case "missing":
            what = _describe(keys, model)
            faults.add("S011", keys, f"missing; add {_word(keys[-1], kind)}{f' ({what})' if what else ''}")
        case "model_type" | "model_attributes_type" | "dict_type":
            faults.add("S012", keys, f"not a table, found {found}; write its keys under a line {_header(keys, kind)}")
        case "list_type":
            faults.add("S012", keys, _not_a_list(keys, found, kind))
        case "too_short":
            faults.add("S019", keys, f"too few points, found {found}; give at least two")
        case "too_long":
            faults.add("S019", keys, f"too many points, found {len(error['input'])}; give at most {MOST_POINTS}")
        case "invalid_key" | "string_type":
            faults.add("S012", keys, f"not text, found {found}; write it in quotes")
        case code:
            faults.add(code, keys, error["msg"])


def _word(key: Key, kind: str) -> str:
    return upright_key(str(key)) if kind in UPRIGHT else str(key)


def _unknown_key(keys: KeyPath, model: type[BaseModel], kind: str) -> str:
    key = str(keys[-1])
    fields = _fields_at(model, keys[:-1])
    known = [_word(entry.alias or name, kind) for name, entry in fields.items()]
    if kind not in UPRIGHT and key.split("_")[0] in ("bottom", "top"):
        return "unknown key; a cushion has front and rear, bottom and top are for a backrest or side"
    near = near_name(key, known)
    if near:
        return f'unknown key; did you mean "{near}"?'
    homes = [home for home in _homes_of(usual_key(key) if kind in UPRIGHT else key, model) if home != keys[:-1]]
    if homes:
        return f"unknown key here; {key} belongs under {one_of(_header(home, kind) for home in homes[:2])}"
    return f"unknown key; known here: {', '.join(known)}"


def _homes_of(key: str, model: type[BaseModel], above: KeyPath = ()) -> list[KeyPath]:
    """Every table below `model` that has this key."""
    homes = [above] if key in model.model_fields and above else []
    for name, entry in model.model_fields.items():
        for inside in _models_in(entry.annotation):
            homes += _homes_of(key, inside, (*above, name))
    return homes


def _header(keys: Iterable[Key], kind: str) -> str:
    words = [_word(key, kind) for key in keys if isinstance(key, str)]
    text = "[" + ".".join(words) + "]"
    return f"[{text}]" if words[-1] in _MANY else text


def _not_a_list(keys: KeyPath, found: str, kind: str) -> str:
    if keys[-1] in _MANY:
        return f"found {found} where there may be several; write its header with two brackets: {_header(keys, kind)}"
    return f"not a list, found {found}; write it in square brackets: [[0, 0], [100, 5]]"


def _models_in(annotation: Any) -> list[type[BaseModel]]:
    """All tables that a field's annotation mentions."""
    if (
        isinstance(annotation, type)
        and issubclass(annotation, BaseModel)
        and not isinstance(annotation, types.GenericAlias)
    ):
        return [annotation]
    return [model for part in typing.get_args(annotation) for model in _models_in(part)]


def _fields_at(model: type[BaseModel], keys: Sequence[Key]) -> Mapping[str, Any]:
    """Fields of the table at a place; empty where there is no table."""
    here: type[BaseModel] | None = model
    for key in keys:
        if here is None:
            return {}
        if isinstance(key, str) and key in here.model_fields:
            inside = _models_in(here.model_fields[key].annotation)
            here = inside[0] if inside else None
    return here.model_fields if here is not None else {}


def default_at(model: type[BaseModel], keys: Sequence[Key]) -> object:
    """What counts where a key is not written; None where nothing does."""
    fields = _fields_at(model, keys[:-1])
    key = usual_key(str(keys[-1]))
    return fields[key].get_default() if key in fields and not fields[key].is_required() else None


def _describe(keys: KeyPath, model: type[BaseModel]) -> str:
    fields = _fields_at(model, keys[:-1])
    key = str(keys[-1])
    text = str(fields[key].description or "") if key in fields else ""
    return text[:1].lower() + text[1:].rstrip(".")
