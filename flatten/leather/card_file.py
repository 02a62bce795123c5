"""Leather cards by name, from a file of the shop's own, or from the sheet.

A file of cards is TOML: one table [card.NAME] for each leather, with the keys that [cover.card] of a sheet has. Where
a card is named, "FILE.toml:NAME" names one of a file, and "FILE.toml" the only one in it.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from flatten.leather.card import USUAL, Card, card_named
from flatten.leather.measured import measured_card, ways_found
from meshes.base.problems import Problem, ProblemError, in_file_order, near_name, one_of
from meshes.schema.cover_tables import CARD_NUMBERS, CardFileInput, CardNumbers
from meshes.schema.lines import toml_lines
from meshes.schema.toml_text import parsed, text_of
from meshes.schema.words import Faults, SheetPlaces, reword_all
from meshes.sheet.whole import CardEntry, Sheet

_ENDING = ".toml"
_OF_CARD = {"thickness": "thickness_mm"}


def find_card(name: str, *, beside: Path | None = None) -> Card:
    """The card of this name: a built-in one, FILE.toml or FILE.toml:NAME.

    beside: folder that a file's path starts from, the working folder when not given. Raises ProblemError for a name or
    file there is not and for every fault of the file.
    """
    if _ENDING not in name:
        return card_named(name)
    head, ending, rest = name.partition(_ENDING)
    wanted = rest.removeprefix(":") or None
    cards = read_cards((beside or Path()) / (head + ending))
    if wanted is None and len(cards) == 1:
        return next(iter(cards.values()))
    if wanted in cards:
        return cards[wanted]
    known = one_of(f'"{head}{ending}:{key}"' for key in cards)
    near = near_name(wanted or "", cards)
    found = f'no card "{wanted}" in this file' if wanted else f"{len(cards)} cards in this file"
    advice = f'did you mean "{head}{ending}:{near}"?' if near else f"write {known}"
    raise ProblemError([Problem("L108", "leather", f"{found}; {advice}")])


def read_cards(path: Path) -> dict[str, Card]:
    """All cards of a file by name.

    Raises ProblemError with every fault, each at its line. A sheet can name any file, so nothing that stands in it is
    shown unless it is of a card.
    """
    text = text_of(path, show=False)
    raw = parsed(text, str(path), show=False)
    faults = Faults(SheetPlaces(str(path), toml_lines(text), ()))
    strange = _no_cards(raw, faults.places)
    if strange:
        raise ProblemError(strange)
    unit = "in" if raw.get("unit") == "in" else "mm"
    cards: dict[str, Card] = {}
    try:
        whole = CardFileInput.model_validate(raw, context={"unit": unit})
    except ValidationError as found:
        reword_all(found, faults, CardFileInput)
    else:
        for name, numbers in whole.card.items():
            try:
                cards[name] = _card(name, numbers)
            except ProblemError as fault:
                for problem in fault.problems:
                    faults.add(problem.code, ("card", name), problem.text)
        if not cards and not faults.problems:
            faults.add("L109", ("card",), "no card; describe at least one under [card.NAME]")
    if faults.problems:
        raise ProblemError(faults.problems)
    return cards


def _no_cards(raw: Mapping[str, Any], places: SheetPlaces) -> list[Problem]:
    """A problem for every part of a file that is neither a unit nor a card; only its line is told."""
    cards = raw.get("card")
    strange: list[tuple[str, ...]] = [(key,) for key in raw if key not in ("unit", "card")]
    if not isinstance(cards, dict):
        strange += [("card",)] if "card" in raw else []
    else:
        strange += [("card", name) for name, table in cards.items() if not _like_a_card(table)]
    if raw.get("unit", "mm") not in ("mm", "in"):
        strange.append(("unit",))
    text = 'this is no part of a card; a file of cards has unit = "mm" or "in", and [card.NAME] with its numbers'
    found = [Problem("L109", "", text, places.file, places.line_of(*keys) or 1) for keys in strange]
    return list(in_file_order(found))


def _like_a_card(table: object) -> bool:
    return isinstance(table, dict) and (not table or any(key in table for key in CARD_NUMBERS))


def card_from_sheet(sheet: Sheet) -> Card:
    """The sheet's own card, or the one it names, with what strips gave. Raises ProblemError with file and line."""
    own = sheet.cover.card
    try:
        if own is None:
            card = find_card(sheet.cover.leather or USUAL, beside=sheet.path.parent)
        else:
            card = _card(own.name, own)
        return measured_card(card, ways_found(sheet.strips))
    except ProblemError as fault:
        keys = ("cover", "leather") if own is None else ("cover", "card")
        # What is wrong inside a file of cards has a place of its own.
        found = [p if p.file else sheet.problem(p.code, keys, p.text) for p in fault.problems]
        raise ProblemError(found) from fault


def _card(name: str, given: CardEntry | CardNumbers) -> Card:
    stiffness = {
        key: value for key in ("stiffness_along", "stiffness_across") if (value := getattr(given, key)) is not None
    }
    return Card(
        name,
        given.thickness,
        given.pull,
        given.stretch_along,
        given.stretch_across,
        _sources(given.source, stiffness),
        **stiffness,
    )


def _sources(source: str | Mapping[str, str], stiffness: Mapping[str, float]) -> dict[str, str]:
    """Where each number comes from; stiffness only when the card gives it, the usual one has its own source."""
    stated = [key for key in CARD_NUMBERS if not key.startswith("stiffness") or key in stiffness]
    texts = source if isinstance(source, Mapping) else dict.fromkeys(stated, source)
    return {_OF_CARD.get(key, key): texts.get(key) or "the shop's own card, no source given" for key in stated}
