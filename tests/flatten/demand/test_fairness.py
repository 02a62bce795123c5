"""Lines come out fair: straight where the surface or the work asks it, without waves that the surface does not have, at
hardly more demand. The same pad without the term shows what each law is about."""

from pathlib import Path

import numpy as np
import pytest

from flatten.demand.develop import flatten
from flatten.demand.fairness import Line, Lines, chords_along, geodesic_curvature
from flatten.demand.options import Aim, Options
from flatten.demand.together import SewingTerms, together
from flatten.leather.card import CARDS
from flatten.leather.pleat_grain import pleats_of
from flatten.leather.stretch import stretch
from meshes.base.surface import vertex_normals
from meshes.seat.build import build
from meshes.sheet.read import read_sheet
from tests.pads import sheet_of
from tests.pleats import bent_across, bent_along, square

LEATHER = CARDS["furniture"]
BOX = """
name = "box"
[[pad]]
name = "cushion"
kind = "cushion"
[pad.outline]
front_width = 480
rear_width = 480
depth = 500
corner_radius = 40
[pad.sides.front]
drop = 120
edge_radius = 8
band = true
[pad.sides.right]
drop = 120
edge_radius = 8
band = true
[pad.sides.rear]
drop = 120
edge_radius = 8
band = true
[[pad.layer]]
material = "foam_medium"
thickness = 25
where = "all"
"""


def maps_of(pad):
    """Maps of a pad's panels that mirror no other, sewn edges of one length."""
    flats = {
        p.name: flatten(
            p.surface.vertices,
            p.surface.triangles,
            leather=LEATHER,
            options=Options(mirror=p.mirror, grain=p.grain, aim=Aim.ENERGY, prove=False),
        )
        for p in pad.panels
        if p.mirror_of is None
    }
    found = together(pad, flats, LEATHER, SewingTerms(gap=2e-2))
    return {name: one.points for name, one in found.items()}


def with_and_without(pad):
    """A pad, its maps, and those without fair lines."""
    fair = maps_of(pad)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("flatten.demand.together.lines_of", lambda *given: [])
        return pad, fair, maps_of(pad)


def drawn(pad):
    return [panel for panel in pad.panels if panel.mirror_of is None]


def bow(path):
    """Largest distance from the chord (n, 2), and its length."""
    chord = path[-1] - path[0]
    long = float(np.linalg.norm(chord))
    return float(np.abs((path - path[0]) @ np.array([-chord[1], chord[0]])).max()) / long, long


def bow_in_300(path):
    """Largest bow of the parts of a path that are about 300 mm long, mm."""
    at = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    bows = [0.0]
    for begin in range(len(path)):
        end = int(np.searchsorted(at, at[begin] + min(300.0, at[-1])))
        if end < len(path):
            bows.append(bow(path[begin : end + 1])[0])
    return max(bows)


def bends(panel, edge):
    """Geodesic curvature of an edge of the rim on the seat, 1/mm, at its inner vertices."""
    seat = panel.surface
    normals = vertex_normals(seat.vertices, seat.triangles)
    return geodesic_curvature(seat.vertices[edge.vertices], normals[edge.vertices])


def waves(panel, edge, points):
    """Root mean square, along an edge, of how fast its curvature departs from the seat's, 1/mm^2."""
    path = points[edge.vertices]
    steps = np.diff(path, axis=0)
    long = np.linalg.norm(steps, axis=1)
    turns = np.diff(np.unwrap(np.arctan2(steps[:, 1], steps[:, 0])))
    off = turns / (0.5 * (long[1:] + long[:-1])) - bends(panel, edge)
    return float(np.sqrt(((np.diff(off) / long[1:-1]) ** 2).mean()))


def demand(panel, points):
    return stretch(panel.surface.vertices, points, panel.surface.triangles).demand


def valleys_of(pad, panel):
    number = {int(v): k for k, v in enumerate(panel.vertices)}
    paths = [[number[int(v)] for v in path if int(v) in number] for path in pad.pleats.valleys]
    return [path for path in paths if len(path) > 3]


@pytest.fixture(scope="module")
def box():
    return with_and_without(build(sheet_of(BOX).pads[0], edge_mm=12.0, tension_n_per_mm=LEATHER.tension_n_per_mm))


@pytest.fixture(scope="module")
def bench():
    sheet = read_sheet(Path(__file__).parents[3] / "examples" / "helm_bench" / "bench.toml")
    return with_and_without(build(sheet.pads[0], edge_mm=18.0))


@pytest.mark.parametrize("bent", [bent_along, bent_across])
def test_a_straight_valley_on_a_developable_stays_straight(bent):
    pad = square("count = 8", profiles=bent(600.0))
    maps = maps_of(pad)
    face = next(p for p in drawn(pad) if pleats_of(pad, p) is not None)
    assert len(valleys_of(pad, face)) == 7
    assert max(bow_in_300(maps[face.name][path]) for path in valleys_of(pad, face)) < 0.05


def test_valleys_come_straight_where_the_leather_allows_it(bench):
    pad, fair, plain = bench
    side = next(p for p in drawn(pad) if p.part == "right face")
    bows = [[bow_in_300(maps[side.name][path]) for path in valleys_of(pad, side)] for maps in (fair, plain)]
    # The outermost two end in a rounded corner.
    assert max(bows[1][:-2]) > 1.5
    assert max(bows[0][:-2]) < 1.0
    assert max(bows[0]) < max(bows[1])


def test_straightness_costs_no_more_than_half_a_point(bench, box):
    for pad, fair, plain in (bench, box):
        for panel in drawn(pad):
            more = demand(panel, fair[panel.name]) - demand(panel, plain[panel.name])
            assert more < (0.005 if pleats_of(pad, panel) is not None else 0.001), panel.name


def test_bands_of_a_box_have_straight_edges(box):
    pad, fair, plain = box
    bows = {"fair": [], "plain": []}
    for panel in drawn(pad):
        for edge in panel.rim:
            if edge.name.endswith("tack line"):
                straight = np.flatnonzero(np.abs(bends(panel, edge)) < 1e-6)
                path = edge.vertices[straight[0] : straight[-1] + 3]
                bows["fair"].append(bow(fair[panel.name][path])[0])
                bows["plain"].append(bow(plain[panel.name][path])[0])
                assert bow(fair[panel.name][path])[1] > 350.0
    assert max(bows["fair"]) < 0.3
    assert max(bows["plain"]) > 0.5


def test_edges_carry_no_waves_that_the_seat_does_not_have(box):
    pad, fair, plain = box
    seen = np.array(
        [
            [waves(panel, edge, maps[panel.name]) for maps in (fair, plain)]
            for panel in drawn(pad)
            for edge in panel.rim
            if len(edge.vertices) > 8
        ]
    )
    assert (seen[:, 0] < seen[:, 1]).all()
    typical = np.sqrt((seen**2).mean(axis=0))
    # A wave of 60 mm and .12 mm to either side.
    assert typical[0] < 1e-4 < typical[1]


def test_a_line_may_be_drawn_larger_and_turned():
    """The term asks for shape alone: size and place cost nothing, to first order."""
    angles = np.linspace(0.0, 1.0, 15)
    points = 400.0 * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    chords = chords_along(np.column_stack([points, np.zeros(15)]))
    line = Line(np.arange(15), np.zeros(15, dtype=bool), np.full(13, 1.0 / 500.0), chords)
    term = Lines((line,), 400.0).bent(points / 400.0)
    slope = term.slope(points / 400.0)
    assert np.abs(slope).max() > 0.0
    turned = np.stack([-points[:, 1], points[:, 0]], axis=1)
    for move in (points, turned, np.ones((15, 2))):
        assert abs((slope * move).sum()) < 1e-6 * np.abs(slope).max() * 400.0


def test_geodesic_curvature_of_a_parallel_on_a_sphere():
    angles, height = np.linspace(0.0, 1.0, 40), 0.6
    path = 100.0 * np.stack([0.8 * np.cos(angles), 0.8 * np.sin(angles), np.full(40, height)], axis=1)
    # Walked eastward the pole lies to the left: tan(latitude) / radius.
    assert geodesic_curvature(path, path / 100.0) == pytest.approx(0.75 / 100.0, rel=1e-3)


def test_a_line_that_turns_back_has_no_finite_curvature():
    path = np.array([[0.0, 0, 0], [10, 0, 0], [20, 0, 0], [10, 0, 0], [0, 1, 0]])
    bend = geodesic_curvature(path, np.tile([0.0, 0.0, 1.0], (5, 1)))
    assert bend[0] == 0.0
    assert np.isinf(bend[1])


@pytest.mark.parametrize("height_mm", [0.9, 1.1, -0.9, -1.1])
def test_bows_are_told_in_true_millimetres(height_mm):
    """An arc over one chord of 300 mm, on pieces drawn to half the size; a line that need only be fair has none."""
    along = np.linspace(-150.0, 150.0, 31)
    points = 0.5 * np.stack([along, height_mm * (1.0 - (along / 150.0) ** 2)], axis=1)
    line = Line(np.arange(31), np.zeros(31, dtype=bool), np.zeros(29), np.array([[0, 15, 30]]))
    fair = Line(np.arange(31), np.zeros(31, dtype=bool), np.zeros(29), np.zeros((0, 3), dtype=np.int64))
    assert Lines((line, fair), 2.0).bows(points) == pytest.approx([abs(height_mm), 0.0], abs=2e-3)
