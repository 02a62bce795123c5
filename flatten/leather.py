"""Leather cards: what a cover may be asked to do, where each number comes from, and the verdict on a piece.

No published limit exists for the strain a trimmer may force into dry leather. The stretches and pulls of the built-in
cards are common practice without a source and say so; a shop should measure its own hide (a cut strip, a known weight,
two marks) and put its own card into the sheet. Codes before a source: A standard or handbook, B trade page, C derived,
M from memory, P common practice, no source.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from meshes.problems import Problem, ProblemError, near_name, one_of
from meshes.sheet import Sheet

# Fullness that a seam can swallow when steamed or eased: common practice, no source.
EASE = 0.015
# Advice up to a stretch. Proposed; common practice, no source.
BANDS = ((0.03, "normal"), (0.06, "watch the grain"), (0.10, "seam or dart"), (math.inf, "refuse unless overridden"))
USUAL = "furniture"

_NUMBERS = ("thickness_mm", "pull", "stretch_along", "stretch_across")


@dataclass(frozen=True)
class Card:
    """A cover material.

    thickness_mm; pull: the slight stretch that keeps the cover smooth; stretch_along, stretch_across: the most it may
    be stretched along and across the backbone (roll length for sheet goods), fractions (0.05 = 5 %); source: where
    each of these four comes from. Raises ProblemError when the numbers make no sense together.
    """

    name: str
    thickness_mm: float
    pull: float
    stretch_along: float
    stretch_across: float
    source: Mapping[str, str]

    def __post_init__(self) -> None:
        object.__setattr__(self, "source", MappingProxyType(dict(self.source)))
        faults = _faults(self)
        if faults:
            raise ProblemError(faults)

    def __reduce__(self) -> tuple[object, ...]:
        # A mapping proxy cannot be pickled; worker processes receive cards, so hand over a plain dict.
        values = (self.name, self.thickness_mm, self.pull, self.stretch_along, self.stretch_across)
        return (Card, (*values, dict(self.source)))

    @property
    def budget(self) -> float:
        """The demand this material can meet: from its pull to its most, in its stiffer direction."""
        most = min(self.stretch_along, self.stretch_across)
        return (1.0 + most) / (1.0 + self.pull) - 1.0


def _faults(card: Card) -> list[Problem]:
    """Every fault of a card, L-codes."""
    where = f"leather {card.name}"
    faults = []
    for name in ("pull", "stretch_along", "stretch_across"):
        value = getattr(card, name)
        if not 0.0 <= value < 1.0:
            text = f"{name} must be a fraction from 0 to below 1 (0.05 is 5 %), found {value:g}"
            faults.append(Problem("L102", where, text))
        elif name != "pull" and value <= card.pull:
            text = f"{name} is {value:g}, not above the pull of {card.pull:g}: nothing is left to stretch; check both"
            faults.append(Problem("L103", where, text))
    if not 0.1 <= card.thickness_mm <= 10.0:
        faults.append(Problem("L104", where, f"thickness must be 0.1 to 10 mm, found {card.thickness_mm:g} mm"))
    missing = [name for name in _NUMBERS if not card.source.get(name)]
    if missing:
        faults.append(Problem("L105", where, f"no source for {', '.join(missing)}; say where each number comes from"))
    return faults


def _built_in(
    name: str, thickness_mm: float, pull: float, along: float, across: float, thickness_source: str = "M: from memory"
) -> Card:
    practice = "P: common practice, no source"
    source = {"thickness_mm": thickness_source, **dict.fromkeys(_NUMBERS[1:], practice)}
    return Card(name, thickness_mm, pull, along, across, source)


_CARDS = (
    _built_in(USUAL, 1.2, 0.01, 0.06, 0.08),
    _built_in("automotive", 1.2, 0.01, 0.05, 0.06, "B: supplier specifications, 1.1 to 1.3 mm"),
    _built_in("firm", 1.6, 0.01, 0.03, 0.04),
    _built_in("soft", 1.0, 0.01, 0.08, 0.10),
    _built_in("knit_backed_vinyl", 1.1, 0.02, 0.08, 0.12),
    _built_in("cloth", 0.8, 0.0, 0.02, 0.03),
)
CARDS: Mapping[str, Card] = MappingProxyType({card.name: card for card in _CARDS})


def card_named(name: str) -> Card:
    """A built-in card. Raises ProblemError (L101) that names the nearest one."""
    if name in CARDS:
        return CARDS[name]
    near = near_name(name, CARDS)
    hint = f'did you mean "{near}"?' if near else f"use {one_of(CARDS)}"
    raise ProblemError([Problem("L101", "leather", f'no card of this name, found "{name}"; {hint}')])


def card_from_sheet(sheet: Sheet) -> Card:
    """The sheet's own card, or the built-in one it names. Raises ProblemError with file and line."""
    own = sheet.cover.card
    try:
        if own is None:
            return card_named(sheet.cover.leather or USUAL)
        source = dict.fromkeys(_NUMBERS, own.source or "the shop's own card, no source given")
        return Card(own.name, own.thickness, own.pull, own.stretch_along, own.stretch_across, source)
    except ProblemError as fault:
        keys = ("cover", "leather") if own is None else ("cover", "card")
        raise ProblemError([sheet.problem(p.code, keys, p.text) for p in fault.problems]) from fault


def checked_budget(budget: float) -> float:
    """A budget given by hand, a fraction. Raises ProblemError (L106) when it can be none."""
    if not 0.0 <= budget < 1.0:
        text = f"the budget must be from 0 to below 100 %, found {100 * budget:g} %"
        raise ProblemError([Problem("L106", "budget", text)])
    return float(budget)


def band(stretch: float) -> str:
    """The advice for a stretch (a fraction: 0.04 is 4 % longer on the seat than on the piece)."""
    return next(words for limit, words in BANDS if stretch <= limit)


def verdict(demand: float, budget: float, *, floor: float | None = None) -> str:
    """`fits`, `fits with ease`, `too tight` or `proven too tight`; demand, budget and floor are fractions.

    With ease: what goes beyond the budget is fullness a seam can swallow. Proven: the floor alone is beyond the budget.
    """
    if demand <= budget:
        return "fits"
    if demand <= budget + EASE:
        return "fits with ease"
    return "proven too tight" if floor is not None and floor > budget else "too tight"
