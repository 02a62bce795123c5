"""Classical strips laid out by this program and by spyrrow, one after the other: `python -m tests.bench.layouts`.

Both get the same seconds and one core. The share covered is area of all pieces over width times length reached; ours is
held against exact polygons before it is printed. spyrrow is a library for strips of general use (extra `bench`);
without it its column stays empty.
"""

import argparse
import importlib.util
import sys
from collections.abc import Sequence

import numpy as np
from shapely.geometry import Polygon

from flatten.nesting.check import faults
from flatten.nesting.layout import lay_out
from flatten.nesting.outline import ring
from flatten.nesting.task import Effort, ToPlace, strip_room
from tests.bench.strips import STRIPS, Strip

# So much less of the strip may be covered after a minute than is quoted for ten minutes.
SHORT = 0.04


def area_of(strip: Strip) -> float:
    """Area of all shapes, each as often as it is wanted."""
    return sum(count * Polygon(points).area for count, points in strip.shapes)


def ours(strip: Strip, seconds: float) -> tuple[float, float, int]:
    """Share covered, seconds until all lay for the first time, trials."""
    wanted = [
        ToPlace(f"{k} {copy}", ring(Polygon(points)), (0.0, 180.0))
        for k, (count, points) in enumerate(strip.shapes)
        for copy in range(count)
    ]
    room = strip_room(strip.width, 2.5 * area_of(strip) / strip.width)
    layout = lay_out(wanted, [room], gap_mm=0.0, effort=Effort(seconds=seconds))
    wrong = faults(layout, wanted, [room], 0.0)
    assert not wrong, wrong
    return area_of(strip) / strip.width / layout.reach_mm, layout.first_s or np.inf, layout.rounds


def peer(strip: Strip, seconds: float) -> float | None:
    """Share covered by spyrrow on one worker, None where it is not installed."""
    if importlib.util.find_spec("spyrrow") is None:
        return None
    import spyrrow

    items = [spyrrow.Item(str(k), list(points), count, [0.0, 180.0]) for k, (count, points) in enumerate(strip.shapes)]
    config = spyrrow.StripPackingConfig(total_computation_time=int(seconds), num_workers=1, seed=1)
    found = spyrrow.StripPackingInstance(strip.name, strip.width, items).solve(config)
    return area_of(strip) / strip.width / found.width


def compared(seconds: float, names: Sequence[str] = ()) -> bool:
    """Lay out the strips with those names, all without any, so many seconds each, and print ours beside spyrrow's.
    Returns whether ours came within `SHORT` of what is quoted on every one."""
    words = ("ours", "first s", "trials", "spyrrow", "ours / it", "quoted", "off")
    print(f"{'strip':10}" + "".join(f"{word:>10}" for word in words))
    good, ratios = True, []
    for strip in STRIPS:
        if names and strip.name not in names:
            continue
        share, first, trials = ours(strip, seconds)
        other = peer(strip, seconds)
        words, ratio = ("-", "-") if other is None else (f"{100 * other:.1f}", f"{share / other:.3f}")
        ratios += [] if other is None else [share / other]
        off = share - strip.quoted
        good &= off >= -SHORT
        print(
            f"{strip.name:10}{100 * share:10.1f}{first:10.2f}{trials:10d}{words:>10}{ratio:>10}"
            f"{100 * strip.quoted:10.0f}{100 * off:+10.1f}",
            flush=True,
        )
    if ratios:
        print(f"ours / spyrrow, geometric mean: {np.exp(np.log(ratios).mean()):.3f}")
    print(f"{'all' if good else 'not all'} within {100 * SHORT:g} points of what is quoted for 10 min")
    return good


def main() -> None:
    """Print the table; exit 1 where a strip falls short."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seconds", type=float, default=60.0)
    asked.add_argument("names", nargs="*")
    given = asked.parse_args()
    sys.exit(0 if compared(given.seconds, given.names) else 1)


if __name__ == "__main__":
    main()
