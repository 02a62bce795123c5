"""Stock sheets and crushed foam: counts against the sheet's own thicknesses, warnings against the settled pad."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from flatten.foam.plan import crushed_notes, plan_of, stock_of, totals
from meshes.records.materials import CRUSH_LIMIT
from meshes.seat.build import build
from meshes.sheet.read import read_sheet

BENCH = Path(__file__).parents[3] / "examples" / "helm_bench" / "bench.toml"


@cache
def built():
    sheet = read_sheet(BENCH)
    pad = next(pad for pad in sheet.pads if pad.name == "backrest")
    return build(pad, edge_mm=20, tension_n_per_mm=1e-3 * sheet.cover.tension, materials=sheet.materials)


@pytest.mark.parametrize(("sheet_mm", "sheets"), [(25.0, 1), (12.5, 2), (10.0, 2), (8.0, 3), (None, 1)])
def test_a_layer_is_laid_up_of_sheets(sheet_mm, sheets):
    materials = {
        name: replace(material, thickness_mm=sheet_mm) for name, material in read_sheet(BENCH).materials.items()
    }
    last = stock_of(built(), materials)[-1]
    # The layer is 20 mm thick in the sheet.
    assert last.thickness_mm == 20.0
    assert last.sheets == sheets
    assert last.area_mm2 == pytest.approx(sheets * built().facts.layers[-1][3])


@pytest.mark.parametrize("stock", [(), (12.7, 25.4), (8.0, 14.0), (6.0,)])
def test_stock_adds_up_to_the_shapes_by_thickness_of_sheet(stock):
    """What is bought is what is cut: every shape as often as it is cut, each time of one thickness."""
    sheet = read_sheet(BENCH)
    materials = {name: replace(one, stock_mm=stock if one.foam else ()) for name, one in sheet.materials.items()}
    plan = plan_of(built(), materials, sheet.allowance)
    found = totals([plan])
    for name in {layer.material for layer in built().pad.layers}:
        rows = [row for row in found if row.material == name]
        cut = [shape for shape in plan.shapes if shape.material == name]
        assert sum(row.shapes for row in rows) == sum(one.cut_count + one.mirrored_count for one in cut)
        each = sum((one.cut_count + one.mirrored_count) * one.cut_mm2 for one in cut)
        assert sum(row.cut_mm2 for row in rows) == pytest.approx(each)
        used = {mm for row in plan.stock if row.material == name for mm in row.sheets_mm}
        assert {row.sheet_mm for row in rows} == (used or {None})
        assert used <= set(materials[name].sheets_mm)


def test_no_layer_covers_more_than_the_pad():
    rows = stock_of(built(), read_sheet(BENCH).materials)
    assert len(rows) == len(built().pad.layers)
    assert all(0.0 < row.area_mm2 / row.sheets <= built().facts.area_mm2 * (1 + 1e-9) for row in rows)


def test_foam_crushed_by_more_than_half_is_told_with_its_figure():
    told, materials = {note.where: note for note in crushed_notes(built())}, read_sheet(BENCH).materials
    for k, (layer, share) in enumerate(zip(built().pad.layers, built().rest.layer_compression_max, strict=True), 1):
        where = f"pad backrest, layer {k}"
        assert (where in told) == (materials[layer.material].foam and share > CRUSH_LIMIT)
        if where in told:
            assert f"{100 * share:.0f} %" in told[where].text
            assert told[where].warning


@pytest.mark.parametrize(("share", "count"), [(0.49, 0), (0.51, 1)])
def test_half_is_where_the_warning_begins(share, count):
    pad = built()
    rest = replace(pad.rest, layer_compression_max=(share,) * len(pad.pad.layers))
    # Each layer of foam is warned of, stuffing is not.
    foams = sum(read_sheet(BENCH).materials[layer.material].foam for layer in pad.pad.layers)
    assert len(crushed_notes(replace(pad, rest=rest))) == count * foams
    assert 0 < foams < len(pad.pad.layers)


def test_free_padding_has_no_warning():
    assert crushed_notes(replace(built(), rest=None)) == ()
