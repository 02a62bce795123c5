"""What a job will take, said before it starts: triangles, memory, time; what the machine has no room for is refused.

Triangles: a pad's face and sides over the area of an even triangle of the mesh size, less what long ones save. Memory
and time grow with them; the factors below were measured (DEVELOPERS.md, "Estimates").
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from flatten.machine.room import FreeMemory, room
from meshes.base.problems import Problem, ProblemError
from meshes.numerics.sizes import longest
from meshes.records.pad import SIDES, Pad
from meshes.sheet.whole import Sheet

MB = 1 << 20
# Triangles beyond those of even ones without waste: lines and seams make some smaller.
CROWDED = 1.1
# On a frame, triangles that are long where it is flat are this share of even ones at most, where the longest may be
# three times the shortest; the fewer the less they differ.
GRADED = 0.7
# Of a process with everything loaded; and of each triangle, together with what is written about it, and of one in a
# mesh that is flattened in one piece.
LOADED_BYTES, BYTES_EACH, BYTES_SINGLE = 110 * MB, 3_000, 4_000
# Address space that a process takes besides: libraries that are loaded when first wanted, stacks and stores of threads.
ADDRESSES = 512 * MB
# Time of one core: to begin with, and of each triangle.
BEGIN_S, SECONDS_EACH = 1.0, 1.6e-4
# From this many triangles on the factorisations make time grow faster, by this power of the number beyond.
LARGE, POWER = 60_000, 1.25
# Meshes that are offered instead, mm: those a trimmer would write.
STEPS_MM = (1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 25.0, 30.0, 40.0)


@dataclass(frozen=True)
class Estimate:
    """triangles: of all pads; bytes: of all processes together, and `each` the addresses of the one that has most
    to hold, beyond what it holds before it begins; seconds: of work on one core."""

    triangles: int
    bytes: int
    each: int
    seconds: float

    def __str__(self) -> str:
        count = f"{self.triangles:,}".replace(",", " ")
        return f"about {count} triangles, {_size(self.bytes)} of memory, {_time(self.seconds)}"


def estimate_of(sheet: Sheet, *, edge_mm: float | None = None, workers: int = 2) -> Estimate:
    """What the job on a sheet takes, at its own mesh or at triangles of `edge_mm`."""
    edge = sheet.output.mesh if edge_mm is None else edge_mm
    return estimate_for([triangles_of(pad, edge) for pad in sheet.pads], workers=workers)


def estimate_for(triangles: Sequence[int], *, workers: int = 2) -> Estimate:
    """What pads, or single meshes, of so many triangles take."""
    whole = sum(triangles)
    processes = 1 if len(triangles) < 2 else 1 + workers
    # The first process holds all that is done, each worker the pad in hand.
    in_hand = sorted(triangles)[-workers:] if processes > 1 else []
    everything = processes * LOADED_BYTES + BYTES_EACH * (whole + sum(in_hand))
    seconds = BEGIN_S + sum(SECONDS_EACH * n * max(n / LARGE, 1.0) ** (POWER - 1.0) for n in triangles)
    return Estimate(whole, everything, ADDRESSES + BYTES_EACH * whole, seconds)


def triangles_of(pad: Pad, edge_mm: float) -> int:
    """About how many triangles a pad gets: its face, and round it the sides down to their tack lines."""
    corners, sides = pad.outline.corners, pad.outline.side_of_edge
    area, rim = 0.0, dict.fromkeys(SIDES, 0.0)
    for k, here in enumerate(corners):
        there = corners[(k + 1) % len(corners)]
        area += 0.5 * (here[0] * there[1] - here[1] * there[0])
        rim[sides[k]] += math.dist(here, there)
    if pad.board is not None:
        plates = 1 if pad.board.pair is None else 2
        return math.ceil(CROWDED * plates * abs(area) / (0.25 * math.sqrt(3.0) * edge_mm**2))
    if pad.closed is not None:
        whole = 2.0 * abs(area) + sum(rim.values()) * max(pad.closed.height, edge_mm)
        return math.ceil(CROWDED * whole / (0.25 * math.sqrt(3.0) * edge_mm**2))
    blocks = sum(layer.thickness for layer in pad.layers if layer.block is not None)
    hanging = sum(length * max(pad.sides[name].drop + blocks, edge_mm) for name, length in rim.items())
    even = CROWDED * (abs(area) + hanging) / (0.25 * math.sqrt(3.0) * edge_mm**2)
    return math.ceil(even * (1.0 - (1.0 - GRADED) * 0.5 * (longest(edge_mm) / edge_mm - 1.0)))


def check_room(sheet: Sheet, *, workers: int = 2, left: FreeMemory | None = None) -> Estimate:
    """The estimate for a sheet, when there is room for it. Raises ProblemError naming the mesh that fits when not."""
    left = left or room()
    found = estimate_of(sheet, workers=workers)
    if fits(found, left):
        return found
    steps = [step for step in STEPS_MM if step > sheet.output.mesh]
    fitting = next((step for step in steps if fits(estimate_of(sheet, edge_mm=step, workers=workers), left)), None)
    advice = f"write mesh = {_in_unit(fitting, sheet)} or more" if fitting else f"no mesh fits now; {_make_room(left)}"
    text = f"mesh = {_in_unit(sheet.output.mesh, sheet)} makes {found}; {_left(found, left)}; {advice}"
    raise ProblemError([sheet.problem("W201", ("output", "mesh"), text)])


def check_room_for(triangles: int, where: str, *, left: FreeMemory | None = None) -> Estimate:
    """The estimate for one mesh. Raises ProblemError when there is no room for it."""
    left = left or room()
    each = BYTES_SINGLE * triangles
    found = replace(estimate_for([triangles]), bytes=LOADED_BYTES + each, each=ADDRESSES + each)
    if not fits(found, left):
        text = f"{found}; {_left(found, left)}; use a coarser mesh, or {_make_room(left)}"
        raise ProblemError([Problem("W202", "memory", text, where)])
    return found


def fits(found: Estimate, left: FreeMemory) -> bool:
    """Whether there is room for all processes together, and within the limit of each."""
    whole = left.together is None or found.bytes <= left.together
    return whole and (left.each is None or found.each <= left.each)


def _left(found: Estimate, left: FreeMemory) -> str:
    """What stands in the way, in words."""
    if left.together is not None and found.bytes > left.together:
        return f"only {_size(left.together)} is free"
    assert left.each is not None
    return f"ulimit -v leaves each process {_size(left.each)} of the {_size(found.each)} of addresses it takes"


def _make_room(left: FreeMemory) -> str:
    return "close other programs" if left.each is None else "close other programs and raise ulimit -v"


def _in_unit(mm: float, sheet: Sheet) -> str:
    return f"{mm:g}" if sheet.unit == "mm" else f'"{mm:g} mm"'


def _size(count: int) -> str:
    return f"{count / (1024 * MB):.1f} GB" if count >= 1024 * MB else f"{max(count // MB, 1)} MB"


def _time(seconds: float) -> str:
    if seconds < 90.0:
        return f"{math.ceil(seconds)} s"
    return f"{math.ceil(seconds / 60.0)} min" if seconds < 5400.0 else f"{seconds / 3600.0:.1f} h"
