"""Words, names and free text of a measurement sheet: what is wrong with one is said in a trimmer's words."""

from dataclasses import dataclass
from typing import Any

from pydantic_core.core_schema import ValidationInfo

from meshes.base.problems import commands, near_name, one_of, shown
from meshes.records.pad import upright_key
from meshes.schema.values import Json, Rule, fault

NAME_LENGTH = 60
# Characters that some file system refuses or reads as something else.
NO_FILE_CHARACTERS = '/\\:*?"<>|'
# Names that one common system keeps for devices.
_DEVICE_NAMES = {"con", "prn", "aux", "nul"}
# Free text longer than this is no remark.
TEXT_LENGTH = 1000


@dataclass(frozen=True)
class WordRule(Rule):
    """One of a few words."""

    words: tuple[str, ...]

    def read(self, value: object, info: ValidationInfo) -> str:
        if isinstance(value, str) and value in self.words:
            return value
        near = near_name(value, self.words) if isinstance(value, str) else None
        choice = one_of(f'"{word}"' for word in self.words)
        advice = f'did you mean "{near}"? Write {choice}' if near else f"write {choice}"
        code = "S013" if isinstance(value, str) else "S012"
        raise fault(code, f"not a word known here, found {shown(value)}; {advice}")

    def json(self) -> Json:
        return {"type": "string", "enum": list(self.words)}


@dataclass(frozen=True)
class SidesRule(WordRule):
    """One side of a pad or several, as a list or in one text with commas; which go together is checked elsewhere."""

    def read(self, value: object, info: ValidationInfo) -> Any:
        parts = [part.strip() for part in value.split(",")] if isinstance(value, str) else value
        if not isinstance(parts, list) or not parts:
            raise fault("S012", f'not a side, found {shown(value)}; write one such as "left"')
        return tuple(WordRule.read(self, part, info) for part in parts)

    def json(self) -> Json:
        one = {"type": "string", "enum": sorted({*self.words, *map(upright_key, self.words)})}
        return {"anyOf": [{"type": "string"}, {"type": "array", "items": one, "minItems": 1, "maxItems": 3}]}


@dataclass(frozen=True)
class NameRule(Rule):
    """A name: not empty, not long, and usable in file names on every system."""

    what: str

    def read(self, value: object, info: ValidationInfo) -> str:
        if not isinstance(value, str):
            raise fault("S012", f"not text, found {shown(value)}; write {self.what} in quotes")
        bad = sorted({c for c in value if c in NO_FILE_CHARACTERS or not c.isprintable()})
        if not value.strip():
            raise fault("S018", f"empty; give {self.what}")
        if len(value) > NAME_LENGTH:
            raise fault("S018", f"too long, found {len(value)} characters; give at most {NAME_LENGTH}")
        if bad:
            text = f"holds characters that cannot stand in a file name, found {shown(value)}"
            raise fault("S018", f"{text}; leave out {shown(''.join(bad))}")
        if value != value.strip() or value.endswith(".") or value.startswith(".") or value.lower() in _DEVICE_NAMES:
            raise fault("S018", f"cannot be used in a file name, found {shown(value)}; no blank or dot at its ends")
        return value

    def json(self) -> Json:
        return {"type": "string", "minLength": 1, "maxLength": NAME_LENGTH}


@dataclass(frozen=True)
class TextRule(Rule):
    """Free text, such as where a number comes from."""

    what: str

    def read(self, value: object, info: ValidationInfo) -> str:
        if not isinstance(value, str):
            raise fault("S012", f"not text, found {shown(value)}; write {self.what} in quotes")
        return _text(value)

    def json(self) -> Json:
        return {"type": "string"}


def _text(value: str) -> str:
    """Free text on one line."""
    return _sayable(" ".join(value.split()))


def _sayable(text: str) -> str:
    """The text; the error of `fault` where it is far too long or holds what cannot be shown."""
    if len(text) > TEXT_LENGTH:
        raise fault("S018", f"too long, found {len(text)} characters; give at most {TEXT_LENGTH}")
    if commands(text):
        codes = ", ".join(f"U+{ord(c):04X}" for c in commands(text)[:5])
        raise fault("S018", f"holds characters that are no writing, found {codes}; leave them out")
    return text


@dataclass(frozen=True)
class MarkRule(Rule):
    """A mark as it is called on a piece: its number, or words."""

    what: str

    def read(self, value: object, info: ValidationInfo) -> str:
        if isinstance(value, int) and not isinstance(value, bool) and 0 < value < 1000:
            return str(value)
        if not isinstance(value, str) or not value.strip():
            text = f'no mark, found {shown(value)}; write {self.what} as a number, or in quotes like "centre"'
            raise fault("S012", text)
        return _text(value)

    def json(self) -> Json:
        return {"anyOf": [{"type": "integer", "minimum": 1}, {"type": "string", "minLength": 1}]}


@dataclass(frozen=True)
class CardNameRule(Rule):
    """A leather card: the name of a built-in one, or a file of cards, FILE.toml or FILE.toml:NAME."""

    what: str

    def read(self, value: object, info: ValidationInfo) -> str:
        if isinstance(value, str) and ".toml" in value:
            return _sayable(value)
        return NameRule(self.what).read(value, info)

    def json(self) -> Json:
        return {"type": "string", "minLength": 1}


@dataclass(frozen=True)
class NamesRule(Rule):
    """One to `most` names in a row, each once. what: the row in words."""

    what: str
    most: int

    def read(self, value: object, info: ValidationInfo) -> list[str]:
        if not isinstance(value, list):
            raise fault("S012", f"not a list, found {shown(value)}; write {self.what} in square brackets")
        if not 1 <= len(value) <= self.most:
            raise fault("S019", f"{len(value)} names, found {shown(value)}; write 1 to {self.most}: {self.what}")
        names = []
        for name in value:
            if not isinstance(name, str) or not name.strip():
                raise fault("S012", f"no name, found {shown(name)}; write {self.what} in quotes")
            names.append(_text(name))
        if len(set(names)) < len(names):
            twice = next(name for name in names if names.count(name) > 1)
            raise fault("S019", f"the same name twice, found {shown(twice)}; write each once")
        return names

    def json(self) -> Json:
        name = {"type": "string", "minLength": 1}
        return {"type": "array", "items": name, "minItems": 1, "maxItems": self.most}


@dataclass(frozen=True)
class SourceRule(Rule):
    """Where numbers come from: one text for all of them, or a table with a text for each."""

    keys: tuple[str, ...]

    def read(self, value: object, info: ValidationInfo) -> str | dict[str, str]:
        if isinstance(value, str):
            return _text(value)
        if not isinstance(value, dict):
            text = f"neither text nor a table, found {shown(value)}; write where the numbers come from in quotes"
            raise fault("S012", text)
        for key, text in value.items():
            if key not in self.keys:
                near = near_name(key, self.keys)
                advice = f'did you mean "{near}"?' if near else f"known here: {', '.join(self.keys)}"
                raise fault("S010", f'no number of this name, found "{key}"; {advice}')
            if not isinstance(text, str):
                raise fault("S012", f"not text for {key}, found {shown(text)}; write where it comes from in quotes")
        return {key: _text(text) for key, text in value.items()}

    def json(self) -> Json:
        table = {"type": "object", "properties": {key: {"type": "string"} for key in self.keys}}
        return {"anyOf": [{"type": "string"}, {**table, "additionalProperties": False}]}
