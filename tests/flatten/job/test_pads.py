"""All pads of a sheet built as the job builds them: pleats of a back meet those of the cushion where one sees it."""

import numpy as np
import pytest

import flatten
from meshes.seat.assembly import placed
from meshes.seat.build import build
from meshes.seat.lineup import line_up
from tests.meshes.seat.test_lineup import REST
from tests.pads import FLAT, sheet_of

# A cushion with rounded rear corners and a back that starts below its top: the crease lies above both tack lines.
TEXT = (
    FLAT
    + '[[pad.layer]]\nmaterial = "foam_medium"\nthickness = 20\nwhere = "all"\n'
    + "[pad.pleats]\ncount = 8\nfan = 1.15\n"
    # Hardly narrower at the top: no outer pleat of it becomes a sliver, so no valley is left out.
    + REST.format(x=0.0).replace("top_width = 380", "top_width = 425")
    + 'lines_up_with = "cushion"\n'
    + "[cover]\ntension = 150\n[output]\nmesh = 20\n"
)


@pytest.fixture(scope="module")
def seat():
    sheet = sheet_of(TEXT)
    return sheet, flatten.build_pads(sheet, workers=1)


def crease_offsets(one, two):
    """By brute force: every pair of valleys as dense points, compared where they come closest seen from the side."""
    found = []
    for k in range(len(one.pleats.valleys)):
        runs = []
        for pad in (one, two):
            points = placed(pad.surface.vertices[pad.pleats.valleys[k]], pad.placement)
            t = np.linspace(0, len(points) - 1, 2500)
            runs.append(np.stack([np.interp(t, np.arange(len(points)), points[:, c]) for c in range(3)], axis=1))
        a, b = runs
        apart = np.linalg.norm(a[:, None, 1:] - b[None, :, 1:], axis=2)
        near = np.argwhere(apart < apart.min() + 0.15)
        i, j = max(near, key=lambda ij: a[ij[0], 2])
        found.append(b[j, 0] - a[i, 0])
    return np.array(found)


def test_valleys_meet_where_the_two_surfaces_are_seen_to_cross(seat):
    _, (cushion, rest) = seat
    assert len(cushion.pleats.valleys) == len(rest.pleats.valleys) == 7
    assert np.abs(crease_offsets(cushion, rest)).max() < 0.4
    assert max(abs(row.offset_mm) for row in line_up([cushion, rest])) < 0.3


def test_what_is_told_of_an_offset_is_what_brute_force_finds(seat):
    sheet, _ = seat
    pads = [build(pad, edge_mm=20.0, tension_n_per_mm=0.15) for pad in sheet.pads]
    rows = [row.offset_mm for row in line_up(pads)]
    assert rows == pytest.approx(crease_offsets(*pads), abs=0.1)


def test_pads_built_in_one_process_and_in_two_are_the_same_bytes(seat):
    sheet, pads = seat
    again = flatten.build_pads(sheet, workers=2)
    for one, two in zip(pads, again, strict=True):
        assert one.surface.vertices.tobytes() == two.surface.vertices.tobytes()
