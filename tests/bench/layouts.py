"""Classical strips laid out by this program and by spyrrow, one after the other: `python -m tests.bench.layouts`.

Both get the same seconds. The share covered is area of all pieces over width times length reached; ours is held against
exact polygons before it is printed. spyrrow is a library for strips of general use (extra `bench`); without it its
column stays empty.
"""

import argparse
import importlib.util

import numpy as np
from shapely.geometry import Polygon

from flatten.nesting.check import faults
from flatten.nesting.layout import lay_out
from flatten.nesting.outline import ring
from flatten.nesting.task import Effort, ToPlace, strip_room
from tests.bench.strips import STRIPS, Strip


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


def main() -> None:
    """Print the table."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seconds", type=float, default=60.0)
    asked.add_argument("names", nargs="*")
    given = asked.parse_args()
    print(f"{'strip':10} {'ours':>7} {'first s':>8} {'trials':>7} {'spyrrow':>8} {'quoted, 10 min':>15}")
    for strip in STRIPS:
        if given.names and strip.name not in given.names:
            continue
        share, first, trials = ours(strip, given.seconds)
        other = peer(strip, given.seconds)
        words = "-" if other is None else f"{100 * other:.1f}"
        print(f"{strip.name:10} {100 * share:7.1f} {first:8.2f} {trials:7d} {words:>8} {100 * strip.quoted:15.0f}")


if __name__ == "__main__":
    main()
