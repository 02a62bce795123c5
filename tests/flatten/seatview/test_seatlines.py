"""Lines of use and stretch on the seat lie on it, and show what the pieces show."""

import numpy as np
from scipy.spatial import cKDTree

from flatten.seatview.lines import LEAST_MM, LIFT_MM, use_lines
from flatten.seatview.scenes import scene
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
    assert 0.5 in levels
    assert levels <= set(USE_BANDS)


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
