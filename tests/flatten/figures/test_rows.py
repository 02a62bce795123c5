"""Every row of the report against the record it tells, with a number of its own in every place, so that no figure can
stand for another; and figures that are worked out there against another way to them."""

from dataclasses import replace
from types import SimpleNamespace as Made

import numpy as np
import pytest

from flatten.figures.closed import board_row, closed_row
from flatten.figures.padding import material_rows, padding_keys, stock_rows
from flatten.figures.pads import pad_row
from flatten.figures.panels import panel_rows
from flatten.figures.pieces import (
    fit_rows,
    fly_rows,
    offset_row,
    piece_row,
    pleat_end_rows,
    pleat_rows,
    seam_rows,
    sewing_rows,
)
from flatten.figures.report import report, without_seconds
from flatten.figures.rounded import fraction, length, rounded
from flatten.figures.tapes import tape_rows
from flatten.foam.cut import LayerShapes
from flatten.foam.plan import PadPlan, Stock
from flatten.foam.too_much import Figures, SettledHeight, Thinner
from flatten.job.pads import tension_of
from flatten.leather.verdict import Over
from flatten.maps.flat import Straightening, Trouble
from flatten.pieces.piece import CutLine, CutOrder, Edge, EdgeKind, InnerLine, LineKind, PieceKind
from meshes.records.frame import Fixings
from meshes.seat.lineup import Offset
from meshes.seat.panels import PanelRole
from meshes.sheet.whole import Allowance, Control
from meshes.support.line_roles import LineRole
from meshes.tapes.explain import Explanation, Taped
from meshes.tapes.told import Tapes
from tests.pieces import edges_of, piece_of
from tests.samples import sample_job


def test_figures_are_rounded_and_never_minus_nothing():
    assert (length(1.23456), fraction(0.12345678), rounded(2.5555, 2)) == (1.235, 0.123457, 2.56)
    assert fraction(None) is None
    assert str(length(-1e-9)) == "0.0"
    for none in (float("nan"), float("inf")):
        with pytest.raises(ValueError, match="no room"):
            length(none)


# --- pads without a frame --------------------------------------------------------------------------------------------


def test_a_closed_cover_is_told():
    closed = Made(form="box", core="foam_firm", thickness=81.0, rear=62.0, height=93.0, board=9.5, filled=True,
        zip_along=("rear", "left"),
    )  # fmt: skip
    facts = Made(smaller=Made(mm=14.5, row="a row"), tension_n_per_mm=0.21, rise_mm=7.5, zip_mm=512.0)
    inner = Made(closed=closed, side_word=lambda side: {"rear": "top"}.get(side, side))
    assert closed_row(Made(pad=inner, closed=facts)) == {
        "form": "box",
        "core": "foam_firm",
        "thickness_mm": 81.0,
        "rear_thickness_mm": 62.0,
        "band_mm": 93.0,
        "board_mm": 9.5,
        "undersize_mm": 14.5,
        "undersize_row": "a row",
        "tension_n_per_mm": 0.21,
        "rise_mm": 7.5,
        "zip_mm": 512.0,
        "zip_along": "top and left",
    }
    closed.rear = None
    assert closed_row(Made(pad=inner, closed=facts))["rear_thickness_mm"] is None
    closed.filled = False
    assert closed_row(Made(pad=inner, closed=facts))["zip_along"] is None
    closed.form, closed.filled = "roll", True
    assert closed_row(Made(pad=inner, closed=facts))["zip_along"] is None
    assert closed_row(Made(pad=Made(closed=None), closed=facts)) is None
    assert closed_row(Made(pad=inner, closed=None)) is None


def flat_pad(**more):
    """A made-up pad: a square of 100 mm in two triangles, folded 3 : 4 at one half."""
    square = np.array([[0.0, 0.0, 0.0], [100.0, 0.0, 0.0], [100.0, 60.0, 80.0], [0.0, 60.0, 80.0]])
    surface = Made(vertices=square, triangles=np.array([[0, 1, 2], [0, 2, 3]]))
    inner = Made(
        name="pad",
        kind="backrest",
        pose=None,
        origin=(1.0, 2.0, 3.0),
        rake_deg=4.0,
        facing_deg=5.0,
        closed=None,
        board=None,
        fixings=Fixings((("rear", "staples"),), (("rear", 33.0),)),
        side_word=lambda side: {"rear": "top"}[side],
    )
    facts = Made(
        profiles=[Made(name="along at 0", points=6, residual_mm=1.5, sensitivity=2.5, left_out_mm=3.5)],
        left_right=[("depth", -4.5)],
        area_mm2=10_000.0,
        thickness_mm=(11.0, 22.0),
        layers=[("wadding", "face", 8.0, 9_000.0)],
        triangles=2,
        smallest_angle_deg=45.0,
    )
    rim = [
        Made(name="low", kind="tacked", seam=None, role=LineRole.TACK, vertices=np.array([0, 1])),
        Made(name="sewn", kind="sewn", seam="dart", role=LineRole.CORNER_SEAM, vertices=np.array([1, 2])),
        Made(name="lost", kind="sewn", seam=None, role=LineRole.CORNER_SEAM, vertices=np.array([1, 2])),
        Made(name="tacked seam", kind="sewn", seam="side", role=LineRole.TACK, vertices=np.array([1, 2])),
        Made(name="mouth", kind="folded", seam=None, role=LineRole.FOLD, vertices=np.array([0, 1, 2])),
    ]
    panel = Made(name="pad face", part="face", rim=rim, surface=surface)
    given = {
        "pad": inner,
        "facts": facts,
        "surface": surface,
        "division": Made(folds=[]),
        "panels": [panel],
        "seams": [
            Made(name="dart", a="pad face", b="pad face", vertices=np.array([1, 2])),
            Made(name="side", a="pad face", b="pad face", vertices=np.array([1, 2])),
            Made(name="other", a="pad face", b="pad band", vertices=np.array([0, 1])),
        ],
        "rest": None,
        "sections": [],
        "closed": None,
        "continued": None,
        "pleats": None,
    }
    return Made(**(given | more))


def test_a_pad_is_told_by_what_was_measured_and_built():
    row = pad_row(flat_pad())
    assert row | {"board": None, "closed": None} == row
    expected = {
        "name": "pad",
        "kind": "backrest",
        "origin_mm": [1.0, 2.0, 3.0],
        "rake_deg": 4.0,
        "facing_deg": 5.0,
        "profiles": [{"name": "along at 0", "points": 6, "residual_mm": 1.5, "sensitivity": 2.5, "left_out_mm": 3.5}],
        "left_right": [{"what": "depth", "right_minus_left_mm": -4.5}],
        "area_mm2": 10_000.0,
        "thickness_mm": {"min": 11.0, "max": 22.0},
        "layers": [{"material": "wadding", "where": "face", "thickness_mm": 8.0, "area_mm2": 9_000.0}],
        "triangles": 2,
        "smallest_angle_deg": 45.0,
        # Only what is tacked and in no seam.
        "tack_lines": [{"name": "face low", "length_mm": 100.0}],
        "folds": [],
        "fixings": [{"side": "top", "fixing": "staples", "crease_mm": 33.0}],
        # Only where both sides are one panel's and its edge is a sewn corner.
        "sewn_corners": [{"seam": "dart", "length_mm": 100.0}],
        "continues": [],
        "sections": [],
        "tension_n_per_mm": 0.0,
        "spring_deflection_mm": 0.0,
        "foam_compression_max": 0.0,
        "padding_compression_max": 0.0,
        "height_change_mm": [0.0, 0.0],
    }
    assert {key: row[key] for key in expected} == expected


def test_a_pad_at_rest_is_told_by_how_it_was_pressed():
    rest = Made(
        tension_n_per_mm=0.31,
        spring_deflection_mm=12.5,
        foam_compression_max=0.4567891,
        padding_compression_max=0.789,
        height_change_mm=(-9.25, 3.5),
    )
    row = pad_row(flat_pad(rest=rest))
    assert (row["tension_n_per_mm"], row["spring_deflection_mm"]) == (0.31, 12.5)
    assert (row["foam_compression_max"], row["padding_compression_max"]) == (0.456789, 0.789)
    assert row["height_change_mm"] == [-9.25, 3.5]


def test_a_folded_corner_is_told_with_what_it_covers_and_the_leather_that_lies_in_it():
    """Leather of a fold: from the edge of the piece in to its mouth, here a triangle 4 wide and 3 high."""
    fold = Made(
        name="mouth", corner="front_left", finish="pleat", panel="pad face", depth_mm=21.0, arc_mm=31.0,
        triangles=np.array([1]),
    )  # fmt: skip
    pad = flat_pad(division=Made(folds=[fold]))
    edge = Edge("mouth", EdgeKind.SEWN, np.array([[0.0, 0.0], [4.0, 0.0]]), 0.0)
    flat = Made(points=np.array([[0.0, 0.0], [2.0, 3.0], [4.0, 0.0]]))
    other = Made(panels=("elsewhere",), edges=(edge,), mesh=flat)
    piece = Made(panels=("pad face",), edges=(Edge("low", EdgeKind.PULLED, np.zeros((2, 2)), 0.0), edge), mesh=flat)
    (row,) = pad_row(pad, [other, piece])["folds"]
    assert row == {
        "corner": "front left",
        "finish": "pleat",
        "panel": "pad face",
        "depth_mm": 21.0,
        "arc_mm": 31.0,
        "leather_mm2": 6.0,
        "covers_mm2": 5_000.0,
    }
    assert pad_row(pad, [other])["folds"][0]["leather_mm2"] == 0.0


def test_a_board_is_told_with_its_area_less_its_openings():
    pad = flat_pad()
    ring = Made(vertices=np.array([0, 1, 2, 3, 0]))
    flat = np.array([[0.0, 0.0, 0.0], [100.0, 0.0, 0.0], [100.0, 60.0, 0.0], [0.0, 60.0, 0.0]])
    pad.panels = [Made(surface=Made(vertices=flat), rim=[ring])]
    square = ((10.0, 10.0), (30.0, 10.0), (30.0, 30.0), (10.0, 30.0))
    opening = Made(name="lock", wrap=11.0, corners=square, radii=(0.0,) * 4)
    pad.pad.board = Made(
        thickness=4.0, wrap=22.0, pair="right", openings=[opening], holes=[Made(name="screw", diameter=6.0)]
    )
    row = board_row(pad)
    # A board has its corners a hair round.
    assert row.pop("area_mm2") == pytest.approx(6_000.0 - 400.0, abs=1.0)
    assert row == {
        "thickness_mm": 4.0,
        "wrap_mm": 22.0,
        "pair": "right",
        "openings": [{"name": "lock", "wrap_mm": 11.0}],
        "holes": [{"name": "screw", "diameter_mm": 6.0}],
    }


# --- padding ---------------------------------------------------------------------------------------------------------


def shape(name="layer 1 face", *, count=2, mirrored=1, material="foam_firm"):
    """A rectangle of 60 by 40 mm, away from the origin, with a bevel line, a rounding line and another."""
    piece = piece_of(name, edges_of([(5, 9), (65, 9), (65, 49), (5, 49)], [0.0] * 4))
    edges = (replace(piece.edges[0], name="front", allowance_mm=7.5, note="minded"), *piece.edges[1:])
    line = np.array([[5.0, 5.0], [9.0, 9.0]])
    return replace(
        piece,
        edges=edges,
        outline=CutLine(piece.sew),
        inner=tuple(
            InnerLine(name, line, kind)
            for name, kind in (("bevelled", LineKind.BEVEL), ("round", LineKind.ROUNDING), ("plain", LineKind.INNER))
        ),
        notes=("a note",),
        order=CutOrder(count, mirrored, material, PieceKind.PADDING),
    )


def plan(**more):
    before, after = Figures(3, "along 0", "front", 21.0, 31.0, 0.41237, 5.0), Figures(4, "x", "rear", 1, 2, 0.3, 4)
    given = {
        "pad": "pad",
        "stock": (Stock(1, "foam_firm", 37.0, (20.0, 17.0), 5_000.0), Stock(2, "wadding", 8.0, (), 700.0)),
        "cut": (LayerShapes((1,), (shape(),)),),
        "height": SettledHeight(55.0, (1.5, 2.5), 51.0),
        "thinner": (Thinner((1, 3), "foam_firm", 20.0, 12.0, (before,), (after,), True),),
        "notes": (),
        "roundings": (
            Made(side="rear", layers=(1, 2), before=3, radius_mm=19.0, even=True, turn_deg=71.0, take_off_mm2=81.0),
        ),
    }
    return PadPlan(**(given | more))


def padded_job(*plans):
    materials = {"foam_firm": Made(laid_up=lambda thick: (thick,)), "wadding": Made(laid_up=lambda thick: ())}
    return Made(plans=plans, sheet=Made(materials=materials))


def test_a_padding_plan_is_told_layer_by_layer():
    found = padding_keys(flat_pad(), padded_job(plan(pad="other", stock=()), plan()))
    first, second = found["padding_plan"]
    (cut,) = first.pop("shapes")
    assert first == {
        "layer": 1,
        "material": "foam_firm",
        "thickness_mm": 37.0,
        "sheet_mm": 20.0,
        "sheets": 2,
        "sheets_mm": [20.0, 17.0],
        "area_mm2": 5_000.0,
    }
    assert (second["sheet_mm"], second["sheets"], second["sheets_mm"], second["shapes"]) == (None, 1, [], [])
    assert cut["edges"][0] == {"name": "front", "oversize_mm": 7.5, "note": "minded"}
    assert {key: cut[key] for key in cut if key != "edges"} == {
        "name": "layer 1 face",
        "count": 2,
        "mirrored": 1,
        "width_mm": 60.0,
        "height_mm": 40.0,
        "area_mm2": 2_400.0,
        "bevels": ["bevelled"],
        "rounding_lines": ["round"],
        "notes": ["a note"],
    }
    assert found["finished_height"] == {"found_mm": 55.0, "at": [1.5, 2.5], "wanted_mm": 51.0, "over_mm": 4.0}
    assert found["roundings"] == [
        {
            "side": "top",
            "layers": [1, 2],
            "before_layer": 3,
            "radius_mm": 19.0,
            "circle": True,
            "turn_deg": 71.0,
            "take_off_mm2": 81.0,
        }
    ]
    (thin,) = found["thinner_tried"]
    assert thin.pop("before") == [
        {"cut": "along 0", "side": "front", "radius_mm": 21.0, "hard_line_deg": 31.0, "crushed": 0.4124, "lift_mm": 5.0}
    ]
    assert thin.pop("after")[0]["side"] == "rear"
    assert thin == {
        "layers": [1, 3],
        "material": "foam_firm",
        "thickness_mm": 20.0,
        "tried_mm": 12.0,
        "holds": True,
    }
    high = padding_keys(flat_pad(), padded_job(plan(height=SettledHeight(55.0, (0.0, 0.0), None))))["finished_height"]
    assert (high["wanted_mm"], high["over_mm"]) == (None, 0.0)


def test_a_pad_without_a_plan_is_told_its_stock_alone():
    pad = flat_pad()
    pad.pad.layers = (Made(material="foam_firm", thickness=20.0, block=None),)
    pad.facts.layers = [("foam_firm", "face", 20.0, 9_000.0)]
    found = padding_keys(pad, padded_job())
    assert list(found) == ["padding_plan"]
    assert [row["shapes"] for row in found["padding_plan"]] == [[]]


def test_stock_is_counted_over_all_shapes():
    """Twice as drawn and once mirrored, each of two sheets laid on each other: one and a half shapes a sheet, whole."""
    whole = plan(cut=(LayerShapes((1,), (shape(count=4, mirrored=2),)),))
    thick, thin = stock_rows(padded_job(whole))
    assert (thick["sheet_mm"], thin["sheet_mm"]) == (20.0, 17.0)
    for row in (thick, thin):
        assert row["material"] == "foam_firm"
        assert row["shapes"] == 3
        assert row["cut_mm2"] == row["boxes_mm2"] == pytest.approx(3 * 2_400.0)
        assert row["stock_sheet_mm"] == [1000.0, 2000.0]
        assert row["stock_sheets"] == 1
    loose = plan(stock=(Stock(1, "wadding", 8.0, (), 1.0),), cut=(LayerShapes((1,), (shape(material="wadding"),)),))
    assert stock_rows(padded_job(loose))[0]["sheet_mm"] is None


def test_materials_are_told_once_in_the_order_they_are_laid():
    def material(name):
        return Made(name=name, density_kg_m3=35, table=[(0.25, 1.23456)], source="s", curve_source="c", editable=False)

    def pad(*layers, core=None, filled=True):
        closed = None if core is None else Made(core=core, filled=filled)
        return Made(pad=Made(closed=closed, layers=[Made(material=one) for one in layers]))

    names = ("core", "foam", "wadding", "left out")
    pads = [pad("foam", "wadding"), pad("wadding", core="core"), pad(core="left out", filled=False)]
    rows = material_rows(Made(pads=pads, sheet=Made(materials={name: material(name) for name in names})))
    assert [row["name"] for row in rows] == ["core", "foam", "wadding"]
    assert rows[0] == {
        "name": "core",
        "density_kg_m3": 35,
        "compression": [[0.25, 1.2346]],
        "source": "s",
        "curve_source": "c",
        "editable": False,
    }


# --- panels ----------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def told():
    """The sample's panels with a place over the budget, one where the floor is proven, and what straight lines cost."""
    job = sample_job()
    flats = {}
    for k, (name, flat) in enumerate(job.flats.items()):
        flats[name] = replace(
            flat,
            judgement=replace(flat.judgement, over=Over(0.125, 0.25, 7, 33.0 if k else None)),
            lower=replace(flat.lower, trouble=Trouble(5, 44.0, "disc")),
            straightening=Straightening(0.0125, 0.0375),
        )
    job = replace(job, flats=flats)
    return job, {row["name"]: row for row in panel_rows(job)}


def on_seat(pad, panel):
    """Vertices of a panel as they stand on the seat: turned and moved by the pad's placement."""
    at = np.column_stack([pad.shown.vertices[panel.vertices], np.ones(len(panel.vertices))])
    return (pad.placement @ at.T).T[:, :3]


def test_a_panel_is_told_by_its_flat_map(told):
    job, rows = told
    for k, (name, flat) in enumerate(job.flats.items()):
        row, panel = rows[name], job.panels[name]
        assert (row["triangles"], row["pad"], row["mirror_of"]) == (len(flat.triangles), panel.pad, panel.mirror_of)
        corners = flat.points[flat.triangles]
        (ax, ay), (bx, by) = (corners[:, 1] - corners[:, 0]).T, (corners[:, 2] - corners[:, 0]).T
        assert row["area_piece_mm2"] == pytest.approx(np.abs(0.5 * (ax * by - ay * bx)).sum(), rel=1e-6)
        assert row["area_seat_mm2"] == pytest.approx(flat.figures.area_seat_mm2, abs=1e-3)
        # Both stretches of a triangle, multiplied, are its area on the seat for that on the piece.
        seat = row["area_piece_mm2"] * row["stretch"]["max"] * row["stretch"]["max"]
        assert row["area_piece_mm2"] * row["stretch"]["min"] ** 2 < row["area_seat_mm2"] < seat
        assert (row["stretch"]["max"], row["stretch"]["min"]) == pytest.approx(
            (flat.stretch.max(), flat.stretch.min()), abs=1e-6
        )
        assert row["floor"] == pytest.approx(flat.lower.demand, abs=1e-6)
        assert row["budget"] == pytest.approx(flat.judgement.budget, abs=1e-6)
        assert row["verdict"] == flat.judgement.verdict
        assert (row["flipped"], row["certified"]) == (0, True)
        assert (row["rung"], row["steps"], row["note"]) == (flat.made.method, flat.made.steps, str(flat.made.status))
        assert row["energy"] == pytest.approx(flat.figures.energy, abs=1e-6)
        assert row["seconds"] == pytest.approx(flat.made.seconds, abs=1e-3)
        over = row["over"]
        assert (over["excess"], over["area_share"]) == (0.125, 0.25)
        assert over["from_seam_mm"] == (33.0 if k else None)
        pad = next(pad for pad in job.pads if pad.pad.name == panel.pad)
        seat = on_seat(pad, panel)
        assert over["where_mm"] == pytest.approx(seat[flat.triangles[7]].mean(axis=0), abs=1e-3)
        assert row["floor_at"]["kind"] == "disc"
        assert row["floor_at"]["radius_mm"] == 44.0
        assert row["floor_at"]["where_mm"] == pytest.approx(seat[5], abs=1e-3)
        assert (row["straight_lines"]["paid"], row["straight_lines"]["asks"]) == (0.0125, 0.0375)


def test_half_a_percent_of_the_seat_uses_more_than_is_told(told):
    job, rows = told
    for pad in job.pads:
        for panel in pad.panels:
            flat, row = job.flats[panel.name], rows[panel.name]["use"]
            corners = on_seat(pad, panel)[flat.triangles]
            normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
            areas = np.linalg.norm(normals, axis=1)
            share = areas / areas.sum()
            assert share[flat.use > row["p995"] + 1e-6].sum() <= 0.005 + 1e-9
            assert share[flat.use >= row["p995"] - 1e-6].sum() >= 0.005 - 1e-9
            assert row["min"] == pytest.approx(flat.use.min(), abs=1e-6)
            assert row["max"] == pytest.approx(flat.use.max(), abs=1e-6)


def test_what_nothing_is_known_of_is_null_and_what_cost_nothing_is_nought():
    job = sample_job()
    flats = {name: replace(flat, straightening=None) for name, flat in job.flats.items()}
    name = next(iter(flats))
    flats[name] = replace(
        flats[name], lower=None, judgement=replace(flats[name].judgement, use=None, over=None, budget=None)
    )
    row = panel_rows(replace(job, flats=flats))[0]
    assert (row["use"], row["over"], row["floor_at"], row["floor"], row["budget"]) == (None,) * 5
    assert (row["straight_lines"]["paid"], row["straight_lines"]["asks"]) == (0.0, 0.0)


def test_tensions_are_told_by_the_metre_and_a_closed_covers_are_what_its_core_pulls():
    job = sample_job()
    wished = tension_of(job.sheet, job.leather)
    for row in panel_rows(job):
        assert row["tension_n_per_m"]["wished"] == pytest.approx(1000.0 * wished, abs=0.051)
    # Settled at a tension of its own for every part, or at one for all.
    parts = {panel.part: 0.1 + 0.01 * k for k, panel in enumerate(job.pads[0].panels)}
    rows = panel_rows(replace(job, tensions=(parts, 0.321)))
    for row in rows:
        panel = job.panels[row["name"]]
        settled = parts[panel.part] if panel.pad == job.pads[0].pad.name else 0.321
        assert row["tension_n_per_m"]["settled"] == pytest.approx(1000.0 * settled, abs=0.051)
    filled = replace(job, pads=tuple(replace(pad, closed=Made(tension_n_per_mm=0.2)) for pad in job.pads))
    for row in panel_rows(filled):
        assert row["tension_n_per_m"] == {"wished": 200.0, "settled": 200.0, "reached": 200.0}


def test_a_line_that_should_be_straight_is_told_with_its_bow():
    job = sample_job()
    lines = [line for row in panel_rows(job) for line in row["straight_lines"]["lines"]]
    for line in lines:
        assert set(line) == {"name", "valley", "bow_mm_in_300", "straight"}
        assert line["bow_mm_in_300"] >= 0.0


# --- what is cut and sewn --------------------------------------------------------------------------------------------


def test_a_seam_is_told_with_both_its_sides():
    job = sample_job()
    given = job.seams[0]
    seam = replace(
        given, length_a_mm=1.0, length_b_mm=2.0, seat_mm=3.0, mismatch_mm=4.0, local_mm=5.0, ease_mm=6.0, welt=True
    )  # fmt: skip
    row = seam_rows(replace(job, seams=(seam, *job.seams[1:])))[0]
    assert {key: row[key] for key in row if not key.startswith("marks") and key != "kind"} == {
        "name": given.name,
        "a": given.a,
        "b": given.b,
        "length_a_mm": 1.0,
        "length_b_mm": 2.0,
        "seat_mm": 3.0,
        "mismatch_mm": 4.0,
        "local_mm": 5.0,
        "ease_mm": 6.0,
        "welt": True,
        "sews": False,
    }
    # One side of a seam with a mark less in its middle: both have so many less one.
    piece = next(p for p in job.pieces if given.a in p.panels)
    line = next(e for e in piece.edges if e.seam == given.name).points
    ends = line[[0, -1]]
    gone = next(
        k
        for k, mark in enumerate(piece.marks)
        if _on(line, mark.at) and np.linalg.norm(ends - mark.at, axis=1).min() > 5.0
    )
    less = replace(piece, marks=tuple(mark for k, mark in enumerate(piece.marks) if k != gone))
    rows = seam_rows(replace(job, pieces=tuple(less if p is piece else p for p in job.pieces)))
    (row,), (was,) = ([r for r in some if r["name"] == given.name] for some in (rows, seam_rows(job)))
    assert row["marks"] == row["marks_a"] == was["marks_a"] - 1
    assert row["marks_b"] == was["marks_b"]


def _on(line, at):
    a, b = line[:-1], line[1:]
    t = np.clip(np.einsum("ij,ij->i", at - a, b - a) / np.maximum(np.einsum("ij,ij->i", b - a, b - a), 1e-12), 0, 1)
    return np.linalg.norm(a + t[:, None] * (b - a) - at, axis=1).min() < 0.05


def test_every_seam_is_sewn_once_and_of_the_kind_told():
    job = sample_job()
    steps = sewing_rows(job)
    assert sorted(step["seam"] for step in steps) == sorted(seam.name for pad in job.pads for seam in pad.seams)
    kinds = {step["seam"]: step["kind"] for step in steps}
    assert {row["name"]: row["kind"] for row in seam_rows(job)} == {row.name: kinds[row.name] for row in job.seams}
    assert kinds["=cushion face / front band"] == "welted"
    assert [step["pad"] for step in steps] == ["=cushion"] * len(job.pads[0].seams) + ["back"] * len(job.pads[1].seams)
    assert all(step["rows"] >= 1 and step["leathers"] >= 2 and step["what"] for step in steps)


def test_a_piece_is_told_up_to_its_cut_line():
    row = piece_row(shape("face", count=3, mirrored=2))
    assert row.pop("edges")[0] == {
        "name": "front",
        "kind": "sewn",
        "length_mm": 60.0,
        "allowance_mm": 7.5,
        "seam": "face / side 1",
        "note": "minded",
    }
    assert row == {
        "name": "face",
        "pad": "cushion",
        "count": 5,
        "mirrored": 2,
        "panels": ["face"],
        "width_mm": 60.0,
        "height_mm": 40.0,
        "cut_area_mm2": 2_400.0,
        "notes": ["a note"],
        "material": "foam_firm",
    }
    named = replace(shape(), order=CutOrder(leather="suede"))
    assert piece_row(named)["material"] == "suede"
    assert piece_row(replace(shape(), order=CutOrder()))["material"] == "leather"


def test_a_row_of_fitting_is_told_with_where_and_by_how_much():
    note = Made(row=4, round=2, span=Made(edge="front band"))
    drawn = Made(edge=lambda where: (Made(name=f"piece at {where}"), None))
    ends = (Made(name="mark 1"), Made(name="mark 2"))
    done = Made(
        found=Made(note=note, drawn=drawn, where=9, ends=ends), each_mm=-3.0, own_mm=(1.0, 2.0), other_mm=(4.0,),
        run_mm=(5.0, 6.0), follow=("face",),
    )  # fmt: skip
    assert fit_rows(Made(fitting=Made(done=[done], reshaped=[]))) == [
        {
            "row": 5,
            "round": 2,
            "piece": "piece at 9",
            "edge": "front band",
            "from": "mark 1",
            "to": "mark 2",
            "out_mm": -3.0,
            "own_mm": [1.0, 2.0],
            "other_mm": [4.0],
            "run_out_mm": [5.0, 6.0],
            "follow": ["face"],
        }
    ]
    note.span = None
    assert fit_rows(Made(fitting=Made(done=[done], reshaped=[])))[0]["edge"] is None
    assert fit_rows(Made(fitting=None)) == []
    other = Made(
        note=Made(row=1, round=3), piece="face", words="stretched", follow=[("band", "is longer")],
        figures=[("share", 0.1234567)],
    )  # fmt: skip
    first, second = fit_rows(Made(fitting=Made(done=[done], reshaped=[other])))
    assert first == {
        "row": 2,
        "round": 3,
        "piece": "face",
        "words": "stretched",
        "follow": ["band"],
        "share": 0.12346,
    }
    assert second["row"] == 5


def test_a_fly_saves_the_leather_it_takes_the_place_of():
    """A strip 200 long and 60 wide, sewn on with 12, in whose place leather would have gone on to its grip of 50."""
    piece = piece_of("fly", edges_of([(0, 0), (200, 0), (200, 60), (0, 60)], [50.0, 0.0, 12.0, 0.0]))
    piece = replace(piece, panels=("pad fly",), order=CutOrder(1, 1))
    roles = (LineRole.TACK, LineRole.FLY_END, LineRole.FLY, LineRole.FLY_END)
    panel = Made(name="pad fly", role=PanelRole.FLY, rim=[Made(role=role, side="rear") for role in roles])
    pad = flat_pad(panels=[panel])
    allowance = replace(Allowance(), pulled=40.0)
    (row,) = fly_rows(pad, Made(pieces=[piece], sheet=Made(allowance=allowance)))
    assert row == {
        "panel": "pad fly",
        "side": "top",
        "count": 2,
        "length_mm": 200.0,
        "strip_mm": pad.pad.fixings.strip,
        "width_as_cut_mm": 12.0 + 60.0 + 50.0,
        "grip_mm": 50.0,
        "leather_saved_mm2": 200.0 * (60.0 + 40.0 - 12.0),
    }


def test_pleats_are_told_with_what_they_take():
    figure = Made(
        index=3, name="pleat 3", finished_mm=50.0, finished_low_mm=48.0, finished_high_mm=52.0, rise_mm=9.0,
        cut_mm=58.0, take_up_mm=5.0,
    )  # fmt: skip
    pad = flat_pad(panels=[], pleats=Made(figures=[figure]))
    assert pleat_rows(Made(pads=[flat_pad(panels=[]), pad], flats={})) == [
        {
            "pad": "pad",
            "index": 3,
            "name": "pleat 3",
            "finished_mm": 50.0,
            "finished_low_mm": 48.0,
            "finished_high_mm": 52.0,
            "rise_mm": 9.0,
            "cut_mm": 58.0,
            # Over the crest, without what the stitch lines take.
            "arc_mm": 53.0,
            "take_up_mm": 5.0,
        }
    ]
    assert pleat_end_rows(Made(pads=[flat_pad(panels=[])], flats={})) == []


def test_valleys_off_each_other_are_told():
    assert offset_row(Offset("cushion", "back", -2, "valley 1", 3.25)) == {
        "a": "cushion",
        "b": "back",
        "index": -2,
        "valley": "valley 1",
        "offset_mm": 3.25,
    }


def test_tapes_are_told_with_their_error_and_what_would_explain_them():
    control = Control("pad", "along", "padding", 1000.0, at=0.0)
    taped = (Taped(control, 994.0), Taped(control, None))
    why = Explanation(("pad", 0, "outline", "depth"), "depth", 430.0, 12.5, 1.5, 2.25)
    first, second = tape_rows(Tapes(taped, (why,)))["tapes"]
    assert first == {
        "pad": "pad",
        "where": control.words,
        "tape_mm": 1000.0,
        "computed_mm": 994.0,
        "tape_off_by_mm": 4.0,
        "differs": True,
    }
    assert (second["computed_mm"], second["differs"]) == (None, False)
    assert tape_rows(Tapes(taped, (why,)))["explained_by"] == [
        {
            "number": "depth",
            "keys": ["pad", 0, "outline", "depth"],
            "value_mm": 430.0,
            "change_mm": 12.5,
            "left_mm": 1.5,
            "score": 2.25,
        }
    ]


# --- the whole -------------------------------------------------------------------------------------------------------


def test_a_job_fits_where_every_piece_does():
    job = sample_job()
    assert report(job)["fits"] is False
    flats = {name: replace(flat, judgement=replace(flat.judgement, verdict=None)) for name, flat in job.flats.items()}
    data = report(replace(job, flats=flats, others=(shape("backing"),)))
    assert data["fits"] is True
    assert [row["name"] for row in data["other_pieces"]] == ["backing"]
    card = job.leather
    assert data["leather"] == {
        "name": "firm",
        "thickness_mm": card.thickness_mm,
        "pull": card.pull,
        "stretch_along": card.stretch_along,
        "stretch_across": card.stretch_across,
        "budget": pytest.approx((1.0 + card.stretch_along) / (1.0 + card.pull) - 1.0, abs=1e-6),
        "stiffness_along": pytest.approx(card.stiffness_along, abs=1e-3),
        "stiffness_across": pytest.approx(card.stiffness_across, abs=1e-3),
        "source": dict(card.source),
    }
    assert data["sheet"] == "Pilot's bench & friends"
    assert [pad["name"] for pad in data["pads"]] == ["=cushion", "back"]
    assert len(data["cautions"]) > 1


def test_seconds_are_left_out_wherever_they_stand_and_nothing_else():
    given = {"seconds": 1, "a": [{"seconds": 2, "b": 3}, 4, "seconds"], "c": {"d": {"seconds": 5}}}
    assert without_seconds(given) == {"a": [{"b": 3}, 4, "seconds"], "c": {"d": {}}}
    assert given["seconds"] == 1
