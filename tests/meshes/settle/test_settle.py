"""A cover settling on surfaces: closed forms, their rate under refinement, and laws that hold for any pad."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from meshes.padding.stack import stack_of
from meshes.records.compression import LEAST_GIVE_MM_PER_KPA, curve, linear
from meshes.settle.equilibrium import ENERGY_ROUNDING, CoverProblem, find_equilibrium, forces
from meshes.settle.settle import Conditions, _under_triangles, settle
from meshes.settle.tension import Membrane

DEFAULT_MM = 6.0


@pytest.fixture
def no_skin(monkeypatch):
    """The closed forms know only the foam: leather and wood themselves give nothing here."""
    monkeypatch.setattr("meshes.records.compression.SKIN_MM_PER_KPA", 1e-12)


def sheet_of(columns, rows, step):
    """Positions of a flat grid and its triangles, diagonals turned from cell to cell; x from -half to half."""
    x, y = step * (np.arange(columns + 1) - columns / 2), step * np.arange(rows + 1)
    at = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1).reshape(-1, 2)
    i, j = (v.ravel() for v in np.meshgrid(np.arange(columns), np.arange(rows), indexing="ij"))
    a, b, c, d = (p * (rows + 1) + q for p, q in ((i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)))
    lean = ((i + j) % 2 == 0)[:, None]
    first = np.where(lean, np.stack([a, b, c], 1), np.stack([a, b, d], 1))
    second = np.where(lean, np.stack([a, c, d], 1), np.stack([b, c, d], 1))
    return at, np.concatenate([first, second])


def even_sheet(columns, rows, step):
    """The same with equal-sided triangles, lines of edges along y, every other one shifted by half a step."""
    at, tri = sheet_of(columns, rows, step)
    i, j = (v.ravel() for v in np.meshgrid(np.arange(columns), np.arange(rows), indexing="ij"))
    a, b, c, d = (p * (rows + 1) + q for p, q in ((i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)))
    odd = (i % 2 == 1)[:, None]
    tri = np.concatenate(
        [
            np.where(odd, np.stack([a, b, c], 1), np.stack([a, b, d], 1)),
            np.where(odd, np.stack([a, c, d], 1), np.stack([b, c, d], 1)),
        ]
    )
    shift = 0.5 * step * (np.arange(columns + 1) % 2).repeat(rows + 1)
    return np.column_stack([at[:, 0] * np.sqrt(0.75), at[:, 1] + shift]), tri


def tube(radius, length, step):
    """Axis points, radial directors and equal-sided triangles of a tube with its ends at +-length / 2, and its rims."""
    around, rows = max(round(2 * np.pi * radius / step), 12), 2 * max(round(length / step / np.sqrt(3.0)), 1)
    steps, z = np.meshgrid(np.arange(around), length * (np.arange(rows + 1) / rows - 0.5))
    angle = 2 * np.pi * (steps + 0.5 * (np.arange(rows + 1) % 2)[:, None]) / around
    radial = np.stack([np.cos(angle), np.sin(angle), 0 * angle], axis=-1).reshape(-1, 3)
    axis = np.stack([0 * z, 0 * z, z], axis=-1).reshape(-1, 3)
    i, j = (v.ravel() for v in np.meshgrid(np.arange(rows), np.arange(around), indexing="ij"))
    a, b = i * around + j, i * around + (j + 1) % around
    c, d = b + around, a + around
    even = (i % 2 == 0)[:, None]
    first = np.where(even, np.stack([a, b, d], 1), np.stack([a, b, c], 1))
    second = np.where(even, np.stack([b, c, d], 1), np.stack([a, c, d], 1))
    rim = np.flatnonzero(np.abs(axis[:, 2]) > 0.5 * length - 1e-9)
    return axis, radial, np.concatenate([first, second]), rim


def ball(halvings):
    """Unit vectors and triangles of an icosahedron halved so many times."""
    g = 0.5 * (1 + np.sqrt(5))
    at = np.array([[-1, g, 0], [1, g, 0], [-1, -g, 0], [1, -g, 0], [0, -1, g], [0, 1, g], [0, -1, -g], [0, 1, -g],
                   [g, 0, -1], [g, 0, 1], [-g, 0, -1], [-g, 0, 1]])  # fmt: skip
    at = at / np.linalg.norm(at, axis=1, keepdims=True)
    tri = np.array([[0, 11, 5], [0, 5, 1], [0, 1, 7], [0, 7, 10], [0, 10, 11], [1, 5, 9], [5, 11, 4], [11, 10, 2],
                    [10, 7, 6], [7, 1, 8], [3, 9, 4], [3, 4, 2], [3, 2, 6], [3, 6, 8], [3, 8, 9], [4, 9, 5],
                    [2, 4, 11], [6, 2, 10], [8, 6, 7], [9, 8, 1]])  # fmt: skip
    for _ in range(halvings):
        edges = np.sort(np.concatenate([tri[:, [0, 1]], tri[:, [1, 2]], tri[:, [2, 0]]]), axis=1)
        both, which = np.unique(edges, axis=0, return_inverse=True)
        middle = at[both].mean(axis=1)
        ab, bc, ca = (len(at) + which.reshape(3, -1)[k] for k in range(3))
        at = np.concatenate([at, middle / np.linalg.norm(middle, axis=1, keepdims=True)])
        a, b, c = tri.T
        tri = np.concatenate([np.stack(t, 1) for t in ((a, ab, ca), (b, bc, ab), (c, ca, bc), (ab, bc, ca))])
    return at, tri


FOAM = curve([(0.25, 2.8), (0.40, 3.75), (0.65, 9.0)])


def test_pressure_under_a_cover_round_a_cylinder():
    # Young and Laplace: p = T / R.
    core, thick, tension = 40.0, 30.0, 0.15
    axis, radial, tri, _ = tube(core, 120.0, DEFAULT_MM)
    stack = stack_of((FOAM,), np.full((1, len(axis)), thick))
    done = settle(axis + core * radial, radial, tri, stack, tension_n_per_mm=tension)
    assert done.converged
    radius = core + done.heights_mm
    # The foam presses on its own mean area (Steiner: of the radii of core, middle and rim); the cover is larger.
    on_cover = done.pressure_kpa * (core + 0.5 * thick) / radius
    assert 1e-3 * on_cover == pytest.approx(tension / radius, rel=0.01)
    assert radius.max() < core + thick - 3.0


def test_two_covers_sewn_round_a_cylinder_press_each_by_their_own_tension():
    # Young and Laplace: p = T / R, on either side of the seam once its rounding has died out.
    core, thick, length = 40.0, 30.0, 360.0
    axis, radial, tri, _ = tube(core, length, DEFAULT_MM)
    stack = stack_of((FOAM,), np.full((1, len(axis)), thick))
    along = axis[:, int(np.argmax(np.ptp(axis, axis=0)))]
    middle = 0.5 * (along.min() + along.max())
    tension = np.where(along[tri].mean(axis=1) < middle, 0.10, 0.20)
    done = settle(axis + core * radial, radial, tri, stack, tension_n_per_mm=tension)
    assert done.converged
    radius = core + done.heights_mm
    on_cover = done.pressure_kpa * (core + 0.5 * thick) / radius
    for where, own in ((along < middle - 100.0, 0.10), (along > middle + 100.0, 0.20)):
        inside = where & (along > along.min() + 5.0) & (along < along.max() - 5.0)
        assert inside.sum() > 50
        assert 1e-3 * on_cover[inside] == pytest.approx(own / radius[inside], rel=0.01)


def test_one_tension_for_every_triangle_is_one_tension():
    core, thick = 40.0, 30.0
    axis, radial, tri, _ = tube(core, 120.0, DEFAULT_MM)
    stack = stack_of((FOAM,), np.full((1, len(axis)), thick))
    one = settle(axis + core * radial, radial, tri, stack, tension_n_per_mm=0.15)
    each = settle(axis + core * radial, radial, tri, stack, tension_n_per_mm=np.full(len(tri), 0.15))
    assert one.heights_mm == pytest.approx(each.heights_mm, abs=1e-9)
    with pytest.raises(ValueError, match="-1 N/mm"):
        settle(axis + core * radial, radial, tri, stack, tension_n_per_mm=np.full(len(tri), -1.0))


def test_pressure_under_a_cover_round_a_ball():
    # Young and Laplace: p = 2 T / R.
    core, thick, tension = 60.0, 30.0, 0.15
    out, tri = ball(4)
    stack = stack_of((FOAM,), np.full((1, len(out)), thick))
    done = settle(core * out, out, tri, stack, tension_n_per_mm=tension)
    assert done.converged
    radius = core + done.heights_mm
    mean_square = (core**2 + 4 * (core + 0.5 * thick) ** 2 + (core + thick) ** 2) / 6
    on_cover = 1e-3 * done.pressure_kpa * mean_square / radius**2
    assert on_cover == pytest.approx(2 * tension / radius, rel=0.01)


def catenoid(step):
    """Neck and area of a cover between two rings of radius 100 mm, 100 mm apart, in units of the radius."""
    axis, radial, tri, rim = tube(100.0, 100.0, step)
    done = settle(
        axis,
        radial,
        tri,
        None,
        tension_n_per_mm=0.15,
        conditions=Conditions(fixed=rim, fixed_mm=np.full(len(rim), 100.0), start_mm=np.full(len(axis), 100.0)),
    )
    assert done.converged, done.note
    a, b, c = (done.points[tri[:, k]] for k in range(3))
    area = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1).sum()
    return done.heights_mm.min() / 100.0, area / 100.0**2, done


def test_a_cover_between_two_rings_is_a_catenoid():
    # Derived: cosh(0.5 / c) c = 1: neck .848338, area 5.991797 (rings of radius 1, half the gap .5).
    neck, area, done = catenoid(DEFAULT_MM)
    assert neck == pytest.approx(0.848338, rel=0.01)
    assert area == pytest.approx(5.991797, rel=0.01)
    assert (np.diff(done.energy) <= 0).all()


def test_the_catenoid_converges_with_the_square_of_the_step():
    errors = np.abs([[n - 0.848338, a - 5.991797] for n, a, _ in map(catenoid, (10.0, 5.0, 2.5))])
    assert np.log2(errors[:-1] / errors[1:]) == pytest.approx(2.0, abs=0.3)


@pytest.mark.usefixtures("no_skin")
@pytest.mark.parametrize("slope_deg", [5.0, 20.0])
def test_the_ridge_of_a_pad(slope_deg):
    # Small slopes, linear foam: l = sqrt(T h / E) = 15.969 mm, dip l tan(phi); true lengths: see the section's test.
    tension, modulus, thick = 0.34, 40.0, 30.0
    at, tri = even_sheet(72, 30, DEFAULT_MM)
    points = np.column_stack([at, -np.abs(at[:, 0]) * np.tan(np.deg2rad(slope_deg))])
    foam = linear(1.0 / (1.0 / modulus - LEAST_GIVE_MM_PER_KPA / thick))
    ends = np.flatnonzero(np.abs(at[:, 0]) > 187.0)
    up = np.tile([0.0, 0.0, 1.0], (len(at), 1))
    done = settle(
        points,
        up,
        tri,
        stack_of((foam,), np.full((1, len(at)), thick)),
        tension_n_per_mm=tension,
        conditions=Conditions(fixed=ends),
    )
    cos = np.cos(np.deg2rad(slope_deg))
    dip = np.sqrt(1e3 * tension * thick / modulus * cos * 2 * (1 / cos - 1))
    top = np.flatnonzero((np.abs(at[:, 0]) < 1e-9) & (np.abs(at[:, 1] - 90.0) < 20.0))
    assert thick - done.heights_mm[top] == pytest.approx(dip, rel=0.01)


@st.composite
def pads(draw):
    """A bumpy pad of 240 x 180 mm under foam, the rim fixed."""
    at, tri = sheet_of(20, 15, 12.0)
    x, y = at.T / 240.0
    z = sum(
        draw(st.floats(-12.0, 12.0)) * np.sin(np.pi * (a * x + b * y) + draw(st.floats(0.0, 6.3)))
        for a, b in ((1, 0), (0, 1), (2, 1), (1, 3))
    )
    points = np.column_stack([at, z])
    rim = np.flatnonzero((np.abs(at[:, 0]) > 119.0) | (at[:, 1] < 1.0) | (at[:, 1] > 179.0))
    return points, np.tile([0.0, 0.0, 1.0], (len(at), 1)), tri, rim


def at_rest(pad, tension, kpa=1.0, **more):
    points, up, tri, rim = pad
    foam = curve([(0.25, 2.8 * kpa), (0.40, 3.75 * kpa), (0.65, 9.0 * kpa)])
    stack = stack_of((foam,), np.full((1, len(points)), 22.0), **more)
    return settle(points, up, tri, stack, tension_n_per_mm=tension, conditions=Conditions(fixed=rim))


def area_of(points, tri):
    a, b, c = (points[tri[:, k]] for k in range(3))
    return 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1).sum()


@settings(deadline=None, max_examples=15)
@given(pads(), st.floats(0.02, 0.4), st.floats(1.1, 3.0))
def test_pads_come_to_rest_and_a_tighter_cover_is_never_larger(pad, tension, more):
    """Of two minima each is the better one for its own tension, so area falls as tension grows."""
    loose, tight = at_rest(pad, tension, give_mm_per_kpa=3.0), at_rest(pad, more * tension, give_mm_per_kpa=3.0)
    for done in (loose, tight):
        assert done.converged, done.note
        assert (np.diff(done.energy) <= 0).all()
        assert done.factorisations <= 15
    assert area_of(tight.points, pad[2]) <= area_of(loose.points, pad[2]) * (1 + 1e-9)


@settings(deadline=None, max_examples=15)
@given(pads(), st.floats(0.02, 0.4), st.floats(1.1, 3.0))
def test_a_stiffer_foam_is_never_pressed_to_more_energy_than_its_ratio(pad, tension, stiffer):
    """The least energy of the whole grows with the stiffness of the foam, and at most by the foam's own share."""
    soft, firm = at_rest(pad, tension), at_rest(pad, tension, kpa=stiffer)
    # The search ends when no more than this is left to gain.
    left = ENERGY_ROUNDING * tension * area_of(pad[0] + 22.0 * pad[1], pad[2])
    assert soft.energy[-1] <= firm.energy[-1] + left
    assert firm.compression.max() <= soft.compression.max() + 1e-6


def test_no_tension_is_the_limit_of_less_and_less():
    """Without tension the cover lies where ever looser ones come to: what is left falls with the tension."""
    at, tri = sheet_of(12, 10, 12.0)
    points = np.column_stack([at, 14.0 * np.sin(at[:, 0] / 30.0)])
    rim = np.flatnonzero((np.abs(at[:, 0]) > 71.0) | (at[:, 1] < 1.0) | (at[:, 1] > 119.0))
    stack = stack_of((FOAM,), np.full((1, len(at)), 22.0), give_mm_per_kpa=3.0)

    def under(tension):
        up = np.tile([0.0, 0.0, 1.0], (len(at), 1))
        done = settle(points, up, tri, stack, tension_n_per_mm=tension, conditions=Conditions(fixed=rim))
        assert done.converged
        return done

    none = under(0.0)
    # Where it is pressed; over hollows any tension at all lifts it.
    pressed = under(1e-4).pressure_kpa > 0
    far = [np.abs(under(t).points - none.points)[pressed].max() for t in (1e-4, 1e-5, 1e-6)]
    assert far[0] > 1e-3
    assert np.array(far[1:]) / far[:-1] == pytest.approx([0.1, 0.1], rel=0.1)
    assert not none.pressure_kpa.any()


def test_a_hollow_is_bridged_and_a_tie_down_brings_the_cover_back():
    at, tri = sheet_of(40, 30, 8.0)
    hollow = np.exp(-(at[:, 0] ** 2 + (at[:, 1] - 120.0) ** 2) / 60.0**2)
    points, up = np.column_stack([at, -25.0 * hollow]), np.tile([0.0, 0.0, 1.0], (len(at), 1))
    stack = stack_of((FOAM,), np.full((1, len(at)), 22.0))
    rim = np.flatnonzero((np.abs(at[:, 0]) > 159.0) | (at[:, 1] < 1.0) | (at[:, 1] > 239.0))
    bridged = settle(points, up, tri, stack, tension_n_per_mm=0.1, conditions=Conditions(fixed=rim))
    deepest = int(np.argmax(hollow))
    assert bridged.lift_mm[deepest] > 5.0
    assert int(np.argmax(bridged.lift_mm)) == deepest
    assert not bridged.pressure_kpa[bridged.lift_mm > 0].any()
    # A valley tied down across the hollow, on the free padding.
    valley = np.flatnonzero(np.abs(at[:, 0]) < 1e-9)
    tied = settle(points, up, tri, stack, tension_n_per_mm=0.1, conditions=Conditions(fixed=np.union1d(rim, valley)))
    assert tied.lift_mm[valley].max() == 0.0
    assert tied.lift_mm.max() < bridged.lift_mm.max()


def test_sixty_thousand_triangles_need_few_factorisations():
    at, tri = sheet_of(300, 100, 4.0)
    x, y = at.T
    points = np.column_stack([at, 20.0 * np.sin(x / 90.0) * np.cos(y / 70.0) + 12.0 * np.sin(x / 40.0)])
    rim = np.flatnonzero((np.abs(x) > 599.0) | (y < 1.0) | (y > 399.0))
    stack = stack_of((FOAM,), np.full((1, len(at)), 22.0), give_mm_per_kpa=np.full(len(at), 10.0))
    up = np.tile([0.0, 0.0, 1.0], (len(at), 1))
    done = settle(points, up, tri, stack, tension_n_per_mm=0.15, conditions=Conditions(fixed=rim))
    assert done.converged
    assert done.factorisations <= 15
    assert (np.diff(done.energy) <= 0).all()


def test_inputs_are_never_changed():
    at, tri = sheet_of(6, 6, 10.0)
    points, up = np.column_stack([at, -0.01 * at[:, 0] ** 2]), np.tile([0.0, 0.0, 1.0], (len(at), 1))
    stack = stack_of((FOAM,), np.full((1, len(at)), 22.0))
    rim = np.array([0, 6, 42, 48])
    for array in (points, up, tri, rim):
        array.setflags(write=False)
    done = settle(points, up, tri, stack, tension_n_per_mm=0.2, conditions=Conditions(fixed=rim))
    assert not done.points.flags.writeable


def test_a_cover_that_nothing_holds_is_said_not_to_rest():
    """Without tension and padding the second slopes are all zero: no factor exists, and no rest is claimed."""
    at, triangles = sheet_of(4, 4, 20.0)
    cover = Membrane(np.column_stack([at, 0 * at[:, 0]]), np.tile([0.0, 0.0, 1.0], (len(at), 1)), triangles)
    free = np.ones(len(at), dtype=bool)
    problem = CoverProblem(cover, None, 0.0, free, push_n=np.full(len(at), 0.1))
    found = find_equilibrium(problem, np.zeros(len(at)))
    assert not found.status.converged
    assert found.status.gap > 0.0


def test_a_tie_over_an_edge_holds_down_and_never_up():
    """A seam tied over a hollow and over the rolled edge beside it: in the hollow the thread pulls, over the edge the
    cover goes down into the foam as if there were none, and every tie obeys the law of a rope (force one way, gap the
    other, one of them zero)."""
    at, tri = sheet_of(40, 30, 8.0)
    x = at[:, 0]
    # A hollow on the left, a ridge on the right, both along y.
    shape = 18.0 * np.exp(-(((x - 70.0) / 28.0) ** 2)) - 18.0 * np.exp(-(((x + 60.0) / 45.0) ** 2))
    points, up = np.column_stack([at, shape]), np.tile([0.0, 0.0, 1.0], (len(at), 1))
    stack = stack_of((FOAM,), np.full((1, len(at)), 22.0))
    rim = np.flatnonzero((np.abs(x) > 159.0) | (at[:, 1] < 1.0) | (at[:, 1] > 239.0))
    seam = np.setdiff1d(np.flatnonzero(np.abs(at[:, 1] - 120.0) < 1e-9), rim)
    loose, tied = (
        settle(points, up, tri, stack, tension_n_per_mm=0.15, conditions=Conditions(fixed=rim, tied=ties))
        for ties in (None, seam)
    )
    rise = tied.heights_mm[seam] - stack.free_mm()[seam]
    assert tied.converged
    assert rise.max() <= 1e-6
    ridge, hollow = seam[np.abs(x[seam] - 70.0) < 5.0], seam[np.abs(x[seam] + 60.0) < 5.0]
    assert loose.lift_mm[hollow].min() > 3.0
    assert tied.lift_mm[hollow].max() == 0.0
    assert (loose.heights_mm[ridge] < 22.0 - 1.0).all()
    assert (tied.heights_mm[ridge] < 22.0 - 1.0).all()
    # What is let go is at rest, and where it holds the cover would rise.
    held = rise > -1e-6
    cover = Membrane(points, up, tri)
    anywhere = np.ones(len(at), dtype=bool)
    force = forces(CoverProblem(cover, _under_triangles(cover, stack), 0.15, anywhere), tied.heights_mm)
    assert np.abs(force[seam[~held]]).max() < 1e-6 * np.abs(force[seam]).max()
    assert force[seam[held]].max() <= 0.0
    assert held.any()
    assert not held.all()
