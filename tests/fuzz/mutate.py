"""How a text of TOML is spoilt: a few changes of many kinds, chosen by dice. The result is bytes, not always UTF-8.

Two texts in three stay TOML for the most part, so that what the sheet means is reached, and not only its grammar.
"""

import random
import re
from collections.abc import Callable, Sequence

from tests.fuzz.values import CHARACTERS, SOUND_VALUES, VALUES

Spoil = Callable[[str, random.Random, Sequence[str]], str]
_KEY = re.compile(r"^(\s*)([A-Za-z_][A-Za-z_0-9]*)(\s*=\s*)(.*)$")
_WHOLE = re.compile(r"^\s*([A-Za-z_][A-Za-z_0-9]*)\s*=\s*([^\[{#]+|[\[{].*[\]}])\s*(#.*)?$")
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
_HEAD = re.compile(r"^\s*\[.*\]\s*(#.*)?$")
LARGEST = 900_000
_MEANING_SHARE = 0.65


def mutated(text: str, dice: random.Random, others: Sequence[str], *, secret: str = "") -> bytes:
    """The text with one to a few changes; others: texts that blocks are taken from. A `secret` is left as it is."""
    count = 1 if dice.random() < 0.5 else dice.randint(2, 7)
    spoils = _MEANING if dice.random() < _MEANING_SHARE else _SPOILS
    for _ in range(count):
        spoil = dice.choices(tuple(spoils), tuple(spoils.values()))[0]
        changed = spoil(text, dice, others)
        if len(changed) <= LARGEST and (not secret or secret in changed):
            text = changed
    data = text.encode("utf-8", "surrogatepass")
    return _bytes_spoilt(data, dice) if spoils is _SPOILS and dice.random() < 0.15 and not secret else data


def _lines(text: str, dice: random.Random, pattern: re.Pattern[str]) -> tuple[list[str], int | None]:
    """The lines, and one of those that match."""
    lines = text.split("\n")
    fit = [k for k, line in enumerate(lines) if pattern.match(line)]
    return lines, dice.choice(fit) if fit else None


def _other_value(text: str, dice: random.Random, others: Sequence[str]) -> str:
    lines, k = _lines(text, dice, _KEY)
    if k is None:
        return text
    match = _KEY.match(lines[k])
    assert match
    lines[k] = match[1] + match[2] + match[3] + dice.choice(VALUES)
    return "\n".join(lines)


def _sound_value(text: str, dice: random.Random, others: Sequence[str]) -> str:
    lines, k = _lines(text, dice, _WHOLE)
    if k is None:
        return text
    match = _WHOLE.match(lines[k])
    assert match
    lines[k] = f"{match[1]} = {dice.choice(SOUND_VALUES)}"
    return "\n".join(lines)


def _number_near(text: str, dice: random.Random, others: Sequence[str]) -> str:
    """Another measure of about the size of one that is there, as a slip of the hand or another seat would have it."""
    found = list(_NUMBER.finditer(text))
    if not found:
        return text
    match = dice.choice(found)
    value = float(match[0]) * dice.choice((0.3, 0.5, 0.8, 0.97, 1.03, 1.3, 2.0, 3.0)) + dice.choice(
        (0.0, 0.0, 0.01, 5.0)
    )
    return f"{text[: match.start()]}{value:.6g}{text[match.end() :]}"


def _number_scaled(text: str, dice: random.Random, others: Sequence[str]) -> str:
    found = list(_NUMBER.finditer(text))
    if not found:
        return text
    match = dice.choice(found)
    factor = dice.choice((0.0, -1.0, 0.04, 0.1, 0.5, 0.9, 1.1, 2.0, 10.0, 25.4, 1e3, 1e6))
    value = float(match[0]) * factor + dice.choice((0.0, 0.0, 1.0, -1.0, 1e-9))
    return f"{text[: match.start()]}{value:g}{text[match.end() :]}"


def _number_replaced(text: str, dice: random.Random, others: Sequence[str]) -> str:
    found = list(_NUMBER.finditer(text))
    if not found:
        return text
    match = dice.choice(found)
    return text[: match.start()] + dice.choice(VALUES) + text[match.end() :]


def _line_gone(text: str, dice: random.Random, others: Sequence[str]) -> str:
    lines = text.split("\n")
    start = dice.randrange(len(lines))
    del lines[start : start + dice.choice((1, 1, 1, 2, 5))]
    return "\n".join(lines)


def _line_twice(text: str, dice: random.Random, others: Sequence[str]) -> str:
    lines = text.split("\n")
    k = dice.randrange(len(lines))
    lines[dice.randrange(len(lines)) : 0] = [lines[k]] * dice.choice((1, 1, 2, 40))
    return "\n".join(lines)


def _lines_swapped(text: str, dice: random.Random, others: Sequence[str]) -> str:
    lines = text.split("\n")
    a, b = dice.randrange(len(lines)), dice.randrange(len(lines))
    lines[a], lines[b] = lines[b], lines[a]
    return "\n".join(lines)


def _key_spoilt(text: str, dice: random.Random, others: Sequence[str]) -> str:
    lines, k = _lines(text, dice, _KEY)
    if k is None:
        return text
    match = _KEY.match(lines[k])
    other = _KEY.match(lines[_lines(text, dice, _KEY)[1] or 0])
    assert match
    names = (match[2][:-1], match[2] + "s", match[2].upper(), match[2].replace("_", "-"), f'"{match[2]}"', "x.y.z")
    name = other[2] if other and dice.random() < 0.4 else dice.choice(names)
    lines[k] = match[1] + name + match[3] + match[4]
    return "\n".join(lines)


def _head_spoilt(text: str, dice: random.Random, others: Sequence[str]) -> str:
    lines, k = _lines(text, dice, _HEAD)
    if k is None:
        return text
    bare = lines[k].split("#")[0].strip().strip("[]")
    ways = (
        f"[{bare}]",
        f"[[{bare}]]",
        f"[{bare}.{bare}]",
        f"[{bare.split('.')[-1]}]",
        f"[[pad.{bare}]]",
        "[]",
        f"[{bare}",
    )
    lines[k] = dice.choice((*ways, f"[{'.'.join(['a'] * dice.choice((5, 90, 400)))}]"))
    return "\n".join(lines)


def _block_taken(text: str, dice: random.Random, others: Sequence[str]) -> str:
    other = dice.choice(others).split("\n")
    heads = [k for k, line in enumerate(other) if _HEAD.match(line)] or [0]
    start = dice.choice(heads)
    end = next((k for k in heads if k > start), len(other))
    lines = text.split("\n")
    at = dice.randrange(len(lines) + 1)
    return "\n".join(lines[:at] + other[start:end] * dice.choice((1, 1, 1, 2, 30)) + lines[at:])


def _characters_in(text: str, dice: random.Random, others: Sequence[str]) -> str:
    at = dice.randrange(len(text) + 1)
    return text[:at] + "".join(dice.choices(CHARACTERS, k=dice.choice((1, 1, 2, 5)))) + text[at:]


def _characters_out(text: str, dice: random.Random, others: Sequence[str]) -> str:
    at = dice.randrange(len(text) + 1)
    return text[:at] + text[at + dice.choice((1, 1, 2, 8, 60)) :]


def _cut_off(text: str, dice: random.Random, others: Sequence[str]) -> str:
    return text[: dice.randrange(len(text) + 1)]


def _line_ends(text: str, dice: random.Random, others: Sequence[str]) -> str:
    return text.replace("\n", dice.choice(("\r\n", "\r", "\n\n", "\r\r\n")))


def _grown(text: str, dice: random.Random, others: Sequence[str]) -> str:
    """Far more of something than anyone writes."""
    many = dice.choice((30, 300, 3000))
    ways = (
        "\n".join(f"[material.m{k}]\ndensity = {k}" for k in range(min(many, 300))),
        "points = [" + ", ".join(f"[{k}, {k % 7}]" for k in range(many)) + "]",
        "x = " + "[" * many + "]" * many,
        "[" + ".".join(["a"] * many) + "]",
        "\n".join(f"[[pad]]\nname = 'p{k}'\nkind = 'side'" for k in range(min(many, 60))),
        "#" + "x" * 100 * many,
    )
    return text + "\n" + dice.choice(ways) + "\n"


_MEANING: dict[Spoil, float] = {
    _sound_value: 20,
    _number_near: 40,
    _number_scaled: 10,
    _line_gone: 10,
    _lines_swapped: 2,
    _key_spoilt: 3,
    _block_taken: 4,
}
_SPOILS: dict[Spoil, float] = {
    _other_value: 22,
    _number_scaled: 16,
    _number_replaced: 10,
    _line_gone: 10,
    _line_twice: 6,
    _lines_swapped: 5,
    _key_spoilt: 7,
    _head_spoilt: 5,
    _block_taken: 7,
    _characters_in: 6,
    _characters_out: 4,
    _cut_off: 1.5,
    _line_ends: 0.6,
    _grown: 0.5,
}


def _bytes_spoilt(data: bytes, dice: random.Random) -> bytes:
    spoilt = bytearray(data)
    for _ in range(dice.choice((1, 1, 2, 6))):
        at = dice.randrange(len(spoilt) + 1)
        way = dice.randrange(4)
        if way == 0 and at < len(spoilt):
            spoilt[at] = dice.randrange(256)
        elif way == 1:
            spoilt[at:at] = dice.randbytes(dice.choice((1, 2, 9)))
        elif way == 2:
            del spoilt[at : at + dice.choice((1, 3, 30))]
        else:
            spoilt[0:0] = dice.choice((b"\xef\xbb\xbf", b"\xff\xfe", b"\x00", b"PK\x03\x04", b"\xc3"))
    return bytes(spoilt)
