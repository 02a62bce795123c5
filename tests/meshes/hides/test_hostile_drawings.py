"""Drawings of hides that nobody drew for one: read, or refused with a number, in little time and memory, and in words
that tell nothing of what stands in them."""

import io
import os

import ezdxf
import numpy as np
import pytest
from shapely.geometry import Polygon

from meshes.base.problems import ProblemError
from meshes.hides.drawn import MOST_DRAWN_LINES, MOST_DRAWN_POINTS, DrawingFault, read_drawing
from meshes.schema.cover_tables import HIDE_POINTS
from meshes.sheet.read import read_sheet
from tests.pads import FLAT

OUTLINE = '<polygon id="outline" points="0,0 2000,0 2000,1500 0,1500"/>'
BACKBONE = '<line id="backbone" x1="0" y1="750" x2="2000" y2="750"/>'
GOOD = OUTLINE + BACKBONE
SECRET = "wages-of-4711"
LAUGHS = "<!DOCTYPE l [" + "".join(f'<!ENTITY e{k + 1} "{f"&e{k};" * 10}">' for k in range(12)) + "]><svg>&e12;</svg>"


def svg(body):
    return f'<svg xmlns="http://www.w3.org/2000/svg">{body}</svg>'.encode()


def dxf(draw):
    drawing = ezdxf.new()
    space = drawing.modelspace()
    space.add_lwpolyline([(0, 0), (2000, 0), (2000, 1500), (0, 1500)], close=True, dxfattribs={"layer": "outline"})
    space.add_line((0, 750), (2000, 750), dxfattribs={"layer": "backbone"})
    draw(space)
    stream = io.StringIO()
    drawing.write(stream)
    return stream.getvalue().encode()


def hidden(kind, *arguments, **more):
    return dxf(lambda space: getattr(space, f"add_{kind}")(*arguments, dxfattribs={"layer": "hole"}, **more))


def read(folder, name, data, scale=1.0):
    """The sheet's hide with a drawing, or the codes and words of what is wrong."""
    (folder / name).write_bytes(data)
    sheet = folder / "sheet.toml"
    sheet.write_text(FLAT + f'[[hide]]\nname = "red"\nfile = "{name}"\nscale = {scale}\n')
    with np.errstate(all="raise"):
        try:
            return read_sheet(sheet).hides.hides[0]
        except ProblemError as refused:
            return [(problem.code, problem.text) for problem in refused.problems]


STAMP = '<rect id="outline" width="20" height="20"/><line id="backbone" x2="20"/>'
ACCOUNTS = f"  0\nSECTION\n  2\nENTITIES\n  0\nLINE\n370\n{SECRET}\n  0\nENDSEC\n  0\nEOF\n"
LONG_PATH = f'<path id="mark" d="M 0 0 {"C 1 1 2 2 3 3 " * (MOST_DRAWN_POINTS // 20)}"/>'
UTF_16 = '<?xml version="1.0" encoding="UTF-16"?>'
REFUSED = {
    "a path that goes on after its end": ("a.svg", svg(GOOD + '<path id="hole" d="M0 0 L9 9 Z 5 5"/>'), "S043"),
    "laughs": ("a.svg", LAUGHS.encode(), "S043"),
    "laughs in other letters": ("a.svg", (UTF_16 + LAUGHS).encode("utf-16"), "S043"),
    "letters nobody knows": ("a.svg", b'<?xml version="1.0" encoding="x-of-mine"?><svg/>', "S043"),
    "a backbone of nothing": ("a.svg", svg(OUTLINE + '<polyline id="backbone" points=""/>'), "S042"),
    "a backbone without end": ("a.svg", svg(OUTLINE + '<line id="backbone" x2="1e999"/>'), "S043"),
    "a curve without end": ("a.svg", svg(GOOD + '<path id="hole" d="M 0 0 C 1e999 0 5 5 1 1"/>'), "S043"),
    "400 digits": ("a.svg", svg(GOOD + f'<circle id="hole" r="{"9" * 400}"/>'), "S043"),
    "far away": ("a.svg", svg('<polygon id="outline" points="1e9,0 1000002000,0 1000002000,1500"/>'), "S043"),
    "as large as a field": ("a.svg", svg('<rect id="outline" width="4900" height="4900"/>' + BACKBONE), "S051"),
    "as small as a stamp": (
        "a.svg",
        svg(STAMP),
        "S051",
    ),
    "too many lines": ("a.svg", svg(GOOD + '<line id="cut" x2="9"/>' * (MOST_DRAWN_LINES + 1)), "S043"),
    "too many points": ("a.svg", svg(f'<polyline id="mark" points="{"1 2 " * (MOST_DRAWN_POINTS + 1)}"/>'), "S043"),
    "too long a path": ("a.svg", svg(LONG_PATH), "S043"),
    "a flaw that is a stroke": ("a.svg", svg(GOOD + '<line id="cut" x1="400" y1="700" x2="900" y2="700"/>'), "S046"),
    "a flaw that crosses itself": ("a.svg", svg(GOOD + '<polygon id="hole" points="9,9 99,99 99,9 9,99"/>'), "S046"),
    "a flaw beside the hide": ("a.svg", svg(GOOD + '<circle id="hole" cx="2500" cy="700" r="9"/>'), "S041"),
    "a zone that crosses itself": ("a.svg", svg(GOOD + '<polygon id="butt" points="9,9 99,99 99,9 9,99"/>'), "S050"),
    "a circle round the earth": ("a.dxf", hidden("circle", (0, 0), 1e15), "S043"),
    "a circle without end": ("a.dxf", hidden("circle", (0, 0), 1e300), "S043"),
    "a place that is no number": ("a.dxf", hidden("line", (float("nan"), 0), (float("inf"), 3)), "S043"),
    "a curve through one point": ("a.dxf", hidden("spline", fit_points=[(0, 0)]), "S043"),
    "a file of accounts": ("a.dxf", f"root:x:0\n{SECRET}\n".encode(), "S043"),
    "accounts between": ("a.dxf", ACCOUNTS.encode(), "S043"),
    "accounts as SVG": ("a.svg", f"{SECRET}: 12\n".encode(), "S043"),
    "nothing": ("a.dxf", b"", "S043"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_drawing_that_is_no_hide_is_refused_without_telling_what_it_holds(tmp_path, name):
    file, data, code = REFUSED[name]
    found = read(tmp_path, file, data)
    assert [one for one, _ in found] == [code]
    words = found[0][1]
    assert '"red"' in words
    assert SECRET not in words
    assert "nan" not in words
    assert len(words) < 300


def test_a_sheet_with_a_zone_that_crosses_itself_is_refused(tmp_path):
    sheet = tmp_path / "sheet.toml"
    zone = '[[hide.zone]]\nname = "butt"\npoints = [[9, 9], [99, 99], [99, 9], [9, 99]]\n'
    sheet.write_text(FLAT + '[[hide]]\nname = "red"\narea = 4.0\n' + zone)
    with pytest.raises(ProblemError, match="S050"):
        read_sheet(sheet)


READ = {
    "groups in groups": ("a.svg", svg("<g>" * 50_000 + GOOD + "</g>" * 50_000)),
    "a name of megabytes": ("a.svg", svg(f'<g id="{"a b " * 300_000}">{GOOD}{"<line/>" * 5_000}</g>')),
    "thousands of lines of no hide": ("a.svg", svg(GOOD + "<line x2='9'/>" * 20_000)),
    "entities the library does not know": ("a.dxf", hidden("text", "x").replace(b"\nTEXT\n", b"\nTXET\n")),
    "nets": ("a.dxf", hidden("polymesh", (3, 3))),
}


@pytest.mark.parametrize("name", READ)
def test_what_belongs_to_no_hide_is_passed_over(tmp_path, name):
    hide = read(tmp_path, *READ[name])
    assert Polygon(hide.outline).area == pytest.approx(3e6)
    assert hide.flaws == ()


@pytest.mark.parametrize("scale", [0.5, 25.4, 1000.0])
def test_curves_are_followed_as_closely_whatever_the_scale(tmp_path, scale):
    """A circle of 600 mm, drawn in units of half a millimetre, inches, and metres: no chord is .06 mm off."""
    drawing = ezdxf.new()
    drawing.modelspace().add_circle((0, 0), 600.0 / scale, dxfattribs={"layer": "hole"})
    drawing.saveas(tmp_path / "a.dxf")
    (line,) = read_drawing(tmp_path / "a.dxf", scale)["hole"]
    middles = 0.5 * (line[1:] + line[:-1])
    assert 600.0 - np.hypot(*middles.T).min() <= 0.06


def test_a_line_of_very_many_points_keeps_its_shape_with_fewer(tmp_path):
    turn = np.linspace(0.0, 2.0 * np.pi, 20_000, endpoint=False)
    points = " ".join(f"{900 * np.cos(t):.4f},{900 * np.sin(t):.4f}" for t in turn)
    (tmp_path / "a.svg").write_bytes(svg(f'<polygon id="outline" points="{points}"/>'))
    (line,) = read_drawing(tmp_path / "a.svg", 1.0)["outline"]
    assert len(line) <= HIDE_POINTS
    assert Polygon(line).area == pytest.approx(np.pi * 900.0**2, rel=2e-4)


def test_a_pipe_and_a_file_too_large_are_no_drawings(tmp_path):
    os.mkfifo(tmp_path / "a.svg")
    with pytest.raises(DrawingFault, match="pipe"):
        read_drawing(tmp_path / "a.svg", 1.0)
    with open(tmp_path / "b.dxf", "wb") as stream:
        stream.truncate(3_000_000_000)
    with pytest.raises(DrawingFault, match="larger"):
        read_drawing(tmp_path / "b.dxf", 1.0)
