"""The cut list: what to cut and what to buy, as a table any spreadsheet reads (RFC 4180: commas, CRLF; UTF-8).

One row per piece, padding layer, shape, rounding and material of padding, welted seam, edge that trim may run along,
and leather figure; the column `kind` tells which. What lies under pleats (backings, fillers) and their test strips have
rows of their own. area_m2 is for the whole count of the row.
"""

import csv
import io
from collections.abc import Iterator

import numpy as np

from flatten.foam.plan import SHEET_MM, totals
from flatten.foam.rounding import texts_of
from flatten.job.pipeline import Job
from flatten.pieces.piece import Piece
from flatten.pieces.welt import USUAL_CORD_MM, WeltPlan, welt_plan
from flatten.report.data import cut_area
from meshes.base.files import number
from meshes.base.surface import curve_length
from meshes.seat.names import told_apart

COLUMNS = (
    "kind",
    "name",
    "pad",
    "count",
    "mirrored",
    "width_mm",
    "height_mm",
    "thickness_mm",
    "area_m2",
    "length_mm",
    "material",
    "note",
)
# Share of a hide that ends up in pieces: many small ones to large seamless ones (keleenleathers.com).
YIELDS = (0.70, 0.50)
# Welt strips come out of a hide about this long (common practice, no source).
WELT_STRIP_MM = 1200.0
# A seam that turns by this much goes round a corner.
WELT_CORNER_RAD = 0.5 * np.pi
SQUARE_FOOT_M2 = 0.3048**2

CutListRow = dict[str, str]


def cutlist_csv(job: Job) -> bytes:
    """The cut list as UTF-8 text. No cell can be taken for a formula by a spreadsheet."""
    text = io.StringIO(newline="")
    table = csv.DictWriter(text, COLUMNS, restval="", lineterminator="\r\n")
    table.writeheader()
    for row in rows(job):
        table.writerow({column: harmless(cell) for column, cell in row.items()})
    return text.getvalue().encode()


def rows(job: Job) -> Iterator[CutListRow]:
    """All rows of the list, by column name; columns that say nothing are left out."""
    yield from (_piece(job, piece) for piece in (*job.pieces, *job.others))
    yield from _padding(job)
    yield from _welt(job)
    yield from _edges(job)
    yield from _leather(job)


def harmless(cell: str) -> str:
    """The cell with a leading apostrophe where a spreadsheet would take it for a formula."""
    return f"'{cell}" if cell.startswith(("=", "+", "-", "@", "\t", "\r")) else cell


def gross_area(net: float, share: float) -> float:
    """Hide to buy for a net area of pieces, in the same unit, when `share` of the hide ends up in pieces.

    Raises ValueError for a share that is not above 0 and at most 1.
    """
    if not 0.0 < share <= 1.0:
        raise ValueError(f"the share of a hide that is used lies between 0 and 1, found {share}")
    return net / share


def welt_mm(job: Job) -> float:
    """Length of all welt in the sewn seams, mm."""
    return sum(max(seam.length_a_mm, seam.length_b_mm) for seam in job.seams if seam.welt)


def net_area_mm2(job: Job) -> float:
    """Area of all leather pieces up to their cut lines, each as often as it is cut, mm2; without test strips."""
    return sum((piece.cut_count + piece.mirrored_count) * cut_area(piece) for piece in job.pieces)


def welt(job: Job) -> WeltPlan | None:
    """Strips for all welt of the job; None when no seam is welted."""
    lengths = {seam.name: max(seam.length_a_mm, seam.length_b_mm) for seam in job.seams if seam.welt}
    if not lengths:
        return None
    return welt_plan(
        lengths,
        {name: _corners(job, name) for name in lengths},
        covering_mm=job.leather.thickness_mm,
        allowance_mm=job.sheet.allowance.welted,
        strip_mm=WELT_STRIP_MM,
    )


def welt_area_mm2(job: Job) -> float:
    """Area of the strips that cover the welt cord, with what corners, ends and joins take, mm2."""
    plan = welt(job)
    return 0.0 if plan is None else (plan.cut_mm + plan.joins * plan.width_mm) * plan.width_mm


def _corners(job: Job, seam: str) -> int:
    """How many corners a seam goes round, by how far it turns on the piece where it turns most."""
    edges = [edge.points for piece in job.pieces for edge in piece.edges if edge.seam == seam]
    turns = [0.0]
    for points in edges:
        steps = np.diff(points, axis=0)
        heading = np.arctan2(steps[:, 1], steps[:, 0])
        turns.append(abs(float(np.sum(np.mod(np.diff(heading) + np.pi, 2 * np.pi) - np.pi))))
    return int(max(turns) / WELT_CORNER_RAD + 0.5)


def _piece(job: Job, piece: Piece) -> CutListRow:
    x0, y0, x1, y1 = piece.box()
    count = piece.cut_count + piece.mirrored_count
    row = {
        "kind": piece.kind.value,
        "name": piece.name,
        "pad": piece.pad,
        "count": str(count),
        "mirrored": str(piece.mirrored_count),
        "width_mm": number(x1 - x0, 1),
        "height_mm": number(y1 - y0, 1),
        "area_m2": number(count * cut_area(piece) / 1e6, 4),
        "material": piece.material or job.leather.name,
        "note": "; ".join((piece.count_text, *piece.notes)),
    }
    return row if piece.material else {**row, "thickness_mm": number(job.leather.thickness_mm, 2)}


def _edges(job: Job) -> Iterator[CutListRow]:
    """Every edge of the finished seat once, as long as trim along it has to be, and the sum of each kind."""
    totals: dict[str, float] = {}
    for pad in job.pads:
        runs = [(seam.name, "welted" if seam.welt else "sewn", seam.vertices) for seam in pad.seams]
        runs += [
            (f"{panel.name} {rim.name}", rim.kind, panel.vertices[rim.vertices])
            for panel in pad.panels
            for rim in panel.rim
            if rim.seam is None
        ]
        # An edge that a dart parts is two runs of one name, and both are trimmed.
        for name, (_, kind, vertices) in zip(told_apart([name for name, _, _ in runs]), runs, strict=True):
            length = curve_length(pad.surface.vertices[vertices])
            totals[kind] = totals.get(kind, 0.0) + length
            yield {
                "kind": "edge",
                "name": name,
                "pad": pad.pad.name,
                "length_mm": number(length, 1),
                "note": f"{kind}; trim along it",
            }
    for kind, length in totals.items():
        yield {"kind": "edges", "name": f"{kind}, in all", "length_mm": number(length, 1)}


def _padding(job: Job) -> Iterator[CutListRow]:
    for pad in job.pads:
        for k, (material, where, thickness, area) in enumerate(pad.facts.layers):
            yield {
                "kind": "padding",
                "name": f"layer {k + 1}, {where}",
                "pad": pad.pad.name,
                "count": "1",
                "mirrored": "0",
                "thickness_mm": number(thickness, 1),
                "area_m2": number(area / 1e6, 4),
                "material": material,
                "note": "area covered on the padded surface; layers count from the support",
            }

        up = None if pad.continued is None else pad.continued.built_up
        if up is not None:
            low, high = up.range_mm()
            yield {
                "kind": "padding",
                "name": f"built up along the {up.side} side",
                "pad": pad.pad.name,
                "count": "1",
                "mirrored": "0",
                "thickness_mm": number(high, 1),
                "note": f"under layer 1, on the frame: {number(low, 1)} to {number(high, 1)} mm at the edge, run out "
                f"over {number(up.over, 0)} mm; firm foam or wood shaped there, no flat shape",
            }
    for plan in job.plans:
        yield from (_piece(job, shape) for shape in plan.drawn)
    yield from _roundings(job)
    for total in totals(job.plans, job.sheet.materials):
        row = {
            "kind": "padding stock",
            "name": total.material,
            "count": str(total.stock_sheets),
            "area_m2": number(total.cut_mm2 / 1e6, 4),
            "material": total.material,
            "note": f"{total.shapes} shapes; their boxes fill {total.stock_sheets} sheets of {SHEET_MM[0]:g} x "
            f"{SHEET_MM[1]:g} mm, without what laying them closer saves",
        }
        yield row if total.sheet_mm is None else row | {"thickness_mm": number(total.sheet_mm, 1)}


def _roundings(job: Job) -> Iterator[CutListRow]:
    """What is rounded off with the knife once it is glued."""
    for pad, plan in zip(job.pads, job.plans, strict=True):
        for one in plan.roundings:
            (text,) = texts_of(pad.pad, [one], job.sheet.unit)
            side = pad.pad.side_word(one.side)
            yield {"kind": "rounding", "name": f"{one.layer_words}, {side} edge", "pad": plan.pad, "note": text}


def _welt(job: Job) -> Iterator[CutListRow]:
    pads = {panel.name: panel.pad for panel in job.panels.values()}
    for seam in job.seams:
        if seam.welt:
            yield {
                "kind": "welt",
                "name": seam.name,
                "pad": pads[seam.a],
                "count": "1",
                "mirrored": "0",
                "length_mm": number(max(seam.length_a_mm, seam.length_b_mm), 1),
                "material": job.leather.name,
                "note": "as sewn; add for ends and joins",
            }


def _leather(job: Job) -> Iterator[CutListRow]:
    net, strips = net_area_mm2(job), welt_area_mm2(job)
    yield _area_row(job, "pieces, net", net, "up to the cut lines")
    plan = welt(job)
    if plan is not None:
        note = (
            f"{number(plan.cut_mm / 1000.0, 2)} m of strip {number(plan.width_mm, 1)} mm wide for cord of "
            f"{number(USUAL_CORD_MM, 1)} mm: {plan.strips} strips of {number(plan.strip_mm / 1000.0, 1)} m, "
            f"{plan.joins} joins on the bias; with corners and ends"
        )
        yield _area_row(job, "welt strips, net", strips, note)
    for share in YIELDS:
        what = "many small pieces" if share == max(YIELDS) else "large seamless pieces"
        buy = gross_area(net + strips, share)
        yield _area_row(job, f"to buy at {100 * share:.0f} % yield", buy, f"pieces and welt strips; usual for {what}")


def _area_row(job: Job, name: str, area_mm2: float, note: str) -> CutListRow:
    square_feet = area_mm2 / 1e6 / SQUARE_FOOT_M2
    return {
        "kind": "leather",
        "name": name,
        "area_m2": number(area_mm2 / 1e6, 4),
        "material": job.leather.name,
        "note": f"{number(square_feet, 1)} sq ft; {note}",
    }
