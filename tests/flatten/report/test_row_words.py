"""Rows of page and cut list from records made by hand: every figure and every word of them known beforehand."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from lxml import html

from flatten.leather.verdict import Verdict
from flatten.maps.flat import Method
from flatten.pieces.piece import CutLine, CutOrder, Edge, EdgeKind, FlatMesh, InnerLine, LineKind, PieceKind
from flatten.pieces.pleat_ends import PleatEnd
from flatten.pieces.welt import WeltLength, WeltPlan, WeltRun
from flatten.report import amounts, buying, cut_list, fitting, page, pieces, pleats, settled
from flatten.report.advice import _farthest, _triangle_at, extremes, kind_of, next_step, no_room_words, overall, symbol
from flatten.report.amounts import Lot, all_area_mm2, corners, gross_area
from flatten.report.edge_lengths import EdgeLength
from flatten.report.markup import data_uri, fixed, percent, table
from flatten.report.padding import _bevels, _oversizes, _row
from meshes.base.problems import Problem
from meshes.records.closed import Closed
from meshes.tapes.told import NO_TAPES
from tests.pieces import boxed_cushion, edges_of, piece_of
from tests.samples import sample_job

SQUARE_FOOT = 92_903.04


def cells(markup):
    """Rows of a table as texts, its head first."""
    tree = html.fromstring(f"<div>{markup}</div>")
    return [[" ".join(cell.text_content().split()) for cell in row.iter("th", "td")] for row in tree.iter("tr")]


def text(markup):
    return " ".join(html.fromstring(f"<div>{markup}</div>").text_content().split())


def spotted():
    """A face of 400 x 300 mm whose five triangles lie beside its four edges and in its middle."""
    corners_mm = [(0.0, 0.0), (400.0, 0.0), (400.0, 300.0), (0.0, 300.0)]
    names = ["front band", "right band", "rear band", "left band"]
    made = edges_of(corners_mm, [0.0] * 4, names=names, bulges=[1e-9] * 4)
    middles = np.array([[200.0, 10.0], [390.0, 150.0], [200.0, 290.0], [10.0, 150.0], [200.0, 150.0]])
    points = (middles[:, None] + np.array([[-3.0, -3.0], [3.0, -3.0], [0.0, 6.0]])).reshape(-1, 2)
    mesh = FlatMesh(points, np.arange(15).reshape(5, 3), np.ones((5, 2)), np.tile([1.0, 0.0], (5, 1)))
    return replace(piece_of("face", made), mesh=mesh)


def flat_of(stretch, *, use=None, verdict=Verdict.TIGHT, trouble=None, **more):
    return SimpleNamespace(
        stretch=np.array(stretch), use=use, verdict=verdict, over=None, trouble=trouble,
        triangles=np.arange(15).reshape(5, 3), **more,
    )  # fmt: skip


PLAIN = [[1.01, 1.0], [1.03, 1.0], [1.02, 0.96], [1.0, 0.99], [1.0, 1.0]]


def test_most_stretch_and_most_fullness_are_told_with_their_places():
    rows = extremes(spotted(), flat_of(PLAIN))
    assert rows == [
        ("most stretch", "3.0\u00a0% near edge 2 (right band)"),
        ("most fullness", "4.0\u00a0% near edge 3 (rear band)"),
    ]
    thresholds = ((1.0004, 0.9996, []), (1.0006, 0.9996, ["most stretch"]), (1.0004, 0.9994, ["most fullness"]))
    for most, least, told in thresholds:
        found = extremes(spotted(), flat_of([[most, 1.0], [1.0, least], [1.0, 1.0], [1.0, 1.0], [1.0, 1.0]]))
        assert [what for what, _ in found] == told


def test_the_place_that_is_asked_most_is_that_of_the_use_else_the_farthest_from_true_length():
    assert _farthest(flat_of(PLAIN, use=np.array([0.1, 0.2, 0.3, 0.9, 0.4]))) == 3
    assert _farthest(flat_of(PLAIN)) == 2
    assert _farthest(flat_of([[1.01, 1.0], [1.05, 1.0], [1.0, 0.96]])) == 1
    assert _triangle_at(flat_of(PLAIN, trouble=SimpleNamespace(vertex=7))) == 2


def test_the_next_step_goes_with_the_verdict():
    piece = spotted()
    assert next_step(piece, flat_of(PLAIN, verdict=Verdict.FITS)) == "Cut as drawn."
    assert "most of all near edge 3 (rear band). Part it" in next_step(piece, flat_of(PLAIN))
    over = SimpleNamespace(share=0.2, excess=0.03, triangle=0)
    tight = flat_of(PLAIN)
    tight.over = over
    assert "(rear band) (up to 3.0 % beyond" in next_step(piece, tight)
    eased = flat_of(PLAIN, verdict=Verdict.EASE)
    assert next_step(piece, eased).endswith("with steam or by hand.")
    eased.over = over
    assert next_step(piece, eased).endswith("most near edge 1 (front band)).")
    proven = flat_of(PLAIN, verdict=Verdict.PROVEN, trouble=SimpleNamespace(vertex=13))
    assert "as its shape in the middle shows." in next_step(piece, proven)
    assert "it is cut. It takes" in next_step(piece, flat_of(PLAIN, verdict=Verdict.PROVEN))
    assert next_step(piece, flat_of(PLAIN, verdict=None)).startswith("Not judged")


def test_symbols_and_looks_of_verdicts():
    assert {v: symbol(v) for v in Verdict} == {v: "✓" if kind_of(v) in ("good", "ease") else "✗" for v in Verdict}
    assert symbol(None) == "–"
    assert {kind_of(v) for v in (*Verdict, None)} == {"good", "ease", "bad", "worst", "none"}
    assert kind_of(None) == "none"
    assert overall([Verdict.FITS]) == "The only piece fits the leather."
    assert overall([Verdict.TIGHT]) == "The only piece asks more than the leather gives."
    assert overall([Verdict.FITS, Verdict.EASE]) == "All 2 pieces fit the leather."
    assert overall([Verdict.TIGHT, Verdict.PROVEN]) == "No piece fits the leather as it is drawn."
    assert overall([Verdict.FITS, Verdict.PROVEN, Verdict.FITS]) == "1 of 3 pieces asks more than the leather gives."
    assert overall([Verdict.FITS, Verdict.PROVEN, Verdict.TIGHT]) == "2 of 3 pieces ask more than the leather gives."
    assert overall([None, Verdict.TIGHT]) == "Some pieces could not be judged; see the table."


# ---- amounts --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("degrees", "count"), [(0.0, 0), (44.0, 0), (47.0, 1), (134.0, 1), (138.0, 2), (360.0, 4)])
def test_a_seam_goes_round_a_corner_with_every_right_angle_it_turns(degrees, count):
    turn = np.linspace(0.0, np.radians(degrees), 73)
    points = np.cumsum(np.column_stack([np.cos(turn), np.sin(turn)]), axis=0)
    assert corners([points]) == count
    assert corners([points[::-1]]) == count
    assert corners([points * [-1.0, 1.0], np.array([[0.0, 0.0], [9.0, 0.0]])]) == count
    spun = points @ np.array([[np.cos(2.9), np.sin(2.9)], [-np.sin(2.9), np.cos(2.9)]])
    assert corners([spun]) == count
    assert corners([]) == 0


def test_areas_are_counted_as_often_as_pieces_are_cut():
    piece = replace(boxed_cushion(100.0, 50.0, 0.0), order=CutOrder(2, 1))
    assert all_area_mm2(piece) == pytest.approx(3 * 5000.0)
    assert gross_area(7.0, 0.7) == pytest.approx(10.0)
    assert gross_area(7.0, 1.0) == 7.0
    for share in (0.0, -0.1, 1.01):
        with pytest.raises(ValueError, match="between 0 and 1"):
            gross_area(7.0, share)
    assert amounts.YIELDS == (0.7, 0.5)
    assert Lot(None, 5.0, 2.0, 1.0).all_mm2 == 8.0


def job_of(pieces_cut=(), others=(), **more):
    card = SimpleNamespace(name="calf", thickness_mm=1.2)
    main = SimpleNamespace(card=card, roll=None)
    coverings = SimpleNamespace(all=(main,), main=main, of_welt=main, card=lambda name: card)
    sheet = SimpleNamespace(unit="mm", name="bench", revision="c0ffee")
    job = SimpleNamespace(
        fitting=None,
        rolled_mm={},
        problems=(),
        pieces=pieces_cut,
        others=others,
        coverings=coverings,
        seams=(),
        tapes=NO_TAPES,
        pads=(),
        sheet=sheet,
        leather=card,
    )
    for name, value in more.items():
        setattr(job, name, value)
    return job


def test_lots_hold_what_is_cut_from_each_covering():
    calf = SimpleNamespace(card=SimpleNamespace(name="calf"), roll=None)
    vinyl = SimpleNamespace(card=SimpleNamespace(name="vinyl"), roll=SimpleNamespace(width_mm=1370.0, usable_mm=1320.0))
    unused = SimpleNamespace(card=SimpleNamespace(name="unused"), roll=None)
    coverings = SimpleNamespace(all=(calf, vinyl, unused), main=calf, of_welt=calf)
    plain = boxed_cushion(100.0, 50.0, 0.0)
    wide = replace(boxed_cushion(1400.0, 500.0, 0.0), name="back", order=CutOrder(2, leather="vinyl"))
    strip = replace(plain, order=CutOrder(kind=PieceKind.TEST_STRIP))
    cloth = replace(plain, order=CutOrder(material="backing cloth", kind=PieceKind.BACKING))
    foam = replace(plain, order=CutOrder(2, material="wadding", kind=PieceKind.FILLER))
    named = replace(plain, order=CutOrder(leather="calf"))
    job = job_of((plain, wide, named), (strip, cloth, foam, foam), coverings=coverings)
    first, second = amounts.lots(job)
    assert (first.covering, first.pieces_mm2, first.welt_mm2, first.test_mm2) == (calf, 10_000.0, 0.0, 5000.0)
    assert (first.roll_mm, first.wide) == (None, ())
    assert (second.pieces_mm2, second.test_mm2) == (1_400_000.0, 0.0)
    assert second.wide == ("cushion back",)
    assert amounts.net_area_mm2(job) == 1_410_000.0
    assert amounts.leather_area_mm2(job) == 1_415_000.0
    assert amounts.other_areas_mm2(job) == {("backing cloth", False): 5000.0, ("wadding", True): 20_000.0}
    # Strips are laid across the roll besides the pieces.
    narrow = replace(second, welt_mm2=1320.0 * 100.0, test_mm2=1320.0 * 10.0)
    bare = amounts._on_roll(second, [replace(wide, order=CutOrder(1))], vinyl.roll, None)
    more = amounts._on_roll(narrow, [replace(wide, order=CutOrder(1))], vinyl.roll, None)
    assert more.roll_mm - bare.roll_mm == pytest.approx(110.0)
    assert amounts._on_roll(narrow, [wide], vinyl.roll, 870.0).roll_mm == 870.0, "what a layout took counts"


def plan_of(**runs):
    return WeltPlan(runs or {"seat: welt 1": WeltLength(1000.0, 1070.0, 2)}, 40.0, 1200.0)


def test_welt_takes_its_strips_and_one_width_more_at_every_join(monkeypatch):
    monkeypatch.setattr(amounts, "welt", lambda job: plan_of())
    assert amounts.welt_mm(None) == 1000.0
    assert amounts.welt_area_mm2(None) == pytest.approx((1070.0 + 40.0) * 40.0)
    monkeypatch.setattr(amounts, "welt", lambda job: None)
    assert amounts.welt_mm(None) == amounts.welt_area_mm2(None) == 0.0


def test_what_to_buy_of_a_hide_and_of_a_roll(monkeypatch):
    monkeypatch.setattr(buying, "welt", lambda job: plan_of())
    hide = Lot(SimpleNamespace(card=SimpleNamespace(name="calf"), roll=None), 2e6, 1e6, 0.5e6)
    rows = cells(buying._lot(None, hide))
    assert rows[0] == ["calf", "m²", "sq ft"]
    assert rows[1:] == [
        ["pieces up to the cut lines", "2.00", f"{2e6 / SQUARE_FOOT:.1f}"],
        ["strips for 1000 mm of welt", "1.00", f"{1e6 / SQUARE_FOOT:.1f}"],
        ["test strips of pleats", "0.50", f"{0.5e6 / SQUARE_FOOT:.1f}"],
        ["to buy when 70 % of the hide is used", "5.00", f"{5e6 / SQUARE_FOOT:.1f}"],
        ["to buy when 50 % of the hide is used", "7.00", f"{7e6 / SQUARE_FOOT:.1f}"],
    ]
    roll = SimpleNamespace(width_mm=1370.0, usable_mm=1320.0)
    lot = Lot(SimpleNamespace(card=SimpleNamespace(name="vinyl"), roll=roll), 2e6, 0.0, 0.0, 1500.0, ("seat back",))
    rows = cells(buying._lot(None, lot))
    assert [row[0] for row in rows[1:]] == [
        "pieces up to the cut lines",
        "to buy: 1.50 m of roll 1370 mm wide; part what is wider: seat back",
    ]
    assert rows[2][1:] == [f"{1.5 * 1.37:.2f}", f"{1500 * 1370 / SQUARE_FOOT:.1f}"]
    monkeypatch.setattr(buying, "welt", lambda job: None)
    assert len(cells(buying._lot(None, hide))) == 5
    assert "Leather" in text(buying._lot(None, hide))
    assert "Roll goods" in text(buying._lot(None, lot))


def test_every_run_of_welt_has_a_row(monkeypatch):
    plan = plan_of(**{"seat: welt 1": WeltLength(1000.4, 1070.0, 2), "seat: welt 2": WeltLength(500.0, 550.0, 1)})
    runs = {
        "seat: welt 1": ("seat", WeltRun(("front", "right"), True, 1)),
        "seat: welt 2": ("seat", WeltRun(("rear",), False, 0)),
    }
    for module in (buying, cut_list):
        monkeypatch.setattr(module, "welt", lambda job: plan)
        monkeypatch.setattr(module, "runs_of_welt", lambda job: runs)
    rows = cells(buying._welt(job_of()))
    assert rows[0] == ["run", "along", "as sewn mm", "to cut mm", "strips of 1.2 m", "bias joins"]
    assert rows[1:] == [
        ["seat: welt 1", "front, right", "1000.4", "1070.0", "2", "1"],
        ["seat: welt 2", "rear", "500.0", "550.0", "1", "none"],
    ]
    assert "cord of 4 mm as long as to cut, in strips 40 mm wide" in text(buying._welt(job_of()))
    one, two = cut_list._welt(job_of())
    assert (one["kind"], one["name"], one["pad"], one["length_mm"], one["material"]) == (
        "welt", "seat: welt 1", "seat", "1070", "calf",
    )  # fmt: skip
    assert one["note"] == (
        "1000.4 mm as sewn, with corners and ends 1070 mm; 2 strips, 1 bias join; "
        "goes all round: join it at the rear, 50 mm off any corner; along front, right"
    )
    assert "; 1 strip without a join; has two ends; along rear" in two["note"]
    assert {(row["count"], row["mirrored"]) for row in (one, two)} == {("1", "0")}
    assert cut_list._joins(2) == "2 bias joins"
    for module in (buying, cut_list):
        monkeypatch.setattr(module, "welt", lambda job: None)
    assert buying._welt(job_of()) == ""
    assert list(cut_list._welt(job_of())) == []


def test_rows_of_the_list_for_what_is_bought(monkeypatch):
    monkeypatch.setattr(cut_list, "welt", lambda job: plan_of(**{"seat: welt 1": WeltLength(1380.0, 1470.0, 2)}))
    hide = Lot(SimpleNamespace(card=SimpleNamespace(name="calf"), roll=None), 2e6, 1e6, 0.5e6)
    rows = list(cut_list._lot(job_of(), hide))
    assert [row["name"] for row in rows] == [
        "pieces, net", "welt strips, net", "test strips, net", "to buy at 70 % yield", "to buy at 50 % yield",
    ]  # fmt: skip
    assert [row["area_m2"] for row in rows] == ["2", "1", "0.5", "5", "7"]
    assert rows[0]["note"] == f"{2e6 / SQUARE_FOOT:.1f} sq ft; up to the cut lines"
    assert rows[1]["note"].endswith("1470 mm of strip, 40 mm wide, for cord of 4 mm: 2 strips: 1 of 1200 mm, 1 of "
                                    "310 mm, 1 bias join; with corners and ends")  # fmt: skip
    assert rows[3]["note"].endswith("pieces, welt strips, test strips; usual for many small pieces")
    assert rows[4]["note"].endswith("usual for large seamless pieces")
    roll = SimpleNamespace(width_mm=1370.0, usable_mm=1320.0)
    lot = Lot(SimpleNamespace(card=SimpleNamespace(name="vinyl"), roll=roll), 2e6, 0.0, 0.0, 1500.0, ("seat back",))
    net, buy = cut_list._lot(job_of(), lot)
    assert (buy["name"], buy["length_mm"], buy["area_m2"]) == ("to buy by the metre", "1500", "2.055")
    assert buy["note"].endswith(
        "; pieces; of 1370 mm roll, 1320 usable, pieces upright along it, none turned; "
        "wider than the roll, part them: seat back"
    )
    assert net["material"] == buy["material"] == "vinyl"


def test_rows_of_the_list_for_zips_layers_edges_and_what_is_built_up(monkeypatch):
    zips = {"bolster": SimpleNamespace(zip_mm=400.25), "roll": SimpleNamespace(zip_mm=0.0), "seat": None}
    box = Closed("box", 80.0, "foam_firm", past_corner=130.0, zip_along=("front",))
    own = SimpleNamespace(closed=box, side_word=lambda side: side)
    pads = [
        SimpleNamespace(pad=SimpleNamespace(name=name, **vars(own)), closed=closed) for name, closed in zips.items()
    ]
    (zipped,) = cut_list._zips(job_of(pads=pads))
    assert (zipped["name"], zipped["length_mm"], zipped["count"], zipped["mirrored"]) == (
        "bolster zip",
        "400.2",
        "1",
        "0",
    )
    assert zipped["note"].startswith("along the front, 130 mm past each front corner; between the end seams;")
    facts = SimpleNamespace(layers=[("foam_medium", "face", 20.0, 123_456.0), ("wadding", "all", 9.55, 5e5)])
    one, two = cut_list._layers(SimpleNamespace(facts=facts, pad=SimpleNamespace(name="seat")))
    assert (one["name"], one["area_m2"], one["thickness_mm"], one["material"]) == (
        "layer 1, face", "0.1235", "20", "foam_medium",
    )  # fmt: skip
    assert two["name"] == "layer 2, all"
    up = SimpleNamespace(side="rear", range_mm=lambda: (4.04, 12.36), over=90.4)
    pad = SimpleNamespace(continued=SimpleNamespace(built_up=up), pad=SimpleNamespace(name="back"))
    (row,) = cut_list._built_up(pad)
    assert (row["name"], row["thickness_mm"]) == ("built up along the rear side", "12.4")
    assert "4 to 12.4 mm at the edge, run out over 90 mm" in row["note"]
    assert list(cut_list._built_up(SimpleNamespace(continued=None))) == []
    edges = [
        EdgeLength("seat", "front", "sewn", 100.0, 100.06, 104.0),
        EdgeLength("seat", "rear", "sewn", 50.0, 50.04, 50.0),
        EdgeLength("seat", "tack line", "pulled", 30.0, 30.0, 31.0),
    ]
    assert edges[0].shorter == pytest.approx(4.0 / 104.0)
    monkeypatch.setattr(cut_list, "edge_lengths", lambda job: edges)
    rows = list(cut_list._edges(job_of()))
    assert [(row["name"], row["length_mm"]) for row in rows] == [
        ("front", "100"), ("rear", "50"), ("tack line", "30"), ("sewn, in all", "150"), ("pulled, in all", "30"),
    ]  # fmt: skip
    assert rows[0]["note"] == (
        "sewn; 104 mm on the seat, where the pull stretches it; 100.1 mm on the pleated piece until "
        "its pleats are stitched"
    )
    assert "pleated" not in rows[1]["note"]


def test_rows_of_the_list_for_pieces_and_stock(monkeypatch):
    piece = replace(boxed_cushion(100.0, 50.0, 1.0), order=CutOrder(1, 1))
    row = cut_list._piece(job_of(), piece)
    assert (row["count"], row["mirrored"], row["width_mm"], row["height_mm"]) == ("2", "1", "102", "52")
    assert row["area_m2"] == "0.0106"
    assert (row["material"], row["thickness_mm"]) == ("calf", "1.2")
    assert row["note"] == "cut 2, one mirrored; ease the rear corners"
    cloth = cut_list._piece(job_of(), replace(piece, order=CutOrder(material="wadding", kind=PieceKind.FILLER)))
    assert "thickness_mm" not in cloth
    assert (cloth["material"], cloth["kind"]) == ("wadding", "filler")
    assert cut_list._piece(job_of(), replace(piece, order=CutOrder(leather="vinyl")))["material"] == "vinyl"
    totals = [SimpleNamespace(material="foam", stock_sheets=1, cut_mm2=1.5e6, shapes=3, sheet_mm=40.0),
              SimpleNamespace(material="wadding", stock_sheets=2, cut_mm2=2e6, shapes=1, sheet_mm=None)]  # fmt: skip
    monkeypatch.setattr(cut_list, "totals", lambda plans: totals)
    one, two = cut_list._stock(SimpleNamespace(plans=()))
    assert (one["count"], one["area_m2"], one["thickness_mm"]) == ("1", "1.5", "40")
    assert one["note"].startswith("3 shapes; their boxes fit on 1 sheet of ")
    assert two["note"].startswith("1 shape; their boxes fit on 2 sheets of")
    assert "thickness_mm" not in two
    inch = job_of()
    inch.sheet.unit = "in"
    marked = cut_list._marked({"name": "strip 25.4 mm", "width_mm": "50.8", "height_mm": "", "note": "n"}, inch)
    assert (marked["name"], marked["job"], marked["revision"]) == ("strip 1 in (25.4 mm)", "bench", "c0ffee")
    assert marked["width_in"] == "2 in"
    assert "height_in" not in marked


# ---- the page -------------------------------------------------------------------------------------------------------


def test_stretches_are_told_from_the_least_on():
    even = SimpleNamespace(stretch=np.array([[1.03, 1.01]]), demand=0.0198, budget=0.05)
    assert pieces.stretched_words(even) == (
        "1.0 to 3.0\u00a0%: the least, and 2.0\u00a0% from there on; may reach 6.0\u00a0% where the "
        "leather is asked most"
    )
    full = SimpleNamespace(stretch=np.array([[1.03, 0.98]]), demand=0.051, budget=0.05)
    assert (
        pieces.stretched_words(full)
        == "from fullness of 2.0\u00a0% to 3.0\u00a0%: the least, and 5.1\u00a0% from there on"
    )
    unknown = SimpleNamespace(stretch=np.array([[1.03, 1.0]]), demand=0.03, budget=None)
    assert pieces.stretched_words(unknown) == "0.0 to 3.0\u00a0%: the least, and 3.0\u00a0% from there on"
    assert pieces._use_fact(SimpleNamespace(use=np.array([0.25, 1.5]))) == [
        ("use of what it gives", "150 % at the most, 25 % at the least")
    ]
    assert pieces._use_fact(SimpleNamespace(use=None)) == []
    words = pieces._demand_words(SimpleNamespace(demand=0.031, budget=0.05))
    assert words.startswith("3.1\u00a0% between its least")
    assert words.endswith("gives this piece 5.0\u00a0% between them")


def test_facts_of_a_piece_tell_what_is_not_as_usual(monkeypatch):
    monkeypatch.setattr(pieces, "straight_words", lambda pads, piece, flat: "")
    piece = boxed_cushion(100.0, 50.0, 1.0)
    flat = SimpleNamespace(
        stretch=np.array([[1.03, 1.01]]), demand=0.02, budget=0.05, over=None, use=None, certified=True,
        figures=SimpleNamespace(p995=1.024), made=SimpleNamespace(method=Method.LEAST_DEMAND),
    )  # fmt: skip
    monkeypatch.setattr(pieces, "extremes", lambda piece, flat: [])

    def told(found):
        markup = pieces._facts(job_of(flats={"face": found}), piece)
        tree = html.fromstring(f"<div>{markup}</div>")
        terms, words = ([one.text_content() for one in tree.iter(tag)] for tag in ("dt", "dd"))
        return dict(zip(terms, words, strict=True))

    usual = told(flat)
    assert list(usual) == ["how many", "size", "must stretch", "stretched on the seat", "nearly everywhere"]
    assert usual["size"] == "102 × 52 mm up to the cut line, 0.005 m²"
    assert usual["nearly everywhere"] == "99.5 % of the area is stretched 2.4\u00a0% or less"
    odd = SimpleNamespace(**{**vars(flat), "certified": False, "figures": SimpleNamespace(p995=0.99)})
    odd.made = SimpleNamespace(method=next(m for m in Method if m != Method.LEAST_DEMAND))
    odd = told(odd)
    assert odd["not proven"] == "this map may fold: do not cut this piece"
    assert odd["worked out by"].endswith("; the usual way did not do for this shape, so look at it twice")
    assert odd["nearly everywhere"] == "99.5 % of the area is stretched 0.0\u00a0% or less"


def test_an_edge_is_sewn_to_the_other_piece_of_its_seam():
    piece = SimpleNamespace(panels=("face", "left face"))
    partners = {"s": ("face", "band"), "t": ("band", "face"), "u": ("left band", "left face")}
    for seam, other in (("s", "band"), ("t", "band"), ("u", "left band")):
        edge = Edge("e", EdgeKind.WELTED, np.zeros((2, 2)), 12.0, seam)
        assert pieces._sewn_to(edge, piece, partners) == f"sewn with welt to {other}"
    assert pieces._sewn_to(Edge("e", EdgeKind.SEWN, np.zeros((2, 2)), 12.0, "x"), piece, partners) == "sewn"
    assert (
        pieces._sewn_to(Edge("e", EdgeKind.PULLED, np.zeros((2, 2)), 12.0), piece, partners) == "pulled down and fixed"
    )
    assert pieces.EDGE_WORDS.keys() == set(EdgeKind)
    short = replace(edge, points=np.array([[0, 0], [3.0, 4.0]]))
    (_, row) = cells(pieces._edges(SimpleNamespace(edges=[short], panels=("face",)), job_of()))
    assert row == ["1: e", "sewn with welt", "5.0", "12"]


def seam_of(**more):
    given = {"name": "front", "a": "face", "b": "band", "welt": False, "length_a_mm": 100.0, "length_b_mm": 100.0,
             "seat_mm": 103.0, "mismatch_mm": 0.0, "sews": True, **more}  # fmt: skip
    return SimpleNamespace(**given)


def test_seams_tell_the_longer_side_from_half_a_tenth_on(monkeypatch):
    monkeypatch.setattr(page, "shorter_words", lambda job: "")
    seams = [
        seam_of(mismatch_mm=0.04),
        seam_of(mismatch_mm=0.06, welt=True),
        seam_of(mismatch_mm=-2.0, sews=False),
    ]
    rows = cells(page._seams(job_of(seams=seams, makes={})))
    assert rows[1] == ["front", "100.0", "100.0", "103.0", "equal", "sews"]
    assert rows[2][0] == "front (welt)"
    assert [row[4] for row in rows[2:]] == ["0.1 mm: band", "2.0 mm: face"]
    assert rows[3][5] == "✗ ease in or part"
    words = text(page._seams(job_of(seams=seams, makes={})))
    assert "no more than 1.5 mm in all and 0.5 mm over any 30 mm of it" in words
    assert text(page._seams(job_of(makes={}))) == "No seams: every pad is covered in one piece."


def test_problems_of_seams_are_counted_and_others_listed():
    problems = (Problem("F301", "a", "x"), Problem("G101", "seat", "too deep", line=7), Problem("G102", "back", "odd"))
    rows = cells(page._problems(problems))
    assert rows[1:] == [["G101", "seat (line 7 of the sheet)", "too deep"], ["G102", "back", "odd"]]
    assert "1" in text(page._problems(problems[:1]))
    assert page._origin("M: habit of the shop") == "habit of the shop"
    assert page._origin("Made up") == "Made up"
    assert page._origin("X: not graded") == "X: not graded"
    assert page._and(["a"]) == "a"
    assert page._and(["a", "b", "c"]) == "a, b and c"


def test_the_verdict_counts_seams_and_pieces_that_are_wrong(monkeypatch):
    monkeypatch.setattr(page, "verdict_table", lambda job: "")
    flats = {"one": SimpleNamespace(verdict=Verdict.FITS, certified=True),
             "two": SimpleNamespace(verdict=Verdict.FITS, certified=False)}  # fmt: skip
    cut = [SimpleNamespace(panels=("one",)), SimpleNamespace(panels=("two",))]
    words = text(page._verdict(job_of(cut, flats=flats, seams=[seam_of(sews=False), seam_of()])))
    assert "All 2 pieces fit the leather. 1 of 2 pieces may fold as drawn: do not cut them." in words
    assert "1 of 2 seams differ by more than a hand eases in." in words
    words = text(page._verdict(job_of(cut[:1], flats=flats, seams=[seam_of()])))
    assert "may fold" not in words
    assert "seams" not in words


def test_padding_rows_tell_size_area_and_how():
    edges = edges_of([(0, 0), (300, 0), (300, 200), (0, 200)], [15.0, 0.0, 7.5, 0.0], kinds=[
        EdgeKind.OVERSIZE, EdgeKind.BARE, EdgeKind.OVERSIZE, EdgeKind.MITRED])  # fmt: skip
    bevels = tuple(InnerLine(name, np.zeros((2, 2)), LineKind.BEVEL) for name in ("bevel to 5 mm", "bevel to 5 mm"))
    shape = replace(
        boxed_cushion(), edges=edges, outline=CutLine(np.array([[0, 0], [300.4, 0], [300.4, 222.5], [0, 222.5]])),
        inner=bevels, notes=("glue it",), order=CutOrder(2, material="foam_medium", kind=PieceKind.PADDING),
    )  # fmt: skip
    assert _row(shape) == [
        "face", "foam medium", "cut 2", "300.4 × 222.5", "0.067",
        "glue it; cut 7.5 mm larger where it ends square; cut 15 mm larger where it ends square; bevel to 5 mm",
    ]  # fmt: skip
    assert list(_oversizes(boxed_cushion())) == []
    assert list(_bevels(boxed_cushion())) == []


def test_ends_and_lines_of_pleats_are_told():
    end = PleatEnd("seat", "face", "front band", 4, 460.0, 12.0, 8.0, 440.0)
    rows = cells(pleats._ends([end, replace(end, seam_mm=None), replace(end, seam_mm=430.0)], "mm"))
    assert rows[1] == ["seat face, front band", "460.0", "12.0", "8.0", "440.0", "440.0", "meets"]
    assert rows[2][5:] == ["–", "not sewn"]
    assert rows[3][6] == "off by 10.0 mm"
    assert pleats._ends([], "mm") == ""
    offset = SimpleNamespace(valley="valley 1", a="seat", b="back", offset_mm=-0.126)
    assert cells(pleats._lines([offset], "mm"))[1] == ["valley 1", "seat", "back", "-0.13"]
    assert pleats._lines([], "mm") == ""
    fillings = [SimpleNamespace(take_up_measured=measured) for measured in (246.0, None)]
    measured = [SimpleNamespace(pad=SimpleNamespace(pleats=SimpleNamespace(filling=one))) for one in fillings]
    assert pleats._first(measured[:1]).startswith("Take-up is put right")
    assert "a start only" in pleats._first(measured)


def test_how_a_pad_rests_is_told_in_figures(monkeypatch):
    monkeypatch.setattr(settled, "settled_words", lambda pad, tension: "80 N/m")
    rest = SimpleNamespace(height_change_mm=(-6.25, 2.0), foam_compression_max=0.31, padding_compression_max=0.4,
                           spring_deflection_mm=3.14, foam_layers=(True, False))  # fmt: skip
    pad = SimpleNamespace(rest=rest, sections=(), pad=SimpleNamespace(springs=object()))
    words = text(settled.sections_part(pad, None))
    assert words == (
        "Reckoned with a pull of 80 N/m the cover rests up to 6.2 mm below the free padding and up to 2 mm above it "
        "over hollows; "
        "foam is crushed by 31 % at most, padding of any kind is pressed together by 40 %, springs go down by 3.1 mm "
        "at most."
    )
    # Nothing is said of what is not there.
    rest.foam_layers, pad.pad.springs = (False,), None
    assert "foam" not in text(settled.sections_part(pad, None))
    assert "springs" not in text(settled.sections_part(pad, None))
    rest.height_change_mm = (-6.25, 0.0)
    assert "above" not in text(settled.sections_part(pad, None))
    assert text(settled.sections_part(SimpleNamespace(rest=None), None)).startswith("Free padding")
    cut = SimpleNamespace(
        name="along 0", proposal=SimpleNamespace(text="add 5 mm"), ridge_radius_bare_mm=12.4, ridge_radius_mm=99_999.0,
        ridge=SimpleNamespace(side="front", hard_line_deg=3.14),
    )  # fmt: skip
    row = settled._row(cut)
    assert row[:3] == ["along 0 mm", "front", "12"]
    assert row[3].startswith("over ")
    assert row[4:] == ["3.1", "add 5 mm"]
    cut.proposal = None
    assert settled._row(cut)[5] == ""


def test_what_is_fixed_on_the_seat_is_told_with_its_lengths(monkeypatch):
    edges = [
        EdgeLength("seat", "seat tack line", "pulled", 100.0, 100.0, 104.0),
        EdgeLength("seat", "rear", "closed", 50.0, 50.0, 50.5),
        EdgeLength("seat", "front", "sewn", 30.0, 30.0, 33.0),
        EdgeLength("seat", "side", "blind", 20.0, 20.0, 21.0),
    ]
    monkeypatch.setattr(fitting, "edge_lengths", lambda job: edges)
    monkeypatch.setattr(fitting, "_pull_words", lambda job: "pull")
    rows = cells(fitting.fitting_section(job_of()))
    assert rows[1:] == [
        ["seat: tack line", "pulled and fixed", "100.0", "104.0", "4.0"],
        ["seat: rear", "closed by hand", "50.0", "50.5", "0.5"],
        ["seat: side", "blind-tacked", "20.0", "21.0", "1.0"],
    ]
    assert fitting.shorter_words(None).startswith("Edges are cut 1.0 to 9.1 % shorter")
    monkeypatch.setattr(fitting, "edge_lengths", lambda job: edges[2:3])
    assert text(fitting.fitting_section(job_of())).startswith("Start at the centre marks")
    monkeypatch.setattr(fitting, "edge_lengths", lambda job: [])
    assert fitting.shorter_words(None) == ""


def test_the_pull_is_told_per_metre_and_in_kilograms(monkeypatch):
    pulls = {"one": 0.0981, "two": 0.1962}
    monkeypatch.setattr(fitting, "pulls_told", lambda pads, flats, coverings: pulls)
    cut = [SimpleNamespace(panels=(name,)) for name in pulls]
    job = job_of(cut, panels={name: name for name in pulls}, flats=dict.fromkeys(pulls))
    assert fitting._pull_words(job).startswith(
        "Pulled down to its marks the cover carries 98 to 196 N per metre of width, 1.0 to 2.0 kg on every 100 mm."
    )


# ---- tables ---------------------------------------------------------------------------------------------------------


def test_columns_in_mm_are_on_the_tape_of_an_inch_shop():
    head = ["name", "length mm|", "moves per mm of a reading|", "area m²|", "size mm"]
    body = [["a", "25.4", "0.5", "0.0929", ""], ["b", "–", "1", "1", "50.8"]]
    rows = cells(table(head, body, caption="c", unit="in"))
    assert rows[0] == ["name", "length", "moves per mm of a reading", "area", "size"]
    assert rows[1] == ["a", "1 in (25.4 mm)", "0.5", "1.00 sq ft (0.0929 m²)", ""]
    assert rows[2][:3] == ["b", "–", "1"]
    assert rows[2][4] == "2 in (50.8 mm)"
    assert cells(table(head, body))[1] == body[0]
    every = cells(table(["name", "cut|", "words"], [["a", "25.4", "25.4"]], caption="Widths; mm", unit="in"))
    assert every[1] == ["a", "1 in (25.4 mm)", "25.4"]
    assert "; mm" not in text(table(["name", "cut|"], [["a", "1"]], caption="Widths; mm", unit="in"))
    both = cells(table(["leather", "m²|", "sq ft|"], [["calf", "1.00", "10.8"]], unit="in"))
    assert both == [["leather", "m²", "sq ft"], ["calf", "1.00", "10.8"]]
    only = cells(table(["leather", "m²|"], [["calf", "1.00"]], unit="in"))
    assert only[0] == ["leather", "area"]


def test_numbers_and_addresses():
    assert [percent(x) for x in (None, 0.0314, 1.0)] == ["–", "3.1\u00a0%", "100.0\u00a0%"]
    assert percent(0.0314, 0) == "3\u00a0%"
    assert [fixed(x) for x in (-0.04, 0.06, 2.0)] == ["0.0", "0.1", "2.0"]
    assert fixed(1.23456, 3) == "1.235"
    assert data_uri(b"abc") == "data:image/png;base64,YWJj"
    assert data_uri(b"abc", "image/webp").startswith("data:image/webp;")


def test_pictures_are_shown_by_their_kind_and_others_left_out(tmp_path):
    for name in ("a.PNG", "b.jpg", "c.webp", "d.gif"):
        (tmp_path / name).write_bytes(b"x")
    given = {f"seat_{p.stem}-front": p for p in sorted(tmp_path.iterdir())} | {"lost": tmp_path / "lost.png"}
    found = str(page._pictures(given))
    assert found.count("data:image/") == 3
    assert "seat a front" in found
    for media in ("png", "jpeg", "webp"):
        assert f"data:image/{media};" in found
    assert page._pictures({"lost": tmp_path / "lost.png"}) == ""


def test_a_whole_page_of_a_sample_has_its_parts_in_the_order_of_the_work():
    tree = html.fromstring(page.report_html(sample_job(), {}))
    keys = [one.get("id") for one in tree.iter("section") if one.get("id")]
    order = ["verdict", "buy", "pads", "cautions", "pieces", "pleats", "seams", "fit", "problems", "leather", "words"]
    assert [key for key in keys if key in order] == [key for key in order if key in keys]
    assert {"verdict", "buy", "pads", "cautions", "pieces", "seams", "fit", "leather", "words"} <= set(keys)


def test_pieces_without_leather_stand_beside_the_verdict():
    def of(*codes):
        return [Problem(code, "", "") for code in codes]

    assert no_room_words(of("H008", "F301")) == ""
    assert no_room_words(of("H003")) == "1 piece has no leather yet: no room on the hides given, see H003."
    words = "3 pieces have no leather yet: no room on the hides given, see H003 or H005."
    assert no_room_words(of("H003", "H008", "H005", "H003")) == words
