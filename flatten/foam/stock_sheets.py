"""How many stock sheets the boxes round shapes take, laid so that none overlaps another or hangs over.

Boxes are laid largest first into the free rectangle that they fill best, turned a quarter if need be, and what is left
of it is cut in two straight across (guillotine cuts; Jylanki 2010, "A thousand ways to pack the bin"). It is a layout
that exists, not the least one: laying shapes by hand can save more. Lengths mm.
"""

import math
from collections.abc import Iterable

BoxSize = tuple[float, float]
# Boxes may be larger than a sheet by this and still count as filling it.
_ROOM_MM = 1e-6


def sheets_for_boxes(boxes: Iterable[BoxSize], sheet: BoxSize) -> int:
    """Sheets of a size that boxes (width, height) take. A box larger than a sheet takes sheets of its own, joined."""
    count = 0
    free: list[BoxSize] = []
    for box in sorted(boxes, key=lambda size: (max(size), min(size)), reverse=True):
        if not _ways(box, sheet):
            count += min(math.ceil(w / sheet[0] - 1e-9) * math.ceil(h / sheet[1] - 1e-9) for w, h in (box, box[::-1]))
            continue
        places = [(gap, k, way) for k, room in enumerate(free) for gap, way in _ways(box, room)]
        if not places:
            count += 1
            free.append(sheet)
            places = [(gap, len(free) - 1, way) for gap, way in _ways(box, sheet)]
        _, k, way = min(places)
        free += _left(free.pop(k), way)
    return count


def _ways(box: BoxSize, room: BoxSize) -> list[tuple[float, BoxSize]]:
    """Ways to lay a box into a room: how much room stays beside it on the tighter side, and the box as it lies."""
    gaps = [(min(room[0] - w, room[1] - h), (w, h)) for w, h in {box, (box[1], box[0])}]
    return [(gap, way) for gap, way in gaps if gap >= -_ROOM_MM]


def _left(room: BoxSize, box: BoxSize) -> list[BoxSize]:
    """The two rooms that are left beside a box in a corner of a room, cut so that the larger one is as large as can
    be."""
    right, above = room[0] - box[0], room[1] - box[1]
    whole_right = [(right, room[1]), (box[0], above)]
    whole_above = [(right, box[1]), (room[0], above)]
    rooms = max(whole_right, whole_above, key=lambda pair: max(w * h for w, h in pair))
    return [(w, h) for w, h in rooms if min(w, h) > 1.0]
