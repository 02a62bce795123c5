"""Section gauges: card templates at full size to hold against a pad's edge while its padding is built up.

A gauge is cut along the top of the free padding, before any cover presses on it, round one ridge of a cut. Held against
the padded edge it shows where padding is missing or too much. Lengths mm.
"""

import numpy as np
from shapely.geometry import LineString, Polygon
from shapely.geometry.polygon import orient

from flatten.pieces.piece import CARD, CutLine, CutOrder, Edge, EdgeKind, FlatMesh, Piece, PieceKind
from meshes.base.arrays import FloatArray
from meshes.settle.section import Ridge, Section

# How far a gauge reaches to either side of its ridge along the padding, and how wide its card is.
GAUGE_REACH_MM, CARD_MM = 140.0, 60.0


def gauges_of(pad: str, cut: Section, which: str) -> tuple[Piece, ...]:
    """Gauges for all ridges of a cut; which: what the cut shows, in words, such as "as padded"."""
    found = []
    for ridge in cut.ridges:
        piece = _gauge(pad, cut, ridge, which)
        if piece is not None:
            found.append(piece)
    return tuple(found)


def outline_of(cut: Section, ridge: Ridge) -> FloatArray | None:
    """Outline (k, 2) of the gauge for a ridge, in the plane of the cut, counter-clockwise; None where there is none."""
    return _card(_round_ridge(cut.free, np.array(ridge.at)))


def _gauge(pad: str, cut: Section, ridge: Ridge, which: str) -> Piece | None:
    outline = outline_of(cut, ridge)
    if outline is None:
        return None
    outline = outline - outline.min(axis=0)
    middle = outline.mean(axis=0)
    return Piece(
        name=f"gauge {ridge.side}, {cut.name}",
        pad=pad,
        panels=(),
        edges=(Edge("section gauge", EdgeKind.BARE, np.vstack([outline, outline[:1]]), 0.0),),
        outline=CutLine(outline),
        marks=(),
        grain=middle + np.array([[0.0, -20.0], [0.0, 20.0]]),
        mesh=FlatMesh(outline, np.zeros((0, 3), dtype=np.int64), np.zeros((0, 2)), np.zeros((0, 2))),
        notes=(which, "hold the hollow side against the padding, no cover on it"),
        order=CutOrder(material=CARD, kind=PieceKind.GAUGE),
    )


def _round_ridge(path: FloatArray, at: FloatArray) -> FloatArray:
    """The part of a line (k, 2) within reach of its place nearest to `at`, along the line."""
    run = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    here = run[int(np.argmin(np.linalg.norm(path - at, axis=1)))]
    low, high = max(here - GAUGE_REACH_MM, 0.0), min(here + GAUGE_REACH_MM, run[-1])
    inside = run[(run > low) & (run < high)]
    places = np.concatenate([[low], inside, [high]])
    return np.column_stack([np.interp(places, run, path[:, k]) for k in (0, 1)])


def _card(line: FloatArray) -> FloatArray | None:
    """Outline (k, 2), counter-clockwise, of a card outside the padding; cuts run with the padding on their right."""
    card = LineString(line).buffer(CARD_MM, single_sided=True, join_style="round")
    if card.geom_type != "Polygon" or card.is_empty:
        parts = [part for part in getattr(card, "geoms", ()) if part.area > 1.0]
        if not parts:
            return None
        card = max(parts, key=lambda part: part.area)
    # Slivers where the padding bends back on itself are no card; the edge along the padding stays as it is.
    whole = Polygon(card.exterior)
    kept = whole.intersection(whole.buffer(-1.5).buffer(1.6))
    if kept.geom_type != "Polygon":
        kept = max(kept.geoms, key=lambda part: part.area)
    return np.asarray(orient(Polygon(kept.exterior)).exterior.coords)[:-1]
