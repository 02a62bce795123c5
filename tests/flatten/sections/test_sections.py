"""`trimloft section`, its drawing and gauges, and what the report says of settled pads."""

import json
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Polygon

from flatten.figures.report import report
from flatten.sections.gauges import CARD_MM, outline_of
from flatten.sections.section import SECTION, _place_of, cut_pad, cut_sheet, section_dict, section_text, write_section
from meshes.base.problems import ProblemError
from meshes.base.units import inches
from meshes.folder.output import output_folder
from meshes.settle.section import LIFT_SEEN_MM
from meshes.sheet.read import read_sheet
from tests.samples import sample_job

BENCH = Path(__file__).parents[3] / "examples" / "helm_bench" / "bench.toml"


@pytest.fixture(scope="module")
def back():
    # The cut itself does not depend on the pad's triangles.
    sheet = read_sheet(BENCH)
    coarse = replace(sheet, output=replace(sheet.output, mesh=24.0))
    return cut_sheet(coarse, "backrest", ("along", 0.0))


def test_a_cut_lies_as_the_seat_does(back):
    """Where the seat stands off its padding along the cut it is the seat that says so, not the cut solved for itself;
    and the cover drawn lifts no more than is told."""
    assert back.cut.on_pad is not None
    told = max((lift.gap_mm for lift in back.cut.lifts), default=0.0)
    assert back.cut.padded.settled.lift_mm.max() <= max(told, LIFT_SEEN_MM) + 0.1


def test_the_hard_line_is_seen_and_the_padding_that_makes_it_round(back):
    figures = section_dict(back.cut)
    assert figures["side"] == "top"
    assert figures["ridge_radius_bare_mm"] < 15.0
    assert figures["ridge_radius_mm"] > 40.0
    assert figures["hard_line_deg"] < 5.0 < figures["hard_line_bare_deg"]
    text = section_text(back)
    assert "as measured" in text
    assert ("proposed: " in text) == (back.cut.proposal is not None)
    bare = replace(back, cut=replace(back.cut, proposal=None))
    assert "proposed" not in section_text(bare)
    assert f"radius {figures['ridge_radius_mm']:>5.0f}"[-5:].strip() in text


def test_gauges_lie_against_the_free_padding(back):
    free, shapes = LineString(back.cut.padded.free), []
    for ridge in back.cut.padded.ridges:
        outline = outline_of(back.cut.padded, ridge)
        assert Polygon(outline).is_valid
        away = shapely.distance(shapely.points(outline), free)
        # One long side lies on the padding, the other a card's width off it; nothing lies in between but the ends.
        assert (away < 1e-6).sum() > 30
        assert (np.abs(away - CARD_MM) < 0.5).sum() > 10
        assert shapely.distance(shapely.Point(ridge.at), Polygon(outline)) < 25.0
        shapes.append(np.ptp(outline, axis=0))
    # On paper they are turned into pieces as they are.
    for piece, size in zip(back.gauges, shapes, strict=True):
        assert piece.box()[2:] == pytest.approx(tuple(size))


def test_the_drawing_of_an_inch_sheet_is_written_in_inches(back, tmp_path):
    with output_folder(tmp_path / "cut", SECTION) as folder:
        write_section(replace(back, sheet=replace(back.sheet, unit="in")), folder)
    radius = section_dict(back.cut)["ridge_radius_mm"]
    drawing = (tmp_path / "cut" / "section.svg").read_text()
    assert f"R {inches(round(radius))} ({radius:.0f} mm)" in drawing
    assert "2 in (50.8 mm)" in drawing


def test_the_place_of_a_cut_is_told_with_its_unit(back):
    told = replace(back, cut=replace(back.cut, name="along 76.2"))
    assert ", cut along 76.2 mm, " in section_text(told)
    assert ", cut along 3 in (76.2 mm), " in section_text(replace(told, sheet=replace(back.sheet, unit="in")))


def test_a_folder_of_sections_is_written_again_over_itself(back, tmp_path):
    for _ in range(2):
        with output_folder(tmp_path / "cut", SECTION) as folder:
            assert write_section(back, folder) == ()
    written = {path.name for path in (tmp_path / "cut").iterdir()}
    assert {
        "section.svg",
        "section.png",
        "section.json",
        "gauges.pdf",
        "gauges.svg",
        "gauges.dxf",
        "cautions.txt",
    } <= written
    data = json.loads((tmp_path / "cut" / "section.json").read_text())
    assert data["section"] == json.loads(json.dumps(section_dict(back.cut)))
    with output_folder(tmp_path / "cut", SECTION) as folder:
        (told,) = write_section(replace(back, cut=replace(back.cut, name="along 120")), folder)
    assert (told.code, told.warning) == ("P011", True)
    assert f"the section of backrest, {back.cut.name} mm that lay here is replaced" in told.text
    # A gauge is at full size: the SVG is measured in millimetres.
    root = ElementTree.fromstring((tmp_path / "cut" / "gauges.svg").read_text())
    assert root.get("width", "").endswith("mm")


@pytest.mark.parametrize(
    ("pad", "along", "across", "code"),
    [
        ("backrest", None, None, "C105"),
        ("backrest", 0.0, 10.0, "C105"),
        ("bakrest", 0.0, None, "C106"),
        ("backrest", 5000.0, None, "G142"),
        ("backrest", float("nan"), None, "G142"),
        ("backrest", None, -400.0, "G142"),
    ],
)
def test_cuts_that_cannot_be_made(pad, along, across, code, monkeypatch):
    """Refused before the seat is settled, which takes long."""
    monkeypatch.setattr("flatten.sections.section.agreed", lambda *given: pytest.fail("settled first"))
    with pytest.raises(ProblemError) as caught:
        cut_pad(BENCH, pad, along=along, across=across)
    assert [problem.code for problem in caught.value.problems] == [code]


def test_the_report_tells_how_pads_rest():
    data = report(sample_job())
    for pad, built in zip(data["pads"], sample_job().pads, strict=True):
        assert len(pad["sections"]) == len(built.sections)
        for row, cut in zip(pad["sections"], built.sections, strict=True):
            assert {"name", "ridge_radius_bare_mm", "ridge_radius_mm", "hard_line_deg", "lifts"} <= row.keys()
            assert row["name"] == cut.name
        assert built.rest is not None
        assert pad["foam_compression_max"] == pytest.approx(built.rest.foam_compression_max, abs=1e-6)
        assert pad["padding_compression_max"] == pytest.approx(built.rest.padding_compression_max, abs=1e-6)
        assert pad["spring_deflection_mm"] == pytest.approx(built.rest.spring_deflection_mm, abs=1e-3)


@pytest.mark.parametrize(
    ("given", "unit", "mm"), [("3 in", "mm", 76.2), ("3", "in", 76.2), ("3", "mm", 3.0), (-4.0, "in", -4.0)]
)
def test_a_cut_is_placed_by_a_length_as_the_sheet_has_them(given, unit, mm):
    assert _place_of(given, "along", SimpleNamespace(unit=unit)) == pytest.approx(mm)
    with pytest.raises(ProblemError, match="C107"):
        _place_of("3 ft", "along", SimpleNamespace(unit=unit))
