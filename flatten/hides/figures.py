"""Figures of a layout: area by zone, yield, the remainder, ends of centre marks, and the layout as plain data."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from shapely.geometry import LineString, Polygon, box

from flatten.figures.rounded import fraction, length
from flatten.hides.laid_cut import LaidCut, LaidHides
from flatten.hides.rooms import hide_area, zone_area
from flatten.pieces.piece import MarkKind
from meshes.base.arrays import FloatArray
from meshes.base.units import SQUARE_FOOT_MM2
from meshes.folder.report_head import json_text
from meshes.schema.cover_tables import ZONES

# What published rules of thumb take for the share of a hide that ends up in pieces, from square pieces to many small
# ones.
THUMB_YIELDS = (0.44, 0.50, 0.625, 0.70, 0.75, 0.80)


@dataclass(frozen=True)
class HideUse:
    """What is taken of one hide, mm2. remainder_mm2: in one, beyond the last piece towards the neck, if it is no
    less than `free_mm` long; zones_mm2: area of pieces by zone; leather: its name; roll_mm: length of a roll, None for
    a hide."""

    name: str
    area_mm2: float
    pieces_mm2: float
    remainder_mm2: float
    free_mm: float
    zones_mm2: dict[str, float]
    leather: str = ""
    roll_mm: float | None = None

    @property
    def share(self) -> float:
        """The share of the hide that ends up in pieces."""
        return self.pieces_mm2 / self.area_mm2

    @property
    def share_without_remainder(self) -> float:
        """The same of what is cut up, the remainder left out."""
        return self.pieces_mm2 / (self.area_mm2 - self.remainder_mm2)


def hide_uses(laid: LaidHides) -> list[HideUse]:
    """What is taken of every hide that is cut."""
    found = []
    for k in laid.used:
        hide, cuts = laid.plan.hides[k], laid.on(k)
        area = hide_area(hide)
        shapes = [Polygon(cut.points) for cut in cuts]
        reach = max(float(cut.points[:, 0].max()) for cut in cuts)
        _, y0, x1, y1 = area.bounds
        rest = area.intersection(box(reach + laid.plan.cutting.gap_mm, y0, x1 + 1.0, y1))
        zones = {}
        for name in ZONES:
            zone = zone_area(hide, [name])
            zones[name] = sum(shape.intersection(zone).area for shape in shapes)
        pieces = sum(shape.area for shape in shapes)
        long = x1 if hide.roll else None
        use = HideUse(hide.name, area.area, pieces, rest.area, max(x1 - reach, 0.0), zones, cuts[0].cut.leather, long)
        found.append(use)
    return found


def whole_share(laid: LaidHides) -> float:
    """The share of all hides that are cut which ends up in pieces, rolls left out; 0 when none is."""
    uses = [use for use in hide_uses(laid) if use.roll_mm is None]
    return sum(use.pieces_mm2 for use in uses) / sum(use.area_mm2 for use in uses) if uses else 0.0


def yields_of(laid: LaidHides) -> dict[str, float]:
    """The share of the hides that ends up in pieces, by leather."""
    uses = [use for use in hide_uses(laid) if use.roll_mm is None]
    found = {}
    for name in dict.fromkeys(use.leather for use in uses):
        mine = [use for use in uses if use.leather == name]
        found[name] = sum(use.pieces_mm2 for use in mine) / sum(use.area_mm2 for use in mine)
    return found


def line_ends(cut: LaidCut) -> FloatArray:
    """Two ends of a piece's centre line on its cut line, (2, 2) along and off the backbone: those of its centre
    marks where it has two, else of its arrow through the middle of its box."""
    piece = cut.cut.piece
    if piece is not None:
        marks = [mark for mark in piece.marks if mark.kind is MarkKind.CENTRE and mark.text == "centre"]
        if len(marks) >= 2:
            places = np.array([mark.at + mark.allowance_mm * mark.outward for mark in marks])
            away = np.linalg.norm(places[:, None] - places[None], axis=2)
            a, b = np.unravel_index(int(np.argmax(away)), away.shape)
            return cut.placed(places[[a, b]])
    low, high = cut.cut.points.min(axis=0), cut.cut.points.max(axis=0)
    x = 0.5 * float(low[0] + high[0])
    line = LineString([(x, low[1] - 1.0), (x, high[1] + 1.0)]).intersection(Polygon(cut.cut.points))
    runs = [np.asarray(part.coords) for part in getattr(line, "geoms", [line])]
    longest = max(runs, key=lambda run: float(np.linalg.norm(run[-1] - run[0])))
    return cut.placed(longest[[0, -1]])


def hide_rows(laid: LaidHides) -> list[dict[str, Any]]:
    """Every hide that is cut, for the report: areas mm2, shares as fractions."""
    return [
        {
            "name": use.name,
            "leather": use.leather,
            "roll_mm": None if use.roll_mm is None else length(use.roll_mm),
            "area_mm2": length(use.area_mm2),
            "pieces_mm2": length(use.pieces_mm2),
            "yield": fraction(use.share),
            "yield_without_remainder": fraction(use.share_without_remainder),
            "remainder_mm2": length(use.remainder_mm2),
            "free_mm": length(use.free_mm),
            "zones_mm2": {name: length(area) for name, area in use.zones_mm2.items()},
            "pieces": [_piece_row(cut) for cut in laid.on(k)],
        }
        for k, use in zip(laid.used, hide_uses(laid), strict=True)
    ]


def _piece_row(cut: LaidCut) -> dict[str, Any]:
    ends = line_ends(cut)
    return {
        "name": cut.cut.name,
        "copy": cut.cut.number,
        "seen": cut.ask.seen,
        "zones": list(cut.ask.zones),
        "why": cut.ask.why,
        "turn_deg": length(cut.turn_deg),
        "pinned": cut.pinned,
        "ends_along_off_mm": [[length(float(v)) for v in end] for end in ends],
    }


def layout_data(laid: LaidHides) -> dict[str, Any]:
    """The layout in each hide's own coordinates, mm, seen from the grain side."""

    def ring(points: FloatArray) -> list[list[float]]:
        return [[length(float(x)), length(float(y))] for x, y in points]

    hides = []
    for k, hide in enumerate(laid.plan.hides):
        hides.append(
            {
                "name": hide.name,
                "leather": hide.leather,
                "roll": hide.roll,
                "outline": ring(hide.outline),
                "backbone": ring(hide.backbone),
                "flaws": [{"kind": f.kind, "grade": f.grade, "polygon": ring(f.points)} for f in hide.flaws],
                "zones": [{"name": n, "polygon": ring(p)} for n, parts in hide.zones.items() for p in parts],
                "pieces": [
                    {
                        "name": cut.cut.name,
                        "copy": cut.cut.number,
                        "polygon": ring(hide.from_backbone(cut.points)),
                        "turn_deg": length((cut.turn_deg + hide.heading_deg - 90.0) % 360.0),
                    }
                    for cut in laid.on(k)
                ],
            }
        )
    cutting = laid.plan.cutting
    return {
        "units": "mm",
        "gap_mm": cutting.gap_mm,
        "rim_mm": cutting.rim_mm,
        "chalk_mm": cutting.chalk_mm,
        "seconds_asked": laid.seconds,
        "hides": hides,
        "unplaced": list(laid.unplaced),
    }


def layout_json(laid: LaidHides) -> bytes:
    """The layout as JSON text."""
    return json_text(layout_data(laid)).encode()


def in_square_feet(mm2: float) -> float:
    """An area in square feet."""
    return mm2 / SQUARE_FOOT_MM2
