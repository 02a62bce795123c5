"""How much memory this process may still take: what the machine has left, its control group allows, and its limits.

Read from /proc and /sys on Linux; elsewhere only the machine's whole memory is known, or nothing at all.
"""

import os
import re
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

PROC, CGROUP = Path("/proc"), Path("/sys/fs/cgroup")
# A limit above this is how control groups of the first version say that there is none.
NO_LIMIT = 1 << 60


@dataclass(frozen=True)
class FreeMemory:
    """Bytes that may be taken: together by all processes of a command; and each, beyond what it holds in address space.

    None where it is not known, or without limit.
    """

    together: int | None
    each: int | None


def room() -> FreeMemory:
    """What is left now."""
    known = [left for left in (_machine(), *_groups(PROC / "self" / "cgroup", CGROUP)) if left is not None]
    return FreeMemory(together=max(min(known), 0) if known else None, each=_limited())


def _machine() -> int | None:
    with suppress(OSError):
        found = re.search(r"^MemAvailable:\s+(\d+) kB", (PROC / "meminfo").read_text(), re.M)
        if found:
            return int(found.group(1)) * 1024
    with suppress(OSError, ValueError, AttributeError):
        return os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    return None


def _groups(own: Path, top: Path) -> Iterator[int]:
    """What every control group that this process is in has left, innermost first."""
    lines: list[str] = []
    with suppress(OSError):
        lines = own.read_text().splitlines()
    for line in lines:
        _, kinds, path = line.split(":", 2)
        if kinds == "":
            yield from _left_up(top, path, ("memory.max", "memory.current"))
        elif "memory" in kinds.split(","):
            yield from _left_up(top / "memory", path, ("memory.limit_in_bytes", "memory.usage_in_bytes"))


def _left_up(top: Path, path: str, names: tuple[str, str]) -> Iterator[int]:
    """What a group and those round it have left. In a container the path may be one of the machine outside."""
    group = top / path.strip("/")
    while True:
        with suppress(OSError, ValueError):
            most, used = (int((group / name).read_text()) for name in names)
            if most < NO_LIMIT:
                yield most - used + _given_back(group)
        if group == top or top not in group.parents:
            return
        group = group.parent


def _given_back(group: Path) -> int:
    """File pages that count as used but are given back when memory is wanted."""
    with suppress(OSError):
        found = re.search(r"^(?:total_)?inactive_file (\d+)$", (group / "memory.stat").read_text(), re.M)
        if found:
            return int(found.group(1))
    return 0


def _limited() -> int | None:
    """What `ulimit -v` leaves to this process; its workers get the same limit each."""
    try:
        import resource
    except ImportError:
        return None
    most = resource.getrlimit(resource.RLIMIT_AS)[0]
    if most == resource.RLIM_INFINITY:
        return None
    with suppress(OSError, ValueError):
        held = int((PROC / "self" / "statm").read_text().split()[0]) * resource.getpagesize()
        return max(most - held, 0)
    return most
