"""The padding plan of a loose cushion with a board in its bottom."""

from flatten.foam.core import core_plan
from meshes.closed.build import build
from meshes.records.closed import BOARD_CLEAR_MM
from meshes.records.materials import BUILT_IN
from tests.pads import sheet_of

SHEET = """
name = "boarded"
[[pad]]
name = "c"
kind = "cushion"
[pad.outline]
front_width = 420
rear_width = 420
depth = 300
corner_radius = 30
[pad.closed]
thickness = 60
undersize = 10
[pad.board]
thickness = 9
[[pad.layer]]
material = "wadding"
thickness = 12
where = "face"
"""


def test_the_board_clears_the_finished_cover_and_wrap_lies_on_top_alone():
    pad = build(sheet_of(SHEET).pads[0], edge_mm=40.0)
    plan = core_plan(pad, pad.pad.closed, BUILT_IN)
    core, wrap, board = (shape for layer in plan.cut for shape in layer.shapes)
    assert [piece.name for piece in (core, wrap, board)] == ["core", "wrap 1", "board"]
    less = 10.0 + 2.0 * BOARD_CLEAR_MM
    for piece, by in ((core, 0.0), (board, less)):
        wide, deep = piece.outline.points.max(axis=0) - piece.outline.points.min(axis=0)
        assert abs(wide - (420.0 - by)) < 0.1
        assert abs(deep - (300.0 - by)) < 0.1
    assert (wrap.order.count, board.order.count, board.order.material) == (1, 1, "board")
    assert [stock.material for stock in plan.stock] == ["foam_medium", "wadding", "board"]
