"""Lines of use and stretch on the seat lie on it, and show what the pieces show."""

import numpy as np
import pytest
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from flatten.leather.stretch import stretch
from flatten.seatview.lines import GROWTH_MM, LEAST_MM, LIFT_MM, use_lines
from flatten.seatview.scenes import scene
from meshes.base.surface import vertex_normals
from meshes.numerics.contours import SHORT_MM, USE_BANDS, at_vertices
from meshes.seat.assembly import placed
from meshes.view.painter import paint
from meshes.view.scene import FINE_COLOUR, load_scene, save_scene
from tests.samples import sample_job


def test_lines_lie_on_the_seat_and_bands_where_they_are_reached():
    job, levels = sample_job(), set()
    for found in use_lines(job):
        panel, line, level = found.panel, found.points, found.level
        pad = next(pad for pad in job.pads if pad.pad.name == panel.pad)
        seat = placed(pad.shown.vertices[panel.vertices], pad.placement)
        away, near = cKDTree(seat).query(line)
        # The mesh of the sample has edges of about 16 mm.
        assert away.max() < 16.0 + LIFT_MM
        if level is not None:
            levels.add(level)
            assert np.linalg.norm(np.diff(line, axis=0), axis=1).sum() >= SHORT_MM
            flat = job.flats[panel.name]
            values = at_vertices(flat.points, flat.triangles, flat.use)
            assert values.min() <= level <= values.max()
            assert np.abs(values[near] - level).mean() < 0.25 * np.ptp(values)
        else:
            assert len(line) == 2
            assert np.linalg.norm(line[1] - line[0]) >= LEAST_MM * (1 - 1e-9)
    assert levels <= set(USE_BANDS)


def traced(places, triangles, values, level):
    """Lengths of the lines on which values equal a level: segments of triangles, joined where they share an edge."""
    ends, far = [], []
    for corners in triangles:
        pairs = [tuple(sorted((corners[k], corners[k - 1]))) for k in range(3)]
        cut = [(a, b) for a, b in pairs if (values[a] >= level) != (values[b] >= level)]
        if cut:
            at = [places[a] + (level - values[a]) / (values[b] - values[a]) * (places[b] - places[a]) for a, b in cut]
            ends.append(cut)
            far.append(np.linalg.norm(at[1] - at[0]))
    if not ends:
        return np.zeros(0)
    number = {edge: k for k, edge in enumerate({edge for pair in ends for edge in pair})}
    links = np.array([[number[a], number[b]] for a, b in ends])
    size = len(number)
    _, line = connected_components(coo_matrix((np.ones(len(links)), links.T), shape=(size, size)), directed=False)
    return np.bincount(line[links[:, 0]], far)


def test_every_band_that_is_reached_has_its_lines_and_no_other_has_any():
    """Each line of a level on each panel by a second route, as long, and none left out but specks."""
    job, drawn = sample_job(), 0
    lines = [found for found in use_lines(job) if found.level is not None]
    for panel in job.panels.values():
        flat, pad = job.flats[panel.name], next(pad for pad in job.pads if pad.pad.name == panel.pad)
        lift = LIFT_MM * vertex_normals(pad.shown.vertices, pad.shown.triangles)
        places = placed(pad.shown.vertices + lift, pad.placement)[panel.vertices]
        values = at_vertices(flat.points, flat.triangles, flat.use)
        for level in USE_BANDS:
            wanted = traced(places, panel.surface.triangles, values, level)
            mine = [found.points for found in lines if found.panel is panel and found.level == level]
            lengths = [np.linalg.norm(np.diff(points, axis=0), axis=1).sum() for points in mine]
            assert sorted(lengths) == pytest.approx(sorted(wanted[wanted >= SHORT_MM]), rel=1e-6)
            drawn += len(mine)
    assert drawn == len(lines) > 0


def test_fine_lines_are_drawn_and_kept(tmp_path):
    shown = scene(sample_job(), "stretch")
    assert shown.fine
    save_scene(shown, tmp_path / "scene.npz")
    back = load_scene(tmp_path / "scene.npz")
    assert [name for name, _ in back.fine] == [name for name, _ in shown.fine]
    assert all(np.array_equal(a, b) for (_, a), (_, b) in zip(back.fine, shown.fine, strict=True))
    image = np.asarray(paint(shown, "front", (900, 600))).astype(int)
    # Scaled down they blend with what lies below; some pixels come close to their own colour.
    assert (np.abs(image - FINE_COLOUR).max(axis=2) < 40).sum() > 50
    assert not scene(sample_job(), "panels").fine


def test_strokes_run_along_the_larger_stretch_and_grow_with_it():
    """By the direction on the seat that the stretch itself tells: a stroke lies within a few degrees of that of the
    triangle below it, is centred on it, and is longer by the stretch there."""
    job, seen = sample_job(), 0
    for panel in job.panels.values():
        flat = job.flats[panel.name]
        pad = next(pad for pad in job.pads if pad.pad.name == panel.pad)
        places = placed(panel.surface.vertices, pad.placement)
        field = stretch(panel.surface.vertices, flat.points, flat.triangles)
        turned_seat = placed(field.along_seat, pad.placement) - placed(np.zeros((1, 3)), pad.placement)
        middles = places[panel.surface.triangles].mean(axis=1)
        for found in use_lines(job):
            if found.level is not None or found.panel is not panel:
                continue
            run = found.points[1] - found.points[0]
            k = int(np.argmin(np.linalg.norm(middles - found.points.mean(axis=0), axis=1)))
            assert np.linalg.norm(middles[k] - found.points.mean(axis=0)) < 2.0 * LIFT_MM
            near = np.linalg.norm(middles - middles[k], axis=1) < 40.0
            most = field.values[near, 0]
            length = np.linalg.norm(run)
            assert (
                LEAST_MM + GROWTH_MM * (most.min() - 1.0) - 1.0
                <= length
                <= LEAST_MM + GROWTH_MM * (most.max() - 1.0) + 1.0
            )
            if np.ptp(field.values[near], axis=1).min() > 0.01:
                alike = np.abs(turned_seat[near] @ run) / length
                assert alike.max() > 0.9
                seen += 1
    assert seen >= 3
