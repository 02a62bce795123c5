"""Proposed cuts as drawings: to scale on the flat piece, where they run on the seat, mirrored where the panel is."""

import re
from types import SimpleNamespace

import numpy as np
import pytest
from lxml import etree

from flatten.seatview.relief_drawing import COLOURS, DASHES, RIBBON_LIFT_MM, RIBBON_MM, piece_drawing, seat_scene
from meshes.seat.assembly import placed
from tests import shapes
from tests.samples import sample_job

SVG = "{http://www.w3.org/2000/svg}"


def relief_of(plan, path, words="dart", lines=()):
    return SimpleNamespace(
        drawn=SimpleNamespace(plan=plan),
        paths=(np.array(path),),
        words=words,
        length_mm=123.4,
        demand_before=0.105,
        demand_after=0.042,
        lines=lines,
    )


@pytest.fixture
def one():
    points, triangles = shapes.grid(10, 6)
    points = points * [300.0, 120.0]
    upright = [k for k in range(len(points)) if abs(points[k, 0] - 150.0) < 1e-9]
    along = [k for k in range(len(points)) if abs(points[k, 1] - 60.0) < 1e-9 and points[k, 0] < 140.0]
    reliefs = [relief_of(points, upright[:4], "a <dart>"), relief_of(points, along, "a seam")]
    flat = SimpleNamespace(points=points, triangles=triangles)
    study = SimpleNamespace(reliefs=reliefs)
    return SimpleNamespace(name="face", mirrored=None, flat=flat, study=study, lines=reliefs)


def read(one, turn=0.0):
    root = etree.fromstring(piece_drawing(one, turn_rad=turn).encode())
    paths = root.findall(f"{SVG}path")
    return root, [(p, np.array(re.findall(r"-?[\d.]+", p.get("d")), dtype=float)) for p in paths]


def places(numbers):
    return numbers.reshape(-1, 2)


@pytest.mark.parametrize("turn", [0.0, 0.4, np.pi / 2])
def test_piece_and_cuts_are_drawn_to_one_scale_with_their_edge(one, turn):
    """One unit of the file is a millimetre of the piece; the edge round it is 4 % of its longer side."""
    root, paths = read(one, turn)
    c, s = np.cos(turn), np.sin(turn)
    wanted = one.flat.points @ np.array([[c, s], [-s, c]]) * [1.0, -1.0]
    low, size = wanted.min(axis=0), np.ptp(wanted, axis=0)
    edge = 0.04 * size.max()
    rim = places(paths[0][1])
    assert rim.min(axis=0) == pytest.approx([edge, edge], abs=0.06)
    assert np.ptp(rim, axis=0) == pytest.approx(size, abs=0.11)
    for k, relief in enumerate(one.study.reliefs):
        drawn = places(paths[1 + 2 * k][1])
        assert drawn == pytest.approx(wanted[relief.paths[0]] - low + edge, abs=0.06)
    x, y, wide, high = (float(v) for v in root.get("viewBox").split())
    assert (x, y) == (0.0, 0.0)
    assert wide == pytest.approx(size[0] + 2 * edge, abs=0.06)
    assert root.get("width") == f"{root.get('viewBox').split()[2]}mm"
    assert root.get("height") == f"{root.get('viewBox').split()[3]}mm"
    # Below the piece there is room for one line of words a proposal.
    text = 0.035 * size.max()
    assert high == pytest.approx(size[1] + 3 * edge + 2 * 1.5 * text, abs=0.06)
    for row in root.findall(f"{SVG}text"):
        assert size[1] + 2 * edge < float(row.get("y")) < high
        assert float(row.get("font-size")) == pytest.approx(text, abs=0.01)


def test_proposals_are_told_apart_and_named_in_order(one):
    root, paths = read(one)
    assert [row.text for row in root.findall(f"{SVG}text")] == [
        "1  a <dart>, 123 mm: 10.5 to 4.2 %",
        "2  a seam, 123 mm: 10.5 to 4.2 %",
    ]
    assert len(paths) == 1 + 2 * 2
    for k in (0, 1):
        line, key = paths[1 + 2 * k][0], paths[2 + 2 * k][0]
        assert line.get("stroke") == key.get("stroke") == "#{:02x}{:02x}{:02x}".format(*COLOURS[k])
        assert line.get("stroke-dasharray") == key.get("stroke-dasharray")
        assert (line.get("stroke-dasharray") is None) == (DASHES[k] == "")
    # Dashes are in tenths of the letters' size.
    text = 0.035 * 300.0
    dash = [float(v) for v in paths[3][0].get("stroke-dasharray").split()]
    assert dash == pytest.approx([float(v) * 0.1 * text for v in DASHES[1].split()], abs=0.01)
    # Keys stand below each other at the left, words right of them.
    rows = root.findall(f"{SVG}text")
    assert float(rows[1].get("y")) - float(rows[0].get("y")) == pytest.approx(1.5 * text, abs=0.11)
    for k, row in enumerate(rows):
        begin, level, long = paths[2 + 2 * k][1][:3]
        assert begin + long < float(row.get("x"))
        assert 0.0 < float(row.get("y")) - level < text


def test_ribbons_lie_on_the_seat_over_their_lines_and_mirrored_on_mirrored_panels():
    job = sample_job()
    panel = next(p for p in job.panels.values() if any(q.mirror_of == p.name for q in job.panels.values()))
    twin = next(q for q in job.panels.values() if q.mirror_of == panel.name)
    rim = panel.rim[0].vertices
    line = panel.surface.vertices[rim]
    advice = SimpleNamespace(
        name=panel.name,
        mirrored=twin.name,
        study=SimpleNamespace(reliefs=[relief_of(None, [0], lines=(line,)), relief_of(None, [0], lines=(line[:5],))]),
        lines=(line, line[:5]),
    )
    scene = seat_scene(job, [advice])
    parts = {part.name: part for part in scene.parts}
    pad = next(pad for pad in job.pads if pad.pad.name == panel.pad)
    for name, side in ((panel.name, 1.0), (twin.name, -1.0)):
        for k, run in enumerate((line, line[:5])):
            part = parts[f"{name} {k + 1}"]
            left, right = np.split(part.vertices, 2)
            assert np.linalg.norm(right - left, axis=1) == pytest.approx(np.full(len(run), RIBBON_MM))
            # Its middle stands off the line by its lift, outwards; the first proposal, the longest, lies highest.
            off = 0.5 * (left + right) - placed(run * [side, 1.0, 1.0], pad.placement)
            lift = RIBBON_LIFT_MM + 0.4 * (2 - k)
            assert np.linalg.norm(off, axis=1) == pytest.approx(np.full(len(run), lift), rel=1e-6)
            outward = part.normals[: len(run)]
            assert (off * outward).sum(axis=1) == pytest.approx(np.full(len(run), lift), rel=1e-6)
            # Triangles face outward with the surface.
            a, b, c = (part.vertices[part.triangles[:, j]] for j in range(3))
            faces = np.cross(b - a, c - a)
            assert ((faces * part.normals[part.triangles[:, 0]]).sum(axis=1) > 0.0).mean() > 0.9
            assert len(part.triangles) == 2 * (len(run) - 1)
            assert tuple(part.colours if part.colours.ndim == 1 else part.colours[0]) == COLOURS[k]
