"""Where the cut of a pleated face is parted: at every valley, where the sheet says, or with the fewest joins."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from meshes.pleats.layout import LayoutFault
from meshes.records.pleats import Joining


@dataclass(frozen=True)
class Parts:
    """joins: numbers of the valleys (1 is the first from the left or front) where the cut is parted."""

    joins: tuple[int, ...]

    def runs(self, pleats: int) -> tuple[tuple[int, int], ...]:
        """First and one past the last pleat of every part."""
        return tuple(pairwise((0, *self.joins, pleats)))


def part_cut(joining: Joining, fits: Callable[[int, int], bool], size: Sequence[float], *, even: bool) -> Parts:
    """Where the cut is parted: every valley for strips, else as the sheet says; "auto": the fewest joins.

    fits: whether pleats i up to j (not included) make a part that is small enough; size (n,): cut widths, evened out
    among equally many parts. even: joins have to mirror each other. Raises LayoutFault.
    """
    count = len(size)
    if joining.construction == "strips":
        return Parts(tuple(range(1, count)))
    if joining.joins != "auto":
        return _asked(joining.joins, count, even=even)
    for k in range(count):
        if fits(k, k + 1):
            continue
        text = f"pleat {k + 1} alone is larger than the largest part; allow a larger part or make pleats narrower"
        raise LayoutFault("G124", "joins", text)
    return Parts(_fewest_even(fits, size) if even else _fewest(fits, size, 0, count))


def _asked(joins: Sequence[int], count: int, *, even: bool) -> Parts:
    numbers = tuple(sorted(set(joins)))
    beyond = [k for k in numbers if not 1 <= k < count]
    if beyond:
        found = ", ".join(str(k) for k in beyond)
        text = f"there is no valley {found}; the {count} pleats have valleys 1 to {count - 1}"
        raise LayoutFault("G125", "joins", text)
    if even and any(count - k not in numbers for k in numbers):
        odd = next(k for k in numbers if count - k not in numbers)
        text = f"a join at valley {odd} and none at valley {count - odd}; on an even pad joins mirror each other"
        raise LayoutFault("G126", "joins", text)
    return Parts(numbers)


def _fewest(fits: Callable[[int, int], bool], size: Sequence[float], first: int, last: int) -> tuple[int, ...]:
    """Fewest joins between pleats `first` and `last`, and among those the ones whose widest part is narrowest."""
    best: dict[int, tuple[int, float, tuple[int, ...]]] = {first: (0, 0.0, ())}
    for end in range(first + 1, last + 1):
        ways = [
            (best[k][0] + 1, max(best[k][1], sum(size[k:end])), (*best[k][2], k))
            for k in range(first, end)
            if k in best and fits(k, end)
        ]
        if ways:
            best[end] = min(ways, key=lambda way: (way[0], round(way[1], 6), way[2]))
    return best[last][2][1:]


def _fewest_even(fits: Callable[[int, int], bool], size: Sequence[float]) -> tuple[int, ...]:
    """As `_fewest`, with joins that mirror each other: a join at the centre valley, or a part across the centre."""
    count = len(size)
    ways = []
    for k in range(count // 2 + 1):
        # Pleats k to count - k make the middle part; with k at the centre there is none and the centre is a join.
        if 2 * k == count or fits(k, count - k):
            left = _fewest(fits, size, 0, k) if k else ()
            joins = sorted({*left, *(count - j for j in left), *((k, count - k) if k else ())})
            parts = list(pairwise((0, *joins, count)))
            ways.append((len(joins), round(max(sum(size[a:b]) for a, b in parts), 6), tuple(joins)))
    return min(ways)[2]
