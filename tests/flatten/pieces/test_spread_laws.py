"""Spreading for pleats as laws: which parts are tapered, what is one-to-one, and widths that add up, on a whole pad and
on one that was cut again."""

from dataclasses import replace

import numpy as np
import pytest

from flatten.demand.develop import flatten
from flatten.leather.pleat_grain import pleats_of
from flatten.pieces.pattern import pieces_of
from flatten.pieces.pleat_ends import pleat_ends
from flatten.pieces.spread import cut_widths, spread
from flatten.relief.candidates import Candidate
from flatten.relief.cutting import mapped
from flatten.relief.recut import recut
from flatten.relief.search import cut_as
from meshes.base.problems import ProblemError
from meshes.base.surface import curve_length
from meshes.pleats.shape import arc_length
from meshes.sheet.whole import Allowance
from tests.pleats import square

WADDING = 'filler = "wadding"\nrise = 8\nfiller_thickness = 12\n'
ARC_MM, TAKE_UP_MM, FINISHED_MM = float(arc_length(np.array(50.0), np.array(8.0))), 3.0, 50.0


def flats_of(pad):
    return {p.name: flatten(p.surface.vertices, p.surface.triangles) for p in pad.panels}


def pleated(pad, flats):
    """Panel, pleats and spread piece of every pleated part that is drawn."""
    for panel in pad.panels:
        pleats = pleats_of(pad, panel)
        if pleats is not None and panel.mirror_of is None:
            yield panel, pleats, spread(pleats, panel, flats[panel.name].points)


@pytest.mark.parametrize(
    ("how", "pleats_each"), [("joins = [2, 4, 6]", 2), ("joins = [3, 5]", 3), ('construction = "strips"', 1)]
)
def test_only_a_part_of_one_pleat_is_cut_to_its_taper(how, pleats_each):
    """The rise runs out to nothing at both ends: there a strip is as wide as its finished pleat and the take-up; a part
    of two pleats and more is spread to the full rise, and what is too much is stated as ease."""
    pad = square(f"count = 8\n{how}\ntaper = 40\n{WADDING}", edge_mm=14.0)
    flats = flats_of(pad)
    counts = set()
    for end in pleat_ends(pad, flats):
        counts.add(end.pleats)
        wide = FINISHED_MM if end.pleats == 1 else ARC_MM
        assert end.cut_mm == pytest.approx(end.pleats * (wide + TAKE_UP_MM), abs=1e-3)
        assert end.take_up_mm == pytest.approx(end.pleats * TAKE_UP_MM, abs=1e-3)
        assert end.ease_mm == pytest.approx(end.pleats * (wide - FINISHED_MM), abs=1e-3)
        assert end.finished_mm == pytest.approx(end.pleats * FINISHED_MM, abs=1e-3)
    assert pleats_each in counts
    for panel, pleats, apart in pleated(pad, flats):
        widths = cut_widths(pleats, panel, apart, apart.points)
        assert widths == pytest.approx([ARC_MM + TAKE_UP_MM] * (apart.last - apart.first), abs=2e-2)
        finished = cut_widths(pleats, panel, apart, flats[panel.name].points)
        assert finished == pytest.approx([FINISHED_MM] * (apart.last - apart.first), abs=1e-3)


def test_a_spread_piece_that_lies_over_itself_gets_no_certificate_and_is_not_drawn():
    """The same strip rolled up in the plane by more than a turn: no triangle is folded, but its ends overlap."""
    pad = square(f"count = 8\n{WADDING}", edge_mm=14.0)
    flats = flats_of(pad)
    ((panel, pleats, apart),) = pleated(pad, flats)
    assert apart.certified
    flat = flats[panel.name].points
    angle, radius = 2.6 * np.pi * (flat[:, 1] - flat[:, 1].min()) / np.ptp(flat[:, 1]), 900.0 + flat[:, 0]
    rolled = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
    assert not spread(pleats, panel, rolled).certified
    folded = flat.copy()
    inner = int(np.argmin(np.linalg.norm(flat - flat.mean(axis=0), axis=1)))
    folded[inner] += [60.0, 60.0]
    assert not spread(pleats, panel, folded).certified
    with pytest.raises(ProblemError, match="F312"):
        pieces_of(pad, flats | {panel.name: replace(flats[panel.name], points=folded)}, Allowance())


def test_spreading_moves_along_one_direction_and_keeps_every_line_along_the_pleats():
    """Across the pleats all is moved, along them nothing: lengths of valleys and their angles stay."""
    pad = square(f"count = 8\n{WADDING}", edge_mm=14.0)
    flats = flats_of(pad)
    ((panel, pleats, apart),) = pleated(pad, flats)
    flat = flats[panel.name].points
    moved = apart.points - flat
    moved -= moved.mean(axis=0)
    along = np.array([-apart.across[1], apart.across[0]])
    assert np.abs(moved @ along).max() < 1e-9
    # Towards higher numbers, by what each pleat is wider: straight from the first valley to the last.
    place = pleats.place[panel.vertices]
    shift = moved @ apart.across
    wanted = (place - 4.0) * (ARC_MM + TAKE_UP_MM - FINISHED_MM)
    assert np.allclose(shift - shift.mean(), wanted - wanted.mean(), atol=1e-6)
    taken = (apart.taken_up - flat) @ apart.across
    assert np.allclose(taken - taken.mean(), TAKE_UP_MM * (place - place.mean()), atol=1e-9)
    # What is spread lies with its box at zero.
    assert np.allclose(apart.points.min(axis=0), 0.0, atol=1e-12)


@pytest.mark.parametrize("fan", [1.0, 1.2])
def test_a_piece_that_is_even_stays_even(fan):
    """Fanned or not, it is spread to both sides alike: each vertex as far from the middle as its mirror image, and the
    middle line stays straight."""
    pad = square(f"count = 8\nfan = {fan}\n{WADDING}", edge_mm=14.0)
    face = next(panel for panel in pad.panels if panel.part == "face")
    flat = face.surface.vertices[:, :2]
    apart = spread(pad.pleats, face, flat)
    for points in (apart.points, apart.taken_up):
        both = points[:, 0] + points[face.mirror, 0]
        assert np.ptp(both) < 1e-6
        assert np.allclose(points[:, 1], points[face.mirror, 1], atol=1e-6)


def recut_strip():
    """A pad of strips, one of which is parted across by a seam."""
    pad = square(f'count = 8\nconstruction = "strips"\ntaper = 40\n{WADDING}', edge_mm=12.0)
    strip = next(panel for panel in pad.panels if panel.part == "right pleat 2")
    plan = flatten(strip.surface.vertices, strip.surface.triangles).points
    low, size = plan.min(axis=0), np.ptp(plan, axis=0)
    long = int(np.argmax(size))
    ends = np.full((2, 2), 0.52)
    ends[:, 1 - long] = [0.0, 1.0]
    shape = mapped(strip.surface.vertices, strip.surface.triangles, plan)
    line = tuple(low + size * end for end in ends)
    relief = cut_as(shape, Candidate("seam", "seam", (line,), False), 0.0, np.ones(len(plan), bool))
    return pad, recut(pad, strip.name, relief)


def test_a_strip_that_was_cut_again_keeps_its_taper():
    """What is known of pleats at every vertex goes on to the vertices of the cut: both parts of a strip are cut as wide
    at the new seam as the strip was there, and to the taper at its ends."""
    before, after = recut_strip()
    flats = flats_of(after)
    pleats = after.pleats
    for values in (pleats.place, pleats.station, pleats.scale, pleats.height_mm, pleats.raised.vertices):
        assert len(values) == len(after.surface.vertices) > len(before.surface.vertices)
    parts = [found for found in pleated(after, flats) if "pleat 2" in found[0].part]
    assert len(parts) == 2
    seen = 0
    for panel, _, apart in parts:
        for rim in panel.rim:
            if rim.name in ("front band", "rear band"):
                assert curve_length(apart.points[rim.vertices]) == pytest.approx(FINISHED_MM + TAKE_UP_MM, abs=1e-3)
                seen += 1
            elif "pleat 2" in rim.name:
                # Far from both ends the rise is whole.
                run = apart.points[rim.vertices]
                assert np.ptp(run @ apart.across) == pytest.approx(ARC_MM + TAKE_UP_MM, abs=0.02)
                seen += 1
    assert seen == 4


def test_new_vertices_of_a_cut_lie_between_their_neighbours_in_every_figure():
    _, after = recut_strip()
    pleats, triangles = after.pleats, after.surface.triangles
    count = len(after.surface.vertices)
    flat = np.abs(after.surface.vertices[:, 2] - after.surface.vertices[:, 2].max()) < 1e-9
    plain = flat & (np.abs(pleats.place - 5.5) < 0.5)
    # On the flat face of a strip place and station are straight functions of x and y.
    at = np.column_stack([after.surface.vertices[plain, :2], np.ones(int(plain.sum()))])
    for values in (pleats.place, pleats.station):
        fit = np.linalg.lstsq(at, values[plain], rcond=None)[0]
        assert np.allclose(at @ fit, values[plain], atol=1e-9)
    assert np.unique(triangles).tolist() == list(range(count))
    assert ((pleats.scale >= 0.0) & (pleats.scale <= 1.0)).all()
    # Half way along a strip the rise is whole, on the vertices of the cut as well.
    middle = plain & (np.abs(after.surface.vertices[:, 1] - 150.0) < 60.0)
    inside = middle & (np.abs(pleats.place - np.round(pleats.place)) > 1e-9)
    assert inside.any()
    assert np.allclose(pleats.scale[inside], 1.0)
