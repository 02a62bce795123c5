"""Lower bounds of distances that the circle bound rests on, held against exact distances from elsewhere."""

import igl
import numpy as np
import pytest

from flatten.bounds.geodesic import MappedMesh, Slope
from flatten.maps.relax import relax
from flatten.maps.start import starts
from tests import shapes

SEATS = {
    "saddle": lambda: shapes.saddle(rings=8),
    "coarse saddle": lambda: shapes.saddle(rings=4),
    "free form": lambda: shapes.free_form(edge=35.0),
    "cap": lambda: shapes.cap(1.0, rings=6),
    "torus": lambda: shapes.torus_quarter(cells=(16, 10)),
}


def exact(piece, start, spots):
    """Distances (k,) from a vertex to spots, which are made vertices of the same surface, by libigl."""
    own = len(piece.vertices) + np.arange(len(spots.place))
    triangles = [piece.triangles[np.setdiff1d(np.arange(len(piece.triangles)), spots.triangle)]]
    for corners, mine in zip(piece.triangles[spots.triangle], own, strict=True):
        triangles.append(np.array([[corners[i], corners[(i + 1) % 3], mine] for i in range(3)]))
    vertices = np.concatenate([piece.vertices, spots.place])
    return igl.exact_geodesic(vertices, np.concatenate(triangles), VS=np.array([start]), VT=own)


@pytest.mark.parametrize("name", SEATS)
def test_no_bound_of_a_distance_exceeds_the_exact_one(name):
    """Mitchell, Mount and Papadimitriou's algorithm in libigl; near the start the bound's function lives on parts of
    triangles."""
    seat, triangles = SEATS[name]()
    piece = MappedMesh(seat, triangles, relax(seat, next(starts(seat, triangles)).points, triangles).points)
    rng, inner = np.random.default_rng(3), np.setdiff1d(np.arange(len(seat)), piece.rim)
    shares_of = []
    for start in rng.choice(inner, 6, replace=False).tolist():
        slope = Slope(piece, start)
        chosen = rng.permutation(len(triangles))[:160]
        shares = rng.dirichlet(np.ones(3), len(chosen))
        spots = piece.spots(np.einsum("kc,kcx->kx", shares, piece.points[triangles[chosen]]))
        _, once = np.unique(spots.triangle, return_index=True)
        spots = type(spots)(*(part[once] for part in (spots.triangle, spots.shares, spots.flat, spots.place)))
        true = exact(piece, start, spots)
        bound = slope.nearest(slope.at(spots.flat))
        assert (bound <= true * (1.0 + 1e-9)).all()
        inside = true < slope.bound
        shares_of.append(bound[inside] / true[inside])
    # A bound of nothing proves nothing.
    assert len(np.concatenate(shares_of)) > 30
    assert np.median(np.concatenate(shares_of)) > 0.75
