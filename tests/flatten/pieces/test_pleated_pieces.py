"""Pleated pieces: spread to the millimetre, stitched to a backing of finished size, sewn edges that come out."""

from itertools import pairwise

import numpy as np
import pytest
import shapely

from flatten.demand.develop import flatten
from flatten.leather.pleat_grain import pleats_of
from flatten.maps.certify import certify
from flatten.pieces.pattern import backings_of, pieces_of
from flatten.pieces.piece import LineKind, MarkKind
from flatten.pieces.pleat_ends import cut_by_pleat, pleat_ends
from flatten.pieces.spread import spread
from flatten.relief.candidates import Candidate
from flatten.relief.cutting import mapped
from flatten.relief.recut import recut
from flatten.relief.search import cut_as
from meshes.base.surface import curve_length
from meshes.pleats.shape import arc_length
from meshes.sheet.whole import Allowance
from tests.pads import FLAT, built
from tests.pleats import domed, profile, square

ALLOWANCE = Allowance()
WADDING = 'filler = "wadding"\nrise = 8\nfiller_thickness = 12\n'
# Chord 50, rise 8, by the circular segment; take-up a quarter of 12 mm.
CUT_MM = float(arc_length(np.array(50.0), np.array(8.0))) + 3.0


def flats_of(pad):
    return {p.name: flatten(p.surface.vertices, p.surface.triangles) for p in pad.panels}


def lines(piece, kind):
    return [line for line in piece.inner if line.kind is kind]


def across(line):
    return float(line.points[:, 0].mean())


@pytest.fixture(scope="module")
def whole():
    pad = square(f"count = 8\n{WADDING}")
    flats = flats_of(pad)
    return pad, flats, pieces_of(pad, flats, ALLOWANCE), backings_of(pad, flats, ALLOWANCE)


def test_one_piece_is_cut_as_wide_as_arcs_and_take_up(whole):
    face = whole[2][0]
    width = np.ptp(face.sew[:, 0])
    assert width == pytest.approx(8 * CUT_MM, abs=1e-3)
    assert np.ptp(face.sew[:, 1]) == pytest.approx(300.0, abs=1e-3)


def test_stitch_lines_stand_at_the_spread_spacing_and_backing_lines_at_the_finished_one(whole):
    face, backing = whole[2][0], whole[3][0]
    stitched, backed = lines(face, LineKind.STITCH), lines(backing, LineKind.BACKING)
    assert [line.name for line in stitched] == [line.name for line in backed]
    assert [line.name for line in stitched] == [
        *(f"left valley {k}" for k in (3, 2, 1)),
        "centre valley",
        *(f"right valley {k}" for k in (1, 2, 3)),
    ]
    assert [across(b) - across(a) for a, b in pairwise(stitched)] == pytest.approx([CUT_MM] * 6, abs=1e-3)
    assert [across(b) - across(a) for a, b in pairwise(backed)] == pytest.approx([50.0] * 6, abs=1e-3)
    for one, two in zip(stitched, backed, strict=True):
        assert curve_length(one.points) == pytest.approx(curve_length(two.points), abs=1e-6)
    assert np.ptp(backing.sew[:, 0]) == pytest.approx(400.0, abs=1e-3)
    assert backing.material == "backing cloth"
    assert face.material == ""


def test_crests_run_in_the_middle_between_stitch_lines(whole):
    face = whole[2][0]
    crests = [across(line) for line in lines(face, LineKind.CREST)]
    stitched = [across(line) for line in lines(face, LineKind.STITCH)]
    assert crests[1:-1] == pytest.approx([(a + b) / 2 for a, b in pairwise(stitched)], abs=0.05)
    assert len(crests) == 8


def test_valleys_are_marked_on_the_seam_line_of_both_pieces(whole):
    face, front = whole[2][0], next(p for p in whole[2] if p.name == "front band")
    for piece, spacing in ((face, CUT_MM), (front, 50.0)):
        edge = next(e for e in piece.edges if e.name in ("face", "front band"))
        marks = [m for m in piece.marks if m.kind is MarkKind.VALLEY]
        on_edge = [m for m in marks if np.abs(edge.points - m.at).sum(axis=1).min() < 1e-9]
        assert {m.text for m in on_edge} >= {"left valley 3", "centre valley", "right valley 1"}
        places = sorted(float(m.at[0]) for m in on_edge)
        assert np.diff(places) == pytest.approx([spacing] * 6, abs=1e-3)


def test_stitch_lines_end_in_their_marks(whole):
    for piece, kind in ((whole[2][0], LineKind.STITCH), (whole[3][0], LineKind.BACKING)):
        marks = {m.text: [] for m in piece.marks if m.kind is MarkKind.VALLEY}
        for mark in piece.marks:
            if mark.kind is MarkKind.VALLEY:
                marks[mark.text].append(mark.at)
        for line in lines(piece, kind):
            assert len(marks[line.name]) == 2
            for end in (line.points[0], line.points[-1]):
                assert min(np.linalg.norm(at - end) for at in marks[line.name]) < 1e-9


def test_notches_meet_at_the_same_places_of_the_leather(whole):
    # The notches of the front seam share it evenly; on the face the same shares of the finished edge are spread.
    face, front = whole[2][0], next(p for p in whole[2] if p.name == "front band")
    shares = []
    for piece, name, width in ((face, "front band", 8 * CUT_MM), (front, "face", 400.0)):
        edge = next(e for e in piece.edges if e.name == name)
        low = edge.points[:, 0].min()
        notched = [m for m in piece.marks if m.kind in (MarkKind.NOTCH, MarkKind.DOUBLE_NOTCH)]
        on_edge = [m for m in notched if np.abs(m.at[1] - edge.points[:, 1]).min() < 1e-6 and m.allowance_mm == 12.0]
        places = [float(m.at[0] - low) / width for m in on_edge if 1.0 < m.at[0] - low < width - 1.0]
        shares.append(sorted(places))
    assert len(shares[0]) == len(shares[1]) == 2
    assert shares[0] == pytest.approx(shares[1], abs=1e-4)


def test_a_spread_piece_keeps_its_certificate(whole):
    face = whole[2][0]
    assert certify(face.mesh.points, face.mesh.triangles).holds


def test_strips_add_up_to_the_one_piece_at_finished_size():
    # A crown of 15 mm. Strips hardly stretch; one piece has to a little, the more the more the face is domed.
    strips = square(f'count = 8\nconstruction = "strips"\n{WADDING}', profiles=domed(1500.0))
    one = square(f"count = 8\n{WADDING}", profiles=domed(1500.0))
    parts = flats_of(strips)
    finished = sum(
        _width_in_the_middle(strips, panel, parts[panel.name]) for panel in strips.panels if "pleat" in panel.part
    )
    face = next(panel for panel in one.panels if panel.part == "face")
    assert finished == pytest.approx(_width_in_the_middle(one, face, flats_of(one)[face.name]), abs=1.0)


def _width_in_the_middle(pad, panel, flat):
    """Width of a piece half way along its pleats, square to their run."""
    pleats = pleats_of(pad, panel)
    apart = spread(pleats, panel, flat.points)
    station, place = pleats.station[panel.vertices], pleats.place[panel.vertices]
    sides = []
    for side in (apart.first, apart.last):
        on = np.flatnonzero(np.abs(place - side) < 1e-9)
        order = on[np.argsort(station[on])]
        at = flat.points[order] @ apart.across
        sides.append(np.interp(150.0, station[order], at))
    return sides[1] - sides[0]


def test_a_strip_is_cut_to_the_taper_of_its_rise():
    pad = square(f'count = 8\nconstruction = "strips"\ntaper = 40\n{WADDING}')
    piece = next(p for p in pieces_of(pad, flats_of(pad), ALLOWANCE) if p.name.startswith("right pleat 2"))
    middle = shapely.LineString([(-1e3, 150.0), (1e3, 150.0)])
    assert shapely.Polygon(piece.sew).intersection(middle).length == pytest.approx(CUT_MM, abs=0.01)
    # At the seam the rise is nothing: the finished width and the take-up.
    front = next(e for e in piece.edges if e.name == "front band")
    assert curve_length(front.points) == pytest.approx(53.0, abs=1e-3)
    assert piece.mirrored_count == 1
    assert "pleat 6 of 8 from the left, or from the right" in piece.notes[0]
    assert piece.notes[1].startswith("cut ")
    assert piece.notes[1].count(" mm") == 3  # as cut, finished, rise: each is a length, which an inch shop converts


def test_strips_on_a_dome_bend_by_the_geodesic_curvature_of_their_valleys():
    # The plane x = a cuts a sphere of radius R in a circle of radius r = sqrt(R^2 - a^2), whose geodesic curvature is
    # a / (R r), so on the sphere a valley of length L turns by L a / (R r). Both edges of a flat strip turn alike,
    # those on the sphere differ by the curvature between them (Gauss and Bonnet), so both turn as its middle does.
    radius = 600.0
    pad = square('count = 16\nconstruction = "strips"', profiles=domed(radius), edge_mm=5.0)
    for name, k in (("right pleat 4", 11), ("right pleat 6", 13)):
        panel = next(p for p in pad.panels if p.part == name)
        flat = flatten(panel.surface.vertices, panel.surface.triangles)
        middle = pad.surface.vertices[[pad.pleats.valleys[v][0] for v in (k - 1, k)], 0].mean()
        ring = np.sqrt(radius**2 - middle**2)
        turning = 2 * ring * np.arcsin(150 / ring) * middle / (radius * ring)
        for valley in (k - 1, k):
            path = pad.pleats.valleys[valley]
            local = [int(np.flatnonzero(panel.vertices == v)[0]) for v in path]
            place = pad.surface.vertices[path[0], 0]
            ring = np.sqrt(radius**2 - place**2)
            length = 2 * ring * np.arcsin(150 / ring)
            assert curve_length(flat.points[local]) == pytest.approx(length, rel=2e-3)
            assert _turning(flat.points[local]) == pytest.approx(turning, rel=0.05)


def _turning(points):
    """Angle by which a nearly circular path turns: from its sagitta and chord, the least-squares circle through it."""
    x, y = points.T
    a, b, c = np.linalg.lstsq(np.stack([x, y, np.ones(len(x))], axis=1), x**2 + y**2, rcond=None)[0]
    circle = np.sqrt(c + 0.25 * (a * a + b * b))
    return curve_length(points) / circle


def test_joins_part_the_cut_and_name_their_neighbours():
    pad = built(FLAT + f"[pad.pleats]\ncount = 8\njoins = [3, 5]\n{WADDING}", edge_mm=9.0)
    pieces = {p.name: p for p in pieces_of(pad, flats_of(pad), ALLOWANCE)}
    side = pieces["right face (left face mirrored)"]
    assert {e.name for e in side.edges} >= {"centre face", "front band", "right band"}
    assert [line.name for line in lines(side, LineKind.JOIN)] == ["join in valley 1"]
    assert {line.name for line in lines(pieces["centre face"], LineKind.JOIN)} == {
        "join in right valley 1",
        "join in left valley 1",
    }
    assert [line.name for line in lines(side, LineKind.STITCH)] == ["valley 2", "valley 3"]
    assert side.notes[0] == "pleats 6 to 8 of 8 from the left, or from the right; part 1 from the centre"
    assert pieces["centre face"].notes[0] == "pleats 4 to 5 of 8 from the left; across the centre"


def test_pleats_across_are_spread_along_the_piece():
    pad = square(f'count = 6\ndirection = "across"\n{WADDING}')
    face = pieces_of(pad, flats_of(pad), ALLOWANCE)[0]
    assert np.ptp(face.sew[:, 1]) == pytest.approx(6 * CUT_MM, abs=1e-3)
    assert np.ptp(face.sew[:, 0]) == pytest.approx(400.0, abs=1e-3)
    assert [line.name for line in lines(face, LineKind.STITCH)] == [f"valley {k}" for k in range(1, 6)]


def test_a_pleated_face_may_be_cut_by_a_seam_and_a_dart():
    crown = profile("across", 150.0, np.linspace(-180, 180, 19), lambda x: 25.0 - x**2 / 1440.0)
    crown += profile("across", 0.0, np.linspace(-180, 180, 19), lambda x: 0.0 * x)
    pad = built(FLAT + f"{crown}[pad.pleats]\ncount = 8\n{WADDING}", edge_mm=12.0)
    face = next(p for p in pad.panels if p.part == "face")
    plan = flatten(face.surface.vertices, face.surface.triangles).points
    low, size = plan.min(axis=0), np.ptp(plan, axis=0)
    for kind, places in (("seam", ((0.0, 0.6), (1.0, 0.55))), ("dart", ((0.42, 0.5), (0.45, 0.0)))):
        line = tuple(low + size * np.array(place) for place in places)
        shape = mapped(face.surface.vertices, face.surface.triangles, plan)
        relief = cut_as(shape, Candidate(kind, kind, (line,), False), 0.0, np.ones(len(plan), bool))
        cut = recut(pad, face.name, relief)
        flats = flats_of(cut)
        pieces = [p for p in pieces_of(cut, flats, ALLOWANCE) if "face" in p.name]
        stitched = {line.name for piece in pieces for line in lines(piece, LineKind.STITCH)}
        assert stitched == {v.name for v in pad.pleats.plan.valleys}
        # Together the stitch lines of all parts are as long as the valleys, within what the leather is stretched.
        total = sum(curve_length(line.points) for piece in pieces for line in lines(piece, LineKind.STITCH))
        seat = sum(curve_length(pad.surface.vertices[path]) for path in pad.pleats.valleys)
        stretches = [flats[piece.panels[0]].stretch for piece in pieces]
        assert min(s[:, 1].min() for s in stretches) <= seat / total <= max(s[:, 0].max() for s in stretches)
        steps = sum(len(line.points) - 1 for piece in pieces for line in lines(piece, LineKind.STITCH))
        assert steps >= sum(len(path) - 1 for path in pad.pleats.valleys)
        assert all(certify(piece.mesh.points, piece.mesh.triangles).holds for piece in pieces)
        assert len(backings_of(cut, flats, ALLOWANCE)) == len(pieces)
        assert pleat_ends(cut, flats)
        assert set(cut_by_pleat(cut, flats)) == set(range(1, 9))


def test_parts_say_their_place_from_the_centre():
    for joins, places in (("[2, 4, 6]", {1: "part 1", 2: "part 2"}), ("[1, 3, 5, 7]", {1: "part 1", 2: "part 2"})):
        pad = square(f"count = 8\njoins = {joins}", edge_mm=14.0)
        pieces = {p.name: p for p in pieces_of(pad, flats_of(pad), ALLOWANCE)}
        for k, place in places.items():
            assert f"{place} from the centre" in pieces[f"right face {k} (left face {k} mirrored)"].notes[0]
