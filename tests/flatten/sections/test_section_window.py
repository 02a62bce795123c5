"""The window on a cut: millimetres to pixels and nothing beyond its rim; gauges cut from known lines."""

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon, box

from flatten.draw.drawing import Drawing, text_width
from flatten.pieces.piece import PieceKind
from flatten.sections.drawing import _coils, _ends, _radius
from flatten.sections.gauges import CARD_MM, GAUGE_REACH_MM, gauges_of, outline_of
from flatten.sections.parts import Ground, _runs, ground_of, nearest
from flatten.sections.window import View, clipped, filled, fitted, upright_points

RECT = (12.0, 64.0, 300.0, 200.0)


@given(st.floats(20.0, 900.0), st.floats(20.0, 900.0), st.booleans(), st.floats(0.0, 40.0))
def test_what_is_fitted_fills_its_room_to_the_margin_and_keeps_its_shape(wide, high, standing, margin):
    points = np.array([[5.0, -3.0], [5.0 + wide, -3.0 + high]])
    view = fitted(RECT, points, standing, margin)
    seen = view(points)
    left, top, width, height = RECT
    assert (seen.mean(axis=0)) == pytest.approx([left + 0.5 * width, top + 0.5 * height])
    size = np.abs(np.diff(seen, axis=0))[0]
    assert size == pytest.approx(view.scale * (np.array([high, wide]) if standing else np.array([wide, high])))
    # The tighter of both ways is full: as wide as its room less both margins, as high as its room less one.
    room = np.array([width - 2.0 * margin, height - margin])
    assert (size <= room + 1e-6).all()
    assert np.isclose(size, room).any()


def test_a_cut_lies_with_heights_upward_or_stands_with_its_front_to_the_left():
    view = View(RECT, np.array([0.0, 0.0]), 2.0, False)
    assert view(np.array([[0.0, 0.0], [10.0, 5.0]])).tolist() == [[12.0, 264.0], [32.0, 254.0]]
    assert upright_points(np.array([[3.0, 7.0]]), True).tolist() == [[-7.0, 3.0]]
    assert upright_points(np.array([[3.0, 7.0]]), False).tolist() == [[3.0, 7.0]]
    assert view.window.bounds == (12.0, 64.0, 312.0, 264.0)


def test_lines_and_areas_end_at_the_rim():
    view, drawing = View(RECT, np.array([0.0, 0.0]), 2.0, False), Drawing((400.0, 400.0), "t")
    kept = clipped(drawing, view, np.array([[-50.0, 50.0], [500.0, 50.0]]), "#000000", 1.0, dash=(3.0, 1.0))
    assert kept.length == pytest.approx(300.0)
    (line,) = drawing.items
    assert sorted(line.points[:, 0]) == [12.0, 312.0]
    assert (line.width, line.dash) == (1.0, (3.0, 1.0))
    # In two parts where it leaves and comes back.
    away = np.array([[10.0, 50.0], [10.0, 150.0], [100.0, 150.0], [100.0, 50.0]])
    clipped(drawing, view, away, "#000000", 1.0)
    assert len(drawing.items) == 3
    area = filled(drawing, view, Polygon([(0, 0), (112, 0), (112, 164), (0, 164)]), "#ff0000", "#000000")
    assert area.area == pytest.approx(100.0 * 100.0)
    assert drawing.items[-1].fill == "#ff0000"
    assert drawing.items[-1].width == 0.5
    before = len(drawing.items)
    assert filled(drawing, view, Polygon([(0, 0), (5, 0), (5, 5)]), "#ff0000").is_empty
    assert len(drawing.items) == before


@given(st.lists(st.booleans(), max_size=30))
def test_runs_are_the_stretches_of_two_and_more(mask):
    found = _runs(np.array(mask, dtype=bool))
    marked = np.zeros(len(mask), dtype=bool)
    for run in found:
        assert run.stop - run.start >= 2
        assert all(mask[run])
        marked[run] = True
        # Nothing could be added to it.
        assert run.start == 0 or not mask[run.start - 1]
        assert run.stop == len(mask) or not mask[run.stop]
    left = [k for k in range(len(mask)) if mask[k] and not marked[k]]
    assert all((k == 0 or not mask[k - 1]) and (k + 1 == len(mask) or not mask[k + 1]) for k in left)


def test_a_gap_belongs_to_the_side_it_is_nearer_to():
    kinds = np.array(["gap"] * 3 + ["springs"] * 6 + ["gap"] * 3)
    ground = Ground(kinds, ("front", "rear"))
    pad = SimpleNamespace(sides={"front": "f", "rear": "r"})
    first, last = ground.runs("gap")
    assert (ground.side_of(first, pad), ground.side_of(last, pad)) == ("f", "r")
    assert ground.runs("springs") == [slice(3, 9)]
    assert nearest(np.array([[0.0, 0], [4, 3], [9, 9]]), np.array([5.0, 3.0])) == 1


def cut_of(free, at, side="top"):
    ridge = SimpleNamespace(at=at, side=side)
    return SimpleNamespace(free=free, ridges=[ridge], name="along 0"), ridge


def test_a_gauge_on_a_flat_is_a_strip_beside_it():
    """Along a straight line: as long as it reaches to both sides, a card wide, outside the padding."""
    free = np.column_stack([np.linspace(0.0, 600.0, 61), np.zeros(61)])
    outline = outline_of(*cut_of(free, (250.0, 0.0)))
    low, high = outline.min(axis=0), outline.max(axis=0)
    assert (low[0], high[0]) == pytest.approx((250.0 - GAUGE_REACH_MM, 250.0 + GAUGE_REACH_MM), abs=1.0)
    # The padding is on the right of the cut as it runs.
    assert (low[1], high[1]) == pytest.approx((0.0, CARD_MM), abs=0.2)
    assert Polygon(outline).area == pytest.approx(2 * GAUGE_REACH_MM * CARD_MM, rel=0.02)
    assert Polygon(outline).exterior.is_ccw
    # At an end of the line it stops with it.
    short = outline_of(*cut_of(free, (40.0, 0.0)))
    assert (short[:, 0].min(), short[:, 0].max()) == pytest.approx((0.0, 40.0 + GAUGE_REACH_MM), abs=1.0)


def test_a_gauge_round_a_bend_is_a_ring_sector_of_its_area():
    radius = 80.0
    turn = np.linspace(np.pi, 0.0, 181)
    free = radius * np.column_stack([np.cos(turn), np.sin(turn)])
    outline = outline_of(*cut_of(free, (0.0, radius)))
    half = min(GAUGE_REACH_MM, 0.5 * np.pi * radius) / radius
    assert Polygon(outline).area == pytest.approx(half * ((radius + CARD_MM) ** 2 - radius**2), rel=0.02)
    away = np.linalg.norm(outline, axis=1)
    assert (away.min(), away.max()) == pytest.approx((radius, radius + CARD_MM), abs=0.2)


def test_a_gauge_on_paper_says_what_it_is_and_how_it_is_held():
    free = np.column_stack([np.linspace(0.0, 600.0, 61), np.zeros(61)])
    cut, _ = cut_of(free, (300.0, 0.0))
    (piece,) = gauges_of("backrest", cut, "as padded")
    assert (piece.name, piece.pad, piece.material, piece.kind) == (
        "gauge top, along 0",
        "backrest",
        "card",
        PieceKind.GAUGE,
    )
    assert piece.notes[0] == "as padded"
    assert piece.cut.min(axis=0) == pytest.approx([0.0, 0.0])
    assert Polygon(piece.sew).symmetric_difference(Polygon(piece.cut)).area < 1e-9
    tail, head = piece.grain
    assert (head - tail).tolist() == [0.0, 40.0]
    assert Polygon(piece.cut).buffer(30.0).contains(Point(0.5 * (tail + head)))
    assert LineString(piece.edges[0].points).is_closed


@pytest.mark.parametrize("standing", [False, True])
def test_ends_are_named_inside_the_view_at_the_ends_they_name(standing):
    """A cut that lies has its first end at the left, one that stands at its foot; nothing hangs over the rim."""
    drawing = Drawing((400.0, 400.0), "t")
    view = View(RECT, np.array([0.0, 0.0]), 1.0, standing)
    shown = SimpleNamespace(cut=SimpleNamespace(ridges=[SimpleNamespace(side="front"), SimpleNamespace(side="rear")]))
    _ends(drawing, shown, view)
    at = {item.text: np.array(item.at) for item in drawing.items}
    assert at.keys() == ({"front", "rear", "‹ front"} if standing else {"front", "rear"})
    apart = at["rear"] - at["front"]
    way, off = (1, 0) if standing else (0, 1)
    assert apart[off] == pytest.approx(0.0)
    assert apart[way] == pytest.approx((-1.0 if standing else 1.0) * RECT[2 + way], abs=60.0)
    for item in drawing.items:
        wide = text_width(item.text, item.size)
        x, y = item.at
        assert view.window.contains(box(x - 0.5 * wide, y - 0.7 * item.size, x + 0.5 * wide, y)), item.text


def test_coils_hang_below_their_springs_evenly_and_within_their_run():
    line = np.array([[0.0, 100.0], [300.0, 100.0]])
    coils = _coils(line, 6.0)
    starts = [coil[0] for coil in coils]
    assert len(coils) == 7
    assert np.diff([x for x, _ in starts]) == pytest.approx(np.full(6, 39.0))
    for coil, start in zip(coils, starts, strict=True):
        # Pixels run downwards.
        assert start[1] == 100.0
        assert (np.diff(coil[:, 1]) > 0.0).all()
        assert coil[[0, -1], 0] == pytest.approx([start[0], start[0]])
        assert np.abs(coil[:, 0] - start[0]).max() == pytest.approx(6.6)
        assert 0.0 < coil[:, 0].min() < coil[:, 0].max() < 300.0
    assert _coils(np.array([[0.0, 0.0], [30.0, 0.0]]), 6.0) == []


def test_the_circle_of_a_ridge_touches_its_cover_from_inside():
    """On a round cover of known radius its middle is the circle's own, and the spoke runs from there to the ridge."""
    turn = np.linspace(np.pi, 0.0, 181)
    cover = np.array([100.0, 20.0]) + 60.0 * np.column_stack([np.cos(turn), np.sin(turn)])
    ridge = SimpleNamespace(radius_mm=60.0, at=(100.0, 80.0))
    shown = SimpleNamespace(cut=SimpleNamespace(cover=cover), ridge=ridge)
    drawing, view = Drawing((400.0, 400.0), "t"), View(RECT, np.array([0.0, -60.0]), 1.0, False)
    held = _radius(drawing, shown, view)
    ring, spoke = drawing.items
    middle = view(np.array([[100.0, 20.0]]))[0]
    assert np.linalg.norm(ring.points - middle, axis=1) == pytest.approx(np.full(len(ring.points), 60.0), abs=0.3)
    assert spoke.points[0] == pytest.approx(middle, abs=1e-6)
    assert spoke.points[1] == pytest.approx(view(np.array([[100.0, 80.0]]))[0], abs=1e-6)
    assert held.contains(LineString(spoke.points))
    for radius in (np.inf, 1000.0):
        empty = Drawing((400.0, 400.0), "t")
        far = SimpleNamespace(cut=shown.cut, ridge=SimpleNamespace(radius_mm=radius, at=ridge.at))
        assert _radius(empty, far, view).is_empty
        assert not empty.items


@pytest.mark.parametrize("springs", [None, "zigzag"])
@pytest.mark.parametrize(("gap", "cloth"), [(0.0, False), (70.0, True)])
def test_springs_reach_from_one_gap_to_the_other_inside_the_turn_of_both_edges(springs, gap, cloth):
    """A cut along a straight support of 400 mm that hangs down at both ends, a place every millimetre: from where an
    edge has turned a gap as wide as it was measured, then springs; board all the way where there are none."""
    front, rear = 20.0, 10.0
    down = np.linspace(60.0, 1.0, 60)
    place = np.concatenate([np.zeros(60), np.arange(401.0), np.full(60, 400.0)])
    height = np.concatenate([-down, np.zeros(401), -down[::-1]])
    sides = {
        "front": SimpleNamespace(edge_radius=front, gap=0.0, cloth=False),
        "rear": SimpleNamespace(edge_radius=rear, gap=gap, cloth=cloth),
    }
    pad = SimpleNamespace(springs=springs, sides=sides, layers=(), side_word=lambda side: side)
    ridges = [SimpleNamespace(side="front"), SimpleNamespace(side="rear")]
    found = ground_of(
        SimpleNamespace(pad=pad, cut=SimpleNamespace(support=np.column_stack([place, height]), ridges=ridges))
    )
    assert found.sides == ("front", "rear")
    level = height == 0.0
    on = place[level & (found.kinds == ("board" if springs is None else "springs"))]
    # Of a board what lies in the turns counts as board too.
    begin, end = (0.0, 400.0) if springs is None else (front, 400.0 - rear - gap)
    assert (on.min(), on.max()) == (begin, end)
    hangs = place[found.kinds == "gap"]
    assert len(hangs) == gap
    if gap:
        assert (hangs.min(), hangs.max()) == (400.0 - rear - gap + 1.0, 400.0 - rear)
