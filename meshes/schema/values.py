"""Single values of a measurement sheet: lengths, numbers, points. Each says in a trimmer's words what is wrong with it.

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
from meshes.base.problems import one_of, shown
from meshes.base.units import LARGEST_PAD_MM, MM_PER_UNIT, SMALLEST_PAD_MM, SNAP_MM, parse_length

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


class Rule(ABC):
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
class LengthRule(Rule):
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
class NumberRule(Rule):
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
class CountRule(Rule):
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


class FlagRule(Rule):
    """Yes or no."""

    def read(self, value: object, info: ValidationInfo) -> bool:
        if not isinstance(value, bool):
            raise fault("S012", f"neither yes nor no, found {shown(value)}; write true or false, without quotes")
        return value

    def json(self) -> Json:
        return {"type": "boolean"}


@dataclass(frozen=True)
class PointRule(Rule):
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
class RowRule(Rule):
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


@dataclass(frozen=True)
class WeighedRule(Rule):
    """A row of a weight in kg and of what was read with it. lengths: what each of the lengths is."""

    lengths: tuple[str, ...]
    most_kg: float

    def read(self, value: object, info: ValidationInfo) -> tuple[float, ...]:
        row = ", ".join(("kg", *self.lengths))
        if not isinstance(value, list):
            raise fault("S012", f"not a row of readings, found {shown(value)}; write [{row}]")
        if len(value) != 1 + len(self.lengths):
            raise fault("S019", f"{_numbers(len(value))} in a row, found {shown(value)}; write [{row}]")
        weight = NumberRule("a weight", least=0.01, most=self.most_kg, unit="kg").read(value[0], info)
        rules = [LengthRule(what, above=True, most=2000.0) for what in self.lengths]
        return (weight, *(rule.read(one, info) for rule, one in zip(rules, value[1:], strict=True)))

    def json(self) -> Json:
        count = 1 + len(self.lengths)
        weight = {"type": "number", "exclusiveMinimum": 0, "maximum": self.most_kg}
        items = LengthRule("").json()
        return {"type": "array", "prefixItems": [weight], "items": items, "minItems": count, "maxItems": count}


@dataclass(frozen=True)
class ListRule(Rule):
    """One to `most` lengths in a row, each after `each` and more than the one before it. what: the row in words."""

    what: str
    most: int
    each: LengthRule

    def read(self, value: object, info: ValidationInfo) -> tuple[float, ...]:
        if not isinstance(value, list):
            raise fault("S012", f"not a list, found {shown(value)}; write {self.what}, in square brackets")
        if not 1 <= len(value) <= self.most:
            raise fault("S019", f"{_numbers(len(value))}, found {shown(value)}; write 1 to {self.most}: {self.what}")
        lengths = tuple(self.each.read(item, info) for item in value)
        for k in range(1, len(lengths)):
            if lengths[k] < lengths[k - 1] + SNAP_MM:
                text = f"{shown(value[k])} is no more than {shown(value[k - 1])} before it"
                raise fault("S027", f"does not rise, found {shown(value)}: {text}; write {self.what}, each once")
        return lengths

    def json(self) -> Json:
        return {"type": "array", "items": self.each.json(), "minItems": 1, "maxItems": self.most}


Flag = Annotated[bool, FlagRule()]
PlacePoint = Annotated[Point, PointRule(("place", "height"))]
PlanPoint = Annotated[Point, PointRule(("x", "y"))]
CornerPoint = Annotated[tuple[float, ...], PointRule(("x", "y", "radius"))]
