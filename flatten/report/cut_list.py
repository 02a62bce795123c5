"""The cut list: what to cut and what to buy, as a table any spreadsheet reads (RFC 4180: commas, CRLF; UTF-8).

One row per piece, padding layer, shape, rounding and material of padding, run of welt, edge that trim may run along,
and leather figure; the column `kind` tells which. What lies under pleats (backings, fillers) and their test strips have
rows of their own. area_m2 is for the whole count of the row.
"""

import csv
import io
from collections import Counter
from collections.abc import Iterator

from flatten.foam.plan import SHEET_MM, totals
from flatten.foam.rounding import texts_of
from flatten.job.pipeline import Job
from flatten.leather.card import Card
from flatten.pieces.piece import Piece
from flatten.pieces.welt import USUAL_CORD_MM
from flatten.report.amounts import (
    YIELDS,
    Lot,
    all_area_mm2,
    fittings,
    gross_area,
    lots,
    other_areas_mm2,
    runs_of_welt,
    welt,
)
from flatten.report.edge_lengths import edge_lengths
from meshes.base.files import number
from meshes.base.units import SQUARE_FOOT_MM2, in_shop_unit, inches, span
from meshes.closed.words import join_side, zip_place
from meshes.seat.build import BuiltPad

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
    "job",
    "revision",
)
# An inch shop has its lengths beside those in mm.
INCH_COLUMNS = ("width_in", "height_in", "thickness_in", "length_in")
CutListRow = dict[str, str]


def cutlist_csv(job: Job) -> bytes:
    """The cut list as UTF-8 text. No cell can be taken for a formula by a spreadsheet."""
    text = io.StringIO(newline="")
    columns = (*COLUMNS, *INCH_COLUMNS) if job.sheet.unit == "in" else COLUMNS
    table = csv.DictWriter(text, columns, restval="", lineterminator="\r\n")
    table.writeheader()
    for row in rows(job):
        table.writerow({column: harmless(cell) for column, cell in _marked(row, job).items()})
    return text.getvalue().encode()


def _marked(row: CutListRow, job: Job) -> CutListRow:
    """The row with the job's name and revision mark, and in an inch shop with its lengths in inches and sixteenths."""
    row = {**row, "job": job.sheet.name, "revision": job.sheet.revision}
    if job.sheet.unit == "in":
        row |= {name: in_shop_unit(row.get(name, ""), unit="in") for name in ("name", "material", "note")}
        row |= {name: inches(float(row[mm])) for name in INCH_COLUMNS if row.get(mm := name.replace("_in", "_mm"))}
    return row


def rows(job: Job) -> Iterator[CutListRow]:
    """All rows of the list, by column name; columns that say nothing are left out."""
    yield from (_piece(job, piece) for piece in (*job.pieces, *job.others))
    yield from _padding(job)
    yield from _welt(job)
    yield from _zips(job)
    yield from _fittings(job)
    yield from _edges(job)
    yield from _leather(job)
    yield from _others(job)


def harmless(cell: str) -> str:
    """The cell with a leading apostrophe where a spreadsheet would take it for a formula."""
    return f"'{cell}" if cell.startswith(("=", "+", "-", "@", "\t", "\r")) else cell


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
        "area_m2": number(all_area_mm2(piece) / 1e6, 4),
        "material": piece.material or piece.order.leather or job.leather.name,
        "note": "; ".join((piece.count_text, *piece.notes)),
    }
    return row if piece.material else {**row, "thickness_mm": number(_card(job, piece).thickness_mm, 2)}


def _edges(job: Job) -> Iterator[CutListRow]:
    """Every edge of the finished seat once, as long as it is on paper and as trim along it comes out, and the sum of
    each kind."""
    totals: dict[str, float] = {}
    for edge in edge_lengths(job):
        totals[edge.kind] = totals.get(edge.kind, 0.0) + edge.paper_mm
        notes = [f"{edge.kind}; {number(edge.seat_mm, 1)} mm on the seat, where the pull stretches it"]
        if edge.kind == "wrapped":
            notes = [f"{edge.kind}, along the edge of the board"]
        if edge.crossed_by_pleats:
            notes.append(f"{number(edge.open_mm, 1)} mm on the pleated piece until its pleats are stitched")
        yield {
            "kind": "edge",
            "name": edge.name,
            "pad": edge.pad,
            "length_mm": number(edge.paper_mm, 1),
            "note": "; ".join(notes),
        }
    for kind, length in totals.items():
        yield {"kind": "edges", "name": f"{kind}, in all", "length_mm": number(length, 1)}


def _padding(job: Job) -> Iterator[CutListRow]:
    for pad in job.pads:
        yield from _layers(pad)
        yield from _built_up(pad)
    for plan in job.plans:
        yield from (_piece(job, shape) for shape in plan.drawn)
    yield from _roundings(job)
    yield from _stock(job)


def _layers(pad: BuiltPad) -> Iterator[CutListRow]:
    """Each layer as it covers the padded surface."""
    for k, (material, where, thickness, area) in enumerate(pad.facts.layers):
        yield {
            "kind": "padding",
            "name": f"layer {k + 1}, {where}",
            "pad": pad.pad.name,
            "count": "1",
            "mirrored": "0",
            "thickness_mm": number(thickness, 2),
            "area_m2": number(area / 1e6, 4),
            "material": material,
            "note": "area covered on the padded surface; layers count from the support",
        }


def _built_up(pad: BuiltPad) -> Iterator[CutListRow]:
    """What a pad that goes on from a neighbour is built up with."""
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
            "note": f"under layer 1, on the frame: {span(number(low, 1), number(high, 1))} mm at the edge, run out "
            f"over {number(up.over, 0)} mm; firm foam or wood shaped there, no flat shape",
        }


def _stock(job: Job) -> Iterator[CutListRow]:
    """Sheets of padding to buy, by material."""
    for total in totals(job.plans):
        row = {
            "kind": "padding stock",
            "name": total.material,
            "count": str(total.stock_sheets),
            "area_m2": number(total.cut_mm2 / 1e6, 4),
            "material": total.material,
            "note": f"{counted(total.shapes, 'shape')}; their boxes fit on {counted(total.stock_sheets, 'sheet')} of "
            f"{SHEET_MM[0]:g} x {SHEET_MM[1]:g} mm, without what laying them closer saves",
        }
        yield row if total.sheet_mm is None else row | {"thickness_mm": number(total.sheet_mm, 2)}


def _roundings(job: Job) -> Iterator[CutListRow]:
    """What is rounded off with the knife once it is glued."""
    for pad, plan in zip(job.pads, job.plans, strict=True):
        for one in plan.roundings:
            (text,) = texts_of(pad.pad, [one], job.sheet.unit)
            side = pad.pad.side_word(one.side)
            yield {"kind": "rounding", "name": f"{one.layer_words}, {side} edge", "pad": plan.pad, "note": text}


def _welt(job: Job) -> Iterator[CutListRow]:
    """One row for each run of welt, in the length of the strip it takes."""
    plan, runs = welt(job), runs_of_welt(job)
    for name, length in plan.runs.items() if plan is not None else ():
        pad, run = runs[name]
        strips = f"{length.strips} strips, {_joins(length.joins)}" if length.joins else "1 strip without a join"
        side = next((join_side(one.pad) for one in job.pads if one.pad.name == pad), "rear")
        where = f"goes all round: join it at the {side}, 50 mm off any corner" if run.closed else "has two ends"
        long = f"{number(length.sewn_mm, 1)} mm as sewn, with corners and ends {number(length.cut_mm, 1)} mm"
        yield {
            "kind": "welt",
            "name": name,
            "pad": pad,
            "count": "1",
            "mirrored": "0",
            "length_mm": number(length.cut_mm, 1),
            "material": job.coverings.of_welt.card.name,
            "note": f"{long}; {strips}; {where}; along {', '.join(run.seams)}",
        }


def _zips(job: Job) -> Iterator[CutListRow]:
    """The zip of every closed cover."""
    for pad in job.pads:
        if pad.closed is not None and pad.closed.zip_mm > 0.0:
            yield {
                "kind": "zip",
                "name": f"{pad.pad.name} zip",
                "pad": pad.pad.name,
                "count": "1",
                "mirrored": "0",
                "length_mm": number(pad.closed.zip_mm, 1),
                "note": f"{zip_place(pad.pad)}between the end seams; cut the tape an allowance longer at both ends, "
                "stitch across it there",
            }


def _fittings(job: Job) -> Iterator[CutListRow]:
    """Wire, clip and cord along outer edges, each in all, as long as their edges are on paper."""
    for one in fittings(job):
        yield {
            "kind": "fitting",
            "name": one.name,
            "count": str(one.count),
            "mirrored": "0",
            "length_mm": number(one.length_mm, 1),
            "note": one.words,
        }


def _joins(count: int) -> str:
    return counted(count, "bias join") if count else "no bias join"


def counted(count: int, word: str) -> str:
    """So many of a thing: "1 strip", "2 strips"."""
    return f"{count} {word}" + ("" if count == 1 else "s")


def _card(job: Job, piece: Piece) -> Card:
    """The card a piece is cut from; a test strip is of the sheet's own leather."""
    return job.coverings.card(piece.panels[0]) if piece.panels else job.leather


def _leather(job: Job) -> Iterator[CutListRow]:
    for lot in lots(job):
        yield from _lot(job, lot)


def _lot(job: Job, lot: Lot) -> Iterator[CutListRow]:
    """What is cut from one leather or roll, and what to buy of it."""
    name = lot.covering.card.name
    yield _area_row(name, "pieces, net", lot.pieces_mm2, "up to the cut lines")
    plan, whole = welt(job), "pieces"
    if plan is not None and lot.welt_mm2 > 0.0:
        cut = Counter(number(mm, 0) for run in plan.runs.values() for mm in plan.strips_of(run))
        strips = f"{counted(plan.strips, 'strip')}: {', '.join(f'{n} of {mm} mm' for mm, n in cut.items())}"
        note = (
            f"{number(plan.cut_mm, 1)} mm of strip, {number(plan.width_mm, 1)} mm wide, for cord of "
            f"{number(USUAL_CORD_MM, 1)} mm: {strips}, {_joins(plan.joins)}; with corners and ends"
        )
        yield _area_row(name, "welt strips, net", lot.welt_mm2, note)
        whole += ", welt strips"
    if lot.test_mm2:
        yield _area_row(name, "test strips, net", lot.test_mm2, "to sew and measure first")
        whole += ", test strips"
    roll = lot.covering.roll
    if roll is not None and lot.roll_mm is not None:
        note = f"{whole}; of {roll.width_mm:g} mm roll, {roll.usable_mm:g} usable, pieces upright along it, none turned"
        if lot.wide:
            note += f"; wider than the roll, part them: {', '.join(lot.wide)}"
        area = lot.roll_mm * roll.width_mm
        yield {**_area_row(name, "to buy by the metre", area, note), "length_mm": number(lot.roll_mm, 1)}
        return
    for share in YIELDS:
        what = "many small pieces" if share == max(YIELDS) else "large seamless pieces"
        buy = gross_area(lot.all_mm2, share)
        yield _area_row(name, f"to buy at {100 * share:.0f} % yield", buy, f"{whole}; usual for {what}")


def _others(job: Job) -> Iterator[CutListRow]:
    """Backing and filler in all, by material."""
    for (material, filler), area in other_areas_mm2(job).items():
        yield {
            "kind": "filler in all" if filler else "backing in all",
            "name": material,
            "area_m2": number(area / 1e6, 4),
            "material": material,
            "note": "net, test strips included; add what your roll or sheet wastes",
        }


def _area_row(material: str, name: str, area_mm2: float, note: str) -> CutListRow:
    square_feet = area_mm2 / SQUARE_FOOT_MM2
    return {
        "kind": "leather",
        "name": name,
        "area_m2": number(area_mm2 / 1e6, 4),
        "material": material,
        "note": f"{number(square_feet, 1)} sq ft; {note}",
    }
