"""The grain arrow stands for a direction on the seat: where every triangle's own map carries it, in the mean over the
seat, there the arrow points, on the map, on the paper and in the figures by direction. A direction comes to lie in a
triangle shorter the steeper that is; a mean may count it so, or at its full length: the arrow holds for both."""

from pathlib import Path

import numpy as np
import pytest

from flatten.job.make import make
from flatten.leather.pleat_grain import pleats_of

EXAMPLES = Path(__file__).parents[3] / "examples"
CLOSE_DEG = 1.0
# How evenly the arrow lies between both means.
EVEN_DEG = 0.1


def job_of(folder, sheet, **changed):
    """The job of an example with a coarse mesh, or other lines changed."""
    lines = (EXAMPLES / sheet).read_text().splitlines()
    for key, value in {"mesh": 24, **changed}.items():
        here = [k for k, line in enumerate(lines) if line.startswith(f"{key} =")]
        if here:
            lines[here[0]] = f"{key} = {value}"
        else:
            lines.insert(lines.index("[cover]") + 1, f"{key} = {value}")
    path = folder / "sheet.toml"
    path.write_text("\n".join(lines))
    return make(path)


@pytest.fixture(scope="module", params=["pilot_bucket/bucket.toml", "helm_bench/bench.toml", "jump_seat/jump.toml"])
def job(request, tmp_path_factory):
    return job_of(tmp_path_factory.mktemp("grain"), request.param)


def means_on(panel, points):
    """Both area means of the grain, laid into each triangle of the seat and carried by the map of the triangle alone:
    as long as it comes to lie there, and of length 1."""
    seat, shorter, full = panel.surface, np.zeros(2), np.zeros(2)
    for corners in seat.triangles:
        a, b, c = seat.vertices[corners]
        normal = np.cross(b - a, c - a)
        area = 0.5 * np.linalg.norm(normal)
        normal /= 2.0 * area
        laid = panel.grain - normal * (normal @ panel.grain)
        part = np.linalg.lstsq(np.stack([b - a, c - a], axis=1), laid, rcond=None)[0]
        flat = points[corners]
        there = area * (part[0] * (flat[1] - flat[0]) + part[1] * (flat[2] - flat[0]))
        shorter += there
        full += there / max(np.linalg.norm(laid), 1e-6)
    return [mean / np.linalg.norm(mean) for mean in (shorter, full)]


def off_deg(one, other):
    """Angle between two lines."""
    return np.rad2deg(np.arcsin(min(abs(one[0] * other[1] - one[1] * other[0]), 1.0)))


def test_every_arrow_is_the_area_mean_of_its_direction_on_the_finished_map(job):
    for panel in job.panels.values():
        flat = job.flats[panel.name]
        assert flat.made.method == "least demand"
        off = [off_deg(flat.backbone, mean) for mean in means_on(panel, flat.points)]
        assert max(off) < CLOSE_DEG, panel.name
        assert abs(off[0] - off[1]) < EVEN_DEG, panel.name


def test_the_paper_shows_the_same_arrow(job):
    for piece in job.pieces:
        panel = job.panels[piece.panels[0]]
        arrow = (piece.grain[1] - piece.grain[0]) / np.linalg.norm(piece.grain[1] - piece.grain[0])
        for mean in means_on(panel, piece.mesh.points):
            assert off_deg(arrow, mean) < CLOSE_DEG, piece.name
            assert arrow @ mean > 0.0


def test_what_is_pleated_lies_with_its_pleats(job):
    for pad in job.pads:
        for panel in pad.panels:
            if pad.pleats is None or pleats_of(pad, panel) is None:
                continue
            points, number = job.flats[panel.name].points, {int(v): k for k, v in enumerate(panel.vertices)}
            paths = [[number[int(v)] for v in path if int(v) in number] for path in pad.pleats.valleys]
            run = sum(points[path[-1]] - points[path[0]] for path in paths if len(path) > 1)
            assert off_deg(job.flats[panel.name].backbone, run / np.linalg.norm(run)) < 1.0, panel.name


def test_mirrored_panels_carry_mirrored_grain(job):
    for panel in job.panels.values():
        if panel.mirror_of is not None:
            source = job.panels[panel.mirror_of]
            assert np.allclose(panel.grain, source.grain * [-1.0, 1.0, 1.0], atol=1e-12)


def test_a_window_lets_the_arrow_lie_off_by_no_more_and_asks_no_more(tmp_path):
    straight = job_of(tmp_path, "pilot_bucket/bucket.toml", mesh=30)
    free = job_of(tmp_path, "pilot_bucket/bucket.toml", mesh=30, grain_window=12)
    off = {
        name: max(off_deg(free.flats[name].backbone, mean) for mean in means_on(panel, free.flats[name].points))
        for name, panel in free.panels.items()
    }
    assert max(off.values()) <= 12.0 + CLOSE_DEG
    assert max(off.values()) > 2.0
    use = [max(flat.use.max() for flat in job.flats.values()) for job in (free, straight)]
    assert use[0] <= use[1] * 1.02
