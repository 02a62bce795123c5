"""Names that are unique by construction: what is called alike is numbered, and no number makes a name that is taken."""

from collections import Counter
from collections.abc import Collection, Sequence


def numbered(words: Sequence[str]) -> list[str]:
    """Names in the same order: "a", "b", "a" become "a 1", "b", "a 2"."""
    often = Counter(words)
    taken, last = set(words), Counter[str]()
    return [word if often[word] == 1 else _next(word, last, taken) for word in words]


def told_apart(words: Sequence[str], taken: Collection[str] = ()) -> list[str]:
    """Names in the same order, none of them among `taken`: "a", "b", "a" become "a", "b", "a 2"."""
    every, used = {*words, *taken}, set(taken)
    last = Counter[str]()
    names = []
    for word in words:
        name = word
        if word in used:
            last[word] = max(last[word], 1)
            name = _next(word, last, every)
        used.add(name)
        names.append(name)
    return names


def _next(word: str, last: Counter[str], taken: set[str]) -> str:
    """The word with the next number that makes no name in `taken`, which it joins."""
    while True:
        last[word] += 1
        name = f"{word} {last[word]}"
        if name not in taken:
            taken.add(name)
            return name
