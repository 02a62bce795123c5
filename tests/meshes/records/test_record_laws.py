"""Records seen in the mirror, closed covers and materials: twice mirrored is as before, bounds at their places."""

from dataclasses import replace

import numpy as np
import pytest

from meshes.records.alignment import UNALIGNED
from meshes.records.bands import USUAL_BANDS, Bands
from meshes.records.built_up import KEPT, SOFT, BuiltUp
from meshes.records.closed import (
    FIRM_FROM_KPA,
    LEAST_CORNER_MM,
    LEAST_WELTED_CORNER_MM,
    LONGEST_BAND_MM,
    MEDIUM_FROM_KPA,
    USUAL_PAST_CORNER_MM,
    USUAL_THICKNESS_MM,
    Closed,
    firmness,
)
from meshes.records.compression import SKIN_MM, SKIN_MM_PER_KPA, Columns, curve, linear
from meshes.records.corners import CORNERS_AFTER, NO_FOLDS, CornerFinish, Folds
from meshes.records.coverings import ROLL_WIDTH_MM, SELVEDGES_MM, RollGoods
from meshes.records.frame import FIXED, PLAIN_FRAME, BasePlane, Frame
from meshes.records.materials import BUILT_IN, CRUSH_LIMIT, Material
from meshes.records.pad import (
    Outline,
    Pad,
    Profile,
    SeatPose,
    Side,
    Wanted,
    front_right,
    hollow_radius_mm,
    mirrored_outline,
    mirrored_profile,
)
from meshes.records.pleats import MOST_PLEATS
from meshes.records.seam_kinds import ONE_SIDED, SEAM_KINDS, SewnAs
from meshes.records.springs import BINDING_SHARE, SHEAR_N_PER_MM2, Springs

# In the mirror.


def test_bands_in_the_mirror():
    one = Bands(("sides", "none", None, "ends"), ((100.0, 0.0), (-50.0, 300.0), (0.0, 300.0)))
    assert one.mirrored() == Bands(("ends", None, "none", "sides"), ((-100.0, 0.0), (50.0, 300.0), (0.0, 300.0)))
    assert one.mirrored().mirrored() == one
    assert not one.even
    assert USUAL_BANDS.even
    assert USUAL_BANDS.mirrored() == USUAL_BANDS


def test_joins_know_their_images():
    pair = Bands(joins=((100.0, 0.0), (0.0, 300.0), (-100.0005, 0.0005)))
    assert [pair.image(k) for k in range(3)] == [2, None, 0]
    assert pair.even
    for off in ((-100.002, 0.0), (-100.0, 0.002)):
        apart = Bands(joins=((100.0, 0.0), off))
        assert [apart.image(k) for k in range(2)] == [None, None]
        assert not apart.even
    # A join in the middle is its own image, one corner unlike its twin makes bands uneven.
    assert Bands(joins=((0.0005, 0.0),)).even
    assert not Bands(joins=((0.002, 0.0),)).even
    assert Bands(("sides", "ends", "ends", "sides")).even
    assert not Bands(("sides", None, None, None)).even


def test_folds_in_the_mirror():
    one = Folds((("front_right", CornerFinish.DOUBLE), ("rear_left", CornerFinish.SINGLE)), 6.0)
    other = one.mirrored()
    assert other.clearance == 6.0
    assert {corner: other.of(corner) for corner in CORNERS_AFTER} == {
        "front_right": None,
        "rear_right": CornerFinish.SINGLE,
        "rear_left": None,
        "front_left": CornerFinish.DOUBLE,
    }
    assert [corner for corner, _ in other.finishes] == [c for c in CORNERS_AFTER if other.of(c) is not None]
    assert other.mirrored() == one
    assert NO_FOLDS.mirrored() == NO_FOLDS


def test_a_frame_in_the_mirror():
    one = Frame(
        "fair", "straight", BasePlane(-90.0, 0.02, 0.01), ("left", "rear"),
        (("front", ((-80.0, 70.0), (90.0, 85.0))), ("left", ((10.0, 60.0),))),
    )  # fmt: skip
    other = one.mirrored()
    assert (other.rim, other.tack) == ("fair", "straight")
    assert other.base == BasePlane(-90.0, 0.02, -0.01)
    assert other.based == ("rear", "right")
    assert other.drops_of("front") == ((-90.0, 85.0), (80.0, 70.0))
    assert other.drops_of("right") == ((10.0, 60.0),)
    assert other.drops_of("left") == ()
    assert other.mirrored() == one
    assert PLAIN_FRAME.mirrored() == PLAIN_FRAME
    plan = np.array([[30.0, 200.0], [-30.0, 0.0]])
    assert one.base.at(plan) == pytest.approx([-90.0 + 4.0 + 0.3, -90.0 - 0.3])
    assert other.base.at(plan * [-1.0, 1.0]) == pytest.approx(one.base.at(plan))


CROOKED = Outline(
    ((-200.0, 0.0), (150.0, -10.0), (240.0, 40.0), (230.0, 300.0), (-190.0, 310.0)),
    (5.0, 10.0, 15.0, 20.0, 25.0),
    ("front", "front", "right", "rear", "left"),
    False,
)


def test_an_outline_in_the_mirror():
    other = mirrored_outline(CROOKED)
    assert front_right(CROOKED) == 2
    assert other.corners == ((-240.0, 40.0), (-150.0, -10.0), (200.0, 0.0), (190.0, 310.0), (-230.0, 300.0))
    assert other.radii == (15.0, 10.0, 5.0, 25.0, 20.0)
    assert other.side_of_edge == ("front", "front", "right", "rear", "left")
    assert mirrored_outline(other) == CROOKED


def test_a_profile_in_the_mirror():
    along = Profile("along", 30.0, ((0.0, 1.0), (200.0, 3.0)))
    assert mirrored_profile(along) == replace(along, at=-30.0)
    across = Profile("across", 30.0, ((-100.0, 1.0), (0.0, 5.0), (150.0, 2.0)))
    assert mirrored_profile(across) == Profile("across", 30.0, ((-150.0, 2.0), (0.0, 5.0), (100.0, 1.0)))
    for one in (along, across):
        assert mirrored_profile(mirrored_profile(one)) == one


def test_what_a_pad_says_of_its_place_and_wishes():
    outline = replace(CROOKED)
    wanted = Wanted(40.0, 66.0)
    pad = Pad("a", "side", SeatPose((1.0, 2.0, 3.0), 5.0, 90.0), outline, (), {}, (), None, (), wanted=wanted)
    assert (pad.origin, pad.rake_deg, pad.facing_deg) == ((1.0, 2.0, 3.0), 5.0, 90.0)
    assert (pad.wanted_radius, pad.finished_height, pad.continues, pad.leader) == (40.0, 66.0, None, None)
    assert pad.side_word("rear") == "top"


def test_a_hollow_radius_is_less_on_a_rounder_edge():
    side = Side(edge_radius=10.0, turn_deg=180.0, band=True, seam_below=4.0)
    assert hollow_radius_mm(side, 5.0) == pytest.approx(0.5 * np.pi * 15.0 + 4.0 - 10.0 + 1.0)


# Closed covers.


def material(kpa_at_40):
    return Material("own", 30.0, (0.5 * kpa_at_40, kpa_at_40, 3.0 * kpa_at_40), foam=True)


def test_firmness_parts_half_way_as_a_ratio_between_the_built_in_foams():
    soft, medium, firm = (BUILT_IN[f"foam_{word}"].compression_kpa[1] for word in ("soft", "medium", "firm"))
    assert pytest.approx(np.sqrt(soft * medium), rel=0.01) == MEDIUM_FROM_KPA
    assert pytest.approx(np.sqrt(medium * firm), rel=0.01) == FIRM_FROM_KPA
    assert [firmness(material(kpa)) for kpa in (2.74, 2.75, 4.74, 4.75)] == ["soft", "medium", "medium", "firm"]
    for word in ("soft", "medium", "firm"):
        assert firmness(BUILT_IN[f"foam_{word}"]) == word


@pytest.mark.parametrize(("word", "inch"), [("soft", (1.0, 1.0)), ("medium", (0.5, 0.75)), ("firm", (0.0, 0.25))])
def test_a_cover_is_smaller_by_the_middle_of_the_trade_s_rule(word, inch):
    found = Closed("box", 80.0, f"foam_{word}").smaller(BUILT_IN[f"foam_{word}"])
    assert found.mm == pytest.approx(25.4 * sum(inch) / 2.0)
    assert found.row.startswith(f"P: {word} foam")


def test_what_a_sheet_says_goes_before_the_rule_and_a_roll_is_cut_to_size():
    firm = BUILT_IN["foam_firm"]
    assert Closed("box", 80.0, "foam_firm", 9.0).smaller(firm).mm == 9.0
    assert Closed("roll", 80.0, "foam_firm", 0.0).smaller(firm).row == "the sheet"
    assert Closed("roll", 80.0, "foam_firm").smaller(firm).mm == 0.0
    assert Closed("panel", 80.0, "foam_firm").smaller(firm).row == "a flat panel"
    assert [Closed(form, 80.0, "a").filled for form in ("box", "roll", "panel")] == [True, True, False]


def test_a_band_is_as_high_as_its_core_unless_it_is_said():
    assert Closed("box", 80.0, "a").height == 80.0
    assert Closed("box", 80.0, "a", band=70.0).height == 70.0


def test_least_corners_of_plates():
    assert Closed("box", 80.0, "a").least_corner == LEAST_CORNER_MM == 15.0
    assert Closed("box", 80.0, "a", welt=True).least_corner == LEAST_WELTED_CORNER_MM == 25.0
    assert Closed("panel", 80.0, "a", welt=True).least_corner == 0.0


def test_usual_measures_of_closed_covers():
    # 5 to 6 inches past a rear corner.
    assert 5.0 <= USUAL_PAST_CORNER_MM / 25.4 <= 6.0
    assert LONGEST_BAND_MM < ROLL_WIDTH_MM + SELVEDGES_MM + 1.0
    assert 1300.0 < LONGEST_BAND_MM < 1500.0
    assert 50.0 < USUAL_THICKNESS_MM < 150.0
    assert {"stapled": "pulled", "blind-tacked": "blind", "closed by hand": "closed"}.items() <= FIXED.items()
    # How a panel's edges usually are: stapled below, blind-tacked on top, closed by hand at both sides.
    assert Closed("panel", 1.0, "a").edges == ("pulled", "closed", "blind", "closed")
    assert RollGoods().usable_mm == RollGoods().width_mm - SELVEDGES_MM == 1340.0


# Materials and columns.


def test_stuffings_stand_in_their_order():
    """From wadding, which hardly resists, over cotton and hair to felt and cloth; each pushes back the more the further
    it is pressed, and lighter stuff less."""
    order = ["wadding", "cotton_batting", "hair", "rubberised_hair", "felt", "hessian"]
    for figure in ("density_kg_m3", "kpa"):
        told = [BUILT_IN[n].density_kg_m3 if figure != "kpa" else BUILT_IN[n].compression_kpa[0] for n in order]
        assert told == sorted(told)
    for name in order:
        low, middle, high = BUILT_IN[name].compression_kpa
        assert 1.9 <= middle / low <= 3.1
        assert 3.0 <= high / middle <= 5.1
        assert not BUILT_IN[name].foam
        assert BUILT_IN[name].editable
    assert {n: BUILT_IN[n].thickness_mm for n in order} == {
        "wadding": 15.0, "cotton_batting": 25.0, "hair": 25.0, "rubberised_hair": 25.0, "felt": 10.0, "hessian": 1.0
    }  # fmt: skip
    assert [BUILT_IN[n].density_kg_m3 for n in order] == [12.0, 45.0, 50.0, 60.0, 120.0, 350.0]


def test_foams_are_heavier_the_firmer_and_come_in_inches_of_25_mm():
    found = [BUILT_IN[f"foam_{word}"] for word in ("soft", "medium", "firm")]
    assert [one.density_kg_m3 for one in found] == [29.0, 35.0, 40.0]
    assert {one.thickness_mm for one in found} == {BUILT_IN["foam_very_soft"].thickness_mm} == {25.0}
    assert all(one.foam and one.editable for one in found)
    assert CRUSH_LIMIT == 0.5


def test_a_material_without_a_thickness_is_laid_up_of_nothing():
    loose = Material("loose", 12.0, (0.1, 0.3, 1.5))
    assert loose.sheets_mm == loose.laid_up(30.0) == ()
    assert loose.next_thinner(30.0) == 0.0
    assert loose.curve_source.startswith("P:")
    one = replace(loose, thickness_mm=15.0)
    assert one.laid_up(0.5) == (15.0,)
    assert one.laid_up(15.0) == (15.0,)
    assert one.laid_up(15.0 + 1e-9) == (15.0,)
    assert one.laid_up(15.1) == (15.0, 15.0)
    assert one.next_thinner(45.0) == 30.0


def test_bare_places_give_half_a_millimetre_at_most():
    """Most at the first touch: by its rate there, and ever less towards all that it gives."""
    bare = Columns((), np.zeros((0, 3)), np.zeros(3), np.zeros(3), 0.0)
    kpa = np.array([1e-4, 5.0, 1e6])
    found = bare.compression(kpa)[0]
    assert found[0] == pytest.approx(SKIN_MM_PER_KPA * kpa[0], rel=1e-3)
    assert found[1] < 0.1
    assert found[2] == pytest.approx(SKIN_MM, rel=1e-3)
    assert (SKIN_MM_PER_KPA, SKIN_MM) == (0.02, 0.5)


def test_a_straight_curve_stiffens_beyond_half_as_what_is_left_goes():
    one = linear(20.0)
    assert one.strain[-1] == 0.5
    assert one.pressure(np.array([0.5])) == pytest.approx([10.0])
    # Half of what is left at twice the pressure again: x / (1 - x) of the last slope.
    assert one.pressure(np.array([0.75])) == pytest.approx([10.0 + 20.0 * 0.5])
    assert one.at(np.array([1e9])).strain[0] == pytest.approx(1.0)


def test_a_curve_of_one_point_is_straight_up_to_it():
    one = curve([(0.4, 8.0)])
    assert one.pressure(np.array([0.1, 0.4])) == pytest.approx([2.0, 8.0])
    assert curve([(0.0, 0.0), (0.4, 8.0)]).pressure(np.array([0.2])) == pytest.approx([4.0])


def test_slopes_inside_a_curve_are_weighted_harmonic_means():
    """Two stretches of slopes 10 and 40 kPa, the second half as long (Fritsch and Butland)."""
    one = curve([(0.4, 4.0), (0.6, 12.0)])
    w0, w1 = 2 * 0.2 + 0.4, 0.2 + 2 * 0.4
    node = int(np.argmin(np.abs(one.strain - 0.4)))
    assert 1.0 / one.compliance[node] == pytest.approx((w0 + w1) / (w0 / 10.0 + w1 / 40.0))
    # One-sided at the ends, held between half and twice their own stretch; the last never less steep than that.
    assert 1.0 / one.compliance[0] == pytest.approx(5.0)
    last = ((2 * 0.2 + 0.4) * 40.0 - 0.2 * 10.0) / 0.6
    assert 1.0 / one.compliance[-1] == pytest.approx(last)


# What is built up.


def test_what_is_built_up_keeps_a_third_of_its_width():
    built = BuiltUp("left", ((0.0, 0.0), (0.0, 100.0)), (0.0, 100.0), (10.0, 10.0), (0.0, 0.0), 90.0)
    across = np.column_stack([np.array([-5.0, 0.0, 29.9, 60.0, 90.0]), np.full(5, 50.0)])
    assert built.height(across) == pytest.approx([10.0, 10.0, 10.0, 5.0, 0.0], abs=1e-4)
    assert pytest.approx(1.0 / 3.0) == KEPT
    # Falling by its own slope it is rounded off softly: at nought of the line by the share that is soft.
    falling = replace(built, slope=(-1.0, -1.0), over=900.0)
    at_nought = falling.height(np.array([[10.0, 50.0]]))[0]
    assert at_nought == pytest.approx(10.0 * SOFT / (1.0 + np.hypot(1.0, SOFT)))
    assert falling.range_mm() == (10.0, 10.0)
    assert UNALIGNED.built_up is None


def test_constants_that_others_stand_on():
    assert 78_500.0 <= SHEAR_N_PER_MM2 <= 81_500.0
    assert 0.2 <= BINDING_SHARE <= 0.3
    assert Springs(0.1, 100.0, 100.0).preload_kpa == 0.0
    assert 100 <= MOST_PLEATS <= 200
    assert set(ONE_SIDED) < set(SEAM_KINDS)
    assert SewnAs(None, "plain") == SewnAs(None, "plain", None, False, None)
