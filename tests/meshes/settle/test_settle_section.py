"""A cover settling in section: closed forms, their rate under refinement, and laws that hold for any section."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from meshes.padding.stack import stack_of
from meshes.records.compression import LEAST_GIVE_MM_PER_KPA, curve, linear
from meshes.settle.settle import Conditions, settle_section

DEFAULT_MM = 6.0
UP = np.array([0.0, 1.0])


@pytest.fixture
def no_skin(monkeypatch):
    """The closed forms know only the foam: leather and wood themselves give nothing here."""
    monkeypatch.setattr("meshes.records.compression.SKIN_MM_PER_KPA", 1e-12)


def strip(step, reach, height):
    """Points over x from -reach to reach with one at 0, vertical directors, both ends fixed."""
    count = round(reach / step)
    x = step * np.arange(-count, count + 1)
    points = np.stack([x, height(x)], axis=1)
    return points, np.tile(UP, (len(x), 1)), np.array([0, len(x) - 1])


def foam(points, modulus_kpa, thickness):
    """A linear foam, its modulus raised so that what lies below the foam gives nothing more in all."""
    raised = 1.0 / (1.0 / modulus_kpa - LEAST_GIVE_MM_PER_KPA / thickness)
    return stack_of((linear(raised),), np.full((1, len(points)), thickness))


def on_springs(step):
    """Depth under a line load of 0.01 N/mm, and the decay length further out. T .5 N/mm, k .02 N/mm3."""
    points, up, ends = strip(step, 120.0, lambda x: 0.0 * x)
    give = 1.0 / 20.0 - LEAST_GIVE_MM_PER_KPA  # mm per kPa; .02 N/mm3 is 20 kPa/mm
    bed = stack_of((), np.zeros((0, len(points))), give_mm_per_kpa=np.full(len(points), give))
    push = np.zeros(len(points))
    push[len(points) // 2] = 0.01
    done = settle_section(points, up, bed, tension_n_per_mm=0.5, conditions=Conditions(fixed=ends, push_n=push))
    assert done.converged
    deep = -done.heights_mm[len(points) // 2 :]
    far = round(12.0 / step)
    return deep[0], 12.0 / np.log(deep[0] / deep[far])


@pytest.mark.usefixtures("no_skin")
def test_a_strip_on_springs_goes_down_as_the_textbook_says():
    # String on an elastic foundation (Hetenyi 1946, from memory): w0 = p / (2 sqrt(T k)) = 5 mm per N/mm, decay
    # sqrt(T / k) = 5 mm. The decay length is shorter than a default triangle; a section has finer places.
    depth, decay = on_springs(1.5)
    assert depth == pytest.approx(0.05, rel=0.01)
    assert decay == pytest.approx(5.0, rel=0.01)


@pytest.mark.usefixtures("no_skin")
def test_the_strip_converges_with_the_square_of_the_step():
    errors = [abs(on_springs(step)[0] / 0.05 - 1.0) for step in (3.0, 1.5, 0.75)]
    assert np.log2(np.array(errors[:-1]) / errors[1:]) == pytest.approx([2.0, 2.0], abs=0.3)


def ridge(step, slope_deg, tension=0.34, modulus=40.0, thickness=30.0):
    """Dip of the cover at a ridge, and the radius of the cover there from its pressure, mm."""
    points, up, ends = strip(step, 192.0, lambda x: -np.abs(x) * np.tan(np.deg2rad(slope_deg)))
    stack = foam(points, modulus, thickness)
    done = settle_section(points, up, stack, tension_n_per_mm=tension, conditions=Conditions(fixed=ends))
    assert done.converged
    top = len(points) // 2
    # The foam stands on slopes: per length across it presses 1 / cos harder.
    pressure = 1e-3 * done.pressure_kpa[top] / np.cos(np.deg2rad(slope_deg))
    return thickness - done.heights_mm[top], tension / pressure


def exact_ridge(slope_deg, tension=0.34, modulus=40.0, thickness=30.0):
    """With true lengths: half the dip squared times k equals T (1 / cos - 1), as nothing pulls along the ridge; the
    foam stands on the slopes, so k is larger by 1 / cos."""
    cos = np.cos(np.deg2rad(slope_deg))
    decay = np.sqrt(1e3 * tension * thickness / modulus * cos)
    dip = decay * np.sqrt(2.0 * (1.0 / cos - 1.0))
    return dip, decay**2 / dip


@pytest.mark.usefixtures("no_skin")
def test_the_ridge_of_a_pad_at_five_degrees():
    dip, radius = ridge(DEFAULT_MM, 5.0)
    # Small slopes, linear foam: l = sqrt(T h / E) = 15.969, dip l tan(phi), radius l / tan(phi).
    assert dip == pytest.approx(1.397, rel=0.01)
    assert radius == pytest.approx(182.5, rel=0.01)


@pytest.mark.usefixtures("no_skin")
def test_the_ridge_of_a_pad_at_twenty_degrees():
    dip, radius = ridge(DEFAULT_MM, 20.0)
    assert (dip, radius) == pytest.approx(exact_ridge(20.0), rel=0.01)
    # The small-slope limit is 5.812 mm; true lengths give about 5 % less.
    assert 0.94 < dip / 5.812 < 0.96


@pytest.mark.usefixtures("no_skin")
@pytest.mark.parametrize("slope_deg", [5.0, 20.0])
def test_the_ridge_converges_with_the_square_of_the_step(slope_deg):
    dip, _ = exact_ridge(slope_deg)
    errors = [abs(ridge(step, slope_deg)[0] - dip) for step in (6.0, 3.0, 1.5)]
    assert np.log2(np.array(errors[:-1]) / errors[1:]) == pytest.approx([2.0, 2.0], abs=0.25)


def over_parabola(step, half=240.0, height=24.0):
    """Where a cover over a bare parabola leaves it, and its slope beyond; fixed at twice the half width."""
    x = step * np.arange(round(2.0 * half / step) + 1)
    points = np.stack([x, height * (1.0 - (x / half) ** 2)], axis=1)
    board = stack_of((), np.zeros((0, len(x))))
    last = len(x) - 1
    done = settle_section(
        points,
        np.tile(UP, (len(x), 1)),
        board,
        tension_n_per_mm=0.3,
        conditions=Conditions(fixed=np.array([last]), fixed_mm=np.array([-points[last, 1]])),
    )
    assert done.converged
    z = done.points[:, 1]
    slope = (z[-1] - z[-10]) / (x[-1] - x[-10])
    # Off the parabola the gap grows with the square of the way from where it leaves.
    off = np.flatnonzero(done.lift_mm > 0.02 * height)[:2]
    root = np.sqrt(done.lift_mm[off])
    return x[off[0]] - root[0] * (x[off[1]] - x[off[0]]) / (root[1] - root[0]), slope


@pytest.mark.usefixtures("no_skin")
def test_a_string_over_a_parabola():
    # Derived: tangent from (2 b, 0) to h (1 - (x / b)^2): contact ends at (2 - sqrt 3) b, slope -2 (2 - sqrt 3) h / b.
    leaves, slope = over_parabola(DEFAULT_MM)
    assert leaves / 240.0 == pytest.approx(0.267949, rel=0.01)
    assert slope * 10.0 == pytest.approx(-0.535898, rel=0.01)


@pytest.mark.usefixtures("no_skin")
def test_the_string_comes_nearer_at_least_with_the_step():
    errors = [abs(over_parabola(step)[0] / 240.0 - 0.267949) for step in (12.0, 1.5)]
    assert errors[1] < errors[0] / 8.0


FOAM = curve([(0.25, 2.8), (0.40, 3.75), (0.65, 9.0)])
WADDING = curve([(0.25, 0.1), (0.40, 0.3), (0.65, 1.5)])


@st.composite
def sections(draw):
    """A measured section with hills and hollows over 600 mm, under foam and wadding."""
    waves = [(draw(st.floats(-15.0, 15.0)), draw(st.floats(0.0, 6.3))) for _ in range(4)]
    points, up, ends = strip(
        6.0, 300.0, lambda x: sum(a * np.sin((k + 1) * np.pi * x / 300.0 + b) for k, (a, b) in enumerate(waves))
    )
    layers = np.tile([[20.0], [6.0]], (1, len(points)))
    return points, up, ends, layers


def at_rest(section, tension, *, curves=(FOAM, WADDING), **more):
    points, up, ends, layers = section
    return settle_section(
        points, up, stack_of(curves, layers, **more), tension_n_per_mm=tension, conditions=Conditions(fixed=ends)
    )


def test_a_search_ends_where_rounding_hides_every_further_gain():
    """One shallow wave under little tension is at rest after six steps; none after them lowers the energy."""
    points, up, ends = strip(6.0, 300.0, lambda x: 2.0 * np.sin(np.pi * x / 300.0))
    layers = np.tile([[20.0], [6.0]], (1, len(points)))
    done = at_rest((points, up, ends, layers), 0.0234375, give_mm_per_kpa=5.0)
    assert done.converged, done.note
    assert done.factorisations <= 15


@settings(deadline=None, max_examples=40)
@given(sections(), st.floats(0.02, 0.5))
def test_every_section_comes_to_rest_and_energy_never_rises(section, tension):
    done = at_rest(section, tension, give_mm_per_kpa=5.0)
    assert done.converged, done.note
    assert (np.diff(done.energy) <= 0).all()
    assert done.factorisations <= 15


@settings(deadline=None, max_examples=25)
@given(sections(), st.floats(0.02, 0.4), st.floats(1.05, 3.0))
def test_a_tighter_cover_is_never_longer(section, tension, more):
    """Of two minima each is the better one for its own tension, so length falls as tension grows."""
    length = [
        np.linalg.norm(np.diff(at_rest(section, t).points, axis=0), axis=1).sum() for t in (tension, more * tension)
    ]
    assert length[1] <= length[0] + 1e-9


@settings(deadline=None, max_examples=25)
@given(sections(), st.floats(0.02, 0.4), st.floats(1.05, 3.0))
def test_a_stiffer_foam_never_lets_the_cover_lower(section, tension, more):
    """Vertical directors: pressures that are nowhere less hold the cover nowhere lower (comparison principle)."""
    stiffer = tuple(
        curve([(e, more * p) for e, p in zip(c.strain[48::48], c.pressure_kpa[48::48], strict=True)])
        for c in (FOAM, WADDING)
    )
    soft, firm = at_rest(section, tension), at_rest(section, tension, curves=stiffer)
    assert (firm.heights_mm >= soft.heights_mm - 1e-6).all()


@settings(deadline=None, max_examples=25)
@given(sections(), st.floats(0.02, 0.4))
def test_springs_only_ever_let_the_cover_lower(section, tension):
    board, springs = at_rest(section, tension), at_rest(section, tension, give_mm_per_kpa=10.0)
    assert (springs.heights_mm <= board.heights_mm + 1e-6).all()
    assert (springs.spring_mm >= 0).all()
    assert not board.spring_mm.any()


@pytest.mark.parametrize("height_mm", [1e-2, 1e-3, 1e-4])
def test_springs_let_the_cover_lower_on_ground_that_is_nearly_level_too(height_mm):
    """There the whole pull is so small that rounding hides what a step saves long before the cover is at rest."""
    points, up, ends = strip(
        6.0,
        300.0,
        lambda x: height_mm * sum(a * np.sin((k + 1) * np.pi * x / 300.0 + a) for k, a in enumerate((9.0, -5.0, 4.0))),
    )
    section = (points, up, ends, np.tile([[20.0], [6.0]], (1, len(points))))
    board, springs = at_rest(section, 0.1), at_rest(section, 0.1, give_mm_per_kpa=10.0)
    assert (springs.heights_mm <= board.heights_mm + 1e-6).all()
    assert board.residual < 1e-5


@settings(deadline=None, max_examples=10)
@given(st.floats(2e-4, 2e-3))
def test_no_tension_is_the_limit_of_less_and_less(bend):
    """Over a crown the cover lies where ever looser ones come to, and without tension presses on nothing."""
    points, up, ends = strip(6.0, 150.0, lambda x: -bend * x**2)
    crown = (points, up, ends, np.tile([[20.0], [6.0]], (1, len(points))))
    none, less, least = (at_rest(crown, t) for t in (0.0, 1e-5, 1e-6))
    far = [np.abs(done.heights_mm - none.heights_mm).max() for done in (less, least)]
    assert far[0] > 1e-6
    assert far[1] / far[0] == pytest.approx(0.1, rel=0.1)
    assert not none.pressure_kpa.any()
    assert not none.compression.any()


def test_an_open_gap_lets_the_padding_sink_and_cloth_carries_it():
    points, up, ends = strip(3.0, 150.0, lambda x: -0.0008 * x**2)
    layers = np.full((1, len(points)), 25.0)
    gap = np.abs(points[:, 0]) < 35.0
    cloth = settle_section(
        points, up, stack_of((FOAM,), layers), tension_n_per_mm=0.15, conditions=Conditions(fixed=ends)
    )
    open_ = stack_of((FOAM,), layers, carried=np.where(gap, 0.0, 1.0), depth_mm=np.where(gap, 60.0, 0.0))
    sunk = settle_section(points, up, open_, tension_n_per_mm=0.15, conditions=Conditions(fixed=ends))
    assert sunk.converged
    middle = len(points) // 2
    # Over the gap the cover is a straight line between its shores, lower than the crown that cloth keeps up.
    over = sunk.points[np.abs(points[:, 0]) < 28.0]
    assert np.abs(np.diff(over[:, 1], 2)).max() < 1e-6
    assert sunk.heights_mm[middle] < cloth.heights_mm[middle] - 0.3
    assert not sunk.pressure_kpa[np.abs(points[:, 0]) < 28.0].any()


def test_a_shallow_gap_has_a_bottom():
    points, up, ends = strip(3.0, 150.0, lambda x: -0.004 * x**2)
    layers = np.full((1, len(points)), 25.0)
    gap = np.abs(points[:, 0]) < 35.0
    shallow = stack_of((FOAM,), layers, carried=np.where(gap, 0.0, 1.0), depth_mm=np.where(gap, 1.0, 0.0))
    done = settle_section(points, up, shallow, tension_n_per_mm=0.15, conditions=Conditions(fixed=ends))
    assert done.pressure_kpa[len(points) // 2] > 0


@pytest.mark.parametrize("tension", [-0.1, float("nan"), float("inf")])
def test_a_tension_that_cannot_be(tension):
    points, up, _ = strip(6.0, 60.0, lambda x: 0.0 * x)
    with pytest.raises(ValueError, match="tension"):
        settle_section(points, up, foam(points, 40.0, 30.0), tension_n_per_mm=tension)
