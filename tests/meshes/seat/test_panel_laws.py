"""What every panel of every pad keeps to: grain, marks of the centre, mirror images, seams and edges by position."""

from functools import cache
from itertools import pairwise

import numpy as np
import pytest

from meshes.base.surface import curve_length, triangle_areas
from meshes.seat.panels import PanelRole, curves_of
from tests.pads import FLAT, built

ALL_BANDS = FLAT.replace("[pad.sides.rear]\n", "[pad.sides.rear]\nband = true\n")
INSET = "[pad.inset]\nfront = 0\nrear = 70\nleft = 80\nright = 80\ncorner_radius = 30\n"
CROWN = '[[pad.profile]]\ndirection = "along"\nat = 0\npoints = [[0, 0], [100, 18], [200, 16], [300, 0]]\n'
PLEATS = "[pad.pleats]\ncount = {}\nfiller_thickness = 8\n"
UPRIGHT = (
    FLAT.replace('"cushion"\n[', '"backrest"\n[')
    .replace("front_width", "bottom_width")
    .replace("rear_width", "top_width")
    .replace("sides.front", "sides.bottom")
    .replace("sides.rear", "sides.top")
)
CROOKED = FLAT.replace("front_width = 400", "front_left = 190\nfront_right = 215").replace(
    "rear_width = 400", "rear_left = 200\nrear_right = 200"
)
KINDS = {
    "bands": ALL_BANDS + CROWN,
    "inset": FLAT + CROWN + INSET,
    "upright": UPRIGHT,
    "crooked": CROOKED + CROWN,
    "pleats": ALL_BANDS + PLEATS.format(6),
    "joined": ALL_BANDS + PLEATS.format(4) + "joins = [2]\n",
    "centre seam": ALL_BANDS + CROWN + '[[pad.line]]\nname = "middle"\npoints = [[0, 0], [0, 300]]\n',
    "strips": ALL_BANDS + PLEATS.format(5) + 'construction = "strips"\n',
}


@cache
def pad_of(kind):
    return built(KINDS[kind], edge_mm=24.0)


every = pytest.mark.parametrize("kind", KINDS)


@every
def test_the_grain_of_a_band_stands_up_and_that_of_the_rest_runs_to_the_rear(kind):
    """Told from where its edges lie: a band's grain runs from the tack line up to the seam, square to both; on the face
    it runs from the front edge to the rear one."""
    for panel in pad_of(kind).panels:
        at = panel.surface.vertices
        assert np.linalg.norm(panel.grain) == pytest.approx(1.0)
        if panel.role is PanelRole.BAND:
            low = np.concatenate([at[e.vertices] for e in panel.rim if e.kind == "pulled"])
            high = np.concatenate([at[e.vertices] for e in panel.rim if not e.name.endswith(("tack line", "band"))])
            apart = np.linalg.norm(high[:, None] - low[None], axis=2)
            up = (high[np.argmin(apart, axis=0)] - low).mean(axis=0)
            run = np.linalg.svd(low - low.mean(axis=0))[2][0]
            assert up @ panel.grain > 0.9 * np.linalg.norm(up)
            assert abs(run @ panel.grain) < 0.1
        else:
            assert panel.grain == pytest.approx([0.0, 1.0, 0.0])


@every
def test_marks_of_the_centre_are_where_the_rim_goes_over_it(kind):
    """Twice for a panel that lies across the centre line, never for one beside it; a seam along it is its own mark."""
    pad = pad_of(kind)
    for panel in pad.panels:
        at = panel.surface.vertices
        loop = np.concatenate([edge.vertices[:-1] for edge in panel.rim])
        assert set(panel.centre.tolist()) <= set(loop.tolist())
        near = 12.0 if kind == "crooked" else 1e-9
        assert (np.abs(at[panel.centre, 0]) <= near).all()
        across = at[:, 0].min() < -near - 1.0 and at[:, 0].max() > near + 1.0
        assert len(panel.centre) == (2 if across else 0), panel.part
        if across:
            ends = at[loop][np.abs(at[loop, 0]) <= max(near, 1e-9)]
            if kind != "crooked":
                assert sorted(map(tuple, ends)) == sorted(map(tuple, at[panel.centre]))


@every
def test_every_panel_is_its_own_mirror_image_or_another_ones(kind):
    pad = pad_of(kind)
    by_name = {panel.name: panel for panel in pad.panels}
    for panel in pad.panels:
        at = panel.surface.vertices
        if kind == "crooked":
            assert panel.mirror is None
            assert panel.mirror_of is None
        elif panel.mirror is not None:
            assert at[panel.mirror] == pytest.approx(at * [-1.0, 1.0, 1.0], abs=1e-12)
            assert at[:, 0].min() < -1.0 < 1.0 < at[:, 0].max()
        else:
            # Of a pair it is the right one that is drawn.
            left = at[:, 0].mean() < 0
            assert (panel.mirror_of is not None) == left
            if left:
                source = by_name[panel.mirror_of]
                assert np.array_equal(at, source.surface.vertices * [-1.0, 1.0, 1.0])
                assert np.array_equal(panel.centre, source.centre)


@every
def test_edges_are_named_by_what_lies_beyond_them(kind):
    """A sewn edge is named after the panel that shares its vertices; the others lie at the tack line of their side."""
    pad = pad_of(kind)
    lowest = pad.surface.vertices[:, 2].min()
    owner = {}
    for panel in pad.panels:
        for edge in panel.rim:
            run = panel.vertices[edge.vertices].tolist()
            for pair in pairwise(run):
                owner.setdefault(frozenset(pair), []).append(panel)
    for panel in pad.panels:
        for edge in panel.rim:
            run = panel.vertices[edge.vertices].tolist()
            beyond = [p for p in owner[frozenset(run[:2])] if p is not panel]
            assert [p.part for p in beyond] == ([edge.name] if edge.seam else [])
            at = panel.surface.vertices[edge.vertices]
            if not edge.seam:
                if CROWN not in KINDS[kind]:
                    assert at[:, 2] == pytest.approx(lowest, abs=1e-6)
                middle = at[len(at) // 2]
                side = edge.name.split()[0]
                inward = {
                    "right": 200 - middle[0],
                    "left": 200 + middle[0],
                    "front": middle[1],
                    "rear": 300 - middle[1],
                }
                inward |= {"bottom": inward["front"], "top": inward["rear"]}
                assert inward[side] < 20.0


@every
def test_every_seam_joins_two_panels_and_is_named_by_them(kind):
    pad = pad_of(kind)
    by_name = {panel.name: panel for panel in pad.panels}
    assert len({seam.name for seam in pad.seams}) == len(pad.seams)
    for seam in pad.seams:
        edges = [(by_name[n], e) for n in (seam.a, seam.b) for e in by_name[n].rim if e.seam == seam.name]
        assert len(edges) == 2
        assert seam.name.startswith(f"{seam.a} / {by_name[seam.b].part}")
        lengths = [curve_length(panel.surface.vertices[edge.vertices]) for panel, edge in edges]
        assert lengths[0] == pytest.approx(lengths[1], rel=1e-12)
        assert lengths[0] == pytest.approx(curve_length(pad.surface.vertices[seam.vertices]), rel=1e-12)
    curves = curves_of(pad.panels, pad.seams)
    assert all(np.array_equal(curves[seam.name], seam.vertices) for seam in pad.seams)
    # All other curves are tack lines: together they are the whole end of the cover.
    ends = sum(curve_length(pad.surface.vertices[run]) for name, run in curves.items() if "tack line" in name)
    tack = sum(
        curve_length(p.surface.vertices[e.vertices])
        for p in pad.panels
        for e in p.rim
        if e.kind in ("pulled", "closed")
    )
    assert ends == pytest.approx(tack, rel=1e-12)


@every
def test_parts_are_called_by_where_they_lie(kind):
    pad = pad_of(kind)
    for panel in pad.panels:
        area = triangle_areas(panel.surface.vertices, panel.surface.triangles)
        x, y, _ = np.average(panel.surface.vertices[panel.surface.triangles].mean(axis=1), axis=0, weights=area)
        words = panel.part.split()
        # A panel over the middle of the pad is neither.
        ends = panel.surface.vertices[:, 0]
        over = ends.min() < -30.0 and ends.max() > 30.0
        assert ("left" in words) == (x < 0.0 and not over)
        assert ("right" in words) == (x > 0.0 and not over)
        assert not ({"front", "bottom"} & set(words)) or y < 80.0
        assert not ({"rear", "top"} & set(words)) or y > 220.0
        assert panel.name == f"{panel.pad} {panel.part}"
        assert all(word in words for word in panel.places)
    # Read in this order: pleats, inset, face, bolsters, bands; alike by name.
    order = [(panel.role, panel.part) for panel in pad.panels]
    assert order == sorted(order)


def test_pleats_of_an_even_count_keep_their_centre_valley_as_the_centre_mark():
    whole, joined = pad_of("pleats"), pad_of("joined")
    (face,) = (p for p in whole.panels if p.role is PanelRole.FACE)
    valley = next(v for v in whole.pleats.plan.valleys if v.name == "centre valley")
    assert valley.place == pytest.approx(0.0, abs=1e-12)
    assert sorted(face.surface.vertices[face.centre, 1]) == pytest.approx(
        [face.surface.vertices[:, 1].min(), face.surface.vertices[:, 1].max()], abs=0.5
    )
    assert [p.part for p in joined.panels if p.role is PanelRole.FACE] == ["left face", "right face"]
    # The bands at its ends are still whole, and marked where it arrives.
    marks = {p.part: len(p.centre) for p in joined.panels}
    assert marks == {"left face": 0, "right face": 0, "front band": 2, "left band": 0, "rear band": 2, "right band": 0}


def test_the_seam_between_two_parts_of_a_joined_face_is_its_valley():
    pad = pad_of("joined")
    seam = next(s for s in pad.seams if {"left face", "right face"} <= {s.a.split(" ", 1)[1], s.b.split(" ", 1)[1]})
    at = pad.surface.vertices[seam.vertices]
    assert np.abs(at[:, 0]).max() < 1e-9
    assert curve_length(at) == pytest.approx(np.ptp(at[:, 1]), rel=0.05)
