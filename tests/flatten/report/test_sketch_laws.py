"""The small drawings of the report against the pieces they stand for: every line at its place, y turned down."""

import re
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree

import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon

from flatten.pieces.piece import FlatMesh, Mark, MarkKind
from flatten.report.amounts import corners, net_area_mm2, welt, welt_area_mm2, welt_mm
from flatten.report.cut_list import _edges
from flatten.report.edge_lengths import edge_lengths
from flatten.report.sketch import BROAD_PX, NARROW_PX, TALLEST_PX, is_broad, legend_svg, piece_svg
from meshes.base.surface import curve_length
from meshes.view.colours import OVER, use_colours
from tests.pieces import all_pieces, boxed_cushion, curved, edges_of, long_band, piece_of
from tests.samples import sample_job

PIECES = {piece.name: piece for piece in all_pieces()}


class Sketch:
    """A drawing read back: its paths by class as lines in the piece's own coordinates, and mm to a pixel."""

    def __init__(self, piece, reach=0.05):
        self.root = ElementTree.fromstring(piece_svg(piece, reach=reach, words="w"))
        x0, _, x1, y1 = piece.box()
        self.view = [float(v) for v in self.root.get("viewBox").split()]
        self.pixels = float(self.root.get("width"))
        self.unit = (x1 - x0) / (self.pixels - 40.0)
        self.edge = 20.0 * self.unit
        self.corner = np.array([x0 - self.edge, y1 + self.edge])

    def paths(self, name):
        found = []
        for path in self.root.iter("path"):
            if path.get("class") == name:
                found += [self.back(part) for part in re.findall(r"M[^M]*", path.get("d"))]
        return found

    def back(self, part):
        places = np.array([[float(v) for v in pair.split()] for pair in part.strip("MZ").split("L")])
        return self.corner + places * [1.0, -1.0]


def near(one, other):
    return pytest.approx(np.asarray(other), abs=0.12) == np.asarray(one)


@pytest.mark.parametrize("name", PIECES)
def test_cut_and_sew_line_lie_where_the_piece_has_them(name):
    piece, seen = PIECES[name], Sketch(PIECES[name])
    for kind, line in (("cut", piece.cut), ("sew", piece.sew)):
        (drawn,) = seen.paths(kind)
        assert near(drawn, line)
    for drawn, inner in zip(seen.paths("inner"), piece.inner, strict=True):
        assert near(drawn, inner.points)
    # A frame of 20 pixels all round.
    x0, y0, x1, y1 = piece.box()
    assert seen.view[2:] == pytest.approx([x1 - x0 + 2 * seen.edge, y1 - y0 + 2 * seen.edge], abs=0.2)


@pytest.mark.parametrize("name", PIECES)
def test_a_drawing_is_as_wide_as_its_place_and_no_higher_than_a_page(name):
    piece = PIECES[name]
    x0, y0, x1, y1 = piece.box()
    pixels = Sketch(piece).pixels - 40.0
    most = BROAD_PX if is_broad(piece) else NARROW_PX
    assert pixels <= most + 0.5
    assert pixels * (y1 - y0) / (x1 - x0) <= TALLEST_PX + 1.0
    assert pixels >= most - 0.5 or pixels * (y1 - y0) / (x1 - x0) >= TALLEST_PX - 1.0
    assert is_broad(piece) == (x1 - x0 > 1.5 * (y1 - y0))


def marked(kind, outward=(0.0, -1.0)):
    edges = edges_of([(0.0, 0.0), (300.0, 0.0), (300.0, 200.0), (0.0, 200.0)], [12.0] * 4)
    piece = piece_of("face", edges)
    return replace(piece, marks=(Mark(kind, np.array([100.0, 0.0]), np.array(outward), 12.0),))


@pytest.mark.parametrize("kind", list(MarkKind))
def test_marks_stand_on_the_sew_line_and_point_outwards(kind):
    seen = Sketch(marked(kind))
    lines = seen.paths("notch")
    u = seen.unit
    out = max(6.0, 6.0 * u)
    if kind is MarkKind.SNIP:
        # A snip is cut when the cover is drawn on: a sketch of whole pieces has no room for a row of them.
        assert len(lines) == 0
        return
    if kind is MarkKind.JOINT:
        ((tip, one, two),) = lines
        assert near(tip, [100.0, 0.0])
        assert near(sorted([tuple(one), tuple(two)]), [(100.0 - 4 * u, -7 * u), (100.0 + 4 * u, -7 * u)])
        return
    places = {MarkKind.DOUBLE_NOTCH: (-2.5 * u, 2.5 * u)}.get(kind, (0.0,))
    inward = 7.0 * u if kind is MarkKind.CENTRE else 0.0
    wanted = [[[100.0 + s, inward], [100.0 + s, -out]] for s in places]
    assert near(sorted(np.array(lines).tolist()), sorted(wanted))


@pytest.mark.parametrize("name", PIECES)
def test_numbers_stand_on_their_allowance_clear_of_marks(name):
    piece, seen = PIECES[name], Sketch(PIECES[name])
    sew = Polygon(piece.sew)
    circles = list(seen.root.iter("circle"))
    for circle, text, edge in zip(circles, seen.root.iter("text"), piece.edges, strict=True):
        at = seen.corner + np.array([float(circle.get("cx")), float(circle.get("cy"))]) * [1.0, -1.0]
        away = LineString(edge.points).distance(Point(at))
        assert away == pytest.approx(max(0.5 * edge.allowance_mm, 9.0 * seen.unit), abs=0.05)
        assert not sew.contains(Point(at))
        share = LineString(edge.points).project(Point(at)) / curve_length(edge.points)
        assert 0.3 < share < 0.7
        assert float(text.get("x")) == float(circle.get("cx"))
        assert float(circle.get("r")) == pytest.approx(8.5 * seen.unit, abs=0.01)
        assert 0.0 < float(text.get("y")) - float(circle.get("cy")) < float(circle.get("r"))


def test_a_number_moves_out_of_the_way_of_a_mark_in_the_middle():
    """A centre mark half way along: the number stands beside it, by as much as there is to gain."""
    edges = edges_of([(0.0, 0.0), (300.0, 0.0), (300.0, 200.0), (0.0, 200.0)], [12.0] * 4)
    plain = replace(piece_of("face", edges), marks=())
    mark = Mark(MarkKind.CENTRE, np.array([150.0, 0.0]), np.array([0.0, -1.0]), 12.0)
    for piece, clear in ((plain, False), (replace(plain, marks=(mark,)), True)):
        seen = Sketch(piece)
        at = float(next(seen.root.iter("circle")).get("cx")) + seen.corner[0]
        assert (abs(at - 150.0) > 15.0 * seen.unit) == clear


@pytest.mark.parametrize("name", PIECES)
def test_the_arrow_is_the_grain_with_its_head_at_the_front(name):
    piece, seen = PIECES[name], Sketch(PIECES[name])
    shaft, head = seen.paths("grain")
    assert near(shaft, piece.grain)
    assert near(head[1], piece.grain[1])
    along = (piece.grain[1] - piece.grain[0]) / np.linalg.norm(piece.grain[1] - piece.grain[0])
    for wing in (head[0], head[2]):
        back = piece.grain[1] - wing
        assert back @ along == pytest.approx(9.0 * seen.unit, abs=0.2)
        assert abs(back @ np.array([-along[1], along[0]])) == pytest.approx(4.0 * seen.unit, abs=0.2)


def meshed(turn_deg, stretch, use):
    """A cushion whose leather is pulled alike everywhere, in one direction; use rises from left to right."""
    piece = boxed_cushion(400.0, 300.0, 12.0)
    x, y = np.meshgrid(np.linspace(0.0, 400.0, 41), np.linspace(0.0, 300.0, 31))
    k = np.arange(41 * 31).reshape(31, 41)
    low = np.stack([k[:-1, :-1], k[:-1, 1:], k[1:, 1:]], axis=-1).reshape(-1, 3)
    up = np.stack([k[:-1, :-1], k[1:, 1:], k[1:, :-1]], axis=-1).reshape(-1, 3)
    triangles, points = np.concatenate([low, up]), np.column_stack([x.ravel(), y.ravel()])
    a = np.deg2rad(turn_deg)
    along = np.tile([np.cos(a), np.sin(a)], (len(triangles), 1))
    share = points[triangles].mean(axis=1)[:, 0] / 400.0 * use
    mesh = FlatMesh(points, triangles, np.tile([stretch, 1.0], (len(triangles), 1)), along, share)
    return replace(piece, mesh=mesh)


@pytest.mark.parametrize("turn", [0.0, 30.0, 100.0])
@pytest.mark.parametrize("stretch", [1.02, 1.05])
def test_strokes_lie_along_the_pull_and_are_as_long_as_it_is_strong(turn, stretch):
    seen = Sketch(meshed(turn, stretch, 0.9), reach=0.05)
    strokes = seen.paths("pull")
    apart = max(25.0, 26.0 * seen.unit)
    assert len(strokes) >= 400 * 300 / apart**2 * 0.5
    way = np.array([np.cos(np.deg2rad(turn)), np.sin(np.deg2rad(turn))])
    for a, b in strokes:
        assert np.linalg.norm(b - a) == pytest.approx(0.72 * apart * np.log(stretch) / np.log(1.05), abs=0.25)
        assert abs((b - a) @ way) == pytest.approx(np.linalg.norm(b - a), abs=0.02)
    # What is next to nothing is not drawn.
    assert not Sketch(meshed(turn, 1.005, 0.9), reach=0.05).paths("pull")


def test_bands_are_drawn_where_their_share_of_the_budget_is_reached():
    seen = Sketch(meshed(0.0, 1.03, 1.2))
    found = {name: seen.paths(name) for name in ("band band1", "band band2", "band band3")}
    places = sorted(line[:, 0].mean() / 400.0 * 1.2 for lines in found.values() for line in lines)
    assert places
    # Upright lines at even shares, the last at the limit itself.
    assert places[-1] == pytest.approx(1.0, abs=0.03)
    for lines in found.values():
        for line in lines:
            assert np.ptp(line[:, 0]) < 15.0


def test_the_map_lies_under_the_piece():
    piece = meshed(0.0, 1.03, 0.5)
    seen = Sketch(piece)
    (image,) = seen.root.iter("image")
    x, y, wide, high = (float(image.get(key)) for key in ("x", "y", "width", "height"))
    assert near([x + seen.corner[0], seen.corner[1] - y], [0.0, 300.0])
    assert (wide, high) == pytest.approx((400.0, 300.0), abs=0.02)
    assert not list(Sketch(boxed_cushion()).root.iter("image"))


def test_the_legend_has_the_colours_of_the_maps():
    root = ElementTree.fromstring(legend_svg(0.05))
    stops = {stop.get("offset"): stop.get("stop-color") for stop in root.iter("stop")}
    for k, share in enumerate((-1.0, -0.5, 0.0, 0.5, 1.0)):
        assert stops[f"{25 * k}%"] == "#{:02x}{:02x}{:02x}".format(*use_colours([share])[0].tolist())
    scale, over = root.iter("rect")
    assert over.get("fill") == "#{:02x}{:02x}{:02x}".format(*OVER)
    # Words stand under what they say: none at the middle, all at the right end, half between.
    begin, wide = float(scale.get("x")), float(scale.get("width"))
    at = {text.text: float(text.get("x")) for text in root.iter("text")}
    assert at["true length"] == begin + 0.5 * wide
    assert at["half the budget"] == begin + 0.75 * wide
    assert at["all of it"] == begin + wide
    assert float(over.get("x")) < at["over"] < float(over.get("x")) + float(over.get("width"))


# ---- the cut list ---------------------------------------------------------------------------------------------------


def test_corners_are_counted_by_how_far_a_seam_turns():
    """Three sides of a rectangle turn by two right angles, however they are cut into steps; a straight seam by none; of
    both pieces the one that turns more counts."""
    square = np.array([[0.0, 0], [100, 0], [100, 80], [0, 80]])
    fine = np.concatenate([np.linspace(a, b, 9)[:-1] for a, b in pairwise(square)] + [square[-1:]])
    turn = np.linspace(0.0, np.pi, 60)
    arc = 50.0 * np.column_stack([np.cos(turn), np.sin(turn)])

    def count(*lines):
        return corners(lines)

    assert count(square) == count(fine) == count(fine[::-1]) == count(arc) == 2
    assert count(square[:2]) == 0
    assert count(square[:2], square[:3]) == 1
    # Round and back again is no corner.
    wave = np.column_stack([np.linspace(0, 300, 50), 20 * np.sin(np.linspace(0, 4 * np.pi, 50))])
    assert count(wave) == 0


def test_areas_and_lengths_are_those_of_the_pieces_and_seams():
    job = sample_job()
    assert net_area_mm2(job) == pytest.approx(
        sum(Polygon(piece.cut).area * (piece.cut_count + piece.mirrored_count) for piece in job.pieces)
    )
    for piece in job.pieces:
        assert piece.cut_mm2 == pytest.approx(Polygon(piece.cut).area)
    welted = [seam for seam in job.seams if seam.welt]
    assert welt_mm(job) == sum(max(seam.length_a_mm, seam.length_b_mm) for seam in welted) > 0.0
    plan = welt(job)
    assert plan.sewn_mm == pytest.approx(welt_mm(job))
    # Strips end to end reach what is cut, joins on the bias taking a width each.
    assert welt_area_mm2(job) == pytest.approx((plan.cut_mm + plan.joins * plan.width_mm) * plan.width_mm)
    bare = replace(job, seams=tuple(replace(seam, welt=False) for seam in job.seams))
    assert welt(bare) is None
    assert (welt_mm(bare), welt_area_mm2(bare)) == (0.0, 0.0)
    # A seam counts by its longer side.
    longer = replace(job, seams=tuple(replace(seam, length_a_mm=2 * seam.length_b_mm) for seam in job.seams))
    assert welt_mm(longer) == pytest.approx(sum(2 * seam.length_b_mm for seam in welted))


def test_every_edge_of_the_seat_is_listed_once_with_its_length_on_paper():
    """Each seam once, each edge without a seam once: together twice the seams and the rest make up all rims."""
    job = sample_job()
    rows = list(_edges(job))
    edges = [row for row in rows if row["kind"] == "edge"]
    assert len({(row["pad"], row["name"]) for row in edges}) == len(edges)
    seams = {seam.name for pad in job.pads for seam in pad.seams}
    sewn = sum(float(row["length_mm"]) for row in edges if row["name"] in seams)
    loose = sum(float(row["length_mm"]) for row in edges if row["name"] not in seams)
    rims = sum(
        curve_length(job.flats[panel.name].points[rim.vertices]) for panel in job.panels.values() for rim in panel.rim
    )
    # Both sides of a seam may differ by what still sews.
    assert 2 * sewn + loose == pytest.approx(rims, abs=0.1 * len(edges) + 1.5 * len(seams))
    totals = {row["name"]: float(row["length_mm"]) for row in rows if row["kind"] == "edges"}
    assert sum(totals.values()) == pytest.approx(sewn + loose, abs=0.1 * len(edges))
    for name, total in totals.items():
        kind = name.removesuffix(", in all")
        own = sum(float(row["length_mm"]) for row in edges if row["note"].startswith(f"{kind}; "))
        assert total == pytest.approx(own, abs=0.06 * len(edges))


def test_edges_on_paper_are_those_of_the_drawn_pieces():
    """Read from the sew lines that are drawn, not from the maps they came from."""
    job = sample_job()
    drawn = {
        (piece.pad, edge.seam): curve_length(edge.points)
        for piece in job.pieces
        for edge in piece.edges
        if edge.seam is not None
    }
    listed = {(edge.pad, edge.name): edge for edge in edge_lengths(job)}
    assert drawn
    for key, length in drawn.items():
        assert listed[key].open_mm == pytest.approx(length, abs=1.5)
    for edge in listed.values():
        assert edge.shorter == pytest.approx(1.0 - edge.paper_mm / edge.seat_mm)
        assert 0.0 < edge.shorter < 0.05, "leather is cut shorter than the seat by its pull"


def test_broad_pieces_are_those_much_wider_than_high():
    assert is_broad(long_band())
    assert not is_broad(curved())
