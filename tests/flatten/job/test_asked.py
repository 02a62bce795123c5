"""What a sheet asks for beyond its measurements: cards from a file, darts and seams, ease."""

import re

import numpy as np
import pytest

from flatten.draw.marks import draw_piece
from flatten.draw.pen import RecordingPen
from flatten.job.make import make
from flatten.leather.card import CARDS
from flatten.leather.card_file import find_card, read_cards
from flatten.paper.roll import lay_out_roll
from flatten.report.page import report_html
from meshes.base.problems import ProblemError
from meshes.seat.build import build
from meshes.seat.seam_sides import ease_of, likeness
from meshes.sheet.read import read_sheet
from meshes.sheet.whole import Ease

PAD = """\
name = "Rest"
unit = "mm"

[cover]
leather = "LEATHER"

[output]
mesh = 16

[[pad]]
name = "rest"
kind = "cushion"

[pad.outline]
front_width = 360
rear_width = 360
depth = 300
corner_radius = 60

[[pad.profile]]
direction = "along"
at = 0
points = [[0, 0], [150, 30], [300, 0]]

[pad.sides.front]
drop = 60
edge_radius = 20
band = true

[pad.sides.right]
drop = 60
edge_radius = 20
band = true

[pad.sides.rear]
drop = 60
edge_radius = 20
band = true
"""

HIDES = """\
unit = "mm"

[card.bull_7]
thickness = 1.3
pull = 0.01
stretch_along = 0.05
stretch_across = 0.07
stiffness_along = 7.5
source = { pull = "own strip, 1 kg", stretch_along = "own strip, 4 kg" }

[card."calf, dyed"]
thickness = "1/16 in"
pull = 0.0
stretch_along = 0.09
stretch_across = 0.10
source = "own strip"
"""


def sheet(tmp_path, more="", leather="soft"):
    path = tmp_path / "rest.toml"
    path.write_text(PAD.replace("LEATHER", leather) + more)
    return path


def refused(call, *parts):
    with pytest.raises(ProblemError) as caught:
        call(*parts)
    return [str(problem) for problem in caught.value.problems]


def test_cards_stand_in_a_file_of_the_shops_own(tmp_path):
    (tmp_path / "hides.toml").write_text(HIDES)
    bull = find_card("hides.toml:bull_7", beside=tmp_path)
    assert (bull.thickness_mm, bull.stretch_along, bull.stretch_across, bull.stiffness_along) == (1.3, 0.05, 0.07, 7.5)
    assert bull.source["pull"] == "own strip, 1 kg"
    assert "no source given" in bull.source["stretch_across"]
    # Where the card says nothing the usual stiffness stands, with its own source.
    assert bull.stiffness_across == CARDS["soft"].stiffness_across
    assert bull.source["stiffness_across"] == CARDS["soft"].source["stiffness_across"]
    calf = find_card(str(tmp_path / "hides.toml:calf, dyed"))
    assert calf.thickness_mm == pytest.approx(25.4 / 16)
    assert make(sheet(tmp_path, leather="hides.toml:bull_7")).leather == bull


@pytest.mark.parametrize(
    ("change", "line", "code"),
    [
        (("stretch_along = 0.05\n", ""), 3, "S011"),
        (("stretch_along = 0.05", "stretch_along = 0.01"), 3, "L103"),
        (("stiffness_along = 7.5", "stiffness_along = -7.5"), 8, "S01"),
        (("pull = 0.01", "pul = 0.01"), 5, "S010"),
        (("thickness = 1.3", 'thickness = "thick"'), 4, "S01"),
        (("unit =", "unit ="), None, None),
        (('pull = "own strip, 1 kg"', 'pul = "own strip"'), 9, "S010"),
        ((HIDES[HIDES.index("[card.bull_7]") :], "[card]\n"), 3, "L109"),
    ],
)
def test_every_fault_of_a_card_file_has_its_line(tmp_path, change, line, code):
    path = tmp_path / "hides.toml"
    path.write_text(HIDES.replace(*change))
    if code is None:
        assert set(read_cards(path)) == {"bull_7", "calf, dyed"}
        return
    found = refused(read_cards, path)
    assert any(re.match(rf"{re.escape(str(path))}:{line}: {code}", text) for text in found), found


def test_a_card_that_is_not_in_its_file(tmp_path):
    (tmp_path / "hides.toml").write_text(HIDES)
    for name, code in (("hides.toml", "L108"), ("hides.toml:bull_8", "L108"), ("no.toml:x", "S001"), ("sof", "L101")):
        found = refused(make, sheet(tmp_path, leather=name))
        assert len(found) == 1
        assert code in found[0]
        # What is wrong in the sheet is told at its line there.
        assert ("no.toml:1" if code == "S001" else "rest.toml:5") in found[0]


def test_ease_makes_one_side_longer_and_is_written_on_both(tmp_path):
    more = '\n[[ease]]\nseam = "rest face / right band"\nlonger = "rest face"\nby = 0.01\n'
    plain, eased = make(sheet(tmp_path)), make(sheet(tmp_path, more))
    before = {row.name: row for row in plain.seams}
    for row in eased.seams:
        side = row.name in ("rest face / right band", "rest face / left band")
        longer = row.length_a_mm if row.a == "rest face" else row.length_b_mm
        shorter = row.length_b_mm if row.a == "rest face" else row.length_a_mm
        assert row.sews
        if side:
            assert longer / shorter == pytest.approx(1.01, abs=2e-4)
            assert abs(row.ease_mm) == pytest.approx(0.01 * shorter, rel=0.03)
        elif "face" in row.name:
            assert longer == pytest.approx(shorter, abs=0.3)
            assert before[row.name].ease_mm == row.ease_mm == 0.0
    words = {}
    for piece in eased.pieces:
        pen = RecordingPen()
        draw_piece(piece, pen)
        words[piece.name] = " ".join(text.words for text in pen.texts)
    assert "ease in" in words["face"]
    assert any("other side eased by" in text for name, text in words.items() if "band" in name)


_EASE = '[[ease]]\nseam = "rest face / right band"\nlonger = "rest face"\nby = 0.01\n'


@pytest.mark.parametrize(
    ("table", "code", "line"),
    [
        ('[[ease]]\nseam = "rest face / rigth band"\nlonger = "rest face"\nby = 0.01\n', "F302", 1),
        ('[[ease]]\nseam = "rest face / right band"\nlonger = "rest front band"\nby = 0.01\n', "F303", 2),
        ('[[ease]]\nseam = "rest face / right band"\nlonger = "rest face"\nby = 0.05\n', "S016", 3),
        *(
            (f'{_EASE}[[ease]]\nseam = "{other}"\nlonger = "rest face"\nby = 0.002\n', "F304", 5)
            for other in ("rest face / right band", "rest face / left band")
        ),
        ('[[relief]]\npanel = "rest fase"\napply = 1\n', "R101", 1),
        ('[[relief]]\npanel = "rest face"\napply = 0\n', "S017", 2),
        ('[[relief]]\npanel = "rest front band"\napply = 19\n', "R102", 2),
    ],
)
def test_asking_for_what_there_is_not(tmp_path, table, code, line):
    found = refused(make, sheet(tmp_path, "\n" + table))
    start = PAD.count("\n") + 2
    assert len(found) == 1
    assert f"rest.toml:{start + line}: {code}" in found[0]


def test_a_cut_the_sheet_asks_for_is_made(tmp_path):
    # The free padding is a dome that asks more than cloth gives.
    slack = ("leather = ", "tension = 0\nleather = ")
    path = sheet(tmp_path, leather="cloth")
    path.write_text(path.read_text().replace(*slack))
    plain = make(path)
    path.write_text(path.read_text() + '\n[[relief]]\npanel = "rest face"\napply = 1\n')
    done = make(path)
    before = plain.flats["rest face"].demand
    assert "rest face" not in done.panels or len(done.panels["rest face"].rim) > len(plain.panels["rest face"].rim)
    parts = [flat.demand for name, flat in done.flats.items() if "face" in name]
    assert max(parts) < before
    assert all(flat.certified for flat in done.flats.values())
    assert all(row.sews for row in done.seams)


def test_seams_are_alike_that_are_each_others_mirror_image_and_no_others(tmp_path):
    seat = read_sheet(sheet(tmp_path))
    pad = build(seat.pads[0], edge_mm=16.0)
    panels = {panel.name: panel for panel in pad.panels}
    ends = {}
    for seam in pad.seams:
        points = np.round(pad.surface.vertices[seam.vertices], 3) + 0.0
        image = np.round(points * [-1.0, 1.0, 1.0], 3) + 0.0
        ends[seam.name] = min(sorted(map(tuple, points)), sorted(map(tuple, image)))
    assert len(pad.seams) > 4
    for one in ends:
        for two in ends:
            assert (likeness(one, panels) == likeness(two, panels)) == (ends[one] == ends[two])


def test_ease_in_one_of_two_seams_between_the_same_panels_leaves_the_other_alone(tmp_path):
    # Without a band at the rear the face runs down there, and meets each side band along the edge and down the corner.
    path = sheet(tmp_path)
    text = path.read_text().replace("corner_radius = 60\n", "")
    path.write_text(text.removesuffix("band = true\n"))
    pad = build(read_sheet(path).pads[0], edge_mm=16.0)
    panels = {panel.name: panel for panel in pad.panels}
    twice = [s.name for s in pad.seams if any({s.a, s.b} == {t.a, t.b} and s is not t for t in pad.seams)]
    assert len(twice) == 4
    for name in twice:
        seam = next(seam for seam in pad.seams if seam.name == name)
        eased = {s.name for s in pad.seams if ease_of(s, panels, [Ease(name, seam.a, 0.01)]) != 0.0}
        assert eased == {s.name for s in pad.seams if likeness(s.name, panels) == likeness(name, panels)}
        assert len(eased) == 2
        assert eased < set(twice)


def test_pads_whose_panels_come_to_one_name_are_refused_by_name(tmp_path):
    line = '[[pad.line]]\nname = "middle"\npoints = [[0, 0], [0, 300]]\n'
    text = PAD.replace("LEATHER", "soft")
    head, mark, rest = text.partition("[[pad]]")
    two = head + mark + rest + line + mark + rest.replace('name = "rest"', 'name = "REST right"')
    path = tmp_path / "two.toml"
    path.write_text(two)
    (found,) = refused(make, path)
    where = two.splitlines().index('name = "REST right"') + 1
    assert f"two.toml:{where}: S028" in found
    assert 'pad "rest"' in found
    assert "right face" in found


def test_a_wanted_radius_with_strips_as_the_only_padding(tmp_path):
    strip = '[[pad.layer]]\nmaterial = "foam_firm"\nthickness = 20\nwhere = "front"\nwithin = 60\n'
    path = sheet(tmp_path)
    path.write_text(path.read_text().replace("[pad.outline]", "wanted_radius = 30\n[pad.outline]") + strip)
    (plan,) = make(path, workers=1).plans
    assert {one.layers for one in plan.thinner} == {(1,)}
    assert all(one.after for one in plan.thinner)


def test_a_piece_wider_than_the_roll_is_told_with_the_width_it_needs(tmp_path):
    path = sheet(tmp_path)
    text = path.read_text()
    path.write_text(text.replace("mesh = 16", "mesh = 16\nroll_width = 250"))
    job = make(path, workers=1)
    told = [problem for problem in job.problems if problem.code == "P304"]
    assert told
    assert all(problem.warning and problem.line == text.splitlines().index("[output]") + 3 for problem in told)
    face = next(piece for piece in job.pieces if piece.name == "face")
    (named,) = [problem for problem in told if "rest face" in problem.text]
    need = int(re.search(r"paper (\d+) mm", named.text)[1])
    # On paper that wide nothing is wider than the roll, and on any narrower it is.
    assert not lay_out_roll([face], width_mm=need).notes
    assert lay_out_roll([face], width_mm=need - 1).notes
    assert "rest face needs paper" in report_html(job, {}).decode()
    path.write_text(text.replace("mesh = 16", f"mesh = 16\nroll_width = {need}"))
    assert not any("rest face" in problem.text for problem in make(path, workers=1).problems if problem.code == "P304")
