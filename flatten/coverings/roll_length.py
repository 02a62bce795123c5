"""How much of a roll its pieces take when they lie upright along it, none turned: rows of boxes across its width.

Boxes go into the first row they fit in, tallest first (first fit by falling height: at most 1.7 times the least length
plus the tallest box; Coffman, Garey, Johnson and Tarjan 1980). It is what to buy, not how to lay them.
"""

from collections.abc import Sequence

# Left between pieces on the roll to cut along (common practice, no source).
ROLL_GAP_MM = 10.0


def roll_length_mm(boxes: Sequence[tuple[float, float]], usable_mm: float) -> tuple[float, tuple[int, ...]]:
    """Length of roll in mm for boxes (across, along) mm, and the numbers of those that are wider than the roll, which
    are left out."""
    wide = tuple(k for k, (across, _) in enumerate(boxes) if across > usable_mm)
    rows: list[list[float]] = []
    for across, along in sorted((box for box in boxes if box[0] <= usable_mm), key=lambda box: -box[1]):
        row = next((row for row in rows if row[0] + ROLL_GAP_MM + across <= usable_mm), None)
        if row is None:
            rows.append([across, along])
        else:
            row[0] += ROLL_GAP_MM + across
    length = sum(along for _, along in rows) + ROLL_GAP_MM * max(len(rows) - 1, 0)
    return length, wide
