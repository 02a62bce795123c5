"""Parts of a cut's drawing and its words, each on lines so plain that every place is known."""

from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from shapely.geometry import Point, Polygon, box

from flatten.draw.drawing import Drawing, DrawnLine, DrawnText
from flatten.sections import drawing as drawings
from flatten.sections import names
from flatten.sections.drawing import LYING, PANEL, STANDING, _frame_of_close, _rows, _views
from flatten.sections.gauges import _card
from flatten.sections.names import LARGEST_MM, _in_view, _scale, _within, length
from flatten.sections.parts import Ground, layer_row, layer_words, nearest
from flatten.sections.section import PadCut, _points, _radius, section_dict, section_text
from flatten.sections.window import View
from tests.pads import FLAT, sheet_of

RECT = (10.0, 20.0, 400.0, 300.0)
VIEW = View(RECT, np.array([0.0, 0.0]), 2.0, False)


def test_the_rectangle_of_the_close_view_is_where_that_view_looks():
    whole, close = (
        View(RECT, np.array([0.0, 0.0]), 1.0, False),
        View((0.0, 0.0, 200.0, 100.0), np.array([50.0, 60.0]), 4.0, False),
    )
    drawing = Drawing((500.0, 500.0), "t")
    _frame_of_close(drawing, whole, close)
    (frame,) = drawing.items
    # From (50, 60) on, 200 / 4 mm wide and 100 / 4 high; y counts down from 320.
    assert frame.points.tolist() == [[60.0, 260.0], [110.0, 260.0], [110.0, 235.0], [60.0, 235.0]]
    assert (frame.width, frame.fill) == (1.0, "#f1eee8")
    outside = View((0.0, 0.0, 4000.0, 100.0), np.array([-50.0, 290.0]), 4.0, False)
    _frame_of_close(drawing, whole, outside)
    assert drawing.items[1].points.tolist() == [[10.0, 30.0], [410.0, 30.0], [410.0, 20.0], [10.0, 20.0]]


@pytest.mark.parametrize(("scale", "mm"), [(1.0, 50.0), (0.9, 50.0), (0.8, 100.0), (0.3, 200.0), (0.1, 500.0)])
def test_a_scale_is_more_than_forty_pixels_long_and_lies_where_it_covers_least(scale, mm):
    view, drawing = View(RECT, np.zeros(2), scale, False), Drawing((500.0, 500.0), "t")
    held = _scale(drawing, view, Polygon())
    line, middle, words = drawing.items
    x, y = 10.0 + 4.0 + 8.0, 320.0 - 12.0
    wide = mm * scale
    assert line.points == pytest.approx(np.array([[x, y - 5], [x, y], [x + wide, y], [x + wide, y - 5]]))
    assert middle.points == pytest.approx(np.array([[x + 0.5 * wide, y - 3], [x + 0.5 * wide, y]]))
    assert (words.text, words.anchor, words.size) == (f"{mm:g} mm", "middle", 12.0)
    assert words.at == pytest.approx((x + 0.5 * wide, y - 8))
    assert held.bounds == pytest.approx((14.0, y - 26, 14.0 + wide + 16.0, y + 6))
    assert {item.width for item in (line, middle)} == {1.4}
    right = _scale(Drawing((500.0, 500.0), "t"), view, box(0, 0, 200, 400))
    assert right.bounds[0] == pytest.approx(10.0 + 400.0 - wide - 20.0)
    inch = Drawing((500.0, 500.0), "t", unit="in")
    _scale(inch, View(RECT, np.zeros(2), 1.0, False), Polygon())
    assert np.ptp(inch.items[0].points[:, 0]) == pytest.approx(50.8)


def test_what_a_view_shows_lies_six_pixels_within_its_rim():
    points = np.array(
        [[2.0, 50.0], [4.0, 50.0], [100.0, 50.0], [196.0, 50.0], [198.0, 50.0], [100.0, 146.0], [100.0, 148.0]]
    )
    assert _in_view(VIEW, points).tolist() == [1, 2, 3, 5]
    assert _within(np.array([1, 4, 5, 9]), slice(4, 9)).tolist() == [4, 5]
    assert length(12.4) == "12"
    assert length(np.inf).startswith("over ")


def shown(*, free=(20.0, 9.0), rest=(15.0, 9.0), settled=True, layers=2, **more):
    """A level cut of 41 places 10 mm apart with layers of even thickness."""
    x = np.linspace(0.0, 400.0, 41)
    level = np.column_stack([x, np.zeros(41)])
    tops = np.cumsum(rest[:layers])
    after = np.stack([level + np.array([0.0, top]) for top in tops])
    thick = [np.repeat(np.array(one[:layers])[:, None], 41, axis=1) for one in (free, rest)]
    cut = SimpleNamespace(
        ground=level, support=level, cover=after[-1], free=level + np.array([0.0, sum(free[:layers])]), after=after,
        layer_mm=lambda: thick, settled=object() if settled else None,
        ridges=(SimpleNamespace(side="front"), SimpleNamespace(side="rear")),
    )  # fmt: skip
    ridge = SimpleNamespace(at=(200.0, float(tops[-1])), side="front", radius_mm=25.0, hard_line_deg=4.0)
    pad = SimpleNamespace(
        layers=[SimpleNamespace(thickness=t, material="foam_medium", block=None) for t in free[:layers]]
    )
    given = {"cut": cut, "ridge": ridge, "pad": pad, "lifts": (), "words": "as measured", **more}
    return SimpleNamespace(**given)


def test_layers_are_told_free_and_under_the_cover():
    one = shown()
    assert layer_words(one.pad.layers[0]) == "20 mm foam medium"
    assert layer_row(one, 0) == "at the front 20.0 mm, under the cover 15.0 mm, crushed 25 %"
    assert layer_row(one, 1) == "at the front 9.0 mm, under the cover 9.0 mm, crushed 0 %"
    assert layer_row(shown(settled=False), 0) == "at the front 20.0 mm, under the cover 15.0 mm"
    assert layer_row(shown(free=(0.49, 9.0)), 0) == "not at the front"
    slab = '[[pad.layer]]\nmaterial = "foam_firm"\nthickness = 20\nwhere = "face"\nform = "block"\noverhang = {}\n'
    block = shown(free=(0.49, 0.49))
    block.pad = sheet_of(FLAT + slab.format(0) + slab.format(-60)).pads[0]
    assert layer_row(block, 0) == "a block, which stands on its own edge at the front"
    assert layer_row(block, 1) == "not at the front"
    assert layer_row(shown(free=(0.51, 9.0), rest=(0.51, 9.0)), 0).startswith("at the front 0.5 mm")
    assert nearest(np.array([[0.0, 0.0], [9.0, 0.0], [5.0, 1.0]]), np.array([6.0, 0.0])) == 2
    rows = _rows(one, "mm")
    assert rows == [[f"{layer_words(layer)}: {layer_row(one, k)}"] for k, layer in enumerate(one.pad.layers)]
    one.pad.layers[0].material = "foam_of_a_very_long_name_that_takes_a_line_of_its_own_in_the_drawing"
    assert len(_rows(one, "mm")[0]) == 2
    assert "in (" in _rows(one, "in")[1][0]


def test_views_hold_the_whole_cut_and_its_ridge_in_one_scale_for_all_states():
    states = [shown(), shown(rest=(18.0, 9.0))]
    for standing, rects in ((False, LYING), (True, STANDING)):
        whole, close = _views(states, standing)
        assert (whole.rect, close.rect) == rects
        for view in (whole, close):
            assert view.rect[0] + view.rect[2] <= PANEL
        assert close.scale > whole.scale
        for one in states:
            for line in (one.cut.cover, one.cut.free, one.cut.support):
                assert whole.window.covers(shapely.MultiPoint(whole(line)))
        assert close.window.contains(Point(close(np.array(states[0].ridge.at))[0]))
    # The close view reaches 105 mm along the cover to both sides, with room for words all round.
    _, close = _views(states[:1], False)
    ends = close(np.array([[100.0, 24.0], [300.0, 24.0]]))[:, 0]
    assert (ends - [LYING[1][0], LYING[1][0] + LYING[1][2]]) == pytest.approx([78.0, -78.0])


@pytest.mark.parametrize(("high", "part"), [(200.0, 80.0), (60.0, 24.0)])
def test_a_card_lies_outside_its_line_at_its_full_width(high, part):
    line = np.array([[0.0, 0.0], [0.0, high], [high, high]])
    outline = Polygon(_card(line))
    assert outline.exterior.is_ccw
    # To the left of the line's way, 60 mm wide; the inner side is the line itself.
    assert outline.distance(Point(10.0, high - 10.0)) == pytest.approx(10.0, abs=0.2)
    assert outline.contains(Point(-30.0, 0.5 * high))
    assert outline.contains(Point(0.5 * high, high + 30.0))
    assert outline.bounds == pytest.approx((-60.0, 0.0, high, high + 60.0), abs=0.2)
    assert outline.area == pytest.approx(2 * 60.0 * high + 0.25 * np.pi * 60.0**2, rel=0.01)
    assert part < outline.area


def test_springs_boards_and_gaps_are_drawn_each_in_its_way(monkeypatch):
    one = shown()
    kinds = np.array(["board"] * 10 + ["gap"] * 5 + ["springs"] * 16 + ["gap"] * 5 + ["frame"] * 5, dtype="<U8")
    ground = Ground(kinds, ("front", "rear"))
    one.pad.sides = {"front": SimpleNamespace(cloth=True, gap=50.0), "rear": SimpleNamespace(cloth=False, gap=40.0)}
    view, drawing = View((0.0, 0.0, 820.0, 300.0), np.array([-5.0, -60.0]), 2.0, False), Drawing((900.0, 300.0), "t")
    solid = drawings._ground(drawing, one, ground, view)
    lines = [item for item in drawing.items if isinstance(item, DrawnLine)]
    bands = [line for line in lines if line.fill]
    assert len(bands) == 2
    for band, (low, high) in zip(bands, ((0.0, 90.0), (360.0, 400.0)), strict=True):
        x = view(np.array([[low, 0.0], [high, 0.0]]))[:, 0]
        assert [band.points[:, 0].min(), band.points[:, 0].max()] == pytest.approx(list(x), abs=0.6)
        # Below the line, 4.5 px at two pixels a millimetre.
        assert np.ptp(band.points[:, 1]) == pytest.approx(4.5, abs=0.1)
        assert band.points[:, 1].min() == pytest.approx(view(np.array([[0.0, 0.0]]))[0, 1], abs=0.1)
    colours = {line.colour for line in lines}
    assert {drawings.SUPPORT, drawings.CLOTH, drawings.GAP} <= colours
    (cloth,) = [line for line in lines if line.colour == drawings.CLOTH]
    (gap,) = [line for line in lines if line.colour == drawings.GAP]
    assert (cloth.width, cloth.dash, gap.width, gap.dash) == (3.0, None, 1.6, (2.0, 4.0))
    assert cloth.points[:, 0].max() < gap.points[:, 0].min()
    springs = [line for line in lines if not line.fill and line.colour == drawings.SUPPORT]
    assert [line.width for line in springs].count(2.0) == 1
    assert len(springs) > 4
    assert all(not shape.is_empty for shape in solid[:2])
    assert solid[0].area > bands[0].points.shape[0]


def test_no_circle_is_drawn_for_a_line_that_is_nearly_straight():
    for radius, drawn in ((25.0, True), (LARGEST_MM - 1.0, True), (LARGEST_MM + 1.0, False), (np.inf, False)):
        one = shown()
        one.ridge.radius_mm = radius
        drawing = Drawing((900.0, 900.0), "t")
        view = View((0.0, 0.0, 900.0, 900.0), np.array([-20.0, -300.0]), 1.0, False)
        kept = drawings._radius(drawing, one, view)
        assert (not kept.is_empty) == drawn
        if radius == 25.0:
            circle, spoke = drawing.items
            middle = view(np.array([[200.0, 24.0 - 25.0]]))[0]
            assert np.linalg.norm(circle.points - middle, axis=1) == pytest.approx(25.0, abs=0.3)
            assert spoke.points == pytest.approx(view(np.array([[200.0, -1.0], [200.0, 24.0]])))
            assert (circle.width, spoke.width) == (1.4, 1.4)


def test_everything_in_the_close_view_is_named_once(monkeypatch):
    said = []

    class Heard:
        def __init__(self, drawing, room, taken):
            self.room = room

        def say(self, text, places, **looks):
            said.append((text, np.atleast_2d(places), looks))

    monkeypatch.setattr(names, "Callouts", Heard)
    one = shown(lifts=(SimpleNamespace(at=(150.0, 24.0), gap_mm=3.26), SimpleNamespace(at=(5000.0, 24.0), gap_mm=9.0)))
    kinds = np.array(["board"] * 10 + ["gap"] * 8 + ["springs"] * 23, dtype="<U8")
    one.pad.sides = {"front": SimpleNamespace(cloth=False, gap=80.0)}
    view = View((0.0, 0.0, 840.0, 400.0), np.array([-10.0, -60.0]), 2.0, False)
    names.name_all(Drawing((900.0, 400.0), "t"), one, Ground(kinds, ("front", "rear")), view, [Polygon()])
    words = [text for text, *_ in said]
    assert words == [
        "R 25 mm",
        "lifts 3.3 mm",
        "9 mm foam medium",
        "20 mm foam medium",
        "open gap\n80 mm",
        "springs",
        "board",
        "cover",
    ]
    places = dict(zip(words, (at for _, at, _ in said), strict=True))
    back = lambda at: np.column_stack([at[:, 0] / 2.0 - 10.0, (400.0 - at[:, 1]) / 2.0 - 60.0])  # noqa: E731
    assert back(places["R 25 mm"])[0] == pytest.approx([200.0, 24.0])
    # Words of a layer point half way into it, of the ground onto it, of the cover onto that.
    assert back(places["9 mm foam medium"])[:, 1] == pytest.approx(15.0 + 4.5)
    assert back(places["20 mm foam medium"])[:, 1] == pytest.approx(7.5)
    for word in ("springs", "board", "open gap\n80 mm"):
        assert back(places[word])[:, 1] == pytest.approx(0.0)
    assert back(places["board"])[:, 0].max() <= 90.0
    assert back(places["open gap\n80 mm"])[:, 0].min() >= 100.0
    assert back(places["cover"])[:, 1] == pytest.approx(24.0)
    looks = {text: more for text, _, more in said}
    assert looks["R 25 mm"] == {"colour": names.RADIUS, "size": 16.0, "bold": True}
    assert looks["open gap\n80 mm"]["colour"] == names.GAP
    thin = shown(free=(20.0, 0.19), rest=(15.0, 0.19))
    said.clear()
    thin.pad.sides = one.pad.sides
    thin.ridge.radius_mm = np.inf
    names.name_all(
        Drawing((900.0, 400.0), "t"),
        thin,
        Ground(np.full(41, "frame", dtype="<U8"), ("front", "rear")),
        view,
        [Polygon()],
    )
    assert [text for text, *_ in said] == ["20 mm foam medium", "frame", "cover"]


# ---- figures --------------------------------------------------------------------------------------------------------


def compared(**more):
    ridge = SimpleNamespace(side="front", hard_line_deg=3.14159, radius_mm=22.4, gap=None, at=(0.0, 0.0))
    given = {
        "name": "along 0", "ridge": ridge, "ridge_bare": SimpleNamespace(hard_line_deg=20.0), "lifts": (),
        "ridge_radius_bare_mm": 12.34567, "ridge_radius_mm": 10_000.0, "proposal": None, **more,
    }  # fmt: skip
    return SimpleNamespace(**given)


def test_figures_of_a_cut_are_rounded_and_straight_lines_have_no_radius():
    lift = SimpleNamespace(at=(1.23456, 7.0), gap_mm=2.34567)
    told = section_dict(compared(lifts=(lift,)))
    assert told["ridge_radius_bare_mm"] == 12.346
    assert told["ridge_radius_mm"] is None
    assert (told["hard_line_deg"], told["hard_line_bare_deg"], told["side"]) == (3.142, 20.0, "front")
    assert told["lifts"] == [{"at": [1.23, 7.0], "gap_mm": 2.346}]
    assert [_radius(x) for x in (9999.0, 10_001.0, np.inf, np.nan)] == [9999.0, None, None, None]
    assert _points(np.array([[1.23456, 2.0]])) == [[1.235, 2.0]]
    layer = SimpleNamespace(material="foam_soft", thickness=10.0, where="front", within=60.0, taper=20.0)
    made = SimpleNamespace(
        side="front", wanted_mm=30.0, reached=True, ridge=compared().ridge, cloth=False, crushed=(0.1, 0.31415926),
        layers=[layer], text="lay it",
    )  # fmt: skip
    told = section_dict(compared(proposal=made))["proposal"]
    assert told["foam_compression_max"] == 0.314159
    assert told["layers"] == [
        {"material": "foam_soft", "thickness_mm": 10.0, "where": "front", "within_mm": 60.0, "taper_mm": 20.0}
    ]
    assert (told["ridge_radius_mm"], told["hard_line_deg"], told["reached"]) == (22.4, 3.142, True)
    made.crushed = None
    assert section_dict(compared(proposal=made))["proposal"]["foam_compression_max"] is None


def test_figures_of_a_cut_in_words():
    level = np.column_stack([np.linspace(0.0, 100.0, 11), np.zeros(11)])
    settled = SimpleNamespace(compression=np.array([[0.2] * 11, [0.1] * 11]).T, spring_mm=np.array([0.0, 3.26]))
    section = SimpleNamespace(
        ridge=compared().ridge,
        settled=settled,
        support=level,
        thickness_mm=np.array([[12.0, 20.0], [9.0, 3.0]]),
    )
    bare = SimpleNamespace(ridge=SimpleNamespace(side="front", radius_mm=np.inf, hard_line_deg=9.0), settled=None)
    cut = compared(bare=bare, padded=section, lifts=(SimpleNamespace(at=(12.4, 3.0), gap_mm=2.34),))
    sprung = SimpleNamespace(name="seat", springs=object())
    sheet = SimpleNamespace(name="bench", unit="mm", pads=[sprung])
    lines = section_text(PadCut(sheet, "seat", 0.08, cut)).splitlines()
    assert lines[0] == "seat, cut along 0 mm, cover pulled with 80 N/m"
    assert lines[1].split() == [
        "as",
        "measured,",
        "first",
        "layer",
        "only",
        "front",
        "radius",
        "straight",
        "hard",
        "line",
        "9.0",
        "deg",
    ]
    assert lines[2].split() == [
        "as",
        "the",
        "sheet",
        "pads",
        "it",
        "front",
        "radius",
        "22",
        "mm",
        "hard",
        "line",
        "3.1",
        "deg",
    ]
    assert lines[3].strip() == "layers crushed at most: 20 mm by 20 %, 9 mm by 10 %; springs down 3.3 mm"
    assert lines[4].strip().startswith("lifts off the padding by 2.3 mm at 12")
    section.thickness_mm = np.array([[0.0, 0.0], [9.0, 3.0]])
    assert "crushed at most: 9 mm by 10 %;" in section_text(PadCut(sheet, "seat", 0.08, cut)), "one layer is not there"
    sprung.springs = None
    assert "springs" not in section_text(PadCut(sheet, "seat", 0.08, cut))
    assert isinstance(DrawnText("t", (0.0, 0.0), 1.0, ""), DrawnText)
