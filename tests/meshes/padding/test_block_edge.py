"""The edge of a foam block under a taut cover, against an independent computation and against laws."""

import numpy as np
import pytest

from meshes.padding.block_edge import EdgeForm, FoamLaw, _rim, foam_under_cover, rounded_edge
from meshes.records.compression import curve, linear
from meshes.records.materials import BUILT_IN, STRAINS

# Finite elements made outside the project: foam of thickness t glued round the edge (radius r) of a board, its outer
# edge square: foam, r, t, tension N/mm; radius over 8 and 20 mm on both sides of the sharpest place; how much shorter
# the cover's line becomes (free less settled length).
INDEPENDENT = [
    ("foam_medium", 8, 25, 0.15, 22.9, 31.1, 314.2 - 291.7),
    ("foam_firm", 8, 25, 0.15, 17.8, 25.2, 314.2 - 296.5),
    ("foam_firm", 10, 50, 0.15, 17.5, 25.3, 369.2 - 344.5),
    ("foam_firm", 3, 50, 0.08, 11.8, 18.8, 354.1 - 338.7),
    ("foam_medium", 3, 50, 0.15, 24.1, 33.5, 354.1 - 322.7),
]


def three_points(name):
    """The foam by its three stated points alone, as the independent computation took it."""
    return curve(tuple(zip(STRAINS, BUILT_IN[name].compression_kpa, strict=True)))


def wrapped_board(radius, thick, step=2.5, face=160.0, side=95.0):
    """Foam round a board's edge: rim and the points of it that the cover lies on; held where it is glued."""
    angle = np.linspace(0.0, np.pi / 2, 9)
    board = np.concatenate(
        [
            np.column_stack([np.linspace(-face, 0, int(face / step)), np.zeros(int(face / step))]),
            np.column_stack([radius * np.sin(angle), radius * np.cos(angle) - radius])[1:-1],
            np.column_stack([np.full(int(side / step), radius), -radius - np.linspace(0, side, int(side / step))]),
        ]
    )
    out, up = radius + thick, thick
    top = np.column_stack([np.linspace(-face, out, int((face + out) / step)), np.full(int((face + out) / step), up)])
    down = np.linspace(up, -radius - side, int((up + radius + side) / step))[1:]
    lies = np.concatenate([top, np.column_stack([np.full(len(down), out), down])])
    ends = [np.column_stack([np.full(8, -face), np.linspace(up, 0, 10)[1:-1]])]
    ends.append(np.column_stack([np.linspace(radius, out, 10)[1:-1], np.full(8, -radius - side)]))
    rim = np.concatenate([board, ends[1], lies[::-1], ends[0]])
    cover = len(board) + len(ends[1]) + np.arange(len(lies))[::-1]

    def held(at):
        fixed = np.zeros((len(at), 2), dtype=bool)
        fixed[: len(board)] = True
        fixed[np.abs(at[:, 0] + face) < 1e-9, 0] = True
        fixed[np.abs(at[:, 1] + radius + side) < 1e-9, 1] = True
        return fixed

    return rim, cover, held


@pytest.mark.parametrize(("name", "radius", "thick", "tension", "near", "wide", "shorter"), INDEPENDENT)
def test_rounding_agrees_with_independent_finite_elements(name, radius, thick, tension, near, wide, shorter):
    rim, cover, held = wrapped_board(radius, thick)
    edge = foam_under_cover(rim, cover, held, three_points(name), tension, edge_mm=2.5)
    assert edge.status.converged
    assert edge.radius(8.0) == pytest.approx(near, rel=0.1)
    assert edge.radius(20.0) == pytest.approx(wide, rel=0.1)
    assert edge.shorter_mm == pytest.approx(shorter, abs=1.5)


@pytest.mark.parametrize("thick", [40.0, 75.0])
def test_the_radius_hardly_depends_on_the_thickness(thick):
    firm = three_points("foam_firm")
    assert rounded_edge(EdgeForm(thick), firm, 0.15).radius(20.0) == pytest.approx(
        rounded_edge(EdgeForm(55.0), firm, 0.15).radius(20.0), rel=0.05
    )


def test_length_and_tension_change_together():
    """Twice as large a block under twice the tension has the same strains: twice the radius."""
    foam = linear(20.0)
    small, large = rounded_edge(EdgeForm(30.0), foam, 0.1), rounded_edge(EdgeForm(60.0), foam, 0.2, edge_mm=4.0)
    # The reach of the small section does not shrink with it.
    assert large.radius(20.0) == pytest.approx(2.0 * small.radius(10.0), rel=0.03)


def test_an_edge_that_is_the_same_both_ways_is_rounded_the_same_both_ways():
    rim, cover, held = wrapped_board(5.0, 40.0, face=110.0, side=105.0)
    edge = foam_under_cover(rim, cover, held, three_points("foam_firm"), 0.1, edge_mm=2.5)
    # Seen from the corner; the other way round outward and up change places.
    line = edge.cover - [45.0, 40.0]
    places = np.array([-5.0, -10.0, -20.0, -40.0])
    down = np.interp(places, line[:, 0], line[:, 1])
    inward = np.interp(places, line[::-1, 1], line[::-1, 0])
    assert inward == pytest.approx(down, rel=0.03)


def test_the_cover_stays_convex_and_inside_the_free_block():
    edge = rounded_edge(EdgeForm(50.0), three_points("foam_medium"), 0.15)
    assert (edge.cover[:, 0] <= 1e-6).all()
    assert (edge.cover[:, 1] <= 1e-6).all()
    way = np.diff(edge.cover, axis=0)
    bend = way[:-1, 0] * way[1:, 1] - way[:-1, 1] * way[1:, 0]
    assert (bend <= 0.0).all()


def test_more_tension_and_softer_foam_round_more_and_no_tension_leaves_the_block_as_it_is():
    firm, medium = three_points("foam_firm"), three_points("foam_medium")
    radii = [rounded_edge(EdgeForm(50.0), firm, t).radius(10.0) for t in (0.05, 0.1, 0.2)]
    assert radii == sorted(radii)
    assert rounded_edge(EdgeForm(50.0), medium, 0.1).radius(10.0) > radii[1]
    still = rounded_edge(EdgeForm(50.0), firm, 0.0)
    assert still.moved == pytest.approx(still.points, abs=1e-9)


def test_a_rolled_edge_keeps_its_radius_where_the_cover_hardly_pulls():
    edge = rounded_edge(EdgeForm(60.0, roll_mm=30.0), three_points("foam_firm"), 0.001, edge_mm=3.0)
    assert edge.radius(12.0) == pytest.approx(30.0, rel=0.03)


def test_a_bevelled_side_turns_less_and_shortens_less():
    firm = three_points("foam_firm")
    upright, bevelled = (rounded_edge(EdgeForm(50.0, turn_deg=turn), firm, 0.15) for turn in (90.0, 50.0))
    assert bevelled.shorter_mm < 0.5 * upright.shorter_mm


def test_the_foam_law_is_the_curve_and_its_own_derivative():
    foam = BUILT_IN["foam_firm"]
    law = FoamLaw(curve(foam.table))
    strain = np.array(STRAINS)
    assert -1000.0 * law(1.0 - strain)[1] == pytest.approx(np.array(foam.compression_kpa), rel=1e-9)
    at, step = np.array([0.1, 0.2, 0.5, 0.9, 1.1]), 1e-6
    energy, slope, second = law(at)
    assert (law(at + step)[0] - law(at - step)[0]) / (2 * step) == pytest.approx(slope, rel=1e-6)
    assert (law(at + step)[1] - law(at - step)[1]) / (2 * step) == pytest.approx(second, rel=1e-5)
    assert (energy > 0).all()


@pytest.mark.parametrize("roll_mm", [0.4, 6.0])
def test_a_rolled_edge_is_an_arc_however_small(roll_mm):
    points, lies = _rim(EdgeForm(40.0, 90.0, roll_mm), 4.0)
    line = points[lies]
    inside = line[(line > -roll_mm + 1e-9).all(axis=1)]
    assert len(inside)
    assert np.linalg.norm(inside + roll_mm, axis=1) == pytest.approx(np.full(len(inside), roll_mm))
