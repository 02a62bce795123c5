"""A proposed cut made real: pads stay whole, seams meet, mirrored panels are cut alike."""

import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon

from flatten.demand.develop import flatten
from flatten.demand.options import Options
from flatten.draw.marks import draw_piece
from flatten.draw.pen import PenLayer, RecordingPen
from flatten.pieces.pattern import pieces_of
from flatten.relief.candidates import Candidate
from flatten.relief.cutting import mapped
from flatten.relief.recut import part_words, recut
from flatten.relief.search import ReliefTask, cut_as, relieve
from meshes.base.surface import boundary_loops, curve_length, is_disc, triangle_areas
from meshes.sheet.whole import Allowance
from tests.pads import FLAT, built

DOMED = (
    FLAT
    + """
[[pad.profile]]
direction = "along"
at = 0
points = [[0, 0], [80, 34], [160, 40], [240, 20], [300, -4]]
[[pad.profile]]
direction = "along"
at = 150
points = [[0, 0], [80, 14], [160, 16], [240, 8], [300, -4]]
[pad.inset]
front = 0
rear = 0
left = 90
right = 90
corner_radius = 30
"""
)


@pytest.fixture(scope="module")
def pad():
    return built(DOMED, edge_mm=14.0)


def panel_of(pad, part):
    return next(p for p in pad.panels if p.part == part)


def cut(panel, kind, places):
    """A dart or a seam through places of the panel given as shares of its flat map's box."""
    vertices, triangles = panel.surface.vertices, panel.surface.triangles
    plan = flatten(vertices, triangles).points
    low, size = plan.min(axis=0), np.ptp(plan, axis=0)
    line = tuple(low + size * np.array(place) for place in places)
    relief = cut_as(
        mapped(vertices, triangles, plan), Candidate(kind, kind, (line,), False), 0.0, np.ones(len(vertices), bool)
    )
    assert relief is not None
    return panel.part, relief


def proposed(panel):
    """The shortest proposal for a panel."""
    vertices, triangles = panel.surface.vertices, panel.surface.triangles
    return panel.part, relieve(ReliefTask(vertices, triangles, flatten(vertices, triangles).points)).reliefs[0]


@pytest.fixture(scope="module")
def cuts(pad):
    """(part, cut): a dart and a seam in a panel across the centre line and in one of a mirrored pair."""
    inset, bolster = panel_of(pad, "inset"), panel_of(pad, "right bolster")
    assert [p.part for p in pad.panels if p.mirror_of == bolster.name] == ["left bolster"]
    return [
        cut(inset, "dart", ((0.5, 0.5), (0.45, 0.0))),
        cut(inset, "seam", ((0.0, 0.6), (1.0, 0.5))),
        proposed(bolster),
        cut(bolster, "seam", ((0.4, 0.0), (0.55, 1.0))),
    ]


def test_there_is_a_dart_and_a_seam_in_either(cuts):
    assert [relief.kind for _, relief in cuts] == ["dart", "seam", "dart", "seam"]


def test_all_panels_are_discs_and_cover_the_pad_once(pad, cuts):
    for part, relief in cuts:
        new = recut(pad, panel_of(pad, part).name, relief)
        rows = np.concatenate([p.triangles for p in new.panels])
        assert sorted(rows.tolist()) == list(range(len(new.surface.triangles)))
        for panel in new.panels:
            assert is_disc(panel.surface.triangles)
            own = np.sort(panel.vertices[panel.surface.triangles], axis=1)
            assert np.array_equal(own, np.sort(new.surface.triangles[panel.triangles], axis=1))
            assert np.allclose(panel.surface.vertices, new.surface.vertices[panel.vertices], atol=1e-9)
        before = triangle_areas(pad.surface.vertices, pad.surface.triangles).sum()
        assert triangle_areas(new.surface.vertices, new.surface.triangles).sum() == pytest.approx(before, rel=1e-9)


def test_edges_go_once_round_every_panel(pad, cuts):
    for part, relief in cuts:
        for panel in recut(pad, panel_of(pad, part).name, relief).panels:
            loop = boundary_loops(panel.surface.triangles)[0]
            walked = np.concatenate([edge.vertices[:-1] for edge in panel.rim])
            at = int(np.flatnonzero(loop == walked[0])[0])
            assert np.array_equal(walked, np.roll(loop, -at))
            ends = [edge.vertices[-1] for edge in panel.rim]
            assert ends == [edge.vertices[0] for edge in (*panel.rim[1:], panel.rim[0])]


def test_both_sides_of_every_seam_are_the_same_line(pad, cuts):
    for part, relief in cuts:
        new = recut(pad, panel_of(pad, part).name, relief)
        assert len({seam.name for seam in new.seams}) == len(new.seams)
        for seam in new.seams:
            sides = [(p, e) for p in new.panels for e in p.rim if e.seam == seam.name]
            assert sorted(p.name for p, _ in sides) == sorted([seam.a, seam.b])
            (a, one), (b, two) = sides
            assert np.array_equal(a.vertices[one.vertices], seam.vertices)
            assert np.array_equal(b.vertices[two.vertices], seam.vertices[::-1])
            if seam.a != seam.b:
                assert (one.name, two.name) == (b.part, a.part)


def test_a_dart_is_a_seam_of_the_panel_with_itself(pad, cuts):
    part, relief = cuts[0]
    new = recut(pad, panel_of(pad, part).name, relief)
    own = [seam for seam in new.seams if seam.a == seam.b == panel_of(pad, part).name]
    assert len(own) == len(relief.paths)
    length = sum(curve_length(new.surface.vertices[seam.vertices]) for seam in own)
    assert length == pytest.approx(relief.length_mm, rel=1e-12)


def test_a_neighbour_has_a_corner_where_a_cut_meets_it(pad, cuts):
    for part, relief in cuts:
        panel = panel_of(pad, part)
        new = recut(pad, panel.name, relief)
        for path in relief.paths:
            for end in path[[0, -1]] if relief.kind == "seam" else path[-1:]:
                number = panel.vertices[end]
                for other in new.panels:
                    inner = [other.vertices[edge.vertices[1:-1]] for edge in other.rim]
                    assert number not in np.concatenate(inner)


def test_mirrored_panels_stay_exact_mirror_images(pad, cuts):
    part, relief = cuts[3]
    new = recut(pad, panel_of(pad, part).name, relief)
    pairs = [(p, next(q for q in new.panels if q.name == p.mirror_of)) for p in new.panels if p.mirror_of]
    assert len(pairs) == len([p for p in pad.panels if p.mirror_of]) + 1
    for over, source in pairs:
        assert np.array_equal(over.surface.vertices, source.surface.vertices * [-1, 1, 1])
        assert np.array_equal(over.surface.triangles, source.surface.triangles[:, [0, 2, 1]])


def test_parts_are_named_by_where_they_lie(pad, cuts):
    part, relief = cuts[1]
    new = recut(pad, panel_of(pad, part).name, relief)
    made = [p for p in new.panels if p.part not in {q.part for q in pad.panels}]
    assert len({p.name for p in new.panels}) == len(new.panels)
    ways = {"left": (0, -1), "right": (0, 1), "front": (1, -1), "rear": (1, 1), "lower": (2, -1), "upper": (2, 1)}
    old = panel_of(pad, part).surface.vertices.mean(axis=0)
    assert len(made) == 2
    for panel in made:
        axis, sign = ways[panel.part.split()[0]]
        assert sign * (panel.surface.vertices.mean(axis=0)[axis] - old[axis]) > 0


@pytest.mark.parametrize("far", [40.0, 400.0])
def test_parts_that_mirror_each_other_are_left_and_right_however_far_a_third_lies(pad, far):
    middles = [np.array(at) for at in ((90.0, 20.0, 5.0), (-90.0, 21.0, 5.0), (0.0, 20.0 + far, 5.0))]
    words = [word for word, _ in part_words(pad.pad, panel_of(pad, "inset"), middles, set())]
    assert words == ["right inset", "left inset", "centre inset"]


def test_the_pad_handed_in_is_left_as_it_is(pad, cuts):
    part, relief = cuts[0]
    names, triangles = [p.name for p in pad.panels], pad.surface.triangles.copy()
    recut(pad, panel_of(pad, part).name, relief)
    assert [p.name for p in pad.panels] == names
    assert np.array_equal(pad.surface.triangles, triangles)


def test_a_mirror_image_is_not_cut_by_itself(pad, cuts):
    part, relief = cuts[2]
    over = next(p for p in pad.panels if p.mirror_of == panel_of(pad, part).name)
    with pytest.raises(ValueError, match="mirror image"):
        recut(pad, over.name, relief)


EVEN = {
    "a seam along the centre line": ("seam", [((0.5, 0.0), (0.5, 1.0))]),
    "a seam across it": ("seam", [((0.0, 0.55), (1.0, 0.55))]),
    "a dart to either side": ("dart", [((0.3, 0.5), (0.3, 0.0)), ((0.7, 0.5), (0.7, 0.0))]),
    "a dart on the centre line": ("dart", [((0.5, 0.5), (0.5, 0.0))]),
}


@pytest.fixture(scope="module", params=EVEN)
def evened(request, pad):
    """The pad with an even cut in its inset, which lies across the centre line."""
    inset = panel_of(pad, "inset")
    vertices, triangles = inset.surface.vertices, inset.surface.triangles
    kind, places = EVEN[request.param]
    half = flatten(vertices, triangles, options=Options(mirror=inset.mirror)).points
    # The line about which this map is even, turned upright.
    axis = half[inset.mirror] - half
    way = axis[np.argmax(np.linalg.norm(axis, axis=1))]
    way = way / np.linalg.norm(way)
    plan = np.stack([half @ way, half @ [-way[1], way[0]]], axis=1)
    low, size = plan.min(axis=0), np.ptp(plan, axis=0)
    lines = tuple(tuple(low + size * np.array(place) for place in line) for line in places)
    panel = mapped(vertices, triangles, plan)
    relief = cut_as(panel, Candidate(kind, kind, lines, True), 0.0, np.ones(len(vertices), bool))
    assert relief is not None
    return request.param, relief, recut(pad, inset.name, relief)


def test_an_even_cut_keeps_its_parts_even(pad, evened):
    name, relief, new = evened
    made = [p for p in new.panels if p.part not in {q.part for q in pad.panels} or p.part == "inset"]
    assert len(made) == (2 if relief.kind == "seam" else 1)
    if name == "a seam along the centre line":
        right, left = sorted(made, key=lambda p: -p.surface.vertices[:, 0].mean())
        assert (right.part, left.part) == ("right inset", "left inset")
        assert left.mirror_of == right.name
        assert right.mirror_of is None
        assert np.array_equal(left.surface.vertices, right.surface.vertices * [-1, 1, 1])
        assert np.array_equal(left.surface.triangles, right.surface.triangles[:, [0, 2, 1]])
    else:
        for panel in made:
            assert panel.mirror_of is None
            assert np.array_equal(panel.surface.vertices[panel.mirror], panel.surface.vertices * [-1, 1, 1])
            assert np.array_equal(panel.mirror[panel.mirror], np.arange(len(panel.mirror)))
    for panel in made:
        assert np.array_equal(panel.grain, panel_of(pad, "inset").grain)


def test_an_even_cut_leaves_a_whole_pad(pad, evened):
    _, _, new = evened
    rows = np.concatenate([p.triangles for p in new.panels])
    assert sorted(rows.tolist()) == list(range(len(new.surface.triangles)))
    for panel in new.panels:
        assert is_disc(panel.surface.triangles)
        own = np.sort(panel.vertices[panel.surface.triangles], axis=1)
        assert np.array_equal(own, np.sort(new.surface.triangles[panel.triangles], axis=1))
        assert np.allclose(panel.surface.vertices, new.surface.vertices[panel.vertices], atol=1e-9)
        loop = boundary_loops(panel.surface.triangles)[0]
        walked = np.concatenate([edge.vertices[:-1] for edge in panel.rim])
        assert np.array_equal(walked, np.roll(loop, -int(np.flatnonzero(loop == walked[0])[0])))
    before = triangle_areas(pad.surface.vertices, pad.surface.triangles).sum()
    assert triangle_areas(new.surface.vertices, new.surface.triangles).sum() == pytest.approx(before, rel=1e-9)
    for seam in new.seams:
        sides = [(p, e) for p in new.panels for e in p.rim if e.seam == seam.name]
        (a, one), (b, two) = sides
        assert np.array_equal(a.vertices[one.vertices], seam.vertices)
        assert np.array_equal(b.vertices[two.vertices], seam.vertices[::-1])


def test_centre_marks_stay_where_the_rim_crosses_the_centre_line(pad, evened):
    name, _, new = evened
    made = [p for p in new.panels if p.part not in {q.part for q in pad.panels} or p.part == "inset"]
    for panel in made:
        assert (panel.surface.vertices[panel.centre, 0] == 0.0).all()
    if name == "a seam across it":
        # Each part has its own old centre mark and one where the new seam crosses the centre line.
        assert all(len(panel.centre) == 2 for panel in made)


def test_legs_of_a_dart_carry_pen_marks_and_no_allowance_that_is_not_cut(pad, cuts):
    """Cut out of its panel, a dart too narrow to be cut open leaves the leather whole."""
    new = recut(pad, panel_of(pad, cuts[0][0]).name, cuts[0][1])
    flats = {p.name: flatten(p.surface.vertices, p.surface.triangles) for p in new.panels if p.mirror_of is None}
    darts = 0
    for piece in pieces_of(new, flats, Allowance()):
        pen = RecordingPen()
        draw_piece(piece, pen)
        seams = [edge.seam for edge in piece.edges if edge.seam]
        sew, cut = Polygon(piece.sew), Polygon(piece.cut).exterior
        for layer, points, _ in pen.lines:
            if layer is PenLayer.NOTCH:
                assert cut.distance(Point(points[0])) < 1e-6
                assert sew.distance(LineString(points)) > 6.0 - 1e-3
        for edge in (edge for edge in piece.edges if seams.count(edge.seam) == 2):
            darts += 1
            assert edge.allowance_mm == 0.0
            names = [text.words for text in pen.texts if text.words.startswith(edge.name)]
            assert not any("mm" in words for words in names)
    assert darts == 2 * len(cuts[0][1].paths)
