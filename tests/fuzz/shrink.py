"""A text that shows a finding made as short as it still shows it: lines are left out, many at a time, then fewer.

After Zeller and Hildebrandt, Simplifying and isolating failure-inducing input, 2002 (without the restarts).
"""

import re
import time
from collections.abc import Callable, Sequence


def same_finding(one: Sequence[str], other: Sequence[str]) -> bool:
    """Whether two lists of findings have one in common, apart from its figures."""
    return bool({_kind(words) for words in one} & {_kind(words) for words in other})


def _kind(words: str) -> str:
    return re.sub(r"\d+", "#", words)[:80]


def shrunk(text: str, shows: Callable[[str], bool], *, seconds: float) -> str:
    """The shortest text found within the time, of lines of `text` in their order, for which `shows` still holds."""
    lines, end = text.split("\n"), time.monotonic() + seconds
    size = max(1, len(lines) // 2)
    while True:
        k, before = 0, len(lines)
        while k < len(lines):
            if time.monotonic() > end:
                return "\n".join(lines)
            fewer = lines[:k] + lines[k + size :]
            if fewer and shows("\n".join(fewer)):
                lines = fewer
            else:
                k += size
        if size == 1 and len(lines) == before:
            return "\n".join(lines)
        size = max(1, size // 2)
