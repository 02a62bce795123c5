"""Where bands part, against bodies whose measures are known: cylinder, cone, boxes, a bullnose; mirror images."""

import math
import re

import numpy as np
import pytest

import flatten
from meshes.base.problems import ProblemError
from meshes.base.surface import curve_length, triangle_areas
from meshes.seat.panels import PanelRole
from meshes.support.line_roles import LineRole
from tests.pads import built

PAD = """
name = "test"
unit = "{unit}"
[[pad]]
name = "pad"
kind = "cushion"
[pad.outline]
{outline}
[pad.sides]
front = {{ drop = {drop}, edge_radius = {edge}, turn = {turn}, band = true }}
right = {{ drop = {drop}, edge_radius = {edge}, turn = {turn}, band = true }}
rear = {{ drop = {drop}, edge_radius = {edge}, turn = {turn}, band = true }}
left = {{ drop = {drop}, edge_radius = {edge}, turn = {turn}, band = true }}
"""
ALL_ROUND = '[pad.bands]\ncorners = "none"\njoins = [[0, 360]]\n'
DRUM = 'shape = "round"\nwidth = 360'


def pad_of(outline, more, *, drop=90.0, edge=0.2, turn=90.0, edge_mm=10.0, unit="mm"):
    return built(PAD.format(outline=outline, drop=drop, edge=edge, turn=turn, unit=unit) + more, edge_mm=edge_mm)


def bands_of(pad):
    return {panel.part: panel for panel in pad.panels if panel.role is PanelRole.BAND}


def area(panel):
    return triangle_areas(panel.surface.vertices, panel.surface.triangles).sum()


def tacked(panel):
    return sum(curve_length(panel.surface.vertices[e.vertices]) for e in panel.rim if e.role is LineRole.TACK)


def laid_flat(panel):
    """The piece's points in the order of its tack line, and those of its edge seam."""
    flat = flatten.flatten(panel.surface.vertices, panel.surface.triangles)
    assert flat.demand < 1e-3
    runs = [e.vertices for e in panel.rim if e.role is LineRole.TACK]
    (seam,) = [e.vertices for e in panel.rim if e.role is LineRole.EDGE]
    return flat.points[np.concatenate(runs)], flat.points[seam]


def test_one_band_round_a_cylinder_is_one_rectangle():
    (band,) = bands_of(pad_of(DRUM, ALL_ROUND, edge=0.02)).values()
    assert [edge.role for edge in band.rim].count(LineRole.JOIN) == 2
    below, above = laid_flat(band)
    along = (below[-1] - below[0]) / np.linalg.norm(below[-1] - below[0])
    across = np.array([-along[1], along[0]])
    assert np.linalg.norm(below[-1] - below[0]) == pytest.approx(math.pi * 360.0, rel=1e-3)
    high = np.abs((above - below[0]) @ across)
    assert high == pytest.approx(90.0, abs=0.2)
    assert np.ptp(below @ across) < 0.2


def test_one_band_round_a_cone_is_one_sector():
    """Sides that run out by 15 degrees: tack line and seam are arcs about the tip of the cone."""
    (band,) = bands_of(pad_of(DRUM, ALL_ROUND, edge=0.02, turn=75.0)).values()
    out = 90.0 * math.sin(math.radians(15.0))
    tip = (180.0 + out) / math.sin(math.radians(15.0))
    below, above = laid_flat(band)
    for run, radius in ((below, tip), (above, tip * 180.0 / (180.0 + out))):
        # Circle through the points: |p|^2 = 2 c p + (r^2 - |c|^2).
        rows = np.column_stack([2.0 * run, np.ones(len(run))])
        x, y, rest = np.linalg.lstsq(rows, (run**2).sum(axis=1), rcond=None)[0]
        assert math.sqrt(rest + x * x + y * y) == pytest.approx(radius, rel=1e-3)
    assert area(band) == pytest.approx(
        0.5 * tip**2 * (1 - (180.0 / (180.0 + out)) ** 2) * 2 * math.pi * math.sin(math.radians(15.0)), rel=2e-3
    )


def test_the_strip_of_a_bullnose_cushion_has_the_length_of_the_trade_rule():
    """20 x 4 in, seen from its side: from rear edge over the top, round the front and back below, net
    2 L + (pi / 2 - 1) T = 42.283 in; both gables are the section, a rectangle with half a circle in front."""
    outline = 'shape = "d"\nwidth = 4\ndepth = 20\nside = "rear"'
    more = '[pad.bands.corners]\nfront_left = "none"\nfront_right = "none"\n'
    pad = pad_of(outline, more, drop=10.0, edge=0.002, edge_mm=4.0, unit="in")
    bands = bands_of(pad)
    assert set(bands) == {"front band", "rear band"}
    assert tacked(bands["front band"]) / 25.4 == pytest.approx(42.283, rel=1e-3)
    assert tacked(bands["rear band"]) / 25.4 == pytest.approx(4.0, rel=1e-3)
    (gable,) = [panel for panel in pad.panels if panel.role is PanelRole.FACE]
    assert area(gable) / 25.4**2 == pytest.approx(18.0 * 4.0 + 0.5 * math.pi * 2.0**2, rel=1e-3)


BOX = "front_width = 400\nrear_width = 400\ndepth = 300\ncorner_radius = 50"
QUARTER = 0.5 * math.pi * 50.0


@pytest.mark.parametrize(
    ("word", "share"), [(None, 0.5), ("middle", 0.5), ("sides", 0.0), ("ends", 1.0)], ids=lambda value: str(value)
)
def test_corners_belong_to_the_bands_the_sheet_says(word, share):
    bands = bands_of(pad_of(BOX, f'[pad.bands]\ncorners = "{word}"\n' if word else "", edge_mm=6.0))
    for name, run in (("front band", 300.0), ("rear band", 300.0)):
        assert tacked(bands[name]) == pytest.approx(run + 2.0 * share * QUARTER, abs=0.2)
    for name in ("left band", "right band"):
        assert tacked(bands[name]) == pytest.approx(200.0 + 2.0 * (1.0 - share) * QUARTER, abs=0.2)
    assert area(bands["left band"]) == area(bands["right band"])


def test_a_band_goes_on_round_the_front_and_is_joined_at_the_rear_corners():
    more = '[pad.bands.corners]\nfront_left = "none"\nfront_right = "none"\nrear_left = "ends"\nrear_right = "ends"\n'
    bands = bands_of(pad_of(BOX, more, edge_mm=6.0))
    assert tacked(bands["front band"]) == pytest.approx(300.0 + 2.0 * QUARTER + 400.0, abs=0.3)
    assert tacked(bands["rear band"]) == pytest.approx(300.0 + 2.0 * QUARTER, abs=0.2)


CROOKED = "front_left = {}\nfront_right = {}\nrear_left = {}\nrear_right = {}\ndepth = 300\ncorner_radius = 40\n"
PARTED = '[pad.bands]\ncorners = {{ front_{} = "sides", rear_{} = "ends", rear_{} = "none" }}\njoins = [[{}, 0]]\n'
INSET = '[pad.inset]\nmargin = 60\nbolsters = "{}"\n'


@pytest.mark.parametrize("inset", ["", INSET.format("ends"), INSET.format("sides")], ids=["plain", "ends", "sides"])
def test_a_mirrored_sheet_gives_mirrored_pieces(inset):
    one = pad_of(CROOKED.format(200, 180, 170, 190), PARTED.format("left", "right", "left", 50) + inset, edge=8)
    other = pad_of(CROOKED.format(180, 200, 190, 170), PARTED.format("right", "left", "right", -50) + inset, edge=8)
    assert len(one.panels) == len(other.panels)
    for panel in one.panels:
        turned = panel.surface.vertices * [-1.0, 1.0, 1.0]
        gaps = [
            np.linalg.norm(turned[:, None] - q.surface.vertices[None], axis=2).min(axis=1).max() for q in other.panels
        ]
        image = other.panels[int(np.argmin(gaps))]
        assert min(gaps) < 1e-6
        assert area(image) == pytest.approx(area(panel), rel=1e-9)
        assert len(image.rim) == len(panel.rim)


def test_inches_give_the_same_pieces():
    join = '[pad.bands]\ncorners = "none"\njoins = [[{}, {}]]\n'
    one = pad_of('shape = "round"\nwidth = 254', join.format(0, 254), drop=50.8, edge=2.54)
    other = pad_of('shape = "round"\nwidth = 10', join.format(0, 10), drop=2, edge=0.1, unit="in")
    for a, b in zip(one.panels, other.panels, strict=True):
        assert a.name == b.name
        assert np.abs(a.surface.vertices - b.surface.vertices).max() < 1e-9


@pytest.mark.parametrize(
    ("word", "front", "side"), [("sides", 280.0 * 60.0, 300.0 * 60.0), ("ends", 400.0 * 60.0, 180.0 * 60.0)]
)
def test_butted_bolsters_are_rectangles(word, front, side):
    outline = "front_width = 400\nrear_width = 400\ndepth = 300"
    parts = {panel.part: panel for panel in pad_of(outline, INSET.format(word), edge=0.02).panels}
    assert area(parts["front bolster"]) == pytest.approx(front, rel=1e-3)
    assert area(parts["rear bolster"]) == pytest.approx(front, rel=1e-3)
    assert area(parts["left bolster"]) == pytest.approx(side, rel=1e-3)
    assert area(parts["inset"]) == pytest.approx(280.0 * 180.0, rel=1e-3)


def test_a_join_in_a_side_tells_both_parts_apart():
    bands = bands_of(pad_of(BOX, "[pad.bands]\njoins = [[0, 300]]\n", edge=10))
    assert set(bands) == {"front band", "left band", "right band", "left rear band", "right rear band"}


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ("[pad.bands]\njoins = [[0, 150]]\n", r"G116 .*150 mm off the outline; the nearest place"),
        ("[pad.bands]\njoins = [[150, 0]]\n", r"G117 .*leave 39 mm of a band at \[150, 0\]"),
    ],
)
def test_bands_that_cannot_be_cut_are_refused(more, told):
    with pytest.raises(ProblemError, match=told):
        pad_of(BOX, more, edge=10)


def test_a_join_on_a_side_without_band_is_refused():
    text = PAD.format(outline=BOX, drop=90, edge=10, turn=90, unit="mm").replace("band = true", "band = false", 1)
    with pytest.raises(ProblemError, match=r"G116 .*is on the front side, which has no band"):
        built(text + "[pad.bands]\njoins = [[0, 0]]\n")


LONG = "front_width = {}\nrear_width = {}\ndepth = 600\ncorner_radius = 50"


def notes_of(pad):
    return {p.text.split(" is ")[0]: p for p in pad.problems if p.code == "G189"}


def told_places(problem):
    return [tuple(map(float, at)) for at in re.findall(r"\[(-?\d+), (-?\d+)\]", problem.text.partition("joins = ")[2])]


def test_a_band_that_is_too_long_is_told_with_joins_away_from_its_middle():
    notes = notes_of(pad_of(LONG.format(1500, 1500), "", edge_mm=40.0))
    assert set(notes) == {"the front band", "the rear band"}
    assert notes["the front band"].warning
    # 1400 of its runs and half of both corners: three even parts, none with a join in the middle.
    third = (1400.0 + 50.0 * math.pi / 2.0) / 6.0
    assert told_places(notes["the front band"]) == [(-round(third), 0.0), (round(third), 0.0)]
    assert notes_of(pad_of(LONG.format(1380, 1380), "", edge_mm=40.0)) == {}


def test_a_band_round_front_and_sides_is_joined_at_the_rear_corners_first():
    """900 and twice 600 mm and the whole of the rear: the corners behind part it into pieces short enough but the front
    one, which is joined twice; with these joins nothing is told."""
    more = '[pad.bands]\ncorners = "none"\njoins = [{}]\n'
    text = LONG.format(900, 900)
    note = notes_of(pad_of(text, more.format("[0, 600]"), edge_mm=30.0))["the band"]
    places = told_places(note)
    behind = sorted(x for x, y in places if y > 570.0)
    assert behind == pytest.approx([-435.0, 435.0], abs=1.0)
    assert all(abs(x) > 100.0 for x, y in places if y == 0.0)
    joins = ", ".join(f"[{x}, {y}]" for x, y in places)
    assert notes_of(pad_of(text, more.format(joins), edge_mm=30.0)) == {}
