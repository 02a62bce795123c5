"""The cover of a flat board as panels: one, or a pair of which the second is the mirror image of the first."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from meshes.base.arrays import FloatArray, IntArray, locked_floats, locked_ints
from meshes.base.surface import Surface
from meshes.closed.fullness import wrap_mm
from meshes.closed.panels import plane_rim, rim_centre
from meshes.closed.plate_mesh import PlateMesh
from meshes.records.pad import MIRROR_SIDE, SIDES, Pad
from meshes.seat.panels import Division, Panel, PanelIdentity, PanelRole, RimEdge

# Between a board and its mirror image, as they are shown side by side.
IMAGE_BESIDE_MM = 120.0


def board_panels(pad: Pad, plate: PlateMesh, spans: Sequence[IntArray]) -> tuple[FloatArray, Division]:
    """The points (n, 3) of a covered board, or of a pair, and its panels; spans: columns of the rim at which its left,
    front, right and rear edges begin and end."""
    assert pad.board is not None
    count = len(plate.points)
    points = np.column_stack([plate.points, np.full(count, wrap_mm(pad))])
    part = "cover" if pad.board.pair is None else f"{pad.board.pair} cover"
    first = Panel(
        name=f"{pad.name} {part}",
        pad=pad.name,
        identity=PanelIdentity(PanelRole.FACE, part, (pad.board.pair,) if pad.board.pair else ()),
        surface=Surface(points, plate.triangles),
        vertices=locked_ints(np.arange(count)),
        triangles=locked_ints(np.arange(len(plate.triangles))),
        rim=plane_rim(pad, plate, spans, dict.fromkeys(SIDES, "wrapped")),
        grain=locked_floats([0.0, 1.0, 0.0]),
        mirror_of=None,
        mirror=plate.mirror,
        centre=locked_ints(np.zeros(0)),
    )
    first = replace(first, centre=locked_ints(rim_centre(first, points)))
    if pad.board.pair is None:
        return points, Division((first,), ())
    hand = pad.board.other_hand
    away = 2.0 * (points[:, 0].min() if hand == "left" else points[:, 0].max())
    away += -IMAGE_BESIDE_MM if hand == "left" else IMAGE_BESIDE_MM
    over = points * [-1.0, 1.0, 1.0] + [away, 0.0, 0.0]
    second = replace(
        first,
        name=f"{pad.name} {hand} cover",
        identity=PanelIdentity(PanelRole.FACE, f"{hand} cover", (hand,)),
        surface=Surface(over, plate.triangles[:, [0, 2, 1]]),
        vertices=locked_ints(count + np.arange(count)),
        triangles=locked_ints(len(plate.triangles) + np.arange(len(plate.triangles))),
        rim=tuple(_turned_over(pad, edge) for edge in reversed(first.rim)),
        mirror_of=first.name,
    )
    return np.concatenate([points, over]), Division((first, second), ())


def _turned_over(pad: Pad, edge: RimEdge) -> RimEdge:
    """An edge on the mirror image, which runs the other way."""
    side = next(side for side in SIDES if edge.name == f"{pad.side_word(side)} edge")
    other = MIRROR_SIDE.get(side, side)
    run = locked_ints(edge.vertices[::-1])
    return replace(edge, name=f"{pad.side_word(other)} edge", vertices=run, side=other)
