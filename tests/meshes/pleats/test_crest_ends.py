"""Crests lie flat wherever pleats end in a seam: at a banded end, and round the corners of an end that is open."""

import numpy as np
import pytest

from meshes.seat.build import BuiltPad
from meshes.seat.panels import PanelRole
from tests.pads import built

TAPER_MM = 30.0
# The corner is round enough for the band to cut through the outer pleats.
SHEET = """
name = "test"
[[pad]]
name = "cushion"
kind = "cushion"
[pad.outline]
front_width = 400
rear_width = 400
depth = 300
corner_radius = 90
{sides}
[pad.pleats]
taper = 30
{pleats}
"""


def pleated(banded: set[str], pleats: str) -> BuiltPad:
    sides = "".join(
        f"[pad.sides.{side}]\ndrop = 80\nedge_radius = 20\nband = {str(side in banded).lower()}\n"
        for side in ("front", "right", "rear")
    )
    return built(SHEET.format(sides=sides, pleats=pleats), edge_mm=8.0)


PADS = {
    "open at the rear": ({"front", "right"}, "count = 7"),
    "open at both ends": ({"right"}, "count = 7"),
    "a valley near the corner": ({"right"}, "count = 10"),
    "across, open at the sides": ({"front", "rear"}, 'count = 5\ndirection = "across"'),
}


@pytest.fixture(scope="module", params=PADS)
def pad(request):
    return pleated(*PADS[request.param])


def edges_of(pad: BuiltPad) -> np.ndarray:
    t = np.asarray(pad.surface.triangles)
    return np.unique(np.sort(np.concatenate([t[:, [0, 1]], t[:, [1, 2]], t[:, [2, 0]]]), axis=1), axis=0)


def band_seams(pad: BuiltPad) -> np.ndarray:
    bands = {panel.name for panel in pad.panels if panel.role is PanelRole.BAND}
    own = [np.asarray(seam.vertices) for seam in pad.seams if len(bands & {seam.a, seam.b}) == 1]
    return np.unique(np.concatenate(own))


def test_no_crest_stands_on_the_seam_of_a_band(pad):
    assert pad.pleats.height_mm[band_seams(pad)].max() == pytest.approx(0.0, abs=0.02)


def test_no_point_near_such_a_seam_stands_up_between_its_neighbours(pad):
    height = pad.pleats.height_mm
    seam = pad.surface.vertices[band_seams(pad)]
    near = np.array([np.linalg.norm(seam - v, axis=1).min() < 10.0 for v in pad.surface.vertices])
    highest = np.zeros(len(height))
    for i, j in edges_of(pad):
        highest[i], highest[j] = max(highest[i], height[j]), max(highest[j], height[i])
    assert near.sum() > 100
    assert (height - highest)[near].max() < 0.3


def test_crests_never_step_down_more_steeply_than_their_run_out_or_their_section(pad):
    # Both slopes are largest at one place each: a smooth step runs out at 1.5 times its mean slope, and the section is
    # steepest at its valley.
    section, widths = pad.pleats.plan.section, np.array([f.finished_mm for f in pad.pleats.figures])
    shares, rise = np.linspace(0.0, 0.5, 50), float(section.crown(np.array([widths.max()]))[0])
    profile = section.height(shares, np.full(50, widths.min()), np.ones(50))
    steepest = float(np.abs(np.diff(profile) / np.diff(shares)).max() / widths.min())
    i, j = edges_of(pad).T
    run = np.linalg.norm(pad.surface.vertices[i] - pad.surface.vertices[j], axis=1)
    slope = np.abs(pad.pleats.height_mm[i] - pad.pleats.height_mm[j]) / run
    assert slope.max() < 1.1 * np.hypot(1.5 * rise / TAPER_MM, steepest)


def test_the_rise_falls_along_every_crest_towards_a_seam():
    pad = pleated(*PADS["open at the rear"])
    pleats = pad.pleats
    front = (pleats.place > 0.0) & (pleats.station < 120.0)
    for k in range(2, 5):
        own = np.flatnonzero(front & (np.floor(pleats.place) == k) & (np.abs(pleats.place % 1.0 - 0.5) < 0.4))
        order = own[np.argsort(pleats.station[own])]
        assert len(order) > 20
        assert np.all(np.diff(pleats.scale[order]) >= -1e-3)
        assert pleats.scale[order[-1]] == pytest.approx(1.0)
