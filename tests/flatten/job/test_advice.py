"""Advice that was tried is followed here: each sheet gives a problem, and with the change told for it builds without.

The changes are taken from the record, written into the sheet as TOML by a writer of the tests' own, and the sheet is
read from the file again.
"""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from flatten.job.pads import built_pads, tension_of
from flatten.job.seat import build_pads
from flatten.leather.card_file import card_from_sheet
from meshes.base.problems import Problem, ProblemError
from meshes.base.progress import unheard
from meshes.seat.advice import MOST_TRIALS, advised
from meshes.seat.build import BuiltPad
from meshes.sheet.read import read_sheet
from meshes.sheet.whole import Sheet
from tests.pads import FLAT

PLEATS = FLAT + '[pad.pleats]\nfiller = "wadding"\nfiller_thickness = 6\n'
INSET = FLAT + "[pad.inset]\n"
OVER = """
name = "test"
[[pad]]
name = "back"
kind = "backrest"
[pad.outline]
bottom_width = 500
top_width = 480
depth = 350
corner_radius = 40
[pad.sides.right]
drop = 70
edge_radius = 15
[pad.sides.top]
drop = 130
edge_radius = 12
turn = 150
closed_by_hand = true
[[pad.layer]]
material = "foam_medium"
thickness = 20
where = "all"
"""
STRIP = '[[pad.layer]]\nmaterial = "wadding"\nthickness = 5\nwhere = "front"\nwithin = {}\n'
BOX = """
name = "test"
[[pad]]
name = "c"
kind = "cushion"
[pad.outline]
front_width = 400
rear_width = 400
depth = 360
corner_radius = 30
[pad.closed]
thickness = 80
"""
CARD = """
name = "test"
[[pad]]
name = "door"
kind = "side"
[pad.outline]
bottom_width = 500
top_width = 500
depth = 400
corner_radius = 40
[pad.board]
thickness = 3
wrap = 22
[[pad.board.opening]]
name = "lock"
at = [-120, 250]
width = 90
depth = 60
[[pad.layer]]
material = "foam_firm"
thickness = 3
"""
WATERFALL = """
name = "test"
[cover]
tension = 0
[[pad]]
name = "pad"
kind = "cushion"
[pad.outline]
front_width = 400
rear_width = 400
depth = 300
[pad.sides]
front = {{ drop = 140, edge_radius = {roll} }}
right = {{ drop = 140, edge_radius = 5, band = true, turn = {turn} }}
rear = {{ drop = 140, edge_radius = 5, band = {rear_band} }}
left = {{ drop = 140, edge_radius = 5, band = true, turn = {turn} }}
[pad.bands]
over = {over}
{joins}
"""
SLACK = FLAT.replace('"test"\n', '"test"\n[cover]\ntension = 0\n')
SLAB = '[[pad.layer]]\nmaterial = "foam_firm"\nthickness = 30\nwhere = "face"\n'
SHEETS = {
    "G002": FLAT.replace("corner_radius = 40", "corner_radius = 170"),
    "G020": FLAT.replace("seam_below = 5", "seam_below = 120"),
    "G021": FLAT + "welt = true\n",
    "G022": FLAT.replace("drop = 80\nedge_radius = 20\nband = true\nseam_below = 5", "drop = 15\nedge_radius = 20"),
    "G024": FLAT + STRIP.format(420),
    "G030": INSET + "margin = 160\n",
    "G031": INSET + "front = 8\nleft = 60\nright = 60\n",
    "G032": INSET + "margin = 70\ncorner_radius = 120\n",
    "G061": INSET + 'margin = 60\n[pad.pleats]\ncount = 4\nwhere = "face"\nfiller_thickness = 6\n',
    "G062": PLEATS + 'count = 5\ndirection = "across"\nfan = 1.2\n',
    "G063": PLEATS + 'count = 6\njoins = "auto"\n',
    "G072": FLAT + "gap = 290\n",
    "G073": FLAT.replace('"test"\n', '"test"\n[cover]\ntension = 0\n') + "gap = 40\n",
    "G101": FLAT.replace("edge_radius = 20", "edge_radius = 160").replace("drop = 80", "drop = 260"),
    "G106": FLAT.replace("seam_below = 5", "seam_below = 74"),
    "G108": OVER,
    "G121": PLEATS.replace("width = 400", "width = 900") + "pitch = 6\n",
    "G124": PLEATS + 'count = 4\njoins = "auto"\nlargest_width = 60\n',
    "G125": PLEATS + "count = 6\njoins = [9]\n",
    "G126": PLEATS + "count = 6\njoins = [2]\n",
    "G127": PLEATS.replace("thickness = 6", "thickness = 60") + "count = 10\n",
    "G128": PLEATS + "count = 8\ntake_up_measured = 900\n",
    "G129": PLEATS + "count = 8\ntaper = 290\nover_edge = false\n",
    "G170": BOX.replace("[pad.closed]", "[pad.inset]\nmargin = 60\n[pad.closed]"),
    "G171": BOX + '[[pad.layer]]\nmaterial = "wadding"\nthickness = 10\nwhere = "front"\n',
    "G172": BOX + "band = 120\n",
    "G173": BOX + "past_corner = 500\n",
    "G175": BOX + "undersize = 90\n",
    "G185": WATERFALL.format(rear_band="true", over='["front", "rear"]', turn=90, roll=60, joins=""),
    "G186": WATERFALL.format(rear_band="true", over='["front"]', turn=80, roll=60, joins=""),
    "G187": WATERFALL.format(rear_band="true", over='["front"]', turn=90, roll=60, joins="joins = [[200, 150]]"),
    "G190": CARD.replace("[[pad.board.opening]]", '[pad.folds]\nall = "single"\n[[pad.board.opening]]'),
    "G191": CARD.replace("thickness = 3\n", "thickness = 16\n", 2).replace("thickness = 16", "thickness = 3", 1),
    "G192": CARD.replace("[-120, 250]", "[-200, 250]"),
    "G194": CARD.replace("width = 90\ndepth = 60", "width = 20\ndepth = 20"),
    "G195": CARD.replace("width = 500", "width = 80")
    .replace("wrap = 22", "wrap = 45")
    .replace("= 40", "= 20")
    .split("[[pad.board.opening]]")[0],
    "G200": SLACK.replace("[pad.sides.rear]\n", "[pad.sides.rear]\ncrease = 60\n") + '[pad.fixing]\nrear = "fly"\n',
    "G212": SLACK + SLAB + "bevel = 10\n",
    "G225": BOX + "corners_in = 10\n",
    "G226": BOX + 'form = "knife_edge"\nzip_short = 170\n',
    "G130": PLEATS.replace("radius = 40", "radius = 120") + "count = 22\nfan = 1.3\n",
}


def _written(tables: dict[str, Any], above: tuple[str, ...] = ()) -> str:
    """Tables as TOML text."""
    lines = [f"{key} = {_value(value)}" for key, value in tables.items() if not _is_table(value)]
    for key, value in tables.items():
        name = ".".join((*above, key))
        for one in value if isinstance(value, list) else [value]:
            if _is_table(value):
                lines += [f"[[{name}]]" if isinstance(value, list) else f"[{name}]", _written(one, (*above, key))]
    return "\n".join(lines)


def _is_table(value: object) -> bool:
    return isinstance(value, dict) or (isinstance(value, list) and bool(value) and isinstance(value[0], dict))


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return "[" + ", ".join(_value(item) for item in value) + "]"
    return f'"{value}"' if isinstance(value, str) else str(value)


def _followed(text: str, problems: tuple[Problem, ...]) -> str:
    """The sheet with the changes that the problems advise."""
    tables = tomllib.loads(text)
    for change in [change for problem in problems if problem.advice for change in problem.advice.changes]:
        table: Any = tables
        for key in change.keys[:-1]:
            table = table[key] if isinstance(key, int) else table.setdefault(key, {})
        was = table[change.keys[-1]] if isinstance(table, list) else table.get(change.keys[-1])
        assert was in (change.was, None)
        if change.value is None:
            del table[change.keys[-1]]
        else:
            table[change.keys[-1]] = change.value
    return _written(tables)


def _built(sheet: Sheet) -> tuple[BuiltPad, ...]:
    """The pads of a sheet, settled at the tension wished for."""
    one_by_one = lambda work, tasks, *_: [work(task) for task in tasks]  # noqa: E731
    return built_pads(sheet, [tension_of(sheet, card_from_sheet(sheet))] * len(sheet.pads), one_by_one, unheard)


def _refused(path: Path) -> ProblemError:
    with pytest.raises(ProblemError) as caught:
        build_pads(path, workers=1)
    return caught.value


@pytest.mark.parametrize("code", SHEETS)
def test_advice_that_is_followed_ends_the_problem(code: str, tmp_path: Path) -> None:
    """Read from the file and built on a mesh finer than the trials', the changed sheet gives no problem at all."""
    path = tmp_path / "sheet.toml"
    path.write_text(SHEETS[code].replace('"test"\n', '"test"\n[output]\nmesh = 16\n', 1))
    told = _refused(path).problems
    assert [problem.code for problem in told][:1] == [code]
    assert told[0].advice is not None, told[0].text
    assert told[0].advice.words in told[0].text
    path.write_text(_followed(path.read_text(), told))
    assert _built(read_sheet(path))


def test_what_no_trial_ends_is_told_without_a_number(tmp_path: Path) -> None:
    """No number is printed that was not tried, and no more are tried than promised."""
    tried = []

    def refuse(sheet: object) -> None:
        tried.append(sheet)
        raise ProblemError([Problem("G999", "", "always")])

    path = tmp_path / "sheet.toml"
    path.write_text(SHEETS["G108"])
    sheet = read_sheet(path)
    # Built without the advice that `build_pads` looks for by itself: what is told here comes from these trials alone.
    with pytest.raises(ProblemError) as caught:
        _built(sheet)
    (told,) = advised(path, caught.value, refuse).problems
    assert told.advice is None
    assert "and works" not in told.text
    assert "none works" in told.text
    assert 1 < len(tried) <= MOST_TRIALS
