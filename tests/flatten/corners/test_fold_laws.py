"""Leather of a folded corner to the last digit: where tack lines meet, which flap is folded, and what is said."""

from types import SimpleNamespace

import numpy as np
import pytest

from flatten.corners.clearance import clearance_mm, clearance_notes
from flatten.corners.lines import _arrow, _on, fold_lines
from flatten.corners.wedge import Wedge, _heading, wedge
from flatten.corners.words import fold_notes
from meshes.base.problems import Problem
from meshes.records.corners import CornerFinish
from meshes.records.pad import Block

H = 40.0


def square_corner(length=200.0):
    """A corner whose legs are 40 mm high, with a short arc between them."""
    notch = np.array([[0.0, 0.0], [0.0, H], [H, H]])
    return wedge(np.array([[-length, 0.0], [0.0, 0.0]]), notch, np.array([[H, H], [H, H + length]]), 0.5)


@pytest.mark.parametrize("mirrored", [1.0, -1.0])
def test_tack_lines_go_on_until_they_meet(mirrored):
    """Lines through (-100, -20) and (0, 0), and through (40, 40) and (50, 140): they meet outside the notch."""
    flip = np.array([mirrored, 1.0])
    before = np.array([[-100.0, -20.0], [0.0, 0.0]]) * flip
    after = np.array([[H, H], [50.0, 140.0]]) * flip
    notch = np.array([[0.0, 0.0], [0.0, H], [H, H]]) * flip
    found = wedge(before, notch, after, 0.5)
    # y = x / 5 and x = 40 + (y - 40) / 10.
    x = (40.0 - 4.0) / (1.0 - 0.02)
    assert found.mouth == pytest.approx(np.array([[0.0, 0.0], [x, x / 5.0], [H, H]]) * flip)
    assert found.far == pytest.approx(np.array([x, x / 5.0]) * flip)


def test_where_they_meet_farther_out_than_two_and_a_half_legs_they_are_joined_straight():
    notch = np.array([[0.0, 0.0], [0.0, H], [H, H]])
    for out, meets in ((98.0, True), (102.0, False)):
        # The second line leaves (40, 40) so that it would meet the first at (out, 0).
        way = np.array([H - out, H]) / np.hypot(H - out, H)
        found = wedge(
            np.array([[-200.0, 0.0], [0.0, 0.0]]), notch, np.array([[H, H], np.array([H, H]) + 200.0 * way]), 0.5
        )
        assert (len(found.mouth) == 3) == meets, out
        if not meets:
            assert found.far == pytest.approx([0.5 * H, 0.5 * H])
    # Nor where they would meet behind one of them.
    back = wedge(np.array([[-200.0, 0.0], [0.0, 0.0]]), notch, np.array([[H, H], [H - 100.0, H + 400.0]]), 0.5)
    assert back.mouth == pytest.approx(np.array([[0.0, 0.0], [50.0, 0.0], [H, H]]))
    apart = wedge(np.array([[-200.0, 0.0], [0.0, 0.0]]), notch, np.array([[H, H], [H + 30.0, H - 100.0]]), 0.5)
    assert len(apart.mouth) == 2


def test_legs_are_their_share_of_the_notch_from_each_foot_and_the_tip_is_half_way():
    notch = np.array([[0.0, 0.0], [0.0, 20.0], [0.0, 40.0], [10.0, 40.0], [20.0, 40.0], [20.0, 20.0], [20.0, 0.0]])
    found = wedge(np.array([[-90.0, 0.0], [0.0, 0.0]]), notch, np.array([[20.0, 0.0], [110.0, 0.0]]), 0.4)
    assert found.legs[0].tolist() == [[0.0, 0.0], [0.0, 20.0], [0.0, 40.0]]
    assert found.legs[1].tolist() == [[20.0, 0.0], [20.0, 20.0], [20.0, 40.0]]
    assert found.tip.tolist() == [10.0, 40.0]
    assert found.far.tolist() == [10.0, 0.0]
    # From the mouth up to the arc: 20 mm wide and 40 high.
    assert found.area_mm2 == pytest.approx(800.0)
    assert square_corner().area_mm2 == pytest.approx(H * H)


def test_a_line_is_followed_over_its_first_thirty_millimetres_or_half_of_a_short_one():
    bent = np.array([[0.0, 0.0], [29.0, 0.0], [31.0, 1.0], [31.0, 200.0]])
    assert _heading(bent) == pytest.approx(np.array([31.0, 1.0]) / np.hypot(31.0, 1.0))
    short = np.array([[0.0, 0.0], [9.0, 0.0], [11.0, 1.0], [11.0, 17.0]])
    half = short[2]
    assert _heading(short) == pytest.approx(half / np.linalg.norm(half))
    assert _heading(bent + 500.0) == pytest.approx(_heading(bent))


def test_an_arrow_points_where_a_fold_is_laid():
    line = _arrow(np.array([0.0, 0.0]), np.array([100.0, 0.0]))
    assert line.tolist() == [[10.0, 0.0], [90.0, 0.0], [86.0, 2.0], [90.0, 0.0], [86.0, -2.0]]
    short = _arrow(np.array([0.0, 0.0]), np.array([0.0, 10.0]))
    assert short == pytest.approx(np.array([[0, 1.0], [0, 9.0], [-1.5, 6.0], [0, 9.0], [1.5, 6.0]]))
    assert _on(np.array([[0.0, 0.0], [0.0, 9.0], [0.0, 10.0]]), 0.6).tolist() == [0.0, 4.0]


@pytest.mark.parametrize(("corner", "right"), [("front_right", True), ("rear_right", True), ("front_left", False)])
def test_one_fold_lies_on_the_flap_that_faces_back_with_its_arrow_from_there(corner, right):
    leather = square_corner()
    one, two = leather.legs if right else leather.legs[::-1]
    lines = fold_lines(leather, CornerFinish.SINGLE, corner, 50.0)
    assert [name for name, _ in lines] == ["fold", "", "in", "", "relief cut"]
    assert lines[0][1] is one
    assert lines[1][1] is two
    assert lines[2][1].tolist() == [leather.tip.tolist(), leather.far.tolist()]
    assert lines[3][1] == pytest.approx(_arrow(_on(one, 0.6), _on(two, 0.6)))


def test_two_folds_meet_on_the_corner_with_an_arrow_each():
    leather = square_corner()
    lines = fold_lines(leather, CornerFinish.DOUBLE, "front_right", 50.0)
    assert [name for name, _ in lines] == ["fold", "fold", "in", "in", "corner", "", "", "relief cut"]
    # Each half of the square is folded in along the line from the tip to the middle of its open side.
    assert lines[2][1].tolist() == [[0.0, H], [0.5 * H, 0.0]]
    assert lines[3][1].tolist() == [[0.0, H], [H, 0.5 * H]]
    middle = leather.tip + 0.6 * (leather.far - leather.tip)
    assert middle.tolist() == pytest.approx([24.0, 16.0])
    for (_, arrow), leg in zip(lines[5:7], leather.legs, strict=True):
        assert arrow == pytest.approx(_arrow(_on(leg, 0.6), middle))
    drawn = fold_lines(leather, CornerFinish.DRAWN, "front_right", 50.0)
    assert [name for name, _ in drawn] == ["draw first", "relief cut"]
    assert drawn[0][1].tolist() == [leather.tip.tolist(), leather.far.tolist()]


def test_the_relief_cut_stops_half_an_inch_from_the_corner_and_needs_more_than_that():
    leather = square_corner()
    way = np.array([1.0, -1.0]) / np.sqrt(2.0)
    cut = fold_lines(leather, CornerFinish.DRAWN, "front_right", 30.0)[-1]
    assert cut[0] == "relief cut"
    assert cut[1] == pytest.approx(np.array([leather.far + 12.7 * way, leather.far + 30.0 * way]))
    assert len(fold_lines(leather, CornerFinish.DRAWN, "front_right", 12.7)) == 1
    nothing = Wedge(np.array([[0.0, 0.0], [0.0, 0.0]]), np.zeros(2), leather.legs)
    assert len(fold_lines(nothing, CornerFinish.DRAWN, "front_right", 50.0)) == 1


def fold(corner, finish, depth=48.2, name=None):
    return SimpleNamespace(
        corner=corner, finish=finish, depth_mm=depth, name=name or f"{corner.replace('_', ' ')} fold"
    )


def test_folds_that_are_alike_are_told_together():
    single, drawn, double = CornerFinish.SINGLE, CornerFinish.DRAWN, CornerFinish.DOUBLE
    told = fold_notes(
        [fold(corner, single) for corner in ("front_right", "rear_right", "rear_left")], [2e3, 2449.0, 2351.0]
    )
    assert told[:2] == (
        "front right corner: one fold, open to the right, 48 mm deep and 20 cm² of leather, 3 layers thick",
        "rear right and rear left corner: one fold, open to the rear, 48 mm deep and 24 cm² of leather, 3 layers thick",
    )
    assert told[2].startswith("make the relief cut only when the corner is pulled")
    assert len(told) == 3
    assert fold_notes([fold("front_left", drawn)], [100.0])[0] == (
        "front left corner: drawn clean on the diagonal; lay what is left in small pleats under the board, "
        "48 mm deep and 1 cm² of leather"
    )
    told = fold_notes([fold("front_left", double)], [100.0])
    assert told[0].endswith("two folds that meet on the corner, 48 mm deep and 1 cm² of leather, 3 layers thick")
    assert fold_notes([], []) == ()


def beside(room, layers, finishes, *, rail=True):
    pad = SimpleNamespace(
        pad=SimpleNamespace(
            folds=SimpleNamespace(clearance=room, rail=rail, finishes=tuple(("", one) for one in finishes)),
            layers=layers,
        ),
        division=SimpleNamespace(folds=[SimpleNamespace(finish=finish) for finish in finishes]),
    )
    return clearance_notes(pad, 1.2, lambda code, keys, text: Problem(code, " ".join(keys), text))


def layer(thickness, where="all", taper=0.0, within=None, block=None):
    return SimpleNamespace(thickness=thickness, where=where, taper=taper, within=within, block=block)


@pytest.mark.parametrize(
    ("leather", "layers", "usual"),
    [
        (0.8, [layer(12.0)], 3.0),
        (0.81, [layer(12.0)], 6.0),
        (0.8, [layer(12.1)], 6.0),
        (1.2, [layer(15.0), layer(10.0, "face")], 6.0),
        (1.2, [layer(15.0), layer(10.1, "face")], 9.0),
        (0.5, [layer(25.1)], 9.0),
        (0.8, [layer(12.0), layer(30.0, "front"), layer(30.0, "face", within=60.0)], 3.0),
    ],
)
def test_beside_a_rail_there_is_the_usual_room_for_what_goes_in(leather, layers, usual):
    def pad(clearance, *, rail):
        return SimpleNamespace(folds=SimpleNamespace(clearance=clearance, rail=rail), layers=layers)

    assert clearance_mm(pad(None, rail=True), leather) == usual
    assert clearance_mm(pad(4.5, rail=True), leather) == clearance_mm(pad(4.5, rail=False), leather) == 4.5
    assert clearance_mm(pad(None, rail=False), leather) is None


def test_padding_that_goes_down_the_side_is_pressed_to_a_third():
    layers = [layer(9.0), layer(30.0, "face"), layer(30.0, "all", 5.0)]
    single = [CornerFinish.DRAWN, CornerFinish.SINGLE]
    # A third of 9 mm and 1.2 mm of leather: 4.2 mm on a side, 6.6 mm at a fold.
    assert beside(6.6, layers, single) == []
    (corner,) = beside(6.5, layers, single)
    assert "3 layers, 6.6 mm with the padding, and the rail leaves 6.5 mm" in corner.text
    assert "0.1 mm smaller" in corner.text
    assert "drawn 4.2 mm, which goes in, sewn 5.4 mm, which goes in" in corner.text
    assert corner.where == "folds clearance"
    (side,) = beside(4.1, layers, single)
    assert "1.2 mm of leather and 3.0 mm of pressed padding do not go into 4.1 mm" in side.text
    assert "0.1 mm smaller" in side.text
    # A corner that is drawn clean is no thicker than the side.
    assert beside(4.3, layers, [CornerFinish.DRAWN]) == []
    assert [note.code for note in beside(4.3, layers, [CornerFinish.DOUBLE])] == ["G180"]
    assert beside(4.2 + 1e-9, [layer(9.0)], []) == []
    # A block that hangs over the board takes its overhang besides.
    blocks = [layer(9.0), *(layer(60.0, "face", block=Block(overhang=mm)) for mm in (2.0, 5.0))]
    assert beside(9.2 + 1e-9, blocks, []) == []
    assert "0.1 mm smaller" in beside(9.1, blocks, [])[0].text


@pytest.mark.parametrize("turned", [False, True])
def test_the_limit_holds_for_both_tack_lines(turned):
    """They meet far along one of them only, at an angle that is not square."""
    notch = np.array([[0.0, 0.0], [0.0, H], [H, H]])
    for out, meets in ((88.0, True), (112.0, False)):
        # The first line goes on through (60, 0) at a slant; the second comes down from (40, 40) to meet it `out` away.
        meeting = np.array([30.0, 0.0])
        way = (np.array([H, H]) - meeting) / np.linalg.norm(np.array([H, H]) - meeting)
        far = np.array([H, H]) - out * way
        before = np.array([-200.0 * far / np.linalg.norm(far), [0.0, 0.0]])
        after = np.array([[H, H], np.array([H, H]) + 200.0 * way])
        if turned:
            flip = np.array([[0.0, 1.0], [1.0, 0.0]])
            found = wedge((H - after[::-1] @ flip), H - notch[::-1] @ flip, H - before[::-1] @ flip, 0.5)
        else:
            found = wedge(before, notch, after, 0.5)
        assert (len(found.mouth) == 3) == meets, out
