"""Scenes say what they show: keys agree with colours, figures with the pieces, lines lie as far off as they should."""

import re
from dataclasses import replace

import numpy as np
import pytest

from flatten.draw.stretch_map import reach_of
from flatten.seatview.lines import LIFT_MM, STROKES_APART_MM, use_lines
from flatten.seatview.relief_drawing import COLOURS, RIBBON_LIFT_MM, RIBBON_MM, _ribbon
from flatten.seatview.scenes import LINE_LIFT_MM, PADDED_COLOUR, SHOWS, SUPPORT_COLOUR, _at_vertices, scene
from meshes.base.surface import Surface, vertex_normals
from meshes.numerics.contours import SHORT_MM
from meshes.records.materials import CRUSH_LIMIT
from meshes.seat.assembly import placed
from meshes.view.colours import OVER, PANEL_COLOURS, use_colours
from meshes.view.scene import FINE_COLOUR, LINE_COLOUR
from tests.samples import sample_job


@pytest.fixture(scope="module")
def job():
    return sample_job()


def luminance(colour):
    """Relative luminance of an sRGB colour (W3C, Web Content Accessibility Guidelines 2.2)."""
    share = np.asarray(colour) / 255.0
    return float(np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4) @ [0.2126, 0.7152, 0.0722])


def contrast(one, other):
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("show", SHOWS)
def test_colours_are_colours_and_seams_stand_out_from_them(job, show):
    shown = scene(job, show)
    assert shown.parts
    for part in shown.parts:
        colours = np.atleast_2d(part.colours)
        assert colours.min() >= 0
        assert colours.max() <= 255
        assert part.normals.shape == part.vertices.shape
        if show in ("panels", "padded", "support"):
            assert contrast(colours[0], LINE_COLOUR) >= 3.0
    if show in ("panels", "padded", "support", "stretch"):
        assert job.sheet.name in shown.title


def test_surfaces_without_a_map_are_told_apart_in_a_grey_copy():
    assert luminance(PADDED_COLOUR) > 1.4 * luminance(SUPPORT_COLOUR)
    for one in COLOURS:
        assert min(one) >= 0
        assert max(one) <= 255
        # A proposal's ribbon stands out from every panel that it may cross.
        assert min(contrast(one, panel) for panel in PANEL_COLOURS) > 1.25
        assert contrast(one, (243, 234, 214)) > 4.0
    assert len(set(COLOURS)) == len(COLOURS)


def test_every_number_of_the_key_stands_at_its_colour(job):
    key, reach = scene(job, "stretch").key, reach_of(job.leather)
    meant = {f"{100 * reach:.3g} % fullness": -1.0, "true length": 0.0, "half": 0.5, "all of it": 1.0}
    assert [words for _, words in key.ticks] == list(meant)
    for place, words in key.ticks:
        at = place * (len(key.bar) - 1)
        here = [np.interp(at, np.arange(len(key.bar)), [colour[k] for colour in key.bar]) for k in range(3)]
        assert np.abs(here - use_colours([meant[words]])[0].astype(float)).max() < 3.0
    assert key.swatches == ((OVER, "over"),)
    card = job.leather
    numbers = [float(found) for found in re.findall(r"([\d.]+) %", key.words)]
    assert numbers == [pytest.approx(100 * x, rel=0.01) for x in (card.stretch_along, card.stretch_across)]
    # A step of the bar is too small to be seen as one.
    assert max(np.abs(np.diff(np.array(key.bar, dtype=int), axis=0)).max(axis=1)) <= 6


def test_the_title_tells_most_least_and_nearly_all_of_the_use(job):
    name = max(job.panels, key=lambda n: len(job.panels[n].triangles))
    panel, flats = job.panels[name], {}
    for other, flat in job.flats.items():
        flats[other] = replace(flat, judgement=replace(flat.judgement, use=np.full(len(flat.triangles), 0.5)))
    areas = triangle_areas(panel)
    every = sum(triangle_areas(job.panels[n]).sum() for n in flats)
    order = np.argsort(-areas)
    use = np.full(len(areas), 0.5)
    # Rare large values on less than half a hundredth of the seat, and one small one.
    few = np.flatnonzero(np.cumsum(areas[order]) < 0.004 * every)
    use[order[few]], use[order[-1]] = 0.93, 0.11
    assert len(few)
    flats[name] = replace(flats[name], judgement=replace(flats[name].judgement, use=use))
    told = scene(replace(job, flats=flats), "stretch").title.split("\n")[1]
    assert told == f"most 93 % ({name}), 99.5 % of the area 50 % or less, least 11 %"
    use[order[: 2 * len(few) + 4]] = 0.93
    assert areas[order[: 2 * len(few) + 4]].sum() > 0.005 * every
    assert "99.5 % of the area 93 % or less" in scene(replace(job, flats=flats), "stretch").title


def triangle_areas(panel):
    a, b, c = (panel.surface.vertices[panel.surface.triangles[:, k]] for k in range(3))
    return 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)


def test_values_at_vertices_are_means_by_area():
    square = np.array([[0, 0, 0], [2, 0, 0], [2, 1, 0], [0, 1, 0], [0, 9, 0.0]])
    surface = Surface(square, np.array([[0, 1, 2], [0, 2, 3], [3, 2, 4]]), {})
    # Areas 1, 1 and 8.
    found = _at_vertices(surface, np.array([3.0, 5.0, 14.0]))
    assert found == pytest.approx([4.0, 3.0, (3 + 5 + 8 * 14) / 10, (5 + 8 * 14) / 9, 14.0])


def test_lines_lie_off_the_seat_by_their_lift(job):
    for pad in job.pads:
        points = placed(pad.shown.vertices, pad.placement)
        normals = vertex_normals(points, pad.shown.triangles)
        for show, lift in (("panels", LINE_LIFT_MM), ("compression", LIFT_MM), ("settled", LIFT_MM)):
            lines = dict(scene(job, show).lines)
            for name, path in pad.surface.curves.items():
                off = lines[f"{pad.pad.name} {name}"] - points[path]
                assert np.allclose(off, lift * normals[path], atol=1e-9)
                assert np.einsum("ij,ij->i", off, normals[path]) == pytest.approx(lift)


def test_names_stand_on_the_middle_of_what_they_name(job):
    for show in ("panels", "compression", "settled"):
        shown = scene(job, show)
        parts = {part.name: part.vertices for part in shown.parts}
        assert [name for name, _ in shown.names] == list(parts)
        for name, at in shown.names:
            away = np.linalg.norm(parts[name] - parts[name].mean(axis=0), axis=1)
            assert np.linalg.norm(at - parts[name].mean(axis=0)) == pytest.approx(away.min())
    for part, (name, at) in zip(scene(job, "padded").parts, scene(job, "padded").names, strict=True):
        assert name == part.name
        assert np.allclose(at, part.vertices.mean(axis=0))


def test_the_limit_of_foam_is_drawn_where_it_is_passed(job):
    """Crush that rises evenly from front to rear: one line across the pad where it is the limit."""
    pad = job.pads[0]
    depth = pad.shown.vertices[:, 1]
    middle = 0.5 * (depth.min() + depth.max())
    crush = CRUSH_LIMIT + (depth - middle) / np.ptp(depth) * 0.2
    told = replace(pad, rest=replace(pad.rest, foam_crush=crush))
    fine = scene(replace(job, pads=(told, *job.pads[1:])), "compression").fine
    own = [line for name, line in fine if name == f"{pad.pad.name} limit"]
    assert own
    back = np.linalg.inv(pad.placement)
    for line in own:
        assert np.linalg.norm(np.diff(line, axis=0), axis=1).sum() >= SHORT_MM
        # Lifted along the normal, which leans to the front or rear by no more than the lift.
        assert np.abs(placed(line, back)[:, 1] - middle).max() <= LIFT_MM + 1e-6
    assert not [line for name, line in scene(job, "compression").fine if np.nanmax(pad.rest.foam_crush) < CRUSH_LIMIT]


def test_one_stroke_stands_on_every_square_of_a_panel(job):
    found = use_lines(job)
    for panel in job.panels.values():
        count = sum(line.panel is panel and line.level is None for line in found)
        flat = job.flats[panel.name]
        a, b, c = (flat.points[flat.triangles[:, k]] for k in range(3))
        (ux, uy), (vx, vy) = (b - a).T, (c - a).T
        area = 0.5 * np.abs(ux * vy - uy * vx).sum()
        rim = 2.0 * np.ptp(flat.points, axis=0).sum()
        assert abs(count - area / STROKES_APART_MM**2) <= rim / STROKES_APART_MM + 1.0


def test_a_ribbon_is_as_wide_as_ribbons_are_and_lies_over_its_line():
    line = np.stack([np.linspace(0.0, 60.0, 7), np.zeros(7), np.full(7, 3.0)], axis=1)
    up = np.tile([0.0, 0.0, 1.0], (7, 1))
    part = _ribbon("face 2", line, up, 1, RIBBON_LIFT_MM)
    a, b, c = (part.vertices[part.triangles[:, k]] for k in range(3))
    faces = np.cross(b - a, c - a)
    assert 0.5 * np.linalg.norm(faces, axis=1).sum() == pytest.approx(60.0 * RIBBON_MM)
    assert (faces[:, 2] > 0).all()
    assert part.vertices[:, 2] == pytest.approx(3.0 + RIBBON_LIFT_MM)
    assert np.abs(part.vertices[:, 1]) == pytest.approx(0.5 * RIBBON_MM)
    assert (part.colours == COLOURS[1]).all()
    assert min(contrast(FINE_COLOUR, colour) for colour in use_colours([-0.2, 0.0, 0.2])) > 1.5
