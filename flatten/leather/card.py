"""Leather cards: what a cover may be asked to do, where each number comes from.

No published limit exists for the strain a trimmer may force into dry leather. The stretches and pulls of the built-in
cards are common practice without a source and say so; a shop should measure its own hide (a cut strip, a known weight,
two marks) and put its own card into the sheet. Codes before a source: A standard or handbook, B trade page, C derived,
M from memory, P common practice, no source.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from meshes.base.frozen_map import FrozenMap
from meshes.base.problems import Problem, ProblemError, near_name, one_of

# Advice up to a stretch. Proposed; common practice, no source.
STRETCH_ADVICE = (
    (0.03, "normal"),
    (0.06, "watch the grain"),
    (0.10, "seam or dart"),
    (math.inf, "refuse unless overridden"),
)
USUAL = "furniture"

# Stiffness of seat covers: 16.9 N at 5 % (mean of a study), width taken as 50 mm: 6.8 N/mm for a stretch of 1. Across
# the backbone less, by the middle of the ratios 1.2 to 2 told of butts.
STIFFNESS_ALONG, STIFFNESS_RATIO = 6.8, 1.5
_STIFFNESS_SOURCE = {
    "stiffness_along": "C: 16.9 N at 5 % (abstract, scupgkg.cn article 3731), width taken as 50 mm",
    "stiffness_across": "M: stiffer along the backbone by 1.2 to 2, taken as 1.5",
}

_STRETCHES = ("pull", "stretch_along", "stretch_across")
_NUMBERS = ("thickness_mm", *_STRETCHES)


@dataclass(frozen=True)
class Card:
    """A cover material.

    thickness_mm; pull: the slight stretch that keeps the cover smooth; stretch_along, stretch_across: the most it may
    be stretched along and across the backbone (roll length for sheet goods), fractions (0.05 = 5 %); source: where
    each number comes from; stiffness_along, stiffness_across: pull in N/mm of width for a stretch of 1 (N/mm), so that
    0.05 of it is what 5 % takes. Raises ProblemError when the numbers make no sense together.
    """

    name: str
    thickness_mm: float
    pull: float
    stretch_along: float
    stretch_across: float
    source: Mapping[str, str]
    stiffness_along: float = STIFFNESS_ALONG
    stiffness_across: float = STIFFNESS_ALONG / STIFFNESS_RATIO

    def __post_init__(self) -> None:
        object.__setattr__(self, "source", FrozenMap({**_STIFFNESS_SOURCE, **self.source}))
        faults = _faults(self)
        if faults:
            raise ProblemError(faults)

    @property
    def limits(self) -> tuple[float, float]:
        """ln of the most it may be stretched along and across the backbone."""
        return math.log1p(self.stretch_along), math.log1p(self.stretch_across)

    @property
    def budget(self) -> float:
        """The demand this material can meet in every direction: from its pull to its most, in the stiffer one."""
        return self._from_pull(1.0 + min(self.stretch_along, self.stretch_across))

    @property
    def widest_budget(self) -> float:
        """The demand it can meet at the very best: from its pull to its most, in the softer direction."""
        return self._from_pull(1.0 + max(self.stretch_along, self.stretch_across))

    @property
    def tension_n_per_mm(self) -> float:
        """Pull of a cover cut to this card, N per mm of width: halfway from its pull to its most, mean of both
        directions."""
        parts = zip(
            (self.stiffness_along, self.stiffness_across), (self.stretch_along, self.stretch_across), strict=True
        )
        return 0.5 * sum(stiff * 0.5 * (self.pull + most) for stiff, most in parts)

    def strain_at(self, tension_n_per_mm: float) -> float:
        """The stretch - 1, alike in both directions, at which it pulls with a tension in N/mm, mean of both."""
        return tension_n_per_mm / (0.5 * (self.stiffness_along + self.stiffness_across))

    def _from_pull(self, most: float) -> float:
        return most / (1.0 + self.pull) - 1.0


def _faults(card: Card) -> list[Problem]:
    """Every fault of a card, L-codes."""
    where = f"leather {card.name}"
    faults = []
    for name in _STRETCHES:
        value = getattr(card, name)
        if not 0.0 <= value < 1.0:
            text = f"{name} must be a fraction from 0 to below 1 (0.05 is 5 %), found {value:g}"
            faults.append(Problem("L102", where, text))
        elif name != "pull" and value <= card.pull:
            text = f"{name} is {value:g}, not above the pull of {card.pull:g}: nothing is left to stretch; check both"
            faults.append(Problem("L103", where, text))
    if not 0.1 <= card.thickness_mm <= 10.0:
        faults.append(Problem("L104", where, f"thickness must be 0.1 to 10 mm, found {card.thickness_mm:g} mm"))
    for name in ("stiffness_along", "stiffness_across"):
        value = getattr(card, name)
        if not 0.01 <= value <= 1000.0:
            text = (
                f"{name} must be 0.01 to 1000 N/mm, found {value:g}; it is the pull on a strip in N, over its width in "
                "mm and over its stretch as a fraction"
            )
            faults.append(Problem("L107", where, text))
    missing = [name for name in _NUMBERS if not card.source.get(name)]
    if missing:
        faults.append(Problem("L105", where, f"no source for {', '.join(missing)}; say where each number comes from"))
    return faults


def _built_in(
    name: str, thickness_mm: float, pull: float, along: float, across: float, thickness_source: str = "M: from memory"
) -> Card:
    practice = "P: common practice, no source"
    source = {"thickness_mm": thickness_source, **dict.fromkeys(_STRETCHES, practice)}
    return Card(name, thickness_mm, pull, along, across, source)


_CARDS = (
    _built_in(USUAL, 1.2, 0.01, 0.06, 0.08),
    _built_in("automotive", 1.2, 0.01, 0.05, 0.06, "B: supplier specifications, 1.1 to 1.3 mm"),
    _built_in("firm", 1.6, 0.01, 0.03, 0.04),
    _built_in("soft", 1.0, 0.01, 0.08, 0.10),
    _built_in("knit_backed_vinyl", 1.1, 0.02, 0.08, 0.12),
    _built_in("cloth", 0.8, 0.0, 0.02, 0.03),
)
CARDS: Mapping[str, Card] = FrozenMap({card.name: card for card in _CARDS})


def card_named(name: str) -> Card:
    """A built-in card. Raises ProblemError (L101) that names the nearest one."""
    if name in CARDS:
        return CARDS[name]
    near = near_name(name, CARDS)
    hint = (
        f'did you mean "{near}"?' if near else f"use {one_of(CARDS)}, or a file of cards: FILE.toml or FILE.toml:NAME"
    )
    raise ProblemError([Problem("L101", "leather", f'no card of this name, found "{name}"; {hint}')])


def checked_budget(budget: float) -> float:
    """A budget given by hand, a fraction. Raises ProblemError (L106) when it can be none."""
    if not 0.0 <= budget < 1.0:
        text = f"the budget must be from 0 to below 100 %, found {100 * budget:g} %"
        raise ProblemError([Problem("L106", "budget", text)])
    return float(budget)


def band(stretch: float) -> str:
    """The advice for a stretch (a fraction: 0.04 is 4 % longer on the seat than on the piece)."""
    return next(words for limit, words in STRETCH_ADVICE if stretch <= limit)
