"""Tapes and numbers of a sheet where everything is known in closed form: how fair readings are, how far a tape may go
down, what a slip in one measure of a board does to every tape, and which number is named for it."""

import math
import tomllib
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from meshes.base.problems import ProblemError
from meshes.records.closed import FORMS
from meshes.sheet.read import read_sheet
from meshes.sheet.whole import Control
from meshes.tapes.course import in_plane, taped_mm
from meshes.tapes.explain import Explanation, Taped, explained
from meshes.tapes.fair import less_fair, unfairness
from meshes.tapes.loose import loose_length, loose_line, why_not
from meshes.tapes.numbers import lengths_below, measured_numbers, with_number
from meshes.tapes.told import Tapes, disagreeing_words, explained_words, tape_faults, tape_notes, tapes_of

# What readings of a form lie off a cubic by as a rule, mm.
USUAL = 4.0


def slips(count, place, by=20.0, step=50.0):
    at = step * np.arange(count)
    cubic = 1e-6 * at**3 - 1e-3 * at**2 + 0.2 * at
    return at, cubic + by * (np.arange(count) == place)


@pytest.mark.parametrize(
    ("count", "place", "squares"),
    [
        # Five readings have one fourth difference, 1 -4 6 -4 1, whichever of the three inner ones is asked.
        (5, 0, 3 * 1),
        (5, 1, 3 * 16),
        (5, 2, 3 * 36),
        (5, 4, 3 * 1),
        # Of six the first two inner ones have the first five, the last two the last five.
        (6, 0, 2 * 1),
        (6, 5, 2 * 1),
        (6, 2, 2 * 36 + 2 * 16),
        # Of nine the middle one stands in all of them: 1, 1, -4, 6, -4, 1, 1.
        (9, 4, 1 + 1 + 16 + 36 + 16 + 1 + 1),
        # The first two have the first five readings, the third the next five, in which the second comes first.
        (9, 1, 16 + 16 + 1),
    ],
)
def test_a_slip_is_unfair_by_its_fourth_difference(count, place, squares):
    for by in (20.0, -7.0):
        assert unfairness(*slips(count, place, by)) == pytest.approx(squares / 70.0 * (by / USUAL) ** 2, rel=1e-9)


def test_unfairness_knows_no_side_no_tilt_and_no_scale_along():
    rng = np.random.default_rng(5)
    at, up = np.cumsum(rng.uniform(20.0, 80.0, 9)), rng.normal(0.0, 10.0, 9)
    found = unfairness(at, up)
    assert found > 1.0
    assert unfairness(-at[::-1], up[::-1]) == pytest.approx(found)
    assert unfairness(at, -up) == pytest.approx(found)
    assert unfairness(3.0 * at + 40.0, up + 7.0 + 0.3 * at) == pytest.approx(found)
    assert unfairness(at, 2.0 * up) == pytest.approx(4.0 * found)
    # Through four readings a cubic always runs.
    assert unfairness(at[:4], up[:4]) == 0.0
    assert unfairness(at[:5], up[:5]) > 0.0


def tables(unit, points, **more):
    return {"unit": unit, "pad": [{}, {"name": "seat", "profile": [{}, {"points": points}], **more}]}


def test_how_much_less_fair_a_profile_becomes_is_a_parabola_in_the_slip():
    at, up = slips(9, 4, 20.0)
    changes = np.array([-40.0, -20.0, 0.0, 8.0])
    expected = 72.0 / 70.0 * ((20.0 + changes) ** 2 - 400.0) / USUAL**2
    keys = ("pad", 1, "profile", 1, "points", 4, 1)
    for unit, inch in (("mm", 1.0), ("in", 25.4)):
        rows = [[float(x) / inch, float(y) / inch] for x, y in zip(at, up, strict=True)]
        assert less_fair(tables(unit, rows), keys, changes) == pytest.approx(expected, abs=1e-9)
    rows = [[f"{x} mm", f"{y} mm"] for x, y in zip(at, up, strict=True)]
    assert less_fair(tables("in", rows), keys, changes) == pytest.approx(expected, abs=1e-9)
    # A number that stands in no profile makes none less fair, and neither does one that is no length.
    assert less_fair(tables("mm", rows), ("pad", 1, "outline", "depth"), changes).tolist() == [0.0] * 4
    assert less_fair(tables("mm", rows), ("pad", 1, "layer", 0, "thickness", 4, 1), changes).tolist() == [0.0] * 4
    assert less_fair(tables("mm", [["x", "y"]] * 9), keys, changes).tolist() == [0.0] * 4


def test_measured_numbers_are_found_where_they_stand_and_put_back():
    pad = {
        "outline": {"front_width": 480, "corner_radius": "1 in", "shape": "round", "symmetric": True, "wide": 0},
        "sides": {"front": {"drop": 80, "edge_radius": 20, "turn": 90}, "rear": {"drop": [70, 75]}, "left": 3},
    }
    given = tables("mm", [[0, 0], [50, 8], [90, "9 mm"]], **pad)
    found = {keys: (mm, taped) for keys, mm, taped in measured_numbers(given)}
    assert found == {
        ("pad", 1, "outline", "front_width"): (480.0, True),
        ("pad", 1, "outline", "corner_radius"): (pytest.approx(25.4), False),
        ("pad", 1, "profile", 1, "points", 1, 1): (8.0, False),
        ("pad", 1, "profile", 1, "points", 2, 1): (9.0, False),
        ("pad", 1, "sides", "front", "drop"): (80.0, True),
        ("pad", 1, "sides", "front", "edge_radius"): (20.0, False),
        ("pad", 1, "sides", "rear", "drop", 0): (70.0, True),
        ("pad", 1, "sides", "rear", "drop", 1): (75.0, True),
    }
    for unit in ("mm", "in"):
        here = {**given, "unit": unit}
        for keys, mm, _ in measured_numbers(here):
            again = {at: value for at, value, _ in measured_numbers(with_number(here, keys, mm + 12.7))}
            assert again.pop(keys) == pytest.approx(mm + 12.7)
            assert again == {at: value for at, value, _ in measured_numbers(here) if at != keys}
    assert list(lengths_below(True, ("a",), "mm")) == []
    assert list(lengths_below(None, ("a",), "mm")) == []
    assert list(lengths_below([2, {"b": 3}], ("a",), "in")) == [(("a", 0), 50.8), (("a", 1, "b"), pytest.approx(76.2))]


# --- how a tape lies -------------------------------------------------------------------------------------------------


def tape(way="along", over="padding", **keys):
    return Control("card", way, over, keys.pop("length", 1.0), **{"at": 0.0, "ends": "edges", **keys})


def test_a_tape_between_two_places_is_seen_in_its_own_plane():
    """A hump of 30 mm half-way between two places 3 : 4 apart, wherever the points are."""
    control = tape("between", start=(10.0, 20.0), end=(70.0, 100.0))
    points = np.array([[10.0, 20.0, 0.0], [40.0, 60.0, 30.0], [70.0, 100.0, 0.0]])
    assert in_plane(points, control) == pytest.approx(np.array([[0.0, 0.0], [50.0, 30.0], [100.0, 0.0]]))
    assert taped_mm(points, control) == pytest.approx(2.0 * math.hypot(50.0, 30.0))
    hollow = points * [1.0, 1.0, -1.0]
    assert taped_mm(hollow, control) == pytest.approx(100.0)
    follows = tape("between", start=(10.0, 20.0), end=(70.0, 100.0), follows=True)
    assert taped_mm(hollow, follows) == pytest.approx(2.0 * math.hypot(50.0, 30.0))
    # Along is seen from the side, across from the front.
    assert in_plane(points, tape("along")) == pytest.approx(points[:, [1, 2]])
    assert in_plane(points, tape("across")) == pytest.approx(points[:, [0, 2]])


WIDE, DEEP, THICK, FOAM = 500.0, 400.0, 4.0, 3.0
HEAD = 'name = "Invented"\n[[pad]]\nname = "card"\nkind = "cushion"\n'
OUTLINE = "[pad.outline]\nfront_width = {w:g}\nrear_width = {w:g}\ndepth = {d:g}\n"
LAYER = '[[pad.layer]]\nmaterial = "foam_firm"\nthickness = {f:g}\n'


def board(tmp_path, *, w=WIDE, d=DEEP, t=THICK, f=FOAM, rows=""):
    path = tmp_path / "card.toml"
    path.write_text(f"{HEAD}{OUTLINE.format(w=w, d=d)}[pad.board]\nthickness = {t:g}\n{LAYER.format(f=f)}{rows}")
    return read_sheet(path)


def tables_of(sheet):
    return tomllib.loads(Path(sheet.path).read_text())


def closed(tmp_path, own, layer='[[pad.layer]]\nmaterial = "wadding"\nthickness = 10\nwhere = "face"\n'):
    path = tmp_path / "card.toml"
    path.write_text(f"{HEAD}{OUTLINE.format(w=WIDE, d=DEEP)}[pad.closed]\n{own}\n{layer}")
    return read_sheet(path).pads[0]


def deepest(pad, over):
    """How far down a tape can be laid round a pad, to a tenth of a millimetre."""
    low, high = 0.0, 400.0
    while high - low > 0.05:
        middle = 0.5 * (low + high)
        try:
            loose_length(pad, tape("round", over, below=middle), None)
            low = middle
        except ProblemError:
            high = middle
    return low


def test_round_a_pad_a_tape_can_go_as_far_down_as_the_pad_does(tmp_path):
    card = board(tmp_path).pads[0]
    assert deepest(card, "support") == pytest.approx(THICK, abs=0.1)
    assert deepest(card, "padding") == pytest.approx(THICK + FOAM, abs=0.1)
    box = closed(tmp_path, 'thickness = 80\ncore = "foam_medium"')
    assert deepest(box, "support") == pytest.approx(80.0, abs=0.1)
    assert deepest(box, "padding") == pytest.approx(100.0, abs=0.1)
    wedge = closed(tmp_path, 'thickness = 80\nrear_thickness = 50\ncore = "foam_medium"')
    assert deepest(wedge, "support") == pytest.approx(50.0, abs=0.1)
    with pytest.raises(ProblemError, match=r"goes down 7 mm below its edge, .* 7\.5 mm below; write 7"):
        loose_length(card, tape("round", below=7.5), None)


def test_a_tape_lies_on_what_it_is_said_to_lie_on(tmp_path):
    """On a board its foam, on a core half its thickness above the middle with what is wrapped round it."""
    card = board(tmp_path).pads[0]
    assert np.unique(loose_line(card, tape(over="support"), None)[:, 2]) == pytest.approx([0.0])
    assert np.unique(loose_line(card, tape(), None)[:, 2]) == pytest.approx([FOAM])
    assert np.unique(loose_line(card, tape(ends="girth"), None)[:, 2]) == pytest.approx([-THICK, FOAM])
    assert np.unique(loose_line(card, tape("round", below=2.0), None)[:, 2]) == pytest.approx([FOAM - 2.0])
    wedge = closed(tmp_path, 'thickness = 80\nrear_thickness = 50\ncore = "foam_medium"')
    front, rear = loose_line(wedge, tape(), None)
    assert (front[2], rear[2]) == pytest.approx((50.0, 20.0))
    assert (front[1], rear[1]) == pytest.approx((0.0, DEEP))
    assert loose_line(wedge, tape(ends="girth"), None)[2:, 2] == pytest.approx([-50.0, -50.0])
    middle = loose_line(wedge, tape("between", start=(0.0, 100.0), end=(0.0, 300.0)), None)
    assert middle[:, 2] == pytest.approx([50.0 - 7.5, 50.0 - 22.5])


@pytest.mark.parametrize(("way", "low", "high"), [("along", -WIDE / 2, WIDE / 2), ("across", 0.0, DEEP)])
def test_a_tape_beside_a_board_is_told_how_far_the_board_reaches(tmp_path, way, low, high):
    card = board(tmp_path).pads[0]
    for at in (low - 1.0, high + 1.0):
        with pytest.raises(ProblemError, match=f"reaches from {low:.0f} to {high:.0f} mm") as told:
            loose_length(card, tape(way, at=at), None)
        assert f"{'x' if way == 'along' else 'y'} = {at:g} mm" in told.value.problems[0].text
    for at in (low + 1.0, high - 1.0):
        assert loose_length(card, tape(way, at=at), None) == pytest.approx(DEEP if way == "along" else WIDE)


def test_what_can_be_taped_of_every_form():
    class Pad:
        name, on_frame, board, closed = "card", False, None, None

    assert why_not(Pad, tape()) is None
    assert why_not(Pad, tape(ends="girth")) is None
    assert "no tack lines" in why_not(Pad, tape("across", ends="tack lines"))
    assert why_not(Pad, tape("round", ends="tack lines")) is None
    assert why_not(Pad, tape("between", ends="tack lines")) is None
    Pad.on_frame = True
    assert why_not(Pad, tape(ends="tack lines")) is None
    assert "no tape goes right round" in why_not(Pad, tape("across", ends="girth"))
    assert why_not(Pad, tape("round", ends="girth")) is None
    Pad.on_frame = False

    class Closed:
        form, filled = "knife_edge", True

    Pad.closed = Closed
    assert "no form of its own" in why_not(Pad, tape())
    assert why_not(Pad, tape(over="cover")) is None
    for form in set(FORMS) - {"knife_edge"}:
        Closed.form = form
        assert why_not(Pad, tape()) is None
    Closed.filled = False
    assert "closes a seat" in why_not(Pad, tape(ends="girth"))
    assert why_not(Pad, tape()) is None


# --- which number would explain them ---------------------------------------------------------------------------------

# Every tape over a board, its length, and by how much it moves with width, depth, thickness and foam.
TAPES = {
    "along": (tape("along"), DEEP, (0, 1, 0, 0)),
    "across": (tape("across", at=200.0), WIDE, (1, 0, 0, 0)),
    "girth along": (tape("along", ends="girth"), 2 * (DEEP + THICK + FOAM), (0, 2, 2, 2)),
    "girth across": (tape("across", at=200.0, ends="girth"), 2 * (WIDE + THICK + FOAM), (2, 0, 2, 2)),
}
KEYS = (("outline", "widths"), ("outline", "depth"), ("board", "thickness"), ("layer", 0, "thickness"))
SLIPS = (20.0, 20.0, 20.0, 3.0)


def taped(off):
    """The tapes, each longer by so much than the board of the sheet makes it."""
    found = []
    for (name, (control, length, _)), by in zip(TAPES.items(), off, strict=True):
        read = Control("card", control.way, control.over, length + by, at=control.at, ends=control.ends)
        found.append(Taped(read, length))
        assert name
    return found


def scored(off, moves, by, slip):
    """Squares of what is left in spreads of a tape, half of what it may be off, and of the slip itself."""
    lengths = np.array([length for _, length, _ in TAPES.values()]) + off
    spread = 0.5 * np.maximum(2.0, 0.004 * lengths)
    return (((off - by * moves) / spread) ** 2).sum() + (by / slip) ** 2


@pytest.mark.parametrize("planted", [(1, 12.0), (1, -9.0), (2, 6.0), (3, 2.5)])
def test_numbers_are_ranked_by_what_is_left_and_how_large_a_slip_they_ask(tmp_path, planted):
    """Over a board every tape is a sum of its measures, so the best change is that of a parabola, to half a mm."""
    which, slip = planted
    moves = np.array([one for _, _, one in TAPES.values()], dtype=float)
    off = slip * moves[:, which]
    sheet = board(tmp_path)
    found = explained(tables_of(sheet), sheet.path, taped(off))
    assert [one.score for one in found] == sorted(one.score for one in found)
    by_keys = {one.keys[2:]: one for one in found}
    for k in (1, 2, 3):
        one = by_keys[KEYS[k]]
        tried = np.arange(-120, 121) * 0.5
        scores = [scored(off, moves[:, k], by, SLIPS[k]) for by in tried]
        best = tried[int(np.argmin(scores))]
        if one.value_mm + best < 0.5:
            # No board and no foam is thinner than nothing.
            assert k != which
            continue
        assert one.change_mm == pytest.approx(best, abs=1e-9)
        assert one.score == pytest.approx(min(scores), rel=1e-6)
        assert one.left_mm == pytest.approx(np.abs(off - best * moves[:, k]).max(), abs=1e-6)
    assert by_keys["board", "thickness"].value_mm == THICK
    assert by_keys["layer", 0, "thickness"].value_mm == FOAM
    assert by_keys["outline", "depth"].words == 'pad "card", outline, depth'
    if which == 1:
        assert found[0].keys[2:] == KEYS[which]
    # One width of two moves what lies in the middle by half.
    halves = [one for keys, one in by_keys.items() if keys[0] == "outline" and "width" in keys[1]]
    assert {one.keys[3] for one in halves} <= {"front_width", "rear_width"}


def test_a_sheet_whose_tapes_lie_nowhere_is_explained_by_nothing(tmp_path):
    sheet = board(tmp_path)
    assert explained(tables_of(sheet), sheet.path, []) == ()
    assert explained(tables_of(sheet), sheet.path, [Taped(TAPES["along"][0], None)]) == ()
    beside = Control("card", "along", "padding", 400.0, at=900.0, ends="edges")
    assert explained(tables_of(sheet), sheet.path, [Taped(beside, 400.0)]) == ()


def row(control, length):
    lines = f'[[control]]\npad = "card"\nway = "{control.way}"\nat = {control.at:g}\nover = "{control.over}"\n'
    return f'{lines}ends = "{control.ends}"\nlength = {length:g}\n'


def test_a_tape_that_differs_is_told_with_both_lengths_and_its_error(tmp_path):
    rows = row(TAPES["along"][0], DEEP + 9.0) + row(TAPES["girth across"][0], 2 * (WIDE + 7.0) - 11.0)
    sheet = board(tmp_path, rows=rows + row(TAPES["across"][0], WIDE + 1.5))
    tapes = tapes_of(sheet, [_Built(sheet.pads[0])])
    assert [one.off_mm for one in tapes.taped] == pytest.approx([9.0, -11.0, 1.5])
    assert [one.differs for one in tapes.taped] == [True, True, False]
    first, second, last = tape_notes(sheet, tapes)
    assert (first.code, first.keys) == ("S060", ("control", 0, "length"))
    assert "read 409 mm, 9 mm longer than the 400 mm computed there, and a tape is off by 2 mm" in first.text
    assert second.keys == ("control", 1, "length")
    assert "read 1003 mm, 11 mm shorter than the 1014 mm computed there, and a tape is off by 4 mm" in second.text
    assert (last.code, last.keys) == ("S061", ("control",))


class _Built:
    """A board needs nothing built to be taped."""

    def __init__(self, pad):
        self.pad = pad


def test_the_three_best_numbers_are_named_and_only_those_that_fit():
    control = Control("card", "along", "padding", 400.0, at=0.0, ends="edges")
    names = ("depth", "drop", "front width", "rear width")
    some = [
        Explanation((name,), name, 100.0, 4.5, left, k)
        for k, (name, left) in enumerate(zip(names, (1.0, 2.5, 2.0, 0.5), strict=True))
    ]
    words = explained_words(Tapes((Taped(control, 391.0),), tuple(some)))
    assert words == (
        "one number would explain all tapes, measure it first: "
        "depth, 100 mm in the sheet, would be 104.5 mm (1 mm left)"
        "; less well: front width, 100 mm in the sheet, would be 104.5 mm (2 mm left)"
        "; rear width, 100 mm in the sheet, would be 104.5 mm (0.5 mm left)"
    )
    four = [Explanation((name,), name, 100.0, 4.5, 1.0, k) for k, name in enumerate(names)]
    assert "rear width" not in explained_words(Tapes((Taped(control, 391.0),), tuple(four)))
    assert "less well" not in explained_words(Tapes((Taped(control, 391.0),), tuple(some[:1])))
    none = explained_words(Tapes((Taped(control, 391.0),), tuple(some[1:2])))
    assert none.startswith("no single number")
    assert none.endswith("then the measures of the pad")
    framed = Control("card", "along", "padding", 400.0, at=0.0, ends="tack lines")
    assert explained_words(Tapes((Taped(framed, 391.0),), ())).endswith("then the profiles")


def test_rows_that_cannot_be_laid_are_told_at_their_keys(tmp_path):
    def faults(rows):
        return [(one.code, one.keys) for one in tape_faults(board(tmp_path, rows=rows))]

    fine = row(TAPES["along"][0], 400.0)
    assert faults(fine) == []
    assert faults(fine + fine.replace("400", "405")) == [("S059", ("control", 1, "length"))]
    assert faults(fine + fine.replace("at = 0", "at = 10")) == []
    assert faults(fine.replace("at = 0\n", "")) == [("S057", ("control", 0, "way"))]
    assert faults(fine + "below = 3\n") == [("S057", ("control", 0, "below"))]
    assert faults(fine.replace('"edges"', '"tack lines"')) == [("S056", ("control", 0, "ends"))]
    assert faults(fine.replace('"card"', '"crad"')) == [("S055", ("control", 0, "pad"))]
    (text,) = (one.text for one in tape_faults(board(tmp_path, rows=fine.replace('"card"', '"crad"'))))
    assert 'did you mean "card"' in text
    (text,) = (one.text for one in tape_faults(board(tmp_path, rows=fine.replace('"card"', '"stool"'))))
    assert "pads are card" in text
    beside = board(tmp_path, rows=fine + fine.replace("at = 0", "at = 900"))
    with pytest.raises(ProblemError) as told:
        tapes_of(beside, [_Built(beside.pads[0])])
    assert [(one.code, one.keys) for one in told.value.problems] == [("S058", ("control", 1, "way"))]


@pytest.mark.parametrize(
    ("differ", "words"), [((), ""), ((True,), "1 tape does not"), ((True, True), "2 tapes do not")]
)
def test_a_verdict_counts_the_tapes_that_do_not_agree(differ, words):
    tapes = SimpleNamespace(taped=[SimpleNamespace(differs=one) for one in (*differ, False)])
    told = disagreeing_words(tapes)
    assert told.startswith(words)
    assert bool(told) == bool(differ)
    assert ("before anything is cut" in told) == bool(differ)
