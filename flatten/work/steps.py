"""The steps of a job in working order, each with its figures and cautions: one record that page, paper and report read.

Amounts are mm and N. Forces are told in kg first, since that is what a shop's scales show.
"""

from dataclasses import dataclass, field, replace
from typing import Literal

from flatten.paper.cautions import CAUTIONS
from meshes.base.files import number
from meshes.base.frozen_map import FrozenMap
from meshes.base.units import Unit, in_shop_unit

# What a mass of 1 kg weighs (standard gravity, ISO 80000-3).
N_PER_KG = 9.80665
# Longer lengths are told in whole mm.
WHOLE_FROM_MM = 300.0
# Cautions by what they are about, as every paper has them.
ADHESIVE, SPRINGS, BLADES, FIRE, BELTS = (
    "Adhesive",
    "Springs",
    "Needles and blades",
    "Fire",
    "Seats with belts, airbags, sensors, heaters or anchorages",
)
HOW_TO_USE = (
    "In working order, with the figures of this seat. Tick a step when it is done, write what you measure on the "
    "lines. Forces in kg, newtons in brackets."
)
_CAUTION = FrozenMap({text.partition(":")[0]: text for text in CAUTIONS})


@dataclass(frozen=True)
class StepFigure:
    """what: in words; amount: in its unit; note: what belongs to it; found: it is read off the work, so a line is left
    to write it on."""

    what: str
    amount: float
    note: str = ""
    found: bool = False
    unit: Literal["mm", "N"] = "mm"

    def amount_words(self, unit: Unit) -> str:
        """The amount as a shop reads it, in the unit of its tape; forces in kg, with the newtons beside them."""
        if self.unit == "N":
            return force_words(self.amount)
        return in_shop_unit(f"{number(self.amount, 0 if self.amount >= WHOLE_FROM_MM else 1)} mm", unit=unit)


def told_after(figure: StepFigure) -> str:
    """What follows a figure's amount."""
    if not figure.note:
        return ""
    return f" {figure.note}" if figure.note.startswith("from ") else f", {figure.note}"


def force_words(newton: float) -> str:
    """A force: kg first, to about three figures."""
    kg = newton / N_PER_KG
    return f"{number(kg, 1 if kg < 100.0 else 0)} kg ({number(newton, 1 if newton < 10.0 else 0)} N)"


@dataclass(frozen=True)
class WorkStep:
    """One thing to do. stage: heading it stands under; part: pad it is about, empty for the whole seat; text: what is
    done; details: more lines to it; cautions: what they are about, of `CAUTIONS`; number: in the whole job, from 1."""

    stage: str
    part: str
    text: str
    details: tuple[str, ...] = ()
    figures: tuple[StepFigure, ...] = ()
    cautions: tuple[str, ...] = ()
    number: int = 0


@dataclass(frozen=True)
class JobSheet:
    """All steps of one job. name, revision: of its sheet; unit: of its tape; warnings: caution in words by the number
    of the step at which it is told."""

    name: str
    revision: str
    unit: Unit
    steps: tuple[WorkStep, ...]
    warnings: tuple[tuple[int, tuple[str, ...]], ...] = field(default=())

    def cautions_at(self, step: WorkStep) -> tuple[str, ...]:
        """What is told at one step: a caution in full where it first applies, later where that stands."""
        return dict(self.warnings).get(step.number, ())

    @property
    def stages(self) -> tuple[tuple[str, tuple[WorkStep, ...]], ...]:
        """Headings in order, each with its steps."""
        heads = dict.fromkeys(step.stage for step in self.steps)
        return tuple((head, tuple(step for step in self.steps if step.stage == head)) for head in heads)


def numbered(name: str, revision: str, unit: Unit, steps: tuple[WorkStep, ...]) -> JobSheet:
    """The sheet of steps in their order; every caution in full where it first applies, and once again under every
    heading where it does."""
    counted = tuple(replace(step, number=k) for k, step in enumerate(steps, start=1))
    first: dict[str, int] = {}
    under: set[tuple[str, str]] = set()
    warnings = []
    for step in counted:
        told = []
        for word in step.cautions:
            at = first.setdefault(word, step.number)
            if (step.stage, word) not in under:
                told.append(_CAUTION[word] if at == step.number else f"{word}: see step {at}.")
            under.add((step.stage, word))
        if told:
            warnings.append((step.number, tuple(told)))
    return JobSheet(name, revision, unit, counted, tuple(warnings))
