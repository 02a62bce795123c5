"""What to order, held against published figures and sums of the job's own parts."""

import csv
import io
import re
from dataclasses import replace

import numpy as np
import pytest

import flatten
from flatten.foam.plan import Stock
from flatten.orders.lines import OrderLine, total_cost
from flatten.orders.order import order_lines, thickness_words
from flatten.orders.prices import price_table, priced, unused_prices
from flatten.orders.thread import lockstitch_ratio, thread_for, thread_use
from flatten.orders.words import order_csv, order_rows, order_section
from flatten.pieces.piece import InnerLine, LineKind
from flatten.pieces.welt import strips_needed
from flatten.report.amounts import gross_area, leather_area_mm2, welt
from meshes.base.problems import ProblemError
from meshes.base.units import MM_PER_INCH, SQUARE_FOOT_MM2
from meshes.sheet.read import read_sheet
from tests.pads import FLAT
from tests.samples import sample_job

INCH = float(MM_PER_INCH)
SHEET = FLAT.replace("band = true\nseam_below = 5", "band = true\nwelt = true\nseam_below = 5").replace(
    'name = "test"', 'name = "test"\n[output]\nmesh = 30\n[cutting]\nprices = "prices.csv"\n'
)
LAYER = '[[pad.layer]]\nmaterial = "foam_medium"\nthickness = 30\nwhere = "face"\n'


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    folder = tmp_path_factory.mktemp("order")
    (folder / "prices.csv").write_text("item,price,per\nthread,0.05,m\nfurniture,95,m2\nstaples,0.01,pieces\n")
    (folder / "sheet.toml").write_text(SHEET + LAYER)
    return flatten.make(folder / "sheet.toml")


def test_lockstitch_takes_what_the_formula_says():
    # textilecalculations.com: T .01 in, 10 stitches an inch: 2.20
    assert lockstitch_ratio(0.01 * INCH, 10.0) == pytest.approx(2.20)
    # two plies of 1.2 mm at 5, 6 and 8 stitches an inch
    for stitches, ratio in ((5.0, 2.945), (6.0, 3.134), (8.0, 3.512)):
        assert lockstitch_ratio(2.4, stitches) == pytest.approx(ratio, abs=5e-4)
    with pytest.raises(ValueError):
        lockstitch_ratio(0.0)


def test_thicker_leather_takes_thicker_thread():
    sizes = [int(thread_for(mm)[0]) for mm in (0.9, 1.2, 2.0)]
    assert sizes == [69, 92, 138]


def test_published_sums_of_leather_and_welt():
    # keleenleathers.com: 100 sq ft net at 70 %
    assert gross_area(100.0 * SQUARE_FOOT_MM2, 0.70) / SQUARE_FOOT_MM2 == pytest.approx(142.86, abs=0.005)
    # forum.upholster.com topic 10184: 950 in of welt from 54 in cloth: 18 strips
    assert strips_needed(950.0, 54.0) == 18


def test_every_line_says_where_it_comes_from_and_sums_agree(job):
    lines = order_lines(job, {job.leather.name: 0.5})
    assert all(line.source and line.quantity > 0.0 and line.unit for line in lines)
    items = {line.item: line for line in lines}
    assert items[job.leather.name].quantity == pytest.approx(leather_area_mm2(job) / 0.5 / 1e6)
    (cord,) = [line for line in lines if line.item.startswith("welt cord")]
    assert cord.quantity == pytest.approx(welt(job).cut_mm / 1000.0)
    (thread,) = [line for line in lines if line.item.startswith("thread")]
    sewn = sum(max(seam.length_a_mm, seam.length_b_mm) for seam in job.seams) / 1000.0
    assert 2.5 * sewn < thread.quantity < 8.0 * sewn
    assert {"padding", "outer edges", "sewing"} <= {line.what_for for line in lines}


def test_without_a_layout_a_rule_of_thumb_is_named(job):
    (line,) = [line for line in order_lines(job) if line.item == job.leather.name]
    assert "rule of thumb" in line.source
    assert line.quantity == pytest.approx(leather_area_mm2(job) / 0.6 / 1e6)


def test_prices_fill_in_and_add_up(job):
    lines = priced(order_lines(job, {job.leather.name: 0.5}), price_table(job.sheet))
    with_price = [line for line in lines if line.price is not None]
    assert {line.item.split()[0] for line in with_price} == {"thread", "furniture", "staples"}
    assert total_cost(lines) == pytest.approx(sum(line.price * line.quantity for line in with_price))
    rows = list(csv.reader(io.StringIO(order_csv(lines, job.sheet).decode())))
    assert rows[0][:4] == ["item", "for", "quantity", "unit"]
    assert rows[-1][0] == "total"
    assert float(rows[-1][6]) == pytest.approx(total_cost(lines), abs=0.006)
    assert {len(row) for row in rows} == {9}


def test_a_price_in_another_unit_is_not_taken():
    line = OrderLine("zip", "cushion", 0.5, "m", "somewhere")
    assert priced([line], {"zip": (3.0, "pieces")})[0].price is None
    assert priced([line], {"zip": (3.0, "m")})[0].cost == pytest.approx(1.5)


@pytest.mark.parametrize(
    ("unit", "wanted"),
    [("mm", "sheets of 1000 x 2000 mm"), ("in", "sheets of 39 3/8 x 78 3/4 in (1000 x 2000 mm)")],
)
def test_an_inch_shop_reads_its_list_in_inches(tmp_path, unit, wanted):
    (tmp_path / "sheet.toml").write_text(SHEET)
    sheet = replace(read_sheet(tmp_path / "sheet.toml"), unit=unit)
    line = OrderLine("foam, 20 mm", "padding", 1.0, "sheets", "boxes of 2 shapes on sheets of 1000 x 2000 mm")
    row = list(csv.reader(io.StringIO(order_csv((line,), sheet).decode())))[1]
    assert wanted in row[4]
    assert (row[0], row[3]) == ("foam, 20 mm", "sheets")


def test_rows_that_price_nothing_are_told(tmp_path):
    """A row in another unit each, those of no line while a line has no price: a table may hold the whole shop's."""
    (tmp_path / "sheet.toml").write_text(SHEET)
    sheet = read_sheet(tmp_path / "sheet.toml")
    lines = (OrderLine("my_foam", "padding", 1.0, "sheets", ""), OrderLine("zip", "cushion", 0.5, "m", ""))
    prices = {"my_foam": (30.0, "sheet"), "wading": (4.0, "m2"), "zip": (2.0, "m")}
    unit, strange = unused_prices(priced(lines, prices), prices, sheet)
    assert {unit.code, strange.code} == {"H022"}
    assert unit.warning
    assert "write per sheets" in unit.text
    assert "wading" in strange.text
    assert "without a price are: my_foam" in strange.text
    prices["my_foam"] = (30.0, "")
    assert unused_prices(priced(lines, prices), prices, sheet) == ()


HEAD = "item,price,per\n"
USELESS = ("zip,much,m\n", ",1,m\n", "zip,1,m\nZip,2,m\n", "zip,inf,m\n", "\0,1,m\n\0", f'"{"x" * 200_000}",1,m\n')


@pytest.mark.parametrize("text", ["what,price\nzip,1\n", *(HEAD + rows for rows in USELESS), HEAD + "zip,\xff,m\n"])
def test_a_price_table_that_cannot_be_used_is_told(tmp_path, text):
    (tmp_path / "prices.csv").write_text(text, encoding="latin-1")
    (tmp_path / "sheet.toml").write_text(SHEET)
    with pytest.raises(ProblemError) as refused:
        price_table(read_sheet(tmp_path / "sheet.toml"))
    assert {problem.code for problem in refused.value.problems} == {"H020"}
    assert all(len(problem.text) < 300 for problem in refused.value.problems)


@pytest.mark.parametrize("command", ["make", "hide"])
def test_prices_are_read_before_anything_is_computed(tmp_path, command, monkeypatch):
    import flatten.hides.parted
    from flatten.app import sheet_commands, study_commands

    (tmp_path / "sheet.toml").write_text(SHEET + '[[hide]]\nname = "red"\narea = 4.0\n')
    monkeypatch.setattr(flatten.hides.parted, "make_for_hides", lambda *_, **__: pytest.fail("it is computed"))
    do = {"make": sheet_commands.make, "hide": study_commands.hide}[command]
    with pytest.raises(ProblemError, match="H020"):
        do(tmp_path / "sheet.toml", out=tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_a_missing_price_table_is_told(tmp_path):
    (tmp_path / "sheet.toml").write_text(SHEET)
    with pytest.raises(ProblemError, match="H020"):
        price_table(read_sheet(tmp_path / "sheet.toml"))


LINES = (
    OrderLine("zip", "cushion", 2.5, "m", "its seam", 1.337),
    OrderLine("thread", "all", 30.0, "m", "seams", None),
)


def test_table_report_and_page_have_the_same_prices_and_sum(job):
    """A line without a price keeps its own place empty, and leaves those of others."""
    rows = list(csv.reader(io.StringIO(order_csv(LINES, job.sheet).decode())))
    assert [row[5:7] for row in rows[1:]] == [["1.34", "3.34"], ["", ""], ["", "3.34"]]
    zip_row, thread_row = order_rows(LINES)
    assert (zip_row["price"], zip_row["cost"]) == pytest.approx((1.337, 3.3425), abs=0.006)
    assert (thread_row["price"], thread_row["cost"]) == (None, None)
    page = str(order_section(LINES, job.sheet))
    assert page.count("3.34") == 2, "the line's and the sum's"
    assert "price" in page
    bare = str(order_section(LINES[1:], job.sheet))
    assert "price" not in bare
    assert "thread" in bare


def test_foam_is_ordered_by_thickness_and_what_is_taken_down_is_told():
    def stock(mm, *sheets):
        return Stock(1, "wadding", mm, sheets, 1e5)

    assert thickness_words(15.0, [stock(12.0, 15.0)]) == (", 15 mm", "; taken down to 12 mm")
    assert thickness_words(15.0, [stock(15.0, 15.0), stock(8.0, 10.0)]) == (", 15 mm", "")
    assert thickness_words(None, [stock(90.0)]) == (", 90 mm", "; sold in thicknesses nobody named, needed: 90 mm")
    assert thickness_words(None, [stock(30.0), stock(20.0)])[0] == ""
    assert thickness_words(None, [stock(30.0), stock(20.0)])[1].endswith("needed: 20 mm, 30 mm")


def test_one_is_one(job):
    words = [line.source for line in order_lines(job)]
    assert not [text for text in words if re.search(r"\b1 (shapes|runs|strips|joins|edges)\b", text)]
    assert any(re.search(r"\b1 run\b", text) for text in words)


def test_thread_goes_into_pleats_and_twice_into_welted_seams():
    """Counted anew from the pieces: every row of a pleat as often as its piece is cut, a welt sewn on before its seam
    is closed, 25.4 mm of back stitch to and fro at both ends (4 in all of each)."""
    whole, back = sample_job(), 4 * 25.4
    valley = InnerLine("valley 1", np.array([[0.0, 0.0], [0.0, 300.0], [40.0, 330.0]]), LineKind.STITCH)
    first, *rest = whole.pieces
    job = replace(whole, pieces=(replace(first, inner=(*first.inner, valley, valley)), *rest))
    pleats = 2 * (first.cut_count + first.mirrored_count) * (300.0 + 50.0 + back)
    seams = sum(
        ((job.makes[seam.name].rows_of_thread if seam.name in job.makes else 1) + bool(seam.welt))
        * (max(seam.length_a_mm, seam.length_b_mm) + back)
        for seam in job.seams
    )
    assert any(seam.welt for seam in job.seams)
    assert thread_use(job).seams_mm == pytest.approx(seams + pleats, rel=1e-9)


def test_thread_is_ordered_as_long_as_its_rows_take_it(job):
    ordered = {line.item: line.quantity for line in order_lines(job) if line.item.startswith("thread")}
    assert ordered == pytest.approx({f"thread {size}": mm / 1000.0 for size, mm in thread_use(job).thread_mm.items()})
