"""The drawing of a cut: everything named, nothing over anything else, lengths that can be measured in it."""

import io
import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image
from shapely.geometry import box

from flatten.draw.drawing import PNG_SCALE, Drawing, DrawnLine, DrawnText, text_width
from flatten.sections.drawing import section_drawing
from flatten.sections.names import RADIUS
from flatten.sections.parts import ground_of, layer_words, states
from meshes.records.pad import Wanted
from meshes.settle.proposal import compare
from meshes.settle.section_line import Cut
from meshes.sheet.read import read_sheet

BENCH = Path(__file__).parents[3] / "examples" / "helm_bench" / "bench.toml"


@cache
def drawn(name="backrest", direction="along", at=0.0, bare=False):
    """A pad of the bench, its cut, and the drawing; bare: as it was before padding was proposed."""
    sheet = read_sheet(BENCH)
    pad = next(pad for pad in sheet.pads if pad.name == name)
    if bare:
        open_gap = {**pad.sides, "rear": replace(pad.sides["rear"], cloth=False)}
        pad = replace(pad, layers=pad.layers[:2], sides=open_gap, wanted=Wanted(25.0))
    tension = 1e-3 * sheet.cover.tension
    cut = compare(pad, Cut(direction, at), tension_n_per_mm=tension, materials=sheet.materials)
    return pad, cut, section_drawing(pad, cut)


CUTS = (
    ("backrest", "along", 0.0),
    ("backrest", "along", 0.0, True),
    ("cushion", "along", 0.0),
    ("cushion", "across", 200.0),
)


def words_of(drawing):
    return [item for item in drawing.items if isinstance(item, DrawnText)]


def field(word):
    """The place that a text takes, without the room letters leave above and below."""
    wide, (x, y) = text_width(word.text, word.size), word.at
    left = {"start": x, "middle": x - 0.5 * wide, "end": x - wide}[word.anchor]
    return box(left, y - 0.7 * word.size, left + wide, y)


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("which", CUTS)
def test_no_words_lie_over_others_or_beyond_the_drawing(which, unit):
    pad, cut, drawing = drawn(*which)
    drawing = section_drawing(pad, cut, unit)
    words = words_of(drawing)
    fields = [field(word) for word in words]
    page = box(0.0, 0.0, *drawing.size)
    for k, one in enumerate(fields):
        assert page.contains(one), words[k].text
        for j, other in enumerate(fields[:k]):
            assert not one.intersects(other), (words[k].text, words[j].text)


@pytest.mark.parametrize("which", CUTS)
def test_every_length_in_the_drawing_of_an_inch_shop_is_on_the_tape_with_its_mm_beside_it(which):
    pad, cut, drawing = drawn(*which)
    for word in words_of(section_drawing(pad, cut, "in")):
        bare = re.sub(r"[\d/ ]+ in \([\d.]+ mm\)", "", word.text)
        fine = [float(mm) for mm in re.findall(r"([\d.]+) mm", bare)]
        assert all(mm < 25.4 / 32 for mm in fine), word.text
    said = " | ".join(word.text for word in words_of(section_drawing(pad, cut, "in")))
    for mm in re.findall(r"(\d[\d.]*) mm", " | ".join(word.text for word in words_of(drawing) if word.text != "50 mm")):
        assert f"({mm} mm)" in said or float(mm) < 25.4 / 32, mm


def test_the_scale_in_the_drawing_of_an_inch_shop_is_of_whole_inches():
    pad, cut, drawing = drawn()
    inch = section_drawing(pad, cut, "in")
    word = next(word for word in words_of(inch) if word.text.startswith("2 in"))
    bars = [i.points for i in inch.items if isinstance(i, DrawnLine) and len(i.points) == 4 and not i.fill]
    bar = min(bars, key=lambda points: np.abs(points.mean(axis=0) - word.at).sum())
    assert np.ptp(bar[:, 0]) == pytest.approx(2 * 25.4 * scale_of(drawing))


def test_everything_is_named_in_every_state():
    pad, cut, drawing = drawn("backrest", "along", 0.0, True)
    said = " | ".join(word.text for word in words_of(drawing))
    for shown in states(pad, cut):
        assert shown.words in said
        assert f"R {shown.ridge.radius_mm:.0f} mm" in said
        for layer in shown.pad.layers:
            assert layer_words(layer) in [word.text for word in words_of(drawing)]
    for name in ("open gap | 70 mm", "cloth over | 70 mm gap", "springs", "rail", "cover", "top", "bottom", "50 mm"):
        assert name in said
    # Springs and rail are named once in each of the three states.
    assert said.count("rail") == 3


def test_a_circle_in_the_drawing_measures_what_is_written_at_it():
    pad, cut, drawing = drawn()
    rings = [i.points for i in drawing.items if isinstance(i, DrawnLine) and i.colour == RADIUS and len(i.points) > 8]
    scale = scale_of(drawing)
    measured = sorted(0.5 * np.ptp(ring, axis=0).max() / scale for ring in rings)
    wanted = {shown.ridge.radius_mm for shown in states(pad, cut)}
    for radius in wanted:
        assert min(abs(size - radius) for size in measured) < 0.01 * radius + 0.2


def scale_of(drawing):
    """Pixels per mm, from the scale of 50 mm that is drawn."""
    at = next(word.at for word in words_of(drawing) if word.text == "50 mm")
    bars = [i.points for i in drawing.items if isinstance(i, DrawnLine) and len(i.points) == 4 and not i.fill]
    bar = min(bars, key=lambda points: np.abs(points.mean(axis=0) - at).sum())
    return np.ptp(bar[:, 0]) / 50.0


def test_layers_are_as_thick_before_as_the_sheet_says_and_thinner_after():
    pad, cut, drawing = drawn()
    free, rest = cut.padded.layer_mm()
    assert free.max(axis=1) == pytest.approx([layer.thickness for layer in pad.layers], abs=0.05)
    assert (rest <= free + 1e-9).all()
    shown = states(pad, cut)[-1]
    at = int(np.argmin(np.linalg.norm(cut.padded.cover - np.array(shown.ridge.at), axis=1)))
    rows = [word.text for word in words_of(drawing) if word.text.startswith(layer_words(pad.layers[-1]) + ":")]
    assert any(f"{free[-1, at]:.1f} mm, under the cover {rest[-1, at]:.1f} mm" in row for row in rows)


def test_the_gap_is_as_wide_as_it_was_measured_and_springs_end_before_it():
    pad, cut, _ = drawn()
    for shown in states(pad, cut):
        ground = ground_of(shown)
        (gap,) = ground.runs("gap")
        assert np.ptp(shown.cut.support[gap, 0]) == pytest.approx(pad.sides["rear"].gap, abs=4.0)
        (springs,) = ground.runs("springs")
        assert springs.stop == gap.start
    board = replace(pad, springs=None)
    assert set(ground_of(replace(states(board, cut)[0], pad=board)).kinds) == {"board", "gap"}


def test_a_pad_without_padding_is_drawn_too():
    pad, cut, _ = drawn()
    bare = replace(pad, layers=(), wanted=Wanted())
    cut = compare(bare, Cut("along", 0.0), tension_n_per_mm=0.0)
    assert len(words_of(section_drawing(bare, cut))) > 10


def test_svg_and_png_show_the_same_and_the_same_each_time():
    pad, cut, drawing = drawn()
    again = section_drawing(pad, cut)
    assert (drawing.svg(), drawing.png()) == (again.svg(), again.png())
    root = ElementTree.fromstring(drawing.svg())
    texts = [node.text for node in root.iter() if node.tag.endswith("text")]
    assert texts == [word.text for word in words_of(drawing)]
    with Image.open(io.BytesIO(drawing.png())) as image:
        assert image.size == tuple(round(side) * PNG_SCALE for side in drawing.size)


def test_dashes_and_areas_reach_the_picture():
    drawing = Drawing((40.0, 20.0), "trial")
    drawing.area([(2, 2), (18, 2), (18, 18), (2, 18)], "#ff0000", edge="#000000", width=1.0)
    drawing.line([(20, 10), (40, 10)], "#0000ff", 2.0, dash=(4.0, 4.0))
    pixels = np.asarray(Image.open(io.BytesIO(drawing.png()))).astype(int)
    assert tuple(pixels[20, 20]) == (255, 0, 0)
    row = pixels[20, 40:]
    blue = (row[:, 2] - row[:, 0] > 200).mean()
    assert blue == pytest.approx(0.6, abs=0.1)
    assert 'stroke-dasharray="4 4"' in drawing.svg()
