"""Which way pleats run on a map, and the seat's direction that goes with them, on maps known in closed form."""

from dataclasses import replace

import numpy as np
import pytest

from flatten.leather.grain import both_means
from flatten.leather.pleat_grain import grained_with_pleats, pleats_of, running, with_pleats
from tests.pleats import bent_across, square


def face_of(pad):
    return next(panel for panel in pad.panels if panel.part == "face")


def turned(points, degrees):
    a = np.deg2rad(degrees)
    return points @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])


def unit(degrees):
    return np.array([np.cos(np.deg2rad(degrees)), np.sin(np.deg2rad(degrees))])


def test_only_a_panel_that_lies_on_the_pleats_carries_them():
    pad = square("count = 4", edge_mm=16.0)
    assert {panel.part for panel in pad.panels if pleats_of(pad, panel) is not None} == {"face"}
    assert pleats_of(pad, face_of(pad)) is pad.pleats


@pytest.mark.parametrize("degrees", [0.0, 25.0, -130.0])
@pytest.mark.parametrize("direction", ["along", "across"])
def test_valleys_run_as_the_map_lays_them(direction, degrees):
    """On a flat face the valleys run from front to rear, or from side to side; the map turns them with it."""
    pad = square(f'count = 4\ndirection = "{direction}"', edge_mm=16.0)
    face = face_of(pad)
    weights = running(pad.pleats, face)
    assert weights.sum() == pytest.approx(0.0, abs=1e-12)
    assert np.abs(weights).sum() == pytest.approx(1.0)
    # Three valleys: their six ends alone count, alike.
    assert (weights != 0.0).sum() == 6
    mean = weights @ turned(face.surface.vertices[:, :2], degrees)
    along = unit(degrees + (90.0 if direction == "along" else 0.0))
    assert mean / np.linalg.norm(mean) == pytest.approx(along, abs=1e-9)


def test_a_strip_between_valleys_has_no_run_of_its_own():
    pad = square('count = 4\nconstruction = "strips"', edge_mm=16.0)
    for panel in pad.panels:
        pleats = pleats_of(pad, panel)
        if pleats is not None:
            weights = running(pleats, panel)
            assert weights is not None
            # Its valleys are its edges: their ends.
            assert (weights != 0.0).sum() in (2, 4)


@pytest.mark.parametrize("slant", [-40.0, -10.0, 0.0, 10.0, 40.0, 50.0])
def test_the_arrow_goes_with_the_pleats_or_square_to_them_whichever_is_nearer(slant):
    """The map shears the pleats away from the grain: up to half a right angle they are followed, beyond it crossed."""
    pad = square("count = 4", edge_mm=16.0)
    face = face_of(pad)
    # A map that turns all by the slant but lays the face's own grain, front to rear, upright: pleats at 90 - slant.
    run = running(pad.pleats, face)
    points = face.surface.vertices[:, :2]
    skewed = turned(points, slant)
    grain = np.array([np.sin(np.deg2rad(slant)), np.cos(np.deg2rad(slant)), 0.0])
    panel = type(face)(**{**face.__dict__, "grain": grain})
    found = with_pleats(panel, run, skewed)
    now = turned(grain[None, :2], slant)[0]
    pleat = unit(90.0 + slant)
    wanted = pleat if abs(slant) < 45.0 else np.array([-pleat[1], pleat[0]])
    assert abs(found @ wanted) == pytest.approx(1.0, abs=1e-9)
    assert found @ now > 0.0


def test_grain_is_set_to_what_is_carried_along_the_pleats():
    """A face bent across, mapped with a shear: the direction that is carried along the valleys in both means."""
    pad = square("count = 4", profiles=bent_across(500.0), edge_mm=16.0)
    face = face_of(pad)
    x, y, _ = face.surface.vertices.T
    arc = 500.0 * np.arcsin(x / 500.0)
    maps = {face.name: np.column_stack([arc + 0.15 * y, y])}
    (found,) = [panel for panel in grained_with_pleats(pad, maps).panels if panel.name == face.name]
    assert np.linalg.norm(found.grain) == pytest.approx(1.0)
    run = running(pad.pleats, face) @ maps[face.name]
    run /= np.linalg.norm(run)
    means = both_means(face.surface.vertices, face.surface.triangles, found.grain).T @ maps[face.name]
    for mean in means:
        assert mean @ run / np.linalg.norm(mean) == pytest.approx(1.0, abs=1e-9)
    # Of a shear along the pleats' own lines that is front to rear itself.
    assert found.grain == pytest.approx([0.0, 1.0, 0.0], abs=1e-5)
    # Other panels keep their grain.
    for before, after in zip(pad.panels, grained_with_pleats(pad, maps).panels, strict=True):
        if before.name != face.name:
            assert after is before


def test_a_direction_off_the_pleats_is_turned_back_to_them():
    """The face's grain drawn 20 degrees off: it comes back along the pleats, by the shortest turn."""
    pad = square("count = 4", edge_mm=16.0)
    face = face_of(pad)
    off = np.array([np.sin(0.35), np.cos(0.35), 0.0])
    panels = tuple(replace(p, grain=off) if p.name == face.name else p for p in pad.panels)
    pad = replace(pad, division=replace(pad.division, panels=panels))
    maps = {face.name: turned(face.surface.vertices[:, :2], 77.0)}
    (found,) = [panel for panel in grained_with_pleats(pad, maps).panels if panel.name == face.name]
    assert found.grain == pytest.approx([0.0, 1.0, 0.0], abs=1e-5)


def test_mirrored_strips_get_mirrored_grain():
    pad = square('count = 4\nconstruction = "strips"', edge_mm=16.0)
    maps = {p.name: p.surface.vertices[:, :2] * [1.0, 1.0] + [0.0, 0.0] for p in pad.panels}
    maps = {n: np.column_stack([m[:, 0] + 0.1 * m[:, 1], m[:, 1]]) for n, m in maps.items()}
    pad = grained_with_pleats(pad, maps)
    by_name = {panel.name: panel for panel in pad.panels}
    seen = 0
    for panel in pad.panels:
        if panel.mirror_of is not None and pleats_of(pad, panel) is not None:
            assert panel.grain == pytest.approx(by_name[panel.mirror_of].grain * [-1.0, 1.0, 1.0])
            seen += 1
    assert seen == 2
