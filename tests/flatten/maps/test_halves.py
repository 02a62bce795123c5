"""Halves of even meshes: they unfold to the whole, whatever plane mirrors it, and what is not even is told."""

import numpy as np
import pytest

from flatten.maps.halves import halved, right_half
from flatten.maps.relax import RelaxOptions, relax, renumbered, rigid_pins
from flatten.maps.start import flipped, starts
from tests import shapes

UV, TRIANGLES = shapes.grid(8, 5)
COLUMNS = 9


def even_mesh(plane=0):
    """A domed strip, the same left and right, and who mirrors whom; plane: across which axis."""
    x, y = 200.0 * (UV[:, 0] - 0.5), 120.0 * UV[:, 1]
    seat = np.column_stack([x, y, 20.0 - 0.001 * x**2 - 0.0005 * y**2])
    mirror = np.lexsort((np.round(-x, 6), np.round(y, 6)))
    order = np.lexsort((np.round(x, 6), np.round(y, 6)))
    image = np.empty(len(seat), dtype=np.int64)
    image[order] = mirror
    # Diagonals are mirrored too: the left half is the right one turned over.
    right = (x[TRIANGLES] >= -1e-9).all(axis=1)
    both = np.concatenate([TRIANGLES[right], image[TRIANGLES[right]][:, [0, 2, 1]]])
    return np.roll(seat, plane, axis=1), both, image


@pytest.mark.parametrize("plane", [0, 1, 2])
def test_a_half_is_half_of_the_triangles_and_ends_on_the_plane(plane):
    seat, triangles, mirror = even_mesh(plane)
    half = right_half(seat, triangles, mirror)
    assert 2 * len(half.triangles) == len(triangles)
    assert np.array_equal(mirror[half.vertices[half.axis]], half.vertices[half.axis])
    # All of it lies to one side: that of rising coordinates.
    across = seat[half.vertices] - seat[mirror[half.vertices]]
    assert (across >= -1e-12).all()
    assert (np.abs(across).max(axis=1) < 1e-12).sum() == len(half.axis) == 6


def test_unfolding_gives_each_vertex_the_mirrored_place_of_its_image():
    seat, triangles, mirror = even_mesh()
    half = right_half(seat, triangles, mirror)
    mine = np.random.default_rng(2).normal(size=(len(half.vertices), 2))
    mine[half.axis, 0] = 0.0
    whole = half.unfolded(mine)
    assert np.array_equal(whole[half.vertices], mine)
    assert np.array_equal(whole[mirror], whole * [-1.0, 1.0])


def test_held_unknowns_are_the_centre_line_and_one_place_on_it():
    half = right_half(*even_mesh())
    held = half.held()
    assert sorted(held[:-1]) == sorted(2 * half.axis)
    assert held[-1] % 2 == 1
    assert held[-1] // 2 in half.axis


def test_edges_of_the_whole_that_lie_in_the_half_keep_their_places():
    seat, triangles, mirror = even_mesh()
    half = right_half(seat, triangles, mirror)
    edges = triangles[:, :2]
    mine, which = half.local(edges)
    assert np.array_equal(half.vertices[mine], edges[which])
    left = np.setdiff1d(np.arange(len(edges)), which)
    assert not np.isin(edges[left], half.vertices).all(axis=1).any()


def test_a_start_is_made_even_and_laid_with_the_half_to_the_right():
    seat, triangles, mirror = even_mesh()
    half = right_half(seat, triangles, mirror)
    start = next(starts(seat, triangles)).points
    a = 2.0
    moved = start @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]]) + [9.0, -4.0]
    mine = halved(half, moved)
    assert np.array_equal(mine[half.axis, 0], np.zeros(len(half.axis)))
    assert (np.delete(mine[:, 0], half.axis) > 0.0).all()
    whole = half.unfolded(mine)
    assert flipped(whole, triangles) == 0
    # The start of an even mesh is even itself, so nothing is lost: distances are those of the start.
    away = np.linalg.norm(whole - whole[0], axis=1)
    assert np.allclose(away, np.linalg.norm(start - start[0], axis=1), atol=1e-6)
    # Folded starts are told by nothing.
    assert halved(half, np.zeros_like(start)) is None


def test_the_half_with_its_line_held_relaxes_to_half_of_the_whole():
    seat, triangles, mirror = even_mesh()
    half = right_half(seat, triangles, mirror)
    start = next(starts(seat, triangles)).points
    whole = relax(seat, start, triangles)
    mine = relax(seat[half.vertices], halved(half, start), half.triangles, RelaxOptions(held=half.held()))
    assert mine.status.converged
    assert mine.energy == pytest.approx(whole.energy, rel=1e-12)
    unfolded = half.unfolded(mine.points)
    sides = triangles[:, [0, 1]]
    lengths = [np.linalg.norm(p[sides[:, 1]] - p[sides[:, 0]], axis=1) for p in (unfolded, whole.points)]
    assert np.allclose(*lengths, rtol=1e-7)


@pytest.mark.parametrize("change", ["moved", "one triangle turned", "no line"])
def test_what_is_no_clean_half_is_none(change):
    seat, triangles, mirror = even_mesh()
    if change == "moved":
        # The whole lies to one side of its own mirror image's number: no vertex on the plane.
        mirror = np.roll(mirror, 1)
    elif change == "one triangle turned":
        # One diagonal differs between the halves.
        a = triangles[0]
        other = next(t for t in triangles[1:] if len(set(a) & set(t)) == 2)
        shared = [v for v in a if v in other]
        tip, far = (next(v for v in t if v not in shared) for t in (a, other))
        keep = np.array([t for t in triangles if not (np.array_equal(t, a) or np.array_equal(t, other))])
        triangles = np.vstack([keep, [[tip, shared[0], far], [tip, far, shared[1]]]])
    else:
        keep = (np.abs(seat[triangles][:, :, 0]) > 1e-9).all(axis=1)
        triangles = triangles[keep]
    assert right_half(seat, triangles, mirror) is None


def test_pins_hold_a_piece_and_nothing_more():
    """Three unknowns: both of one vertex, and y of another, not above it, so that a turn moves it."""
    points = shapes.disc(4)[0] * [200.0, 90.0]
    pins = rigid_pins(points)
    assert pins.tolist() == [2 * (pins[0] // 2), 2 * (pins[0] // 2) + 1, pins[2]]
    middle, far = points[pins[0] // 2], points[pins[2] // 2]
    assert np.linalg.norm(middle - points.mean(axis=0)) == np.linalg.norm(points - points.mean(axis=0), axis=1).min()
    assert abs(far[0] - middle[0]) == np.abs(points[:, 0] - middle[0]).max()
    assert pins[2] % 2 == 1


def test_renumbered_unknowns_keep_their_coordinate():
    rank = np.array([2, 0, 1])
    assert renumbered(np.array([0, 1, 2, 5]), rank).tolist() == [4, 5, 0, 3]
