"""Least demand held to the mathematical optimum, to other ways of flattening, and to its own laws."""

import numpy as np
import pytest

import flatten
from flatten.demand.least_demand import Member, least_demand
from flatten.demand.length_penalty import RimLengths
from flatten.demand.options import Options
from flatten.demand.window import Terms
from flatten.maps.halves import halved, right_half
from flatten.maps.start import starts
from meshes.base.surface import boundary_loops
from meshes.numerics.triangulate import triangulate
from tests import shapes
from tests.bench import peers

NUMBERS = ("thickness_mm", "pull", "stretch_along", "stretch_across")

ZOO = {
    "saddle": lambda: shapes.saddle(rings=14),
    "cushion": lambda: shapes.cushion(edge=22.0),
    "free form": lambda: shapes.free_form(edge=18.0),
    "torus": lambda: shapes.torus_quarter(cells=(30, 18)),
    "cap": lambda: shapes.cap(1.0, rings=14),
}


@pytest.mark.parametrize("angle", [0.25, 0.5, np.pi / 4, 1.0, np.pi / 3])
def test_spherical_caps_come_within_half_a_per_cent_of_the_optimum(angle):
    # Milnor, A problem in cartography, Amer. Math. Monthly 76 (1969) 1101-1112: least ln(max/min) is ln(a / sin a).
    optimum = np.log(angle / np.sin(angle))
    flat = flatten.flatten(*shapes.cap(angle, rings=54))
    assert len(flat.triangles) > 16_000
    assert optimum < np.log1p(flat.demand) < 1.005 * optimum


def test_a_coarse_cap_comes_within_one_per_cent():
    optimum = np.log(0.5 / np.sin(0.5))
    assert np.log1p(flatten.flatten(*shapes.cap(0.5, rings=26)).demand) < 1.01 * optimum


@pytest.mark.parametrize(("long", "wanted"), [(1, 0.046), (2, 0.078), (3, 0.092)])
def test_rectangles_of_small_curvature(long, wanted):
    # ORACLES: least ln spread / (K w^2) of a w x l rectangle, by a linear programme; 2 %. What a mesh of edge h
    # adds falls with h, so two meshes are carried on to h = 0 on a straight line.
    curvature, width = 1e-8, 200.0

    def spread(cells):
        edge = width / cells
        mesh = even_rectangle(width, long * width, curvature, cells)
        found = least_demand(Member(*mesh, next(starts(*mesh)).points), gap=5e-4)
        assert found.status.converged
        return edge, found.log_spread / (curvature * width**2)

    (coarse, above), (fine, below) = spread(24), spread(48)
    carried_on = below - fine * (above - below) / (coarse - fine)
    assert below < above
    assert carried_on == pytest.approx(wanted, rel=0.02)


def even_rectangle(width, length, curvature, cells):
    """A shallow paraboloid over a rectangle with edge vertices evenly spaced."""
    h, rows = width / cells, cells * round(length / width)
    x, y = np.arange(cells) * h, np.arange(rows) * h
    rim = np.concatenate(
        [
            np.stack([x, 0 * x], 1),
            np.stack([0 * y + width, y], 1),
            np.stack([width - x, 0 * x + length], 1),
            np.stack([0 * y, length - y], 1),
        ]
    ) - [width / 2, length / 2]
    n = len(rim)
    segments = np.stack([np.arange(n), (np.arange(n) + 1) % n], 1)
    flat = triangulate(rim, segments, rim=np.ones(n, dtype=bool), edge_mm=h)
    height = -0.5 * np.sqrt(curvature) * (flat.points**2).sum(axis=1)
    return np.column_stack([flat.points, height]), flat.triangles


PEERS = {
    # libigl: Rabinovich et al., Scalable locally injective mappings, 2017; Liu et al. 2008; Levy et al. 2002.
    "slim from lscm": peers.slim_from_lscm,
    "slim from a circle": peers.slim_from_circle,
    "arap": peers.arap,
    "lscm": peers.lscm,
}
# PyMeshLab, where it is installed (the extra `bench`): its own least squares conformal and harmonic maps.
MESHLAB = ("least_squares_conformal_maps", "harmonic")


@pytest.fixture(scope="module", params=ZOO)
def one_of_the_zoo(request):
    """Name, mesh, and our demand."""
    mesh = ZOO[request.param]()
    return request.param, mesh, flatten.flatten(*mesh).demand


@pytest.mark.parametrize("peer", PEERS)
def test_demand_is_below_that_of_every_peer(one_of_the_zoo, peer):
    name, mesh, ours = one_of_the_zoo
    theirs = peers.demand(*mesh, PEERS[peer](*mesh).points)
    # Only conformal maps fold: of a piece that lies over itself there is nothing to compare.
    assert np.isfinite(theirs) or peer == "lscm", name
    assert ours < theirs


@pytest.mark.parametrize("kind", MESHLAB)
def test_demand_is_below_that_of_pymeshlab(one_of_the_zoo, kind):
    pytest.importorskip("pymeshlab")
    _, mesh, ours = one_of_the_zoo
    points = peers.meshlab(f"compute_texcoord_parametrization_{kind}", *mesh).points
    assert points is not None
    assert ours < peers.demand(*mesh, points)


@pytest.mark.parametrize("mesh", [shapes.cone, shapes.cylinder])
def test_developables_stay_exact(mesh):
    seat, triangles = mesh()
    assert flatten.flatten(seat, triangles).demand < 1e-6
    flat = flatten.flatten(seat, triangles, leather="soft")
    # Cut tight by the leather's pull, everywhere alike: undersize = 1 / (1 + e).
    assert flat.stretch == pytest.approx(1.01, abs=1e-6)


def test_undersize_is_one_over_one_plus_e():
    # Derived: 20 in at 3 % is 19.417 in.
    card = flatten.Card("test", 1.0, 0.03, 0.2, 0.2, dict.fromkeys(NUMBERS, "made up for this test"))
    points, triangles = shapes.scattered(508.0, 100.0, 20.0)
    flat = flatten.flatten(np.column_stack([points, 0 * points[:, 0]]), triangles, leather=card)
    assert np.ptp(flat.points[:, 0]) / 25.4 == pytest.approx(19.417, abs=5e-4)


def test_no_place_is_slack_and_no_leather_is_balanced():
    mesh = shapes.cap(0.5, rings=14)
    held = flatten.flatten(*mesh, leather="soft")
    assert held.stretch.min() >= 1.01
    assert held.stretch.min() == pytest.approx(1.01, abs=2e-4)
    free = flatten.flatten(*mesh)
    assert free.stretch.max() * free.stretch.min() == pytest.approx(1.0, abs=1e-9)


def test_dome_feasibility():
    # ORACLES: dome of half-width 200 and rise 50 asks S = 4.033 %: too tight at 4.0 %, within at 4.1 %. A paraboloid of
    # that rise is not the oracle's dome; the cap through the same rim and top has angle a with tan(a / 2) = 50 / 200.
    angle = 2 * np.arctan(50.0 / 200.0)
    optimum = np.log(angle / np.sin(angle))
    assert optimum == pytest.approx(0.04033, rel=0.01)
    flat = flatten.flatten(*shapes.cap(angle, rings=54, radius=200.0 / np.sin(angle)), budget=np.expm1(0.041))
    assert flat.verdict == "fits"
    assert np.log1p(flat.demand) > 0.040


def test_rim_lengths_are_met_by_a_dome_at_hardly_more_demand():
    seat, triangles = shapes.cap(0.5, rings=26)
    free = flatten.flatten(seat, triangles)
    loop = boundary_loops(triangles)[0]
    edges = np.stack([loop, np.roll(loop, -1)], axis=1)
    lengths = np.linalg.norm(seat[edges[:, 1]] - seat[edges[:, 0]], axis=1)
    rim = RimLengths(edges, lengths, lengths / lengths.sum())
    held = least_demand(Member(seat, triangles, free.points), Terms(pull=-0.2, rim=rim), gap=2e-3)
    off = np.linalg.norm(held.points[edges[:, 1]] - held.points[edges[:, 0]], axis=1) / lengths - 1
    assert np.abs(off).max() < 1e-3
    # "A dome can have exact seam lengths at no extra demand": but for the rim's own row of triangles.
    assert held.log_spread < 1.05 * np.log1p(free.demand)


def test_a_half_unfolds_to_the_whole():
    points, triangles = shapes.disc(14)
    seat = np.column_stack([200 * points, -60 * (points**2).sum(axis=1)])
    seat, triangles, mirror = mirrored_mesh(seat, triangles[(seat[triangles][:, :, 0] > -1e-9).all(axis=1)])
    half = right_half(seat, triangles, mirror)
    assert half is not None
    assert 2 * len(half.triangles) == len(triangles)
    assert halved(half, next(starts(seat, triangles)).points) is not None
    whole = flatten.flatten(seat, triangles)
    even = flatten.flatten(seat, triangles, options=Options(mirror=mirror))
    assert even.demand == pytest.approx(whole.demand, rel=1e-6)
    # Both halves of the piece are equal: mirrored vertices lie equally far from two points of the centre line.
    for place in half.vertices[half.axis[[0, -1]]]:
        away = np.linalg.norm(even.points - even.points[place], axis=1)
        assert np.abs(away - away[mirror]).max() < 1e-9


def test_a_mirror_that_is_none_is_told():
    points, triangles = shapes.disc(6)
    seat = np.column_stack([200 * points, 0 * points[:, 0]])
    assert right_half(seat, triangles, np.arange(len(seat))[::-1].copy()) is None


def mirrored_mesh(vertices, triangles):
    """A right half and its mirror image as one mesh, and who mirrors whom."""
    used, local = np.unique(triangles, return_inverse=True)
    right, local = vertices[used].copy(), local.reshape(-1, 3)
    axis = np.abs(right[:, 0]) < 1e-6
    loop = boundary_loops(local)[0]
    # Rim vertices next to the plane are drawn onto it, so that both halves meet.
    near = loop[right[loop, 0] < 12.0]
    axis[near] = True
    right[axis, 0] = 0.0
    n = len(right)
    image = np.arange(n)
    image[~axis] = n + np.arange(int((~axis).sum()))
    seat = np.concatenate([right, right[~axis] * [-1, 1, 1]])
    both = np.concatenate([local, image[local][:, [0, 2, 1]]])
    return seat, both, np.concatenate([image, np.flatnonzero(~axis)])
