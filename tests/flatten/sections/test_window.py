"""The window on a cut: millimetres to pixels and nothing beyond its rim; gauges cut from known lines."""

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon

from flatten.draw.drawing import Drawing
from flatten.pieces.piece import PieceKind
from flatten.sections.gauges import CARD_MM, GAUGE_REACH_MM, gauges_of, outline_of
from flatten.sections.parts import Ground, _runs, nearest
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
