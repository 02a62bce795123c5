"""The cut list read back by the csv module, its sums, and that no cell is a formula."""

import csv
import io
import math
import re
from dataclasses import replace
from types import SimpleNamespace

import pytest

from flatten.figures.report import report
from flatten.report.amounts import gross_area, welt
from flatten.report.cut_list import COLUMNS, _marked, cutlist_csv, harmless
from tests.samples import sample_job


def read_back() -> list[dict[str, str]]:
    text = cutlist_csv(sample_job()).decode("utf-8")
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


def of_kind(kind: str) -> list[dict[str, str]]:
    return [row for row in read_back() if row["kind"] == kind]


def test_lines_end_as_the_standard_asks():
    # RFC 4180: records end in CRLF, every record has as many fields as the header.
    data = cutlist_csv(sample_job())
    assert data.endswith(b"\r\n")
    assert data.count(b"\n") == data.count(b"\r\n")
    assert {len(row) for row in csv.reader(io.StringIO(data.decode(), newline=""), strict=True)} == {len(COLUMNS)}


def test_one_row_for_each_piece_with_its_size():
    job = sample_job()
    rows = of_kind("piece")
    assert len(rows) == len(job.pieces)
    for row, piece in zip(rows, job.pieces, strict=True):
        assert row["name"] == piece.name
        assert int(row["count"]) == len(piece.panels)
        assert int(row["mirrored"]) == len(piece.panels) - 1
        x0, y0, x1, y1 = piece.box()
        assert float(row["width_mm"]) == pytest.approx(x1 - x0, abs=0.06)
        assert float(row["height_mm"]) == pytest.approx(y1 - y0, abs=0.06)
        assert float(row["area_m2"]) == pytest.approx(len(piece.panels) * piece.cut_mm2 / 1e6, abs=1e-4)
        assert float(row["area_m2"]) < len(piece.panels) * (x1 - x0) * (y1 - y0) / 1e6


def test_padding_rows_agree_with_the_report():
    layers = [layer for pad in report(sample_job())["pads"] for layer in pad["layers"]]
    rows = of_kind("padding")
    assert [row["material"] for row in rows] == [layer["material"] for layer in layers]
    assert [float(row["thickness_mm"]) for row in rows] == [layer["thickness_mm"] for layer in layers]


def test_welt_is_as_long_as_the_longer_side_of_its_seam():
    seams = [seam for seam in sample_job().seams if seam.welt]
    rows = of_kind("welt")
    assert len(rows) == len(seams) == 1
    sewn = float(re.match(r"([0-9.]+) mm as sewn", rows[0]["note"]).group(1))
    assert sewn == pytest.approx(max(seams[0].length_a_mm, seams[0].length_b_mm), abs=0.06)
    assert float(rows[0]["length_mm"]) == pytest.approx(welt(sample_job()).cut_mm, abs=0.06)
    assert seams[0].name in rows[0]["note"]


def test_leather_adds_up():
    areas = {row["name"]: float(row["area_m2"]) for row in of_kind("leather")}
    pieces = sum(float(row["area_m2"]) for row in of_kind("piece"))
    assert areas["pieces, net"] == pytest.approx(pieces, abs=1e-3)
    # Width 2 a + pi (d + t), 10 mm for every corner and 50 mm for the ends of the seam, one width for every join.
    job = sample_job()
    width = 2 * job.sheet.allowance.welted + math.pi * (5 / 32 * 25.4 + job.leather.thickness_mm)
    plan = welt(job)
    sewn = plan.sewn_mm
    corners = round((plan.cut_mm - sewn - 50.0) / 10.0)
    assert plan.cut_mm == pytest.approx(sewn + 50.0 + 10.0 * corners, abs=0.06)
    assert areas["welt strips, net"] == pytest.approx((plan.cut_mm + plan.joins * width) * width / 1e6, abs=1e-4)
    net = areas["pieces, net"] + areas["welt strips, net"]
    assert "test strips, net" not in areas, "nothing here is pleated"
    assert areas["to buy at 70 % yield"] == pytest.approx(net / 0.7, abs=1e-3)
    assert areas["to buy at 50 % yield"] == pytest.approx(net / 0.5, abs=1e-3)


def test_hide_to_buy():
    # keleenleathers.com: 100 sq ft net at 70 % is 142.86 sq ft, at 50 % 200.
    assert gross_area(100.0, 0.70) == pytest.approx(142.86, abs=0.005)
    assert gross_area(100.0, 0.50) == 200.0
    for share in (0.0, -0.1, 1.01):
        with pytest.raises(ValueError, match="share"):
            gross_area(100.0, share)


def test_square_feet_in_the_note():
    row = of_kind("leather")[0]
    # One square foot is 0.09290304 m2 exactly (international foot).
    assert float(row["note"].split(" sq ft")[0]) == pytest.approx(float(row["area_m2"]) / 0.09290304, abs=0.06)


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_no_cell_can_be_a_formula(start):
    assert harmless(f"{start}1+1") == f"'{start}1+1"
    job = sample_job()
    leather = replace(job.leather, name=f"{start}cmd")
    text = cutlist_csv(replace(job, leather=leather)).decode()
    cells = [cell for row in csv.reader(io.StringIO(text, newline="")) for cell in row]
    assert f"'{start}cmd" in cells
    assert not [cell for cell in cells if cell.startswith(("=", "+", "-", "@", "\t", "\r"))]


def test_harmless_text_stays():
    assert harmless("left bolster") == "left bolster"
    assert harmless("") == ""
    assert {row["pad"] for row in of_kind("piece")} == {"'=cushion", "back"}


def test_quotes_commas_and_breaks_survive():
    job = sample_job()
    name = 'soft, "best"\nhide'
    text = cutlist_csv(replace(job, leather=replace(job.leather, name=name))).decode()
    rows = list(csv.DictReader(io.StringIO(text, newline=""), strict=True))
    other = ("padding", "padding shape", "padding stock", "rounding", "gauge", "edge", "edges")
    assert {row["material"] for row in rows if row["kind"] not in other} == {name}


def test_every_shape_of_padding_and_the_stock_it_takes_has_a_row():
    job = sample_job()
    rows = list(csv.DictReader(io.StringIO(cutlist_csv(job).decode(), newline="")))
    shapes = [shape for plan in job.plans for shape in plan.shapes]
    listed = [row for row in rows if row["kind"] == "padding shape"]
    assert [row["name"] for row in listed] == [shape.name for shape in shapes]
    assert [int(row["count"]) for row in listed] == [s.cut_count + s.mirrored_count for s in shapes]
    stock = {row["name"]: row for row in rows if row["kind"] == "padding stock"}
    assert stock.keys() == {shape.material for shape in shapes}
    for name, row in stock.items():
        cut = sum(float(one["area_m2"]) for one in listed if one["material"] == name)
        assert float(row["area_m2"]) == pytest.approx(cut, abs=1e-3)


def test_same_bytes_twice():
    assert cutlist_csv(sample_job()) == cutlist_csv(sample_job())


def test_every_row_says_its_job_and_an_inch_shop_has_inches_beside_mm():
    rows = read_back()
    assert len({(row["job"], row["revision"]) for row in rows}) == 1
    assert rows[0]["job"]
    assert len(rows[0]["revision"]) == 6
    assert "width_in" not in rows[0]


def test_lengths_of_an_inch_shop_are_told_in_sixteenths_too():
    sheet = SimpleNamespace(name="bench", revision="c0ffee", unit="in")
    row = _marked(
        {"width_mm": "381.0", "height_mm": "12.7", "note": "cut 3 mm larger", "material": "foam soft 6.35 mm"},
        SimpleNamespace(sheet=sheet),
    )
    assert (row["width_in"], row["height_in"], "length_in" in row) == ("15 in", "1/2 in", False)
    assert row["note"] == "cut 1/8 in (3 mm) larger"
    assert row["material"] == "foam soft 1/4 in (6.35 mm)"
    assert row["width_mm"] == "381.0"
