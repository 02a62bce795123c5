"""Rough meshes and meshes inside out: held against noise put in, told with figures, refused where hopeless."""

from itertools import product

import numpy as np
import pytest

from flatten.demand.develop import flatten
from flatten.job.single import flatten_file, report_text, summary_text
from meshes.base.problems import ProblemError
from meshes.base.surface import side_lengths, triangle_areas
from meshes.intake.mesh_file import ply_bytes
from meshes.intake.read import read_mesh
from meshes.intake.repair import repair_mesh
from meshes.intake.roughness import ROUGH_SHARE, is_hollow, roughness
from tests import shapes

SMOOTH = {
    "dome": lambda: shapes.cap(0.8, rings=20),
    "coarse dome": lambda: shapes.cap(1.5, rings=8),
    "saddle": shapes.saddle,
    "cushion": shapes.cushion,
    "coarse cushion": lambda: shapes.cushion(edge=40),
    "cone": shapes.cone,
    "coarse cone": lambda: shapes.cone(cells=(12, 6)),
    "loose cylinder": lambda: shapes.loose_cylinder(12.0),
    "fold": lambda: shapes.graph(lambda x, y: -np.abs(x), width=300, depth=300, edge=12),
}


def noisy(mesh, share, *, seed=0):
    """The mesh with every point moved any way, by a normal deviation that is a share of the edges."""
    seat, triangles = mesh
    edge = float(np.median(side_lengths(seat, triangles)))
    return seat + share * edge * np.random.default_rng(seed).normal(size=seat.shape), triangles


@pytest.mark.parametrize("name", SMOOTH)
def test_what_is_smooth_is_not_rough_however_coarse_or_creased(name):
    assert roughness(*SMOOTH[name]()).share < 0.7 * ROUGH_SHARE


@pytest.mark.parametrize(
    ("name", "share"),
    [*product(("dome", "saddle", "cushion"), (0.03, 0.06, 0.1, 0.15)), *product(("fold",), (0.06, 0.1, 0.15))],
)
def test_the_noise_that_was_put_in_is_found_again(name, share):
    """As the mean of eight draws, which differ by a twentieth; beside a crease only what is well above it is told."""
    smooth = SMOOTH[name]()
    many = [roughness(*noisy(smooth, share, seed=seed)) for seed in range(8)]
    assert np.mean([one.share for one in many]) == pytest.approx(share, rel=0.1)
    for one in many:
        assert one.noise_mm == pytest.approx(one.share * one.edge_mm, rel=1e-12)


def test_on_a_flat_mesh_noise_along_the_normal_is_measured_in_proportion():
    flat, triangles = shapes.graph(lambda x, y: 0.0 * x, width=400, depth=400, edge=10)
    up = np.random.default_rng(3).normal(size=len(flat))[:, None] * [0.0, 0.0, 1.0]
    little, twice = (roughness(flat + size * up, triangles).share for size in (1e-3, 2e-3))
    assert twice == pytest.approx(2.0 * little, rel=1e-5)
    assert little == pytest.approx(1e-3 / np.median(side_lengths(flat, triangles)), rel=0.05)


def test_the_area_that_noise_adds_is_found_again():
    smooth = shapes.cushion()
    seat, triangles = noisy(smooth, 0.15)
    more = triangle_areas(seat, triangles).sum() / triangle_areas(*smooth).sum() - 1.0
    assert roughness(seat, triangles).excess == pytest.approx(more, rel=0.1)


def test_roughness_is_the_same_in_any_place_and_size():
    seat, triangles = noisy(shapes.cushion(edge=20), 0.05)
    turn, _ = np.linalg.qr(np.random.default_rng(1).normal(size=(3, 3)))
    one, two = roughness(seat, triangles), roughness(3.0 * seat @ turn + 500.0, triangles)
    assert two.share == pytest.approx(one.share, rel=1e-9)
    assert two.noise_mm == pytest.approx(3.0 * one.noise_mm, rel=1e-9)


def test_a_rough_scan_is_told_with_figures_and_a_hopeless_one_refused(tmp_path):
    smooth = shapes.cushion(edge=16)
    for share in (0.0, 0.045):
        path = tmp_path / f"scan{share}.ply"
        path.write_bytes(ply_bytes(*noisy(smooth, share)))
        single = flatten_file(path, tmp_path / f"out{share}", leather="soft")
        told = [note for note in single.notes if "rough" in note]
        assert len(told) == (share > 0)
        assert all(note in summary_text(single) and "M301" in report_text(single) for note in told)
        assert all("mm" in note and "%" in note for note in told)
        assert bool(flatten(*noisy(smooth, share)).remarks) == (share > 0)
    for share in (0.1, 0.2, 0.5, 1.0):
        path.write_bytes(ply_bytes(*noisy(smooth, share)))
        for make in (lambda: flatten_file(path, tmp_path / "never"), lambda: flatten(*noisy(smooth, share))):  # noqa: B023
            with pytest.raises(ProblemError) as caught:
                make()
            assert [problem.code for problem in caught.value.problems] == ["M217"]
            assert "area" in str(caught.value)
    assert not (tmp_path / "never").exists()


@pytest.mark.parametrize(
    ("name", "side"),
    [(n, "bowl") for n in ("dome", "coarse dome", "cushion", "cone", "loose cylinder")] + [("saddle", "none")],
)
def test_a_surface_is_hollow_from_one_side_only_and_a_saddle_from_none(name, side):
    seat, triangles = SMOOTH[name]()
    over = triangles[:, [0, 2, 1]]
    assert not is_hollow(seat, triangles)
    assert is_hollow(seat, over) == (side == "bowl")
    # In the mirror the outer side stays the outer side only when the triangles are turned too.
    assert is_hollow(seat * [-1.0, 1.0, 1.0], triangles) == (side == "bowl")


def test_nothing_is_said_of_a_flat_mesh():
    seat, triangles = shapes.graph(lambda x, y: 0.0 * x, width=300, depth=300, edge=20)
    for way in (triangles, triangles[:, [0, 2, 1]]):
        assert repair_mesh(seat, way).notes == ()


def test_a_mesh_inside_out_is_told_and_can_be_turned_over(tmp_path):
    seat, triangles = shapes.cap(0.8, rings=8)
    path = tmp_path / "in.ply"
    path.write_bytes(ply_bytes(seat, triangles[:, [0, 2, 1]]))
    (note,) = read_mesh(path).notes
    assert "turn-over" in note
    assert note in flatten(seat, triangles[:, [0, 2, 1]]).remarks
    turned = read_mesh(path, repair=["turn-over"])
    assert np.array_equal(turned.triangles, triangles)
    assert len(turned.notes) == 1
    assert "hollow" not in turned.notes[0]
    assert flatten(seat, triangles).remarks == ()
