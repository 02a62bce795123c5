"""What report, page and cut list say of foam rounded off with the knife: the plan's own figures, in inches too."""

import csv
import io
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from flatten.figures.report import report
from flatten.job.make import make
from flatten.report.cut_list import cutlist_csv
from flatten.report.page import report_html

SHEET = """
name = "one"
unit = "in"
[cover]
leather = "soft"
[output]
mesh = "20 mm"
[[pad]]
name = "seat"
kind = "cushion"
[pad.outline]
front_width = 16
rear_width = 16
depth = 12
corner_radius = "60 mm"
[pad.sides.front]
edge_radius = "10 mm"
drop = 4
[pad.sides.right]
edge_radius = "10 mm"
drop = 4
[pad.sides.rear]
edge_radius = "15 mm"
drop = 4
[pad.sides.left]
edge_radius = "10 mm"
drop = 4
[[pad.layer]]
material = "foam_firm"
thickness = "50 mm"
"""


@cache
def job():
    with TemporaryDirectory() as folder:
        path = Path(folder) / "one.toml"
        path.write_text(SHEET)
        return make(path, workers=1)


def test_the_report_holds_every_rounding_of_the_plan():
    (plan,) = job().plans
    rows = report(job())["pads"][0]["roundings"]
    assert [row["side"] for row in rows] == ["front", "right", "rear", "left"]
    assert [row["radius_mm"] for row in rows] == pytest.approx([60.0, 60.0, 65.0, 60.0])
    assert [row["layers"] for row in rows] == [list(one.layers) for one in plan.roundings]
    for row in rows:
        assert row["take_off_mm2"] == pytest.approx(0.2146 * row["radius_mm"] ** 2, rel=1e-3)
    lines = [
        line for shape in report(job())["pads"][0]["padding_plan"][0]["shapes"] for line in shape["rounding_lines"]
    ]
    assert len(lines) >= 2 * len(rows) - 1


def test_the_cut_list_has_a_row_for_every_rounding_and_gauge():
    rows = list(csv.DictReader(io.StringIO(cutlist_csv(job()).decode(), newline="")))
    (plan,) = job().plans
    assert [row["name"] for row in rows if row["kind"] == "gauge"] == [gauge.name for gauge in plan.gauges]
    told = {row["name"]: row["note"] for row in rows if row["kind"] == "rounding"}
    assert (
        told["layer 1, front edge"] == "round the outer edge at the front to R 2 3/8 in (60 mm) once layer 1 is glued"
    )
    assert len(told) == len(plan.roundings)
    assert not [row for row in rows if row["kind"] == "padding stock" and row["material"] == "card"]


def test_the_page_says_which_gauge_goes_round_which_edge():
    page = report_html(job(), {}).decode()
    assert "rounding gauge R 2 3/8 in (60 mm)" in page
    assert "round the outer edge at the rear to R 2 9/16 in (65 mm) once layer 1 is glued" in page
