"""What a change of every key reaches: only these stages are done again, and all is as from nothing.

One small pad of two panels with a tension; pieces, seams and papers are drawn anew every time and stand in no row.
"""

from pathlib import Path

import pytest

from flatten.figures.report import report, without_seconds
from flatten.job.make import make
from flatten.kept.memory import MemoryStore
from flatten.kept.pool import Kept, kept_pool
from flatten.variants.settings import setting, variants_of
from meshes.schema.tables import json_schema
from meshes.schema.toml_text import parsed
from meshes.sheet.read import sheet_of_tables
from tests.running import SHEET

MESH = 36
OWN = "[cover]\ntension = 400\n[material.own_foam]\ndensity = 40\ncompression_kpa = [3.0, 4.2, 9.8]\n"
TEXT = SHEET.replace("mesh = 20", f"mesh = {MESH}") + OWN
CARD = '{name = "own", thickness = 1.1, stretch_along = 0.06, stretch_across = 0.08, pull = 0.02}'
# Stages: pads built; the usual cuts through them; maps of single panels; maps of a pad together; padding planned.
NOTHING: set[str] = set()
BUILT, PLAN, SEWN = {"built", "cuts", "planned"}, {"planned"}, {"together"}
MOVED, ALL = {"built", "cuts", "planned", "together"}, {"built", "cuts", "flat", "planned", "together"}
# A change of every key of the sheet, its cover, allowances and output, and of what this pad has.
TABLE = {
    "name=other name": NOTHING,
    "cover.leather=soft": ALL,
    f"cover.card={CARD}": ALL,
    "cover.grain_window=10": {"flat", "together"},
    "cover.tension=420": ALL,
    "cover.roll={width = 1400}": SEWN,
    **{f"allowance.{key}={mm}": NOTHING for key, mm in (("sewn", 13), ("welted", 13), ("pulled", 51), ("closed", 26))},
    **{f"allowance.{key}={mm}": NOTHING for key, mm in (("zip", 20), ("flap", 77), ("blind", 21), ("ringed", 26))},
    **{f"allowance.{key}={mm}": NOTHING for key, mm in (("clipped", 13), ("glued", 23), ("corded", 21))},
    "allowance.notch_spacing=100": NOTHING,
    "allowance.corner=round": PLAN,
    "allowance.foam=13": PLAN,
    "output.page=a3": NOTHING,
    "output.overlap=12": NOTHING,
    "output.roll_width=1500": NOTHING,
    "output.dxf=R12": NOTHING,
    f"output.mesh={MESH - 1}": ALL,
}
TABLE |= {
    "material.own_foam.density=41": BUILT,
    "stock={foam_medium = [10, 20]}": BUILT,
    "pad.cushion.name=seat": ALL,
    "pad.cushion.origin=[0, 0, 10]": MOVED,
    "pad.cushion.rake=3": MOVED,
    "pad.cushion.facing=5": MOVED,
    "pad.cushion.finished_height=30": MOVED,
    "pad.cushion.wanted_radius=18": MOVED,
    "pad.cushion.outline.depth=310": ALL,
    "pad.cushion.sides.front.drop=82": ALL,
    "pad.cushion.sides.front.edge_radius=11": ALL,
    "pad.cushion.sides.rear.drop=61": ALL,
    "pad.cushion.layer.1.thickness=21": ALL,
    "pad.cushion.layer.1.taper=55": ALL,
}
TABLES = parsed(TEXT, "seat.toml")


def sheet_of(tables):
    return sheet_of_tables(tables, Path("seat.toml"))


def test_the_table_has_every_key_of_cover_allowance_and_output():
    defined = json_schema()["$defs"]
    asked = {
        f"{table}.{key}"
        for table, name in (("cover", "CoverInput"), ("allowance", "AllowanceInput"), ("output", "OutputInput"))
        for key in defined[name]["properties"]
    }
    assert asked == {row.partition("=")[0] for row in TABLE if row.startswith(("cover.", "allowance.", "output."))}


@pytest.fixture(scope="module")
def pool():
    """A pool that has done the sheet as it stands."""
    with kept_pool(Kept(MemoryStore()), 1) as made:
        make(sheet_of(TABLES), workers=made)
        yield made


@pytest.mark.slow
@pytest.mark.parametrize("row", TABLE)
def test_a_change_reaches_these_stages_and_all_is_as_from_nothing(row, pool):
    tables = dict(TABLES)
    if row.startswith("cover.card="):
        tables["cover"] = {key: value for key, value in tables["cover"].items() if key != "leather"}
    ((_, new),) = variants_of(tables, [setting(row)])
    pool.kept.misses.clear()
    found = make(sheet_of(new), workers=pool)
    reached = {stage for stage, count in pool.kept.misses.items() if count}
    assert without_seconds(report(found)) == without_seconds(report(make(sheet_of(new), workers=1)))
    assert reached == TABLE[row]


def test_another_remark_or_order_of_lines_reaches_nothing_and_moves_what_is_told(pool):
    text = "# a remark\n\n" + TEXT
    from flatten.live.levels import sheet_of_text

    before = make(sheet_of_text(TEXT, Path("seat.toml")), workers=pool)
    pool.kept.misses.clear()
    now = make(sheet_of_text(text, Path("seat.toml")), workers=pool)
    assert not any(pool.kept.misses.values())
    lines = [[problem.line for problem in job.problems if problem.keys] for job in (before, now)]
    assert lines[0]
    assert lines[1] == [line + 2 for line in lines[0]]
