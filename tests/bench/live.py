"""How long the live engine takes: section and draft after one changed thickness, final after another leather.

Run: python -m tests.bench.live [SHEET ...]. Medians over the changes, in this process: wall time, and processor time,
which other work on the machine disturbs less. What is on disk is left aside; memory serves as it does in the engine.
"""

import os
import statistics
import sys
import time
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from flatten.kept.memory import MemoryStore
from flatten.kept.pool import Kept
from flatten.live import levels
from flatten.live.answers import Level, LiveTask, RefusedAnswer
from flatten.variants.settings import Setting, variants_of
from meshes.schema.toml_text import parsed
from meshes.sheet.read import sheet_of_tables

EXAMPLES = Path(__file__).parents[2] / "examples"
SHEETS = (EXAMPLES / "box_cushion" / "cushion.toml", EXAMPLES / "jump_back" / "jump_back.toml")
# By how much the first layer of the first pad is turned, mm, one change after the other; and the other leather.
TURNS = (1, 2, 3, 4, 5)
OTHER_LEATHER = "furniture"


def timed(work):
    """Wall and processor seconds of some work."""
    begin, cpu = time.perf_counter(), time.process_time()
    found = work()
    assert not isinstance(found, RefusedAnswer), found
    return time.perf_counter() - begin, time.process_time() - cpu


def measured(path, *, final=True):
    """Medians by level for one sheet, (wall, processor) s: the first draft, then after changes; final ones where
    asked."""
    kept = Kept(MemoryStore())
    levels._pool = lambda workers: levels.KeptPool(1, kept)
    text = path.read_text()
    tables = parsed(text, str(path))
    pad = tables["pad"][0]
    place = f"pad.1.layer.{len(pad['layer'])}.thickness"
    usual = float(pad["layer"][-1]["thickness"])
    changed = [variants_of(tables, [Setting(place, (f"{usual + mm:g}",))])[0][1] for mm in TURNS]
    task = LiveTask(1, text, str(path), Level.DRAFT, (), 1)
    asked = [sheet_of_tables(one, path) for one in (tables, *changed)]
    rows = {"first draft": [timed(lambda: levels.draft_answer(task, asked[0]))]}
    if final:
        rows["first final"] = [timed(lambda: levels.final_answer(task, asked[0]))]
        levels.section_answer(task, asked[0])
        levels.draft_answer(task, asked[0])
    rows["section"] = [timed(lambda one=one: levels.section_answer(task, one)) for one in asked[1:]]
    rows["draft"] = [timed(lambda one=one: levels.draft_answer(task, one)) for one in asked[1:]]
    if final:
        other = {**tables, "cover": {**tables.get("cover", {}), "leather": OTHER_LEATHER}}
        wider = {**tables, "allowance": {**tables.get("allowance", {}), "sewn": 13}}
        for name, one in (("final, other leather", other), ("final, other allowance", wider)):
            sheet = sheet_of_tables(one, path)
            rows[name] = [timed(lambda sheet=sheet: levels.final_answer(task, sheet))]
    return {name: tuple(statistics.median(part) for part in zip(*some, strict=True)) for name, some in rows.items()}


def main(paths):
    """Print a table for every sheet."""
    for path in paths:
        print(path.name)
        for name, (wall, cpu) in measured(path).items():
            print(f"  {name:<24} {1000 * wall:8.0f} ms, processor {1000 * cpu:8.0f} ms")


if __name__ == "__main__":
    main([Path(word) for word in sys.argv[1:]] or SHEETS)
