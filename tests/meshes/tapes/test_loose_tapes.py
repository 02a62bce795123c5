"""Tapes over pads without a frame: a loose cushion, a wedge, a roll, a knife edge, a board, against closed forms; what
cannot be taped; and a measure that is wrong, which the tapes name."""

import math

import numpy as np
import pytest

from meshes.base.problems import ProblemError
from meshes.closed.build import build_surface
from meshes.sheet.read import read_sheet
from meshes.sheet.whole import Control
from meshes.tapes.loose import loose_length, loose_line
from meshes.tapes.told import explained_words, tape_faults, tape_notes, tapes_of

FRONT, REAR, DEPTH, CORNER, THICK, WRAP = 480.0, 440.0, 430.0, 30.0, 80.0, 12.0
OUTLINE = f"front_width = {FRONT:g}\nrear_width = {REAR:g}\ndepth = {DEPTH:g}\ncorner_radius = {CORNER:g}\n"
LAYER = f'[[pad.layer]]\nmaterial = "wadding"\nthickness = {WRAP:g}\nwhere = "face"\n'
BOX = f'[pad.closed]\nthickness = {THICK:g}\ncore = "foam_medium"\n'


def sheet_of(tmp_path, own, *, outline=OUTLINE, layer=LAYER, rows=""):
    path = tmp_path / "sheet.toml"
    head = f'name = "Invented"\n[[pad]]\nname = "cushion"\nkind = "cushion"\n[pad.outline]\n{outline}'
    path.write_text(f"{head}{own}{layer}{rows}")
    return read_sheet(path)


def tape(way="along", over="padding", **keys):
    return Control("cushion", way, over, keys.pop("length", 1.0), **{"at": 0.0, "ends": "edges", **keys})


def perimeter(front, rear, depth, radius):
    """Of a trapezium with rounded corners: each corner takes two tangents and gives an arc, in all a circle."""
    side = math.hypot(depth, 0.5 * (front - rear))
    lean = math.asin(0.5 * (front - rear) / side)
    cut = 2 * radius * (2 * math.tan(0.5 * (math.pi / 2 + lean)) + 2 * math.tan(0.5 * (math.pi / 2 - lean)))
    return front + rear + 2 * side - cut + 2 * math.pi * radius


def test_tapes_over_a_box_core_are_its_measures(tmp_path):
    pad = sheet_of(tmp_path, BOX).pads[0]
    assert loose_length(pad, tape(over="support"), None) == pytest.approx(DEPTH)
    assert loose_length(pad, tape(ends="girth", over="support"), None) == pytest.approx(2 * (DEPTH + THICK))
    assert loose_length(pad, tape(ends="girth"), None) == pytest.approx(2 * (DEPTH + THICK + 2 * WRAP))
    wide = FRONT + (REAR - FRONT) * 200.0 / DEPTH
    assert loose_length(pad, tape("across", at=200.0), None) == pytest.approx(wide)
    around = perimeter(FRONT, REAR, DEPTH, CORNER)
    assert loose_length(pad, tape("round", below=40.0), None) == pytest.approx(around, rel=1e-4)
    between = tape("between", start=(-60.0, 80.0), end=(60.0, 240.0))
    assert loose_length(pad, between, None) == pytest.approx(200.0)


def test_over_a_wedge_a_tape_runs_up_its_slope(tmp_path):
    pad = sheet_of(tmp_path, f"{BOX}rear_thickness = 50\n", layer="").pads[0]
    slope = math.hypot(DEPTH, THICK - 50.0)
    assert loose_length(pad, tape(), None) == pytest.approx(slope)
    assert loose_length(pad, tape(ends="girth"), None) == pytest.approx(slope + DEPTH + THICK + 50.0)
    with pytest.raises(ProblemError, match="goes down 50 mm below its edge"):
        loose_length(pad, tape("round", below=60.0), None)


def test_round_a_roll_is_its_circle_with_what_is_wrapped_round_it(tmp_path):
    roll = '[pad.closed]\nform = "roll"\nlength = 420\ncore = "foam_firm"\n'
    pad = sheet_of(tmp_path, roll, outline='shape = "round"\nwidth = 140\n').pads[0]
    assert loose_length(pad, tape("round", over="support"), None) == pytest.approx(math.pi * 140.0, rel=1e-3)
    built = build_surface(pad, edge_mm=24.0)
    for over in ("padding", "cover"):
        found = loose_length(pad, tape("round", over=over, below=200.0), built)
        assert found == pytest.approx(math.pi * (140.0 + 2 * WRAP), rel=2e-3)
        assert loose_length(pad, tape(ends="girth", over=over), built) == pytest.approx(2 * (164.0 + 420.0), abs=0.2)


def test_over_the_cover_of_a_box_tapes_are_cuts_of_what_was_built(tmp_path):
    """Both plates alike and two upright bands: the girth is twice the crown and the band, however the crown stands."""
    pad = sheet_of(tmp_path, BOX).pads[0]
    built = build_surface(pad, edge_mm=24.0)
    less = built.closed.smaller.mm
    crown, girth = (loose_length(pad, tape(over="cover", ends=ends), built) for ends in ("edges", "girth"))
    high = np.ptp(loose_line(pad, tape(over="cover"), built)[:, 2])
    # Up to its height and down again: no shorter than two straight lines, no longer than straight up, along and down.
    assert 2 * math.hypot(0.5 * (DEPTH - less), high) < crown < DEPTH - less + 2 * high
    assert girth == pytest.approx(2 * (crown + THICK), abs=0.1)
    # An outline drawn in by half of that all round is shorter by a circle of that radius.
    smaller = perimeter(FRONT, REAR, DEPTH, CORNER) - math.pi * less
    assert loose_length(pad, tape("round", over="cover", below=THICK), built) == pytest.approx(smaller, abs=0.5)
    part = loose_length(pad, tape("between", over="cover", start=(0.0, 100.0), end=(0.0, 300.0)), built)
    assert 200.0 < part < 200.0 + crown - (DEPTH - less) + 0.1


def test_over_a_knife_edge_the_girth_is_both_its_faces(tmp_path):
    pad = sheet_of(tmp_path, '[pad.closed]\nform = "knife_edge"\nthickness = 90\ncore = "foam_soft"\n').pads[0]
    built = build_surface(pad, edge_mm=24.0)
    face, girth = (loose_length(pad, tape("across", at=210.0, over="cover", ends=e), built) for e in ("edges", "girth"))
    assert girth == pytest.approx(2 * face, abs=0.1)
    flat = np.ptp(loose_line(pad, tape("across", at=210.0, over="cover"), built)[:, 0])
    # No flatter than two straight lines over its middle, no fuller than half an ellipse (Ramanujan's mean).
    a, b = 0.5 * flat, 0.5 * 90.0 + WRAP
    ramanujan = 0.5 * math.pi * (3 * (a + b) - math.sqrt((3 * a + b) * (a + 3 * b)))
    assert 2 * math.hypot(a, b) < face < ramanujan


def test_over_a_board_tapes_are_its_measures(tmp_path):
    board = "[pad.board]\nthickness = 4\n"
    foam = '[[pad.layer]]\nmaterial = "foam_firm"\nthickness = 3\n'
    pad = sheet_of(tmp_path, board, layer=foam).pads[0]
    assert loose_length(pad, tape(), None) == pytest.approx(DEPTH)
    assert loose_length(pad, tape(ends="girth", over="support"), None) == pytest.approx(2 * (DEPTH + 4))
    assert loose_length(pad, tape(ends="girth", over="cover"), None) == pytest.approx(2 * (DEPTH + 7))
    around = perimeter(FRONT, REAR, DEPTH, CORNER)
    assert loose_length(pad, tape("round"), None) == pytest.approx(around, rel=1e-4)


def test_a_taut_tape_bridges_the_hollow_of_a_board(tmp_path):
    """A board with a step cut out of one side: a tape right round it is that round the whole square."""
    points = "points = [[0, 0], [300, 0], [300, 100], [200, 100], [200, 200], [300, 200], [300, 300], [0, 300]]\n"
    pad = sheet_of(tmp_path, "[pad.board]\n", outline=f"symmetric = false\n{points}", layer="").pads[0]
    assert loose_length(pad, tape("round"), None) == pytest.approx(1200.0)
    assert loose_length(pad, tape("round", follows=True), None) == pytest.approx(1400.0)


ROW = '[[control]]\npad = "cushion"\nway = "along"\nat = 0\nlength = 430\n'
KNIFE = '[pad.closed]\nform = "knife_edge"\nthickness = 90\n'


@pytest.mark.parametrize(
    ("own", "layer", "row", "words"),
    [
        (BOX, LAYER, f'{ROW}ends = "tack lines"\n', "has no tack lines"),
        ('[pad.closed]\nform = "panel"\n', "", f'{ROW}ends = "girth"\n', "closes a seat"),
        (KNIFE, LAYER, ROW, "no form of its own"),
        ("", LAYER, f'{ROW}ends = "girth"\n', "tacked to its frame"),
    ],
)
def test_what_cannot_be_taped_is_refused_with_its_reason(tmp_path, own, layer, row, words):
    sides = "".join(f"[pad.sides.{side}]\ndrop = 60\n" for side in ("front", "right", "rear"))
    sheet = sheet_of(tmp_path, own or sides, layer=layer, rows=row)
    faults = tape_faults(sheet)
    assert [fault.code for fault in faults] == ["S056"]
    assert words in faults[0].text
    assert faults[0].line is not None


@pytest.mark.parametrize("keys", [{"at": 400.0}, {"way": "between", "start": (0.0, 60.0), "end": (300.0, 60.0)}])
@pytest.mark.parametrize("over", ["padding", "cover"])
def test_a_tape_beside_a_loose_cushion_is_told(tmp_path, keys, over):
    pad = sheet_of(tmp_path, BOX).pads[0]
    built = build_surface(pad, edge_mm=40.0)
    with pytest.raises(ProblemError, match="lies beside") as told:
        loose_length(pad, tape(over=over, **keys), built)
    assert [fault.code for fault in told.value.problems] == ["S058"]


def rows_of(pad, built, tapes):
    """Rows that say what tapes read over a pad, to the millimetre."""
    rows = ""
    for one in tapes:
        where = f"below = {one.below:g}\n" if one.way == "round" else f'at = {one.at:g}\nends = "{one.ends}"\n'
        read = round(loose_length(pad, one, built))
        rows += f'[[control]]\npad = "cushion"\nway = "{one.way}"\nover = "{one.over}"\n{where}length = {read}\n'
    return rows


TAPES = [("along", "edges"), ("along", "girth"), ("across", "edges"), ("across", "girth"), ("round", "edges")]


@pytest.mark.parametrize("over", ["padding", "cover"])
@pytest.mark.parametrize(
    ("was", "wrong", "keys"),
    [
        (f"depth = {DEPTH:g}", f"depth = {DEPTH - 12:g}", ("pad", 0, "outline", "depth")),
        (f"thickness = {THICK:g}\ncore", f"thickness = {THICK - 15:g}\ncore", ("pad", 0, "closed", "thickness")),
    ],
)
def test_a_measure_that_is_wrong_is_named_first(tmp_path, over, was, wrong, keys):
    right = sheet_of(tmp_path, BOX)
    pad = right.pads[0]
    built = build_surface(pad, edge_mm=24.0, materials=right.materials)
    laid = [tape(way, over, at=200.0 if way == "across" else 0.0, ends=ends) for way, ends in TAPES]
    text = (tmp_path / "sheet.toml").read_text() + rows_of(pad, built, laid)
    assert list(_notes(tmp_path, text)[1]) == []
    tapes, notes = _notes(tmp_path, text.replace(was, wrong))
    assert tapes.explained[0].keys == keys
    told = pad.closed.thickness if "thickness" in keys else DEPTH
    assert tapes.explained[0].value_mm + tapes.explained[0].change_mm == pytest.approx(told, abs=2.0)
    assert {note.code for note in notes} == {"S060", "S061"}
    assert "measure it first" in explained_words(tapes)


def _notes(tmp_path, text):
    path = tmp_path / "tried.toml"
    path.write_text(text)
    sheet = read_sheet(path)
    built = build_surface(sheet.pads[0], edge_mm=24.0, materials=sheet.materials)
    tapes = tapes_of(sheet, [built])
    return tapes, list(tape_notes(sheet, tapes))
