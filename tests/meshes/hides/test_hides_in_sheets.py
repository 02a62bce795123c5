"""Hides as a sheet says them: read, drawn, derived, and what is wrong with one."""

from pathlib import Path

import ezdxf
import numpy as np
import pytest
from shapely.geometry import Polygon

from meshes.base.problems import ProblemError
from meshes.hides.drawn import read_drawing
from meshes.hides.standard import derived_zones, standard_outline
from meshes.sheet.read import read_sheet
from tests.pads import FLAT, sheet_of

HIDE = '[[hide]]\nname = "red"\noutline = [[0, 0], [2000, -100], [2100, 1300], [100, 1400]]\n'
SPINE = "backbone = [[0, 650], [2050, 600]]\n"


def codes(text):
    with pytest.raises(ProblemError) as refused:
        sheet_of(FLAT + text)
    return [(problem.code, problem.text) for problem in refused.value.problems]


def test_a_traced_hide_is_read_with_flaws_zones_and_pins():
    text = HIDE + SPINE + '[[hide.flaw]]\nkind = "brand"\ngrade = "unusable"\nat = [500, 500]\nradius = 40\n'
    text += '[[hide.flaw]]\nkind = "vein"\ngrade = "mark"\npoints = [[900, 600], [1000, 600], [950, 640]]\n'
    text += '[[hide.pin]]\npiece = "cushion face"\nat = [900, 700]\nturn = 5\n[cutting]\ntool = "shears"\n'
    plan = sheet_of(FLAT + text).hides
    (hide,) = plan.hides
    assert [flaw.grade for flaw in hide.flaws] == ["unusable", "mark"]
    # the polygon of a round flaw goes round the circle
    assert Polygon(hide.flaws[0].points).area >= np.pi * 40.0**2
    assert hide.derived
    assert plan.cutting.gap_mm == 6.0
    assert hide.pins[0].turn_deg == 5.0
    assert sum(Polygon(p).area for parts in hide.zones.values() for p in parts) == pytest.approx(
        Polygon(hide.outline).area, rel=1e-9
    )


def test_along_and_off_the_backbone_and_back():
    (hide,) = sheet_of(FLAT + HIDE + SPINE).hides.hides
    places = hide.along_and_off(hide.backbone)
    assert places[0] == pytest.approx([0.0, 0.0])
    assert places[1, 1] == pytest.approx(0.0, abs=1e-9)
    assert hide.from_backbone(hide.along_and_off(hide.outline)) == pytest.approx(hide.outline)
    # left of the backbone, looking to the neck, is positive: a turn, not a mirror image
    assert Polygon(hide.along_and_off(hide.outline)).exterior.is_ccw


def test_a_usual_hide_has_its_area_and_zones_near_the_shares_of_the_trade():
    outline, backbone = standard_outline(4.6)
    hide = Polygon(outline)
    assert hide.area == pytest.approx(4.6e6)
    assert hide.is_valid
    zones = derived_zones(outline)
    share = {name: sum(Polygon(p).area for p in parts) / hide.area for name, parts in zones.items()}
    assert sum(share.values()) == pytest.approx(1.0)
    # butt 45-50, shoulder and neck 20-25, bellies and flanks 25-30 %: from memory, as the notes of the trade have it
    assert 0.45 <= share["butt"] <= 0.50
    assert 0.20 <= share["shoulder"] + share["neck"] <= 0.25
    assert 0.25 <= share["belly"] + share["flank"] <= 0.31
    assert backbone[1, 0] > 2000.0


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ('[[hide]]\nname = "a"\noutline = [[0, 0], [900, 900], [900, 0], [0, 900]]\n' + SPINE, "S040"),
        (HIDE + SPINE + '[[hide.flaw]]\nkind = "x"\ngrade = "hole"\nat = [4000, 0]\nradius = 9\n', "S041"),
        (HIDE, "S042"),
        (HIDE + '[[hide.zone]]\nname = "butt"\npoints = [[0, 0], [900, 0], [900, 900]]\n', "S042"),
        ('[[hide]]\nname = "a"\nfile = "none.svg"\n', "S043"),
        ('[[hide]]\nname = "a"\nfile = "none.svg"\nscale = 1.0\n', "S043"),
        ('[[hide]]\nname = "a"\n', "S044"),
        ('[[hide]]\nname = "a"\narea = 4.0\noutline = [[0, 0], [9, 0], [9, 9]]\n', "S044"),
        (HIDE + "backbone = [[0, 3000], [2000, 3000]]\n", "S045"),
        (HIDE + SPINE + '[[hide.flaw]]\nkind = "x"\ngrade = "hole"\n', "S046"),
        ('[[placing]]\npieces = ["cushion face"]\nzones = ["rump"]\n', "S048"),
        ('[[hide]]\nname = "a"\narea = 4.0\n[[hide]]\nname = "a"\narea = 3.0\n', "S049"),
    ],
)
def test_what_is_wrong_with_a_hide_is_told_with_its_name(text, code):
    found = codes(text)
    assert [one for one, _ in found] == [code]
    assert '"a"' in found[0][1] or '"red"' in found[0][1] or code == "S048"


def test_a_hide_from_svg_and_dxf_is_the_same(tmp_path: Path):
    svg = """<svg xmlns="http://www.w3.org/2000/svg"><g id="outline"><path d="M 0 0 L 200 0 L 200 -120 H 0 Z"/></g>
    <polyline id="backbone" points="0,-60 200,-60"/><circle class="hole" cx="50" cy="-30" r="4"/></svg>"""
    (tmp_path / "red.svg").write_text(svg)
    drawing = ezdxf.new()
    space = drawing.modelspace()
    space.add_lwpolyline([(0, 0), (200, 0), (200, 120), (0, 120)], close=True, dxfattribs={"layer": "outline"})
    space.add_line((0, 60), (200, 60), dxfattribs={"layer": "backbone"})
    space.add_circle((50, 30), 4, dxfattribs={"layer": "hole"})
    drawing.saveas(tmp_path / "red.dxf")
    for name in ("red.svg", "red.dxf"):
        sheet = tmp_path / "sheet.toml"
        sheet.write_text(FLAT + f'[[hide]]\nname = "red"\nfile = "{name}"\nscale = 10\n')
        (hide,) = read_sheet(sheet).hides.hides
        assert Polygon(hide.outline).area == pytest.approx(2000.0 * 1200.0)
        assert hide.backbone.tolist() == [[0.0, 600.0], [2000.0, 600.0]]
        (flaw,) = hide.flaws
        assert flaw.grade == "hole"
        assert Polygon(flaw.points).centroid.coords[0] == pytest.approx((500.0, 300.0), abs=0.5)
        assert Polygon(flaw.points).area == pytest.approx(np.pi * 1600.0, rel=0.01)


def test_a_drawn_curve_is_followed(tmp_path: Path):
    (tmp_path / "a.svg").write_text('<svg><path id="outline" d="M 0 0 C 0 10 10 10 10 0 z"/></svg>')
    (line,) = read_drawing(tmp_path / "a.svg", 1.0)["outline"]
    # area below a cubic Bezier arch of width 10 with handles of 10: 60
    assert Polygon(line).area == pytest.approx(60.0, rel=0.005)


def test_a_sheet_without_hides_has_nothing_to_lay_on(tmp_path: Path, monkeypatch):
    # S047 is told by the command, before it computes or writes anything
    import flatten.hides.parted
    from flatten.app.study_commands import hide

    monkeypatch.setattr(flatten.hides.parted, "make_for_hides", lambda *_, **__: pytest.fail("it is computed"))
    (tmp_path / "sheet.toml").write_text(FLAT.replace('name = "test"', 'name = "test"\n[output]\nmesh = 40\n'))
    with pytest.raises(ProblemError, match="S047"):
        hide(tmp_path / "sheet.toml", out=tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_a_hide_in_a_file_of_its_own_is_read_with_what_the_sheet_adds(tmp_path: Path):
    own = HIDE.split("\n", 2)[2] + SPINE + '[[flaw]]\nkind = "vein"\ngrade = "mark"\nat = [700, 700]\nradius = 20\n'
    (tmp_path / "red.toml").write_text(own)
    sheet = tmp_path / "sheet.toml"
    more = '[[hide.flaw]]\nkind = "brand"\ngrade = "unusable"\nat = [500, 500]\nradius = 40\n'
    sheet.write_text(FLAT + '[[hide]]\nname = "first"\nthickness = 1.4\nfile = "red.toml"\n' + more)
    (hide,) = read_sheet(sheet).hides.hides
    (plain,) = sheet_of(FLAT + HIDE + SPINE).hides.hides
    assert hide.name == "first"
    assert hide.thickness_mm == 1.4
    assert hide.outline.tolist() == plain.outline.tolist()
    assert [flaw.kind for flaw in hide.flaws] == ["vein", "brand"]
    for text in ("outline = [[0, 0], [9]]", "colour = 3", "outline = ["):
        (tmp_path / "red.toml").write_text(text)
        with pytest.raises(ProblemError, match="S043"):
            read_sheet(sheet)


@pytest.mark.parametrize(
    ("file", "area_m2", "grades"),
    [
        ("traced.toml", 4.88, {"unusable", "hole", "hidden", "mark"}),
        ("drawn.svg", 4.39, {"unusable", "cut", "mark"}),
        ("drawn.dxf", 2.59, {"hole", "hidden"}),
    ],
)
def test_the_hides_of_the_examples_are_what_their_page_says(tmp_path: Path, file, area_m2, grades):
    hides = Path(__file__).parents[3] / "examples" / "hides"
    scale = {"drawn.svg": "scale = 5\n", "drawn.dxf": "scale = 10\n"}.get(file, "")
    sheet = tmp_path / "sheet.toml"
    sheet.write_text(FLAT + f'[[hide]]\nname = "a"\nfile = "{hides / file}"\n{scale}')
    (hide,) = read_sheet(sheet).hides.hides
    assert Polygon(hide.outline).area / 1e6 == pytest.approx(area_m2, abs=0.01)
    assert {flaw.grade for flaw in hide.flaws} == grades
    # the usual way round: the tail at the left
    assert abs(hide.heading_deg) < 5.0
