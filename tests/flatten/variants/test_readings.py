"""Which measurement matters: numbers found in the sheet, slopes as from whole jobs, spreads by the usual law."""

import math
from pathlib import Path

import pytest

from flatten.job.make import make
from flatten.variants.readings import (
    Moved,
    Reading,
    Readings,
    lengths_of,
    measured_numbers,
    readings,
    readings_json,
    readings_text,
)
from meshes.schema.toml_text import parsed
from meshes.sheet.read import sheet_of_tables
from tests.running import SHEET

TEXT = SHEET.replace("mesh = 20", "mesh = 30") + "[cover]\ntension = 0\n"


def test_measured_numbers_are_found_with_what_takes_them():
    tables = parsed(
        SHEET.replace(
            "[pad.sides.rear]",
            '[[pad.profile]]\ndirection = "along"\nat = 0\npoints = [[0, 0], [100, 6]]\n[pad.sides.rear]',
        ),
        "x",
    )
    found = {".".join(map(str, keys[2:])): (mm, taped) for keys, mm, taped in measured_numbers(tables)}
    assert found == {
        "outline.front_width": (400.0, True),
        "outline.rear_width": (380.0, True),
        "outline.depth": (300.0, True),
        "outline.corner_radius": (80.0, False),
        "profile.0.points.1.1": (6.0, False),
        "sides.front.drop": (80.0, True),
        "sides.front.edge_radius": (10.0, False),
        "sides.rear.drop": (60.0, True),
    }
    inches = parsed('unit = "in"\n[[pad]]\n[pad.outline]\ndepth = "12 1/2"\nfront_width = 10\n', "x")
    assert [round(mm, 3) for _, mm, _ in measured_numbers(inches)] == [317.5, 254.0]


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    path = tmp_path_factory.mktemp("readings") / "seat.toml"
    path.write_text(TEXT)
    return path, readings(path, workers=1)


@pytest.mark.slow
def test_a_slope_is_that_of_whole_jobs(found):
    """Against two jobs from nothing with the front width 3 mm more and less, at the same triangles."""
    path, told = found
    moved = next(one for one in told.moved if one.reading.keys[-1] == "front_width")
    lengths = []
    for by in (3, -3):
        tables = parsed(TEXT.replace("front_width = 400", f"front_width = {400 + by}"), "x")
        job = make(sheet_of_tables(tables, Path("x.toml")), workers=1)
        lengths.append({seam.name: seam.length_a_mm for seam in job.seams})
    assert moved.seams is not None
    for name, slope in moved.seams.items():
        assert slope == pytest.approx((lengths[0][name] - lengths[1][name]) / 6.0, abs=0.1)
    # A wider front lengthens the seam along it by about as much.
    assert max(moved.seams.values()) == pytest.approx(1.0, abs=0.25)
    assert path.read_text() == TEXT


def test_spreads_add_up_as_squares_and_the_worst_five_are_told(found):
    _, told = found
    for name, spread in told.spread_mm.items():
        parts = [one.reading.error_mm * one.seams[name] for one in told.moved if one.seams]
        assert spread == pytest.approx(math.sqrt(sum(part**2 for part in parts)))
    assert len(told.again) == 5
    assert [one.most_mm for one in told.again] == sorted((one.most_mm for one in told.moved), reverse=True)[:5]
    text = readings_text(told)
    assert text.splitlines()[0].startswith(f"{len(told.moved)} readings")
    assert told.again[0].where in text
    assert '"again"' in readings_json(told)


def test_a_reading_that_cannot_be_varied_is_told():
    stuck = Moved(Reading(("pad",), "pad 1, depth", 20.0, 30.0), None, None)
    assert stuck.most_mm == 0.0
    assert "could not be varied by their error: pad 1, depth" in readings_text(Readings((stuck,), {}, {}))


def test_a_draft_that_is_refused_has_no_lengths(found):
    path, _ = found
    from flatten.variants.readings import ReadingTask

    tables = parsed(TEXT.replace("drop = 80", "drop = -80"), "x")
    assert lengths_of(ReadingTask(tables, path, [0.0], ())) is None
