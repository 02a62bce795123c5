"""`trimloft section`: its figures against the cut itself, its gauges read back at full size, and its faults."""

import io
import json
import re
import xml.etree.ElementTree as ET
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from pypdf import PdfReader
from shapely import LineString, Point, Polygon

from flatten.app.sectionfacts import layer_mm, pad_facts
from flatten.app.sectionwork import cut_sheet, words_of, write_cut
from flatten.paper.gauge import SQUARE_MM, gauge_pdf, gauge_svg, gauges_of
from meshes.pad_build import build
from meshes.problems import ProblemError

BENCH = Path(__file__).parents[2] / "examples" / "helm_bench" / "bench.toml"


@cache
def found():
    return cut_sheet(BENCH, "backrest", along=0.0, across=None)


def test_figures_are_those_of_the_cut():
    data = json.loads(words_of(found(), json=True))
    cut = found().cut
    assert data["ridge_radius_mm"] == pytest.approx(cut.padded.ridge_radius_mm, abs=1e-3)
    assert data["ridge_radius_bare_mm"] == pytest.approx(cut.ridge_radius_bare_mm, abs=1e-3)
    assert data["hard_line_deg"] == pytest.approx(cut.padded.hard_line_deg, abs=1e-3)
    assert len(data["padded"]["layers"]) == len(found().pad.layers)
    np.testing.assert_allclose(data["padded"]["cover"], cut.padded.cover, atol=1e-3)
    assert f"{cut.ridge_radius_mm:.1f} mm as padded" in words_of(found(), json=False)


def test_layers_before_settling_are_as_thick_as_the_sheet_says():
    free, rest = layer_mm(found().cut.padded)
    assert free.max(axis=1) == pytest.approx([layer.thickness for layer in found().pad.layers], abs=0.05)
    assert (rest <= free + 1e-9).all()


def ring_of_svg(data: bytes) -> np.ndarray:
    root = ET.fromstring(data)
    assert root.get("width") == f"{root.get('viewBox').split()[2]}mm"
    group = next(g for g in root if g.get("id") == "cut")
    words = re.findall(r"(-?[\d.]+),(-?[\d.]+)", group[0].get("d"))
    points = np.array(words, dtype=float)
    points[:, 1] = float(root.get("viewBox").split()[3]) - points[:, 1]
    return points


def ring_of_pdf(page) -> np.ndarray:
    """The longest path of a page, mm."""
    text = page.get_contents().get_data().decode("latin1")
    paths = re.split(r"\bn\b", text)
    points = [re.findall(r"(-?[\d.]+) (-?[\d.]+) [ml]\b", path) for path in paths]
    return np.array(max(points, key=len), dtype=float) * 25.4 / 72.0


def test_gauges_fit_the_cover_at_full_size():
    gauges = gauges_of("backrest", found().cut)
    pages = PdfReader(io.BytesIO(gauge_pdf(gauges))).pages
    assert len(pages) == len(gauges) == 2
    cover = found().cut.padded.cover
    for gauge, page in zip(gauges, pages, strict=True):
        shift = gauge.edge[0] - cover[np.argmin([np.abs(np.diff(cover - p, axis=0)).sum() for p in cover])]
        assert np.isfinite(shift).all()
        for ring in (ring_of_svg(gauge_svg(gauge)), ring_of_pdf(page)):
            card = Polygon(ring)
            assert card.is_valid
            # The edge that is held against the padding is the cover's line, and the card lies outside of it.
            assert max(card.exterior.distance(Point(p)) for p in gauge.edge) < 0.1
            size = np.linalg.norm(np.diff(gauge.edge, axis=0), axis=1)
            arc = np.linalg.norm(np.diff(cover, axis=0), axis=1)
            assert min(abs(arc[k : k + len(size)] - size).max() for k in range(len(arc) - len(size) + 1)) < 1e-9
            assert card.area > 30.0 * LineString(gauge.edge).length


def test_the_control_square_measures_50_mm():
    data = gauge_svg(gauges_of("backrest", found().cut)[0])
    inner = next(g for g in ET.fromstring(data) if g.get("id") not in ("cut", "text") and len(g))
    points = np.array(re.findall(r"(-?[\d.]+),(-?[\d.]+)", inner[0].get("d")), dtype=float)
    np.testing.assert_allclose(np.ptp(points, axis=0), SQUARE_MM, atol=0.01)


def test_the_folder_holds_picture_figures_and_gauges(tmp_path):
    write_cut(found(), tmp_path / "cut")
    names = {path.name for path in (tmp_path / "cut").iterdir()}
    assert {"section.png", "section.json", "gauges.pdf", "gauge-top-as-padded.svg"} <= names
    assert (tmp_path / "cut" / "section.png").read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("pad", "along", "across", "code"),
    [("backrst", 0.0, None, "C106"), ("backrest", None, None, "C105"), ("backrest", 0.0, 9.0, "C105")],
)
def test_faults_are_numbered(pad, along, across, code):
    with pytest.raises(ProblemError) as fault:
        cut_sheet(BENCH, pad, along=along, across=across)
    assert fault.value.problems[0].code == code


def test_a_place_off_the_pad_is_told_with_the_places_there_are():
    with pytest.raises(ProblemError, match="between") as fault:
        cut_sheet(BENCH, "backrest", along=9000.0, across=None)
    assert fault.value.problems[0].code == "G142"


def test_the_report_of_a_pad_has_its_cuts_springs_and_foam():
    sheet = found().sheet
    pad = build(found().pad, edge_mm=20, tension_n_per_mm=1e-3 * sheet.cover.tension, materials=sheet.materials)
    facts = pad_facts(pad)
    assert facts["sections"][0]["ridge_radius_mm"] == pytest.approx(found().cut.ridge_radius_mm, abs=1e-3)
    assert set(facts["sections"][0]) >= {"name", "ridge_radius_bare_mm", "ridge_radius_mm", "hard_line_deg", "lifts"}
    assert facts["spring_deflection_mm"] == pytest.approx(pad.rest.spring_deflection_mm, abs=1e-3)
    assert facts["foam_compression_max"] == pytest.approx(pad.rest.foam_compression_max, abs=1e-6)
    assert pad_facts(build(found().pad, edge_mm=20))["sections"] == []
