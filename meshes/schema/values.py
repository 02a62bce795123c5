"""Single values of a measurement sheet: lengths, numbers, words, names. Each says in a trimmer's words what
is wrong with it.

These are rules for pydantic models: they are attached to a field with `Annotated` and raise errors whose type
is the code of the numbered problem and whose text is ready to be shown. The unit of bare numbers comes from
the validation context.
"""

import math
from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar

from pydantic import BaseModel, ConfigDict, GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import PydanticCustomError, core_schema
from pydantic_core.core_schema import ValidationInfo

from meshes.base.plane import Point
from meshes.base.problems import commands, near_name, one_of, shown
from meshes.base.units import LARGEST_PAD_MM, MM_PER_UNIT, SMALLEST_PAD_MM, SNAP_MM, parse_length

NAME_LENGTH = 60
# Characters that some file system refuses or reads as something else.
NO_FILE_CHARACTERS = '/\\:*?"<>|'
# Names that one common system keeps for devices.
_DEVICE_NAMES = {"con", "prn", "aux", "nul"}
# Free text longer than this is no remark.
TEXT_LENGTH = 1000
# Nearer to nothing than anyone measures: taken as 0, so that no quotient or square leaves the range of numbers.
_AS_GOOD_AS_ZERO = 1e-9
LENGTH_PATTERN = (
    r"^\s*[-+]?\s*([0-9]+(\s+|-)[0-9]+\s*/\s*[0-9]+|[0-9]+\s*/\s*[0-9]+|[0-9]+\.?[0-9]*|\.[0-9]+)"
    r"\s*(mm|cm|m|in|inch|inches|\")?\s*$"
)

Json = dict[str, Any]


class Table(BaseModel):
    """Any table of a sheet: no keys but the known ones, nothing turned silently into another type."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


def fault(code: str, text: str) -> PydanticCustomError:
    """An error that the reader shows as the numbered problem `code` with `text`."""
    # The code is only known here, not in a literal; pydantic passes it on unchanged.
    return PydanticCustomError(code, "{text}", {"text": text})


class _Rule(ABC):
    """What all rules share: pydantic calls `read` with the raw value; `json` describes it for editors."""

    @abstractmethod
    def read(self, value: object, info: ValidationInfo) -> object:
        """The value as the program uses it; raises the error of `fault` for one that cannot be used."""

    @abstractmethod
    def json(self) -> Json:
        """Its JSON Schema."""

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return core_schema.with_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler) -> Json:
        return self.json()


@dataclass(frozen=True)
class LengthRule(_Rule):
    """A length in mm between least and most; `above`: it has to be more than least by what can be marked (SNAP_MM).
    what: the thing in words.
    """

    what: str
    least: float = 0.0
    most: float = LARGEST_PAD_MM
    above: bool = False

    def read(self, value: object, info: ValidationInfo) -> float:
        try:
            length = parse_length(value, unit=_unit(info))
        except ValueError as unreadable:
            what, _, advice = str(unreadable).partition("; ")
            raise fault(_length_code(value), f"{what}, found {shown(value)}; {advice}") from None
        if not self._bottom <= length <= self.most:
            raise self._out_of_range(value, length)
        return length if abs(length) > _AS_GOOD_AS_ZERO else 0.0

    @property
    def _bottom(self) -> float:
        return self.least + SNAP_MM if self.above else self.least

    def _out_of_range(self, value: object, length: float) -> PydanticCustomError:
        bounds = f"{self.what} is {self._bottom:g} to {self.most:g} mm"
        found = shown(value) if value == length else f"{shown(value)} ({length:.6g} mm)"
        if length < 0 <= self.least:
            return fault("S016", f"negative, found {found}; {bounds}")
        if length == 0:
            return fault("S016", f"zero, found {found}; {bounds}")
        much = "too small" if length < self._bottom else "too large"
        meant = self._other_units(value, length)
        if meant:
            return fault("S017", f"{much}, found {found}; looks like {meant}: write the unit with it")
        return fault("S016", f"{much}, found {found}; {bounds}")

    def _other_units(self, value: object, length: float) -> str:
        """The units in which a bare number would be a likely size, in words; empty when none fits or a unit
        was given.
        """
        if isinstance(value, str) or not isinstance(value, int | float):
            return ""
        likely = max(self._bottom, SMALLEST_PAD_MM if self.most >= LARGEST_PAD_MM else 0.0)
        names = {"mm": "millimetres", "cm": "centimetres", "in": "inches", "m": "metres"}
        fits = [
            names[unit]
            for unit in names
            if likely < abs(value) * float(MM_PER_UNIT[unit]) <= min(self.most, 2500.0)
            and not math.isclose(abs(value) * float(MM_PER_UNIT[unit]), abs(length))
        ]
        return one_of(fits)

    def json(self) -> Json:
        return {"anyOf": [{"type": "number"}, {"type": "string", "pattern": LENGTH_PATTERN}]}


def _length_code(value: object) -> str:
    if isinstance(value, float) and not math.isfinite(value):
        return "S015"
    return "S014" if isinstance(value, str | int | float) and not isinstance(value, bool) else "S012"


def _numbers(count: int) -> str:
    return f"{count} number" if count == 1 else f"{count} numbers"


def _unit(info: ValidationInfo) -> Any:
    context: Mapping[str, Any] = info.context or {}
    return context.get("unit", "mm")


@dataclass(frozen=True)
class NumberRule(_Rule):
    """A plain number between least and most. unit: what it is counted in; percent: a value over 1 was
    probably meant in %.
    """

    what: str
    least: float
    most: float
    unit: str = ""
    percent: bool = False

    def read(self, value: object, info: ValidationInfo) -> float:
        unit = f" {self.unit}" if self.unit else ""
        if isinstance(value, bool) or not isinstance(value, int | float):
            advice = f"write {self.what} as a number without quotes{f', in {self.unit}' if self.unit else ''}"
            raise fault("S012", f"not a number, found {shown(value)}; {advice}")
        if isinstance(value, float) and not math.isfinite(value):
            raise fault("S015", f"not a number that can be used, found {shown(value)}; give {self.what}")
        if self.percent and 1.0 <= value <= 100.0:
            raise fault("S017", f"looks like per cent, found {shown(value)}; write {value:g} % as {value / 100:g}")
        if not self.least <= value <= self.most:
            sign = "negative" if value < 0 <= self.least else "out of range"
            bounds = f"{self.what} is {self.least:g} to {self.most:g}{unit}"
            raise fault("S016", f"{sign}, found {shown(value)}; {bounds}")
        return float(value) if abs(value) > _AS_GOOD_AS_ZERO else 0.0

    def json(self) -> Json:
        return {"type": "number", "minimum": self.least, "maximum": self.most}


@dataclass(frozen=True)
class WordRule(_Rule):
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
class NameRule(_Rule):
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
class TextRule(_Rule):
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
class CardNameRule(_Rule):
    """A leather card: the name of a built-in one, or a file of cards, FILE.toml or FILE.toml:NAME."""

    what: str

    def read(self, value: object, info: ValidationInfo) -> str:
        if isinstance(value, str) and ".toml" in value:
            return _sayable(value)
        return NameRule(self.what).read(value, info)

    def json(self) -> Json:
        return {"type": "string", "minLength": 1}


@dataclass(frozen=True)
class SourceRule(_Rule):
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


@dataclass(frozen=True)
class CountRule(_Rule):
    """A whole number between least and most. what: the thing in words."""

    what: str
    least: int
    most: int

    def read(self, value: object, info: ValidationInfo) -> int:
        if isinstance(value, bool) or not isinstance(value, int):
            raise fault("S012", f"not a whole number, found {shown(value)}; write {self.what} without point or quotes")
        if not self.least <= value <= self.most:
            raise fault("S017", f"out of range, found {shown(value)}; {self.what} is {self.least} to {self.most}")
        return value

    def json(self) -> Json:
        return {"type": "integer", "minimum": self.least, "maximum": self.most}


class FlagRule(_Rule):
    """Yes or no."""

    def read(self, value: object, info: ValidationInfo) -> bool:
        if not isinstance(value, bool):
            raise fault("S012", f"neither yes nor no, found {shown(value)}; write true or false, without quotes")
        return value

    def json(self) -> Json:
        return {"type": "boolean"}


@dataclass(frozen=True)
class PointRule(_Rule):
    """A point: two lengths, or three where a corner radius may follow. names: what each number is."""

    names: tuple[str, ...]
    least_count: int = 2
    most_mm: float = LARGEST_PAD_MM
    _RADIUS: ClassVar[LengthRule] = LengthRule("a corner radius", most=2000.0)

    def read(self, value: object, info: ValidationInfo) -> tuple[float, ...]:
        shape = f"[{', '.join(self.names[: self.least_count])}]"
        if len(self.names) > self.least_count:
            shape += f" or [{', '.join(self.names)}]"
        if not isinstance(value, list):
            raise fault("S012", f"not a point, found {shown(value)}; write {shape}")
        if not self.least_count <= len(value) <= len(self.names):
            raise fault("S019", f"{_numbers(len(value))} in a point, found {shown(value)}; write {shape}")
        place = LengthRule("a coordinate", least=-self.most_mm, most=self.most_mm)
        return tuple((place if k < 2 else self._RADIUS).read(item, info) for k, item in enumerate(value))

    def json(self) -> Json:
        length = LengthRule("").json()
        return {"type": "array", "items": length, "minItems": self.least_count, "maxItems": len(self.names)}


@dataclass(frozen=True)
class RowRule(_Rule):
    """Exactly `count` numbers or lengths in a row, each after `each`. what: the row in words, such as X, Y
    and Z.
    """

    what: str
    count: int
    each: LengthRule | NumberRule

    def read(self, value: object, info: ValidationInfo) -> tuple[float, ...]:
        if not isinstance(value, list):
            raise fault("S012", f"not a list, found {shown(value)}; write {self.what} in square brackets")
        if len(value) != self.count:
            raise fault("S019", f"{_numbers(len(value))}, found {shown(value)}; write {self.count}: {self.what}")
        return tuple(self.each.read(item, info) for item in value)

    def json(self) -> Json:
        return {"type": "array", "items": self.each.json(), "minItems": self.count, "maxItems": self.count}


Flag = Annotated[bool, FlagRule()]
PlacePoint = Annotated[Point, PointRule(("place", "height"))]
PlanPoint = Annotated[Point, PointRule(("x", "y"))]
CornerPoint = Annotated[tuple[float, ...], PointRule(("x", "y", "radius"))]
