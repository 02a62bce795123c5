"""Figures, lines and marks of pieces made by hand, so small that every number is known beforehand."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from flatten.pieces.allowance import add_allowances, as_cut
from flatten.pieces.crossings import _joints_counted
from flatten.pieces.fillers import (
    _bare,
    _bevels,
    _end_width,
    _Filler,
    _filler_piece,
    _key,
    _stitch_line,
    _strip,
    filler_material,
)
from flatten.pieces.mark_counts import mark_counts
from flatten.pieces.pattern import (
    _along,
    _centre_share,
    _grain_arrow,
    _matched_by_hand,
    _matching,
    _noted,
    _over,
    from_coverings,
    grain_turn,
    laid_up,
)
from flatten.pieces.piece import (
    CutLine,
    CutOrder,
    Edge,
    EdgeKind,
    InnerLine,
    LineKind,
    Mark,
    MarkKind,
    Piece,
    PieceKind,
)
from flatten.pieces.pleat_ends import PleatEnd, _seam, end_notes
from flatten.pieces.pleat_lines import _from_centre, _paths, crest_lines, join_lines, part_notes, stitch_lines
from flatten.pieces.spread import Spread, _moved, cut_widths
from flatten.pieces.welt import USUAL_CORD_MM, WeltLength, WeltPlan
from meshes.records.frame import Fixings
from meshes.support.line_roles import LineRole
from tests.pieces import FLAT, boxed_cushion, edges_of, piece_of


def arc_filler(radius=200.0, turn=0.5, half=25.0, mirrored=False, short=(False, False), taper=0.0):
    """A strip along an arc to the right, as wide everywhere, or narrower by `taper` towards its high end."""
    t = np.linspace(0.0, turn, 61)
    middle = radius * np.column_stack([1.0 - np.cos(t), np.sin(t)])
    chord = middle[-1] / np.linalg.norm(middle[-1])
    middle = middle @ np.array([[chord[1], chord[0]], [-chord[0], chord[1]]])
    return _Filler(middle, np.linspace(half, half - taper, 61), mirrored, short)


def pleats_of(**more):
    filling = SimpleNamespace(taper=30.0, filler="foam", foam="foam_soft", thickness=12.0)
    plan = SimpleNamespace(
        pleats=SimpleNamespace(filling=filling),
        region=SimpleNamespace(sewn=(True, False), turned=False),
        count=4,
        reference=50.0,
        layout=SimpleNamespace(edges=(-100.0, -50.0, 0.0, 50.0, 100.0)),
        parts=SimpleNamespace(joins=()),
    )
    figures = [
        SimpleNamespace(name=f"pleat {k + 1}", index=k + 1, cut_mm=53.0 + k, finished_mm=50.0 + k, rise_mm=8.0 + k)
        for k in range(4)
    ]
    return SimpleNamespace(plan=plan, figures=figures, **more)


def test_a_fillers_sides_are_half_its_width_off_its_middle_line():
    filler = arc_filler()
    assert filler.along[-1] == pytest.approx(200.0 * 0.5, rel=1e-4)
    assert filler.bow == pytest.approx(200.0 * (1 - np.cos(0.25)), rel=1e-3)
    spots = np.linspace(0.0, filler.along[-1], 9)
    left, right = filler.sides(spots)
    assert np.linalg.norm(right - left, axis=1) == pytest.approx(50.0, rel=1e-3)
    middle = 0.5 * (left + right)
    assert [np.linalg.norm(filler.middle - spot, axis=1).min() for spot in middle] == pytest.approx([0.0] * 9, abs=2.0)
    assert (right[:, 0] > left[:, 0]).all()
    # Both sides are arcs about one middle, 50 mm apart in radius.
    lengths = [np.linalg.norm(np.diff(side, axis=0), axis=1).sum() for side in filler.sides(filler.along)]
    assert abs(lengths[0] - lengths[1]) == pytest.approx(50.0 * 0.5, rel=0.03)
    over = replace(filler, mirrored=True).turned_over()
    assert not over.mirrored
    assert over.middle.tolist() == (filler.middle * [-1.0, 1.0]).tolist()
    assert over.half is filler.half


def test_no_strip_follows_a_line_that_bends_more_sharply_than_half_its_width():
    """Beside an arc the inner side is an arc about the same middle as long as the radius is the larger."""
    assert arc_filler(radius=60.0, turn=1.5, half=50.0).is_whole
    assert not arc_filler(radius=40.0, turn=1.5, half=50.0).is_whole


def test_strips_count_as_alike_within_foams_tolerance():
    straight = _Filler(np.column_stack([np.zeros(5), np.linspace(0, 300, 5)]), np.full(5, 25.0), False, (False, False))
    key = _key(straight)
    assert key == (50, False, False, False, *[33] * 7, *[0] * 7)
    assert _key(replace(straight, half=np.full(5, 25.3))) != key
    assert _key(replace(straight, half=np.full(5, 25.1))) == key
    assert _key(replace(straight, middle=straight.middle * 1.005)) == key
    assert _key(replace(straight, middle=straight.middle * 1.03)) != key
    assert _key(replace(straight, short=(True, False))) != key
    assert _key(arc_filler()) != _key(replace(arc_filler(), middle=arc_filler().middle * [-1.0, 1.0]))


def test_bevels_run_across_a_strip_at_its_taper_from_sewn_ends_and_corners():
    filler = arc_filler(taper=10.0)
    length = float(filler.along[-1])
    shift = np.array([7.0, 0.0])
    (low,) = _bevels(pleats_of(), filler, shift)
    assert (low.name, low.kind) == ("bevel", LineKind.INNER)
    assert low.points == pytest.approx(np.concatenate(filler.sides(np.array([30.0]))) + shift)
    low, high = _bevels(pleats_of(), replace(filler, short=(False, True)), shift)
    assert high.points == pytest.approx(np.concatenate(filler.sides(np.array([length - 30.0]))) + shift)
    assert np.linalg.norm(np.diff(high.points, axis=0)) < np.linalg.norm(np.diff(low.points, axis=0))
    none = pleats_of()
    none.plan.pleats.filling.taper = 0.0
    assert _bevels(none, filler, shift) == []
    slight = pleats_of()
    slight.plan.pleats.filling.taper = 0.5
    assert len(_bevels(slight, filler, shift)) == 1


def test_a_filler_is_drawn_from_its_left_on_and_says_what_it_is_for():
    pad = SimpleNamespace(pad=SimpleNamespace(name="seat"))
    filler = arc_filler(taper=10.0)
    piece = _filler_piece(pad, pleats_of(), filler, [0, 2], 3)
    assert (piece.name, piece.pad) == ("filler strip 3", "seat")
    assert piece.cut[:, 0].min() == pytest.approx(min(0.0, filler.sides(filler.along)[1][:, 0].min()), abs=30.0)
    left = next(edge for edge in reversed(piece.edges) if edge.name == "valley")
    assert left.points[:, 0].min() == pytest.approx(0.0, abs=1e-9)
    assert [edge.name for edge in piece.edges] == ["front end", "valley", "rear end", "valley"]
    # Edge follows edge, counter-clockwise.
    for one, two in zip(piece.edges, (*piece.edges[1:], piece.edges[0]), strict=True):
        assert one.points[-1] == pytest.approx(two.points[0])
    assert piece.cut_mm2 > 0.0
    ends = [np.linalg.norm(np.diff(edge.points, axis=0)) for edge in piece.edges if edge.name != "valley"]
    assert ends == pytest.approx([50.0, 30.0])
    rise = f"curved as its stitch line, {filler.bow:.0f} mm over {filler.middle[-1, 1]:.0f} mm"
    assert piece.notes == ("pleat 1, pleat 3", rise, "bevel to nothing from the line to the end, 30 mm")
    many = _filler_piece(pad, pleats_of(), filler, [0, 1, 2, 3], 3)
    assert many.notes[0] == "for 4 pleats, pleat 1 to pleat 4"
    assert _filler_piece(pad, pleats_of(), filler, [0, 1, 2], 3).notes[0] == "pleat 1, pleat 2, pleat 3"
    short = _filler_piece(pad, pleats_of(), replace(filler, short=(True, True)), [0], 3)
    words = "50 mm at the front end and 30 mm at the rear end wide"
    assert short.notes[2].startswith(f"stops short of a corner, {words}: cut the end square")
    assert _end_width(filler, 0) == "50 mm at the front end"
    assert _end_width(filler, 1) == "30 mm at the rear end"
    straight = replace(filler, middle=filler.middle * [0.0, 1.0])
    assert not any("curved" in note for note in _filler_piece(pad, pleats_of(), straight, [0], 3).notes)


def test_what_channels_are_filled_with():
    pleats = pleats_of()
    assert filler_material(pleats) == "foam soft 12 mm"
    pleats.plan.pleats.filling.filler = "wadding"
    pleats.plan.pleats.filling.thickness = 9.5
    assert filler_material(pleats) == "wadding 9.5 mm"


def test_a_stitch_line_is_read_off_the_panel_that_has_all_of_it():
    pad = SimpleNamespace(
        panels=[
            SimpleNamespace(name="a", vertices=np.array([4, 5])),
            SimpleNamespace(name="b", vertices=np.array([7, 5, 4, 6])),
        ]
    )
    flats = {"b": SimpleNamespace(points=np.array([[0.0, 7], [0, 5], [0, 4], [0, 6]]))}
    assert _stitch_line(pad, np.array([4, 5, 6]), flats).tolist() == [[0, 4], [0, 5], [0, 6]]
    assert _stitch_line(pad, np.array([4, 5, 9]), flats) is None
    assert _stitch_line(pad, np.array([7, 4]), flats).tolist() == [[0, 7], [0, 4]]


def test_the_test_strip_has_25_mm_beside_its_six_lines():
    piece = _strip("test strip", "seat", 53.0, LineKind.STITCH, ("n",), "")
    assert piece.cut.tolist() == [[0.0, 0.0], [315.0, 0.0], [315.0, 200.0], [0.0, 200.0]]
    assert [line.points.tolist() for line in piece.inner] == [
        [[25.0 + 53.0 * k, 0.0], [25.0 + 53.0 * k, 200.0]] for k in range(6)
    ]
    assert [line.name for line in piece.inner] == [f"line {k}" for k in range(1, 7)]
    assert {line.kind for line in piece.inner} == {LineKind.STITCH}
    assert (piece.kind, piece.material, piece.notes) == (PieceKind.TEST_STRIP, "", ("n",))
    assert {(edge.kind, edge.allowance_mm) for edge in piece.edges} == {(EdgeKind.BARE, 0.0)}
    high = _bare("b", "seat", [("e", np.array([[0.0, 0], [9, 0], [9, 900], [0, 900], [0, 0]]))], (), ())
    assert high.grain == pytest.approx(np.array([[4.5, 375.0], [4.5, 525.0]]))
    low = _bare("b", "seat", [("e", np.array([[0.0, 0], [9, 0], [9, 100], [0, 100], [0, 0]]))], (), ())
    assert low.grain == pytest.approx(np.array([[4.5, 30.0], [4.5, 70.0]]))


# ---- pleats on their pieces -----------------------------------------------------------------------------------------

# Two pleats 50 mm wide and 100 mm long on a mesh of 5 columns (quarter and half pleats) and 5 rows.
PLACE, STATION = (grid.ravel() for grid in np.meshgrid([0.0, 0.5, 1.0, 1.5, 2.0], np.linspace(0.0, 100.0, 5)))
SQUARE = np.array([[r * 5 + c, r * 5 + c + 1, r * 5 + c + 6] for r in range(4) for c in range(4)])
MESH = np.concatenate([SQUARE, np.column_stack([SQUARE[:, 0], SQUARE[:, 2], SQUARE[:, 2] - 1])])
POINTS = np.column_stack([50.0 * PLACE, STATION])
VALLEY = SimpleNamespace(name="valley 1 left", unsided="valley 1", joined=False)


def panel_of(mesh=MESH):
    return SimpleNamespace(vertices=np.arange(25), surface=SimpleNamespace(triangles=mesh), rim=())


def two_pleats(**more):
    made = pleats_of(place=PLACE, station=STATION, **more)
    made.plan.valleys = (VALLEY,)
    made.plan.count = 2
    made.widths_at = lambda at: np.tile([50.0, 50.0], (len(np.atleast_1d(at)), 1))
    made.plan.section = SimpleNamespace(arc=lambda width, scale=1.0: width * (1.0 + 0.06 * np.asarray(scale)))
    return made


def spread_of(points=POINTS, first=0, last=2):
    return Spread(first, last, np.array([1.0, 0.0]), points, points, True)


def test_stitch_lines_run_along_their_valleys_from_the_low_end():
    (line,) = stitch_lines(two_pleats(), panel_of(), spread_of(), POINTS, LineKind.STITCH, paired=False)
    assert (line.name, line.kind) == ("valley 1 left", LineKind.STITCH)
    assert line.points.tolist() == [[50.0, y] for y in (0.0, 25.0, 50.0, 75.0, 100.0)]
    (line,) = stitch_lines(two_pleats(), panel_of(), spread_of(), POINTS, LineKind.BACKING, paired=True)
    assert (line.name, line.kind) == ("valley 1", LineKind.BACKING)
    assert stitch_lines(two_pleats(), panel_of(), spread_of(last=1), POINTS, LineKind.STITCH, paired=True) == ()
    # A dart across it leaves two runs, each from its low end, the lower first.
    parted = MESH[~(np.isin(MESH, [7, 12]).sum(axis=1) == 2)]
    assert _paths(two_pleats(), panel_of(parted), 1) == [[2, 7], [12, 17, 22]]


def test_crests_run_up_the_middle_of_their_pleats_inside_their_ends():
    moved = POINTS * [1.1, 1.0]
    lines = crest_lines(two_pleats(), panel_of(), spread_of(moved))
    assert [line.name for line in lines] == ["crest of pleat 1", "crest of pleat 2"]
    for k, line in enumerate(lines):
        assert line.kind is LineKind.CREST
        assert line.points[:, 0] == pytest.approx(np.full(24, 55.0 * (k + 0.5)))
        assert line.points[:, 1] == pytest.approx(np.linspace(2.0, 98.0, 24))
    (second,) = crest_lines(two_pleats(), panel_of(), spread_of(moved, first=1))
    assert second.name == "crest of pleat 2"
    # Vertices below an edge share one station: only the topmost counts.
    hung = two_pleats()
    hung.place, hung.station = np.append(PLACE, 0.5), np.append(STATION, 0.0)
    below = SimpleNamespace(vertices=np.arange(26))
    lines = crest_lines(hung, below, spread_of(np.vstack([moved, [[27.5, -80.0]]])))
    assert lines[0].points[:, 1] == pytest.approx(np.linspace(2.0, 98.0, 24))


def test_joins_are_the_edges_that_run_along_a_joined_valley():
    pleats = two_pleats(valleys=(np.array([2, 7, 12, 17, 22]),))
    rims = tuple(SimpleNamespace(vertices=np.array(run)) for run in ([2, 7, 12], [2, 3, 4], [22, 17]))
    panel = SimpleNamespace(vertices=np.arange(25), rim=rims)
    edges = [Edge(f"e{k}", EdgeKind.SEWN, np.array([[k, 0.0], [k, 1.0]]), 12.0) for k in range(3)]
    assert join_lines(pleats, panel, edges, paired=False) == ()
    pleats.plan.valleys = (SimpleNamespace(name="valley 1 left", unsided="valley 1", joined=True),)
    one, two = join_lines(pleats, panel, edges, paired=False)
    assert (one.name, one.kind) == ("join in valley 1 left", LineKind.JOIN)
    assert (one.points.tolist(), two.points.tolist()) == (edges[0].points.tolist(), edges[2].points.tolist())
    assert join_lines(pleats, panel, edges, paired=True)[0].name == "join in valley 1"


def test_a_part_says_its_pleats_its_place_and_its_widths():
    pleats = pleats_of()
    whole = part_notes(pleats, spread_of(last=4), np.full(4, 54.25), paired=False)
    assert whole == ("pleats 1 to 4 of 4 from the left", "cut 54.2 mm for 52.0 mm finished, rise 10.0 mm")
    one = part_notes(pleats, spread_of(first=2, last=3), np.array([np.nan]), paired=True)
    assert one == ("pleat 3 of 4 from the left, or from the right", "cut 55.0 mm for 52.0 mm finished, rise 10.0 mm")
    widths = np.array([1.0, 2.0, 3.0])
    assert part_notes(pleats, spread_of(first=1, last=4), widths, paired=False)[1].startswith("cut 2.0 mm for 52.0 mm")
    pleats.plan.parts.joins = (1, 2, 3)
    assert part_notes(pleats, spread_of(first=2, last=3), np.array([60.0]), paired=False)[0] == (
        "pleat 3 of 4 from the left; part 1 from the centre"
    )
    pleats.plan.region.turned = True
    assert part_notes(pleats, spread_of(first=2, last=3), np.array([60.0]), paired=False)[0] == (
        "pleat 3 of 4 from the front"
    )


@pytest.mark.parametrize(
    ("joins", "part", "words"),
    [
        ((1, 2, 3), (0, 1), "part 2 from the centre"),
        ((1, 2, 3), (1, 2), "part 1 from the centre"),
        ((1, 2, 3), (2, 3), "part 1 from the centre"),
        ((1, 2, 3), (3, 4), "part 2 from the centre"),
        ((1, 3), (1, 3), "across the centre"),
        ((1, 3), (3, 4), "part 1 from the centre"),
        ((1, 3), (0, 1), "part 1 from the centre"),
    ],
)
def test_parts_are_counted_from_the_centre_on_their_side(joins, part, words):
    pleats = pleats_of()
    pleats.plan.parts.joins = joins
    assert _from_centre(pleats, spread_of(first=part[0], last=part[1])) == words


def test_crests_move_each_side_apart_by_their_own_room_about_the_middle():
    pleats = two_pleats()
    moved = _moved(pleats, PLACE, STATION, (0, 2), None)
    # An arc 3 mm longer than its chord in each pleat: the middle stays, both rims move 3 mm outwards.
    assert moved == pytest.approx(3.0 * (PLACE - 1.0))
    tapered = _moved(pleats, PLACE, STATION, (1, 2), 0.5 * np.ones(25))
    assert tapered == pytest.approx(1.5 * (np.clip(PLACE - 1.0, 0.0, 1.0) - 0.5))
    first = _moved(pleats, PLACE, STATION, (0, 1), None)
    assert first == pytest.approx(3.0 * (np.clip(PLACE, 0.0, 1.0) - 0.5))


def test_widths_of_pleats_are_read_half_way_along_between_their_valleys():
    lean = POINTS + np.column_stack([0.1 * STATION * PLACE, np.zeros(25)])
    found = cut_widths(two_pleats(), panel_of(), spread_of(lean), lean)
    assert found == pytest.approx([55.0, 55.0])
    shuffled = np.random.default_rng(1).permutation(25)
    pleats = two_pleats()
    pleats.place, pleats.station = PLACE[shuffled], STATION[shuffled]
    assert cut_widths(pleats, panel_of(), spread_of(lean[shuffled]), lean[shuffled]) == pytest.approx([55.0, 55.0])
    half = two_pleats()
    half.place = np.where((PLACE == 1.0) & (STATION > 30.0), 1.01, PLACE)
    assert np.isnan(cut_widths(half, panel_of(), spread_of(lean), lean)).all()
    assert cut_widths(half, panel_of(), spread_of(lean, first=2, last=2), lean).tolist() == []


@pytest.mark.parametrize(
    ("cut", "seam", "meets"),
    [(100.49, 100.0, True), (100.51, 100.0, False), (1004.9, 1000.0, True), (1005.2, 1000.0, False)],
)
def test_an_end_may_miss_by_half_a_millimetre_or_half_a_percent(cut, seam, meets):
    end = PleatEnd("seat", "face", "front band", 8, cut + 10.5, 10.0, 0.5, seam)
    assert end.finished_mm == pytest.approx(cut)
    assert end.off_mm == pytest.approx(cut - seam)
    assert end.meets == meets
    assert [note.code for note in end_notes([end])] == ([] if meets else ["F310"])
    loose = replace(end, seam_mm=None, ease_mm=50.0)
    assert loose.off_mm == 0.0
    assert end_notes([loose]) == []


def test_a_seam_round_a_ring_is_as_long_as_the_ring_is_cut_open():
    """A band of 300 mm round a face: its two ends are one place on the pad, 0 here, and two on the piece."""
    seam = SimpleNamespace(name="face to band", a="face", b="band", vertices=np.array([0, 1, 2, 0]))
    top = SimpleNamespace(seam="face to band", vertices=np.arange(4))
    other = SimpleNamespace(seam="band to band", vertices=np.array([3, 4]))
    band = SimpleNamespace(name="band", vertices=np.array([0, 1, 2, 0, 9]), rim=(top, other))
    rim = SimpleNamespace(seam="face to band", vertices=np.arange(3))
    face = SimpleNamespace(name="face", vertices=np.arange(3), rim=(rim,))
    pad = SimpleNamespace(seams=(seam,), panels=(face, band))
    flats = {"band": SimpleNamespace(points=np.array([[0.0, 0], [100, 0], [200, 0], [300, 0], [300, 40]]))}
    assert _seam(pad, face, rim, flats) == pytest.approx(300.0)


@pytest.mark.parametrize(("ease", "shows"), [(5.9, False), (6.2, True)])
def test_fullness_of_more_than_one_and_a_half_percent_shows(ease, shows):
    end = PleatEnd("seat", "face", "front band", 4, 400.0 + 10.0 + ease, 10.0, ease, 400.0)
    notes = end_notes([end])
    assert [note.code for note in notes] == (["F311"] if shows else [])
    if shows:
        assert f"{ease:.1f} mm of fullness to be eased in, {ease / 4:.1f} mm a pleat" in notes[0].text
        assert notes[0].where == "seat face, front band"
        assert notes[0].warning
    none = end_notes([replace(end, pleats=0, ease_mm=6.2, cut_mm=416.2)])
    assert "6.2 mm a pleat" in none[0].text


# ---- marks and edges ------------------------------------------------------------------------------------------------


def test_marks_of_a_seam_are_counted_on_each_of_its_pieces_without_corners():
    seam = SimpleNamespace(name="s", a="face", b="band")
    rims = {
        "face": [
            SimpleNamespace(seam="s", vertices=np.array([0, 1])),
            SimpleNamespace(seam=None, vertices=np.array([1, 2])),
        ],
        "band": [SimpleNamespace(seam="s", vertices=np.array([3, 4]))],
    }
    panels = {name: SimpleNamespace(name=name, rim=rim, mirror_of=None) for name, rim in rims.items()}
    edge = Edge("front", EdgeKind.SEWN, np.array([[0.0, 0.0], [100.0, 0.0]]), 12.0, "s")
    down = np.array([0.0, -1.0])

    def piece(name, *places):
        marks = tuple(Mark(MarkKind.NOTCH, np.array(place), down, 12.0) for place in places)
        return SimpleNamespace(panels=(name,), edges=[edge], marks=marks)

    pieces = [
        piece("face", (0.0, 0.0), (30.0, 0.04), (60.0, 0.0), (99.96, 0.0), (99.94, 0.0), (50.0, 0.06)),
        piece("band", (50.0, 0.0)),
    ]
    assert mark_counts([seam], panels, pieces) == {"s": (3, 1)}
    assert mark_counts([seam], panels, pieces[:1]) == {"s": (3, 0)}
    other = SimpleNamespace(name="t", a="face", b="band")
    assert mark_counts([other], panels, pieces) == {"t": (0, 0)}
    # A mirrored panel is counted on the piece of what it mirrors, along the edge of the same numbers.
    rim = [SimpleNamespace(seam="left s", vertices=np.array([1, 0]))]
    left = SimpleNamespace(name="left", rim=rim, mirror_of="face")
    both = SimpleNamespace(panels=("face", "left"), edges=[edge], marks=pieces[0].marks)
    mirrored = SimpleNamespace(name="left s", a="left", b="band")
    assert mark_counts([mirrored], {**panels, "left": left}, [both]) == {"left s": (3, 0)}


def test_both_legs_of_a_dart_are_counted_each_for_its_side():
    seam = SimpleNamespace(name="dart", a="face", b="face")
    rim = [SimpleNamespace(seam="dart", vertices=np.array(run)) for run in ([0, 1], [1, 2])]
    panels = {"face": SimpleNamespace(name="face", rim=rim, mirror_of=None)}
    legs = [
        Edge("dart", EdgeKind.SEWN, np.array(points), 12.0, "dart")
        for points in ([[0.0, 0.0], [10.0, 80.0]], [[10.0, 80.0], [20.0, 0.0]])
    ]
    places = ([5.0, 40.0], [15.0, 40.0], [17.5, 20.0])
    marks = tuple(Mark(MarkKind.NOTCH, np.array(at), np.array([1.0, 0.0]), 12.0) for at in places)
    piece = SimpleNamespace(panels=("face",), edges=legs, marks=marks)
    assert mark_counts([seam], panels, [piece]) == {"dart": (1, 2)}


def test_joints_are_numbered_by_their_way_from_the_nearest_centre_mark():
    sew = np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 50.0], [0.0, 50.0]])
    down = np.array([0.0, -1.0])

    def marks(*kinds):
        return [Mark(kind, np.array(at, dtype=float), down, 12.0, text) for kind, at, text in kinds]

    corner = [(MarkKind.JOINT, point, "") for point in sew.tolist()]
    assert [mark.text for mark in _joints_counted(marks(*corner), sew)] == ["1", "3", "4", "2"]
    centred = _joints_counted(marks((MarkKind.CENTRE, (100.0, 0.0), "centre"), *corner), sew)
    assert [mark.text for mark in centred] == ["centre", "3", "1", "2", "4"]
    # Counted the shorter way round, and alike to both sides.
    level = np.array([[0.0, 0.0], [50.0, 0.0], [100.0, 0.0], [100.0, 50.0], [50.0, 50.0], [0.0, 50.0]])
    even = [(MarkKind.JOINT, point, "") for point in ((0.0, 0.0), (100.0, 0.0), (100.0, 50.0), (0.0, 50.0))]
    more = (MarkKind.CENTRE, (50.0, 0.0), "c"), *even, (MarkKind.NOTCH, (50.0, 50.0), "7")
    found = _joints_counted(marks(*more), level)
    assert [mark.text for mark in found] == ["c", "1", "1", "2", "2", "7"]


def test_notes_of_seams_stand_on_their_edges_behind_what_is_there():
    edges = [
        Edge("front", EdgeKind.SEWN, np.array([[0.0, 0.0], [9.0, 0.0]]), 12.0, "s", note="a row at 3 mm"),
        Edge("right", EdgeKind.SEWN, np.array([[9.0, 0.0], [9.0, 9.0]]), 12.0, "t"),
        Edge("rear", EdgeKind.PULLED, np.array([[9.0, 9.0], [0.0, 0.0]]), 12.0, None),
    ]
    piece = replace(piece_of("face", tuple(edges)), panels=("seat face",))
    told = _noted(piece, {("seat face", "s"): "ease in 4 mm", ("seat face", "t"): "eased", ("other", "t"): "no"})
    assert [edge.note for edge in told.edges] == ["a row at 3 mm; ease in 4 mm", "eased", ""]
    assert _noted(piece, {("other", "s"): "no"}) is piece


def test_pieces_of_another_leather_say_so_and_no_others():
    coverings = SimpleNamespace(other={"arm"}, card=lambda name: SimpleNamespace(name=f"leather of {name}"))
    plain, arm = (replace(boxed_cushion(), panels=(name,)) for name in ("face", "arm"))
    found = from_coverings([plain, arm], coverings)
    assert found[0] is plain
    assert found[1].order == CutOrder(leather="leather of arm")
    assert found[1].count_text == "cut 1 from leather of arm"


def test_an_edge_is_called_on_the_mirrored_piece_as_the_one_it_shares_most_of():
    rim = SimpleNamespace(vertices=np.array([1, 2, 3, 4]))
    others = [
        SimpleNamespace(name=f"other {k}", seam=f"seam {k}", vertices=np.array(run))
        for k, run in enumerate(([4, 5, 6], [4, 3, 2], [2, 1]))
    ]
    assert _over(rim, SimpleNamespace(rim=others)) == ("other 1", "seam 1")
    assert _over(rim, None) is None


def test_shares_of_a_finished_edge_are_the_same_places_of_the_spread_one():
    finished = np.array([[0.0, 0.0], [30.0, 0.0], [100.0, 0.0]])
    cut = np.array([[0.0, 0.0], [60.0, 0.0], [130.0, 0.0]])
    found = _along(finished, cut, np.array([0.0, 0.15, 0.3, 0.65, 1.0]))
    assert found * 130.0 == pytest.approx([0.0, 30.0, 60.0, 95.0, 130.0])


@pytest.mark.parametrize("back", [False, True])
def test_a_seam_crosses_the_centre_at_its_share_from_the_end_it_is_counted_from(back):
    run = np.column_stack([np.linspace(-30.0, 70.0, 11), np.zeros(11), np.zeros(11)])
    numbers = np.arange(100, 111)
    run, numbers = (run[::-1], numbers[::-1]) if back else (run, numbers)
    seam = SimpleNamespace(vertices=numbers)
    panel = SimpleNamespace(vertices=np.arange(90, 130), centre=np.array([13]))
    assert _centre_share(panel, seam, run) == pytest.approx(0.3)
    assert _centre_share(SimpleNamespace(vertices=np.arange(90, 130), centre=np.array([2])), seam, run) is None
    # The corner of a piece on the centre line is no crossing.
    for corner in (10, 20):
        assert _centre_share(SimpleNamespace(vertices=np.arange(90, 130), centre=np.array([corner])), seam, run) is None


def test_what_is_matched_by_hand_is_marked_from_the_middle_outwards():
    edge = Edge("closing", EdgeKind.CLOSED, np.array([[0.0, 0.0], [600.0, 0.0]]), 25.0)
    marks = _matching(edge, 120.0)
    assert [mark.at[0] for mark in marks] == pytest.approx([120.0, 240.0, 360.0, 480.0])
    assert [mark.text for mark in marks] == ["2", "1", "1", "2"]
    assert {mark.kind for mark in marks} == {MarkKind.NOTCH}
    longer = _matching(replace(edge, points=np.array([[0.0, 0.0], [720.0, 0.0]])), 120.0)
    assert [mark.text for mark in longer] == ["3", "2", "1", "2", "3"]


def test_edges_of_flat_panels_are_matched_by_hand_and_others_where_the_sheet_names_it():
    def matched(role, kind, *fixings):
        pad = SimpleNamespace(pad=SimpleNamespace(fixings=Fixings(tuple(fixings))))
        return _matched_by_hand(pad, SimpleNamespace(role=role, kind=kind))

    assert matched(LineRole.CLOSING, "closed")
    assert matched(LineRole.CLOSING, "blind")
    assert not matched(LineRole.CLOSING, "pulled")
    assert not matched(LineRole.TACK, "closed")
    assert matched(LineRole.TACK, "closed", ("front", "closed by hand"))
    assert matched(LineRole.TACK, "blind", ("front", "blind-tacked"))
    assert not matched(LineRole.TACK, "pulled", ("front", "stapled"))


@pytest.mark.parametrize(("high", "length"), [(100.0, 40.0), (375.0, 150.0), (900.0, 150.0)])
def test_the_arrow_is_two_fifths_of_the_piece_and_a_hand_at_most(high, length):
    points = np.array([[10.0, 20.0], [50.0, 20.0], [30.0, 20.0 + high]])
    middle = 20.0 + 0.5 * high
    assert _grain_arrow(points) == pytest.approx(
        np.array([[30.0, middle - 0.5 * length], [30.0, middle + 0.5 * length]])
    )


@pytest.mark.parametrize("turn", [0.0, 40.0, 200.0])
@pytest.mark.parametrize("backbone", [None, 1.0, -1.0])
def test_a_piece_is_turned_until_its_grain_points_up(turn, backbone):
    seat = np.array([[0.0, 0.0, 0.0], [100.0, 0.0, 0.0], [100.0, 60.0, 0.0], [0.0, 60.0, 0.0]])
    triangles = np.array([[0, 1, 2], [0, 2, 3]])
    a = np.radians(turn)
    spin = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    panel = SimpleNamespace(
        surface=SimpleNamespace(vertices=seat, triangles=triangles), grain=np.array([1.0, 0.0, 0.0])
    )
    run = np.array([1.0, 0.0]) @ spin
    flat = SimpleNamespace(points=seat[:, :2] @ spin + 500.0, backbone=None if backbone is None else backbone * run)
    points, turned = laid_up(panel, flat)
    assert points.min(axis=0) == pytest.approx([0.0, 0.0], abs=1e-9)
    assert points[1] - points[0] == pytest.approx([0.0, 100.0], abs=1e-9)
    assert run @ turned == pytest.approx([0.0, 1.0], abs=1e-12)
    assert points[3] - points[0] == pytest.approx([-60.0, 0.0], abs=1e-9)
    assert (grain_turn(panel, flat) + a) % (2 * np.pi) == pytest.approx(0.5 * np.pi)


# ---- allowances and welt --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("share", "cut"), [(0.45, False), (0.55, True)])
@pytest.mark.parametrize("off", [0.9, 1.1])
def test_an_edge_counts_as_cut_where_half_of_it_has_its_allowance_within_a_millimetre(share, cut, off):
    x = np.linspace(0.0, 200.0, 41)
    edges = edges_of([(0, 0), (200, 0), (200, 100), (0, 100)], [12.0] * 4)
    front = replace(edges[0], points=np.column_stack([x, 0.0 * x]))
    edges = (front, *edges[1:])
    square = add_allowances(edges, corner="square")
    assert [edge.allowance_mm for edge in as_cut(edges, square)] == [12.0] * 4
    step = 200.0 * share
    ring = [[-12.0, -12.0], [step, -12.0], [step, -7.0], [212.0, -7.0], [212.0, 112.0], [-12.0, 112.0]]
    stepped = CutLine(np.array(ring))
    assert as_cut(edges, stepped)[0].allowance_mm == (12.0 if cut else 0.0)
    near = CutLine(np.array([[-12.0, -12.0 + off], [212.0, -12.0 + off], [212.0, 112.0], [-12.0, 112.0]]))
    assert as_cut(edges, near)[0].allowance_mm == (12.0 if off < 1.0 else 0.0)
    bare = (replace(front, allowance_mm=0.0), *edges[1:])
    assert as_cut(bare, near)[0] is bare[0]


def test_a_bend_within_an_edge_is_a_corner_from_thirty_degrees_on():
    """Below that the allowance runs to a point as on a curve; above it swings round."""
    for degrees, rounded in ((28.0, False), (32.0, True)):
        a = np.radians(degrees)
        knee = np.array([[0.0, 0.0], [100.0, 0.0], 100.0 * np.array([1.0 + np.cos(a), np.sin(a)])])
        rest = [knee[2], [100.0, 300.0], [0.0, 0.0]]
        edges = (
            Edge("front", EdgeKind.SEWN, knee, 20.0),
            Edge("side", EdgeKind.SEWN, np.array(rest[:2]), 20.0),
            Edge("back", EdgeKind.SEWN, np.array(rest[1:]), 20.0),
        )
        cut = add_allowances(edges, corner="square").points
        near = cut[np.linalg.norm(cut - [100.0, 0.0], axis=1) < 21.5]
        if rounded:
            assert np.linalg.norm(near - [100.0, 0.0], axis=1) == pytest.approx(20.0, abs=1e-6)
            assert len(near) == np.ceil(degrees / 2.0) + 1
        else:
            assert np.linalg.norm(near - [100.0, 0.0], axis=1).tolist() == pytest.approx([20.0 / np.cos(a / 2.0)])


def test_welt_is_added_up_over_its_runs_and_cannot_be_changed():
    plan = WeltPlan({"a": WeltLength(100.0, 160.0, 2), "b": WeltLength(50.0, 110.0, 1)}, 41.0, 900.0)
    assert (plan.sewn_mm, plan.cut_mm, plan.strips, plan.joins) == (150.0, 270.0, 3, 1)
    assert pytest.approx(3.96875) == USUAL_CORD_MM
    with pytest.raises(TypeError):
        plan.runs["c"] = WeltLength(1.0, 1.0, 1)


def test_a_piece_says_how_many_are_cut_and_which_side_lies_up():
    piece = boxed_cushion()
    assert replace(piece, order=CutOrder(1, 1)).count_text == "cut 2, one mirrored"
    assert replace(piece, order=CutOrder(2, 2)).count_text == "cut 4, 2 mirrored"
    assert replace(piece, order=CutOrder(3, leather="hide b")).count_text == "cut 3 from hide b"
    assert piece.side_text == "right side (grain) up"
    assert replace(piece, flesh_up=True).side_text == "flesh side up"
    cloth = replace(piece, order=CutOrder(material="calico"))
    assert (cloth.side_text, replace(cloth, flesh_up=True).side_text) == ("right side up", "wrong side up")
    for kind in PieceKind:
        foam = kind in (PieceKind.PADDING, PieceKind.GAUGE, PieceKind.FILLER)
        assert bool(replace(piece, order=CutOrder(kind=kind)).side_text) != foam
    assert piece.cut_mm2 == pytest.approx((508.0 + 25.4) * (457.2 + 25.4))
    assert piece.box() == pytest.approx((-12.7, -12.7, 520.7, 469.9))
    assert Piece("p", "pad", (), piece.edges, piece.outline, (), piece.grain, FLAT).flesh_up is False
    assert InnerLine("l", np.zeros((2, 2))).kind is LineKind.INNER
