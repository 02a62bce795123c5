"""A good measurement sheet, and how tests put one fault into it. All measurements invented.

A case names the line that its problem has to stand on by text of that line, found in the changed sheet by searching the
text, not by the program's own line locator.
"""

from dataclasses import dataclass
from pathlib import Path

import pytest

from meshes.base.problems import Problem, ProblemError
from meshes.sheet.read import read_sheet

GOOD = """\
name = "Launch"
unit = "mm"

[cover]
leather = "furniture"

[allowance]
sewn = 12
corner = "square"
notch_spacing = 120

[output]
page = "a4"
overlap = 10
roll_width = 914
mesh = 6

[material.my_foam]
density = 35
compression_kpa = [3.0, 4.2, 9.8]

[[pad]]
name = "bench"
kind = "cushion"
origin = [0, 0, 350]
rake = 5

[pad.outline]
front_width = 1120
rear_width = 1080
depth = 480
corner_radius = 60

[[pad.profile]]
direction = "along"
at = 100
points = [
  [0, 0],
  [120, 6],
  [470, -10],
]

[[pad.profile]]
direction = "along"
at = 200
points = [[0, 1], [470, 2]]

[pad.sides.front]
drop = 120
edge_radius = 20
turn = 90
band = true
seam_below = 8
welt = true

[pad.sides.rear]
drop = 100

[[pad.layer]]
material = "my_foam"
thickness = 25
where = "all"

[[pad.layer]]
material = "wadding"
thickness = 10
where = "front"
within = 70
taper = 30

[pad.inset]
front = 0
rear = 100
left = 110
right = 110
corner_radius = 50

[[pad.line]]
name = "cross seam"
points = [[0, 200], [560, 210]]

[[pad]]
name = "rest"
kind = "backrest"

[pad.outline]
points = [
  [0, 0],
  [500, 0, 30],
  [480, 400, 50],
  [0, 420],
]

[pad.sides.top]
turn = 170
closed_by_hand = true
"""


@dataclass(frozen=True)
class Case:
    """One fault: `old` becomes `new`; the problem has `code`, stands on the line of `at` and says `phrase`."""

    name: str
    old: str
    new: str
    code: str
    at: str
    phrase: str


def line_of(text: str, at: str) -> int:
    """Line on which `at` stands. "text @2": the second time it stands there; "text @last": the last time;
    "text @before": the line before."""
    mark, _, rule = at.partition(" @")
    lines = [k for k, line in enumerate(text.splitlines(), 1) if mark in line]
    return {"": lines[0], "2": lines[min(1, len(lines) - 1)], "last": lines[-1], "before": lines[0] - 1}[rule]


def problems_of(text: str, folder: Path) -> tuple[Problem, ...]:
    path = folder / "sheet.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ProblemError) as caught:
        read_sheet(path)
    return caught.value.problems


def check_fault(case: Case, folder: Path) -> None:
    """The fault of a case is found, with its code, at its line, in its words, and nothing else is."""
    assert case.old in GOOD, "the case changes something that is there"
    text = GOOD.replace(case.old, case.new, 1)
    found = problems_of(text, folder)
    expected = line_of(text, case.at)
    matching = [p for p in found if p.code == case.code and case.phrase in p.text and p.line == expected]
    assert matching, [str(p) for p in found]
    assert matching[0].file == str(folder / "sheet.toml")
    assert not matching[0].warning
    # One slip is one problem, except where it changes the meaning of the whole sheet.
    assert len(found) == 1 or case.name == "mm in an inch sheet", [str(p) for p in found]
