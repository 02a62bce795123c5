"""Filler strips, the test strip, and both ends of pleated pieces against their seams."""

from typing import NamedTuple

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from flatten.demand.develop import flatten
from flatten.leather.pleat_grain import pleats_of
from flatten.pieces.fillers import fillers_of, trial_strip_of
from flatten.pieces.pattern import backings_of, pieces_of
from flatten.pieces.piece import LineKind
from flatten.pieces.pleat_ends import PleatEnd, end_notes, ends_told, pleat_ends
from flatten.pieces.spread import spread
from meshes.pleats.shape import arc_length
from meshes.sheet.whole import Allowance
from tests.pads import FLAT, built
from tests.pleats import square

WADDING = 'filler = "wadding"\nrise = 8\nfiller_thickness = 12\n'
ARC_MM = float(arc_length(np.array(50.0), np.array(8.0)))


def flats_of(pad):
    return {p.name: flatten(p.surface.vertices, p.surface.triangles) for p in pad.panels}


def test_the_test_strip_is_cut_for_five_pleats_at_full_size():
    pad = square(f"count = 8\n{WADDING}")
    cover, backing = trial_strip_of(pad)
    for piece, kind, spacing in ((cover, LineKind.STITCH, ARC_MM + 3.0), (backing, LineKind.BACKING, 50.0)):
        places = [float(line.points[0, 0]) for line in piece.inner if line.kind is kind]
        assert len(places) == 6
        assert np.diff(places) == pytest.approx([spacing] * 5, abs=1e-6)
        assert np.ptp(piece.cut[:, 1]) == 200.0
    assert "should come to 250.0 mm" in cover.notes[1]


def test_the_test_strip_stays_the_same_once_it_was_measured():
    before = trial_strip_of(square(f"count = 8\n{WADDING}"))[0]
    pad = square(f"count = 8\n{WADDING}take_up_measured = 246")
    assert np.array_equal(trial_strip_of(pad)[0].cut, before.cut)
    # It fell short by 4 mm, so every pleat is cut 4 / 5 mm wider.
    assert pad.pleats.figures[3].take_up_mm == pytest.approx(3.8)
    assert pad.pleats.figures[3].cut_mm == pytest.approx(ARC_MM + 3.8, abs=1e-6)


def test_filler_strips_are_as_large_as_their_pleats():
    pad = square(f"count = 8\n{WADDING}taper = 30")
    (strip,) = fillers_of(pad, flats_of(pad))
    assert strip.cut_count == 8
    assert np.ptp(strip.cut, axis=0) == pytest.approx([50.0, 300.0], abs=1e-3)
    assert strip.material == "wadding 12 mm"
    assert [float(line.points[0, 1]) for line in strip.inner] == pytest.approx([30.0, 270.0], abs=1e-6)


def test_half_pleats_have_filler_strips_of_their_own():
    pad = square("count = 7\nhalf_at_sides = true")
    strips = fillers_of(pad, flats_of(pad))
    assert sorted(strip.cut_count for strip in strips) == [2, 7]
    assert sum(strip.cut_count for strip in strips) == len(pad.pleats.figures)


class Bent(NamedTuple):
    points: np.ndarray


@pytest.mark.parametrize("bow", [0.5, 12.0])
def test_a_filler_strip_follows_its_stitch_line(bow):
    """Maps whose valleys are bent to a parabola: strips are curved alike when it is more than 1 mm in 300."""
    pad = square("count = 8")
    flats = {}
    for name, flat in flats_of(pad).items():
        x, y = flat.points.T
        up = (y - y.min()) / np.ptp(y)
        flats[name] = Bent(np.stack([x + 4.0 * bow * up * (1.0 - up), y], axis=1))
    strips = fillers_of(pad, flats)
    assert sum(strip.cut_count + strip.mirrored_count for strip in strips) == 8
    for strip in strips:
        sides = [edge.points for edge in strip.edges if edge.name == "valley"]
        for side in sides:
            chord = (side[-1] - side[0]) / np.linalg.norm(side[-1] - side[0])
            off = np.abs((side - side[0]) @ np.array([-chord[1], chord[0]])).max()
            # The inner side is an arc of a radius smaller by half the width, the outer one of one larger by it.
            assert off == pytest.approx(bow if bow > 1.0 else 0.0, rel=25.0 / (300.0**2 / (8.0 * bow)) + 0.005)
        long = [np.linalg.norm(np.diff(side, axis=0), axis=1).sum() for side in sides]
        assert np.mean(long) == pytest.approx(300.0, abs=0.1)
        assert any("curved" in note for note in strip.notes) == (bow > 1.0)
        # Square across it is as wide as its pleat, and the sides do not meet.
        middle = [side[len(side) // 2] for side in sides]
        assert np.linalg.norm(middle[0] - middle[1]) == pytest.approx(50.0, abs=0.1)


def test_where_no_strip_could_follow_its_stitch_line_it_is_cut_straight_and_says_so():
    """Maps whose valleys zigzag by 30 mm every 10: outlines beside them would cross themselves."""
    pad = square("count = 8")
    flats = {}
    for name, flat in flats_of(pad).items():
        x, y = flat.points.T
        flats[name] = Bent(np.stack([x + 30.0 * np.abs(y / 10.0 % 2.0 - 1.0), y], axis=1))
    for strip in fillers_of(pad, flats):
        assert shapely.Polygon(strip.cut).is_valid
        assert np.ptp(strip.cut, axis=0) == pytest.approx([50.0, 300.0], abs=0.1)
        assert any("too crooked" in note for note in strip.notes)


@pytest.mark.parametrize(("radius", "rear"), [(40, 400), (80, 400), (60, 340)])
def test_no_filler_strip_runs_out_to_a_point(radius, rear):
    """Flat pads whose rounded corners cut the outer pleats: strips end square, 20 mm wide, short of the corner."""
    text = FLAT.replace("corner_radius = 40", f"corner_radius = {radius}").replace(
        "rear_width = 400", f"rear_width = {rear}"
    )
    pad = built(text + "[pad.pleats]\ncount = 8\n")
    flats = {panel.name: Bent(panel.surface.vertices[:, :2]) for panel in pad.panels}
    strips = fillers_of(pad, flats)
    assert sum(strip.cut_count + strip.mirrored_count for strip in strips) == 8
    stops = [strip for strip in strips if any("stops short of a corner" in note for note in strip.notes)]
    assert stops
    for strip in strips:
        ends = {edge.name: edge.points for edge in strip.edges if edge.name != "valley"}
        right, left = (edge.points for edge in strip.edges if edge.name == "valley")
        assert np.linalg.norm(right - left[::-1], axis=1).min() >= 20.0 - 1e-6
        wide = [np.linalg.norm(np.diff(ends[f"{end} end"], axis=0)) for end in ("front", "rear")]
        short = [end for end in wide if end < 20.0 + 1e-6]
        assert bool(short) == (strip in stops)
        assert len(strip.inner) >= len(short)
    for figure in pad.pleats.figures:
        assert min(figure.finished_low_mm, figure.finished_high_mm) >= 20.0 - 1e-6


def test_ends_are_cut_less_take_up_less_ease():
    pad = square(f"count = 8\n{WADDING}")
    ends = pleat_ends(pad, flats_of(pad))
    assert {end.edge for end in ends} == {"front band", "rear band"}
    for end in ends:
        assert end.cut_mm == pytest.approx(8 * (ARC_MM + 3.0), abs=1e-3)
        assert end.take_up_mm == pytest.approx(24.0, abs=1e-3)
        assert end.ease_mm == pytest.approx(8 * (ARC_MM - 50.0), abs=1e-3)
        assert end.seam_mm == pytest.approx(400.0, abs=1e-3)
        assert end.meets
    # 3.3 mm of fullness in a pleat of 50 mm cannot be eased out of sight.
    assert {note.code for note in end_notes(ends)} == {"F311"}
    # And the verdict of the piece is not silent about what a warning tells.
    (told,) = ends_told([pad], flats_of(pad)).values()
    assert len(told) == 2
    assert all(f"{end.ease_mm:.1f} mm of fullness is eased in and will show" in " ".join(told) for end in ends)


def test_strips_need_no_ease():
    pad = square(f'count = 8\nconstruction = "strips"\n{WADDING}')
    ends = pleat_ends(pad, flats_of(pad))
    assert len(ends) == 8
    for end in ends:
        assert end.ease_mm == pytest.approx(0.0, abs=1e-6)
        assert end.cut_mm == pytest.approx(53.0, abs=1e-3)
        assert end.off_mm == pytest.approx(0.0, abs=1e-3)
    assert end_notes(ends) == []


def test_an_end_that_misses_its_seam_is_told():
    (note,) = end_notes((PleatEnd("cushion", "face", "front band", 8, 450.0, 24.0, 2.0, 420.0),))
    assert note.code == "F310"
    assert "come to 424.0 mm, the seam to 420.0 mm" in note.text


layouts = st.builds(
    lambda count, halves, how, fan, follow, filler: (
        f"count = {count}\nhalf_at_sides = {str(halves).lower()}\n{how}\n"
        + (f"fan = {fan}\n" if not follow else 'shape = "edge"\n')
        + filler
    ),
    st.integers(3, 7),
    st.booleans(),
    st.sampled_from(["", 'construction = "strips"', 'joins = "auto"\nlargest_width = 170']),
    st.sampled_from([1.0, 1.1, 0.9]),
    st.booleans(),
    st.sampled_from(["", WADDING]),
)


@settings(max_examples=8, deadline=None)
@given(layouts, st.sampled_from([400, 360]))
def test_any_layout_is_even_certified_and_named_on_both_pieces(pleats, rear):
    pad = built(FLAT.replace("rear_width = 400", f"rear_width = {rear}") + f"[pad.pleats]\n{pleats}", edge_mm=14.0)
    layout = pad.pleats.plan.layout
    assert all(a == -b for a, b in zip(layout.edges, reversed(layout.edges), strict=True))
    assert sum(layout.widths) == pytest.approx(layout.edges[-1] - layout.edges[0], rel=1e-12)
    flats = flats_of(pad)
    for panel in pad.panels:
        carried = pleats_of(pad, panel)
        if carried is not None:
            assert spread(carried, panel, flats[panel.name].points).certified
    pieces = {
        p.panels[0]: p for p in pieces_of(pad, flats, Allowance()) if any(k.kind is LineKind.STITCH for k in p.inner)
    }
    for backing in backings_of(pad, flats, Allowance()):
        names = {line.name for line in backing.inner}
        cover = pieces.get(backing.panels[0])
        stitched = {line.name for line in cover.inner if line.kind is LineKind.STITCH} if cover else set()
        assert names == stitched
    joined = {v.name for v in pad.pleats.plan.valleys if v.joined}
    lined = sum(
        (piece.cut_count + piece.mirrored_count) * sum(line.kind is LineKind.STITCH for line in piece.inner)
        for piece in pieces.values()
    )
    assert lined + len(joined) == len(pad.pleats.plan.valleys)
