"""Pieces of a job on the hides of its sheet, held against the exact outlines."""

import io
import json
import re
from collections import Counter
from dataclasses import replace

import ezdxf
import numpy as np
import pytest
from pypdf import PdfReader
from shapely.geometry import LineString, Polygon, box

import flatten
from flatten.coverings.assigned import FLY_CARD
from flatten.coverings.covering import Covering, Coverings
from flatten.draw.drawing import DrawnLine, DrawnText, text_width
from flatten.draw.imprint import imprint_of
from flatten.hides.asks import CutAsk, LeatherCut, asks_of, leather_cuts
from flatten.hides.by_leather import across_words
from flatten.hides.figures import hide_uses, layout_data, line_ends, whole_share
from flatten.hides.full_size import hide_dxf
from flatten.hides.laid import lay_hides
from flatten.hides.laid_cut import LaidCut
from flatten.hides.like_leather import neighbour_notes
from flatten.hides.plan import HARD, MILD, MOST_HIGH_PX, HidePlanDrawing, hide_plan_drawing, on_tape
from flatten.hides.plan_pdf import ROWS_A_PAGE, hide_plan_pdf
from flatten.hides.words import hides_section, laid_text
from flatten.leather.card import card_named
from flatten.pieces.turned_over import flesh_side_up
from flatten.report.amounts import leather_area_mm2
from flatten.written import job_folder
from flatten.written.hide_files import hide_files, stale_report
from flatten.written.writers import HIDE, MAKE
from meshes.base.problems import ProblemError
from meshes.base.units import inches
from meshes.folder.output import output_folder
from meshes.hides.records import NEIGHBOURS_APART_MM, PAIR_APART_MM, Flaw, Hide
from meshes.records.coverings import RollGoods
from meshes.sheet.read import read_sheet
from tests.pads import FLAT

SEAT = FLAT.replace("band = true\nseam_below = 5", "band = true\nwelt = true\nseam_below = 5").replace(
    'name = "test"', 'name = "test"\n[output]\nmesh = 30\n'
)
RED = """
[[hide]]
name = "red"
outline = [[3000, 200], [3900, 150], [4350, 600], [4300, 1500], [3800, 1800], [3100, 1750], [2900, 1000]]
backbone = [[3600, 150], [3620, 1800]]
[[hide.flaw]]
kind = "brand"
grade = "unusable"
at = [3400, 700]
radius = 60
[[hide.flaw]]
kind = "vein"
grade = "mark"
points = [[3050, 400], [4100, 420], [4100, 430], [3050, 410]]
"""


def with_hides(job, tmp_path, text):
    """The job with other hides in its sheet; its pieces stay."""
    sheet = tmp_path / "sheet.toml"
    sheet.write_text(SEAT + text)
    return replace(job, sheet=read_sheet(sheet))


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    sheet = tmp_path_factory.mktemp("hides") / "sheet.toml"
    sheet.write_text(SEAT + RED)
    return flatten.make(sheet)


@pytest.fixture(scope="module")
def laid(job):
    return lay_hides(job, rounds=1)


def test_everything_on_the_cut_list_lies_exactly_once(job, laid):
    assert not laid.unplaced
    wanted = Counter((cut.name, cut.number) for cut in leather_cuts(job))
    assert Counter((one.cut.name, one.cut.number) for one in laid.cuts) == wanted
    assert max(wanted.values()) == 1
    pieces = sum(piece.cut_count + piece.mirrored_count for piece in job.pieces)
    assert sum(one.cut.piece is not None for one in laid.cuts) == pieces
    area = sum(Polygon(one.points).area for one in laid.cuts)
    joins = leather_area_mm2(job)
    assert area == pytest.approx(joins, rel=1e-6)


def test_margins_flaws_and_gap_hold_on_the_exact_outlines(laid):
    data = layout_data(laid)
    (hide,) = data["hides"]
    shapes = [Polygon(piece["polygon"]) for piece in hide["pieces"]]
    assert min(a.distance(b) for k, a in enumerate(shapes) for b in shapes[:k]) >= 3.0 - 2e-3
    rim = Polygon(hide["outline"])
    assert min(rim.exterior.distance(shape) for shape in shapes) >= 15.0 - 2e-3
    assert all(rim.covers(shape) for shape in shapes)
    hard = [Polygon(flaw["polygon"]) for flaw in hide["flaws"] if flaw["grade"] == "unusable"]
    assert min(flaw.distance(shape) for flaw in hard for shape in shapes) >= 5.0 - 2e-3


def test_pieces_are_turned_along_the_backbone_and_never_mirrored(job, laid):
    data = layout_data(laid)
    by_name = {(one.cut.name, one.cut.number): one for one in laid.cuts}
    for piece in data["hides"][0]["pieces"]:
        one = by_name[piece["name"], piece["copy"]]
        turn = np.radians(piece["turn_deg"])
        spin = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
        there = one.cut.points @ spin
        moved = np.array(piece["polygon"]) - there
        assert np.ptp(moved, axis=0) == pytest.approx([0.0, 0.0], abs=1e-2)
        if one.ask.turn_deg == 0.0:
            arrow = np.array([0.0, 1.0]) @ spin
            along = job.sheet.hides.hides[0].backbone
            spine = (along[1] - along[0]) / np.linalg.norm(along[1] - along[0])
            assert abs(arrow @ spine) == pytest.approx(1.0, abs=1e-6)


def test_an_arrow_off_the_backbone_is_told_with_its_side_as_the_hide_lies(laid):
    turned = tuple(replace(laid.cuts[0], turn_deg=turn) for turn in (30.0, 270.0, 180.0, 0.0))
    told = replace(laid, cuts=turned)

    def arrows(*, flesh_up):
        words = [one.text for one in hide_plan_drawing(told, 0, flesh_up=flesh_up).items if isinstance(one, DrawnText)]
        return [text for text in words if "°" in text or text.startswith("to the ")]

    assert arrows(flesh_up=False) == ["30° L", "90° R", "to the tail", "to the neck"]
    assert arrows(flesh_up=True) == ["30° R", "90° L", "to the tail", "to the neck"]


def test_a_short_wide_strip_is_drawn_no_higher_than_a_hide(laid):
    strip = Hide("strip", np.array([[0, 0], [100, 0], [100, 1400], [0, 1400]]), np.array([[0, 0], [100, 0]]), {})
    drawn = HidePlanDrawing(replace(laid, plan=replace(laid.plan, hides=(strip,))), 0, flesh_up=False, unit="mm")
    assert drawn.map_px == pytest.approx(MOST_HIGH_PX)
    ends = drawn.px(np.array([[0.0, 0.0], [100.0, 1400.0]]))
    assert ends[0, 1] - ends[1, 1] == pytest.approx(14.0 * (ends[1, 0] - ends[0, 0]))


def test_centre_lines_end_on_the_cut_line(laid):
    for one in laid.cuts:
        rim = Polygon(one.points).exterior
        from shapely.geometry import Point

        assert max(rim.distance(Point(end)) for end in line_ends(one)) < 1.0


def test_yield_zones_and_words_agree(laid):
    (use,) = hide_uses(laid)
    assert sum(use.zones_mm2.values()) == pytest.approx(use.pieces_mm2, rel=2e-3)
    assert whole_share(laid) == pytest.approx(use.share)
    assert use.share < use.share_without_remainder < 1.0
    assert f"{100 * use.share:.1f} % in pieces" in laid_text(laid, unit="mm")
    # a piece on a mark is told
    assert "H007" in {problem.code for problem in laid.problems}


def test_pairs_come_from_mirrored_places_and_are_told_where_they_are_kept_from_it(job, laid, tmp_path):
    bands = {one.cut.name: one for one in laid.cuts if "band" in one.cut.name}
    here, there = (
        0.5 * (b.points.min(axis=0) + b.points.max(axis=0))
        for b in (bands["cushion right band"], bands["cushion left band"])
    )
    assert np.hypot(*(here - there * [1.0, -1.0])) < PAIR_APART_MM
    assert "H010" not in {problem.code for problem in laid.problems}
    text = PIN.format(3900, 1400).replace("face", "right band") + PIN.format(3300, 500).replace("face", "left band")
    kept = lay_hides(with_hides(job, tmp_path, RED + text), rounds=0)
    (told,) = [problem for problem in kept.problems if problem.code == "H010"]
    assert told.where == "cushion left band"
    assert "cushion right band" in told.text
    # The shop says from where on it is told.
    wide = lay_hides(with_hides(job, tmp_path, RED + text + "[cutting]\npair_apart = 2000\n"), rounds=0)
    assert "H010" not in {problem.code for problem in wide.problems}


def test_a_face_off_the_backbone_is_told(job, tmp_path):
    text = PIN.format(3900, 1200).replace("turn = 0", "turn = 30")
    laid = lay_hides(with_hides(job, tmp_path, RED + text), rounds=0)
    (told,) = [problem for problem in laid.problems if problem.code == "H009"]
    assert told.where == "cushion face"
    assert "30 degrees" in told.text


def test_what_pieces_ask_follows_from_how_they_are_seen(job):
    cuts = leather_cuts(job)
    asks = dict(zip((cut.name for cut in cuts), asks_of(job, cuts, ()), strict=True))
    assert asks["cushion face"].seen == "face"
    assert asks["cushion front band"].seen == "band"
    assert asks["cushion right band"].seen == "side"
    assert "belly" not in asks["cushion face"].zones
    assert asks["cushion face"].turns_deg == (0.0, 180.0)
    assert CutAsk("hidden", (), 180.0, "").turns_deg[:3] == (0.0, 30.0, 60.0)
    assert CutAsk("face", (), 7.0, "").turns_deg == (0.0, 5.0, 355.0, 7.0, 353.0, 180.0, 185.0, 175.0, 187.0, 173.0)


def test_seen_from_the_flesh_side_the_layout_is_the_same(job, laid):
    over = replace(job, pieces=tuple(flesh_side_up(piece) for piece in job.pieces))
    again = lay_hides(over, rounds=1)
    for one, other in zip(laid.cuts, again.cuts, strict=True):
        assert one.points == pytest.approx(other.points)


PIN = '[[hide.pin]]\npiece = "cushion face"\nat = [{}, {}]\nturn = 0\n'


def test_a_pinned_piece_stays_and_the_others_keep_off(job, tmp_path):
    pinned = lay_hides(with_hides(job, tmp_path, RED + PIN.format(3900, 1200)), rounds=0)
    (face,) = [one for one in pinned.cuts if one.pinned]
    hide = pinned.plan.hides[0]
    box = hide.from_backbone(np.array([0.5 * (face.points.min(axis=0) + face.points.max(axis=0))]))[0]
    assert box == pytest.approx([3900.0, 1200.0])
    shape = Polygon(face.points)
    assert min(shape.distance(Polygon(one.points)) for one in pinned.cuts if one is not face) >= 3.0 - 1e-6


@pytest.mark.parametrize(
    ("text", "code"),
    [
        (PIN.format(3400, 700), "H001"),
        (PIN.format(4300, 1500), "H002"),
        (PIN.format(3900, 1200) + PIN.format(3890, 1210).replace("face", "front band"), "H004"),
        (PIN.format(3900, 1200).replace("face", "lid"), "H006"),
        ('[[placing]]\npieces = ["cushion lid"]\nzones = ["butt"]\n', "H006"),
    ],
)
def test_what_cannot_be_done_names_the_piece(job, tmp_path, text, code):
    with pytest.raises(ProblemError) as refused:
        lay_hides(with_hides(job, tmp_path, RED + text), rounds=0)
    (problem,) = refused.value.problems
    assert problem.code == code
    assert "cushion" in problem.text
    assert problem.line


def test_a_hide_too_small_for_a_piece_names_it_and_too_little_leather_is_told(job, tmp_path):
    small = lay_hides(with_hides(job, tmp_path, '[[hide]]\nname = "calf"\narea = 0.3\n'), rounds=0)
    told = [problem.text for problem in small.problems if problem.code == "H003"]
    assert any("cushion face" in text for text in told)
    assert "cushion face" in small.unplaced
    codes = {problem.code for problem in small.problems}
    assert codes & {"H005", "H008"} or len(told) == len(small.unplaced)
    assert len(small.cuts) + len(small.unplaced) == len(leather_cuts(job))


def test_drawings_are_at_full_size_and_reproducible(job, laid):
    files = hide_files(job, laid, flesh_up=False).files
    assert {
        "layout.json",
        "order.csv",
        "hide red.dxf",
        "hide red.svg",
        "hide red plan.png",
        "hide red plan.pdf",
    } <= set(files)
    assert json.loads(files["layout.json"])["unplaced"] == []
    drawing = ezdxf.read(io.StringIO(files["hide red.dxf"].decode("cp1252")))
    cuts = [e for e in drawing.modelspace() if e.dxf.layer == "1 cut"]
    assert len(cuts) == len(laid.cuts)
    areas = sorted(Polygon([(x, y) for x, y, *_ in e.get_points()]).area for e in cuts)
    assert areas == pytest.approx(sorted(Polygon(one.points).area for one in laid.cuts), rel=1e-6)
    (rim,) = [e for e in drawing.modelspace() if e.dxf.layer == "40 rim of the hide"]
    outline = Polygon(laid.plan.hides[0].outline)
    assert Polygon([(x, y) for x, y, *_ in rim.get_points()]).area == pytest.approx(outline.area, rel=1e-9)
    assert re.search(rb'width="[\d.]+mm"', files["hide red.svg"])
    assert files == hide_files(job, lay_hides(job, rounds=1), flesh_up=False).files


def test_flesh_up_is_drawn_mirrored(job, laid):
    def rim(flesh_up):
        data = hide_dxf(laid, 0, imprint_of(job.sheet), version=job.sheet.output.dxf, flesh_up=flesh_up)
        drawing = ezdxf.read(io.StringIO(data.decode("cp1252")))
        (line,) = [e for e in drawing.modelspace() if e.dxf.layer == "40 rim of the hide"]
        return np.array([(x, y) for x, y, *_ in line.get_points()])

    here, over = rim(False), rim(True)
    assert Polygon(here).exterior.is_ccw
    assert not Polygon(over).exterior.is_ccw
    assert here[:, 0] == pytest.approx(over[:, 0])


def test_parts_of_a_face_from_unlike_leather_are_told(job, laid):
    plain = next(piece for piece in job.pieces if piece.name == "face")
    ask = next(one.ask for one in laid.cuts if one.cut.name == "cushion face")
    hide = laid.plan.hides[0]
    square = np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [0.0, 100.0]])

    def part(word, seam, at, number=0):
        edges = (replace(plain.edges[0], seam=seam),)
        cut = LeatherCut(f"cushion face {word}", 1, replace(plain, name=f"face {word}", edges=edges), square)
        return LaidCut(cut, ask, number, 0.0, np.array(at), square + at)

    def told(first, *others, hides=(hide, hide)):
        return [(one.code, one.where) for one in neighbour_notes(hides, [first, *others], job.panels)]

    bare = replace(hide, zones={})
    left = part("left", "valley 1", [0.0, 0.0])
    near = part("right", "valley 1", [100.0 + NEIGHBOURS_APART_MM, 0.0])
    far = part("right", "valley 1", [101.0 + NEIGHBOURS_APART_MM, 0.0])
    right = [("H011", "cushion face right")]
    assert told(left, near, hides=(bare, bare)) == []
    assert told(left, far, hides=(bare, bare)) == right
    assert neighbour_notes((bare,), [left, far], job.panels, apart_mm=NEIGHBOURS_APART_MM + 1.5) == []
    assert told(left, part("right", "valley 1", [110.0, 0.0], 1), hides=(bare, bare)) == right
    # not sewn to each other
    assert told(left, part("right", "valley 2", [101.0 + NEIGHBOURS_APART_MM, 0.0]), hides=(bare, bare)) == []
    low, high = (np.array([[x, -900.0], [x + 155.0, -900.0], [x + 155.0, 900.0], [x, 900.0]]) for x in (-50.0, 105.0))
    zoned = replace(hide, zones={"butt": (hide.from_backbone(low),), "shoulder": (hide.from_backbone(high),)})
    assert told(left, part("right", "valley 1", [110.0, 0.0]), hides=(zoned, zoned)) == right
    assert told(left, part("right", "valley 1", [0.0, 110.0]), hides=(zoned, zoned)) == []


def test_the_plan_on_pages_has_every_piece_and_both_ends(job, laid):
    data = hide_plan_pdf(laid, 0, imprint_of(job.sheet), page="a4")
    pages = PdfReader(io.BytesIO(data)).pages
    assert len(pages) == 1 + -(-len(laid.cuts) // ROWS_A_PAGE)
    assert [float(mm) * 25.4 / 72.0 for mm in pages[0].mediabox[2:]] == pytest.approx([297.0, 210.0], abs=0.01)
    words = [" ".join(page.extract_text().split()) for page in pages]
    assert all(f"page {k} of {len(pages)}" in text for k, text in enumerate(words, start=1))
    for k, one in enumerate(laid.cuts, start=1):
        told = [f"{end[0]:.0f}, {abs(end[1]):.0f} {'L' if end[1] >= 0.0 else 'R'}" for end in line_ends(one)]
        assert f"{k} {one.cut.label} {told[0]} {told[1]}" in " ".join(words[1:])
    assert data == hide_plan_pdf(laid, 0, imprint_of(job.sheet), page="a4")
    mirrored = hide_plan_pdf(laid, 0, imprint_of(job.sheet), page="a4", flesh_up=True)
    assert "flesh side up" in PdfReader(io.BytesIO(mirrored)).pages[0].extract_text()


def test_papers_of_another_revision_are_told_plainly(tmp_path):
    """Whoever draws round the old pattern on the new plan cuts two seats into one."""
    with output_folder(tmp_path / "out", MAKE) as folder:
        folder.write({"report.json": b"{}", "cutlist.csv": b"kind,revision\r\npiece,9de922\r\n"})
    with output_folder(tmp_path / "out", HIDE) as folder:
        (told,) = stale_report(folder, "926db2")
        assert told.code == "H021"
        assert "revision 9de922" in told.text
        assert "revision 926db2" in told.text
        assert [note.code for note in stale_report(folder, "9de922")] == ["H012"]
    (tmp_path / "out" / "cutlist.csv").write_bytes(b"\xff")
    with output_folder(tmp_path / "out", HIDE) as folder:
        assert [note.code for note in stale_report(folder, "926db2")] == ["H012"]


def test_a_plan_of_an_inch_shop_has_its_places_in_inches():
    assert [on_tape(mm, "mm") for mm in (501.7, 76.2)] == ["502", "76"]
    # 501.65 mm are 19 3/4 in, 76.2 mm 3 in; a tape has no nothing below nothing.
    assert [on_tape(mm, "in") for mm in (501.65, 76.2, -0.3, -76.2)] == ["19 3/4", "3", "0", "-3"]


def test_what_lies_across_for_its_arrow_is_told_how_to_turn():
    band = LeatherCut("band", 1, None, np.array([[0.0, 0.0], [869.0, 0.0], [869.0, 100.0], [0.0, 100.0]]))
    upright = replace(band, points=band.points[:, ::-1])
    fixed, free = CutAsk("band", ("butt",), 0.0, ""), CutAsk("band", ("butt",), 90.0, "")
    assert "869 mm across the backbone and 100 mm along it" in across_words(band, fixed)
    assert "turn = 90" in across_words(band, fixed)
    assert across_words(band, free) == across_words(upright, fixed) == ""


@pytest.fixture(scope="module")
def mixed(tmp_path_factory):
    """Bands of another leather, the bottom and welt of roll goods; a hide for each leather."""
    sheet = tmp_path_factory.mktemp("mixed") / "sheet.toml"
    text = '[[covering]]\npanels = ["bands"]\nleather = "soft"\n'
    text += '[[covering]]\npanels = ["welt", "cushion front band"]\nleather = "cloth"\n'
    text += "[covering.roll]\nwidth = 1370\nusable = 1340\n"
    sheet.write_text(SEAT + text + RED + '[[hide]]\nname = "pale"\narea = 2.0\nleather = "soft"\n')
    return flatten.make(sheet)


def test_each_leather_comes_from_its_own_hides_and_roll_goods_from_the_roll(mixed):
    laid = lay_hides(mixed, rounds=1)
    assert not laid.unplaced
    wanted = Counter((cut.name, cut.number) for cut in leather_cuts(mixed))
    assert Counter((one.cut.name, one.cut.number) for one in laid.cuts) == wanted
    by_room = {hide.name: {cut.cut.name for cut in laid.on(k)} for k, hide in enumerate(laid.plan.hides)}
    assert by_room["red"] == {"cushion face"}
    assert by_room["roll of cloth"] == {"welt", "cushion front band"}
    assert all("band" in name for name in by_room["pale"])
    roll = laid.plan.hides[-1]
    assert laid.rolled_mm == {"cloth": roll.outline[:, 0].max()}
    shapes = [Polygon(cut.points) for cut in laid.on(2)]
    assert min(a.distance(b) for k, a in enumerate(shapes) for b in shapes[:k]) >= 3.0 - 1e-6
    assert all(Polygon(roll.outline).buffer(1e-6).covers(shape) for shape in shapes)
    # The strips cannot lie in less than their area over the usable width.
    assert sum(shape.area for shape in shapes) / 1340.0 < laid.rolled_mm["cloth"] < 1200.0
    files = hide_files(mixed, laid, flesh_up=False)
    assert {"roll of cloth.dxf", "roll of cloth plan.pdf", "hide pale.svg", "hide red plan.png"} <= set(files.files)
    order = files.files["order.csv"].decode("utf-8-sig")
    assert f"{laid.rolled_mm['cloth'] / 1000.0:.2f}" in order
    assert "pieces laid out on" in order
    assert {row["name"]: row["leather"] for row in files.keys["hides"]} == {
        "red": mixed.leather.name, "pale": "soft", "roll of cloth": "cloth",
    }  # fmt: skip
    assert "roll of cloth: " in laid_text(laid, unit="mm")


def test_a_leather_without_a_hide_and_a_hide_of_no_leather_are_told(mixed, tmp_path):
    def with_text(text):
        sheet = tmp_path / "sheet.toml"
        kept = mixed.sheet.path.read_text().split("\n[[hide]]")[0]
        sheet.write_text(kept + text)
        return replace(mixed, sheet=read_sheet(sheet))

    laid = lay_hides(with_text(RED), rounds=0)
    (told,) = [problem for problem in laid.problems if problem.code == "H014"]
    assert "soft" in told.text
    with pytest.raises(ProblemError, match="H015"):
        lay_hides(with_text(RED + '[[hide]]\nname = "odd"\narea = 2.0\nleather = "suede"\n'), rounds=0)
    soft = '[[hide]]\nname = "pale"\narea = 2.0\nleather = "soft"\n' + PIN.format(800, 0)
    with pytest.raises(ProblemError, match="H016"):
        lay_hides(with_text(RED + soft), rounds=0)
    narrow = with_text(RED + soft.split("[[hide.pin")[0])
    thin = replace(narrow.sheet.coverings[1], roll=RollGoods(120.0, 100.0))
    narrow = replace(narrow, sheet=replace(narrow.sheet, coverings=(narrow.sheet.coverings[0], thin)))
    (wide,) = [problem for problem in lay_hides(narrow, rounds=0).problems if problem.code == "H017"]
    assert wide.where == "cushion front band"
    assert "100 mm" in wide.text


def test_make_lays_out_as_seen_from_the_side_its_pieces_are_drawn_from(job, tmp_path, monkeypatch):
    """Papers of the flesh side come with plans of the flesh side."""
    monkeypatch.setattr(job_folder, "papers_of", lambda *_: ())
    monkeypatch.setattr(job_folder, "lists_of", lambda *_: {})
    monkeypatch.setattr(job_folder, "report_html", lambda *_: b"")
    over = replace(job, pieces=tuple(flesh_side_up(piece) for piece in job.pieces))
    for one, side in ((job, "right side (grain) up"), (over, "flesh side up")):
        with output_folder(tmp_path / "out", MAKE) as folder:
            done, notes = job_folder.write_job(one, folder, pictures=False)
        assert side in (tmp_path / "out" / "hide red plan.svg").read_text()
        assert not notes
        assert {"H007"} <= {problem.code for problem in done.problems}
    # The other command may write there, and each says what it leaves behind or takes away.
    with output_folder(tmp_path / "out", HIDE) as folder:
        folder.write({"layout.json": b"{}"})
        assert [note.code for note in stale_report(folder, job.sheet.revision)] == ["H012"]
    assert not (tmp_path / "out" / "hide red plan.svg").exists()
    with output_folder(tmp_path / "out", MAKE) as folder:
        _, notes = job_folder.write_job(job, folder, pictures=False)
    assert [note.code for note in notes] == ["H013"]
    assert (tmp_path / "out" / "hide red plan.svg").exists()


def test_cloth_of_flies_is_laid_on_its_roll(job, monkeypatch):
    cloth = Covering(card_named(FLY_CARD), RollGoods())
    name = "front band"
    flies = tuple(
        replace(piece, order=replace(piece.order, leather=FLY_CARD)) if piece.name == name else piece
        for piece in job.pieces
    )
    both = Coverings(job.coverings.main, {f"cushion {name}": cloth})
    monkeypatch.setattr(type(job), "coverings", property(lambda _: both))
    laid = lay_hides(replace(job, pieces=flies), rounds=0)
    by_room = {hide.name: {cut.cut.name for cut in laid.on(k)} for k, hide in enumerate(laid.plan.hides)}
    assert by_room["roll of cloth"] == {f"cushion {name}"}
    assert f"cushion {name}" not in by_room["red"]
    (there,) = laid.on(1)
    # The roll is cut off where the one piece ends, which stands off its end by what is left out of its outline.
    assert laid.rolled_mm == {FLY_CARD: pytest.approx(np.ptp(there.points[:, 0]), abs=3.0)}


def test_figures_of_a_layout_are_told_as_the_shop_has_them(laid):
    (use,) = hide_uses(laid)
    told = laid_text(laid, unit="in").splitlines()
    assert told[0].startswith(f"red: {use.area_mm2 / 304.8**2:.2f} sq ft (")
    assert f"{inches(use.free_mm)} ({use.free_mm:.0f} mm)" in told[0]
    # Every area has its square feet before it, to the last place of what stands beside it.
    areas = re.findall(r"([\d.]+) sq ft \(([\d.]+) m2\)", "\n".join(told))
    assert len(areas) > 9
    assert all(float(feet) == pytest.approx(float(m2) * 1e6 / 304.8**2, abs=0.006) for feet, m2 in areas)
    assert "m2 by" not in "\n".join(told)
    assert "sq ft" not in laid_text(laid, unit="mm")
    report = str(hides_section(laid, unit="in"))
    assert f"{use.area_mm2 / 304.8**2:.2f} sq ft ({use.area_mm2 / 1e6:.3f} m²)" in report


def test_words_on_a_plan_stand_clear_of_each_other_and_of_flaws(laid):
    """Pieces with a vein right under their middle and arrows across, a hole hard above one."""
    size = np.array([[0.0, 0.0], [300.0, 0.0], [300.0, 200.0], [0.0, 200.0]])
    ask = laid.cuts[0].ask
    cuts = tuple(
        LaidCut(
            LeatherCut("test strips", k + 1, None, size),
            ask,
            0,
            90.0 * k,
            np.zeros(2),
            size + np.array([100.0, 210.0 * k]),
        )
        for k in range(3)
    )
    hole = Flaw("hole", "hole", size * 0.05 + [243.0, 632.0])
    flaws = (*(Flaw("vein", "mark", size * 0.03 + [245.0, 97.0 + 210.0 * k]) for k in range(3)), hole)
    table = np.array([[0.0, -50.0], [900.0, -50.0], [900.0, 800.0], [0.0, 800.0]])
    hide = Hide("table", table, np.array([[0.0, 0.0], [900.0, 0.0]]), {}, flaws)
    drawing = hide_plan_drawing(replace(laid, plan=replace(laid.plan, hides=(hide,)), cuts=cuts), 0)
    said = [one for one in drawing.items if isinstance(one, DrawnText) and one.anchor == "middle"]
    assert sorted(one.text for one in said) == [
        *(f"{k} test strips" for k in (1, 2, 3)), "hole", *["vein (mark)"] * 3
    ]  # fmt: skip
    boxes = []
    for one in said:
        wide = text_width(one.text, one.size) * (1.1 if one.bold else 1.0)
        x, y = one.at
        boxes.append(box(x - 0.5 * wide, y - 0.7 * one.size, x + 0.5 * wide, y + 0.1 * one.size))
    assert max(a.intersection(b).area for k, a in enumerate(boxes) for b in boxes[:k]) == 0.0
    arrows = [LineString(one.points) for one in drawing.items if isinstance(one, DrawnLine) and not one.fill]
    arrows = [line for line in arrows if line.length == pytest.approx(24.0)]
    shown = [Polygon(one.points) for one in drawing.items if isinstance(one, DrawnLine) and one.fill in (HARD, MILD)]
    assert (len(shown), len(arrows)) == (4, 3)
    assert not any(one.intersects(shape) for one in boxes for shape in (*arrows, *shown))
    assert not any(arrow.intersects(shape) for arrow in arrows for shape in shown)


def test_both_ends_of_every_centre_line_are_squares_on_the_cut_line_of_a_plan(laid):
    """Full squares of 4 px, their middles on the piece, two to a piece."""
    drawing = hide_plan_drawing(laid, 0)
    squares = [
        Polygon(one.points)
        for one in drawing.items
        if isinstance(one, DrawnLine) and one.fill and len(one.points) in (4, 5) and Polygon(one.points).area < 17.0
    ]
    assert len(squares) == 2 * len(laid.on(0))
    assert [square.area for square in squares] == pytest.approx([16.0] * len(squares))
    assert all(square.bounds[2] - square.bounds[0] == pytest.approx(4.0) for square in squares)
