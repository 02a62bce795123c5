"""The job sheet: its order, its figures against a hand reckoning from the sheet's own numbers, its paper."""

import io
import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from pypdf import PdfReader

from flatten.figures.tapes import tape_rows
from flatten.fit.asked import DrawnPad
from flatten.fit.fitted import FittedPad
from flatten.fit.moved import EdgeMove
from flatten.leather.card import CARDS
from flatten.paper.cautions import CAUTIONS, cautions_for
from flatten.paper.pages import PAGE_MM
from flatten.pieces.fillers import trial_strip_of
from flatten.work.closed_steps import band_heights, flap_words
from flatten.work.heights import height_at, heights_of, thickness_at
from flatten.work.job_pdf import SPARE_STEP_MM, _spare_mm, _unbroken, _written, job_pdf
from flatten.work.job_steps import job_sheet, strip_words
from flatten.work.loads import spring_load
from flatten.work.padding_steps import layer_steps, spring_steps
from flatten.work.sewing_steps import closes_ring, pleat_steps
from flatten.work.slack import PulledEdge, let_out_at, pulled_edges, slack_at
from flatten.work.steps import ADHESIVE, BELTS, BLADES, FIRE, N_PER_KG, SPRINGS, WorkStep, force_words, numbered
from flatten.work.tacking_steps import _held_down, edge_figure
from flatten.work.tapes import tapes_section
from flatten.work.told import job_section, step_rows
from meshes.closed.words import wedge_words
from meshes.records.closed import Closed
from meshes.records.pad import side_word
from meshes.records.springs import Springs
from meshes.seat.build import build_surface
from meshes.sheet.read import read_sheet
from meshes.sheet.whole import Allowance, Control
from meshes.tapes.explain import Explanation, Taped
from meshes.tapes.told import Tapes
from tests.samples import sample_job

# Coils of 0.3 N/mm, 100 mm apart: 0.03 kPa a mm. Held 10 mm lower they push with 0.3 kPa.
SPRUNG = """\
name = "Sprung"
unit = "mm"
[cover]
tension = 200
[[pad]]
name = "seat"
kind = "cushion"
[pad.outline]
front_width = 400
rear_width = 400
depth = 400
corner_radius = 60
[[pad.profile]]
direction = "along"
at = 0
points = [[0, 0], [100, 26], [200, 34], [300, 26], [400, 0]]
[pad.support]
kind = "springs"
coil_rate = 0.3
pitch = 100
{held}
[pad.sides.front]
drop = 80
edge_radius = 20
[pad.sides.right]
drop = 80
edge_radius = 20
[pad.sides.rear]
drop = 80
edge_radius = 20
[[pad.layer]]
material = "wadding"
thickness = 8
"""


def sprung(tmp_path, held=""):
    path = tmp_path / "seat.toml"
    path.write_text(SPRUNG.replace("{held}", held))
    sheet = read_sheet(path)
    return build_surface(sheet.pads[0], edge_mm=28.0, tension_n_per_mm=0.2, materials=sheet.materials)


def test_force_on_springs_is_rate_times_travel_times_area(tmp_path):
    load = spring_load(sprung(tmp_path))
    rate = 0.3 / (100.0 * 100.0)  # N/mm3: one coil on its square
    assert load.give
    assert load.springs_n == pytest.approx(rate * load.mean_mm * load.area_mm2, rel=1e-9)
    # The springs reach no further than the outline, less its corners, and cover most of what does not turn.
    square = 400.0**2 - (4.0 - math.pi) * 60.0**2
    assert 0.5 * square < load.area_mm2 < square
    assert 0.0 < load.mean_mm < load.most_mm


def test_held_springs_push_with_their_preload_too(tmp_path):
    pad = sprung(tmp_path, "free_height = 110\nheld_height = 100")
    load = spring_load(pad)
    rate = 0.3 / (100.0 * 100.0)
    assert load.twine_kpa == pytest.approx(1e3 * rate * 10.0)
    assert load.springs_n == pytest.approx(rate * (10.0 + load.mean_mm) * load.area_mm2, rel=1e-9)


def test_the_cover_presses_down_with_its_pull_along_the_rim(tmp_path):
    """All round it goes straight down, so it draws with tension times the length of the rim."""
    load = spring_load(sprung(tmp_path))
    rim = 4.0 * (400.0 - 2.0 * 60.0) + 2.0 * math.pi * 60.0
    assert load.cover_n == pytest.approx(0.2 * rim, rel=0.03)


def test_a_hand_on_held_springs_presses_the_padding_alone(tmp_path):
    """Twine holds them with 6 kPa, 200 mm lower: on 100 x 180 mm a hand has to beat that pressure to move them."""
    pad = sprung(tmp_path, "free_height = 300\nheld_height = 100")
    load = spring_load(pad)
    assert not load.give
    assert load.twine_kpa == pytest.approx(6.0)
    assert load.give_n == pytest.approx(6.0e-3 * 100.0 * 180.0)
    # The cover's mean pressure times what faces up is about what it draws down with; at the edges it presses aslant.
    face = 400.0**2 - (4.0 - math.pi) * 60.0**2
    assert load.hand_n == pytest.approx(load.cover_n * 100.0 * 180.0 / face, rel=0.35)
    assert 0.0 < load.hand_n < load.give_n
    middle = heights_of(pad)[0]
    assert load.hand_mm == pytest.approx(middle.free_mm - middle.settled_mm, abs=4.0)
    assert load.hand_mm > 0.0
    (step,) = _held_down(pad)
    told = {one.what: one for one in step.figures}
    assert told["a flat hand, 100 x 180 mm, presses the springs too only with more than"].amount == load.give_n
    words = told["a flat hand, 100 x 180 mm, does that with"].amount_words("mm")
    assert words.startswith(f"{load.hand_n / N_PER_KG:.1f} kg")


def test_no_springs_no_load():
    assert all(spring_load(pad) is None for pad in sample_job().pads)


def test_forces_are_told_in_kg_first():
    assert force_words(10.0 * N_PER_KG) == "10 kg (98 N)"
    assert force_words(5.0) == "0.5 kg (5 N)"


def test_heights_are_those_of_the_surface():
    triangles = np.array([[0, 1, 2], [1, 3, 2]])
    points = np.array([[0.0, 0, 1], [10, 0, 2], [0, 10, 3], [10, 10, 4]])
    assert height_at(points, triangles, (2.5, 5.0)) == pytest.approx(1.0 + 0.25 + 1.0)
    assert height_at(points, triangles, (20.0, 5.0)) is None
    both = np.vstack([points, points - [0.0, 0.0, 7.0]])
    assert thickness_at(both, np.vstack([triangles, triangles + 4]), (5.0, 5.0)) == pytest.approx(7.0)


def test_heights_before_are_padding_on_the_profile(tmp_path):
    first = heights_of(sprung(tmp_path))[0]
    assert first.name == "middle"
    assert first.free_mm == pytest.approx(34.0 + 8.0, abs=0.6)
    assert first.settled_mm < first.free_mm


def test_slack_is_the_stretch_along_the_way():
    """From the middle to an edge the pieces are stretched no less than the leather's least and no more than most."""
    job = sample_job()
    edges = pulled_edges(job, job.pads[0])
    assert {edge.side for edge in edges} == {"front", "rear", "right"}
    for edge in edges:
        way = {"front": 150.0 + 80.0, "rear": 150.0 + 70.0, "right": 205.0 + 80.0}[edge.side]
        assert 0.2 * job.leather.pull * way < edge.slack_mm < 1.3 * way * job.leather.stretch_across


def test_pieces_as_long_as_the_seat_leave_nothing_to_pull():
    """Where a panel lies in one plane its map may be the panel itself: then nothing is left to be pulled."""
    job = sample_job()
    panel = next(panel for panel in job.pads[1].panels if panel.part == "bottom band")
    at = panel.surface.vertices
    plane = np.linalg.svd(at - at.mean(axis=0), full_matrices=False)[2][:2]
    pad = replace(job.pads[1], division=replace(job.pads[1].division, panels=(panel,), seams=()))
    edge = next(edge for edge in panel.rim if edge.seam is None)
    for share in (0.0, 0.03):
        flats = {panel.name: replace(job.flats[panel.name], points=(1.0 - share) * at @ plane.T)}
        way = float(np.ptp(at @ plane.T, axis=0).min())
        assert slack_at(pad, flats, panel, edge) == pytest.approx(share * way, abs=0.15 * share * way + 0.3)


def test_steps_go_flat_before_round_and_count_through():
    sheet = job_sheet(sample_job())
    assert [step.number for step in sheet.steps] == list(range(1, len(sheet.steps) + 1))
    cushion = [step.text for step in sheet.steps if step.part == "=cushion"]

    def at(word):
        return next(k for k, text in enumerate(cushion) if word in text)

    welt, close, ruler = at("Make up the welt"), at("Close the welted seam"), at("with a ruler before")
    assert at("Join") < welt < close < at("Layer 1") < ruler < at("Lay the cover on")
    # What needs no join is said to be in one length.
    (made,) = [step.details[0] for step in sheet.steps if step.part == "=cushion" and "Make up the welt" in step.text]
    assert "wide, in one length." in made
    assert at("Lay the cover on") < at("Fix the centre marks first") < at("close by hand") < at("Let it rest")


def test_cautions_stand_in_full_once_and_where_they_apply():
    sheet = job_sheet(sample_job())
    told = [text for step in sheet.steps for text in sheet.cautions_at(step)]
    for word in (BELTS, FIRE, BLADES, ADHESIVE):
        full = [text for text in told if text.startswith(f"{word}: ") and ": see step" not in text]
        assert len(full) == 1, word
    assert not any(text.startswith(SPRINGS) for text in told)
    glue = [step for step in sheet.steps if any("lue" in text for text in (step.text, *step.details))]
    assert glue
    assert all(ADHESIVE in step.cautions for step in glue)


def test_data_page_and_paper_say_the_same():
    sheet = job_sheet(sample_job())
    rows, page = step_rows(sheet), str(job_section(sheet))
    paper = _words(job_pdf(sheet, page="a4"))
    for row, step in zip(rows, sheet.steps, strict=True):
        assert row["text"] == step.text
        assert "".join(step.text.split()) in paper
        assert f'value="{step.number}"' in page
        for one in step.figures:
            assert one.amount_words("mm") in page
            assert "".join(one.amount_words("mm").split()) in paper


def test_an_inch_shop_reads_inches():
    job = sample_job()
    sheet = replace(job_sheet(job), unit="in")
    figures = [one for step in sheet.steps for one in step.figures if one.unit == "mm" and one.amount > 5.0]
    assert figures
    assert all(" in (" in one.amount_words("in") for one in figures)
    assert "in(" in _words(job_pdf(sheet, page="letter"))


@pytest.mark.parametrize(("page", "size"), [("a4", (210, 297)), ("a3", (210, 297)), ("letter", (215.9, 279.4))])
def test_paper_is_for_an_office_printer_and_the_same_every_time(page, size):
    sheet = job_sheet(sample_job())
    data = job_pdf(sheet, page=page)
    assert data == job_pdf(sheet, page=page)
    pages = PdfReader(io.BytesIO(data)).pages
    assert [float(v) * 25.4 / 72.0 for v in pages[0].mediabox[2:]] == pytest.approx(size, abs=0.1)
    assert f"page1of{len(pages)}" in "".join(pages[0].extract_text().split())


def test_a_step_longer_than_a_page_goes_on_on_the_next():
    long = WorkStep("Sew", "", "One long step.", tuple(f"Line {k} of many." for k in range(120)))
    data = job_pdf(numbered("seat", "", "mm", (long,)), page="a4")
    words = _words(data)
    assert len(PdfReader(io.BytesIO(data)).pages) > 1
    assert all(f"Line{k}ofmany." in words for k in range(120))


def _words(pdf):
    return "".join("".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


def test_tapes_stand_in_the_report_with_what_would_explain_them():
    control = Control("=cushion", "along", "padding", 500.0, 0.0)
    why = Explanation(("pad", 0, "outline", "depth"), "depth", 300.0, 9.0, 0.4, 1.0)
    job = replace(sample_job(), tapes=Tapes((Taped(control, 480.0),), (why,)))
    text = str(tapes_section(job))
    assert "500.0" in text
    assert "480.0" in text
    assert "+20.0" in text
    assert "309 mm" in text
    rows = tape_rows(job.tapes)
    assert rows["tapes"][0]["differs"]
    assert rows["explained_by"][0]["change_mm"] == 9.0
    assert str(tapes_section(sample_job())) == ""


def _card(along="M: memory"):
    whence = {"stiffness_along": along}
    return replace(CARDS["furniture"], stiffness_along=9.80665, stiffness_across=4.903325, source={
        **CARDS["furniture"].source, **whence})  # fmt: skip


def test_a_strip_is_told_with_its_weight_and_whence_the_figure_is():
    # 1 kg on 50 mm is 0.196 N/mm: 2 % of 9.8 N/mm, 4 % of 4.9; 4 kg would be more than 6 and 8 %.
    text, whence = strip_words(_card(), roll=False)
    assert "hang 2 kg on a strip 50 mm wide: it has to stretch by 4 % along the backbone, 8 % across" in text
    assert (
        whence == "At most it may be stretched by 6.0 % along and 8.0 % across; by its card, not measured on this hide."
    )
    text, whence = strip_words(_card("measured: 2 strips along"), roll=True)
    assert "along the roll" in text
    assert whence.endswith("measured on strips along.")


def test_a_fitted_edge_is_pulled_as_its_pieces_are_now():
    edge = PulledEdge("face", "front tack line", "pulled", "front", False, 7.1, 398.0, 0.2, 415.3)
    plain = edge_figure(edge.name, edge)
    assert plain.amount == 7.1
    assert plain.note.startswith("from slack; 398 mm long slack and 415 mm on the seat, ")
    shorter = edge_figure(edge.name, replace(edge, let_out_mm=-4.0))
    assert shorter.amount == pytest.approx(11.1)
    assert "7.1 mm before fitting, taken in by 4 mm in all layers since" in shorter.note
    longer = edge_figure(edge.name, replace(edge, let_out_mm=12.7))
    assert longer.amount == pytest.approx(5.6)
    assert longer.what.endswith("longer than the seat as computed, by")
    assert "from slack" not in longer.note
    assert edge_figure(edge.name, replace(edge, seat_mm=398.2)).note.startswith("from slack; 398 mm long, ")


def test_every_layer_of_a_fitted_seam_counts_on_the_way_to_an_edge():
    job = sample_job()
    pad = job.pads[0]
    pieces = tuple(piece for piece in job.pieces if piece.pad == pad.pad.name)
    panels = {panel.name: panel for panel in pad.panels}
    edge = next(one for one in pulled_edges(job, pad) if one.side == "front")
    panel = next(p for p in pad.panels if p.part == edge.panel and any(e.name == edge.name for e in p.rim))
    rim = next(e for e in panel.rim if e.name == edge.name)
    moves = {}
    for i, piece in enumerate(pieces):
        for k, one in enumerate(panels[piece.panels[0]].rim):
            if one.seam is not None and one.seam == next(e.seam for e in panel.rim if e.seam and "face" in e.seam):
                at = np.arange(len(one.vertices), dtype=float)
                moves[i, k] = EdgeMove(at, np.full(len(at), 3.0))
    assert len(moves) == 2
    fit = FittedPad(DrawnPad(0, pad, pieces), pieces, moves)
    assert let_out_at(fit, panel, rim) == pytest.approx(6.0)
    behind, rear = next((p, e) for p in pad.panels for e in p.rim if e.seam is None and e.side == "rear")
    assert let_out_at(fit, behind, rear) == 0.0


def test_pages_are_filled_evenly():
    """Whatever the number of steps, the last page holds no less than half of what a page does, or all of them are as
    low as they can be without another page."""
    for count in (31, 34, 37, 40, 43):
        steps = tuple(
            WorkStep("Sew", "seat", f"Sew seam {k} along its marks, from the centre out.") for k in range(count)
        )
        sheet = numbered("Bench", "", "mm", steps)
        size = PAGE_MM["a4"]
        plain, even = _written(sheet, size, of=9), _written(sheet, size, of=9, spare_mm=_spare_mm(sheet, size))
        assert even.pages == plain.pages
        assert even.last_mm >= plain.last_mm - 1e-9
        if plain.pages > 1 and plain.last_mm < 0.5 * (size[1] - 40.0):
            assert even.last_mm > plain.last_mm + 10.0
            more = _spare_mm(sheet, size) + SPARE_STEP_MM
            assert even.last_mm > 0.4 * size[1] or _written(sheet, size, of=9, spare_mm=more).pages > plain.pages


def test_a_figure_in_brackets_keeps_together():
    words = "1 3/4 in (44.9 mm), before the cover 1 7/8 in (47.6 mm)"
    for room in range(12, 90, 2):
        lines = _unbroken(words, float(room))
        assert " ".join(lines) == words
        assert all(line.count("(") == line.count(")") for line in lines)


def test_bands_of_wedges_and_flaps_are_told():
    cushion, back = (SimpleNamespace(side_word=lambda side, kind=kind: side_word(side, kind)) for kind in
                     ("cushion", "backrest"))  # fmt: skip
    wedge = Closed("box", 90.0, "foam_medium", rear=60.0, flap=True)
    found = [(one.what, one.amount) for one in band_heights(back, wedge)]
    assert found == [("height of the band at the bottom", 90.0), ("height of the band at the top", 60.0)]
    assert [one.amount for one in band_heights(cushion, replace(wedge, rear=None))] == [90.0]
    assert wedge_words(cushion, wedge) == "90 mm in front and 60 mm behind"
    assert wedge_words(back, wedge) == "90 mm at the bottom and 60 mm at the top"
    job = SimpleNamespace(sheet=SimpleNamespace(allowance=Allowance()))
    (text,) = flap_words(job, wedge)
    assert "76 mm go on past the sew line" in text
    assert "line, 38 mm out, over the end of the zip" in text
    assert flap_words(job, replace(wedge, flap=False)) == ()


@pytest.mark.parametrize(("edges", "ring"), [([[0, 1, 2], [2, 3, 4]], False), ([[0, 1, 2], [6, 5, 4]], True)])
def test_two_edges_that_meet_are_a_dart_and_two_that_do_not_close_a_ring(edges, ring):
    """A dart's edges share its point; the two ends of a band that goes all round share nothing on the piece."""
    rim = tuple(SimpleNamespace(seam="rear", vertices=np.array(run)) for run in edges)
    panels = {"band": SimpleNamespace(rim=rim), "face": SimpleNamespace(rim=())}
    assert closes_ring(SimpleNamespace(name="rear", a="band", b="band"), panels) is ring
    assert not closes_ring(SimpleNamespace(name="rear", a="band", b="face"), panels)


def test_the_strip_sewn_first_has_one_length_on_every_paper():
    """It is cut for five pleats of the usual width, 37.6 mm; the pleat in the middle of this pad is 37.48 mm wide."""
    filling = SimpleNamespace(filler="wadding", thickness=12.0, foam="", take_up_measured=None)
    figures = [SimpleNamespace(index=k, finished_mm=37.48, cut_mm=44.9) for k in (1, 2, 3)]
    section = SimpleNamespace(nominal=37.6, arc=lambda width: 1.1 * width)
    plan = SimpleNamespace(pleats=SimpleNamespace(filling=filling), section=section)
    own = SimpleNamespace(name="stool", leader=None, pleats=plan.pleats)
    pad = SimpleNamespace(pad=own, panels=(), pleats=SimpleNamespace(plan=plan, figures=figures))
    first = next(pleat_steps(SimpleNamespace(flats={}), pad))
    assert first.figures[0].amount_words("mm") == "188 mm"
    assert "sewn, the outer lines should come to 188.0 mm" in trial_strip_of(pad)[0].notes


def test_a_seat_without_springs_has_no_caution_about_springs():
    sheet = sample_job().sheet
    assert not any(pad.springs for pad in sheet.pads)
    assert not any(text.startswith(SPRINGS) for text in cautions_for(sheet))
    sprung = replace(sheet, pads=(replace(sheet.pads[0], springs=Springs(rate_kpa_per_mm=0.1)), *sheet.pads[1:]))
    assert cautions_for(sprung) == CAUTIONS
    assert set(CAUTIONS) - set(cautions_for(sheet)) == {text for text in CAUTIONS if text.startswith(SPRINGS)}


def test_springs_that_push_with_less_than_a_kilogram_are_not_held_down(tmp_path):
    load = spring_load(sprung(tmp_path))
    assert load.give
    assert not replace(load, springs_n=0.99 * N_PER_KG).give
    assert replace(load, springs_n=1.01 * N_PER_KG).give


@pytest.mark.parametrize(("free", "held"), [(140.0, 130.0), (140.0, None), (None, None)])
def test_springs_are_checked_by_a_figure_only_where_both_their_heights_are_known(free, held):
    """0.03 kPa a mm: a square of 100 x 100 mm takes 0.3 N a mm; held 10 mm lower it pushes with 3 N."""
    pad = SimpleNamespace(pad=replace(sample_job().pads[0].pad, springs=Springs(0.03, free, held)))
    check, cloth = spring_steps(pad)
    assert [figure.amount for figure in check.figures] == ([held] if held else [])
    assert all(figure.found and f"free {free:g} mm" == figure.note for figure in check.figures)
    pushed = any("push up against the twine" in detail for detail in check.details)
    assert pushed == bool(held)
    assert ("more on" in " ".join(check.details)) == bool(held)
    assert cloth.text.startswith("Cover the springs")


def test_what_is_written_beside_layers_stands_once():
    """What a layer is stands in the step's first words, everything else of its notes after them, and no arrow."""
    job = sample_job()
    for pad, plan in zip(job.pads, job.plans, strict=True):
        for step, one in zip(layer_steps(job, pad, plan), [one for one in plan.cut if one.shapes], strict=True):
            first = one.shapes[0].notes[0]
            words = " ".join((step.text, *step.details))
            assert words.count(first) == 1
            assert "arrow" not in words
