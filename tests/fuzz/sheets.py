"""Mutated sheets through reading: every one is read, or refused with numbered problems that stand on a line of it.

What is changed: bytes, characters, tokens, values, keys, lines, blocks; some also lean on a file of cards, changed too.
"""

import random
from functools import cache
from pathlib import Path

from flatten.leather.card_file import card_from_sheet
from meshes.base.problems import ProblemError
from meshes.sheet.read import read_sheet
from meshes.sheet.starter import starter_text
from tests.fuzz.case import Outcome, chance, complaints, refused
from tests.fuzz.mutate import mutated
from tests.fuzz.seats import seat
from tests.samples import BENCH
from tests.sheets import GOOD

EXAMPLES = Path(__file__).parents[2] / "examples"
CARDS = """\
unit = "mm"
[card."bull 7"]
thickness = 1.2
stretch_along = 0.05
stretch_across = 0.08
pull = 0.01
stiffness_along = 6.8
source = "strip, two marks"
[card.cow]
thickness = "1/16 in"
stretch_along = 0.04
stretch_across = 0.04
pull = 0.0
[card.cow.source]
thickness = "gauge"
"""
# A line of a file that is no file of cards: it may hold what nobody else is to see.
SECRET = "wages-of-4711"
NO_CARDS = f"unit = 'mm'\nkeep = '{SECRET}'\n[{SECRET}]\nname = '{SECRET}'\n{SECRET} = 3\n[card.a]\npull = '{SECRET}'\n"
_SEATS = 40


@cache
def corpus() -> tuple[str, ...]:
    """Good sheets that are changed: the starter with all choices off and all on, examples, tests' sheets, seats."""
    starter = starter_text()
    switched_on = "\n".join(line[1:] if _is_choice(line) else line for line in starter.splitlines())
    examples = [path.read_text() for path in sorted(EXAMPLES.glob("*/*.toml")) if path.name != "expected.toml"]
    seats = [seat(chance("seats for sheets", k)).text for k in range(_SEATS)]
    return (starter, switched_on, GOOD, BENCH, *examples, *seats)


def _is_choice(line: str) -> bool:
    return line.startswith("#") and line[1:2] not in (" ", "#", "", ":", "-")


def sheet_bytes(seed: int) -> tuple[bytes, bytes | None]:
    """The sheet of a seed, and the file of cards that lies beside it, if one does."""
    dice = chance("sheets", seed)
    text = dice.choice(corpus())
    if dice.random() > 0.06:
        return mutated(text, dice, corpus()), None
    named = dice.choice(
        ("cards.toml:bull 7", "cards.toml", "cards.toml:cow", "cards.toml:kow", "cards.toml:" + "x" * 99)
    )
    text = text.replace("[cover]", f'[cover]\nleather = "{named}"', 1)
    return text.encode(), _cards(dice)


def _cards(dice: random.Random) -> bytes:
    if dice.random() < 0.3:
        return NO_CARDS.encode() if dice.random() < 0.5 else mutated(NO_CARDS, dice, (CARDS,), secret=SECRET)
    return mutated(CARDS, dice, (CARDS,))


def work(seed: int, folder: Path) -> Outcome:
    """Read the sheet of a seed in `folder`."""
    data, cards = sheet_bytes(seed)
    return read(data, cards, folder)


def again(seed: int, text: str, folder: Path) -> Outcome:
    """Read another sheet in the place of the one of this seed."""
    return read(text.encode("utf-8", "surrogateescape"), sheet_bytes(seed)[1], folder)


def read(data: bytes, cards: bytes | None, folder: Path) -> Outcome:
    """Read a sheet given as bytes, with its file of cards."""
    path = folder / "sheet.toml"
    path.write_bytes(data)
    if cards is not None:
        (folder / "cards.toml").write_bytes(cards)
    shown = data.decode("utf-8", "surrogateescape")
    try:
        sheet = read_sheet(path)
        card_from_sheet(sheet)
    except ProblemError as fault:
        lines = data.count(b"\n") + 1
        found = refused(fault, file=str(path), lines=lines)
        if cards is not None and any(SECRET in problem.text for problem in fault.problems):
            found.append("a line of a linked file that is no card is told")
        return Outcome("refused", sorted({p.code for p in fault.problems}), found, text=shown if found else "")
    found = complaints(sheet.warnings, file=str(path), lines=data.count(b"\n") + 1) if sheet.warnings else []
    return Outcome("read", sorted({p.code for p in sheet.warnings}), found, text=shown if found else "")
