"""Figures of every panel's flat map: stretch, demand and verdict, its pull as cut, and lines that should be straight.

Places are those on the seat, mm.
"""

from typing import Any

import numpy as np

from flatten.figures.rounded import fraction, length
from flatten.job.pads import tension_of
from flatten.job.pipeline import Job
from flatten.job.pulls import pull_of_panel, settled_at
from flatten.job.straight_notes import line_bows
from flatten.maps.flat import Flat
from meshes.base.arrays import FloatArray
from meshes.seat.assembly import placed
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel


def panel_rows(job: Job) -> list[dict[str, Any]]:
    """What the report says of every panel of a job, pad by pad."""
    return [
        _panel(panel, job.flats[panel.name], placed(pad.shown.vertices[panel.vertices], pad.placement))
        | _pull(job, k, panel)
        | _straight(pad, panel, job.flats[panel.name])
        for k, pad in enumerate(job.pads)
        for panel in pad.panels
    ]


def _panel(panel: Panel, flat: Flat, seat_points: FloatArray) -> dict[str, Any]:
    return {
        "name": panel.name,
        "triangles": len(flat.triangles),
        "area_seat_mm2": length(flat.figures.area_seat_mm2),
        "area_piece_mm2": length(flat.figures.area_piece_mm2),
        "stretch": {
            "max": fraction(flat.stretch[:, 0].max()),
            "min": fraction(flat.stretch[:, 1].min()),
            "p995": fraction(flat.figures.p995),
        },
        "demand": fraction(flat.demand),
        "floor": fraction(flat.floor),
        "budget": fraction(flat.budget),
        "verdict": flat.verdict,
        "over": _over(flat, seat_points),
        "flipped": int(flat.flipped),
        "certified": bool(flat.certified),
        "rung": flat.made.method,
        "seconds": length(flat.made.seconds),
        "pad": panel.pad,
        "mirror_of": panel.mirror_of,
        "energy": fraction(flat.figures.energy),
        "steps": int(flat.made.steps),
        "note": str(flat.made.status),
        "use": _use(flat, seat_points),
        "floor_at": _trouble(flat, seat_points),
    }


def _pull(job: Job, k: int, panel: Panel) -> dict[str, Any]:
    """Stretch - 1 of a piece as it is cut, and its tension in N/m: what is wished for, what the seat was settled at,
    and what the piece comes to; of a closed cover all three are what its core pulls it with when it is filled."""
    pull, closed = pull_of_panel(panel, job.flats[panel.name], job.coverings), job.pads[k].closed
    wished, settled = tension_of(job.sheet, job.coverings.card(panel.name)), settled_at(job.tensions[k], panel.part)
    told = (wished, settled, pull.tension_n_per_mm) if closed is None else (closed.tension_n_per_mm,) * 3
    tension = dict(zip(("wished", "settled", "reached"), told, strict=True))
    return {
        "pull": {"least": fraction(pull.least), "mean": fraction(pull.mean)},
        "tension_n_per_m": {word: round(1000.0 * value, 1) for word, value in tension.items()},
    }


def _straight(pad: BuiltPad, panel: Panel, flat: Flat) -> dict[str, Any]:
    """Lines that should be straight, what those that are cost, and what the others would ask; null for more than the
    leather gives."""
    cost = flat.straightening
    lines = [
        {"name": line.name, "valley": line.valley, "bow_mm_in_300": length(line.bow_mm), "straight": line.straight}
        for line in line_bows(pad, panel, flat)
    ]
    paid, asks = (0.0, 0.0) if cost is None else (cost.paid, cost.asks)
    return {"straight_lines": {"lines": lines, "paid": fraction(paid), "asks": fraction(asks)}}


def _over(flat: Flat, seat_points: FloatArray) -> dict[str, Any] | None:
    """Where the piece is over its budget; `from_seam_mm` is null where other things decide already."""
    if flat.over is None:
        return None
    away = flat.over.away_mm
    return {
        "excess": fraction(flat.over.excess),
        "area_share": fraction(flat.over.share),
        "from_seam_mm": None if away is None else length(away),
        "where_mm": [length(x) for x in seat_points[flat.triangles[flat.over.triangle]].mean(axis=0)],
    }


def _trouble(flat: Flat, seat_points: FloatArray) -> dict[str, Any] | None:
    """Where the floor is proven: there the shape asks most, however the piece is cut."""
    if flat.trouble is None:
        return None
    return {
        "kind": flat.trouble.kind,
        "where_mm": [length(x) for x in seat_points[flat.trouble.vertex]],
        "radius_mm": length(flat.trouble.radius_mm),
    }


def _use(flat: Flat, seat_points: FloatArray) -> dict[str, Any] | None:
    """The largest share of the budget, what 0.5 % of the seat's area exceeds, and where on the seat the largest is."""
    if flat.use is None:
        return None
    order = np.argsort(flat.use)
    corners = seat_points[flat.triangles]
    areas = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    held = np.cumsum(areas[order])
    p995 = flat.use[order[int(np.searchsorted(held, 0.995 * held[-1]))]]
    return {
        "max": fraction(flat.use.max()),
        "p995": fraction(p995),
        "min": fraction(flat.use.min()),
        "where_mm": [length(x) for x in corners[order[-1]].mean(axis=0)],
    }
