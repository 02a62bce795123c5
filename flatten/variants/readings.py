"""Which measurement matters: by how much pieces and seams move for one millimetre in each number that was measured.

Every number is varied by its reading error to both sides and the seat drafted anew: coarse triangles, least energy, at
the tensions of the sheet as it stands. Reading errors are taken as independent of each other (law of propagation of
uncertainty, JCGM 100:2008, 5.1.2), so spreads add up as squares.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from flatten.job.pads import Tensions
from flatten.job.tension import agreed_tensions
from flatten.leather.card_file import card_from_sheet
from flatten.live.levels import drafted
from flatten.machine.workers import Workers, worker_pool
from meshes.base.problems import KeyPath, ProblemError
from meshes.base.progress import Progress, unheard
from meshes.base.surface import curve_length
from meshes.folder.report_head import json_text, report_head
from meshes.records.alignment import Alignment
from meshes.schema.toml_text import parsed, text_of
from meshes.sheet.read import sheet_of_tables
from meshes.tapes.numbers import measured_numbers, with_number

# Usual errors of one reading, mm: of a gauge laid on or a radius held against, and of a tape (common practice, no
# source).
GAUGE_MM, USUAL_TAPE_MM = 2.0, 3.0
# So many readings are told to be worth taking again.
MOST_AGAIN = 5


@dataclass(frozen=True)
class Reading:
    """One measured number. keys: where it stands; words: the same in words; value_mm; error_mm: of a reading."""

    keys: KeyPath
    words: str
    value_mm: float
    error_mm: float


@dataclass(frozen=True, eq=False)
class ReadingTask:
    """One draft. tables: of the sheet at path; tensions, alignments: as the sheet as it stands has them."""

    tables: Mapping[str, Any]
    path: Path
    tensions: Tensions
    alignments: tuple[Alignment, ...]


@dataclass(frozen=True)
class Moved:
    """What one reading moves. slopes: mm per mm, by seam and by piece (of a piece the edge that moves most); None when
    the sheet is refused with the number varied either way."""

    reading: Reading
    seams: Mapping[str, float] | None
    pieces: Mapping[str, float] | None

    @property
    def most_mm(self) -> float:
        """The most that an error of the reading moves a seam or an edge, mm."""
        slopes = [*(self.seams or {}).values(), *(self.pieces or {}).values()]
        return self.reading.error_mm * max(map(abs, slopes), default=0.0)

    @property
    def where(self) -> str:
        """The seam or piece that it moves most."""
        slopes = {**(self.pieces or {}), **(self.seams or {})}
        return max(slopes, key=lambda name: abs(slopes[name]), default="")


@dataclass(frozen=True)
class Readings:
    """moved: by reading, in the order of the sheet; lengths_mm: of every seam; spread_mm: of its length."""

    moved: tuple[Moved, ...]
    lengths_mm: Mapping[str, float]
    spread_mm: Mapping[str, float]

    @property
    def again(self) -> tuple[Moved, ...]:
        """The readings worth taking again, the one that moves most first."""
        return tuple(sorted(self.moved, key=lambda one: -one.most_mm)[:MOST_AGAIN])


def readings(
    path: Path,
    *,
    gauge_mm: float = GAUGE_MM,
    tape_mm: float = USUAL_TAPE_MM,
    progress: Progress | None = None,
    workers: Workers = 2,
) -> Readings:
    """What every measured number of a sheet moves. Raises ProblemError with every problem of the sheet as it stands."""
    say = progress or unheard
    tables = parsed(text_of(path), str(path))
    sheet = sheet_of_tables(tables, path)
    with worker_pool(workers) as pool:
        tensions = agreed_tensions(sheet, card_from_sheet(sheet), pool.map, say)
        base = drafted(sheet, tensions, None, each=pool.map)
        alignments = tuple(pad.alignment for pad in base.pads)
        asked = [
            Reading(keys, sheet.places.words(keys), mm, tape_mm if taped else gauge_mm)
            for keys, mm, taped in measured_numbers(tables)
        ]
        tasks = [
            ReadingTask(with_number(tables, one.keys, one.value_mm + way * one.error_mm), path, tensions, alignments)
            for one in asked
            for way in (1.0, -1.0)
        ]
        found = pool.map(lengths_of, tasks, say, "varying the readings")
    here = lengths_of(ReadingTask(tables, path, tensions, alignments))
    assert here is not None
    moved = tuple(_moved(one, here, up, down) for one, up, down in zip(asked, found[::2], found[1::2], strict=True))
    seams = {seam.name: seam.length_a_mm for seam in base.seams}
    spread = {
        name: math.hypot(*(one.reading.error_mm * (one.seams or {}).get(name, 0.0) for one in moved)) for name in seams
    }
    return Readings(moved, seams, spread)


Lengths = tuple[dict[str, float], dict[str, tuple[float, ...]]]
"""Seams by name, mm, and the edges of every piece by its name, mm."""


def lengths_of(task: ReadingTask) -> Lengths | None:
    """Lengths of a draft; None when the sheet is refused."""
    try:
        found = drafted(sheet_of_tables(dict(task.tables), task.path), task.tensions, task.alignments)
    except ProblemError:
        return None
    seams = {seam.name: seam.length_a_mm for seam in found.seams}
    return seams, {f"{p.pad} {p.name}": tuple(curve_length(edge.points) for edge in p.edges) for p in found.pieces}


def _moved(reading: Reading, here: Lengths, up: Lengths | None, down: Lengths | None) -> Moved:
    """Central differences, or to one side where the other is refused."""
    if up is None and down is None:
        return Moved(reading, None, None)
    span = reading.error_mm * ((up is not None) + (down is not None))
    high, low = up or here, down or here
    seams = {name: (high[0][name] - low[0][name]) / span for name in here[0] if name in high[0] and name in low[0]}
    pieces = {}
    for name, edges in here[1].items():
        one, two = high[1].get(name, ()), low[1].get(name, ())
        if len(one) == len(two) == len(edges):
            pieces[name] = max(((a - b) / span for a, b in zip(one, two, strict=True)), key=abs, default=0.0)
    return Moved(reading, seams, pieces)


def readings_text(found: Readings) -> str:
    """What matters as lines of text; lengths mm."""
    lines = [f"{len(found.moved)} readings; worth taking again, by what an error of reading moves most:"]
    for one in found.again:
        error = f"{one.reading.error_mm:g} mm"
        lines.append(f"  {one.reading.words}: {error} moves {one.where} by {one.most_mm:.1f} mm")
    lines.append("seams, and what they are uncertain by through all readings together:")
    wide = max((len(name) for name in found.lengths_mm), default=0)
    for name, mm in found.lengths_mm.items():
        lines.append(f"  {name:<{wide}}  {mm:7.1f} mm  ± {found.spread_mm[name]:.1f} mm")
    stuck = [one.reading.words for one in found.moved if one.seams is None]
    lines += [f"could not be varied by their error: {'; '.join(stuck)}"] if stuck else []
    return "\n".join(lines)


def readings_json(found: Readings) -> str:
    """Everything as JSON text; lengths mm, slopes mm per mm, null for a reading that could not be varied."""
    rows = [
        {
            "reading": one.reading.words,
            "value_mm": round(one.reading.value_mm, 3),
            "error_mm": one.reading.error_mm,
            "seams": None if one.seams is None else {name: round(slope, 4) for name, slope in one.seams.items()},
            "pieces": None if one.pieces is None else {name: round(slope, 4) for name, slope in one.pieces.items()},
        }
        for one in found.moved
    ]
    seams = [
        {"name": name, "length_mm": round(mm, 3), "spread_mm": round(found.spread_mm[name], 3)}
        for name, mm in found.lengths_mm.items()
    ]
    again: Sequence[str] = [one.reading.words for one in found.again]
    return json_text({**report_head(), "readings": rows, "again": list(again), "seams": seams})
