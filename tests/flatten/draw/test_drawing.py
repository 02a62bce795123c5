"""Small drawings in pixels: SVG and PNG show the same, dashes are as long as they say, words stand where they are."""

import io
import re

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree
from PIL import Image
from shapely.geometry import LineString, box

from flatten.draw.callouts import WORDS_ROOM, Callouts
from flatten.draw.drawing import PNG_OVERSIZE, PNG_SCALE, Drawing, DrawnLine, DrawnText, _dashes, ring_of, text_width

SVG = "{http://www.w3.org/2000/svg}"


def pixels(drawing):
    return np.asarray(Image.open(io.BytesIO(drawing.png())).convert("RGB")).astype(int)


def paths(drawing):
    return etree.fromstring(drawing.svg().encode()).findall(f"{SVG}path")


def numbers(path):
    return np.array(re.findall(r"-?[\d.]+", path.get("d")), dtype=float).reshape(-1, 2)


def test_both_files_are_of_the_drawings_size_and_say_its_title():
    drawing = Drawing((120.0, 70.0), "a <cut> & more")
    root = etree.fromstring(drawing.svg().encode())
    assert root.get("viewBox") == "0 0 120 70"
    assert root.get("aria-label") == "a <cut> & more"
    assert pixels(drawing).shape == (70 * PNG_SCALE, 120 * PNG_SCALE, 3)
    assert (pixels(drawing) == 255).all()


def test_an_area_is_filled_to_its_edge_in_both():
    drawing = Drawing((100.0, 80.0), "t")
    ring = [[20, 10], [70, 10], [70, 50], [20, 50]]
    drawing.area(ring, "#ff0000")
    (path,) = paths(drawing)
    assert numbers(path).tolist() == ring
    assert (path.get("fill"), path.get("stroke"), path.get("d")[-1]) == ("#ff0000", None, "Z")
    red = (pixels(drawing) == [255, 0, 0]).all(axis=2)
    rows, columns = np.nonzero(red)
    assert np.array([columns.min(), columns.max() + 1, rows.min(), rows.max() + 1]) / PNG_SCALE == pytest.approx(
        [20, 70, 10, 50], abs=0.6
    )
    assert red.sum() / PNG_SCALE**2 == pytest.approx(50 * 40, rel=0.03)


@pytest.mark.parametrize("width", [1.0, 3.0, 6.0])
def test_a_line_is_as_wide_as_it_says_and_not_filled(width):
    drawing = Drawing((100.0, 60.0), "t")
    drawing.line([[10, 30], [90, 30]], "#0000ff", width)
    (path,) = paths(drawing)
    assert (path.get("fill"), path.get("stroke"), float(path.get("stroke-width"))) == ("none", "#0000ff", width)
    assert path.get("d")[-1] != "Z"
    dark = 255 - pixels(drawing)[:, 100, 0]
    # Coverage of the column through its middle, in pixels of the drawing.
    assert dark.sum() / 255 / PNG_SCALE == pytest.approx(width, abs=0.5 / PNG_OVERSIZE)
    assert np.average(np.arange(len(dark)) + 0.5, weights=dark) / PNG_SCALE == pytest.approx(30.0, abs=0.3)


def test_an_area_with_an_edge_has_its_edge_all_round():
    drawing = Drawing((100.0, 80.0), "t")
    drawing.area([[20, 20], [80, 20], [80, 60], [20, 60]], "#ffffff", edge="#000000", width=2.0)
    (path,) = paths(drawing)
    assert (path.get("stroke"), path.get("stroke-width")) == ("#000000", "2")
    dark = pixels(drawing)[:, :, 0] < 128
    for x, y in ((50, 20), (80, 40), (50, 60), (20, 40)):
        assert dark[PNG_SCALE * y, PNG_SCALE * x]
    assert not dark[PNG_SCALE * 40, PNG_SCALE * 50]


@given(
    st.lists(st.tuples(st.integers(-50, 50), st.integers(-50, 50)), min_size=2, max_size=8),
    st.floats(2, 9),
    st.floats(1, 9),
)
def test_dashes_and_gaps_lie_on_the_line_at_their_lengths(points, on, off):
    """However it bends: dash by dash the lengths along the line are those asked for, the last one what is left."""
    line = np.array(points, dtype=float)
    whole = LineString(line)
    if not 5.0 < whole.length < 400.0:
        return
    pieces = _dashes(line, on, off)
    lengths = [LineString(piece).length for piece in pieces]
    assert all(length == pytest.approx(on, abs=1e-6) for length in lengths[:-1])
    assert lengths[-1] <= on + 1e-6
    assert len(pieces) == int(np.ceil(whole.length / (on + off) - 1e-9))
    ends = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    for k, piece in enumerate(pieces):
        start = [np.interp(k * (on + off), ends, line[:, c]) for c in (0, 1)]
        assert piece[0] == pytest.approx(start, abs=1e-6)
        assert shapely.distance(shapely.points(piece), whole).max() < 1e-9


def test_a_dashed_line_is_dashed_in_both():
    drawing = Drawing((120.0, 40.0), "t")
    drawing.line([[10, 20], [110, 20]], "#000000", 2.0, dash=(6.0, 4.0))
    (path,) = paths(drawing)
    assert path.get("stroke-dasharray") == "6 4"
    dark = (pixels(drawing)[PNG_SCALE * 20, :, 0] < 128).astype(int)
    begins = np.flatnonzero(np.diff(np.concatenate([[0], dark])) == 1) / PNG_SCALE
    assert begins == pytest.approx(10.0 + 10.0 * np.arange(10), abs=0.6)
    assert dark.sum() / PNG_SCALE == pytest.approx(60.0, rel=0.05)


@pytest.mark.parametrize(("anchor", "low", "high"), [("start", 0.0, 1.0), ("middle", -0.5, 0.5), ("end", -1.0, 0.0)])
def test_words_stand_on_their_place_by_their_anchor(anchor, low, high):
    drawing = Drawing((300.0, 60.0), "t")
    drawing.words("HIDE 25", (150.0, 40.0), size=20.0, colour="#000000", anchor=anchor)
    (text,) = etree.fromstring(drawing.svg().encode()).findall(f"{SVG}text")
    assert (text.text, text.get("x"), text.get("y"), text.get("font-size")) == ("HIDE 25", "150", "40", "20")
    assert text.get("text-anchor", "start") == anchor
    rows, columns = np.nonzero(pixels(drawing)[:, :, 0] < 128)
    wide = text_width("HIDE 25", 20.0)
    assert columns.min() / PNG_SCALE == pytest.approx(150.0 + low * wide, abs=2.5)
    assert (columns.max() + 1) / PNG_SCALE == pytest.approx(150.0 + high * wide, abs=2.5)
    # Capitals stand on the line.
    assert (rows.max() + 1) / PNG_SCALE == pytest.approx(40.0, abs=1.0)


def test_bold_words_are_darker_and_widths_grow_with_the_size():
    plain, bold = Drawing((200.0, 60.0), "t"), Drawing((200.0, 60.0), "t")
    for drawing, heavy in ((plain, False), (bold, True)):
        drawing.words("edge", (20.0, 40.0), size=24.0, colour="#000000", bold=heavy)
    assert (255 - pixels(bold)).sum() > 1.1 * (255 - pixels(plain)).sum()
    assert 'font-weight="bold"' in bold.svg()
    assert 'font-weight="bold"' not in plain.svg()
    assert text_width("edge", 30.0) == pytest.approx(3.0 * text_width("edge", 10.0))
    assert text_width("edgeedge", 10.0) == pytest.approx(2.0 * text_width("edge", 10.0), rel=0.02)


def test_a_drawing_is_added_moved():
    one, other = Drawing((50.0, 50.0), "one"), Drawing((20.0, 20.0), "other")
    other.line([[1, 2], [3, 4]], "#000000", 1.0)
    other.words("w", (5.0, 6.0), size=8.0, colour="#000000")
    one.add(other, (10.0, 20.0))
    line, words = one.items
    assert isinstance(line, DrawnLine)
    assert line.points.tolist() == [[11, 22], [13, 24]]
    assert isinstance(words, DrawnText)
    assert words.at == (15.0, 26.0)
    assert other.items[1].at == (5.0, 6.0)


def test_a_ring_is_round():
    ring = ring_of((3.0, -2.0), 5.0)
    assert np.linalg.norm(ring - [3.0, -2.0], axis=1) == pytest.approx(np.full(len(ring), 5.0))
    assert ring[0] == pytest.approx(ring[-1])
    assert LineString(ring).length == pytest.approx(10.0 * np.pi, rel=1e-2)


@pytest.fixture
def told():
    """Words at four places of a block in a room that has space all round."""
    drawing = Drawing((800.0, 600.0), "t")
    block = box(300, 200, 500, 400)
    callouts = Callouts(drawing, box(0, 0, 800, 600), block)
    places = [(300.0, 300.0), (500.0, 300.0), (400.0, 200.0), (400.0, 390.0)]
    for k, place in enumerate(places):
        callouts.say(f"place {k}\nsecond line", np.array(place), colour="#333333", size=12.0 + k)
    return callouts, block, places


def test_words_cover_nothing_and_stand_in_the_room(told):
    callouts, block, _ = told
    assert len(callouts.placed) == 4
    for k, words in enumerate(callouts.placed):
        assert callouts.room.covers(words)
        assert not words.intersects(block)
        assert not any(words.intersects(other) for other in callouts.placed[:k])
        assert not any(words.intersects(leader) for leader in callouts.leaders[:k])


def test_each_leader_runs_from_its_place_to_its_words_and_through_no_others(told):
    callouts, _, places = told
    lines = [item for item in callouts.drawing.items if isinstance(item, DrawnLine) and not item.fill]
    assert len(lines) == 4
    for k, (line, place) in enumerate(zip(lines, places, strict=True)):
        assert line.points[0] == pytest.approx(place)
        assert shapely.Point(line.points[1]).distance(callouts.placed[k].exterior) < 1e-9
        assert not any(LineString(line.points).intersects(w) for j, w in enumerate(callouts.placed) if j != k)
        assert LineString(line.points).length < 200.0


def test_lines_of_words_stand_below_each_other_inside_their_box(told):
    callouts, *_ = told
    texts = [item for item in callouts.drawing.items if isinstance(item, DrawnText)]
    for k, words in enumerate(callouts.placed):
        x0, y0, x1, y1 = words.bounds
        first, second = texts[2 * k : 2 * k + 2]
        size = 12.0 + k
        assert (first.size, first.anchor, first.at[0]) == (size, "middle", pytest.approx(0.5 * (x0 + x1)))
        assert second.at[1] - first.at[1] == pytest.approx(1.2 * size)
        # Capitals (0.73 of the size) of the first and feet of the last are as far from the box's edges.
        assert first.at[1] - 0.73 * size - y0 == pytest.approx(y1 - second.at[1], abs=0.05 * size)
        assert x1 - x0 == pytest.approx(text_width("second line", size) + 2 * WORDS_ROOM)


def test_of_several_places_the_one_with_room_is_taken():
    drawing = Drawing((400.0, 300.0), "t")
    callouts = Callouts(drawing, box(200, 0, 400, 300), box(0, 0, 1, 1))
    callouts.say("here", np.array([[20.0, 150.0], [300.0, 150.0]]), colour="#000000")
    (line,) = [item for item in drawing.items if isinstance(item, DrawnLine) and not item.fill]
    assert line.points[0] == pytest.approx([300.0, 150.0])


def test_where_a_leader_could_run_clear_it_crosses_no_other():
    drawing = Drawing((600.0, 400.0), "t")
    callouts = Callouts(drawing, box(0, 0, 600, 400), box(280, 0, 320, 400))
    for place in ((290.0, 200.0), (290.0, 214.0), (310.0, 207.0)):
        callouts.say("a longer word", np.array(place), colour="#000000")
    lines = [LineString(i.points) for i in drawing.items if isinstance(i, DrawnLine) and not i.fill]
    assert len(lines) == 3
    assert not any(a.crosses(b) for k, a in enumerate(lines) for b in lines[:k])


def test_numbers_in_a_drawing_have_one_place_and_hairlines_are_seen():
    drawing = Drawing((100.04, 60.0), "t")
    drawing.line([[10.123, 30.0], [90.987, 30.06]], "#000000", 0.05)
    drawing.words("w", (5.55555, 6.66666), size=7.77777, colour="#000000")
    text = drawing.svg()
    assert 'viewBox="0 0 100 60"' in text
    assert "M10.1 30L91 30.1" in text
    assert 'x="5.6" y="6.7"' in text
    assert 'font-size="7.8"' in text
    assert (pixels(drawing)[:, 100] < 255).any()
    bare = Drawing((10.0, 10.0), "t")
    bare.area([[1, 1], [9, 1], [9, 9]], "#ff0000", width=3.0)
    assert "stroke" not in bare.svg()
    assert not (pixels(bare) == [0, 0, 0]).all(axis=2).any()


def test_a_drawing_in_inches_says_so_in_its_words():
    drawing = Drawing((10.0, 10.0), "t", unit="in")
    drawing.words("25.4 mm", (0.0, 0.0), size=3.0, colour="#000000")
    assert drawing.items[0].text == "1 in (25.4 mm)"
    assert Drawing((10.0, 10.0), "t").said("25.4 mm") == "25.4 mm"


def test_bold_words_keep_within_their_box():
    drawing = Drawing((600.0, 300.0), "t")
    callouts = Callouts(drawing, box(0, 0, 600, 300), box(0, 0, 1, 1))
    callouts.say("a heavy word of some length", np.array([300.0, 150.0]), colour="#000000", size=20.0, bold=True)
    callouts.say("a heavy word of some length", np.array([300.0, 50.0]), colour="#000000", size=20.0)
    heavy, plain = (callouts.placed[k].bounds[2] - callouts.placed[k].bounds[0] - 2 * WORDS_ROOM for k in (0, 1))
    assert plain == pytest.approx(text_width("a heavy word of some length", 20.0))
    assert 1.0 < heavy / plain < 1.1
    drawn = Drawing((600.0, 300.0), "t")
    drawn.items = [item for item in drawing.items if isinstance(item, DrawnText) and item.bold]
    rows, columns = np.nonzero(pixels(drawn)[:, :, 0] < 128)
    x0, y0, x1, y1 = callouts.placed[0].bounds
    assert x0 <= columns.min() / PNG_SCALE
    assert (columns.max() + 1) / PNG_SCALE <= x1
    assert y0 - 2.0 <= rows.min() / PNG_SCALE
    assert (rows.max() + 1) / PNG_SCALE <= y1 + 2.0


def said(room, taken, places, text="word", before=(), **more):
    drawing = Drawing((1000.0, 1000.0), "t")
    callouts = Callouts(drawing, room, taken)
    callouts.leaders += [line.buffer(1.5) for line in before]
    callouts.say(text, np.array(places, dtype=float), colour="#112233", **more)
    return callouts, [item for item in drawing.items if isinstance(item, DrawnLine)]


def test_words_stand_close_by_where_all_is_free_with_a_dot_at_their_place():
    callouts, lines = said(box(0, 0, 1000, 1000), box(0, 0, 1, 1), (500, 500))
    dot = lines[-1]
    assert (dot.fill, dot.colour) == ("#112233", "")
    assert np.linalg.norm(dot.points - [500, 500], axis=1) == pytest.approx(2.4)
    # Within the nearest ring: no farther from their place than 14 px, and in the room a word of 13 px needs.
    assert callouts.placed[0].distance(shapely.Point(500, 500)) <= 14.0
    x0, y0, x1, y1 = callouts.placed[0].bounds
    assert y1 - y0 == pytest.approx(13.0 + 2 * 3.0)
    assert x1 - x0 == pytest.approx(text_width("word", 13.0) + 2 * 3.0)
    (text,) = [item for item in callouts.drawing.items if isinstance(item, DrawnText)]
    assert text.at[1] - 0.5 * (y0 + y1) == pytest.approx(0.36 * 13.0)
    assert not text.bold


def test_a_leader_is_thin_and_keeps_others_off():
    callouts, lines = said(box(0, 600, 1000, 1000), box(0, 0, 1, 1), (500, 500))
    leader = lines[0]
    assert (leader.colour, leader.width) == ("#112233", 0.9)
    assert callouts.leaders[0].area == pytest.approx(3.0 * LineString(leader.points).length + np.pi * 1.5**2, rel=0.02)
    # Straight down is nearest; the words begin where the room does, by steps of a ring.
    assert leader.points[1][1] >= 600.0
    assert leader.points[1][1] <= 618.0 + 0.1
    assert abs(leader.points[1][0] - 500.0) < 60.0


@pytest.mark.parametrize(("longer", "taken"), [(1.2, True), (1.5, False)])
def test_a_leader_goes_round_padding_for_a_third_of_its_length_and_no_more(longer, taken):
    """Of two places with one way each: one leads 200 px over padding, the other farther and clear."""
    low = 700 + 200 * (longer - 1)
    rooms = box(480, 700, 520, 740).union(box(80, low, 120, low + 40))
    _, lines = said(rooms, box(400, 0, 1000, 699), [(500, 500), (100, 500)], "w")
    assert (lines[0].points[0][0] == 100.0) == taken


@pytest.mark.parametrize(("longer", "round_"), [(120.0, True), (180.0, False)])
def test_a_leader_crosses_another_only_to_spare_a_long_way(longer, round_):
    rooms = box(480, 560, 520, 600).union(box(80, 560 + longer, 120, 600 + longer))
    _, lines = said(
        rooms, box(0, 0, 1, 1), [(500, 500), (100, 500)], "w", before=[LineString([(400, 540), (600, 540)])]
    )
    assert (lines[0].points[0][0] == 100.0) == round_


def test_straight_above_and_below_words_stand_over_the_middle_of_their_place():
    wide = text_width("a word of some length", 13.0) + 2 * WORDS_ROOM
    band = box(500 - 0.5 * wide - 1, 0, 500 + 0.5 * wide + 1, 1000)
    callouts, _ = said(band, box(0, 499, 1000, 501), (500, 500), "a word of some length")
    (words,) = callouts.placed
    assert band.covers(words)
    assert words.distance(shapely.Point(500, 500)) <= 14.0
