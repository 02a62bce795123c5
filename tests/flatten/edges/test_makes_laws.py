"""What each kind of seam is made of, which row of a sheet holds for which seam, and where rows of thread run."""

from types import SimpleNamespace

import numpy as np
import pytest

from flatten.edges.fixings import RINGS_APART_MM, line_beyond, rings_for
from flatten.edges.makes import (
    LAP_TURNED_MM,
    LAP_UNDER_MM,
    MOST_LEATHERS,
    TOPSTITCH_MM,
    SeamMake,
    edge_allowance,
)
from flatten.edges.named import alike, makes_of, seam_faults, sewn_so
from flatten.edges.order import sewing_order
from flatten.edges.rows import LEAST_RUN_MM, row_beside
from meshes.base.surface import Surface
from meshes.records.seam_kinds import (
    DOUBLE,
    LAPPED,
    LAPPED_OVER,
    LAPPED_UNDER,
    PLAIN,
    SEAM_KINDS,
    TOPSTITCHED,
    WELTED,
    SewnAs,
)
from meshes.seat.build import build
from meshes.seat.panels import Panel, PanelIdentity, PanelRole, Seam
from meshes.sheet.whole import Allowance
from tests.pads import FLAT, sheet_of

FACE, BAND, RIGHT, LEFT = "cushion face", "cushion front band", "cushion right band", "cushion left band"
FRONT_SEAM = f"{FACE} / front band"
RIGHT_SEAM, LEFT_SEAM = f"{BAND} / right band", f"{BAND} / left band"
UNLIKE = Allowance(sewn=7.0, welted=8.0, pulled=51.0, closed=26.0)


@pytest.fixture(scope="module")
def pad():
    return build(sheet_of(FLAT).pads[0], edge_mm=40.0)


@pytest.fixture(scope="module")
def joined():
    """A pad whose front band has a join in its middle, between two parts that are mirror images."""
    text = FLAT.replace("[pad.sides.front]", "[pad.bands]\njoins = [[0, 0]]\n[pad.sides.front]")
    return build(sheet_of(text).pads[0], edge_mm=40.0)


def panel(name, role, mirror_of=None):
    nothing = np.zeros(0, dtype=np.int64)
    return Panel(
        name, "p", PanelIdentity(role, name.removeprefix("p ")), Surface(np.zeros((0, 3)), np.zeros((0, 3))),
        nothing, nothing, (), np.array([0.0, 1.0, 0.0]), mirror_of, None, nothing,
    )  # fmt: skip


def seam(a, b, welt=False):
    return Seam(f"{a} / {b}", a, b, welt, np.zeros(0, dtype=np.int64))


def pad_of(panels, seams):
    return SimpleNamespace(panels=panels, seams=seams, pad=SimpleNamespace(name="p"))


FACES = [panel("p face", PanelRole.FACE), panel("p inset", PanelRole.INSET), panel("p bolster", PanelRole.BOLSTER)]
TWO_BOLSTERS = [*FACES, panel("p left bolster", PanelRole.BOLSTER, "p bolster")]
BANDS = [panel("p band", PanelRole.BAND), panel("p left band", PanelRole.BAND, "p band")]


def test_rows_and_leathers_of_a_seam_are_counted():
    """Seam and rows; leathers where both allowances, a fold or a welt strip lie in the seam."""
    rows = {kind: SeamMake(kind).rows_of_thread for kind in SEAM_KINDS}
    assert rows == {PLAIN: 1, TOPSTITCHED: 2, DOUBLE: 3, LAPPED: 1, WELTED: 1}
    leathers = {kind: SeamMake(kind).leathers for kind in SEAM_KINDS}
    assert leathers == {PLAIN: 2, TOPSTITCHED: 3, DOUBLE: 2, LAPPED: 2, WELTED: 4}
    assert SeamMake(LAPPED, turned=True).leathers == 3
    for kind in SEAM_KINDS:
        assert bool(SeamMake(kind).skive) == (leathers[kind] > MOST_LEATHERS)
    # A fold of three is sewn as it is.
    assert SeamMake(LAPPED, turned=True).skive == ""


def test_each_side_is_told_what_lies_on_top():
    top, low = "a", "b"

    def notes(kind, turned=False):
        made = SeamMake(kind, frozenset({top}), turned)
        return made.note(top), made.note(low)

    assert notes(TOPSTITCHED) == ("both allowances under this, row 3 mm in", "allowance turned over")
    assert notes(LAPPED) == ("raw edge on top, row 3 mm in", "lies under")
    assert notes(LAPPED, True) == ("turned edge on top, row 3 mm in", "lies under")
    assert notes(DOUBLE) == ("opened over tape, a row 3 mm each side",) * 2
    assert notes(PLAIN) == ("", "")
    assert notes(WELTED) == ("skive", "skive")
    # A row of thread is seen exactly where the words speak of one.
    for kind in SEAM_KINDS:
        made = SeamMake(kind, frozenset({top}))
        for name in (top, low):
            assert bool(made.rows_mm(name)) == ("row" in made.note(name))
            assert all(f"{away:g} mm" in made.note(name) for away in made.rows_mm(name))


def test_a_row_holds_what_is_turned_or_reaches_under():
    """Both allowances of a lapped seam lie under the row with some to spare, yet no more than four times its distance,
    so that they do not show through."""
    for allowance in (LAP_UNDER_MM, LAP_TURNED_MM):
        assert 2.0 * TOPSTITCH_MM < allowance <= 4.0 * TOPSTITCH_MM


def test_edges_of_a_lapped_seam_are_named_by_what_lies_on_top():
    made = SeamMake(LAPPED, frozenset({"a"}))
    assert (made.rim_kind("a"), made.rim_kind("b")) == (LAPPED_OVER, LAPPED_UNDER)
    kinds = {kind: SeamMake(kind).rim_kind("a") for kind in SEAM_KINDS if kind != LAPPED}
    assert kinds == {PLAIN: "sewn", TOPSTITCHED: TOPSTITCHED, DOUBLE: DOUBLE, WELTED: WELTED}


@pytest.mark.parametrize("kind", SEAM_KINDS)
@pytest.mark.parametrize("given", [None, 17.0])
def test_a_row_s_own_allowance_goes_before_the_sheet_s(kind, given):
    """But no allowance makes the upper edge of a lapped seam longer: it ends at its line, or is turned there."""
    for name in ("a", "b"):
        for turned in (False, True):
            made = SeamMake(kind, frozenset({"a"}), turned, given)
            usual = {"a": LAP_TURNED_MM if turned else 0.0, "b": LAP_UNDER_MM} if kind == LAPPED else {}
            if kind == LAPPED and name == "a":
                expected = usual["a"]
            elif given is not None:
                expected = given
            else:
                expected = usual.get(name, UNLIKE.welted if kind == WELTED else UNLIKE.sewn)
            assert edge_allowance(made.rim_kind(name), made, UNLIKE) == expected


def test_edges_that_are_not_sewn_have_the_sheet_s_allowances():
    for kind in ("sewn", "welted", "pulled", "closed", "zip", "blind"):
        assert edge_allowance(kind, None, UNLIKE) == getattr(UNLIKE, kind)
    assert edge_allowance(LAPPED_OVER, None, UNLIKE) == 0.0
    assert edge_allowance(LAPPED_UNDER, None, UNLIKE) == LAP_UNDER_MM
    assert edge_allowance(TOPSTITCHED, None, UNLIKE) == UNLIKE.sewn


def test_the_first_of_two_rows_about_one_seam_or_about_all_counts(pad):
    rows = [SewnAs(None, DOUBLE), SewnAs(None, PLAIN), SewnAs(FRONT_SEAM, TOPSTITCHED), SewnAs(FRONT_SEAM, LAPPED)]
    makes = makes_of(rows, [pad])
    assert makes[FRONT_SEAM].kind == TOPSTITCHED
    assert {make.kind for name, make in makes.items() if name != FRONT_SEAM} == {DOUBLE}


def test_a_row_holds_for_the_mirror_image_of_its_seam_and_no_other(pad):
    makes = makes_of([SewnAs(LEFT_SEAM, TOPSTITCHED, LEFT)], [pad])
    assert set(makes) == {LEFT_SEAM, RIGHT_SEAM}
    # The piece uppermost and its image, since they are one drawing.
    assert makes[LEFT_SEAM].over == {LEFT}
    assert makes[RIGHT_SEAM].over == {RIGHT}


def test_left_open_the_piece_nearer_the_middle_lies_uppermost(pad):
    (makes,) = {makes_of([SewnAs(FRONT_SEAM, kind)], [pad])[FRONT_SEAM].over for kind in (TOPSTITCHED, LAPPED)}
    assert makes == {FACE}
    assert makes_of([SewnAs(FRONT_SEAM, DOUBLE, FACE)], [pad])[FRONT_SEAM].over == frozenset()


def test_rows_hand_on_their_figures(pad):
    (made,) = makes_of([SewnAs(FRONT_SEAM, LAPPED, BAND, True, 9.5)], [pad]).values()
    assert (made.kind, made.over, made.turned, made.allowance_mm) == (LAPPED, {BAND}, True, 9.5)
    assert makes_of([], [pad]) == {}


def test_a_row_for_all_leaves_welted_seams_and_those_of_one_drawing():
    """Both sides of the second seam are one drawing, so that neither can lie uppermost; a kind of like sides fits."""
    panels = [*BANDS, FACES[0]]
    seams = [seam("p face", "p band", welt=True), seam("p band", "p left band"), seam("p face", "p left band")]
    kinds = {kind: set(makes_of([SewnAs(None, kind)], [pad_of(panels, seams)])) for kind in (TOPSTITCHED, DOUBLE)}
    names = [one.name for one in seams]
    assert kinds == {TOPSTITCHED: {names[2]}, DOUBLE: {names[1], names[2]}}


def test_what_is_cut_from_one_drawing():
    by_name = {one.name: one for one in (*BANDS, *FACES)}
    assert alike(seam("p band", "p left band"), by_name)
    assert alike(seam("p left band", "p band"), by_name)
    assert alike(seam("p band", "p band"), by_name)
    assert not alike(seam("p left band", "p face"), by_name)
    assert not alike(seam("p face", "p inset"), by_name)


def test_a_pad_without_rows_is_handed_on_as_it_is(pad):
    assert sewn_so([pad], {}) == (pad,)
    (sewn,) = sewn_so([pad], makes_of([SewnAs(FRONT_SEAM, LAPPED, FACE)], [pad]))
    changed = {
        (panel.name, edge.kind)
        for before, panel in zip(pad.panels, sewn.panels, strict=True)
        for old, edge in zip(before.rim, panel.rim, strict=True)
        if old.kind != edge.kind
    }
    assert changed == {(FACE, LAPPED_OVER), (BAND, LAPPED_UNDER)}


def faults(pad, *rows):
    head, rest = FLAT.split("[[pad]]")
    text = head + "".join(f"[[seam]]\n{row}\n" for row in rows) + "[[pad]]" + rest
    return text, seam_faults(sheet_of(text), [pad])


def test_a_seam_and_its_mirror_image_are_one_seam(pad):
    own = [f'seam = "{name}"\nkind = "plain"' for name in (LEFT_SEAM, FRONT_SEAM, RIGHT_SEAM)]
    text, (fault,) = faults(pad, *own)
    lines = [k for k, line in enumerate(text.splitlines(), 1) if line == "[[seam]]"]
    assert f"row 1 (line {lines[0]}) is about the same seam" in fault.text
    assert fault.keys == ("seam", 2, "seam")
    assert fault.line > lines[2]
    assert faults(pad, *own[:2])[1] == []


def test_rows_for_all_others_are_told_when_there_are_two_of_them(pad):
    (fault,) = faults(pad, 'kind = "plain"', 'kind = "lapped"')[1]
    assert "same seam" in fault.text
    assert faults(pad, 'kind = "lapped"')[1] == []


def test_either_side_may_lie_uppermost_and_none_may_be_named(pad):
    for over in ('over = "cushion face"', 'over = "cushion front band"', ""):
        assert faults(pad, f'seam = "{FRONT_SEAM}"\nkind = "lapped"\n{over}')[1] == []
    (fault,) = faults(pad, f'seam = "{FRONT_SEAM}"\nkind = "lapped"\nover = "{RIGHT}"')[1]
    assert f"{FACE} or {BAND}" in fault.text.replace('"', "")
    # A kind without an upper piece does not ask for one.
    (fault,) = faults(pad, 'seam = "keel"\nkind = "plain"')[1]
    assert FRONT_SEAM in fault.text


def test_one_drawing_cannot_lie_over_itself(joined):
    seam = next(
        s.name for s in joined.seams if {s.a, s.b} == {f"cushion {side} front band" for side in ("left", "right")}
    )
    (fault,) = faults(joined, f'seam = "{seam}"\nkind = "topstitched"')[1]
    assert fault.keys == ("seam", 0, "kind")
    assert "one drawing" in fault.text
    assert faults(joined, f'seam = "{seam}"\nkind = "double topstitched"')[1] == []


def test_the_order_of_sewing_goes_from_the_pieces_outward():
    """A dart, bands to each other and parts of one sort, unlike parts of the face, bands to the face; within each
    stage the order of the pad."""
    seams = [
        seam("p face", "p band"), seam("p inset", "p bolster"), seam("p bolster", "p left bolster"),
        seam("p band", "p left band"), seam("p face", "p face"), seam("p left band", "p bolster"),
        seam("p face", "p inset"),
    ]  # fmt: skip
    order = [step.seam for step in sewing_order([pad_of([*TWO_BOLSTERS, *BANDS], seams)], {})]
    assert order == [seams[k].name for k in (4, 2, 3, 1, 6, 0, 5)]


def test_words_of_a_step_name_the_piece_on_top_and_the_welt_s_first_side():
    pad = pad_of([*FACES, *BANDS], [seam("p face", "p band", welt=True), seam("p face", "p inset")])
    (inner, welted) = sewing_order([pad], {})
    assert (inner.kind, inner.words, inner.rows, inner.leathers) == (PLAIN, "sew", 1, 2)
    assert welted.kind == WELTED
    assert "sew the welt to face first" in welted.words
    assert welted.words.endswith("; skive the edges, 4 leathers meet")

    def words(kind, over, turned=False):
        make = SeamMake(kind, frozenset(over), turned)
        return next(s.words for s in sewing_order([pad], {"p face / p inset": make}) if s.seam == "p face / p inset")

    assert words(LAPPED, {"p inset"}) == "lay inset to the line, sew 3 mm inside its edge"
    assert words(LAPPED, {"p face"}, True).startswith("turn the edge of face under and glue it, lay face to the line")
    assert words(TOPSTITCHED, {"p inset"}).count("inset") == 2
    # A panel of another pad is not spoken of.
    assert "  " in words(TOPSTITCHED, {"another panel"})


def along(x0, x1, y=0.0):
    return np.array([[x0, y], [x1, y]], dtype=float)


BOX = np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 50.0], [0.0, 50.0]])


def test_a_row_beside_a_straight_edge_is_as_long_and_runs_the_same_way():
    (run,) = row_beside(along(0, 100), BOX, 3.0)
    assert run == pytest.approx(along(0, 100, 3.0))
    assert row_beside(along(100, 0), BOX, 3.0) == ()
    # Points that lie twice change nothing, and a point is no edge.
    (again,) = row_beside(np.repeat(along(0, 100), 2, axis=0), BOX, 3.0)
    assert again == pytest.approx(run)
    assert row_beside(np.zeros((2, 2)), BOX, 3.0) == ()


def test_a_row_ends_where_the_piece_does_and_short_rests_of_it_are_left_out():
    for wide in (LEAST_RUN_MM + 0.1, LEAST_RUN_MM - 0.1):
        # A bay from above that reaches past the row leaves a run of this width on the right.
        x = 100.0 - wide
        sew = np.array([[0, 0], [100, 0], [100, 50], [x, 50], [x, 1], [60, 1], [60, 50], [0, 50]], dtype=float)
        runs = row_beside(along(0, 100), sew, 3.0)
        assert [float(np.ptp(run[:, 0])) for run in runs] == pytest.approx(
            [60.0, wide][: 2 if wide > LEAST_RUN_MM else 1]
        )


def test_a_row_that_only_touches_the_rim_is_one_run():
    sew = np.array([[0, 0], [100, 0], [100, 50], [60, 50], [50, 3], [40, 50], [0, 50]], dtype=float)
    (run,) = row_beside(along(0, 100), sew, 3.0)
    assert np.ptp(run[:, 0]) == pytest.approx(100.0)


def test_a_row_inside_a_round_edge_is_shorter_by_its_turn():
    """Parallel curves: half a circle at 3 mm is shorter by 3 pi."""
    angle = np.linspace(0.0, np.pi, 361)
    arc = 80.0 * np.column_stack([np.cos(angle), np.sin(angle)])
    (run,) = row_beside(arc, arc, 3.0)
    assert np.linalg.norm(np.diff(run, axis=0), axis=1).sum() == pytest.approx(77.0 * np.pi - 0.12, abs=0.3)
    assert np.linalg.norm(run, axis=1) == pytest.approx(77.0, abs=0.02)


def test_a_row_is_cut_to_a_sew_line_that_crosses_itself():
    """Such a line encloses what lies in its loops."""
    sew = np.array([[0, 0], [100, 0], [100, 40], [60, 40], [60, -40], [50, -40], [50, 40], [0, 40]], dtype=float)
    crossed = np.array([[0, 0], [100, 0], [100, 40], [40, 40], [60, 60], [60, 20], [0, 40]], dtype=float)
    for line in (sew, crossed):
        assert all(np.ptp(run[:, 0]) <= 100.0 + 1e-9 for run in row_beside(along(0, 100), line, 3.0))
        assert row_beside(along(0, 100), line, 3.0)


@pytest.mark.parametrize("away", [0.0, 0.5, 8.0])
def test_a_line_beyond_an_edge_lies_outside_it_as_far_as_it_is_said(away):
    edge = np.array([[0.0, 0.0], [60.0, 0.0], [100.0, 0.0]])
    cut = np.array([[-5.0, -10.0], [105.0, -10.0], [105.0, 90.0], [-5.0, 90.0]])
    (run,) = line_beyond(edge, cut, away)
    assert run[:, 1] == pytest.approx(np.full(len(run), -away))
    assert np.ptp(run[:, 0]) == pytest.approx(100.0)
    assert line_beyond(edge, cut, 12.0) == ()


def test_a_ring_stands_at_each_end_and_one_more_for_every_further_space():
    for spaces in (1, 2, 7):
        assert rings_for(spaces * RINGS_APART_MM) == spaces + 1
        assert rings_for(spaces * RINGS_APART_MM + 1.0) == spaces + 2
